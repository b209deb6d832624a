//! What is written, and what is shown, under abuse: files that are no files, disks that are full,
//! signals, closed streams, names that would steer a terminal. Rules of the system are those of
//! POSIX.1-2017; what a terminal obeys is in ECMA-48, marks of direction are in Unicode's annex 9.

use crate::commands::example;
use crate::program::{folder, json, refused, shakedown, text};
use serde_json::{Value, json};
use shakedown::COMMANDS;
use std::fs::{self, File};
use std::io::{BufRead, BufReader, Read};
use std::os::unix::fs::{FileTypeExt, MetadataExt, PermissionsExt, chown, symlink};
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::thread;
use std::time::{Duration, Instant};

/// The program.
const PROGRAM: &str = env!("CARGO_BIN_EXE_shakedown");

/// What has a sweep drive for hours.
const HOURS: [&str; 4] =
    ["--vary", "motor.mass_kg=20..119:0.01", "--vary", "conditions.air_c=0..30:0.1"];

/// A path as an argument.
fn arg(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// Writes the series of a drive.
fn series(file: &Path) {
    text(&["drive", "--cycle", "udds", "--series", arg(file)]);
}

/// What the series of that drive holds.
fn whole_series(folder: &Path) -> Vec<u8> {
    let plain = folder.join("plain.csv");
    series(&plain);
    let whole = fs::read(&plain).unwrap();
    fs::remove_file(&plain).unwrap();
    assert!(whole.len() > 100_000);
    whole
}

/// All paths below a folder, seen from it.
fn names(folder: &Path) -> Vec<String> {
    fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
        for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
            found.push(entry.path());
            if entry.file_type().unwrap().is_dir() {
                walk(&entry.path(), found);
            }
        }
    }
    let mut found = Vec::new();
    walk(folder, &mut found);
    let seen = |path: &PathBuf| arg(path.strip_prefix(folder).unwrap()).to_owned();
    let mut names: Vec<String> = found.iter().map(seen).collect();
    names.sort();
    names
}

/// What a shell makes of a line in which `$0` is the program.
fn shell(line: &str) -> Output {
    Command::new("sh").args(["-c", line, PROGRAM]).env_remove("COLUMNS").output().unwrap()
}

/// The complaint of a shell's line, which must be one sentence of the program's own.
fn complaint(line: &str) -> String {
    let output = shell(line);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{line}: {said}");
    assert!(said.starts_with("error: ") && said.lines().count() == 1, "{line}: {said}");
    said
}

fn is_root(folder: &Path) -> bool {
    fs::metadata(folder).unwrap().uid() == 0
}

#[test]
fn devices_and_pipes_are_written_through() {
    let folder = folder("through");
    let whole = whole_series(&folder);
    series(Path::new("/dev/null"));
    assert!(fs::metadata("/dev/null").unwrap().file_type().is_char_device());
    let said = complaint("exec \"$0\" drive --cycle udds --series /dev/full");
    assert!(said.contains("/dev/full: No space left"), "{said}");
    assert!(fs::metadata("/dev/full").unwrap().file_type().is_char_device());

    let pipe = folder.join("pipe");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let reading = pipe.clone();
    let reader = thread::spawn(move || fs::read(reading).unwrap());
    series(&pipe);
    assert_eq!(reader.join().unwrap(), whole);
    // Whoever reads a pipe may stop when they have seen enough.
    let reading = pipe.clone();
    let reader = thread::spawn(move || {
        let mut line = String::new();
        BufReader::with_capacity(64, File::open(reading).unwrap()).read_line(&mut line).unwrap();
        line
    });
    series(&pipe);
    assert!(reader.join().unwrap().starts_with("time_s,"));
    assert!(fs::symlink_metadata(&pipe).unwrap().file_type().is_fifo());

    let line = "exec \"$0\" sweep --vary pack.parallel=1,2 --run pull --as csv --out /dev/stdout";
    let piped = String::from_utf8(shell(line).stdout).unwrap();
    assert!(piped.starts_with("pack.parallel,") && piped.ends_with("written to /dev/stdout\n"));
    // The answer and the series would write over each other.
    let taken = folder.join("taken");
    let said = complaint(&format!(
        "exec \"$0\" drive --cycle udds --series /dev/stdout >'{}'",
        arg(&taken)
    ));
    assert!(said.contains("is where the program's own output goes"), "{said}");
    assert_eq!(names(&folder), ["pipe", "taken"]);
}

