//! Parts that do not belong together, in plain words.

use crate::cells_in_series::series_for;
use crate::inputs::build::Build;
use crate::inputs::controller::Kind as Makes;
use crate::plausible::doubts;
use serde::Serialize;
use serde_json::Value;
use sim_core::cell::Cell;
use sim_core::pack::Pack;
use sim_core::units;
use sim_core::{Car, Curve, Node, State};

/// Share of the usable energy that may stay unused in the other boxes without being said.
const UNUSED: f64 = 0.01;

/// Which box of a pack in boxes ends it for all, and what their wiring asks for.
fn of_boxes(pack: &Pack, start: &State, names: &[String]) -> Vec<String> {
    let Some(first) = names.get(pack.empty_first(&start.temperature_k).stated) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    let at_k = &start.temperature_k;
    let unused_j: f64 = pack.boxes().map(|(own, _)| pack.energy_in_j(own, at_k).1).sum();
    let usable_j = pack.usable_at_j(at_k);
    if unused_j > UNUSED * usable_j {
        found.push(format!(
            "The cells of {first} are empty first, as warm as they set off, and end the drive: {:.1} \
             kWh stay unused in the other boxes. A box that warms up on the way, or other weather, can \
             change which it is: `drive` tells where the drive ended.",
            units::kwh_from_j(unused_j)
        ));
    }
    let least_a = pack.discharge_peak_a();
    let bears_a = |own: &Pack| own.cell.discharge_peak_a * own.parallel;
    let least = pack.boxes().find(|(own, _)| bears_a(own) <= least_a);
    if let Some(name) = least.and_then(|(own, _)| names.get(own.stated))
        && pack.boxes().any(|(own, _)| bears_a(own) > 1.001 * least_a)
    {
        found.push(format!(
            "The cells of {name} bear the least current, {least_a:.0} A for a short time: they set it for \
             all boxes."
        ));
    }
    found.push(format!(
        "Cables between {} boxes carry the pack's whole voltage: common practice is a fuse and a \
         disconnect at each box and cables that nothing can crush or chafe. Local code and licensed \
         people decide, as they do on axle loads.",
        names.len()
    ));
    found
}

/// How bad it is; the worst is the largest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Something is left unused.
    Waste,
    /// It works, with less than its parts promise.
    Limit,
    /// A value outside what is usual of its class: most are slips, and answers on a slip mislead.
    Doubt,
    /// It breaks, is forbidden, or does not run at all.
    Danger,
}

/// Something that does not belong together.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Warning {
    /// How bad it is.
    pub severity: Severity,
    /// What it is, in one sentence.
    pub text: String,
}

impl Warning {
    /// That a value may be a slip.
    pub fn doubt(text: String) -> Self {
        Self { severity: Severity::Doubt, text }
    }
}

/// Voltages of a half-charged pack without load over the one that the motor's figures hold at,
/// between which they go together (common practice, no source).
pub(crate) const REFERENCE_SHARES: (f64, f64) = (0.67, 1.5);

/// The same share from which on a motor is not built for the pack: a brushed one arcs over from bar to
/// bar of its commutator, where the volts between bars are about twice what it is wound for, and of any
/// other the curve would be stretched to more than twice what its maker measured, with power that
/// nobody vouches for (common practice, no source).
const OVER_VOLTAGE_SHARE: f64 = 2.0;

/// The voltage of a half-charged pack without load, V.
fn nominal_v(pack: &Pack) -> f64 {
    pack.rested_v(0.5)
}

/// Whether motor and pack are made for about the same voltage.
pub(crate) fn volts_suit(car: &Car) -> bool {
    let (least, most) = REFERENCE_SHARES;
    let reference_v = car.parts().motor.machine.envelope.reference_v;
    (least * reference_v..=most * reference_v).contains(&nominal_v(&car.parts().pack))
}

/// Parts that do not run together, or must not be driven together.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Clash {
    /// What it is, in the same words for every car.
    pub(crate) what: &'static str,
    /// How it is in this one, in a sentence.
    pub(crate) text: String,
}

