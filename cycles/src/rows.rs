//! Separated text, row by row, with the line of each.

use std::path::Path;

use crate::Error;

/// The most columns of a table.
pub const COLUMN_LIMIT: usize = 10_000;

/// The rows of a text; `#` lines are comments.
pub(crate) struct Rows<'a> {
    path: &'a Path,
    reader: csv::Reader<&'a [u8]>,
    lines: LineCounter<'a>,
}

impl<'a> Rows<'a> {
    /// Of a text whose fields a separator parts.
    ///
    /// # Errors
    /// [`Error::Row`] where a line has more than [`COLUMN_LIMIT`] fields.
    pub fn new(path: &'a Path, text: &'a str, separator: u8) -> Result<Self, Error> {
        // A field takes eight times the room of its separator, so they are counted before they are
        // read.
        let fields = |line: &str| line.bytes().filter(|b| *b == separator).count();
        let too_wide = |line: &str| fields(line) >= COLUMN_LIMIT && !line.starts_with('#');
        if let Some(at) = text.lines().position(too_wide) {
            return Err(Error::Row {
                path: path.to_owned(),
                line: at as u64 + 1,
                problem: format!(
                    "has more than {COLUMN_LIMIT} fields, and at most so many are read"
                ),
            });
        }
        let reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(separator)
            .comment(Some(b'#'))
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        Ok(Self { path, reader, lines: LineCounter { text, byte: 0, line: 1 } })
    }

    /// Reads the next row and says its line; none at the end.
    ///
    /// # Errors
    /// [`Error::Row`] where the text is not separated text.
    pub fn next_into(&mut self, record: &mut csv::StringRecord) -> Result<Option<u64>, Error> {
        let more = self.reader.read_record(record).map_err(|fault| Error::Row {
            path: self.path.to_owned(),
            line: fault.position().map_or(1, csv::Position::line),
            problem: format!("cannot be read as comma-separated text: {fault}"),
        })?;
        let byte = record.position().map_or(0, csv::Position::byte);
        Ok(more.then(|| self.lines.line_of_row_at(byte)))
    }
}

/// Counts lines up to a row, as the reader of CSV states only where it began to look for one.
struct LineCounter<'a> {
    text: &'a str,
    byte: usize,
    line: u64,
}

impl LineCounter<'_> {
    /// The line of the first row at or after a byte, past ends of lines and comments; bytes may
    /// only grow from call to call.
    fn line_of_row_at(&mut self, byte: u64) -> u64 {
        let bytes = self.text.as_bytes();
        let from = usize::try_from(byte).unwrap_or(usize::MAX).min(bytes.len());
        let mut end = from;
        loop {
            match bytes.get(end) {
                Some(b'\r' | b'\n') => end += 1,
                Some(b'#') => {
                    let rest = &bytes[end..];
                    end += rest.iter().position(|b| *b == b'\n').unwrap_or(rest.len());
                }
                _ => break,
            }
        }
        let passed = bytes.get(self.byte..end).unwrap_or_default();
        self.line += passed.iter().filter(|b| **b == b'\n').count() as u64;
        self.byte = end;
        self.line
    }
}