#[test]
fn symbolic_links_are_followed() {
    let folder = folder("links");
    let whole = whole_series(&folder);
    fs::create_dir(folder.join("inside")).unwrap();
    for (name, to) in [
        ("there", "inside/there.csv"),
        ("dangling", "inside/new.csv"),
        ("two", "dangling"),
        ("nowhere", "none/new.csv"),
        ("round", "round"),
    ] {
        symlink(to, folder.join(name)).unwrap();
    }
    fs::write(folder.join("inside/there.csv"), "").unwrap();
    for (name, real) in
        [("there", "inside/there.csv"), ("dangling", "inside/new.csv"), ("two", "inside/new.csv")]
    {
        series(&folder.join(name));
        assert!(fs::symlink_metadata(folder.join(name)).unwrap().is_symlink(), "{name}");
        assert_eq!(fs::read(folder.join(real)).unwrap(), whole, "{name}");
        fs::write(folder.join(real), "").unwrap();
    }
    let to = |name: &str| arg(&folder.join(name)).to_owned();
    refused(&["drive", "--series", &to("nowhere")], &["there is no folder", "none"]);
    refused(&["drive", "--series", &to("round")], &["round: "]);
    assert_eq!(names(&folder.join("inside")), ["new.csv", "there.csv"]);
}

#[test]
fn mode_owner_and_other_names_are_kept() {
    let folder = folder("kept");
    let whole = whole_series(&folder);
    let file = folder.join("file.csv");
    for mode in [0o600, 0o640, 0o666, 0o200 | 0o400 | 0o111] {
        fs::write(&file, "").unwrap();
        fs::set_permissions(&file, fs::Permissions::from_mode(mode)).unwrap();
        if is_root(&folder) {
            chown(&file, Some(12_345), Some(23_456)).unwrap();
            fs::set_permissions(&file, fs::Permissions::from_mode(mode)).unwrap();
        }
        let before = fs::metadata(&file).unwrap();
        series(&file);
        let after = fs::metadata(&file).unwrap();
        assert_eq!((after.mode(), after.uid()), (before.mode(), before.uid()));
        assert_eq!(after.gid(), before.gid());
        assert_eq!(fs::read(&file).unwrap(), whole);
        fs::remove_file(&file).unwrap();
    }
    // A new file is as any new file.
    series(&file);
    let plain = folder.join("plain");
    fs::write(&plain, "").unwrap();
    assert_eq!(fs::metadata(&file).unwrap().mode(), fs::metadata(&plain).unwrap().mode());

    let other = folder.join("other.csv");
    fs::hard_link(&file, &other).unwrap();
    for command in [&["pull"][..], &["drive", "--cycle", "udds"], &["climb", "--pass"]] {
        text(&[command, &["--series", arg(&other)]].concat());
        let (a, b) = (fs::metadata(&file).unwrap(), fs::metadata(&other).unwrap());
        assert_eq!((a.ino(), a.nlink()), (b.ino(), 2), "{command:?}");
        let alone = folder.join("alone.csv");
        text(&[command, &["--series", arg(&alone)]].concat());
        assert_eq!(fs::read(&file).unwrap(), fs::read(&alone).unwrap(), "{command:?}");
        fs::remove_file(&alone).unwrap();
    }
    assert_eq!(names(&folder), ["file.csv", "other.csv", "plain"]);
}

