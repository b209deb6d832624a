//! Precharge: a resistor fills the controller's capacitors before the main contactor closes.

/// A resistor between a pack and capacitors that are empty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Precharge {
    /// Voltage of the pack, V.
    pub volts: f64,
    /// Resistor, Ω.
    pub ohm: f64,
    /// Capacitors, F.
    pub farad: f64,
}

impl Precharge {
    /// Time until the capacitors are at a share of the pack's voltage, `t = −R·C·ln(1 − share)`, s.
    pub fn time_s(&self, share: f64) -> f64 {
        -self.ohm * self.farad * (1.0 - share).ln()
    }

    /// Resistor that brings capacitors to a share of the voltage within a time, Ω.
    pub fn ohm_for(farad: f64, share: f64, within_s: f64) -> f64 {
        -within_s / (farad * (1.0 - share).ln())
    }

    /// Heat in the resistor of one whole precharge, `½·C·V²`, J: as much as the capacitors then hold,
    /// whatever the resistance.
    pub fn heat_j(&self) -> f64 {
        0.5 * self.farad * self.volts * self.volts
    }

    /// Current at its first instant, `V/R`, A.
    pub fn first_a(&self) -> f64 {
        self.volts / self.ohm
    }

    /// Power in the resistor at its first instant, `V²/R`, W; as long as it is on, where a load stays
    /// on behind it or the capacitors are shorted.
    pub fn first_w(&self) -> f64 {
        self.volts * self.volts / self.ohm
    }
}
