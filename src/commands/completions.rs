//! `completions`: what a shell runs so that it completes commands, options, fields and parts.

use crate::failure::Failure;
use crate::output::Output;
use clap_complete::env::Shells;
use schemars::JsonSchema;
use serde::Serialize;

/// Arguments of `completions`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The shell.
    #[arg(value_name = "SHELL", value_parser = ["bash", "elvish", "fish", "powershell", "zsh"])]
    shell: String,
}

/// The script.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Script {
    /// The shell.
    shell: String,
    /// What it runs.
    script: String,
}

/// The variable by which a shell asks the program what fits.
pub const VARIABLE: &str = "COMPLETE";

/// Prints the script.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let mut script = Vec::new();
    if let Some(shell) = Shells::builtins().completer(&args.shell) {
        let name = env!("CARGO_PKG_NAME");
        shell
            .write_registration(VARIABLE, name, name, name, &mut script)
            .map_err(Failure::Output)?;
    }
    let script = String::from_utf8_lossy(&script).into_owned();
    if output.json {
        return output.document(&Script { shell: args.shell.clone(), script });
    }
    output.raw(&script)
}