/// Parts of a car that do not run together, however they are set.
pub(crate) fn mismatches(car: &Car, build: &Build) -> Vec<Clash> {
    let mut found = Vec::new();
    let mut clash = |what, text| found.push(Clash { what, text });
    let parts = car.parts();
    let (pack, motor, controller) = (&parts.pack, &parts.motor, &parts.controller);
    let full_v = pack.rested_v(pack.max_charge);
    if full_v > controller.max_v {
        clash(
            "the pack has more volts than the controller bears",
            format!(
                "The full pack has {full_v:.1} V, over the {:.1} V that the controller bears: it \
                 does not come on, and may break.",
                controller.max_v
            ),
        );
    }
    if full_v < controller.min_v {
        let empty_v = pack.rested_v(pack.min_charge);
        let charger_v = pack.highest_v();
        let needed = match series_for(controller, pack) {
            Some(series) => format!("{series} cells in series"),
            None => "other cells".to_owned(),
        };
        clash(
            "the pack has fewer volts than the controller needs",
            format!(
                "The full pack has {full_v:.1} V, under the {:.1} V at which the controller \
                 stops: the car does not drive. It takes {needed}, or a controller that works from \
                 {empty_v:.1} to {charger_v:.1} V.",
                controller.min_v
            ),
        );
    }
    let reference_v = motor.machine.envelope.reference_v;
    let pack_v = nominal_v(pack);
    if pack_v > OVER_VOLTAGE_SHARE * reference_v {
        let why = match Makes::for_motor(&motor.machine.kind) {
            Makes::Chopper => "its commutator arcs over from bar to bar",
            Makes::Inverter => "its winding and the iron are not made for it",
        };
        clash(
            "the pack has over twice the volts that the motor is made for",
            format!(
                "The motor's figures hold at {reference_v:.0} V and the pack has {pack_v:.0} V: {why}, \
                 and the power that the simulation takes from its curve, which goes with the volts, is \
                 one that it does not have. It takes a motor for these volts, or its maker's word and \
                 figures at them."
            ),
        );
    }
    let needs = Makes::for_motor(&motor.machine.kind);
    if let Some(kind) = build.controller.kind.filter(|kind| *kind != needs) {
        clash(
            "the controller is of another kind than the motor needs",
            format!(
                "The controller is {} and the motor needs {}: they do not run together.",
                kind.with_article(),
                needs.with_article()
            ),
        );
    }
    found
}

/// What of a car does not run, or must not be driven, however it is set.
pub(crate) fn clashes(car: &Car, build: &Build) -> Vec<Clash> {
    let mut found = mismatches(car, build);
    let mut clash = |what, text| found.push(Clash { what, text });
    let (chassis, donor) = (&car.parts().chassis, &build.donor);
    for (what, carries, kg, most) in [
        ("the car is too heavy", "car with its load weighs", chassis.mass_kg, donor.gross_mass_kg),
        (
            "the front axle carries too much",
            "front axle carries",
            chassis.front_axle_kg(),
            donor.front_axle_max_kg,
        ),
        (
            "the rear axle carries too much",
            "rear axle carries",
            chassis.rear_axle_kg(),
            donor.rear_axle_max_kg,
        ),
    ] {
        if let Some(most) = most.filter(|most| kg > *most + 0.05) {
            clash(what, format!("The {carries} {kg:.0} kg, and {most:.0} kg are permitted."));
        }
    }
    found
}

