//! A coast-down: what holds the car back, from runs in which it rolls free.

use super::coasting::{LEAST_FALL_MPS, LEAST_S, Leg, legs};
pub use super::coasting::{NoSpeed, Recorded, Way};
use super::disturbance::{disturbances, leave_out};
pub use super::regulation::ReferenceSpeed;
use super::regulation::{ACCURATE_SHARE, accuracy};
use super::trajectory::{Body, F0, F1, F2, Fit, ONSET, Prior, SLOPE, Scatter, WIND, fit, foreseen};
use crate::inputs::build::Reason;
use crate::prepared::Prepared;
use nalgebra::DMatrix;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::air;
use sim_core::road_load::{RoadLoad, Tempering};
use sim_core::units::{self, GRAVITY_MPS2};

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refused {
    /// No recording was given.
    #[error(
        "there is no run to be read; a coast-down takes at least one, and better three each way"
    )]
    NoRuns,
    /// A recording without a coasting.
    #[error(
        "{file} holds no coasting: the speed must fall by at least {fall_kmh:.0} km/h in {LEAST_S} s or \
         more, and by no more than 1.2 m/s² on the mean"
    )]
    NoCoasting {
        /// The recording.
        file: String,
        /// The least fall of speed, km/h.
        fall_kmh: f64,
    },
    /// Times that do not rise.
    #[error("{file}: the time is {time_s} s after {before_s} s; allowed: times that rise")]
    Time {
        /// The recording.
        file: String,
        /// The time, s.
        time_s: f64,
        /// The time before it, s.
        before_s: f64,
    },
    /// A speed of no car.
    #[error(
        "{file}: the speed is {kmh:.0} km/h at {time_s} s; allowed: -5 to 300 km/h: is the unit in the \
         header of the column right?"
    )]
    Speed {
        /// The recording.
        file: String,
        /// The speed, km/h.
        kmh: f64,
        /// When, s.
        time_s: f64,
    },
    /// A figure of the test that cannot be.
    #[error("{what} is {value}; allowed: {allowed}")]
    Test {
        /// Which.
        what: &'static str,
        /// Its value.
        value: f64,
        /// What is allowed.
        allowed: &'static str,
    },
    /// A recording without speeds.
    #[error(transparent)]
    NoSpeed(#[from] NoSpeed),
    /// A road load that the build cannot be given.
    #[error("{0}")]
    NotTaken(String),
    /// Equations without a solution.
    #[error("no road load fits the runs: too little is left of them where nothing disturbs")]
    NoFit,
}

/// The car and the air of the test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tested {
    /// What the car weighed, people and load included, kg.
    pub mass_kg: f64,
    /// The mass that what turns with the wheels adds, kg.
    pub turning_kg: f64,
    /// Air temperature, K.
    pub air_k: f64,
    /// Air pressure, Pa.
    pub pressure_pa: f64,
    /// Growth of the rolling resistance with speed that is likely, 1/(m/s), and its deviation.
    pub growth_per_mps: (f64, f64),
    /// What is expected of the car where there is a build of it.
    pub expected: Option<Expected>,
}

/// What a build says of the car that rolled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// Rolling resistance of all that rolls.
    pub rolling: f64,
    /// Drag area, m².
    pub drag_area_m2: f64,
    /// The lightest that it can be, kg.
    pub least_kg: f64,
    /// The heaviest, kg.
    pub most_kg: f64,
}

/// How it is known which way the runs went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Ways {
    /// It was said, or positions tell.
    Known,
    /// The runs of a recording are taken to go out and back in turn.
    InTurn,
    /// Runs stand in recordings of their own, of which nothing tells the way.
    Unknown,
}

/// What differs from the scenario in the test.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct TestDay {
    /// Mass of the car as tested, kg; left out, that of the build with its load.
    pub mass_kg: Option<f64>,
    /// Air temperature, °C; left out, the scenario's.
    pub air_c: Option<f64>,
    /// Altitude, m; left out, the scenario's.
    pub altitude_m: Option<f64>,
    /// Air pressure, kPa; left out, the altitude's.
    pub pressure_kpa: Option<f64>,
}

