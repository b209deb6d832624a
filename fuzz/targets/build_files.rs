//! Any text as the file of a build or a scenario: refused in one sentence, or a car that drives.

#![no_main]

use libfuzzer_sys::fuzz_target;
use scenarios::Loaded;
use shakedown_fuzz::says_something;
use std::path::PathBuf;

fuzz_target!(|data: &[u8]| {
    let folder = PathBuf::from(std::env::var_os("FUZZ_FOLDER").unwrap_or("/tmp".into()));
    let file = folder.join(format!("fuzz-{}.json", std::process::id()));
    std::fs::write(&file, data).unwrap();
    match Loaded::open(&file).and_then(|loaded| loaded.prepare()) {
        Ok(car) => {
            car.warnings().iter().for_each(|warning| says_something(&warning.text));
            let trace = scenarios::runs::trace(&cycles::find("wltc-low").unwrap()).unwrap();
            let found = scenarios::runs::drive::drive(&car.setup(), &trace, &mut ());
            assert!(found.ledger.residual_share().abs() < 1e-6);
        }
        Err(error) => says_something(&error.to_string()),
    }
});
