//! The points in a GPX file: only what a road needs is read, in one pass.

use std::borrow::Cow;
use std::path::Path;

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use time::format_description::well_known::Iso8601;
use time::{OffsetDateTime, PrimitiveDateTime};

use crate::Error;
use crate::error::short;
use crate::one_road::{is_without_fix, one_road};
use crate::planned::Plan;
use crate::table::{Quantity, ROW_LIMIT, as_it_is, line_at, number, text_of, too_many_rows};

/// How deep elements of a GPX file may stand within one another.
pub const GPX_DEPTH_LIMIT: usize = 100;

/// The elements that are read, and those that lead to them.
const NAMES: [&str; 8] = ["gpx", "trk", "trkseg", "trkpt", "ele", "time", "rte", "rtept"];
const SEGMENT: [&str; 3] = ["gpx", "trk", "trkseg"];
const ROUTE: [&str; 2] = ["gpx", "rte"];
const TRACK_POINT: [&str; 4] = ["gpx", "trk", "trkseg", "trkpt"];
const ELEVATION: [&str; 5] = ["gpx", "trk", "trkseg", "trkpt", "ele"];
const ROUTE_ELEVATION: [&str; 4] = ["gpx", "rte", "rtept", "ele"];
const TIME: [&str; 5] = ["gpx", "trk", "trkseg", "trkpt", "time"];
const ROUTE_POINT: [&str; 3] = ["gpx", "rte", "rtept"];

/// A point of a track or a route.
pub(crate) struct TrackPoint {
    /// Where it stands in the file.
    pub byte: usize,
    /// Whether its segment or route begins with it.
    pub begins: bool,
    pub time: Option<OffsetDateTime>,
    pub latitude_deg: f64,
    pub longitude_deg: f64,
    pub elevation_m: Option<f64>,
}

/// The points in a GPX file.
#[derive(Default)]
pub(crate) struct Points {
    /// Those of all tracks and segments, one after the other.
    pub recorded: Vec<TrackPoint>,
    /// Those of all routes.
    pub planned: Vec<TrackPoint>,
}

impl Points {
    /// The points as a plan, where none has a time: those of the tracks, or else of the routes, as far as
    /// they are one road; and what there is to say of it.
    ///
    /// # Errors
    /// [`Error::Track`] where they jump as no road does.
    pub fn plan(&self, path: &Path) -> Result<Option<(Plan, Vec<String>)>, Error> {
        if self.recorded.iter().any(|point| point.time.is_some()) {
            return Ok(None);
        }
        let mut notes = Vec::new();
        let points = match (self.recorded.len() >= 2, self.planned.len() >= 2) {
            (false, false) => return Ok(None),
            (false, true) => &self.planned,
            (true, both) => {
                let note = "The file holds a track and a route besides; the track is driven.";
                notes.extend(both.then(|| note.to_owned()));
                &self.recorded
            }
        };
        let at = |point: &TrackPoint| (point.latitude_deg, point.longitude_deg);
        let all: Vec<(f64, f64)> = points.iter().map(at).collect();
        let no_fix = is_without_fix((0.0, 0.0), &all);
        let mut kept: Vec<&TrackPoint> = Vec::with_capacity(points.len());
        let mut begins: Vec<usize> = vec![0];
        for point in points {
            if point.begins && begins.last() != Some(&kept.len()) {
                begins.push(kept.len());
            }
            if !(no_fix && at(point) == (0.0, 0.0)) {
                kept.push(point);
            }
        }
        if kept.len() < points.len() {
            notes.push(format!(
                "Points at 0, 0, as of a receiver without a fix, left out: {}.",
                points.len() - kept.len()
            ));
        }
        let positions: Vec<(f64, f64)> = kept.iter().map(|point| at(point)).collect();
        let fault = |problem| Error::Track { path: path.to_owned(), problem };
        let (pieces, said) = one_road(&positions, &begins).map_err(fault)?;
        notes.extend(said);
        let road: Vec<&TrackPoint> = pieces.into_iter().flat_map(|p| kept[p].to_vec()).collect();
        let plan = Plan {
            latitude_deg: road.iter().map(|p| p.latitude_deg).collect(),
            longitude_deg: road.iter().map(|p| p.longitude_deg).collect(),
            elevation_m: road.iter().map(|p| p.elevation_m).collect(),
            limit_mps: None,
            stop_s: Vec::new(),
        };
        Ok(Some((plan, notes)))
    }
}

