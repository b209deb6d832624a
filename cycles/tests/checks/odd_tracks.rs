//! Oddities of GPX files that the test suites of other readers of GPX hold (of `gpxpy` and of the
//! crate `gpx`, both under free licences), each written anew here as a short excerpt; and what an
//! ill-meant file can do. XML 1.0 (fifth edition) says what is well formed, the schemas of GPX 1.0
//! and 1.1 what stands where.

use std::path::Path;

use crate::processor::processor_s;
use cycles::{GPX_DEPTH_LIMIT, LoadOptions, LoadedRoad, ROW_LIMIT, SHOWN_LIMIT, read};

/// Eleven seconds at 10 m/s to the north.
fn track_points() -> Vec<String> {
    let point = |second: u32| {
        let latitude = 45.0 + f64::from(second) * 9e-5;
        format!(
            "<trkpt lat=\"{latitude}\" lon=\"13\"><ele>{second}</ele>\
             <time>2024-05-01T00:00:{second:02}Z</time></trkpt>\n"
        )
    };
    (10..=20).map(point).collect()
}

fn gpx(inside: &str) -> String {
    format!("<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"t\">\n{inside}</gpx>\n")
}

fn track(points: &str) -> String {
    gpx(&format!("<trk><trkseg>\n{points}</trkseg></trk>\n"))
}

fn loaded(bytes: impl AsRef<[u8]>) -> Result<LoadedRoad, String> {
    let found = read(Path::new("odd.gpx"), bytes.as_ref(), &LoadOptions::default());
    found.map_err(|error| error.to_string())
}

fn drives(name: &str, bytes: impl AsRef<[u8]>) {
    let road = loaded(bytes).unwrap_or_else(|refusal| panic!("{name}: {refusal}"));
    assert_eq!(road.schedule.duration_s(), 10.0, "{name}");
    assert!((road.schedule.distance_m() - 100.0).abs() < 0.1, "{name}");
    assert!(road.cleaning.is_some(), "{name} lost its elevation");
}

/// What a road has no need of does not refuse it.
#[test]
fn an_odd_thing_elsewhere_does_not_refuse_a_track() {
    let points = track_points().concat();
    let plain = track(&points);
    drives("plain", &plain);
    let with = |from: &str, to: &str| plain.replace(from, to);
    let cases = [
        ("a waypoint's magvar", gpx_with(&points, "<wpt lat=\"x\"><magvar>n/a</magvar></wpt>")),
        ("a speed of version 1.1", with("<ele>", "<speed>fast</speed><ele>")),
        (
            "white space around a time",
            with("<time>", "<time>\n   ").replace("Z</time>", "Z \n</time>"),
        ),
        ("white space around an elevation", with("<ele>", "<ele> \n")),
        ("no version", with(" version=\"1.1\" creator=\"t\"", "")),
        ("a version to come", with("version=\"1.1\" c", "version=\"3\" c")),
        ("a byte-order mark", format!("\u{feff}{plain}")),
        ("no declaration", with("<?xml version=\"1.0\"?>\n", "")),
        (
            "a bare ampersand in a name",
            gpx_with(&points, "<metadata><name>A & B</name></metadata>"),
        ),
        (
            "an unknown entity in a name",
            gpx_with(&points, "<metadata><name>&who;</name></metadata>"),
        ),
        ("a comment in an elevation", with("</ele>", "<!-- m --></ele>")),
        ("a section of characters", with("<time>", "<time><![CDATA[").replace("Z</t", "Z]]></t")),
        ("characters by number", with("<ele>1", "<ele>&#49;")),
        ("quotes of the other kind", plain.replace('"', "'")),
        ("attributes on lines of their own", with(" lon=", "\n\tlon = ")),
        ("an attribute that stands twice elsewhere", with("<trkseg>", "<trkseg a=\"1\" a=\"2\">")),
        ("an empty segment", with("<trkseg>", "<trkseg/><trkseg></trkseg><trkseg>")),
        (
            "an elevation within an extension",
            with("</ele>", "</ele><extensions><ele>x</ele></extensions>"),
        ),
        ("an element of another kind", with("</ele>", "</ele><other:ele>x</other:ele>")),
        ("a time of the file", gpx_with(&points, "<time>yesterday</time><bounds minlat=\"a\"/>")),
        ("a document type", with("<gpx ", "<!DOCTYPE gpx [<!ENTITY who \"me\">]>\n<gpx ")),
        ("a time without a zone", with("Z</time>", "</time>")),
        ("a time of another zone", with("Z</time>", "+02:00</time>")),
        ("a fraction of a second", with("Z</time>", ".000Z</time>")),
        ("an older code in the declaration", with("\"1.0\"?", "\"1.0\" encoding=\"ISO-8859-1\"?")),
        ("lines of Windows", plain.replace('\n', "\r\n")),
    ];
    for (name, text) in cases {
        assert_ne!(text, plain, "{name}");
        drives(name, text);
    }
    let prefixed = with("<gpx ", "<g:gpx xmlns:g=\"http://www.topografix.com/GPX/1/1\" ");
    let prefixed = ["trk>", "trkseg>", "trkpt ", "ele>", "time>"]
        .iter()
        .fold(prefixed, |text, name| text.replace(&format!("<{name}"), &format!("<g:{name}")));
    let prefixed = ["trk", "trkseg", "trkpt", "ele", "time", "gpx"]
        .iter()
        .fold(prefixed, |text, name| text.replace(&format!("</{name}>"), &format!("</g:{name}>")));
    drives("a prefix", prefixed);
    // 0xE9 is é in ISO 8859-1, and no text in UTF-8.
    let latin = gpx_with(&points, "<metadata><name>caf!</name></metadata>").into_bytes();
    let latin: Vec<u8> = latin.iter().map(|b| if *b == b'!' { 0xe9 } else { *b }).collect();
    drives("a letter of an older code", latin);
}

