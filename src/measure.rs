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

    /// A mechanical power.
    pub fn power(self, kw: f64, decimals: usize) -> String {
        self.pick((kw, "kW"), (units::hp_from_kw(kw), "hp"), decimals)
    }
}

/// A number with so many decimals, and never as minus nothing.
pub fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}
