//! Long descents against closed forms: the energy of height `m·g·h`, the balance of forces at the
//! speed where lift-off regen holds a slope, and what is left to the brakes by a full pack.

use crate::bench;

use bench::{Bench, assert_near, assert_share};
use sim_core::car::Slope;
use sim_core::climb::Hill;
use sim_core::descent::{Coasting, Descent, coasting, descent};
use sim_core::ledger::Account;
use sim_core::pieces::Tolerance;
use sim_core::units::GRAVITY_MPS2;
use sim_core::{Limit, State};

fn hill(grade: f64, speed_mps: f64, distance_m: f64) -> Hill {
    Hill { slope: Slope::from_grade(-grade), speed_mps, distance_m }
}

fn down(bench: &Bench, start: &State, hill: &Hill, gear: usize) -> Descent {
    descent(&bench.car(), start, hill, gear, &Tolerance::default(), &mut ()).unwrap()
}

/// `m·g·h` with `h = L·sin θ`, of the bench car.
fn height_j(bench: &Bench, hill: &Hill) -> f64 {
    bench.parts.chassis.mass_kg * GRAVITY_MPS2 * hill.distance_m * -hill.slope.sin
}

/// `m·g·h` becomes air, rolling, friction and the regen chain down to the cells; nothing is lost.
#[test]
fn the_height_is_accounted_for() {
    let bench = Bench::light_car();
    let hill = hill(0.08, 14.0, 4000.0);
    for (charge, gear) in [(0.5, 1), (0.5, 2), (0.995, 2), (1.0, 3)] {
        let found = down(&bench, &bench.parked(charge), &hill, gear);
        let books = &found.end.ledger;
        assert_near(found.end.state.distance_m, 4000.0, 1e-3, "length");
        assert_share(-books[Account::Potential], height_j(&bench, &hill), 1e-6, "m·g·h");
        assert!(books.residual_share() < 1e-9, "{}", books.residual_share());
        assert_share(found.friction_j, books[Account::Brakes], 1e-12, "friction");
        // What went through the terminals is what the cells gave less what stayed in the pack.
        let out_j = books[Account::Chemical]
            - books[Account::PackResistance]
            - books[Account::Polarisation];
        assert_near(found.drawn_j - found.regen_j, out_j, 0.002 * height_j(&bench, &hill), "pack");
    }
}

/// Without losses and without regen the friction brakes take all of `m·g·h`, at `m·g·sin θ·v`.
#[test]
fn brakes_alone_take_the_whole_height() {
    let bench = Bench::ideal_car();
    let hill = hill(0.1, 20.0, 5000.0);
    let found = down(&bench, &bench.parked(0.5), &hill, 0);
    assert_share(found.friction_j, height_j(&bench, &hill), 1e-9, "friction");
    let power_w = height_j(&bench, &hill) / (5000.0 / 20.0);
    assert_share(found.peak_friction_w, power_w, 1e-9, "power");
    assert_eq!((found.regen_j, found.cut_back), (0.0, None));
}

/// Without losses and with regen strong enough, the pack gets all of `m·g·h`.
#[test]
fn regen_alone_takes_the_whole_height() {
    let bench = Bench::ideal_car().with(|p| p.braking.lift_off_nm = 5000.0);
    let hill = hill(0.1, 20.0, 5000.0);
    let found = down(&bench, &bench.parked(0.5), &hill, 0);
    assert_eq!(found.friction_j, 0.0);
    assert_share(found.regen_j, height_j(&bench, &hill), 1e-6, "regen");
}

/// Lights of 500 W on a road that needs no motor: 500 W for the time that it takes.
#[test]
fn lights_are_drawn_all_the_way_down() {
    let lit = sim_core::auxiliaries::Auxiliaries::low_voltage(500.0);
    let bench = Bench::ideal_car().with(|p| p.auxiliaries = lit);
    let found = down(&bench, &bench.parked(0.5), &hill(0.1, 20.0, 5000.0), 0);
    assert_share(found.drawn_j, 500.0 * 5000.0 / 20.0, 1e-6, "lights");
    assert_eq!(found.regen_j, 0.0);
}

/// A full pack takes nothing: what height leaves after air, rolling, gearbox and motor drag goes
/// into the friction brakes; and the limit that says so is the charge window.
#[test]
fn a_full_pack_leaves_all_to_the_brakes() {
    let bench = Bench::light_car();
    let hill = hill(0.08, 14.0, 3000.0);
    let half = down(&bench, &bench.parked(0.5), &hill, 2);
    let full = down(&bench, &bench.parked(1.0), &hill, 2);
    assert_eq!(full.cut_back, Some((0.0, Limit::Charge)));
    assert!(full.regen_j < 1e-3 * half.regen_j, "{} of {} J", full.regen_j, half.regen_j);
    let books = &full.end.ledger;
    let drag_j: f64 =
        [Account::Rolling, Account::Air, Account::Gearbox, Account::Windage, Account::Iron]
            .iter()
            .chain(&[Account::Copper, Account::Controller, Account::Auxiliaries])
            .map(|account| books[*account])
            .sum();
    assert_share(full.friction_j, height_j(&bench, &hill) - drag_j, 0.01, "friction");
    assert!(full.friction_j > half.friction_j + 0.9 * half.regen_j);
    // A pack that fills on the way cuts back on the way.
    let nearly = down(&bench, &bench.parked(0.995), &hill, 2);
    let (at_s, limit) = nearly.cut_back.unwrap();
    assert!(at_s > 5.0 && limit == Limit::Charge, "{at_s} s, {limit:?}");
    assert!(nearly.regen_j < half.regen_j && nearly.friction_j < full.friction_j);
}

/// No regen into cells below freezing (common practice, no source).
#[test]
fn cold_cells_leave_all_to_the_brakes() {
    let bench = Bench::light_car().around(|a| a.air_k = 268.15);
    let found = down(&bench, &bench.parked(0.5), &hill(0.08, 14.0, 2000.0), 2);
    assert_eq!(found.cut_back, Some((0.0, Limit::CellTemperature)));
    assert!(found.regen_j < 1.0 && found.friction_j > 0.0);
}

/// `m·g·sin θ = T + C·v²` for one radian a metre: the speed at which lift-off regen holds.
#[test]
fn lift_off_settles_where_forces_balance() {
    let slope = Slope::from_grade(-0.06);
    let pull_n = 1000.0 * GRAVITY_MPS2 * -slope.sin;
    let car = |torque_nm: f64, a_n: f64, c: f64| {
        let bench = Bench::ideal_car().with(|p| {
            p.road_load = bench::road_load(1000.0, a_n, c);
            p.braking.lift_off_nm = torque_nm;
            p.motor.max_radps = 60.0;
        });
        coasting(&bench.car(), &bench.parked(0.5), slope, 0)
    };
    match car(300.0, 0.0, 0.8) {
        Coasting::Settles(found) => {
            assert_share(found, f64::sqrt((pull_n - 300.0) / 0.8), 1e-6, "speed");
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(car(300.0, 0.0, 0.0), Coasting::RunsAway);
    assert_eq!(car(0.0, 700.0, 0.0), Coasting::Stops);
}
