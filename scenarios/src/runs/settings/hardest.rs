//! What the settings are to hold for.

/// What the settings are to hold for.
#[derive(Debug, Clone, PartialEq)]
pub struct Hardest {
    /// Coldest cells, °C; left out, those of the scenario's coldest season.
    pub cells_c: Option<f64>,
    /// How much the resistance of worn cells has grown over that of new ones, %.
    pub growth_pct: f64,
    /// Charge of the charger's daily stop.
    pub daily: f64,
}

impl Default for Hardest {
    /// Cells of twice the resistance, at which many makers call them worn out (common practice, no
    /// source), charged to 80 % on most days.
    fn default() -> Self {
        Self { cells_c: None, growth_pct: 100.0, daily: 0.8 }
    }
}
