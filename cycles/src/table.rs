use std::io::Read;
use std::path::{Path, PathBuf};

use crate::catalogue::nearest;
use crate::error::short;
use crate::rows::Rows;
use crate::schedule::SPEED_LIMIT_MPS;
use crate::{Error, units};

/// The longest file that is read, in bytes.
pub const FILE_LIMIT_BYTES: u64 = 200_000_000;

/// The most rows of a table, or points of a track, that are read.
pub const ROW_LIMIT: usize = 5_000_000;

/// What to do with columns of a CSV file whose names are not known.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Columns {
    /// Refuse them, so that a misspelt name is found.
    #[default]
    Strict,
    /// Leave them out, as recordings hold other channels too.
    IgnoreUnknown,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Quantity {
    Time,
    Distance,
    Speed,
    Limit,
    Grade,
    Elevation,
    Stop,
    Latitude,
    Longitude,
    Auxiliary,
    Heading,
    HeadWind,
    Wind,
    WindFrom,
    Air,
}

impl Quantity {
    /// The range allowed in SI, ends included, and its wording.
    pub(crate) fn allowed(self) -> (f64, f64, &'static str) {
        const YEAR_S: f64 = 366.0 * 86_400.0;
        match self {
            Self::Time => (-1e12, 1e12, "a time of at most 1e12 s"),
            Self::Distance => (-1e9, 1e9, "a distance of at most 1e9 m"),
            Self::Speed => (0.0, SPEED_LIMIT_MPS.next_down(), "0 to below 120 m/s (432 km/h)"),
            Self::Limit => (0.1, SPEED_LIMIT_MPS.next_down(), "0.36 km/h to below 432 km/h"),
            Self::Grade => (-0.6, 0.6, "-60 to 60 %"),
            Self::Elevation => (-1000.0, 10_000.0, "-1000 to 10000 m"),
            Self::Stop => (0.0, YEAR_S, "0 s to a year"),
            Self::Latitude => (-90.0, 90.0, "-90 to 90 degrees"),
            Self::Longitude => (-180.0, 360.0, "-180 to 360 degrees"),
            Self::Auxiliary => (0.0, 1e5, "0 to 100 kW"),
            Self::Heading | Self::WindFrom => {
                (-180.0, 360.0, "degrees from north by east, -180 to 360,")
            }
            Self::HeadWind => (-28.0, 28.0, "-100 to 100 km/h"),
            Self::Wind => (0.0, 28.0, "0 to 100 km/h"),
            Self::Air => (233.15, 328.15, "-40 to 55 °C"),
        }
    }
}

/// From the unit of a column to SI.
type ToSi = fn(f64) -> f64;

/// Every column that is known: its name, what it holds, and its way to SI.
const KNOWN: [(&str, Quantity, ToSi); 23] = [
    ("time_s", Quantity::Time, as_it_is),
    ("time_min", Quantity::Time, units::s_from_min),
    ("distance_m", Quantity::Distance, as_it_is),
    ("distance_km", Quantity::Distance, units::m_from_km),
    ("distance_mi", Quantity::Distance, units::m_from_mi),
    ("speed_kmh", Quantity::Speed, units::mps_from_kmh),
    ("speed_mph", Quantity::Speed, units::mps_from_mph),
    ("speed_mps", Quantity::Speed, as_it_is),
    ("limit_kmh", Quantity::Limit, units::mps_from_kmh),
    ("limit_mph", Quantity::Limit, units::mps_from_mph),
    ("grade_pct", Quantity::Grade, units::slope_from_pct),
    ("elevation_m", Quantity::Elevation, as_it_is),
    ("elevation_ft", Quantity::Elevation, units::m_from_ft),
    ("stop_s", Quantity::Stop, as_it_is),
    ("latitude_deg", Quantity::Latitude, as_it_is),
    ("longitude_deg", Quantity::Longitude, as_it_is),
    ("auxiliary_kw", Quantity::Auxiliary, units::w_from_kw),
    ("auxiliary_w", Quantity::Auxiliary, as_it_is),
    ("heading_deg", Quantity::Heading, as_it_is),
    ("head_wind_kmh", Quantity::HeadWind, units::mps_from_kmh),
    ("wind_kmh", Quantity::Wind, units::mps_from_kmh),
    ("wind_from_deg", Quantity::WindFrom, as_it_is),
    ("air_c", Quantity::Air, units::k_from_c),
];

pub(crate) fn as_it_is(value: f64) -> f64 {
    value
}

