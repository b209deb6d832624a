//! How far recorded speeds are off what fits them, drawn with characters.

use crate::measure::{Units, number};
use scenarios::measured::coast_down::Residual;
use scenarios::units;

/// Lines above and below the middle.
const LINES: i32 = 4;

/// A picture with speed to the right and what was recorded less what fits upwards: `o` for runs out,
/// `x` for runs back, `*` where both fall together.
pub fn picture(residuals: &[Residual], look: Units) -> Vec<String> {
    let kmh = |mps: f64| look.value(units::kmh_from_mps(mps), "km/h");
    let all = residuals.iter().flat_map(|r| [r.out_mps, r.back_mps]).flatten();
    let most = all.map(|mps| kmh(mps).abs()).fold(0.0, f64::max);
    // A round number of the units at the top.
    let tops = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0];
    let top = tops.into_iter().find(|top| *top >= most).unwrap_or(100.0);
    let line_of =
        |mps: Option<f64>| mps.map(|mps| (kmh(mps) / top * f64::from(LINES)).round() as i32);
    let places: Vec<(Option<i32>, Option<i32>)> =
        residuals.iter().map(|r| (line_of(r.out_mps), line_of(r.back_mps))).collect();
    let mut lines = Vec::new();
    for line in (-LINES..=LINES).rev() {
        let label = match line {
            l if l.abs() == LINES => {
                let value = top * f64::from(l.signum());
                format!("{}{}", if value > 0.0 { "+" } else { "" }, number(value, 1))
            }
            0 => "0".to_owned(),
            _ => String::new(),
        };
        let row: String = places
            .iter()
            .map(|(out, back)| match (*out == Some(line), *back == Some(line)) {
                (true, true) => '*',
                (true, false) => 'o',
                (false, true) => 'x',
                (false, false) if line == 0 => '-',
                _ => ' ',
            })
            .collect();
        lines.push(format!("{label:>7} |{row}").trim_end().to_owned());
    }
    let speed = |r: Option<&Residual>| {
        r.map_or(String::new(), |r| number(look.value(r.speed_kmh, "km/h"), 0))
    };
    let (first, last) = (speed(residuals.first()), speed(residuals.last()));
    let sign = look.speed_unit();
    let room = residuals.len().saturating_sub(first.len());
    lines.push(format!("{:>7} {first}{last:>room$} {sign}", ""));
    lines
}
