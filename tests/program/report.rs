//! The page that `report` writes.

use crate::program::{folder, json, refused, shakedown, text};
use std::fs;
use std::path::Path;

/// Largest page, bytes.
const MOST_BYTES: usize = 1_000_000;

fn page(folder: &Path, args: &[&str]) -> String {
    let file = folder.join("page.html");
    text(&[&["report", "--out", file.to_str().unwrap()], args].concat());
    fs::read_to_string(file).unwrap()
}

/// The text between the tags, with a blank for each of them.
fn shown(page: &str) -> String {
    let body = page.split_once("<body>").unwrap().1;
    let mut text = String::new();
    let mut within = false;
    for c in body.chars() {
        match c {
            '<' => within = true,
            '>' => within = false,
            c if !within => text.push(c),
            _ => continue,
        }
        if within {
            text.push(' ');
        }
    }
    text
}

/// Elements and attributes that fetch or run something, by the HTML standard.
fn holds_nothing_from_elsewhere(page: &str) {
    let low = page.to_lowercase();
    for forbidden in [
        "<script",
        "<link",
        "<iframe",
        "<object",
        "<embed",
        "<img",
        "<form",
        " src=",
        " href=",
        "@import",
        "url(",
        "http://",
        "https://",
        "javascript:",
        " onload",
        " onerror",
    ] {
        assert!(!low.contains(forbidden), "{forbidden}");
    }
    assert!(low.contains("default-src 'none'"));
    assert!(page.len() <= MOST_BYTES, "{} bytes", page.len());
    assert!(!page.contains("NaN"));
}

#[test]
fn the_page_stands_by_itself_and_tells_what_it_must() {
    let folder = folder("report-demo");
    let page = page(&folder, &[]);
    holds_nothing_from_elsewhere(&page);
    for heading in [
        "In short",
        "At a glance",
        "Pull and speed",
        "Uphill",
        "The daily road",
        "Through the year",
        "Charging",
        "What it rests on",
        "Assumptions",
        "How sure it is",
        "Cautions",
    ] {
        assert!(page.contains(&format!(">{heading}</h")), "{heading}");
    }
    let said = shown(&page);
    for words in
        ["High voltage kills", "Brakes, tyres, axle loads", "local codes decide", "typical"]
    {
        assert!(said.contains(words), "{words}");
    }
    // A figure of the page is that of the run.
    let range = json(&["drive"])["range"]["distance_km"].as_f64().unwrap();
    assert!(said.contains(&format!("{range:.0} km on the daily road")), "{range}");
}

/// Metric units that the US trade does not use, as in the tables.
#[test]
fn a_page_in_us_units_shows_no_metric_one() {
    let folder = folder("report-us");
    let page = page(&folder, &["--units", "us"]);
    for line in shown(&page).split(['\n', ';', ',', '(', ')', '.']) {
        for unit in ["km/h", "km", "kg", "°C", "N·m", "Wh/km", "m/s²"] {
            assert!(!line.split_whitespace().any(|word| word == unit), "{unit}: {line}");
        }
    }
}

#[test]
fn what_names_hold_stays_text() {
    let folder = folder("report-names");
    let bad = [
        "<script>alert(1)</script>",
        "\"><img src=x onerror=alert(1)>",
        "' onload='x",
        "&lt;b&gt;",
        "\u{202e}txt.exe\u{1b}[2J\u{0}",
    ];
    let long = "x".repeat(10_000);
    for name in bad.iter().copied().chain([long.as_str()]) {
        let quoted = serde_json::to_string(name).unwrap();
        let sets: Vec<String> = ["name", "motor.name", "pack.cell.name", "seasons.2.name"]
            .iter()
            .map(|path| format!("{path}={quoted}"))
            .chain([format!("build.load.1.item={quoted}")])
            .collect();
        let args: Vec<&str> = sets.iter().flat_map(|set| ["--set", set.as_str()]).collect();
        let page = page(&folder, &args);
        let low = page.to_lowercase();
        assert!(
            !low.contains("<script") && !low.contains("<img") && !low.contains("<b>"),
            "{name}"
        );
        assert!(!page.contains(['\u{202e}', '\u{1b}', '\0']), "{name}");
        assert!(page.len() <= MOST_BYTES, "{} bytes", page.len());
        // No attribute but those of the program's own.
        let tags = page.split('<').skip(1).filter_map(|rest| rest.split_once('>')).map(|t| t.0);
        assert!(tags.clone().all(|tag| !tag.contains("onload") && !tag.contains("onerror")));
        assert!(tags.count() > 300);
    }
}

