//! What a car's log recorded, channel by channel, on the log's own times.

use std::borrow::Cow;
use std::path::{Path, PathBuf};

use crate::channel::Channel;
use crate::clock::Clock;
use crate::doubts;
use crate::error::short;
use crate::faults::{self, Fault, FaultKind};
use crate::figures::{Mark, figure};
use crate::gpx::{any_text_of, points};
use crate::limits::DURATION_LIMIT_S;
use crate::load::from_table;
use crate::rows::Rows;
use crate::signal::{self, Signal, ToSi};
use crate::standing;
use crate::table::{Quantity, Table, bytes_of, is_utf16};
use crate::track::{Position, Track};
use crate::{Error, LoadOptions, LoadedRoad};

/// The most rows of a recording that are read: 27 hours at 10 Hz.
pub const RECORDING_ROW_LIMIT: usize = 1_000_000;

/// How a recording is read.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RecordingOptions {
    /// What columns hold whose names do not say it: the name of a known column with its unit, and
    /// the name in the file (`pack_v`, `Ubatt`). A minus before the latter turns its sign.
    pub columns: Vec<(String, String)>,
    /// Rows a second of a file without a column of times.
    pub rate_hz: Option<f64>,
}

/// A recorded drive.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// The file.
    pub path: PathBuf,
    /// The name of the file without its folder and extension.
    pub name: String,
    /// Times in s from the first row, increasing.
    pub time_s: Vec<f64>,
    /// Every channel that was understood, but for the time.
    pub channels: Vec<Channel>,
    /// What is wrong with it.
    pub faults: Vec<Fault>,
    /// How it was understood where that was not plain, a sentence each.
    pub notes: Vec<String>,
    /// The date and time of its first row as written, where it states one.
    pub began: Option<String>,
}

impl Recording {
    /// The recording in a file: a table of text, or GPX.
    ///
    /// # Errors
    /// What is wrong with the file, or why no times are to be had from it; the message names the
    /// file, and the line where there is one.
    pub fn open(path: impl AsRef<Path>, options: &RecordingOptions) -> Result<Self, Error> {
        let path = path.as_ref();
        Self::read(path, &bytes_of(path)?, options)
    }

    /// The recording in what a file holds; the path is its name and tells whether it is GPX.
    ///
    /// # Errors
    /// As [`Self::open`], but for what can be wrong with a file itself.
    pub fn read(path: &Path, bytes: &[u8], options: &RecordingOptions) -> Result<Self, Error> {
        let is_gpx = path.extension().is_some_and(|suffix| suffix.eq_ignore_ascii_case("gpx"));
        let mut recording = if is_gpx {
            let text = any_text_of(path, bytes)?;
            let mut track = Track::of_gpx(path, &text, points(path, &text)?)?;
            Self::of_track(&mut track, path)?
        } else {
            of_table(path, &decoded(path, bytes)?, options)?
        };
        recording.faults.extend(faults::find(&recording.time_s, &mut recording.channels));
        recording.faults.extend(doubts::find(&recording.time_s, &mut recording.channels));
        recording.notes.extend(doubts::shares(&mut recording.channels));
        // What a sensor repeats after it froze tells no sign, so faults are left out first.
        recording.turn_currents(|signal| {
            options.columns.iter().any(|(name, column)| {
                column.starts_with('-') && signal::header(name).is_some_and(|h| h.signal == signal)
            })
        });
        recording.notes.extend(standing::still(&recording.time_s, &mut recording.channels));
        Ok(recording)
    }

    /// A channel, if it was recorded.
    pub fn channel(&self, signal: Signal) -> Option<&Channel> {
        self.channels.iter().find(|channel| channel.signal == signal)
    }

    /// The values of a channel at [`Self::time_s`], if it was recorded.
    pub fn values(&self, signal: Signal) -> Option<&[f64]> {
        self.channel(signal).map(|channel| channel.values.as_slice())
    }

