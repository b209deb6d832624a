//! Channels whose values cannot be, whatever the car.

use crate::channel::Channel;
use crate::error::short;
use crate::faults::{Fault, FaultKind};
use crate::signal::Signal;
use crate::units;

/// What no car that drives shows, °C. Air: the highest that was ever measured (World Meteorological
/// Organization: 56.7 °C, from memory). Windings: the highest class of insulation but one, 220 (IEC 60085,
/// from memory). The others: common practice, no source.
fn highest_c(signal: Signal) -> Option<f64> {
    Some(match signal {
        Signal::Air => 57.0,
        Signal::Winding => 220.0,
        Signal::Housing => 180.0,
        Signal::Sink => 150.0,
        Signal::Cells => 90.0,
        Signal::Coolant => 140.0,
        Signal::Oil => 180.0,
        Signal::Cabin => 80.0,
        _ => return None,
    })
}

/// Power and volts times amperes agree within this factor (common practice, no source).
const AGREE: f64 = 1.25;

/// Finds channels that cannot be and leaves them out.
pub(crate) fn find(time_s: &[f64], channels: &mut [Channel]) -> Vec<Fault> {
    let mut faults: Vec<Fault> =
        channels.iter_mut().filter_map(|channel| too_hot(time_s, channel)).collect();
    faults.extend(power(time_s, channels));
    faults
}

fn leave_out(time_s: &[f64], channel: &mut Channel, words: String) -> Fault {
    channel.values.fill(f64::NAN);
    let span = (time_s.first().copied(), time_s.last().copied());
    let spans = if let (Some(from), Some(to)) = span { vec![(from, to)] } else { Vec::new() };
    let (signal, column) = (channel.signal, channel.column.clone());
    Fault { signal, column, kind: FaultKind::Impossible, spans, words }
}

/// A temperature that nothing of a car has, in °F as like as not.
fn too_hot(time_s: &[f64], channel: &mut Channel) -> Option<Fault> {
    let highest_c = highest_c(channel.signal)?;
    let filled = channel.values.iter().filter(|v| !v.is_nan());
    let c = units::c_from_k(filled.copied().fold(f64::NEG_INFINITY, f64::max));
    if c <= highest_c {
        return None;
    }
    let as_f = units::c_from_f(c);
    let mut words = format!("{c:.0} °C cannot be, so all of it is left out");
    if as_f <= highest_c {
        let stem = channel.signal.column().trim_end_matches("_c");
        words += &format!(
            "; if it is in °F, that is {as_f:.0} °C: say --column '{stem}_f={}'",
            short(&channel.column)
        );
    }
    Some(leave_out(time_s, channel, words))
}

/// A power that is not volts times amperes: what was multiplied is surer than its product.
fn power(time_s: &[f64], channels: &mut [Channel]) -> Option<Fault> {
    let of = |signal| channels.iter().find(|channel| channel.signal == signal);
    let volts = &of(Signal::PackVoltage)?.values;
    let amperes = &of(Signal::PackCurrent)?.values;
    let power = &of(Signal::PackPower)?.values;
    let (mut stated_w, mut product_w) = (0.0, 0.0);
    for ((v, a), w) in volts.iter().zip(amperes).zip(power) {
        if !(v * a + w).is_nan() {
            stated_w += w.abs();
            product_w += (v * a).abs();
        }
    }
    let ratio = stated_w / product_w;
    if ratio.is_nan() || (1.0 / AGREE..=AGREE).contains(&ratio) {
        return None;
    }
    let words = format!(
        "it is {ratio:.2} times volts by amperes, so it is left out and these are used; see to units \
         and to thousands"
    );
    let channel = channels.iter_mut().find(|channel| channel.signal == Signal::PackPower)?;
    Some(leave_out(time_s, channel, words))
}

/// A charge that is given as a share where its name says per cent: no drive is within the last one.
pub(crate) fn shares(channels: &mut [Channel]) -> Option<String> {
    let channel = channels.iter_mut().find(|channel| channel.signal == Signal::Charge)?;
    let filled = channel.values.iter().filter(|v| !v.is_nan());
    let ends = |ends: (f64, f64), v: &f64| (ends.0.min(*v), ends.1.max(*v));
    let (lowest, highest) = filled.fold((f64::INFINITY, f64::NEG_INFINITY), ends);
    let one_pct = units::share_from_pct(1.0);
    if !(highest > 0.0 && highest <= one_pct + 1e-12 && lowest < highest) {
        return None;
    }
    channel.values.iter_mut().for_each(|value| *value = units::pct_from_share(*value));
    Some(format!(
        "`{}` runs from {:.2} to {:.2}, and was read as a share of 1, not in %.",
        short(&channel.column),
        units::pct_from_share(highest),
        units::pct_from_share(lowest)
    ))
}
