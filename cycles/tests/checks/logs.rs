//! Logs as cars, receivers and spreadsheets write them.

use cycles::{FaultKind, Recording, RecordingOptions, Signal};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use std::path::Path;

fn read(name: &str, text: &str) -> Result<Recording, cycles::Error> {
    Recording::read(Path::new(name), text.as_bytes(), &RecordingOptions::default())
}

fn logs() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/checks/logs"))
}

/// The figures of each country are those of the Common Locale Data Repository as Babel writes them
/// (`logs/make.py`), and the codes are those that spreadsheets save in.
#[test]
fn one_drive_is_the_same_from_the_spreadsheets_of_all_countries() {
    let options = RecordingOptions::default();
    let plain = Recording::open(logs().join("plain.csv"), &options).unwrap();
    assert_eq!((plain.channels.len(), plain.time_s.len()), (7, 120));
    for name in ["american.csv", "german.csv", "french.csv", "swiss.csv", "unicode.txt"] {
        let found = Recording::open(logs().join(name), &options).unwrap();
        assert_eq!(found.time_s, plain.time_s, "{name}");
        assert!(found.faults.is_empty() && found.began.is_some(), "{name}: {:?}", found.faults);
        for channel in &plain.channels {
            assert_eq!(found.values(channel.signal), Some(&*channel.values), "{name} {channel:?}");
        }
    }
}

/// Sums of the two recorded drives by pandas 2 and numpy 2 (`trapezoid`, `mean`).
#[test]
fn recorded_drives_have_the_sums_that_pandas_finds() {
    for (name, distance_m, air_c, elevation_m, wind_mps, used_pct) in MEASURED {
        let path = Path::new("../scenarios/tests/checks/measured").join(name);
        let drive = Recording::open(path, &RecordingOptions::default()).unwrap();
        let road = drive.road(None).unwrap().schedule;
        let used = drive.first(Signal::Charge).unwrap() - drive.last(Signal::Charge).unwrap();
        for (found, sum, what) in [
            (road.distance_m(), distance_m, "distance"),
            (drive.mean(Signal::Air).unwrap() - 273.15, air_c, "air"),
            (drive.mean(Signal::Elevation).unwrap(), elevation_m, "elevation"),
            (drive.mean(Signal::Wind).unwrap(), wind_mps, "wind"),
            (100.0 * used, used_pct, "charge used"),
        ] {
            // What creeps under 2 km/h where the car stands is no distance.
            assert!((found / sum - 1.0).abs() < 2e-4, "{name}: {what} {found}, not {sum}");
        }
    }
}

const MEASURED: [(&str, f64, f64, f64, f64, f64); 2] = [
    ("light-1.csv", 14_147.080_556, 17.390_467, 81.735_939, 0.220_400, 18.74),
    ("light-2.csv", 15_562.1, 22.632_382, 84.702_944, 3.543_693, 27.56),
];

/// A log of a car that gathers speed and slows, with noise, a row a second.
fn drive(noise: &[f64]) -> Vec<[f64; 5]> {
    let mut charge = 90.0;
    let row = |(i, noise): (usize, &f64)| {
        let at = i as f64 / 20.0;
        let speed = 40.0 + 30.0 * at.sin() + noise;
        let amperes = 60.0 + 70.0 * at.cos() + 5.0 * noise;
        charge -= amperes / 3600.0;
        [i as f64, speed, amperes, 320.0 - 0.1 * amperes, charge]
    };
    noise.iter().enumerate().map(row).collect()
}

const NAMES: [&str; 5] =
    ["Time (s)", "Speed (km/h)", "Pack current (A)", "Pack voltage (V)", "SOC (%)"];

/// Rows as a table in a way of writing them.
fn written(rows: &[[f64; 5]], order: &[usize], separator: char, comma: bool) -> String {
    let quoted = |cell: String| if cell.contains(separator) { format!("\"{cell}\"") } else { cell };
    let line = |cell: &dyn Fn(usize) -> String| {
        let cells: Vec<String> = order.iter().map(|at| quoted(cell(*at))).collect();
        cells.join(&separator.to_string()) + "\n"
    };
    let mut text = line(&|at| NAMES[at].to_owned());
    for row in rows {
        text += &line(&|at| match row[at] {
            value if value.is_nan() => String::new(),
            value if comma => format!("{value:.4}").replace('.', ","),
            value => format!("{value:.4}"),
        });
    }
    text
}

