//! The physics of a converted car on a road: forces, losses, heat, charge and time.
//!
//! Everything here is in SI units and a name carries its unit. The crate reads no files, prints
//! nothing and starts no threads. A [`Car`] is a set of parts; [`Car::act`] answers the one
//! question of longitudinal dynamics, *what happens at this instant if the driver asks for this*,
//! and three ways of stepping time stand on it:
//!
//! * [`follow`](follow::follow) drives a speed [`Trace`] with a fixed-step implicit midpoint rule,
//!   without a heap allocation;
//! * [`pieces`] integrates the same right-hand side with the adaptive Dormand–Prince pair of
//!   `ode_solvers`, piece by piece between located events;
//! * [`pull`], [`climb`] and [`descent`] are runs made of such pieces.
//!
//! Every run returns a [`Ledger`] that says where each joule went.
//!
//! # A car in twenty lines
//!
//! Each part has a way to begin with: what it cannot do without is asked for, and what is not set is
//! without loss and without limit.
//!
//! ```
//! use sim_core::{auxiliaries::*, brakes::*, car::*, controller::*, gearbox::*, mass::*, motor::*};
//! use sim_core::{climb::*, cooling::*, driver::*, follow::*, pack::*, road_load::*, tyre::*, units::*};
//! use sim_core::{State, Trace};
//!
//! let gears = [3.6, 2.1, 1.4, 1.0].map(|ratio| Gear { ratio: 4.1 * ratio, efficiency: 0.95 });
//! let envelope = Envelope::from_nameplate(110.0, 30_000.0, 18_000.0, 800.0, 108.0);
//! let copper = Coefficients { copper_w_per_a2: 0.03, fixed_w: 50.0, ..Coefficients::default() };
//! let parts = Parts {
//!     chassis: Chassis::load(720.0, 0.6, 2.3, 0.5, 2.0, &[
//!         Item { mass_kg: -150.0, behind_front_axle_m: 0.1 }, // engine, tank, exhaust
//!         Item { mass_kg: 330.0, behind_front_axle_m: 1.2 }, // motor, pack, driver
//!     ]),
//!     road_load: RoadLoad::Coefficients {
//!         drag_area_m2: 0.65, rolling: 0.011, rolling_per_mps: 0.0, bearings_n: 12.0,
//!     },
//!     rolling_radius_m: 0.27,
//!     driven: DrivenAxle::Front,
//!     gearbox: Gearbox::new(gears.to_vec())?,
//!     motor: Motor { losses: Losses::from(copper), ..Motor::ideal(envelope, 450.0, 800.0) },
//!     controller: Controller { loss_w_per_a: 1.0, ..Controller::ideal() },
//!     pack: Pack { harness_ohm: 0.03, ..Pack::ideal(108.0, as_from_ah(100.0)) },
//!     auxiliaries: Auxiliaries::low_voltage(150.0),
//!     braking: Braking { lift_off_nm: 15.0, ..Braking::friction(0.65) },
//!     coolant: Coolant::of_small_car(),
//! };
//! let air = Surroundings { altitude_m: 0.0, air_k: k_from_c(20.0), head_wind_mps: 0.0, friction: 0.8 };
//! let car = Car::new(parts, air);
//!
//! // To 50 km/h, along, and to a stop again.
//! let speeds = [0.0, 50.0, 50.0, 0.0].map(mps_from_kmh);
//! let road = Trace::new(&[0.0, 15.0, 75.0, 90.0], &speeds, &[0.0; 3])?;
//! let driver = Driver { shifting: Shifting::Efficient, start_gear: 0 };
//! let parked = State::parked(0.9, air.air_k);
//! let drive = follow(&car, &road, &driver, &parked, 0, STEP_S, &mut ());
//! assert!(drive.within_tolerance() && (drive.distance_m - 75.0 * 50.0 / 3.6).abs() < 0.1);
//! assert!(drive.ledger.residual_share() < 1e-9);
//! println!("{:.3} kWh out of the pack", kwh_from_j(drive.terminal_j));
//!
//! // 8 % at 60 km/h for 3 km, in third.
//! let hill = Hill { slope: Slope::from_grade(0.08), speed_mps: mps_from_kmh(60.0), distance_m: 3e3 };
//! let up = climb(&car, &parked, &hill, 2, &Default::default(), &mut ())?;
//! assert!(up.held());
//! println!("winding at {:.0} °C", c_from_k(up.extremes.hottest_k[sim_core::Node::Winding]));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod car;
pub mod charging;
pub mod curve;
mod drive;
pub mod heat;
mod hold;
pub mod ledger;
pub mod limit;
mod parts;
pub mod pieces;
pub mod pull;
pub mod root;
pub mod state;
mod stiff;
pub mod units;
pub mod warmth;
pub mod windows;

pub use along::Along;
pub use car::{Car, Flow, Request, Surroundings};
pub use curve::Curve;
pub use drive::{along, driver, extremes, follow, range, reference, trace};
pub use heat::Node;
pub use hold::{climb, descent, endurance, steady};
pub use ledger::Ledger;
pub use limit::Limit;
pub use parts::{
    air, auxiliaries, boxes, brakes, cable, cell, controller, cooling, gearbox, lead_battery, mass,
    motor, pack, precharge, road_load, short_circuit, tyre,
};
pub use state::State;
pub use trace::Trace;

/// A part that cannot be: which field, the value found and what is allowed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{field} is {value}; allowed: {allowed}")]
pub struct Invalid {
    /// Name of the quantity, as in the part's own documentation.
    pub field: String,
    /// The value that was given.
    pub value: String,
    /// What would have been allowed.
    pub allowed: String,
}

impl Invalid {
    /// Builds the error from anything that prints.
    pub fn new(
        field: impl Into<String>,
        value: impl std::fmt::Display,
        allowed: impl Into<String>,
    ) -> Self {
        Self { field: field.into(), value: value.to_string(), allowed: allowed.into() }
    }
}
