//! One number of a scenario: what it is, who said so, and what is usual of its class.

use crate::basis::{Known, SaidBy, is_assumed};
use crate::files::error::Source;
use crate::files::origins::Folder;
use crate::files::short_path;
use crate::files::tree::value_at;
use crate::plausible;
use crate::prepared::Prepared;

/// A number of a scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// What it is, in the unit of the field.
    pub value: f64,
    /// Who said so.
    pub said_by: SaidBy,
    /// How well it is known.
    pub known: Known,
    /// Why, where it was assumed; where that stands, where it was measured.
    pub reason: Option<String>,
    /// Where that stands.
    pub stands_in: String,
    /// What is usual of the class beside the other values of the scenario, with the sign of its unit,
    /// where that is known.
    pub usual: Option<((f64, f64), &'static str)>,
}

impl Prepared {
    /// The number at a path, such as `motor.mass_kg` or `gearbox.gears.2.ratio`. `None` where
    /// neither a file says nor anything was assumed, and where it is no number.
    pub fn field(&self, path: &str) -> Option<Field> {
        let whole = short_path::whole(path);
        let stated = value_at(&self.echo, &whole).and_then(|value| value.as_f64());
        let assumed = self.assumptions.iter().find(|one| one.path == whole);
        let (value, reason) = match stated {
            Some(value) => (value, None),
            None => (assumed?.number?, assumed.map(|one| one.reason.to_string())),
        };
        let (origin, _) = self.echo.origins().of(&whole);
        let said_by = match (&origin.said, &origin.folder) {
            _ if stated.is_none() => SaidBy::Nobody,
            (Source::Caller, _) => SaidBy::Caller,
            (Source::Measured(_), _) => SaidBy::Measured,
            (_, Folder::Shelf) => SaidBy::Shelf,
            _ => SaidBy::File,
        };
        let known = if self.is_known_of_part(&whole) {
            Known::Measured
        } else if said_by == SaidBy::File && is_assumed(&self.scenario.build, &[&whole]) {
            Known::Typical
        } else {
            Known::of_number(&whole, said_by)
        };
        let reason = match &origin.said {
            Source::Measured(file) => Some(self.taken_in.said_of(file)),
            _ => reason,
        };
        let stands_in = match (&origin.said, said_by) {
            (_, SaidBy::Nobody) => "assumed".to_owned(),
            (_, SaidBy::Shelf) => "the program's shelf".to_owned(),
            (Source::Caller, _) => "the command line".to_owned(),
            (Source::File(file) | Source::Measured(file), _) => file.clone(),
        };
        let usual = plausible::usual(&self.echo, &whole);
        Some(Field { value, said_by, known, reason, stands_in, usual })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Loaded;

    #[test]
    fn a_number_is_told_with_who_said_it_and_what_is_usual() {
        let changed = ["motor.mass_kg=60".parse().unwrap()];
        let car = Loaded::demo().unwrap().with(&changed).unwrap();
        let said_by = |path: &str| car.field(path).map(|field| field.said_by);
        assert_eq!(said_by("motor.mass_kg"), Some(SaidBy::Caller));
        assert_eq!(said_by("motor.peak_power_kw"), Some(SaidBy::Shelf));
        assert_eq!(said_by("load.1.mass_kg"), Some(SaidBy::File));
        assert_eq!(said_by("charger.efficiency_pct"), Some(SaidBy::Nobody));
        assert_eq!(said_by("motor.kind"), None);
        assert_eq!(said_by("motor.nothing"), None);
        assert_eq!(said_by("gearbox.gears.0.ratio"), None);
        let known = |path: &str| car.field(path).map(|field| field.known);
        assert_eq!(known("load.1.mass_kg"), Some(Known::Stated));
        assert_eq!(known("motor.peak_power_kw"), Some(Known::Typical));
        assert_eq!(known("charger.efficiency_pct"), Some(Known::Typical));
        let ratio = car.field("gearbox.gears.2.ratio").unwrap();
        assert_eq!((ratio.value, ratio.usual), (2.16, Some(((0.4, 7.0), ""))));
        // Of a controller's cooling and a motor's power no more than what both bands leave.
        let power = car.field("motor.peak_power_kw").unwrap().usual.unwrap();
        assert_eq!(power, ((0.15 * 60.0, 8.0 * 60.0), "kW"));
    }
}
