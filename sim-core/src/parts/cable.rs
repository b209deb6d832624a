//! A cable: what it drops, what it wastes and how warm it becomes.

use crate::root::Bracket;
use crate::units::{GRAVITY_MPS2, mm2_from_m2, ohm_from_mohm};

/// What a conductor is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Conductor {
    /// Annealed copper.
    Copper,
    /// Aluminium for conductors.
    Aluminium,
}

impl Conductor {
    /// Resistivity at 20 °C, Ω·m, and its growth with temperature, 1/K.
    ///
    /// Annealed copper: 0.017241 Ω·mm²/m and 0.00393 /K (International Annealed Copper Standard, IEC
    /// 60028). Aluminium: 0.028264 Ω·mm²/m and 0.00403 /K (IEC 60889). All four from memory.
    fn constants(self) -> (f64, f64) {
        match self {
            Conductor::Copper => (1.7241e-8, 0.003_93),
            Conductor::Aluminium => (2.8264e-8, 0.004_03),
        }
    }

    /// Heat capacity of its volume, J/(m³·K): copper 3.45 and aluminium 2.43 million (handbook values).
    fn heat_j_per_m3_k(self) -> f64 {
        match self {
            Conductor::Copper => 3.45e6,
            Conductor::Aluminium => 2.43e6,
        }
    }

    /// Resistivity at a temperature, `ρ = ρ20·(1 + α·(T − 20 °C))`, Ω·m.
    pub fn resistivity_ohm_m(self, temperature_k: f64) -> f64 {
        let (at_20_c, per_k) = self.constants();
        at_20_c * (1.0 + per_k * (temperature_k - AT_20_C_K))
    }
}

const AT_20_C_K: f64 = 293.15;
/// Largest resistance of flexible copper conductors (class 5) at 20 °C by cross-section, mΩ/m by mm²
/// (IEC 60228, from memory).
const FLEXIBLE_MOHM: [(f64, f64); 19] = [
    (0.5, 39.0),
    (0.75, 26.0),
    (1.0, 19.5),
    (1.5, 13.3),
    (2.5, 7.98),
    (4.0, 4.95),
    (6.0, 3.30),
    (10.0, 1.91),
    (16.0, 1.21),
    (25.0, 0.780),
    (35.0, 0.554),
    (50.0, 0.386),
    (70.0, 0.272),
    (95.0, 0.206),
    (120.0, 0.161),
    (150.0, 0.129),
    (185.0, 0.106),
    (240.0, 0.0801),
    (300.0, 0.0641),
];
/// Share of a stranded conductor's circle that is metal (common practice, no source).
const FILL: f64 = 0.75;
/// Emissivity of rubber or plastic insulation (handbook value, from memory).
const EMISSIVITY: f64 = 0.9;
/// Thermal conductivity of the insulation, W/(m·K): plastics and rubbers have 0.15 to 0.3 (handbook
/// values, from memory).
const INSULATION_W_PER_M_K: f64 = 0.2;
/// Stefan–Boltzmann constant, W/(m²·K⁴) (CODATA).
const STEFAN_W_PER_M2_K4: f64 = 5.670_374e-8;
/// Prandtl number of air (handbook value).
const PRANDTL: f64 = 0.7;

/// One conductor with its insulation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cable {
    /// Cross-section of its metal, m².
    pub area_m2: f64,
    /// What it is made of.
    pub conductor: Conductor,
}

impl Cable {
    /// Resistance of a length at a temperature of the conductor, Ω/m: the most that IEC 60228 allows a
    /// flexible conductor (class 5), which a car's cables are.
    ///
    /// Between its cross-sections `ln R'` goes straight with `ln A`; beyond them it goes as `1/A`. It
    /// grows with temperature as the metal does, and aluminium has more by its resistivity.
    pub fn ohm_per_m(&self, temperature_k: f64) -> f64 {
        let mm2 = mm2_from_m2(self.area_m2);
        let table = FLEXIBLE_MOHM;
        let after = table.partition_point(|(area, _)| *area < mm2);
        let mohm = match (after.checked_sub(1).map(|i| table[i]), table.get(after)) {
            (Some((thin, more)), Some((thick, less))) => {
                let share = (mm2 / thin).ln() / (thick / thin).ln();
                more * (less / more).powf(share)
            }
            (Some((area, mohm)), None) | (None, Some(&(area, mohm))) => mohm * area / mm2,
            (None, None) => f64::INFINITY,
        };
        let copper = Conductor::Copper.resistivity_ohm_m(AT_20_C_K);
        ohm_from_mohm(mohm) * self.conductor.resistivity_ohm_m(temperature_k) / copper
    }

    /// Diameter of the conductor, m.
    pub fn conductor_m(&self) -> f64 {
        (4.0 * self.area_m2 / (std::f64::consts::PI * FILL)).sqrt()
    }

