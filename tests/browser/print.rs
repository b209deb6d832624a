//! The page of `report`, printed by a real browser on both papers.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A browser and what reads its PDF are here only where somebody installed them.
const NEEDS: &str = "chromium and poppler-utils are installed";
/// Points in a millimetre.
const PT_PER_MM: f64 = 72.0 / 25.4;
/// Least margin on any side, mm; the page asks for 12 and more.
const MARGIN_MM: f64 = 10.0;

/// Papers and their sizes, mm: ISO 216 and ANSI/ASME Y14.1.
const PAPERS: [(&str, f64, f64); 2] = [("A4", 210.0, 297.0), ("letter", 215.9, 279.4)];

/// Builds with the most pages that each may take.
const BUILDS: [(&[&str], usize); 5] = [
    (&[], 13),
    (&["docs/builds/roadster.json", "--units", "us"], 12),
    (&["docs/builds/estate-year.json", "--bands"], 15),
    (
        &[
            "docs/builds/hatch.json",
            "--candidates",
            "docs/builds/shortlist.json",
            "--cycle",
            "wltc-medium",
            "--goal",
            "range_km>=95",
            "--prefer",
            "range_km,drive_heat_pct",
        ],
        14,
    ),
    (&["--set", "runs.climb.grade_pct=45", "--set", "start.charge_pct=3"], 13),
];

