//! Drives an electric conversion before it is built.

use std::process::ExitCode;

fn main() -> ExitCode {
    shakedown::main()
}
