//! Numbers that stay on one line with their units.

/// A blank at which no line is broken.
const TIE: char = '\u{a0}';

/// What may follow a number as its unit.
const UNITS: [&str; 45] = [
    "%",
    "°C",
    "°F",
    "K",
    "A",
    "Ah",
    "V",
    "mV",
    "W",
    "kW",
    "hp",
    "kWh",
    "Wh/km",
    "Wh/mi",
    "mi/kWh",
    "km",
    "km/h",
    "m",
    "mm",
    "mm²",
    "m²",
    "m/s²",
    "mi",
    "mph",
    "ft",
    "in",
    "kg",
    "lb",
    "N",
    "lbf",
    "N·m",
    "lb·ft",
    "s",
    "min",
    "h",
    "rpm",
    "kJ",
    "kJ/K",
    "BTU",
    "BTU/°F",
    "W/K",
    "mΩ",
    "W/(m²·K)",
    "BTU/(h·°F)",
    "Hz",
];

/// The text with ties between numbers and their units.
pub fn tied(text: &str) -> String {
    let mut said = String::with_capacity(text.len());
    let mut number = false;
    for (i, word) in text.split(' ').enumerate() {
        let bare = word.trim_end_matches([',', ';', '.', ':']);
        // The bracket that closes may be the unit's own.
        let unit = UNITS.contains(&bare) || UNITS.contains(&bare.trim_end_matches(')'));
        match i {
            0 => {}
            _ if number && unit => said.push(TIE),
            _ => said.push(' '),
        }
        said.push_str(word);
        number = word == "—" || word.ends_with(|c: char| c.is_ascii_digit());
    }
    said
}

/// The same text with blanks again.
pub fn untied(text: &str) -> String {
    text.replace(TIE, " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_tied_to_its_unit_and_words_are_not_to_each_other() {
        let text = "at 30 km/h, 155 to 170 °C (8.1 min) in 1st gear; 34 × 1 of it";
        let tied = tied(text);
        let expected = ["30\u{a0}km/h,", "170\u{a0}°C", "(8.1\u{a0}min)"];
        assert!(expected.iter().all(|words| tied.split(' ').any(|word| word == *words)), "{tied}");
        assert_eq!(tied.matches(TIE).count(), 3);
        assert_eq!(untied(&tied), text);
    }
}