#[test]
fn what_cannot_be_written_is_said_before_anything_is_driven() {
    let folder = folder("unwritten");
    let to = |name: &str| arg(&folder.join(name)).to_owned();
    let guarded = folder.join("guarded.csv");
    series(&guarded);
    let before = fs::read(&guarded).unwrap();
    fs::set_permissions(&guarded, fs::Permissions::from_mode(0o444)).unwrap();
    fs::create_dir(folder.join("folder")).unwrap();
    // A sweep that would take hours, were it begun.
    let long = [&["sweep", "--as", "csv"][..], &HOURS, &["--out"]].concat();
    for (name, words) in [
        ("guarded.csv", "guarded.csv: is write-protected and is not overwritten"),
        ("folder", "is a folder"),
        ("folder/", "is not the name of a file"),
        ("new/", "is not the name of a file"),
        ("none/new.csv", "there is no folder"),
        ("guarded.csv/new.csv", "guarded.csv is no folder"),
        ("..", "is not the name of a file"),
        (&"n".repeat(256), "name too long"),
    ] {
        refused(&["drive", "--cycle", "udds", "--series", &to(name)], &[words]);
        refused(&[&long[..], &[&to(name)]].concat(), &[words]);
    }
    assert_eq!(fs::read(&guarded).unwrap(), before);
    let longest = "n".repeat(255);
    series(&folder.join(&longest));
    series(&folder.join(&longest));
    assert_eq!(names(&folder), ["folder", "guarded.csv", &longest]);
}

/// Every command with `--series`, and `sweep --out`.
#[test]
fn no_writer_overwrites_what_it_reads_or_what_is_of_another_kind() {
    let folder = folder("kinds");
    let to = |name: &str| arg(&folder.join(name)).to_owned();
    text(&["parts", "--write", &to("shelf")]);
    let build = folder.join("shelf/demo/hill-town.json");
    let road = folder.join("shelf/demo/hill-town.csv");
    let motor = folder.join("shelf/motors/induction-air-small.json");
    let trip = folder.join("trip.csv");
    let before = "time_s,speed_kmh\n0,0\n5,30\n60,30\n66,0\n";
    fs::write(&trip, before).unwrap();
    symlink("trip.csv", folder.join("soft.csv")).unwrap();
    fs::hard_link(&trip, folder.join("hard.csv")).unwrap();
    for out in [to("trip.csv"), to("shelf/../trip.csv"), to("soft.csv"), to("hard.csv")] {
        let writers: [&[&str]; 3] = [
            &["drive", "--series", &out],
            &["charge", "--series", &out],
            &["sweep", "--vary", "pack.parallel=1,2", "--out", &out],
        ];
        for writer in writers {
            refused(&[writer, &["--cycle", arg(&trip)]].concat(), &["is read by the same run"]);
        }
    }
    assert_eq!(fs::read_to_string(&trip).unwrap(), before);

    fs::write(folder.join("own.txt"), "my notes\n").unwrap();
    let inputs = [arg(&build).to_owned(), arg(&road).to_owned()];
    let others = [arg(&motor).to_owned(), to("own.txt"), to("trip.csv")];
    let set = format!("motor={}", arg(&motor));
    let writers: &[&[&str]] = &[
        &["drive", "--series"],
        &["climb", "--series"],
        &["climb", "--grade=-5%", "--series"],
        &["descent", "--series"],
        &["pull", "--series"],
        &["charge", "--series"],
        &["sweep", "--vary", "pack.parallel=1,2", "--out"],
    ];
    for writer in writers {
        for out in &inputs {
            let args = [&[writer[0], arg(&build)], &writer[1..], &[out]].concat();
            refused(&args, &["is read by the same run and is not overwritten"]);
        }
        for out in &others {
            refused(&[&writer[..], &[out]].concat(), &["is there already and is not"]);
        }
        let args =
            [&[writer[0], arg(&build), "--set", &set], &writer[1..], &[arg(&motor)]].concat();
        refused(&args, &["is read by the same run"]);
    }
    // One series is not another, a sweep in one form takes the place of the same in another.
    let driven = folder.join("driven.csv");
    series(&driven);
    refused(&["charge", "--series", arg(&driven)], &["is not a series of a charge"]);
    let rows = to("rows");
    let sweep = ["sweep", "--vary", "pack.parallel=1,2", "--run", "pull", "--out", &rows];
    for form in ["table", "csv", "lines", "csv", "table", "lines", "table"] {
        text(&[&sweep[..], &["--as", form]].concat());
    }
    refused(&["pull", "--series", &rows], &["is there already and is not a series of a drive"]);
    refused(&[&sweep[..6], &[arg(&driven)]].concat(), &["is not what a sweep writes"]);
    // An empty file is nobody's.
    fs::write(&rows, "").unwrap();
    text(&["pull", "--series", &rows]);
    let top: Vec<String> = names(&folder).into_iter().filter(|n| !n.contains('/')).collect();
    assert_eq!(top, ["driven.csv", "hard.csv", "own.txt", "rows", "shelf", "soft.csv", "trip.csv"]);
}

