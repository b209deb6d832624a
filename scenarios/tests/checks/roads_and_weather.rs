//! Roads without times in a scenario, and the weather that a drive meets on its way: held to the same
//! drive with the same numbers stated otherwise.

use cycles::LoadOptions;
use scenarios::runs::day::{self, Day, DayReport};
use scenarios::runs::drive::{self, DriveReport};
use scenarios::{Loaded, Override, Prepared, Road};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

fn written(name: &str, text: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, text).unwrap();
    path
}

/// The demo on its own, without its head wind and its day.
fn demo(texts: &[&str]) -> Prepared {
    let bare = ["conditions.head_wind_kmh=null", "runs.day=null"];
    let sets = bare.iter().chain(texts).map(|text| text.parse().unwrap());
    let sets: Vec<Override> = sets.collect();
    Loaded::demo().unwrap().with(&sets).unwrap()
}

fn refused(texts: &[&str]) -> String {
    let bare = ["conditions.head_wind_kmh=null"];
    let sets = bare.iter().chain(texts).map(|text| text.parse().unwrap());
    let sets: Vec<Override> = sets.collect();
    Loaded::demo().unwrap().with(&sets).unwrap_err().to_string()
}

/// Drives a road file; the report and what was said of the road.
fn driven(car: &Prepared, path: &Path) -> (DriveReport, Vec<String>) {
    let road = Road::Named(path.to_string_lossy().into_owned());
    let loaded = car.read(&road, &LoadOptions::default()).unwrap();
    let trace = scenarios::runs::trace(&loaded.schedule).unwrap();
    let setup = car.setup();
    let found = drive::drive(&setup, &trace, &mut ());
    (drive::report(&setup, "", &trace, &found), loaded.notes)
}

/// Ten minutes at up to 60 km/h with a halt, and further columns that hold in each row.
fn road(name: &str, columns: &str, cells: impl Fn(u32) -> String) -> PathBuf {
    let mut text = format!("time_s,speed_kmh{columns}\n");
    for second in (0..=600).step_by(10) {
        let speed = match second {
            0 | 600 | 290..=310 => 0,
            _ => 40 + 20 * (second / 10 % 2),
        };
        writeln!(text, "{second},{speed}{}", cells(second)).unwrap();
    }
    written(name, &text)
}

/// A wind from the north is a head wind to the north, a tail wind to the south, and none to the east.
#[test]
fn a_wind_blows_by_its_part_along_the_road() {
    let windy = demo(&["conditions.wind={\"speed_kmh\": 30, \"from\": \"N\"}"]);
    for (heading, head_kmh) in [("0", "30"), ("180", "-30"), ("90", "0"), ("60", "15")] {
        let headed = road(&format!("to-{heading}.csv"), ",heading_deg", |_| format!(",{heading}"));
        let plain = demo(&[&format!("conditions.head_wind_kmh={head_kmh}")]);
        let (by_direction, notes) = driven(&windy, &headed);
        let (by_head, none) = driven(&plain, &headed);
        let off = by_direction.wh_per_km / by_head.wh_per_km - 1.0;
        assert!(off.abs() < 1e-9, "{heading}: {off}");
        assert!(notes.iter().any(|note| note.ends_with("its part across is left out.")));
        assert!(none.is_empty(), "{none:?}");
    }
    let (unheaded, notes) = driven(&windy, &road("nowhere.csv", "", |_| String::new()));
    let (calm, _) = driven(&demo(&[]), &road("nowhere.csv", "", |_| String::new()));
    assert_eq!(unheaded, calm);
    assert!(notes.iter().any(|note| note.contains("has no headings: it is driven in still air")));
    let degrees = demo(&["conditions.wind={\"speed_kmh\": 30, \"from_deg\": 337.5}"]);
    let point = demo(&["conditions.wind={\"speed_kmh\": 30, \"from\": \"NNW\"}"]);
    assert_eq!(degrees.outdoors, point.outdoors);
}

