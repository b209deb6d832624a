//! Times of day as loggers and spreadsheets write them.

/// Reads clock times in order, through midnight.
#[derive(Debug, Default)]
pub(crate) struct Clock {
    date: String,
    last_s: f64,
    days: f64,
    begun: bool,
}

/// Seconds of a day.
const DAY_S: f64 = 86_400.0;

impl Clock {
    /// Seconds from midnight before the first reading; none where the text is no time of day, with
    /// or without a date before it. A date that changes is the next day's, and so is a time without
    /// date that is twelve hours before the last one.
    pub fn read(&mut self, text: &str) -> Option<f64> {
        let (date, time_s) = parts(text.trim())?;
        let next_day = if date.is_empty() {
            time_s < self.last_s - 0.5 * DAY_S
        } else {
            date != self.date && time_s < self.last_s
        };
        if self.begun && next_day {
            self.days += 1.0;
        }
        (self.begun, self.last_s) = (true, time_s);
        if date != self.date {
            date.clone_into(&mut self.date);
        }
        Some(self.days * DAY_S + time_s)
    }
}

/// A date, which may be empty, and the seconds of the day.
fn parts(text: &str) -> Option<(&str, f64)> {
    let colon = text.find(':')?;
    let digits = text[..colon].bytes().rev().take_while(u8::is_ascii_digit).count();
    let from = colon - digits;
    let (date, rest) = text.split_at(from);
    let rest = rest.trim_end_matches(['Z', 'z']);
    let (rest, half_day) = match rest.to_ascii_lowercase().trim_end() {
        late if late.ends_with("pm") => (&rest[..late.len() - 2], Some(true)),
        early if early.ends_with("am") => (&rest[..early.len() - 2], Some(false)),
        _ => (rest, None),
    };
    // The offset from UTC is the same on every row.
    let rest = rest.split(['+', '-']).next().unwrap_or_default().trim();
    let mut fields = rest.split(':');
    let mut next = || fields.next().map(str::trim);
    let hours: f64 = whole(next()?)?;
    let minutes: f64 = whole(next()?)?;
    let seconds: f64 = match next() {
        Some(text) if text.starts_with(|c: char| c.is_ascii_digit()) => {
            text.replace(',', ".").parse().ok()?
        }
        Some(_) => return None,
        None => 0.0,
    };
    if next().is_some() || minutes >= 60.0 || !(0.0..61.0).contains(&seconds) {
        return None;
    }
    let hours = match half_day {
        Some(_) if hours > 12.0 => return None,
        Some(late) => hours % 12.0 + if late { 12.0 } else { 0.0 },
        None => hours,
    };
    Some((date.trim_end_matches(['T', 't', ' ', ',']), hours * 3600.0 + minutes * 60.0 + seconds))
}

/// At most four digits, as a whole number.
fn whole(text: &str) -> Option<f64> {
    let fits = (1..=4).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
    fits.then(|| text.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One moment and the one 30 s later, over midnight, in ISO 8601 and as spreadsheets write them
    /// (from memory).
    #[test]
    fn clocks_are_read_through_midnight() {
        for (a, b) in [
            ("23:59:45", "00:00:15"),
            ("2024-05-01T23:59:45Z", "2024-05-02T00:00:15Z"),
            ("2024-05-01 23:59:45.000", "2024-05-02 00:00:15.000"),
            ("2024-05-01T23:59:45+02:00", "2024-05-02T00:00:15+02:00"),
            ("01.05.2024 23:59:45,0", "02.05.2024 00:00:15,0"),
            ("5/1/2024 11:59:45 PM", "5/2/2024 12:00:15 AM"),
        ] {
            let mut clock = Clock::default();
            let (a, b) = (clock.read(a).unwrap(), clock.read(b).unwrap());
            assert!((b - a - 30.0).abs() < 1e-6, "{a} {b}");
        }
    }

    #[test]
    fn other_texts_are_no_times() {
        for text in ["12", "a:b", "1:99", "::", "12:30:xx", "25:00 pm", ":", "é:1"] {
            assert_eq!(Clock::default().read(text), None, "{text}");
        }
    }
}
