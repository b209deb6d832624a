//! Calls of the program.

use serde_json::Value;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, ExitStatus, Output, Stdio};

/// What the program says. One that serves a page is ended when it has said where.
pub fn shakedown(args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_shakedown"));
    // Help is as wide as a terminal says that it is.
    command.args(args).env_remove("COLUMNS");
    if args.first() != Some(&"live") {
        return command.output().unwrap();
    }
    let mut process = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut stdout = String::new();
    let mut reader = BufReader::new(process.stdout.take().unwrap());
    while reader.read_line(&mut stdout).unwrap() > 0 {
        if stdout.ends_with("Ctrl-C ends it.\n") || stdout.ends_with("\n}\n") {
            process.kill().unwrap();
            let stderr = process.wait_with_output().unwrap().stderr;
            return Output { status: ExitStatus::default(), stdout: stdout.into_bytes(), stderr };
        }
    }
    let ended = process.wait_with_output().unwrap();
    Output { stdout: stdout.into_bytes(), ..ended }
}

pub fn text(args: &[&str]) -> String {
    let output = shakedown(args);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success() && said.is_empty(), "{args:?}: {said}");
    String::from_utf8(output.stdout).unwrap()
}

/// The text, which must fit into a hundred columns and hold no colour.
pub fn table(args: &[&str]) -> String {
    let said = text(args);
    assert!(said.lines().count() > 3, "{args:?} says next to nothing: {said}");
    for line in said.lines() {
        assert!(line.chars().count() <= 100, "{args:?}: {line}");
        assert!(!line.contains("NaN") && !line.contains('\u{1b}'), "{args:?}: {line}");
    }
    said
}

pub fn json(args: &[&str]) -> Value {
    let all: Vec<&str> = args.iter().copied().chain(["--json"]).collect();
    serde_json::from_str(&text(&all)).unwrap()
}

/// One sentence on standard error that holds these words, exit code 2, nothing on standard output.
pub fn refused(args: &[&str], named: &[&str]) {
    let output = shakedown(args);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
    assert_eq!(said.lines().count(), 1, "{args:?}: {said}");
    assert!(said.starts_with("error: ") && !said.contains("panicked"), "{args:?}: {said}");
    assert!(output.stdout.is_empty(), "{args:?} wrote something");
    for word in named {
        assert!(said.contains(word), "{args:?} does not say {word}: {said}");
    }
}

/// A new folder of this test's own.
pub fn folder(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}