/// Growth of rolling resistance of the usual radial tyre, 1/(m/s), and how far tyres and drive trains
/// differ from it (common practice, no source).
const USUAL_GROWTH: (f64, f64) = (1.5e-5 * 3.6, 1.5e-5 * 3.6);

/// What is known of any car beforehand, wide enough to say nothing of this one: rolling resistance, and
/// drag area, m², each with a deviation.
const ANY_ROLLING: (f64, f64) = (0.013, 0.01);
const ANY_DRAG_AREA: (f64, f64) = (0.7, 0.5);
/// Wind along the road, m/s, and slope, of a calm day on a road that looks level (common practice, no
/// source): they are what a test in one direction leaves open.
const ANY_WIND_MPS: f64 = 2.0;
const ANY_SLOPE: f64 = 0.003;
/// By how much a sensor that lags is off where a run begins, m/s: a car that slows by 0.6 m/s² and a
/// lag of 2 s make it 1.2 m/s.
const ANY_ONSET_MPS: f64 = 1.0;
/// How clear a lag is that all runs are cut short for, in standard errors, and by how much, s.
const CLEAR_ONSET: f64 = 3.0;
const CUT_S: f64 = 8.0;

/// What the figures are corrected to: 20 °C and 100 kPa. Source: UN GTR 15, Annex 4 (from memory).
const REFERENCE_K: f64 = 293.15;
const REFERENCE_PA: f64 = 100_000.0;

/// A 95 % interval that is wider than this to either side serves no purchase, as a share: cars alike
/// differ by about as much.
pub const USEFUL_SHARE: f64 = 0.10;
/// The normal quantile of a 95 % interval.
const Z95: f64 = 1.96;

/// A value with what is known of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// The lower end of its 95 % interval.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

impl Estimate {
    fn new(value: f64, variance: f64) -> Self {
        let standard_error = variance.max(0.0).sqrt();
        let half = Z95 * standard_error;
        Self { value, standard_error, low: value - half, high: value + half }
    }

    /// Half of its interval as a share of the value.
    pub fn share(&self) -> f64 {
        (self.high - self.value) / self.value.abs()
    }
}

/// A run.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CoastRun {
    /// The recording that it is of.
    pub file: String,
    /// Which way it went.
    pub way: Way,
    /// When it begins in the recording, s.
    pub from_s: f64,
    /// When it ends, s.
    pub to_s: f64,
    /// The speed that it begins with, km/h.
    pub from_kmh: f64,
    /// The speed that it ends with, km/h.
    pub to_kmh: f64,
    /// Share of its samples that were used, %.
    pub used_pct: f64,
}

/// Something that was found in a recording.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Finding {
    /// The recording.
    pub file: String,
    /// From when, s.
    pub from_s: f64,
    /// To when, s.
    pub to_s: f64,
    /// What it is.
    pub what: String,
}

/// How far recorded speeds are off the fit, on the mean of a span of speeds.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Residual {
    /// The middle of the span, km/h.
    pub speed_kmh: f64,
    /// Runs out, m/s.
    pub out_mps: Option<f64>,
    /// Runs back, m/s.
    pub back_mps: Option<f64>,
}

/// What more would bring.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct More {
    /// Speed that runs begin with, km/h.
    pub from_kmh: f64,
    /// Runs each way, in all.
    pub runs_each_way: usize,
    /// How well rolling resistance would be known, ± %.
    pub rolling_pct: f64,
    /// How well drag area would be known, ± %.
    pub drag_area_pct: f64,
}

/// The forces in the test, `F0 + F1·v + F2·v²` in SI, and their covariance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Forces {
    pub(crate) values: [f64; 3],
    pub(crate) covariance: [[f64; 3]; 3],
}

