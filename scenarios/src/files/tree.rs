//! The text of files as one tree, which remembers the file that each branch came from.

use crate::files::bounds::FILE_LIMIT_BYTES;
use crate::files::error::{Error, Source};
use crate::files::kind::{BOXES, FileKind, may_refer};
use crate::files::origins::{Folder, Origins};
use crate::files::shelf;
use cycles::short;
use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};
use std::fmt;
use std::io::Read;
use std::path::{Path, PathBuf};

/// A scenario's tree with the origins of its branches.
#[derive(Debug, Clone)]
pub(crate) struct Tree {
    pub(crate) root: Value,
    pub(crate) origins: Origins,
}

impl Tree {
    /// Reads a text and all that it refers to. A build is wrapped into a scenario.
    pub(crate) fn read(
        text: &str,
        file: &str,
        folder: Folder,
        trail: Vec<PathBuf>,
    ) -> Result<Self, Error> {
        let value = parse(text, file)?;
        let Value::Object(map) = &value else {
            return Err(not_an_object(file, &value, FileKind::Scenario));
        };
        let (prefix, kind) = if map.contains_key("build") {
            (String::new(), FileKind::Scenario)
        } else {
            ("build.".to_owned(), FileKind::Build)
        };
        let said = Source::File(file.to_owned());
        let mut origins = Origins::default();
        if kind == FileKind::Build {
            origins.add(String::new(), said.clone(), folder.clone());
        }
        origins.add(prefix.clone(), said.clone(), folder.clone());
        let mut reader = Reader { origins: &mut origins, trail };
        let value = reader.resolve(value, kind, &prefix, &said, &folder)?;
        let root = if kind == FileKind::Build {
            Value::Object(Map::from_iter([("build".to_owned(), value)]))
        } else {
            value
        };
        Ok(Self { root, origins })
    }

    /// Puts a number that was measured at a path, as a file says.
    ///
    /// # Errors
    /// Why the path leads nowhere, in words.
    pub(crate) fn set_measured(
        &mut self,
        path: &str,
        value: Value,
        file: &str,
        folder: Folder,
    ) -> Result<(), String> {
        let steps: Vec<String> = path.split('.').map(str::to_owned).collect();
        put(&mut self.root, &steps, value)?;
        self.origins.replace(&format!("{path}."), path, Source::Measured(file.to_owned()), folder);
        Ok(())
    }

    /// Puts a value at a path that was split at its dots; a string where a part belongs is
    /// resolved, seen from the working folder.
    pub(crate) fn set(&mut self, path: &[String], shown: &str, value: Value) -> Result<(), Error> {
        let joined = path.join(".");
        let fail = |problem: String| Error::Path { path: shown.to_owned(), problem };
        let prefix = format!("{joined}.");
        let here = Folder::Disk(PathBuf::new());
        self.origins.replace(&prefix, shown, Source::Caller, here.clone());
        let value = match FileKind::at(path) {
            Some(kind) => {
                let mut reader = Reader { origins: &mut self.origins, trail: Vec::new() };
                reader.resolve(value, kind, &prefix, &Source::Caller, &here)?
            }
            None if may_refer(path) => {
                let mut reader = Reader { origins: &mut self.origins, trail: Vec::new() };
                reader.resolve_boxes(value, &prefix, &Source::Caller, &here)?
            }
            None => value,
        };
        put(&mut self.root, path, value).map_err(fail)
    }
}

/// The value at a path, whose items of lists are counted from 1.
pub(crate) fn value_at<'a>(root: &'a Value, path: &str) -> Option<&'a Value> {
    path.split('.').try_fold(root, |place, step| match place {
        Value::Array(list) => list.get(step.parse::<usize>().ok()?.checked_sub(1)?),
        place => place.get(step),
    })
}

/// Puts a value into a tree, at a path that was split at its dots.
///
/// # Errors
/// Why the path leads nowhere, in words.
pub(crate) fn put(root: &mut Value, path: &[String], value: Value) -> Result<(), String> {
    let mut place = root;
    for (i, step) in path.iter().enumerate() {
        let last = i + 1 == path.len();
        if let Value::Null = place {
            *place = Value::Object(Map::new());
        }
        place = match place {
            Value::Object(map) if last => {
                map.insert(step.clone(), value);
                return Ok(());
            }
            Value::Object(map) => map.entry(step.clone()).or_insert(Value::Null),
            Value::Array(list) => {
                let count = list.len();
                let item = step.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
                match item.and_then(|index| list.get_mut(index)) {
                    Some(slot) if last => {
                        *slot = value;
                        return Ok(());
                    }
                    Some(slot) => slot,
                    None => {
                        let list = path[..i].join(".");
                        return Err(format!(
                            "\"{step}\" is no item of {list}; allowed: 1 to {count}"
                        ));
                    }
                }
            }
            _ => {
                let above = path[..i].join(".");
                return Err(format!("{above} is a single value and holds no \"{step}\""));
            }
        };
    }
    Err("an empty path leads nowhere".to_owned())
}

