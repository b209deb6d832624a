//! The most torque a motor gives at a speed and a voltage.

use crate::{Curve, Invalid};

/// Peak torque against shaft speed at the reference voltage.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// From the nameplate: constant torque, then power that falls on a straight line.
    Nameplate {
        /// Peak torque, N·m.
        peak_nm: f64,
        /// Peak power, W.
        peak_w: f64,
        /// Fall of the power above base speed, W/(rad/s).
        fall_w_per_radps: f64,
    },
    /// Points (rad/s, N·m).
    Points(Curve),
}

/// A peak torque curve that stretches with voltage.
#[derive(Debug, Clone, PartialEq)]
pub struct Envelope {
    /// The curve at the reference voltage.
    pub shape: Shape,
    /// Direct voltage at the controller's input at which the curve holds, V.
    pub reference_v: f64,
    /// Speed at which the field begins to weaken at the reference voltage, rad/s.
    pub base_radps: f64,
}

impl Envelope {
    /// From a nameplate, with the power left at the highest speed; base speed is `ω_b = P/T`.
    pub fn from_nameplate(
        peak_nm: f64,
        peak_w: f64,
        end_w: f64,
        max_radps: f64,
        reference_v: f64,
    ) -> Self {
        let base_radps = peak_w / peak_nm;
        let fall_w_per_radps = (peak_w - end_w) / (max_radps - base_radps);
        Self {
            shape: Shape::Nameplate { peak_nm, peak_w, fall_w_per_radps },
            reference_v,
            base_radps,
        }
    }

    /// From points; base speed is the last one at which at least 98 % of the peak is left.
    ///
    /// # Errors
    /// [`Invalid`] when the points do not rise in speed, a torque is negative, or all are zero.
    pub fn from_points(points: &[(f64, f64)], reference_v: f64) -> Result<Self, Invalid> {
        let curve = Curve::new(points)?;
        if let Some((_, t)) = curve.points().find(|p| p.1 < 0.0) {
            return Err(Invalid::new("torque", t, "0 or more"));
        }
        let peak = curve.peak();
        if peak <= 0.0 {
            return Err(Invalid::new("torque", peak, "more than 0 somewhere"));
        }
        let plateau =
            curve.points().filter(|p| p.1 >= 0.98 * peak).map(|p| p.0).fold(0.0, f64::max);
        let base_radps = if plateau > 0.0 { plateau } else { curve.span().1 };
        Ok(Self { shape: Shape::Points(curve), reference_v, base_radps })
    }

    /// Peak torque at a speed and a voltage, N·m: `T(ω, V) = T_ref(ω·V_ref/V)`.
    ///
    /// The speed at which a machine runs out of voltage goes with the voltage, so the curve
    /// stretches along the speed axis. Beyond the last point it holds the power of that point.
    /// Source: constant flux up to base speed (common practice, no source).
    #[inline]
    pub fn peak_nm(&self, radps: f64, volts: f64) -> f64 {
        self.peak_at_nm(radps * self.reference_v / volts.max(1e-3))
    }

    /// Peak torque at a speed scaled to the reference voltage, `ω·V_ref/V`, N·m.
    #[inline]
    pub fn peak_at_nm(&self, at: f64) -> f64 {
        match &self.shape {
            Shape::Nameplate { peak_nm, peak_w, fall_w_per_radps } => {
                if at <= self.base_radps {
                    *peak_nm
                } else {
                    (peak_w - fall_w_per_radps * (at - self.base_radps)).max(0.0) / at
                }
            }
            Shape::Points(curve) => stretched(curve, at),
        }
    }

    /// The largest torque of the curve, N·m.
    pub fn largest_nm(&self) -> f64 {
        match &self.shape {
            Shape::Nameplate { peak_nm, .. } => *peak_nm,
            Shape::Points(curve) => curve.peak(),
        }
    }

    /// The largest power of the curve at the reference voltage, W, by its points (a straight line
    /// of torque has its largest power at a point or inside; a fine scan finds the latter).
    pub fn largest_w(&self) -> f64 {
        match &self.shape {
            Shape::Nameplate { peak_w, .. } => *peak_w,
            Shape::Points(curve) => {
                let end = curve.span().1;
                (0..=1000)
                    .map(|i| end * f64::from(i) / 1000.0)
                    .map(|radps| radps * curve.at(radps))
                    .fold(0.0, f64::max)
            }
        }
    }
}

/// A torque curve that holds the power of its last point beyond it.
#[inline(never)]
fn stretched(curve: &Curve, at: f64) -> f64 {
    let end = curve.span().1;
    curve.at(at) * if at > end { end / at } else { 1.0 }
}