/// What a coast-down tells.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CoastDownReport {
    /// The runs that were used.
    pub runs: Vec<CoastRun>,
    /// What was found in them and left out, and where the sensor was silent.
    pub findings: Vec<Finding>,
    /// Mass as tested, kg.
    pub mass_kg: f64,
    /// Mass that what turns with the wheels adds, kg.
    pub turning_kg: f64,
    /// Air temperature in the test, °C.
    pub air_c: f64,
    /// Air pressure in the test, kPa.
    pub pressure_kpa: f64,
    /// Air density in the test, kg/m³.
    pub air_density_kg_per_m3: f64,
    /// Constant part at 20 °C and 100 kPa, N.
    pub f0_n: Estimate,
    /// Part that grows with speed, at 20 °C and 100 kPa, N/(km/h).
    pub f1_n_per_kmh: Estimate,
    /// Part that grows with the square of speed, at 20 °C and 100 kPa, N/(km/h)².
    pub f2_n_per_kmh2: Estimate,
    /// Correlations of f0, f1 and f2.
    pub correlations: [[f64; 3]; 3],
    /// Rolling resistance at walking pace and 20 °C of all that rolls, N per N of weight: tyres,
    /// bearings and what turns with the wheels in neutral.
    pub rolling: Estimate,
    /// Drag area, m².
    pub drag_area_m2: Estimate,
    /// Covariance of the forces in the test, as they are, for what is written of them.
    #[serde(skip)]
    pub(crate) forces: Forces,
    /// Correlation of rolling resistance and drag area.
    pub rolling_with_drag: f64,
    /// Head wind of the runs out, km/h.
    pub head_wind_kmh: Estimate,
    /// Slope of the road for the runs out, %.
    pub slope_pct: Estimate,
    /// Scatter of one recorded speed about the fit, km/h.
    pub noise_kmh: f64,
    /// How many samples in a row tell as much as one that stands by itself.
    pub alike: f64,
    /// Scatter of the runs' mean head wind, km/h.
    pub wind_scatter_kmh: f64,
    /// Whether there are runs both ways, as far as that is known.
    pub both_ways: bool,
    /// How it is known which way they went.
    pub ways: Ways,
    /// Whether the figures can be used: runs both ways, no doubts, intervals of at most ±10 % for both.
    pub useful: bool,
    /// What cannot be, and points to a wrong unit, a wrong mass or a gear.
    pub doubts: Vec<String>,
    /// What would bring them there: as many runs from a higher speed, or more from the same.
    pub more: Vec<More>,
    /// The regulation's statistical accuracy by speed.
    pub accuracy: Vec<ReferenceSpeed>,
    /// Whether it is met at every speed that has three pairs, if there is one.
    pub accurate: Option<bool>,
    /// How far recorded speeds are off the fit.
    pub residuals: Vec<Residual>,
}

impl Tested {
    /// The test of a car of which there is a build.
    ///
    /// # Errors
    /// [`Refused::Test`] where a figure cannot be.
    pub fn of(prepared: &Prepared, day: &TestDay) -> Result<Self, Refused> {
        let within = |what, value: Option<f64>, low: f64, high: f64, allowed| match value {
            Some(value) if !(low..=high).contains(&value) => {
                Err(Refused::Test { what, value, allowed })
            }
            other => Ok(other),
        };
        let parts = prepared.car.parts();
        let around = prepared.car.surroundings();
        let mass = within("the mass", day.mass_kg, 200.0, 10_000.0, "200 to 10000 kg")?;
        let air_c = within("the air", day.air_c, -40.0, 55.0, "-40 to 55 °C")?;
        let altitude = within("the altitude", day.altitude_m, -450.0, 6000.0, "-450 to 6000 m")?;
        let pressure = within("the pressure", day.pressure_kpa, 40.0, 110.0, "40 to 110 kPa")?;
        let altitude_m = altitude.unwrap_or(around.altitude_m);
        let pressure_pa =
            pressure.map_or_else(|| air::standard_pressure_pa(altitude_m), |kpa| 1000.0 * kpa);
        let weight_n = parts.chassis.mass_kg * GRAVITY_MPS2;
        let (rolling, drag_area_m2) = match parts.road_load {
            RoadLoad::Coefficients { drag_area_m2, rolling, bearings_n, .. } => {
                (rolling + bearings_n / weight_n, drag_area_m2)
            }
            RoadLoad::CoastDown { f0_n, f2_n_per_mps2, mass_kg, air_density_kg_per_m3, .. } => {
                (f0_n / (mass_kg * GRAVITY_MPS2), 2.0 * f2_n_per_mps2 / air_density_kg_per_m3)
            }
        };
        let donor_kg: f64 = prepared
            .facts
            .masses
            .iter()
            .filter(|line| line.reason == Reason::Donor)
            .map(|line| line.mass_kg)
            .sum();
        let heavy_kg = donor_kg.max(parts.chassis.mass_kg);
        let expected = Expected {
            rolling,
            drag_area_m2,
            least_kg: LIGHTEST_SHARE * donor_kg,
            most_kg: prepared.facts.gross_mass_kg.unwrap_or(HEAVIEST_SHARE * heavy_kg),
        };
        let whole_kg = 2.0 * prepared.car.kinetic_j(1.0, None);
        let growth_per_mps = match parts.road_load {
            RoadLoad::Coefficients { rolling_per_mps, .. } => (rolling_per_mps, USUAL_GROWTH.1),
            RoadLoad::CoastDown { .. } => USUAL_GROWTH,
        };
        Ok(Self {
            mass_kg: mass.unwrap_or(parts.chassis.mass_kg),
            turning_kg: whole_kg - parts.chassis.mass_kg,
            air_k: air_c.map_or(around.air_k, units::k_from_c),
            pressure_pa,
            growth_per_mps,
            expected: Some(expected),
        })
    }

