//! Pictures of random cars and of random numbers.

use super::checks::{rectangles, sound};
use super::tractive::at_speed;
use super::{Look, climb, energy, recorded, road, throttle, tractive};
use crate::measure::Units;
use cycles::{Recording, RecordingOptions};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use scenarios::measured::comparison;
use scenarios::measured::drive::RecordedDrive;
use scenarios::runs::history::Seen;
use scenarios::runs::{
    Temperatures, climb as climbs, drive, gearing, pull, trace, tractive as wheels,
};
use scenarios::{Loaded, Override, Prepared, Road, units};
use sim_core::car::{Request, Slope};
use sim_core::climb::Hill;
use sim_core::{State, Trace};

/// Looks that are drawn: wide and narrow, metric and US, with a name that is up to something.
pub(super) fn looks() -> [Look<'static>; 3] {
    let hostile =
        "<script>alert(\"&amp;\")</script>\u{1b}[31m\u{202e}]]> & 'a very long name of a car'";
    [
        Look::wide("", Units::Metric),
        Look::narrow("Größe 中文 🚗", Units::Us),
        Look::wide(hostile, Units::Us),
    ]
}

/// Cars of all kinds: those that cannot move, those that are all motor, hot ones and empty ones.
pub(super) fn settings() -> impl Strategy<Value = [String; 6]> {
    let sorts = [
        ("induction-air-small", "low-voltage-450a"),
        ("induction-air-large", "mid-voltage-600a"),
        ("series-dc-large", "series-chopper-500a"),
    ];
    let boxes = ["single-reduction", "four-speed-rear-drive", "five-speed-front-drive"];
    let part = (prop::sample::select(sorts.to_vec()), prop::sample::select(boxes.to_vec()));
    let place = (3.0..100.0f64, -20.0..40.0f64, 0.05..1.2f64);
    (part, prop::sample::select(vec![300, 900, 4000]), place).prop_map(
        |(((motor, controller), gearbox), kg, (charge_pct, air_c, friction))| {
            [
                format!("motor=shelf:{motor}"),
                format!("controller=shelf:{controller}"),
                format!("gearbox=shelf:{gearbox}"),
                format!("donor.kerb_mass_kg={kg}"),
                format!("start.charge_pct={charge_pct:.0}"),
                format!("conditions={{\"air_c\":{air_c:.0},\"friction\":{friction:.2}}}"),
            ]
        },
    )
}

pub(super) fn car(settings: &[String]) -> Prepared {
    let set: Vec<Override> = settings.iter().map(|s| s.parse().unwrap()).collect();
    Loaded::demo().unwrap().with(&set).unwrap()
}

/// A road of the built-in cycles, or one up a hill.
fn road_of(car: &Prepared, choice: usize) -> Trace {
    match choice {
        0 => Trace::steady(units::mps_from_kmh(50.0), 0.12, 300.0).unwrap(),
        1 => Trace::steady(0.0, 0.0, 60.0).unwrap(),
        _ => {
            let road = Road::Named("wltc-low".to_owned());
            trace(&car.read(&road, &cycles::LoadOptions::default()).unwrap().schedule).unwrap()
        }
    }
}

/// Any number at all.
fn any_number() -> impl Strategy<Value = f64> {
    let odd = [0.0, -0.0, 1e300, -1e300, f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e-300, 1e11];
    prop_oneof![prop::sample::select(odd.to_vec()), -1e3..1e3f64, any::<f64>()]
}

