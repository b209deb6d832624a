//! The socket that the car is plugged into.

use crate::files::suggestion;
use sim_core::Invalid;

/// What a socket gives to a car for hours.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlet {
    /// What it is called.
    pub name: String,
    /// Voltage, V.
    pub volts: f64,
    /// Current that may be drawn for hours, A.
    pub amps: f64,
    /// Rating of the circuit, A, where the rule for continuous loads was applied.
    pub circuit_a: Option<f64>,
}

/// How much is drawn from a socket without a name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Draw {
    /// A current, A.
    Amps(f64),
    /// What a circuit of this rating, A, gives for hours.
    Circuit(f64),
    /// A current, A, of a circuit of a rating, A.
    AmpsOfCircuit(f64, f64),
}

/// Share of a circuit's rating that a load of three hours or more may draw (the rule for continuous
/// loads of NEC article 625, from memory).
pub const CONTINUOUS_SHARE: f64 = 0.8;

/// Circuits of the levels of SAE J1772 (from memory): volts, and amperes of the circuit. Level 1 is
/// 120 V, level 2 is 240 V and up to 80 A of continuous current.
const CIRCUITS: [(f64, f64); 11] = [
    (120.0, 15.0),
    (120.0, 20.0),
    (240.0, 20.0),
    (240.0, 30.0),
    (240.0, 40.0),
    (240.0, 50.0),
    (240.0, 60.0),
    (240.0, 70.0),
    (240.0, 80.0),
    (240.0, 90.0),
    (240.0, 100.0),
];

/// Single-phase sockets of 230 V by the current that charging leads for them draw (common practice,
/// no source): domestic sockets 10 or 13 A, blue industrial ones 16 or 32 A.
const SINGLE_PHASE_A: [f64; 4] = [10.0, 13.0, 16.0, 32.0];

impl Outlet {
    /// A socket on a circuit of a rating, at 80 % of it.
    pub fn on_circuit(name: String, volts: f64, circuit_a: f64) -> Self {
        let amps = CONTINUOUS_SHARE * circuit_a;
        Self { name, volts, amps, circuit_a: Some(circuit_a) }
    }

    /// The sockets that have names.
    pub fn presets() -> Vec<Outlet> {
        let circuits = CIRCUITS
            .iter()
            .map(|(volts, amps)| Outlet::on_circuit(format!("{volts}v-{amps}a"), *volts, *amps));
        let single = SINGLE_PHASE_A.iter().map(|amps| Outlet {
            name: format!("230v-{amps}a"),
            volts: 230.0,
            amps: *amps,
            circuit_a: None,
        });
        circuits.chain(single).collect()
    }

    /// The socket of a name.
    ///
    /// # Errors
    /// [`Invalid`] with the names that there are.
    pub fn named(name: &str) -> Result<Outlet, Invalid> {
        let wanted = name.trim().to_lowercase();
        let presets = Outlet::presets();
        if let Some(found) = presets.iter().find(|outlet| outlet.name == wanted) {
            return Ok(found.clone());
        }
        let names: Vec<&str> = presets.iter().map(|outlet| outlet.name.as_str()).collect();
        let of_volts = |name: &&str| name.split_once('-').is_some_and(|(volts, _)| volts == wanted);
        let circuits: Vec<&str> = names.iter().copied().filter(of_volts).collect();
        if !circuits.is_empty() {
            let allowed = format!("one of its circuits, {}", circuits.join(", "));
            return Err(Invalid::new("socket", format!("\"{}\"", cycles::short(name)), allowed));
        }
        let hint = match volts_and_amps(&wanted) {
            // The nearest name of another current would be a wrong advice.
            Some((volts, amps)) => {
                format!("; another is given by its numbers, volts {volts} and amps {amps}")
            }
            None => suggestion::closest(&wanted, names.iter().copied())
                .map(|close| format!("; did you mean \"{close}\"?"))
                .unwrap_or_default(),
        };
        let allowed = format!("{}{hint}", names.join(", "));
        Err(Invalid::new("socket", format!("\"{}\"", cycles::short(name)), allowed))
    }

    /// A socket of a voltage.
    ///
    /// # Errors
    /// [`Invalid`] where a number is out of range, or the current is more than 80 % of the circuit.
    pub fn custom(volts: f64, draw: Draw) -> Result<Outlet, Invalid> {
        if !(50.0..=1000.0).contains(&volts) {
            return Err(Invalid::new("volts", volts, "50 to 1000"));
        }
        let current = |name, amps: f64| {
            let fits = amps > 0.0 && amps <= 500.0;
            fits.then_some(amps).ok_or_else(|| Invalid::new(name, amps, "more than 0, at most 500"))
        };
        let (amps, circuit_a) = match draw {
            Draw::Amps(amps) => (current("amps", amps)?, None),
            Draw::Circuit(circuit_a) => {
                let circuit_a = current("circuit", circuit_a)?;
                (CONTINUOUS_SHARE * circuit_a, Some(circuit_a))
            }
            Draw::AmpsOfCircuit(amps, circuit_a) => {
                let (amps, circuit_a) = (current("amps", amps)?, current("circuit", circuit_a)?);
                let most = CONTINUOUS_SHARE * circuit_a;
                if amps > most * (1.0 + 1e-9) {
                    let allowed =
                        format!("at most {most}, 80 % of the circuit, for a load of hours");
                    return Err(Invalid::new("amps", amps, allowed));
                }
                (amps, Some(circuit_a))
            }
        };
        Ok(Outlet { name: format!("{volts} V, {amps} A"), volts, amps, circuit_a })
    }

    /// Largest power from the wall, W.
    pub fn power_w(&self) -> f64 {
        self.volts * self.amps
    }
}

/// The numbers of a name such as `240v-16a`.
fn volts_and_amps(name: &str) -> Option<(f64, f64)> {
    let (volts, amps) = name.strip_suffix('a')?.split_once('v')?;
    Some((volts.trim().parse().ok()?, amps.trim_start_matches(['-', ' ']).parse().ok()?))
}
