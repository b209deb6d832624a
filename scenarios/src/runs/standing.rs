//! What is true of a car before it moves: masses, gearing, pack.

use crate::prepared::Setup;
use crate::runs::figure::{Reading, Report, Unit, higher, lower, plain};
use sim_core::pull::steepest_start;
use sim_core::units;

/// The figure that parts are bought by.
pub const PRICE: &str = "price";

/// A standing car.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandingReport {
    /// Mass with load, kg.
    pub running_kg: f64,
    /// Mass on the front axle, kg.
    pub front_axle_kg: f64,
    /// Mass on the rear axle, kg.
    pub rear_axle_kg: f64,
    /// Energy that a full pack gives at the cells' temperature, kWh.
    pub usable_kwh: f64,
    /// Speed of the motor shaft at 110 km/h in the highest gear, over the lower of the highest
    /// speeds of motor and gearbox, %.
    pub rpm_at_110_kmh_pct: f64,
    /// Speed at the highest rpm in the lowest gear, km/h.
    pub first_gear_rpm_limit_kmh: f64,
    /// Speed at the highest rpm in the highest gear, km/h.
    pub top_gear_rpm_limit_kmh: f64,
    /// Steepest grade on which it pulls away, %.
    pub start_grade_pct: f64,
    /// Prices of the parts that have one, added up.
    pub price: Option<f64>,
}

/// What is true of a car before it moves; `price` is that of its parts.
pub fn report(setup: &Setup<'_>, price: Option<f64>) -> StandingReport {
    let car = setup.car;
    let (chassis, pack) = (&car.parts().chassis, &car.parts().pack);
    let (first, last) = (0, car.gears() - 1);
    let fast_mps = units::mps_from_kmh(110.0);
    let limit_kmh = |gear| units::kmh_from_mps(car.top_speed_by_rpm_mps(gear));
    StandingReport {
        running_kg: chassis.mass_kg,
        front_axle_kg: chassis.front_axle_kg(),
        rear_axle_kg: chassis.rear_axle_kg(),
        usable_kwh: units::kwh_from_j(pack.usable_at_j(&setup.start.temperature_k)),
        rpm_at_110_kmh_pct: units::pct_of(car.motor_radps(last, fast_mps), car.max_radps()),
        first_gear_rpm_limit_kmh: limit_kmh(first),
        top_gear_rpm_limit_kmh: limit_kmh(last),
        start_grade_pct: units::pct_from_share(
            (0..car.gears()).map(|gear| steepest_start(car, setup.start, gear)).fold(0.0, f64::max),
        ),
        price,
    }
}

impl Report for StandingReport {}

/// The figures of a standing car.
pub const FIGURES: &[Reading<StandingReport>] = &[
    lower("running_kg", Unit::Kg, "mass with load", |r| Some(r.running_kg)),
    lower("front_axle_kg", Unit::Kg, "mass on the front axle, loaded", |r| Some(r.front_axle_kg)),
    lower("rear_axle_kg", Unit::Kg, "mass on the rear axle, loaded", |r| Some(r.rear_axle_kg)),
    higher(
        "usable_kwh",
        Unit::Kwh,
        "energy that the full pack gives at the cells' temperature at the start",
        |r| Some(r.usable_kwh),
    ),
    lower(
        "rpm_at_110_kmh_pct",
        Unit::Pct,
        "rpm at 110 km/h in the highest gear, over the highest rpm of motor and gearbox; above 100 \
         it cannot be driven",
        |r| Some(r.rpm_at_110_kmh_pct),
    ),
    plain("first_gear_rpm_limit_kmh", Unit::Kmh, "speed at the highest rpm in 1st gear", |r| {
        Some(r.first_gear_rpm_limit_kmh)
    }),
    higher(
        "top_gear_rpm_limit_kmh",
        Unit::Kmh,
        "speed at the highest rpm in the highest gear",
        |r| Some(r.top_gear_rpm_limit_kmh),
    ),
    higher(
        "start_grade_pct",
        Unit::Pct,
        "steepest grade on which the car pulls away, in the gear that is best for it",
        |r| Some(r.start_grade_pct),
    ),
    lower(
        PRICE,
        Unit::Money,
        "prices of the parts that have one, added up, in the currency of money",
        |r| r.price,
    ),
];
