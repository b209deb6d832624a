//! Everything that draws on the pack besides the motor: 12 V loads and cabin heat.

/// A cabin as one lump of air and trim, warmed by a resistive heater on the traction pack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cabin {
    /// Heat capacity of air, seats and trim, J/K.
    pub heat_capacity_j_per_k: f64,
    /// Conductance to the outside air, leaks and fresh air included, W/K.
    pub conductance_w_per_k: f64,
    /// Temperature that the thermostat holds, K.
    pub set_k: f64,
    /// Largest heater power, W.
    pub heater_w: f64,
}

/// Width of the thermostat's proportional band, K (common practice, no source).
pub const THERMOSTAT_BAND_K: f64 = 2.0;

impl Cabin {
    /// Heater power at a cabin temperature: all of it up to the band below the set temperature,
    /// none at the set temperature, a line between. W.
    #[inline]
    pub fn heater_w(&self, cabin_k: f64) -> f64 {
        self.heater_w * ((self.set_k - cabin_k) / THERMOSTAT_BAND_K).clamp(0.0, 1.0)
    }

    /// Temperature to which it comes in air of a temperature, K: where the heater gives what goes out,
    /// `P(T) = G·(T − T_air)`, with all of its power, within the band, or off.
    pub fn settled_k(&self, air_k: f64) -> f64 {
        let out_w_per_k = self.conductance_w_per_k;
        let per_k = self.heater_w / THERMOSTAT_BAND_K;
        let within_k = (per_k * self.set_k + out_w_per_k * air_k) / (per_k + out_w_per_k);
        let full_k = air_k + self.heater_w / out_w_per_k;
        within_k.min(full_k).max(air_k)
    }
}

/// Loads other than traction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Auxiliaries {
    /// Sum of the 12 V loads (lights, vacuum pump, water pump, fans, instruments), W.
    pub low_voltage_w: f64,
    /// Efficiency of the DC-DC converter that feeds them.
    pub dc_dc_efficiency: f64,
    /// Steady loads on the traction pack itself, W.
    pub traction_w: f64,
    /// The heated cabin, where there is a thermostat.
    pub cabin: Option<Cabin>,
}

impl Auxiliaries {
    /// So many watts at 12 V through a converter without losses, and nothing else.
    pub fn low_voltage(low_voltage_w: f64) -> Self {
        Self { low_voltage_w, dc_dc_efficiency: 1.0, traction_w: 0.0, cabin: None }
    }

    /// Power drawn from the pack, `P = P12/η + P_traction + P_heater`, W.
    #[inline]
    pub fn pack_w(&self, cabin_k: f64) -> f64 {
        let heater = self.cabin.map_or(0.0, |c| c.heater_w(cabin_k));
        self.low_voltage_w / self.dc_dc_efficiency + self.traction_w + heater
    }
}
