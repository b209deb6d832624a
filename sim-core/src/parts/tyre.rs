//! Tyres: how large they roll and how hard they hold.

use crate::{Invalid, units};

/// Loaded rolling radius over the free radius of a radial tyre (common practice: 3 to 4 % less).
pub const LOADED_SHARE: f64 = 0.965;

/// How far tyres that have stood for hours are below the warmth that running gives them, K: tyres
/// of cars settle 20 to 30 K above the air (SAE J2452 and handbooks, from memory).
pub const CHILL_K: f64 = 25.0;
/// Time constant of running warm, s: tests of rolling resistance run tyres in for half an hour at
/// 80 km/h, three time constants (ISO 28580 and SAE J1269, from memory).
pub const RUN_IN_S: f64 = 600.0;
/// Time constant of cooling at rest, s (common practice, no source: tyre makers call a tyre cold
/// after three hours, which leaves a thousandth).
pub const COOL_S: f64 = 1500.0;

/// Where the chill of a tyre tends, K, and with which time constant, s, while it rolls or rests:
/// `dT/dt = (T∞ − T)/τ`.
#[inline]
pub fn chill_course(rolls: bool) -> (f64, f64) {
    if rolls { (0.0, RUN_IN_S) } else { (CHILL_K, COOL_S) }
}

/// Free radius from a size code such as `165/70R13`: `r = (D·25.4 + 2·W·AR/100)/2` mm.
///
/// A code without a ratio, such as `155R13`, has 82 % (common practice for old full-profile
/// radials). Returns metres. Source: ISO 4000-1 designation.
///
/// # Errors
/// [`Invalid`] when the code does not read or describes no car tyre (width 100 to 400 mm, ratio
/// 20 to 100 %, rim 8 to 24 inches).
pub fn free_radius_m(code: &str) -> Result<f64, Invalid> {
    let refuse = || {
        Invalid::new(
            "size",
            format!("\"{code}\""),
            "a code such as 165/70R13 (width 100 to 400 mm, ratio 20 to 100 %, rim 8 to 24 in)",
        )
    };
    let upper = code.trim().to_ascii_uppercase();
    let (section, rim) = upper.split_once(['R', '-']).ok_or_else(refuse)?;
    let section: String = section.chars().filter(|c| !c.is_whitespace()).collect();
    let rim_digits: String =
        rim.trim_start().chars().take_while(|c| c.is_ascii_digit() || *c == '.').collect();
    let rim_in: f64 = rim_digits.parse().map_err(|_| refuse())?;
    let (width_mm, ratio) = match section.split_once('/') {
        Some((w, r)) => (w.parse().map_err(|_| refuse())?, r.parse().map_err(|_| refuse())?),
        None => (section.parse::<f64>().map_err(|_| refuse())?, 82.0),
    };
    let known = (100.0..=400.0).contains(&width_mm)
        && (20.0..=100.0).contains(&ratio)
        && (8.0..=24.0).contains(&rim_in);
    if !known {
        return Err(refuse());
    }
    let walls_mm = units::share_from_pct(2.0 * width_mm * ratio);
    Ok(units::m_from_mm((units::mm_from_in(rim_in) + walls_mm) / 2.0))
}

/// Rolling radius of a tyre that turns so often in a kilometre: `r = 1000/(2π·n)`, m.
pub fn radius_from_revolutions_m(revolutions_per_km: f64) -> f64 {
    1000.0 / (std::f64::consts::TAU * revolutions_per_km)
}

/// Speed at which the rolling resistance of a tyre's label is measured, m/s (ISO 28580: 80 km/h, at
/// 25 °C).
pub const LABEL_SPEED_MPS: f64 = 80.0 / 3.6;

/// Rolling resistance at walking pace of a tyre with a label, from its growth with speed, 1/(m/s):
/// `c = c_label − k·80 km/h`, so that at 80 km/h and 25 °C it is the label's. All in N per N.
pub fn rolling_of_label(label: f64, per_mps: f64) -> f64 {
    label - per_mps * LABEL_SPEED_MPS
}

/// Which wheels the motor turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DrivenAxle {
    /// Front wheels.
    Front,
    /// Rear wheels.
    Rear,
    /// All four.
    Both,
}

/// Tyres on a surface: which axle drives and how much force it holds.
///
/// The normal force on an axle moves with the force at the tyres, `N = N0 ± (h/L)·(F − R)`, where
/// `F` is the force between all tyres and road (positive: forward) and `R` the rolling force. It
/// is Wong's form, with air, grade and inertia forces all acting at the height of the centre of
/// gravity. Setting `F = μ·N` gives the handbook's largest tractive effort,
/// `F = μ·W·(l_f − f_r·h)/L / (1 − μ·h/L)` for rear drive and `μ·W·(l_r + f_r·h)/L / (1 + μ·h/L)`
/// for front drive. Source: Wong, Theory of Ground Vehicles, chapter 3 (from memory).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grip {
    /// The driven wheels.
    pub driven: DrivenAxle,
    /// Friction coefficient between tyre and road.
    pub friction: f64,
    /// Centre of gravity behind the front axle over the wheelbase.
    pub rear_share: f64,
    /// Height of the centre of gravity over the wheelbase.
    pub height_share: f64,
}

impl Grip {
    /// Normal force on the driven wheels, N, when the tyres push with `force_n` in all.
    #[inline]
    pub fn driven_load_n(&self, weight_n: f64, force_n: f64, rolling_n: f64) -> f64 {
        let moved = self.height_share * (force_n - rolling_n);
        match self.driven {
            DrivenAxle::Front => (weight_n * (1.0 - self.rear_share) - moved).max(0.0),
            DrivenAxle::Rear => (weight_n * self.rear_share + moved).max(0.0),
            DrivenAxle::Both => weight_n,
        }
    }

    /// Share of the driven axle in braking with friction brakes of a given front share.
    #[inline]
    pub fn driven_brake_share(&self, front_share: f64) -> f64 {
        match self.driven {
            DrivenAxle::Front => front_share,
            DrivenAxle::Rear => 1.0 - front_share,
            DrivenAxle::Both => 1.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_size_codes() {
        // 13 in and 2 × 115.5 mm of side wall: 561.2 mm across (ISO 4000-1 designation).
        assert!((free_radius_m("165/70R13").unwrap() - 0.2806).abs() < 1e-12);
        assert!((free_radius_m("165/70 R 13 79T").unwrap() - 0.2806).abs() < 1e-12);
        assert!(free_radius_m("155R13").unwrap() > 0.28);
        for bad in ["", "165/70", "R13", "165/70R", "1650/70R13", "x/70R13", "165/70R99"] {
            let said = free_radius_m(bad).unwrap_err().to_string();
            assert!(said.starts_with(&format!("size is \"{bad}\"; allowed: a code")), "{said}");
        }
    }
}