    /// The values of a channel with their times, without gaps.
    pub fn filled(&self, signal: Signal) -> impl DoubleEndedIterator<Item = (f64, f64)> + '_ {
        let values = self.values(signal).unwrap_or_default();
        self.time_s.iter().copied().zip(values.iter().copied()).filter(|(_, v)| !v.is_nan())
    }

    /// The first value of a channel.
    pub fn first(&self, signal: Signal) -> Option<f64> {
        self.filled(signal).next().map(|(_, value)| value)
    }

    /// The last value of a channel.
    pub fn last(&self, signal: Signal) -> Option<f64> {
        self.filled(signal).next_back().map(|(_, value)| value)
    }

    /// The mean of a channel's values.
    pub fn mean(&self, signal: Signal) -> Option<f64> {
        let (count, sum) = self.filled(signal).fold((0.0, 0.0), |s, (_, v)| (s.0 + 1.0, s.1 + v));
        (count > 0.0).then(|| sum / count)
    }

    /// Power out of the pack in W at each time: as recorded, or volts by amperes.
    pub fn pack_power_w(&self) -> Option<Vec<f64>> {
        let power_w = self.values(Signal::PackPower);
        if let Some(power_w) = power_w.filter(|values| values.iter().any(|w| !w.is_nan())) {
            return Some(power_w.to_vec());
        }
        let volts = self.values(Signal::PackVoltage)?;
        let amperes = self.values(Signal::PackCurrent)?;
        Some(volts.iter().zip(amperes).map(|(v, a)| v * a).collect())
    }

    /// The road that it went, with its recorded elevation cleaned: speeds as recorded, gaps in them
    /// bridged at constant acceleration, and the load that the schedule is to carry.
    ///
    /// # Errors
    /// Where fewer than two rows have a speed, or what they say cannot be driven.
    pub fn road(&self, load: Option<Signal>) -> Result<LoadedRoad, Error> {
        let kept = |signal| self.values(signal).filter(|values| values.iter().any(|v| !v.is_nan()));
        let mut columns = vec![("time_s", Quantity::Time, self.time_s.as_slice())];
        let speed = self.values(Signal::Speed);
        let Some(speed) = speed else {
            return Err(Error::Track {
                path: self.path.clone(),
                problem: "has neither a speed nor positions, and one of them is needed".to_owned(),
            });
        };
        let speed = averaged(&self.time_s, speed);
        columns.push(("speed_mps", Quantity::Speed, &speed));
        if let Some(elevation) = kept(Signal::Elevation) {
            columns.push(("elevation_m", Quantity::Elevation, elevation));
        }
        if let Some(load) = load.and_then(kept) {
            columns.push(("auxiliary_w", Quantity::Auxiliary, load));
        }
        from_table(&mut Table::of_columns(&self.path, &columns), &LoadOptions::default())
    }

    /// From positions: what a receiver saw each second.
    fn of_track(track: &mut Track, path: &Path) -> Result<Self, Error> {
        let name = stem(path);
        let schedule = track.schedule(path, &name, "")?;
        let time_s = schedule.time_s;
        let mut channels = vec![Channel {
            signal: Signal::Speed,
            column: "positions".to_owned(),
            values: schedule.speed_mps,
        }];
        let mut heights = vec![f64::NAN; time_s.len()];
        for (at_s, elevation_m) in track.elevations() {
            // A wise receiver has no time beyond the last second.
            if let Some(height) = heights.get_mut(at_s.round() as usize) {
                *height = elevation_m;
            }
        }
        if heights.iter().any(|h| !h.is_nan()) {
            let column = "elevations".to_owned();
            channels.push(Channel { signal: Signal::Elevation, column, values: heights });
        }
        let notes = std::mem::take(&mut track.notes);
        let faults = Vec::new();
        Ok(Self { path: path.to_owned(), name, time_s, channels, faults, notes, began: None })
    }

    /// Turns currents and powers that are positive into the pack, but for those whose sign was said. A
    /// car that gathers speed takes power from it: current goes with v·dv/dt; where that tells nothing,
    /// with the charge used.
    fn turn_currents(&mut self, said: impl Fn(Signal) -> bool) {
        for signal in [Signal::PackCurrent, Signal::PackPower] {
            let Some(channel) = self.channel(signal).filter(|_| !said(signal)) else { continue };
            if channel.values.iter().all(|value| value.is_nan()) {
                continue;
            }
            let column = channel.column.clone();
            match self.runs_out(&channel.values) {
                Some(true) => {}
                Some(false) => {
                    let turned = self.channels.iter_mut().filter(|channel| channel.signal == signal);
                    turned.flat_map(|channel| &mut channel.values).for_each(|v| *v = -*v);
                    self.notes.push(format!(
                        "`{}` is positive while charging, as the car's gathering speed tells; its sign was \
                         turned.",
                        short(&column)
                    ));
                }
                None => self.notes.push(format!(
                    "Whether `{0}` is positive out of the pack cannot be told from this drive, so it is taken \
                     to be; if it is positive while charging, say --column '{1}=-{0}'.",
                    short(&column),
                    signal.column()
                )),
            }
        }
    }

    /// Whether positive values are those out of the pack, if the drive tells. A value that repeats the
    /// one before it tells nothing of its own.
    fn runs_out(&self, values: &[f64]) -> Option<bool> {
        /// A correlation that tells, and how many times that which chance brings it is.
        const TELLING: f64 = 0.3;
        const CHANCE: f64 = 3.0;
        /// Of the largest, a value that is no noise.
        const SMALL: f64 = 0.02;
        /// Of the time, a share without values of its own in which what the charge tells is another's.
        const FEW: f64 = 0.1;
        let steps = || self.time_s.windows(2).map(|t| t[1] - t[0]);
        if let Some(speed) = self.values(Signal::Speed) {
            let (mut pairs, mut told_s, mut last_s) = (Vec::new(), 0.0, f64::NEG_INFINITY);
            for i in 1..self.time_s.len().saturating_sub(1) {
                let step_s = self.time_s[i + 1] - self.time_s[i - 1];
                let push = speed[i] * (speed[i + 1] - speed[i - 1]) / step_s;
                let own = !(push + values[i]).is_nan() && values[i] != values[i - 1];
                if own && speed[i] > 1.0 && step_s < 5.0 {
                    pairs.push((push, values[i]));
                    // Rows within a second are of one push.
                    told_s += (self.time_s[i] - last_s).min(1.0);
                    last_s = self.time_s[i];
                }
            }
            let correlation = correlation(pairs.into_iter());
            // A current without a sign is large in braking too, and no car only charges.
            let largest = values.iter().fold(0.0, |most: f64, v| most.max(v.abs()));
            let drives = values.iter().any(|v| v * correlation.signum() > SMALL * largest);
            if drives && correlation.abs() > TELLING.max(CHANCE / told_s.sqrt()) {
                return Some(correlation > 0.0);
            }
        }
        let is_silent = |v: &[f64]| v[1].is_nan() || v[1] == v[0] && v[1] != 0.0;
        let silent_s: f64 =
            steps().zip(values.windows(2)).filter(|(_, v)| is_silent(v)).map(|(s, _)| s).sum();
        if silent_s > FEW * steps().sum::<f64>() {
            return None;
        }
        let used = self.first(Signal::Charge)? - self.last(Signal::Charge)?;
        let parts = steps().zip(&values[1..]).filter(|(_, v)| !v.is_nan());
        let sum: f64 = parts.map(|(step_s, v)| step_s * v).sum();
        (used.abs() > 0.01 && sum != 0.0).then_some((used > 0.0) == (sum > 0.0))
    }
}

