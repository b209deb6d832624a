//! Packs in several boxes: against the same cells in one box, and against an integration by
//! `ode_solvers` in which each box has its own charge, polarisation and temperature.

use crate::bench;

use bench::{Bench, act, assert_near, assert_share, cases, shifting_driver, stop_and_go};
use ode_solvers::{Dopri5, SVector, System};
use proptest::prelude::*;
use sim_core::boxes::{MOST_APART, MOST_BOXES};
use sim_core::car::{Request, Slope};
use sim_core::charging::{Supply, charge};
use sim_core::climb::{Hill, climb};
use sim_core::follow::{STEP_S, follow};
use sim_core::pack::Pack;
use sim_core::short_circuit::ShortCircuit;
use sim_core::{Limit, Node, State};

/// A part of the cells of a pack, with its share of mass and wall.
fn part(pack: &Pack, series: f64) -> Pack {
    let share = series / pack.series;
    Pack {
        series,
        harness_ohm: share * pack.harness_ohm,
        heat_capacity_j_per_k: share * pack.heat_capacity_j_per_k,
        conductance_w_per_k: share * pack.conductance_w_per_k,
        ..pack.clone()
    }
}

/// The same cells in boxes.
fn split(pack: &Pack, series: &[f64]) -> Pack {
    Pack::in_line(series.iter().map(|n| part(pack, *n)).collect()).unwrap()
}

fn in_boxes(bench: &Bench, boxes: Vec<Pack>) -> Bench {
    bench.clone().with(|p| p.pack = Pack::in_line(boxes).unwrap())
}

/// Equal cells with their shares of mass and wall are the same pack wherever its walls are.
#[test]
fn a_pack_in_equal_boxes_is_the_pack_in_one() {
    let whole = Bench::light_car();
    let hill = Hill { slope: Slope::from_grade(0.06), speed_mps: 15.0, distance_m: 4000.0 };
    let supply = Supply { wall_w: 2000.0, charger_w: 5000.0, efficiency: 0.9, end_c_rate: 0.05 };
    let trace = stop_and_go(18.0, 6, true);
    let runs = |bench: &Bench| {
        let (car, start) = (bench.car(), bench.parked(0.8));
        let drive = follow(&car, &trace, &shifting_driver(), &start, 0, STEP_S, &mut ());
        let up = climb(&car, &start, &hill, 1, &Default::default(), &mut ()).unwrap();
        let full = charge(&car, &bench.parked(0.3), &supply, 1.0, 1e6, |_| ());
        (drive, up, full)
    };
    let (drive, up, full) = runs(&whole);
    let pack = &whole.parts.pack;
    for series in [&[20.0, 12.0][..], &[11.0, 11.0, 10.0], &[8.0; MOST_BOXES]] {
        let boxed = whole.clone().with(|p| p.pack = split(pack, series));
        let (own_drive, own_up, own_full) = runs(&boxed);
        assert_share(own_drive.terminal_j, drive.terminal_j, 1e-9, "energy of the drive");
        assert_share(own_drive.distance_m, drive.distance_m, 1e-9, "distance");
        assert_near(own_drive.end.charge, drive.end.charge, 1e-10, "charge after the drive");
        assert_eq!(own_drive.limited_s, drive.limited_s);
        assert_near(own_up.end.state.charge, up.end.state.charge, 1e-6, "charge on the hill");
        assert_share(own_full.wall_j, full.wall_j, 1e-9, "energy from the wall");
        assert_share(own_full.time_s, full.time_s, 1e-9, "time of the charge");
        for node in Node::BOXES.into_iter().take(series.len()) {
            let (own, one) = (&own_drive.end.temperature_k, &drive.end.temperature_k);
            assert_near(own[node], one[Node::Cells], 1e-7, "cells after the drive");
            let (own, one) = (&own_up.end.state.temperature_k, &up.end.state.temperature_k);
            assert_near(own[node], one[Node::Cells], 1e-5, "cells on the hill");
            assert_near(
                own_full.peak_cells_k[node],
                full.peak_cells_k[Node::Cells],
                1e-7,
                "charge",
            );
        }
        let (of, fault) =
            (ShortCircuit::of(&boxed.parts.pack, 0.7, 290.0), ShortCircuit::of(pack, 0.7, 290.0));
        assert_share(of.behind_harness_a(), fault.behind_harness_a(), 1e-12, "short circuit");
        assert_share(
            boxed.parts.pack.usable_j(280.0),
            pack.usable_j(280.0),
            1e-12,
            "usable energy",
        );
    }
}