/// A limit of the size of files stands for a full disk: both refuse a write in the middle.
#[test]
fn a_full_disk_leaves_what_was_there() {
    let folder = folder("full");
    let (new, old, linked) = (folder.join("new"), folder.join("old"), folder.join("linked"));
    text(&["pull", "--series", arg(&old)]);
    text(&["pull", "--series", arg(&linked)]);
    fs::hard_link(&linked, folder.join("linked too")).unwrap();
    let short = fs::read(&old).unwrap();
    for file in [&new, &old, &linked] {
        let line = "ulimit -f 64; exec \"$0\" drive --cycle udds --series";
        let said = complaint(&format!("{line} '{}'", arg(file)));
        assert!(said.contains("File too large"), "{said}");
        let rows = "--vary motor.mass_kg=40..80:0.01 --run standing --as table --out";
        let said = complaint(&format!("ulimit -f 1; exec \"$0\" sweep {rows} '{}'", arg(&new)));
        assert!(said.contains("File too large"), "{said}");
    }
    assert!(short.len() < 32_768, "{}", short.len());
    assert_eq!((fs::read(&old).unwrap(), fs::read(&linked).unwrap()), (short.clone(), short));
    assert_eq!(names(&folder), ["linked", "linked too", "old"]);
    let said = complaint("exec \"$0\" sheet >/dev/full");
    assert!(said.contains("the output cannot be written"), "{said}");
}

#[test]
fn the_shelf_is_written_whole_or_not_at_all() {
    let folder = folder("whole shelf");
    let shelf = folder.join("a/shelf");
    let write = ["parts", "--write", arg(&shelf)];
    let said = complaint(&format!("ulimit -f 1; exec \"$0\" parts --write '{}'", arg(&shelf)));
    assert!(said.contains("File too large"), "{said}");
    assert_eq!(names(&folder), Vec::<String>::new());

    // A name that is taken, and a file where a folder should be.
    let last = shelf.join("demo/hill-town.csv");
    fs::create_dir_all(last.parent().unwrap()).unwrap();
    fs::write(&last, "mine").unwrap();
    let before = names(&folder);
    refused(&write, &["hill-town.csv: is there already", "nothing was written"]);
    assert_eq!(names(&folder), before);
    fs::remove_dir_all(&shelf).unwrap();
    fs::write(&shelf, "mine").unwrap();
    refused(&write, &["shelf"]);
    assert_eq!(names(&folder), ["a", "a/shelf"]);
    fs::remove_file(&shelf).unwrap();

    text(&write);
    let all = names(&folder);
    assert!(all.len() > 30 && !all.iter().any(|name| name.contains(".part")), "{all:?}");
    // What a run left that was killed between two names is no hindrance.
    fs::remove_file(&last).unwrap();
    text(&write);
    assert_eq!(names(&folder), all);
}

/// A run that writes for long, when its unfinished file is the only one there, and that file's name.
fn long_run(folder: &Path, left: &[String]) -> (Child, String) {
    let child = Command::new(PROGRAM)
        .arg("sweep")
        .args(HOURS)
        .args(["--run", "standing", "--top", "3", "--out", arg(&folder.join("table"))])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let begun = Instant::now();
    let mut own = String::new();
    while own.is_empty() && begun.elapsed() < Duration::from_secs(60) {
        match &names(folder)[..] {
            [name] if name.starts_with(PREFIX) && !left.contains(name) => own = name.clone(),
            _ => thread::sleep(Duration::from_millis(5)),
        }
    }
    (child, own)
}

/// How names of unfinished files begin.
const PREFIX: &str = ".shakedown-";

