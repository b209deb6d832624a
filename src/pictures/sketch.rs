//! What is drawn, as SVG text. Nothing that is no number gets in, and nothing outside the view box.

use crate::plain;
use quick_xml::escape::escape;
use std::borrow::Cow;
use std::fmt::Write;

/// Size of text by class, px, as in the style.
const SIZE: f64 = 13.0;
const SMALL: f64 = 11.0;
const TITLE: f64 = 15.0;

/// Text as it may stand in SVG: escaped, with a blank for what steers.
pub fn escaped(text: &str) -> String {
    // XML has no place for these at all.
    let allowed = |c: char| !matches!(c, '\u{fffe}' | '\u{ffff}');
    let text: String = plain::line(text).chars().filter(|c| allowed(*c)).collect();
    escape(text.as_str()).into_owned()
}

/// About how wide a text is, px. No font is known where a picture is drawn, so that this is on the
/// large side of common sans-serif fonts.
pub fn width_px(text: &str, size: f64) -> f64 {
    let of = |c: char| match c {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' | 'I' | ' ' => 0.32,
        'f' | 't' | 'r' | '(' | ')' | '[' | ']' | '/' | '-' | '·' | '°' => 0.42,
        'm' | 'w' | 'M' | 'W' | '%' | '@' | '—' | '…' => 0.95,
        '0'..='9' => 0.64,
        c if c.is_ascii_uppercase() => 0.74,
        c if c.is_ascii() => 0.61,
        c if (c as u32) < 0x500 => 0.7,
        _ => 1.3,
    };
    text.chars().map(of).sum::<f64>() * size
}

/// The text cut to a width.
pub fn fitted(text: &str, size: f64, most_px: f64) -> Cow<'_, str> {
    if width_px(text, size) <= most_px {
        return Cow::Borrowed(text);
    }
    let mut cut: String = text.to_owned();
    while !cut.is_empty() && width_px(&cut, size) + size > most_px {
        cut.pop();
    }
    Cow::Owned(cut.trim_end().to_owned() + "…")
}

/// The text in lines of a width.
pub fn wrapped(text: &str, size: f64, most_px: f64) -> Vec<String> {
    // Many narrow letters do not make a font narrow.
    let wide = |line: &str| width_px(line, size).max(0.52 * size * line.chars().count() as f64);
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if wide(&format!("{line} {word}")) <= most_px => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// Where a text's point lies on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// A rectangle, px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Area {
    pub fn width(&self) -> f64 {
        self.right - self.left
    }

    pub fn height(&self) -> f64 {
        self.bottom - self.top
    }

    pub fn overlaps(&self, other: &Area) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    pub fn holds(&self, (x, y): (f64, f64)) -> bool {
        (self.left..=self.right).contains(&x) && (self.top..=self.bottom).contains(&y)
    }

    /// Whether it lies within another.
    pub fn is_in(&self, other: &Area) -> bool {
        self.left >= other.left
            && self.right <= other.right
            && self.top >= other.top
            && self.bottom <= other.bottom
    }
}

/// A text at its baseline.
#[derive(Debug, Clone)]
pub struct Text {
    x: f64,
    y: f64,
    text: String,
    class: String,
    anchor: Anchor,
}

impl Text {
    pub fn new(x: f64, y: f64, text: &str) -> Self {
        let class = String::new();
        Self { x, y, text: plain::line(text), class, anchor: Anchor::Start }
    }

    pub fn class(mut self, class: &str) -> Self {
        self.class = class.to_owned();
        self
    }

    pub fn anchor(mut self, anchor: Anchor) -> Self {
        self.anchor = anchor;
        self
    }

    fn size(&self) -> f64 {
        let has = |name| self.class.split(' ').any(|class| class == name);
        if has("title") {
            TITLE
        } else if has("small") {
            SMALL
        } else {
            SIZE
        }
    }

    /// How much wider than plain text it is.
    fn weight(&self) -> f64 {
        let bold = self.class.contains("title") || self.class.contains("strong");
        if bold { 1.15 } else { 1.0 }
    }

    /// About what it covers.
    pub fn area(&self) -> Area {
        let size = self.size();
        let width = width_px(&self.text, size) * self.weight();
        let before = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => 0.5 * width,
            Anchor::End => width,
        };
        let (up, down) = (0.82 * size, 0.26 * size);
        let left = self.x - before;
        Area { left, right: left + width, top: self.y - up, bottom: self.y + down }
    }

    /// Moved, and if need be cut, so that it lies within an area.
    fn within(mut self, area: &Area) -> Self {
        self.text = fitted(&self.text, self.size() * self.weight(), area.width()).into_owned();
        let own = self.area();
        let shift = |low: f64, high: f64, least: f64, most: f64| {
            if low < least { least - low } else { (most - high).min(0.0) }
        };
        self.x += shift(own.left, own.right, area.left, area.right);
        self.y += shift(own.top, own.bottom, area.top, area.bottom);
        self
    }
}

