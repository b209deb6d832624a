//! Whatever a file holds, it is read or refused in one sentence.

use std::path::PathBuf;

use cycles::{Columns, Elevation, LoadOptions, Pace, load};
use proptest::prelude::*;

/// Reads the text, and checks what came of it.
fn read_or_refuse(name: &str, content: &[u8]) {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("any_input");
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join(name);
    std::fs::write(&path, content).unwrap();
    for columns in [Columns::Strict, Columns::IgnoreUnknown] {
        for elevation in [Elevation::ByClock, Elevation::Recorded, Elevation::AsWritten] {
            let limit = columns == Columns::IgnoreUnknown && elevation == Elevation::Recorded;
            let stops = if content.len().is_multiple_of(2) { vec![(3.0, 2.0)] } else { Vec::new() };
            let pace = match limit {
                true => Pace { limit_mps: Some(15.0), stops, ..Pace::default() },
                false => Pace::default(),
            };
            let options = LoadOptions { columns, elevation, pace, ..LoadOptions::default() };
            match load(&path, &options) {
                Ok(loaded) => {
                    let t = loaded.schedule;
                    let points = t.time_s.len();
                    assert_eq!((t.speed_mps.len(), t.slope.len()), (points, points - 1));
                    assert!(t.time_s.windows(2).all(|t| t[0] < t[1]));
                    assert!(t.speed_mps.iter().all(|v| (0.0..120.0).contains(v)));
                    assert!(t.slope.iter().all(|s| (-0.6..=0.6).contains(s)));
                }
                Err(error) => assert!(!error.to_string().contains('\n'), "{error}"),
            }
        }
    }
}

fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        8 => (0u32..200).prop_map(|n| n.to_string()),
        2 => any::<f64>().prop_map(|n| n.to_string()),
        1 => prop::sample::select(vec!["", "-1", "NaN", "inf", "1e308", "1e-308", "x", "\"", "#"])
            .prop_map(str::to_owned),
    ]
}

fn table() -> impl Strategy<Value = String> {
    let names = vec![
        "time_s",
        "time_min",
        "distance_m",
        "distance_mi",
        "speed_kmh",
        "speed_mps",
        "limit_kmh",
        "grade_pct",
        "elevation_m",
        "elevation_ft",
        "stop_s",
        "latitude_deg",
        "longitude_deg",
        "heading_deg",
        "head_wind_kmh",
        "wind_kmh",
        "wind_from_deg",
        "air_c",
        "other",
    ];
    (1usize..5).prop_flat_map(move |columns| {
        let header = prop::sample::subsequence(names.clone(), columns).prop_shuffle();
        let rows = prop::collection::vec(prop::collection::vec(cell(), columns), 0..8);
        (header, rows).prop_map(|(header, mut rows)| {
            // Rising first cells let more tables pass the first check.
            for (i, row) in rows.iter_mut().enumerate() {
                if row[0].parse::<u32>().is_ok() {
                    row[0] = (i * 7).to_string();
                }
            }
            let lines = rows.iter().map(|row| row.join(","));
            std::iter::once(header.join(",")).chain(lines).collect::<Vec<_>>().join("\n")
        })
    })
}

const GPX: &str = "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"t\"><trk><trkseg>\
    <trkpt lat=\"1\" lon=\"2\"><ele>3</ele><time>2024-05-01T00:00:00Z</time></trkpt>\
    <trkpt lat=\"1.0001\" lon=\"2\"><ele>4</ele><time>2024-05-01T00:00:02Z</time></trkpt>\
    <trkpt lat=\"1.0003\" lon=\"2\"><ele>4</ele><time>2024-05-01T00:00:05Z</time></trkpt>\
    </trkseg></trk></gpx>";

proptest! {
    #[test]
    fn tables(text in table()) {
        read_or_refuse("table.csv", text.as_bytes());
    }

    #[test]
    fn bytes(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        read_or_refuse("bytes.csv", &bytes);
        read_or_refuse("bytes.gpx", &bytes);
    }

    #[test]
    fn damaged_gpx(
        at in 0..GPX.len(),
        length in 0usize..6,
        patch in "[0-9eE<>/\"&;:TZ.-]{0,6}",
    ) {
        let end = (at + length).min(GPX.len());
        let text = format!("{}{patch}{}", &GPX[..at], &GPX[end..]);
        read_or_refuse("damaged.gpx", text.as_bytes());
    }
}
