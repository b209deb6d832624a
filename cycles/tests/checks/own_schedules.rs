//! The user's own CSV files: what they mean, by closed forms, and how wrong ones are refused.

use std::path::PathBuf;

use cycles::{Columns, Elevation, LoadOptions, LoadedRoad, load, resolve};

/// Writes a file of its own for each test.
fn file(name: &str, content: impl AsRef<[u8]>) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("own_schedules");
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join(name);
    std::fs::write(&path, content).unwrap();
    path
}

fn read(name: &str, content: impl AsRef<[u8]>) -> LoadedRoad {
    load(file(name, content), &LoadOptions::default()).unwrap()
}

/// The message about a wrong file, without its folder.
fn refusal(name: &str, content: impl AsRef<[u8]>) -> String {
    let path = file(name, content);
    let sentence = load(&path, &LoadOptions::default()).unwrap_err().to_string();
    let folder = path.parent().unwrap().display().to_string() + "/";
    sentence.strip_prefix(&folder).expect("names the file first").to_owned()
}

#[test]
fn time_and_speed_are_read_in_the_units_of_the_header() {
    let content = "# a morning\n# two comments\ntime_min,speed_kmh\n0,0\n1,36\n2,36\n";
    let schedule = read("units.csv", content).schedule;
    assert_eq!(schedule.name, "units");
    assert_eq!(schedule.time_s, [0.0, 60.0, 120.0]);
    assert_eq!(schedule.speed_mps, [0.0, 10.0, 10.0]);
    assert_eq!(schedule.distance_m(), 300.0 + 600.0);
}

#[test]
fn a_spreadsheets_quotes_byte_order_mark_and_line_ends_are_read() {
    let content = "\u{feff}\"Time_S\",\"Speed_mph\"\r\n\"0\",\"0\"\r\n\"10\",\"60\"\r\n";
    let schedule = read("spreadsheet.csv", content).schedule;
    assert_eq!(schedule.time_s, [0.0, 10.0]);
    // 60 mph is 26.8224 m/s exactly (international mile of 1609.344 m).
    assert!((schedule.speed_mps[1] - 26.8224).abs() < 1e-12);
}

#[test]
fn speed_over_distance_keeps_the_acceleration_between_rows() {
    // From rest at 2 m/s² over 100 m: v² = 2·a·d, so 20 m/s after 10 s; then 5 s on the level;
    // then to rest at 4 m/s² over 50 m in 5 s.
    let content = "distance_m,speed_mps,stop_s\n0,0,3\n100,20,\n200,20,0\n250,0,7\n";
    let schedule = read("distance.csv", content).schedule;
    assert_eq!(schedule.time_s, [0.0, 3.0, 13.0, 18.0, 23.0, 30.0]);
    assert_eq!(schedule.speed_mps, [0.0, 0.0, 20.0, 20.0, 0.0, 0.0]);
    assert_eq!(schedule.distance_m(), 250.0);
}

#[test]
fn grades_hold_from_their_row_to_the_next() {
    let content = "distance_km,speed_kmh,grade_pct\n0,36,5\n1,36,-2.5\n2,36,\n";
    let sentence = refusal("grade-empty.csv", content);
    assert_eq!(sentence, "grade-empty.csv:4: grade_pct is ``, and a number is needed");
    let schedule = read("grade.csv", content.replace("-2.5\n2,36,", "-2.5\n2,36,0")).schedule;
    assert_eq!(schedule.slope, [0.05, -0.025]);
}

#[test]
fn elevation_over_distance_gives_exactly_its_climb() {
    let content = "distance_m,speed_kmh,elevation_m\n0,36,100\n500,36,130\n1500,36,110\n";
    let schedule = read("elevation.csv", content).schedule;
    // sin of the slope angle is rise over road length: tan = 30/√(500² − 30²).
    assert!((schedule.slope[0] - 30.0 / (500f64 * 500.0 - 900.0).sqrt()).abs() < 1e-12);
    assert!((schedule.climb_m() - 30.0).abs() < 1e-9);
    assert!((schedule.descent_m() - 20.0).abs() < 1e-9);
}

