//! What rows of many combinations rest on, so that a stopped run goes on with its own alone.

use scenarios::learnt::sha256_of;
use scenarios::part_file::sum_of;
use scenarios::studies::stream::Ground;
use std::env;
use std::fmt::Debug;
use std::path::PathBuf;

/// The program, what was asked of it, and every file that is read.
pub fn grounds(asked: &impl Debug, inputs: &[PathBuf]) -> Vec<Ground> {
    let ground = |what: &str, sum| Ground { what: what.to_owned(), sum };
    let program = env::current_exe().ok().and_then(|path| sha256_of(&path).ok());
    let version = || sum_of(env!("CARGO_PKG_VERSION").as_bytes());
    let mut grounds = vec![
        ground("the program", program.unwrap_or_else(version)),
        ground("the command", sum_of(format!("{asked:?}").as_bytes())),
    ];
    for file in inputs {
        // Files of the demo are in the program.
        let sum = sha256_of(file).unwrap_or_default();
        grounds.push(ground(&file.display().to_string(), sum));
    }
    grounds
}
