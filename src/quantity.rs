//! Quantities on the command line: a number with its unit, or in the units of the tables.

use crate::failure::Failure;
use crate::measure::Units;
use cycles::short;
use scenarios::bounds::{MAP_LIST, REGEN_LIST, SECTIONS};
use scenarios::units;
use sim_core::car::Slope;

/// Splits `80km/h` into 80 and `km/h`.
pub fn split(text: &str) -> Option<(f64, String)> {
    let text = text.trim();
    // A unit begins at the first letter or sign that no number has; `e` may be an exponent.
    let end = (0..=text.len())
        .rev()
        .filter(|i| text.is_char_boundary(*i))
        .find(|i| text[..*i].trim().parse::<f64>().is_ok())?;
    let value = text[..end].trim().parse::<f64>().ok().filter(|v| v.is_finite())?;
    Some((value, text[end..].trim().to_lowercase()))
}

/// Whether a comma stands where a point goes; two of what is a list are no decimals.
pub fn has_comma(text: &str) -> bool {
    text.matches(',').count() == 1 && split(&text.replacen(',', ".", 1)).is_some()
}

fn refuse(option: &str, text: &str, allowed: &str) -> Failure {
    let hint = if has_comma(text) { "; decimals are set off by a point" } else { "" };
    Failure::Arguments(format!("{option} is \"{}\"; allowed: {allowed}{hint}", short(text)))
}

/// A speed such as `80`, `80km/h` or `50mph`, in m/s; a bare number is in the tables' units.
pub fn speed_mps(option: &str, text: &str, bare: Units) -> Result<f64, Failure> {
    let allowed = "a speed such as 80km/h or 50mph, more than 0 and at most 300 km/h";
    let (value, unit) = split(text).ok_or_else(|| refuse(option, text, allowed))?;
    let mps = match (unit.as_str(), bare) {
        ("km/h" | "kmh" | "kph", _) | ("", Units::Metric) => units::mps_from_kmh(value),
        ("mph" | "mi/h", _) | ("", Units::Us) => units::mps_from_mph(value),
        ("m/s" | "mps", _) => value,
        _ => return Err(refuse(option, text, allowed)),
    };
    if mps > 0.0 && units::kmh_from_mps(mps) <= 300.0 {
        Ok(mps)
    } else {
        Err(refuse(option, text, allowed))
    }
}

/// Grade under which a bare number is more likely a share than per cent, %.
const SLIGHT_PCT: f64 = 0.35;

/// A grade such as `6%` or `6`, in per cent. A bare 0.07 may be either, and is asked back.
pub fn slope(option: &str, text: &str) -> Result<Slope, Failure> {
    let allowed = "a grade such as 6%, from -40% to 60%";
    let (value, unit) = split(text).ok_or_else(|| refuse(option, text, allowed))?;
    if !matches!(unit.as_str(), "" | "%") || !(-40.0..=60.0).contains(&value) {
        return Err(refuse(option, text, allowed));
    }
    if unit.is_empty() && value != 0.0 && value.abs() < SLIGHT_PCT {
        let pct =
            format!("{:.4}", 100.0 * value).trim_end_matches('0').trim_end_matches('.').to_owned();
        let said = format!("a grade in %, {pct}% if a share was meant, or else {text}%");
        return Err(refuse(option, text, &said));
    }
    Ok(Slope::from_grade(units::slope_from_pct(value)))
}

/// A length such as `10km`, `6mi`, `800m` or, at a speed, `8min`, in m.
pub fn length_m(option: &str, text: &str, speed_mps: f64, bare: Units) -> Result<f64, Failure> {
    let allowed = "a length such as 10km, 6mi or 8min, up to 1000 km";
    let (value, unit) = split(text).ok_or_else(|| refuse(option, text, allowed))?;
    let m = match (unit.as_str(), bare) {
        ("km", _) | ("", Units::Metric) => units::m_from_km(value),
        ("mi", _) | ("", Units::Us) => units::m_from_mi(value),
        ("m", _) => value,
        ("min", _) => units::s_from_min(value) * speed_mps,
        ("h", _) => units::s_from_h(value) * speed_mps,
        ("s", _) => value * speed_mps,
        _ => return Err(refuse(option, text, allowed)),
    };
    if m > 0.0 && m <= 1e6 { Ok(m) } else { Err(refuse(option, text, allowed)) }
}

