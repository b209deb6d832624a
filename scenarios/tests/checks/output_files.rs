//! Files that are written whole or not at all.

use scenarios::output_file::{make_folder, write, write_new};
use std::fs;
use std::path::PathBuf;

fn fresh(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("output_files").join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn names(folder: &PathBuf) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<_> =
        entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[test]
fn a_file_is_replaced_whole_and_nothing_is_left_beside_it() {
    let folder = fresh("replace");
    let path = folder.join("trace.csv");
    write(&path, b"one").unwrap();
    write(&path, b"two").unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"two");
    assert_eq!(names(&folder), ["trace.csv"]);
}

#[cfg(unix)]
#[test]
fn a_file_may_be_read_by_whom_any_new_file_may() {
    use std::os::unix::fs::PermissionsExt;
    let folder = fresh("permissions");
    let (written, plain) = (folder.join("written"), folder.join("plain"));
    write(&written, b"one").unwrap();
    fs::write(&plain, b"one").unwrap();
    let mode = |path| fs::metadata(path).unwrap().permissions().mode();
    assert_eq!(mode(written), mode(plain));
}

#[test]
fn a_new_file_never_replaces_another() {
    let folder = fresh("new");
    let path = folder.join("part.json");
    write_new(&path, b"one").unwrap();
    let sentence = write_new(&path, b"two").unwrap_err().to_string();
    assert!(sentence.ends_with("is there already and is not overwritten"), "{sentence}");
    assert_eq!(fs::read(&path).unwrap(), b"one");
    assert_eq!(names(&folder), ["part.json"]);
}

#[test]
fn what_cannot_be_written_is_refused_in_one_sentence() {
    let folder = fresh("refused");
    let inside = folder.join("none").join("a.json");
    assert!(write(&inside, b"x").unwrap_err().to_string().ends_with("there is no such file"));
    make_folder(&inside).unwrap();
    write(&inside, b"x").unwrap();
    assert!(write(&folder, b"x").unwrap_err().to_string().ends_with("is a folder"));
    assert!(write(&folder.join(".."), b"x").is_err());
    assert!(make_folder(&inside.join("b").join("c")).is_err(), "a file is no folder");
    assert_eq!(names(&folder), ["none"]);
}
