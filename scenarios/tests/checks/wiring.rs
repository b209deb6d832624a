//! What the wiring must carry: against charge that was counted otherwise, by relations over random
//! cars, and where something is missing or does not fit.

use crate::better_is_never_worse::{builds, config, cycle};
use proptest::prelude::*;
use proptest::test_runner::Config;
use scenarios::outlet::Outlet;
use scenarios::runs::electrics::{self, Duty, ElectricsReport, Lead, LeadReport, Wish};
use scenarios::runs::{climb, drive, pull};
use scenarios::{Loaded, Override, Prepared, units};
use sim_core::car::Slope;
use sim_core::climb::Hill;
use sim_core::follow::Moment;
use sim_core::short_circuit::ShortCircuit;
use sim_core::{Node, Trace};

fn demo_with(texts: &[&str]) -> Prepared {
    let sets: Vec<Override> = texts.iter().map(|text| text.parse().unwrap()).collect();
    Loaded::demo().unwrap().with(&sets).unwrap()
}

/// 5 % at 50 km/h, which every random car is asked.
fn hill() -> Hill {
    Hill {
        slope: Slope::from_grade(0.05),
        speed_mps: units::mps_from_kmh(50.0),
        distance_m: 3000.0,
    }
}

fn asked(car: &Prepared) -> ElectricsReport {
    let plan = Wish { climb: Some(hill()), ..Wish::default() };
    electrics::report(car, "wltc-low", &cycle("wltc-low"), &plan).unwrap()
}

fn lead(report: &ElectricsReport, lead: Lead) -> &LeadReport {
    report.lead(lead).unwrap_or_else(|| panic!("no {lead:?}"))
}

/// The current of a lead over 10 s of the climb, RMS, the gear that it is driven in and those that hold
/// it; nothing where the speed is not held.
fn climbing(car: &Prepared, of: Lead) -> Option<(f64, usize, Vec<usize>)> {
    let found = climb::choice(&car.setup(), &hill()).unwrap();
    let holds = found.gears.iter().filter(|row| row.held && row.derated_at_s.is_none());
    let report = asked(car);
    let run = lead(&report, of).runs.iter().find(|run| run.case == Duty::Climb)?;
    let gears = holds.map(|row| row.gear).collect();
    found.best().held.then_some((run.windows[1].rms_a, found.chosen, gears))
}

fn few() -> Config {
    Config { cases: config().cases.min(40), ..config() }
}

