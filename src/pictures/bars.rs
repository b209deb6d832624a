//! Bars that lie, one below the other: a name, a bar from zero, and its value beside it.

use super::sketch::{Anchor, Area, Sketch, Text, fitted, width_px};

/// Height of a row, px.
pub const ROW: f64 = 24.0;
/// Room between a name and where its bar may begin, and between a bar and its value, px.
const GAP: f64 = 8.0;
/// What is taken for a number.
const MOST: f64 = 1e12;

/// One bar.
#[derive(Debug, Clone)]
pub struct Bar {
    /// What it is.
    pub name: String,
    /// How long it is; no number, no bar.
    pub value: f64,
    /// What stands beside it.
    pub label: String,
    /// One case in ten below and one above.
    pub band: Option<(f64, f64)>,
    /// What it was before.
    pub before: Option<f64>,
    /// The class of its colour.
    pub class: &'static str,
}

impl Bar {
    /// A bar without a band and without a former state.
    pub fn new(name: &str, value: f64, label: String, class: &'static str) -> Self {
        Self { name: name.to_owned(), value, label, band: None, before: None, class }
    }

    fn ends(&self) -> impl Iterator<Item = f64> {
        let band = self.band.into_iter().flat_map(|(low, high)| [low, high]);
        band.chain(self.before).chain([self.value])
    }
}

fn drawn(value: f64) -> Option<f64> {
    (value.abs() <= MOST).then_some(value)
}

/// Where names end, where zero lies and how long a unit is, for bars that are to be compared.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    names: f64,
    left: f64,
    right: f64,
    low: f64,
    high: f64,
}

impl Scale {
    /// For all of these bars between the sides of an area; it reaches at least over `span`.
    pub fn of<'a>(area: &Area, bars: impl IntoIterator<Item = &'a Bar>, span: (f64, f64)) -> Self {
        let (mut low, mut high) = (span.0.min(0.0), span.1.max(0.0));
        let (mut names, mut before, mut after) = (0.0_f64, 0.0_f64, 0.0_f64);
        for bar in bars {
            names = names.max(width_px(&bar.name, 13.0));
            let label = width_px(&bar.label, 11.0) + GAP;
            let side = if bar.value < 0.0 { &mut before } else { &mut after };
            *side = side.max(label);
            for end in bar.ends().filter_map(drawn) {
                (low, high) = (low.min(end), high.max(end));
            }
        }
        let most = |share: f64, px: f64| px.min(share * area.width());
        let names = most(0.45, names);
        let left = area.left + names + GAP + most(0.2, before);
        Self { names, left, right: left.max(area.right - most(0.35, after)), low, high }
    }

    fn at(&self, value: f64) -> f64 {
        let px = (self.right - self.left).max(1.0) / (self.high - self.low).max(1e-9);
        let value = value.clamp(self.low, self.high);
        (self.left + (value - self.low) * px).clamp(self.left, self.right)
    }
}

/// Draws bars from the top of an area down; returns where they end.
pub fn bars(sketch: &mut Sketch, area: &Area, bars: &[Bar], scale: &Scale) -> f64 {
    let (names, at) = (scale.names, |value| scale.at(value));
    let zero = at(0.0);
    let mut top = area.top;
    for bar in bars {
        let middle = top + 0.5 * ROW;
        let name = fitted(&bar.name, 13.0, names).into_owned();
        sketch.text(Text::new(area.left + names, middle + 4.5, &name).anchor(Anchor::End));
        let mut tip = zero;
        if let Some(value) = drawn(bar.value) {
            tip = at(value);
            let (from, to) = (zero.min(tip), zero.max(tip));
            let shape = Area { left: from, right: to, top: top + 4.0, bottom: top + ROW - 4.0 };
            sketch.rect(&shape, &format!("fill {}", bar.class));
        }
        if let Some(former) = bar.before.and_then(drawn) {
            let x = at(former);
            sketch.line(&[(x, top + 1.0), (x, top + ROW - 1.0)], "ghost");
        }
        if let Some((p10, p90)) = bar.band.and_then(|(l, h)| Some((drawn(l)?, drawn(h)?))) {
            let (from, to) = (at(p10), at(p90));
            sketch.line(&[(from, middle), (to, middle)], "line thin");
            for x in [from, to] {
                sketch.line(&[(x, middle - 4.0), (x, middle + 4.0)], "line thin");
            }
            tip = if bar.value < 0.0 { tip.min(from) } else { tip.max(to) };
        }
        let (x, anchor) =
            if bar.value < 0.0 { (tip - 5.0, Anchor::End) } else { (tip + 5.0, Anchor::Start) };
        let room = if bar.value < 0.0 { x - area.left - names - GAP } else { area.right - x };
        // Cut with a margin, as fonts differ.
        let label = fitted(&bar.label, 11.5, room.max(0.0)).into_owned();
        sketch.text(Text::new(x, middle + 4.0, &label).class("small").anchor(anchor));
        top += ROW;
    }
    sketch.line(&[(zero, area.top), (zero, top)], "axis");
    top
}
