//! How the motor warms, from its nameplate or as a network of two nodes.

use crate::files::allowed::{Allowed, above, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath, only_one};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use sim_core::Invalid;
use sim_core::controller::Derating;
use sim_core::cooling::{self, CONVECTION_EXPONENT};
use sim_core::motor::{
    self, Envelope, LEAST_HEAT_J_PER_KG_K, MOST_HEAT_J_PER_KG_K, Rating, ShortRating, Stand,
    Thermal, ThermalSheet, USUAL_HEAT_J_PER_KG_K,
};
use sim_core::units;

/// What the nameplate says of heat.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Nameplate {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Continuous power, duty type S1, kW: cooling is found from it.
    pub continuous_power_kw: f64,
    /// Speed of that power, rpm.
    pub continuous_rpm: f64,
    /// A power that it gives for some time from cold, duty type S2: checked against the continuous
    /// power and the mass, and used for nothing else.
    pub short_time: Option<ShortTime>,
    /// Class of the insulation.
    pub insulation_class: InsulationClass,
    /// Air temperature of the ratings, °C.
    pub ambient_c: Option<f64>,
    /// Direct voltage of the ratings, V.
    pub rated_v: Option<f64>,
    /// How it is cooled.
    pub cooling: Cooling,
    /// Coolant temperature of the ratings, °C; only with liquid cooling. In the drive the coolant is
    /// as warm as heat and radiator make it.
    pub coolant_c: Option<f64>,
    /// Share of the cooling at the continuous rating that still air gives, %; only with a fan.
    pub still_air_share_pct: Option<f64>,
    /// Cooling that the road's air adds at 100 km/h, % of that at the continuous rating.
    pub road_air_share_pct: Option<f64>,
    /// Share of the winding's rise that lies between winding and housing, %.
    pub winding_rise_share_pct: Option<f64>,
    /// Specific heat of the motor as a whole, J/(kg·K): more with much aluminium.
    pub specific_heat_j_per_kg_k: Option<f64>,
}

/// A short-time rating.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShortTime {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Power, kW.
    pub power_kw: f64,
    /// Speed, rpm; left out, that of the continuous rating.
    pub rpm: Option<f64>,
    /// For how long, min.
    pub minutes: f64,
}

/// Thermal class of the insulation (IEC 60085): what its hottest spot bears. By IEC 60034-1 the mean
/// of the winding settles below that at the continuous rating.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
pub enum InsulationClass {
    /// 130 °C, and a mean of 120 °C at the continuous rating.
    B,
    /// 155 °C, and a mean of 145 °C at the continuous rating.
    F,
    /// 180 °C, and a mean of 165 °C at the continuous rating.
    H,
}

/// How the motor is cooled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Cooling {
    /// Air, moved by a fan on the shaft.
    ShaftFan,
    /// Air, moved by nothing but the road.
    None,
    /// A coolant with a radiator.
    Liquid,
}

/// The two nodes: winding and housing.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Nodes {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Heat capacity of the winding, kJ/K.
    pub winding_kj_per_k: f64,
    /// Heat capacity of housing and iron, kJ/K.
    pub housing_kj_per_k: f64,
    /// Conductance from winding to housing, W/K.
    pub winding_to_housing_w_per_k: f64,
    /// Conductance from the housing to still air, W/K.
    pub still_air_w_per_k: Option<f64>,
    /// Conductance that the fan on the shaft adds at 1000 rpm, W/K.
    pub fan_w_per_k_at_1000_rpm: Option<f64>,
    /// Conductance that the road's air adds at 100 km/h, W/K.
    pub road_air_w_per_k_at_100_kmh: Option<f64>,
    /// Conductance from the housing to a coolant, W/K.
    pub coolant_w_per_k: Option<f64>,
    /// Coolant temperature for which the radiator is laid out, °C.
    pub coolant_c: Option<f64>,
}

impl InsulationClass {
    /// Temperature of the class, °C (IEC 60085).
    pub fn temperature_c(self) -> f64 {
        match self {
            InsulationClass::B => 130.0,
            InsulationClass::F => 155.0,
            InsulationClass::H => 180.0,
        }
    }

    /// Mean temperature of the winding at the continuous rating, °C: 40 °C of air and the limit of
    /// the rise by resistance, B 80 K, F 105 K, H 125 K, which moves the other way in other air
    /// (IEC 60034-1, from memory). What is left to the class is for the hottest spot.
    pub(super) fn settles_c(self) -> f64 {
        match self {
            InsulationClass::B => 120.0,
            InsulationClass::F => 145.0,
            InsulationClass::H => 165.0,
        }
    }

