//! The server of the live page against whoever is on this machine or lures a browser to it.

use crate::program::{folder, refused};
use crate::served::Served;
use serde_json::{Value, json};
use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

/// What a server said: the status, or 0 where it hung up; the whole answer.
fn said(port: u16, request: &[u8]) -> (u16, String) {
    let mut stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
    // A server that has seen enough hangs up, which ends the writing.
    let _ = stream.write_all(request);
    let mut answer = Vec::new();
    let _ = stream.read_to_end(&mut answer);
    let answer = String::from_utf8_lossy(&answer).into_owned();
    let status = answer.split(' ').nth(1).and_then(|status| status.parse().ok());
    (status.unwrap_or(0), answer)
}

/// A request with a head of one's own.
fn request(line: &str, heads: &[(&str, &str)], body: &[u8]) -> Vec<u8> {
    let heads: String = heads.iter().map(|(name, value)| format!("{name}: {value}\r\n")).collect();
    let head = format!("{line} HTTP/1.1\r\n{heads}Connection: close\r\n");
    let length = format!("Content-Length: {}\r\n\r\n", body.len());
    [head.as_bytes(), length.as_bytes(), body].concat()
}

/// What the page itself would send.
pub fn own(served: &Served, path: &str, body: &Value) -> (u16, String) {
    let host = format!("127.0.0.1:{}", served.port);
    let origin = format!("http://{host}");
    let heads = [
        ("Host", host.as_str()),
        ("Origin", &origin),
        ("X-Shakedown-Key", &served.key),
        ("Content-Type", "application/json"),
    ];
    said(served.port, &request(&format!("POST {path}"), &heads, body.to_string().as_bytes()))
}

fn question(number: u64, changes: Value) -> Value {
    json!({
        "page": "test", "number": number, "changes": changes, "former": null, "units": "metric",
        "width": 500, "groups": false, "background": false,
    })
}

fn answers(served: &Served, number: u64) {
    let (status, answer) = own(served, "/api/answer", &question(number, json!([])));
    assert!(status == 200 && answer.contains("\"kind\":\"figures\""), "{status}: {answer}");
}

/// A little generator of numbers that look random (Marsaglia's xorshift).
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn pick<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.roll() as usize % of.len()]
    }
}

#[test]
fn every_answer_says_what_a_browser_may_do_with_it() {
    let served = Served::start(&folder("live-heads"), &[]);
    let host = format!("127.0.0.1:{}", served.port);
    for path in ["/", "/app.js", "/style.css", "/pictures.css", "/icon.svg", "/nowhere", "/api/x"] {
        let (_, answer) =
            said(served.port, &request(&format!("GET {path}"), &[("Host", &host)], b""));
        let answer = answer.to_lowercase();
        for head in [
            "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self'",
            "frame-ancestors 'none'",
            "x-content-type-options: nosniff",
            "referrer-policy: no-referrer",
            "cache-control: no-store",
        ] {
            assert!(answer.contains(head), "{path}: {head}");
        }
        assert!(!answer.contains(&served.key), "{path} tells the key");
    }
    let (status, page) = said(served.port, &request("GET /", &[("Host", &host)], b""));
    assert_eq!(status, 200);
    for inline in ["<style", "style=", "onclick", "onload", "javascript:", "http:", "https:"] {
        assert!(!page.contains(inline), "{inline}");
    }
    assert_eq!(page.matches("<script").count(), 1);
}

