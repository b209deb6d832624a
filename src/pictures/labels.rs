//! Labels beside what they name, none over another.

use super::sketch::{Anchor, Area, Sketch, Text};

/// Places beside a point that are tried, nearest first: the anchor, and how far from the point, px.
const BESIDE: [(Anchor, f64, f64); 10] = [
    (Anchor::Start, 6.0, 4.0),
    (Anchor::Start, 5.0, -7.0),
    (Anchor::Middle, 0.0, -7.0),
    (Anchor::Start, 5.0, 15.0),
    (Anchor::Middle, 0.0, 16.0),
    (Anchor::End, -5.0, -7.0),
    (Anchor::End, -6.0, 4.0),
    (Anchor::End, -5.0, 15.0),
    (Anchor::Middle, 0.0, -20.0),
    (Anchor::Middle, 0.0, 29.0),
];

/// How far up and down a label goes for a free place, px.
const SHIFTS: [f64; 11] = [0.0, -14.0, 14.0, -28.0, 28.0, -42.0, 42.0, -56.0, 56.0, -70.0, 70.0];

/// A label's cost for each point of a line that it covers, in pixels of distance.
const COVERED: f64 = 9.0;

/// And for not going on from where its line ends.
const ASIDE: f64 = 8.0;

/// For each point of another line that a label along a line is close to, and how close that is, px.
const CROWDED: f64 = 4.0;
const CLOSE: f64 = 6.0;

/// For each pixel that such a label is off its place.
const ALONG: f64 = 0.06;

/// From so far on a label is tied to its point by a line, px.
const FAR: f64 = 11.0;

/// Height of a line of labels, px.
const LINE: f64 = 13.5;

/// A label that waits: where, what, and its class.
type Waiting = (f64, f64, String, String);

/// A label that may stand anywhere along a line, best at such a share of it.
#[derive(Debug)]
struct Along {
    line: usize,
    share: f64,
    text: String,
    class: String,
}

/// Labels that wait until all lines are known.
#[derive(Debug, Default)]
pub struct Labels {
    waiting: Vec<Waiting>,
    along: Vec<Along>,
    taken: Vec<Area>,
    lines: Vec<Vec<(f64, f64)>>,
}

impl Labels {
    /// Names what is at a point.
    pub fn add(&mut self, at: (f64, f64), text: &str, class: &str) {
        if at.0.is_finite() && at.1.is_finite() && !text.trim().is_empty() {
            self.waiting.push((at.0, at.1, text.to_owned(), class.to_owned()));
        }
    }

    /// Names the line that was last to be avoided.
    pub fn add_along(&mut self, share: f64, text: &str, class: &str) {
        if let Some(line) = self.lines.len().checked_sub(1) {
            self.along.push(Along { line, share, text: text.to_owned(), class: class.to_owned() });
        }
    }

    /// Keeps labels off an area.
    pub fn take(&mut self, area: Area) {
        self.taken.push(area);
    }

    /// Keeps labels off a line, if there is room elsewhere.
    pub fn avoid(&mut self, points: &[(f64, f64)]) {
        self.lines.push(points.to_vec());
    }

    /// Points on the lines, a few pixels apart, and which line each is of.
    fn on_lines(&self) -> Vec<(usize, (f64, f64))> {
        let mut found = Vec::new();
        let pairs = |(i, line): (usize, &'_ Vec<(f64, f64)>)| {
            line.windows(2).map(|pair| (i, [pair[0], pair[1]])).collect::<Vec<_>>()
        };
        for (i, pair) in self.lines.iter().enumerate().flat_map(pairs) {
            let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
            let parts = ((x1 - x0).hypot(y1 - y0) / 6.0).ceil().clamp(1.0, 200.0);
            let mut part = 0.0;
            while part < parts {
                let share = part / parts;
                found.push((i, (x0 + share * (x1 - x0), y0 + share * (y1 - y0))));
                part += 1.0;
            }
        }
        found
    }

