//! What a logger's column holds, told by the words and the unit in its header.

use crate::units;

/// What a channel of a recording holds; its values are in SI, shares are 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Signal {
    /// Time, s.
    Time,
    /// Speed over the ground, m/s.
    Speed,
    /// Height above the sea, m.
    Elevation,
    /// Degrees north.
    Latitude,
    /// Degrees east.
    Longitude,
    /// Voltage at the pack's terminals, V.
    PackVoltage,
    /// Current out of the pack, A; negative into it.
    PackCurrent,
    /// Power out of the pack, W; negative into it.
    PackPower,
    /// State of charge, a share.
    Charge,
    /// Lowest voltage of a cell, V.
    LowCell,
    /// Highest voltage of a cell, V.
    HighCell,
    /// Torque of the motor, N·m; negative in regen.
    MotorTorque,
    /// Speed of the motor, rad/s.
    MotorSpeed,
    /// Motor winding, K.
    Winding,
    /// Motor housing, K.
    Housing,
    /// Heat sink of the controller, K.
    Sink,
    /// Cells, K.
    Cells,
    /// Coolant, K.
    Coolant,
    /// Oil of gearbox and final drive, K.
    Oil,
    /// Air in the cabin, K.
    Cabin,
    /// Power of the cabin's heater or of a load that comes in its place, W.
    Heater,
    /// Power of all auxiliaries together, W.
    Auxiliaries,
    /// Air outside, K.
    Air,
    /// Wind, m/s.
    Wind,
    /// Where the wind comes from, degrees clockwise from north.
    WindFrom,
    /// Wind against the car, m/s.
    HeadWind,
}

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Dimension {
    Time,
    Length,
    Speed,
    Degrees,
    Voltage,
    Current,
    Power,
    Share,
    Torque,
    Rotation,
    Temperature,
    /// Of something that is not read, such as energy.
    Other,
}

/// From the unit of a column to SI.
pub(crate) type ToSi = fn(f64) -> f64;

fn as_it_is(value: f64) -> f64 {
    value
}