/// What a box is in the integration of its own.
#[derive(Clone)]
struct Cells {
    pack: Pack,
    air_k: f64,
}

impl Cells {
    fn growth(&self, cells_k: f64) -> f64 {
        self.pack.cell.resistance_factor.at(cells_k) * self.pack.resistance_growth
    }

    fn ohm(&self, charge: f64, cells_k: f64) -> f64 {
        self.pack.cell.resistance_ohm.at(charge) * self.growth(cells_k)
    }

    /// Voltage of a cell from its own charge, polarisation and temperature.
    fn cell_v(&self, [charge, polarisation_v, cells_k]: [f64; 3], pack_a: f64) -> f64 {
        let sag_v = self.ohm(charge, cells_k) * pack_a / self.pack.parallel;
        self.pack.cell.open_circuit_v.at(charge) - sag_v - polarisation_v
    }
}

/// `s' = −I/C`, `U' = (R₁·k·i − U)/τ`, `C·T' = n·(R₀·k·i² + U²/(R₁·k)) − G·(T − T_air)` of each box.
struct Boxes {
    each: Vec<Cells>,
    amps: f64,
    swing_a: f64,
}

const NUMBERS: usize = 3 * MOST_BOXES;

fn of_box(y: &SVector<f64, NUMBERS>, i: usize) -> [f64; 3] {
    [y[3 * i], y[3 * i + 1], y[3 * i + 2]]
}

impl Boxes {
    fn pack_a(&self, t: f64) -> f64 {
        self.amps + self.swing_a * (t / 47.0).sin()
    }
}

impl System<f64, SVector<f64, NUMBERS>> for Boxes {
    fn system(&self, t: f64, y: &SVector<f64, NUMBERS>, dy: &mut SVector<f64, NUMBERS>) {
        let pack_a = self.pack_a(t);
        for (i, own) in self.each.iter().enumerate() {
            let [charge, u, k] = of_box(y, i);
            let (pack, cell) = (&own.pack, &own.pack.cell);
            let cell_a = pack_a / pack.parallel;
            let polarisation_ohm = cell.polarisation_ohm * own.growth(k);
            let cells = pack.series * pack.parallel;
            let heat_w = cells * (own.ohm(charge, k) * cell_a * cell_a + u * u / polarisation_ohm);
            dy[3 * i] = -cell_a / (cell.capacity_as * pack.health);
            dy[3 * i + 1] = (polarisation_ohm * cell_a - u) / cell.polarisation_s;
            dy[3 * i + 2] =
                (heat_w - pack.conductance_w_per_k * (k - own.air_k)) / pack.heat_capacity_j_per_k;
        }
    }
}