fn noises() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec(-1.0..1.0f64, 200..400)
}

fn found(recording: &Recording, kind: FaultKind, signal: Signal) -> Option<&[(f64, f64)]> {
    let fault = recording.faults.iter().find(|f| f.kind == kind && f.signal == signal)?;
    Some(&fault.spans)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, rng_seed: RngSeed::Fixed(20_261_127), ..ProptestConfig::default() })]

    #[test]
    fn a_log_reads_the_same_however_it_is_written(
        noise in noises(),
        order in Just(vec![0, 1, 2, 3, 4]).prop_shuffle(),
        separator in prop::sample::select(vec![',', ';', '\t', '|']),
        comma: bool,
    ) {
        let rows = drive(&noise);
        let plain = read("a.csv", &written(&rows, &[0, 1, 2, 3, 4], ',', false)).unwrap();
        let other = read("b.csv", &written(&rows, &order, separator, comma)).unwrap();
        prop_assert!(plain.faults.is_empty(), "{:?}", plain.faults);
        prop_assert!(other.faults.is_empty(), "{:?}", other.faults);
        prop_assert_eq!(&plain.time_s, &other.time_s);
        for channel in &plain.channels {
            prop_assert_eq!(other.values(channel.signal), Some(&*channel.values));
        }
    }

    #[test]
    fn gaps_and_frozen_stretches_are_found_where_they_are(
        noise in noises(),
        from in 20..60usize,
        gap in 12..40usize,
        hold in 60..90usize,
        column in 2..4usize,
    ) {
        let mut rows = drive(&noise);
        let signal = [Signal::PackCurrent, Signal::PackVoltage][column - 2];
        let frozen_from = from + gap + 10;
        for row in &mut rows[from..from + gap] {
            row[column] = f64::NAN;
        }
        let value = rows[frozen_from][column];
        for row in &mut rows[frozen_from..frozen_from + hold] {
            row[column] = value;
        }
        let log = read("a.csv", &written(&rows, &[0, 1, 2, 3, 4], ',', false)).unwrap();
        let gaps = found(&log, FaultKind::Gap, signal).unwrap();
        prop_assert_eq!(gaps, &[(from as f64 - 1.0, (from + gap) as f64)]);
        let frozen = found(&log, FaultKind::Frozen, signal).unwrap();
        prop_assert_eq!(frozen, &[(frozen_from as f64, (frozen_from + hold - 1) as f64)]);
        prop_assert_eq!(log.faults.len(), 2, "{:?}", log.faults);
        let values = log.values(signal).unwrap();
        prop_assert!(values[frozen_from + 1..frozen_from + hold].iter().all(|v| v.is_nan()));
    }

    #[test]
    fn the_sign_of_the_current_is_found(noise in noises(), turned: bool) {
        let mut rows = drive(&noise);
        let truth = rows[7][2];
        rows.iter_mut().for_each(|row| row[2] *= if turned { -1.0 } else { 1.0 });
        let log = read("a.csv", &written(&rows, &[0, 1, 2, 3, 4], ',', false)).unwrap();
        prop_assert!((log.values(Signal::PackCurrent).unwrap()[7] - truth).abs() < 1e-3);
        prop_assert_eq!(log.notes.len(), usize::from(turned), "{:?}", log.notes);
    }

    /// Volts by amperes of a car of 1000 kg, over hills and under a load that stands: a current that
    /// freezes, or has no sign, is never turned against the truth, and where it cannot be told that is said.
    #[test]
    fn a_frozen_current_turns_no_sign(
        pushes in prop::collection::vec((-1.5..1.5f64, -0.05..0.05f64, 4..20usize), 10..60),
        noise in prop::collection::vec(-3.0..3.0f64, 1200),
        from in 0.0..1.0f64,
        length in 0.0..1.0f64,
        hertz in prop::sample::select(vec![1usize, 2, 5]),
        (into, unsigned) in prop::sample::select(vec![(false, false), (true, false), (false, true)]),
        with_charge: bool,
    ) {
        let (mut speed, mut rows) = (0.0_f64, Vec::new());
        let mut charge = 90.0;
        let step_s = 1.0 / hertz as f64;
        for (push, slope, lasts_s) in pushes {
            for _ in 0..lasts_s * hertz {
                let before = speed;
                speed = (speed + push * step_s).clamp(0.0, 30.0);
                let force_n = 1000.0 * ((speed - before) / step_s + 9.81 * (slope + 0.011)) + 0.4 * speed * speed;
                let amperes = speed * force_n / 300.0 + 1.0 + noise[rows.len() % noise.len()];
                charge -= amperes * step_s / 3600.0 / 0.6;
                let charge = if with_charge { charge } else { f64::NAN };
                rows.push([rows.len() as f64 * step_s, 3.6 * speed, amperes, 300.0, charge]);
            }
        }
        if unsigned {
            rows.iter_mut().for_each(|row| row[2] = row[2].abs());
        }
        let truth: Vec<f64> = rows.iter().map(|row| row[2]).collect();
        let last = rows.len() - 1;
        let from = (from * last as f64) as usize;
        let to = from + (length * (last - from) as f64) as usize;
        let held = rows[from][2];
        rows[from..=to].iter_mut().for_each(|row| row[2] = held);
        rows.iter_mut().for_each(|row| row[2] *= if into { -1.0 } else { 1.0 });
        let log = read("a.csv", &written(&rows, &[0, 1, 2, 3, 4], ',', false)).unwrap();
        let amperes = log.values(Signal::PackCurrent).unwrap();
        let said = |words: &str| log.notes.iter().any(|note| note.contains(words));
        let untold = said("cannot be told");
        prop_assert_eq!(said("its sign was turned"), into && !untold, "{:?}", log.notes);
        let expected = if into && untold { -1.0 } else { 1.0 };
        for (i, a) in amperes.iter().enumerate().filter(|(i, a)| !a.is_nan() && !(from..=to).contains(i)) {
            prop_assert!((a - expected * truth[i]).abs() < 1e-3, "{i}: {a}, not {}", truth[i]);
        }
        // Where little is frozen, it is told.
        let driven_s = rows.iter().filter(|row| row[1] > 3.6).count() as f64 * step_s;
        let left_s = driven_s - (to - from) as f64 * step_s;
        prop_assert!(!untold || unsigned || left_s < 150.0, "{left_s} s of {driven_s} s, {:?}", log.notes);
    }

    #[test]
    fn any_text_is_read_or_refused_in_one_line(text in "[0-9.,;:\t\n\"a-z \\[\\]()%/-]{0,400}") {
        for name in ["a.csv", "a.gpx"] {
            let table = format!("Time;Speed km/h;V\n{text}");
            for text in [&text, &table] {
                if let Err(fault) = read(name, text) {
                    prop_assert_eq!(fault.to_string().lines().count(), 1);
                }
            }
        }
    }
}

