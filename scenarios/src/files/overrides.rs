//! Values put in place of those in the files.

use crate::files::bounds::PATH_BYTES;
use crate::files::error::Error;
use crate::files::short_path;
use cycles::short;
use serde_json::Value;
use std::str::FromStr;

/// A value for a path, such as `motor.mass_kg=60`.
///
/// The path begins at the scenario; `build.` may be left out, and items of lists are counted from
/// 1: `gearbox.gears.2.ratio`. The value is JSON, or else a text. `null` takes a field away. Where
/// a part belongs, `shelf:NAME` and the path of a file work as they do in a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Override {
    pub(crate) path: Vec<String>,
    pub(crate) shown: String,
    pub(crate) value: Value,
}

impl Override {
    /// A value for a path.
    ///
    /// # Errors
    /// [`Error::Path`] where the path is empty or has an empty step.
    pub fn new(path: &str, value: Value) -> Result<Self, Error> {
        let shown = path.trim();
        if shown.is_empty() || shown.split('.').any(str::is_empty) {
            let problem = "is no path; needed: names with a dot between them".to_owned();
            return Err(Error::Path { path: format!("\"{path}\""), problem });
        }
        if shown.len() as u64 > PATH_BYTES {
            let problem = format!("is too long; allowed: {PATH_BYTES} bytes");
            return Err(Error::Path { path: shown.to_owned(), problem });
        }
        let path = short_path::whole(shown).split('.').map(str::to_owned).collect();
        Ok(Self { path, shown: shown.to_owned(), value })
    }

    /// A number for a path.
    ///
    /// # Errors
    /// As [`Self::new`], and where the number is not finite.
    pub fn number(path: &str, value: f64) -> Result<Self, Error> {
        match serde_json::Number::from_f64(value) {
            Some(number) => Self::new(path, Value::Number(number)),
            None => {
                let problem = format!("{value} is no finite number");
                Err(Error::Path { path: path.to_owned(), problem })
            }
        }
    }

    /// A value as people write it: JSON, or else a text.
    ///
    /// # Errors
    /// As [`Self::new`], and where the text reads as a number that is not finite.
    pub fn text(path: &str, value: &str) -> Result<Self, Error> {
        let value = value.trim();
        match crate::files::tree::parse(value, path) {
            Ok(value) => Self::new(path, value),
            Err(_) if value.parse::<f64>().is_ok_and(|v| !v.is_finite()) => {
                let problem = format!("{} is no finite number", short(value));
                Err(Error::Path { path: path.to_owned(), problem })
            }
            Err(_) if value.starts_with(['{', '[', '"']) => {
                let problem = format!("{} is not JSON", short(value));
                Err(Error::Path { path: path.to_owned(), problem })
            }
            Err(_) => Self::new(path, Value::String(value.to_owned())),
        }
    }

    /// The path as it was given.
    pub fn path(&self) -> &str {
        &self.shown
    }

    /// The value.
    pub fn value(&self) -> &Value {
        &self.value
    }
}

impl FromStr for Override {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        match text.split_once('=') {
            Some((path, value)) => Self::text(path, value),
            None => {
                let problem = "has no value; needed: path=value".to_owned();
                Err(Error::Path { path: text.to_owned(), problem })
            }
        }
    }
}