/// Units as headers write them, without what [`bare`] takes off.
const UNITS: &[(&str, Dimension, ToSi)] = &[
    ("s", Dimension::Time, as_it_is),
    ("sec", Dimension::Time, as_it_is),
    ("secs", Dimension::Time, as_it_is),
    ("seconds", Dimension::Time, as_it_is),
    ("sek", Dimension::Time, as_it_is),
    ("ms", Dimension::Time, units::s_from_ms),
    ("msec", Dimension::Time, units::s_from_ms),
    ("us", Dimension::Time, units::s_from_us),
    ("min", Dimension::Time, units::s_from_min),
    ("minutes", Dimension::Time, units::s_from_min),
    ("h", Dimension::Time, units::s_from_h),
    ("hours", Dimension::Time, units::s_from_h),
    ("hh:mm:ss", Dimension::Time, as_it_is),
    ("m", Dimension::Length, as_it_is),
    ("metres", Dimension::Length, as_it_is),
    ("meters", Dimension::Length, as_it_is),
    ("ft", Dimension::Length, units::m_from_ft),
    ("feet", Dimension::Length, units::m_from_ft),
    ("km/h", Dimension::Speed, units::mps_from_kmh),
    ("kmh", Dimension::Speed, units::mps_from_kmh),
    ("kph", Dimension::Speed, units::mps_from_kmh),
    ("mph", Dimension::Speed, units::mps_from_mph),
    ("mi/h", Dimension::Speed, units::mps_from_mph),
    ("m/s", Dimension::Speed, as_it_is),
    ("mps", Dimension::Speed, as_it_is),
    ("kn", Dimension::Speed, units::mps_from_knots),
    ("kt", Dimension::Speed, units::mps_from_knots),
    ("kts", Dimension::Speed, units::mps_from_knots),
    ("knots", Dimension::Speed, units::mps_from_knots),
    ("deg", Dimension::Degrees, as_it_is),
    ("degrees", Dimension::Degrees, as_it_is),
    ("°", Dimension::Degrees, as_it_is),
    ("v", Dimension::Voltage, as_it_is),
    ("volt", Dimension::Voltage, as_it_is),
    ("volts", Dimension::Voltage, as_it_is),
    ("mv", Dimension::Voltage, units::v_from_mv),
    ("a", Dimension::Current, as_it_is),
    ("amp", Dimension::Current, as_it_is),
    ("amps", Dimension::Current, as_it_is),
    ("ampere", Dimension::Current, as_it_is),
    ("ma", Dimension::Current, units::a_from_ma),
    ("kw", Dimension::Power, units::w_from_kw),
    ("w", Dimension::Power, as_it_is),
    ("watts", Dimension::Power, as_it_is),
    ("hp", Dimension::Power, units::w_from_hp),
    ("%", Dimension::Share, units::share_from_pct),
    ("pct", Dimension::Share, units::share_from_pct),
    ("percent", Dimension::Share, units::share_from_pct),
    ("nm", Dimension::Torque, as_it_is),
    ("lbft", Dimension::Torque, units::nm_from_lbft),
    ("ftlb", Dimension::Torque, units::nm_from_lbft),
    ("rpm", Dimension::Rotation, units::radps_from_rpm),
    ("1/min", Dimension::Rotation, units::radps_from_rpm),
    ("u/min", Dimension::Rotation, units::radps_from_rpm),
    ("min-1", Dimension::Rotation, units::radps_from_rpm),
    ("c", Dimension::Temperature, units::k_from_c),
    ("°c", Dimension::Temperature, units::k_from_c),
    ("degc", Dimension::Temperature, units::k_from_c),
    ("celsius", Dimension::Temperature, units::k_from_c),
    ("f", Dimension::Temperature, k_from_f),
    ("°f", Dimension::Temperature, k_from_f),
    ("degf", Dimension::Temperature, k_from_f),
    ("fahrenheit", Dimension::Temperature, k_from_f),
    ("k", Dimension::Temperature, as_it_is),
    ("kwh", Dimension::Other, as_it_is),
    ("wh", Dimension::Other, as_it_is),
    ("ah", Dimension::Other, as_it_is),
    ("km", Dimension::Other, as_it_is),
    ("mi", Dimension::Other, as_it_is),
    ("kg", Dimension::Other, as_it_is),
    ("ohm", Dimension::Other, as_it_is),
    ("mohm", Dimension::Other, as_it_is),
    ("hz", Dimension::Other, as_it_is),
    ("bar", Dimension::Other, as_it_is),
    ("kpa", Dimension::Other, as_it_is),
    ("wh/km", Dimension::Other, as_it_is),
];

fn k_from_f(temperature_f: f64) -> f64 {
    units::k_from_c(units::c_from_f(temperature_f))
}

/// A unit as it is compared.
fn bare(unit: &str) -> String {
    unit.replace(['º', '˚'], "°").replace([' ', '_', '.', '·', '*', '⋅', '×'], "")
}

fn unit_of(text: &str) -> Option<(Dimension, ToSi)> {
    // A name of a column has no stroke: what would be milliseconds is metres per second.
    let text = bare(if matches!(text, "m_s" | "m s") { "m/s" } else { text });
    UNITS
        .iter()
        .find(|(known, ..)| *known == text)
        .map(|(_, dimension, to_si)| (*dimension, *to_si))
}

/// How the words of a header tell a signal.
struct Told {
    signal: Signal,
    /// In sentences.
    words: &'static str,
    /// The name of the column in full, unit and all.
    column: &'static str,
    dimension: Dimension,
    /// What a value without a unit is taken in; none where a unit must be stated.
    usual: Option<&'static str>,
    /// Any of these words tells it.
    any: &'static [&'static str],
    /// So do these, where there are no others.
    alone: &'static [&'static str],
    /// Unless one of these is there.
    not: &'static [&'static str],
    /// What is possible, in SI.
    range: (f64, f64),
}

/// Words for the traction pack.
const PACK: &[&str] = &[
    "pack", "battery", "batterie", "batt", "bat", "traction", "hv", "akku", "bateria", "bus",
    "ubatt", "ibatt",
];
/// Words that tell that it is not the pack as a whole.
const NOT_PACK: &[&str] = &[
    "cell",
    "cells",
    "zelle",
    "zellen",
    "12v",
    "12",
    "lv",
    "aux",
    "auxiliary",
    "auxiliaries",
    "phase",
    "motor",
    "charger",
    "limit",
    "min",
    "max",
    "heater",
    "cabin",
    "regen",
    "delta",
    "loss",
    "losses",
    "rated",
    "left",
];
const NOT_OUTSIDE: &[&str] = &["intake", "inlet", "cabin", "inside", "vent", "tyre", "limit"];
const CELL: &[&str] = &["cell", "cells", "zelle", "zellen", "cellule"];
const TEMPERATURE: (f64, f64) = (223.15, 673.15);