#[test]
fn who_lacks_the_key_or_comes_from_elsewhere_is_refused() {
    let served = Served::start(&folder("live-keys"), &[]);
    let host = format!("127.0.0.1:{}", served.port);
    let (origin, key) = (format!("http://{host}"), served.key.clone());
    let local = format!("localhost:{}", served.port);
    let right = [
        ("Host", host.as_str()),
        ("Origin", &origin),
        ("X-Shakedown-Key", &key),
        ("Content-Type", "application/json"),
    ];
    let body = question(1, json!([])).to_string();
    let tried = |heads: &[(&str, &str)]| {
        said(served.port, &request("POST /api/answer", heads, body.as_bytes())).0
    };
    assert_eq!(tried(&right), 200);
    assert_eq!(tried(&[("Host", &local), right[1], right[2], right[3]]), 200);
    // A key is needed, whole and once.
    let wrong = format!("{}0", &key[..31]);
    for other in ["", "0", &key[..31], &format!("{key}0"), &wrong, &key.to_uppercase()] {
        if other != key {
            assert_eq!(tried(&[right[0], right[1], ("X-Shakedown-Key", other), right[3]]), 401);
        }
    }
    assert_eq!(tried(&[right[0], right[1], right[3]]), 401);
    assert_eq!(tried(&[right[0], right[1], right[2], right[2], right[3]]), 401);
    // Another name that leads here (DNS rebinding), and another page that asks.
    for other in ["evil.example", "127.0.0.1", "127.0.0.1:1", "[::1]:80", ""] {
        assert_eq!(tried(&[("Host", other), right[1], right[2], right[3]]), 403, "{other}");
    }
    for other in
        ["null", "http://evil.example", "https://127.0.0.1", &format!("{origin}.evil.example")]
    {
        assert_eq!(tried(&[right[0], ("Origin", other), right[2], right[3]]), 403, "{other}");
    }
    assert_eq!(tried(&[right[0], right[2], right[3]]), 403);
    for site in ["cross-site", "same-site", "none"] {
        assert_eq!(tried(&[&right[..], &[("Sec-Fetch-Site", site)]].concat()), 403, "{site}");
    }
    // What a form of another page can send is no JSON.
    for kind in ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data"] {
        assert_eq!(tried(&[right[0], right[1], right[2], ("Content-Type", kind)]), 415, "{kind}");
    }
    let (status, _) = said(served.port, &request("GET /api/answer", &right[..3], b""));
    assert_eq!(status, 405);
}

#[test]
fn a_thousand_hostile_requests_leave_it_as_it_was() {
    let served = Served::start(&folder("live-hostile"), &[]);
    answers(&served, 1);
    let host = format!("127.0.0.1:{}", served.port);
    let origin = format!("http://{host}");
    let mut dice = Dice(0x9e37_79b9_7f4a_7c15);
    let paths = [
        "/",
        "/api/answer",
        "/api/save",
        "/../../etc/passwd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/..%2f..%2fetc%2fpasswd",
        "//etc/passwd",
        "/app.js/../../Cargo.toml",
        "/api/answer/%00",
        "/api/%61nswer",
        "/\u{fffd}",
        "/?key=0",
        "/api/save?name=../x.json",
        "*",
        "/.git/config",
    ];
    let methods = ["GET", "POST", "PUT", "DELETE", "OPTIONS", "HEAD", "TRACE", "CONNECT", "X", ""];
    let kinds = ["application/json", "text/plain", "application/json; charset=utf-7"];
    let deep = format!("{}{}", "[".repeat(100_000), "]".repeat(100_000));
    let huge = vec![b' '; 1_200_000];
    for i in 0..1000 {
        let random: Vec<u8> = (0..dice.roll() % 300).map(|_| dice.roll() as u8).collect();
        let number = dice.roll();
        let bodies: Vec<Vec<u8>> = vec![
            Vec::new(),
            b"{".to_vec(),
            b"NaN".to_vec(),
            b"{\"page\":NaN}".to_vec(),
            random.clone(),
            question(i, json!([{"path": "motor.mass_kg", "value": "NaN"}])).to_string().into(),
            question(i, json!([{"path": "motor", "value": "../../etc/passwd"}])).to_string().into(),
            question(number, json!([{"path": "runs.commute.cycle", "value": "/dev/zero"}]))
                .to_string()
                .into(),
            question(i, json!([{"path": "pack.series", "value": 1e300}])).to_string().into(),
            question(i, json!([{"path": "pack.series", "value": -1}])).to_string().into(),
            json!({"changes": [], "name": "../x.json", "replace": true}).to_string().into(),
            json!({"changes": [], "name": "/tmp/x.json", "replace": true}).to_string().into(),
        ];
        let mut body = dice.pick(&bodies).clone();
        if i % 50 == 0 {
            body = deep.clone().into_bytes();
        } else if i % 97 == 0 {
            body = huge.clone();
        }
        let long = "a".repeat(1 << (dice.roll() % 18));
        let mut heads = Vec::new();
        for (name, good, bad) in [
            ("Host", host.as_str(), "evil.example"),
            ("Origin", &origin, "null"),
            ("X-Shakedown-Key", &served.key, long.as_str()),
            ("Content-Type", kinds[dice.roll() as usize % 3], "\u{7f}"),
        ] {
            match dice.roll() % 8 {
                0 => {}
                1 => heads.push((name, bad)),
                _ => heads.push((name, good)),
            }
        }
        let line = format!("{} {}", dice.pick(&methods), dice.pick(&paths));
        let sent = match i % 25 {
            0 => random,
            _ => request(&line, &heads, &body),
        };
        // Half a request, of which the rest never comes.
        let sent = if i % 40 == 7 { &sent[..sent.len() / 2] } else { &sent };
        if i % 40 == 7 {
            let mut stream = TcpStream::connect(("127.0.0.1", served.port)).unwrap();
            let _ = stream.write_all(sent);
            continue;
        }
        let (status, answer) = said(served.port, sent);
        let usual = [0, 200, 400, 401, 403, 404, 405, 408, 409, 413, 414, 415, 422, 431];
        assert!(usual.contains(&status), "{line}: {answer}");
        for secret in ["root:", "[package]", "panicked", &served.key] {
            assert!(!answer.contains(secret), "{line}: {answer}");
        }
    }
    answers(&served, u64::MAX);
}

