//! Tables that keep to a width.

use crate::plain;
use crate::unbroken::{tied, untied};
use comfy_table::{
    Attribute, Cell, CellAlignment, Color, ColumnConstraint, ContentArrangement, Width,
};

/// Space to the right of each column beside the one between columns, and where words leave less.
const PADDINGS: [u16; 3] = [2, 1, 0];
/// No lines but one under the header.
const LINES: &str = "     ──            ";

/// A table. Columns whose heading begins with `>` stand to the right, as numbers should.
#[derive(Debug, Clone)]
pub struct Table {
    headings: Vec<String>,
    right: Vec<bool>,
    rows: Vec<Vec<String>>,
    tones: Vec<(usize, usize, Tone)>,
}

/// What a cell tells besides its text, where there is colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// Better than what it is compared with.
    Better,
    /// Worse.
    Worse,
}

impl Table {
    /// A table with these headings.
    pub fn new(headings: &[&str]) -> Self {
        Self {
            right: headings.iter().map(|h| h.starts_with('>')).collect(),
            headings: headings
                .iter()
                .map(|h| tied(&plain::line(h.strip_prefix('>').unwrap_or(h))))
                .collect(),
            rows: Vec::new(),
            tones: Vec::new(),
        }
    }

    /// Gives a cell of the last row a tone.
    pub fn tone(&mut self, column: usize, tone: Tone) {
        if let Some(row) = self.rows.len().checked_sub(1) {
            self.tones.push((row, column, tone));
        }
    }

    /// Adds a row.
    pub fn row(&mut self, cells: impl IntoIterator<Item = impl Into<String>>) {
        self.rows.push(cells.into_iter().map(|cell| tied(&plain::line(&cell.into()))).collect());
    }

    /// The headings, each with whether its column stands to the right.
    pub fn headings(&self) -> impl Iterator<Item = (&str, bool)> {
        self.headings.iter().map(String::as_str).zip(self.right.iter().copied())
    }

    /// The cells of each row.
    pub fn rows(&self) -> &[Vec<String>] {
        &self.rows
    }

    /// Widths under which columns would break within words or between a number and its unit, with
    /// the space to their right; where they do not fit side by side, the longest words give way.
    fn narrowest(&self, width: u16) -> (u16, Vec<u16>) {
        let longest = |i: usize| {
            let heading = self.headings.get(i).map_or("", String::as_str).split(' ');
            let cells = self.rows.iter().filter_map(|row| row.get(i)).flat_map(|c| c.split(' '));
            heading.chain(cells).map(|word| word.chars().count() as u16).max().unwrap_or(0)
        };
        let words: Vec<u16> = (0..self.headings.len()).map(longest).collect();
        let fits = |most: u16, padding: u16| {
            let widths = words.iter().map(|word| u32::from(*word.min(&most) + padding) + 1);
            widths.sum::<u32>() <= u32::from(width) + 1
        };
        let padding = PADDINGS.into_iter().find(|padding| fits(width, *padding)).unwrap_or(0);
        let most = (1..=width).rev().find(|most| fits(*most, padding)).unwrap_or(1);
        (padding, words.iter().map(|word| word.min(&most) + padding).collect())
    }

    /// The lines of the table, each of at most so many columns.
    pub fn render(&self, colour: bool, width: u16) -> String {
        let mut table = comfy_table::Table::new();
        table
            .load_preset(LINES)
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(width);
        if colour {
            table.enforce_styling();
        } else {
            table.force_no_tty();
        }
        let align = |i: usize, cell: Cell| {
            let right = self.right.get(i).copied().unwrap_or(false);
            cell.set_alignment(if right { CellAlignment::Right } else { CellAlignment::Left })
        };
        let header = self.headings.iter().enumerate().map(|(i, heading)| {
            let cell = align(i, Cell::new(heading));
            if colour { cell.add_attribute(Attribute::Bold) } else { cell }
        });
        if self.headings.iter().any(|heading| !heading.is_empty()) {
            table.set_header(header);
        }
        for (r, row) in self.rows.iter().enumerate() {
            table.add_row(row.iter().enumerate().map(|(i, cell)| {
                let cell = align(i, Cell::new(cell));
                match self.tones.iter().find(|tone| colour && (tone.0, tone.1) == (r, i)) {
                    Some((.., Tone::Better)) => cell.fg(Color::Green),
                    Some((.., Tone::Worse)) => cell.fg(Color::Red),
                    None => cell,
                }
            }));
        }
        let (padding, narrowest) = self.narrowest(width);
        for (column, width) in table.column_iter_mut().zip(narrowest) {
            column.set_padding((0, padding));
            column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(width)));
        }
        let whole = untied(&table.to_string());
        let lines: Vec<&str> = whole.lines().map(str::trim_end).collect();
        lines.join("\n")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stays_within_its_width_and_without_colour_where_there_is_none() {
        let mut table = Table::new(&["what", ">how much"]);
        table.row(["a word ".repeat(60), "12".to_owned()]);
        table.row(["a\nb\u{1b}[31m".to_owned(), "3".to_owned()]);
        let plain = table.render(false, 100);
        assert!(plain.lines().all(|line| line.chars().count() <= 100), "{plain}");
        let narrow = table.render(false, 80);
        assert!(narrow.lines().all(|line| line.chars().count() <= 80), "{narrow}");
        assert!(!plain.contains('\u{1b}'));
        assert!(table.render(true, 100).contains('\u{1b}'));
        let bold = table.render(true, 100).matches('\u{1b}').count();
        table.tone(1, Tone::Better);
        assert!(table.render(true, 100).matches('\u{1b}').count() > bold);
        assert_eq!(table.render(false, 100), plain);
    }
}