/// Boxes that differ in cells, strings, health and warmth, drawn from and filled by a current that
/// swings: after half an hour charges, temperatures and voltages are those of the integration.
#[test]
fn each_box_follows_its_own_equations() {
    let light = Bench::light_car();
    let pack = &light.parts.pack;
    let old = Pack {
        health: 0.78,
        resistance_growth: 1.5,
        capacity_spread: 0.05,
        air_rise_k: 15.0,
        ..part(pack, 12.0)
    };
    let mut large = Pack { parallel: 2.0, health: 0.9, ..part(pack, 10.0) };
    large.cell.capacity_as = 0.7 * 360_000.0;
    for (tau_s, volts, kelvins) in [(30.0, 5e-4, 0.02), (60.0, 2e-3, 0.1)] {
        large.cell.polarisation_s = tau_s;
        let boxes = vec![part(pack, 14.0), old.clone(), large.clone()];
        let bench = in_boxes(&light, boxes.clone());
        let car = bench.car();
        for (from, amps, swing_a) in [(0.95, 70.0, 50.0), (0.2, -60.0, 30.0)] {
            let mut state = bench.parked(from);
            let starts_k = [291.0, 311.0, 300.0];
            let mut starts = SVector::zeros();
            for (i, own) in boxes.iter().enumerate() {
                // The order in which the car keeps them: by capacity first, then as stated.
                let node = car.parts().pack.boxes().find(|(b, _)| b.stated == i).unwrap().1;
                state.temperature_k[node] = starts_k[i];
                let least_as = 0.78 * 360_000.0;
                starts[3 * i] = 1.0 - (1.0 - from) * least_as / own.capacity_as();
                starts[3 * i + 2] = starts_k[i];
            }
            let each: Vec<Cells> = boxes
                .iter()
                .map(|own| Cells { pack: own.clone(), air_k: bench::WARM_K + own.air_rise_k })
                .collect();
            let for_s = 1800.0;
            let system = || Boxes { each: each.clone(), amps, swing_a };
            let mut solver = Dopri5::new(system(), 0.0, for_s, 10.0, starts, 1e-10, 1e-10);
            solver.integrate().unwrap();
            assert_near(*solver.x_out().last().unwrap(), for_s, 1e-6, "time of the integration");
            let end = *solver.y_out().last().unwrap();
            for step in 0..1800 {
                let now = car.now(&state, 1.0);
                let flow = car.at_rest(&now, system().pack_a(f64::from(step) + 0.5));
                car.warm(&mut state, &flow, 1.0);
            }
            let pack_a = system().pack_a(for_s);
            let now = car.now(&state, 0.0).pack;
            let own_v: f64 = each
                .iter()
                .enumerate()
                .map(|(i, own)| own.pack.series * own.cell_v(of_box(&end, i), pack_a))
                .sum::<f64>()
                - car.parts().pack.harness_ohm * pack_a;
            assert_share(now.emf_v - now.ohm * pack_a, own_v, volts, "voltage of the pack");
            for (own, node) in car.parts().pack.boxes() {
                let [charge, _, k] = of_box(&end, own.stated);
                let found = car.parts().pack.charge_in(own, state.charge);
                assert_near(found, charge, 2e-5, "charge of a box");
                assert_near(state.temperature_k[node], k, kelvins, "temperature of a box");
            }
            let cells_v =
                each.iter().enumerate().map(|(i, own)| own.cell_v(of_box(&end, i), pack_a));
            let mean_low_v = cells_v.fold(f64::INFINITY, f64::min);
            // The weakest cell is below the mean one of its box.
            assert!(now.cell_spread_v(pack_a).0 < mean_low_v + 2.0 * volts * 3.3);
        }
    }
}

