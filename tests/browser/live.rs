//! The live page as a person meets it.

use crate::chromium::Chromium;
use crate::served::Served;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

/// What the program prints for a browser.
fn address(served: &Served) -> String {
    format!("http://127.0.0.1:{}/#{}", served.port, served.key)
}

/// A page that shows all it has, and what it is served by.
fn opened(name: &str, args: &[&str]) -> (Served, Chromium, PathBuf) {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("live-{name}"));
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    let served = Served::start(&folder, args);
    let mut browser = Chromium::start(name);
    browser.go(&address(&served));
    browser.until(READY);
    (served, browser, folder)
}

/// Whether figures, pictures and bands of the newest move are there.
const READY: &str = "!!document.querySelector('#figures tbody tr') \
                     && document.querySelectorAll('#pictures figure:not(.later) svg').length === 6 \
                     && !!document.body.dataset.bands";

/// Moves a slider to a share of its length, as a hand would, and waits for what comes of it. Times
/// until the first picture and until the last, ms.
fn moved(browser: &mut Chromium, path: &str, share: f64) -> [f64; 2] {
    let expression = format!(
        "(async () => {{
          const slide = document.getElementById('field-{path}');
          const [low, high] = [Number(slide.min), Number(slide.max)];
          const left = new Set(document.querySelectorAll('#pictures figure:not(.later)'));
          const took = [];
          const begun = performance.now();
          const changed = new Promise((done) => {{
            const watch = new MutationObserver((records) => {{
              for (const {{ target }} of records) left.delete(target);
              if (!took.length) took.push(performance.now() - begun);
              if (left.size) return;
              watch.disconnect();
              requestAnimationFrame(() => done(performance.now() - begun));
            }});
            for (const figure of left) watch.observe(figure, {{ childList: true }});
          }});
          slide.dispatchEvent(new Event('pointerdown', {{ bubbles: true }}));
          slide.value = low + {share} * (high - low);
          slide.dispatchEvent(new Event('input', {{ bubbles: true }}));
          took.push(await changed);
          slide.dispatchEvent(new Event('change', {{ bubbles: true }}));
          return took;
        }})()"
    );
    let took = browser.value(&expression);
    [0, 1].map(|i| took[i].as_f64().unwrap())
}

fn figure(browser: &mut Chromium, name: &str) -> String {
    browser.text(&format!("document.querySelector('#figures tr[data-name={name}] td').textContent"))
}

fn no_complaints(browser: &mut Chromium, served: &Served) {
    assert_eq!(browser.complaints(), Vec::<String>::new());
    let own = format!("http://127.0.0.1:{}/", served.port);
    let elsewhere: Vec<String> =
        browser.asked().into_iter().filter(|url| !url.starts_with(&own)).collect();
    assert!(elsewhere.is_empty(), "{elsewhere:?}");
    assert!(browser.asked().iter().all(|url| !url.contains(&served.key)));
}

const LINES: &str = "document.getElementById('lines').textContent";

/// Goes by Tab, or with Shift (8) back, until an element is focused.
fn to(browser: &mut Chromium, id: &str, modifiers: u32) {
    let mut seen = Vec::new();
    while browser.text("document.activeElement.id") != id {
        browser.press("Tab", modifiers);
        seen.push(browser.text("document.activeElement.id"));
        assert!(seen.len() < 200, "{id}: {seen:?}");
    }
}

const PICTURE: &str = "document.querySelector('#picture-tractive svg').outerHTML";

#[test]
#[ignore = "needs Chromium"]
fn a_move_changes_figures_and_pictures_and_can_be_undone() {
    let (served, mut browser, _) = opened("moves", &[]);
    assert_eq!(browser.text("location.href"), format!("http://127.0.0.1:{}/", served.port));
    browser.look("live-light");
    let (before, picture) = (figure(&mut browser, "running_kg"), browser.text(PICTURE));
    // The first pictures are as wide as their column already.
    let wide = "Math.abs(document.querySelector('#picture-tractive svg').viewBox.baseVal.width \
                - parseFloat(getComputedStyle(document.getElementById('pictures')).gridTemplateColumns))";
    assert!(browser.value(wide).as_f64().unwrap() < 20.0);
    for path in ["donor.kerb_mass_kg", "gearbox.final_drive", "motor.peak_power_kw"] {
        moved(&mut browser, path, 0.7);
    }
    let heavy = figure(&mut browser, "running_kg");
    assert_ne!(before, heavy);
    assert_ne!(picture, browser.text(PICTURE));
    assert!(browser.text(PICTURE).contains("ghost"), "the former state is drawn as well");
    browser.look("live-moved");
    let lines = browser.text("document.getElementById('lines').textContent");
    assert_eq!(lines.matches("--set ").count(), 3, "{lines}");
    for _ in 0..3 {
        browser.value("document.getElementById('undo').click()");
    }
    browser.until(&format!(
        "document.querySelector('#figures tr[data-name=running_kg] td').textContent === '{before}'"
    ));
    assert_eq!(browser.value("document.getElementById('undo').disabled"), true);
    for _ in 0..3 {
        browser.value("document.getElementById('redo').click()");
    }
    browser.until(&format!(
        "document.querySelector('#figures tr[data-name=running_kg] td').textContent === '{heavy}'"
    ));
    no_complaints(&mut browser, &served);
}

