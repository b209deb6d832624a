//! The traction motor.

mod heat;
mod losses;

pub use heat::{Cooling, InsulationClass, Nameplate, Nodes, ShortTime, ShortTimeLine};
pub use losses::{EfficiencyMap, EfficiencyPoint, LossCoefficients};

use heat::Size;
use losses::{KnownLosses, TORQUE_NM};

use crate::files::allowed::{Allowed, above, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath, only_one};
use crate::inputs::learnt_input::Spreads;
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::motor::{self, Envelope, Machine, Stand};
use sim_core::units;

/// The traction motor: what it can do, what it wastes, how it warms.
///
/// What it can do is either a `peak_torque_curve`, or `peak_torque_nm` with `peak_power_kw` or
/// `base_rpm`. What it wastes is one of `loss_coefficients`, `efficiency_points` and
/// `efficiency_map`. How it warms is either its `nameplate`, or `nodes`.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Motor {
    /// Where the JSON Schema of this file is.
    #[serde(rename = "$schema")]
    pub schema: Option<String>,
    /// What to call it.
    pub name: Option<String>,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// What it costs, in the currency of `money`.
    pub price: Option<f64>,
    /// How well its numbers are known, where they were learnt from a car.
    pub spreads: Option<Spreads>,
    /// What kind of machine it is.
    pub kind: Kind,
    /// Mass, kg.
    pub mass_kg: f64,
    /// Highest speed, rpm.
    pub max_rpm: f64,
    /// Direct voltage at the controller at which torque and power hold, V.
    pub reference_v: f64,
    /// Peak torque, N·m.
    pub peak_torque_nm: Option<f64>,
    /// Peak power, kW.
    pub peak_power_kw: Option<f64>,
    /// Speed up to which the peak torque holds, rpm; stands for `peak_power_kw`.
    pub base_rpm: Option<f64>,
    /// Power left at the highest speed, kW.
    pub power_at_max_rpm_kw: Option<f64>,
    /// Power left at the highest speed, % of the peak power.
    pub power_at_max_rpm_pct: Option<f64>,
    /// Peak torque against speed.
    pub peak_torque_curve: Option<Vec<TorquePoint>>,
    /// Motor current at peak torque, A (root mean square for alternating current).
    pub peak_current_a: f64,
    /// Magnetising current of an induction motor, A.
    pub magnetising_current_a: Option<f64>,
    /// Current at which the iron of a series motor is half saturated, A.
    pub saturation_current_a: Option<f64>,
    /// Voltage drop of the brushes of a series motor, V.
    pub brush_drop_v: Option<f64>,
    /// Peak torque of regen over that of driving, %.
    pub regen_share_pct: Option<f64>,
    /// Losses by coefficients.
    pub loss_coefficients: Option<LossCoefficients>,
    /// Losses from a few points of known efficiency.
    pub efficiency_points: Option<Vec<EfficiencyPoint>>,
    /// Losses from an efficiency map.
    pub efficiency_map: Option<EfficiencyMap>,
    /// Winding temperature for which the losses are stated, °C.
    pub losses_at_c: Option<f64>,
    /// Heat, from the nameplate.
    pub nameplate: Option<Nameplate>,
    /// Heat, as a network of two nodes.
    pub nodes: Option<Nodes>,
    /// Mean winding temperature at which the torque begins to be cut back, °C.
    pub warning_c: Option<f64>,
    /// Mean winding temperature at which no torque is left, °C.
    pub cut_off_c: Option<f64>,
    /// Moment of inertia of the rotor, kg·m².
    pub rotor_inertia_kg_m2: Option<f64>,
}

/// Kind of machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Squirrel-cage induction motor.
    Induction,
    /// Permanent-magnet synchronous motor.
    PermanentMagnet,
    /// Series-wound direct-current motor; it makes no regen.
    SeriesDc,
}

/// Peak torque at a speed.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TorquePoint {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Shaft speed, rpm.
    pub rpm: f64,
    /// Torque, N·m.
    pub nm: f64,
}

const POWER_KW: Allowed = above(0.0, 1000.0);