/// 20 modules of 78 % and 12 new ones: the old ones are empty first, by hand.
#[test]
fn the_box_of_the_least_capacity_ends_the_trip_and_is_said() {
    let light = Bench::light_car();
    let pack = Pack { capacity_spread: 0.0, ..light.parts.pack.clone() };
    let old = Pack { health: 0.78, ..part(&pack, 20.0) };
    let bench = in_boxes(&light, vec![part(&pack, 12.0), old]);
    let found = &bench.parts.pack;
    assert_eq!((found.stated, found.others.len()), (1, 1));
    assert_share(found.capacity_as(), 0.78 * 360_000.0, 1e-12, "capacity");
    assert_near(found.mean_charge_when_empty(298.15), 0.1, 1e-12, "empty by the old ones");
    assert_near(found.charge_in(&found.others[0], 0.1), 1.0 - 0.9 * 0.78, 1e-12, "the new ones");
    let state = bench.parked(0.11);
    let car = bench.car();
    assert_eq!(car.box_that_holds(&state, 10.0, Limit::Charge), 1);
    // The same cells in the cold: half of their capacity, and the new ones end it.
    let cold = bench.clone().with(|p| {
        let curve = sim_core::Curve::new(&[(263.15, 0.4), (298.15, 1.0)]).unwrap();
        p.pack = p.pack.changed(|cells| cells.cell.capacity_factor = curve.clone());
    });
    let state = cold.parked(0.7).warmed(Node::Box2, 263.15);
    assert_eq!(cold.car().box_that_holds(&state, 10.0, Limit::Charge), 0);
    // 1 − 0.6 + 0.1 of a cell is kept back, of 0.78 of its capacity.
    let empty = cold.parts.pack.empty_at(&state.temperature_k);
    assert_near(empty, 1.0 - (1.0 - 0.7) / 0.78, 1e-12, "empty by the cold ones");
}

/// Each limit is that of the box which has least of it.
#[test]
fn the_first_box_that_says_no_says_it_for_all() {
    let light = Bench::light_car();
    let pack = &light.parts.pack;
    let mut weak = Pack { parallel: 2.0, ..part(pack, 12.0) };
    weak.cell.discharge_a = 60.0;
    weak.cell.discharge_peak_a = 80.0;
    let bench = in_boxes(&light, vec![part(pack, 20.0), weak]);
    let now = bench.car().now(&bench.parked(0.6), 0.0).pack;
    assert_eq!(now.discharge_a, (160.0, Limit::CellCurrent));
    assert_eq!(bench.parts.pack.discharge_a(), 120.0);
    let flow = act(&bench.car(), &bench.rolling(15.0), Slope::LEVEL, 1, Request::FullThrottle);
    assert_eq!(flow.limit, Some(Limit::CellCurrent));
    assert_share(flow.pack_a, 160.0, 1e-6, "current out");
    // Cold cells in one box alone hold back charging for all.
    let state = bench.parked(0.6).warmed(Node::Box2, 276.15);
    let now = bench.car().now(&state, 0.0).pack;
    let (most_a, by) = now.charge_now_a();
    assert_near(most_a, 60.0, 1e-9, "current in");
    assert_eq!(by, Limit::CellTemperature);
    // And cells near their warning in one box are said of the car.
    let hot = bench.clone().with(|p| {
        let curve = sim_core::Curve::new(&[(323.15, 1.0), (333.15, 0.0)]).unwrap();
        p.pack = p.pack.changed(|cells| cells.cell.discharge_factor = curve.clone());
    });
    let state = hot.parked(0.6).warmed(Node::Box2, 324.15);
    assert_eq!(hot.car().thermal().too_hot(&state.temperature_k), Some(Limit::CellTemperature));
}

#[test]
fn what_cannot_be_in_line_is_refused() {
    let pack = Bench::light_car().parts.pack;
    let said = |boxes| Pack::in_line(boxes).unwrap_err().to_string();
    assert_eq!(said(vec![]), "boxes is a list of 0; allowed: 1 to 4 boxes");
    assert_eq!(said(vec![pack.clone(); 5]), "boxes is a list of 5; allowed: 1 to 4 boxes");
    let mut slow = pack.clone();
    slow.cell.polarisation_s *= MOST_APART * 1.01;
    assert!(said(vec![pack, slow]).contains("at most 3 times"));
}

/// A box: its cells in series and strings, health, growth, and the air about it.
fn boxes() -> impl Strategy<Value = Vec<(f64, f64, f64, f64, f64)>> {
    let own = (4..16u32, 1..3u32, 0.5..1.0f64, 0.8..2.0f64, 0.0..25.0f64);
    let own =
        own.prop_map(|(n, p, health, growth, rise)| (n.into(), p.into(), health, growth, rise));
    prop::collection::vec(own, 2..=MOST_BOXES)
}

