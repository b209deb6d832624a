//! README and `docs/` as a reader meets them: every command in them is run as it stands, every
//! file that they show is the file that the commands read, every picture is what the command in its
//! title draws, and every link leads somewhere.
//!
//! `BOOK=overwrite cargo test --release --test program -- book references` puts what the program says now, and
//! what the files hold now, in place of what the pages show.

use rayon::prelude::*;
use serde_json::Value;
use shakedown::COMMANDS;
use std::collections::BTreeSet;
use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Top of the repository.
const TOP: &str = env!("CARGO_MANIFEST_DIR");

/// README and all pages of the book, as paths from the top.
fn pages() -> Vec<PathBuf> {
    fn markdown(folder: &Path, found: &mut Vec<PathBuf>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                markdown(&path, found);
            } else if path.extension().is_some_and(|end| end == "md") {
                found.push(path.strip_prefix(TOP).unwrap().to_owned());
            }
        }
    }
    let mut found = vec![PathBuf::from("README.md")];
    markdown(&Path::new(TOP).join("docs"), &mut found);
    found.sort();
    found
}

fn text_of(page: &Path) -> String {
    fs::read_to_string(Path::new(TOP).join(page)).unwrap()
}

/// Compares a page with what it should be, or writes it anew where that is asked for.
pub fn hold(page: &Path, expected: &str) -> Result<(), String> {
    let path = Path::new(TOP).join(page);
    let found = fs::read_to_string(&path).unwrap_or_default();
    if found == expected {
        return Ok(());
    }
    if env::var("BOOK").is_ok_and(|wish| wish == "overwrite") {
        fs::write(&path, expected).unwrap();
        return Ok(());
    }
    let lines = || found.lines().map(Some).chain([None]);
    let now = expected.lines().map(Some).chain([None]);
    let (at, (old, new)) = lines().zip(now).enumerate().find(|(_, (a, b))| a != b).unwrap();
    Err(format!(
        "{}:{}: stale\n  shown: {}\n  now:   {}\n  renewed by BOOK=overwrite",
        page.display(),
        at + 1,
        old.unwrap_or("(nothing)"),
        new.unwrap_or("(nothing)"),
    ))
}

/// A folder of a page's own with all that the book's commands read.
fn desk(page: &Path) -> PathBuf {
    let name = page.with_extension("").display().to_string().replace(['/', '\\'], "-");
    let desk = Path::new(env!("CARGO_TARGET_TMPDIR")).join("book").join(name);
    let _ = fs::remove_dir_all(&desk);
    fs::create_dir_all(&desk).unwrap();
    for entry in fs::read_dir(Path::new(TOP).join("docs/builds")).unwrap() {
        let path = entry.unwrap().path();
        fs::copy(&path, desk.join(path.file_name().unwrap())).unwrap();
    }
    desk
}

/// What a shell shows for a command, which must end well and say nothing beside its answer; where
/// it is to be refused, what it is refused with.
fn said(command: &str, desk: &Path, refused: bool) -> Result<String, String> {
    let program = Path::new(env!("CARGO_BIN_EXE_shakedown"));
    let folders = env::var_os("PATH").unwrap_or_default();
    let path = [program.parent().unwrap().to_owned()].into_iter().chain(env::split_paths(&folders));
    let run = Command::new("sh")
        .args(["-c", command])
        .current_dir(desk)
        .env_remove("COLUMNS")
        .env("PATH", env::join_paths(path).unwrap())
        .output()
        .unwrap();
    let (answer, complaint) =
        (String::from_utf8(run.stdout).unwrap(), String::from_utf8(run.stderr).unwrap());
    match (refused, run.status.code(), complaint.is_empty()) {
        (false, Some(0), true) => Ok(answer),
        (true, Some(1 | 2), false) => Ok(answer + &complaint),
        _ => Err(format!("`{command}` ends with {:?}: {complaint}", run.status.code())),
    }
}

/// A member of a JSON file, as its lines stand there but for the margin.
fn member(file: &str, key: &str) -> Option<String> {
    let head = format!("\"{key}\":");
    let mut lines = file.lines().skip_while(|line| !line.trim_start().starts_with(&head));
    let first = lines.next()?;
    let margin = first.len() - first.trim_start().len();
    let mut found = vec![&first[margin..]];
    if first.ends_with(['{', '[']) {
        let inner = |line: &&str| line[margin..].starts_with(' ');
        found.extend(lines.clone().take_while(inner).map(|line| &line[margin..]));
        found.extend(lines.find(|line| !inner(line)).map(|line| line.trim_start()));
    }
    Some(found.join("\n").trim_end_matches(',').to_owned() + "\n")
}