/// Means over a second of rows that are closer: a sensor's noise from row to row is no acceleration.
fn averaged(time_s: &[f64], values: &[f64]) -> Vec<f64> {
    const HALF_S: f64 = 0.5;
    let mean = |(i, value): (usize, &f64)| {
        // Of as many rows on either side, so that what grows evenly is kept.
        let near = |j: usize| (time_s[j] - time_s[i]).abs() < HALF_S && !values[j].is_nan();
        let after = (i + 1..values.len()).take_while(|j| near(*j)).count();
        let before = (0..i).rev().take_while(|j| near(*j)).count();
        let each = after.min(before);
        if value.is_nan() || *value == 0.0 || each == 0 {
            return *value;
        }
        let all = &values[i - each..=i + each];
        all.iter().sum::<f64>() / all.len() as f64
    };
    values.iter().enumerate().map(mean).collect()
}

fn correlation(pairs: impl Iterator<Item = (f64, f64)>) -> f64 {
    let (mut n, mut x, mut y, mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for (a, b) in pairs {
        n += 1.0;
        x += a;
        y += b;
        xx += a * a;
        yy += b * b;
        xy += a * b;
    }
    let spread = (n * xx - x * x) * (n * yy - y * y);
    if n >= 10.0 && spread > 0.0 { (n * xy - x * y) / spread.sqrt() } else { 0.0 }
}

fn stem(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

/// Text in UTF-8, UTF-16 with its mark, or else in the code of western spreadsheets, in which
/// every byte is a letter.
fn decoded<'a>(path: &Path, bytes: &'a [u8]) -> Result<Cow<'a, str>, Error> {
    let fault =
        |problem: &str| Error::Row { path: path.to_owned(), line: 1, problem: problem.to_owned() };
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(&[0xd0, 0xcf, 0x11, 0xe0]) {
        return Err(fault(
            "is a spreadsheet's own file, and a table of text is read; save it as CSV",
        ));
    }
    let text = match bytes {
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => {
            let little = bytes[0] == 0xff;
            let units = bytes[2..].chunks_exact(2).map(|pair| {
                let pair = [pair[0], pair[1]];
                if little { u16::from_le_bytes(pair) } else { u16::from_be_bytes(pair) }
            });
            let letters = char::decode_utf16(units).map(|c| c.unwrap_or('\u{fffd}'));
            Cow::Owned(letters.collect())
        }
        _ if is_utf16(bytes) => return Err(Error::Utf16 { path: path.to_owned() }),
        _ => match std::str::from_utf8(bytes) {
            Ok(text) => Cow::Borrowed(text.strip_prefix('\u{feff}').unwrap_or(text)),
            Err(_) => Cow::Owned(bytes.iter().map(|byte| char::from(*byte)).collect()),
        },
    };
    if text.contains('\0') {
        return Err(fault("holds a byte of zero, and only text is read"));
    }
    Ok(text)
}

