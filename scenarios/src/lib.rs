//! The files that describe a conversion, and the cars that are made of them.
//!
//! A [`Scenario`](scenario::Scenario) file names a [`Build`](build::Build), the weather, the state
//! at the start and the drives. [`Loaded::open`] reads it with all the files it refers to;
//! [`Loaded::with`] puts other values in and makes a [`Prepared`] car of it. What files say (units
//! in the names, most of it optional) is kept apart from what the simulation drives with
//! (`sim_core`, SI only); the way from the one to the other checks everything, and writes down
//! each value that it had to assume.
//!
//! ```
//! let loaded = scenarios::Loaded::demo()?;
//! let lighter = loaded.with(&["pack.cell.mass_kg=1.5".parse()?])?;
//! assert!(lighter.car.parts().chassis.mass_kg < loaded.prepare()?.car.parts().chassis.mass_kg);
//! # Ok::<(), scenarios::Error>(())
//! ```

mod files;
mod inputs;
mod loaded;
mod prepared;
pub mod runs;
pub mod studies;
mod warning;
mod wltc;

pub use cycles::units;
pub use files::assumption::Assumption;
pub use files::error::Error;
pub use files::kind::Kind;
pub use files::overrides::Override;
pub use files::tree::{FILE_LIMIT_BYTES, text_of as input_text};
pub use files::{demo, output_file, shelf};
pub use inputs::drives::{Drives, FullThrottle};
pub use inputs::road::Road;
pub use inputs::schema::schema;
pub use inputs::{
    auxiliaries, build, cell, charger, conditions, controller, day, donor, driver, gearbox, money,
    motor, outlet, pack, regen, scenario, season, start, tyre,
};
pub use loaded::Loaded;
pub use prepared::{Facts, Prepared};
pub use warning::{Severity, Warning};
pub use wltc::Wltc;
