//! What a study takes by itself, and no file can say.

use sim_core::car::Parts;

/// One thing of another season in a season of its own: whatever else depends on the air stays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WhatIf {
    /// How much harder the tyres roll than in this air.
    pub rolling: f64,
    /// How much denser the air is.
    pub density: f64,
    /// How much warmer than its thermostat says the cabin is held, K.
    pub cabin_k: f64,
}

impl Default for WhatIf {
    /// All as it is.
    fn default() -> Self {
        Self { rolling: 1.0, density: 1.0, cabin_k: 0.0 }
    }
}

impl WhatIf {
    /// Parts as they then are.
    pub(crate) fn of(self, parts: Parts) -> Parts {
        let mut auxiliaries = parts.auxiliaries;
        if let Some(cabin) = &mut auxiliaries.cabin {
            cabin.set_k += self.cabin_k;
        }
        let road_load = parts.road_load.scaled(self.rolling, self.density);
        Parts { road_load, auxiliaries, ..parts }
    }
}
