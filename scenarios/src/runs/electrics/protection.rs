//! Precharge and short circuits: what resistor, contactors and fuse are asked for.

use crate::inputs::wiring::Wires;
use crate::words::number;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::motor::{Kind, Motor, copper_factor};
use sim_core::pack::Pack;
use sim_core::precharge::Precharge;
use sim_core::short_circuit::ShortCircuit;
use sim_core::units;

/// Share of the pack's voltage at which the main contactor may close (common practice, no source),
/// and the time in which a resistor that is not known is to get there, s.
const SHARE: f64 = 0.95;
const WITHIN_S: f64 = 1.0;
/// Time from one attempt to the next where the driver tries again and again, s.
const ATTEMPT_S: f64 = 10.0;

/// As cold as a winter's night, and as hot as cells are where no file says how hot they may be, °C.
const COLD_C: f64 = -20.0;
const HOT_C: f64 = 60.0;
/// How many times less resistance cells have in the first milliseconds than over the second for which
/// their sheet holds: at 1 kHz lithium cells have a half to three quarters of it (from memory).
const FIRST_MS: f64 = 1.5;
/// Longest precharge and largest energy of an attempt that are usual of light cars, s and J (common
/// practice, no source).
const USUAL_S: f64 = 5.0;
const USUAL_J: f64 = 500.0;
/// Resistance of worn cells over that of new ones: twice is where cells are often called worn out
/// (common practice, no source).
const WORN: f64 = 2.0;
/// How many times its rated current a fuse for traction packs takes to blow within about a second
/// (common practice, no source; its time-current curve decides).
const BLOWS_AT: f64 = 5.0;

/// Precharge.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PrechargeReport {
    /// Voltage of the full pack, V.
    pub full_v: f64,
    /// Capacitance of the controller, µF, where it is known.
    pub capacitance_uf: Option<f64>,
    /// What must be known before more can be said.
    pub needs: Option<&'static str>,
    /// Resistor, Ω; where none is stated, one that gets there in the time below.
    pub resistor_ohm: Option<f64>,
    /// Whether it is stated.
    pub stated: bool,
    /// Share of the voltage at which the main contactor may close, %.
    pub closes_at_pct: f64,
    /// Time until then, s.
    pub time_s: Option<f64>,
    /// Energy in the resistor of each attempt, J.
    pub energy_j: Option<f64>,
    /// Current through it at first, A.
    pub first_a: Option<f64>,
    /// Power in it at first, W, and for as long as it is on where something behind it draws.
    pub first_w: Option<f64>,
    /// Time between attempts that follow each other, s: none begins before the one before is done.
    pub attempt_every_s: f64,
    /// Mean power in it while they do, W.
    pub attempts_w: Option<f64>,
    /// Current through the main contactor as it closes on what is left of the difference, A.
    pub closing_a: Option<f64>,
    /// Current as it would close without any precharge, A.
    pub without_a: f64,
}

impl PrechargeReport {
    /// What is not usual of it.
    pub(super) fn doubts(&self) -> Vec<String> {
        let mut found = Vec::new();
        if let Some(time_s) = self.time_s.filter(|s| self.stated && *s > USUAL_S) {
            found.push(format!(
                "The precharge takes {} s with the resistor of {} Ω, where up to {} s are usual (common \
                 practice, no source): a driver switches on again before it is done, and the contactor \
                 welds. Look at wiring.precharge_ohm and controller.capacitance_uf.",
                number(time_s, 0),
                number(self.resistor_ohm.unwrap_or(0.0), 0),
                number(USUAL_S, 0)
            ));
        }
        if let Some(joules) = self.energy_j.filter(|j| *j > USUAL_J) {
            found.push(format!(
                "Each precharge leaves {} J in its resistor, where up to {} J are usual of light cars \
                 (common practice, no source): look at controller.capacitance_uf, or ask for a resistor \
                 whose sheet allows that pulse.",
                number(joules, 0),
                number(USUAL_J, 0)
            ));
        }
        if let Some(first_a) = self.first_a.filter(|a| self.stated && *a > 0.05 * self.without_a) {
            found.push(format!(
                "The precharge resistor lets {} A flow at first, more than a twentieth of what flows \
                 without any: it protects no contactor. Look at wiring.precharge_ohm.",
                number(first_a, 0)
            ));
        }
        found
    }

