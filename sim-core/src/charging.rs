//! The car at rest: parked, or plugged in.

use crate::car::Car;
use crate::heat::{Node, PerNode};
use crate::ledger::Account;
use crate::limit::Limit;
use crate::state::State;
use crate::units;

/// What comes out of a charger into the pack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Supply {
    /// Largest power drawn from the wall, W.
    pub wall_w: f64,
    /// Largest power of the charger into the pack, W.
    pub charger_w: f64,
    /// Power into the pack over power from the wall.
    pub efficiency: f64,
    /// Current per cell string at which a full charge ends, as a share of the capacity in A·h over
    /// an hour (C-rate).
    pub end_c_rate: f64,
}

/// Why charging ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ChargeEnding {
    /// The wanted charge was reached.
    Target,
    /// The current had tapered to the end current at the cells' highest voltage.
    Full,
    /// A limit let nothing in (cells too cold, for example).
    Refused(Limit),
    /// The time ran out.
    TimeUp,
}

/// What came of charging.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Charging {
    /// Why it ended.
    pub ending: ChargeEnding,
    /// Time, s.
    pub time_s: f64,
    /// Energy from the wall, J.
    pub wall_j: f64,
    /// Energy into the pack's terminals, J.
    pub pack_j: f64,
    /// Chemical energy gained by the cells, J.
    pub chemical_j: f64,
    /// Energy turned to heat in cells and harness, J.
    pub heat_j: f64,
    /// Energy stored in the cells' polarisation, which turns to heat afterwards, J.
    pub polarisation_j: f64,
    /// Time for which the current was held below what the charger could give, s.
    pub taper_s: f64,
    /// Largest current into the pack, A.
    pub peak_a: f64,
    /// Highest temperature of the cells of each box, K.
    pub peak_cells_k: PerNode<f64>,
    /// Highest cell voltage, V.
    pub peak_cell_v: f64,
    /// State at the end.
    pub end: State,
}

impl Charging {
    /// Energy lost in the charger, J.
    pub fn charger_loss_j(&self) -> f64 {
        self.wall_j - self.pack_j
    }

    /// Energy from the wall less all that became of it, as a share; zero when the books are right.
    /// Each part is booked by itself: `E_wall = E_charger + E_heat + E_polarisation + E_chemical`.
    pub fn residual_share(&self) -> f64 {
        let became_j = self.charger_loss_j() + self.heat_j + self.polarisation_j + self.chemical_j;
        (self.wall_j - became_j).abs() / self.wall_j.max(f64::MIN_POSITIVE)
    }
}

/// One step of a charge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Time at its end, s.
    pub time_s: f64,
    /// Its length, s.
    pub step_s: f64,
    /// Power from the wall, W.
    pub wall_w: f64,
    /// Voltage of the pack, V.
    pub pack_v: f64,
    /// Current into the pack, A.
    pub pack_a: f64,
    /// State at its end.
    pub state: State,
}

/// Step of parking and charging, s; every node is stepped by the implicit midpoint rule.
pub const REST_STEP_S: f64 = 10.0;

/// Leaves the car standing, switched off, for a time: everything cools (or warms) towards the air.
pub fn park(car: &Car, start: &State, for_s: f64) -> State {
    let mut state = State { speed_mps: 0.0, ..*start };
    let mut left_s = for_s.max(0.0);
    while left_s > 0.0 {
        let h = left_s.min(REST_STEP_S);
        let now = car.now(&state, h);
        let flow = car.at_rest(&now, 0.0);
        car.warm(&mut state, &flow, h);
        left_s -= h;
    }
    state
}

/// Charges a standing car up to a charge of the mean cell, or full, for at most a time.
///
/// In each step the current is the least of: what the charger gives at the pack's voltage; what
/// the cells take at their temperature; what holds the highest cell at its highest voltage. The
/// pack's state follows as when driving.
pub fn charge(
    car: &Car,
    start: &State,
    supply: &Supply,
    target: f64,
    most_s: f64,
    mut watch: impl FnMut(&Sample),
) -> Charging {
    let pack = &car.parts().pack;
    let mut state = State { speed_mps: 0.0, ..*start };
    let power_w = supply.charger_w.min(supply.wall_w * supply.efficiency);
    let end_a = units::ah_from_as(supply.end_c_rate * pack.capacity_as());
    let mut found = Charging {
        ending: ChargeEnding::TimeUp,
        time_s: 0.0,
        wall_j: 0.0,
        pack_j: 0.0,
        chemical_j: 0.0,
        heat_j: 0.0,
        polarisation_j: 0.0,
        taper_s: 0.0,
        peak_a: 0.0,
        peak_cells_k: state.temperature_k,
        peak_cell_v: car.at_rest(&car.now(&state, 0.0), 0.0).high_cell_v,
        end: state,
    };
    let target = target.min(pack.max_charge);
    while found.time_s < most_s {
        let mut h = REST_STEP_S.min(most_s - found.time_s);
        if state.charge >= target {
            found.ending = ChargeEnding::Target;
            break;
        }
        let now = car.now(&state, h);
        let given_a = -now.pack.terminals(-power_w).0;
        let mut taken_a = given_a;
        let mut held_by = None;
        let (most_a, cells) = now.pack.charge_now_a();
        if most_a < taken_a {
            (taken_a, held_by) = (most_a, Some(cells));
        }
        let by_voltage_a = now.pack.charge_at_highest_v_a(pack);
        if by_voltage_a < taken_a {
            (taken_a, held_by) = (by_voltage_a, Some(Limit::CellVoltage));
        }
        if let Some(limit) = held_by {
            if limit == Limit::CellVoltage && taken_a <= end_a {
                found.ending = ChargeEnding::Full;
                break;
            }
            if taken_a <= 1e-6 {
                found.ending = ChargeEnding::Refused(limit);
                break;
            }
            found.taper_s += h;
        }
        // The last step is cut where it reaches the target.
        let room_as = (target - state.charge) * pack.capacity_as();
        h = h.min((room_as / taken_a).max(1e-3));
        let now = car.now(&state, h);
        let flow = car.at_rest(&now, -taken_a);
        let pack_w = flow.pack_v * taken_a;
        let wall_w = pack_w / supply.efficiency;
        found.pack_j += pack_w * h;
        found.wall_j += wall_w * h;
        found.chemical_j -= flow.powers[Account::Chemical] * h;
        found.heat_j += flow.powers[Account::PackResistance] * h;
        found.polarisation_j += flow.powers[Account::Polarisation] * h;
        car.warm(&mut state, &flow, h);
        found.time_s += h;
        found.peak_a = found.peak_a.max(taken_a);
        for node in Node::BOXES {
            let peak_k = &mut found.peak_cells_k[node];
            *peak_k = peak_k.max(state.temperature_k[node]);
        }
        found.peak_cell_v = found.peak_cell_v.max(flow.high_cell_v);
        watch(&Sample {
            time_s: found.time_s,
            step_s: h,
            wall_w,
            pack_v: flow.pack_v,
            pack_a: taken_a,
            state,
        });
    }
    found.end = state;
    found
}