/// The signals that are known. The words are those of the trade in English, and a few that
/// spreadsheets and loggers of neighbours write.
const TOLD: &[Told] = &[
    Told {
        signal: Signal::Time,
        words: "time",
        column: "time_s",
        dimension: Dimension::Time,
        usual: Some("s"),
        any: &[
            "time",
            "timestamp",
            "datetime",
            "elapsed",
            "clock",
            "zeit",
            "uhrzeit",
            "zeitstempel",
            "temps",
            "heure",
            "tiempo",
            "hora",
        ],
        alone: &["t"],
        not: &["remaining", "left", "lap", "limit"],
        range: (-1e15, 1e15),
    },
    Told {
        signal: Signal::HeadWind,
        words: "head wind",
        column: "head_wind_mps",
        dimension: Dimension::Speed,
        usual: None,
        any: &["headwind", "gegenwind", "head"],
        alone: &[],
        not: &[],
        range: (-60.0, 60.0),
    },
    Told {
        signal: Signal::Wind,
        words: "wind",
        column: "wind_mps",
        dimension: Dimension::Speed,
        usual: None,
        any: &["wind", "windspeed", "windgeschwindigkeit", "vent"],
        alone: &[],
        not: &["head", "gust", "headwind", "gegenwind"],
        range: (0.0, 60.0),
    },
    Told {
        signal: Signal::WindFrom,
        words: "direction of the wind",
        column: "wind_from_deg",
        dimension: Dimension::Degrees,
        usual: Some("deg"),
        any: &["wind", "windrichtung", "vent"],
        alone: &[],
        not: &["speed", "gust"],
        range: (-180.0, 360.0),
    },
    Told {
        signal: Signal::Speed,
        words: "speed",
        column: "speed_kmh",
        dimension: Dimension::Speed,
        usual: None,
        any: &[
            "speed",
            "velocity",
            "spd",
            "geschwindigkeit",
            "tempo",
            "vitesse",
            "velocidad",
            "velocita",
        ],
        alone: &["v", "vehicle", "gps"],
        not: &[
            "wind",
            "windspeed",
            "windgeschwindigkeit",
            "gust",
            "limit",
            "wanted",
            "target",
            "set",
            "fan",
            "motor",
            "head",
            "headwind",
        ],
        range: (-1.0, crate::SPEED_LIMIT_MPS),
    },
    Told {
        signal: Signal::Elevation,
        words: "elevation",
        column: "elevation_m",
        dimension: Dimension::Length,
        usual: None,
        any: &["elevation", "altitude", "alt", "ele", "height", "höhe", "hoehe", "altitud"],
        alone: &[],
        not: &["accuracy", "limit"],
        range: (-1e3, 1e4),
    },
    Told {
        signal: Signal::Latitude,
        words: "latitude",
        column: "latitude_deg",
        dimension: Dimension::Degrees,
        usual: Some("deg"),
        any: &["latitude", "lat", "breitengrad", "breite"],
        alone: &[],
        not: &[],
        range: (-90.0, 90.0),
    },
    Told {
        signal: Signal::Longitude,
        words: "longitude",
        column: "longitude_deg",
        dimension: Dimension::Degrees,
        usual: Some("deg"),
        any: &["longitude", "lon", "lng", "längengrad", "länge"],
        alone: &[],
        not: &[],
        range: (-180.0, 360.0),
    },
    Told {
        signal: Signal::LowCell,
        words: "lowest cell voltage",
        column: "cell_low_v",
        dimension: Dimension::Voltage,
        usual: Some("V"),
        any: CELL,
        alone: &[],
        not: &["high", "highest", "max", "maximum", "mean", "average", "avg", "delta", "limit"],
        range: (0.5, 5.0),
    },
    Told {
        signal: Signal::HighCell,
        words: "highest cell voltage",
        column: "cell_high_v",
        dimension: Dimension::Voltage,
        usual: Some("V"),
        any: CELL,
        alone: &[],
        not: &["low", "lowest", "min", "minimum", "mean", "average", "avg", "delta", "limit"],
        range: (0.5, 5.0),
    },
    Told {
        signal: Signal::PackVoltage,
        words: "pack voltage",
        column: "pack_v",
        dimension: Dimension::Voltage,
        usual: Some("V"),
        any: PACK,
        alone: &["voltage", "volt", "volts", "spannung", "tension", "voltaje", "u"],
        not: NOT_PACK,
        range: (5.0, 2000.0),
    },
    Told {
        signal: Signal::PackCurrent,
        words: "pack current",
        column: "pack_a",
        dimension: Dimension::Current,
        usual: Some("A"),
        any: PACK,
        alone: &[
            "current",
            "amp",
            "amps",
            "amperes",
            "strom",
            "courant",
            "corriente",
            "corrente",
            "i",
        ],
        not: NOT_PACK,
        range: (-5000.0, 5000.0),
    },
    Told {
        signal: Signal::PackPower,
        words: "pack power",
        column: "pack_kw",
        dimension: Dimension::Power,
        usual: None,
        any: PACK,
        alone: &["power", "leistung", "puissance"],
        not: NOT_PACK,
        range: (-2e6, 2e6),
    },
    Told {
        signal: Signal::Charge,
        words: "charge",
        column: "charge_pct",
        dimension: Dimension::Share,
        usual: Some("%"),
        any: &["charge", "soc", "ladezustand", "ladestand"],
        alone: PACK,
        not: &["limit", "min", "max", "rate", "power", "current"],
        range: (-0.05, 1.1),
    },
    Told {
        signal: Signal::MotorTorque,
        words: "motor torque",
        column: "motor_torque_nm",
        dimension: Dimension::Torque,
        usual: Some("N·m"),
        any: &["torque", "drehmoment", "couple", "motor"],
        alone: &[],
        not: &["wheel", "limit", "max", "wanted", "target", "request", "requested", "demand"],
        range: (-5000.0, 5000.0),
    },
    Told {
        signal: Signal::MotorSpeed,
        words: "motor speed",
        column: "motor_rpm",
        dimension: Dimension::Rotation,
        usual: None,
        any: &["motor", "rotor", "speed", "drehzahl", "rpm"],
        alone: &[""],
        not: &["wheel", "limit", "fan", "max", "target"],
        range: (-5000.0, 5000.0),
    },
    Told {
        signal: Signal::Housing,
        words: "motor housing",
        column: "housing_c",
        dimension: Dimension::Temperature,
        usual: None,
        any: &["housing", "gehäuse"],
        alone: &[],
        not: &["limit"],
        range: TEMPERATURE,
    },
    Told {
        signal: Signal::Sink,
        words: "heat sink",
        column: "heat_sink_c",
        dimension: Dimension::Temperature,
        usual: None,
        any: &[
            "controller",
            "inverter",
            "heatsink",
            "sink",
            "igbt",
            "mosfet",
            "umrichter",
            "wechselrichter",
            "onduleur",
        ],
        alone: &[],
        not: &["limit"],
        range: TEMPERATURE,
    },
    Told {
        signal: Signal::Winding,
        words: "winding",
        column: "winding_c",
        dimension: Dimension::Temperature,
        usual: None,
        any: &["winding", "windings", "motor", "stator", "wicklung", "moteur"],
        alone: &[],
        not: &["housing", "gehäuse", "controller", "inverter", "sink", "coolant", "oil", "limit"],
        range: TEMPERATURE,
    },
    Told {
        signal: Signal::Cells,
        words: "cells",
        column: "cells_c",
        dimension: Dimension::Temperature,
        usual: None,
        any: &[
            "cell", "cells", "pack", "battery", "batterie", "batt", "bat", "akku", "zelle",
            "zellen", "bms",
        ],
        alone: &[],
        not: &["limit", "coolant", "heater"],
        range: TEMPERATURE,
    },
    Told {
        signal: Signal::Coolant,
        words: "coolant",
        column: "coolant_c",
        dimension: Dimension::Temperature,
        usual: None,
        any: &["coolant", "kühlmittel"],
        alone: &[],
        not: &["limit"],
        range: TEMPERATURE,
    },
    Told {
        signal: Signal::Oil,
        words: "gearbox oil",
        column: "oil_c",
        dimension: Dimension::Temperature,
        usual: None,
        any: &["oil", "gearbox", "getriebe"],
        alone: &[],
        not: &["limit"],
        range: TEMPERATURE,
    },
    Told {
        signal: Signal::Cabin,
        words: "cabin",
        column: "cabin_c",
        dimension: Dimension::Temperature,
        usual: None,
        any: &["cabin", "interior", "inside", "innenraum"],
        alone: &[],
        not: &["limit", "target", "set"],
        range: TEMPERATURE,
    },
    Told {
        signal: Signal::Auxiliaries,
        words: "all auxiliaries",
        column: "auxiliaries_kw",
        dimension: Dimension::Power,
        usual: None,
        any: &["auxiliaries", "accessories", "nebenverbraucher"],
        alone: &[],
        not: &["limit"],
        range: (0.0, 1e5),
    },
    Told {
        signal: Signal::Heater,
        words: "heater or cabin load",
        column: "auxiliary_kw",
        dimension: Dimension::Power,
        usual: None,
        any: &[
            "auxiliary",
            "aux",
            "cabin",
            "climate",
            "heater",
            "heating",
            "hvac",
            "heizung",
            "klima",
            "chauffage",
        ],
        alone: &[],
        not: &["limit", "motor"],
        range: (0.0, 1e5),
    },
    Told {
        signal: Signal::Air,
        words: "air temperature",
        column: "air_c",
        dimension: Dimension::Temperature,
        usual: None,
        any: &[
            "ambient",
            "air",
            "outside",
            "outdoor",
            "outer",
            "weather",
            "umgebung",
            "aussen",
            "außen",
            "extérieur",
            "exterior",
        ],
        alone: &[],
        not: NOT_OUTSIDE,
        range: (200.0, 400.0),
    },
];

