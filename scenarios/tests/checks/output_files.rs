//! Files that are written whole or not at all; `tests/program/abuse_of_output.rs` has the rest.

use scenarios::output_file::{Growing, Kind, write_all_new};
use std::fs;
use std::path::{Path, PathBuf};

/// A kind that begins with a word.
const KIND: Kind = Kind { words: "a list", begins: |text| text.starts_with("list") };

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

fn write(path: &Path, content: &str) {
    let mut file = Growing::create(path, KIND, &[]).unwrap();
    file.add(content.as_bytes()).unwrap();
    file.finish().unwrap();
}

#[test]
fn a_file_is_replaced_whole_and_nothing_is_left_beside_it() {
    let folder = fresh("replace");
    let path = folder.join("trace.csv");
    write(&path, "list one");
    write(&path, "list two");
    let mut given_up = Growing::create(&path, KIND, &[]).unwrap();
    given_up.add(b"list three").unwrap();
    drop(given_up);
    assert_eq!(fs::read(&path).unwrap(), b"list two");
    assert_eq!(names(&folder), ["trace.csv"]);
}

/// A program that writes a file after it has read it twice over is none that was refused: the files
/// that a run reads are those that it names.
#[test]
fn only_the_inputs_that_are_named_are_kept_from_being_overwritten() {
    let folder = fresh("inputs");
    let path = folder.join("trace.csv");
    write(&path, "list one");
    fs::read(&path).unwrap();
    write(&path, "list two");
    let refused = Growing::create(&path, KIND, &[folder.join("none"), path.clone()]);
    let sentence = refused.unwrap_err().to_string();
    assert!(sentence.ends_with("is read by the same run and is not overwritten"), "{sentence}");
    fs::write(&path, "letter").unwrap();
    let sentence = Growing::create(&path, KIND, &[]).unwrap_err().to_string();
    assert!(sentence.ends_with("is there already and is not a list; it is not overwritten"));
}

/// Two that write the same file at once: each is whole, and the last to end stays.
#[test]
fn two_at_once_do_not_mix() {
    let folder = fresh("two");
    let path = folder.join("trace.csv");
    let mut first = Growing::create(&path, KIND, &[]).unwrap();
    let mut second = Growing::create(&path, KIND, &[]).unwrap();
    first.add(b"list ").unwrap();
    second.add(b"list two").unwrap();
    second.finish().unwrap();
    first.add(b"one").unwrap();
    first.finish().unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"list one");
    assert_eq!(names(&folder), ["trace.csv"]);
}

#[test]
fn new_files_never_replace_others_and_appear_together() {
    let folder = fresh("new");
    let (a, b) = (folder.join("in/a.json"), folder.join("in/side/b.json"));
    let files = |text: &'static str| [(a.clone(), text.as_bytes()), (b.clone(), text.as_bytes())];
    fs::create_dir(folder.join("in")).unwrap();
    fs::write(&a, "mine").unwrap();
    let sentence = write_all_new(&files("one")).unwrap_err().to_string();
    assert!(sentence.contains("is there already and is not overwritten"), "{sentence}");
    assert_eq!(names(&folder.join("in")), ["a.json"]);
    write_all_new(&files("mine")).unwrap();
    assert_eq!(fs::read(&b).unwrap(), b"mine");
    let below_a_file = write_all_new(&[(folder.join("in/side/new/c"), b"c"), (a.join("c"), b"c")]);
    assert!(below_a_file.is_err());
    assert_eq!(names(&folder.join("in/side")), ["b.json"]);
}