/// The text of a file in UTF-8 or another code that holds ASCII. What a road needs is ASCII, and
/// what is not may be names in an older code, so a letter that is not UTF-8 is no reason to refuse.
pub(crate) fn any_text_of<'a>(path: &Path, bytes: &'a [u8]) -> Result<Cow<'a, str>, Error> {
    match text_of(path, bytes) {
        Err(Error::NotUtf8 { .. }) => {
            let ascii = |byte: &u8| if byte.is_ascii() { char::from(*byte) } else { '?' };
            Ok(Cow::Owned(bytes.iter().map(ascii).collect()))
        }
        text => text.map(Cow::Borrowed),
    }
}

/// The points in the text of a GPX file of any version.
///
/// An element is read where its place and its name say so and its prefix is that of the outermost
/// one; all others may hold what they like. Memory grows with the points alone: entities are not
/// expanded, and nothing else is kept.
pub(crate) fn points(path: &Path, text: &str) -> Result<Points, Error> {
    let mut reader = Reader::from_str(text);
    // A bare `&` in a name is no reason to refuse a road.
    reader.config_mut().allow_dangling_amp = true;
    let not_gpx = |byte: usize, problem: String| Error::Gpx {
        path: path.to_owned(),
        line: line_at(text, byte),
        problem,
    };
    let mut points = Points::default();
    let (mut begun, mut prefix) = (false, None);
    // The elements that are open; those that are not read have no name.
    let mut open: Vec<&str> = Vec::new();
    // The text of an elevation or a time, and where its element begins.
    let (mut content, mut content_byte) = (String::new(), 0);
    let mut begins = true;
    loop {
        let byte = reader.buffer_position() as usize;
        let event = match reader.read_event() {
            Ok(event) => event,
            Err(fault) => {
                let problem = short(&fault.to_string()).to_string();
                return Err(not_gpx(reader.error_position() as usize, problem));
            }
        };
        if let Event::Start(start) | Event::Empty(start) = &event {
            if open.len() == GPX_DEPTH_LIMIT {
                let problem = format!(
                    "more than {GPX_DEPTH_LIMIT} elements stand within one another, and at most \
                     {GPX_DEPTH_LIMIT} may"
                );
                return Err(not_gpx(byte, problem));
            }
            let (name, own) = start.name().decompose();
            let own = own.map(|prefix| prefix.into_inner().to_owned());
            if !begun {
                (begun, prefix) = (true, own.clone());
            }
            let known = NAMES.iter().find(|known| **known == name.into_inner() && own == prefix);
            open.push(known.copied().unwrap_or_default());
            if open[0] != "gpx" {
                let name = short(name.into_inner());
                return Err(not_gpx(byte, format!("its outermost element is {name}, not gpx")));
            }
            if open == TRACK_POINT || open == ROUTE_POINT {
                if points.recorded.len() + points.planned.len() == ROW_LIMIT {
                    return Err(too_many_rows(path));
                }
                let (name, list) = match open[open.len() - 1] {
                    "rtept" => ("rtept", &mut points.planned),
                    _ => ("trkpt", &mut points.recorded),
                };
                let point = point(path, text, byte, start, name)?;
                list.push(TrackPoint { begins: std::mem::take(&mut begins), ..point });
            } else if open == SEGMENT || open == ROUTE {
                begins = true;
            }
            content.clear();
            content_byte = byte;
        }
        match &event {
            Event::Text(_) | Event::CData(_) | Event::GeneralRef(_)
                if open == ELEVATION || open == TIME || open == ROUTE_ELEVATION =>
            {
                add_text(&mut content, &event);
            }
            Event::End(_) | Event::Empty(_) => {
                let list = match open == ROUTE_ELEVATION {
                    true => &mut points.planned,
                    false => &mut points.recorded,
                };
                if let Some(point) = list.last_mut() {
                    let content = content.trim();
                    let refuse = |allowed| Error::Cell {
                        path: path.to_owned(),
                        line: line_at(text, content_byte),
                        column: open[open.len() - 1].to_owned(),
                        value: content.to_owned(),
                        allowed,
                    };
                    if open == ELEVATION || open == ROUTE_ELEVATION {
                        point.elevation_m = elevation_m(content).map_err(refuse)?;
                    } else if open == TIME {
                        point.time = time_of(content).map_err(refuse)?;
                    }
                }
                open.pop();
            }
            Event::Eof if !begun => return Err(not_gpx(0, "it has no element gpx".to_owned())),
            Event::Eof if open.is_empty() => return Ok(points),
            Event::Eof => {
                let name = open.iter().rev().find(|name| !name.is_empty()).copied();
                let name = name.unwrap_or_default();
                return Err(not_gpx(
                    text.len(),
                    format!("the file ends within its element {name}"),
                ));
            }
            _ => {}
        }
    }
}

