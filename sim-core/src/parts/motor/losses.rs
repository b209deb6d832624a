//! What the motor wastes: coefficients, an efficiency map, or a fit to a few points.

use crate::Invalid;
use crate::cooling::convection_power;
use nalgebra::{DMatrix, DVector};

/// Heat by origin, W.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct MotorLoss {
    /// Current in the windings (and brushes).
    pub copper_w: f64,
    /// Changing field in the iron, and the fixed part.
    pub iron_w: f64,
    /// Air and bearings.
    pub windage_w: f64,
}

impl MotorLoss {
    /// Sum of all.
    #[inline]
    pub fn total_w(&self) -> f64 {
        self.iron_w + self.windage_w + self.copper_w
    }
}

/// What a machine does, as far as its losses follow from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OperatingPoint {
    /// Shaft torque, N·m.
    pub torque_nm: f64,
    /// Shaft speed, rad/s.
    pub radps: f64,
    /// Motor current, A.
    pub current_a: f64,
    /// Magnetic flux in the iron over that below base speed, `φ`.
    pub flux: f64,
}

/// Loss coefficients: `P = r·I² + c0 + h·ω·φ^1.6 + e·ω²·φ² + f·ω + w·ω³`.
///
/// The terms are copper, fixed, hysteresis, eddy current, bearing friction and windage.
/// Sources: loss separation of IEEE Std 112; hysteresis goes with the flux to the power of 1.6
/// (Steinmetz), eddy currents with its square (both from memory).
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Coefficients {
    /// Copper loss per square ampere of motor current, W/A² (all phases), at the reference
    /// temperature.
    pub copper_w_per_a2: f64,
    /// Loss whenever the motor is powered, W.
    pub fixed_w: f64,
    /// Hysteresis loss, W/(rad/s).
    pub hysteresis_w_per_radps: f64,
    /// Eddy-current loss, W/(rad/s)².
    pub eddy_w_per_radps2: f64,
    /// Bearing friction, N·m.
    pub friction_nm: f64,
    /// Windage, W/(rad/s)³.
    pub windage_w_per_radps3: f64,
}

impl Coefficients {
    /// Iron loss at a speed and a flux, W.
    #[inline]
    pub fn iron_w(&self, radps: f64, flux: f64) -> f64 {
        let (hysteresis, eddy) = iron_shares(flux);
        (self.hysteresis_w_per_radps * hysteresis + self.eddy_w_per_radps2 * eddy * radps) * radps
    }

    /// Windage and friction at a speed, W.
    #[inline]
    pub fn windage_w(&self, radps: f64) -> f64 {
        (self.friction_nm + self.windage_w_per_radps3 * radps * radps) * radps
    }

    /// All losses of what the machine does.
    #[inline]
    pub fn at(&self, point: &OperatingPoint, copper_factor: f64) -> MotorLoss {
        let current_a2 = point.current_a * point.current_a;
        MotorLoss {
            copper_w: self.copper_w_per_a2 * copper_factor * current_a2,
            iron_w: self.fixed_w + self.iron_w(point.radps, point.flux),
            windage_w: self.windage_w(point.radps),
        }
    }
}

/// What a weakened field leaves of hysteresis and eddy-current loss, `φ^1.6` and `φ²`.
#[inline]
fn iron_shares(flux: f64) -> (f64, f64) {
    if flux >= 1.0 {
        return (1.0, 1.0);
    }
    // The power of convection is 0.8, half of Steinmetz's.
    let root = convection_power(flux);
    (root * root, flux * flux)
}

/// A point of known efficiency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EfficiencyPoint {
    /// What the machine does there.
    pub at: OperatingPoint,
    /// Shaft power over electrical power.
    pub efficiency: f64,
}

