use crate::{Error, Phase, Schedule, WltcClass, units};

/// A driving cycle that a regulation prescribes and that is built in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cycle {
    /// The name that [`find`] knows it by.
    pub name: &'static str,
    /// What it is, for a list.
    pub title: &'static str,
    figures: &'static str,
    phase: Option<&'static str>,
}

const UDDS: &str = include_str!("../data/udds.txt");
const HWFET: &str = include_str!("../data/hwfet.txt");
const US06: &str = include_str!("../data/us06.txt");
const WLTC_1: &str = include_str!("../data/wltc-class-1.txt");
const WLTC_2: &str = include_str!("../data/wltc-class-2.txt");
const WLTC_3A: &str = include_str!("../data/wltc-class-3a.txt");
const WLTC_3B: &str = include_str!("../data/wltc-class-3b.txt");

#[rustfmt::skip]
const CYCLES: [Cycle; 21] = [
    Cycle { name: "udds", title: "US city, 40 CFR 86", figures: UDDS, phase: None },
    Cycle { name: "hwfet", title: "US highway, 40 CFR 600", figures: HWFET, phase: None },
    Cycle { name: "us06", title: "US fast, 40 CFR 86", figures: US06, phase: None },
    Cycle { name: "wltc-1", title: "WLTC class 1", figures: WLTC_1, phase: None },
    Cycle { name: "wltc-1-low", title: "WLTC class 1, low", figures: WLTC_1, phase: Some("low") },
    Cycle { name: "wltc-1-medium", title: "WLTC class 1, medium", figures: WLTC_1, phase: Some("medium") },
    Cycle { name: "wltc-2", title: "WLTC class 2", figures: WLTC_2, phase: None },
    Cycle { name: "wltc-2-low", title: "WLTC class 2, low", figures: WLTC_2, phase: Some("low") },
    Cycle { name: "wltc-2-medium", title: "WLTC class 2, medium", figures: WLTC_2, phase: Some("medium") },
    Cycle { name: "wltc-2-high", title: "WLTC class 2, high", figures: WLTC_2, phase: Some("high") },
    Cycle { name: "wltc-2-extra-high", title: "WLTC class 2, extra-high", figures: WLTC_2, phase: Some("extra-high") },
    Cycle { name: "wltc-3a", title: "WLTC class 3a", figures: WLTC_3A, phase: None },
    Cycle { name: "wltc-3a-low", title: "WLTC class 3a, low", figures: WLTC_3A, phase: Some("low") },
    Cycle { name: "wltc-3a-medium", title: "WLTC class 3a, medium", figures: WLTC_3A, phase: Some("medium") },
    Cycle { name: "wltc-3a-high", title: "WLTC class 3a, high", figures: WLTC_3A, phase: Some("high") },
    Cycle { name: "wltc-3a-extra-high", title: "WLTC class 3a, extra-high", figures: WLTC_3A, phase: Some("extra-high") },
    Cycle { name: "wltc-3b", title: "WLTC class 3b", figures: WLTC_3B, phase: None },
    Cycle { name: "wltc-3b-low", title: "WLTC class 3b, low", figures: WLTC_3B, phase: Some("low") },
    Cycle { name: "wltc-3b-medium", title: "WLTC class 3b, medium", figures: WLTC_3B, phase: Some("medium") },
    Cycle { name: "wltc-3b-high", title: "WLTC class 3b, high", figures: WLTC_3B, phase: Some("high") },
    Cycle { name: "wltc-3b-extra-high", title: "WLTC class 3b, extra-high", figures: WLTC_3B, phase: Some("extra-high") },
];

/// The built-in cycles.
pub fn catalogue() -> &'static [Cycle] {
    &CYCLES
}

/// Whether [`find`] knows a name.
pub fn is_built_in(name: &str) -> bool {
    named(name).is_some()
}

fn named(name: &str) -> Option<&'static Cycle> {
    let full = WltcClass::ThreeB.named(name).unwrap_or_else(|| name.trim().to_owned());
    CYCLES.iter().find(|c| c.name.eq_ignore_ascii_case(&full))
}

/// The built-in cycle of this name, compared without regard to case. A name that leaves the class of
/// the WLTC open, `wltc` or with a phase such as `wltc-low`, means class 3b.
///
/// # Errors
/// [`Error::UnknownCycle`], which suggests the nearest names.
pub fn find(name: &str) -> Result<Schedule, Error> {
    match named(name) {
        Some(cycle) => cycle.schedule(),
        None => Err(Error::UnknownCycle { name: name.to_owned(), hint: hint(name.trim()) }),
    }
}

