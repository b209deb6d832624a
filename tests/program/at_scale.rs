//! Sweeps of many combinations: stopped at any moment, spread over machines, and joined again. What a
//! single run that nobody disturbs writes is the measure of all of it.

use crate::program::{folder, refused, shakedown, text};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::thread;
use std::time::{Duration, Instant};

/// The program.
const PROGRAM: &str = env!("CARGO_BIN_EXE_shakedown");

/// Some combinations, of which each takes next to no time; those with no weight are refused.
const QUICK: [&str; 6] =
    ["--vary", "pack.parallel=1..3:1", "--vary", "motor.mass_kg=0..60:5", "--run", "standing"];

/// The forms that stream, by the ends of their names.
const FORMS: [&str; 3] = ["csv", "jsonl", "parquet"];

fn arg(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The names in a folder.
fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// The sweep into a file, with more options.
fn sweep<'a>(vary: &[&'a str], out: &'a Path, more: &[&'a str]) -> Vec<&'a str> {
    [&["sweep"], vary, &["--out", arg(out)], more].concat()
}

/// What a single run writes that nobody disturbs.
fn undisturbed(folder: &Path, vary: &[&str], form: &str) -> Vec<u8> {
    let out = folder.join(format!("undisturbed.{form}"));
    text(&sweep(vary, &out, &[]));
    let content = fs::read(&out).unwrap();
    fs::remove_file(&out).unwrap();
    assert_eq!(names(folder), Vec::<String>::new());
    content
}

