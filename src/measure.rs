//! Quantities as people read them, metric or in US units.

use scenarios::units;
pub use scenarios::words::{clock, number, ordinal};

/// A difference with its sign.
pub fn signed(value: f64, decimals: usize) -> String {
    let shown = number(value.abs(), decimals);
    let is_zero = shown.chars().all(|c| c == '0' || c == '.');
    match value {
        _ if is_zero => shown,
        value if value < 0.0 => format!("−{shown}"),
        _ => format!("+{shown}"),
    }
}

/// Units of the tables.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum, serde::Serialize, serde::Deserialize,
)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// Kilometres, kilograms, newton metres, kilowatts.
    Metric,
    /// Miles, pounds, pound-feet, horsepower.
    Us,
}

/// The sign of a US unit, and what turns a metric value into it.
pub type Scale = (&'static str, fn(f64) -> f64);

/// What stands for a metric unit where US units are wanted; nothing where it stays: volts, amperes,
/// watts and kWh are those of the US trade too.
pub fn us(sign: &str) -> Option<Scale> {
    let per_ft2 =
        |w_per_m2_k: f64| units::btu_per_h_f_from_w_per_k(w_per_m2_k) / units::ft2_from_m2(1.0);
    let density = |kg_per_m3: f64| units::lb_from_kg(kg_per_m3) / units::ft_from_m(1.0).powi(3);
    let inertia = |kg_m2: f64| units::lb_from_kg(kg_m2) * units::ft2_from_m2(1.0);
    let heat = |kj_per_kg_k: f64| {
        units::btu_per_f_from_kj_per_k(units::kj_from_j(kj_per_kg_k)) / units::lb_from_kg(1.0)
    };
    Some(match sign {
        "°C" => ("°F", units::f_from_c),
        "K" => ("°F", units::f_from_k_apart),
        "kg" => ("lb", units::lb_from_kg),
        "km" => ("mi", |km| units::mi_from_m(units::m_from_km(km))),
        "km per h" => ("mi per h", |km| units::mi_from_m(units::m_from_km(km))),
        "km/h" => ("mph", |kmh| units::mph_from_mps(units::mps_from_kmh(kmh))),
        "m" => ("ft", units::ft_from_m),
        "m²" => ("ft²", units::ft2_from_m2),
        "m/s²" => ("ft/s²", units::ft_from_m),
        "N" => ("lbf", units::lbf_from_n),
        "N·m" => ("lb·ft", units::lbft_from_nm),
        "kJ" => ("BTU", units::btu_from_kj),
        "kJ/K" => ("BTU/°F", units::btu_per_f_from_kj_per_k),
        "J/(kg·K)" => ("BTU/(lb·°F)", heat),
        "W/K" => ("BTU/(h·°F)", units::btu_per_h_f_from_w_per_k),
        "W/(m²·K)" => ("BTU/(h·ft²·°F)", per_ft2),
        "kg/m³" => ("lb/ft³", density),
        "kg·m²" => ("lb·ft²", inertia),
        "l/100 km" => ("mpg", units::usmpg_from_l_per_100km),
        "Wh/km" => ("Wh/mi", units::wh_per_mi_from_wh_per_km),
        "per 100 km" => ("per 100 mi", units::per_mi_from_per_km),
        _ => return None,
    })
}

impl Units {
    /// A value in a metric unit as the tables show it.
    pub fn of(self, value: f64, sign: &'static str, decimals: usize) -> String {
        format!("{} {}", self.bare(value, sign, decimals), self.sign(sign))
    }

    /// The same without the sign.
    pub fn bare(self, value: f64, sign: &'static str, decimals: usize) -> String {
        number(self.value(value, sign), decimals)
    }

    /// The same as a number.
    pub fn value(self, value: f64, sign: &'static str) -> f64 {
        self.scale(sign)(value)
    }

    /// What turns a value in a metric unit into that of the tables.
    pub fn scale(self, sign: &'static str) -> fn(f64) -> f64 {
        match self {
            Units::Metric => |value| value,
            Units::Us => us(sign).map_or(|value| value, |(_, convert)| convert),
        }
    }

    /// The sign of what a metric unit is shown in.
    pub fn sign(self, metric: &'static str) -> &'static str {
        match self {
            Units::Metric => metric,
            Units::Us => us(metric).map_or(metric, |(sign, _)| sign),
        }
    }

    /// A sentence of which every quantity is metric, as the tables show quantities.
    pub fn said(self, text: &str) -> String {
        match self {
            Units::Metric => text.to_owned(),
            Units::Us => in_us_units(text),
        }
    }

    fn pick(self, metric: (f64, &str), us: (f64, &str), decimals: usize) -> String {
        let (value, unit) = match self {
            Units::Metric => metric,
            Units::Us => us,
        };
        format!("{} {unit}", number(value, decimals))
    }

    /// Sign of the temperature scale.
    pub fn degree(self) -> &'static str {
        self.sign("°C")
    }

    /// Sign of a speed.
    pub fn speed_unit(self) -> &'static str {
        self.sign("km/h")
    }

    /// Sign of energy over distance.
    pub fn consumption_unit(self) -> &'static str {
        self.sign("Wh/km")
    }

    /// Energy over distance without its sign.
    pub fn bare_consumption(self, wh_per_km: f64) -> String {
        self.bare(wh_per_km, "Wh/km", 1)
    }

    /// A temperature without its sign.
    pub fn bare_temperature(self, c: f64) -> String {
        self.bare(c, "°C", 0)
    }

    /// A speed without its sign.
    pub fn bare_speed(self, kmh: f64) -> String {
        self.bare(kmh, "km/h", 0)
    }

    /// A mass; a small one with a decimal where it has one.
    pub fn mass(self, kg: f64) -> String {
        let decimals = usize::from(kg.abs() < 20.0 && (kg - kg.round()).abs() > 0.04);
        self.of(kg, "kg", decimals)
    }

    /// A speed.
    pub fn speed(self, kmh: f64, decimals: usize) -> String {
        self.of(kmh, "km/h", decimals)
    }

    /// A distance along a road.
    pub fn distance(self, km: f64, decimals: usize) -> String {
        self.of(km, "km", decimals)
    }

    /// A height.
    pub fn height(self, m: f64) -> String {
        self.of(m, "m", 0)
    }

    /// A place in a car.
    pub fn place(self, m: f64) -> String {
        match self {
            Units::Metric => format!("{} m", number(m, 2)),
            Units::Us => format!("{} in", number(units::in_from_m(m), 1)),
        }
    }

    /// A torque.
    pub fn torque(self, nm: f64) -> String {
        self.of(nm, "N·m", 0)
    }

    /// A force.
    pub fn force(self, n: f64) -> String {
        self.of(n, "N", 0)
    }

    /// A temperature.
    pub fn temperature(self, c: f64) -> String {
        self.of(c, "°C", 0)
    }

    /// A difference of temperatures.
    pub fn degrees(self, k: f64) -> String {
        self.of(k, "K", 0)
    }

    /// Energy over distance.
    pub fn consumption(self, wh_per_km: f64) -> String {
        format!("{} {}", self.bare_consumption(wh_per_km), self.consumption_unit())
    }

    /// A mechanical power.
    pub fn power(self, kw: f64, decimals: usize) -> String {
        self.pick((kw, "kW"), (units::hp_from_kw(kw), "hp"), decimals)
    }
}

