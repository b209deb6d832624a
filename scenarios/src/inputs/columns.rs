//! What the columns of a logger hold: a file that serves all its recordings.

use crate::files::allowed::within;
use crate::files::error::{Error, Source};
use crate::files::field_path::FieldPath;
use crate::files::origins::{Folder, Origins};
use crate::files::reading::read;
use crate::files::tree::{parse, text_of};
use crate::files::unfit::explain;
use cycles::RecordingOptions;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::Path;

/// What the columns of a logger hold, where their names do not say it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ColumnNames {
    /// Where the JSON Schema of this file is.
    #[serde(rename = "$schema", skip_serializing_if = "Option::is_none")]
    pub schema: Option<String>,
    /// Anything worth remembering.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The name of each column in the recording by what it holds, with its unit: `pack_v`,
    /// `speed_mph`, `winding_f`. A minus before the name in the recording turns its sign.
    pub columns: BTreeMap<String, String>,
    /// Rows a second, Hz, of recordings without a column of times.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_hz: Option<f64>,
}

impl ColumnNames {
    /// Reads a file and makes options of it.
    ///
    /// # Errors
    /// What [`input_text`](crate::input_text) refuses; a text that is not JSON; a field that is
    /// unknown, missing, of the wrong type or out of range. Each is one sentence with file and path.
    pub fn open(path: &Path) -> Result<RecordingOptions, Error> {
        let file = path.display().to_string();
        let tree = parse(&text_of(path)?, &file)?;
        let mut origins = Origins::default();
        let folder = Folder::Disk(path.parent().unwrap_or(Path::new("")).to_owned());
        origins.add(String::new(), Source::File(file), folder);
        let names: Self =
            read(&tree).map_err(|unfit| explain(&origins, unfit, "the names of columns"))?;
        let rate_hz = FieldPath::ROOT
            .optional("rate_hz", names.rate_hz, within(1e-3, 1e4))
            .map_err(|fault| origins.place(fault))?;
        Ok(RecordingOptions { columns: names.columns.into_iter().collect(), rate_hz })
    }
}
