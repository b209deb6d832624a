//! What is true of a car before it moves: masses, gearing, pack.

use super::{Figure, Setup};
use crate::units;
use sim_core::Node;

/// The figures of a standing car.
///
/// `rpm_at_110_kmh_pct` is the speed of the motor shaft at 110 km/h in the highest gear, over the
/// lower of the highest speeds of motor and gearbox; above 100 that speed cannot be driven.
pub fn figures(setup: &Setup<'_>) -> Vec<Figure> {
    let car = setup.car;
    let (chassis, pack) = (&car.parts().chassis, &car.parts().pack);
    let (first, last) = (0, car.gears() - 1);
    let turning_pct =
        |kmh: f64| units::pct_of(car.motor_radps(last, units::mps_from_kmh(kmh)), car.max_radps());
    vec![
        Figure::lower("running_kg", chassis.mass_kg),
        Figure::lower("front_axle_kg", chassis.front_axle_kg()),
        Figure::lower("rear_axle_kg", chassis.rear_axle_kg()),
        Figure::higher(
            "usable_kwh",
            units::kwh_from_j(pack.usable_j(setup.start.temperature_k[Node::Cells])),
        ),
        Figure::lower("rpm_at_110_kmh_pct", turning_pct(110.0)),
        Figure::plain(
            "first_gear_rpm_limit_kmh",
            units::kmh_from_mps(car.top_speed_by_rpm_mps(first)),
        ),
        Figure::higher(
            "top_gear_rpm_limit_kmh",
            units::kmh_from_mps(car.top_speed_by_rpm_mps(last)),
        ),
    ]
}
