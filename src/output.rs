//! What a command says: to the standard output as tables for people or as one JSON document, or kept
//! for a page.

use crate::failure::Failure;
use crate::measure::Units;
use crate::plain;
use crate::table::Table;
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
    place: Place,
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
        Self { json, units, place: Place::Standard { styled, writer } }
    }

    /// What is said, for a page.
    pub fn said_by(
        units: Units,
        speak: impl FnOnce(&mut Self) -> Result<(), Failure>,
    ) -> Result<Vec<Said>, Failure> {
        let mut output = Self { json: false, units, place: Place::Page(Vec::new()) };
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

    /// A sentence, broken into lines of at most 100 columns.
    pub fn text(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        let text = plain::line(text.as_ref());
        match &mut self.place {
            Place::Standard { writer, .. } => {
                let at_spaces =
                    Options::new(100).break_words(false).word_splitter(WordSplitter::NoHyphenation);
                writeln!(writer, "{}", textwrap::fill(&text, at_spaces))?;
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
        match &mut self.place {
            Place::Standard { styled: true, writer } => {
                writeln!(writer, "\n\u{1b}[1m{text}\u{1b}[0m")?;
            }
            Place::Standard { writer, .. } => writeln!(writer, "\n{text}")?,
            Place::Page(said) => said.push(Said::Heading(text)),
        }
        Ok(())
    }

    /// A table.
    pub fn table(&mut self, table: &Table) -> Result<(), Failure> {
        match &mut self.place {
            Place::Standard { styled, writer } => writeln!(writer, "{}", table.render(*styled))?,
            Place::Page(said) => said.push(Said::Table(table.clone())),
        }
        Ok(())
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
    fn raw(&mut self, text: &str) -> Result<(), Failure> {
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
