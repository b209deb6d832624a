//! Pictures as files: what is written, over what, and what is refused.

use crate::program::{folder, json, refused, text};
use std::fs;

/// Commands that draw.
const DRAWING: [&[&str]; 8] = [
    &["sheet", "--cycle", "wltc-low"],
    &["check"],
    &["pull"],
    &["climb"],
    &["climb", "--pass"],
    &["climb", "--grade", "-6%"],
    &["drive", "--cycle", "wltc-low"],
    &["measure", "drive"],
];

#[test]
fn a_picture_changes_no_answer_and_replaces_a_picture_only() {
    let folder = folder("pictures");
    let (file, other) = (folder.join("a.svg"), folder.join("other.svg"));
    fs::write(&other, "<svg xmlns=\"http://www.w3.org/2000/svg\"><!-- drawn by hand --></svg>")
        .unwrap();
    for command in DRAWING {
        let with = [command, &["--picture", file.to_str().unwrap()]].concat();
        assert_eq!(text(&with), text(command));
        let first = fs::read_to_string(&file).unwrap();
        assert!(first.starts_with("<svg ") && first.ends_with("</svg>\n"), "{command:?}");
        // Over the one before, and the same again with JSON beside it.
        assert_eq!(json(&with), json(command));
        assert_eq!(fs::read_to_string(&file).unwrap(), first);
        let over = [command, &["--picture", other.to_str().unwrap()]].concat();
        refused(&over, &["is there already and is not a picture"]);
    }
    for (name, said) in [
        ("a.png", "allowed: a file that ends in .svg"),
        ("svg", "allowed: a file that ends in .svg"),
        ("none/a.svg", "there is no folder"),
    ] {
        let to = folder.join(name);
        refused(&["pull", "--picture", to.to_str().unwrap()], &[said]);
    }
}
