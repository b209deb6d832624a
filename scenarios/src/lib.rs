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
//!
//! The demo over the WLTC, and up its own climb in the best gear:
//!
//! ```
//! use scenarios::runs::{climb, drive, trace};
//! use scenarios::{Loaded, Road};
//!
//! let demo = Loaded::demo()?.with(&["start.charge_pct=90".parse()?])?;
//! let wltc = demo.read(&Road::Named("wltc".to_owned()), &cycles::LoadOptions::default())?;
//! let wltc = trace(&wltc.schedule)?;
//! let driven = drive::drive(&demo.setup(), &wltc, &mut ());
//! let report = drive::report(&demo.setup(), "wltc", &wltc, &driven);
//! println!("{:.2} kWh, {:.0} Wh/km", report.energy_kwh, report.wh_per_km);
//! assert!(report.energy_kwh > 0.0 && report.charge_to_pct < 90.0);
//!
//! let hill = demo.drives.climb.ok_or("the demo has a climb")?;
//! let best = climb::best(&demo.setup(), &hill)?;
//! println!("gear {}, winding at most {:.0} °C", best.gear, best.peak.winding_c);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod advice;
pub mod basis;
mod cells_in_series;
mod field;
mod files;
mod inputs;
mod known_part;
mod loaded;
pub mod measured;
mod plausible;
mod prepared;
pub mod runs;
pub mod studies;
mod taking_in;
pub mod verdict;
mod warning;
pub mod words;

pub use basis::SaidBy;
pub use field::Field;
pub use files::assumption::Assumption;
pub use files::bounds::FILE_LIMIT_BYTES;
pub use files::error::{Error, Source};
pub use files::kind::FileKind;
pub use files::overrides::Override;
pub use files::short_path::short as short_path;
pub use files::tree::text_of as input_text;
pub use files::{bounds, demo, output_file, part_file, shelf};
pub use inputs::drives::{Drives, FullThrottle};
pub use inputs::fields::counts;
pub use inputs::road::Road;
pub use inputs::schema::schema;
pub use inputs::wltc::Wltc;
pub use inputs::{
    auxiliaries, build, candidates, cell, charger, columns, conditions, controller, day, donor,
    driver, gearbox, learnt, money, motor, outlet, pack, price, regen, scenario, season, start,
    taken_in, tyre, wiring,
};
pub use known_part::{KIND as KNOWN_PART, known_part};
pub use loaded::Loaded;
pub use prepared::{Facts, Prepared};
pub use sim_core::units;
pub use warning::{Severity, Warning};
