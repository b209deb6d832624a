//! Pictures of reports, as SVG; one picture a file.
//!
//! A picture function takes a report, the same of a former state if there is one, and a [`Look`]. It
//! returns a [`Picture`], whatever the report holds: where there is nothing to draw, one that says
//! so. Colours and strokes are those of [`STYLE`] alone, by classes; what is drawn, where, and in
//! which class is decided here.

pub mod bands;
mod bars;
pub mod charging;
pub mod chart;
#[cfg(test)]
mod checks;
pub mod climb;
pub mod cost;
pub mod electrics;
pub mod endurance;
pub mod energy;
pub mod front;
mod labels;
pub mod recorded;
pub mod regen;
pub mod road;
pub mod season;
pub mod shade;
pub mod sketch;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod tests_of_studies;
pub mod throttle;
pub mod tractive;

use crate::measure::Units;
use sketch::{Sketch, escaped};
use std::fmt::Write;

/// Colours and strokes of all pictures: light, dark where a screen asks for it, light on paper.
pub const STYLE: &str = include_str!("style.css");

/// How pictures are drawn.
#[derive(Debug, Clone, Copy)]
pub struct Look<'a> {
    /// Name of the car, before each title; empty on a page that says it elsewhere.
    pub name: &'a str,
    /// Units on the axes.
    pub units: Units,
    /// Width of the view box, px; at least [`Look::NARROW`].
    pub width: f64,
}

impl<'a> Look<'a> {
    /// Width on paper and on a screen, px.
    pub const WIDE: f64 = 720.0;
    /// Width on a phone, px.
    pub const NARROW: f64 = 360.0;

    /// For paper and screens.
    pub fn wide(name: &'a str, units: Units) -> Self {
        Self { name, units, width: Self::WIDE }
    }

    /// For phones.
    pub fn narrow(name: &'a str, units: Units) -> Self {
        Self { name, units, width: Self::NARROW }
    }

    /// Whether it is for a phone.
    pub fn is_narrow(&self) -> bool {
        self.width < 520.0
    }

    /// What a picture shows, of which car.
    pub fn title(&self, what: &str) -> String {
        if self.name.is_empty() { what.to_owned() } else { format!("{what}: {}", self.name) }
    }
}

/// The class of a line among several.
pub fn series(index: usize) -> &'static str {
    ["s1", "s2", "s3", "s4", "s5", "s6"][index % 6]
}

/// A picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// What the ids of title and description begin with; whoever puts two of a kind on one page
    /// gives one of them another.
    pub id: String,
    /// What it shows; it stands in the picture as well.
    pub title: String,
    /// What can be seen, in sentences, for who cannot.
    pub description: String,
    width: f64,
    height: f64,
    body: String,
}

impl Picture {
    /// A picture from what was drawn.
    pub fn new(id: &str, title: &str, description: &str, sketch: Sketch) -> Self {
        let clean = |text: &str| crate::plain::line(text);
        let (width, height, body) = sketch.into_parts();
        let (title, description) = (clean(title), clean(description));
        Self { id: id.to_owned(), title, description, width, height, body }
    }

    /// A picture of nothing, with the reason.
    pub fn empty(id: &str, title: &str, why: &str, look: Look) -> Self {
        let more = sketch::wrapped(why, 13.0, look.width - 16.0).len().clamp(1, 12) - 1;
        let mut sketch = Sketch::new(look.width, 96.0 + 18.0 * more as f64);
        sketch.title(title);
        sketch.lines((12.0, 60.0), 18.0, why, "quiet");
        Self::new(id, title, why, sketch)
    }

    /// Another picture under it, as one; the other's width is to be the same.
    pub fn over(mut self, below: Self) -> Self {
        let _ = write!(
            self.body,
            "<g transform=\"translate(0 {})\">\n{}</g>\n",
            self.height, below.body
        );
        self.height += below.height;
        self.width = self.width.max(below.width);
        self.title = format!("{}; {}", self.title, below.title);
        self.description = format!("{} {}", self.description, below.description);
        self
    }

    /// A file of its own, with its style.
    pub fn file(&self) -> String {
        let size = format!(" width=\"{}\" height=\"{}\"", self.width, self.height);
        self.svg(" xmlns=\"http://www.w3.org/2000/svg\"", &size, &format!("<style>{STYLE}</style>"))
    }

    /// A part of a page that carries [`STYLE`].
    pub fn inline(&self) -> String {
        self.svg("", "", "")
    }

    fn svg(&self, namespace: &str, size: &str, style: &str) -> String {
        let Self { width, height, body, .. } = self;
        let (id, title) = (escaped(&self.id), escaped(&self.title));
        let description = escaped(&self.description);
        format!(
            "<svg{namespace} class=\"picture\" role=\"img\" viewBox=\"0 0 {width} {height}\"{size} \
             aria-labelledby=\"{id}-title {id}-desc\">\n<title id=\"{id}-title\">{title}</title>\n\
             <desc id=\"{id}-desc\">{description}</desc>\n{style}{body}</svg>\n"
        )
    }
}