fn signal(child: &Child, name: &str) {
    let id = child.id().to_string();
    assert!(
        Command::new("sh")
            .args(["-c", "kill -s \"$0\" \"$1\"", name, &id])
            .status()
            .unwrap()
            .success()
    );
}

/// Signal numbers are those of POSIX.
#[test]
fn signals_leave_no_unfinished_file() {
    let folder = folder("signals");
    for (name, number) in [("INT", 2), ("TERM", 15)] {
        let (mut child, _) = long_run(&folder, &[]);
        signal(&child, name);
        assert_eq!(child.wait().unwrap().signal(), Some(number), "{name}");
        assert_eq!(names(&folder), Vec::<String>::new(), "{name}");
    }
    // The shelf is there whole, or not at all.
    let whole = folder.join("whole");
    text(&["parts", "--write", arg(&whole)]);
    let all = names(&folder).into_iter().filter(|name| name.contains('.')).count();
    fs::remove_dir_all(&whole).unwrap();
    for pause_ms in (0..60).step_by(4) {
        let shelf = folder.join("shelf");
        let child = Command::new(PROGRAM)
            .args(["parts", "--write", arg(&shelf)])
            .stdout(Stdio::null())
            .spawn();
        let mut child = child.unwrap();
        thread::sleep(Duration::from_millis(pause_ms));
        signal(&child, "INT");
        child.wait().unwrap();
        let files = names(&folder).into_iter().filter(|name| name.contains('.')).count();
        assert!(files == 0 && !shelf.exists() || files == all, "{files} files");
        let _ = fs::remove_dir_all(&shelf);
    }
}

#[test]
fn the_next_run_removes_what_a_killed_one_left_and_nothing_else() {
    let folder = folder("leftovers");
    let (mut killed, left) = long_run(&folder, &[]);
    signal(&killed, "KILL");
    killed.wait().unwrap();
    assert_eq!(names(&folder), [left.as_str()]);

    // The leftover goes when another run begins. That one's own is still written, and others only
    // look like one.
    let (mut alive, own) = long_run(&folder, &[left]);
    let like = |end: &str| format!("{PREFIX}{end}");
    let mut others = vec![
        like("notes.txt"),
        like("abcdefghijk.part"),
        like("abcdefghijklm.part"),
        like("abcdef-hijkl.part"),
        like("abcdefghijkl.par"),
        "shakedown-abcdefghijkl.part".to_owned(),
    ];
    others.iter().for_each(|name| fs::write(folder.join(name), "mine").unwrap());
    let linked = like("aaaaaaaaaaaa.part");
    symlink("elsewhere", folder.join(&linked)).unwrap();
    let inside = like("bbbbbbbbbbbb.part");
    fs::create_dir(folder.join(&inside)).unwrap();
    let pipe = like("cccccccccccc.part");
    assert!(Command::new("mkfifo").arg(folder.join(&pipe)).status().unwrap().success());
    let two_names = like("dddddddddddd.part");
    fs::write(folder.join(&two_names), "mine").unwrap();
    fs::hard_link(folder.join(&two_names), folder.join("mine")).unwrap();
    others.extend([linked, inside, pipe, two_names, "mine".to_owned(), own]);
    if is_root(&folder) {
        let of_another = like("eeeeeeeeeeee.part");
        fs::write(folder.join(&of_another), "theirs").unwrap();
        chown(folder.join(&of_another), Some(12_345), None).unwrap();
        others.push(of_another);
    }
    series(&folder.join("series.csv"));
    others.push("series.csv".to_owned());
    others.sort();
    assert_eq!(names(&folder), others);
    signal(&alive, "TERM");
    alive.wait().unwrap();
}

/// What moves a cursor, changes a colour, rings, begins a line, or turns the direction of writing,
/// beside letters that must stay: an escape sequence of ECMA-48 with ESC and with its one-byte CSI, DEL,
/// and the overrides, embeddings, isolates and marks of Unicode.
const HOSTILE: &str = "Gr\u{f6}\u{df}e\u{1b}[31m\u{1b}]0;t\u{7}\r\n\t\u{8}\u{7f}\u{85}\u{9b}2J\u{2028}\u{2029}\
                       \u{61c}\u{200e}\u{200f}\u{202a}\u{202b}\u{202c}\u{202d}\u{202e}\u{2066}\u{2067}\
                       \u{2068}\u{2069}<b>";

