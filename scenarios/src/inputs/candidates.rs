//! What is tried of each part, in a file.

use crate::files::bounds::VALUES;
use crate::files::error::{Error, Source};
use crate::files::kind::FileKind;
use crate::files::origins::{Folder, Origins};
use crate::files::reading::read;
use crate::files::short_path;
use crate::files::tree::{parse, text_of};
use crate::files::unfit::explain;
use cycles::short;
use schemars::JsonSchema;
use serde::Deserialize;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

/// What a candidate may cost.
pub(crate) const MOST: f64 = 1e9;

/// A file of candidates: what is tried of each field.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CandidatesFile {
    /// Where the JSON Schema of this file is.
    #[serde(rename = "$schema")]
    pub schema: Option<String>,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// For the path of each part or field, such as `motor` or `gearbox.final_drive`, what is tried.
    #[serde(rename = "try")]
    pub tried: BTreeMap<String, Vec<Candidate>>,
}

/// Something to try.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Candidate {
    /// Anything worth remembering, such as where it is sold.
    pub note: Option<String>,
    /// What is put in: a number, `shelf:NAME`, or the path of a part's file, seen from this file.
    pub value: Value,
    /// What it costs, in the currency of `money`: for a part in place of the price in its file, for
    /// anything else on top of the parts.
    pub price: Option<f64>,
}

impl CandidatesFile {
    /// Reads a file. Names of files of parts are then seen from the working folder.
    ///
    /// # Errors
    /// A file that cannot be read or says something else; a list without or with too many values; a
    /// price below nothing.
    pub(crate) fn open(path: &Path) -> Result<Self, Error> {
        let file = path.display().to_string();
        let refuse = |problem: String| Error::File { file: file.clone(), problem };
        let tree = parse(&text_of(path)?, &file)?;
        let folder = path.parent().unwrap_or(Path::new("")).to_owned();
        let mut origins = Origins::default();
        origins.add(String::new(), Source::File(file.clone()), Folder::Disk(folder.clone()));
        let mut said: Self =
            read(&tree).map_err(|unfit| explain(&origins, unfit, "the candidates"))?;
        if said.tried.is_empty() {
            return Err(refuse(
                "tries nothing; needed: a path with its values in `try`".to_owned(),
            ));
        }
        for (path, list) in &mut said.tried {
            let many = list.len() as u64;
            if many == 0 || many > VALUES {
                let path = short(path);
                return Err(refuse(format!("{path} has {many} values; allowed: 1 to {VALUES}")));
            }
            let steps: Vec<String> =
                short_path::whole(path.trim()).split('.').map(str::to_owned).collect();
            let is_part = FileKind::at(&steps).is_some();
            for Candidate { value, price, .. } in list {
                if let Some(price) = price.filter(|price| !(0.0..=MOST).contains(price)) {
                    let path = short(path);
                    let text = format!("{path} has a price of {price}; allowed: 0 to {MOST}");
                    return Err(refuse(text));
                }
                match value {
                    Value::String(name) if is_part && !name.starts_with("shelf:") => {
                        *name = folder.join(&*name).display().to_string();
                    }
                    _ => {}
                }
            }
        }
        Ok(said)
    }
}
