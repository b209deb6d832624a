//! A recorded drive by time: what was recorded, and over it what is predicted.

use super::chart::{Axis, Plot};
use super::sketch::{Area, Sketch};
use super::{Look, Picture};
use crate::measure::number;
use cycles::Signal;
use scenarios::measured::DriveCompared;
use scenarios::measured::drive::{Prediction, RecordedDrive};
use scenarios::units;

/// Height of a panel between its axes, and all of it, px.
const PANEL: f64 = 106.0;
/// What the lowest one has for its numbers besides, px.
const FOOT: f64 = 28.0;
/// Above the first one, px.
const HEAD: f64 = 34.0;

/// A panel: a channel in its unit.
struct Panel {
    signal: Signal,
    title: &'static str,
    unit: &'static str,
    from_zero: bool,
    shown: fn(f64) -> f64,
}

const fn panel(
    signal: Signal,
    title: &'static str,
    unit: &'static str,
    from_zero: bool,
    shown: fn(f64) -> f64,
) -> Panel {
    Panel { signal, title, unit, from_zero, shown }
}

fn as_it_is(value: f64) -> f64 {
    value
}

const PANELS: [Panel; 13] = [
    panel(Signal::Speed, "speed", "km/h", true, units::kmh_from_mps),
    panel(Signal::PackPower, "power out of the pack", "kW", true, units::kw_from_w),
    panel(Signal::PackVoltage, "pack voltage", "V", false, as_it_is),
    panel(Signal::LowCell, "lowest cell voltage", "V", false, as_it_is),
    panel(Signal::HighCell, "highest cell voltage", "V", false, as_it_is),
    panel(Signal::Charge, "charge", "%", false, units::pct_from_share),
    panel(Signal::Winding, "winding", "°C", false, units::c_from_k),
    panel(Signal::Housing, "motor housing", "°C", false, units::c_from_k),
    panel(Signal::Sink, "heat sink", "°C", false, units::c_from_k),
    panel(Signal::Cells, "cells", "°C", false, units::c_from_k),
    panel(Signal::Coolant, "coolant", "°C", false, units::c_from_k),
    panel(Signal::Oil, "gearbox oil", "°C", false, units::c_from_k),
    panel(Signal::MotorTorque, "motor torque", "N·m", true, as_it_is),
];

/// The picture: a drive as it was recorded and as it is predicted, and the prediction of a former
/// state.
pub fn picture(
    compared: &DriveCompared,
    recorded: &RecordedDrive,
    predicted: &Prediction,
    before: Option<&Prediction>,
    look: Look,
) -> Picture {
    let recording = &recorded.recording;
    let file = recording.path.file_name().unwrap_or_default().to_string_lossy();
    let title = look.title(&format!("Recorded and predicted, {file}"));
    let power_w = recording.pack_power_w();
    let values = |signal: Signal| match signal {
        Signal::PackPower => power_w.as_deref(),
        signal => recording.values(signal),
    };
    let is_number = |values: &&[f64]| values.iter().any(|value| value.is_finite());
    let drawn: Vec<(&Panel, &[f64], &[f64])> = PANELS
        .iter()
        .filter_map(|panel| {
            let own = values(panel.signal).filter(is_number)?;
            Some((panel, own, predicted.values(panel.signal).filter(is_number)?))
        })
        .collect();
    if drawn.is_empty() {
        return Picture::empty("recorded", &title, "Nothing was recorded that is predicted.", look);
    }
    let mut sketch = Sketch::new(look.width, HEAD + PANEL * drawn.len() as f64 + FOOT);
    sketch.title(&title);
    let minutes: Vec<f64> = recording.time_s.iter().map(|s| units::min_from_s(*s)).collect();
    for (i, (panel, own, paper)) in drawn.iter().enumerate() {
        let is_last = i + 1 == drawn.len();
        let top = HEAD + PANEL * i as f64;
        let bottom = top + PANEL + if is_last { FOOT } else { 0.0 };
        let outer = Area { top, bottom, ..sketch.area() };
        let scale = look.units.scale(panel.unit);
        // A row without a value is no break where the channel has one only now and then.
        let points = |values: &[f64]| -> Vec<(f64, f64)> {
            let value = |v: &f64| scale((panel.shown)(*v));
            minutes.iter().copied().zip(values.iter().map(value)).collect()
        };
        let (own, paper) = (broken(points(own)), points(paper));
        let former =
            before.and_then(|before| before.values(panel.signal)).map(points).unwrap_or_default();
        let heights = || own.iter().chain(&paper).chain(&former).map(|point| point.1);
        let x = Axis::from_zero("time, min", minutes.iter().copied());
        let title = format!("{}, {}", panel.title, look.units.sign(panel.unit));
        let y = match panel.from_zero {
            true => Axis::from_zero(&title, heights()),
            false => Axis::of(&title, heights()),
        };
        let x = if is_last { x } else { x.bare() };
        let mut plot = Plot::new(&mut sketch, outer, 76.0, x, y.round());
        plot.ghost(&mut sketch, &former);
        let end = plot.line(&mut sketch, &own, "wide s5");
        plot.name(end, "recorded", "small s5");
        let end = plot.line(&mut sketch, &paper, "thin s1");
        plot.name(end, "predicted", "small s1");
        plot.finish(&mut sketch);
    }
    Picture::new("recorded", &title, &told(compared, look), sketch)
}

/// Longest stretch without a value over which a line goes on, min.
const BRIDGED_MIN: f64 = 0.5;

/// Points without those that have no value, but for one in each long gap, so that the line breaks
/// there.
fn broken(points: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    let mut kept: Vec<(f64, f64)> = Vec::with_capacity(points.len());
    for point in points.into_iter().filter(|point| !point.1.is_nan()) {
        if let Some(last) = kept.last()
            && point.0 - last.0 > BRIDGED_MIN
        {
            kept.push((last.0, f64::NAN));
        }
        kept.push(point);
    }
    kept
}

/// What can be seen: the figures of the drive.
fn told(compared: &DriveCompared, look: Look) -> String {
    let units = look.units;
    let mut sentences = vec![format!(
        "{} in {} min.",
        units.distance(compared.distance_km, 1),
        number(scenarios::units::min_from_s(compared.time_s), 0)
    )];
    for figure in &compared.figures {
        let decimals = match figure.unit {
            "kWh" => 2,
            "V" | "%" | "mΩ" => 1,
            _ => 0,
        };
        sentences.push(format!(
            "{}: recorded {}, predicted {}.",
            figure.figure,
            units.of(figure.recorded, figure.unit, decimals),
            units.of(figure.predicted, figure.unit, decimals)
        ));
    }
    sentences.join(" ")
}