    /// Mean temperature of the winding at the end of a short-time rating, °C: its limits are 10 K
    /// above those of a continuous one (IEC 60034-1, machines under 5 MW, from memory).
    fn short_time_c(self) -> f64 {
        self.settles_c() + 10.0
    }
}

const COOLANT_C: Allowed = within(-20.0, 120.0);

/// Where a motor begins to cut back and where it stops, by the temperature of its winding.
///
/// The default warns at the temperature of the class, which lies above what the continuous rating
/// settles at and not below what the short-time rating may end at, and cuts off 15 K above it.
pub(super) fn derating(
    at: &FieldPath,
    warning_c: Option<f64>,
    cut_off_c: Option<f64>,
    class: Option<InsulationClass>,
    assumptions: &mut Vec<Assumption>,
) -> Result<Derating, Fault> {
    let range = within(0.0, 300.0);
    let warning_c = match class.map(InsulationClass::temperature_c) {
        Some(class_c) => {
            let usual = usual(class_c, "°C", "the temperature of the insulation class");
            at.assumed("warning_c", warning_c, range, usual, assumptions)?
        }
        None => {
            let needed = "the winding temperature at which torque is cut back, as there is no \
                          nameplate with an insulation class";
            at.required("warning_c", warning_c, range, needed)?
        }
    };
    let usual = usual(warning_c + 15.0, "°C", "15 K above the warning");
    let cut_off_c = at.assumed("cut_off_c", cut_off_c, range, usual, assumptions)?;
    if cut_off_c < warning_c + 1.0 {
        let allowed = format!("at least 1 more than warning_c, {warning_c}");
        return Err(at.refuse("cut_off_c", cut_off_c, allowed));
    }
    Ok(Derating { warning_k: units::k_from_c(warning_c), cut_off_k: units::k_from_c(cut_off_c) })
}

/// How large and how fast a motor is, as its file says.
#[derive(Debug, Clone, Copy)]
pub(super) struct Size {
    pub(super) mass_kg: f64,
    pub(super) max_rpm: f64,
}

impl Nameplate {
    /// A refusal of what the nameplate says, in the words of its fields.
    pub(super) fn impossible(at: &FieldPath, why: Invalid) -> Fault {
        at.refuse("insulation_class", why.value, why.allowed)
    }

    /// A load that the motor can carry at all.
    fn rating(
        at: &FieldPath,
        (name, kw): (&str, f64),
        (rpm_name, rpm): (&str, f64),
        envelope: &Envelope,
        max_rpm: f64,
    ) -> Result<Rating, Fault> {
        let power_w = units::w_from_kw(at.number(name, kw, above(0.0, 1000.0))?);
        let radps = units::radps_from_rpm(at.number(rpm_name, rpm, within(10.0, max_rpm))?);
        let torque_nm = power_w / radps;
        let peak_nm = envelope.peak_at_nm(radps);
        if torque_nm > peak_nm * 1.001 {
            let most = units::kw_from_w(peak_nm * radps);
            let allowed = format!("at most the peak at that speed, {most:.2}");
            return Err(at.refuse(name, kw, allowed));
        }
        Ok(Rating { torque_nm, radps })
    }

    /// The short-time line, if there is one.
    fn short(
        &self,
        at: &FieldPath,
        envelope: &Envelope,
        max_rpm: f64,
    ) -> Result<Option<ShortRating>, Fault> {
        let Some(short) = &self.short_time else {
            return Ok(None);
        };
        let at = at.field("short_time");
        let rpm = short.rpm.unwrap_or(self.continuous_rpm);
        let power = ("power_kw", short.power_kw);
        Ok(Some(ShortRating {
            rating: Self::rating(&at, power, ("rpm", rpm), envelope, max_rpm)?,
            for_s: units::s_from_min(at.number("minutes", short.minutes, within(0.1, 600.0))?),
        }))
    }