/// What the road's file states takes the place of the conditions', and says so.
#[test]
fn the_weather_of_a_road_takes_the_place_of_the_conditions() {
    let own = road("own.csv", ",head_wind_kmh,air_c", |_| ",12,-4".to_owned());
    let plain = road("plain.csv", "", |_| String::new());
    let stated = demo(&["conditions.air_c=-4", "conditions.head_wind_kmh=12", "start.cells_c=20"]);
    let other = demo(&[
        "conditions.air_c=-4",
        "conditions.head_wind_kmh=-25",
        "start.cells_c=20",
        "conditions.by_hour=[{\"after_h\": 0, \"air_c\": 33, \"head_wind_kmh\": 80}]",
    ]);
    let (by_road, notes) = driven(&other, &own);
    assert_eq!(by_road, driven(&stated, &plain).0);
    let note = "The air and wind along this road stand in its file and take the place";
    assert!(notes.iter().any(|own| own.starts_with(note)), "{notes:?}");
}

/// An hour of the weather is a row of a road that says the same, and reaches a drive of a day that
/// begins later.
#[test]
fn weather_by_the_hour_is_met_as_the_drive_goes_on() {
    let hours = "conditions.by_hour=[{\"after_h\": 0.1, \"air_c\": -8, \"head_wind_kmh\": 20}]";
    let changing = road("changing.csv", ",head_wind_kmh,air_c", |second| {
        if second < 360 { ",0,15".to_owned() } else { ",20,-8".to_owned() }
    });
    let plain = road("plain-2.csv", "", |_| String::new());
    let air = "conditions.air_c=15";
    let (by_hour, _) = driven(&demo(&[air, hours]), &plain);
    let (by_row, _) = driven(&demo(&[air]), &changing);
    let (still, _) = driven(&demo(&[air]), &plain);
    assert_eq!(by_hour, by_row);
    assert!(by_hour.wh_per_km > 1.02 * still.wh_per_km);

    let day = |texts: &[&str]| -> DayReport {
        let path = serde_json::to_string(&plain.to_string_lossy()).unwrap();
        let legs = format!(
            "runs.day=[{{\"park\": {{\"minutes\": 90}}}}, {{\"drive\": {{\"cycle\": {path}}}}}]"
        );
        let car = demo(&[texts, &[&legs]].concat());
        let commute = car.road();
        day::report(&car, &Day::of(&car, &commute, &LoadOptions::default()).unwrap()).unwrap()
    };
    let later =
        day(&[air, "conditions.by_hour=[{\"after_h\": 1, \"air_c\": -8, \"head_wind_kmh\": 20}]"]);
    assert_eq!(later.legs[1].air_c, -8.0);
    let alone = day(&[air]);
    assert!(later.legs[1].energy_kwh > 1.02 * alone.legs[1].energy_kwh);
    assert!(later.legs[0].end.cells_c < alone.legs[0].end.cells_c - 0.5);
    // The same stay as two, each in its air.
    let path = serde_json::to_string(&plain.to_string_lossy()).unwrap();
    let legs = format!(
        "runs.day=[{{\"park\": {{\"minutes\": 60}}}}, {{\"park\": {{\"minutes\": 30, \"air_c\": -8}}}}, \
         {{\"drive\": {{\"cycle\": {path}, \"air_c\": -8, \"head_wind_kmh\": 20}}}}]"
    );
    let car = demo(&[air, &legs]);
    let road = car.road();
    let split = day::report(&car, &Day::of(&car, &road, &LoadOptions::default()).unwrap()).unwrap();
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9 * a.abs().max(1.0), "{a} {b}");
    near(split.legs[1].end.cells_c, later.legs[0].end.cells_c);
    near(split.legs[2].energy_kwh, later.legs[1].energy_kwh);
}

