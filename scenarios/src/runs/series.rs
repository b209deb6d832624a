//! A run second by second, as the finished car's dash would show it and more.

use crate::files::error::Error;
use crate::files::output_file::{Growing, Kind};
use crate::runs::grade::grade_pct;
use crate::runs::limits::NamedLimit;
use crate::runs::temperatures::BoxTemperatures;
use sim_core::follow::{Moment, Recorder};
use sim_core::ledger::Account;
use sim_core::units;
use sim_core::{Car, Node};
use std::path::{Path, PathBuf};

/// Columns of the file, in order; each names its unit. `gear` is 0 between gears, `pedal_pct` is
/// the torque as a share of the motor's curve at that speed and voltage (negative in regen),
/// `charge_kwh` is what is left before the weakest cell is empty, `cells_c` is of the warmest box. A pack in
/// boxes adds a column for each, such as `box_1_cells_c`.
pub const COLUMNS: [&str; 31] = [
    "time_s",
    "distance_km",
    "speed_kmh",
    "wanted_kmh",
    "grade_pct",
    "gear",
    "motor_rpm",
    "motor_torque_nm",
    "motor_a",
    "pedal_pct",
    "pack_v",
    "pack_a",
    "pack_kw",
    "charge_kwh",
    "charge_pct",
    "cell_high_v",
    "cell_low_v",
    "cells_c",
    "winding_c",
    "housing_c",
    "heat_sink_c",
    "cabin_c",
    "oil_c",
    "coolant_c",
    "moment_wh_per_km",
    "average_wh_per_km",
    "regen_kw",
    "friction_brake_kw",
    "auxiliaries_kw",
    "grip_pct",
    "limit",
];

/// What the file is.
const KIND: Kind = Kind {
    words: "a series of a drive, climb, descent or pull",
    begins: |text| BoxTemperatures::heads(text, &COLUMNS),
};

/// Records every step of a run as a row of CSV.
#[derive(Debug)]
pub struct Series<'a> {
    car: &'a Car,
    file: Growing,
    writer: csv::Writer<Vec<u8>>,
    terminal_j: f64,
    from_m: Option<f64>,
    problem: Option<csv::Error>,
}

impl<'a> Series<'a> {
    /// An empty series of a car for a file; `inputs` are the files that the same run reads.
    ///
    /// # Errors
    /// [`Error::File`] where [`Growing::create`] refuses the file.
    pub fn new(car: &'a Car, path: &Path, inputs: &[PathBuf]) -> Result<Self, Error> {
        let file = Growing::create(path, KIND, inputs)?;
        let mut writer = csv::Writer::from_writer(Vec::new());
        let columns = COLUMNS.map(str::to_owned).into_iter().chain(BoxTemperatures::columns(car));
        let problem = writer.write_record(columns).err();
        Ok(Self { car, file, writer, terminal_j: 0.0, from_m: None, problem })
    }

    /// Writes the file, whole or not at all.
    ///
    /// # Errors
    /// [`Error::File`] with what the operating system says.
    pub fn save(mut self) -> Result<(), Error> {
        if let Some(problem) = self.problem {
            return Err(self.file.fault(problem.to_string()));
        }
        let content = self.writer.into_inner().map_err(|e| self.file.fault(e.to_string()))?;
        self.file.add(&content)?;
        self.file.finish()
    }
}

impl Recorder for Series<'_> {
    fn record(&mut self, m: &Moment<'_>) {
        let (state, flow) = (m.state, m.flow);
        let pack = &self.car.parts().pack;
        let from_m = *self.from_m.get_or_insert(state.distance_m - state.speed_mps * m.step_s);
        let terminal_w = flow.pack_v * flow.pack_a;
        self.terminal_j += terminal_w * m.step_s;
        let gone_km = units::km_from_m(state.distance_m - from_m);
        let curve_nm = self.car.parts().motor.machine.envelope.peak_nm(flow.radps, flow.pack_v);
        let left_j = pack.left_at_j(state.charge, &state.temperature_k);
        let over = |value: f64, by: f64| if by > 0.0 { value / by } else { f64::NAN };
        let moment = over(units::wh_from_j(terminal_w), units::km_from_m(state.speed_mps));
        let average = over(units::wh_from_j(self.terminal_j), gone_km);
        let gear = m.gear.map_or(0.0, |g| g as f64 + 1.0);
        let coolant_c = if self.car.is_liquid_cooled() {
            units::c_from_k(state.temperature_k[Node::Coolant])
        } else {
            f64::NAN
        };
        let numbers: [(f64, usize); COLUMNS.len() - 1] = [
            (m.time_s, 3),
            (units::km_from_m(state.distance_m), 5),
            (units::kmh_from_mps(state.speed_mps), 3),
            (units::kmh_from_mps(m.trace_mps), 3),
            (grade_pct(m.slope), 3),
            (gear, 0),
            (units::rpm_from_radps(flow.radps), 1),
            (flow.torque_nm, 3),
            (flow.motor_a, 2),
            (units::pct_from_share(over(flow.torque_nm, curve_nm)), 2),
            (flow.pack_v, 3),
            (flow.pack_a, 3),
            (units::kw_from_w(terminal_w), 4),
            (units::kwh_from_j(left_j), 4),
            (units::pct_from_share(state.charge), 3),
            (flow.high_cell_v, 4),
            (flow.low_cell_v, 4),
            (units::c_from_k(pack.warmest_k(&state.temperature_k)), 3),
            (units::c_from_k(state.temperature_k[Node::Winding]), 3),
            (units::c_from_k(state.temperature_k[Node::Housing]), 3),
            (units::c_from_k(state.temperature_k[Node::Sink]), 3),
            (units::c_from_k(state.temperature_k[Node::Cabin]), 3),
            (units::c_from_k(state.temperature_k[Node::Oil]), 3),
            (coolant_c, 3),
            (moment, 2),
            (average, 2),
            (units::kw_from_w((-terminal_w).max(0.0)), 4),
            (units::kw_from_w(flow.powers[Account::Brakes]), 4),
            (units::kw_from_w(flow.powers[Account::Auxiliaries]), 4),
            (units::pct_from_share(flow.grip_used), 2),
        ];
        let text = |(value, decimals): (f64, usize)| {
            if value.is_finite() { format!("{value:.decimals$}") } else { String::new() }
        };
        let limit = flow.limit.map_or("", |limit| NamedLimit(limit).name()).to_owned();
        let boxes = BoxTemperatures::from_k(self.car, &state.temperature_k);
        let boxes = boxes.each_c().iter().map(|c| text((*c, 3)));
        let row = numbers.into_iter().map(text).chain([limit]).chain(boxes);
        if let Err(problem) = self.writer.write_record(row) {
            self.problem.get_or_insert(problem);
        }
    }
}