/// Elevation that comes with times is a recording: here in steps of 1 m, with a drop-out, an
/// empty cell and a row without a speed, on a steady 2 %.
#[test]
fn a_recorded_elevation_is_cleaned_and_a_mapped_one_is_not() {
    let rows = |from: &str| -> String {
        let row = |t: i32| {
            let along = if from == "time_s" { t } else { 10 * t };
            let height = match t {
                100..=110 => "0".to_owned(),
                50 => String::new(),
                _ => format!("{}", (0.2 * f64::from(t)).round()),
            };
            let speed = if t == 20 && from == "time_s" { "" } else { "36" };
            format!("{along},{speed},{height}\n")
        };
        let rows: String = (0..=400).map(row).collect();
        format!("{from},speed_kmh,elevation_m\n{rows}")
    };
    let loaded = read("recorded.csv", rows("time_s"));
    let cleaning = loaded.cleaning.unwrap();
    assert!((loaded.schedule.distance_m() - 4000.0).abs() < 1e-6);
    assert!((cleaning.climb_before_m - (80.0 + 20.0)).abs() <= 2.0, "{cleaning:?}");
    assert!((cleaning.climb_after_m - 80.0).abs() < 1.0, "{cleaning:?}");
    assert!(cleaning.descent_after_m < 0.1);
    // The 11 zeros, and the one good height that shares its 20 m of road with a zero.
    assert_eq!(cleaning.points_rejected, 12);
    assert_eq!(loaded.notes.len(), 3, "{:?}", loaded.notes);
    assert!(loaded.notes[0].starts_with("Rows without a speed, left out"));
    let told = format!(
        "The recorded elevation climbs {:.0} m and falls {:.0} m; cleaned, the road climbs {:.0} m",
        cleaning.climb_before_m, cleaning.descent_before_m, cleaning.climb_after_m
    );
    assert!(loaded.notes[1].starts_with(&told), "{:?}", loaded.notes);
    assert!(loaded.notes[2].starts_with("Stretches on which the elevation froze and then jumped"));

    let options = LoadOptions { elevation: Elevation::Recorded, ..LoadOptions::default() };
    let mapped = load(file("mapped.csv", rows("distance_m")), &options).unwrap();
    assert!((mapped.cleaning.unwrap().climb_after_m - 80.0).abs() < 1.0);
    let options = LoadOptions { elevation: Elevation::AsWritten, ..LoadOptions::default() };
    let refused = load(file("written.csv", rows("time_s")), &options).unwrap_err().to_string();
    assert!(refused.contains(":52: elevation_m is ``, and a number is needed"), "{refused}");
}

#[test]
fn a_stated_speed_goes_before_positions() {
    let content = "time_s,speed_mps,latitude_deg,longitude_deg\n0,5,48,11\n10,5,48,12\n";
    let loaded = read("positions.csv", content);
    assert_eq!(loaded.schedule.distance_m(), 50.0);
    assert_eq!(loaded.notes, ["Positions were not used, as the file states speeds."]);
}

#[test]
fn unknown_columns_are_left_out_only_when_asked() {
    let content = "time_s,pump_c,speed_kmh\n0,20,0\n1,,3.6\n";
    assert!(refusal("unknown.csv", content).contains("column `pump_c` is not known"));
    let options = LoadOptions { columns: Columns::IgnoreUnknown, ..LoadOptions::default() };
    let schedule = load(file("ignored.csv", content), &options).unwrap().schedule;
    assert_eq!(schedule.speed_mps, [0.0, 1.0]);
}