    fn body(&self) -> Body {
        Body { mass_kg: self.mass_kg, moving_kg: self.mass_kg + self.turning_kg }
    }

    fn density(&self) -> f64 {
        self.pressure_pa / (air::GAS_CONSTANT * self.air_k)
    }

    fn prior(&self) -> Prior {
        let weight_n = self.mass_kg * GRAVITY_MPS2;
        let air = 0.5 * self.density();
        let times = |known: (f64, f64), by: f64| (known.0 * by, known.1 * by);
        [
            times(ANY_ROLLING, weight_n),
            times(self.growth_per_mps, weight_n),
            times(ANY_DRAG_AREA, air),
            (0.0, ANY_WIND_MPS),
            (0.0, ANY_SLOPE),
            (0.0, ANY_ONSET_MPS),
        ]
    }

    /// What turns forces of the test into those at 20 °C and 100 kPa: rolling by `1 + 0.0086·(t − 20)`, air
    /// by density. Source: UN GTR 15, Annex 4, and SAE J1263 (from memory).
    fn to_reference(self) -> (f64, f64) {
        let rolling = 1.0 / Tempering::COAST_DOWN.factor(self.air_k);
        (rolling, REFERENCE_PA / (air::GAS_CONSTANT * REFERENCE_K) / self.density())
    }
}

impl CoastDownReport {
    /// Density of the air to which it is corrected, kg/m³.
    pub(crate) fn reference_density(&self) -> f64 {
        REFERENCE_PA / (air::GAS_CONSTANT * REFERENCE_K)
    }
}

/// What the runs of a test tell.
///
/// The speeds are fitted as they are, by the integral of `M·dv/dt = −(F0 + F1·v + F2·(v + u)·|v + u| + m·g·s)`
/// from a speed that is free, with one head wind `u` and one slope `s` whose signs change with the
/// direction, and a wind of each run's own about that, which drifts. Runs of one recording whose way is
/// not known go out and back in turn; those in recordings of their own are of no known way.
///
/// # Errors
/// [`Refused`].
pub fn coast_down(recorded: &[Recorded], tested: &Tested) -> Result<CoastDownReport, Refused> {
    let (mut legs, mut findings, ways) = all_legs(recorded)?;
    let body = tested.body();
    let prior = tested.prior();
    clean(&mut legs, &mut findings, &body, &prior)?;
    let mut found = fit(&legs, &body, &prior, Scatter::Found).ok_or(Refused::NoFit)?;
    let onset = found.shared[ONSET] / found.covariance[(ONSET, ONSET)].sqrt();
    if onset.abs() > CLEAR_ONSET && cut_short(&mut legs, &mut findings) {
        found = fit(&legs, &body, &prior, Scatter::Found).ok_or(Refused::NoFit)?;
    }
    Ok(report(&legs, findings, tested, &found, ways))
}