prop_compose! {
    /// A moment that no car has.
    fn any_moment()(n in prop::array::uniform10(any_number()), coolant in any::<bool>()) -> Seen {
        Seen {
            time_s: n[0],
            distance_km: n[1],
            height_m: n[2],
            speed_kmh: n[3],
            wanted_kmh: n[4],
            pack_kw: n[5],
            charge_pct: n[6],
            parts: Temperatures {
                winding_c: n[7],
                housing_c: n[8],
                heat_sink_c: n[9],
                cells_c: n[0],
                boxes_c: Default::default(),
                oil_c: n[1],
                coolant_c: coolant.then_some(n[2]),
            },
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, rng_seed: RngSeed::Fixed(20_261_127), ..ProptestConfig::default() })]

    #[test]
    fn tractive_pictures_are_sound_and_show_the_gears(one in settings(), other in settings()) {
        let (car, other) = (car(&one), car(&other));
        let report = wheels::report(&car.setup());
        let before = wheels::report(&other.setup());
        let table = gearing::table(&car.setup());
        for (row, gear) in table.iter().zip(&report.gears) {
            // Pulling away, the rotor's inertia takes its part of the torque, and the wheels' own a part
            // of the force that the tyres need not hold.
            let first = gear.peak[0].force_n;
            prop_assert!(first >= 0.9 * row.peak_force_n, "{first} N of {} N", row.peak_force_n);
            for held in &gear.continuous {
                let full = at_speed(&gear.peak, held.speed_kmh).unwrap();
                prop_assert!(held.force_n <= 1.03 * full, "{held:?} of {full} N");
            }
        }
        // A force is that of a grade on which the speed is just held.
        let now = car.car.now(&State { tyre_chill_k: 0.0, ..car.start }, 0.0);
        for (g, gear) in report.gears.iter().enumerate() {
            for point in gear.peak.iter().step_by(9) {
                let mps = units::mps_from_kmh(point.speed_kmh);
                let level_n = car.car.resistance_n(mps, Slope::LEVEL);
                let weight_n = car.car.resistance_n(mps, Slope { sin: 1.0, cos: 1.0 }) - level_n;
                let slope = Slope { sin: (point.force_n - level_n) / weight_n, cos: 1.0 };
                let flow = car.car.act(&now, mps, slope, g, Request::FullThrottle);
                // Close to the highest rpm the torque falls within a fraction of a step of the line.
                let last = gear.peak.last().map_or(0.0, |last| last.speed_kmh);
                let is_driven = point.force_n > 0.0
                    && mps > 0.0
                    && slope.sin.abs() < 1.0
                    && point.speed_kmh < 0.97 * last;
                let off = flow.acceleration_mps2.abs();
                prop_assert!(!is_driven || off < 1e-3, "{point:?} in gear {g}: {off} m/s²");
            }
        }
        for look in looks() {
            sound(&tractive::picture(&report, None, look));
            sound(&tractive::picture(&report, Some(&before), look));
        }
    }

    #[test]
    fn pulls_end_where_the_report_says(one in settings(), other in settings()) {
        let (car, other) = (car(&one), car(&other));
        let marks = pull::Marks::metric();
        let Ok(report) = pull::report(&car.setup(), &marks) else { return Ok(()) };
        let run = pull::history(&car.setup(), &marks).unwrap();
        let before = pull::history(&other.setup(), &marks).unwrap_or_default();
        if let (Some(plan), Some(last)) = (report.farthest(), run.last()) {
            prop_assert!((last.time_s - plan.time_s).abs() < 0.01 * plan.time_s, "{last:?}");
            prop_assert!(plan.to_kmh.is_none_or(|kmh| (last.speed_kmh - kmh).abs() < 0.5));
        }
        for look in looks() {
            sound(&throttle::picture(&report, &run, None, look));
            sound(&throttle::picture(&report, &run, Some(&before), look));
        }
    }

    #[test]
    fn climbs_get_as_hot_as_the_report_says(
        one in settings(),
        other in settings(),
        grade in 0.0..0.3f64,
        kmh in 5.0..120.0f64,
    ) {
        let (car, other) = (car(&one), car(&other));
        let speed_mps = units::mps_from_kmh(kmh);
        let hill = Hill { slope: Slope::from_grade(grade), speed_mps, distance_m: 3e3 };
        let both = |car: &Prepared| {
            let report = climbs::report(&car.setup(), &hill).ok()?;
            Some((report, climbs::histories(&car.setup(), &hill).ok()?))
        };
        let Some((report, runs)) = both(&car) else { return Ok(()) };
        for (row, run) in report.gears.iter().zip(&runs) {
            let hottest = run.iter().map(|s| s.parts.winding_c).fold(f64::MIN, f64::max);
            prop_assert!(run.is_empty() || (hottest - row.peak.winding_c).abs() < 1.0, "{hottest}");
        }
        let before = both(&other);
        let before = before.as_ref().map(|(report, runs)| (report, &runs[..]));
        for look in looks() {
            sound(&climb::picture("Climb", &report, &runs, None, look));
            sound(&climb::picture("Climb", &report, &runs, before, look));
        }
    }

    #[test]
    fn drives_are_sound_and_their_energy_adds_up(
        one in settings(),
        other in settings(),
        choice in 0..3usize,
    ) {
        let (car, other) = (car(&one), car(&other));
        let both = |car: &Prepared| {
            let trace = road_of(car, choice);
            let found = drive::drive(&car.setup(), &trace, &mut ());
            let report = drive::report(&car.setup(), "a road <b>", &trace, &found);
            (report, drive::history(&car.setup(), &trace))
        };
        let ((report, run), (former, before)) = (both(&car), both(&other));
        let (taken, given) = (energy::taken(&report.ledger), energy::given(&report.ledger));
        let sum = |parts: &[energy::Part]| parts.iter().map(|p| p.kwh).sum::<f64>();
        prop_assert!((sum(&taken) - sum(&given)).abs() <= 1e-6 * sum(&taken).max(1e-9));
        for look in looks() {
            let picture = energy::picture(&report, None, look);
            let bar = rectangles(&picture, "fill s");
            if !bar.is_empty() {
                prop_assert_eq!(bar.len(), taken.len());
                let wide: f64 = bar.iter().map(|r| r[2]).sum();
                prop_assert!((wide - (look.width - 28.0)).abs() < 0.1 * bar.len() as f64 + 0.1);
                for (part, drawn) in taken.iter().zip(&bar) {
                    let share = part.kwh / sum(&taken);
                    prop_assert!((drawn[2] - share * (look.width - 28.0)).abs() <= 0.2);
                }
            }
            sound(&picture);
            sound(&energy::picture(&report, Some(&former), look));
            sound(&road::picture(&report, &run, Some(&before), look).over(picture));
        }
    }

    #[test]
    fn recorded_drives_are_sound_and_tell_of_both(
        one in settings(),
        other in settings(),
        cells in prop::collection::vec(prop_oneof![Just(f64::NAN), -40.0..150.0f64], 300),
    ) {
        let mut text = String::from("time_s,speed_kmh,pack_v,pack_a,winding_c,charge_pct,cell_low_v\n");
        for (i, cell) in cells.iter().enumerate() {
            let speed = 40.0 - 40.0 * (i as f64 / 30.0).cos();
            let cell = if cell.is_nan() { String::new() } else { cell.to_string() };
            text += &format!("{i},{speed},{cell},{cell},{cell},50,3.3\n");
        }
        let path = std::path::Path::new("<log> & \u{202e}.csv");
        let recording = Recording::read(path, text.as_bytes(), &RecordingOptions::default()).unwrap();
        let drive = RecordedDrive::of(recording).unwrap();
        let driven = |settings: &[String]| comparison::driven(&drive, &car(settings));
        let ((compared, prediction), (_, before)) = (driven(&one), driven(&other));
        for look in looks() {
            for before in [None, Some(&before)] {
                let texts = sound(&recorded::picture(&compared, &drive, &prediction, before, look));
                prop_assert!(texts.iter().any(|text| text == "recorded"), "{texts:?}");
                // A car that is empty at the start has no line.
                let drove = prediction.energy_j[1].is_finite();
                prop_assert!(!drove || texts.iter().any(|text| text == "predicted"), "{texts:?}");
            }
        }
    }

    #[test]
    fn no_number_at_all_gets_outside(
        run in prop::collection::vec(any_moment(), 0..40),
        force in prop::collection::vec((any_number(), any_number()), 0..9),
    ) {
        let car = car(&[]);
        let hill = climbs::usual();
        let mut up = climbs::report(&car.setup(), &hill).unwrap();
        let marks = pull::Marks::metric();
        let pulled = pull::report(&car.setup(), &marks).unwrap();
        let trace = road_of(&car, 0);
        let found = drive::drive(&car.setup(), &trace, &mut ());
        let driven = drive::report(&car.setup(), "", &trace, &found);
        let point = |p: &(f64, f64)| wheels::TractivePoint { speed_kmh: p.0, force_n: p.1 };
        let points: Vec<_> = force.iter().map(point).collect();
        let mut wheel = wheels::report(&car.setup());
        wheel.gears[0].peak = points.clone();
        wheel.gears[1].continuous = points.clone();
        wheel.needs[0].road = points.clone();
        wheel.grip = points;
        wheel.gears[0].top_speed_kmh = force.first().map_or(0.0, |p| p.0);
        up.warnings.winding_c = force.first().map_or(0.0, |p| p.1);
        let runs = vec![run.clone(); up.gears.len()];
        for look in looks() {
            sound(&tractive::picture(&wheel, Some(&wheel), look));
            sound(&throttle::picture(&pulled, &run, Some(&run), look));
            sound(&climb::picture("Climb", &up, &runs, Some((&up, &runs)), look));
            sound(&road::picture(&driven, &run, Some(&run), look));
        }
    }
}