proptest! {
    #![proptest_config(few())]

    /// What holds of any series holds of the leads of any car (Jensen), and the largest of all is
    /// that of a run.
    #[test]
    fn windows_of_a_car_are_windows(build in builds()) {
        let report = asked(&build.car());
        for lead in &report.leads {
            for run in &lead.runs {
                for pair in run.windows.windows(2) {
                    prop_assert!(pair[1].rms_a <= pair[0].rms_a * (1.0 + 1e-7), "{:?}", lead.lead);
                    prop_assert!(pair[1].mean_a <= pair[0].mean_a * (1.0 + 1e-7), "{:?}", lead.lead);
                }
                prop_assert!(run.windows[0].rms_a <= run.peak_a.max(run.back_a) * (1.0 + 1e-9));
                prop_assert!(run.windows.iter().all(|of| of.rms_a >= of.mean_a * (1.0 - 1e-9)));
            }
            for (i, of) in lead.largest.iter().enumerate() {
                let most = lead.runs.iter().map(|run| run.windows[i].rms_a).fold(0.0, f64::max);
                prop_assert_eq!(of.rms.as_ref().unwrap().amps, most);
            }
        }
    }

    /// Force goes with weight (common practice, no source).
    #[test]
    fn a_heavier_car_never_lowers_the_current_of_the_climb(build in builds(), more_kg in 20.0..200.0) {
        let heavy = build.but(|b| b.kerb_mass_kg += more_kg);
        for of in [Lead::Pack, Lead::Motor] {
            let both = climbing(&build.car(), of).zip(climbing(&heavy.car(), of));
            if let Some((light, heavy)) = both.filter(|(light, heavy)| (light.1, &light.2) == (heavy.1, &heavy.2)) {
                prop_assert!(heavy.0 >= light.0 * (1.0 - 1e-6), "{light:?} {heavy:?}");
            }
        }
    }

    /// `I = P/U`: more cells, each so much lighter, for the same climb.
    #[test]
    fn a_higher_voltage_lowers_the_packs_current(build in builds()) {
        let with = |series: u32| {
            let car = build.car();
            let kg = car.scenario.build.pack.cell.mass_kg * f64::from(build.series) / f64::from(series);
            let high = build.but(|b| b.series = series);
            let sets = [format!("pack.cell.mass_kg={kg}"), "controller.max_v=1000".to_owned()];
            let mut all = high.overrides();
            all.extend(sets.iter().map(|set| set.parse().unwrap()));
            Loaded::demo().unwrap().with(&all).unwrap()
        };
        let (low, high) = (with(build.series), with(build.series * 5 / 4));
        if let Some((low, high)) = climbing(&low, Lead::Pack).zip(climbing(&high, Lead::Pack)) {
            prop_assert!(high.0 < low.0, "{low:?} {high:?}");
        }
    }

    #[test]
    fn more_harness_lowers_the_fault_and_more_lights_ask_more_of_the_converter(build in builds()) {
        let (car, sets) = (build.car(), build.overrides());
        let other = |text: &str| {
            let mut all = sets.clone();
            all.push(text.parse().unwrap());
            asked(&Loaded::demo().unwrap().with(&all).unwrap())
        };
        let mohm = 2e3 * car.car.parts().pack.harness_ohm;
        let (usual, twice) = (asked(&car), other(&format!("pack.harness_mohm={mohm}")));
        let states = |r: &ElectricsReport| [r.fault.largest.clone(), r.fault.least.clone()];
        for (before, after) in states(&usual).iter().zip(states(&twice)) {
            prop_assert!(after.behind_harness_a < before.behind_harness_a);
            prop_assert_eq!(after.at_cells_a, before.at_cells_a);
        }
        prop_assert!(usual.fault.least.behind_harness_a < usual.fault.largest.behind_harness_a);
        // Ohm's law at any charge and temperature that the pack is used at.
        let pack = &car.car.parts().pack;
        for (charge, cells_c) in [(1.0, 40.0), (0.9, 60.0), (0.7, 25.0), (0.5, 60.0), (0.2, 0.0)] {
            let charge = pack.min_charge + charge * (pack.max_charge - pack.min_charge);
            let fault = ShortCircuit::of(pack, charge, units::k_from_c(cells_c));
            prop_assert!(fault.behind_harness_a() <= usual.fault.largest.behind_harness_a * (1.0 + 1e-3));
        }
        prop_assert!(usual.fault.breaks_at_cells_a > 1.4 * usual.fault.largest.at_cells_a);
        let lit = other(r#"auxiliaries.low_voltage=[{"item": "lights", "power_w": 400}]"#);
        prop_assert!(lit.balance.mean_a > usual.balance.mean_a);
        let into = |r: &ElectricsReport| lead(r, Lead::DcDcIn).rms(10.0).unwrap().amps;
        prop_assert!(into(&lit) > into(&usual));
    }

    /// Charge is counted twice: by the windows over the leads, and by the state of the cells. In pieces
    /// that the solver steps as it likes they agree to a thousandth.
    #[test]
    fn the_mean_over_a_pull_is_the_charge_that_left_the_cells(build in builds()) {
        let car = build.car();
        let report = asked(&car);
        let Some(run) = lead(&report, Lead::Pack).runs.iter().find(|run| run.case == Duty::Pull) else {
            return Ok(());
        };
        let mut end = car.start;
        let own = car.drives.pull.as_ref();
        let usual = pull::Marks::metric();
        let marks = own.map_or(usual.clone(), |own| pull::Marks::of(own, usual));
        let marks = pull::Marks { from_mps: 0.0, ..marks };
        pull::closely(&car.setup(), &marks, &mut |m: &Moment<'_>| end = *m.state).unwrap();
        let left_as = (car.start.charge - end.charge) * car.car.parts().pack.capacity_as();
        let counted_as = run.whole_mean_a * run.lasted_s;
        prop_assert!((counted_as / left_as - 1.0).abs() < 1e-3, "{counted_as} {left_as} A·s");
    }
}

/// The climb as well, and a whole charge.
#[test]
fn means_over_climb_and_charge_are_what_the_cells_count() {
    let car = demo_with(&[]);
    let report = asked(&car);
    let runs = &lead(&report, Lead::Pack).runs;
    let of = |case: Duty| runs.iter().find(|run| run.case == case).unwrap();
    let capacity_as = car.car.parts().pack.capacity_as();
    let best = climb::best(&car.setup(), &hill()).unwrap();
    let left = car.start.charge - units::share_from_pct(best.charge_left_pct);
    let counted_as = of(Duty::Climb).whole_mean_a * of(Duty::Climb).lasted_s;
    assert!((counted_as / (left * capacity_as) - 1.0).abs() < 1e-3);
    let pack = &car.car.parts().pack;
    let cells_k = car.start.temperature_k[Node::Cells];
    let gained = pack.max_charge - pack.mean_charge_when_empty(cells_k);
    let charged = of(Duty::Charge);
    let counted_as = charged.whole_mean_a * charged.lasted_s;
    // The charger ends at its end current, a little before the cells are full.
    let share = counted_as / (gained * capacity_as);
    assert!(share > 0.97 && share < 1.0 + 1e-6, "{share}");
    assert!(charged.back_a > 0.0 && charged.peak_a == 0.0);
}

/// The road's own integral of the squared current, and the largest mean of 60 s by trying each place
/// in steps of 0.05 s (what NumPy's `convolve` with a box would do).
#[test]
fn windows_over_a_road_agree_with_trying_each_place() {
    let car = demo_with(&[]);
    let trace = cycle("wltc-low");
    let report = electrics::report(&car, "wltc-low", &trace, &Wish::default()).unwrap();
    let run = lead(&report, Lead::Pack).runs.iter().find(|run| run.case == Duty::Road).unwrap();
    let (mut fine, mut left_s) = (Vec::new(), 0.0);
    let driven = drive::drive(&car.setup(), &trace, &mut |m: &Moment<'_>| {
        left_s += m.step_s;
        while left_s > 1e-9 {
            fine.push(m.flow.pack_a);
            left_s -= 0.05;
        }
    });
    assert!((run.whole_rms_a / driven.rms_pack_a() - 1.0).abs() < 1e-9);
    for (i, width) in [(1, 200), (2, 1200)] {
        let mean = |part: &[f64]| part.iter().map(|a| a * a).sum::<f64>() / width as f64;
        let naive = fine.windows(width).map(mean).fold(0.0, f64::max).sqrt();
        assert!((run.windows[i].rms_a / naive - 1.0).abs() < 5e-3, "{naive} {:?}", run.windows[i]);
    }
    let back_a = fine.iter().fold(0.0_f64, |most, a| most.max(-a));
    assert!((run.back_a - back_a).abs() < 1e-9 && back_a > 10.0);
}

/// A socket on the other side of the world draws other amperes for the same watts.
#[test]
fn the_mains_current_is_power_over_voltage() {
    let car = demo_with(&["charger.power_kw=1.2", "charger.efficiency_pct=90"]);
    for (name, volts) in [("120v-20a", 120.0), ("230v-10a", 230.0)] {
        let plan = Wish { outlet: Some(Outlet::named(name).unwrap()), ..Wish::default() };
        let trace = Trace::steady(10.0, 0.0, 60.0).unwrap();
        let report = electrics::report(&car, "a minute", &trace, &plan).unwrap();
        let mains = lead(&report, Lead::ChargerIn).rms(600.0).unwrap();
        assert!((mains.amps - 1200.0 / 0.9 / volts).abs() < 1e-6, "{name}: {}", mains.amps);
    }
}

/// A pull of half a minute has no mean of ten: what the table shows for that is a run that lasts, or is
/// marked, and nobody is told that it holds for hours.
#[test]
fn a_short_run_gives_no_continuous_rating() {
    let car = demo_with(&["runs.climb=null", "runs.pass=null"]);
    let minute = Trace::steady(12.0, 0.0, 50.0).unwrap();
    let short = Hill { distance_m: 400.0, ..hill() };
    let plan = Wish { climb: Some(short), ..Wish::default() };
    let report = electrics::report(&car, "a minute", &minute, &plan).unwrap();
    let pack = lead(&report, Lead::Motor);
    let (ten, half) = (pack.rms(600.0).unwrap(), pack.rms(1800.0).unwrap());
    assert!(!ten.covered && !half.covered);
    assert!((ten.amps / half.amps - 3.0_f64.sqrt()).abs() < 1e-9);
    // Where half an hour at the held speed asks more than these runs, it is what is asked for hours.
    let pack_a = lead(&report, Lead::Pack).lasting.as_ref().unwrap().amps;
    assert!(report.half_hour.as_ref().unwrap().pack_a > pack_a);
    assert!(!report.notes.iter().any(|note| note.contains("no rating for hours")));
    assert!(report.asks[0].words.contains("for hours (half an hour"), "{}", report.asks[0].words);
    let pass = report.cases.iter().find(|case| case.case == Duty::Pass).unwrap();
    assert!(pass.lasted_s.is_none() && pass.not_done.as_ref().unwrap().contains("runs.pass"));
}

#[test]
fn what_is_not_known_is_asked_for_and_what_does_not_fit_is_said() {
    let report = asked(&demo_with(&[]));
    assert!(report.precharge.needs.unwrap().starts_with("controller.capacitance_uf"));
    assert_eq!((report.precharge.energy_j, report.precharge.time_s), (None, None));
    let known = asked(&demo_with(&["controller.capacitance_uf=10000"]));
    // ½·C·V²: 0.01 F at the full pack's rested voltage.
    let volts = known.precharge.full_v;
    assert!((known.precharge.energy_j.unwrap() - 0.005 * volts * volts).abs() < 1e-9);
    // A resistor for 95 % in a second: R·C·ln 20 = 1 s.
    assert!((known.precharge.resistor_ohm.unwrap() - 100.0 / 20f64.ln()).abs() < 1e-9);
    let said = |sets: &[&str], words: &str| {
        let notes = asked(&demo_with(sets)).notes;
        assert!(notes.iter().any(|note| note.contains(words)), "{words}: {notes:?}");
    };
    said(&[r#"wiring={"fuse_a": 60}"#], "it blows on the way");
    said(&[r#"wiring={"fuse_a": 400}"#], "it blows late or never");
    said(&[r#"wiring={"fuse_a": 400, "pack": {"mm2": 10}}"#], "which must protect it");
    said(&[r#"wiring={"pack": {"length_m": 6, "mm2": 16}}"#], "more than the 3.00 mΩ");
    said(&[r#"wiring={"dc_dc_w": 100}"#], "the battery runs down while driving");
    let cold = asked(&demo_with(&["conditions.air_c=-15", "start.cells_c=-15"]));
    let charge = cold.cases.iter().find(|case| case.case == Duty::Charge).unwrap();
    assert!(charge.not_done.as_ref().unwrap().contains("take no charge"), "{charge:?}");
    // Its cables are asked for what warm cells take.
    let warm = cold.cases.iter().find(|case| case.case == Duty::WarmCharge).unwrap();
    assert!(warm.not_done.is_none() && cold.lead(Lead::ChargerIn).is_some(), "{warm:?}");
    assert!(cold.notes.iter().any(|note| note.contains("The charge was not driven")));
    let mains_a =
        |report: &ElectricsReport| lead(report, Lead::ChargerIn).rms(1800.0).unwrap().amps;
    assert!(mains_a(&cold) >= 0.99 * mains_a(&report));
    // An empty car drives nowhere, and is charged.
    let empty = asked(&demo_with(&["start.charge_pct=3"]));
    let road = empty.cases.iter().find(|case| case.case == Duty::Road).unwrap();
    assert!(road.lasted_s.is_none() && road.not_done.is_some());
    assert!(empty.lead(Lead::ChargerIn).is_some() && empty.lead(Lead::Motor).is_none());
}

/// What is told of half an hour at the car's highest held speed is what driving it takes.
#[test]
fn half_an_hour_at_the_held_speed_takes_what_is_told() {
    let car = demo_with(&[]);
    let told = asked(&car).half_hour.unwrap();
    let speed_mps = units::mps_from_kmh(told.speed_kmh);
    let level = Hill { slope: Slope::LEVEL, speed_mps, distance_m: 120.0 * speed_mps };
    let plan = Wish { climb: Some(level), ..Wish::default() };
    let report = electrics::report(&car, "wltc-low", &cycle("wltc-low"), &plan).unwrap();
    let run = lead(&report, Lead::Pack).runs.iter().find(|run| run.case == Duty::Climb).unwrap();
    let driven_a = run.windows[1].rms_a;
    assert!((driven_a / told.pack_a - 1.0).abs() < 0.08, "{driven_a} A, told {told:?}");
}

/// The series motor of a chopper takes more current than the pack gives as long as it needs less than
/// the pack's voltage, as while it pulls away (`E·I = T·ω`, any textbook of electrical machines); and
/// nothing flows back.
#[test]
fn a_series_motor_has_leads_of_its_own() {
    let car = demo_with(&[
        "motor=shelf:series-dc-large",
        "controller=shelf:series-chopper-500a",
        "pack=shelf:iron-phosphate-96v-180ah",
        "gearbox.max_input_nm=200",
    ]);
    let report = asked(&car);
    let of = |lead: Lead| {
        let found = report.lead(lead).unwrap();
        found.runs.iter().find(|run| run.case == Duty::Pull).unwrap().clone()
    };
    assert!(of(Lead::Motor).windows[1].rms_a > 1.05 * of(Lead::Pack).windows[1].rms_a);
    assert_eq!((of(Lead::Motor).back_a, of(Lead::Pack).back_a), (0.0, 0.0));
    assert!(lead(&report, Lead::Motor).how.contains("armature"));
    let motor = report.cables.iter().find(|cable| cable.lead == Lead::Motor).unwrap();
    assert_eq!(motor.conductors, 2);
}

#[test]
fn bad_wiring_is_refused_by_field_and_value() {
    for (set, said) in [
        ("wiring.pack.mm2=0", "wiring.pack.mm2 is 0; allowed: 0.1 to 1000"),
        ("wiring.motor.length_m=-1", "wiring.motor.length_m is -1; allowed: more than 0"),
        ("wiring.fuse_a=1e-9", "wiring.fuse_a is 1e-9; allowed: 1 to 5000"),
        ("wiring.precharge_ohm=0", "wiring.precharge_ohm is 0"),
        ("wiring.low_voltage_v=24", "wiring.low_voltage_v is 24; allowed: 11 to 16"),
        ("wiring.battery_usable_pct=120", "wiring.battery_usable_pct is 120; allowed: 1 to 100"),
        ("controller.capacitance_uf=0", "controller.capacitance_uf is 0"),
        (r#"wiring={"pack": {"metal": "gold"}}"#, "metal"),
        (r#"wiring={"pack": {"conductor": "gold"}}"#, "gold"),
        (
            r#"auxiliaries.low_voltage=[{"item": "pump", "power_w": 50, "on_w": 20}]"#,
            "on_w is 20; allowed: at least the mean power_w, 50",
        ),
    ] {
        let error = Loaded::demo().unwrap().with(&[set.parse().unwrap()]).unwrap_err();
        assert!(error.to_string().contains(said), "{set}: {error}");
    }
}

/// A longer run at the same current never asks less of any part, and a little longer asks little more: a
/// body of one time constant has no classes of time (any textbook of heat transfer).
#[test]
fn a_longer_run_never_asks_less_and_a_little_longer_little_more() {
    let car = demo_with(&["runs.climb=null", "runs.pass=null", "start.charge_pct=60"]);
    let asked = |seconds: f64| {
        let trace = Trace::steady(24.0, 0.0, seconds).unwrap();
        let stop = Hill { distance_m: 1.0, ..hill() };
        let plan = Wish { climb: Some(stop), ..Wish::default() };
        let report = electrics::report(&car, "a steady speed", &trace, &plan).unwrap();
        let runs = &lead(&report, Lead::Pack).runs;
        let road = runs.iter().find(|run| run.case == Duty::Road).unwrap();
        let warms: Vec<f64> = road.warms.iter().map(|of| of.steady_a).collect();
        let first = report.cables.iter().find(|cable| cable.lead == Lead::Pack).unwrap();
        (warms, first.rows[0].mm2)
    };
    let (mut before, mut before_mm2) = asked(30.0);
    for seconds in [170.0, 190.0, 290.0, 310.0, 590.0, 610.0, 1200.0] {
        let (warms, mm2) = asked(seconds);
        for (now, before) in warms.iter().zip(&before) {
            assert!(*now >= before * (1.0 - 1e-3), "{seconds} s: {now} {before}");
            assert!(
                seconds % 100.0 > 50.0 || seconds > 1000.0 || *now < 1.06 * before,
                "{seconds} s"
            );
        }
        assert!(mm2 >= before_mm2);
        (before, before_mm2) = (warms, mm2);
    }
}

/// A converter that is too small spares the 12 V lead nothing: the battery gives the rest.
#[test]
fn a_small_converter_lowers_nothing_that_the_lead_is_asked() {
    let with = |sets: &[&str]| asked(&demo_with(sets)).balance;
    let none = with(&[]);
    for watts in [50.0, 200.0, 2000.0] {
        let some = with(&[&format!(r#"wiring={{"dc_dc_w": {watts}}}"#)]);
        assert!(some.carries_a >= none.carries_a * (1.0 - 1e-9), "{watts} W");
        assert!(some.battery_gives_a <= none.loads_a * none.held_v / 12.0);
    }
    assert_eq!(with(&[r#"wiring={"dc_dc_w": 2000}"#]).battery_gives_a, 0.0);
}

/// A chopper that fails shut leaves the winding alone between the pack and a short circuit (Ohm's law);
/// an inverter has no such state.
#[test]
fn contactors_are_asked_to_end_what_a_shut_chopper_begins() {
    let chopper = asked(&demo_with(&[
        "motor=shelf:series-dc-large",
        "controller=shelf:series-chopper-500a",
        "pack=shelf:iron-phosphate-96v-180ah",
        "gearbox.max_input_nm=200",
    ]));
    let shut_a = chopper.fault.shut_chopper_a.unwrap();
    assert!(shut_a > 500.0 && shut_a < chopper.fault.largest.behind_harness_a, "{shut_a}");
    let contactors = chopper.asks.iter().find(|ask| ask.part == "main contactors").unwrap();
    assert!(contactors.words.contains("fails shut"), "{}", contactors.words);
    assert_eq!(asked(&demo_with(&[])).fault.shut_chopper_a, None);
}

#[test]
fn a_precharge_that_is_not_usual_is_doubted() {
    let notes = |sets: &[&str]| asked(&demo_with(sets)).notes.join(" ");
    let usual = notes(&["controller.capacitance_uf=5000", r#"wiring={"precharge_ohm": 100}"#]);
    assert!(!usual.contains("precharge"), "{usual}");
    let slow = notes(&["controller.capacitance_uf=5000", r#"wiring={"precharge_ohm": 10000}"#]);
    assert!(slow.contains("the contactor welds"), "{slow}");
    let slow = ["controller.capacitance_uf=5000", r#"wiring={"precharge_ohm": 10000}"#];
    let slow = asked(&demo_with(&slow)).precharge;
    // No attempt begins before the one before it is done.
    assert!(slow.attempt_every_s >= slow.time_s.unwrap());
    let large = notes(&["controller.capacitance_uf=200000"]);
    assert!(large.contains("J in its resistor"), "{large}");
    let none = notes(&[r#"wiring={"precharge_ohm": 0.05}"#]);
    assert!(none.contains("protects no contactor"), "{none}");
}

/// Both sides of the charger have a cable, and what the car can be asked for half an hour counts.
#[test]
fn cables_are_told_for_the_chargers_direct_side_and_for_half_an_hour() {
    let report = asked(&demo_with(&[]));
    let of = |lead: Lead| report.cables.iter().find(|cable| cable.lead == lead).unwrap();
    assert!(of(Lead::ChargerOut).amps > of(Lead::ChargerIn).amps);
    let half = report.half_hour.as_ref().unwrap();
    assert!(of(Lead::Pack).rows.iter().all(|row| row.amps >= half.pack_a));
    assert!(of(Lead::Motor).rows.iter().all(|row| row.amps >= half.motor_a));
}

/// Number before some words of an ask.
fn before(words: &str, what: &str) -> f64 {
    let (head, _) = words.split_once(what).unwrap_or_else(|| panic!("{what}: {words}"));
    head.rsplit(' ').next().unwrap().parse().unwrap()
}

/// Cold cells give less, and the same car drives in summer: a colder scenario asks no thinner parts, and
/// what is carried for longer is carried for a moment as well (any fuse's time-current curve falls).
#[test]
fn a_cold_day_asks_no_smaller_parts_than_a_mild_one() {
    let chopper = [
        "motor=shelf:series-dc-large",
        "controller=shelf:series-chopper-500a",
        "pack.cell=shelf:iron-phosphate-100ah-power",
        "pack.series=32",
        "gearbox.max_input_nm=200",
    ];
    for sets in [&[][..], &chopper] {
        let at = |air_c: f64| {
            let air = format!("conditions.air_c={air_c}");
            let mut all = sets.to_vec();
            all.push(&air);
            asked(&demo_with(&all))
        };
        let mild = at(20.0);
        assert!(mild.cold_cells.is_none());
        let first_mm2 =
            |report: &ElectricsReport| report.cables.iter().map(|c| c.rows[0].mm2).collect();
        let mild_mm2: Vec<f64> = first_mm2(&mild);
        for air_c in [10.0, -5.0, -25.0, -35.0] {
            let cold = at(air_c);
            assert_eq!(cold.cold_cells.is_some(), air_c < 20.0);
            for (of, part) in [(Lead::Pack, "pack fuse"), (Lead::Motor, "motor leads")] {
                let words = |report: &ElectricsReport| {
                    report.asks.iter().find(|ask| ask.part == part).unwrap().words.clone()
                };
                let (cold_words, mild_words) = (words(&cold), words(&mild));
                let each = [" A RMS", " A for 1 min", " A for 10 s"];
                let asks = each.map(|what| before(&cold_words, what));
                assert!(asks[0] <= asks[1] && asks[1] <= asks[2], "{air_c} °C: {cold_words}");
                for (ask, what) in asks.into_iter().zip(each) {
                    let mild = before(&mild_words, what);
                    // The hardest ten seconds are of a pull, which goes otherwise in other air.
                    let least = if what == " A for 10 s" { 0.93 } else { 0.97 };
                    assert!(ask >= least * mild, "{air_c} °C {of:?}{what}: {ask}, mild {mild}");
                }
            }
            let cold_mm2: Vec<f64> = first_mm2(&cold);
            assert_eq!(cold_mm2.len(), mild_mm2.len());
            assert!(cold_mm2.iter().zip(&mild_mm2).all(|(cold, mild)| cold >= mild), "{air_c} °C");
        }
    }
}

/// A driver who stays in a higher gear up the same hill makes the motor turn slower for the same power,
/// and its leads carry more (`P = T·ω`): they are asked for it where that gear holds the hill.
#[test]
fn motor_leads_carry_what_any_gear_that_holds_the_hill_asks() {
    let car = demo_with(&[]);
    let found = climb::choice(&car.setup(), &hill()).unwrap();
    let report = asked(&car);
    let run = lead(&report, Lead::Motor).runs.iter().find(|run| run.case == Duty::Climb).unwrap();
    let holds = found.gears.iter().filter(|row| row.held && row.derated_at_s.is_none());
    let higher: Vec<_> = holds.filter(|row| row.gear > found.chosen).collect();
    let most_a = higher.iter().map(|row| row.motor_a).fold(0.0, f64::max);
    assert!(most_a > found.best().motor_a, "no higher gear holds it: {}", found.chosen);
    assert!(run.windows[1].rms_a > 0.99 * most_a, "{} {most_a}", run.windows[1].rms_a);
}
