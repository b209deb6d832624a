//! Any bytes as a log of a car: read or refused, its channels of one length, its times rising, its road
//! driven.

#![no_main]

use cycles::{Recording, RecordingOptions, Signal};
use libfuzzer_sys::fuzz_target;
use shakedown_fuzz::says_something;
use std::path::Path;

fuzz_target!(|data: &[u8]| {
    let Some((how, file)) = data.split_first() else { return };
    let name = if how & 1 == 0 { "log.csv" } else { "log.gpx" };
    let named = |signal: &str, column: &str| (signal.to_owned(), column.to_owned());
    let options = RecordingOptions {
        columns: if how & 2 == 0 {
            Vec::new()
        } else {
            vec![named("pack_a", "-x"), named("speed_kmh", "v")]
        },
        rate_hz: (how & 4 != 0).then_some(10.0),
    };
    let recording = match Recording::read(Path::new(name), file, &options) {
        Ok(recording) => recording,
        Err(error) => return says_something(&error.to_string()),
    };
    recording.faults.iter().for_each(|fault| says_something(&fault.sentence()));
    recording.notes.iter().for_each(|note| says_something(note));
    let times = &recording.time_s;
    assert!(times.len() > 1 && times.windows(2).all(|t| t[0] < t[1]));
    for channel in &recording.channels {
        assert_eq!(channel.values.len(), times.len());
        assert!(channel.values.iter().all(|value| !value.is_infinite()));
    }
    if let Err(error) = recording.road(Some(Signal::Auxiliaries)) {
        says_something(&error.to_string());
    }
});
