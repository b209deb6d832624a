//! Thermal parameters from what a nameplate says, and what they say of its short-time line.

use super::{Losses, Machine, Thermal};
use crate::cooling::{CONVECTION_EXPONENT, Cooling, ThinAir, Wind};
use crate::root::Bracket;
use crate::{Invalid, units};

/// A load on the shaft.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rating {
    /// Shaft torque, N·m.
    pub torque_nm: f64,
    /// Shaft speed, rad/s.
    pub radps: f64,
}

/// A short-time rating, duty type S2: the load that may be carried for so long, starting cold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShortRating {
    /// The load.
    pub rating: Rating,
    /// For how long, s.
    pub for_s: f64,
}

/// What is known of a motor's heat from its nameplate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThermalSheet {
    /// Continuous rating, duty type S1 (IEC 60034-1).
    pub continuous: Rating,
    /// Mean temperature of the winding at which that rating settles, K.
    pub settles_k: f64,
    /// Ambient (or coolant) temperature of the ratings, K.
    pub ambient_k: f64,
    /// Voltage of the ratings, V.
    pub volts: f64,
    /// Mass of the motor, kg.
    pub mass_kg: f64,
    /// Heat that a kilogram of it holds, J/(kg·K).
    pub specific_heat_j_per_kg_k: f64,
    /// Share of the winding's rise over ambient that lies between winding and housing.
    pub winding_share: f64,
    /// Share of the housing's conductance at the continuous rating that still air gives; the own
    /// fan gives the rest. 1 for a motor without a fan.
    pub still_share: f64,
    /// Conductance that road air at 100 km/h adds, as a multiple of that at the continuous rating.
    pub road_air_share: f64,
    /// Whether the motor is cooled by liquid, at `ambient_k` in the rating.
    pub coolant_k: Option<f64>,
}

/// Share of a motor's mass that is winding (common practice, no source).
const WINDING_MASS_SHARE: f64 = 0.16;
/// Specific heat of copper at 25 °C, J/(kg·K) (CRC Handbook of Chemistry and Physics, from memory;
/// iron has 449, aluminium 897 there).
const COPPER_J_PER_KG_K: f64 = 385.0;

/// Least heat that a kilogram of a motor holds, J/(kg·K): iron and copper without any aluminium have
/// `0.75·449 + 0.25·385 = 433`, and not all of them takes part.
pub const LEAST_HEAT_J_PER_KG_K: f64 = 400.0;
/// Most heat that a kilogram of a motor holds, J/(kg·K): a quarter of aluminium in housing and cage,
/// and two hundredths of insulation at about 1200, make
/// `0.61·449 + 0.12·385 + 0.25·897 + 0.02·1200 = 568`. The shares are common practice, no source.
pub const MOST_HEAT_J_PER_KG_K: f64 = 560.0;
/// Heat that a kilogram of a motor usually holds, J/(kg·K): `0.74·449 + 0.15·385 + 0.1·897 + 0.01·1200
/// = 492`, of which the last bits of shaft and feet do not take part.
pub const USUAL_HEAT_J_PER_KG_K: f64 = 480.0;

/// A motor on the test stand of its ratings: at their voltage, in their air, with no wind but that of
/// its own fan.
#[derive(Debug, Clone, Copy)]
pub struct Stand<'a> {
    /// The machine.
    pub machine: &'a Machine,
    /// Its losses.
    pub losses: &'a Losses,
    /// Winding temperature at which the losses were stated, K.
    pub loss_reference_k: f64,
    /// What its nameplate says.
    pub sheet: ThermalSheet,
}

/// A short-time load on the stand, from cold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShortRun {
    /// Winding temperature after the stated time, K.
    pub end_k: f64,
    /// Time after which the winding is at the temperature of the limit, s; `None`: never.
    pub lasts_s: Option<f64>,
    /// Heat that a kilogram of the motor would have to hold for the winding to be at the limit after
    /// just the stated time, J/(kg·K); 0 where the load never gets there, infinite where no amount
    /// would do.
    pub needs_j_per_kg_k: f64,
}

