//! The JSON Schema of the files, so that an editor completes and checks them.

use crate::files::kind::Kind;
use crate::inputs::build::Build;
use crate::inputs::cell::Cell;
use crate::inputs::controller::Controller;
use crate::inputs::donor::Donor;
use crate::inputs::gearbox::Gearbox;
use crate::inputs::motor::Motor;
use crate::inputs::pack::Pack;
use crate::inputs::scenario::Scenario;
use schemars::schema_for;

/// The JSON Schema (draft 2020-12) of a kind of file.
pub fn schema(kind: Kind) -> serde_json::Value {
    let schema = match kind {
        Kind::Scenario => schema_for!(Scenario),
        Kind::Build => schema_for!(Build),
        Kind::Donor => schema_for!(Donor),
        Kind::Gearbox => schema_for!(Gearbox),
        Kind::Motor => schema_for!(Motor),
        Kind::Controller => schema_for!(Controller),
        Kind::Pack => schema_for!(Pack),
        Kind::Cell => schema_for!(Cell),
    };
    schema.to_value()
}