fn all_legs(recorded: &[Recorded]) -> Result<(Vec<Leg>, Vec<Finding>, Ways), Refused> {
    if recorded.is_empty() {
        return Err(Refused::NoRuns);
    }
    let (mut all, mut findings) = (Vec::new(), Vec::new());
    let mut ways = Ways::Known;
    for one in recorded {
        let file = one.name.clone();
        if let Some(pair) = one.time_s.windows(2).find(|pair| pair[0].total_cmp(&pair[1]).is_ge()) {
            return Err(Refused::Time { file, time_s: pair[1], before_s: pair[0] });
        }
        let far = |(_, v): &(&f64, &f64)| !(-5.0..=300.0).contains(&units::kmh_from_mps(**v));
        let known = one.time_s.iter().zip(&one.speed_mps).filter(|(_, v)| v.is_finite());
        if let Some((time_s, v)) = known.clone().find(far) {
            return Err(Refused::Speed { file, kmh: units::kmh_from_mps(*v), time_s: *time_s });
        }
        let (mut found, silent) = legs(one, one.way.unwrap_or(Way::Out));
        if found.is_empty() {
            let fall_kmh = units::kmh_from_mps(LEAST_FALL_MPS);
            return Err(Refused::NoCoasting { file, fall_kmh });
        }
        if let Some(way) = one.way {
            // Where it was said, it holds for all of the recording.
            found.iter_mut().for_each(|leg| leg.way = way);
        }
        if one.way.is_none() && found.iter().any(|leg| leg.went.is_none()) {
            ways = match (found.len(), ways) {
                (_, Ways::Unknown) => Ways::Unknown,
                (1, _) if recorded.len() > 1 => Ways::Unknown,
                _ => Ways::InTurn,
            };
        }
        all.append(&mut found);
        findings.extend(silent.into_iter().map(|silent| Finding {
            file: one.name.clone(),
            from_s: silent.from_s,
            to_s: silent.to_s,
            what: match silent.frozen {
                true => "the speed stands still: left out".to_owned(),
                false => "no speed".to_owned(),
            },
        }));
    }
    turn_by_place(&mut all);
    Ok((all, findings, ways))
}

/// Where places were recorded, they say which way each run went: along the first, or against it.
fn turn_by_place(legs: &mut [Leg]) {
    let Some(first) = legs.iter().find_map(|leg| leg.went) else { return };
    for leg in legs {
        if let Some(went) = leg.went {
            let along = went.0 * first.0 + went.1 * first.1;
            leg.way = if along >= 0.0 { Way::Out } else { Way::Back };
        }
    }
}

/// Most things that are left out of a test.
const MOST_FINDINGS: usize = 60;

/// Finds what disturbs the runs and leaves it out, the clearest first, until nothing is left that is
/// clear.
fn clean(
    legs: &mut Vec<Leg>,
    findings: &mut Vec<Finding>,
    body: &Body,
    prior: &Prior,
) -> Result<(), Refused> {
    for _ in 0..MOST_FINDINGS {
        let found = fit(legs, body, prior, Scatter::Given(0.5)).ok_or(Refused::NoFit)?;
        let all = disturbances(legs, body, &found);
        let Some(clearest) = all.first() else { break };
        let leg = &mut legs[clearest.leg];
        findings.push(Finding {
            file: leg.name.clone(),
            from_s: clearest.from_s,
            to_s: clearest.to_s,
            what: format!("{}: left out", clearest.words()),
        });
        if clearest.throughout {
            leg.pieces.clear();
        } else {
            leave_out(leg, clearest);
        }
        // What is left of a run must be most of one.
        let left: f64 =
            leg.pieces.iter().map(|p| leg.time_s[p.end - 1] - leg.time_s[p.start]).sum();
        if left < LEAST_S {
            legs.remove(clearest.leg);
        }
        if legs.is_empty() {
            return Err(Refused::NoFit);
        }
    }
    Ok(())
}

/// Cuts the start off all runs, where a sensor that lags has not caught up with the car; whether there
/// is anything left of them.
fn cut_short(legs: &mut Vec<Leg>, findings: &mut Vec<Finding>) -> bool {
    let shorter = |leg: &Leg| {
        let from_s = leg.time_s[0] + CUT_S;
        let late = |i: &usize| leg.time_s[*i] >= from_s;
        let pieces = leg.pieces.iter().filter_map(|piece| {
            let piece = piece.clone().find(late)?..piece.end;
            let long = leg.time_s[piece.end - 1] - leg.time_s[piece.start] >= 0.4 * LEAST_S;
            (long && piece.len() >= 5).then_some(piece)
        });
        let leg = Leg { pieces: pieces.collect(), ..leg.clone() };
        (!leg.pieces.is_empty()).then_some(leg)
    };
    let cut: Vec<Leg> = legs.iter().filter_map(shorter).collect();
    if cut.is_empty() {
        return false;
    }
    findings.extend(legs.iter().map(|leg| Finding {
        file: leg.name.clone(),
        from_s: leg.time_s[0],
        to_s: leg.time_s[0] + CUT_S,
        what: "the sensor lags behind the car where the coasting begins: left out".to_owned(),
    }));
    *legs = cut;
    true
}