/// The next of some numbers that look random (SplitMix64).
fn random(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let z = (*state ^ (*state >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A hundred kills in all phases of a sweep: whatever they leave, the file is there whole or not at
/// all, and the same command ends with what it would have written undisturbed.
#[test]
fn a_hundred_kills_lose_double_and_tear_no_row() {
    let folder = folder("kills");
    let vary = [
        "--vary",
        "motor.mass_kg=40..79.9:0.1",
        "--vary",
        "pack.parallel=1..50:1",
        "--figures",
        "running_kg,usable_kwh",
    ];
    let begun = Instant::now();
    let expected = FORMS.map(|form| undisturbed(&folder, &vary, form));
    let each_us = begun.elapsed().as_micros() as u64 / FORMS.len() as u64;
    let rows = String::from_utf8_lossy(&expected[0]).lines().count();
    assert_eq!(rows, 20_001);
    let (mut state, mut kills, mut finished, mut went_on) = (11, 0, 0, 0);
    let mut form = 0;
    while kills < 100 || form != 0 {
        let out = folder.join(format!("rows.{}", FORMS[form]));
        let mut child = Command::new(PROGRAM)
            .args(sweep(&vary, &out, &[]))
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // What follows the last kill is left in peace.
        if kills < 100 {
            thread::sleep(Duration::from_micros(random(&mut state) % (each_us * 2 / 3)));
            kills += u64::from(child.try_wait().unwrap().is_none());
            child.kill().unwrap();
        }
        let Output { status, stderr, .. } = child.wait_with_output().unwrap();
        let said = String::from_utf8(stderr).unwrap();
        assert!(
            said.is_empty() || said.starts_with("note: ") && said.lines().count() == 1,
            "{said}"
        );
        went_on += u64::from(said.contains("rows already"));
        if status.success() {
            finished += 1;
            assert!(fs::read(&out).unwrap() == expected[form], "{}", FORMS[form]);
            fs::remove_file(&out).unwrap();
            assert_eq!(names(&folder), Vec::<String>::new());
            form = (form + 1) % FORMS.len();
        } else if out.exists() {
            assert!(fs::read(&out).unwrap() == expected[form], "{}", FORMS[form]);
        }
    }
    assert!(finished >= 3 && went_on > 20, "{finished} finished, {went_on} went on");
}

/// A limit of the size of files stands for a full disk: both refuse a write in the middle.
#[test]
fn a_full_disk_keeps_what_is_done() {
    let folder = folder("full disk");
    let vary = ["--vary", "motor.mass_kg=40..59.9:0.1", "--vary", "pack.parallel=1..20:1"];
    let vary = [&vary[..], &["--figures", "running_kg,usable_kwh"]].concat();
    let expected = FORMS.map(|form| undisturbed(&folder, &vary, form));
    for (form, expected) in FORMS.iter().zip(expected) {
        let out = folder.join(format!("rows.{form}"));
        let quoted: Vec<String> =
            sweep(&vary, &out, &[]).iter().map(|word| format!("'{word}'")).collect();
        let mut before = 0;
        for blocks in [64, 128] {
            let line = format!("ulimit -f {blocks}; exec \"$0\" {}", quoted.join(" "));
            let output = Command::new("sh").args(["-c", &line, PROGRAM]).output().unwrap();
            let said = String::from_utf8(output.stderr).unwrap();
            assert_eq!(output.status.code(), Some(2), "{said}");
            let complaint = said.lines().last().unwrap();
            assert!(complaint.starts_with("error: ") && complaint.contains("too large"), "{said}");
            assert!(complaint.ends_with("and the same command goes on with it"), "{said}");
            assert_eq!(said.contains("rows already"), before > 0, "{said}");
            let part = fs::metadata(folder.join(format!("rows.{form}.part"))).unwrap();
            assert!(part.len() > before);
            before = part.len();
        }
        assert!(shakedown(&sweep(&vary, &out, &[])).status.success());
        assert!(fs::read(&out).unwrap() == expected, "{form}");
        fs::remove_file(&out).unwrap();
    }
    assert_eq!(names(&folder), Vec::<String>::new());
}

#[test]
fn shards_joined_are_the_single_run() {
    let folder = folder("shards");
    let all = FORMS.map(|form| undisturbed(&folder, &QUICK, form));
    for (form, expected) in FORMS.iter().zip(all) {
        let out = folder.join(format!("rows.{form}"));
        // More shards than combinations, and one.
        for count in [1, 2, 7, 50] {
            let shards: Vec<String> = (1..=count).map(|k| format!("{k}/{count}")).collect();
            for shard in shards.iter().rev() {
                let said = text(&sweep(&QUICK, &out, &["--shard", shard]));
                assert!(said.starts_with(&format!("shard {shard}: ")), "{said}");
                assert!(!out.exists());
            }
            // A shard that is done is not done again.
            let again = shakedown(&sweep(&QUICK, &out, &["--shard", &shards[0]]));
            let said = String::from_utf8(again.stderr).unwrap();
            assert_eq!(said.contains("rows already"), count < 50, "{said}");
            let sorted = ["--merge", "--sort", "running_kg", "--top", "2"];
            let said = text(&sweep(&QUICK, &out, &sorted));
            let sorted = text(&[&["sweep"][..], &QUICK, &sorted[1..]].concat());
            assert_eq!(said, format!("39 combinations, written to {}\n{sorted}", out.display()));
            assert!(fs::read(&out).unwrap() == expected, "{form} {count}");
            for name in names(&folder) {
                fs::remove_file(folder.join(name)).unwrap();
            }
        }
    }
}

#[test]
fn what_does_not_belong_together_is_refused_and_what_is_missing_named() {
    let folder = folder("parts");
    let out = folder.join("rows.csv");
    let merge = sweep(&QUICK, &out, &["--merge"]);
    refused(&merge, &["rows.csv: no part of a shard stands beside it"]);
    let shard = |of: &str| text(&sweep(&QUICK, &out, &["--shard", of]));
    let part = |of: &str| folder.join(format!("rows.csv.{of}.part"));
    for number in [1, 4, 9] {
        shard(&format!("{number}/10"));
    }
    refused(&merge, &["of its 10 shards missing: 2, 3, 5 to 8, 10\n"]);
    for number in [2, 3, 5, 6, 7, 8, 10] {
        shard(&format!("{number}/10"));
    }
    // One that was stopped, in the middle of a row.
    let whole = fs::read(part("4-of-10")).unwrap();
    fs::write(part("4-of-10"), &whole[..whole.len() - 5]).unwrap();
    refused(&merge, &["of its 10 shards not done: 4 has 3 of 4 rows"]);
    fs::write(part("4-of-10"), &whole).unwrap();
    // The same one twice, under the name of another.
    let other = fs::read(part("5-of-10")).unwrap();
    fs::write(part("5-of-10"), &whole).unwrap();
    refused(&merge, &["rows.csv.5-of-10.part: holds shard 4/10 and not 5/10"]);
    refused(&sweep(&QUICK, &out, &["--shard", "5/10"]), &["holds shard 4/10 and not 5/10"]);
    fs::write(part("5-of-10"), &other).unwrap();
    fs::write(part("1-of-3"), &whole).unwrap();
    refused(&merge, &["parts of 3 and of 10 shards stand beside it"]);
    fs::remove_file(part("1-of-3")).unwrap();
    // Those of another command.
    let less = ["--vary", "pack.parallel=1..3:1", "--run", "standing"];
    let changed =
        "-of-10.part: holds rows from before the command changed; remove it to begin anew";
    refused(&sweep(&less, &out, &["--merge"]), &[changed]);
    refused(&sweep(&less, &out, &["--shard", "3/10"]), &[changed]);
    text(&merge);

    let no_shard = |shard: &str, words: &str| {
        refused(&sweep(&QUICK, &out, &["--shard", shard]), &["--shard", words]);
    };
    no_shard("0/16", "there is no shard 0 of 16");
    no_shard("17/16", "there is no shard 17 of 16");
    no_shard("3", "allowed: K/N");
    no_shard("1/1000000", "1000000 shards; allowed: 1 to 100000");
    no_shard("array", "no task of an array");
    let table = sweep(&QUICK, &out, &["--as", "table", "--shard", "1/2"]);
    refused(&table, &["need --out with a file"]);
    let nowhere = Path::new("/dev/null");
    for more in [&["--merge"][..], &["--shard", "1/2"], &["--as", "parquet"]] {
        refused(&sweep(&QUICK, nowhere, &[&["--as", "csv"][..], more].concat()[..]), &["error: "]);
    }
}

/// What the environment says counts only where it is asked for.
#[test]
fn tasks_of_an_array_take_their_shards() {
    let folder = folder("array");
    let out = folder.join("rows.csv");
    let told = |shard: &[&str], told: &[(&str, &str)]| {
        let mut command = Command::new(PROGRAM);
        command.args(sweep(&QUICK, &out, shard)).envs(told.iter().copied());
        let output = command.output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    let slurm = [
        ("SLURM_ARRAY_TASK_ID", "8"),
        ("SLURM_ARRAY_TASK_COUNT", "4"),
        ("SLURM_ARRAY_TASK_MIN", "5"),
    ];
    assert!(told(&["--shard", "array"], &slurm).starts_with("shard 4/4"));
    let pod = [("JOB_COMPLETION_INDEX", "0")];
    assert!(told(&["--shard", "array/4"], &pod).starts_with("shard 1/4"));
    assert!(told(&[], &slurm).starts_with("39 combinations"));
    assert_eq!(names(&folder), ["rows.csv", "rows.csv.1-of-4.part", "rows.csv.4-of-4.part"]);
}

/// Rows of what was is not mixed with rows of what is.
#[test]
fn a_changed_input_is_told_by_name() {
    let folder = folder("changed");
    let builds = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/builds");
    let (build, motor) = (folder.join("hatch.json"), folder.join("motor.json"));
    fs::copy(builds.join("hatch.json"), &build).unwrap();
    fs::copy(builds.join("my-motor.json"), &motor).unwrap();
    let road = folder.join("road.csv");
    fs::copy(builds.join("lake-road.csv"), &road).unwrap();
    let out = folder.join("rows.csv");
    let vary = format!("motor=shelf:induction-air-small,{}", arg(&motor));
    let vary = [arg(&build), "--vary", &vary, "--figures", "wh_per_km", "--cycle", arg(&road)];
    let shard = sweep(&vary, &out, &["--shard", "1/1"]);
    text(&shard);
    let done = fs::read(folder.join("rows.csv.1-of-1.part")).unwrap();
    for file in [&build, &motor, &road] {
        let before = fs::read_to_string(file).unwrap();
        fs::write(file, format!("{before}\n")).unwrap();
        let named = format!("from before {} changed; remove it to begin anew", arg(file));
        refused(&shard, &[&named]);
        fs::write(file, before).unwrap();
    }
    assert!(shakedown(&shard).status.success());
    assert_eq!(fs::read(folder.join("rows.csv.1-of-1.part")).unwrap(), done);
    // What a sweep would write over is one of its inputs.
    refused(&sweep(&vary, &motor, &["--as", "csv"]), &["is read by the same run"]);
}

/// Two runs into the same file do not get into each other's way.
#[test]
fn a_part_is_written_by_one_run() {
    let folder = folder("two runs");
    let out = folder.join("rows.csv");
    let hours = ["--vary", "motor.mass_kg=20..119:0.001", "--run", "standing"];
    let mut child = Command::new(PROGRAM)
        .args(sweep(&hours, &out, &["--vary", "pack.parallel=1..50:1"]))
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let part = folder.join("rows.csv.part");
    let begun = Instant::now();
    while !part.exists() && begun.elapsed() < Duration::from_secs(60) {
        thread::sleep(Duration::from_millis(5));
    }
    let same = sweep(&hours, &out, &["--vary", "pack.parallel=1..50:1"]);
    refused(&same, &["rows.csv.part: is being written by another run"]);
    child.kill().unwrap();
    child.wait().unwrap();
    fs::write(&part, "my notes\n").unwrap();
    refused(&same, &["rows.csv.part: is there already and is not what a stopped run leaves"]);
    assert_eq!(fs::read_to_string(&part).unwrap(), "my notes\n");
}

/// Beside a file of all rows stands what a table of the same sweep has first.
#[test]
fn the_best_are_shown_beside_a_file_of_all() {
    let folder = folder("best");
    let out = folder.join("rows.csv");
    let plain = text(&[&["sweep"][..], &QUICK, &["--as", "csv"]].concat());
    for more in [
        &["--sort", "running_kg", "--top", "5"][..],
        &["--sort=-usable_kwh", "--top", "5", "--figures", "running_kg"],
        &["--top", "5"],
    ] {
        let table = text(&[&["sweep"][..], &QUICK, more].concat());
        let beside = text(&sweep(&QUICK, &out, &[more, &["--as", "csv"]].concat()));
        let written = format!("39 combinations, written to {}\n", out.display());
        assert_eq!(beside, written + &table);
        // A file has all figures where none are named.
        if !more.contains(&"--figures") {
            assert_eq!(fs::read_to_string(&out).unwrap(), plain);
        }
    }
    let lines = shakedown(&sweep(&QUICK, &out, &["--json", "--sort", "running_kg", "--top", "3"]));
    assert!(lines.status.success());
    let best: Vec<Value> = String::from_utf8(lines.stdout)
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert_eq!(best.len(), 3);
    assert_eq!(fs::read_to_string(&out).unwrap(), plain);
}

/// A file of Parquet that a sweep wrote is replaced by another, that of somebody else is not.
#[test]
fn parquet_of_others_is_not_overwritten() {
    let folder = folder("others");
    let out = folder.join("rows.parquet");
    for _ in 0..2 {
        text(&sweep(&QUICK, &out, &[]));
    }
    let mut content = fs::read(&out).unwrap();
    assert!(content.starts_with(b"PAR1") && content.ends_with(b"PAR1"));
    let mark = b"shakedown.rows";
    let at = content.windows(mark.len()).position(|bytes| bytes == mark).unwrap();
    content[at] = b'x';
    fs::write(&out, &content).unwrap();
    refused(&sweep(&QUICK, &out, &[]), &["is there already and is not what a sweep writes"]);
    let long = ["--vary", "motor.mass_kg=40..79.9:0.01", "--vary", "pack.parallel=1..30:1"];
    let out: PathBuf = folder.join("long.parquet");
    let long = [&long[..], &["--figures", "running_kg"]].concat();
    text(&sweep(&long, &out, &[]));
    assert!(fs::metadata(&out).unwrap().len() > 1_000_000);
    text(&sweep(&QUICK, &out, &[]));
}

/// Parquet as two readers that others made see it: `tests/outside_readers/check.sh`, which says so
/// where there is no Python or no registry to have them from.
#[test]
fn outside_readers_find_the_values_of_the_csv() {
    let folder = folder("readers");
    let odd = "build.name=Größe 10 %,say \"so\",plain";
    let vary = [
        "--vary",
        odd,
        "--vary",
        "motor.mass_kg=40,0,52.5",
        "--vary",
        "pack.parallel=1..3:1",
        "--vary",
        "gearbox.final_drive=4,5",
        "--cycle",
        "wltc",
        "--run",
        "drive,pull",
    ];
    for form in ["csv", "parquet"] {
        text(&sweep(&vary, &folder.join(format!("rows.{form}")), &[]));
    }
    let check = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside_readers/check.sh");
    let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join("outside readers venv");
    let output = Command::new("bash").arg(check).arg(kept).arg(&folder).output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout) + String::from_utf8_lossy(&output.stderr);
    println!("{said}");
    assert!(matches!(output.status.code(), Some(0 | 77)), "{said}");
}
