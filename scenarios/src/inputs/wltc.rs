//! The Worldwide Light Vehicles Test Cycle as a car drives it: that of its class, without the phases
//! that it cannot reach.

use crate::inputs::conditions::Surface;
use crate::words::number;
use cycles::{Error, LoadedRoad, Phase, WltcClass};
use sim_core::car::Slope;
use sim_core::pull::{net_power_w, top_speed_of_all};
use sim_core::units;
use sim_core::{Car, State, Surroundings};

/// Decimals beyond which speeds are not told apart.
const MOST_DECIMALS: usize = 3;
/// Air, parts and cells in the test, °C (UN GTR 15, Annex 6, from memory).
const TEST_C: f64 = 23.0;

/// The phases of a WLTC that a car does not reach, as the name that [`Wltc::road`] gives tells it.
pub(crate) fn left_out(name: &str) -> Option<&str> {
    let (cycle, phases) = name.split_once(" without ")?;
    let known = |phase| ["low", "medium", "high", "extra-high"].contains(&phase);
    let is_wltc = cycle.starts_with("wltc-") && cycles::is_built_in(cycle);
    (is_wltc && phases.split(", ").all(known)).then_some(phases)
}

/// What decides which WLTC a car drives.
///
/// Class by UN GTR 15, Annex 1 (from memory): rated power over kerb mass, and top speed. Rated power
/// is the net power of the drive (UN R85); kerb mass is the car with all that was put in, without
/// people and load, as the regulation takes the mass in running order less 75 kg for the driver.
/// Annex 8 counts every pure electric car as class 3 and scales its cycle down where it is weak
/// (from memory); a converted car is held here to the cycle of the weak car that it may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wltc {
    /// The class.
    pub class: WltcClass,
    /// Net power, W.
    pub rated_w: f64,
    /// Mass without people and load, kg.
    pub kerb_kg: f64,
    /// Top speed on the level, m/s.
    pub top_mps: f64,
}

impl Wltc {
    /// Of a car with its pack full, at the temperature of the test, on a level dry road at sea
    /// level: what the weather and the charge of a scenario are does not change the class.
    pub fn of(car: &Car, kerb_kg: f64) -> Self {
        let test_k = units::k_from_c(TEST_C);
        let car = car.moved_to(Surroundings {
            altitude_m: 0.0,
            air_k: test_k,
            head_wind_mps: 0.0,
            friction: Surface::Dry.friction(),
        });
        let ready = State::parked(car.parts().pack.max_charge, test_k);
        let rated_w = net_power_w(&car, &ready);
        let top_mps = top_speed_of_all(&car, &ready, Slope::LEVEL).speed_mps;
        Self { class: WltcClass::of(rated_w / kerb_kg, top_mps), rated_w, kerb_kg, top_mps }
    }

    /// The cycle behind a name that may leave the class open, with a note that says how it was
    /// chosen. Only the whole cycle loses phases: a phase that is asked for is driven.
    ///
    /// # Errors
    /// [`Error::UnknownCycle`] where there is no such cycle, or the class does not have the phase.
    pub fn road(&self, name: &str) -> Result<LoadedRoad, Error> {
        let whole = cycles::find(&self.class.named(name).unwrap_or_else(|| name.to_owned()))?;
        let (mut schedule, left_out) = whole.up_to(self.top_mps)?;
        let peak_mps = |phase: &Phase| Ok(whole.phase(&phase.name)?.peak_speed_mps());
        let peaks_mps = left_out.iter().map(peak_mps).collect::<Result<Vec<f64>, Error>>()?;
        // With as many decimals as keep every peak from reading as the top speed does.
        let text = |mps: f64, decimals: usize| {
            let scale = 10f64.powi(decimals as i32);
            number((scale * units::kmh_from_mps(mps)).round() / scale, decimals)
        };
        let alike = |decimals: usize| {
            let top = text(self.top_mps, decimals);
            peaks_mps.iter().any(|peak_mps| text(*peak_mps, decimals) == top)
        };
        let decimals = (0..MOST_DECIMALS).find(|n| !alike(*n)).unwrap_or(MOST_DECIMALS);
        let kmh = |mps: f64| text(mps, decimals);
        let mut note = format!(
            "class {} of UN GTR 15, Annex 1 (from memory): {:.1} kW at the shaft with a full pack, {:.1} W/kg \
             of {:.0} kg without people and load; top speed of the test {} km/h (full pack, dry, sea \
             level)",
            self.class,
            units::kw_from_w(self.rated_w),
            self.rated_w / self.kerb_kg,
            self.kerb_kg,
            kmh(self.top_mps)
        );
        if schedule.peak_speed_mps() > self.top_mps {
            note.push_str(&format!(", below the peak of {} km/h", kmh(schedule.peak_speed_mps())));
        }
        if !left_out.is_empty() {
            let phases = left_out
                .iter()
                .zip(&peaks_mps)
                .map(|(phase, peak_mps)| format!("{} (peak {} km/h)", phase.name, kmh(*peak_mps)))
                .collect::<Vec<_>>();
            note.push_str(&format!(
                ", so it goes without {}, and no such speed is in the figures",
                phases.join(", ")
            ));
            let names: Vec<&str> = left_out.iter().map(|phase| phase.name.as_str()).collect();
            schedule.name = format!("{} without {}", schedule.name, names.join(", "));
        }
        Ok(LoadedRoad { schedule, cleaning: None, notes: vec![note], held: None })
    }
}