/// A time such as `8h`, `90min` or `600s`, up to 30 days, in s; a bare number is in hours.
pub fn time_s(option: &str, text: &str) -> Result<f64, Failure> {
    let allowed = "a time such as 8h, 90min or 600s, up to 720 h";
    let (value, unit) = split(text).ok_or_else(|| refuse(option, text, allowed))?;
    let s = match unit.as_str() {
        "h" | "" => units::s_from_h(value),
        "min" => units::s_from_min(value),
        "s" => value,
        _ => return Err(refuse(option, text, allowed)),
    };
    if (0.0..=units::s_from_h(720.0)).contains(&s) {
        Ok(s)
    } else {
        Err(refuse(option, text, allowed))
    }
}

/// A temperature of air or cells such as `-10C` or `14F`, in °C; a bare number is in the tables' units.
pub fn temperature_c(option: &str, text: &str, bare: Units) -> Result<f64, Failure> {
    let allowed = "a temperature such as -10C or 14F, from -40 to 60 °C";
    let (value, unit) = split(text).ok_or_else(|| refuse(option, text, allowed))?;
    let c = match (unit.trim_start_matches('°'), bare) {
        ("c", _) | ("", Units::Metric) => value,
        ("f", _) | ("", Units::Us) => units::c_from_f(value),
        _ => return Err(refuse(option, text, allowed)),
    };
    if (-40.0..=60.0).contains(&c) { Ok(c) } else { Err(refuse(option, text, allowed)) }
}

/// How much more of something in per cent, such as `100%` or `100`, up to a most.
pub fn more_pct(option: &str, text: &str, most: f64) -> Result<f64, Failure> {
    let allowed = format!("a growth such as 100%, from 0% to {most}%");
    let (value, unit) = split(text).ok_or_else(|| refuse(option, text, &allowed))?;
    if matches!(unit.as_str(), "" | "%") && (0.0..=most).contains(&value) {
        Ok(value)
    } else {
        Err(refuse(option, text, &allowed))
    }
}

/// A share such as `80%` or `80`, in per cent, as a number from 0 to 1.
pub fn share(option: &str, text: &str) -> Result<f64, Failure> {
    let allowed = "a share such as 80%, from 0% to 100%";
    let (value, unit) = split(text).ok_or_else(|| refuse(option, text, allowed))?;
    if matches!(unit.as_str(), "" | "%") && (0.0..=100.0).contains(&value) {
        Ok(units::share_from_pct(value))
    } else {
        Err(refuse(option, text, allowed))
    }
}

/// A price of fuel such as `1.70/l` or `3.50/gal`, per litre; a bare number is per litre or, in US
/// units, per US gallon.
pub fn price_per_l(option: &str, text: &str, bare: Units) -> Result<f64, Failure> {
    let allowed = "a price such as 1.70/l or 3.50/gal, 0 or more";
    let (value, unit) = split(text).ok_or_else(|| refuse(option, text, allowed))?;
    let per_l = match (unit.as_str(), bare) {
        ("/l", _) | ("", Units::Metric) => value,
        ("/gal" | "/usgal", _) | ("", Units::Us) => value / units::l_from_usgal(1.0),
        _ => return Err(refuse(option, text, allowed)),
    };
    if (0.0..=1e6).contains(&per_l) { Ok(per_l) } else { Err(refuse(option, text, allowed)) }
}

/// A consumption of fuel such as `7.5l/100km` or `31mpg` (miles per US gallon), in l/100 km; a bare
/// number is in the tables' units.
pub fn consumption_l_per_100km(option: &str, text: &str, bare: Units) -> Result<f64, Failure> {
    let allowed = "a consumption such as 7.5l/100km or 31mpg, up to 100 l/100 km";
    let (value, unit) = split(text).ok_or_else(|| refuse(option, text, allowed))?;
    let burnt = match (unit.as_str(), bare) {
        ("l/100km" | "l/100 km", _) | ("", Units::Metric) => value,
        ("mpg", _) | ("", Units::Us) => units::l_per_100km_from_usmpg(value),
        _ => return Err(refuse(option, text, allowed)),
    };
    if burnt > 0.0 && burnt <= 100.0 { Ok(burnt) } else { Err(refuse(option, text, allowed)) }
}

/// A place on a road such as `3.2km`, `2mi` or `800m`, in m.
fn place_m(text: &str, unit_of: &str) -> Option<f64> {
    let (value, unit) = split(text)?;
    let m = match if unit.is_empty() { unit_of } else { &unit } {
        "km" => units::m_from_km(value),
        "mi" => units::m_from_mi(value),
        "m" => value,
        "" if value == 0.0 => 0.0,
        _ => return None,
    };
    (0.0..=2e7).contains(&m).then_some(m)
}

