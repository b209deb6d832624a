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

mod assumption;
pub mod auxiliaries;
pub mod build;
pub mod cell;
pub mod charger;
pub mod conditions;
pub mod controller;
pub mod day;
pub mod demo;
pub mod donor;
pub mod driver;
pub mod drives;
mod error;
pub mod gearbox;
mod kind;
mod loaded;
pub mod money;
pub mod motor;
pub mod outlet;
pub mod output_file;
mod overrides;
pub mod pack;
mod place;
mod prepared;
pub mod regen;
mod road;
pub mod runs;
mod scale;
pub mod scenario;
mod schema;
pub mod season;
pub mod series;
pub mod shelf;
pub mod start;
mod suggestion;
mod tree;
pub mod tyre;
mod warning;

pub use assumption::Assumption;
pub use cycles::units;
pub use drives::{Drives, FullThrottle};
pub use error::Error;
pub use kind::Kind;
pub use loaded::Loaded;
pub use overrides::Override;
pub use prepared::{Facts, Prepared};
pub use road::Road;
pub use schema::schema;
pub use tree::{FILE_LIMIT_BYTES, text_of as input_text};
pub use warning::{Severity, Warning};