impl Signal {
    fn told(self) -> &'static Told {
        // Every signal has its line, which a test holds.
        TOLD.iter().find(|told| told.signal == self).unwrap_or(&TOLD[0])
    }

    /// What to call it in a sentence.
    pub fn words(self) -> &'static str {
        self.told().words
    }

    /// The name of its column, such as `pack_v`.
    pub fn column(self) -> &'static str {
        self.told().column
    }

    /// What is possible, in SI, ends included.
    pub(crate) fn range(self) -> (f64, f64) {
        self.told().range
    }

    /// All signals that are known.
    pub fn all() -> impl Iterator<Item = Self> {
        TOLD.iter().map(|told| told.signal)
    }

    /// Whether it is a temperature.
    pub fn is_temperature(self) -> bool {
        self.told().dimension == Dimension::Temperature
    }
}

/// What a header says of its column.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Header {
    pub signal: Signal,
    pub to_si: ToSi,
    /// Whether the name is the column's own, and not other words for it.
    pub in_full: bool,
    /// Whether it states a unit.
    pub with_unit: bool,
}

/// What a header says, if it is understood.
pub(crate) fn header(name: &str) -> Option<Header> {
    let name = spaced(name.trim());
    let (words, unit) = unit_apart(&name);
    let tokens: Vec<&str> =
        words.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    let fits = |told: &&Told| {
        let dimension = match unit {
            Some((dimension, _)) => dimension == told.dimension,
            None => told.usual.is_some(),
        };
        dimension && told_by(told, &tokens, unit.is_some())
    };
    let told = TOLD.iter().find(fits)?;
    let to_si = match (unit, told.usual) {
        (Some((_, to_si)), _) => to_si,
        (None, Some(usual)) => unit_of(&usual.to_lowercase())?.1,
        (None, None) => return None,
    };
    let in_full = name == told.column
        || told.column.rsplit_once('_').is_some_and(|(stem, _)| words == stem && unit.is_some());
    Some(Header { signal: told.signal, to_si, in_full, with_unit: unit.is_some() })
}

