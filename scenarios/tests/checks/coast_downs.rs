//! Coast-downs of known cars, integrated by SciPy (`coast_down/make.py`), not by this program: a sensor
//! of 0.2 m/s noise at 1 and 10 Hz with a second missing here and there, wind along the road, a slope, a
//! tap on the brake in one test of five.

use rayon::prelude::*;
use scenarios::measured::coast_down::{
    CoastDownReport, Estimate, Recorded, Tested, Way, coast_down,
};

const FILE: &str = include_str!("coast_down/tests.txt");

/// A test, and what is true of it.
struct Test {
    kind: &'static str,
    tested: Tested,
    rolling: f64,
    rolling_per_mps: f64,
    drag_area_m2: f64,
    tapped: Option<usize>,
    runs: Vec<Recorded>,
}

impl Test {
    fn new(words: &[&'static str]) -> Self {
        let number = |i: usize| words[i].parse::<f64>().unwrap();
        let air_k = number(3) + 273.15;
        // Dry air, ISO 2533.
        let pressure_pa = number(5) * 287.052_87 * air_k;
        let growth_per_mps = (1.5e-5 * 3.6, 1.5e-5 * 3.6);
        let (mass_kg, turning_kg) = (number(1), number(2) - number(1));
        Self {
            kind: words[9],
            tested: Tested { mass_kg, turning_kg, air_k, pressure_pa, growth_per_mps },
            rolling: number(6),
            rolling_per_mps: number(7),
            drag_area_m2: number(8),
            tapped: None,
            runs: Vec::new(),
        }
    }

    fn run(&mut self, words: &[&str]) {
        let hz: f64 = words[2].parse().unwrap();
        if words[3] == "1" {
            self.tapped = Some(self.runs.len());
        }
        let way = Some(if words[1] == "1" { Way::Out } else { Way::Back });
        let name = format!("run {}", self.runs.len() + 1);
        let (time_s, speed_mps) = (Vec::new(), Vec::new());
        let mut run = Recorded { name, time_s, speed_mps, places_deg: None, way };
        let (mut step, mut samples, mut rest) = (0i32, 0, words[4]);
        while let Some(letter) = rest.chars().next() {
            rest = &rest[1..];
            let changed = match letter {
                '.' => None,
                '(' => {
                    let (number, after) = rest.split_once(')').unwrap();
                    rest = after;
                    Some(number.parse::<i32>().unwrap())
                }
                'a'..='z' => Some(letter as i32 - 'a' as i32),
                _ => Some(letter as i32 - 'A' as i32 - 26),
            };
            if let Some(changed) = changed {
                step += changed;
                run.time_s.push(f64::from(samples) / hz);
                run.speed_mps.push(0.05 * f64::from(step));
            }
            samples += 1;
        }
        self.runs.push(run);
    }

    fn fitted(&self) -> CoastDownReport {
        coast_down(&self.runs, &self.tested).unwrap()
    }

    /// The truth and what was found of it: rolling resistance, its growth, drag area, all of the force at
    /// 50 km/h.
    fn truths(&self, found: &CoastDownReport) -> [(f64, Estimate); 4] {
        // Rolling to 20 °C, by SAE J1263 (from memory).
        let warm = 1.0 + 0.0086 * (self.tested.air_k - 293.15);
        let weight_n = self.tested.mass_kg * 9.80665;
        // Air at 20 °C and 100 kPa.
        let f2 = 0.5 * 100_000.0 / (287.052_87 * 293.15) * self.drag_area_m2 / 12.96;
        [
            (self.rolling * warm, found.rolling),
            (self.rolling_per_mps * weight_n * warm / 3.6, found.f1_n_per_kmh),
            (self.drag_area_m2, found.drag_area_m2),
            (f2, found.f2_n_per_kmh2),
        ]
    }
}

fn tests() -> Vec<Test> {
    let mut all: Vec<Test> = Vec::new();
    for line in FILE.lines() {
        let words: Vec<&str> = line.split(' ').collect();
        match words[0] {
            "test" => all.push(Test::new(&words)),
            _ => all.last_mut().unwrap().run(&words),
        }
    }
    all
}

#[test]
fn intervals_hold_the_truth_of_200_tests_by_scipy() {
    let all = tests();
    for kind in ["plain", "gusty", "gear", "oneway", "slow"] {
        let of: Vec<&Test> = all.iter().filter(|t| t.kind == kind).collect();
        let found: Vec<[(f64, Estimate); 4]> =
            of.par_iter().map(|t| t.truths(&t.fitted())).collect();
        for k in 0..4 {
            let n = found.len() as f64;
            let inside =
                found.iter().filter(|f| f[k].1.low <= f[k].0 && f[k].0 <= f[k].1.high).count();
            let z2 = found
                .iter()
                .map(|f| ((f[k].0 - f[k].1.value) / f[k].1.standard_error).powi(2))
                .sum::<f64>()
                / n;
            let share = found.iter().map(|f| f[k].1.share()).sum::<f64>() / n;
            println!(
                "{kind} {k}: {inside} of {n}, z rms {:.2}, half width {:.1} %",
                z2.sqrt(),
                100.0 * share
            );
        }
    }
    for t in all.iter().filter(|t| t.kind == "plain").take(12) {
        let r = t.fitted();
        println!(
            "tapped {:?} found {:?} alike {:.2} scatter {:.2} noise {:.3}",
            t.tapped,
            r.findings.iter().filter(|f| f.what != "no speed").collect::<Vec<_>>(),
            r.alike,
            r.wind_scatter_kmh / 3.6,
            r.noise_kmh / 3.6
        );
    }
}