/// What turns the shared unknowns into rolling resistance and drag area at the reference.
fn coefficients(tested: &Tested) -> (f64, f64) {
    let (rolling, _) = tested.to_reference();
    (rolling / (tested.mass_kg * GRAVITY_MPS2), 2.0 / tested.density())
}

fn shares(tested: &Tested, fit: &Fit, covariance: &DMatrix<f64>) -> (Estimate, Estimate) {
    let (by_f0, by_f2) = coefficients(tested);
    let of = |k: usize, by: f64| Estimate::new(by * fit.shared[k], by * by * covariance[(k, k)]);
    (of(F0, by_f0), of(F2, by_f2))
}

fn report(
    legs: &[Leg],
    findings: Vec<Finding>,
    tested: &Tested,
    fit: &Fit,
    ways: Ways,
) -> CoastDownReport {
    let both_ways = ways != Ways::Unknown
        && [Way::Out, Way::Back].iter().all(|way| legs.iter().any(|leg| leg.way == *way));
    let (rolling_by, air_by) = tested.to_reference();
    let kmh = units::mps_from_kmh(1.0);
    let by = [rolling_by, rolling_by * kmh, air_by * kmh * kmh];
    let covariance = &fit.covariance;
    let of = |k: usize, by: f64| Estimate::new(by * fit.shared[k], by * by * covariance[(k, k)]);
    let correlation =
        |i: usize, k: usize| covariance[(i, k)] / (covariance[(i, i)] * covariance[(k, k)]).sqrt();
    let (rolling, drag_area_m2) = shares(tested, fit, covariance);
    let slope_pct = of(SLOPE, 100.0);
    let mut doubts = doubts(&rolling, &drag_area_m2);
    doubts.extend(tested.expected.iter().flat_map(|it| it.doubts(tested, &rolling, &drag_area_m2)));
    doubts.extend(doubt_of_ways(ways, &slope_pct, fit.scatter_mps));
    let narrow = both_ways && [rolling, drag_area_m2].iter().all(|e| e.share() <= USEFUL_SHARE);
    let useful = narrow && doubts.is_empty();
    let accuracy = accuracy(legs);
    let judged: Vec<f64> = accuracy.iter().filter_map(|speed| speed.accuracy_pct).collect();
    let accurate = (!judged.is_empty())
        .then(|| judged.iter().all(|pct| *pct <= units::pct_from_share(ACCURATE_SHARE)));
    CoastDownReport {
        runs: legs.iter().zip(&fit.residuals).map(|(leg, off)| run(leg, off)).collect(),
        findings,
        mass_kg: tested.mass_kg,
        turning_kg: tested.turning_kg,
        air_c: units::c_from_k(tested.air_k),
        pressure_kpa: tested.pressure_pa / 1000.0,
        air_density_kg_per_m3: tested.density(),
        f0_n: of(F0, by[0]),
        f1_n_per_kmh: of(F1, by[1]),
        f2_n_per_kmh2: of(F2, by[2]),
        correlations: std::array::from_fn(|i| std::array::from_fn(|k| correlation(i, k))),
        rolling,
        drag_area_m2,
        forces: Forces {
            values: [fit.shared[F0], fit.shared[F1], fit.shared[F2]],
            covariance: std::array::from_fn(|i| std::array::from_fn(|k| covariance[(i, k)])),
        },
        rolling_with_drag: correlation(F0, F2),
        head_wind_kmh: of(WIND, units::kmh_from_mps(1.0)),
        slope_pct,
        noise_kmh: units::kmh_from_mps(fit.noise_mps),
        alike: fit.alike,
        wind_scatter_kmh: units::kmh_from_mps(fit.scatter_mps),
        both_ways,
        ways,
        useful,
        doubts,
        more: if narrow { Vec::new() } else { more(legs, tested, fit) },
        accuracy,
        accurate,
        residuals: residuals(legs, fit),
    }
}