/// Whether a text is a unit and nothing else, as in a line of units under the header.
pub(crate) fn is_unit(text: &str) -> bool {
    let text = text.trim().to_lowercase();
    unit_of(text.trim_matches(['(', ')', '[', ']'])).is_some()
}

/// Whether words are those of a signal whose unit is not stated, though it must be.
pub(crate) fn lacks_unit(name: &str) -> Option<Signal> {
    let name = spaced(name.trim());
    let (words, unit) = unit_apart(&name);
    let tokens: Vec<&str> =
        words.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    let wanted = [Signal::Speed, Signal::Elevation, Signal::PackPower];
    TOLD.iter()
        .filter(|told| unit.is_none() && told.usual.is_none() && wanted.contains(&told.signal))
        .find(|told| told_by(told, &tokens, true))
        .map(|told| told.signal)
}

/// Whether the words of a header are those of a signal.
fn told_by(told: &Told, tokens: &[&str], with_unit: bool) -> bool {
    // Longer words may be part of another, as where a language writes nouns in one.
    let is = |token: &str, word: &str| {
        token == word
            || word.chars().count() >= 5 && told.signal != Signal::Wind && token.contains(word)
    };
    let has = |words: &[&str]| tokens.iter().any(|t| words.iter().any(|w| is(t, w)));
    if has(told.not) {
        return false;
    }
    let temperature = &["temp", "temperature", "temperatur", "température", "t"];
    let only = |words: &[&str]| {
        let known = |t: &str| words.iter().any(|w| is(t, w)) || temperature.contains(&t);
        !tokens.is_empty() && tokens.iter().all(|t| known(t))
    };
    // Without a unit the words themselves must say what is measured.
    let measured = match told.dimension {
        Dimension::Voltage => has(&["voltage", "volt", "volts", "spannung", "tension", "ubatt"]),
        Dimension::Current => has(&["current", "amps", "amperes", "strom", "courant", "ibatt"]),
        Dimension::Share => has(&["charge", "soc", "ladezustand", "ladestand"]),
        Dimension::Torque => has(&["torque", "drehmoment", "couple"]),
        Dimension::Degrees if told.signal == Signal::WindFrom => {
            has(&["direction", "from", "windrichtung"])
        }
        _ => true,
    };
    let extreme = match told.signal {
        Signal::LowCell => has(&["low", "lowest", "min", "minimum", "weakest"]),
        Signal::HighCell => has(&["high", "highest", "max", "maximum"]),
        _ => true,
    };
    // `s` alone is a time, `rpm` alone the motor's.
    let bare = tokens.is_empty()
        && with_unit
        && matches!(
            told.signal,
            Signal::Time
                | Signal::MotorSpeed
                | Signal::PackVoltage
                | Signal::PackCurrent
                | Signal::Speed
        );
    (with_unit || measured) && extreme && (bare || has(told.any) || only(told.alone))
}