fn gpx_with(points: &str, before: &str) -> String {
    gpx(&format!("{before}\n<trk><name>n</name><trkseg>\n{points}</trkseg></trk>\n"))
}

/// Fractions of a second that were rounded in two ways are a hair apart; the point that comes too
/// early is taken for a repeated one.
#[test]
fn a_point_that_is_early_by_a_hair_is_passed_over() {
    let mut points = track_points();
    points[0] = points[0].replace("10Z", "10.2073437Z");
    points.insert(1, points[0].replace("10.2073437Z", "10.207Z"));
    let road = loaded(track(&points.concat())).unwrap();
    assert!((road.schedule.duration_s() - 9.0).abs() < 1e-9);
    assert_eq!(
        road.notes[0],
        "Points that repeat a time or leap faster than 324 km/h, left out: 1."
    );
    points.insert(6, points[3].clone());
    let refusal = loaded(track(&points.concat())).unwrap_err();
    assert!(refusal.starts_with("odd.gpx:10: trkpt: time "), "{refusal}");
}

/// Each refusal names line, field and value, or says what to do.
#[test]
fn refusals_name_line_field_and_value() {
    let points = track_points().concat();
    let plain = track(&points);
    let once = |from: &str, to: &str| plain.replacen(from, to, 1);
    let deep = "<a>".repeat(GPX_DEPTH_LIMIT);
    let cases = [
        (once("<ele>13", "<ele>13 m"), "odd.gpx:7: ele is `13 m`, and a number of m"),
        (
            once("<ele>13", "<ele>13,5"),
            "odd.gpx:7: ele is `13,5`, and a number of m with a decimal point",
        ),
        (
            once("00:12Z", "00:12 o'clock"),
            "odd.gpx:6: time is `2024-05-01T00:00:12 o'clock`, and a time such as 2024-05-01T07:30:00Z is needed",
        ),
        (
            once("lat=\"45.0009\"", ""),
            "odd.gpx:4: lat of trkpt is ``, and -90 to 90 degrees is needed",
        ),
        (once("lon=\"13\"", "lon=\"361\""), "odd.gpx:4: lon of trkpt is `361`, and -180 to 360"),
        (once("lon=\"13\"", "lon=\"E13\""), "odd.gpx:4: lon of trkpt is `E13`, and a number"),
        (
            once("</trkseg>", ""),
            "odd.gpx:15: cannot be read as GPX: ill-formed document: expected `</trkseg>`",
        ),
        (plain.replace("</trk>\n</gpx>", ""), "the file ends within its element trk"),
        (
            once("<trk>", &format!("<trk>{deep}")),
            "odd.gpx:3: cannot be read as GPX: more than 100 elements stand within one another, and at most 100 may",
        ),
        (
            "<kml><trk/></kml>".to_owned(),
            "odd.gpx:1: cannot be read as GPX: its outermost element is kml, not gpx",
        ),
        ("lat,lon\n1,2\n".to_owned(), "it has no element gpx"),
        (once("creator", "\0creator"), "odd.gpx:2: holds a byte of zero, and only text is read"),
        (plain.replace(':', ":00:00:00:0"), "time is `2024-05-01T00"),
        (track(&track_points()[..1].concat()), "has 1 track points and 0 route points"),
        (
            gpx("<rte><rtept lat=\"1\" lon=\"2\"/><rtept/></rte>"),
            "odd.gpx:3: lat of rtept is ``, and -90 to 90 degrees is needed",
        ),
        (
            gpx("<rte><rtept lat=\"1\" lon=\"2\"/><rtept lat=\"1\" lon=\"3\"/></rte>"),
            "has a route of 2 points and no track, and a route needs a speed limit such as `--limit 80km/h`",
        ),
    ];
    for (text, expected) in cases {
        let refusal = loaded(&text).expect_err(expected);
        assert!(refusal.contains(expected) && !refusal.contains('\n'), "{expected}: {refusal}");
    }
    let utf16: Vec<u8> = plain.encode_utf16().flat_map(u16::to_le_bytes).collect();
    for bytes in [[&[0xff, 0xfe][..], &utf16].concat(), utf16] {
        let refusal = loaded(bytes).unwrap_err();
        assert_eq!(
            refusal,
            "odd.gpx: is text in UTF-16, and only UTF-8 text is read; save it as UTF-8"
        );
    }
    // Times that are all the same are none.
    let still =
        track_points().into_iter().map(|p| p[..p.len() - 19].to_owned() + "15Z</time></trkpt>\n");
    let refusal = loaded(track(&still.collect::<String>())).unwrap_err();
    assert!(
        refusal.contains("lasts 0 s, and 1 s to a week is needed, or else a speed limit such as"),
        "{refusal}"
    );
    let long = "x".repeat(100_000);
    let refusal = loaded(once("<ele>13", &format!("<ele>{long}"))).unwrap_err();
    assert!(refusal.contains("(100000 characters)") && refusal.len() < 2 * SHOWN_LIMIT + 100);
}