/// A drawing that grows.
#[derive(Debug)]
pub struct Sketch {
    width: f64,
    height: f64,
    body: String,
}

/// A coordinate with a tenth of a pixel.
fn tenth(px: f64) -> f64 {
    (px * 10.0).round() / 10.0 + 0.0
}

impl Sketch {
    /// An empty sheet.
    pub fn new(width: f64, height: f64) -> Self {
        let width = if width.is_finite() { width.round().max(super::Look::NARROW) } else { 720.0 };
        let height = height.round();
        let body = format!("<rect class=\"paper\" width=\"{width}\" height=\"{height}\"/>\n");
        Self { width, height, body }
    }

    pub fn area(&self) -> Area {
        Area { left: 0.0, top: 0.0, right: self.width, bottom: self.height }
    }

    fn held(&self, (x, y): (f64, f64)) -> Option<(f64, f64)> {
        let held = (tenth(x.clamp(0.0, self.width)), tenth(y.clamp(0.0, self.height)));
        (x.is_finite() && y.is_finite()).then_some(held)
    }

    /// The title, at the top.
    pub fn title(&mut self, text: &str) {
        self.text(Text::new(12.0, 22.0, text).class("title"));
    }

    /// A text, kept within the sheet.
    pub fn text(&mut self, text: Text) {
        let edge = 2.0;
        let room =
            Area { left: edge, top: edge, right: self.width - edge, bottom: self.height - edge };
        let text = text.within(&room);
        let Some((x, y)) = self.held((text.x, text.y)) else { return };
        if text.text.trim().is_empty() {
            return;
        }
        let anchor = match text.anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let class = class(&text.class);
        let said = escaped(&text.text);
        let _ = writeln!(self.body, "<text{class} x=\"{x}\" y=\"{y}\"{anchor}>{said}</text>");
    }

    /// A text in as many lines as it needs from a place to the right edge, so far apart. Returns the
    /// baseline below.
    pub fn lines(&mut self, (x, y): (f64, f64), apart: f64, text: &str, class: &str) -> f64 {
        let size = Text::new(x, y, "").class(class).size();
        let lines = wrapped(text, size, self.width - x - 4.0);
        for (i, line) in lines.iter().enumerate() {
            self.text(Text::new(x, y + apart * i as f64, line).class(class));
        }
        y + apart * lines.len() as f64
    }

    /// A line through points.
    pub fn line(&mut self, points: &[(f64, f64)], class_name: &str) {
        if let Some(path) = self.path(points) {
            let _ = writeln!(self.body, "<path{} d=\"{path}\"/>", class(class_name));
        }
    }

    /// A closed shape.
    pub fn shape(&mut self, points: &[(f64, f64)], class_name: &str) {
        if let Some(path) = self.path(points) {
            let _ = writeln!(self.body, "<path{} d=\"{path}Z\"/>", class(class_name));
        }
    }

    fn path(&self, points: &[(f64, f64)]) -> Option<String> {
        let mut path = String::with_capacity(points.len() * 12);
        for (x, y) in points.iter().filter_map(|p| self.held(*p)) {
            let _ = write!(path, "{}{x} {y}", if path.is_empty() { "M" } else { "L" });
        }
        (points.len() > 1 && !path.is_empty()).then_some(path)
    }

    /// A rectangle.
    pub fn rect(&mut self, area: &Area, class_name: &str) {
        let corners = (self.held((area.left, area.top)), self.held((area.right, area.bottom)));
        let (Some((x, y)), Some((right, bottom))) = corners else { return };
        let (width, height) = (tenth((right - x).max(0.0)), tenth((bottom - y).max(0.0)));
        let class = class(class_name);
        let _ = writeln!(
            self.body,
            "<rect{class} x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\"/>"
        );
    }

    /// A dot.
    pub fn dot(&mut self, at: (f64, f64), class_name: &str) {
        let r = 3.5;
        let at = (at.0.clamp(r, self.width - r), at.1.clamp(r, self.height - r));
        if let Some((x, y)) = self.held(at) {
            let class = class(class_name);
            let _ = writeln!(self.body, "<circle{class} cx=\"{x}\" cy=\"{y}\" r=\"{r}\"/>");
        }
    }

    /// Width, height and what was drawn.
    pub fn into_parts(self) -> (f64, f64, String) {
        (self.width, self.height, self.body)
    }
}

/// Class names are our own words.
fn class(name: &str) -> String {
    if name.is_empty() { String::new() } else { format!(" class=\"{name}\"") }
}