#[test]
#[ignore = "needs Chromium"]
fn a_motor_is_picked_and_its_sliders_and_sentences_come_along() {
    let (served, mut browser, _) = opened("picks", &[]);
    let sentences = "document.getElementById('verdicts').textContent";
    let (before, mass) =
        (browser.text(sentences), "document.getElementById('field-motor.mass_kg').value");
    let light = browser.text(mass);
    browser.value(
        "{ const pick = document.getElementById('field-motor');
           pick.value = 'shelf:series-dc-large';
           pick.dispatchEvent(new Event('change', { bubbles: true })); }",
    );
    browser.until(&format!("{mass} !== '{light}'"));
    browser.until(&format!("{sentences} !== {}", Value::from(before)));
    assert_eq!(
        browser.text("document.getElementById('lines').textContent"),
        "--set motor=shelf:series-dc-large"
    );
    no_complaints(&mut browser, &served);
}

#[test]
#[ignore = "needs Chromium"]
fn what_cannot_be_is_said_beside_its_field_and_the_pictures_stay() {
    let (served, mut browser, _) = opened("refused", &[]);
    let picture = browser.text(PICTURE);
    browser.value(
        "{ const box = document.querySelector('input[type=number][aria-label^=\"Kerb mass\"]');
           box.value = '99999';
           box.dispatchEvent(new Event('change', { bubbles: true })); }",
    );
    let said = "[...document.querySelectorAll('.refused')].map((one) => one.textContent).join('')";
    browser.until(&format!("{said} !== ''"));
    let sentence = browser.text(said);
    assert!(sentence.contains("donor.kerb_mass_kg is 99999; allowed: "), "{sentence}");
    assert_eq!(picture, browser.text(PICTURE));
    browser.look("live-refused");
    browser.value("document.getElementById('undo').click()");
    browser.until(&format!("{said} === ''"));
    no_complaints(&mut browser, &served);
}

#[test]
#[ignore = "needs Chromium"]
fn a_car_is_saved_pinned_and_found_again_after_a_reload() {
    let (served, mut browser, folder) = opened("saves", &[]);
    moved(&mut browser, "donor.kerb_mass_kg", 0.8);
    let heavy = figure(&mut browser, "running_kg");
    browser.value("document.getElementById('pin').click()");
    assert_eq!(browser.value("document.querySelectorAll('.pin').length"), 1);
    let save = |browser: &mut Chromium| {
        browser.value(
            "{ document.getElementById('saved').textContent = '';
               document.getElementById('file').value = 'heavy';
               document.getElementById('save').requestSubmit(); }",
        );
        browser.until("document.getElementById('saved').textContent !== ''");
        browser.text("document.getElementById('saved').textContent")
    };
    assert!(save(&mut browser).starts_with("Saved as "));
    let first = fs::read_to_string(folder.join("heavy.json")).unwrap();
    moved(&mut browser, "donor.kerb_mass_kg", 0.6);
    let refused = "document.body.dataset";
    browser.value(refused);
    assert!(save(&mut browser).contains("is there already"));
    assert_eq!(fs::read_to_string(folder.join("heavy.json")).unwrap(), first);
    browser.value("document.getElementById('undo').click()");
    browser.go(&format!("http://127.0.0.1:{}/", served.port));
    browser.until(READY);
    assert_eq!(figure(&mut browser, "running_kg"), heavy);
    let saved = Served::start(&folder, &["heavy.json"]);
    let mut second = Chromium::start("saves-again");
    second.go(&address(&saved));
    second.until(READY);
    assert_eq!(figure(&mut second, "running_kg"), heavy);
    // An editor finds the schema of both beside them.
    let tree: Value = serde_json::from_str(&first).unwrap();
    let schema = tree["$schema"].as_str().unwrap();
    assert!(folder.join(schema).is_file(), "{schema}");
    // That a file is refused is no error of the page, but the browser notes it as one.
    assert!(browser.complaints().iter().all(|said| said.contains("/api/save")));
}