/// A speed with its unit, up to 300 km/h, in m/s.
fn limit_mps(text: &str) -> Option<f64> {
    let (value, unit) = split(text)?;
    let mps = match unit.as_str() {
        "km/h" | "kmh" | "kph" => units::mps_from_kmh(value),
        "mph" | "mi/h" => units::mps_from_mph(value),
        "m/s" | "mps" => value,
        _ => return None,
    };
    (1.0..=300.0).contains(&units::kmh_from_mps(mps)).then_some(mps)
}

/// Speed limits such as `80km/h`, or by distance such as `80km/h,0..4km:50km/h`: the one that holds
/// everywhere else, and those of sections.
pub fn limits(option: &str, text: &str) -> Result<(Option<f64>, Vec<cycles::Section>), Failure> {
    let allowed = format!(
        "a limit with its unit such as 80km/h, or at most {SECTIONS} by distance such as \
         0..4km:50km/h,4..12km:80km/h, from 1 to 300 km/h"
    );
    let section = |places: &str, limit: &str| {
        let (from, to) = places.split_once("..")?;
        let (_, unit) = split(to)?;
        let (from_m, to_m) = (place_m(from, &unit)?, place_m(to, "")?);
        let limit_mps = limit_mps(limit)?;
        (from_m < to_m).then_some(cycles::Section { from_m, to_m, limit_mps })
    };
    let (mut everywhere, mut sections) = (None, Vec::new());
    for item in text.split(',') {
        let understood = match item.split_once(':') {
            Some((places, limit)) => section(places, limit).map(|found| sections.push(found)),
            None if everywhere.is_some() => None,
            None => limit_mps(item).map(|mps| everywhere = Some(mps)),
        };
        if understood.is_none() || sections.len() as u64 > SECTIONS {
            return Err(refuse(option, text, &allowed));
        }
    }
    Ok((everywhere, sections))
}

/// A sideways acceleration such as `3m/s2` or `0.3g`, in m/s².
pub fn sideways_mps2(option: &str, text: &str) -> Result<f64, Failure> {
    let allowed = "an acceleration such as 3m/s2 or 0.3g, from 0.5 to 10 m/s2";
    let (value, unit) = split(text).ok_or_else(|| refuse(option, text, allowed))?;
    let mps2 = match unit.as_str() {
        "m/s2" | "m/s²" | "" => value,
        "g" => value * units::GRAVITY_MPS2,
        _ => return Err(refuse(option, text, allowed)),
    };
    if (0.5..=10.0).contains(&mps2) { Ok(mps2) } else { Err(refuse(option, text, allowed)) }
}

/// A stop such as `3.2km:20s`: m from the start, and s.
pub fn stop(option: &str, text: &str) -> Result<(f64, f64), Failure> {
    let allowed = "a place and a time such as 3.2km:20s, up to a day";
    let wrong = || refuse(option, text, allowed);
    let (place, time) = text.split_once(':').ok_or_else(wrong)?;
    let (value, unit) = split(time).ok_or_else(wrong)?;
    let s = match unit.as_str() {
        "s" => value,
        "min" => units::s_from_min(value),
        "h" => units::s_from_h(value),
        _ => return Err(wrong()),
    };
    let at_m = place_m(place, "").ok_or_else(wrong)?;
    if s > 0.0 && s <= 86_400.0 { Ok((at_m, s)) } else { Err(wrong()) }
}

/// A list of numbers as `from..to:step` (both ends included) or `a,b,c`, at most 60.
pub fn list(option: &str, text: &str, low: f64, high: f64) -> Result<Vec<f64>, Failure> {
    const MOST: f64 = MAP_LIST as f64;
    let allowed =
        format!("from..to:step or a,b,c, at most {MOST} numbers from {low} to {high}, rising");
    let number =
        |item: &str| item.trim().parse::<f64>().ok().filter(|value| (low..=high).contains(value));
    let range = || -> Option<Vec<f64>> {
        let (from, rest) = text.split_once("..")?;
        let (to, step) = rest.split_once(':')?;
        let (from, to) = (number(from)?, number(to)?);
        let step = step.trim().parse::<f64>().ok().filter(|step| *step > 0.0)?;
        let count = ((to - from) / step + 1e-9).floor();
        // Rounded, so that steps of 0.1 read as they were meant.
        let at = |i: u32| ((from + f64::from(i) * step) * 1e9).round() / 1e9;
        (0.0..MOST).contains(&count).then(|| (0..=count as u32).map(at).collect())
    };
    let found = if text.contains("..") {
        range()
    } else {
        text.split(',').map(number).collect::<Option<Vec<f64>>>()
    };
    found
        .filter(|list| list.len() as f64 <= MOST && list.windows(2).all(|pair| pair[0] < pair[1]))
        .ok_or_else(|| refuse(option, text, &allowed))
}