impl Stand<'_> {
    /// The two-node model that the continuous rating and the mass imply.
    ///
    /// In equilibrium at the continuous rating, with the losses at the temperature at which it
    /// settles, the winding's rise `θ = settles − ambient` splits into `winding_share·θ` between
    /// winding and housing and the rest between housing and air, which gives both conductances. The
    /// heat capacities are those of the mass.
    ///
    /// The short-time rating has no part in it: fitted to both ratings, a motor of a lower continuous
    /// rating would be given more matter to carry the same short one, and come out cooler on a hill.
    /// [`Self::short_run`] says what becomes of that rating.
    ///
    /// # Errors
    /// [`Invalid`] when the continuous load makes no heat or settles at no more than the ambient.
    pub fn thermal(&self) -> Result<Thermal, Invalid> {
        let sheet = &self.sheet;
        let rise_k = sheet.settles_k - sheet.ambient_k;
        if rise_k <= 0.0 {
            let allowed = "more than the ambient of the rating";
            return Err(Invalid::new("class", sheet.settles_k, allowed));
        }
        let (copper_w, other_w) = self.heat_w(&sheet.continuous, sheet.settles_k);
        if copper_w <= 0.0 {
            let value = format!("{} N·m", sheet.continuous.torque_nm);
            return Err(Invalid::new("continuous rating", value, "a load with copper loss"));
        }
        let housing_w_per_k = (copper_w + other_w) / ((1.0 - sheet.winding_share) * rise_k);
        let cooling = match sheet.coolant_k {
            Some(coolant_k) => {
                Cooling::Liquid { conductance_w_per_k: housing_w_per_k, rated_coolant_k: coolant_k }
            }
            None => Cooling::Air {
                still_w_per_k: housing_w_per_k * sheet.still_share,
                fan_w_per_k: housing_w_per_k * (1.0 - sheet.still_share)
                    / power_08(sheet.continuous.radps),
                road_w_per_k: housing_w_per_k * sheet.road_air_share
                    / power_08(units::mps_from_kmh(100.0)),
            },
        };
        let winding_j_per_k = WINDING_MASS_SHARE * sheet.mass_kg * COPPER_J_PER_KG_K;
        Ok(Thermal {
            winding_j_per_k,
            housing_j_per_k: sheet.specific_heat_j_per_kg_k * sheet.mass_kg - winding_j_per_k,
            winding_to_housing_w_per_k: copper_w / (sheet.winding_share * rise_k),
            cooling,
            thin_air: ThinAir::ByRating,
        })
    }

    /// What a short-time rating comes to on the stand, with the winding up to a limit, K.
    ///
    /// The copper loss is linear in winding temperature, so the two nodes are a linear system with a
    /// closed solution, in which the winding only ever warms.
    ///
    /// # Errors
    /// As [`Self::thermal`].
    pub fn short_run(&self, short: &ShortRating, limit_k: f64) -> Result<ShortRun, Invalid> {
        let sheet = &self.sheet;
        let thermal = self.thermal()?;
        let (cold_w, other_w) = self.heat_w(&short.rating, sheet.ambient_k);
        let (hot_w, _) = self.heat_w(&short.rating, limit_k);
        let limit_rise_k = limit_k - sheet.ambient_k;
        let load = Load {
            copper_w: cold_w,
            copper_w_per_k: (hot_w - cold_w) / limit_rise_k,
            housing_w: other_w,
            housing_w_per_k: thermal
                .cooling
                .conductance()
                .w_per_k(&Wind { shaft_08: power_08(short.rating.radps), ..Wind::default() }),
        };
        let rise_k = |for_s: f64| load.rise_of_winding_k(&thermal, for_s);
        let too_long = |for_s: f64| rise_k(for_s) > limit_rise_k;
        let times = Bracket { holds: 1e9, fails: 1e-3 };
        let lasts_s =
            too_long(times.holds).then(|| times.halved_by_ratio(60, too_long).middle_by_ratio());
        let too_light = |specific_heat_j_per_kg_k: f64| {
            let housing_j_per_k = specific_heat_j_per_kg_k * sheet.mass_kg;
            load.rise_of_winding_k(&Thermal { housing_j_per_k, ..thermal }, short.for_s)
                > limit_rise_k
        };
        let housings = Bracket { holds: 1e-3, fails: 1e6 };
        let needs_j_per_kg_k = if too_light(housings.fails) {
            f64::INFINITY
        } else if too_light(housings.holds) {
            let of_housing = housings.halved_by_ratio(60, too_light).middle_by_ratio();
            of_housing + WINDING_MASS_SHARE * COPPER_J_PER_KG_K
        } else {
            0.0
        };
        Ok(ShortRun { end_k: sheet.ambient_k + rise_k(short.for_s), lasts_s, needs_j_per_kg_k })
    }

    /// Heat made in the winding and in the housing by a load, W, with the winding at a temperature.
    fn heat_w(&self, rating: &Rating, winding_k: f64) -> (f64, f64) {
        let Rating { torque_nm, radps } = *rating;
        let field = self.machine.field(radps, self.sheet.volts);
        let point = self.machine.operating_point(torque_nm, radps, field);
        let factor = super::copper_factor(winding_k, self.loss_reference_k);
        let loss = self.machine.loss(self.losses, &point, factor);
        (loss.copper_w, loss.iron_w + loss.windage_w)
    }
}

fn power_08(x: f64) -> f64 {
    x.powf(CONVECTION_EXPONENT)
}

/// A constant load as the two nodes see it.
struct Load {
    /// Heat made in the winding at the ambient's temperature, W.
    copper_w: f64,
    /// How it grows with the winding's rise, W/K.
    copper_w_per_k: f64,
    /// Heat made in the housing, W.
    housing_w: f64,
    /// From the housing to the ambient, W/K.
    housing_w_per_k: f64,
}

impl Load {
    /// Rise of the winding over ambient after a time from cold, K.
    ///
    /// `θ' = A·θ + b` with `A = [(k − G_wh)/C_w, G_wh/C_w; G_wh/C_h, −(G_wh + G)/C_h]`, solved by
    /// its two real eigenvalues (the off-diagonal product is positive, so they are real and
    /// distinct).
    fn rise_of_winding_k(&self, t: &Thermal, for_s: f64) -> f64 {
        let g = t.winding_to_housing_w_per_k;
        let (a, b) = ((self.copper_w_per_k - g) / t.winding_j_per_k, g / t.winding_j_per_k);
        let (c, d) = (g / t.housing_j_per_k, -(g + self.housing_w_per_k) / t.housing_j_per_k);
        let (p, q) = (self.copper_w / t.winding_j_per_k, self.housing_w / t.housing_j_per_k);
        let half = 0.5 * (a + d);
        let root = (0.25 * (a - d) * (a - d) + b * c).sqrt();
        let (fast, slow) = (half - root, half + root);
        // θ_w(t) = ∫ (e^{As}·b)_w ds, where
        // e^{As} = (e^{slow·s}(A − fast) − e^{fast·s}(A − slow))/(slow − fast).
        let integral = |rate: f64| if rate == 0.0 { for_s } else { (rate * for_s).exp_m1() / rate };
        let row = |shift: f64| (a - shift) * p + b * q;
        (integral(slow) * row(fast) - integral(fast) * row(slow)) / (slow - fast)
    }
}