/// A block of code as it should be, from its opening line's words and its lines.
fn block(words: &[&str], body: &str, desk: &Path) -> Result<String, String> {
    let refused = match words {
        ["console"] => false,
        ["console", "refused"] => true,
        [_, file, rest @ ..] => {
            let path = Path::new(TOP).join("docs/builds").join(file);
            let whole = fs::read_to_string(path).map_err(|e| format!("{file}: {e}"))?;
            return match rest {
                [] => Ok(whole),
                [key] => member(&whole, key).ok_or_else(|| format!("no {key} in {file}")),
                _ => Err("more words than a file and a member of it".to_owned()),
            };
        }
        _ if body.contains("$ shakedown") => return Err("a command outside console".to_owned()),
        _ => return Ok(body.to_owned()),
    };
    let mut shown = String::new();
    for command in body.lines().filter_map(|line| line.strip_prefix("$ ")) {
        shown +=
            &format!("$ {command}\n{}", said(command, desk, refused)?.trim_start_matches('\n'));
    }
    Ok(shown)
}

/// A new answer with the old one's rounding, which is noise and differs from build to build.
fn without_noise(new: &str, old: &str) -> String {
    let share = |line: &str| {
        let number = line.strip_prefix("unaccounted for: ")?.split(' ').next()?;
        number.parse::<f64>().ok()
    };
    let noise = |line: &&str| share(line).is_some_and(|share| share < 1e-9);
    let mut before = old.lines().filter(noise);
    let lines = new.lines().map(|line| match noise(&line) {
        true => before.next().unwrap_or(line),
        false => line,
    });
    lines.flat_map(|line| [line, "\n"]).collect()
}

/// The page with its blocks as they should be.
fn renewed(page: &Path, old: &str) -> Result<String, String> {
    let desk = desk(page);
    let mut new = String::new();
    let mut lines = old.lines().enumerate();
    while let Some((at, line)) = lines.next() {
        new += &format!("{line}\n");
        let Some(opening) = line.strip_prefix("```") else { continue };
        let body: Vec<&str> =
            lines.by_ref().map(|(_, line)| line).take_while(|line| *line != "```").collect();
        let body: String = body.iter().flat_map(|line| [line, "\n"]).collect();
        let words: Vec<&str> = opening.split_whitespace().collect();
        let here = |e| format!("{}:{}: {e}", page.display(), at + 1);
        let now = block(&words, &body, &desk).map_err(here)?;
        new += &format!("{}```\n", without_noise(&now, &body));
    }
    let files = fs::read_dir(&desk).unwrap().map(|file| file.unwrap().file_name());
    for file in files.map(|name| name.into_string().unwrap()) {
        let given = Path::new(TOP).join("docs/builds").join(&file).exists();
        let named = old.split_whitespace().any(|word| word == file);
        if !given && !named {
            return Err(format!("{}: a command wrote {file:?} unasked", page.display()));
        }
    }
    Ok(new)
}

/// The commands within sentences, but for those with a word in capitals for what is yours.
fn commands_in_sentences(text: &str) -> Vec<String> {
    let prose: String = text.split("```").step_by(2).collect();
    let spans = prose.split('`').skip(1).step_by(2);
    let commands = spans.map(|span| span.split_whitespace().collect::<Vec<_>>().join(" "));
    let fill_in =
        |word: &str| word.chars().any(char::is_uppercase) && !word.chars().any(char::is_lowercase);
    commands
        .filter(|span| span.starts_with("shakedown "))
        .filter(|command| !command.split([' ', '=']).any(fill_in))
        .collect()
}

#[test]
fn every_command_within_a_sentence_runs() {
    let problems: Vec<String> = pages()
        .par_iter()
        .flat_map_iter(|page| {
            let desk = desk(&page.join("sentences"));
            let commands = commands_in_sentences(&text_of(page)).into_iter();
            commands.filter_map(move |command| said(&command, &desk, false).err())
        })
        .collect();
    assert!(problems.is_empty(), "{}", problems.join("\n"));
}

#[test]
fn every_command_of_the_book_says_what_the_page_shows() {
    let problems: Vec<String> = pages()
        .par_iter()
        .filter_map(|page| renewed(page, &text_of(page)).and_then(|new| hold(page, &new)).err())
        .collect();
    assert!(problems.is_empty(), "{}", problems.join("\n"));
}

/// What links and pictures of a page lead to, outside its blocks of code: a target, and a title
/// where there is one.
fn targets(text: &str) -> Vec<(&str, Option<&str>)> {
    let prose = text.split("```").step_by(2);
    let ends = prose.flat_map(|part| part.split("](").skip(1));
    let inner = ends.filter_map(|rest| rest.split(')').next());
    let apart = inner.map(|inner| match inner.split_once(" \"") {
        Some((target, title)) => (target, Some(title.trim_end_matches('"'))),
        None => (inner, None),
    });
    apart.collect()
}

fn links(text: &str) -> Vec<&str> {
    targets(text).into_iter().map(|(target, _)| target).collect()
}

