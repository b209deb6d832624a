//! Thermal parameters from what a nameplate says: continuous and short-time ratings.

use super::{Losses, Machine, Thermal};
use crate::cooling::{CONVECTION_EXPONENT, Cooling, ThinAir, Wind};
use crate::root::Bracket;
use crate::{Invalid, units};

/// A load at which the winding just reaches its class temperature.
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
    /// Short-time rating, duty type S2 (IEC 60034-1), where there is one.
    pub short: Option<ShortRating>,
    /// Temperature of the insulation class, K (IEC 60085).
    pub class_k: f64,
    /// Ambient (or coolant) temperature of the ratings, K.
    pub ambient_k: f64,
    /// Voltage of the ratings, V.
    pub volts: f64,
    /// Mass of the motor, kg.
    pub mass_kg: f64,
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
pub const WINDING_MASS_SHARE: f64 = 0.16;
/// Specific heat of copper, J/(kg·K) (handbook value, from memory).
pub const COPPER_J_PER_KG_K: f64 = 385.0;
/// Specific heat of iron, J/(kg·K) (handbook value, from memory).
pub const IRON_J_PER_KG_K: f64 = 450.0;

/// Finds the two-node model that a nameplate implies.
///
/// 1. Continuous rating in equilibrium: with the losses at class temperature, the winding's rise
///    `θ = class − ambient` splits into `winding_share·θ` between winding and housing and the rest
///    between housing and air, which gives both conductances.
/// 2. Short-time rating: the copper loss is linear in winding temperature, so the two nodes form a
///    linear system with a closed solution; the heat capacities from the motor's mass are scaled by
///    one factor, found by bisection, so that the winding reaches class temperature after the
///    stated time. Without a short rating, the capacities are those of the mass.
///
/// # Errors
/// [`Invalid`] when the continuous load makes no heat, when its class is below ambient, or when the
/// short-time load would never reach, or reach at once, its class temperature.
pub fn identify(
    machine: &Machine,
    losses: &Losses,
    loss_reference_k: f64,
    sheet: &ThermalSheet,
) -> Result<Thermal, Invalid> {
    let rise_k = sheet.class_k - sheet.ambient_k;
    if rise_k <= 0.0 {
        return Err(Invalid::new("class", sheet.class_k, "more than the ambient of the rating"));
    }
    let heat = |rating: &Rating, winding_k: f64| {
        let field = machine.field(rating.radps, sheet.volts);
        let current = machine.current_a(rating.torque_nm, field);
        let factor = super::copper_factor(winding_k, loss_reference_k);
        let loss = machine.loss(losses, rating.torque_nm, rating.radps, current, factor);
        (loss.copper_w, loss.iron_w + loss.windage_w)
    };
    let (copper_w, iron_w) = heat(&sheet.continuous, sheet.class_k);
    if copper_w <= 0.0 {
        let value = format!("{} N·m", sheet.continuous.torque_nm);
        return Err(Invalid::new("continuous rating", value, "a load with copper loss"));
    }
    let winding_to_housing_w_per_k = copper_w / (sheet.winding_share * rise_k);
    let housing_w_per_k = (copper_w + iron_w) / ((1.0 - sheet.winding_share) * rise_k);
    let power_08 = |x: f64| x.powf(CONVECTION_EXPONENT);
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
    let by_mass = Thermal {
        winding_j_per_k: WINDING_MASS_SHARE * sheet.mass_kg * COPPER_J_PER_KG_K,
        housing_j_per_k: (1.0 - WINDING_MASS_SHARE) * sheet.mass_kg * IRON_J_PER_KG_K,
        winding_to_housing_w_per_k,
        cooling,
        thin_air: ThinAir::ByRating,
    };
    let Some(short) = sheet.short else {
        return Ok(by_mass);
    };
    let (cold_w, short_iron_w) = heat(&short.rating, sheet.ambient_k);
    let (hot_w, _) = heat(&short.rating, sheet.class_k);
    // On the test bench no road air passes.
    let in_test = Wind { shaft_08: power_08(short.rating.radps), ..Wind::default() };
    let conductance = cooling.conductance().w_per_k(&in_test);
    let rise_after = |scale: f64| {
        rise_of_winding_k(
            &scaled(&by_mass, scale),
            conductance,
            cold_w,
            (hot_w - cold_w) / rise_k,
            short_iron_w,
            short.for_s,
        )
    };
    let too_small = |scale: f64| rise_after(scale) > rise_k;
    let scales = Bracket { holds: 1e-3, fails: 1e3 };
    if rise_after(scales.holds) < rise_k || too_small(scales.fails) {
        let value = format!("{:.0} N·m for {:.0} s", short.rating.torque_nm, short.for_s);
        let allowed = "a load above the continuous rating that the motor's mass can bear so long";
        return Err(Invalid::new("short-time rating", value, allowed));
    }
    Ok(scaled(&by_mass, scales.halved_by_ratio(60, too_small).middle_by_ratio()))
}

fn scaled(thermal: &Thermal, scale: f64) -> Thermal {
    Thermal {
        winding_j_per_k: thermal.winding_j_per_k * scale,
        housing_j_per_k: thermal.housing_j_per_k * scale,
        ..*thermal
    }
}

/// Rise of the winding over ambient after a time at constant load from cold, K.
///
/// `θ' = A·θ + b` with `A = [(k − G_wh)/C_w, G_wh/C_w; G_wh/C_h, −(G_wh + G)/C_h]`, solved by its
/// two real eigenvalues (the off-diagonal product is positive, so they are real and distinct).
fn rise_of_winding_k(
    t: &Thermal,
    housing_w_per_k: f64,
    cold_copper_w: f64,
    copper_w_per_k: f64,
    housing_heat_w: f64,
    for_s: f64,
) -> f64 {
    let g = t.winding_to_housing_w_per_k;
    let (a, b) = ((copper_w_per_k - g) / t.winding_j_per_k, g / t.winding_j_per_k);
    let (c, d) = (g / t.housing_j_per_k, -(g + housing_w_per_k) / t.housing_j_per_k);
    let (p, q) = (cold_copper_w / t.winding_j_per_k, housing_heat_w / t.housing_j_per_k);
    let half = 0.5 * (a + d);
    let root = (0.25 * (a - d) * (a - d) + b * c).sqrt();
    let (fast, slow) = (half - root, half + root);
    // θ_w(t) = ∫ (e^{As}·b)_w ds, where e^{As} = (e^{slow·s}(A − fast) − e^{fast·s}(A − slow))/(slow − fast).
    let integral = |rate: f64| if rate == 0.0 { for_s } else { (rate * for_s).exp_m1() / rate };
    let row = |shift: f64| (a - shift) * p + b * q;
    (integral(slow) * row(fast) - integral(fast) * row(slow)) / (slow - fast)
}