fn steers(c: char) -> bool {
    c != '\n'
        && (c.is_control() || HOSTILE.chars().filter(|c| *c as u32 >= 0x61c).any(|bad| bad == c))
}

/// Puts the parts of the shelf in place of their names, and a name of one's own wherever one may stand.
fn renamed(value: &mut Value, name: &str) {
    if let Some(part) = value.as_str().and_then(|text| text.strip_prefix("shelf:")) {
        *value = serde_json::from_str(&text(&["parts", part])).unwrap();
    }
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                match key.as_str() {
                    "name" | "item" | "note" | "currency" => *inner = name.into(),
                    _ => renamed(inner, name),
                }
            }
        }
        Value::Array(list) => list.iter_mut().for_each(|inner| renamed(inner, name)),
        _ => {}
    }
}

/// The demo with another name everywhere, in a file and over a road of that name.
fn demo_named(folder: &Path, name: &str) -> String {
    text(&["parts", "--write", arg(folder)]);
    let demo = fs::read_to_string(folder.join("demo/hill-town.json")).unwrap();
    let mut demo: Value = serde_json::from_str(&demo).unwrap();
    demo["money"] = json!({"energy_per_kwh": 0.2, "currency": ""});
    renamed(&mut demo, name);
    let seasons = demo["seasons"].as_array_mut().unwrap();
    for (i, season) in seasons.iter_mut().enumerate() {
        season["name"] = format!("{name}{i}").into();
    }
    let road = format!("{}.csv", name.replace('/', "\u{2215}"));
    fs::rename(folder.join("demo/hill-town.csv"), folder.join("demo").join(&road)).unwrap();
    demo["runs"]["commute"]["cycle"] = road.into();
    let file = folder.join(format!("demo/{}.json", name.replace('/', "\u{2215}")));
    fs::write(&file, demo.to_string()).unwrap();
    arg(&file).to_owned()
}

/// A recording in which a car coasts.
const RECORDING: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/demo/coast-down.csv");

/// Calls of every command that reads a car, on a file.
fn calls_on(file: &str) -> Vec<Vec<String>> {
    let of = |command: &shakedown::Known| {
        let mut words: Vec<String> = example(command).into_iter().map(str::to_owned).collect();
        if command.name == "measure part" {
            words = ["measure", "part", "motor", "--build", file].map(str::to_owned).to_vec();
        } else if command.name.starts_with("measure ") {
            // A recording stands where others have their car.
            words.extend([RECORDING, "--build", file].map(str::to_owned));
        } else {
            words.insert(1, file.to_owned());
        }
        words
    };
    let no_car = ["schema", "parts", "cycles", "figures"];
    let mut calls: Vec<_> =
        COMMANDS.iter().filter(|command| !no_car.contains(&command.name)).map(of).collect();
    for words in ["drive", "day", "season", "regen", "charge", "cost", "compare"] {
        calls.push(vec![words.to_owned(), file.to_owned()]);
    }
    calls
}

