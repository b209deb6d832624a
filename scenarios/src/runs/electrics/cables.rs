//! Cables by cross-section: what they drop, waste and warm up.

use crate::files::assumption::{Assumption, usual};
use crate::inputs::wiring::{Wire, Wires};
use crate::runs::electrics::half_hour::HalfHourReport;
use crate::runs::electrics::leads::{Duty, Lead, LeadReport};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::cable::{Cable, Conductor};
use sim_core::units;

/// Air around the cables of a car, °C.
const AIR_C: f64 = 50.0;
/// Cross-sections of conductors, mm² (IEC 60228, from memory).
const SIZES_MM2: [f64; 16] = [
    0.75, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0, 120.0, 150.0, 185.0, 240.0,
];
/// A conductor above this is too hot for the insulation of most cables, °C (thin-wall automotive and
/// silicone cables bear 125 to 180; from memory): the first row is the first that stays below.
pub(super) const WARMEST_C: f64 = 150.0;
/// Rows of a table.
const ROWS: usize = 6;
/// Temperature at which no insulation of a cable is left, °C (common practice, no source).
const BURNS_C: f64 = 400.0;

/// A cable of one cross-section.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CableRow {
    /// Cross-section, mm².
    pub mm2: f64,
    /// Size of the American wire gauge (ASTM B258) that is no thinner, such as `2` or `2/0`.
    pub awg: String,
    /// Whether it is the build's own.
    pub stated: bool,
    /// Voltage that the lead drops, V.
    pub drop_v: f64,
    /// The same as a share of the lead's voltage, %, where that is one.
    pub drop_pct: Option<f64>,
    /// Steady current that warms this cable as the run does, A: a thick one is slower.
    pub amps: f64,
    /// Heat in the lead, W.
    pub loss_w: f64,
    /// Temperature at which the conductor settles in still air, °C; `null` where it burns,
    /// which is over 400 °C.
    pub settles_c: Option<f64>,
    /// The same with the fuse's rated current, where a fuse stands in this lead.
    pub at_fuse_c: Option<f64>,
}

/// A lead by the cross-section of its cables.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CableReport {
    /// Which.
    pub lead: Lead,
    /// What it is called.
    pub name: &'static str,
    /// Length of one conductor, one way, m.
    pub length_m: f64,
    /// Conductors that carry the current.
    pub conductors: u32,
    /// What they are made of.
    pub aluminium: bool,
    /// Steady current that is asked of parts with a time constant of 2 min, A.
    pub amps: f64,
    /// The run that asks it; `null` where it is what the 12 V side can draw, or half an hour at the
    /// highest speed that the car holds.
    pub case: Option<Duty>,
    /// Air around it, °C.
    pub air_c: f64,
    /// Usual cross-sections, and the build's own.
    pub rows: Vec<CableRow>,
    /// Resistance of the build's own cable at 20 °C, both ways, mΩ.
    pub stated_mohm: Option<f64>,
}

/// What a table needs to know of the circuits besides their currents.
pub(super) struct Circuits {
    /// Whether the motor has two leads.
    pub series_motor: bool,
    /// Lowest voltage of the pack, V.
    pub pack_v: f64,
    /// Voltage of the 12 V side, V.
    pub low_v: f64,
    /// What the 12 V side draws at most, A.
    pub low_a: f64,
    /// Voltage of the mains, V.
    pub mains_v: f64,
}

/// The tables of the leads, of those that there are.
pub(super) fn cables(
    leads: &[LeadReport],
    (wires, half_hour): (&Wires, Option<&HalfHourReport>),
    circuits: &Circuits,
    assumptions: &mut Vec<Assumption>,
) -> Vec<CableReport> {
    let air_k = wires.air_k.unwrap_or_else(|| {
        let path = "build.wiring.air_c".to_owned();
        let why = "under a bonnet and a floor in summer";
        assumptions.push(Assumption::number(path, usual(AIR_C, "°C", why)));
        units::k_from_c(AIR_C)
    });
    let motor_conductors = if circuits.series_motor { 2 } else { 3 };
    let kinds = [
        (Lead::Pack, &wires.pack, "pack", 3.0, 2, Some(circuits.pack_v)),
        (Lead::Motor, &wires.motor, "motor", 1.0, motor_conductors, None),
        (Lead::DcDcOut, &wires.low_voltage, "low_voltage", 1.5, 2, Some(circuits.low_v)),
        (Lead::ChargerOut, &wires.charger_dc, "charger_dc", 2.0, 2, Some(circuits.pack_v)),
        (Lead::ChargerIn, &wires.charger, "charger", 2.0, 2, Some(circuits.mains_v)),
    ];
    kinds
        .into_iter()
        .filter_map(|(lead, wire, name, usual_m, conductors, volts)| {
            let found = leads.iter().find(|report| report.lead == lead)?;
            let lasting = found.lasting.as_ref()?;
            // A mean of 12 V loads that come and go says little of a cable to all of them.
            let held_a = half_hour.and_then(|half| half.of(lead)).unwrap_or(0.0);
            let (amps, case) = match lead {
                Lead::DcDcOut => (circuits.low_a, None),
                _ if held_a > lasting.amps => (held_a, None),
                _ => (lasting.amps, Some(lasting.case)),
            };
            let asks = |cable: &Cable| match lead {
                Lead::DcDcOut => amps,
                _ => steady_a(cable, found, air_k).max(held_a),
            };
            if amps <= 0.0 {
                return None;
            }
            let length_m = wire.length_m.unwrap_or_else(|| {
                let path = format!("build.wiring.{name}.length_m");
                let why = "one way, in a light car";
                assumptions.push(Assumption::number(path, usual(usual_m, "m", why)));
                usual_m
            });
            let fuse_a = wires.fuse_a.filter(|_| lead == Lead::Pack);
            let row = |cable: Cable, stated: bool| {
                CableRow::of(
                    &cable,
                    stated,
                    asks(&cable),
                    (length_m, conductors, volts),
                    air_k,
                    fuse_a,
                )
            };
            Some(CableReport {
                lead,
                name: lead.name(),
                length_m,
                conductors,
                aluminium: wire.conductor == Conductor::Aluminium,
                amps,
                case,
                air_c: units::c_from_k(air_k),
                rows: rows(wire, asks, air_k).map(|(cable, stated)| row(cable, stated)).collect(),
                stated_mohm: wire.cable().map(|cable| {
                    let ohm_per_m = cable.ohm_per_m(units::k_from_c(20.0));
                    units::mohm_from_ohm(2.0 * length_m * ohm_per_m)
                }),
            })
        })
        .collect()
}