#[test]
fn a_clock_that_steps_is_joined_on_and_said() {
    let mut text = String::from("time_s,speed_kmh\n");
    for i in 0..60 {
        // The receiver sets the clock after ten seconds, and the logger's own is set back later.
        let set = if i < 10 { 0.0 } else { 1.7e9 } - if i < 40 { 0.0 } else { 30.0 };
        text += &format!("{},{}\n", set + f64::from(i), 30 + i % 3);
    }
    let log = read("a.csv", &text).unwrap();
    assert!(log.time_s.iter().enumerate().all(|(i, t)| (t - i as f64).abs() < 1e-3));
    let [fault] = &log.faults[..] else { panic!("{:?}", log.faults) };
    assert_eq!(
        fault.sentence(),
        "`time_s` (time): the clock steps on by 1700000001 s in line 12, and once more; what \
         follows was joined on."
    );
}

#[test]
fn a_value_that_leaps_and_one_that_is_none_are_left_out() {
    let mut text = String::from("time_s,speed_kmh,winding_c\n");
    for i in 0..60 {
        let speed = if i == 20 { 250 } else { 30 + i % 3 };
        let winding = if i == 30 { "65535".to_owned() } else { format!("{}", 40 + i / 10) };
        text += &format!("{i},{speed},{winding}\n");
    }
    let log = read("a.csv", &text).unwrap();
    assert!(log.values(Signal::Speed).unwrap()[20].is_nan());
    assert!(log.values(Signal::Winding).unwrap()[30].is_nan());
    let said: Vec<String> = log.faults.iter().map(|f| f.sentence()).collect();
    assert_eq!(
        said,
        [
            "`winding_c` (winding): cells that hold no winding that can be: 1, the first `65535` in \
             line 32.",
            "`speed_kmh` (speed): it leaps at 19 s, and values that leap back were left out: 1.",
        ]
    );
}