    /// Puts all of them where there is room within an area: those of lines that end at its edge
    /// `edge` beside it, in the order of the lines, and each other near its point. One that finds no
    /// room is left out.
    pub fn place(mut self, edge: f64, room: &Area, sketch: &mut Sketch) {
        let waiting = std::mem::take(&mut self.waiting);
        let (ends, others): (Vec<_>, Vec<_>) = waiting.into_iter().partition(|w| w.0 > edge - 1.5);
        self.beside(edge, ends, room, sketch);
        let lines = self.on_lines();
        for along in std::mem::take(&mut self.along) {
            self.along(&along, &lines, room, sketch);
        }
        for (x, y, text, class) in others {
            let mut best: Option<(f64, Text, Area)> = None;
            for shift in SHIFTS {
                for (rank, (anchor, dx, dy)) in BESIDE.into_iter().enumerate() {
                    let text =
                        Text::new(x + dx, y + dy + shift, &text).class(&class).anchor(anchor);
                    let area = text.area();
                    if !area.is_in(room) || self.taken.iter().any(|other| area.overlaps(other)) {
                        continue;
                    }
                    let covered = lines.iter().filter(|p| area.holds(p.1)).count();
                    let aside = if anchor == Anchor::Start { 0.0 } else { ASIDE };
                    let cost = COVERED * covered as f64 + shift.abs() + 1.5 * rank as f64 + aside;
                    if best.as_ref().is_none_or(|found| cost < found.0) {
                        best = Some((cost, text, area));
                    }
                }
            }
            if let Some((_, text, area)) = best {
                self.taken.push(area);
                let near = (x.clamp(area.left, area.right), y.clamp(area.top, area.bottom));
                if (near.0 - x).hypot(near.1 - y) > FAR {
                    sketch.line(&[(x, y), near], "axis");
                }
                sketch.text(text);
            }
        }
    }

    /// Puts a label above or below its line, where it covers least and no other line is as close.
    fn along(
        &mut self,
        along: &Along,
        lines: &[(usize, (f64, f64))],
        room: &Area,
        sketch: &mut Sketch,
    ) {
        let own: Vec<(f64, f64)> =
            lines.iter().filter(|p| p.0 == along.line).map(|p| p.1).collect();
        let wanted = along.share * own.len().saturating_sub(1) as f64;
        let Some(goal) = own.get(wanted as usize).map(|p| p.0) else { return };
        let mut best: Option<(f64, Text, Area)> = None;
        for (x, y) in own.iter().step_by(2) {
            for (dy, below) in [(-7.0, 0.0), (15.0, 3.0)] {
                let text = Text::new(x + 3.0, y + dy, &along.text).class(&along.class);
                let area = text.area();
                if !area.is_in(room) || self.taken.iter().any(|other| area.overlaps(other)) {
                    continue;
                }
                let around = Area {
                    left: area.left - CLOSE,
                    top: area.top - CLOSE,
                    right: area.right + CLOSE,
                    bottom: area.bottom + CLOSE,
                };
                let covered = lines.iter().filter(|p| area.holds(p.1)).count();
                let close = lines.iter().filter(|p| p.0 != along.line && around.holds(p.1)).count();
                let cost = COVERED * covered as f64
                    + CROWDED * close as f64
                    + ALONG * (x - goal).abs()
                    + below;
                if best.as_ref().is_none_or(|found| cost < found.0) {
                    best = Some((cost, text, area));
                }
            }
        }
        if let Some((_, text, area)) = best {
            self.taken.push(area);
            sketch.text(text);
        }
    }

    /// Puts labels in a column, each as near to its line as the others let it.
    fn beside(&mut self, edge: f64, mut ends: Vec<Waiting>, room: &Area, sketch: &mut Sketch) {
        let (top, bottom) = (room.top + 11.0, room.bottom - 3.0);
        let most = ((bottom - top) / LINE).floor().max(0.0) as usize + 1;
        ends.truncate(most);
        ends.sort_by(|a, b| a.1.total_cmp(&b.1));
        // Neighbours that would overlap are moved apart about their middle, together.
        let mut columns: Vec<(f64, usize)> = Vec::new();
        for (_, y, ..) in &ends {
            columns.push((y + 4.0, 1));
            while let [.., (above, upper), (below, lower)] = columns[..] {
                if below - above >= 0.5 * LINE * (upper + lower) as f64 {
                    break;
                }
                let count = upper + lower;
                let middle = (above * upper as f64 + below * lower as f64) / count as f64;
                let half = 0.5 * LINE * (count - 1) as f64;
                let middle = middle.min(bottom - half).max(top + half);
                columns.truncate(columns.len() - 2);
                columns.push((middle, count));
            }
        }
        let mut ends = ends.into_iter();
        for (middle, count) in columns {
            for (i, (_, _, text, class)) in ends.by_ref().take(count).enumerate() {
                let y = middle + LINE * (i as f64 - 0.5 * (count - 1) as f64);
                let text = Text::new(edge + 6.0, y.clamp(top, bottom), &text).class(&class);
                self.taken.push(text.area());
                sketch.text(text);
            }
        }
    }
}
