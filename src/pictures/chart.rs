//! A plot: two axes, lines and bands between them, and labels beside the lines.

use super::labels::Labels;
use super::sketch::{Anchor, Area, Sketch, Text};
use crate::measure::number;
use plotters::coord::ranged1d::Ranged;
use plotters::coord::types::RangedCoordf64;

/// What is taken for a number: more than any quantity of a car, and still one to reckon with.
const MOST: f64 = 1e12;
/// Least length of an axis, in its own unit.
const LEAST_SPAN: f64 = 1e-3;
/// From so many points on a line is thinned out to what each column of pixels shows.
const MANY: usize = 500;

/// What a line may leave out, px.
const STRAIGHT_PX: f64 = 0.25;

/// Room for the numbers of the upright axis, px.
pub const LEFT: f64 = 54.0;
/// Room above a plot for what its upright axis shows, and below for numbers and title, px.
const ABOVE: f64 = 24.0;
const BELOW: f64 = 38.0;
const BELOW_BARE: f64 = 10.0;

/// Whether a value can be drawn.
fn is_drawn(value: f64) -> bool {
    value.abs() <= MOST
}

/// An axis in the unit that is shown.
#[derive(Debug, Clone)]
pub struct Axis {
    title: String,
    low: f64,
    high: f64,
    /// Whether it ends at round numbers.
    is_round: bool,
    is_bare: bool,
    /// Between its numbers.
    step: f64,
}