fn run(leg: &Leg, off: &[f64]) -> CoastRun {
    let last = leg.time_s.len() - 1;
    let used = off.iter().filter(|r| r.is_finite()).count();
    CoastRun {
        file: leg.name.clone(),
        way: leg.way,
        from_s: leg.time_s[0],
        to_s: leg.time_s[last],
        from_kmh: units::kmh_from_mps(leg.speed_mps[0]),
        to_kmh: units::kmh_from_mps(leg.speed_mps[last]),
        used_pct: units::pct_of(used as f64, off.len() as f64),
    }
}

/// Spans of speed of the residuals.
const SPANS: usize = 48;

fn residuals(legs: &[Leg], fit: &Fit) -> Vec<Residual> {
    let samples: Vec<(f64, f64, Way)> = legs
        .iter()
        .zip(fit.residuals.iter().zip(&fit.courses))
        .flat_map(|(leg, (off, course))| {
            let of = |(r, moment): (&f64, &Option<_>)| {
                moment.map(|m: super::trajectory::Moment| (m.speed_mps, *r, leg.way))
            };
            off.iter().zip(course).filter_map(of).collect::<Vec<_>>()
        })
        .collect();
    let (low, high) = samples
        .iter()
        .fold((f64::INFINITY, 0.0_f64), |(low, high), s| (low.min(s.0), high.max(s.0)));
    let width = (high - low) / SPANS as f64;
    let span = |i: usize| {
        let from = low + width * i as f64;
        let mean = |way: Way| {
            let inside = samples.iter().filter(|s| s.2 == way && s.0 >= from && s.0 < from + width);
            let (sum, count) = inside.fold((0.0, 0), |(sum, n), s| (sum + s.1, n + 1));
            (count > 0).then(|| sum / f64::from(count))
        };
        Residual {
            speed_kmh: units::kmh_from_mps(from + 0.5 * width),
            out_mps: mean(Way::Out),
            back_mps: mean(Way::Back),
        }
    };
    (0..SPANS).map(span).collect()
}

/// Speeds that runs may begin with, km/h.
const STARTS_KMH: [f64; 6] = [60.0, 70.0, 80.0, 100.0, 110.0, 130.0];
/// Most runs each way that anybody drives.
const MOST_EACH_WAY: usize = 30;

/// What would make the intervals useful: more runs as they are, and the lowest higher start that does
/// with as many.
fn more(legs: &[Leg], tested: &Tested, fit: &Fit) -> Vec<More> {
    let starts = legs.iter().map(|leg| leg.speed_mps[0]).collect();
    let from_mps = super::coasting::median(starts);
    let least_mps = legs.iter().map(|leg| leg.speed_mps[leg.speed_mps.len() - 1]);
    let least_mps = least_mps.fold(f64::INFINITY, f64::min);
    let apart = legs.iter().map(|leg| {
        let last = leg.time_s.len() - 1;
        (leg.time_s[last] - leg.time_s[0]) / last as f64
    });
    let apart_s = super::coasting::median(apart.collect());
    let each_way = legs.len().div_ceil(2).max(1);
    let with = |from_mps: f64, runs_each_way: usize| -> Option<More> {
        let (runs, seen) = ((from_mps, runs_each_way), (apart_s, least_mps));
        let covariance = foreseen(&tested.body(), fit, &tested.prior(), runs, seen)?;
        let (rolling, drag) = shares(tested, fit, &covariance);
        Some(More {
            from_kmh: units::kmh_from_mps(from_mps),
            runs_each_way,
            rolling_pct: units::pct_from_share(rolling.share()),
            drag_area_pct: units::pct_from_share(drag.share()),
        })
    };
    let serves = |more: &More| {
        more.rolling_pct.max(more.drag_area_pct) <= units::pct_from_share(USEFUL_SHARE)
    };
    let same = (each_way..=MOST_EACH_WAY).find_map(|runs| with(from_mps, runs).filter(serves));
    let faster = STARTS_KMH
        .into_iter()
        .map(units::mps_from_kmh)
        .filter(|mps| *mps > from_mps + 1.0)
        .find_map(|mps| with(mps, each_way).filter(serves));
    let fastest = || {
        (each_way..=MOST_EACH_WAY).find_map(|runs| {
            with(units::mps_from_kmh(STARTS_KMH[5]).max(from_mps), runs).filter(serves)
        })
    };
    let mut all: Vec<More> = faster.into_iter().chain(same).collect();
    if all.is_empty() {
        all.extend(fastest());
    }
    all
}