    /// Diameter over the insulation, m: its wall grows from 0.6 mm of thin cables to 2.1 mm of 120 mm²
    /// (common practice for single battery cables, no source).
    pub fn outer_m(&self) -> f64 {
        self.conductor_m() + 2.0 * (0.6e-3 + 1.5e-3 * (self.area_m2 / 120e-6).min(4.0).sqrt())
    }

    /// Time constant with which the conductor nears a temperature, s: `A·(ρ·c)·(T_c − T_a)` over the heat
    /// that leaves the cable when it is there, for a conductor warmer than the air. Its insulation, which
    /// takes heat as well, is left out, so that a real cable is slower.
    pub fn time_constant_at_s(&self, conductor_k: f64, air_k: f64) -> f64 {
        let is_warm_enough = |surface_k: f64| self.leaving(surface_k, air_k).1 >= conductor_k;
        let surface = Bracket { holds: conductor_k, fails: air_k }.halved(60, is_warm_enough);
        let leaves_w_per_m = self.leaving(surface.holds, air_k).0;
        self.area_m2 * self.conductor.heat_j_per_m3_k() * (conductor_k - air_k) / leaves_w_per_m
    }

    /// What leaves a metre of surface at a temperature, W/m, and the conductor under it that this heat
    /// needs, K.
    fn leaving(&self, surface_k: f64, air_k: f64) -> (f64, f64) {
        let (inner_m, outer_m) = (self.conductor_m(), self.outer_m());
        let wall_k_m_per_w =
            (outer_m / inner_m).ln() / (2.0 * std::f64::consts::PI * INSULATION_W_PER_M_K);
        let leaves_w_per_m = leaving_w_per_m(outer_m, surface_k, air_k);
        (leaves_w_per_m, surface_k + leaves_w_per_m * wall_k_m_per_w)
    }

    /// Temperature at which the conductor settles with a steady current in still air, K: one cable by
    /// itself, with nothing around it. `None` where it never settles under 1000 K.
    ///
    /// `I²·R'(T_c) = (T_c − T_s)·2π·k/ln(D/d) = h·πD·(T_s − T_a) + ε·σ·πD·(T_s⁴ − T_a⁴)`, with `h` of
    /// [`cylinder_w_per_m2_k`].
    pub fn settles_k(&self, amps: f64, air_k: f64) -> Option<f64> {
        let at = |surface_k: f64| self.leaving(surface_k, air_k);
        let is_warm_enough = |surface_k: f64| {
            let (leaves_w, conductor_k) = at(surface_k);
            leaves_w >= amps * amps * self.ohm_per_m(conductor_k)
        };
        let most_k = 1000.0;
        if !is_warm_enough(most_k) {
            return None;
        }
        let warm = Bracket { holds: most_k, fails: air_k }.halved(60, is_warm_enough);
        Some(at(warm.holds).1)
    }
}

/// Heat that leaves a metre of a horizontal cylinder in still air, W/m: convection and radiation to
/// surroundings as warm as the air.
pub fn leaving_w_per_m(diameter_m: f64, surface_k: f64, air_k: f64) -> f64 {
    let girth_m = std::f64::consts::PI * diameter_m;
    let convection = cylinder_w_per_m2_k(diameter_m, surface_k, air_k) * (surface_k - air_k);
    let radiation = EMISSIVITY * STEFAN_W_PER_M2_K4 * (surface_k.powi(4) - air_k.powi(4));
    girth_m * (convection + radiation)
}

/// Coefficient of natural convection from a horizontal cylinder to air, W/(m²·K).
///
/// `Nu = (0.60 + 0.387·Ra^(1/6)/(1 + (0.559/Pr)^(9/16))^(8/27))²` for `Ra` up to 10¹² (Churchill and
/// Chu, 1975, as in handbooks of heat transfer), with air at the mean temperature of both: viscosity
/// by Sutherland's formula, conductivity `0.0263·(T/300 K)^0.82` W/(m·K), density at sea level.
pub fn cylinder_w_per_m2_k(diameter_m: f64, surface_k: f64, air_k: f64) -> f64 {
    let film_k = 0.5 * (surface_k + air_k);
    let viscosity = 1.458e-6 * film_k.powf(1.5) / (film_k + 110.4);
    let density = 101_325.0 / (287.052_87 * film_k);
    let conductivity = 0.0263 * (film_k / 300.0).powf(0.82);
    let kinematic = viscosity / density;
    let buoyancy = GRAVITY_MPS2 * (surface_k - air_k).abs() / film_k * diameter_m.powi(3);
    let rayleigh = buoyancy * PRANDTL / (kinematic * kinematic);
    let of_prandtl = (1.0 + (0.559 / PRANDTL).powf(9.0 / 16.0)).powf(8.0 / 27.0);
    let nusselt = (0.60 + 0.387 * rayleigh.powf(1.0 / 6.0) / of_prandtl).powi(2);
    nusselt * conductivity / diameter_m
}