/// What grows with a file is the time of the processor to pass over it, once: a quarter of a second for a megabyte is
/// many times what it takes, and what took the square of the length would take minutes.
#[test]
fn ill_meant_files_take_no_more_of_the_processor_than_others() {
    let points = track_points().concat();
    let many = |text: &str, bytes: usize| text.repeat(bytes / text.len());
    const SIZE: usize = 8_000_000;
    let attributes: String = (0..SIZE / 16).map(|i| format!(" a{i}=\"{i}\"")).collect();
    let laughs = "<!DOCTYPE gpx [<!ENTITY a \"ha\"><!ENTITY b \"&a;&a;&a;&a;\">]>";
    let text = many("&b;", SIZE);
    let cases = [
        gpx(&many("<a>", SIZE)),
        gpx_with(&points, &format!("<a{attributes}/>")),
        gpx_with(&points, &format!("<a b=\"{}\"/>", many("&lt;", SIZE))),
        gpx_with(&points, &format!("{laughs}<name>{text}</name>")),
        track(&points.replacen("<ele>", &format!("<ele>{text}"), 1)),
        track(&points.replacen("lon", &format!("{attributes} lon"), 1)),
        gpx_with(&points, &many("<!-- -->", SIZE)),
        gpx_with(&points, &many("<a></a>", SIZE)),
        track(&many(&points, SIZE)),
        gpx(&many("\n", SIZE)),
        many("<", SIZE),
        many("&", SIZE),
        format!("<gpx {}", many("a=\"", SIZE)),
    ];
    for text in cases {
        let begun_s = processor_s();
        let _ = loaded(&text);
        let s = processor_s() - begun_s;
        assert!(s < 2.0, "{s:.1} s for {}", &text[..200]);
    }
}

#[test]
fn more_points_than_are_read_are_refused() {
    let text = track(&"<trkpt lat='1' lon='2'/>".repeat(ROW_LIMIT + 1));
    assert!(loaded(text).unwrap_err().contains("rows is 5000001, and at most 5000000 is needed"));
}
