//! The 12 V side: what draws on it, what the converter must give, and what the battery is good for.

use crate::files::assumption::{Assumption, usual};
use crate::inputs::auxiliaries::LOW_VOLTAGE_W;
use crate::inputs::wiring::Wires;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::auxiliaries::Auxiliaries;
use sim_core::lead_battery::{LeadBattery, PEUKERT};
use sim_core::units;

/// Voltage that a converter holds on a 12 V side, and that of its battery while it is drawn on, V.
const HELD_V: f64 = 13.8;
const BATTERY_V: f64 = 12.0;
/// Capacity of a small 12 V battery, A·h, and the share of it that may be drawn.
const BATTERY_AH: f64 = 20.0;
const BATTERY_USABLE: f64 = 0.5;
/// How long the battery should carry what a car needs to get off the road and be seen, h.
const SAFE_H: f64 = 0.5;

/// What is usual of 12 V consumers, W while they are on (common practice, no source); whether the car
/// needs it to roll on and be seen.
const TYPICAL: [(&str, f64, bool); 12] = [
    ("dipped headlights, two", 110.0, true),
    ("side, tail and instrument lights", 30.0, true),
    ("coils of two contactors", 25.0, true),
    ("controller and cell management", 15.0, true),
    ("brake lights", 42.0, false),
    ("brake vacuum pump", 120.0, false),
    ("wipers", 60.0, false),
    ("cabin fan", 120.0, false),
    ("fan or coolant pump of the controller", 60.0, false),
    ("heated rear window", 140.0, false),
    ("horn", 60.0, false),
    ("radio", 20.0, false),
];

/// A 12 V consumer.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ConsumerReport {
    /// What it is.
    pub item: String,
    /// Mean power while driving, W; nothing where only what it takes while it is on is known.
    pub mean_w: Option<f64>,
    /// Power while it is on, W.
    pub on_w: f64,
}

/// The 12 V battery.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BatteryReport {
    /// Capacity, A·h.
    pub capacity_ah: f64,
    /// Share of it that may be drawn, %.
    pub drawn_pct: f64,
    /// What that is, Wh at 12 V.
    pub drawn_wh: f64,
    /// Peukert's exponent, by which it lasts shorter at more current than over its rated hours (from
    /// memory).
    pub peukert: f64,
    /// Hours with the mean of all 12 V loads if the converter fails; `null` where there is no load.
    pub all_h: Option<f64>,
    /// Hours with contactors, controller and lights alone.
    pub lights_h: f64,
    /// What those take, W.
    pub lights_w: f64,
    /// For how long the smallest battery carries them, h.
    pub least_for_h: f64,
    /// The smallest battery for that, A·h.
    pub least_ah: f64,
}

/// The 12 V side.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BalanceReport {
    /// Voltage that the converter holds, V.
    pub held_v: f64,
    /// The build's own loads; one of them where it lists none.
    pub loads: Vec<ConsumerReport>,
    /// Whether the build lists them.
    pub listed: bool,
    /// Their mean, W.
    pub mean_w: f64,
    /// The same, A.
    pub mean_a: f64,
    /// Whether it is known of any of them what it takes while it is on.
    pub on_known: bool,
    /// All of them on at once, W; where no more is known, their mean.
    pub all_on_w: f64,
    /// The same, A.
    pub all_on_a: f64,
    /// What the converter can give, W, where it is known.
    pub converter_w: Option<f64>,
    /// What it has to spare with all of them on, W; negative where the battery must help.
    pub spare_w: Option<f64>,
    /// What is usual, for a list of one's own (common practice, no source).
    pub typical: Vec<ConsumerReport>,
    /// All of that on at once, W.
    pub typical_w: f64,
    /// What cable and fuse of the 12 V side should carry, A: all loads on or what the converter gives,
    /// whichever is more; what is usual in place of loads that are not known.
    pub carries_a: f64,
    /// What the battery gives of that with all loads on, beside a converter that is known, A.
    pub battery_gives_a: f64,
    /// What all loads take at once, or what is usual where that is not known, A.
    pub loads_a: f64,
    /// The battery.
    pub battery: BatteryReport,
}