/// A column that is read.
struct Slot {
    field: usize,
    signal: Signal,
    column: String,
    to_si: ToSi,
    sign: f64,
    /// How surely it is what it is taken for.
    rank: u8,
}

/// The rows that are looked at for a header.
const HEADER_ROWS: usize = 50;

/// What the head of a table tells.
struct Head {
    separator: u8,
    /// The row of the header, from 0.
    row: usize,
    line: u64,
    names: Vec<String>,
    slots: Vec<Slot>,
    /// Whether a row of units follows.
    units: bool,
}

/// The separators that spreadsheets and loggers write.
const SEPARATORS: [u8; 4] = [b',', b';', b'\t', b'|'];

impl Head {
    /// The head by which most columns are understood.
    fn find(path: &Path, text: &str, options: &RecordingOptions) -> Result<Self, Error> {
        let wanted = wanted(path, options)?;
        let end = text.match_indices('\n').nth(HEADER_ROWS).map_or(text.len(), |(at, _)| at);
        let mut best: Option<Self> = None;
        let mut refused = None;
        for separator in SEPARATORS {
            match Self::of(path, &text[..end], separator, &wanted) {
                Ok(Some(head))
                    if best.as_ref().is_none_or(|b| head.slots.len() > b.slots.len()) =>
                {
                    best = Some(head);
                }
                Ok(_) => {}
                Err(fault) => refused = Some(fault),
            }
        }
        match (best, refused) {
            (Some(head), _) => Ok(head),
            (None, Some(fault)) => Err(fault),
            (None, None) => Err(no_head(path, text)),
        }
    }

    fn of(
        path: &Path,
        text: &str,
        separator: u8,
        wanted: &[Wanted],
    ) -> Result<Option<Self>, Error> {
        let mut rows = Rows::new(path, text, separator)?;
        let mut record = csv::StringRecord::new();
        let mut best: Option<Self> = None;
        let mut row = 0;
        while let Some(line) = rows.next_into(&mut record)? {
            let names: Vec<String> = record.iter().map(str::to_owned).collect();
            if let Some(head) = best.as_mut().filter(|head| head.row + 1 == row) {
                let stated =
                    |name: &String| name.is_empty() || name == "-" || signal::is_unit(name);
                if names.iter().all(stated) && names.iter().any(|name| signal::is_unit(name)) {
                    let both = |(name, unit): (&String, &String)| match unit.as_str() {
                        "" | "-" => name.clone(),
                        unit => format!("{name} [{}]", unit.trim_matches(['(', ')', '[', ']'])),
                    };
                    let whole: Vec<String> = head.names.iter().zip(&names).map(both).collect();
                    head.slots = slots(&whole, &head.names, wanted);
                    head.units = true;
                }
            }
            let slots = slots(&names, &names, wanted);
            let known = slots.len();
            if known > 0 && best.as_ref().is_none_or(|head| known > head.slots.len()) {
                best = Some(Self { separator, row, line, names, slots, units: false });
            }
            row += 1;
        }
        Ok(best)
    }

    fn fault(&self, path: &Path, problem: impl Into<String>) -> Error {
        Error::Header {
            path: path.to_owned(),
            line: self.line,
            columns: self.names.join(", "),
            problem: problem.into(),
        }
    }
}

