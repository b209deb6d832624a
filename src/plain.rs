//! Text that steers no terminal, whatever a file says. All that is shown goes through here.

use serde::Serialize;

/// Whether a character does something to a terminal, or to the order of what is read there: C0 and
/// C1 controls, DEL, line and paragraph separators, marks of the direction of writing; or is not seen
/// at all, so that two names look alike.
fn steers(c: char) -> bool {
    let marks = matches!(
        c,
        '\u{ad}' | '\u{61c}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{feff}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{206f}'
    );
    c.is_control() || marks
}

/// The text on one line; a blank stands for each character that would steer.
pub fn line(text: &str) -> String {
    text.replace(steers, " ")
}

/// The text with its line ends, and no other character that would steer.
pub fn lines(text: &str) -> String {
    text.replace(|c| steers(c) && c != '\n', " ")
}

/// A JSON text on one line, in which such characters are escaped, so that values stay what they are.
pub fn json<T: Serialize>(document: &T) -> serde_json::Result<String> {
    serde_json::to_string(document).map(escaped)
}

/// The same with line breaks and margins of JSON's own.
pub fn json_with_margins<T: Serialize>(document: &T) -> serde_json::Result<String> {
    serde_json::to_string_pretty(document).map(escaped)
}

/// Such characters stand within strings alone, where JSON has escapes for them.
fn escaped(text: String) -> String {
    let steers = |c| steers(c) && c != '\n';
    if !text.contains(steers) {
        return text;
    }
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        if steers(c) {
            safe.push_str(&format!("\\u{:04x}", u32::from(c)));
        } else {
            safe.push(c);
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_character_keeps_its_value_in_json_and_none_steers() {
        for c in (0..=0xffff).filter_map(char::from_u32) {
            let text = format!("a{c}b");
            let said = json(&text).unwrap();
            assert_eq!(serde_json::from_str::<String>(&said).unwrap(), text);
            assert!(!said.contains(steers) && !line(&text).contains(steers), "{:x}", u32::from(c));
        }
    }

    /// Of Unicode 15, Bidi_Control, the general categories Cc, Zl and Zp, and of Cf what joins nothing,
    /// from memory; the rest of a text of any script stays as it is.
    #[test]
    fn controls_go_and_letters_of_every_script_stay() {
        let bad = "\0\u{7}\u{8}\t\n\r\u{1b}\u{7f}\u{80}\u{85}\u{9b}\u{9f}\u{61c}\u{200e}\u{200f}\
                   \u{2028}\u{2029}\u{202a}\u{202b}\u{202c}\u{202d}\u{202e}\u{2066}\u{2067}\u{2068}\
                   \u{2069}\u{ad}\u{200b}\u{feff}";
        assert!(line(bad).chars().all(|c| c == ' '));
        let good = "Größe 10 °C · ½ … — שלום العربية 中文 👩‍🔧";
        assert_eq!(line(good), good);
        assert_eq!(lines("a\tb\nc\r"), "a b\nc ");
    }
}