#[test]
fn wrong_files_are_refused_in_one_sentence() {
    let cases = [
        ("a.csv", "", "the number of rows is 0, and 2 or more is needed"),
        ("b.csv", "# only\n\n", "the number of rows is 0"),
        ("c.csv", "time_s,speed_kmh\n0,0\n", "the number of rows is 1, and 2 or more is needed"),
        (
            "d.csv",
            "time_s,sped_kmh\n0,0\n1,0",
            ":1: column `sped_kmh` is not known; did you mean `speed_kmh`",
        ),
        (
            "d1.csv",
            "distance_m,limit\n0,50\n1000,50",
            ":1: column `limit` is not known; its unit is missing: `limit_kmh` or `limit_mph`",
        ),
        (
            "d2.csv",
            "time_s,Speed\n0,0\n1,0",
            "its unit is missing: `speed_kmh` or `speed_mph` or `speed_mps`",
        ),
        (
            "e.csv",
            "# x\n\ntime_s,qqq\n0,0\n1,0",
            ":3: column `qqq` is not known, and the columns known are time_s",
        ),
        (
            "f.csv",
            "speed_kmh\n0\n1",
            ":1: the columns are `speed_kmh`, and a time or a distance is needed",
        ),
        (
            "g.csv",
            "time_s,speed_kmh\n0,0\n1,fast\n",
            ":3: speed_kmh is `fast`, and a number with a decimal point is needed",
        ),
        (
            "h.csv",
            "time_s,speed_kmh\n0,0\n1,NaN\n",
            ":3: speed_kmh is `NaN`, and 0 to below 120 m/s (432 km/h) is needed",
        ),
        (
            "i.csv",
            "time_s,speed_kmh\n0,0\ninf,1\n",
            ":3: time_s is `inf`, and a time of at most 1e12 s is needed",
        ),
        (
            "j.csv",
            "time_s,speed_kmh\n0,0\n5,1\n# note\n3,2\n",
            ":5: time 3 s is not after the 5 s of the row before",
        ),
        ("k.csv", "time_s,speed_kmh\n0,0\n1,-4\n", ":3: speed_kmh is `-4`, and 0 to below"),
        ("crlf.csv", "time_s,speed_kmh\r\n\r\n0,0\r\n# x\r\n1,-4\r\n", ":5: speed_kmh is `-4`"),
        ("bom.csv", "\u{feff}time_s,speed_kmh\n\"0\",0\n1,-4\n", ":3: speed_kmh is `-4`"),
        ("l.csv", "time_s,speed_kmh\n0,0\n1\n", ":3: has 1 fields, and the header has 2"),
        ("m.csv", "time_s;speed_kmh\n0;0\n1;1\n", "; fields must be separated by commas"),
        (
            "n.csv",
            "distance_m,speed_kmh\n0,0\n10,0\n",
            ":3: speed is 0 here and on the row before at another distance",
        ),
        (
            "o.csv",
            "distance_m,speed_kmh,stop_s\n0,0,0\n10,5,4\n",
            ":3: stop_s is 4, and a stop needs a speed of 0",
        ),
        (
            "p.csv",
            "time_s,distance_m,speed_kmh\n0,0,0\n1,1,1\n",
            "but only one of time and distance may be there",
        ),
        (
            "q.csv",
            "time_s,speed_kmh,speed_mph\n0,0,0\n1,1,1\n",
            "but only one of `speed_kmh` and `speed_mph` may be there",
        ),
        (
            "r.csv",
            "distance_m,speed_kmh,elevation_m\n0,9,0\n10,9,9\n",
            ":3: elevation changes by 9.000 m over 10.000 m of road, and at most 60 % is allowed",
        ),
        (
            "s.csv",
            "distance_m,speed_kmh,elevation_m,grade_pct\n0,9,0,0\n10,9,9,0\n",
            "only one of grade and elevation",
        ),
        ("t.csv", "time_s,speed_kmh,stop_s\n0,9,0\n10,9,0\n", "stop_s goes with distances"),
        (
            "u.csv",
            "time_s,speed_kmh\n0,9\n10,\n",
            "the number of rows is 1, and 2 or more with a speed is needed",
        ),
        ("v.csv", "time_s\n0\n10\n", "is needed"),
        (
            "w.csv",
            "distance_m,speed_kmh,grade_pct\n0,9,61\n10,9,0\n",
            ":2: grade_pct is `61`, and -60 to 60 % is needed",
        ),
    ];
    for (name, content, expected) in cases {
        let sentence = refusal(name, content);
        assert!(sentence.starts_with(name) && sentence.contains(expected), "{sentence}");
        assert!(!sentence.contains('\n'), "{sentence}");
    }
    let sentence = refusal("latin.csv", b"time_s,speed_kmh\n0,0\n\xe91,0\n");
    assert_eq!(sentence, "latin.csv:3: byte 0xe9 is not UTF-8, and only UTF-8 text is read");
    let sentence = refusal("schedule.txt", "time_s,speed_kmh\n0,0\n1,0\n");
    assert_eq!(sentence, "schedule.txt: the extension is `txt`, and .csv or .gpx is needed");
}

#[test]
fn what_is_no_plain_file_is_refused() {
    let folder = file("x.csv", "").parent().unwrap().to_owned();
    let sentence = |path: PathBuf| load(path, &LoadOptions::default()).unwrap_err().to_string();
    assert!(
        sentence(folder.clone())
            .ends_with("is a directory, and a plain .csv or .gpx file is needed")
    );
    assert!(sentence(folder.join("absent.csv")).ends_with("absent.csv: there is no such file"));
}

#[test]
fn a_file_beyond_200_mb_is_refused_by_its_size() {
    let path = file("large.csv", "");
    // The length is only declared: the file takes no room.
    std::fs::File::create(&path).unwrap().set_len(200_000_001).unwrap();
    let sentence = load(&path, &LoadOptions::default()).unwrap_err().to_string();
    std::fs::remove_file(&path).unwrap();
    assert!(sentence.ends_with("is 200000001 bytes long, and at most 200000000 are read"));
}

#[test]
fn a_name_is_a_cycle_first_and_a_file_second() {
    let options = LoadOptions::default();
    assert_eq!(resolve("UDDS", &options).unwrap().schedule.name, "udds");
    let path = file("commute.csv", "time_s,speed_kmh\n0,0\n1,1\n");
    assert_eq!(resolve(path.to_str().unwrap(), &options).unwrap().schedule.name, "commute");
    assert_eq!(
        resolve("wltc-lo", &options).unwrap_err().to_string(),
        "`wltc-lo` is neither a built-in cycle nor a file; did you mean `wltc-low`"
    );
}