fn of(bench: &Bench, boxes: &[(f64, f64, f64, f64, f64)]) -> Bench {
    let make =
        |&(series, parallel, health, resistance_growth, air_rise_k): &(f64, f64, f64, f64, f64)| {
            Pack {
                parallel,
                health,
                resistance_growth,
                air_rise_k,
                ..part(&bench.parts.pack, series)
            }
        };
    in_boxes(bench, boxes.iter().map(make).collect())
}

/// A standing car under a current for a time.
fn under(bench: &Bench, start: State, pack_a: f64, steps: usize) -> State {
    let car = bench.car();
    let mut state = start;
    for _ in 0..steps {
        let flow = car.at_rest(&car.now(&state, 10.0), pack_a);
        car.warm(&mut state, &flow, 10.0);
    }
    state
}

proptest! {
    #![proptest_config(cases(60))]

    /// Boxes in a string may stand in any order.
    #[test]
    fn the_order_of_boxes_does_not_matter(all in boxes(), turn in 1..4usize, pack_a in -60.0..150.0f64) {
        let light = Bench::light_car();
        let mut turned = all.clone();
        turned.rotate_left(turn % all.len());
        let (one, two) = (of(&light, &all), of(&light, &turned));
        let (end, other) = (under(&one, one.parked(0.8), pack_a, 60), under(&two, two.parked(0.8), pack_a, 60));
        prop_assert!((end.charge - other.charge).abs() < 1e-12);
        prop_assert!((end.polarisation_v - other.polarisation_v).abs() < 1e-10);
        let at = |bench: &Bench, end: &State, place: usize| {
            let pack = &bench.parts.pack;
            pack.boxes().find(|(own, _)| own.stated == place).map(|(_, node)| end.temperature_k[node]).unwrap()
        };
        for i in 0..all.len() {
            let now = (i + all.len() - turn % all.len()) % all.len();
            prop_assert!((at(&one, &end, i) - at(&two, &other, now)).abs() < 1e-9);
        }
        let (a, b) = (one.car().now(&end, 0.0).pack, two.car().now(&other, 0.0).pack);
        prop_assert!((a.emf_v - b.emf_v).abs() < 1e-9 && (a.ohm - b.ohm).abs() < 1e-12);
        prop_assert_eq!(a.discharge_a.1, b.discharge_a.1);
    }

    /// A weaker box never leaves more energy, and hotter air about a box never leaves it cooler.
    #[test]
    fn a_weaker_box_gives_no_more_and_a_hotter_one_is_no_cooler(
        all in boxes(), which in 0..4usize, less in 0.0..0.3f64, hotter_k in 0.0..20.0f64,
        pack_a in 0.0..100.0f64, full in 0.7..1.0f64,
    ) {
        let light = Bench::light_car().with(|p| p.pack.max_charge = full);
        let which = which % all.len();
        let (mut weaker, mut hotter) = (all.clone(), all.clone());
        weaker[which].2 *= 1.0 - less;
        hotter[which].4 += hotter_k;
        let bench = of(&light, &all);
        let usable_j = |bench: &Bench| bench.parts.pack.usable_j(298.15);
        prop_assert!(usable_j(&of(&light, &weaker)) <= usable_j(&bench) * (1.0 + 1e-12));
        let end = under(&bench, bench.parked(0.9), pack_a, 90);
        let hot = of(&light, &hotter);
        let warm = under(&hot, hot.parked(0.9), pack_a, 90);
        let own = |(b, _): &(&Pack, Node)| b.stated == which;
        let node = bench.parts.pack.boxes().find(own).unwrap().1;
        prop_assert!(warm.temperature_k[node] >= end.temperature_k[node] - 1e-9);
    }
}
