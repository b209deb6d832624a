//! Speed traces and roads: what a run follows.
//!
//! A [`Trace`] holds speed and slope against time. It comes from a built-in cycle ([`find`]) or
//! from the user's own file ([`load`]); [`resolve`] takes either name. Nothing here knows of
//! vehicles, and nothing is printed. Everything is in SI; [`units`] is the only place where a
//! unit is changed.
//!
//! ```
//! let wltc = cycles::find("wltc")?;
//! assert_eq!(wltc.duration_s(), 1800.0);
//! assert_eq!(wltc.phase("low")?.duration_s(), 589.0);
//! # Ok::<(), cycles::Error>(())
//! ```

mod catalogue;
mod elevation;
mod error;
mod limits;
mod load;
mod table;
mod timed;
mod trace;
mod track;
pub mod units;

pub use catalogue::{Cycle, catalogue, find};
pub use elevation::{Cleaning, Elevation};
pub use error::Error;
pub use limits::Comfort;
pub use load::{LoadOptions, Loaded, load, resolve};
pub use table::{Columns, FILE_LIMIT_BYTES};
pub use trace::{Phase, SLOPE_LIMIT, SPEED_LIMIT_MPS, Trace};