#[test]
fn what_a_column_holds_can_be_said() {
    let text = "zt;vv;ub;ib\n0;0,0;300;0\n1;3,6;299;-20\n2;7,2;298;-30\n";
    let said = |name: &str, column: &str| (name.to_owned(), column.to_owned());
    let mut options = RecordingOptions {
        columns: vec![
            said("time_s", "zt"),
            said("speed_kmh", "vv"),
            said("pack_v", "ub"),
            said("pack_a", "-ib"),
        ],
        rate_hz: None,
    };
    let log = Recording::read(Path::new("a.csv"), text.as_bytes(), &options).unwrap();
    assert_eq!(log.values(Signal::Speed), Some(&[0.0, 1.0, 2.0][..]));
    assert_eq!(log.values(Signal::PackCurrent), Some(&[0.0, 20.0, 30.0][..]));

    options.columns = vec![said("speed_kmh", "vv")];
    options.rate_hz = Some(10.0);
    let log = Recording::read(Path::new("a.csv"), text.as_bytes(), &options).unwrap();
    assert_eq!(log.time_s, [0.0, 0.1, 0.2]);

    // A line of units under the names.
    let log = read("a.csv", "Time;Speed;Pack\ns;km/h;V\n0;0;300\n1;3,6;299\n").unwrap();
    assert_eq!(log.values(Signal::Speed), Some(&[0.0, 1.0][..]));
    assert_eq!(log.values(Signal::PackVoltage), Some(&[300.0, 299.0][..]));
}

#[test]
fn positions_make_a_speed() {
    // A minute of 10 m/s along a meridian: 111,320 m a degree there, to a thousandth.
    let mut text = String::from("time_s,lat,lon\n");
    for i in 0..61 {
        text += &format!("{i},{},8\n", 45.0 + 10.0 * f64::from(i) / 111_132.0);
    }
    let log = read("a.csv", &text).unwrap();
    assert!((log.mean(Signal::Speed).unwrap() - 10.0).abs() < 0.02);
}

#[test]
fn bad_logs_are_refused_in_one_sentence() {
    for (text, sentence) in [
        ("", "a.csv: the number of rows is 0, and 2 or more is needed"),
        (
            "1,2\n3,4\n",
            "a.csv:1: the columns are `1,2`, and a line with the names of the columns is needed \
             before the numbers, such as `time_s,speed_kmh`",
        ),
        (
            "foo;bar\n1;2\n",
            "a.csv:1: the columns are `foo;bar`, and none of them is understood; a name and its \
             unit are, such as `Speed (km/h)`, or say --column 'speed_kmh=NAME'",
        ),
        (
            "speed_kmh,pack_v\n1,2\n",
            "a.csv:1: the columns are `speed_kmh, pack_v`, and a time is needed, such as `time_s` \
             or a clock, or the rate of the rows: --rate-hz 1",
        ),
        (
            "time_s,speed_kmh\n0,1\n1,5,2\n",
            "a.csv:3: has 3 fields, and the header has 2; numbers with decimal commas need another \
             separator or quotes",
        ),
        (
            "time_s,speed_kmh\n0,1\n",
            "a.csv: the number of rows is 1, and 2 or more with a time is needed",
        ),
        (
            "PK\u{3}\u{4}xl/worksheets",
            "a.csv:1: is a spreadsheet's own file, and a table of text is read; save it as CSV",
        ),
    ] {
        assert_eq!(read("a.csv", text).unwrap_err().to_string(), sentence);
    }
    let silent = "Time,Speed,Pack V\n0,1,300\n1,2,300\n";
    assert_eq!(
        read("a.csv", silent).unwrap_err().to_string(),
        "a.csv:1: the columns are `Time, Speed, Pack V`, and `Speed` states no unit; say it: --column \
         'speed_kmh=Speed'"
    );
    let two = "time_s,Motor temp 1 (°C),Motor temp 2 (°C)\n0,1,2\n1,2,3\n";
    assert_eq!(
        read("a.csv", two).unwrap().notes,
        [
            "`Motor temp 1 (°C)` and `Motor temp 2 (°C)` may each be the winding, so none of them is; \
          say which: --column 'winding_c=Motor temp 1 (°C)'."
        ]
    );
    let options = RecordingOptions { columns: vec![("force".into(), "x".into())], rate_hz: None };
    let fault = Recording::read(Path::new("a.csv"), silent.as_bytes(), &options).unwrap_err();
    assert!(fault.to_string().starts_with("a.csv: a column is to be `force`, and the names known"));
}

