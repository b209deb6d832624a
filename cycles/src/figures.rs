//! Numbers as spreadsheets of any country write them.

use std::cmp::Ordering;

/// What sets off decimals in a file, as far as its numbers tell.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Mark {
    comma: bool,
    point: bool,
}

impl Mark {
    /// Learns from a cell. A mark that stands behind another kind of mark is the decimal one; one
    /// that stands twice groups thousands; one that is not followed by three digits does not, nor
    /// one behind a zero.
    pub fn see(&mut self, text: &str) {
        let text = text.trim();
        if text.contains(':') {
            return;
        }
        let count = |mark: char| text.chars().filter(|c| *c == mark).count();
        let digits_after = |mark: char| {
            let rest = text.rsplit(mark).next().unwrap_or_default();
            rest.chars().take_while(char::is_ascii_digit).count()
        };
        let zero = |mark: char| {
            let whole = text.split(mark).next().unwrap_or_default();
            whole.trim_start_matches(['-', '−', '+']) == "0"
        };
        let decimal = |mark: char| digits_after(mark) != 3 || zero(mark);
        match (count(','), count('.')) {
            (0, 0) => {}
            (1, 0) if decimal(',') => self.comma = true,
            (0, 1) if decimal('.') => self.point = true,
            (1, points) if points > 0 && text.rfind(',') > text.rfind('.') => self.comma = true,
            (commas, 1) if commas > 0 && text.rfind('.') > text.rfind(',') => self.point = true,
            (2.., 0) => self.point = true,
            (0, 2..) => self.comma = true,
            _ => {}
        }
    }

    /// The marks of the columns of a file, each by what it tells itself; one that tells nothing goes
    /// with most of those that do.
    pub fn settled(columns: Vec<Self>) -> Vec<Self> {
        let of = |wanted: Self| columns.iter().filter(|mark| **mark == wanted).count();
        let (comma, point) =
            (Self { comma: true, point: false }, Self { comma: false, point: true });
        let most = match of(comma).cmp(&of(point)) {
            Ordering::Greater => comma,
            Ordering::Less => point,
            Ordering::Equal => Self::default(),
        };
        let settle = |mark: Self| if mark == Self::default() { most } else { mark };
        columns.into_iter().map(settle).collect()
    }
}

/// The number in a cell; NaN where it says that there is none, nothing where it is something else.
pub(crate) fn figure(text: &str, mark: Mark) -> Option<f64> {
    const NOTHING: [&str; 8] = ["", "-", "–", "—", "nan", "n/a", "null", "none"];
    let text = text.trim();
    // Most cells of most files.
    if !mark.comma
        && !text.contains(',')
        && let Ok(value) = text.parse::<f64>()
    {
        return Some(if value.is_finite() { value } else { f64::NAN });
    }
    if NOTHING.iter().any(|nothing| nothing.eq_ignore_ascii_case(text)) || text == "#N/A" {
        return Some(f64::NAN);
    }
    let gap = |c: char| matches!(c, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}' | '\'' | '’');
    let mut bare: String = text.chars().filter(|c| !gap(*c)).collect();
    bare = bare.replace('−', "-");
    let (comma, point) = (bare.rfind(','), bare.rfind('.'));
    // A mark that the file sets off decimals with; the other groups thousands.
    let decimal = match (comma, point) {
        (Some(c), Some(p)) => Some(if c > p { ',' } else { '.' }),
        (Some(_), None) if bare.matches(',').count() > 1 || mark.point && !mark.comma => None,
        (None, Some(_)) if bare.matches('.').count() > 1 || mark.comma && !mark.point => None,
        (Some(_), None) => Some(','),
        (None, Some(_)) => Some('.'),
        (None, None) => None,
    };
    let plain: String = bare
        .chars()
        .filter(|c| !matches!(c, ',' | '.') || Some(*c) == decimal)
        .map(|c| if c == ',' { '.' } else { c })
        .collect();
    let value: f64 = plain.parse().ok()?;
    Some(if value.is_finite() { value } else { f64::NAN })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(cells: &[&str]) -> Vec<f64> {
        let mut mark = Mark::default();
        cells.iter().for_each(|cell| mark.see(cell));
        cells.iter().map(|cell| figure(cell, mark).unwrap()).collect()
    }

    /// One number in the conventions of several countries, as CLDR gives them, from memory.
    #[test]
    fn numbers_of_every_country_are_read() {
        for number in
            ["1234.5", "1,234.5", "1.234,5", "1 234,5", "1\u{202f}234,5", "1'234.5", "1234,5"]
        {
            assert_eq!(read(&[number]), [1234.5], "{number}");
        }
        assert_eq!(read(&["12,5", "1.234", "0,125"]), [12.5, 1234.0, 0.125]);
        assert_eq!(read(&["12.5", "1,234", "0.125"]), [12.5, 1234.0, 0.125]);
        assert_eq!(read(&["0,125", "1,250"]), [0.125, 1.25]);
        assert_eq!(read(&["0.125", "1.250"]), [0.125, 1.25]);
        assert_eq!(read(&["-3,5", "−3,5", "1e-3"]), [-3.5, -3.5, 0.001]);
        assert!(read(&["", "n/a", "NaN", "—"]).iter().all(|v| v.is_nan()));
        assert_eq!(figure("open", Mark::default()), None);
    }
}
