//! What holds for every picture.

use super::{Look, Picture};
use quick_xml::Reader;
use quick_xml::events::Event;

/// About how wide a letter of a text is, as a share of its size: the mean of sans-serif fonts
/// (common practice, no source).
const LETTER: f64 = 0.5;

fn numbers(text: &str) -> Vec<f64> {
    let words = text.split(|c: char| c.is_whitespace() || "MLZ,".contains(c));
    words.filter(|w| !w.is_empty()).map(|w| w.parse::<f64>().unwrap()).collect()
}

fn overlap(a: &[f64; 4], b: &[f64; 4]) -> bool {
    a[0] < b[1] && b[0] < a[1] && a[2] < b[3] && b[2] < a[3]
}

/// Reads a picture as XML and holds it to its frame: every coordinate and every text lies within the
/// view box, no text over another, nothing is drawn that is no number, no class has a colour of its own, and the ids of
/// title and description are there once. Returns the texts that are drawn.
pub fn sound(picture: &Picture) -> Vec<String> {
    let mut texts = Vec::new();
    for svg in [picture.file(), picture.inline()] {
        texts = sound_svg(&svg, picture);
    }
    texts
}

fn sound_svg(svg: &str, picture: &Picture) -> Vec<String> {
    let mut reader = Reader::from_str(svg);
    reader.config_mut().check_end_names = true;
    let (mut texts, mut ids) = (Vec::new(), Vec::new());
    let (mut width, mut height) = (0.0, 0.0);
    // How far down a picture under another stands.
    let mut down = 0.0;
    let mut open: Option<(f64, f64, String, f64)> = None;
    let (mut within, mut said) = (String::new(), String::new());
    let mut depth = 0;
    let mut boxes: Vec<(String, [f64; 4])> = Vec::new();
    loop {
        match reader.read_event().unwrap_or_else(|e| panic!("{e}: {svg}")) {
            Event::Eof => break,
            Event::Start(tag) | Event::Empty(tag) => {
                let name = tag.name().as_ref().to_owned();
                let of = |key: &str| {
                    let found = tag.try_get_attribute(key).unwrap()?;
                    Some(found.value.into_owned())
                };
                let number = |key: &str| of(key).map(|v| numbers(&v)[0]);
                assert!(of("fill").is_none() && of("stroke").is_none() && of("style").is_none());
                ids.extend(of("id"));
                let inside = |x: f64, y: f64| {
                    let y = y + down;
                    assert!(x.is_finite() && y.is_finite(), "{name}: {x}, {y}");
                    let frame = (-0.01..=width + 0.01, -0.01..=height + 0.01);
                    assert!(frame.0.contains(&x) && frame.1.contains(&y), "{name}: {x}, {y}");
                };
                match name.as_str() {
                    "svg" => {
                        let frame = numbers(&of("viewBox").unwrap());
                        (width, height) = (frame[2], frame[3]);
                        assert!(width >= Look::NARROW && height > 0.0);
                        assert_eq!(of("role").unwrap(), "img");
                    }
                    "rect" => {
                        let (x, y) = (number("x").unwrap_or(0.0), number("y").unwrap_or(0.0));
                        inside(x, y);
                        inside(x + number("width").unwrap(), y + number("height").unwrap());
                    }
                    "circle" => {
                        let r = number("r").unwrap();
                        let (x, y) = (number("cx").unwrap(), number("cy").unwrap());
                        inside(x - r, y - r);
                        inside(x + r, y + r);
                    }
                    "path" => {
                        let at = numbers(&of("d").unwrap());
                        assert!(at.len() >= 4 && at.len().is_multiple_of(2));
                        at.chunks(2).for_each(|p| inside(p[0], p[1]));
                    }
                    "text" => {
                        let (x, y) = (number("x").unwrap(), number("y").unwrap());
                        inside(x, y);
                        let class = of("class").unwrap_or_default();
                        let size = match class {
                            c if c.contains("title") => 15.0,
                            c if c.contains("small") => 11.0,
                            _ => 13.0,
                        };
                        open = Some((x, y, of("text-anchor").unwrap_or_default(), size));
                    }
                    "g" => {
                        let transform = of("transform").unwrap();
                        let shift = transform.strip_prefix("translate(0 ").unwrap();
                        down += shift.trim_end_matches(')').parse::<f64>().unwrap();
                    }
                    "title" | "desc" | "style" => {}
                    other => panic!("{other}"),
                }
                said.clear();
                within = name;
                depth += 1;
            }
            Event::Text(text) => said.push_str(&text),
            // A letter that was escaped.
            Event::GeneralRef(_) => said.push('&'),
            Event::End(_) => {
                let text = std::mem::take(&mut said);
                if let ("text", Some((x, y, anchor, size))) = (within.as_str(), &open) {
                    let long = text.chars().count() as f64 * LETTER * size;
                    let left = match anchor.as_str() {
                        "end" => x - long,
                        "middle" => x - 0.5 * long,
                        _ => *x,
                    };
                    assert!(left > -1.0 && left + long < width + 1.0, "{text}: {left} + {long}");
                    assert!(y - 0.6 * size > 0.0 && *y + down < height, "{text}: {y}");
                    // From the feet of its letters to the top of a low one.
                    let frame = [left, left + long, y + down - 0.6 * size, y + down];
                    if let Some((other, _)) = boxes.iter().find(|(_, b)| overlap(b, &frame)) {
                        panic!("{text} lies over {other}: {svg}");
                    }
                    boxes.push((text.clone(), frame));
                    texts.push(text);
                }
                within.clear();
            }
            _ => {}
        }
    }
    assert!(depth > 3);
    let words: String = texts.join(" ");
    for nothing in ["NaN", "inf", "Infinity"] {
        assert!(!words.split(' ').any(|word| word == nothing), "{words}");
    }
    ids.sort();
    assert_eq!(ids, [format!("{}-desc", picture.id), format!("{}-title", picture.id)]);
    texts
}

/// Places and sizes of the rectangles whose class begins so: left, top, width, height.
pub fn rectangles(picture: &Picture, class: &str) -> Vec<[f64; 4]> {
    let svg = picture.inline();
    let mut reader = Reader::from_str(&svg);
    let mut found = Vec::new();
    loop {
        match reader.read_event().unwrap() {
            Event::Eof => return found,
            Event::Empty(tag) if tag.name().as_ref() == "rect" => {
                let of =
                    |key: &str| tag.try_get_attribute(key).unwrap().map(|a| a.value.into_owned());
                if of("class").is_some_and(|own| own.starts_with(class)) {
                    let number = |key: &str| numbers(&of(key).unwrap())[0];
                    found.push(["x", "y", "width", "height"].map(number));
                }
            }
            _ => {}
        }
    }
}