/// A German log whose clock has decimal points, and powers in whole watts with thousands set off: each
/// column has its own mark, and one that shows none goes with most.
#[test]
fn each_column_has_its_own_decimal_mark() {
    let mut text = "Zeit (s);Tempo (km/h);Spannung (V);Strom (A);Leistung (W)\n".to_owned();
    for i in 0..60 {
        let power = if i % 2 == 0 { "251" } else { "2.219" };
        let amperes = if i % 2 == 0 { "2,2" } else { "19,7" };
        text += &format!("{i}.5;{i},5;112,{};{amperes};{power}\n", 80 + i % 2);
    }
    let recording = read("a.csv", &text).unwrap();
    let power = recording.values(Signal::PackPower).unwrap();
    assert_eq!(power[..2], [251.0, 2219.0]);
    assert_eq!(recording.time_s[1], 1.0);
    // Powers that are a thousandth of volts by amperes are not used.
    let thousandths = text.replace("2.219", "2,219").replace("251\n", "0,251\n");
    let recording = read("a.csv", &thousandths).unwrap();
    assert!(found(&recording, FaultKind::Impossible, Signal::PackPower).is_some());
    let power_w = recording.pack_power_w().unwrap();
    assert!((power_w[1] - 112.81 * 19.7).abs() < 1e-9, "{}", power_w[1]);
}

/// Rows from the newest to the oldest are the drive that they are in order.
#[test]
fn the_newest_row_may_stand_first() {
    let row = |i: usize| format!("{},{}\n", 0.5 * i as f64, (i % 30) as f64);
    let head = "time_s,speed_kmh\n";
    let on = head.to_owned() + &(0..100).map(row).collect::<String>();
    let back = head.to_owned() + &(0..100).rev().map(row).collect::<String>();
    let (on, back) = (read("a.csv", &on).unwrap(), read("a.csv", &back).unwrap());
    assert_eq!((on.time_s, on.channels), (back.time_s, back.channels));
    assert!(back.notes.iter().any(|note| note.contains("newest row")), "{:?}", back.notes);
}

/// 20 °C are 68 °F, and 0.87 is a charge of 87 %; a speed without a unit is none.
#[test]
fn other_units_than_those_stated_are_said() {
    let row = |i: usize| format!("{i},{},{},{:.2}\n", i % 30, 66 + i % 3, 0.95 - 0.002 * i as f64);
    let text = "time_s,speed_kmh,ambient_c,charge_pct\n".to_owned()
        + &(0..100).map(row).collect::<String>();
    let recording = read("a.csv", &text).unwrap();
    assert!(recording.first(Signal::Air).is_none());
    let said: Vec<String> = recording.faults.iter().map(cycles::Fault::sentence).collect();
    assert!(said.iter().any(|text| text.contains("in °F, that is 20 °C")), "{said:?}");
    assert!((recording.first(Signal::Charge).unwrap() - 0.95).abs() < 1e-9);
    for speed in ["speed", "Speed", "velocity"] {
        let refused = read("a.csv", &text.replace("speed_kmh", speed)).unwrap_err().to_string();
        assert!(refused.contains("states no unit") && refused.contains(speed), "{refused}");
    }
    for (speed, kmh) in [("speed_m_s", 3.6), ("speed_knots", 1.852), ("speed_mph", 1.609_344)] {
        let recording = read("a.csv", &text.replace("speed_kmh", speed)).unwrap();
        let mps = recording.values(Signal::Speed).unwrap()[29];
        assert!((3.6 * mps - 29.0 * kmh).abs() < 1e-9, "{speed}: {mps}");
    }
}
