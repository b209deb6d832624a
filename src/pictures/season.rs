//! Range by season, and what each thing that comes with a season takes from it.

use super::bars::{Bar, ROW, Scale, bars};
use super::sketch::{Area, Sketch, Text};
use super::{Look, Picture};
use scenarios::runs::season::{SeasonReport, SeasonRow};
use scenarios::studies::season_bands::RangeBand;

/// Costs below this are left out, km.
const WORTH_SHOWING_KM: f64 = 0.05;

/// The picture; `bands` gives how sure each range is, `before` is a former state.
pub fn picture(
    report: &SeasonReport,
    bands: &[RangeBand],
    before: Option<&SeasonReport>,
    look: Look,
) -> Picture {
    let title = look.title("Range by season");
    if report.seasons.is_empty() {
        return Picture::empty("season", &title, "There is no season.", look);
    }
    let units = look.units;
    let km = |km: f64| units.value(km, "km");
    let ranges: Vec<Bar> =
        report.seasons.iter().map(|row| range(row, bands, before, look)).collect();
    let costs: Vec<(&SeasonRow, Vec<Bar>)> = report
        .seasons
        .iter()
        .map(|row| {
            let mut costs: Vec<_> =
                row.costs.iter().filter(|c| c.range_km.abs() >= WORTH_SHOWING_KM).collect();
            costs.sort_by(|a, b| b.range_km.total_cmp(&a.range_km));
            let bar = |cost: &&scenarios::runs::season::Cost| {
                let class = if cost.range_km < 0.0 { "s3" } else { "s2" };
                Bar::new(cost.item, km(cost.range_km), units.distance(cost.range_km, 1), class)
            };
            (row, costs.iter().map(bar).collect())
        })
        .filter(|(_, costs): &(_, Vec<Bar>)| !costs.is_empty())
        .collect();
    let rows = ranges.len() + costs.iter().map(|(_, bars)| bars.len()).sum::<usize>();
    let heads = if costs.is_empty() { 0.0 } else { 34.0 + 20.0 * costs.len() as f64 };
    let mut sketch = Sketch::new(look.width, 44.0 + ROW * rows as f64 + heads + 12.0);
    sketch.title(&title);
    let area = Area { left: 12.0, right: sketch.area().right - 12.0, top: 36.0, ..sketch.area() };
    let scale = Scale::of(&area, &ranges, (0.0, 0.0));
    let mut top = bars(&mut sketch, &area, &ranges, &scale);
    if !costs.is_empty() {
        top += 24.0;
        let what = format!("What each thing takes from it, against {}", report.against);
        let bold = if look.is_narrow() { "small strong" } else { "strong" };
        sketch.text(Text::new(12.0, top, &what).class(bold));
        top += 10.0;
        let scale = Scale::of(&area, costs.iter().flat_map(|(_, bars)| bars), (0.0, 0.0));
        for (row, costs) in &costs {
            sketch.text(Text::new(12.0, top + 12.0, &row.name).class("quiet small"));
            top = bars(&mut sketch, &Area { top: top + 18.0, ..area }, costs, &scale) + 2.0;
        }
    }
    Picture::new("season", &title, &description(report, bands, look), sketch)
}

fn range(row: &SeasonRow, bands: &[RangeBand], before: Option<&SeasonReport>, look: Look) -> Bar {
    let units = look.units;
    let km = |km: f64| units.value(km, "km");
    let label = match row.drive_not_done {
        Some(_) => "the road is not driven".to_owned(),
        None => units.distance(row.range_km, 0),
    };
    let name = format!("{}, {}", row.name, units.temperature(row.air_c));
    let driven = if row.drive_not_done.is_some() { 0.0 } else { row.range_km };
    let band = bands.iter().find(|band| band.season == row.name);
    let former = before.and_then(|report| report.seasons.iter().find(|old| old.name == row.name));
    Bar {
        band: band.map(|band| (km(band.p10_km), km(band.p90_km))),
        before: former.map(|old| km(old.range_km)),
        ..Bar::new(&name, km(driven), label, "s1")
    }
}

fn description(report: &SeasonReport, bands: &[RangeBand], look: Look) -> String {
    let units = look.units;
    let mut said = String::new();
    for row in &report.seasons {
        let air = units.temperature(row.air_c);
        said += &match row.drive_not_done {
            Some(_) => format!("{}, {air}: the road is not driven. ", row.name),
            None => format!("{}, {air}: {}. ", row.name, units.distance(row.range_km, 0)),
        };
        if let Some(band) = bands.iter().find(|band| band.season == row.name) {
            let (low, high) = (units.distance(band.p10_km, 0), units.distance(band.p90_km, 0));
            said += &format!("Eight of ten cars between {low} and {high}. ");
        }
    }
    said + "Below, what each thing takes from the range of a season."
}
