//! Instructions of what is run often, counted by valgrind's callgrind and held to `counts.txt`: a
//! number that hardly hangs on what else the machine does.
//!
//! `cargo bench --bench counts` fails where one takes more than its budget allows;
//! `COUNTS=overwrite cargo bench --bench counts` renews the budgets.

use rayon::ThreadPoolBuilder;
use scenarios::runs::{Run, Suite, trace};
use scenarios::studies::hypercube;
use scenarios::studies::uncertain::Uncertain;
use scenarios::{Loaded, Override};
use std::hint::black_box;
use std::process::{Command, ExitCode};

const BUDGETS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/counts.txt");
/// What a count may be above its budget, as a ratio.
const MOST: f64 = 1.1;
/// What is counted: runs of the demo by their names, and two more.
const LINES: [&str; 9] =
    ["prepare", "draw", "standing", "pull", "rating", "climb", "pass", "drive", "range"];

fn main() -> ExitCode {
    let mut args = std::env::args().skip(1).skip_while(|arg| arg != "--count");
    if let (Some(_), Some(line)) = (args.next(), args.next()) {
        count(&line);
        return ExitCode::SUCCESS;
    }
    if std::env::args().any(|arg| arg == "--test" || arg == "--list") {
        return ExitCode::SUCCESS;
    }
    let known = std::fs::read_to_string(BUDGETS).unwrap_or_default();
    let budget = |line: &str| {
        let found = known.lines().find_map(|text| text.strip_prefix(line)?.strip_prefix(' '));
        found.and_then(|number| number.trim().parse::<u64>().ok())
    };
    let (mut renewed, mut broken) = (String::new(), false);
    for line in LINES {
        let count = counted(line);
        renewed += &format!("{line} {count}\n");
        let Some(budget) = budget(line) else {
            println!("{line:10} {count:12} instructions, without a budget: MISSED");
            broken = true;
            continue;
        };
        let ratio = count as f64 / budget as f64;
        let verdict = if ratio <= MOST { "met" } else { "MISSED" };
        println!("{line:10} {count:12} instructions, {ratio:.3} of its budget: {verdict}");
        broken |= ratio > MOST;
    }
    if std::env::var_os("COUNTS").is_some_and(|how| how == "overwrite") {
        std::fs::write(BUDGETS, renewed).unwrap();
        return ExitCode::SUCCESS;
    }
    if broken { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

/// Instructions of a line, from a run of this program under callgrind.
fn counted(line: &str) -> u64 {
    let output = Command::new("valgrind")
        .args(["--tool=callgrind", "--callgrind-out-file=/dev/null"])
        .arg("--toggle-collect=*counts*counted_stretch*")
        .arg(std::env::current_exe().unwrap())
        .args(["--count", line])
        .output()
        .expect("valgrind is installed");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    let collected = said.lines().find_map(|text| text.split("Collected :").nth(1));
    collected.and_then(|number| number.trim().parse().ok()).unwrap_or_else(|| panic!("{said}"))
}

/// What is counted. One thread: callgrind counts the thread that comes here.
#[inline(never)]
fn counted_stretch(run: &mut dyn FnMut()) {
    run();
}

fn count(line: &str) {
    let loaded = Loaded::demo().unwrap();
    let prepared = loaded.prepare().unwrap();
    let road = prepared.read(&prepared.road(), &cycles::LoadOptions::default()).unwrap();
    let trace = trace(&road.schedule).unwrap();
    let one = ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    // Once without being counted, so that what is worked out once for all is not.
    let twice = |run: &mut (dyn FnMut() + Send)| {
        one.install(|| {
            run();
            counted_stretch(&mut || run());
        });
    };
    match line {
        "prepare" => {
            let heavier = [Override::number("donor.kerb_mass_kg", 700.0).unwrap()];
            twice(&mut || drop(black_box(loaded.with(&heavier).unwrap())));
        }
        "draw" => {
            let uncertain = Uncertain::new(&loaded, &[], true).unwrap();
            let shares = hypercube::samples(1, uncertain.inputs.len(), 1);
            let shares: Vec<f64> = shares.iter().map(|input| input[0]).collect();
            twice(&mut || drop(black_box(uncertain.draw(&shares))));
        }
        run => {
            let suite = Suite::new(&[Run::named(run).unwrap()], "", trace);
            twice(&mut || drop(black_box(suite.figures(&prepared).unwrap())));
        }
    }
}
