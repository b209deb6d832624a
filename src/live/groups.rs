//! The build in groups, as a person thinks of it: what is picked and what is moved.

use super::choices::{Choice, Choices, ROAD, SURFACE};
use crate::measure::{Units, us};
use scenarios::basis::Known;
use scenarios::{Prepared, SaidBy, counts};
use serde::Serialize;

/// What can be moved.
struct Slider {
    /// Its path; `*` stands for each item of a list.
    path: &'static str,
    label: &'static str,
    /// Its ends and its unit where the class has none that are usual.
    ends: Option<((f64, f64), &'static str)>,
}

const fn slider(path: &'static str, label: &'static str) -> Slider {
    Slider { path, label, ends: None }
}

const fn between(
    path: &'static str,
    label: &'static str,
    ends: (f64, f64),
    unit: &'static str,
) -> Slider {
    Slider { path, label, ends: Some((ends, unit)) }
}

/// A group: its name, what is picked in it, with its label, and what is moved.
type Described = (&'static str, &'static [(&'static str, &'static str)], &'static [Slider]);

const GROUPS: [Described; 6] = [
    (
        "Car",
        &[("donor", "Donor")],
        &[
            slider("donor.kerb_mass_kg", "Kerb mass"),
            slider("donor.front_share_pct", "Share on the front axle"),
            between("load.*.mass_kg", "Load", (0.0, 200.0), "kg"),
            slider("added.*.mass_kg", "Added"),
            slider("donor.drag_coefficient", "Drag coefficient"),
            slider("donor.frontal_area_m2", "Frontal area"),
            slider("donor.drag_area_m2", "Drag area"),
            slider("donor.coast_down.f0_n", "Coast-down, constant part"),
            slider("donor.coast_down.f2_n_per_kmh2", "Coast-down, part with speed²"),
            slider("tyre.rolling_resistance", "Rolling resistance"),
            between("tyre.label_n_per_kn", "Rolling resistance by the label", (5.0, 15.0), "N/kN"),
        ],
    ),
    (
        "Motor and controller",
        &[("motor", "Motor"), ("controller", "Controller")],
        &[
            slider("motor.peak_torque_nm", "Peak torque"),
            slider("motor.peak_power_kw", "Peak power"),
            slider("motor.nameplate.continuous_power_kw", "Continuous power"),
            slider("motor.mass_kg", "Motor mass"),
            slider("motor.max_rpm", "Highest speed"),
            slider("motor.cut_off_c", "Winding cuts back at"),
            slider("controller.motor_current_a", "Motor current limit"),
            slider("controller.pack_current_a", "Pack current limit"),
            slider("controller.conductance_w_per_k", "Controller cooling"),
        ],
    ),
    (
        "Gearing",
        &[("gearbox", "Gearbox")],
        &[
            slider("gearbox.final_drive", "Final drive"),
            slider("gearbox.gears.*.ratio", "Ratio of gear"),
            slider("gearbox.single", "Reduction"),
            slider("gearbox.efficiency_pct", "Efficiency"),
            slider("gearbox.shift_s", "A shift takes"),
            slider("driver.up_rpm", "Shift up at"),
            slider("driver.down_rpm", "Shift down at"),
        ],
    ),
    (
        "Pack",
        &[("pack", "Pack"), ("pack.cell", "Cell")],
        &[
            between("pack.series", "Cells in series", (10.0, 150.0), ""),
            between("pack.parallel", "Strings in parallel", (1.0, 8.0), ""),
            slider("pack.box_mass_kg", "Box mass"),
            slider("pack.state_of_health_pct", "State of health"),
            slider("pack.min_charge_pct", "Reserve"),
            slider("start.charge_pct", "Charge at the start"),
            slider("auxiliaries.dc_dc_efficiency_pct", "DC-DC efficiency"),
        ],
    ),
    (
        "Regen",
        &[],
        &[
            between("regen.lift_off_pct", "Lift-off", (0.0, 60.0), "%"),
            between("regen.lift_off_nm", "Lift-off", (0.0, 60.0), "N·m"),
            between("regen.brake_pedal_pct", "Brake pedal", (0.0, 100.0), "%"),
            between("regen.brake_pedal_nm", "Brake pedal", (0.0, 100.0), "N·m"),
            slider("regen.fade_out_kmh", "Off below"),
            slider("regen.full_above_kmh", "Whole above"),
        ],
    ),
    (
        "Road and weather",
        &[(ROAD, "Daily road"), (SURFACE, "Surface")],
        &[
            slider("conditions.air_c", "Air"),
            slider("conditions.head_wind_kmh", "Head wind"),
            slider("conditions.altitude_m", "Altitude"),
            slider("runs.climb.grade_pct", "Climb, grade"),
            slider("runs.climb.speed_kmh", "Climb, speed"),
            slider("runs.climb.distance_km", "Climb, length"),
            slider("runs.pass.grade_pct", "Pass, grade"),
            slider("runs.pass.speed_kmh", "Pass, speed"),
            slider("runs.pass.distance_km", "Pass, length"),
        ],
    ),
];

/// Most items of a list that are shown.
const ITEMS: usize = 8;

/// Whether a path is one of what can be moved.
pub fn is_slider(path: &str) -> bool {
    let is_item = |step: &str| step.parse::<usize>().is_ok_and(|item| (1..=ITEMS).contains(&item));
    GROUPS.iter().flat_map(|(_, _, sliders)| *sliders).any(|slider| {
        let (mut of, mut steps) = (slider.path.split('.'), path.split('.'));
        loop {
            match (of.next(), steps.next()) {
                (None, None) => return true,
                (Some("*"), Some(step)) if is_item(step) => {}
                (Some(name), Some(step)) if name == step => {}
                _ => return false,
            }
        }
    })
}

/// A group as the page shows it.
#[derive(Debug, Serialize)]
pub struct Group {
    name: &'static str,
    pickers: Vec<Picker>,
    /// What can be moved.
    pub numbers: Vec<Number>,
}

/// Something that is picked.
#[derive(Debug, Serialize)]
struct Picker {
    path: &'static str,
    label: &'static str,
    /// What stands there if nothing is picked.
    stated: String,
    choices: Vec<Choice>,
}

/// Something that is moved.
#[derive(Debug, Clone, Serialize)]
pub struct Number {
    /// Its path.
    pub path: String,
    label: String,
    /// What stands there, in the unit of the field.
    pub value: f64,
    /// The least of the slider.
    pub low: f64,
    /// The most of the slider.
    pub high: f64,
    step: f64,
    /// Whether it counts whole things.
    pub whole: bool,
    said_by: SaidBy,
    known: Known,
    reason: Option<String>,
    unit: &'static str,
    /// What is shown: so much of the value, and so much besides.
    times: f64,
    plus: f64,
}

/// The groups of a car.
pub fn groups(car: &Prepared, choices: &Choices, units: Units) -> Vec<Group> {
    let numbers = |slider: &Slider| -> Vec<Number> {
        match slider.path.split_once('*') {
            None => number(car, slider, slider.path, None, units).into_iter().collect(),
            Some((before, after)) => (1..=ITEMS)
                .filter_map(|item| {
                    let path = format!("{before}{item}{after}");
                    number(car, slider, &path, Some(item), units)
                })
                .collect(),
        }
    };
    let picker = |(path, label): &(&'static str, &'static str)| Picker {
        path,
        label,
        stated: stated(car, path),
        choices: choices.at(path).to_vec(),
    };
    GROUPS
        .iter()
        .map(|(name, pickers, sliders)| Group {
            name,
            pickers: pickers.iter().map(picker).collect(),
            numbers: sliders.iter().flat_map(numbers).collect(),
        })
        .collect()
}

/// What is called how in the car as it is.
fn stated(car: &Prepared, path: &str) -> String {
    let facts = &car.facts;
    let road = car.road();
    let name = match path {
        "donor" => &facts.donor,
        "motor" => &facts.motor,
        "controller" => &facts.controller,
        "gearbox" => &facts.gearbox,
        "pack" => &facts.pack,
        "pack.cell" => &facts.cell,
        ROAD => road.name(),
        _ => {
            let at = car.echo.pointer("/conditions/surface");
            at.and_then(|word| word.as_str()).unwrap_or("dry")
        }
    };
    crate::plain::line(name)
}

fn number(
    car: &Prepared,
    slider: &Slider,
    path: &str,
    item: Option<usize>,
    units: Units,
) -> Option<Number> {
    let field = car.field(path)?;
    let (usual, metric) = slider.ends.or(field.usual)?;
    let whole = counts(path);
    let (low, high) = ends(field.value, usual, whole);
    let (unit, convert) = match units {
        Units::Us => us(metric).unwrap_or((metric, |v| v)),
        Units::Metric => (metric, (|v| v) as fn(f64) -> f64),
    };
    let plus = convert(0.0);
    let named = item.map(|item| {
        let list = slider.path.split('.').next().unwrap_or_default();
        let at = car.echo.pointer(&format!("/build/{list}/{}/item", item - 1));
        let name = at.and_then(|name| name.as_str()).map(crate::plain::line);
        name.unwrap_or_else(|| item.to_string())
    });
    let label = match named {
        Some(name) if name.parse::<usize>().is_ok() => format!("{} {name}", slider.label),
        Some(name) => format!("{}: {name}", slider.label),
        None => slider.label.to_owned(),
    };
    Some(Number {
        path: path.to_owned(),
        label,
        value: field.value,
        low,
        high,
        step: if whole { 1.0 } else { step(high - low) },
        whole,
        said_by: field.said_by,
        known: field.known,
        reason: field.reason,
        unit,
        times: convert(1.0) - plus,
        plus,
    })
}

/// The ends of a slider: what is usual of the class, and of a wide class no more than from a little
/// less than half of what is stated to two and a half times as much.
fn ends(value: f64, (low, high): (f64, f64), whole: bool) -> (f64, f64) {
    let is_wide = low > 0.0 && high > 3.0 * low && value > 0.0 && !whole;
    let (low, high) =
        if is_wide { (low.max(value / 2.5), high.min(value * 2.5)) } else { (low, high) };
    let unit = step((high - low).abs());
    let (low, high) = ((low / unit).floor() * unit, (high / unit).ceil() * unit);
    (tidy(low).min(value), tidy(high).max(value))
}

/// A number without the last digits, which come of steps that are not exact.
fn tidy(value: f64) -> f64 {
    format!("{value:.6e}").parse().unwrap_or(value)
}

/// A step of which a slider has between a hundred and five hundred: 1, 2 or 5 with noughts.
fn step(span: f64) -> f64 {
    if !(span.is_finite() && span > 0.0) {
        return 1.0;
    }
    let ten = 10f64.powf((span / 100.0).log10().floor());
    let fits = [5.0, 2.0, 1.0].map(|of| of * ten).into_iter().find(|step| *step <= span / 100.0);
    tidy(fits.unwrap_or(ten))
}

#[cfg(test)]
mod tests {
    use super::*;
    use scenarios::Loaded;

    #[test]
    fn each_slider_holds_its_value_and_can_be_moved_and_put_in() {
        for part in
            ["motor=shelf:series-dc-large", "pack.parallel=1", "donor=shelf:light-hatchback"]
        {
            let car = Loaded::demo().unwrap().with(&[part.parse().unwrap()]).unwrap();
            let all = groups(&car, &Choices::default(), Units::Us);
            assert!(all.iter().map(|group| group.numbers.len()).sum::<usize>() > 30);
            for number in all.iter().flat_map(|group| &group.numbers) {
                let Number { path, value, low, high, step, times, .. } = number;
                assert!(low <= value && value <= high && low < high, "{number:?}");
                assert!(*step > 0.0 && *times > 0.0 && is_slider(path), "{number:?}");
            }
        }
    }

    #[test]
    fn steps_are_round() {
        for (span, wanted) in [(90.0, 0.5), (100.0, 1.0), (2000.0, 20.0), (0.03, 0.0002)] {
            assert_eq!(step(span), wanted, "{span}");
        }
        assert_eq!(step(0.0), 1.0);
    }
}