fn hint(wanted: &str) -> String {
    let open = WltcClass::open_names();
    let names = open.iter().map(String::as_str).chain(CYCLES.iter().map(|c| c.name));
    match nearest(wanted, names) {
        Some(name) => format!("; did you mean `{name}`"),
        None => {
            let whole = CYCLES.iter().filter(|c| c.phase.is_none()).map(|c| c.name);
            let names = whole.collect::<Vec<_>>().join(", ");
            format!(", and the built-in cycles are {names}, and phases such as `wltc-low`")
        }
    }
}

/// The name most like the one wanted, where any is like it at all.
pub(crate) fn nearest<'a>(wanted: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    // Below this share of common letters a suggestion would be a guess; chosen by trying typos.
    const LIKENESS: f64 = 0.75;
    let wanted: String = wanted.to_ascii_lowercase().chars().take(64).collect();
    names
        .map(|name| (strsim::jaro_winkler(&wanted, name), name))
        .filter(|(likeness, _)| *likeness >= LIKENESS)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}

impl Cycle {
    /// The schedule that the regulation prints.
    ///
    /// # Errors
    /// [`Error::Schedule`] where the embedded figures are damaged.
    pub fn schedule(&self) -> Result<Schedule, Error> {
        let whole = parse(self.name, self.figures)?;
        match self.phase {
            None => Ok(whole),
            Some(phase) => Ok(Schedule { name: self.name.to_owned(), ..whole.phase(phase)? }),
        }
    }
}

/// Reads the form of `data/`: `key value` lines, then the line `speeds …`, then the speeds.
fn parse(name: &str, figures: &str) -> Result<Schedule, Error> {
    let fault = |field: &str, value: &str, allowed: &str| Error::Schedule {
        schedule: name.to_owned(),
        field: field.to_owned(),
        value: format!("`{value}`"),
        allowed: allowed.to_owned(),
    };
    let number =
        |field: &str, text: &str| text.parse::<f64>().map_err(|_| fault(field, text, "a number"));
    let mut source = "";
    let mut to_mps: fn(f64) -> f64 = |speed_mps| speed_mps;
    let mut phases = Vec::new();
    let mut lines = figures.lines();
    for line in lines.by_ref() {
        match line.split_once(' ').unwrap_or((line, "")) {
            ("name", _) => {}
            ("source", text) => source = text,
            ("unit", "mph") => to_mps = units::mps_from_mph,
            ("unit", "kmh") => to_mps = units::mps_from_kmh,
            ("phase", text) => match text.split(' ').collect::<Vec<_>>()[..] {
                [name, from, to] => phases.push(Phase {
                    name: name.to_owned(),
                    from_s: number("phase", from)?,
                    to_s: number("phase", to)?,
                }),
                _ => return Err(fault("phase", text, "a name and two times")),
            },
            ("speeds", _) => break,
            _ => return Err(fault("line", line, "name, source, unit, phase or speeds")),
        }
    }
    let speed_mps = lines
        .flat_map(str::split_whitespace)
        .map(|text| number("speed", text).map(to_mps))
        .collect::<Result<Vec<_>, _>>()?;
    let time_s = (0..speed_mps.len()).map(|second| second as f64).collect();
    let slope = vec![0.0; speed_mps.len().saturating_sub(1)];
    Schedule::new(name, source, time_s, speed_mps, slope, phases)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cycle_of_the_catalogue_is_found_in_any_case() {
        for cycle in catalogue() {
            let schedule = find(&cycle.name.to_uppercase()).unwrap();
            assert_eq!(schedule.name, cycle.name);
            assert!(!schedule.source.is_empty() && !cycle.title.is_empty());
        }
    }

    #[test]
    fn a_wltc_of_no_class_is_that_of_class_3b() {
        for open in WltcClass::open_names() {
            let full = format!("wltc-3b{}", &open["wltc".len()..]);
            assert_eq!(find(&open.to_uppercase()).unwrap(), find(&full).unwrap());
        }
    }

    #[test]
    fn a_near_miss_is_answered_with_the_name_meant() {
        for (typo, meant) in [
            ("uds", "udds"),
            ("wtlc", "wltc"),
            ("WLTP", "wltc"),
            ("us-06", "us06"),
            ("hwfett", "hwfet"),
            ("wltc_medium", "wltc-medium"),
            ("wltc-extrahigh", "wltc-extra-high"),
            ("wltc3a", "wltc-3a"),
            ("wltc-2-hihg", "wltc-2-high"),
        ] {
            let sentence = find(typo).unwrap_err().to_string();
            assert!(sentence.contains(&format!("did you mean `{meant}`")), "{sentence}");
        }
        let sentence = find("zzz").unwrap_err().to_string();
        assert!(sentence.contains("the built-in cycles are udds, hwfet"), "{sentence}");
    }

    #[test]
    fn damaged_figures_are_refused() {
        for damaged in
            ["", "speeds\n1 x", "colour red", "phase low 0", "phase low a b", "speeds\n1"]
        {
            assert!(parse("damaged", damaged).is_err(), "{damaged}");
        }
    }
}