    /// What the nameplate says, of a motor of this size and torque.
    pub(super) fn sheet(
        &self,
        at: &FieldPath,
        size: Size,
        envelope: &Envelope,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<ThermalSheet, Fault> {
        let continuous = Self::rating(
            at,
            ("continuous_power_kw", self.continuous_power_kw),
            ("continuous_rpm", self.continuous_rpm),
            envelope,
            size.max_rpm,
        )?;
        self.short(at, envelope, size.max_rpm)?;
        let liquid = self.cooling == Cooling::Liquid;
        let mut take =
            |name, value, allowed, usual| at.assumed(name, value, allowed, usual, assumptions);
        let only_with = |name: &str, given: bool, fits: bool, word: &str| {
            if given && !fits {
                return Err(at.refuse(name, "given", format!("this only with {word}")));
            }
            Ok(())
        };
        only_with("coolant_c", self.coolant_c.is_some(), liquid, "liquid cooling")?;
        only_with("ambient_c", self.ambient_c.is_some(), !liquid, "air cooling")?;
        let fan = self.cooling == Cooling::ShaftFan;
        let still = self.still_air_share_pct;
        only_with("still_air_share_pct", still.is_some(), fan, "a shaft fan")?;
        let road = self.road_air_share_pct;
        only_with("road_air_share_pct", road.is_some(), !liquid, "air cooling")?;
        let (ambient_c, still_share, road_share) = if liquid {
            let reason = "a small radiator in summer";
            (take("coolant_c", self.coolant_c, COOLANT_C, usual(50.0, "°C", reason))?, 1.0, 0.0)
        } else {
            let reason = "air temperature of ratings in IEC 60034-1 (from memory)";
            let range = within(0.0, 80.0);
            let ambient_c = take("ambient_c", self.ambient_c, range, usual(40.0, "°C", reason))?;
            let still_share = if fan {
                let reason = "common practice for a motor with a fan on its shaft";
                let share = within(1.0, 100.0);
                take("still_air_share_pct", still, share, usual(30.0, "%", reason))?
            } else {
                100.0
            };
            let reason = "common practice for a motor under a bonnet";
            let road =
                take("road_air_share_pct", road, within(0.0, 500.0), usual(30.0, "%", reason))?;
            (ambient_c, units::share_from_pct(still_share), units::share_from_pct(road))
        };
        let winding_share = take(
            "winding_rise_share_pct",
            self.winding_rise_share_pct,
            within(5.0, 95.0),
            usual(35.0, "%", "common practice for a winding in a closed housing"),
        )?;
        let specific_heat_j_per_kg_k = take(
            "specific_heat_j_per_kg_k",
            self.specific_heat_j_per_kg_k,
            within(LEAST_HEAT_J_PER_KG_K, MOST_HEAT_J_PER_KG_K),
            usual(USUAL_HEAT_J_PER_KG_K, "J/(kg·K)", "iron with some copper and aluminium"),
        )?;
        let settles_c = self.insulation_class.settles_c();
        if ambient_c >= settles_c - 5.0 {
            let name = if liquid { "coolant_c" } else { "ambient_c" };
            let allowed =
                format!("well below the {settles_c} °C at which the continuous rating settles");
            return Err(at.refuse(name, ambient_c, allowed));
        }
        let rated_v = at.optional("rated_v", self.rated_v, within(6.0, 1500.0))?;
        Ok(ThermalSheet {
            continuous,
            settles_k: units::k_from_c(settles_c),
            ambient_k: units::k_from_c(ambient_c),
            volts: rated_v.unwrap_or(envelope.reference_v),
            mass_kg: size.mass_kg,
            specific_heat_j_per_kg_k,
            winding_share: units::share_from_pct(winding_share),
            still_share,
            road_air_share: road_share,
            coolant_k: liquid.then(|| units::k_from_c(ambient_c)),
        })
    }
}

/// What a short-time rating comes to by the continuous one and the motor's mass.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ShortTimeLine {
    /// The power, kW.
    pub power_kw: f64,
    /// For how long it is stated, min.
    pub minutes: f64,
    /// Mean temperature of the winding up to which it is meant, °C.
    pub limit_c: f64,
    /// Temperature of the winding after the stated time, °C.
    pub winding_c: f64,
    /// Time after which it is at the limit, min; `null`: never.
    pub lasts_min: Option<f64>,
    /// Heat that a kilogram of the motor would have to hold for it to last just the stated time,
    /// J/(kg·K); 0 where it lasts anyhow, `null` where no amount would do.
    pub needs_j_per_kg_k: Option<f64>,
    /// Whether iron, copper and aluminium hold that much.
    pub believed: bool,
}

