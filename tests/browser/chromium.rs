//! A Chromium that does what a person would do, by its DevTools protocol.

use serde_json::{Value, json};
use std::fs;
use std::io::{BufRead, BufReader};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tungstenite::{Message, WebSocket};

/// How long anything may take.
const PATIENCE: Duration = Duration::from_secs(30);

/// A browser with one tab.
pub struct Chromium {
    process: Child,
    socket: WebSocket<TcpStream>,
    session: Option<String>,
    calls: u64,
    events: Vec<Value>,
    profile: PathBuf,
}

impl Chromium {
    /// Starts it with an empty tab.
    pub fn start(name: &str) -> Self {
        let profile = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("chromium-{name}"));
        let _ = fs::remove_dir_all(&profile);
        let mut process = Command::new("chromium")
            .args(["--headless", "--no-sandbox", "--disable-gpu", "--remote-debugging-port=0"])
            .args(["--no-first-run", "--disable-dev-shm-usage"])
            .arg(format!("--user-data-dir={}", profile.display()))
            .arg("about:blank")
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("chromium is on the path");
        let mut lines = BufReader::new(process.stderr.take().unwrap()).lines();
        let url = lines
            .by_ref()
            .map_while(Result::ok)
            .find_map(|line| line.strip_prefix("DevTools listening on ").map(str::to_owned))
            .expect("chromium says where it listens");
        // What else it says must be read, or it would wait for a reader.
        std::thread::spawn(move || lines.for_each(drop));
        let host = url.strip_prefix("ws://").unwrap().split('/').next().unwrap();
        let stream = TcpStream::connect(host).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        let (socket, _) = tungstenite::client(&url, stream).unwrap();
        let (session, events) = (None, Vec::new());
        let mut started = Self { process, socket, session, calls: 0, events, profile };
        let target = started.call("Target.createTarget", json!({"url": "about:blank"}));
        let attach = json!({"targetId": target["targetId"], "flatten": true});
        let session = started.call("Target.attachToTarget", attach);
        started.session = session["sessionId"].as_str().map(str::to_owned);
        for domain in ["Page", "Runtime", "Log", "Network"] {
            started.call(&format!("{domain}.enable"), json!({}));
        }
        started.size(1400, 1000);
        started
    }

    /// Asks for something of the protocol.
    pub fn call(&mut self, method: &str, params: Value) -> Value {
        self.calls += 1;
        let mut message = json!({"id": self.calls, "method": method, "params": params});
        if let Some(session) = &self.session {
            message["sessionId"] = session.clone().into();
        }
        self.socket.send(Message::text(message.to_string())).unwrap();
        loop {
            let Message::Text(text) = self.socket.read().unwrap() else { continue };
            let mut said: Value = serde_json::from_str(&text).unwrap();
            if said["id"] == self.calls {
                assert!(said.get("error").is_none(), "{method}: {said}");
                return said["result"].take();
            }
            self.events.push(said);
        }
    }

    /// What an expression of the page's language comes to.
    pub fn value(&mut self, expression: &str) -> Value {
        let params = json!({"expression": expression, "awaitPromise": true, "returnByValue": true});
        let mut said = self.call("Runtime.evaluate", params);
        assert!(said.get("exceptionDetails").is_none(), "{expression}: {said}");
        said["result"]["value"].take()
    }

    /// The text of an expression.
    pub fn text(&mut self, expression: &str) -> String {
        self.value(expression).as_str().unwrap_or_default().to_owned()
    }

    /// Waits until an expression is true.
    pub fn until(&mut self, expression: &str) {
        let begun = Instant::now();
        while self.value(expression) != true {
            assert!(begun.elapsed() < PATIENCE, "never true: {expression}");
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Goes to an address.
    pub fn go(&mut self, address: &str) {
        self.call("Page.navigate", json!({"url": address}));
    }

    /// Makes the window so large.
    pub fn size(&mut self, width: u32, height: u32) {
        let params = json!({
            "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500,
        });
        self.call("Emulation.setDeviceMetricsOverride", params);
    }

    /// Asks for light or dark pages.
    pub fn scheme(&mut self, scheme: &str) {
        let features = json!([{"name": "prefers-color-scheme", "value": scheme}]);
        self.call("Emulation.setEmulatedMedia", json!({"features": features}));
    }

    /// Presses a key of a name, such as `Tab`, with Shift (8), Ctrl (2) or nothing (0).
    pub fn press(&mut self, key: &str, modifiers: u32) {
        let code = match key {
            "Tab" => 9,
            "Enter" => 13,
            "ArrowLeft" => 37,
            "ArrowUp" => 38,
            "ArrowRight" => 39,
            "ArrowDown" => 40,
            "z" => 90,
            "y" => 89,
            other => panic!("no code for {other}"),
        };
        // Only with its text does a key press a button.
        let text = if key == "Enter" { "\r" } else { "" };
        let down = if text.is_empty() { "rawKeyDown" } else { "keyDown" };
        for kind in [down, "keyUp"] {
            let text = if kind == down { text } else { "" };
            let params = json!({
                "type": kind, "key": key, "code": key, "windowsVirtualKeyCode": code,
                "modifiers": modifiers, "text": text,
            });
            self.call("Input.dispatchKeyEvent", params);
        }
    }

    /// Types a text where the focus is.
    pub fn type_in(&mut self, text: &str) {
        self.call("Input.insertText", json!({"text": text}));
    }

    /// Keeps what is seen, for people to look at, and says where.
    pub fn look(&mut self, name: &str) {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}.png"));
        self.shoot(&path, true);
        println!("{}", path.display());
    }

    /// A picture of the page, whole or as much as the window holds.
    pub fn shoot(&mut self, path: &Path, whole: bool) {
        let shot = self.call("Page.captureScreenshot", json!({"captureBeyondViewport": whole}));
        fs::write(path, decoded(shot["data"].as_str().unwrap())).unwrap();
    }

    /// What the page or the browser complained of.
    pub fn complaints(&mut self) -> Vec<String> {
        let bad = |event: &&Value| match event["method"].as_str() {
            Some("Runtime.exceptionThrown") => true,
            Some("Log.entryAdded") => event["params"]["entry"]["level"] == "error",
            Some("Runtime.consoleAPICalled") => event["params"]["type"] == "error",
            _ => false,
        };
        self.events.iter().filter(bad).map(Value::to_string).collect()
    }

    /// The addresses that were asked for.
    pub fn asked(&self) -> Vec<String> {
        let sent = |event: &&Value| event["method"] == "Network.requestWillBeSent";
        let url = |event: &Value| event["params"]["request"]["url"].as_str().map(str::to_owned);
        self.events.iter().filter(sent).filter_map(url).collect()
    }
}

impl Drop for Chromium {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
        let _ = fs::remove_dir_all(&self.profile);
    }
}

/// Base 64 of RFC 4648.
fn decoded(text: &str) -> Vec<u8> {
    let digit = |c: u8| match c {
        b'A'..=b'Z' => c - b'A',
        b'a'..=b'z' => c - b'a' + 26,
        b'0'..=b'9' => c - b'0' + 52,
        b'+' => 62,
        _ => 63,
    };
    let mut bytes = Vec::with_capacity(text.len() / 4 * 3);
    for four in text.trim_end_matches('=').as_bytes().chunks(4) {
        let bits = four.iter().fold(0u32, |bits, c| bits << 6 | u32::from(digit(*c)));
        let bits = bits << (6 * (4 - four.len()));
        bytes.extend_from_slice(&bits.to_be_bytes()[1..four.len()]);
    }
    bytes
}
