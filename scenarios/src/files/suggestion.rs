//! Names that somebody may have meant.

/// The most similar of some names, if one is similar enough; a wrong unit at the end of a name
/// (`mass_lb` for `mass_kg`) counts as similar.
pub(crate) fn closest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = name.to_ascii_lowercase();
    let stem = |text: &str| text.rsplit_once('_').map_or(text.to_owned(), |(s, _)| s.to_owned());
    known
        .into_iter()
        .map(|candidate| {
            let mut score = strsim::jaro_winkler(&lower, candidate);
            if stem(candidate) == stem(&lower) || stem(candidate) == lower {
                score += 0.2;
            }
            (candidate, score)
        })
        .filter(|(_, score)| *score > 0.8)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(candidate, _)| candidate)
}

/// The end of a sentence about a name that is not known: what may have been meant, or else what
/// is known.
pub(crate) fn hint(name: &str, known: &[&str]) -> String {
    match closest(name, known.iter().copied()) {
        Some(candidate) => format!("; did you mean \"{candidate}\"?"),
        None if known.is_empty() => String::new(),
        None => format!("; known: {}", known.join(", ")),
    }
}
