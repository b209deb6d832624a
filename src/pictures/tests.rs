//! Pictures of random cars and of random numbers.

use super::checks::sound;
use super::{Look, tractive};
use crate::measure::Units;
use proptest::prelude::*;
use scenarios::runs::{gearing, tractive as wheels};
use scenarios::{Loaded, Override, Prepared};

/// Looks that are drawn: wide and narrow, metric and US, with a name that is up to something.
fn looks() -> [Look<'static>; 3] {
    let hostile =
        "<script>alert(\"&amp;\")</script>\u{1b}[31m\u{202e}]]> & 'a very long name of a car'";
    [
        Look::wide("", Units::Metric),
        Look::narrow("Größe 中文 🚗", Units::Us),
        Look::wide(hostile, Units::Us),
    ]
}

/// Cars of all kinds: those that cannot move, those that are all motor, hot ones and empty ones.
fn settings() -> impl Strategy<Value = [String; 6]> {
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

fn car(settings: &[String]) -> Prepared {
    let set: Vec<Override> = settings.iter().map(|s| s.parse().unwrap()).collect();
    Loaded::demo().unwrap().with(&set).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn tractive_pictures_are_sound_and_show_the_gears(one in settings(), other in settings()) {
        let (car, other) = (car(&one), car(&other));
        let report = wheels::report(&car.setup());
        let before = wheels::report(&other.setup());
        for (row, gear) in gearing::table(&car.setup()).iter().zip(&report.gears) {
            let first = gear.peak[0].force_n;
            prop_assert!((first - row.peak_force_n).abs() <= 1e-9 * first.abs().max(1.0));
        }
        for look in looks() {
            sound(&tractive::picture(&report, None, look));
            sound(&tractive::picture(&report, Some(&before), look));
        }
    }
}