struct Column {
    name: String,
    quantity: Quantity,
    /// In SI; none where the cell is empty.
    cells: Vec<Option<f64>>,
}

/// The figures of a CSV file in SI, by quantity, with the line of each row.
pub(crate) struct Table {
    pub path: PathBuf,
    pub header_line: u64,
    pub lines: Vec<u64>,
    columns: Vec<Column>,
}

/// The bytes of a plain file that is not too large.
pub(crate) fn bytes_of(path: &Path) -> Result<Vec<u8>, Error> {
    let read_fault = |source: std::io::Error| match source.kind() {
        std::io::ErrorKind::NotFound => Error::Missing { path: path.to_owned() },
        _ => Error::Read { path: path.to_owned(), source },
    };
    let about = std::fs::metadata(path).map_err(read_fault)?;
    if !about.is_file() {
        let found = if about.is_dir() { "a directory" } else { "a device or pipe" };
        return Err(Error::NotAFile { path: path.to_owned(), found });
    }
    let too_large =
        |bytes| Error::TooLarge { path: path.to_owned(), bytes, allowed_bytes: FILE_LIMIT_BYTES };
    if about.len() > FILE_LIMIT_BYTES {
        return Err(too_large(about.len()));
    }
    let mut bytes = Vec::new();
    let file = std::fs::File::open(path).map_err(read_fault)?;
    file.take(FILE_LIMIT_BYTES + 1).read_to_end(&mut bytes).map_err(read_fault)?;
    if bytes.len() as u64 > FILE_LIMIT_BYTES {
        return Err(too_large(bytes.len() as u64));
    }
    Ok(bytes)
}

/// The text of a file in UTF-8, without a byte-order mark.
pub(crate) fn text_of<'a>(path: &Path, bytes: &'a [u8]) -> Result<&'a str, Error> {
    if is_utf16(bytes) {
        return Err(Error::Utf16 { path: path.to_owned() });
    }
    let text = std::str::from_utf8(bytes).map_err(|fault| {
        let at = fault.valid_up_to();
        Error::NotUtf8 {
            path: path.to_owned(),
            line: line_at(bytes, at),
            value: bytes.get(at).copied().unwrap_or_default(),
        }
    })?;
    match text.find('\0') {
        Some(at) => Err(Error::Row {
            path: path.to_owned(),
            line: line_at(text, at),
            problem: "holds a byte of zero, and only text is read".to_owned(),
        }),
        None => Ok(text.strip_prefix('\u{feff}').unwrap_or(text)),
    }
}

/// Whether bytes are text in UTF-16: they begin with its byte-order mark, or with an ASCII
/// character in it.
pub fn is_utf16(bytes: &[u8]) -> bool {
    matches!(bytes, [0xff, 0xfe, ..] | [0xfe, 0xff, ..] | [0, 1..=0x7f, ..] | [1..=0x7f, 0, ..])
}

/// The line of a byte.
pub(crate) fn line_at(text: impl AsRef<[u8]>, byte: usize) -> u64 {
    1 + text.as_ref().iter().take(byte).filter(|b| **b == b'\n').count() as u64
}

/// The refusal of more than [`ROW_LIMIT`] rows or points.
pub(crate) fn too_many_rows(path: &Path) -> Error {
    Error::Rows { path: path.to_owned(), rows: ROW_LIMIT + 1, allowed: "at most 5000000" }
}

impl Table {
    /// Reads comma-separated text: `#` lines are comments, the first other line is the header.
    ///
    /// `auxiliary` names a column that holds a load on the pack.
    pub fn parse(
        path: &Path,
        text: &str,
        unknown: Columns,
        auxiliary: Option<&str>,
    ) -> Result<Self, Error> {
        let mut rows = Rows::new(path, text, b',')?;
        let no_rows = |rows| Error::Rows { path: path.to_owned(), rows, allowed: "2 or more" };
        let mut record = csv::StringRecord::new();
        let Some(header_line) = rows.next_into(&mut record)? else {
            return Err(no_rows(0));
        };
        let mut table =
            Self { path: path.to_owned(), header_line, lines: Vec::new(), columns: Vec::new() };
        let places = table.read_header(&record, unknown, auxiliary)?;
        let fields = record.len();
        while let Some(line) = rows.next_into(&mut record)? {
            if record.len() != fields {
                let found = record.len();
                let hint = if found > fields { "; decimals are set off by points" } else { "" };
                let problem = format!("has {found} fields, and the header has {fields}{hint}");
                return Err(table.row_fault(line, problem));
            }
            if table.lines.len() == ROW_LIMIT {
                return Err(too_many_rows(path));
            }
            table.lines.push(line);
            for (column, place) in table.columns.iter_mut().zip(&places) {
                let text = record.get(place.field).unwrap_or_default();
                let cell =
                    number(text, column.quantity, place.to_si).map_err(|allowed| Error::Cell {
                        path: path.to_owned(),
                        line,
                        column: column.name.clone(),
                        value: text.to_owned(),
                        allowed,
                    })?;
                column.cells.push(cell);
            }
        }
        if table.lines.len() < 2 {
            return Err(no_rows(table.lines.len()));
        }
        Ok(table)
    }

