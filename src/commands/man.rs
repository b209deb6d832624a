//! `man`: pages for `man`, one a command.

use crate::cli::Cli;
use crate::failure::Failure;
use crate::output::Output;
use clap::CommandFactory;
use clap_mangen::Man;
use scenarios::output_file;
use schemars::JsonSchema;
use serde::Serialize;
use std::path::PathBuf;

/// Arguments of `man`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Writes a page for the program and each command into this folder; nothing is overwritten.
    /// Left out, the page of the program is printed.
    #[arg(long, value_name = "FOLDER")]
    write: Option<PathBuf>,
}

/// What was made.
#[derive(Debug, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Pages {
    /// The page of the program, as `man` reads it.
    Page {
        /// Its source.
        page: String,
    },
    /// The files that were written.
    Files {
        /// Their paths.
        written: Vec<String>,
    },
}

fn page(command: clap::Command) -> Result<Vec<u8>, Failure> {
    let mut text = Vec::new();
    Man::new(command).render(&mut text).map_err(Failure::Output)?;
    Ok(text)
}

/// The commands within one, each with the name of its page.
fn below<'a>(name: &str, command: &'a clap::Command) -> Vec<(String, &'a clap::Command)> {
    let own = command.get_subcommands().filter(|command| command.get_name() != "help");
    let with_own = |command: &'a clap::Command| {
        let name = format!("{name}-{}", command.get_name());
        let inner = below(&name, command);
        [vec![(name, command)], inner].concat()
    };
    own.flat_map(with_own).collect()
}

/// Prints or writes.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let mut program = Cli::command();
    program.build();
    let Some(folder) = &args.write else {
        let page = String::from_utf8_lossy(&page(program)?).into_owned();
        if output.json {
            return output.document(&Pages::Page { page });
        }
        return output.lines(&page);
    };
    let mut pages =
        vec![(folder.join(format!("{}.1", program.get_name())), page(program.clone())?)];
    for (name, command) in below(program.get_name(), &program) {
        // A page is called as its file.
        let named = command.clone().display_name(name.clone());
        pages.push((folder.join(format!("{name}.1")), page(named)?));
    }
    let files: Vec<(PathBuf, &[u8])> =
        pages.iter().map(|(path, text)| (path.clone(), text.as_slice())).collect();
    output_file::write_all_new(&files)?;
    let written: Vec<String> = files.iter().map(|(path, _)| path.display().to_string()).collect();
    if output.json {
        return output.document(&Pages::Files { written });
    }
    written.iter().try_for_each(|path| output.line(path))
}
