//! What drags besides tyres and air: the gearbox with its oil, bearings and pads; and what a
//! coast-down or a tyre's label says of them.

use scenarios::runs::{drive, trace};
use scenarios::{Loaded, Override, Prepared};
use sim_core::road_load::RoadLoad;

fn try_demo(sets: &[&str]) -> Result<Prepared, String> {
    let sets: Vec<Override> = sets.iter().map(|text| text.parse().unwrap()).collect();
    Loaded::demo().unwrap().with(&sets).map_err(|e| e.to_string())
}

fn demo(sets: &[&str]) -> Prepared {
    try_demo(sets).unwrap_or_else(|e| panic!("{e}"))
}

fn assumed<'a>(prepared: &'a Prepared, path: &str) -> Option<&'a str> {
    prepared.assumptions.iter().find(|a| a.path == path).map(|a| a.value.as_str())
}

/// Energy out of the pack over a cycle, J.
fn over(cycle: &str, sets: &[&str]) -> f64 {
    let prepared = demo(sets);
    let road = trace(&cycles::find(cycle).unwrap()).unwrap();
    drive::drive(&prepared.setup(), &road, &mut ()).terminal_j
}

const NO_DRAG: [&str; 2] = ["gearbox.drag_nm=null", "gearbox.drag_nm_per_krpm=null"];
const COAST_DOWN: [&str; 5] = [
    "donor.drag_coefficient=null",
    "donor.frontal_area_m2=null",
    "tyre.label_n_per_kn=null",
    "tyre.rolling_resistance_per_kmh=null",
    r#"donor.coast_down={"f0_n":97,"f1_n_per_kmh":0.5,"f2_n_per_kmh2":0.04,"mass_kg":964.8}"#,
];