/// The refusal of a text in which no column is understood.
fn no_head(path: &Path, text: &str) -> Error {
    let line = text.lines().position(|line| !line.trim().is_empty() && !line.starts_with('#'));
    let Some(at) = line else {
        return Error::Rows { path: path.to_owned(), rows: 0, allowed: "2 or more" };
    };
    let header = text.lines().nth(at).unwrap_or_default();
    let digits = header.chars().all(|c| c.is_ascii_digit() || " ,;.:-+\t".contains(c));
    let problem = if digits {
        "and a line with the names of the columns is needed before the numbers, such as \
         `time_s,speed_kmh`"
    } else {
        "and none of them is understood; a name and its unit are, such as `Speed (km/h)`, or say \
         --column 'speed_kmh=NAME'"
    };
    Error::Header {
        path: path.to_owned(),
        line: at as u64 + 1,
        columns: header.to_owned(),
        problem: problem.to_owned(),
    }
}

/// What a user says of a column.
struct Wanted {
    column: String,
    signal: Signal,
    to_si: ToSi,
    sign: f64,
}

fn wanted(path: &Path, options: &RecordingOptions) -> Result<Vec<Wanted>, Error> {
    let one = |(name, column): &(String, String)| {
        let known = signal::header(name).filter(|header| header.with_unit);
        let Some(known) = known else {
            let columns: Vec<&str> = Signal::all().map(Signal::column).collect();
            return Err(Error::Track {
                path: path.to_owned(),
                problem: format!(
                    "a column is to be `{}`, and the names known are {}, each with any unit",
                    short(name),
                    columns.join(", ")
                ),
            });
        };
        let (sign, column) = match column.strip_prefix('-') {
            Some(column) => (-1.0, column),
            None => (1.0, column.as_str()),
        };
        let column = column.trim().to_owned();
        Ok(Wanted { column, signal: known.signal, to_si: known.to_si, sign })
    };
    options.columns.iter().map(one).collect()
}

/// The columns that are understood: by what the user says, or else by their names.
fn slots(names: &[String], own: &[String], wanted: &[Wanted]) -> Vec<Slot> {
    let slot = |(field, (name, own)): (usize, (&String, &String))| {
        let said = wanted.iter().find(|w| w.column.eq_ignore_ascii_case(own));
        if let Some(said) = said {
            let Wanted { signal, to_si, sign, .. } = *said;
            return Some(Slot { field, signal, column: own.clone(), to_si, sign, rank: 3 });
        }
        let header = signal::header(name)?;
        let rank = if header.in_full { 2 } else { u8::from(header.with_unit) };
        let (signal, to_si) = (header.signal, header.to_si);
        Some(Slot { field, signal, column: own.clone(), to_si, sign: 1.0, rank })
    };
    names.iter().zip(own).enumerate().filter_map(slot).collect()
}

/// Leaves one column for each signal, the surest one; where two are as sure, neither is taken.
fn settle(slots: Vec<Slot>, notes: &mut Vec<String>) -> Vec<Slot> {
    let mut settled: Vec<Slot> = Vec::new();
    for signal in Signal::all() {
        let mut of_it: Vec<&Slot> = slots.iter().filter(|slot| slot.signal == signal).collect();
        of_it.sort_by_key(|slot| std::cmp::Reverse(slot.rank));
        let tied = matches!(of_it.as_slice(), [a, b, ..] if a.rank == b.rank);
        if tied && signal != Signal::Time {
            let names: Vec<String> =
                of_it.iter().map(|slot| format!("`{}`", short(&slot.column))).collect();
            notes.push(format!(
                "{} may each be the {}, so none of them is; say which: --column '{}={}'.",
                names.join(" and "),
                signal.words(),
                signal.column(),
                short(&of_it[0].column)
            ));
        } else if let Some(Slot { field, signal, column, to_si, sign, rank }) = of_it.first() {
            let (column, rank) = (column.clone(), *rank);
            let slot =
                Slot { field: *field, signal: *signal, column, to_si: *to_si, sign: *sign, rank };
            settled.push(slot);
        }
    }
    settled
}

