//! A drive over distance: the road's height, speed, power of the pack, temperatures, charge.

use super::chart::{Axis, Plot};
use super::sketch::{Area, Sketch};
use super::{Look, Picture};
use crate::measure::{number, ordinal};
use scenarios::runs::Temperatures;
use scenarios::runs::descent::DescentReport;
use scenarios::runs::drive::DriveReport;
use scenarios::runs::history::Seen;

/// Height of a panel between its axes, and all of it, px.
const PANEL: f64 = 118.0;
/// What the lowest one has for its numbers besides, px.
const FOOT: f64 = 28.0;
/// Difference of heights that makes a road rise or fall, m.
const HILLY_M: f64 = 0.5;

/// A line of a panel.
struct Line {
    name: &'static str,
    class: &'static str,
    of: fn(&Seen) -> f64,
}

/// A panel: lines of one unit.
struct Panel {
    title: &'static str,
    unit: &'static str,
    from_zero: bool,
    lines: &'static [Line],
}

const fn line(name: &'static str, class: &'static str, of: fn(&Seen) -> f64) -> Line {
    Line { name, class, of }
}

const PANELS: [Panel; 5] = [
    Panel {
        title: "height over the start",
        unit: "m",
        from_zero: true,
        lines: &[line("", "s7", |s| s.height_m)],
    },
    Panel {
        title: "speed",
        unit: "km/h",
        from_zero: true,
        lines: &[
            line("road", "wide s5", |s| s.wanted_kmh),
            line("driven", "thin s1", |s| s.speed_kmh),
        ],
    },
    Panel {
        title: "power out of the pack",
        unit: "kW",
        from_zero: true,
        lines: &[line("", "thin s2", |s| s.pack_kw)],
    },
    Panel {
        title: "temperature",
        unit: "°C",
        from_zero: false,
        lines: &[
            line("winding", "s2", |s| s.parts.winding_c),
            line("heat sink", "dash s1", |s| s.parts.heat_sink_c),
            line("cells", "dashdot s3", |s| s.parts.cells_c),
            line("coolant", "dots s6", |s| s.parts.coolant_c.unwrap_or(f64::NAN)),
        ],
    },
    Panel {
        title: "charge",
        unit: "%",
        from_zero: false,
        lines: &[line("", "s3", |s| s.charge_pct)],
    },
];

/// The picture: `run` is the drive of the report, moment by moment, and `before` that of a former
/// state.
pub fn picture(report: &DriveReport, run: &[Seen], before: Option<&[Seen]>, look: Look) -> Picture {
    let title = look.title(&format!("The road {}", report.road));
    panels(&title, &of_drive(report, look), run, before, look)
}

/// The same of a long way down, in the chosen gear.
pub fn of_descent(
    report: &DescentReport,
    run: &[Seen],
    before: Option<&[Seen]>,
    look: Look,
) -> Picture {
    let units = look.units;
    let gear = report.chosen.map_or_else(String::new, |gear| format!(", {} gear", ordinal(gear)));
    let way = format!(
        "{} % at {} for {}{gear}",
        number(report.grade_pct, 1),
        units.speed(report.speed_kmh, 0),
        units.distance(report.distance_km, 1)
    );
    let row = report.gears.iter().find(|row| Some(row.gear) == report.chosen);
    let friction = row.and_then(|row| row.run.as_ref()).map_or_else(String::new, |run| {
        let kwh = |kwh| number(kwh, 2);
        let (regen, friction) = (kwh(run.regen_kwh), kwh(run.friction_kwh));
        format!(" Regen takes {regen} kWh, the friction brakes {friction} kWh.")
    });
    let title = look.title(&format!("Down {way}"));
    panels(&title, &format!("Down {way}.{friction}"), run, before, look)
}

fn panels(
    title: &str,
    description: &str,
    run: &[Seen],
    before: Option<&[Seen]>,
    look: Look,
) -> Picture {
    let units = look.units;
    if run.len() < 2 || !run.iter().any(|s| s.distance_km > 0.0) {
        return Picture::empty("road", title, "Nothing was driven.", look);
    }
    let former = before.unwrap_or_default();
    let shown_km = units.scale("km");
    let km = |s: &Seen| shown_km(s.distance_km);
    let is_hilly = run.iter().any(|s| s.height_m.abs() > HILLY_M);
    let panels: Vec<&Panel> = PANELS.iter().filter(|p| p.unit != "m" || is_hilly).collect();
    let mut sketch = Sketch::new(look.width, 34.0 + PANEL * panels.len() as f64 + FOOT);
    sketch.title(title);
    for (i, panel) in panels.iter().enumerate() {
        let is_last = i + 1 == panels.len();
        let top = 34.0 + PANEL * i as f64;
        let bottom = top + PANEL + if is_last { FOOT } else { 0.0 };
        let outer = Area { top, bottom, ..sketch.area() };
        let shown = units.scale(panel.unit);
        let points = |line: &Line, run: &[Seen]| -> Vec<(f64, f64)> {
            run.iter().map(|s| (km(s), shown((line.of)(s)))).collect()
        };
        let lines: Vec<_> =
            panel.lines.iter().map(|l| (l, points(l, run), points(l, former))).collect();
        let values = || lines.iter().flat_map(|l| l.1.iter().chain(&l.2)).map(|p| p.1);
        let distances = run.iter().chain(former).map(km);
        let x = Axis::from_zero(&format!("distance, {}", units.sign("km")), distances);
        let title = format!("{}, {}", panel.title, units.sign(panel.unit));
        let y = match panel.from_zero {
            true => Axis::from_zero(&title, values()),
            false => Axis::of(&title, values()),
        };
        let x = if is_last { x } else { x.bare() };
        let mut plot = Plot::new(&mut sketch, outer, 76.0, x, y.round());
        for line in &lines {
            plot.ghost(&mut sketch, &line.2);
        }
        for (line, points, _) in &lines {
            let end = plot.line(&mut sketch, points, line.class);
            let colour = line.class.rsplit(' ').next().unwrap_or_default();
            plot.name(end, line.name, &format!("small {colour}"));
        }
        plot.finish(&mut sketch);
    }
    Picture::new("road", title, description, sketch)
}

fn of_drive(report: &DriveReport, look: Look) -> String {
    let units = look.units;
    let Temperatures { winding_c, heat_sink_c, cells_c, .. } = report.peak;
    format!(
        "{} of {} driven. Charge from {} to {} %. Hottest: winding {}, heat sink {}, cells {}.",
        units.distance(report.distance_km, 1),
        units.distance(report.trace_km, 1),
        number(report.charge_from_pct, 1),
        number(report.charge_to_pct, 1),
        units.temperature(winding_c),
        units.temperature(heat_sink_c),
        units.temperature(cells_c)
    )
}