/// A point of a track or a route as its element begins.
fn point(
    path: &Path,
    text: &str,
    byte: usize,
    start: &BytesStart,
    element: &str,
) -> Result<TrackPoint, Error> {
    let degrees = |name: &'static str, quantity: Quantity| {
        // Names that stand twice are not looked for, as that would take the square of their number.
        let found = start
            .attributes()
            .with_checks(false)
            .find_map(|attribute| attribute.ok().filter(|a| a.key.as_ref() == name));
        let value = found.as_ref().map_or("", |attribute| &attribute.value).trim();
        let refuse = |allowed| Error::Cell {
            path: path.to_owned(),
            line: line_at(text, byte),
            column: format!("{name} of {element}"),
            value: value.to_owned(),
            allowed,
        };
        let number = number(value, quantity, as_it_is).map_err(refuse)?;
        number.ok_or_else(|| refuse(quantity.allowed().2))
    };
    Ok(TrackPoint {
        byte,
        begins: false,
        time: None,
        latitude_deg: degrees("lat", Quantity::Latitude)?,
        longitude_deg: degrees("lon", Quantity::Longitude)?,
        elevation_m: None,
    })
}

/// Adds the text between two tags, with the characters that references stand for.
fn add_text(content: &mut String, event: &Event) {
    match event {
        Event::Text(text) => content.push_str(text),
        Event::CData(text) => content.push_str(text),
        Event::GeneralRef(reference) => match reference.resolve_char_ref() {
            Ok(Some(character)) => content.push(character),
            _ => content.extend(["&", &**reference, ";"]),
        },
        _ => {}
    }
}

/// An elevation; none where it is empty, is not a number or lies where no road does, as what some maps hold
/// for what they do not know.
fn elevation_m(content: &str) -> Result<Option<f64>, &'static str> {
    match content.parse::<f64>() {
        _ if content.is_empty() => Ok(None),
        Ok(elevation_m) => Ok(Some(elevation_m).filter(|e| (-1000.0..=10_000.0).contains(e))),
        Err(_) => Err("a number of m with a decimal point"),
    }
}

/// A time of ISO 8601, in UTC where it has no offset; none where it is empty.
fn time_of(content: &str) -> Result<Option<OffsetDateTime>, &'static str> {
    if content.is_empty() {
        return Ok(None);
    }
    let with_offset = OffsetDateTime::parse(content, &Iso8601::PARSING);
    let utc = || PrimitiveDateTime::parse(content, &Iso8601::PARSING).map(|t| t.assume_utc());
    with_offset.or_else(|_| utc()).map(Some).map_err(|_| "a time such as 2024-05-01T07:30:00Z")
}