#[cfg(target_os = "linux")]
fn resident_kb(served: &Served) -> u64 {
    let status = fs::read_to_string(format!("/proc/{}/status", served.process.id())).unwrap();
    let line = status.lines().find(|line| line.starts_with("VmRSS:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

#[test]
fn two_hundred_connections_and_those_that_dawdle_are_survived() {
    let served = Served::start(&folder("live-many"), &[]);
    let idle: Vec<TcpStream> = (0..100)
        .map(|_| {
            let mut stream = TcpStream::connect(("127.0.0.1", served.port)).unwrap();
            stream.write_all(b"POST /api/answer HTTP/1.1\r\nHost: 127").unwrap();
            stream
        })
        .collect();
    std::thread::scope(|scope| {
        let asked = |i| {
            let body = json!({
                "page": format!("page {i}"), "number": 1, "changes": [], "former": null,
                "units": "us", "width": 360, "groups": true, "background": false,
            });
            own(&served, "/api/answer", &body).0
        };
        let all: Vec<_> = (0..100).map(|i| scope.spawn(move || asked(i))).collect();
        assert!(all.into_iter().all(|one| one.join().unwrap() == 200));
    });
    // Who does not go on is hung up on.
    for mut stream in idle {
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        let _ = stream.read_to_end(&mut Vec::new());
    }
    answers(&served, 1);
    #[cfg(target_os = "linux")]
    {
        let kb = resident_kb(&served);
        println!("{kb} kB after two hundred connections");
        assert!(kb < 300_000, "{kb} kB");
    }
}

#[test]
fn the_newest_move_wins_and_those_before_are_told() {
    let served = Served::start(&folder("live-newest"), &[]);
    let statuses: Vec<(u16, String)> = std::thread::scope(|scope| {
        let ask = |i: u64| {
            let mass = json!([{"path": "motor.mass_kg", "value": 40 + i}]);
            own(&served, "/api/answer", &question(i, mass))
        };
        let all: Vec<_> = (1..=40).map(|i| scope.spawn(move || ask(i))).collect();
        all.into_iter().map(|one| one.join().unwrap()).collect()
    });
    let (last, before) = statuses.split_last().unwrap();
    assert!(last.0 == 200 && last.1.contains("--set motor.mass_kg=80"), "{}", last.1);
    assert!(before.iter().all(|(status, _)| [200, 409].contains(status)));
    // One that comes late is told so at once.
    assert_eq!(own(&served, "/api/answer", &question(3, json!([]))).0, 409);
}

/// What to buy comes last, when the page is at rest, and is broken off by a new move, which is
/// answered at once.
#[test]
fn a_choice_is_told_at_rest_and_lets_the_next_move_through() {
    let folder = folder("live-choice");
    let tried = r#"{"try": {"gearbox.final_drive": [{"value": 3.9, "price": 10},
        {"value": 4.3, "price": 30}, {"value": 4.7, "price": 50}],
        "motor": [{"value": "shelf:induction-air-small", "price": 700},
        {"value": "shelf:induction-air-medium", "price": 900}]}}"#;
    fs::write(folder.join("tried.json"), tried).unwrap();
    let prefer = ["--prefer", "range_km,climb_heat_pct"];
    let served = Served::start(&folder, &[&["--candidates", "tried.json"], &prefer[..]].concat());
    let at_rest = |number: u64, changes: Value| {
        let mut question = question(number, changes);
        question["background"] = true.into();
        own(&served, "/api/answer", &question)
    };
    let (status, answer) = at_rest(1, json!([]));
    assert_eq!(status, 200);
    for words in ["\"name\":\"front\"", "\"kind\":\"choice\"", "What to buy", "of 30 drawn"] {
        assert!(answer.contains(words), "{words}");
    }
    std::thread::scope(|scope| {
        let moved = json!([{"path": "motor.mass_kg", "value": 70}]);
        let slow = scope.spawn(|| at_rest(2, moved));
        std::thread::sleep(Duration::from_millis(1500));
        let begun = Instant::now();
        answers(&served, 3);
        assert!(begun.elapsed() < Duration::from_secs(4), "{:?}", begun.elapsed());
        slow.join().unwrap();
    });
}

