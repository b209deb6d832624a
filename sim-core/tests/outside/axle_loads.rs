//! Axle loads by the equilibrium of moments about the front axle (any mechanics handbook).

use crate::bench::assert_share;
use sim_core::mass::{Chassis, Item};

/// By hand: 800 kg, of which 60 % in front, on 2.5 m make 800 kg·m; without 100 kg at 0.2 m and
/// with 250 kg at 1.6 m it is 1180 kg·m of 950 kg, 472 kg on the rear axle and 478 kg in front.
#[test]
fn what_is_put_in_and_taken_out_moves_the_axle_loads() {
    let items = [
        Item { mass_kg: -100.0, behind_front_axle_m: 0.2 },
        Item { mass_kg: 250.0, behind_front_axle_m: 1.6 },
    ];
    let found = Chassis::load(800.0, 0.6, 2.5, 0.5, 2.0, &items);
    assert_share(found.mass_kg, 950.0, 1e-12, "mass");
    assert_share(found.cg_behind_front_axle_m, 1180.0 / 950.0, 1e-12, "centre of gravity");
    assert_share(found.rear_axle_kg(), 472.0, 1e-12, "rear axle");
    assert_share(found.front_axle_kg(), 478.0, 1e-12, "front axle");
    let rest = (found.wheelbase_m, found.cg_height_m, found.wheels_inertia_kg_m2);
    assert_eq!(rest, (2.5, 0.5, 2.0));
}
