//! A value that is allowed and outside what is usual of its class is told of, with the likely slip.

use scenarios::{FileKind, Loaded, Override, Prepared, Severity, shelf};
use std::path::Path;

fn demo_with(texts: &[&str]) -> Prepared {
    let sets: Vec<Override> = texts.iter().map(|text| text.parse().unwrap()).collect();
    Loaded::demo().unwrap().with(&sets).unwrap()
}

fn doubts(car: &Prepared) -> Vec<String> {
    let all = car.warnings();
    all.into_iter().filter(|w| w.severity == Severity::Doubt).map(|w| w.text).collect()
}

/// Each slip on a value of the demo or its shelf, where the reader would refuse nothing, and what
/// would have been right: a factor of a unit (SI prefixes; inch, pound and °F by NIST SP 811).
#[test]
fn each_slip_is_named_with_the_value_that_was_meant() {
    for (slip, how, right) in [
        ("pack.state_of_health_pct=10", "", ""),
        ("pack.capacity_spread_pct=0.02", "as a share of one", "2"),
        ("pack.max_charge_pct=45", "", ""),
        ("pack.harness_mohm=0.003", "in Ω", "3"),
        ("pack.cell.polarisation_mohm=500", "in µΩ", "0.5"),
        ("pack.cell.polarisation_mohm=0.0005", "in Ω", "0.5"),
        ("pack.cell.mass_kg=0.23", "", ""),
        ("pack.cell.mass_kg=25", "", ""),
        ("pack.wall_area_m2=13", "in square feet", "1.208"),
        ("donor.frontal_area_m2=0.16", "", ""),
        ("donor.frontal_area_m2=3.4", "", ""),
        ("donor.drag_coefficient=0.043", "", ""),
        ("gearbox.shift_s=0.01", "in minutes", "0.6"),
        ("gearbox.max_input_nm=12", "", ""),
        ("motor.peak_current_a=4200", "", ""),
        ("motor.rotor_inertia_kg_m2=3", "in g·m²", "0.003"),
        ("controller.heat_capacity_kj_per_k=500", "in J/K", "0.5"),
        ("controller.warning_c=170", "in °F", "76.67"),
        ("controller.loss_w_per_a2=0.9", "in mΩ", "0.0009"),
        (
            r#"tyre={"rolling_radius_m":0.26,"rolling_resistance":0.01,"rolling_resistance_per_kmh":0.0004}"#,
            "",
            "",
        ),
        ("auxiliaries.dc_dc_efficiency_pct=25", "", ""),
        ("conditions.air_c=50", "in °F", "10"),
        ("start.charge_pct=0.95", "as a share of one", "95"),
        ("regen.lift_off_pct=0.12", "as a share of one", "12"),
        ("regen.fade_out_kmh=0.2", "in m/s", "0.72"),
        ("runs.climb.grade_pct=0.14", "as a share of one", "14"),
        ("runs.pass.grade_pct=0.07", "as a share of one", "7"),
        ("runs.pass.speed_kmh=5", "in m/s", "18"),
        ("runs.pass.distance_km=900", "in m", "0.9"),
    ] {
        // A field that a slip shares its place with must be as it is.
        let found = doubts(&demo_with(&[slip, "controller.cut_off_c=200"]));
        let path = slip.split('=').next().unwrap();
        let about = found.iter().find(|text| text.starts_with(path));
        let about = about.unwrap_or_else(|| panic!("{slip}: nothing said in {found:?}"));
        assert!(about.contains(how), "{about}");
        if !right.is_empty() {
            assert!(about.ends_with(&format!("Then write {right}.")), "{about}");
        }
    }
}

/// A warning that stands everywhere is read nowhere.
#[test]
fn nothing_of_the_demo_the_shelf_and_the_book_is_doubted() {
    assert_eq!(doubts(&demo_with(&[])), [""; 0]);
    for part in shelf::shelf() {
        let path = match part.kind {
            FileKind::Cell => "pack.cell",
            kind => kind.name(),
        };
        let set = format!("{path}=shelf:{}", part.name);
        let found = doubts(&demo_with(&[&set, "driver=null"]));
        assert_eq!(found, [""; 0], "{set}");
    }
    let builds = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/builds");
    for name in ["estate-year.json", "estate.json", "hatch.json", "roadster.json"] {
        let car = Loaded::open(builds.join(name)).unwrap().prepare().unwrap();
        assert_eq!(doubts(&car), [""; 0], "{name}");
    }
}

/// A road whose limits are 25, 35 and 55 under km/h was written down in mph; one of 30, 50 and 80
/// was not. And speeds of a town at 8 to 14 under km/h are in m/s.
#[test]
fn a_road_in_another_unit_of_speed_is_odd_as_a_whole() {
    let folder = std::env::temp_dir().join(format!("shakedown-odd-roads-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let limits = |list: &[f64]| {
        let row = |(i, limit): (usize, &f64)| format!("{},{limit}\n", i * 900);
        let rows: String = list.iter().enumerate().map(row).collect();
        format!("distance_m,limit_kmh\n{rows}{},{}\n", list.len() * 900, list[list.len() - 1])
    };
    for (name, text, odd) in [
        ("mph.csv", limits(&[25.0, 35.0, 55.0, 45.0, 25.0]), Some("in mph?")),
        ("kmh.csv", limits(&[30.0, 50.0, 80.0, 60.0, 30.0]), None),
        ("town.csv", limits(&[8.0, 14.0, 12.0, 14.0]), Some("in m/s and named km/h?")),
    ] {
        let file = folder.join(name);
        std::fs::write(&file, text).unwrap();
        let road = serde_json::json!(file.display().to_string());
        let set = Override::new("runs.commute.cycle", road).unwrap();
        let found = doubts(&Loaded::demo().unwrap().with(&[set]).unwrap());
        assert_eq!(found.len(), usize::from(odd.is_some()), "{name}: {found:?}");
        assert!(odd.is_none_or(|odd| found[0].contains(odd)), "{name}: {found:?}");
    }
    std::fs::remove_dir_all(&folder).unwrap();
}