    pub(super) fn of(pack: &Pack, wires: &Wires) -> Self {
        let volts = pack.rested_v(pack.max_charge);
        let without_a = largest(pack).with_less(FIRST_MS).behind_harness_a();
        let farad = wires.capacitance_f;
        let resistor = wires
            .precharge_ohm
            .or_else(|| farad.map(|farad| Precharge::ohm_for(farad, SHARE, WITHIN_S)));
        let whole = resistor.zip(farad).map(|(ohm, farad)| Precharge { volts, ohm, farad });
        // A resistor alone says what flows at first.
        let first = resistor.map(|ohm| Precharge { volts, ohm, farad: 0.0 });
        let time_s = whole.map(|it| it.time_s(SHARE));
        let attempt_every_s = ATTEMPT_S.max(time_s.unwrap_or(0.0));
        let energy_j = farad.map(|farad| Precharge { volts, ohm: 1.0, farad }.heat_j());
        Self {
            full_v: volts,
            capacitance_uf: farad.map(units::uf_from_farad),
            needs: farad.is_none().then_some(
                "controller.capacitance_uf: the capacitance at its terminals to the pack, from its \
                 sheet or its maker",
            ),
            resistor_ohm: resistor,
            stated: wires.precharge_ohm.is_some(),
            closes_at_pct: units::pct_from_share(SHARE),
            time_s,
            energy_j,
            first_a: first.map(|it| it.first_a()),
            first_w: first.map(|it| it.first_w()),
            attempt_every_s,
            attempts_w: energy_j.map(|j| j / attempt_every_s),
            closing_a: farad.map(|_| (1.0 - SHARE) * without_a),
            without_a,
        }
    }
}

/// A short circuit at one state of the pack.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FaultState {
    /// Charge, %.
    pub charge_pct: f64,
    /// Cell temperature, °C.
    pub cells_c: f64,
    /// Resistance of the cells over that of new ones.
    pub growth: f64,
    /// Rested voltage, V.
    pub pack_v: f64,
    /// Resistance of all cells, mΩ: of the largest the ohmic one, of the least with polarisation.
    pub cells_mohm: f64,
    /// Current with the short circuit at the controller, behind the harness, A.
    pub behind_harness_a: f64,
    /// Current with the short circuit at the cells, A.
    pub at_cells_a: f64,
}

impl FaultState {
    fn of(pack: &Pack, (charge, cells_c, found): (f64, f64, ShortCircuit)) -> Self {
        Self {
            charge_pct: units::pct_from_share(charge),
            cells_c,
            growth: pack.resistance_growth,
            pack_v: found.volts,
            cells_mohm: units::mohm_from_ohm(found.cells_ohm),
            behind_harness_a: found.behind_harness_a(),
            at_cells_a: found.at_cells_a(),
        }
    }
}

/// Charges and temperatures, K, at which a fault may be the largest or the least: corners of the cells'
/// curves, and what lies between.
fn states(pack: &Pack) -> Vec<(f64, f64)> {
    let cells = || pack.boxes().map(|(own, _)| &own.cell);
    let cold_k = units::k_from_c(COLD_C);
    // The hottest at which the cells still give something.
    let gives = cells().flat_map(|cell| cell.discharge_factor.points());
    let gives = gives.filter(|(_, share)| *share > 0.0);
    let hot_k = gives.map(|(k, _)| k).fold(units::k_from_c(HOT_C), f64::max);
    let corners = cells().flat_map(|cell| cell.resistance_factor.points()).map(|(k, _)| k);
    let temperatures: Vec<f64> =
        corners.filter(|k| (cold_k..hot_k).contains(k)).chain([cold_k, hot_k]).collect();
    let (low, high) = (pack.min_charge, pack.max_charge);
    let even = (0..=50).map(|i| low + (high - low) * f64::from(i) / 50.0);
    let ohms = pack.boxes().flat_map(|(own, _)| {
        let points = own.cell.resistance_ohm.points();
        points.map(|(charge, _)| pack.charge_from(own, charge))
    });
    let bends = pack.bends().into_iter().chain(ohms);
    let charges: Vec<f64> =
        bends.filter(|charge| (low..high).contains(charge)).chain(even).collect();
    charges.iter().flat_map(|charge| temperatures.iter().map(|k| (*charge, *k))).collect()
}