fn of_table(path: &Path, text: &str, options: &RecordingOptions) -> Result<Recording, Error> {
    // Spreadsheets of one maker say which separator follows.
    let text = match text.split_once('\n') {
        Some((first, rest)) if first.trim_end().len() == 5 && first.starts_with("sep=") => rest,
        _ => text,
    };
    let mut head = Head::find(path, text, options)?;
    for (name, column) in &options.columns {
        let column = column.strip_prefix('-').unwrap_or(column).trim();
        if !head.names.iter().any(|name| name.eq_ignore_ascii_case(column)) {
            let name = short(name);
            let problem = format!("and `{}`, which is to be {name}, is not there", short(column));
            return Err(head.fault(path, problem));
        }
    }
    let mut notes = Vec::new();
    let found = std::mem::take(&mut head.slots);
    let mut slots = settle(found, &mut notes);
    let timed = slots.iter().position(|slot| slot.signal == Signal::Time);
    let time = timed.map(|at| slots.remove(at));
    let rate_hz = match (&time, options.rate_hz) {
        (Some(_), Some(_)) => {
            return Err(head.fault(path, "and a rate is stated, though there is a time"));
        }
        (Some(_), None) => None,
        (None, Some(hz)) if (1e-3..=1e4).contains(&hz) => Some(hz),
        (None, Some(hz)) => {
            let problem = format!("and the rate is {hz} Hz, and 0.001 to 10000 Hz is needed");
            return Err(head.fault(path, problem));
        }
        (None, None) => {
            let problem = "and a time is needed, such as `time_s` or a clock, or the rate of the \
                           rows: --rate-hz 1";
            return Err(head.fault(path, problem));
        }
    };
    let rows = RowsOf { path, text, head: &head };
    let marks = rows.marks(&slots, time.as_ref())?;
    let raw = rows.values(&slots, time.as_ref(), rate_hz, &marks)?.oldest_first(&mut notes);
    let mut recording = raw.in_order(path, slots, time.as_ref(), notes)?;
    let placed = recording.channel(Signal::Latitude).is_some();
    for name in &head.names {
        let lacking =
            signal::lacks_unit(name).filter(|signal| recording.channel(*signal).is_none());
        if lacking == Some(Signal::Speed) && !placed {
            let name = short(name);
            return Err(head.fault(
                path,
                format!("and `{name}` states no unit; say it: --column 'speed_kmh={name}'"),
            ));
        }
        if let Some(signal) = lacking {
            recording.notes.push(format!(
                "`{}` states no unit, so it was not read; say it: --column '{}={}'.",
                short(name),
                signal.column(),
                short(name)
            ));
        }
    }
    recording.add_speed_of_positions()?;
    Ok(recording)
}

/// The rows under a head.
struct RowsOf<'a> {
    path: &'a Path,
    text: &'a str,
    head: &'a Head,
}

impl RowsOf<'_> {
    /// Shows each row under the head, with its line.
    fn each(
        &self,
        mut see: impl FnMut(&csv::StringRecord, u64) -> Result<(), Error>,
    ) -> Result<(), Error> {
        let mut rows = Rows::new(self.path, self.text, self.head.separator)?;
        let mut record = csv::StringRecord::new();
        let skipped = self.head.row + 1 + usize::from(self.head.units);
        let mut row = 0;
        while let Some(line) = rows.next_into(&mut record)? {
            row += 1;
            if row > skipped {
                see(&record, line)?;
            }
        }
        Ok(())
    }

    /// What sets off decimals in each column, that of times last.
    fn marks(&self, slots: &[Slot], time: Option<&Slot>) -> Result<Vec<Mark>, Error> {
        let mut marks = vec![Mark::default(); slots.len() + 1];
        self.each(|record, _| {
            for (slot, mark) in slots.iter().chain(time).zip(&mut marks) {
                mark.see(record.get(slot.field).unwrap_or_default());
            }
            Ok(())
        })?;
        Ok(Mark::settled(marks))
    }

    fn values(
        &self,
        slots: &[Slot],
        time: Option<&Slot>,
        rate_hz: Option<f64>,
        marks: &[Mark],
    ) -> Result<Raw, Error> {
        let width = self.head.names.len();
        let mut raw = Raw {
            time_s: Vec::new(),
            lines: Vec::new(),
            values: vec![Vec::new(); slots.len()],
            odd: vec![Odd::default(); slots.len()],
            began: None,
        };
        let mut clock = Clock::default();
        self.each(|record, line| {
            let over = record.iter().skip(width).any(|field| !field.is_empty());
            if over {
                return Err(Error::Row {
                    path: self.path.to_owned(),
                    line,
                    problem: format!(
                        "has {} fields, and the header has {width}; numbers with decimal commas \
                         need another separator or quotes",
                        record.len()
                    ),
                });
            }
            if raw.time_s.len() == RECORDING_ROW_LIMIT {
                return Err(Error::Rows {
                    path: self.path.to_owned(),
                    rows: RECORDING_ROW_LIMIT + 1,
                    allowed: "at most 1000000",
                });
            }
            let at_s = match (time, rate_hz) {
                (Some(slot), _) => {
                    let text = record.get(slot.field).unwrap_or_default();
                    match clock.read(text) {
                        Some(s) => {
                            raw.began.get_or_insert_with(|| short(text).to_string());
                            s
                        }
                        None => figure(text, marks[slots.len()])
                            .map_or(f64::NAN, |value| (slot.to_si)(value)),
                    }
                }
                (None, Some(hz)) => raw.time_s.len() as f64 / hz,
                (None, None) => f64::NAN,
            };
            raw.time_s.push(at_s);
            raw.lines.push(line);
            let into = raw.values.iter_mut().zip(&mut raw.odd);
            for ((slot, mark), (values, odd)) in slots.iter().zip(marks).zip(into) {
                let text = record.get(slot.field).unwrap_or_default();
                let value = figure(text, *mark).map(|value| slot.sign * (slot.to_si)(value));
                let (lowest, highest) = slot.signal.range();
                values.push(match value {
                    Some(value) if (lowest..=highest).contains(&value) => value,
                    Some(value) if value.is_nan() => f64::NAN,
                    _ => {
                        odd.see(text, line, raw.time_s.len() - 1);
                        f64::NAN
                    }
                });
            }
            Ok(())
        })?;
        Ok(raw)
    }
}

