//! Any bytes as a road: a drive, speed limits by distance, an elevation, a track, a route at a pace.

#![no_main]

use cycles::{Columns, LoadOptions};
use libfuzzer_sys::fuzz_target;
use shakedown_fuzz::says_something;
use std::path::Path;

fuzz_target!(|data: &[u8]| {
    let Some((how, file)) = data.split_first() else { return };
    let name = if how & 1 == 0 { "road.csv" } else { "road.gpx" };
    let options = LoadOptions {
        columns: if how & 2 == 0 { Columns::Strict } else { Columns::IgnoreUnknown },
        auxiliary_column: (how & 4 != 0).then(|| "heater_kw".to_owned()),
        pace: cycles::Pace {
            limit_mps: (how & 8 != 0).then_some(20.0),
            bends_mps2: (how & 16 != 0).then_some(3.0),
            stops: if how & 32 != 0 { vec![(100.0, 5.0)] } else { Vec::new() },
            ..cycles::Pace::default()
        },
        ..LoadOptions::default()
    };
    match cycles::read(Path::new(name), file, &options) {
        Ok(road) => {
            road.notes.iter().for_each(|note| says_something(note));
            let trace = match scenarios::runs::trace(&road.schedule) {
                Ok(trace) => trace,
                Err(error) => return says_something(&error.to_string()),
            };
            assert!(trace.distance_m().is_finite());
            if let Ok(back) = scenarios::runs::trace(&road.schedule.reversed()) {
                assert!(
                    (back.distance_m() - trace.distance_m()).abs()
                        < 1e-6 * (1.0 + trace.distance_m())
                );
            }
        }
        Err(error) => says_something(&error.to_string()),
    }
});