/// Voltage of the 12 V side, V.
pub(super) fn held_v(wires: &Wires, assumptions: &mut Vec<Assumption>) -> f64 {
    wires.low_voltage_v.unwrap_or_else(|| {
        let why = "what charges a lead battery, common practice";
        let path = "build.wiring.low_voltage_v".to_owned();
        assumptions.push(Assumption::number(path, usual(HELD_V, "V", why)));
        HELD_V
    })
}

/// The balance.
pub(super) fn balance(
    auxiliaries: &Auxiliaries,
    wires: &Wires,
    held_v: f64,
    assumptions: &mut Vec<Assumption>,
) -> BalanceReport {
    let mut assume = |name: &str, value, unit, why| {
        let path = format!("build.wiring.{name}");
        assumptions.push(Assumption::number(path, usual(value, unit, why)));
        value
    };
    let capacity_ah = wires
        .battery_ah
        .unwrap_or_else(|| assume("battery_ah", BATTERY_AH, "A·h", "a small 12 V battery"));
    let usable = wires.battery_usable.unwrap_or_else(|| {
        let pct = units::pct_from_share(BATTERY_USABLE);
        assume("battery_usable_pct", pct, "%", "half of a lead battery, common practice");
        BATTERY_USABLE
    });
    let listed = wires.consumers.as_ref();
    let consumer = |load: &crate::inputs::wiring::Consumer| ConsumerReport {
        item: load.item.clone(),
        mean_w: Some(load.mean_w),
        on_w: load.on_w,
    };
    let loads: Vec<ConsumerReport> = match listed {
        Some(list) => list.iter().map(consumer).collect(),
        None => vec![ConsumerReport {
            item: "usual loads, assumed".to_owned(),
            mean_w: Some(LOW_VOLTAGE_W),
            on_w: LOW_VOLTAGE_W,
        }],
    };
    let mean_w = auxiliaries.low_voltage_w;
    let all_on_w = loads.iter().map(|load| load.on_w).sum::<f64>();
    let lights_w: f64 = TYPICAL.iter().filter(|one| one.2).map(|one| one.1).sum();
    let on_known = loads.iter().any(|load| Some(load.on_w) != load.mean_w);
    let typical_w: f64 = TYPICAL.iter().map(|one| one.1).sum();
    // A converter that gives less than the loads take spares the lead nothing: the battery gives the rest.
    let loads_w = if on_known { all_on_w } else { all_on_w.max(typical_w) };
    let carries_w = loads_w.max(wires.dc_dc_w.unwrap_or(0.0));
    let battery_w = wires.dc_dc_w.map_or(loads_w, |watts| (loads_w - watts).max(0.0));
    let battery = LeadBattery { capacity_ah, usable };
    let lasts_h = |watts: f64| battery.lasts_h(watts / BATTERY_V);
    let drawn_wh = capacity_ah * usable * BATTERY_V;
    let typical = |(item, on_w, _): &(&str, f64, bool)| ConsumerReport {
        item: (*item).to_owned(),
        mean_w: None,
        on_w: *on_w,
    };
    BalanceReport {
        held_v,
        listed: listed.is_some(),
        loads,
        mean_w,
        mean_a: mean_w / held_v,
        on_known,
        all_on_w,
        all_on_a: all_on_w / held_v,
        converter_w: wires.dc_dc_w,
        spare_w: wires.dc_dc_w.map(|watts| watts - all_on_w),
        typical_w,
        carries_a: carries_w / held_v,
        battery_gives_a: battery_w / BATTERY_V,
        loads_a: loads_w / held_v,
        typical: TYPICAL.iter().map(typical).collect(),
        battery: BatteryReport {
            capacity_ah,
            drawn_pct: units::pct_from_share(usable),
            drawn_wh,
            all_h: (mean_w > 0.0).then(|| lasts_h(mean_w)),
            lights_h: lasts_h(lights_w),
            peukert: PEUKERT,
            lights_w,
            least_for_h: SAFE_H,
            least_ah: LeadBattery::smallest_ah(lights_w / BATTERY_V, SAFE_H, usable),
        },
    }
}