/// What cars on hard roads have between them, wider than any that is driven (common practice, no
/// source): rolling resistance of all that rolls, and drag area, m².
const ROLLING: (f64, f64) = (0.004, 0.03);
const DRAG_AREA_M2: (f64, f64) = (0.15, 2.5);

/// By how much a build is off at most that is nothing but guessed, as shares, and how light or heavy a
/// car can be that rolls, of what its donor weighs (common practice, no source).
const OFF_ROLLING: f64 = 1.6;
const OFF_DRAG_AREA: f64 = 1.35;
const LIGHTEST_SHARE: f64 = 0.7;
const HEAVIEST_SHARE: f64 = 1.6;

impl Expected {
    /// What is far from the build.
    fn doubts(&self, tested: &Tested, rolling: &Estimate, drag_area_m2: &Estimate) -> Vec<String> {
        let mut all = Vec::new();
        let far =
            |found: &Estimate, own: f64, by: f64| found.low > own * by || found.high < own / by;
        let ask = "is the unit of the speed right, the mass, and is it this car?";
        if far(drag_area_m2, self.drag_area_m2, OFF_DRAG_AREA) {
            all.push(format!(
                "A drag area of {:.2} m² is far from the {:.2} m² of the build: {ask}",
                drag_area_m2.value, self.drag_area_m2
            ));
        }
        if far(rolling, self.rolling, OFF_ROLLING) {
            all.push(format!(
                "A rolling resistance of {:.4} is far from the {:.4} of the build: {ask}",
                rolling.value, self.rolling
            ));
        }
        if !(self.least_kg..=self.most_kg).contains(&tested.mass_kg) {
            all.push(format!(
                "A mass of {:.0} kg is not this car's, which can roll with {:.0} to {:.0} kg: all forces are \
                 off by as much as the mass.",
                tested.mass_kg, self.least_kg, self.most_kg
            ));
        }
        all
    }
}

/// What no level road has, %, and by how much the winds of runs differ at most on a day that is calm
/// enough, m/s (common practice, no source).
const STEEP_PCT: f64 = 0.6;
const UNLIKE_MPS: f64 = 1.0;

/// Runs that were taken in turn, and seem to have gone otherwise.
fn doubt_of_ways(ways: Ways, slope_pct: &Estimate, scatter_mps: f64) -> Option<String> {
    let steep = slope_pct.low > STEEP_PCT || slope_pct.high < -STEEP_PCT;
    (ways == Ways::InTurn && (steep || scatter_mps > UNLIKE_MPS)).then(|| {
        "The runs do not look as if they had gone out and back in turn on a level road: the ways may be \
         mixed up, or a run braked or driven; a recording each way and --back say which went where."
            .to_owned()
    })
}

/// What no car has: then something is wrong with units, mass or runs.
fn doubts(rolling: &Estimate, drag_area_m2: &Estimate) -> Vec<String> {
    let outside = |estimate: &Estimate, (low, high): (f64, f64)| {
        // Only where the interval leaves no room for what cars have.
        estimate.low > high || estimate.high < low
    };
    let ask = "is the unit of the speed right, the mass, and was it in neutral all along?";
    let mut all = Vec::new();
    if outside(rolling, ROLLING) {
        let (low, high) = ROLLING;
        all.push(format!(
            "A rolling resistance of {:.3} is no car's on a hard road, which has {low} to {high}: {ask}",
            rolling.value
        ));
    }
    if outside(drag_area_m2, DRAG_AREA_M2) {
        let (low, high) = DRAG_AREA_M2;
        all.push(format!(
            "A drag area of {:.2} m² is no car's, which has {low} to {high} m²: {ask}",
            drag_area_m2.value
        ));
    }
    all
}