/// What a whole car and its input as one tree of JSON show, worst first.
pub(crate) fn warnings(car: &Car, start: &State, build: &Build, input: &Value) -> Vec<Warning> {
    let mut found: Vec<Warning> = doubts(input).into_iter().map(Warning::doubt).collect();
    let danger = |clash: Clash| Warning { severity: Severity::Danger, text: clash.text };
    found.extend(clashes(car, build).into_iter().map(danger));
    let mut warn = |severity, text: String| found.push(Warning { severity, text });
    use Severity::{Danger, Limit, Waste};
    let parts = car.parts();
    let (pack, motor, controller, gearbox) =
        (&parts.pack, &parts.motor, &parts.controller, &parts.gearbox);
    let cell = &pack.cell;

    let full_v = pack.rested_v(pack.max_charge);
    let charger_v = pack.highest_v();
    let empty_v = pack.rested_v(pack.min_charge);
    if full_v <= controller.max_v && charger_v > controller.max_v {
        let then = if controller.pack_regen_current_a > 0.0 {
            "it stops regen on a full pack"
        } else {
            "keep it disconnected while the pack is charged, and until it has rested"
        };
        warn(
            Limit,
            format!(
                "At the cells' highest charging voltage the pack has {charger_v:.1} V, over the \
                 {:.1} V that the controller bears: {then}.",
                controller.max_v
            ),
        );
    }
    if empty_v < controller.min_v {
        warn(
            Limit,
            format!(
                "The empty pack has {empty_v:.1} V without load, under the {:.1} V at which the \
                 controller stops: the last of the charge cannot be used.",
                controller.min_v
            ),
        );
    }
    let peak_nm = motor.machine.envelope.largest_nm();
    let controller_a = controller.motor_current_a;
    let given_nm = if controller_a < motor.machine.peak_current_a {
        peak_nm * controller_a / motor.machine.peak_current_a
    } else {
        peak_nm
    };
    if given_nm > gearbox.max_input_nm {
        warn(
            Danger,
            format!(
                "The motor gives {given_nm:.0} N·m and the gearbox bears {:.0} N·m: the \
                 simulation holds the torque to that, the controller must be set to it.",
                gearbox.max_input_nm
            ),
        );
    }
    let let_through_nm = given_nm.min(gearbox.max_input_nm);
    if let_through_nm > gearbox.clutch_nm {
        warn(
            Limit,
            format!(
                "The motor gives {let_through_nm:.0} N·m and the clutch holds {:.0} N·m: it slips \
                 at full throttle.",
                gearbox.clutch_nm
            ),
        );
    }
    if gearbox.max_input_radps < 0.999 * motor.max_radps {
        let rpm = units::rpm_from_radps;
        warn(
            Limit,
            format!(
                "The motor turns up to {:.0} rpm and the gearbox bears {:.0} rpm.",
                rpm(motor.max_radps),
                rpm(gearbox.max_input_radps)
            ),
        );
    }
    if controller_a < 0.98 * motor.machine.peak_current_a {
        warn(
            Limit,
            format!(
                "The controller gives {controller_a:.0} A to the motor, which needs {:.0} A for \
                 its peak torque.",
                motor.machine.peak_current_a
            ),
        );
    } else if controller_a > 1.3 * motor.machine.peak_current_a {
        warn(
            Waste,
            format!(
                "The controller gives up to {controller_a:.0} A and the motor takes {:.0} A at \
                 its peak torque.",
                motor.machine.peak_current_a
            ),
        );
    }
    let cells_a = pack.discharge_peak_a();
    if controller.pack_current_a > 1.02 * cells_a {
        warn(
            Limit,
            format!(
                "The controller draws up to {:.0} A from the pack and its cells give {cells_a:.0} \
                 A at most, for {:.0} s.",
                controller.pack_current_a, cell.peak_s
            ),
        );
    }
    let cells_in_a = pack.charge_peak_a();
    let regen_asked = parts.braking.lift_off_nm + parts.braking.brake_pedal_nm > 0.0;
    let makes_regen = motor.makes_regen() && controller.pack_regen_current_a > 0.0;
    if regen_asked && !makes_regen {
        let why = if motor.makes_regen() {
            "the controller puts no current back into the pack"
        } else {
            "this motor cannot brake"
        };
        warn(Limit, format!("Regen is asked for and {why}: the settings do nothing."));
    }
    if regen_asked && makes_regen && controller.pack_regen_current_a > 1.02 * cells_in_a {
        warn(
            Limit,
            format!(
                "The controller may put {:.0} A back into the pack and its cells take \
                 {cells_in_a:.0} A at most.",
                controller.pack_regen_current_a
            ),
        );
    }
    // Of several boxes the one whose cells give the least of their current.
    let least = |of: fn(&Cell) -> &Curve| {
        let shares = pack.boxes().map(|(own, node)| {
            let k = start.temperature_k[node];
            (of(&own.cell).at(k), units::c_from_k(k))
        });
        shares.fold((f64::INFINITY, 0.0), |least, own| if own.0 < least.0 { own } else { least })
    };
    let (charge_share, charge_c) = least(|cell| &cell.charge_factor);
    let (discharge_share, cells_c) = least(|cell| &cell.discharge_factor);
    if regen_asked && makes_regen && charge_share < 0.5 {
        let how = if charge_share <= 0.0 {
            "may not be charged".to_owned()
        } else {
            format!("take {:.0} % of their charge current", units::pct_from_share(charge_share))
        };
        warn(Limit, format!("At {charge_c:.0} °C the cells {how}: there is little or no regen."));
    }
    if discharge_share <= 0.0 {
        warn(
            Danger,
            format!("At {cells_c:.0} °C the cells give no current: the car does not drive."),
        );
    } else if discharge_share < 0.5 {
        let left = units::pct_from_share(discharge_share);
        warn(Limit, format!("At {cells_c:.0} °C the cells give {left:.0} % of their current."));
    }
    let air_k = car.surroundings().air_k;
    for (what, node, derating) in [
        ("motor's winding", Node::Winding, &motor.derating),
        ("controller's heat sink", Node::Sink, &controller.derating),
    ] {
        let at_k = air_k.max(start.temperature_k[node]);
        let c = units::c_from_k;
        if at_k >= derating.cut_off_k {
            let off_c = c(derating.cut_off_k);
            let text = format!(
                "The {what} is at {:.0} °C before it does anything and stops at {off_c:.0} °C: \
                 the car does not drive.",
                c(at_k)
            );
            warn(Danger, text);
        } else if at_k >= derating.warning_k {
            let text = format!(
                "The {what} is at {:.0} °C before it does anything and cuts back from {:.0} °C: it \
                 never gives what it can.",
                c(at_k),
                c(derating.warning_k)
            );
            warn(Limit, text);
        }
    }
    if let Some(cabin) = parts.auxiliaries.cabin {
        let kwh = units::kwh_from_j(pack.usable_j(units::k_from_c(20.0)));
        let hours = units::h_from_s(pack.usable_j(units::k_from_c(20.0)) / cabin.heater_w.max(1.0));
        if hours < 5.0 {
            warn(
                Limit,
                format!(
                    "The heater of {:.1} kW empties the {kwh:.1} kWh of the pack in {hours:.1} h \
                     while the car stands.",
                    units::kw_from_w(cabin.heater_w)
                ),
            );
        }
    }
    for text in of_boxes(pack, start, &build.pack.box_names()) {
        warn(Waste, text);
    }
    if start.charge > pack.max_charge + 1e-9 {
        warn(
            Limit,
            format!(
                "The drive starts with {:.0} % of charge, over the {:.0} % up to which the pack \
                 is filled: there is no regen at first.",
                units::pct_from_share(start.charge),
                units::pct_from_share(pack.max_charge)
            ),
        );
    }
    if pack.is_empty(start) {
        let left = units::pct_from_share(start.charge);
        warn(Danger, format!("The pack is empty at the start, with {left:.0} % of charge."));
    }
    let reference_v = motor.machine.envelope.reference_v;
    let pack_v = nominal_v(pack);
    let far_over = REFERENCE_SHARES.1 * reference_v..=OVER_VOLTAGE_SHARE * reference_v;
    if pack_v < REFERENCE_SHARES.0 * reference_v {
        warn(
            Limit,
            format!(
                "The motor's figures hold at {reference_v:.0} V and the pack has {pack_v:.0} V: the \
                 motor gives its power at far lower speed."
            ),
        );
    } else if far_over.contains(&pack_v) {
        warn(
            Danger,
            format!(
                "The motor's figures hold at {reference_v:.0} V and the pack has {pack_v:.0} V: its \
                 insulation and its highest speed are for its maker to vouch for."
            ),
        );
    }
    for doubt in build.motor.doubts(motor) {
        warn(Limit, doubt);
    }
    if build.donor.gross_mass_kg.is_none() {
        let text = "The permitted mass is not given, so it is not checked.".to_owned();
        warn(Waste, text);
    }
    found.sort_by_key(|warning| std::cmp::Reverse(warning.severity));
    found
}