impl Motor {
    /// The motor that the simulation drives with.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<motor::Motor, Fault> {
        let mass_kg = at.number("mass_kg", self.mass_kg, within(0.5, 1000.0))?;
        let max_rpm = at.number("max_rpm", self.max_rpm, within(500.0, 3e4))?;
        let reference_v = at.number("reference_v", self.reference_v, within(6.0, 1500.0))?;
        let max_radps = units::radps_from_rpm(max_rpm);
        let envelope = self.envelope(at, max_radps, reference_v, assumptions)?;
        let peak_nm = envelope.largest_nm();
        let peak_current_a =
            at.number("peak_current_a", self.peak_current_a, above(0.0, 5000.0))?;
        let (kind, current_a_per_nm) = self.kind(at, peak_nm, peak_current_a, assumptions)?;
        let regen_share = self.regen_share(at, assumptions)?;
        let losses_at_c = at.assumed(
            "losses_at_c",
            self.losses_at_c,
            within(-40.0, 250.0),
            usual(80.0, "°C", "a motor at work"),
            assumptions,
        )?;
        // A rotor of a third of the mass, as a cylinder that grows with the motor.
        let cylinder_kg_m2 = 0.035 * (mass_kg / 50.0).powf(5.0 / 3.0);
        let rotor_inertia_kg_m2 = at.assumed(
            "rotor_inertia_kg_m2",
            self.rotor_inertia_kg_m2,
            within(1e-5, 10.0),
            usual(cylinder_kg_m2, "kg·m²", "0.035 kg·m² for 50 kg, growing as mass^(5/3)"),
            assumptions,
        )?;
        let class = self.nameplate.as_ref().map(|plate| plate.insulation_class);
        let derating = heat::derating(at, self.warning_c, self.cut_off_c, class, assumptions)?;
        let machine = Machine { kind, envelope, current_a_per_nm, peak_current_a };
        let known = KnownLosses {
            coefficients: self.loss_coefficients.as_ref(),
            points: self.efficiency_points.as_deref(),
            map: self.efficiency_map.as_ref(),
        };
        let losses = known.losses(at, &machine)?;
        let loss_reference_k = units::k_from_c(losses_at_c);
        let thermal = match (&self.nameplate, &self.nodes) {
            (Some(_), Some(_)) => {
                return Err(at.refuse("nodes", "given beside nameplate", "only one of the two"));
            }
            (None, Some(nodes)) => nodes.model(&at.field("nodes"))?,
            (Some(plate), None) => {
                let plate_at = at.field("nameplate");
                let size = Size { mass_kg, max_rpm };
                let sheet = plate.sheet(&plate_at, size, &machine.envelope, assumptions)?;
                let stand = Stand { machine: &machine, losses: &losses, loss_reference_k, sheet };
                stand.thermal().map_err(|why| Nameplate::impossible(&plate_at, why))?
            }
            (None, None) => return Err(at.demand("nameplate", "nameplate or nodes")),
        };
        Ok(motor::Motor {
            machine,
            regen_share,
            losses,
            loss_reference_k,
            thermal,
            derating,
            rotor_inertia_kg_m2,
            max_radps,
        })
    }

    /// What its nameplate's short-time rating comes to, of the motor made from this file.
    pub fn short_time(&self, motor: &motor::Motor) -> Option<ShortTimeLine> {
        let size = Size { mass_kg: self.mass_kg, max_rpm: self.max_rpm };
        ShortTimeLine::of(self.nameplate.as_ref()?, size, motor)
    }

    /// What the file says of the motor made from it and no motor can hold, each in one sentence.
    pub(crate) fn doubts(&self, motor: &motor::Motor) -> Vec<String> {
        let mut doubts: Vec<String> =
            self.short_time(motor).and_then(|s| s.doubt()).into_iter().collect();
        doubts.extend(self.cut_back_at_rating(motor));
        doubts.extend(volts_lacking(motor));
        doubts
    }

    /// That it cuts back below what its continuous rating settles at.
    fn cut_back_at_rating(&self, motor: &motor::Motor) -> Option<String> {
        let plate = self.nameplate.as_ref()?;
        let settles_c = plate.insulation_class.settles_c();
        let warning_c = units::c_from_k(motor.derating.warning_k);
        (warning_c < settles_c - 1e-6).then(|| {
            format!(
                "The motor is cut back from {warning_c:.0} °C, and at its continuous rating of \
                 {:.1} kW its winding settles at {settles_c:.0} °C: it cannot hold its own rating.",
                plate.continuous_power_kw
            )
        })
    }

    fn envelope(
        &self,
        at: &FieldPath,
        max_radps: f64,
        reference_v: f64,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<Envelope, Fault> {
        if let Some(points) = &self.peak_torque_curve {
            let others = [
                ("peak_torque_nm", self.peak_torque_nm.is_some()),
                ("peak_power_kw", self.peak_power_kw.is_some()),
                ("base_rpm", self.base_rpm.is_some()),
                ("power_at_max_rpm_kw", self.power_at_max_rpm_kw.is_some()),
                ("power_at_max_rpm_pct", self.power_at_max_rpm_pct.is_some()),
            ];
            if let Some((other, _)) = others.iter().find(|o| o.1) {
                let value = "given beside peak_torque_curve";
                return Err(at.refuse(other, value, "only one of the two"));
            }
            let points = at.curve(
                "peak_torque_curve",
                points.iter().map(|p| (p.rpm, p.nm)),
                ("rpm", within(0.0, 3e4)),
                ("nm", within(0.0, 5000.0)),
            )?;
            let last_rpm = points[points.len() - 1].0;
            if last_rpm <= 0.0 {
                let allowed = "a last point above 0 rpm";
                return Err(at.refuse("peak_torque_curve", "a point at 0 rpm alone", allowed));
            }
            if points.iter().all(|p| p.1 < 0.1) {
                let allowed = "at least 0.1 N·m somewhere";
                return Err(at.refuse("peak_torque_curve", "without torque", allowed));
            }
            let points: Vec<_> =
                points.iter().map(|(rpm, nm)| (units::radps_from_rpm(*rpm), *nm)).collect();
            return Envelope::from_points(&points, reference_v)
                .map_err(|e| at.impossible("peak_torque_curve", &e));
        }
        let needed = "peak_torque_nm with peak_power_kw or base_rpm, or a peak_torque_curve";
        let peak_nm = at.required("peak_torque_nm", self.peak_torque_nm, TORQUE_NM, needed)?;
        let peak_kw = at.optional("peak_power_kw", self.peak_power_kw, POWER_KW)?;
        let base_rpm = at.optional("base_rpm", self.base_rpm, within(10.0, 3e4))?;
        let ways = [("peak_power_kw", peak_kw.is_some()), ("base_rpm", base_rpm.is_some())];
        let Some(way) = only_one(at, &ways)? else {
            return Err(at.demand("peak_power_kw", needed));
        };
        let peak_w = match (peak_kw, base_rpm) {
            (Some(kw), _) => units::w_from_kw(kw),
            (None, rpm) => peak_nm * units::radps_from_rpm(rpm.unwrap_or_default()),
        };
        if peak_w / peak_nm > 0.999 * max_radps {
            let value = match (peak_kw, base_rpm) {
                (Some(kw), _) => kw,
                (None, rpm) => rpm.unwrap_or_default(),
            };
            let most = units::kw_from_w(peak_nm * max_radps);
            let allowed = if way == "base_rpm" {
                format!("less than max_rpm, {}", self.max_rpm)
            } else {
                format!("less than peak torque times max_rpm, {most:.1}")
            };
            return Err(at.refuse(way, value, allowed));
        }
        let end_kw = at.optional("power_at_max_rpm_kw", self.power_at_max_rpm_kw, POWER_KW)?;
        let pct =
            at.optional("power_at_max_rpm_pct", self.power_at_max_rpm_pct, above(0.0, 100.0))?;
        let ways =
            [("power_at_max_rpm_kw", end_kw.is_some()), ("power_at_max_rpm_pct", pct.is_some())];
        only_one(at, &ways)?;
        let end_w = match (end_kw, pct) {
            (Some(kw), _) => {
                let end_w = units::w_from_kw(kw);
                if end_w > peak_w * 1.000_001 {
                    let allowed = format!("at most the peak power, {}", units::kw_from_w(peak_w));
                    return Err(at.refuse("power_at_max_rpm_kw", kw, allowed));
                }
                end_w.min(peak_w)
            }
            (None, Some(pct)) => peak_w * units::share_from_pct(pct),
            (None, None) => {
                let reason = "field weakening as in most motors of this kind";
                assumptions.push(at.assume("power_at_max_rpm_pct", usual(60.0, "%", reason)));
                peak_w * units::share_from_pct(60.0)
            }
        };
        Ok(Envelope::from_nameplate(peak_nm, peak_w, end_w, max_radps, reference_v))
    }

    /// Kind of machine, and current per torque below base speed.
    fn kind(
        &self,
        at: &FieldPath,
        peak_nm: f64,
        peak_a: f64,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<(motor::Kind, f64), Fault> {
        let only_of = |name: &str, given: bool, kind: Kind, word: &str| {
            if given && self.kind != kind {
                let allowed = format!("this only in a motor of kind {word}");
                return Err(at.refuse(name, "given", allowed));
            }
            Ok(())
        };
        let magnetising = self.magnetising_current_a;
        only_of("magnetising_current_a", magnetising.is_some(), Kind::Induction, "induction")?;
        let saturation = self.saturation_current_a;
        only_of("saturation_current_a", saturation.is_some(), Kind::SeriesDc, "series_dc")?;
        only_of("brush_drop_v", self.brush_drop_v.is_some(), Kind::SeriesDc, "series_dc")?;
        match self.kind {
            Kind::PermanentMagnet => Ok((motor::Kind::PermanentMagnet, peak_a / peak_nm)),
            Kind::Induction => {
                let magnetising_a = at.assumed(
                    "magnetising_current_a",
                    magnetising,
                    within(0.0, 0.9 * peak_a),
                    usual(0.2 * peak_a, "A", "a fifth of the peak current"),
                    assumptions,
                )?;
                let torque_a = (peak_a * peak_a - magnetising_a * magnetising_a).sqrt();
                Ok((motor::Kind::Induction { magnetising_a }, torque_a / peak_nm))
            }
            Kind::SeriesDc => {
                let saturation_a = at.assumed(
                    "saturation_current_a",
                    saturation,
                    within(0.01 * peak_a, 100.0 * peak_a),
                    usual(0.3 * peak_a, "A", "three tenths of the peak current"),
                    assumptions,
                )?;
                let brush_v = at.assumed(
                    "brush_drop_v",
                    self.brush_drop_v,
                    within(0.0, 5.0),
                    usual(1.5, "V", "two carbon brushes in line"),
                    assumptions,
                )?;
                Ok((motor::Kind::SeriesDc { saturation_a, brush_v }, peak_a / peak_nm))
            }
        }
    }

    fn regen_share(&self, at: &FieldPath, assumptions: &mut Vec<Assumption>) -> Result<f64, Fault> {
        let series = self.kind == Kind::SeriesDc;
        let range = within(0.0, if series { 0.0 } else { 100.0 });
        let pct = match self.regen_share_pct {
            Some(pct) => at.number("regen_share_pct", pct, range)?,
            None if series => 0.0,
            None => {
                let reason = "an alternating-current motor brakes as hard as it drives";
                assumptions.push(at.assume("regen_share_pct", usual(100.0, "%", reason)));
                100.0
            }
        };
        Ok(units::share_from_pct(pct))
    }
}

/// That the torque curve of a series motor asks for more volts than those at which it is said to
/// hold: how much at most, and where.
fn volts_lacking(motor: &motor::Motor) -> Option<String> {
    let reference_v = motor.machine.envelope.reference_v;
    let asked = |i: u32| {
        let radps = motor.max_radps * f64::from(i) / 200.0;
        let torque_nm = motor.machine.envelope.peak_at_nm(radps);
        let point = motor.operating_point(torque_nm, radps, reference_v);
        let volts = motor.machine.terminal_v(&point, &motor.loss(&point, 1.0))?;
        Some((volts, radps, torque_nm))
    };
    let (volts, radps, torque_nm) =
        (1..=200).filter_map(asked).max_by(|one, other| one.0.total_cmp(&other.0))?;
    // A curve is read from a drawing to a few hundredths.
    (volts > 1.03 * reference_v).then(|| {
        format!(
            "At {:.0} rpm the motor's curve of peak torque asks {volts:.0} V for {torque_nm:.0} N·m, \
             and it is said to hold at {reference_v:.0} V: the simulation gives the torque that the \
             volts allow.",
            units::rpm_from_radps(radps)
        )
    })
}
