//! `live`: a page on which the build is moved.

use crate::choice::ChoiceArgs;
use crate::failure::Failure;
use crate::input::Input;
use crate::live::{Server, Shown};
use crate::output::Output;
use crate::recorded::RecordedArgs;
use schemars::JsonSchema;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Arguments of `live`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    /// Port of this machine; left out, a free one.
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true)]
    port: u16,

    /// The one folder whose parts and roads the page offers and where it saves; left out, that of
    /// FILE.
    #[arg(long, value_name = "FOLDER")]
    folder: Option<PathBuf>,

    #[command(flatten)]
    choice: ChoiceArgs,

    #[command(flatten)]
    recorded: RecordedArgs,
}

/// Where the page is.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Opened {
    /// The address with its key, which is new at each start.
    address: String,
    /// The port.
    port: u16,
    /// The folder whose parts and roads the page offers and where it saves.
    folder: PathBuf,
}

/// Says where the page is and serves it until the program is ended.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let loaded = args.input.load()?;
    // What cannot be driven is refused here rather than on the page.
    let prepared = loaded.prepare().map_err(crate::failure::of("--set"))?;
    let of_file = || args.input.file.as_deref().and_then(Path::parent).unwrap_or(Path::new(""));
    let folder = args.folder.clone().unwrap_or_else(|| of_file().to_owned());
    let folder = if folder.as_os_str().is_empty() { PathBuf::from(".") } else { folder };
    if !folder.is_dir() {
        let text = format!("--folder {}: there is no such folder", cycles::file(&folder));
        return Err(Failure::Arguments(text));
    }
    let recorded = args.recorded.drive()?;
    if let Some(drive) = &recorded {
        drive.beneath(&prepared)?;
    }
    let shown = Shown { recorded, choice: args.choice.read(&loaded)? };
    let server = Server::new(loaded, folder.clone(), output.units, args.port, shown)?;
    let opened = Opened { address: server.address(), port: server.port(), folder };
    if output.json {
        output.document(&opened)?;
    } else {
        output.text(format!("{}: a page to move it on", prepared.name))?;
        output.line("")?;
        output.line(format!("    {}", opened.address))?;
        output.line("")?;
        output.text(
            "Open it in a browser on this machine. Nobody else can: the address holds a key that \
             is new at each start.",
        )?;
        let folder = opened.folder.display();
        output
            .text(format!("Parts and roads are offered from {folder}, and files saved there."))?;
        output.text("Ctrl-C ends it.")?;
    }
    output.finish()?;
    server.serve()
}