/// Fits non-negative coefficients to points of known efficiency by least squares.
///
/// The loss at a point is `T·ω·(1/η − 1)`, and the terms are those of [`Coefficients`]. With few points only the first terms of copper, eddy,
/// hysteresis, windage are fitted, at most one term a point; a term that comes out negative is
/// dropped and the rest fitted anew (active set).
///
/// # Errors
/// [`Invalid`] with fewer than two points, a point without power, or an efficiency outside (0, 1).
pub fn fit(points: &[EfficiencyPoint]) -> Result<Coefficients, Invalid> {
    if points.len() < 2 {
        return Err(Invalid::new("points", points.len(), "at least two points of efficiency"));
    }
    for (i, p) in points.iter().enumerate() {
        if !(p.efficiency > 0.0 && p.efficiency < 1.0) {
            let field = format!("points[{i}].efficiency");
            return Err(Invalid::new(field, p.efficiency, "more than 0 and less than 1"));
        }
        let OperatingPoint { radps, torque_nm, .. } = p.at;
        if !(radps > 0.0 && torque_nm > 0.0) {
            let value = format!("{radps} rad/s, {torque_nm} N·m");
            return Err(Invalid::new(format!("points[{i}]"), value, "speed and torque above 0"));
        }
    }
    let terms: [fn(&OperatingPoint) -> f64; 4] = [
        |d| d.current_a * d.current_a,
        |d| d.radps * d.radps * iron_shares(d.flux).1,
        |d| d.radps * iron_shares(d.flux).0,
        |d| d.radps.powi(3),
    ];
    let loss = DVector::from_iterator(
        points.len(),
        points.iter().map(|p| p.at.torque_nm * p.at.radps * (1.0 / p.efficiency - 1.0)),
    );
    // Relative errors count alike, so each row is weighed by its loss.
    let ones = DVector::from_element(points.len(), 1.0);
    let mut active: Vec<usize> = (0..terms.len().min(points.len())).collect();
    let mut solution = [0.0; 4];
    while !active.is_empty() {
        let scale: Vec<f64> = active
            .iter()
            .map(|&t| points.iter().map(|p| terms[t](&p.at)).fold(0.0, f64::max).max(1e-300))
            .collect();
        let rows = DMatrix::from_fn(points.len(), active.len(), |r, c| {
            terms[active[c]](&points[r].at) / scale[c] / loss[r]
        });
        let found = rows
            .svd(true, true)
            .solve(&ones, 1e-12)
            .map_err(|e| Invalid::new("points", e, "points that determine the losses"))?;
        let worst = (0..active.len()).min_by(|&a, &b| found[a].total_cmp(&found[b]));
        match worst {
            Some(w) if found[w] < 0.0 => {
                active.remove(w);
            }
            _ => {
                for (c, &t) in active.iter().enumerate() {
                    solution[t] = found[c] / scale[c];
                }
                break;
            }
        }
    }
    Ok(Coefficients {
        copper_w_per_a2: solution[0],
        eddy_w_per_radps2: solution[1],
        hysteresis_w_per_radps: solution[2],
        windage_w_per_radps3: solution[3],
        ..Coefficients::default()
    })
}

/// Losses on a grid of speed × torque, bilinear between, from an efficiency map.
#[derive(Debug, Clone, PartialEq)]
pub struct LossMap {
    radps: Vec<f64>,
    torque_nm: Vec<f64>,
    loss_w: Vec<f64>,
    shares: Coefficients,
}