/// A leg or a season that states its weather is not in that of the hour.
#[test]
fn a_leg_and_a_season_keep_their_own_weather() {
    let hours = "conditions.by_hour=[{\"after_h\": 0, \"air_c\": -20, \"head_wind_kmh\": 60}]";
    let legs =
        "runs.day=[{\"drive\": {\"cycle\": \"wltc-low\", \"air_c\": 15, \"head_wind_kmh\": 0}}]";
    let season = "seasons=[{\"name\": \"x\", \"air_c\": 15, \"head_wind_kmh\": 0}]";
    let run = |hours: &str| {
        let car = demo(&[hours, "conditions.air_c=15", legs, season]);
        let day = Day::of(&car, &car.road(), &LoadOptions::default()).unwrap();
        let trace = scenarios::runs::trace(&cycles::find("wltc-low").unwrap()).unwrap();
        let seasons = scenarios::runs::season::ranges(&car, &trace).unwrap();
        (day::report(&car, &day).unwrap().legs[0].energy_kwh, seasons)
    };
    assert_eq!(run(hours), run("conditions.by_hour=[]"));
}

/// What a season does not state of the wind it has from the conditions, however they state it: its range
/// is that of a drive in them.
#[test]
fn a_season_that_states_no_wind_has_that_of_the_conditions() {
    let north = road("to-the-north.csv", ",heading_deg", |_| ",0".to_owned());
    let trace = cycles::load(&north, &LoadOptions::default()).unwrap().schedule;
    let trace = scenarios::runs::trace(&trace).unwrap();
    let winds = [
        ("conditions.note=\"still\"", 0.0),
        ("conditions.head_wind_kmh=30", 30.0),
        ("conditions.wind={\"speed_kmh\": 30, \"from\": \"N\"}", 30.0),
        ("conditions.by_hour=[{\"after_h\": 0, \"head_wind_kmh\": 30}]", 30.0),
    ];
    let mut calm_km = 0.0;
    for (wind, kmh) in winds {
        let seasons = format!(
            "seasons=[{{\"name\": \"as it is\", \"air_c\": 15}}, \
             {{\"name\": \"stated\", \"air_c\": 15, \"head_wind_kmh\": {kmh}}}]"
        );
        let car = demo(&[wind, "conditions.air_c=15", "start={}", &seasons]);
        let found = scenarios::runs::season::ranges(&car, &trace).unwrap();
        let near = |km: f64| (km / found[0].1 - 1.0).abs() < 1e-9;
        assert!(near(found[1].1), "{wind}: {found:?}");
        assert!(near(drive::range_of(&car.setup(), &trace).distance_km), "{wind}: {found:?}");
        calm_km = if kmh == 0.0 { found[0].1 } else { calm_km };
        assert!(kmh == 0.0 || found[0].1 < 0.95 * calm_km, "{wind}: {found:?}");
    }
}