impl Axis {
    /// As long as the values ask for; `title` with the unit.
    pub fn of(title: &str, values: impl IntoIterator<Item = f64>) -> Self {
        let drawn = values.into_iter().filter(|v| is_drawn(*v));
        let (low, high) =
            drawn.fold((f64::INFINITY, -f64::INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        let (low, high) = if low > high { (0.0, 1.0) } else { (low, high) };
        let least = LEAST_SPAN.max(1e-6 * high.abs().max(low.abs()));
        let (low, high) = if high - low >= least {
            (low, high)
        } else {
            let half = (0.02 * high.abs()).max(0.5);
            (low - if low == 0.0 { 0.0 } else { half }, high + half)
        };
        Self { title: title.to_owned(), low, high, is_round: false, is_bare: false, step: 1.0 }
    }

    /// The same with zero on it.
    pub fn from_zero(title: &str, values: impl IntoIterator<Item = f64>) -> Self {
        Self::of(title, values.into_iter().chain([0.0]))
    }

    /// Goes on to round numbers.
    pub fn round(self) -> Self {
        Self { is_round: true, ..self }
    }

    /// Without numbers and title, above another plot that has them.
    pub fn bare(self) -> Self {
        Self { is_bare: true, ..self }
    }

    fn coord(&self) -> RangedCoordf64 {
        (self.low..self.high).into()
    }

    /// Its ends, moved outwards to whole steps if it asks for it.
    fn ends(&self, step: f64) -> (f64, f64) {
        if !self.is_round {
            return (self.low, self.high);
        }
        // What is past a whole step but for rounding is on the axis as well.
        let low = (self.low / step + 1e-9).floor() * step;
        (low.min(self.low), ((self.high / step - 1e-9).ceil() * step).max(self.high))
    }

    /// The least step of 1, 2 or 5 times a power of ten of which at most so many lie between its
    /// ends, and these.
    fn stepped(mut self, most: usize) -> Self {
        let most = most.max(2) as f64;
        let decade = 10_f64.powf(((self.high - self.low) / most).log10().floor());
        let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0].map(|step| step * decade);
        let fits = |step: &f64| {
            let (low, high) = self.ends(*step);
            (high - low) / step <= most + 1e-6
        };
        self.step = steps.into_iter().find(fits).unwrap_or(100.0 * decade);
        (self.low, self.high) = self.ends(self.step);
        self
    }

    /// Round numbers on it, and their decimals.
    fn ticks(&self) -> (Vec<f64>, usize) {
        let (first, last) = (self.low / self.step - 1e-9, self.high / self.step + 1e-9);
        let count = (last.floor() - first.ceil()).clamp(0.0, 40.0) as u32;
        let ticks = (0..=count).map(|i| (first.ceil() + f64::from(i)) * self.step + 0.0);
        let decimals = (-self.step.log10() - 1e-9).ceil().clamp(0.0, 6.0);
        (ticks.collect(), decimals as usize)
    }

    /// The value, if it is on the axis or but for rounding.
    fn near(&self, value: f64) -> Option<f64> {
        let rounding = 1e-6 * (self.high - self.low);
        (self.low - rounding <= value && value <= self.high + rounding)
            .then(|| value.clamp(self.low, self.high))
    }

    fn holds(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
}

/// A number on an axis.
fn on_axis(value: f64, decimals: usize) -> String {
    if value.abs() >= 1e6 { format!("{value:e}") } else { number(value, decimals) }
}

/// Two axes and what is drawn between them.
#[derive(Debug)]
pub struct Plot {
    outer: Area,
    area: Area,
    x: Axis,
    y: Axis,
    labels: Labels,
}

impl Plot {
    /// Draws the axes within an area; `right` pixels of it stay free for labels.
    pub fn new(sketch: &mut Sketch, outer: Area, right: f64, x: Axis, y: Axis) -> Self {
        let below = if x.is_bare { BELOW_BARE } else { BELOW };
        let area = Area {
            left: outer.left + LEFT,
            top: outer.top + ABOVE,
            right: outer.right - right,
            bottom: outer.bottom - below,
        };
        let across = ((area.width() / 64.0) as usize).max(2);
        let up = ((area.height() / 21.0) as usize).clamp(2, 10);
        let (x, y) = (x.stepped(across), y.stepped(up));
        let mut plot = Self { outer, area, x, y, labels: Labels::default() };
        plot.axes(sketch);
        plot
    }

    fn axes(&mut self, sketch: &mut Sketch) {
        let area = self.area;
        let (ticks, decimals) = self.y.ticks();
        for tick in ticks.into_iter().filter(|t| self.y.holds(*t)) {
            let y = self.up(tick);
            sketch.line(&[(area.left, y), (area.right, y)], "grid");
            let text = Text::new(area.left - 6.0, y + 4.0, &on_axis(tick, decimals));
            sketch.text(text.class("small quiet").anchor(Anchor::End));
        }
        let (ticks, decimals) = self.x.ticks();
        for tick in ticks.into_iter().filter(|t| self.x.holds(*t)) {
            let x = self.across(tick);
            sketch.line(&[(x, area.bottom), (x, area.bottom + 4.0)], "axis");
            if !self.x.is_bare {
                let text = Text::new(x, area.bottom + 17.0, &on_axis(tick, decimals));
                sketch.text(text.class("small quiet").anchor(Anchor::Middle));
            }
        }
        sketch.line(&[(area.left, area.bottom), (area.right, area.bottom)], "axis");
        let above = Text::new(self.outer.left + 12.0, area.top - 10.0, &self.y.title);
        sketch.text(above.class("small"));
        if !self.x.is_bare {
            let below = Text::new(area.right, area.bottom + 33.0, &self.x.title);
            sketch.text(below.class("small").anchor(Anchor::End));
        }
    }

    /// Between the axes.
    pub fn area(&self) -> Area {
        self.area
    }

    /// A tenth of a pixel is the crate's unit.
    fn across(&self, x: f64) -> f64 {
        let ends = (tenths(self.area.left), tenths(self.area.right));
        f64::from(self.x.coord().map(&x, ends)) / 10.0
    }

    fn up(&self, y: f64) -> f64 {
        let ends = (tenths(self.area.bottom), tenths(self.area.top));
        f64::from(self.y.coord().map(&y, ends)) / 10.0
    }

    /// Where a point lies, px; `None` for one that is not between the axes.
    pub fn at(&self, (x, y): (f64, f64)) -> Option<(f64, f64)> {
        let (x, y) = (self.x.near(x)?, self.y.near(y)?);
        Some((self.across(x), self.up(y)))
    }

    /// A line through points, as far as it lies between the axes; broken where there is no number.
    /// Returns its last point, px.
    pub fn line(
        &mut self,
        sketch: &mut Sketch,
        points: &[(f64, f64)],
        class: &str,
    ) -> Option<(f64, f64)> {
        let mut last = None;
        for run in self.runs(points) {
            let run = thinned(run);
            self.labels.avoid(&run);
            last = run.last().copied().or(last);
            sketch.line(&run, &format!("line {class}"));
        }
        last
    }

    /// A former state: thin and grey, and in nobody's way.
    pub fn ghost(&mut self, sketch: &mut Sketch, points: &[(f64, f64)]) {
        for run in self.runs(points) {
            sketch.line(&thinned(run), "ghost");
        }
    }

    /// Shading between two lines of the same abscissas.
    pub fn band(
        &mut self,
        sketch: &mut Sketch,
        low: &[(f64, f64)],
        high: &[(f64, f64)],
        class: &str,
    ) {
        let (x, y) = (&self.x, &self.y);
        let kept = |points: &[(f64, f64)]| -> Vec<(f64, f64)> {
            let clear = points.iter().filter(|p| !p.0.is_nan() && !p.1.is_nan());
            clear
                .map(|p| (p.0.clamp(x.low, x.high), p.1.clamp(y.low, y.high)))
                .map(|(x, y)| (self.across(x), self.up(y)))
                .collect()
        };
        let (low, mut high) = (kept(low), kept(high));
        if low.len() < 2 || high.len() < 2 {
            return;
        }
        high.reverse();
        sketch.shape(&[low, high].concat(), &format!("band {class}"));
    }

    /// An upright line across the plot, with a label at its top.
    pub fn upright(&mut self, sketch: &mut Sketch, x: f64, class: &str, name: &str) {
        if self.x.holds(x) {
            let px = self.across(x);
            let ends = [(px, self.area.top), (px, self.area.bottom)];
            sketch.line(&ends, class);
            self.labels.avoid(&ends);
            self.labels.add((px, self.area.top + 12.0), name, "small quiet over");
        }
    }

    /// Names what begins at the left, at the top.
    pub fn top_name(&mut self, name: &str) {
        self.labels.add((self.area.left, self.area.top + 12.0), name, "small quiet over");
    }

    /// A level line across the plot, named at its right end.
    pub fn level(&mut self, sketch: &mut Sketch, y: f64, class: &str, name: &str) {
        if self.y.holds(y) {
            let (px, right) = (self.up(y), self.area.right);
            let ends = [(self.area.left, px), (right, px)];
            sketch.line(&ends, class);
            self.labels.avoid(&ends);
            self.labels.add((right, px), name, "small quiet over");
        }
    }

    /// A dot at a point.
    pub fn dot(&mut self, sketch: &mut Sketch, point: (f64, f64), class: &str) {
        if let Some(at) = self.at(point) {
            sketch.dot(at, format!("dot {class}").trim_end());
            let (r, (x, y)) = (4.0, at);
            self.labels.take(Area { left: x - r, top: y - r, right: x + r, bottom: y + r });
        }
    }

    /// Names what is at a point of the sheet, px.
    pub fn name(&mut self, at: Option<(f64, f64)>, text: &str, class: &str) {
        if let Some(at) = at {
            self.labels.add(at, text, &format!("{class} over"));
        }
    }

    /// Names the line that was drawn last, close to it, at about such a share of its length.
    pub fn name_along(&mut self, share: f64, text: &str, class: &str) {
        self.labels.add_along(share, text, &format!("{class} over"));
    }

    /// Keeps labels off a line, px, if there is room elsewhere.
    pub fn avoid(&mut self, points: &[(f64, f64)]) {
        self.labels.avoid(points);
    }

    /// Keeps labels off what lies between two points of the axes.
    pub fn keep_clear(&mut self, (left, low): (f64, f64), (right, high): (f64, f64)) {
        if let Some(((left, bottom), (right, top))) =
            self.at((left, low)).zip(self.at((right, high)))
        {
            self.labels.take(Area { left, top, right, bottom });
        }
    }

    /// Puts the labels where there is room, when all else is drawn.
    pub fn finish(self, sketch: &mut Sketch) {
        let Area { top, bottom, .. } = self.area;
        let below = if self.x.is_bare { BELOW_BARE } else { 0.0 };
        let right = self.outer.right;
        let room = Area { right, top: top - 6.0, bottom: bottom + below, ..self.area };
        self.labels.place(self.area.right, &room, sketch);
    }

    /// The pieces of a line that lie between the axes, px.
    fn runs(&self, points: &[(f64, f64)]) -> Vec<Vec<(f64, f64)>> {
        let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
        let mut goes_on = false;
        for pair in points.windows(2) {
            let clear = pair.iter().all(|p| is_drawn(p.0) && is_drawn(p.1));
            let Some((from, to)) = clear.then(|| self.clipped(pair[0], pair[1])).flatten() else {
                goes_on = false;
                continue;
            };
            let px = |(x, y): (f64, f64)| (self.across(x), self.up(y));
            match runs.last_mut() {
                Some(run) if goes_on && from == pair[0] => run.push(px(to)),
                _ => runs.push(vec![px(from), px(to)]),
            }
            goes_on = to == pair[1];
        }
        runs
    }

    /// The part of a stretch that lies between the axes (Liang and Barsky 1984).
    fn clipped(&self, from: (f64, f64), to: (f64, f64)) -> Option<((f64, f64), (f64, f64))> {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let (mut begin, mut end) = (0.0_f64, 1.0_f64);
        for (by, room) in [
            (-dx, from.0 - self.x.low),
            (dx, self.x.high - from.0),
            (-dy, from.1 - self.y.low),
            (dy, self.y.high - from.1),
        ] {
            if by == 0.0 {
                if room < 0.0 {
                    return None;
                }
            } else if by < 0.0 {
                begin = begin.max(room / by);
            } else {
                end = end.min(room / by);
            }
        }
        if begin > end {
            return None;
        }
        let at = |share: f64| {
            let (x, y) = (from.0 + share * dx, from.1 + share * dy);
            (x.clamp(self.x.low, self.x.high), y.clamp(self.y.low, self.y.high))
        };
        let begins = if begin == 0.0 { from } else { at(begin) };
        let ends = if end == 1.0 { to } else { at(end) };
        Some((begins, ends))
    }
}

fn tenths(px: f64) -> i32 {
    (px * 10.0).round() as i32
}

/// The fewest points that draw the same line.
fn thinned(points: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    straightened(&if points.len() < MANY { points } else { by_columns(&points) })
}

/// Without the points that lie on the line between others (Douglas and Peucker 1973).
fn straightened(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let Some(last) = points.len().checked_sub(1) else { return Vec::new() };
    let mut keep = vec![false; points.len()];
    (keep[0], keep[last]) = (true, true);
    let mut open = vec![(0, last)];
    while let Some((from, to)) = open.pop() {
        let ((x0, y0), (x1, y1)) = (points[from], points[to]);
        let (dx, dy) = (x1 - x0, y1 - y0);
        let length = dx.hypot(dy);
        // How far off a point is, times the length; from a place that the line comes back to, its
        // own distance.
        let (mut farthest, mut most) =
            (from, STRAIGHT_PX * if length > 0.0 { length } else { 1.0 });
        for (i, point) in points.iter().enumerate().take(to).skip(from + 1) {
            let (x, y) = (point.0 - x0, point.1 - y0);
            let off = if length > 0.0 { (x * dy - y * dx).abs() } else { x.hypot(y) };
            if off > most {
                (farthest, most) = (i, off);
            }
        }
        if farthest > from {
            keep[farthest] = true;
            open.extend([(from, farthest), (farthest, to)]);
        }
    }
    points.iter().zip(keep).filter(|(_, keep)| *keep).map(|(point, _)| *point).collect()
}

/// Of the points in a column of pixels the first, the highest, the lowest and the last.
fn by_columns(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut kept = Vec::with_capacity(MANY);
    for column in points.chunk_by(|a, b| a.0.floor() == b.0.floor()) {
        let (mut low, mut high) = (0, 0);
        for (i, point) in column.iter().enumerate() {
            if point.1 < column[low].1 {
                low = i;
            }
            if point.1 > column[high].1 {
                high = i;
            }
        }
        let indices = [0, low.min(high), low.max(high), column.len() - 1];
        let is_new = |i: &usize| *i == 0 || indices[*i] != indices[*i - 1];
        kept.extend((0..indices.len()).filter(is_new).map(|i| column[indices[i]]));
    }
    kept
}
