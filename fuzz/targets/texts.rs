//! What is written in options: values for fields, what is varied, goals, spreads, ends.

#![no_main]

use libfuzzer_sys::fuzz_target;
use scenarios::studies::goal::Goal;
use scenarios::studies::size::Interval;
use scenarios::studies::spread::Spread;
use scenarios::studies::sweep::{Vary, combinations};
use scenarios::{Loaded, Override};
use shakedown_fuzz::says_something;

fuzz_target!(|data: &[u8]| {
    let Some((kind, text)) = data.split_first() else { return };
    let Ok(text) = std::str::from_utf8(text) else { return };
    let said = match kind % 6 {
        0 => match text.parse::<Override>() {
            Ok(one) => {
                let demo = Loaded::demo().unwrap();
                demo.with(&[one]).err().map(|e| e.to_string())
            }
            Err(error) => Some(error.to_string()),
        },
        1 => match Vary::parse(text) {
            Ok(vary) => {
                assert!(!vary.values.is_empty());
                combinations(&[vary.clone(), vary]).err().map(|e| e.to_string())
            }
            Err(error) => Some(error.to_string()),
        },
        2 => text.parse::<Goal>().err().map(|e| e.to_string()),
        3 => text.parse::<Interval>().err().map(|e| e.to_string()),
        4 => Spread::parse(text).err().map(|e| e.to_string()),
        _ => Spread::from_json(text, "spreads.json").err().map(|e| e.to_string()),
    };
    if let Some(said) = said {
        says_something(&said);
    }
});