#[test]
#[ignore = "needs Chromium"]
fn everything_is_done_by_the_keyboard() {
    let (served, mut browser, folder) = opened("keys", &[]);
    let focused = "document.activeElement.id";
    let mut seen = Vec::new();
    while browser.text(focused) != "field-donor.kerb_mass_kg" {
        browser.press("Tab", 0);
        seen.push(browser.text(focused));
        assert!(seen.len() < 40, "{seen:?}");
    }
    let outline = "getComputedStyle(document.activeElement).outlineStyle";
    assert_eq!(browser.text(outline), "solid", "the focus is seen");
    let before = figure(&mut browser, "running_kg");
    for _ in 0..20 {
        browser.press("ArrowRight", 0);
    }
    let now = "document.querySelector('#figures tr[data-name=running_kg] td').textContent";
    browser.until(&format!("{now} !== '{before}'"));
    assert_eq!(browser.text(focused), "field-donor.kerb_mass_kg", "the focus stays");
    browser.press("z", 2);
    browser.until(&format!("{now} === '{before}'"));
    // All that can be used is reached, and has a name.
    let nameless = "[...document.querySelectorAll('button, select, input')].filter((one) => \
        one.tabIndex < 0 || !(one.labels?.length || one.ariaLabel || one.textContent.trim())).length";
    assert_eq!(browser.value(nameless), 0);
    assert_eq!(browser.text("document.getElementById('verdicts').ariaLive"), "polite");
    // A motor is picked with the arrows, pinned and saved; no hand touches anything else.
    to(&mut browser, "field-motor", 0);
    browser.press("ArrowDown", 0);
    browser.until(&format!("{LINES}.includes('--set motor=')"));
    browser.until(READY);
    browser.look("live-keys-motor");
    let picked = browser.text(LINES);
    to(&mut browser, "pin", 8);
    browser.press("Enter", 0);
    browser.until("document.querySelectorAll('.pin').length === 1");
    to(&mut browser, "file", 0);
    browser.type_in("by-keys");
    browser.press("Enter", 0);
    browser.until("document.getElementById('saved').textContent.startsWith('Saved as ')");
    assert!(folder.join("by-keys.json").is_file());
    browser.call("Page.reload", serde_json::json!({}));
    browser.until(&format!("document.readyState === 'complete' && ({READY})"));
    assert_eq!(browser.text(LINES), picked, "what was changed outlives a reload");
    no_complaints(&mut browser, &served);
}

#[test]
#[ignore = "needs Chromium"]
fn a_phone_shows_it_all_without_a_sideways_scroll_light_and_dark() {
    let (served, mut browser, _) = opened("phone", &[]);
    browser.size(390, 844);
    browser.value("document.getElementById('units').dispatchEvent(new Event('change'))");
    browser.until(READY);
    moved(&mut browser, "donor.kerb_mass_kg", 0.8);
    for width in [390, 320] {
        browser.size(width, 844);
        assert_eq!(browser.value("document.documentElement.scrollWidth"), width);
    }
    browser.size(390, 844);
    browser.until(READY);
    browser.look("live-phone");
    browser.scheme("dark");
    browser.size(1400, 1000);
    let paper = browser.text("getComputedStyle(document.documentElement).backgroundColor");
    assert_eq!(paper, "rgb(23, 24, 26)");
    browser.look("live-dark");
    no_complaints(&mut browser, &served);
}

#[test]
#[ignore = "needs Chromium"]
fn us_units_are_those_of_the_trade() {
    let (served, mut browser, _) = opened("us", &[]);
    browser.value(
        "{ const units = document.getElementById('units'); units.value = 'us';
           units.dispatchEvent(new Event('change')); }",
    );
    browser.until("document.querySelector('.number').textContent.includes('lb')");
    let kerb = "document.querySelector('input[aria-label=\"Kerb mass, lb\"]').value";
    // 690 kg, by 0.45359237 kg a pound.
    assert_eq!(browser.text(kerb), "1521");
    browser.until("document.querySelector('#figures').textContent.includes('mph')");
    browser.until(READY);
    browser.look("live-us");
    no_complaints(&mut browser, &served);
}

