//! What the commands and the studies cost: a line of criterion's for each command, as a person calls
//! it, and the targets of the parts that studies are made of.

use criterion::Criterion;
use scenarios::runs::{Run, Suite, trace};
use scenarios::studies::bands::bands;
use scenarios::studies::uncertain::Uncertain;
use scenarios::{Loaded, Override, Prepared};
use shakedown::COMMANDS;
use std::hint::black_box;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// The demo with parts that follow the WLTC, as in `wltc.rs`.
const PARTS: [(&str, &str); 3] = [
    ("motor", "shelf:permanent-magnet-liquid"),
    ("controller", "shelf:high-voltage-liquid"),
    ("pack", "shelf:blend-355v-50ah"),
];
/// How often each is timed; the shortest counts.
const ROUNDS: usize = 30;
const SAMPLES: usize = 1000;
/// Combinations that are prepared one after the other, as in a sweep.
const PREPARED: u32 = 100;

fn main() {
    let mut criterion = Criterion::default()
        .warm_up_time(Duration::from_millis(200))
        .measurement_time(Duration::from_millis(600))
        .sample_size(10)
        .configure_from_args();
    for command in COMMANDS {
        criterion.bench_function(&format!("command {}", command.name), |b| {
            b.iter(|| call(command.example));
        });
    }
    let demo = Loaded::demo().unwrap();
    let prepared = demo.prepare().unwrap();
    let sheet = suite(&prepared, &Run::SHEET);
    let combination = combination();
    criterion.bench_function("prepare one combination", |b| b.iter(|| changed(&combination)));
    criterion.bench_function("one field to all of the sheet's figures", |b| {
        b.iter(|| slide(&demo, &sheet, 700.0));
    });
    criterion.final_summary();
    if std::env::args().any(|arg| arg == "--test" || arg == "--list") {
        return;
    }

    let mut shortest = [f64::INFINITY; 3];
    for round in 0..ROUNDS {
        let times = [
            seconds(|| (0..PREPARED).for_each(|_| drop(black_box(changed(&combination)))))
                / f64::from(PREPARED),
            seconds(|| call("sheet")),
            seconds(|| slide(&demo, &sheet, 700.0 + round as f64)),
        ];
        for (least, time) in shortest.iter_mut().zip(times) {
            *least = least.min(time);
        }
    }
    let [prepare_s, sheet_s, slide_s] = shortest;
    let usual = suite(&prepared, &Run::USUAL);
    let uncertain = Uncertain::new(&demo, &[], true).unwrap();
    let bands_s = seconds(|| bands(&uncertain, &usual, &[], SAMPLES, 1, || true).unwrap());

    println!("\nStudies; shortest of {ROUNDS} turns, bands once");
    let met = |holds: bool| if holds { "met" } else { "MISSED" };
    let prepare_us = 1e6 * prepare_s;
    println!(
        "  prepare one combination   {prepare_us:7.1} µs target at most 10: {}",
        met(prepare_us <= 10.0)
    );
    let sheet_ms = 1e3 * sheet_s;
    println!(
        "  sheet of the demo         {sheet_ms:7.1} ms target at most 20: {}",
        met(sheet_ms <= 20.0)
    );
    let slide_ms = 1e3 * slide_s;
    println!(
        "  one field, all its figures{slide_ms:7.1} ms target at most 15: {}",
        met(slide_ms <= 15.0)
    );
    println!(
        "  bands of {SAMPLES} samples     {bands_s:7.2} s  target at most 3: {}",
        met(bands_s <= 3.0)
    );
    println!("  against SciPy: run benches/scipy.sh, which installs it");
}

/// Calls the program as the help's example does.
fn call(example: &str) {
    let line = format!("{} {example}", env!("CARGO_BIN_EXE_shakedown"));
    let (out, err) = (Stdio::null(), Stdio::null());
    let status = Command::new("sh").args(["-c", &line]).stdout(out).stderr(err).status();
    assert!(status.unwrap().success(), "{example}");
}

fn suite(prepared: &Prepared, runs: &[Run]) -> Suite {
    let road = prepared.read(&prepared.road(), &cycles::LoadOptions::default()).unwrap();
    Suite::new(runs, &road.schedule.name, trace(&road.schedule).unwrap())
}

/// A scenario with two numbers that change from one combination of a sweep to the next.
fn combination() -> (Loaded, [Override; 2]) {
    let fixed = PARTS.map(|(path, value)| Override::text(path, value).unwrap());
    let number = |path, value| Override::number(path, value).unwrap();
    let loaded = Loaded::demo().unwrap().put(&fixed).unwrap();
    (loaded, [number("donor.kerb_mass_kg", 700.0), number("gearbox.final_drive", 4.0)])
}

fn changed((loaded, overrides): &(Loaded, [Override; 2])) -> Prepared {
    loaded.with(black_box(overrides)).unwrap()
}

/// What a slider moves: one field in memory, and all figures of the sheet.
fn slide(loaded: &Loaded, sheet: &Suite, kerb_kg: f64) -> usize {
    let moved = [Override::number("donor.kerb_mass_kg", black_box(kerb_kg)).unwrap()];
    sheet.figures(&loaded.with(&moved).unwrap()).unwrap().len()
}

fn seconds<T>(run: impl FnOnce() -> T) -> f64 {
    let start = Instant::now();
    black_box(run());
    start.elapsed().as_secs_f64()
}
