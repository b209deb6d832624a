//! The sentence about a file that cannot be read as what it should be.

use crate::files::error::Error;
use crate::files::origins::Origins;
use crate::files::reading::{Unfit, Wanted, Why};
use crate::files::short_path::SCENARIO_KEYS;
use crate::files::suggestion;

/// The sentence about a branch that cannot be read, of a file that is called `whole`.
pub(crate) fn explain(origins: &Origins, unfit: Unfit, whole: &str) -> Error {
    let Unfit { path, why } = unfit;
    let below = |field: &str| {
        if path.is_empty() { field.to_owned() } else { format!("{path}.{field}") }
    };
    let (origin, shown) = origins.of(&path);
    let or_file = |shown: String| if shown.is_empty() { "the file".to_owned() } else { shown };
    let refused = |value: String, allowed: String| Error::Value {
        said: origin.said.clone(),
        path: or_file(shown.clone()),
        value,
        allowed,
    };
    // A point of the compass, where degrees have a field of their own.
    let is_point = path.ends_with("wind.from");
    let degrees = if is_point { "; degrees go to from_deg" } else { "" };
    match why {
        Why::UnknownField(field, known) => {
            let said = origins.of(&below(&field)).0.said.clone();
            let place = if path.is_empty() { whole.to_owned() } else { or_file(shown.clone()) };
            // Whoever leaves `build.` out may have meant a key of the scenario.
            let others: &[&str] = if path == "build" { &SCENARIO_KEYS } else { &[] };
            if others.contains(&field.as_str()) {
                let hint = "; it stands beside build, in the scenario".to_owned();
                return Error::Unknown { said, field, place, hint };
            }
            let others = others.iter().filter(|key| !known.contains(key));
            let known: Vec<&str> =
                known.iter().chain(others).copied().filter(|key| *key != "$schema").collect();
            let hint = suggestion::hint(&field, &known);
            Error::Unknown { said, field, place, hint }
        }
        Why::MissingField(field) => {
            let (origin, path) = origins.of(&below(field));
            let needed = "it has no default".to_owned();
            Error::Missing { said: origin.said.clone(), path, needed }
        }
        Why::UnknownWord(found, known) => {
            let all = known.join(", ");
            let allowed = match suggestion::closest(&found, known.iter().copied()) {
                Some(close) if known.len() > 1 => format!("{all}; did you mean \"{close}\"?"),
                _ => all,
            };
            refused(format!("\"{found}\""), allowed + degrees)
        }
        Why::OtherKind(found, wanted) => {
            let comma = wanted == Some(Wanted::Number) && has_decimal_comma(&found);
            let hint = if comma { " with a point before its decimals" } else { "" };
            let wanted = wanted.map_or_else(|| "another".to_owned(), |wanted| wanted.to_string());
            refused(found, wanted + hint + degrees)
        }
        Why::Other(words) => refused("not readable".to_owned(), words),
    }
}

/// Whether what was found, as it is said, is a number in quotes with a decimal comma.
fn has_decimal_comma(found: &str) -> bool {
    let text = found.strip_prefix("the text \"").and_then(|rest| rest.strip_suffix('"'));
    text.is_some_and(|text| text.contains(',') && text.replacen(',', ".", 1).parse::<f64>().is_ok())
}
