//! Pages: HTML in one file, without script and without anything from elsewhere. All text goes in
//! through `maud`, which escapes it, and through [`document`], which lets nothing pass that would turn
//! the order of what is read.

pub mod hand_over;

use crate::output::Said;
use crate::pictures::{self, Picture};
use crate::plain;
use crate::table::Table;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// How every page of the program begins, by which it is known when it is to be replaced.
pub const BEGINNING: &str = concat!(
    "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\">",
    "<meta name=\"generator\" content=\"shakedown "
);

/// The look of a page to read and to print.
const STYLE: &str = include_str!("style.css");

/// Characters of a text that are shown; a name may be longer than a page.
const SHOWN: usize = 400;
/// Characters of a sentence that are shown; one of the program's own is shorter.
const SENTENCE: usize = 2000;
/// Rows of a table that stays on one sheet of paper.
const FEW: usize = 8;
/// Characters of what stays on one line in a table.
const WHOLE: usize = 14;
/// Characters of a long word.
const LONG_WORD: usize = 24;

/// A page. What comes from elsewhere is forbidden to it, and so is script, whatever is in it.
pub fn document(title: &str, body: &Markup) -> String {
    let policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="generator" content={ "shakedown " (env!("CARGO_PKG_VERSION")) };
                meta http-equiv="Content-Security-Policy" content=(policy);
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (short(title)) }
                style { (PreEscaped(STYLE)) (PreEscaped(pictures::STYLE)) }
            }
            body { (body) }
        }
    };
    plain::lines(&page.into_string())
}

/// A text of which no more is shown than somebody would read.
pub fn short(text: &str) -> String {
    cut(text, SHOWN)
}

fn cut(text: &str, most: usize) -> String {
    let mut shown: String = text.chars().take(most).collect();
    if text.chars().nth(most).is_some() {
        shown.push_str(&format!("… ({} characters)", text.chars().count()));
    }
    shown
}

/// What a command said, with headings below those of the page's sections.
pub fn said(all: &[Said]) -> Markup {
    html! {
        @for one in all {
            @match one {
                Said::Text(text) => (sentence(text)),
                Said::Heading(text) => h3 { (short(text)) },
                Said::Table(found) => (table(found)),
            }
        }
    }
}

/// A sentence, or an item of a list.
fn sentence(text: &str) -> Markup {
    html! {
        @if let Some(item) = text.strip_prefix("- ") { ul { li { (words(item)) } } }
        @else if !text.trim().is_empty() { p { (words(text)) } }
    }
}

/// A sentence whole; what stands between backticks is code.
pub fn words(text: &str) -> Markup {
    let text = cut(text, SENTENCE);
    let pairs = text.matches('`').count() / 2;
    let mut rest = text.as_str();
    let mut parts = Vec::new();
    for _ in 0..pairs {
        if let Some((before, (code, after))) =
            rest.split_once('`').and_then(|(before, rest)| Some((before, rest.split_once('`')?)))
        {
            parts.push((before, code));
            rest = after;
        }
    }
    html! { @for (before, code) in parts { (before) code { (code) } } (rest) }
}

/// A table; one without headings is a list of what is known by name.
pub fn table(table: &Table) -> Markup {
    let named = table.headings().any(|(heading, _)| !heading.is_empty());
    let right: Vec<bool> = table.headings().map(|(_, right)| right).collect();
    let class = |i: usize, text: &str| match right.get(i) {
        Some(true) => Some("n"),
        _ if text.chars().count() <= WHOLE => Some("whole"),
        _ => long(text),
    };
    html! {
        table.facts[!named].few[table.rows().len() <= FEW] {
            @if named {
                thead { tr {
                    @for (i, (heading, _)) in table.headings().enumerate() {
                        th scope="col" class=[class(i, heading)] { (short(heading)) }
                    }
                } }
            }
            tbody {
                @for row in table.rows() {
                    tr {
                        @for (i, cell) in row.iter().enumerate() {
                            @if i == 0 { th scope="row" class=[class(i, cell)] { (words(cell)) } }
                            @else { td class=[class(i, cell)] { (words(cell)) } }
                        }
                    }
                }
            }
        }
    }
}

/// The class of a cell with a word longer than any of a language, which may break anywhere.
pub fn long(text: &str) -> Option<&'static str> {
    text.split_whitespace().any(|word| word.chars().count() > LONG_WORD).then_some("long")
}

/// A picture, which escapes its texts by itself.
pub fn figure(picture: &Picture) -> Markup {
    html! { figure { (PreEscaped(picture.inline())) } }
}

/// A narrow picture with something beside it.
pub fn beside(picture: &Picture, other: &Markup) -> Markup {
    html! { div.pair { (figure(picture)) div { (other) } } }
}

/// Sentences, one below the other.
pub fn list<T: AsRef<str>>(sentences: &[T]) -> Markup {
    html! { ul { @for sentence in sentences { li { (words(sentence.as_ref())) } } } }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What an HTML parser takes for markup, by its standard: `<`, `&` and, in attributes, quotes.
    #[test]
    fn text_stays_text_whatever_it_holds() {
        let bad = "<script>alert('x')</script> & \"q\" \u{202e}gnp.exe \u{0} \u{1b}[2J";
        let mut cells = Table::new(&["a", bad]);
        cells.row([bad, bad]);
        let said = said(&[Said::Text(bad.into()), Said::Heading(bad.into()), Said::Table(cells)]);
        let page = document(bad, &said);
        assert_eq!(page.matches("<script").count(), 0, "{page}");
        assert!(page.contains("&lt;script&gt;alert('x')&lt;/script&gt; &amp; &quot;q&quot;"));
        assert!(!page.contains(['\u{202e}', '\0', '\u{1b}']));
        assert!(page.starts_with(BEGINNING));
    }

    #[test]
    fn a_name_longer_than_a_page_is_cut_and_its_length_told() {
        let shown = short(&"x".repeat(10_000));
        assert!(shown.ends_with("x… (10000 characters)") && shown.len() < 500);
        assert_eq!(short("größe"), "größe");
        let told = words(&format!("{} ends", "a sentence of the program's own ".repeat(20)));
        assert!(told.into_string().ends_with(" ends"));
        let told = words("see `check <file>`, it`s there").into_string();
        assert_eq!(told, "see <code>check &lt;file&gt;</code>, it`s there");
    }
}