/// Cells that hold no number, or none that can be.
#[derive(Debug, Clone, Default)]
struct Odd {
    count: usize,
    first: Option<(String, u64, usize)>,
}

impl Odd {
    fn see(&mut self, text: &str, line: u64, row: usize) {
        self.count += 1;
        self.first.get_or_insert_with(|| (short(text).to_string(), line, row));
    }
}

/// What the rows hold, as they stand.
struct Raw {
    time_s: Vec<f64>,
    lines: Vec<u64>,
    values: Vec<Vec<f64>>,
    odd: Vec<Odd>,
    began: Option<String>,
}

/// A clock that steps by more than this, back or on, was set (common practice, no source).
const SET_S: f64 = 1.0;
const SET_ON_S: f64 = 3600.0;

impl Raw {
    /// The rows turned where the newest stands first.
    fn oldest_first(mut self, notes: &mut Vec<String>) -> Self {
        let back = self.time_s.windows(2).filter(|t| t[1] < t[0]).count();
        let on = self.time_s.windows(2).filter(|t| t[1] > t[0]).count();
        // A clock that was set steps back once; this one does nearly always.
        if back < 2 || back < 10 * on {
            return self;
        }
        let last = self.time_s.len() - 1;
        self.time_s.reverse();
        self.lines.reverse();
        self.values.iter_mut().for_each(|values| values.reverse());
        let first = self.odd.iter_mut().filter_map(|odd| odd.first.as_mut());
        first.for_each(|(_, _, row)| *row = last - *row);
        // A clock of the day was read from its end.
        self.began = None;
        notes.push("The newest row stands first; they were read from the last.".to_owned());
        self
    }