#[test]
fn files_are_saved_in_the_folder_alone_and_never_over_an_old_one_unasked() {
    let top = folder("live-save");
    let inside = top.join("inside");
    fs::create_dir(&inside).unwrap();
    let served = Served::start(&inside, &[]);
    let save = |name: &str, replace: bool, kg: f64| {
        let changes = json!([{"path": "donor.kerb_mass_kg", "value": kg}]);
        own(&served, "/api/save", &json!({"changes": changes, "name": name, "replace": replace}))
    };
    assert_eq!(save("a.json", false, 700.0).0, 200);
    let first = fs::read_to_string(inside.join("a.json")).unwrap();
    let (status, answer) = save("a.json", false, 720.0);
    assert!(status == 422 && answer.contains("is there already"), "{answer}");
    assert_eq!(fs::read_to_string(inside.join("a.json")).unwrap(), first);
    assert_eq!(save("a.json", true, 720.0).0, 200);
    assert_ne!(fs::read_to_string(inside.join("a.json")).unwrap(), first);
    // What is no build is replaced by nobody.
    fs::write(inside.join("notes.json"), "{\"mine\": 1}").unwrap();
    assert_eq!(save("notes.json", true, 700.0).0, 422);
    #[cfg(unix)]
    {
        fs::write(top.join("victim.json"), &first).unwrap();
        std::os::unix::fs::symlink(top.join("victim.json"), inside.join("link.json")).unwrap();
        for replace in [false, true] {
            assert_eq!(save("link.json", replace, 750.0).0, 422);
        }
        assert_eq!(fs::read_to_string(top.join("victim.json")).unwrap(), first);
    }
    let long = "a".repeat(300) + ".json";
    for name in [
        "../b.json",
        "/tmp/b.json",
        "b",
        "b.csv",
        ".json",
        "..json",
        "x/b.json",
        "x\\b.json",
        "b.json\0",
        "%2e%2e%2fb.json",
        "",
        &long,
    ] {
        for replace in [false, true] {
            assert_eq!(save(name, replace, 700.0).0, 422, "{name}");
        }
    }
    let mut there: Vec<String> = fs::read_dir(&top)
        .unwrap()
        .chain(fs::read_dir(&inside).unwrap())
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    there.sort();
    // The schema of what was saved is put beside it.
    let schema = "scenario.schema.json";
    let wanted =
        ["a.json", "hill-town.csv", "inside", "link.json", "notes.json", schema, "victim.json"];
    assert_eq!(there, wanted);
    // The saved file drives as the page did.
    let file = inside.join("a.json");
    let mass = crate::program::json(&["check", file.to_str().unwrap()])["mass"]["lines"][0].clone();
    assert_eq!(mass["mass_kg"], 720.0, "{mass}");
}