/// Metric units as sentences write them, those that begin with others first.
const SIGNS: [&str; 20] = [
    "km/h",
    "km",
    "kg/m³",
    "kg·m²",
    "kg",
    "kJ/K",
    "kJ",
    "J/(kg·K)",
    "m/s²",
    "m²",
    "mm",
    "m",
    "N·m",
    "N",
    "°C",
    "K",
    "W/(m²·K)",
    "W/K",
    "Wh/km",
    "l/100 km",
];

/// What may stand between numbers that share a unit.
const BETWEEN: [&str; 5] = [" to ", " and ", " of ", "–", ", "];

/// The number at the beginning of a text, with what follows it.
fn number_first(text: &str) -> Option<(f64, &str, &str)> {
    let end = text
        .char_indices()
        .find(|(i, c)| !(c.is_ascii_digit() || *c == '.' || *i == 0 && matches!(c, '-' | '−')))
        .map_or(text.len(), |(i, _)| i);
    let shown = text[..end].trim_end_matches('.');
    let value = shown.replace('−', "-").parse().ok()?;
    Some((value, shown, &text[shown.len()..]))
}

/// The unit that follows a number, with what follows that.
fn sign_first(text: &str) -> Option<(&'static str, &str)> {
    let text = text.strip_prefix(' ')?;
    SIGNS.into_iter().find_map(|sign| {
        let rest = text.strip_prefix(sign)?;
        let goes_on = |c: char| c.is_alphanumeric() || matches!(c, '/' | '·' | '²' | '³' | '(');
        (!rest.starts_with(goes_on)).then_some((sign, rest))
    })
}

