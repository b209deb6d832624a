//! What goes to the standard output: tables for people, or one JSON document.

use crate::failure::Failure;
use crate::measure::Units;
use crate::table::Table;
use serde::Serialize;
use std::io::{self, BufWriter, IsTerminal, StdoutLock, Write};
use textwrap::{Options, WordSplitter};

/// The standard output.
pub struct Output {
    /// Whether one JSON document is wanted.
    pub json: bool,
    /// Units of the tables.
    pub units: Units,
    colour: bool,
    writer: BufWriter<StdoutLock<'static>>,
}

impl Output {
    /// Takes hold of the standard output. Colours are used on a terminal only, and not where the
    /// variable `NO_COLOR` is set to anything.
    pub fn new(json: bool, units: Units) -> Self {
        let stdout = io::stdout();
        let asked_not_to = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        Self {
            json,
            units,
            colour: stdout.is_terminal() && !asked_not_to,
            writer: BufWriter::new(stdout.lock()),
        }
    }

    /// Whether colours are wanted.
    pub fn colour(&self) -> bool {
        self.colour
    }

    /// A line.
    pub fn line(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        Ok(writeln!(self.writer, "{}", one_line(text.as_ref()))?)
    }

    /// A sentence, broken into lines of at most 100 columns; its quantities in the tables' units.
    pub fn text(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        let text = self.units.said(text.as_ref());
        let at_spaces =
            Options::new(100).break_words(false).word_splitter(WordSplitter::NoHyphenation);
        Ok(writeln!(self.writer, "{}", textwrap::fill(&one_line(&text), at_spaces))?)
    }

    /// A heading, with an empty line before it unless it is the first thing.
    pub fn heading(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        let text = one_line(text.as_ref());
        if self.colour {
            writeln!(self.writer, "\n\u{1b}[1m{text}\u{1b}[0m")?;
        } else {
            writeln!(self.writer, "\n{text}")?;
        }
        Ok(())
    }

    /// A table.
    pub fn table(&mut self, table: &Table) -> Result<(), Failure> {
        Ok(writeln!(self.writer, "{}", table.render(self.colour))?)
    }

    /// Text as it is, with its own lines.
    pub fn raw(&mut self, text: &str) -> Result<(), Failure> {
        Ok(self.writer.write_all(text.as_bytes())?)
    }

    /// The JSON document.
    pub fn document<T: Serialize>(&mut self, document: &T) -> Result<(), Failure> {
        serde_json::to_writer_pretty(&mut self.writer, document).map_err(io::Error::from)?;
        Ok(writeln!(self.writer)?)
    }

    /// Writes what is still held back.
    pub fn finish(&mut self) -> Result<(), Failure> {
        Ok(self.writer.flush()?)
    }
}

/// The text on one line, without control characters.
pub fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}