    /// Of columns that were read already, in SI; no number is an empty cell.
    pub fn of_columns(path: &Path, columns: &[(&str, Quantity, &[f64])]) -> Self {
        let rows = columns.first().map_or(0, |(.., values)| values.len());
        let column = |(name, quantity, values): &(&str, Quantity, &[f64])| Column {
            name: (*name).to_owned(),
            quantity: *quantity,
            cells: values.iter().map(|v| (!v.is_nan()).then_some(*v)).collect(),
        };
        Self {
            path: path.to_owned(),
            header_line: 1,
            lines: (2..rows as u64 + 2).collect(),
            columns: columns.iter().map(column).collect(),
        }
    }

    fn read_header(
        &mut self,
        header: &csv::StringRecord,
        unknown: Columns,
        auxiliary: Option<&str>,
    ) -> Result<Vec<Slot>, Error> {
        let auxiliary = auxiliary.map(|name| (name, load_to_si(name)));
        if let Some((name, to_si)) = auxiliary {
            if to_si.is_none() {
                let problem = format!("and `{}` does not end in _kw or _w", short(name));
                return Err(self.header_fault(header.iter(), problem));
            }
            if !header.iter().any(|field| field.eq_ignore_ascii_case(name)) {
                let problem = format!("and `{}` is not there", short(name));
                return Err(self.header_fault(header.iter(), problem));
            }
        }
        if header.iter().all(|field| field.parse::<f64>().is_ok()) {
            let problem = "and a line with the names of the columns is needed before the numbers, \
                           such as `time_s,speed_kmh`";
            return Err(self.header_fault(header.iter(), problem.to_owned()));
        }
        let mut places = Vec::new();
        for (field, name) in header.iter().enumerate() {
            let known = KNOWN.iter().find(|(known, ..)| known.eq_ignore_ascii_case(name));
            let known = match auxiliary {
                Some((load, Some(to_si))) if load.eq_ignore_ascii_case(name) => {
                    Some((load, Quantity::Auxiliary, to_si))
                }
                _ => known.copied(),
            };
            match (known, unknown) {
                (Some((name, quantity, to_si)), _) => {
                    if let Some(other) = self.columns.iter().find(|c| c.quantity == quantity) {
                        let problem =
                            format!("but only one of `{}` and `{name}` may be there", other.name);
                        return Err(self.header_fault(header.iter(), problem));
                    }
                    self.columns.push(Column {
                        name: name.to_owned(),
                        quantity,
                        cells: Vec::new(),
                    });
                    places.push(Slot { field, to_si });
                }
                (None, Columns::IgnoreUnknown) => {}
                (None, Columns::Strict) => {
                    return Err(Error::UnknownColumn {
                        path: self.path.clone(),
                        line: self.header_line,
                        column: name.to_owned(),
                        hint: column_hint(name),
                    });
                }
            }
        }
        if places.is_empty() {
            let problem = format!("but none of {} is there", known_names());
            return Err(self.header_fault(header.iter(), problem));
        }
        Ok(places)
    }

