//! The program itself with random options and odd quantities: an exit code of its own, and one
//! sentence where it refuses.

#![no_main]

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use std::process::Command;

const COMMANDS: [&str; 23] = [
    "sheet",
    "pull",
    "climb",
    "drive",
    "charge",
    "cost",
    "descent",
    "endurance",
    "day",
    "season",
    "regen",
    "settings",
    "readings",
    "sweep",
    "compare",
    "size",
    "check",
    "schema",
    "cycles",
    "figures",
    "measure coastdown",
    "measure drive",
    "measure part",
];
const OPTIONS: [&str; 51] = [
    "--grade",
    "--speed",
    "--for",
    "--pass",
    "--json",
    "--units",
    "--cycle",
    "--set",
    "--vary",
    "--variant",
    "--goal",
    "--where",
    "--run",
    "--figures",
    "--sort",
    "--top",
    "--from",
    "--to",
    "--gear",
    "--speeds",
    "--grades",
    "--volts",
    "--amps",
    "--circuit",
    "--socket",
    "--after",
    "--night",
    "--energy-price",
    "--fuel-price",
    "--donor",
    "--parts",
    "--currency",
    "--lift-off",
    "--brake",
    "--at",
    "--coldest",
    "--worn",
    "--cold",
    "--against",
    "--field",
    "--between",
    "--recording",
    "--aux-column",
    "--distances",
    "--measured",
    "--build",
    "--column",
    "--rate-hz",
    "--mass-kg",
    "--back",
    "--fit",
];
const WORDS: [&str; 37] = [
    "0",
    "-1",
    "1e308",
    "-40..60:2",
    "0.07",
    "6%",
    "1/12",
    "80km/h",
    "50mph",
    "10km",
    "6mi",
    "8min",
    "inf",
    "nan",
    "",
    "us",
    "metric",
    "wltc-low",
    "motor.mass_kg=60",
    "motor.mass_kg=40..60:10",
    "pack.series=30..40:5",
    "range_km>=50",
    "range_km",
    "pull,climb",
    "240v-20a",
    "120v",
    "1.70/l",
    "31mpg",
    "7.5l/100km",
    "80%",
    "3h",
    "4..40",
    "wltc",
    "build.motor=shelf:series-dc-large",
    "speed_kmh=v",
    "pack",
    "../docs/builds/coast.csv",
];
/// Commands that drive many cars are kept short by a timeout of the system's own.
const LONGEST_S: &str = "60";

fn arguments(u: &mut Unstructured<'_>) -> Result<Vec<String>> {
    let mut found: Vec<String> = u.choose(&COMMANDS)?.split(' ').map(str::to_owned).collect();
    // A command of files has them first. What is learnt of the demo, which is no file, is not written.
    if found.len() > 1 {
        found.push(
            (*u.choose(&["none.csv", "../docs/builds/coast.csv", "pack", "motor"])?).to_owned(),
        );
    }
    for _ in 0..u.int_in_range(0..=4)? {
        let option = *u.choose(&OPTIONS)?;
        let word = if u.ratio(1, 4)? {
            let bytes: Vec<u8> = (0..u.int_in_range(1..=8)?)
                .map(|_| u.int_in_range(1..=255))
                .collect::<Result<_>>()?;
            String::from_utf8_lossy(&bytes).into_owned()
        } else {
            let word = *u.choose(&WORDS)?;
            let unit = if u.ratio(1, 6)? {
                *u.choose(&["%", "km", "mph", "h", "=", "..", "-"])?
            } else {
                ""
            };
            format!("{word}{unit}")
        };
        if u.ratio(1, 8)? {
            found.push(option.to_owned());
        } else {
            found.push(format!("{option}={word}"));
        }
    }
    Ok(found)
}

fuzz_target!(|data: &[u8]| {
    let Ok(arguments) = arguments(&mut Unstructured::new(data)) else { return };
    let program = std::env::var("SHAKEDOWN").expect("SHAKEDOWN names the program");
    let output =
        Command::new("timeout").args([LONGEST_S, &program]).args(&arguments).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    let code = output.status.code();
    assert!(matches!(code, Some(0..=2)), "{arguments:?}: {code:?}: {said}");
    assert!(!said.contains("panicked"), "{arguments:?}: {said}");
    if code == Some(2) {
        assert_eq!(said.lines().count(), 1, "{arguments:?}: {said}");
        assert!(!said.trim_end().contains(char::is_control), "{arguments:?}: {said:?}");
    }
});
