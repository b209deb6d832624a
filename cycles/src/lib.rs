//! Speed schedules and roads: what a run follows.
//!
//! A [`Schedule`] holds speed and slope against time. It comes from a built-in cycle ([`find`],
//! [`catalogue`]) or from the user's own file ([`load`]); [`resolve`] takes either name. Nothing
//! here knows of vehicles, and nothing is printed. Everything is in SI; [`units`] is the only
//! place where a unit is changed.
//!
//! ```
//! let wltc = cycles::find("wltc-3b")?;
//! assert_eq!(wltc.duration_s(), 1800.0);
//! assert_eq!(wltc.phase("low")?.duration_s(), 589.0);
//! # Ok::<(), cycles::Error>(())
//! ```
//!
//! A road without a clock is driven within its limits:
//!
//! ```
//! let table = b"distance_km,limit_kmh,elevation_m,stop_s\n0,50,300,0\n2,80,340,5\n6,50,420,0\n";
//! let road = cycles::read("home.csv".as_ref(), table, &Default::default())?.schedule;
//! assert!(road.peak_speed_mps() <= 80.0 / 3.6 && (road.climb_m() - 120.0).abs() < 0.01);
//! println!("{:.1} min, {} stops", road.duration_s() / 60.0, road.stops());
//! # Ok::<(), cycles::Error>(())
//! ```
//!
//! # Files
//!
//! A file ends in `.csv` or `.gpx`, holds UTF-8 text (in GPX also another code of one byte a letter)
//! and is at most [`FILE_LIMIT_BYTES`] long, with at most [`ROW_LIMIT`] rows or points. A CSV file has a
//! header of known columns in any order and case; lines that begin with `#` are comments. The
//! unit stands in the name of the column.
//!
//! | columns | what they make |
//! |---|---|
//! | `time_s` or `time_min`, and `speed_kmh`, `speed_mph` or `speed_mps` | a schedule as it stands |
//! | `distance_m`, `distance_km` or `distance_mi`, and a speed | a schedule with constant acceleration from row to row |
//! | a distance, and `limit_kmh` or `limit_mph` | a road, driven from rest to rest within its limits by a driver of [`Comfort`] |
//! | a time, `latitude_deg` and `longitude_deg` | a recorded track, as GPX 1.0 or 1.1 holds one too |
//!
//! To each may come `elevation_m` or `elevation_ft`, or (but for tracks) `grade_pct`, which holds
//! from its row to the next; where there is a distance, also `stop_s`, the time for which the car
//! stands there. Elevation that comes with times is taken for a recording and cleaned, which
//! [`Cleaning`] accounts for: hills of 1 km keep their climb within 5 %, noise of ±3 m does not
//! climb, and what the recorder made up over drop-outs is bridged. Elevation that comes with distances is
//! taken as written, but for a route of distances alone whose rows are nearer together than 200 m.
//! [`Elevation`] changes that.
//!
//! Distances between positions are geodesics on the WGS 84 ellipsoid. They are level; the road
//! over them is longer by 0.7 % at most, at a grade of 12 %, which is left out.

//! A [`Recording`] holds all that a car's log has: volts, amperes, charge, temperatures and weather
//! beside the speed, each in SI on the log's own times. Its columns are told by their words and
//! units ([`Signal`]), in the separators, decimals, clocks and codes of any spreadsheet, and
//! [`Fault`]s in it are found and named. A recording is at most [`RECORDING_ROW_LIMIT`] rows long.

mod bends;
mod catalogue;
mod channel;
mod clock;
mod doubts;
mod elevation;
mod error;
mod faults;
mod figures;
mod gpx;
mod heading;
mod interpolated;
mod limits;
mod load;
mod loaded;
mod one_road;
mod pace;
mod planned;
mod recording;
mod rows;
mod sample;
mod schedule;
mod signal;
mod smoothing;
mod standing;
mod table;
mod timed;
mod track;
mod wind;
mod wltc;

pub use catalogue::{Cycle, catalogue, find, is_built_in};
pub use channel::Channel;
pub use elevation::{Cleaning, Elevation};
pub use error::{Error, SHOWN_LIMIT, file, short};
pub use faults::{Fault, FaultKind};
pub use gpx::GPX_DEPTH_LIMIT;
pub use interpolated::Interpolation;
pub use limits::{Comfort, DURATION_LIMIT_S};
pub use load::{load, read, resolve};
pub use loaded::{LoadOptions, LoadedRoad};
pub use pace::{BENDS_MPS2, Held, Holds, Pace, Section};
pub use recording::{RECORDING_ROW_LIMIT, Recording, RecordingOptions};
pub use rows::COLUMN_LIMIT;
pub use schedule::{Phase, SLOPE_LIMIT, SPEED_LIMIT_MPS, Schedule};
pub use signal::Signal;
pub use sim_core::{Along, units};
pub use table::{Columns, FILE_LIMIT_BYTES, ROW_LIMIT, is_utf16};
pub use wind::head_wind_mps;
pub use wltc::WltcClass;