/// A name with words apart and in small letters: `PackVoltage` is `pack voltage`.
fn spaced(name: &str) -> String {
    let mut spaced = String::with_capacity(name.len() + 8);
    let mut before = [' '; 2];
    for c in name.chars() {
        // A unit such as `kWh` or `hPa` stays in one piece.
        if c.is_uppercase() && before.iter().all(|b| b.is_lowercase()) {
            spaced.push(' ');
        }
        spaced.extend(c.to_lowercase());
        before = [before[1], c];
    }
    spaced
}

/// The words of a header and the unit after them, in brackets or behind the last words.
fn unit_apart(name: &str) -> (&str, Option<(Dimension, ToSi)>) {
    for (open, close) in [('(', ')'), ('[', ']'), ('{', '}'), ('<', '>')] {
        if let Some((words, rest)) = name.rsplit_once(open)
            && let Some((inner, after)) = rest.split_once(close)
            && after.trim().is_empty()
            && let Some(unit) = unit_of(inner)
        {
            return (words.trim_end_matches([' ', '_']), Some(unit));
        }
    }
    if let Some(unit) = unit_of(name)
        && name.chars().count() > 0
        // `t`, `v` and `i` are what is measured as often as its unit; so is `min`.
        && !matches!(name, "min" | "h")
    {
        return ("", Some(unit));
    }
    let places = name.char_indices().filter(|(_, c)| " _,;:-./".contains(*c));
    for (at, _) in places {
        if let Some(unit) = unit_of(&name[at + 1..]) {
            let words = name[..at].trim_end_matches([' ', '_', ',', ':', '-']);
            let words = words.strip_suffix(" in").unwrap_or(words);
            return (words, Some(unit));
        }
    }
    (name, None)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Headers as loggers and spreadsheets write them (common practice, no source).
    #[test]
    fn headers_are_understood_by_their_words_and_units() {
        for (name, signal, one) in [
            ("speed_kmh", Signal::Speed, 1.0 / 3.6),
            ("Speed (km/h)", Signal::Speed, 1.0 / 3.6),
            ("Speed [mph]", Signal::Speed, 0.44704),
            ("speed km/h", Signal::Speed, 1.0 / 3.6),
            ("GPS Speed, m/s", Signal::Speed, 1.0),
            ("speed_m_s", Signal::Speed, 1.0),
            ("speed_knots", Signal::Speed, 1852.0 / 3600.0),
            ("Geschwindigkeit [km/h]", Signal::Speed, 1.0 / 3.6),
            ("Wind speed (m/s)", Signal::Wind, 1.0),
            ("wind_mps", Signal::Wind, 1.0),
            ("Wind direction", Signal::WindFrom, 1.0),
            ("head_wind_kmh", Signal::HeadWind, 1.0 / 3.6),
            ("time_s", Signal::Time, 1.0),
            ("Time", Signal::Time, 1.0),
            ("Zeit (ms)", Signal::Time, 0.001),
            ("elapsed [min]", Signal::Time, 60.0),
            ("Altitude/ft", Signal::Elevation, 0.3048),
            ("Höhe (m)", Signal::Elevation, 1.0),
            ("pack_v", Signal::PackVoltage, 1.0),
            ("Battery Voltage", Signal::PackVoltage, 1.0),
            ("PackVoltage", Signal::PackVoltage, 1.0),
            ("Batteriespannung (V)", Signal::PackVoltage, 1.0),
            ("Volts", Signal::PackVoltage, 1.0),
            ("Ubatt [V]", Signal::PackVoltage, 1.0),
            ("pack_a", Signal::PackCurrent, 1.0),
            ("Current (A)", Signal::PackCurrent, 1.0),
            ("pack_kw", Signal::PackPower, 1000.0),
            ("SOC", Signal::Charge, 0.01),
            ("State of charge (%)", Signal::Charge, 0.01),
            ("charge_pct", Signal::Charge, 0.01),
            ("Battery %", Signal::Charge, 0.01),
            ("motor_torque_nm", Signal::MotorTorque, 1.0),
            ("Torque [N·m]", Signal::MotorTorque, 1.0),
            ("motor_rpm", Signal::MotorSpeed, std::f64::consts::TAU / 60.0),
            ("cell_low_v", Signal::LowCell, 1.0),
            ("Lowest cell (mV)", Signal::LowCell, 0.001),
            ("Max cell voltage", Signal::HighCell, 1.0),
            ("winding_c", Signal::Winding, 274.15),
            ("Motor temp (°C)", Signal::Winding, 274.15),
            ("Motor controller temperature °C", Signal::Sink, 274.15),
            ("heat_sink_c", Signal::Sink, 274.15),
            ("pack_c", Signal::Cells, 274.15),
            ("cabin_c", Signal::Cabin, 274.15),
            ("cabin_climate_kw", Signal::Heater, 1000.0),
            ("heater_kw", Signal::Heater, 1000.0),
            ("auxiliaries_kw", Signal::Auxiliaries, 1000.0),
            ("ambient_c", Signal::Air, 274.15),
            ("Outside temp [°F]", Signal::Air, 255.927_777_777_777_8),
            ("Außentemperatur (°C)", Signal::Air, 274.15),
        ] {
            let found = header(name).unwrap_or_else(|| panic!("{name} is not understood"));
            assert_eq!(found.signal, signal, "{name}");
            assert!(((found.to_si)(1.0) - one).abs() < 1e-9, "{name}: {}", (found.to_si)(1.0));
        }
    }

    #[test]
    fn other_columns_are_left_alone() {
        for name in [
            "wanted_kmh",
            "12V battery (V)",
            "charge_kwh",
            "limit",
            "gear",
            "regen_kw",
            "friction_brake_kw",
            "grade_pct",
            "pedal_pct",
            "motor_a",
            "distance_km",
            "grip_pct",
            "moment_wh_per_km",
            "Cell 7 (V)",
            "speed",
            "Motor phase current (A)",
            "Intake air (°C)",
            "",
            "°C",
            "Name",
        ] {
            assert!(header(name).is_none(), "{name}: {:?}", header(name));
        }
    }

    #[test]
    fn every_signal_is_told_by_its_own_column() {
        for told in TOLD {
            let found = header(told.column).unwrap();
            assert!(found.in_full && found.signal == told.signal, "{}", told.column);
        }
    }
}