#[test]
fn no_text_of_a_file_steers_a_terminal() {
    let folder = folder("hostile");
    let file = demo_named(&folder, HOSTILE);
    let mut seen = 0;
    for call in calls_on(&file) {
        for form in [&[][..], &["--json"], &["--units", "us"]] {
            let args: Vec<&str> =
                call.iter().map(String::as_str).chain(form.iter().copied()).collect();
            let output = shakedown(&args);
            for said in [output.stdout, output.stderr] {
                let said = String::from_utf8(said).unwrap();
                let found = said.chars().find(|c| steers(*c));
                assert_eq!(found, None, "{args:?}: {said}");
                assert!(form == ["--json"] || !said.contains("\n\n\n"), "{args:?}: {said}");
                seen += usize::from(said.contains("Größe"));
            }
        }
    }
    assert!(seen > 40, "{seen}");
    // The value of JSON is the name itself.
    let check = json(&["check", &file]);
    assert_eq!((&check["name"], &check["file"]), (&HOSTILE.into(), &file.as_str().into()));
    let season = json(&["season", &file]);
    assert_eq!(season["seasons"][1]["name"], format!("{HOSTILE}1"));
    // Rows of a sweep, in all forms, and into a file.
    let vary = format!("build.name={HOSTILE},b");
    let out = folder.join("rows");
    for form in ["table", "csv", "lines"] {
        let sweep = ["sweep", "--vary", &vary, "--run", "pull", "--as", form];
        for output in [shakedown(&sweep), shakedown(&[&sweep[..], &["--out", arg(&out)]].concat())]
        {
            let said = [output.stdout, output.stderr].concat();
            let said =
                String::from_utf8(said).unwrap() + &fs::read_to_string(&out).unwrap_or_default();
            assert!(said.contains("Größe") && !said.contains(steers), "{form}: {said}");
        }
    }
    // Errors: of files, fields, values, options.
    let bad = folder.join(format!("{HOSTILE}.json"));
    fs::write(&bad, json!({"build": {HOSTILE: 1}}).to_string()).unwrap();
    let many: [&[&str]; 7] = [
        &["check", arg(&bad)],
        &["check", HOSTILE],
        &["drive", "--cycle", HOSTILE],
        &["check", "--set", HOSTILE],
        &["check", "--set", &format!("motor.name={{\"{HOSTILE}\": 1}}")],
        &[HOSTILE],
        &["drive", "--series", &format!("none/{HOSTILE}")],
    ];
    for args in many {
        let output = shakedown(args);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
        assert!(said.lines().count() == 1 && !said.contains(steers), "{args:?}: {said}");
    }
}

/// Names with quantities in them are names.
#[test]
fn names_keep_their_units() {
    let folder = folder("units");
    let name = "My 4321 km at 987 km/h, 1234 °C, 5678 kg";
    let file = demo_named(&folder, name);
    let mut seen = 0;
    for call in calls_on(&file) {
        let args: Vec<&str> = call.iter().map(String::as_str).chain(["--units", "us"]).collect();
        let output = shakedown(&args);
        let said = String::from_utf8([output.stdout, output.stderr].concat()).unwrap();
        // A sentence may break within the name.
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ").replace('\u{2215}', "/");
        for translated in ["2685", "613 mph", "2253", "12518"] {
            assert!(!said.contains(translated), "{args:?}: {said}");
        }
        seen += usize::from(said.contains(name));
    }
    assert!(seen > 15, "{seen}");
}

#[test]
fn closed_and_full_streams_are_no_panic() {
    for line in
        ["check nope.json 2>/dev/full", "check nope.json 2>&-", "fly 2>/dev/full", "fly 2>&-"]
    {
        let output = shell(&format!("exec \"$0\" {line}"));
        assert_eq!(output.status.code(), Some(2), "{line}");
    }
    let size = "size --find largest --field pack.parallel --between 1..2 --goal 'range_km>=9000'";
    for line in [
        ">&-".to_owned(),
        "check >&- 2>&-".to_owned(),
        "check <&-".to_owned(),
        "sweep --vary build.name=a,b --run pull --as csv 2>/dev/full".to_owned(),
    ] {
        let output = shell(&format!("exec \"$0\" {line}"));
        assert_eq!(output.status.code(), Some(0), "{line}");
    }
    assert_eq!(shell(&format!("exec \"$0\" {size} 2>/dev/full")).status.code(), Some(1));
    for line in [
        "--help",
        "--version",
        "sheet --help",
        "help",
        "check",
        "check --json",
        "parts",
        "schema build",
        "figures",
    ] {
        let said = complaint(&format!("exec \"$0\" {line} >/dev/full"));
        assert!(said.contains("the output cannot be written"), "{line}: {said}");
        let output = shell(&format!("exec \"$0\" {line} >/dev/full 2>&1"));
        assert_eq!(output.status.code(), Some(2), "{line}");
    }
}