/// A list of shares in per cent such as `0,10,20`.
pub fn shares_pct(option: &str, text: &str) -> Result<Vec<f64>, Failure> {
    let allowed = format!("numbers from 0 to 100 with commas between them, at most {REGEN_LIST}");
    let list: Option<Vec<f64>> = text
        .split(',')
        .map(|item| item.trim().trim_end_matches('%').parse().ok())
        .map(|v| v.filter(|v: &f64| (0.0..=100.0).contains(v)))
        .collect();
    list.filter(|l| l.len() as u64 <= REGEN_LIST).ok_or_else(|| refuse(option, text, &allowed))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_quantities_with_and_without_units() {
        let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
        near(speed_mps("--speed", "36", Units::Metric).unwrap(), 10.0);
        near(speed_mps("--speed", "36 km/h", Units::Us).unwrap(), 10.0);
        near(speed_mps("--speed", "10", Units::Us).unwrap(), 4.4704);
        assert!(
            slope("--grade", "0.07").unwrap_err().to_string().contains("7% if a share was meant")
        );
        assert!(slope("--grade", "0.07%").is_ok() && slope("--grade", "0").is_ok());
        near(slope("--grade", "6%").unwrap().sin, 0.06 / (1.0 + 0.0036_f64).sqrt());
        near(length_m("--for", "8min", 10.0, Units::Metric).unwrap(), 4800.0);
        near(length_m("--for", "2mi", 10.0, Units::Metric).unwrap(), 3218.688);
        assert_eq!(shares_pct("--brake", "0,10%,20").unwrap(), [0.0, 10.0, 20.0]);
        near(time_s("--night", "90min").unwrap(), 5400.0);
        near(share("--to", "80%").unwrap(), 0.8);
        near(price_per_l("--fuel-price", "3.785411784/gal", Units::Metric).unwrap(), 1.0);
        // 235.214583 over miles per US gallon (from the definitions of mile and gallon).
        let burnt = consumption_l_per_100km("--donor", "31mpg", Units::Metric).unwrap();
        assert!((burnt - 235.214_583 / 31.0).abs() < 1e-6, "{burnt}");
        assert_eq!(list("--grades", "0..1:0.25", 0.0, 9.0).unwrap(), [0.0, 0.25, 0.5, 0.75, 1.0]);
        assert_eq!(list("--speeds", "5, 7", 0.0, 9.0).unwrap(), [5.0, 7.0]);
        for bad in ["", "5,4", "1..2", "1..2:0", "1..2:nan", "2..1:1", "0..9:0.001", "1..10:1"] {
            assert!(list("--speeds", bad, 0.0, 9.0).is_err(), "{bad}");
        }
        for bad in ["", "x", "-3", "nan", "1e99", "8 fortnights"] {
            assert!(time_s("--night", bad).is_err() && share("--to", bad).is_err(), "{bad}");
            assert!(price_per_l("--fuel-price", bad, Units::Us).is_err(), "{bad}");
            assert!(consumption_l_per_100km("--donor", bad, Units::Metric).is_err(), "{bad}");
        }
        near(temperature_c("--coldest", "14F", Units::Metric).unwrap(), -10.0);
        near(temperature_c("--coldest", "-10 °C", Units::Us).unwrap(), -10.0);
        near(more_pct("--worn", "80%", 900.0).unwrap(), 80.0);
        for bad in ["", "cold", "-60", "nan", "20K", "1e9", "200F"] {
            assert!(temperature_c("--coldest", bad, Units::Metric).is_err(), "{bad}");
        }
        assert!(more_pct("--worn", "-1", 900.0).is_err());
        assert!(more_pct("--worn", "901%", 900.0).is_err());
        for bad in ["", "fast", "-5", "nan", "1e9", "80 parsecs", "inf"] {
            assert!(speed_mps("--speed", bad, Units::Metric).is_err(), "{bad}");
            assert!(length_m("--for", bad, 10.0, Units::Metric).is_err(), "{bad}");
        }
        assert!(slope("--grade", "90%").is_err() && shares_pct("--brake", "0,,1").is_err());
    }
}