#[test]
#[ignore = "needs Chromium"]
fn at_rest_the_page_shades_and_draws_what_takes_longer() {
    let (served, mut browser, _) = opened("rests", &[]);
    let shaded = |name: &str| format!("!!document.querySelector('#picture-{name} svg .band')");
    for name in ["tractive", "climb"] {
        browser.until(&shaded(name));
        let told = format!("document.querySelector('#picture-{name} desc').textContent");
        assert!(browser.text(&told).contains("eight of ten of 40 drawn cars"));
    }
    for name in ["season", "regen", "endurance", "causes"] {
        browser.until(&format!("!!document.querySelector('#picture-{name}:not(.old) svg')"));
    }
    browser.look("live-rests");
    moved(&mut browser, "donor.kerb_mass_kg", 0.7);
    assert_eq!(browser.value(&shaded("tractive")), false, "no shading of another car");
    browser.until(READY);
    browser.until("!document.querySelector('#pictures .old')");
    assert_eq!(browser.value(&shaded("tractive")), true);
    no_complaints(&mut browser, &served);
}

#[test]
#[ignore = "needs Chromium"]
fn three_pins_stand_side_by_side() {
    let (served, mut browser, _) = opened("pins", &[]);
    for share in [0.2, 0.5, 0.8] {
        moved(&mut browser, "gearbox.final_drive", share);
        browser.value("document.getElementById('pin').click()");
    }
    assert_eq!(browser.value("document.getElementById('pin').disabled"), true);
    let tops = "new Set([...document.querySelectorAll('.pin')].map((pin) => pin.offsetTop)).size";
    assert_eq!(browser.value(tops), 1);
    browser.until(READY);
    browser.look("live-pins");
    browser.scheme("dark");
    browser.look("live-pins-dark");
    browser.size(390, 844);
    assert_eq!(browser.value("document.documentElement.scrollWidth"), 390);
    browser.look("live-pins-phone-dark");
    no_complaints(&mut browser, &served);
}

/// Claims of speed stand in what this prints; it fails only where something is badly wrong.
#[test]
#[ignore = "needs Chromium"]
fn moves_are_quick() {
    let (_served, mut browser, _) = opened("speed", &[]);
    let paths = ["donor.kerb_mass_kg", "gearbox.final_drive", "motor.peak_power_kw"];
    let took: Vec<[f64; 2]> = (0..60)
        .map(|i| moved(&mut browser, paths[i % 3], 0.2 + 0.6 * ((i * 37 % 60) as f64) / 60.0))
        .collect();
    for (which, what) in [(0, "the first picture changed"), (1, "all pictures changed")] {
        let mut took: Vec<f64> = took.iter().map(|both| both[which]).collect();
        took.sort_by(f64::total_cmp);
        let (median, p95, longest) = (took[30], took[56], took[59]);
        println!("until {what}: median {median:.0} ms, p95 {p95:.0} ms, longest {longest:.0} ms");
        assert!(p95 < 1000.0, "{took:?}");
    }
}

/// The picture of the page that the README shows; what can be read on it lies beside this test, and is
/// held to what the page says. `DOOR=overwrite` renews both.
#[test]
#[ignore = "needs Chromium"]
fn the_front_door_shows_what_the_page_says() {
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    let (_served, mut browser, _) = opened("door", &[]);
    browser.size(1280, 1000);
    browser.until(READY);
    moved(&mut browser, "gearbox.final_drive", 0.7);
    browser.until(READY);
    let rows = "[...document.querySelectorAll('#verdicts li, #figures tr, #pictures h3, #pictures title')]";
    let said = browser.text(&format!(
        "{rows}.map((row) => row.textContent.trim().replace(/\\s+/g, ' ')).join('\\n') + '\\n'"
    ));
    let beside = top.join("tests/browser/front-door.txt");
    if std::env::var("DOOR").is_ok_and(|wish| wish == "overwrite") {
        browser.shoot(&top.join("docs/pictures/live.png"), false);
        fs::write(&beside, &said).unwrap();
    }
    let shown = fs::read_to_string(&beside).unwrap_or_default();
    assert!(shown == said, "stale; renewed by DOOR=overwrite\nshown: {shown}\nnow: {said}");
}