/// The state whose short circuit at the cells is the largest, or the least, with the current behind a
/// harness deciding between equals.
fn extreme(
    pack: &Pack,
    of: fn(&Pack, f64, f64) -> ShortCircuit,
    sign: f64,
) -> (f64, f64, ShortCircuit) {
    let found = states(pack).into_iter().map(|(charge, k)| (charge, k, of(pack, charge, k)));
    let most = |it: &(f64, f64, ShortCircuit)| sign * it.2.behind_harness_a();
    let best = found.reduce(|best, one| if most(&one) > most(&best) { one } else { best });
    let (charge, k, fault) = best.unwrap_or_else(|| {
        let k = units::k_from_c(HOT_C);
        (pack.max_charge, k, of(pack, pack.max_charge, k))
    });
    (charge, units::c_from_k(k), fault)
}

fn largest(pack: &Pack) -> ShortCircuit {
    extreme(pack, ShortCircuit::of, 1.0).2
}

/// Short circuits.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FaultReport {
    /// Highest voltage of the pack, V: all cells at their highest while it is charged.
    pub highest_v: f64,
    /// Resistance of bars, cables, fuse and contactors, mΩ.
    pub harness_mohm: f64,
    /// The largest over the charges that the pack is used at, and over the temperatures of its cells, as
    /// the build says them.
    pub largest: FaultState,
    /// The least of a cold and worn pack, after seconds.
    pub least: FaultState,
    /// How many times less resistance the cells may have in the first milliseconds (from memory).
    pub first_ms_times: f64,
    /// What a fuse at the cells must break: the largest with that little resistance, A.
    pub breaks_at_cells_a: f64,
    /// The same behind the harness, A.
    pub breaks_behind_harness_a: f64,
    /// Current through a standing series motor where the power stage of its chopper fails shut, A;
    /// `null` where the motor is of another kind, whose inverter then shorts the pack.
    pub shut_chopper_a: Option<f64>,
    /// Rated current of the fuse, A, where it is known.
    pub fuse_a: Option<f64>,
    /// The least fault current over it.
    pub least_over_fuse: Option<f64>,
    /// How many times its rated current a fuse needs to blow within about a second (common practice,
    /// no source).
    pub blows_at: f64,
}

impl FaultReport {
    pub(super) fn of(pack: &Pack, motor: &Motor, wires: &Wires) -> Self {
        let worn =
            pack.changed(|cells| cells.resistance_growth = cells.resistance_growth.max(WORN));
        let least = FaultState::of(&worn, extreme(&worn, ShortCircuit::lasting, -1.0));
        let most = extreme(pack, ShortCircuit::of, 1.0);
        let first = most.2.with_less(FIRST_MS);
        Self {
            highest_v: pack.highest_v(),
            harness_mohm: units::mohm_from_ohm(pack.harness_ohm),
            largest: FaultState::of(pack, most),
            // A winding that is as cold as the air has the least resistance.
            shut_chopper_a: matches!(motor.machine.kind, Kind::SeriesDc { .. }).then(|| {
                let cold = copper_factor(units::k_from_c(COLD_C), motor.loss_reference_k);
                most.2.through_a(motor.losses.coefficients().copper_w_per_a2 * cold)
            }),
            first_ms_times: FIRST_MS,
            breaks_at_cells_a: first.at_cells_a(),
            breaks_behind_harness_a: first.behind_harness_a(),
            fuse_a: wires.fuse_a,
            least_over_fuse: wires.fuse_a.map(|amps| least.behind_harness_a / amps),
            blows_at: BLOWS_AT,
            least,
        }
    }
}
