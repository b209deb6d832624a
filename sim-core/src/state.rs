//! What the simulation remembers from one instant to the next.

/// State of car, pack and parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// Road speed, m/s.
    pub speed_mps: f64,
    /// Distance from the start, m.
    pub distance_m: f64,
    /// Charge of the mean cell, 0 to 1.
    pub charge: f64,
    /// Voltage of a cell's polarisation pair, V.
    pub polarisation_v: f64,
    /// Motor winding, K.
    pub winding_k: f64,
    /// Motor housing, K.
    pub housing_k: f64,
    /// Controller heat sink, K.
    pub sink_k: f64,
    /// Cells, K.
    pub cells_k: f64,
    /// Cabin, K.
    pub cabin_k: f64,
    /// Share of the cells' short-peak allowance that is left, 0 to 1.
    pub peak_reserve: f64,
    /// How far the tyres are below the warmth that running gives them, K (0: run warm).
    pub tyre_chill_k: f64,
}

impl State {
    /// How many numbers it holds.
    pub const COUNT: usize = 11;

    /// A car that has stood long enough to be as warm as the air, but for its tyres: they are run
    /// warm, as road loads are stated for; see [`Self::on_cold_tyres`].
    pub fn parked(charge: f64, ambient_k: f64) -> Self {
        Self {
            speed_mps: 0.0,
            distance_m: 0.0,
            charge,
            polarisation_v: 0.0,
            winding_k: ambient_k,
            housing_k: ambient_k,
            sink_k: ambient_k,
            cells_k: ambient_k,
            cabin_k: ambient_k,
            peak_reserve: 1.0,
            tyre_chill_k: 0.0,
        }
    }

    /// The same on tyres that have stood for hours.
    pub fn on_cold_tyres(self) -> Self {
        Self { tyre_chill_k: crate::tyre::CHILL_K, ..self }
    }

    /// As numbers, in declaration order.
    pub fn to_array(&self) -> [f64; Self::COUNT] {
        [
            self.speed_mps,
            self.distance_m,
            self.charge,
            self.polarisation_v,
            self.winding_k,
            self.housing_k,
            self.sink_k,
            self.cells_k,
            self.cabin_k,
            self.peak_reserve,
            self.tyre_chill_k,
        ]
    }

    /// From numbers in declaration order.
    pub fn from_array(a: [f64; Self::COUNT]) -> Self {
        Self {
            speed_mps: a[0],
            distance_m: a[1],
            charge: a[2],
            polarisation_v: a[3],
            winding_k: a[4],
            housing_k: a[5],
            sink_k: a[6],
            cells_k: a[7],
            cabin_k: a[8],
            peak_reserve: a[9],
            tyre_chill_k: a[10],
        }
    }
}