/// Steady current that warms a cable as much as the runs do, A: by its own time constant, taken where
/// it is as warm as its insulation bears, at which it is fastest.
fn steady_a(cable: &Cable, lead: &LeadReport, air_k: f64) -> f64 {
    let most_k = units::k_from_c(WARMEST_C).max(air_k + 1.0);
    let constant_s = cable.time_constant_at_s(most_k, air_k);
    lead.warming(constant_s).map_or(0.0, |of| of.amps)
}

/// Usual cables from the first that does not burn on, with the stated one in its place.
fn rows(
    wire: &Wire,
    asks: impl Fn(&Cable) -> f64,
    air_k: f64,
) -> impl Iterator<Item = (Cable, bool)> {
    let of = |mm2: f64| Cable { area_m2: units::m2_from_mm2(mm2), conductor: wire.conductor };
    let bears = |cable: &Cable| {
        cable.settles_k(asks(cable), air_k).is_some_and(|k| k <= units::k_from_c(WARMEST_C))
    };
    let own = wire.cable();
    let is_own =
        |cable: &Cable| own.is_some_and(|own| (own.area_m2 / cable.area_m2 - 1.0).abs() < 1e-9);
    let usual = SIZES_MM2.map(of).into_iter().filter(bears).filter(|c| !is_own(c)).take(ROWS);
    let mut all: Vec<(Cable, bool)> = usual.map(|cable| (cable, false)).collect();
    all.extend(own.map(|own| (own, true)));
    all.sort_by(|a, b| a.0.area_m2.total_cmp(&b.0.area_m2));
    all.into_iter()
}

impl CableRow {
    fn of(
        cable: &Cable,
        stated: bool,
        amps: f64,
        (length_m, conductors, volts): (f64, u32, Option<f64>),
        air_k: f64,
        fuse_a: Option<f64>,
    ) -> Self {
        // Copper melts at 1085 °C; long before it, nothing is left that insulates.
        let settles =
            |amps: f64| cable.settles_k(amps, air_k).map(units::c_from_k).filter(|c| *c < BURNS_C);
        let settles_c = settles(amps);
        // A cable that burns is told at the temperature of its insulation's end.
        let at_k = units::k_from_c(settles_c.unwrap_or(WARMEST_C));
        let ohm = cable.ohm_per_m(at_k) * length_m;
        // There and back; between two of three phases it is a phase's own.
        let in_circuit = if conductors == 2 { 2.0 } else { 1.0 };
        let drop_v = amps * ohm * in_circuit;
        let mm2 = units::mm2_from_m2(cable.area_m2);
        Self {
            mm2,
            awg: awg(mm2),
            stated,
            amps,
            drop_v,
            drop_pct: volts.map(|volts| units::pct_of(drop_v, volts)),
            loss_w: f64::from(conductors) * amps * amps * ohm,
            settles_c,
            at_fuse_c: fuse_a.and_then(settles),
        }
    }
}

/// The thinnest American wire gauge that is no thinner than a cross-section, but for some 2 %:
/// `d = 0.127 mm·92^((36 − n)/39)` (ASTM B258).
fn awg(mm2: f64) -> String {
    let diameter_mm = (4.0 * mm2 / std::f64::consts::PI).sqrt();
    let number = (36.0 - 39.0 * (diameter_mm / 0.127).ln() / 92f64.ln() + 0.1).floor();
    match number {
        n if n >= 1.0 => format!("{n}"),
        n if n >= -3.0 => format!("{}/0", 1.0 - n),
        _ => "over 4/0".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::awg;

    /// ASTM B258, from memory: 4/0 has 107.2, 2/0 67.4, 1/0 53.5, 2 33.6, 6 13.3 and 10 5.26 mm².
    #[test]
    fn gauges_have_their_cross_sections() {
        let known = [("4/0", 107.2), ("2/0", 67.4), ("1/0", 53.5), ("2", 33.6), ("6", 13.3)];
        for (name, mm2) in known {
            assert_eq!(awg(mm2), name);
        }
        assert_eq!(awg(5.26), "10");
        assert_eq!(awg(240.0), "over 4/0");
    }
}
