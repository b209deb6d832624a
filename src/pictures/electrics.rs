//! The wiring: the largest currents over windows of time, run by run.

use super::chart::{Axis, Plot};
use super::sketch::{Anchor, Area, Sketch, Text};
use super::{Look, Picture, series};
use crate::measure::number;
use scenarios::runs::electrics::{ElectricsReport, Lead, LeadReport, LeadRun};

/// Windows on the axis: where, s, and what stands there.
const TICKS: [(f64, &str); 5] =
    [(1.0, "1 s"), (10.0, "10 s"), (60.0, "1 min"), (600.0, "10 min"), (1800.0, "30 min")];
/// Height of a panel and of what stands under the lowest one, px.
const PANEL: f64 = 190.0;
const FOOT: f64 = 40.0;

/// Time goes by its logarithm.
fn across(time_s: f64) -> f64 {
    time_s.max(1.0).log10()
}

/// The windows that a run lasted for, and at its end, if that is sooner than the longest, all of it.
fn line(run: &LeadRun) -> Vec<(f64, f64)> {
    let covered = run.windows.iter().filter(|of| of.covered);
    let mut points: Vec<(f64, f64)> = covered.map(|of| (across(of.window_s), of.rms_a)).collect();
    let last_s = TICKS[TICKS.len() - 1].0;
    if run.lasted_s < last_s {
        points.push((across(run.lasted_s), run.whole_rms_a));
    }
    points
}

fn largest(lead: &LeadReport) -> Vec<(f64, f64)> {
    let of = |of: &scenarios::runs::electrics::LargestReport| {
        Some((across(of.window_s), of.rms.as_ref()?.amps))
    };
    lead.largest.iter().filter_map(of).collect()
}

/// The picture; `before` is a former state.
pub fn picture(report: &ElectricsReport, before: Option<&ElectricsReport>, look: Look) -> Picture {
    let title = look.title("Currents over time");
    let panels: Vec<&LeadReport> =
        [Lead::Pack, Lead::Motor].into_iter().filter_map(|lead| report.lead(lead)).collect();
    if panels.is_empty() {
        return Picture::empty("electrics", &title, "Nothing was driven or charged.", look);
    }
    let mut sketch = Sketch::new(look.width, 34.0 + PANEL * panels.len() as f64 + FOOT);
    sketch.title(&title);
    let mut bottom = 34.0;
    for lead in &panels {
        let outer = Area { top: bottom, bottom: bottom + PANEL, ..sketch.area() };
        bottom += PANEL;
        let own = largest(lead);
        let former = before.and_then(|before| before.lead(lead.lead)).map(largest);
        let ghost = former.unwrap_or_default();
        // Those of warm cells stand in the largest of all alone.
        let own_cells = |run: &&LeadRun| !run.case.is_warm();
        let lines: Vec<(&LeadRun, Vec<(f64, f64)>)> =
            lead.runs.iter().filter(own_cells).map(|run| (run, line(run))).collect();
        let fuse = report.fault.fuse_a.filter(|_| lead.lead == Lead::Pack);
        let values = lines.iter().flat_map(|(_, points)| points).chain(&own).chain(&ghost);
        let most = values.map(|point| point.1).fold(0.0, f64::max);
        // A limit far above all that flows would press it flat.
        let near = |amps: &f64| *amps <= 1.6 * most;
        let limit = lead.allows_a.filter(near);
        let fuse = fuse.filter(near);
        let x = Axis::of("", [0.0, across(TICKS[TICKS.len() - 1].0)]).bare();
        let name = format!("{}, A RMS", lead.name);
        let y = Axis::from_zero(&name, [most].into_iter().chain(limit).chain(fuse)).round();
        let mut plot = Plot::new(&mut sketch, outer, 76.0, x, y);
        let area = plot.area();
        let is_last = bottom >= 34.0 + PANEL * panels.len() as f64 - 1.0;
        for (time_s, name) in TICKS {
            let Some((px, _)) = plot.at((across(time_s), 0.0)) else { continue };
            sketch.line(&[(px, area.top), (px, area.bottom)], "grid");
            if is_last {
                let text = Text::new(px, area.bottom + 17.0, name);
                sketch.text(text.class("small quiet").anchor(Anchor::Middle));
            }
        }
        if is_last {
            let text = Text::new(area.right, area.bottom + 33.0, "window of time");
            sketch.text(text.class("small").anchor(Anchor::End));
        }
        if let Some(amps) = limit {
            plot.level(&mut sketch, amps, "limit", &format!("controller {}", number(amps, 0)));
        }
        if let Some(amps) = fuse {
            plot.level(&mut sketch, amps, "limit", &format!("fuse {}", number(amps, 0)));
        }
        plot.ghost(&mut sketch, &ghost);
        plot.line(&mut sketch, &own, "wide s7");
        for (i, (run, points)) in lines.iter().enumerate() {
            let class = series(i);
            let end = plot.line(&mut sketch, points, class);
            if let Some(last) = points.last() {
                plot.dot(&mut sketch, *last, class);
            }
            let end = end.or_else(|| points.last().and_then(|last| plot.at(*last)));
            plot.name(end, run.case.name(), &format!("small {class}"));
        }
        plot.finish(&mut sketch);
    }
    Picture::new("electrics", &title, &description(&panels), sketch)
}

fn description(panels: &[&LeadReport]) -> String {
    let mut said = String::new();
    for lead in panels {
        let each = lead.largest.iter().zip(TICKS).filter_map(|(of, (_, name))| {
            let rms = of.rms.as_ref()?;
            Some(format!("{} A over {name} ({})", number(rms.amps, 0), rms.case.name()))
        });
        let each: Vec<String> = each.collect();
        said += &format!("Largest RMS current of the {}: {}. ", lead.name, each.join(", "));
    }
    said + "Each run is drawn as far as it lasts and ends in a dot with its whole RMS; wide and grey is \
            the largest of all, where a run that ends sooner counts as standing for the rest."
}