/// A box whose drag no file gives drags as its class does (common practice, no source), and says so.
#[test]
fn drag_that_is_left_out_is_assumed_by_class() {
    for (sets, drag, growth) in [
        (vec!["donor.driven=\"front\""], "0.4 N·m", "0.22 N·m per 1000 rpm"),
        (vec!["donor.driven=\"rear\""], "0.5 N·m", "0.25 N·m per 1000 rpm"),
        (vec![r#"gearbox={"single":7.5}"#, "driver=null"], "0.3 N·m", "0.05 N·m per 1000 rpm"),
    ] {
        let gearbox = if sets.len() > 1 { &NO_DRAG[..0] } else { &NO_DRAG[..] };
        let found = demo(&[gearbox, &sets[..]].concat());
        assert_eq!(assumed(&found, "build.gearbox.drag_nm"), Some(drag));
        assert_eq!(assumed(&found, "build.gearbox.drag_nm_per_krpm"), Some(growth));
        assert!(found.car.parts().gearbox.drag_nm > 0.0);
    }
}

/// A coast-down in neutral turns final drive, bearings and pads, so that they are in f0 and f1
/// (UN GTR 15, Annex 4, from memory): of the box's drag only the rest is left, and nothing is added
/// for bearings.
#[test]
fn what_a_coast_down_holds_is_not_counted_twice() {
    let whole = demo(&[]);
    let held = demo(&COAST_DOWN);
    let drag =
        |p: &Prepared| (p.car.parts().gearbox.drag_nm, p.car.parts().gearbox.drag_nm_per_radps);
    assert!((drag(&held).0 / drag(&whole).0 - 0.6).abs() < 1e-12);
    assert!((drag(&held).1 / drag(&whole).1 - 0.6).abs() < 1e-12);
    assert_eq!(assumed(&held, "build.gearbox.final_drive_drag_share_pct"), Some("40 %"));
    assert_eq!(assumed(&whole, "build.gearbox.final_drive_drag_share_pct"), None);
    assert_eq!(assumed(&whole, "build.donor.bearings_n"), Some("12 N"));
    let RoadLoad::Coefficients { bearings_n, .. } = whole.car.parts().road_load else {
        panic!("coefficients were expected");
    };
    assert_eq!(bearings_n, 12.0);
    let said = try_demo(&[&COAST_DOWN[..], &["donor.bearings_n=12"]].concat()).unwrap_err();
    assert!(
        said.contains("donor.bearings_n is 12; allowed: this only beside a drag area"),
        "{said}"
    );
}

/// At 20 °C and its own mass a car of a coast-down has its f0 to the digit.
#[test]
fn a_car_at_20_degrees_has_the_f0_of_its_coast_down() {
    let found = demo(&[&COAST_DOWN[..], &["conditions.air_c=20"]].concat());
    assert_eq!(found.car.parts().chassis.mass_kg, 964.8);
    assert_eq!(found.car.resistance_n(0.0, sim_core::car::Slope::LEVEL), 97.0);
}

/// Oil of a car that stood at −5 °C costs 4 to 8 % of a slow cycle against oil of 40 °C, at which
/// drags are stated (common practice, no source), while the box's own losses warm it. All else is the
/// same: a body of oil and casing so large that it stays at 40 °C is the comparison. The share is that of
/// a car on old tyres of 0.013; better ones leave a smaller whole.
#[test]
fn oil_of_minus_5_degrees_costs_4_to_8_percent_of_a_slow_cycle() {
    let warm = [r#"gearbox.oil={"heat_capacity_kj_per_k":500}"#, "start.oil_c=40"];
    for sets in [&NO_DRAG[..], &[]] {
        for cycle in ["wltc-2-low", "wltc-3b-low"] {
            let day = ["conditions.air_c=-5", "start.cells_c=10"];
            let tyre = ["tyre.label_n_per_kn=null", "tyre.rolling_resistance=0.013"];
            let cold = [sets, &day, &tyre].concat();
            let more = over(cycle, &cold) / over(cycle, &[&cold[..], &warm].concat()) - 1.0;
            assert!((0.04..0.08).contains(&more), "{cycle}: {:.1} % more", 100.0 * more);
        }
    }
}

/// ISO 28580 measures at 80 km/h and 25 °C, where a car rolls with just its tyres' label; a letter
/// lies within the band of its class, N/kN (Regulation (EU) 2020/740, Annex I, from memory).
#[test]
fn a_label_put_in_gives_itself_back() {
    let none = ["tyre.label_n_per_kn=null"];
    let label = |sets: &[&str]| {
        let RoadLoad::Coefficients { rolling, rolling_per_mps, .. } =
            demo(&[&none[..], sets].concat()).car.parts().road_load
        else {
            panic!("coefficients were expected");
        };
        1000.0 * (rolling + rolling_per_mps * 80.0 / 3.6)
    };
    assert!((label(&["tyre.label_n_per_kn=8.1"]) - 8.1).abs() < 1e-12);
    let steep = ["tyre.label_n_per_kn=8.1", "tyre.rolling_resistance_per_kmh=4e-5"];
    assert!((label(&steep) - 8.1).abs() < 1e-12);
    for (class, low, high) in
        [("A", 3.0, 6.5), ("B", 6.6, 7.7), ("C", 7.8, 9.0), ("D", 9.1, 10.5), ("E", 10.6, 15.0)]
    {
        let set = format!("tyre.label_class=\"{class}\"");
        let found = label(&[&set]);
        assert!((low..=high).contains(&found), "class {class} is {found} N/kN");
    }
    for (sets, says) in [
        (
            vec![none[0], "tyre.label_class=\"C\"", "tyre.rolling_resistance=0.01"],
            "tyre.label_class is given beside rolling_resistance",
        ),
        (
            vec![none[0], "tyre.label_class=\"C\"", "tyre.label_n_per_kn=8"],
            "tyre.label_class is given beside label_n_per_kn",
        ),
        (
            vec![none[0], "tyre.label_n_per_kn=5", "tyre.rolling_resistance_per_kmh=0.0003"],
            "tyre.rolling_resistance_per_kmh is 0.0003; allowed: a growth that leaves",
        ),
    ] {
        let said = try_demo(&sets).unwrap_err();
        assert!(said.contains(says), "{said}");
    }
}
