//! A page that is served while a test lasts.

use serde_json::Value;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// The program as it serves a page; it ends with the test.
pub struct Served {
    pub process: Child,
    pub port: u16,
    pub key: String,
}

impl Served {
    /// Starts it in a folder and waits until it says where the page is.
    pub fn start(folder: &Path, args: &[&str]) -> Self {
        let mut process = Command::new(env!("CARGO_BIN_EXE_shakedown"))
            .args(["live", "--json"])
            .args(args)
            .current_dir(folder)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut said = String::new();
        let mut reader = BufReader::new(process.stdout.take().unwrap());
        while !said.ends_with("\n}\n") {
            assert!(reader.read_line(&mut said).unwrap() > 0, "it ended after saying {said}");
        }
        let opened: Value = serde_json::from_str(&said).unwrap();
        let address = opened["address"].as_str().unwrap().to_owned();
        let key = address.split_once('#').unwrap().1.to_owned();
        Self { process, port: opened["port"].as_u64().unwrap() as u16, key }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
