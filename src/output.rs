//! What goes to the standard output: tables for people, or one JSON document.

use crate::failure::Failure;
use crate::measure::Units;
use crate::plain;
use crate::table::Table;
use serde::Serialize;
use std::env;
use std::io::{self, BufWriter, IsTerminal, StdoutLock, Write};
use textwrap::{Options, WordSplitter};

/// The standard output.
pub struct Output {
    /// Whether one JSON document is wanted.
    pub json: bool,
    /// Units of the tables.
    pub units: Units,
    styled: bool,
    writer: BufWriter<StdoutLock<'static>>,
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
        Self { json, units, styled: takes_escapes(&stdout), writer: BufWriter::new(stdout.lock()) }
    }

    /// A line.
    pub fn line(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        Ok(writeln!(self.writer, "{}", plain::line(text.as_ref()))?)
    }

    /// A sentence, broken into lines of at most 100 columns.
    pub fn text(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        let at_spaces =
            Options::new(100).break_words(false).word_splitter(WordSplitter::NoHyphenation);
        let text = plain::line(text.as_ref());
        Ok(writeln!(self.writer, "{}", textwrap::fill(&text, at_spaces))?)
    }

    /// A sentence without a name that comes from a file, its quantities in the tables' units.
    pub fn said(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        self.text(self.units.said(text.as_ref()))
    }

    /// A heading, with an empty line before it unless it is the first thing.
    pub fn heading(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        let text = plain::line(text.as_ref());
        if self.styled {
            writeln!(self.writer, "\n\u{1b}[1m{text}\u{1b}[0m")?;
        } else {
            writeln!(self.writer, "\n{text}")?;
        }
        Ok(())
    }

    /// A table.
    pub fn table(&mut self, table: &Table) -> Result<(), Failure> {
        Ok(writeln!(self.writer, "{}", table.render(self.styled))?)
    }

    /// A row of a map: cells, each with a background of the 256 colours where there are any.
    pub fn map_row(
        &mut self,
        head: &str,
        cells: impl Iterator<Item = (String, u8)>,
    ) -> Result<(), Failure> {
        let styled = self.styled;
        let shown = cells.map(|(text, background)| match styled {
            true => format!("\u{1b}[97;48;5;{background}m{}\u{1b}[0m", plain::line(&text)),
            false => plain::line(&text),
        });
        let row = plain::line(head) + &shown.collect::<String>();
        Ok(writeln!(self.writer, "{}", row.trim_end())?)
    }

    /// Text with its own lines.
    pub fn lines(&mut self, text: &str) -> Result<(), Failure> {
        Ok(self.writer.write_all(plain::lines(text).as_bytes())?)
    }

    /// The JSON document.
    pub fn document<T: Serialize>(&mut self, document: &T) -> Result<(), Failure> {
        let text = plain::json_with_margins(document).map_err(io::Error::from)?;
        Ok(writeln!(self.writer, "{text}")?)
    }

    /// Writes what is still held back.
    pub fn finish(&mut self) -> Result<(), Failure> {
        Ok(self.writer.flush()?)
    }
}
