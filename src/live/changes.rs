//! What the page changes in the car, taken for nothing but what the page can do.

use super::choices::Choices;
use super::groups;
use super::refusal::Refusal;
use scenarios::{Override, counts};
use serde::Deserialize;
use serde_json::Value;

/// Most changes of a request.
const MOST: usize = 300;

/// A change.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// The path of the field.
    pub path: String,
    /// A number, or the name of a choice.
    pub value: Value,
}

/// Changes that can be put in.
#[derive(Debug, Clone, Default)]
pub struct Changes {
    /// Parts, road and surface, those first that others stand in.
    pub picked: Vec<Override>,
    /// Numbers.
    pub moved: Vec<Override>,
}

impl Changes {
    /// Reads what the page sent. A path is one of those that the page shows; a word is one of those
    /// that it offers. So nothing that a request says becomes the name of a file.
    pub fn read(sent: &[Change], choices: &Choices) -> Result<Self, Refusal> {
        if sent.len() > MOST {
            return Err(Refusal::of(format!("too many changes; allowed: {MOST}")));
        }
        let mut found = Self::default();
        for Change { path, value } in sent {
            let nothing = || Refusal::of(format!("{} is nothing that moves", cycles::short(path)));
            match value {
                Value::String(word) => {
                    let choice = choices.find(path, word).ok_or_else(|| {
                        let (path, word) = (cycles::short(path), cycles::short(word));
                        Refusal::of(format!("{path} is {word}; allowed: what the page offers"))
                    })?;
                    found.picked.push(Override::new(path, choice.put.clone().into())?);
                }
                Value::Number(number) if groups::is_slider(path) => {
                    let value = number.as_f64().ok_or_else(nothing)?;
                    found.moved.push(if counts(path) && value.fract() == 0.0 {
                        Override::new(path, Value::from(value as i64))?
                    } else {
                        Override::number(path, value)?
                    });
                }
                _ => return Err(nothing()),
            }
        }
        found.picked.sort_by_key(|one| one.path().len());
        Ok(found)
    }

    /// All of them, in the order in which they are put in.
    pub fn all(&self) -> impl Iterator<Item = &Override> {
        self.picked.iter().chain(&self.moved)
    }

    /// The options that do the same at the command line of a shell.
    pub fn lines(&self) -> Vec<String> {
        let line = |one: &Override| {
            let value = match one.value() {
                Value::String(word) => word.clone(),
                other => other.as_f64().map_or_else(|| other.to_string(), |v| v.to_string()),
            };
            format!("--set {}", quoted(&format!("{}={value}", one.path())))
        };
        self.all().map(line).collect()
    }

    /// The same as one text.
    pub fn as_text(&self) -> String {
        self.lines().join("\n")
    }

    /// What was picked, as one text.
    pub fn picked_as_text(&self) -> String {
        Self { picked: self.picked.clone(), moved: Vec::new() }.as_text()
    }
}

/// A word that a POSIX shell takes as it is.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "._-/:=".contains(c);
    if word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn read(sent: Value) -> Result<Changes, Refusal> {
        let sent: Vec<Change> = serde_json::from_value(sent).unwrap();
        Changes::read(&sent, &Choices::of("docs/builds".as_ref()))
    }

    #[test]
    fn changes_become_options_that_a_shell_takes_as_they_are() {
        let found = read(json!([
            {"path": "pack.series", "value": 40},
            {"path": "motor.mass_kg", "value": 60.5},
            {"path": "pack.cell", "value": "shelf:blend-50ah"},
            {"path": "motor", "value": "folder:my-motor.json"},
        ]))
        .unwrap();
        let lines = [
            "--set motor=docs/builds/my-motor.json",
            "--set pack.cell=shelf:blend-50ah",
            "--set pack.series=40",
            "--set motor.mass_kg=60.5",
        ];
        assert_eq!(found.lines(), lines);
        assert_eq!(quoted("a='b c'"), "'a='\\''b c'\\'''");
    }

    #[test]
    fn nothing_but_what_the_page_offers_is_taken() {
        for sent in [
            json!([{"path": "motor", "value": "/etc/passwd"}]),
            json!([{"path": "motor", "value": "folder:../x.json"}]),
            json!([{"path": "motor", "value": "shelf:blend-50ah"}]),
            json!([{"path": "motor", "value": {"name": "x"}}]),
            json!([{"path": "motor.name", "value": "x"}]),
            json!([{"path": "motor.mass_kg", "value": null}]),
            json!([{"path": "motor.mass_kg", "value": [1]}]),
            json!([{"path": "motor.mass_kg.x", "value": 1}]),
            json!([{"path": "runs.commute.cycle", "value": "../../x.csv"}]),
            json!([{"path": "", "value": 1}]),
            json!([{"path": "gearbox.gears.x.ratio", "value": 1}]),
        ] {
            assert!(read(sent.clone()).is_err(), "{sent}");
        }
    }
}
