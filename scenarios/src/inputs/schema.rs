//! The JSON Schema of the files, so that an editor completes and checks them.

use crate::files::kind::FileKind;
use crate::inputs::build::Build;
use crate::inputs::candidates::CandidatesFile;
use crate::inputs::cell::Cell;
use crate::inputs::columns::ColumnNames;
use crate::inputs::controller::Controller;
use crate::inputs::donor::Donor;
use crate::inputs::gearbox::Gearbox;
use crate::inputs::learnt::Learnt;
use crate::inputs::motor::Motor;
use crate::inputs::pack::Pack;
use crate::inputs::scenario::Scenario;
use crate::inputs::tyre::Tyre;
use schemars::schema_for;
use serde_json::Value;

/// The JSON Schema (draft 2020-12) of a kind of file.
pub fn schema(kind: FileKind) -> Value {
    let schema = match kind {
        FileKind::Scenario => schema_for!(Scenario),
        FileKind::Build => schema_for!(Build),
        FileKind::Donor => schema_for!(Donor),
        FileKind::Gearbox => schema_for!(Gearbox),
        FileKind::Motor => schema_for!(Motor),
        FileKind::Controller => schema_for!(Controller),
        FileKind::Pack => schema_for!(Pack),
        FileKind::Cell => schema_for!(Cell),
        FileKind::Tyre => schema_for!(Tyre),
        FileKind::Measured => schema_for!(Learnt),
        FileKind::Columns => schema_for!(ColumnNames),
        FileKind::Candidates => schema_for!(CandidatesFile),
    };
    schema.to_value()
}