    /// The rows in order of time, from 0.
    fn in_order(
        self,
        path: &Path,
        slots: Vec<Slot>,
        time: Option<&Slot>,
        notes: Vec<String>,
    ) -> Result<Recording, Error> {
        let mut steps: Vec<f64> =
            self.time_s.windows(2).map(|t| t[1] - t[0]).filter(|step| *step > 0.0).collect();
        steps.sort_by(f64::total_cmp);
        let usual_s = steps.get(steps.len() / 2).copied().unwrap_or(1.0);
        let timed: Vec<usize> =
            (0..self.time_s.len()).filter(|i| self.time_s[*i].is_finite()).collect();
        let (mut kept, mut time_s): (Vec<usize>, Vec<f64>) = (Vec::new(), Vec::new());
        let (mut shift_s, mut out_of_order) = (0.0, 0);
        let mut set: Vec<(f64, f64, u64)> = Vec::new();
        for (place, &row) in timed.iter().enumerate() {
            let here_s = self.time_s[row] + shift_s;
            let Some(&last_s) = time_s.last() else {
                shift_s = -self.time_s[row];
                (kept, time_s) = (vec![row], vec![0.0]);
                continue;
            };
            let step_s = here_s - last_s;
            // A row that is late by itself is left out; a clock that was set goes on from there.
            let goes_on = || {
                let next = timed[place..].iter().take(4).map(|i| self.time_s[*i] + shift_s);
                let next: Vec<f64> = next.collect();
                next.windows(2).all(|t| t[1] > t[0])
                    && next.iter().all(|t| *t <= last_s)
                    && next.len() == 4
            };
            if step_s > SET_ON_S || step_s <= -SET_S && goes_on() {
                shift_s += usual_s - step_s;
                set.push((last_s, step_s, self.lines[row]));
            } else if step_s <= 0.0 {
                out_of_order += 1;
                continue;
            }
            kept.push(row);
            time_s.push(self.time_s[row] + shift_s);
        }
        let column = time.map_or_else(String::new, |slot| slot.column.clone());
        let mut faults = Vec::new();
        let untimed = self.time_s.len() - timed.len();
        let mut clock = |kind, spans, words: String| {
            faults.push(Fault { signal: Signal::Time, column: column.clone(), kind, spans, words });
        };
        if untimed > 0 {
            clock(
                FaultKind::NoNumber,
                Vec::new(),
                format!("rows without a time, left out: {untimed}"),
            );
        }
        if out_of_order > 0 {
            let words = format!(
                "rows whose time is not after that of the row before, left out: {out_of_order}"
            );
            clock(FaultKind::Clock, Vec::new(), words);
        }
        if let [(at_s, step_s, line), rest @ ..] = set.as_slice() {
            let way = if *step_s < 0.0 { "back" } else { "on" };
            let more = match rest.len() {
                0 => String::new(),
                1 => ", and once more".to_owned(),
                times => format!(", and {times} times more"),
            };
            let words = format!(
                "the clock steps {way} by {:.0} s in line {line}{more}; what follows was joined on",
                step_s.abs()
            );
            clock(FaultKind::Clock, vec![(*at_s, *at_s)], words);
        }
        if kept.len() < 2 {
            let (path, rows) = (path.to_owned(), kept.len());
            return Err(Error::Rows { path, rows, allowed: "2 or more with a time" });
        }
        let duration_s = time_s.last().copied().unwrap_or(0.0);
        if duration_s > DURATION_LIMIT_S {
            let problem = format!("lasts {duration_s:.0} s, and at most a week is read");
            return Err(Error::Track { path: path.to_owned(), problem });
        }
        let mut channels = Vec::new();
        for ((slot, values), odd) in slots.into_iter().zip(&self.values).zip(self.odd) {
            let mut values: Vec<f64> = kept.iter().map(|row| values[*row]).collect();
            if slot.signal == Signal::Speed {
                values.iter_mut().for_each(|v| *v = if *v < 0.0 { 0.0 } else { *v });
            }
            if let Some((text, line, row)) = odd.first {
                let at_s = time_s[kept.partition_point(|k| *k < row).min(time_s.len() - 1)];
                let words = format!(
                    "cells that hold no {} that can be: {}, the first `{text}` in line {line}",
                    slot.signal.words(),
                    odd.count
                );
                let kind = FaultKind::NoNumber;
                let column = slot.column.clone();
                faults.push(Fault {
                    signal: slot.signal,
                    column,
                    kind,
                    spans: vec![(at_s, at_s)],
                    words,
                });
            }
            channels.push(Channel { signal: slot.signal, column: slot.column, values });
        }
        let (name, began) = (stem(path), self.began);
        Ok(Recording { path: path.to_owned(), name, time_s, channels, faults, notes, began })
    }
}

impl Recording {
    /// The speed along positions, where no speed was recorded.
    fn add_speed_of_positions(&mut self) -> Result<(), Error> {
        if self.channel(Signal::Speed).is_some() {
            return Ok(());
        }
        let (Some(latitude), Some(longitude)) =
            (self.values(Signal::Latitude), self.values(Signal::Longitude))
        else {
            return Ok(());
        };
        let position = |i: usize| Position {
            time_s: self.time_s[i],
            latitude_deg: latitude[i],
            longitude_deg: longitude[i],
            elevation_m: None,
        };
        let usable = |i: &usize| !latitude[*i].is_nan() && !longitude[*i].is_nan();
        let positions: Vec<Position> =
            (0..self.time_s.len()).filter(usable).map(position).collect();
        let Some(from_s) = positions.first().map(|p| p.time_s) else { return Ok(()) };
        let mut track = Track { positions, notes: Vec::new() };
        let schedule = track.schedule(&self.path, &self.name, "")?;
        let last = schedule.time_s.len() - 1;
        let speed = |at_s: &f64| {
            let at = at_s - from_s;
            if !(0.0..=last as f64).contains(&at) {
                return f64::NAN;
            }
            let before = (at as usize).min(last.saturating_sub(1));
            let (a, b) = (schedule.speed_mps[before], schedule.speed_mps[(before + 1).min(last)]);
            a + (at - before as f64) * (b - a)
        };
        let values = self.time_s.iter().map(speed).collect();
        self.notes.append(&mut track.notes);
        self.notes.push("The speed is that along the positions.".to_owned());
        self.channels.push(Channel {
            signal: Signal::Speed,
            column: "positions".to_owned(),
            values,
        });
        Ok(())
    }
}