/// A metric value in words, in US units, with as many digits as a person would write.
fn in_us(value: f64, sign: &'static str) -> (String, &'static str) {
    // What is short is measured in inches.
    let (sign, converted) = match sign {
        "mm" => ("in", units::in_from_m(units::m_from_mm(value))),
        "m" if value.abs() < 3.0 => ("in", units::in_from_m(value)),
        metric => us(metric).map_or((metric, value), |(sign, convert)| (sign, convert(value))),
    };
    let decimals = match (sign, converted.abs()) {
        ("°F", _) => 0,
        (_, v) if v >= 99.95 => 0,
        (_, v) if v >= 9.995 => 1,
        (_, v) if v >= 0.0995 => 2,
        _ => 4,
    };
    let shown = number(converted, decimals);
    let short = if shown.contains('.') {
        shown.trim_end_matches('0').trim_end_matches('.')
    } else {
        &shown
    };
    (short.to_owned(), sign)
}

/// A sentence with each metric quantity in US units; numbers that share a unit change with it.
fn in_us_units(text: &str) -> String {
    let mut said = String::with_capacity(text.len());
    let mut rest = text;
    let mut within_word = false;
    while let Some(first) = rest.chars().next() {
        let found = if within_word { None } else { quantities_first(rest) };
        match found {
            Some((words, after)) => {
                said.push_str(&words);
                rest = after;
            }
            None => {
                said.push(first);
                within_word = first.is_alphanumeric() || matches!(first, '.' | '-' | '−');
                rest = &rest[first.len_utf8()..];
            }
        }
    }
    said
}

/// Quantities at the beginning of a text in US units, with what follows: `20 to 50 km/h`.
fn quantities_first(text: &str) -> Option<(String, &str)> {
    let (mut values, mut joints) = (Vec::new(), Vec::new());
    let mut rest = text;
    loop {
        let (value, _, after) = number_first(rest)?;
        values.push(value);
        if let Some((sign, after)) = sign_first(after) {
            let mut said = String::new();
            let mut unit = sign;
            for (i, value) in values.into_iter().enumerate() {
                let (shown, us) = in_us(value, sign);
                said.push_str(&shown);
                said.push_str(joints.get(i).copied().unwrap_or_default());
                unit = us;
            }
            return Some((format!("{said} {unit}"), after));
        }
        let joint = BETWEEN.into_iter().find(|joint| after.starts_with(joint))?;
        joints.push(joint);
        rest = &after[joint.len()..];
    }
}

/// A value with decimals, or a dash where there is none.
pub fn or_dash(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "—".to_owned(), |v| number(v, decimals))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Factors of NIST SP 811: 1 BTU is 1055.056 J, 1 lb/ft³ is 16.01846 kg/m³.
    #[test]
    fn sentences_are_said_in_us_units_and_electrical_ones_stay() {
        for (metric, us) in [
            ("It is at 24 °C, and 20 to 50 km/h do.", "It is at 75 °F, and 12.4 to 31.1 mph do."),
            ("a wheel of 0.2618 m", "a wheel of 10.3 in"),
            ("75 % at -20 °C, 90 % at 0 °C", "75 % at -4 °F, 90 % at 32 °F"),
            ("the car, 846 of 1120 kg", "the car, 1865 of 2469 lb"),
            ("3 of 8 gears, 5 % of 80 kg", "3 of 8 gears, 5 % of 176 lb"),
            ("carries 640 kg and 660 kg are", "carries 1411 lb and 1455 lb are"),
            ("6.5 W/K, 2 kJ/K, 5 W/(m²·K)", "12.3 BTU/(h·°F), 1.05 BTU/°F, 0.88 BTU/(h·ft²·°F)"),
            ("108 V, 400 A, 3 kW, 8 %, 2.5 kWh", "108 V, 400 A, 3 kW, 8 %, 2.5 kWh"),
            ("air of 1.189 kg/m³", "air of 0.0742 lb/ft³"),
            ("165/70R13 of the 4 km5 and 12 mg", "165/70R13 of the 4 km5 and 12 mg"),
        ] {
            assert_eq!(Units::Us.said(metric), us);
            assert_eq!(Units::Metric.said(metric), metric);
        }
    }
}