#[test]
fn a_folder_offers_its_own_parts_and_roads_and_no_others() {
    let here = folder("live-folder");
    fs::copy("docs/builds/my-motor.json", here.join("my-motor.json")).unwrap();
    fs::copy("docs/builds/lake-road.csv", here.join("lake-road.csv")).unwrap();
    fs::write(here.join("broken.json"), "{").unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink("/etc/hostname", here.join("host.csv")).unwrap();
    let served = Served::start(&here, &[]);
    let mut asked = question(
        1,
        json!([
            {"path": "motor", "value": "folder:my-motor.json"},
            {"path": "runs.commute.cycle", "value": "folder:lake-road.csv"},
        ]),
    );
    asked["groups"] = true.into();
    let (status, answer) = own(&served, "/api/answer", &asked);
    assert_eq!(status, 200);
    assert!(
        answer.contains("\"folder:my-motor.json\"") && answer.contains("\"folder:lake-road.csv\"")
    );
    assert!(!answer.contains("host.csv") && !answer.contains("broken.json"));
    assert!(answer.contains("--set motor=./my-motor.json"), "{answer}");
}

/// As from a terminal: the program dies of the signal, whatever it is at.
#[cfg(unix)]
#[test]
fn an_interruption_ends_it_at_once() {
    use rustix::process::{Pid, Signal, kill_process};
    use std::os::unix::process::ExitStatusExt;

    let mut served = Served::start(&folder("live-ends"), &[]);
    let mut open = TcpStream::connect(("127.0.0.1", served.port)).unwrap();
    let host = format!("127.0.0.1:{}", served.port);
    let origin = format!("http://{host}");
    let heads = [
        ("Host", host.as_str()),
        ("Origin", &origin),
        ("X-Shakedown-Key", &served.key),
        ("Content-Type", "application/json"),
    ];
    let mut asked = question(1, json!([]));
    asked["background"] = true.into();
    open.write_all(&request("POST /api/answer", &heads, asked.to_string().as_bytes())).unwrap();
    let mut first = [0; 1];
    open.read_exact(&mut first).unwrap();
    let begun = Instant::now();
    kill_process(Pid::from_child(&served.process), Signal::INT).unwrap();
    let status = served.process.wait().unwrap();
    assert!(begun.elapsed() < Duration::from_secs(1), "{:?}", begun.elapsed());
    assert_eq!(status.signal(), Some(2));
}

#[test]
fn what_cannot_be_served_is_refused_before_anything_is() {
    let taken = std::net::TcpListener::bind(("127.0.0.1", 0)).unwrap();
    let port = taken.local_addr().unwrap().port().to_string();
    refused(&["live", "--port", &port], &["--port", &port]);
    refused(&["live", "--folder", "no-such-folder"], &["--folder", "no-such-folder"]);
    refused(&["live", "nowhere.json"], &["nowhere.json"]);
    refused(&["live", "--set", "motor.mass_kg=-1"], &["motor.mass_kg"]);
}
