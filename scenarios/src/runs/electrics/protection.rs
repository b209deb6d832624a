//! Precharge and short circuits: what resistor, contactors and fuse are asked for.

use crate::inputs::wiring::Wires;
use schemars::JsonSchema;
use serde::Serialize;
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

/// Cells as warm as a summer's drive leaves them, and as cold as a winter's night, °C.
const WARM_C: f64 = 40.0;
const COLD_C: f64 = -20.0;
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
    /// Time between attempts that follow each other, s.
    pub attempt_every_s: f64,
    /// Mean power in it while they do, W.
    pub attempts_w: Option<f64>,
    /// Current through the main contactor as it closes on what is left of the difference, A.
    pub closing_a: Option<f64>,
    /// Current as it would close without any precharge, A.
    pub without_a: f64,
}

impl PrechargeReport {
    pub(super) fn of(pack: &Pack, wires: &Wires) -> Self {
        let warm = fault(pack, pack.max_charge, WARM_C);
        let volts = warm.volts;
        let farad = wires.capacitance_f;
        let resistor = wires
            .precharge_ohm
            .or_else(|| farad.map(|farad| Precharge::ohm_for(farad, SHARE, WITHIN_S)));
        let whole = resistor.zip(farad).map(|(ohm, farad)| Precharge { volts, ohm, farad });
        // A resistor alone says what flows at first.
        let first = resistor.map(|ohm| Precharge { volts, ohm, farad: 0.0 });
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
            time_s: whole.map(|it| it.time_s(SHARE)),
            energy_j,
            first_a: first.map(|it| it.first_a()),
            first_w: first.map(|it| it.first_w()),
            attempt_every_s: ATTEMPT_S,
            attempts_w: energy_j.map(|j| j / ATTEMPT_S),
            closing_a: farad.map(|_| (1.0 - SHARE) * warm.behind_harness_a()),
            without_a: warm.behind_harness_a(),
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
    /// Ohmic resistance of all cells, mΩ.
    pub cells_mohm: f64,
    /// Current with the short circuit at the controller, behind the harness, A.
    pub behind_harness_a: f64,
    /// Current with the short circuit at the cells, A.
    pub at_cells_a: f64,
}

impl FaultState {
    fn of(pack: &Pack, charge: f64, cells_c: f64) -> Self {
        let found = fault(pack, charge, cells_c);
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

fn fault(pack: &Pack, charge: f64, cells_c: f64) -> ShortCircuit {
    ShortCircuit::of(pack, charge, units::k_from_c(cells_c))
}

/// Short circuits.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FaultReport {
    /// Highest voltage of the pack, V: all cells at their highest while it is charged.
    pub highest_v: f64,
    /// Resistance of bars, cables, fuse and contactors, mΩ.
    pub harness_mohm: f64,
    /// The largest: a full, warm pack as the build says.
    pub largest: FaultState,
    /// The least: an empty, cold and worn pack.
    pub least: FaultState,
    /// Rated current of the fuse, A, where it is known.
    pub fuse_a: Option<f64>,
    /// The least fault current over it.
    pub least_over_fuse: Option<f64>,
    /// How many times its rated current a fuse needs to blow within about a second (common practice,
    /// no source).
    pub blows_at: f64,
}

impl FaultReport {
    pub(super) fn of(pack: &Pack, wires: &Wires) -> Self {
        let worn =
            pack.changed(|cells| cells.resistance_growth = cells.resistance_growth.max(WORN));
        let least = FaultState::of(&worn, pack.min_charge, COLD_C);
        Self {
            highest_v: pack.highest_v(),
            harness_mohm: units::mohm_from_ohm(pack.harness_ohm),
            largest: FaultState::of(pack, pack.max_charge, WARM_C),
            fuse_a: wires.fuse_a,
            least_over_fuse: wires.fuse_a.map(|amps| least.behind_harness_a / amps),
            blows_at: BLOWS_AT,
            least,
        }
    }
}