    fn header_fault<'a>(&self, names: impl Iterator<Item = &'a str>, problem: String) -> Error {
        Error::Header {
            path: self.path.clone(),
            line: self.header_line,
            columns: names.collect::<Vec<_>>().join(", "),
            problem,
        }
    }

    /// An error about the columns together.
    pub fn columns_fault(&self, problem: impl Into<String>) -> Error {
        self.header_fault(self.columns.iter().map(|c| c.name.as_str()), problem.into())
    }

    /// An error about one row.
    pub fn row_fault(&self, line: u64, problem: impl Into<String>) -> Error {
        Error::Row { path: self.path.clone(), line, problem: problem.into() }
    }

    /// Whether a column of this quantity is there.
    pub fn has(&self, quantity: Quantity) -> bool {
        self.columns.iter().any(|c| c.quantity == quantity)
    }

    /// Leaves out the rows in which a column is empty; how many there were.
    pub fn drop_empty(&mut self, quantity: Quantity) -> usize {
        let Some(cells) = self.cells(quantity) else {
            return 0;
        };
        let full: Vec<bool> = cells.iter().map(Option::is_some).collect();
        let mut keep = full.iter();
        self.lines.retain(|_| *keep.next().unwrap_or(&false));
        for column in &mut self.columns {
            let mut keep = full.iter();
            column.cells.retain(|_| *keep.next().unwrap_or(&false));
        }
        full.len() - self.lines.len()
    }

    /// The cells of a column that may be absent.
    pub fn cells(&self, quantity: Quantity) -> Option<&[Option<f64>]> {
        let column = self.columns.iter().find(|c| c.quantity == quantity)?;
        Some(&column.cells)
    }

    /// The cells of a column, none of which may be empty.
    pub fn filled(&self, quantity: Quantity) -> Result<Vec<f64>, Error> {
        let Some(column) = self.columns.iter().find(|c| c.quantity == quantity) else {
            return Err(self.columns_fault(format!("and one of {quantity:?} is needed")));
        };
        let rows = column.cells.iter().zip(&self.lines);
        rows.map(|(cell, line)| {
            cell.ok_or_else(|| Error::Cell {
                path: self.path.clone(),
                line: *line,
                column: column.name.clone(),
                value: String::new(),
                allowed: "a number",
            })
        })
        .collect()
    }

    /// The cells of a column, none of which may be empty and each after the one before it.
    pub fn increasing(&self, quantity: Quantity) -> Result<Vec<f64>, Error> {
        let values = self.filled(quantity)?;
        let unit = if quantity == Quantity::Time { "s" } else { "m" };
        for (pair, line) in values.windows(2).zip(&self.lines[1..]) {
            if pair[1] <= pair[0] {
                let what = format!("{quantity:?}").to_lowercase();
                return Err(self.row_fault(
                    *line,
                    format!(
                        "{what} {} {unit} is not after the {} {unit} of the row before",
                        pair[1], pair[0]
                    ),
                ));
            }
        }
        Ok(values)
    }
}

/// Where a column stands in a row, and its way to SI.
struct Slot {
    field: usize,
    to_si: ToSi,
}

/// The number in a cell in SI, none where the cell is empty; else what is allowed.
pub(crate) fn number(
    text: &str,
    quantity: Quantity,
    to_si: ToSi,
) -> Result<Option<f64>, &'static str> {
    if text.is_empty() {
        return Ok(None);
    }
    let (lowest, highest, allowed) = quantity.allowed();
    let value = to_si(text.parse().map_err(|_| "a number with a decimal point")?);
    if (lowest..=highest).contains(&value) { Ok(Some(value)) } else { Err(allowed) }
}

/// The way to W of a column of loads, by the unit in its name.
fn load_to_si(name: &str) -> Option<ToSi> {
    let name = name.to_lowercase();
    if name.ends_with("_kw") {
        Some(units::w_from_kw)
    } else {
        name.ends_with("_w").then_some(as_it_is as ToSi)
    }
}

fn column_hint(name: &str) -> String {
    if name.contains([';', '\t']) {
        return "; fields must be separated by commas, and decimals set off by points".to_owned();
    }
    // A quantity without its unit: to take the nearest name would be to guess the unit.
    let of_it = format!("{}_", name.trim().to_lowercase());
    let with_unit: Vec<String> = KNOWN
        .iter()
        .filter(|(known, ..)| known.starts_with(&of_it))
        .map(|(known, ..)| format!("`{known}`"))
        .collect();
    if !with_unit.is_empty() {
        return format!("; its unit is missing: {}", with_unit.join(" or "));
    }
    match nearest(name, KNOWN.iter().map(|(known, ..)| *known)) {
        Some(known) => format!("; did you mean `{known}`?"),
        None => format!(", and the columns known are {}", known_names()),
    }
}

fn known_names() -> String {
    KNOWN.map(|(name, ..)| name).join(", ")
}

/// The cells of a column, each empty one as the last before it, or as the first of all.
pub(crate) fn held(cells: &[Option<f64>]) -> Vec<f64> {
    let mut last = cells.iter().flatten().next().copied().unwrap_or(0.0);
    cells
        .iter()
        .map(|cell| {
            last = cell.unwrap_or(last);
            last
        })
        .collect()
}