/// Where something cannot be done the page says so and stands: a car that is too heavy to pull away on
/// the hill, an empty pack, a motor without regen, a controller that does not come on.
#[test]
fn the_page_stands_where_the_car_does_not() {
    let folder = folder("report-fails");
    for (sets, words) in [
        (vec!["runs.climb.grade_pct=45"], "Fails:"),
        (vec!["start.charge_pct=1"], "not done"),
        (vec!["motor=shelf:series-dc-large", "controller=shelf:series-chopper-500a"], "In short"),
        (vec!["controller.max_v=100"], "over the 100.0 V that the controller bears"),
        (vec!["runs.climb.speed_kmh=180"], "over rpm"),
    ] {
        let args: Vec<&str> = sets.iter().flat_map(|set| ["--set", set]).collect();
        let page = page(&folder, &args);
        holds_nothing_from_elsewhere(&page);
        assert!(shown(&page).contains(words), "{sets:?}: {words}");
        assert!(page.ends_with("</html>"));
    }
}

#[test]
fn it_replaces_pages_of_its_own_and_nothing_else() {
    let folder = folder("report-over");
    let build = folder.join("build.json");
    fs::copy("docs/builds/hatch.json", &build).unwrap();
    let build = build.to_str().unwrap();
    let before = fs::read(build).unwrap();
    refused(&["report", build, "--out", build], &["is read by the same run"]);
    assert_eq!(fs::read(build).unwrap(), before);
    let other = folder.join("letter.html");
    fs::write(&other, "<!DOCTYPE html><p>mine").unwrap();
    refused(&["report", "--out", other.to_str().unwrap()], &["is not a page of this program"]);
    page(&folder, &[]);
    page(&folder, &["--set", "motor.mass_kg=60"]);
    refused(&["report", "--out", folder.to_str().unwrap()], &["is a folder"]);
    assert_eq!(shakedown(&["report", "--out", "/nowhere/a.html"]).status.code(), Some(2));
}

/// What stands on the page of the parts to buy is what `choose` says of as many cars.
#[test]
fn candidates_bring_what_to_buy_onto_the_page() {
    let folder = folder("report-choice");
    let file = folder.join("page.html");
    let out = ["--out", file.to_str().unwrap()];
    let asked = [
        "docs/builds/hatch.json",
        "--candidates",
        "docs/builds/shortlist.json",
        "--set",
        "money.currency=<i>thalers</i>",
        "--cycle",
        "wltc-low",
        "--goal",
        "range_km>=95",
        "--prefer",
        "range_km",
    ];
    let told = json(&[&["report"], &out[..], &asked[..]].concat());
    let chosen = json(&[&["choose"], &asked[..], &["--samples", "60"]].concat());
    assert_eq!(told["choice"], chosen);
    let page = fs::read_to_string(&file).unwrap();
    holds_nothing_from_elsewhere(&page);
    assert!(page.contains(">Which parts to buy</h2>") && !page.contains("<i>"));
    let said = shown(&page);
    let front = chosen["front"].as_array().unwrap();
    assert!(front.len() > 1);
    for one in front {
        let price = one["price"].as_f64().unwrap();
        assert!(said.contains(&format!(" {price} ")), "{price}");
    }
    assert!(said.contains("of 60 drawn") && said.contains("What to buy"));
    // Where nothing is within the budget the page says so and stands.
    let poor = [&["report"], &out[..], &asked[..], &["--budget", "10"]].concat();
    text(&poor);
    let said = shown(&fs::read_to_string(&file).unwrap());
    assert!(said.contains("Nothing is recommended: none of the combinations that keep the goals"));
}

#[test]
fn a_choice_that_cannot_be_is_refused_before_anything_is_driven() {
    let folder = folder("report-no-choice");
    let many: Vec<String> = (0..3000)
        .map(|i| format!("{{\"value\": {}, \"price\": 5}}", 3.0 + f64::from(i) * 1e-4))
        .collect();
    let list = many.join(",");
    let of = |name: &str, text: &str| {
        let path = folder.join(name);
        fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let ratio = |list: &str| format!("{{\"try\": {{\"gearbox.final_drive\": [{list}]}}}}");
    let many = of("many.json", &ratio(&list));
    let worthless = of("worthless.json", &ratio("{\"value\": 4}"));
    let below = of("below.json", &ratio("{\"value\": 4, \"price\": -1}"));
    let word = of("word.json", &ratio("{\"value\": 4, \"price\": \"dear\"}"));
    let good = of("good.json", &ratio("{\"value\": 4, \"price\": 0}"));
    let page = folder.join("page.html");
    let page = page.to_str().unwrap();
    for command in [&["report", "--out", page][..], &["live"]] {
        let with = |more: &[&str], words: &[&str]| {
            refused(&[command, &["--candidates"], more].concat(), words);
        };
        with(&[&many], &["3000 combinations", "at most 2000"]);
        with(&[&worthless], &["has no price"]);
        with(&[&below], &["a price of -1", "allowed: 0 to"]);
        with(&[&word], &["dear", "a number"]);
        with(&["nowhere.json"], &["nowhere.json"]);
        with(&[&good, "--goal", "rnge_km>=5"], &["range_km"]);
        with(&[&good, "--prefer", "climb_gear"], &["neither more nor less"]);
        with(&[&good, "--budget=-1"], &["--budget is -1"]);
        refused(&[command, &["--budget", "5"]].concat(), &["--candidates"]);
    }
    assert!(!Path::new(page).exists());
}