/// The pictures that a command draws: file, from the top, and the command in the picture's title,
/// which writes a file of that name.
fn drawn(page: &Path) -> Vec<(PathBuf, String)> {
    let text = text_of(page);
    let svgs = targets(&text).into_iter().filter(|(target, _)| target.ends_with(".svg"));
    let command = |title: Option<&str>| title.unwrap_or_default().replace('\n', " ");
    svgs.map(|(target, title)| (page.parent().unwrap().join(target), command(title))).collect()
}

#[test]
fn every_picture_is_what_its_command_draws() {
    let problems: Vec<String> = pages()
        .par_iter()
        .flat_map_iter(|page| {
            let desk = desk(&page.join("pictures"));
            drawn(page).into_iter().filter_map(move |(file, command)| {
                let name = file.file_name().unwrap();
                let now = said(&command, &desk, false)
                    .and_then(|_| fs::read_to_string(desk.join(name)).map_err(|e| e.to_string()));
                let here =
                    |e| format!("{}: {} by `{command}`: {e}", page.display(), file.display());
                now.map_err(here).and_then(|now| hold(&file, &now)).err()
            })
        })
        .collect();
    assert!(problems.is_empty(), "{}", problems.join("\n"));
}

/// No picture lies about that no page shows.
#[test]
fn every_picture_is_shown() {
    let shown: String = pages().iter().map(|page| text_of(page)).collect();
    let folder = Path::new(TOP).join("docs/pictures");
    for entry in fs::read_dir(folder).into_iter().flatten() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(shown.contains(&format!("pictures/{name}")), "no page shows {name}");
    }
}

/// The name by which a link reaches a heading.
fn anchor(heading: &str) -> String {
    let letters = heading.trim_start_matches('#').trim().to_lowercase();
    let kept = letters.chars().filter(|c| c.is_alphanumeric() || " -_".contains(*c));
    kept.map(|c| if c == ' ' { '-' } else { c }).collect()
}

#[test]
fn every_link_leads_somewhere_and_every_page_is_reached() {
    let mut listed = BTreeSet::from([PathBuf::from("README.md"), PathBuf::from("docs/SUMMARY.md")]);
    for page in pages() {
        let text = text_of(&page);
        for link in links(&text).into_iter().filter(|link| !link.starts_with("http")) {
            let file = link.split('#').next().unwrap();
            let to = page.parent().unwrap().join(file);
            let there = Path::new(TOP).join(&to);
            assert!(file.is_empty() || there.exists(), "{}: no {link}", page.display());
            // A built book holds nothing from outside its folder.
            let inside = there.canonicalize().unwrap().starts_with(Path::new(TOP).join("docs"));
            assert!(inside || page == Path::new("README.md"), "{}: {link}", page.display());
            if let Some((_, wanted)) = link.split_once('#') {
                let there = if file.is_empty() { text.clone() } else { text_of(&to) };
                let mut headings = there.lines().filter(|line| line.starts_with('#'));
                let found = headings.any(|heading| anchor(heading) == wanted);
                assert!(found, "{}: no heading for {link}", page.display());
            }
            if page == Path::new("docs/SUMMARY.md") {
                listed.insert(to);
            }
        }
    }
    assert_eq!(pages().into_iter().collect::<BTreeSet<_>>(), listed, "pages, and SUMMARY.md's");
}

#[test]
fn the_readme_is_short_and_ci_runs_its_commands() {
    let readme = text_of(Path::new("README.md"));
    assert!(readme.lines().count() <= 200, "{} lines", readme.lines().count());
    let ci = text_of(Path::new(".ci/run"));
    let commands = readme.lines().filter(|line| line.starts_with("cargo ") && line.contains('#'));
    let commands: Vec<&str> = commands.filter_map(|line| line.split('#').next()).collect();
    assert_eq!(commands.len(), 2, "{commands:?}");
    for command in commands {
        assert!(ci.lines().any(|line| line == command.trim()), "{command}");
    }
}

#[test]
fn the_book_shows_every_command() {
    let all: String = pages().iter().map(|page| text_of(page)).collect();
    for command in COMMANDS {
        let shown = format!("$ shakedown {}", command.name);
        assert!(all.lines().any(|line| line.starts_with(&shown)), "no page shows {}", command.name);
    }
}

/// Every file that the pages' commands read is shown to the reader.
#[test]
fn every_file_that_is_read_is_shown() {
    let all: String = pages().iter().map(|page| text_of(page)).collect();
    for entry in fs::read_dir(Path::new(TOP).join("docs/builds")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(all.contains(&format!(" {name}\n")), "no page shows the whole of {name}");
        if name.ends_with(".json") {
            let text = fs::read_to_string(Path::new(TOP).join("docs/builds").join(&name)).unwrap();
            serde_json::from_str::<Value>(&text).unwrap();
        }
    }
}