/// A planner's route in a scenario is driven at its pace, there and back, and as an option states it.
#[test]
fn a_route_is_a_commute() {
    let points: String = (0..=40)
        .map(|i| {
            let bend = f64::from((i - 20_i32).max(0)) * 0.0004;
            format!("<rtept lat=\"{}\" lon=\"{}\"/>", 46.0 + 0.0008 * f64::from(i), 9.0 + bend)
        })
        .collect();
    let file = written("route.gpx", &format!("<gpx><rte>{points}</rte></gpx>"));
    let path = serde_json::to_string(&file.to_string_lossy()).unwrap();
    let pace = "{\"limit_kmh\": 60, \"limits\": [{\"from_km\": 1, \"to_km\": 2, \"limit_kmh\": 30}], \
                \"bends_mps2\": 3, \"stops\": [{\"at_km\": 2.5, \"seconds\": 40}]}";
    let car = demo(&[&format!("runs.commute={{\"cycle\": {path}, \"pace\": {pace}}}")]);
    let loaded = car.read(&car.road(), &LoadOptions::default()).unwrap();
    assert!(loaded.schedule.peak_speed_mps() <= 60.0 / 3.6 + 1e-9);
    assert_eq!(loaded.schedule.stops(), 2);
    assert!(loaded.held.unwrap().stop_s > 40.0);
    let stated = cycles::Pace { limit_mps: Some(10.0), ..cycles::Pace::default() };
    let slower = car.read(&car.road().at_pace(Some(stated)), &LoadOptions::default()).unwrap();
    assert!(slower.schedule.peak_speed_mps() <= 10.0 + 1e-9);
    assert_eq!(slower.schedule.stops(), 2);
    let day = Day::of(&car, &car.road(), &LoadOptions::default()).unwrap();
    let report = day::report(&car, &day).unwrap();
    assert!(report.complete && (report.distance_km / 2.0 - 3.65).abs() < 0.05, "{report:?}");
    let wltc = cycles::Pace { limit_mps: Some(10.0), ..cycles::Pace::default() };
    let wltc = Road::Named("wltc".to_owned()).at_pace(Some(wltc));
    let error = car.read(&wltc, &LoadOptions::default()).unwrap_err().to_string();
    assert!(error.contains("wltc: is a cycle with times and is driven as it stands"), "{error}");
}

#[test]
fn weather_and_paces_that_cannot_be_are_refused_in_one_sentence() {
    let wind = |text: &str| format!("conditions.wind={text}");
    let pace = |text: &str| format!("runs.commute={{\"cycle\": \"x.gpx\", \"pace\": {text}}}");
    for (texts, expected) in [
        (
            vec![wind("{\"speed_kmh\": 500, \"from\": \"N\"}")],
            "conditions.wind.speed_kmh is 500; allowed: 0 to 100",
        ),
        (
            vec![wind("{\"speed_kmh\": 5, \"from_deg\": 400}")],
            "conditions.wind.from_deg is 400; allowed: 0 to 360",
        ),
        (
            vec![wind("{\"speed_kmh\": 5, \"from\": \"UP\"}")],
            "conditions.wind.from is \"UP\"; allowed: N, NNE",
        ),
        (
            vec![wind("{\"speed_kmh\": 5}")],
            "conditions.wind.from is missing; needed: from or from_deg",
        ),
        (
            vec![
                wind("{\"speed_kmh\": 5, \"from\": \"N\"}"),
                "conditions.head_wind_kmh=4".to_owned(),
            ],
            "conditions.wind is given beside head_wind_kmh; allowed: only one of the two",
        ),
        (
            vec!["conditions.by_hour=[{\"after_h\": 2}, {\"after_h\": 1}]".to_owned()],
            "conditions.by_hour.2.after_h is 1; allowed: more than the 2 of the hour before",
        ),
        (
            vec!["conditions.by_hour=[{\"after_h\": 2, \"air_c\": 99}]".to_owned()],
            "by_hour.1.air_c is 99",
        ),
        (vec![pace("{\"limit_kmh\": 0}")], "runs.commute.pace.limit_kmh is 0; allowed: 1 to 300"),
        (
            vec![pace("{\"bends_mps2\": 40}")],
            "runs.commute.pace.bends_mps2 is 40; allowed: 0.5 to 10",
        ),
        (
            vec![pace("{\"limits\": [{\"from_km\": 3, \"to_km\": 2, \"limit_kmh\": 50}]}")],
            "runs.commute.pace.limits.1.to_km is 2; allowed: more than 3",
        ),
        (
            vec!["runs.day=[{\"drive\": {\"pace\": {\"limit_kmh\": 50}}}]".to_owned()],
            "runs.day.1.drive.cycle is missing; needed: the road that has this pace",
        ),
    ] {
        let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        let sentence = refused(&texts);
        assert!(sentence.contains(expected) && !sentence.contains('\n'), "{expected}: {sentence}");
    }
}
