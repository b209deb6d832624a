//! `new` with options and in a terminal.

use crate::program::{folder, json, refused, shakedown, text};
use serde_json::Value;
use std::fs;
use std::path::Path;

fn arg(path: &Path) -> &str {
    path.to_str().unwrap()
}

fn files(folder: &Path) -> Vec<String> {
    let names = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name());
    let mut names: Vec<String> = names.map(|name| name.into_string().unwrap()).collect();
    names.sort();
    names
}

/// Light cars of every class with the parts that `new` gives them weigh no more than they may, pull
/// away on 12 %, run 50 to 200 km from a pack of 10 kWh and reach 80 to 130 km/h: what converted light
/// cars of such packs do (common practice, no source).
#[test]
fn a_build_of_each_class_is_a_car_and_says_what_is_assumed() {
    let folder = folder("begun");
    for class in ["hatchback", "roadster", "coupe", "estate", "pickup"] {
        let file = folder.join(format!("{class}.json"));
        text(&["new", arg(&file), "--class", class, "--kerb-mass-kg", "777"]);
        let sheet = json(&["sheet", arg(&file)]);
        let verdicts = sheet["verdicts"].as_array().unwrap();
        assert!(verdicts.iter().all(|v| v["standing"] == "holds"), "{class}: {verdicts:?}");
        let range = sheet["commute"]["range"]["distance_km"].as_f64().unwrap();
        let top = sheet["pull"]["through"]["top_speed_kmh"].as_f64().unwrap();
        assert!((50.0..200.0).contains(&range) && (80.0..130.0).contains(&top), "{range} {top}");
        let checked = json(&["check", arg(&file)]);
        let assumed: Vec<&str> = checked["assumptions"]
            .as_array()
            .unwrap()
            .iter()
            .map(|assumption| assumption["path"].as_str().unwrap())
            .collect();
        for path in ["build.donor.wheelbase_m", "build.motor", "build.removed", "build.load"] {
            assert!(assumed.contains(&path), "{class}: {path}");
        }
        assert!(!assumed.contains(&"build.donor.kerb_mass_kg"), "what was stated is not assumed");
    }
    // One schema serves all builds of a folder.
    assert_eq!(files(&folder).len(), 6);
}

#[test]
fn every_answer_is_put_in_and_nonsense_is_refused() {
    let folder = folder("begun-of-all");
    let file = folder.join("car.json");
    let file = arg(&file);
    let all = [
        "--class=estate",
        "--kerb-mass-kg=905",
        "--gross-mass-kg=1300",
        "--tyre=155R13",
        "--final-drive=4.1",
        "--motor=induction-air-large",
        "--cell=iron-phosphate-100ah",
        "--series=45",
        "--parallel=2",
        "--load-kg=150",
    ];
    for wrong in
        ["--kerb-mass-kg=9", "--series=45.5", "--tyre=round", "--motor=none", "--final-drive=4,1"]
    {
        refused(&["new", file, wrong], &[wrong.split('=').next().unwrap(), "allowed: "]);
        assert!(files(&folder).is_empty(), "{wrong} left a file");
    }
    refused(&["new", file, "--kerb-mass-kg", "740,5"], &["decimals are set off by a point"]);
    refused(&["new", file, "--load-kg", "-5"], &["--load-kg is", "allowed: 0 to 1000 kg"]);
    let lost = folder.join("nowhere").join("car.json");
    refused(&["new", arg(&lost)], &["there is no folder"]);
    refused(&["new", arg(&folder.join("car.txt"))], &["ends in .json"]);
    assert!(files(&folder).is_empty());
    text(&[&["new", file], &all[..]].concat());
    let build: Value = serde_json::from_str(&fs::read_to_string(file).unwrap()).unwrap();
    assert_eq!(build["donor"]["kerb_mass_kg"], 905);
    assert_eq!(build["gearbox"]["final_drive"], 4.1);
    assert_eq!(build["pack"]["series"], 45);
    assert_eq!(build["controller"], "shelf:mid-voltage-600a");
    let assumed = build["assumed"].as_array().unwrap();
    assert!(assumed.iter().all(|path| path != "motor" && path != "pack.series"));
    let before = fs::read(file).unwrap();
    refused(&["new", file], &[file, "is there already"]);
    assert_eq!(fs::read(file).unwrap(), before);
    assert_eq!(shakedown(&["sheet", file]).status.code(), Some(0));
}

