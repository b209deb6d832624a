//! A part that is too hot is told of wherever it is asked about.

use scenarios::runs::figure::find;
use scenarios::runs::limits::NamedLimit;
use scenarios::runs::{Run, Suite, drive, trace};
use scenarios::{Loaded, Override};
use sim_core::Limit;

/// The demo on a hot day, from parts as warm as given.
fn hot_day(warm: &str) -> scenarios::Prepared {
    let set = ["conditions.air_c=45", warm].map(|text| text.parse::<Override>().unwrap());
    Loaded::demo().unwrap().with(&set).unwrap()
}

/// Whichever part is above its warning at the start, the drive says so at once and names it, and so
/// does the figure from which the odds of overheating on the road are counted.
#[test]
fn a_drive_names_the_part_that_is_too_hot() {
    let road = trace(&cycles::find("us06").unwrap()).unwrap();
    let parts = [
        ("start.winding_c=170", Limit::MotorHeat),
        ("start.controller_c=85", Limit::ControllerHeat),
        ("start.cells_c=57", Limit::CellTemperature),
    ];
    for (warm, part) in parts {
        let prepared = hot_day(warm);
        let setup = prepared.setup();
        let found = drive::drive(&setup, &road, &mut ());
        let report = drive::report(&setup, "us06", &road, &found);
        assert_eq!(
            (report.derated_at_s, report.derated_by),
            (Some(0.0), Some(NamedLimit(part))),
            "{warm}"
        );
        let figures = Suite::new(&[Run::Drive], "us06", road.clone()).figures(&prepared).unwrap();
        assert_eq!(find(&figures, "drive_derates_after_s").unwrap().value, 0.0, "{warm}");
    }
}

/// Cells that hold the car back by their heat are cells that are too hot.
#[test]
fn cells_that_limit_by_heat_have_derated() {
    let road = trace(&cycles::find("us06").unwrap()).unwrap();
    let prepared = hot_day("start.cells_c=57");
    let found = drive::drive(&prepared.setup(), &road, &mut ());
    assert!(found.limited_s[Limit::CellTemperature as usize] > 100.0);
    assert_eq!(found.derated, Some((0.0, Limit::CellTemperature)));
}