/// Follows references.
struct Reader<'a> {
    origins: &'a mut Origins,
    /// Files that are being read, outermost first.
    trail: Vec<PathBuf>,
}

impl Reader<'_> {
    fn resolve(
        &mut self,
        value: Value,
        kind: FileKind,
        prefix: &str,
        said: &Source,
        folder: &Folder,
    ) -> Result<Value, Error> {
        match value {
            Value::String(reference) => self.follow(&reference, kind, prefix, said, folder),
            Value::Object(mut map) => {
                for inner in kind.holds() {
                    if let Some(slot) = map.get_mut(inner.name()) {
                        let prefix = format!("{prefix}{}.", inner.name());
                        let value = std::mem::take(slot);
                        *slot = self.resolve(value, *inner, &prefix, said, folder)?;
                    }
                }
                if kind == FileKind::Pack
                    && let Some(slot) = map.get_mut(BOXES)
                {
                    let prefix = format!("{prefix}{BOXES}.");
                    *slot = self.resolve_boxes(std::mem::take(slot), &prefix, said, folder)?;
                }
                Ok(Value::Object(map))
            }
            other => Ok(other),
        }
    }

    /// The same for the cells of a list of boxes, or of one of them.
    fn resolve_boxes(
        &mut self,
        value: Value,
        prefix: &str,
        said: &Source,
        folder: &Folder,
    ) -> Result<Value, Error> {
        match value {
            Value::Array(list) => {
                let items = list.into_iter().zip(1..).map(|(item, i)| {
                    self.resolve_boxes(item, &format!("{prefix}{i}."), said, folder)
                });
                Ok(Value::Array(items.collect::<Result<_, Error>>()?))
            }
            Value::Object(mut map) => {
                let name = FileKind::Cell.name();
                if let Some(slot) = map.get_mut(name) {
                    let prefix = format!("{prefix}{name}.");
                    let value = std::mem::take(slot);
                    *slot = self.resolve(value, FileKind::Cell, &prefix, said, folder)?;
                }
                Ok(Value::Object(map))
            }
            other => Ok(other),
        }
    }

    fn follow(
        &mut self,
        reference: &str,
        kind: FileKind,
        prefix: &str,
        said: &Source,
        folder: &Folder,
    ) -> Result<Value, Error> {
        let (text, name, inner_folder, on_disk);
        let owned;
        if let Some(wanted) = reference.strip_prefix("shelf:") {
            let part = shelf::find(kind, wanted).ok_or_else(|| Error::Shelf {
                said: said.clone(),
                kind: kind.name(),
                name: wanted.to_owned(),
                hint: shelf::hint(kind, wanted),
            })?;
            (text, name, inner_folder, on_disk) =
                (part.text, reference.to_owned(), Folder::Shelf, None);
        } else {
            match folder {
                Folder::Disk(folder) => {
                    let path = folder.join(reference);
                    name = path.display().to_string();
                    owned = text_of(&path).map_err(|e| match (e, said) {
                        (Error::File { file: missing, problem }, Source::File(file)) => {
                            let missing = cycles::file(missing.as_ref());
                            let problem = format!("{} \"{missing}\": {problem}", kind.name());
                            Error::File { file: file.clone(), problem }
                        }
                        (other, _) => other,
                    })?;
                    let inside = path.parent().unwrap_or(Path::new("")).to_owned();
                    inner_folder = Folder::Disk(inside);
                    on_disk = Some(canonical(&path));
                    text = &owned;
                }
                Folder::Demo | Folder::Shelf => {
                    let problem = format!(
                        "{} is the file \"{}\"; allowed here: shelf:NAME",
                        kind.name(),
                        short(reference)
                    );
                    return Err(Error::File { file: said.name_or(reference), problem });
                }
            }
        }
        if let Some(path) = &on_disk {
            if self.trail.contains(path) {
                let shown = cycles::file(reference.as_ref());
                let problem = format!("{} \"{shown}\" refers back to itself", kind.name());
                return Err(Error::File { file: said.name_or(reference), problem });
            }
            self.trail.push(path.clone());
        }
        let value = parse(text, &name)?;
        if !value.is_object() {
            return Err(not_an_object(&name, &value, kind));
        }
        let said = Source::File(name);
        self.origins.add(prefix.to_owned(), said.clone(), inner_folder.clone());
        let value = self.resolve(value, kind, prefix, &said, &inner_folder)?;
        if on_disk.is_some() {
            self.trail.pop();
        }
        Ok(value)
    }
}

fn not_an_object(file: &str, value: &Value, kind: FileKind) -> Error {
    let found = match value {
        Value::Null => "null",
        Value::Bool(_) => "true or false",
        Value::Number(_) => "a number",
        Value::String(_) => "a string",
        Value::Array(_) => "a list",
        Value::Object(_) => "an object",
    };
    let problem = format!("holds {found}; needed: an object that describes a {}", kind.name());
    Error::File { file: file.to_owned(), problem }
}

/// The path by which a file is recognised when it comes again.
pub(crate) fn canonical(path: &Path) -> PathBuf {
    path.canonicalize().unwrap_or_else(|_| path.to_owned())
}

