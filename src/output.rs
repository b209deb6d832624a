//! What a command says: to the standard output as tables for people or as one JSON document, or kept
//! for a page.

use crate::failure::Failure;
use crate::measure::Units;
use crate::plain;
use crate::table::Table;
use crate::unbroken::{tied, untied};
use serde::Serialize;
use std::env;
use std::io::{self, BufWriter, IsTerminal, StdoutLock, Write};
use textwrap::{Options, WordSplitter};

/// Where a command says what it has to say.
pub struct Output {
    /// Whether one JSON document is wanted.
    pub json: bool,
    /// Units of the tables.
    pub units: Units,
    /// Columns that lines and tables keep to.
    pub width: u16,
    place: Place,
}

/// Columns where nothing says how many there are, and at most.
const WIDEST: u16 = 100;
/// Columns that a terminal is taken to have at least.
pub const NARROWEST: u16 = 80;

/// Columns of the terminal, or of the variable `COLUMNS`.
fn columns() -> u16 {
    let said = env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok());
    let found = || terminal_size::terminal_size().map(|(width, _)| width.0);
    said.or_else(found).unwrap_or(WIDEST).clamp(NARROWEST, WIDEST)
}

/// A sentence on lines of so many columns.
fn filled(text: &str, width: u16) -> String {
    let at_spaces =
        Options::new(width.into()).break_words(false).word_splitter(WordSplitter::NoHyphenation);
    untied(&textwrap::fill(&tied(text), at_spaces))
}

/// Where it goes.
enum Place {
    /// The standard output, with or without escape sequences.
    Standard { styled: bool, writer: BufWriter<StdoutLock<'static>> },
    /// A page that is made of it afterwards.
    Page(Vec<Said>),
}

/// Something that was said, for a page.
#[derive(Debug, Clone)]
pub enum Said {
    /// A line or a sentence.
    Text(String),
    /// A heading.
    Heading(String),
    /// A table.
    Table(Table),
}

impl Said {
    /// How many lines of so many columns it takes.
    pub fn lines(&self, width: u16) -> usize {
        match self {
            Said::Text(text) => filled(text, width).lines().count(),
            // With the empty line before it.
            Said::Heading(text) => 1 + filled(text, width).lines().count(),
            Said::Table(table) => table.render(false, width).lines().count(),
        }
    }
}

/// Whether a stream may be given escape sequences: a terminal that is not `dumb`, where the variable
/// `NO_COLOR` is not set to anything.
pub fn takes_escapes(stream: &impl IsTerminal) -> bool {
    let asked_not_to = env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let able = env::var_os("TERM").is_some_and(|kind| kind != "dumb");
    stream.is_terminal() && able && !asked_not_to
}

/// Says something on the standard error. Where that is closed or full, nobody can be told.
pub fn complain(text: &str) {
    let _ = writeln!(io::stderr(), "{}", plain::line(text));
}

impl Output {
    /// Takes hold of the standard output.
    pub fn new(json: bool, units: Units) -> Self {
        let stdout = io::stdout();
        let styled = takes_escapes(&stdout);
        let writer = BufWriter::new(stdout.lock());
        Self { json, units, width: columns(), place: Place::Standard { styled, writer } }
    }

    /// What is said, for a page.
    pub fn said_by(
        units: Units,
        speak: impl FnOnce(&mut Self) -> Result<(), Failure>,
    ) -> Result<Vec<Said>, Failure> {
        let mut output = Self { json: false, units, width: WIDEST, place: Place::Page(Vec::new()) };
        speak(&mut output)?;
        match output.place {
            Place::Page(said) => Ok(said),
            Place::Standard { .. } => Ok(Vec::new()),
        }
    }

    /// A line.
    pub fn line(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        let text = plain::line(text.as_ref());
        match &mut self.place {
            Place::Standard { writer, .. } => writeln!(writer, "{text}")?,
            Place::Page(said) => said.push(Said::Text(text)),
        }
        Ok(())
    }

    /// A sentence, broken into lines.
    pub fn text(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        let text = plain::line(text.as_ref());
        match &mut self.place {
            Place::Standard { writer, .. } => {
                writeln!(writer, "{}", filled(&text, self.width))?;
            }
            Place::Page(said) => said.push(Said::Text(text)),
        }
        Ok(())
    }

    /// A sentence without a name that comes from a file, its quantities in the tables' units.
    pub fn said(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        self.text(self.units.said(text.as_ref()))
    }

    /// A heading, with an empty line before it unless it is the first thing.
    pub fn heading(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        let text = plain::line(text.as_ref());
        let lines = || filled(&text, self.width);
        match &mut self.place {
            Place::Standard { styled: true, writer } => {
                writeln!(writer, "\n\u{1b}[1m{}\u{1b}[0m", lines())?;
            }
            Place::Standard { writer, .. } => writeln!(writer, "\n{}", lines())?,
            Place::Page(said) => said.push(Said::Heading(text)),
        }
        Ok(())
    }

    /// A table.
    pub fn table(&mut self, table: &Table) -> Result<(), Failure> {
        match &mut self.place {
            Place::Standard { styled, writer } => {
                writeln!(writer, "{}", table.render(*styled, self.width))?
            }
            Place::Page(said) => said.push(Said::Table(table.clone())),
        }
        Ok(())
    }

    /// Says again what was kept.
    pub fn say(&mut self, said: &[Said]) -> Result<(), Failure> {
        said.iter().try_for_each(|one| match one {
            Said::Text(text) => self.text(text),
            Said::Heading(text) => self.heading(text),
            Said::Table(table) => self.table(table),
        })
    }

    /// A row of a map: cells, each with a background of the 256 colours where there are any.
    pub fn map_row(
        &mut self,
        head: &str,
        cells: impl Iterator<Item = (String, u8)>,
    ) -> Result<(), Failure> {
        let styled = matches!(self.place, Place::Standard { styled: true, .. });
        let shown = cells.map(|(text, background)| match styled {
            true => format!("\u{1b}[97;48;5;{background}m{}\u{1b}[0m", plain::line(&text)),
            false => plain::line(&text),
        });
        let row = plain::line(head) + &shown.collect::<String>();
        self.raw(&format!("{}\n", row.trim_end()))
    }

    /// Text with its own lines.
    pub fn lines(&mut self, text: &str) -> Result<(), Failure> {
        self.raw(&plain::lines(text))
    }

    /// The JSON document.
    pub fn document<T: Serialize>(&mut self, document: &T) -> Result<(), Failure> {
        let text = plain::json_with_margins(document).map_err(io::Error::from)?;
        self.raw(&format!("{text}\n"))
    }

    /// Text that was cleaned before.
    pub fn raw(&mut self, text: &str) -> Result<(), Failure> {
        match &mut self.place {
            Place::Standard { writer, .. } => writer.write_all(text.as_bytes())?,
            Place::Page(said) => said.push(Said::Text(text.to_owned())),
        }
        Ok(())
    }

    /// Writes what is still held back.
    pub fn finish(&mut self) -> Result<(), Failure> {
        match &mut self.place {
            Place::Standard { writer, .. } => writer.flush()?,
            Place::Page(_) => (),
        }
        Ok(())
    }
}