impl LossMap {
    /// From efficiencies at every crossing of rising speeds and torques (`rows[speed][torque]`).
    ///
    /// The loss `T·ω·(1/η − 1)` is what is interpolated: it is smooth where the efficiency is not.
    /// The edges at zero speed and zero torque come from coefficients fitted to the whole map;
    /// the same fit splits a loss of the map into copper, iron and windage.
    /// `point` says what the machine does at a torque and a speed.
    ///
    /// # Errors
    /// [`Invalid`] when axes do not rise from above zero, the grid is ragged or smaller than 2 × 2,
    /// or an efficiency is outside (0, 1).
    pub fn new(
        radps: &[f64],
        torque_nm: &[f64],
        rows: &[Vec<f64>],
        point: impl Fn(f64, f64) -> OperatingPoint,
    ) -> Result<Self, Invalid> {
        for (name, axis) in [("speed", radps), ("torque", torque_nm)] {
            let rises = axis.windows(2).all(|w| w[0] < w[1]);
            if axis.len() < 2 || axis[0] <= 0.0 || !rises || axis.iter().any(|v| !v.is_finite()) {
                let value = format!("{axis:?}");
                return Err(Invalid::new(name, value, "two or more rising values above 0"));
            }
        }
        if rows.len() != radps.len() || rows.iter().any(|r| r.len() != torque_nm.len()) {
            let value = format!("{} rows", rows.len());
            let allowed = format!("{} rows of {} values", radps.len(), torque_nm.len());
            return Err(Invalid::new("efficiency", value, allowed));
        }
        let points: Vec<EfficiencyPoint> = radps
            .iter()
            .zip(rows)
            .flat_map(|(&w, row)| torque_nm.iter().zip(row).map(move |(&t, &e)| (w, t, e)))
            .map(|(w, t, efficiency)| EfficiencyPoint { at: point(t, w), efficiency })
            .collect();
        let shares = fit(&points)?;
        let grid_radps: Vec<f64> = std::iter::once(0.0).chain(radps.iter().copied()).collect();
        let grid_nm: Vec<f64> = std::iter::once(0.0).chain(torque_nm.iter().copied()).collect();
        let mut loss_w = Vec::with_capacity(grid_radps.len() * grid_nm.len());
        for (i, &w) in grid_radps.iter().enumerate() {
            for (j, &t) in grid_nm.iter().enumerate() {
                loss_w.push(if i == 0 || j == 0 {
                    shares.at(&point(t, w), 1.0).total_w()
                } else {
                    t * w * (1.0 / rows[i - 1][j - 1] - 1.0)
                });
            }
        }
        Ok(Self { radps: grid_radps, torque_nm: grid_nm, loss_w, shares })
    }

    /// Loss at a speed and a torque, W; the edge cells go on beyond the grid.
    #[inline]
    pub fn loss_w(&self, torque_nm: f64, radps: f64) -> f64 {
        let cell = |axis: &[f64], at: f64| {
            let i = axis.partition_point(|v| *v <= at).clamp(1, axis.len() - 1) - 1;
            (i, (at - axis[i]) / (axis[i + 1] - axis[i]))
        };
        let (i, u) = cell(&self.radps, radps);
        let (j, v) = cell(&self.torque_nm, torque_nm.abs());
        let n = self.torque_nm.len();
        let low = self.loss_w[i * n + j] * (1.0 - v) + self.loss_w[i * n + j + 1] * v;
        let high = self.loss_w[(i + 1) * n + j] * (1.0 - v) + self.loss_w[(i + 1) * n + j + 1] * v;
        (low * (1.0 - u) + high * u).max(0.0)
    }

    /// Losses by origin: the map's loss is split in the proportions of its fit at the reference
    /// temperature, and its copper part then grows with temperature.
    #[inline(never)]
    fn at(&self, point: &OperatingPoint, copper_factor: f64) -> MotorLoss {
        let fitted = self.shares.at(point, 1.0);
        let scale = self.loss_w(point.torque_nm, point.radps) / fitted.total_w().max(1e-9);
        MotorLoss {
            copper_w: fitted.copper_w * scale * copper_factor,
            iron_w: fitted.iron_w * scale,
            windage_w: fitted.windage_w * scale,
        }
    }
}

/// Motor losses: by coefficients, or by a map with the coefficients fitted to it.
///
/// Not an enum: what lies in the place of the coefficients that it does not have may read as a
/// denormal number, and the compiler reckons ahead with it, at a hundred times the cost.
#[derive(Debug, Clone, PartialEq)]
pub struct Losses {
    coefficients: Coefficients,
    map: Option<LossMap>,
}

impl From<Coefficients> for Losses {
    fn from(coefficients: Coefficients) -> Self {
        Self { coefficients, map: None }
    }
}

impl From<LossMap> for Losses {
    fn from(map: LossMap) -> Self {
        Self { coefficients: map.shares, map: Some(map) }
    }
}

impl Losses {
    /// The coefficients, or those fitted to the map.
    #[inline]
    pub fn coefficients(&self) -> &Coefficients {
        &self.coefficients
    }

    /// Losses at an operating point, with the copper's resistance grown by a factor.
    #[inline]
    pub fn at(&self, point: &OperatingPoint, copper_factor: f64) -> MotorLoss {
        match &self.map {
            None => self.coefficients.at(point, copper_factor),
            Some(map) => map.at(point, copper_factor),
        }
    }
}