/// The text of a plain file that is not too large.
///
/// # Errors
/// A file that is missing, is no plain file, is larger than [`FILE_LIMIT_BYTES`] or is not UTF-8.
pub fn text_of(path: &Path) -> Result<String, Error> {
    let shown = path.display().to_string();
    let refuse = |problem: String| Error::File { file: shown.clone(), problem };
    let about = std::fs::metadata(path).map_err(|e| Error::io(shown.clone(), &e))?;
    if about.is_dir() {
        return Err(refuse("is a folder; needed: a JSON file".to_owned()));
    }
    if !about.is_file() {
        return Err(refuse("is not a plain file; needed: a JSON file".to_owned()));
    }
    let too_large =
        |bytes: u64| refuse(format!("is {bytes} bytes long; allowed: at most {FILE_LIMIT_BYTES}"));
    if about.len() > FILE_LIMIT_BYTES {
        return Err(too_large(about.len()));
    }
    let mut bytes = Vec::new();
    std::fs::File::open(path)
        .and_then(|file| file.take(FILE_LIMIT_BYTES + 1).read_to_end(&mut bytes))
        .map_err(|e| Error::io(shown.clone(), &e))?;
    if bytes.len() as u64 > FILE_LIMIT_BYTES {
        return Err(too_large(bytes.len() as u64));
    }
    if cycles::is_utf16(&bytes) {
        return Err(refuse("is text in UTF-16; needed: text in UTF-8".to_owned()));
    }
    let text = String::from_utf8(bytes)
        .map_err(|e| refuse(format!("byte {} is not UTF-8 text", e.utf8_error().valid_up_to())))?;
    Ok(match text.strip_prefix('\u{feff}') {
        Some(rest) => rest.to_owned(),
        None => text,
    })
}

/// A JSON text in which no key stands twice.
pub(crate) fn parse(text: &str, file: &str) -> Result<Value, Error> {
    serde_json::from_str::<Strict>(text).map(|strict| strict.0).map_err(|e| {
        let whole = e.to_string();
        let problem = whole.rsplit_once(" at line ").map_or(whole.as_str(), |(start, _)| start);
        let problem = match problem {
            "recursion limit exceeded" => "objects and lists are nested too deeply".to_owned(),
            "key must be a string" | "trailing characters" if decimal_comma(text, &e) => {
                "a number has a decimal comma; decimals are set off by points, as in 0.5".to_owned()
            }
            "trailing characters" => "something stands after the end of the JSON text".to_owned(),
            "number out of range" => "a number is too large; allowed: up to 1e308".to_owned(),
            problem if problem.starts_with(TWICE) => problem.to_owned(),
            "expected `,` or `}`" | "expected `,` or `]`" => {
                format!("not JSON: {problem}; is a comma missing at the end of what stands before?")
            }
            problem => format!("not JSON: {problem}"),
        };
        Error::Json { file: file.to_owned(), line: e.line(), column: e.column(), problem }
    })
}

/// Whether a fault of JSON is at the digits after a decimal comma.
fn decimal_comma(text: &str, fault: &serde_json::Error) -> bool {
    let line = text.lines().nth(fault.line().saturating_sub(1)).unwrap_or_default().as_bytes();
    let digit = |at: usize| line.get(at).is_some_and(u8::is_ascii_digit);
    let at = fault.column().saturating_sub(1);
    let comma = (at.saturating_sub(1)..=at).find(|i| line.get(*i) == Some(&b','));
    comma.is_some_and(|comma| comma > 0 && digit(comma - 1) && digit(comma + 1))
}

const TWICE: &str = "the key ";

/// A value in which no key stands twice.
struct Strict(Value);

impl<'de> Deserialize<'de> for Strict {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Any;
        impl<'de> Visitor<'de> for Any {
            type Value = Value;
            fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                f.write_str("a JSON value")
            }
            fn visit_unit<E>(self) -> Result<Value, E> {
                Ok(Value::Null)
            }
            fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
                Ok(value.into())
            }
            fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
                Ok(value.into())
            }
            fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
                Ok(value.into())
            }
            fn visit_f64<E>(self, value: f64) -> Result<Value, E> {
                Ok(value.into())
            }
            fn visit_str<E>(self, value: &str) -> Result<Value, E> {
                Ok(value.into())
            }
            fn visit_string<E>(self, value: String) -> Result<Value, E> {
                Ok(value.into())
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut access: A) -> Result<Value, A::Error> {
                let mut list = Vec::new();
                while let Some(Strict(item)) = access.next_element()? {
                    list.push(item);
                }
                Ok(Value::Array(list))
            }
            fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<Value, A::Error> {
                let mut map = Map::new();
                while let Some(key) = access.next_key::<String>()? {
                    if map.contains_key(&key) {
                        let problem = format!("{TWICE}\"{key}\" stands twice in an object");
                        return Err(serde::de::Error::custom(problem));
                    }
                    let Strict(value) = access.next_value()?;
                    map.insert(key, value);
                }
                Ok(Value::Object(map))
            }
        }
        deserializer.deserialize_any(Any).map(Strict)
    }
}
