//! Paths as people write them: those of a build without `build.` before them.

/// Keys of a scenario itself; all others belong to its build.
pub(crate) const SCENARIO_KEYS: [&str; 9] =
    ["$schema", "name", "note", "build", "conditions", "start", "runs", "money", "seasons"];

/// Whether a path begins with a key of a scenario itself.
fn begins_at_scenario(path: &str) -> bool {
    SCENARIO_KEYS.contains(&path.split('.').next().unwrap_or_default())
}

/// The path from the root of a scenario.
pub(crate) fn whole(short: &str) -> String {
    if begins_at_scenario(short) { short.to_owned() } else { format!("build.{short}") }
}

/// The path as a person writes it.
pub fn short(whole: &str) -> &str {
    match whole.strip_prefix("build.") {
        // `build.name` is not the name of the scenario.
        Some(short) if !begins_at_scenario(short) => short,
        _ => whole,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_paths_are_those_of_the_build_and_lead_back() {
        for (from_root, written) in [
            ("build.motor.mass_kg", "motor.mass_kg"),
            ("build.name", "build.name"),
            ("conditions.air_c", "conditions.air_c"),
        ] {
            assert_eq!(short(from_root), written);
            assert_eq!(whole(written), from_root);
        }
    }
}