impl ShortTimeLine {
    /// Of a nameplate and the motor of this size that was made from it.
    pub(super) fn of(plate: &Nameplate, size: Size, motor: &motor::Motor) -> Option<Self> {
        let (machine, root) = (&motor.machine, &FieldPath::ROOT);
        let sheet = plate.sheet(root, size, &machine.envelope, &mut Vec::new()).ok()?;
        let short = plate.short(root, &machine.envelope, size.max_rpm).ok()??;
        let limit_c = plate.insulation_class.short_time_c();
        let stand = Stand {
            machine,
            losses: &motor.losses,
            loss_reference_k: motor.loss_reference_k,
            sheet,
        };
        let run = stand.short_run(&short, units::k_from_c(limit_c)).ok()?;
        Some(Self {
            power_kw: units::kw_from_w(short.rating.torque_nm * short.rating.radps),
            minutes: units::min_from_s(short.for_s),
            limit_c,
            winding_c: units::c_from_k(run.end_k),
            lasts_min: run.lasts_s.map(units::min_from_s),
            needs_j_per_kg_k: Some(run.needs_j_per_kg_k).filter(|needs| needs.is_finite()),
            believed: run.needs_j_per_kg_k <= MOST_HEAT_J_PER_KG_K,
        })
    }

    /// Why it is not believed, in one sentence.
    pub(super) fn doubt(&self) -> Option<String> {
        if self.believed {
            return None;
        }
        let lasts = self.lasts_min?;
        let needs = match self.needs_j_per_kg_k {
            Some(needs) => format!("each kilogram would have to hold {needs:.0} J/K"),
            None => "no amount of iron would do".to_owned(),
        };
        Some(format!(
            "The nameplate's {:.1} kW for {:.0} min are not believed: beside its continuous rating \
             the motor bears them for {lasts:.0} min. For more {needs}, and a motor holds \
             {LEAST_HEAT_J_PER_KG_K:.0} to {MOST_HEAT_J_PER_KG_K:.0}.",
            self.power_kw, self.minutes
        ))
    }
}

impl Nodes {
    pub(super) fn model(&self, at: &FieldPath) -> Result<Thermal, Fault> {
        let capacity = above(0.0, 1000.0);
        let conductance = within(0.0, 5000.0);
        let still = at.optional("still_air_w_per_k", self.still_air_w_per_k, conductance)?;
        let fan =
            at.optional("fan_w_per_k_at_1000_rpm", self.fan_w_per_k_at_1000_rpm, conductance)?;
        let road = at.optional(
            "road_air_w_per_k_at_100_kmh",
            self.road_air_w_per_k_at_100_kmh,
            conductance,
        )?;
        let coolant = at.optional("coolant_w_per_k", self.coolant_w_per_k, conductance)?;
        let ways = [
            ("coolant_w_per_k", coolant.is_some() || self.coolant_c.is_some()),
            ("still_air_w_per_k", still.is_some() || fan.is_some() || road.is_some()),
        ];
        if only_one(at, &ways)?.is_none() {
            let needed = "still_air_w_per_k, or coolant_w_per_k with coolant_c";
            return Err(at.demand("still_air_w_per_k", needed));
        }
        let cooling = if coolant.is_some() || self.coolant_c.is_some() {
            let needed = "coolant_w_per_k and coolant_c together";
            cooling::Cooling::Liquid {
                conductance_w_per_k: at.required(
                    "coolant_w_per_k",
                    coolant,
                    above(0.0, 5000.0),
                    needed,
                )?,
                rated_coolant_k: units::k_from_c(at.required(
                    "coolant_c",
                    self.coolant_c,
                    COOLANT_C,
                    needed,
                )?),
            }
        } else {
            let per_08 = |x: f64| x.powf(CONVECTION_EXPONENT);
            cooling::Cooling::Air {
                still_w_per_k: at.required(
                    "still_air_w_per_k",
                    still,
                    above(0.0, 5000.0),
                    "the conductance to still air",
                )?,
                fan_w_per_k: fan.unwrap_or(0.0) / per_08(units::radps_from_rpm(1000.0)),
                road_w_per_k: road.unwrap_or(0.0) / per_08(units::mps_from_kmh(100.0)),
            }
        };
        Ok(Thermal {
            winding_j_per_k: units::j_from_kj(at.number(
                "winding_kj_per_k",
                self.winding_kj_per_k,
                above(0.0, 1000.0),
            )?)
            .max(1.0),
            housing_j_per_k: units::j_from_kj(at.number(
                "housing_kj_per_k",
                self.housing_kj_per_k,
                capacity,
            )?)
            .max(1.0),
            winding_to_housing_w_per_k: at.number(
                "winding_to_housing_w_per_k",
                self.winding_to_housing_w_per_k,
                above(0.0, 5000.0),
            )?,
            cooling,
            thin_air: cooling::ThinAir::ByDensity,
        })
    }
}