fn folder(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

fn said(command: &mut Command) -> String {
    let output = command.output().expect(NEEDS);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

fn page(folder: &Path, args: &[&str]) -> String {
    let file = folder.join("page.html");
    let mut command = Command::new(env!("CARGO_BIN_EXE_shakedown"));
    said(command.arg("report").args(args).arg("--out").arg(&file));
    fs::read_to_string(file).unwrap()
}

/// Prints a page on a paper, which the browser is told by a rule of its own.
fn printed(folder: &Path, page: &str, paper: &str) -> PathBuf {
    let (html, pdf) = (folder.join(format!("{paper}.html")), folder.join(format!("{paper}.pdf")));
    let size = format!("<style>@page {{ size: {paper}; }}</style></head>");
    fs::write(&html, page.replacen("</head>", &size, 1)).unwrap();
    // Chromium refuses its sandbox to root, as which machines of continuous integration run.
    let mut browser = Command::new("chromium");
    browser.args(["--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"]);
    browser.arg(format!("--user-data-dir={}", folder.join("profile").display()));
    browser.arg(format!("--print-to-pdf={}", pdf.display()));
    said(browser.arg(format!("file://{}", html.display())));
    pdf
}

/// A word's page, from 1, and its box from the upper left, points.
struct Word {
    page: usize,
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
    text: String,
}

/// The pages' sizes, points, and all words on them.
fn words(pdf: &Path) -> (Vec<(f64, f64)>, Vec<Word>) {
    let told = said(Command::new("pdftotext").args(["-bbox"]).arg(pdf).arg("-"));
    let (mut pages, mut words) = (Vec::new(), Vec::new());
    for line in told.lines().map(str::trim) {
        let number = |name: &str| {
            let rest = line.split_once(&format!("{name}=\""))?.1;
            rest.split_once('"')?.0.parse::<f64>().ok()
        };
        if line.starts_with("<page ") {
            pages.push((number("width").unwrap(), number("height").unwrap()));
        } else if line.starts_with("<word ") {
            words.push(Word {
                page: pages.len(),
                left: number("xMin").unwrap(),
                top: number("yMin").unwrap(),
                right: number("xMax").unwrap(),
                bottom: number("yMax").unwrap(),
                text: line.split_once('>').unwrap().1.trim_end_matches("</word>").to_owned(),
            });
        }
    }
    (pages, words)
}

/// Whether a page has ink within so many pixels of an edge: a picture or a line that runs out, which
/// has no words to be found by.
fn ink_at_the_edge(pdf: &Path, folder: &Path) -> bool {
    let stem = folder.join("ink");
    said(Command::new("pdftoppm").args(["-r", "36", "-gray"]).arg(pdf).arg(&stem));
    let edge = (0.7 * MARGIN_MM / 25.4 * 36.0) as usize;
    let pages = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut pages = pages.filter(|path| path.extension().is_some_and(|end| end == "pgm"));
    pages.any(|path| {
        let bytes = fs::read(&path).unwrap();
        fs::remove_file(&path).unwrap();
        let head: Vec<&[u8]> = bytes.splitn(4, |b| b.is_ascii_whitespace()).collect();
        let size = |i: usize| std::str::from_utf8(head[i]).unwrap().parse::<usize>().unwrap();
        let (width, height) = (size(1), size(2));
        let pixels = &bytes[bytes.len() - width * height..];
        let dark = |x: usize, y: usize| pixels[y * width + x] < 200;
        (0..height).any(|y| {
            (0..width).any(|x| {
                let across = x < edge || x + edge >= width;
                let along = y < edge || y + edge >= height;
                (across || along) && dark(x, y)
            })
        })
    })
}

#[test]
#[ignore = "needs Chromium"]
fn pages_fit_on_both_papers_with_nothing_over_the_edge() {
    for (i, (args, most)) in BUILDS.into_iter().enumerate() {
        let folder = folder(&format!("print-{i}"));
        let page = page(&folder, args);
        for (paper, width_mm, height_mm) in PAPERS {
            let pdf = printed(&folder, &page, paper);
            let (pages, words) = words(&pdf);
            assert!((5..=most).contains(&pages.len()), "{args:?} on {paper}: {}", pages.len());
            for (width, height) in &pages {
                assert!((width - width_mm * PT_PER_MM).abs() < 1.5, "{paper}: {width}");
                assert!((height - height_mm * PT_PER_MM).abs() < 1.5, "{paper}: {height}");
            }
            assert!(words.len() > 800, "{} words", words.len());
            let margin = MARGIN_MM * PT_PER_MM;
            for word in &words {
                let (width, height) = pages[word.page - 1];
                let within = word.left >= margin
                    && word.right <= width - margin
                    && word.top >= margin - 6.0
                    && word.bottom <= height - 0.5 * margin;
                assert!(within, "{args:?} on {paper}, page {}: {}", word.page, word.text);
            }
            assert!(!ink_at_the_edge(&pdf, &folder), "{args:?} on {paper}");
            // Every sheet of paper says which of how many it is.
            let last = &words[words.len() - 1];
            assert_eq!(last.text, pages.len().to_string());
        }
    }
}

#[test]
#[ignore = "needs Chromium"]
fn verdicts_are_read_on_paper() {
    let folder = folder("print-verdicts");
    let page = page(&folder, &[]);
    let mut command = Command::new(env!("CARGO_BIN_EXE_shakedown"));
    let report: serde_json::Value = serde_json::from_str(&said(
        command.args(["report", "--json", "--out"]).arg(folder.join("page.html")),
    ))
    .unwrap();
    let pdf = printed(&folder, &page, "A4");
    let told = said(Command::new("pdftotext").arg("-raw").arg(&pdf).arg("-"));
    let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let told = flat(&told);
    let verdicts = report["verdicts"].as_array().unwrap();
    assert!(verdicts.len() > 4);
    for verdict in verdicts {
        let text = flat(verdict["text"].as_str().unwrap());
        assert!(told.contains(&text), "{text}");
    }
    assert!(told.contains(report["date"].as_str().unwrap()) && told.contains("High voltage kills"));
}

#[test]
#[ignore = "needs Chromium"]
fn names_that_are_up_to_something_are_printed_as_text() {
    let folder = folder("print-names");
    let bad = "<script>document.title='x'</script><img src=x>\u{202e}abc";
    let name = format!("name={}", serde_json::to_string(bad).unwrap());
    let long = format!("motor.name={}", "m".repeat(10_000));
    let page = page(&folder, &["--set", &name, "--set", &long]);
    let pdf = printed(&folder, &page, "A4");
    let (pages, words) = words(&pdf);
    let told: String = words.iter().map(|word| word.text.as_str()).collect();
    let written = "&lt;script&gt;document.title=&apos;x&apos;&lt;/script&gt;&lt;imgsrc=x&gt;";
    let plain = |text: &str| text.replace("&apos;", "'").replace("&#39;", "'");
    assert!(plain(&told).contains(&plain(written)), "{}", &told[..400.min(told.len())]);
    assert!(pages.len() <= 12, "{}", pages.len());
    let (width, _) = pages[0];
    assert!(words.iter().all(|word| word.right <= width - MARGIN_MM * PT_PER_MM));
}
