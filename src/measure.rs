//! Quantities as people read them, metric or in US units.

use scenarios::units;

/// Units of the tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Units {
    /// Kilometres, kilograms, newton metres, kilowatts.
    Metric,
    /// Miles, pounds, pound-feet, horsepower.
    Us,
}

impl Units {
    fn pick(self, metric: (f64, &str), us: (f64, &str), decimals: usize) -> String {
        let (value, unit) = match self {
            Units::Metric => metric,
            Units::Us => us,
        };
        format!("{} {unit}", number(value, decimals))
    }

    /// Sign of the temperature scale.
    pub fn degree(self) -> &'static str {
        match self {
            Units::Metric => "°C",
            Units::Us => "°F",
        }
    }

    /// Sign of a speed.
    pub fn speed_unit(self) -> &'static str {
        match self {
            Units::Metric => "km/h",
            Units::Us => "mph",
        }
    }

    /// Sign of energy over distance.
    pub fn consumption_unit(self) -> &'static str {
        match self {
            Units::Metric => "Wh/km",
            Units::Us => "Wh/mi",
        }
    }

    /// Energy over distance without its sign.
    pub fn bare_consumption(self, wh_per_km: f64) -> String {
        match self {
            Units::Metric => number(wh_per_km, 1),
            Units::Us => number(units::wh_per_mi_from_wh_per_km(wh_per_km), 1),
        }
    }

    /// A temperature without its sign.
    pub fn bare_temperature(self, c: f64) -> String {
        match self {
            Units::Metric => number(c, 0),
            Units::Us => number(units::f_from_c(c), 0),
        }
    }

    /// A speed without its sign.
    pub fn bare_speed(self, kmh: f64) -> String {
        match self {
            Units::Metric => number(kmh, 0),
            Units::Us => number(units::mph_from_mps(units::mps_from_kmh(kmh)), 0),
        }
    }

    /// A mass; a small one with a decimal where it has one.
    pub fn mass(self, kg: f64) -> String {
        let decimals = usize::from(kg.abs() < 20.0 && (kg - kg.round()).abs() > 0.04);
        self.pick((kg, "kg"), (units::lb_from_kg(kg), "lb"), decimals)
    }

    /// A speed.
    pub fn speed(self, kmh: f64, decimals: usize) -> String {
        let mph = units::mph_from_mps(units::mps_from_kmh(kmh));
        self.pick((kmh, "km/h"), (mph, "mph"), decimals)
    }

    /// A distance along a road.
    pub fn distance(self, km: f64, decimals: usize) -> String {
        let mi = units::mi_from_m(units::m_from_km(km));
        self.pick((km, "km"), (mi, "mi"), decimals)
    }

    /// A height.
    pub fn height(self, m: f64) -> String {
        self.pick((m, "m"), (units::ft_from_m(m), "ft"), 0)
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
        self.pick((nm, "N·m"), (units::lbft_from_nm(nm), "lb·ft"), 0)
    }

    /// A force.
    pub fn force(self, n: f64) -> String {
        self.pick((n, "N"), (units::lbf_from_n(n), "lbf"), 0)
    }

    /// A temperature.
    pub fn temperature(self, c: f64) -> String {
        self.pick((c, "°C"), (units::f_from_c(c), "°F"), 0)
    }

    /// A difference of temperatures.
    pub fn degrees(self, k: f64) -> String {
        self.pick((k, "K"), (units::f_from_k_apart(k), "°F"), 0)
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

/// A number with so many decimals, and never as minus nothing; a dash where there is none.
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "—".to_owned();
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

/// A time that people read: seconds up to two minutes, then minutes, then hours and minutes.
pub fn clock(seconds: f64) -> String {
    if seconds < 120.0 {
        format!("{} s", number(seconds, if seconds < 10.0 { 1 } else { 0 }))
    } else if seconds < 7200.0 {
        format!("{} min", number(units::min_from_s(seconds), if seconds < 600.0 { 1 } else { 0 }))
    } else {
        let (hours, minutes) = units::h_and_min_from_s(seconds);
        format!("{hours:.0} h {minutes:02.0} min")
    }
}

/// A value with decimals, or a dash where there is none.
pub fn or_dash(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "—".to_owned(), |v| number(v, decimals))
}

/// `1st`, `2nd`, `3rd`, `4th` …
pub fn ordinal(gear: usize) -> String {
    let ending = match (gear % 10, gear % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{gear}{ending}")
}