/// The program on a terminal of its own, with what a person types, and what is seen.
#[cfg(target_os = "linux")]
fn typed(args: &[&str], keys: &[u8]) -> (Option<i32>, String) {
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use std::io::{Read, Write};
    use std::process::Command;
    let ours = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    grantpt(&ours).unwrap();
    unlockpt(&ours).unwrap();
    let theirs = ptsname(&ours, Vec::new()).unwrap().into_string().unwrap();
    let open = || fs::File::options().read(true).write(true).open(&theirs).unwrap();
    let mut command = Command::new("setsid");
    // With a terminal that it controls, Ctrl-C is a signal.
    command.args(["--ctty", "--wait", env!("CARGO_BIN_EXE_shakedown")]).args(args);
    command.stdin(open()).stdout(open()).stderr(open());
    let mut child = command.spawn().unwrap();
    drop(command);
    let mut terminal = fs::File::from(ours);
    let mut seen = Vec::new();
    for key in keys.split_inclusive(|key| matches!(key, b'\n' | 3 | 4)) {
        // A person types when a question is there.
        let mut some = [0; 4096];
        while !seen.ends_with(b"]: ") {
            match terminal.read(&mut some) {
                Ok(read) if read > 0 => seen.extend(&some[..read]),
                _ => break,
            }
        }
        seen.push(b' ');
        if terminal.write_all(key).is_err() {
            break;
        }
    }
    let _ = terminal.read_to_end(&mut seen);
    (child.wait().unwrap().code(), String::from_utf8_lossy(&seen).into_owned())
}

#[cfg(target_os = "linux")]
#[test]
fn a_terminal_is_asked_ten_questions_and_asks_again() {
    let folder = folder("begun-by-hand");
    let file = folder.join("car.json");
    let answers = b"tank\nestate\n9\n905 kg\n\n4,1\n4.1\n330 lb\n\n\n\n45\n2\n";
    let (code, seen) = typed(&["new", arg(&file)], answers);
    assert_eq!(code, Some(0), "{seen}");
    assert_eq!(seen.matches("]: ").count(), 10 + 3, "{seen}");
    assert!(seen.contains("tank cannot be that. Allowed: hatchback, roadster"), "{seen}");
    assert!(seen.contains("9 cannot be that. Allowed: 400 to 2500 kg, or in lb."), "{seen}");
    assert!(seen.contains("4,1 has a comma where a point goes."), "{seen}");
    let build: Value = serde_json::from_str(&fs::read_to_string(&file).unwrap()).unwrap();
    assert_eq!(build["donor"]["kerb_mass_kg"], 905);
    assert_eq!(build["gearbox"]["final_drive"], 4.1);
    // 330 lb are 149.7 kg (NIST Special Publication 811), and items are in whole kilograms.
    assert_eq!(build["load"][0]["mass_kg"], 150);
    assert_eq!((&build["pack"]["series"], &build["pack"]["parallel"]), (&45.into(), &2.into()));
}

/// Ctrl-D ends the questions, Ctrl-C the program; neither leaves a file.
#[cfg(target_os = "linux")]
#[test]
fn whoever_gives_up_leaves_nothing_behind() {
    let folder = folder("begun-and-left");
    let file = folder.join("car.json");
    let (code, seen) = typed(&["new", arg(&file)], b"estate\n905\n\x04");
    assert_eq!(code, Some(2), "{seen}");
    assert!(seen.contains("nothing was written"), "{seen}");
    assert!(files(&folder).is_empty());
    let (code, seen) = typed(&["new", arg(&file)], b"estate\n\x03");
    assert_ne!(code, Some(0), "{seen}");
    assert!(files(&folder).is_empty(), "{seen}");
}