/// Whoever closes the pipe has seen enough.
#[test]
fn a_closed_pipe_is_no_error() {
    let rows = "sweep --vary motor.mass_kg=40..80:0.01 --run standing --as csv";
    for line in
        ["", "--help", "sheet --help", "check --json", "parts", "figures", "schema build", rows]
    {
        let output = shell(&format!("{{ \"$0\" {line}; echo $? >&2; }} | head -n 1"));
        assert_eq!(String::from_utf8(output.stderr).unwrap(), "0\n", "{line}");
    }
}

/// No threads to be had, and hardly any memory: fewer threads, and the same answer.
#[cfg(target_os = "linux")]
#[test]
fn fewer_threads_are_started_where_there_is_no_room() {
    let run = "exec \"$0\" sweep --vary pack.parallel=1..4:1 --run pull --json";
    let usual = shell(run);
    assert!(usual.status.success() && !usual.stdout.is_empty());
    for limit in [
        "ulimit -v 300000; RAYON_NUM_THREADS=64",
        "ulimit -v 100000; RAYON_NUM_THREADS=64",
        "ulimit -v 250000;",
        "RAYON_NUM_THREADS=0",
        "RAYON_NUM_THREADS=x",
    ] {
        let found = shell(&format!("{limit} {run}"));
        let said = String::from_utf8(found.stderr).unwrap();
        assert!(found.status.success() && said.is_empty(), "{limit}: {said}");
        assert_eq!(found.stdout, usual.stdout, "{limit}");
    }
}

/// What the program shows on a terminal.
#[cfg(target_os = "linux")]
fn on_a_terminal(args: &[&str], term: Option<&str>, no_color: Option<&str>) -> String {
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    let ours = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    grantpt(&ours).unwrap();
    unlockpt(&ours).unwrap();
    let theirs = ptsname(&ours, Vec::new()).unwrap().into_string().unwrap();
    let open = || File::options().read(true).write(true).open(&theirs).unwrap();
    let mut command = Command::new(PROGRAM);
    command.args(args).stdin(open()).stdout(open()).stderr(open());
    for (variable, value) in [("TERM", term), ("NO_COLOR", no_color)] {
        match value {
            Some(value) => command.env(variable, value),
            None => command.env_remove(variable),
        };
    }
    let mut child = command.spawn().unwrap();
    // The terminal ends with an error when its last user has gone.
    drop(command);
    let mut said = Vec::new();
    let _ = File::from(ours).read_to_end(&mut said);
    child.wait().unwrap();
    String::from_utf8(said).unwrap()
}

/// `NO_COLOR` as at no-color.org (from memory): anything but an empty value asks for no colour.
#[cfg(target_os = "linux")]
#[test]
fn a_terminal_gets_escapes_only_where_it_takes_them() {
    let calls: [&[&str]; 6] = [
        &["--help"],
        &["sheet", "--help"],
        &["check"],
        &["endurance", "--speeds", "30,60", "--grades", "0,12"],
        &["compare", "--variant", "pack.parallel=2", "--run", "pull"],
        &["fly"],
    ];
    let escape = |said: &str| said.contains(['\u{1b}', '\u{9b}']);
    let takes = |call: &[&str]| escape(&on_a_terminal(call, Some("xterm"), Some("")));
    let stays_plain = |call: &[&str]| {
        for (term, no_color) in [
            (Some("dumb"), None),
            (Some("xterm"), Some("1")),
            (None, None),
            (Some("dumb"), Some("1")),
        ] {
            let said = on_a_terminal(call, term, no_color);
            assert!(!said.is_empty() && !escape(&said), "{call:?}: {said}");
        }
    };
    for call in calls {
        stays_plain(call);
        assert!(call == ["fly"] || takes(call), "{call:?}");
    }

    // A bar of progress appears after a second: how many cars that takes is the machine's affair.
    let long =
        [2_000, 8_000, 32_000, 128_000, 512_000].map(|cars| format!("1..2:{}", 1.0 / cars as f64));
    let sweeps = long.map(|range| format!("motor.mass_kg={range}"));
    let sweep = |vary| ["sweep", "--vary", vary, "--run", "drive", "--top", "3"];
    let shows = sweeps.iter().find(|vary| takes(&sweep(vary.as_str())));
    stays_plain(&sweep(shows.expect("a bar")));
}
