//! The only place where a unit is changed.
//!
//! Everything else in the project computes in SI (metres, seconds, kilograms, newtons, watts,
//! joules, kelvins). Every function here is a plain multiplication or an offset by an exactly
//! defined constant: it is valid for any finite number, maps NaN to NaN and cannot fail.
//!
//! | constant | value | source |
//! |---|---|---|
//! | inch, foot, international mile | 0.0254 m, 0.3048 m, 1609.344 m | international yard and pound agreement of 1959 (yard = 0.9144 m) |
//! | pound | 0.45359237 kg | the same agreement |
//! | standard gravity | 9.80665 m/s² | 3rd General Conference on Weights and Measures, 1901 |
//! | pound-force | pound × standard gravity | NIST Special Publication 811, appendix B |
//! | mechanical horsepower | 550 ft·lbf/s | NIST Special Publication 811, appendix B |
//! | US gallon | 231 in³ | NIST Handbook 44, appendix C |
//! | zero Celsius | 273.15 K | SI brochure, section on the degree Celsius |

/// Seconds in a minute (SI brochure, table of units accepted with the SI).
pub const S_PER_MIN: f64 = 60.0;
/// Seconds in an hour (SI brochure, table of units accepted with the SI).
pub const S_PER_H: f64 = 3600.0;
/// Metres in an inch, exact (1959 agreement).
pub const M_PER_IN: f64 = 0.0254;
/// Millimetres in an inch, exact (1959 agreement).
pub const MM_PER_IN: f64 = 25.4;
/// Metres in a foot, exact (12 in).
pub const M_PER_FT: f64 = 0.3048;
/// Metres in an international mile, exact (5280 ft).
pub const M_PER_MI: f64 = 1609.344;
/// Kilograms in an avoirdupois pound, exact (1959 agreement).
pub const KG_PER_LB: f64 = 0.453_592_37;
/// Standard acceleration of free fall in m/s², exact by convention (3rd CGPM, 1901).
pub const GRAVITY_MPS2: f64 = 9.806_65;
/// Newtons in a pound-force: one pound under standard gravity, exact.
pub const N_PER_LBF: f64 = KG_PER_LB * GRAVITY_MPS2;
/// Newton metres in a pound-force foot, exact.
pub const NM_PER_LBFT: f64 = N_PER_LBF * M_PER_FT;
/// Watts in a mechanical horsepower, 550 ft·lbf/s, exact.
pub const W_PER_HP: f64 = 550.0 * NM_PER_LBFT;
/// Cubic metres in a US liquid gallon, 231 in³, exact.
pub const M3_PER_USGAL: f64 = 231.0 * M_PER_IN * M_PER_IN * M_PER_IN;
/// Kelvins at 0 °C, exact (SI brochure).
pub const K_AT_0_C: f64 = 273.15;
/// Kelvins at 25 °C, where data sheets and labels are stated (ISO 28580 for tyres; common practice,
/// no source, for cells).
pub const K_AT_25_C: f64 = K_AT_0_C + 25.0;
/// Joules in a British thermal unit of the international table (NIST SP 811).
pub const J_PER_BTU: f64 = 1_055.055_852_62;
/// Joules in a watt hour, exact.
pub const J_PER_WH: f64 = S_PER_H;

/// British thermal units from kilojoules: E · 1000 / 1055.05585262.
pub fn btu_from_kj(energy_kj: f64) -> f64 {
    j_from_kj(energy_kj) / J_PER_BTU
}

/// Heat capacity in BTU/°F from kJ/K.
pub fn btu_per_f_from_kj_per_k(capacity_kj_per_k: f64) -> f64 {
    btu_from_kj(capacity_kj_per_k) / f_from_k_apart(1.0)
}

/// Conductance in BTU/(h·°F) from W/K.
pub fn btu_per_h_f_from_w_per_k(conductance_w_per_k: f64) -> f64 {
    conductance_w_per_k * S_PER_H / J_PER_BTU / f_from_k_apart(1.0)
}

/// Square feet from square metres.
pub fn ft2_from_m2(area_m2: f64) -> f64 {
    area_m2 / (M_PER_FT * M_PER_FT)
}

/// Seconds from milliseconds: t / 1000.
pub fn s_from_ms(time_ms: f64) -> f64 {
    time_ms / 1000.0
}
/// Seconds from microseconds: t / 1 000 000.
pub fn s_from_us(time_us: f64) -> f64 {
    time_us / 1e6
}
/// Volts from millivolts: U / 1000.
pub fn v_from_mv(voltage_mv: f64) -> f64 {
    voltage_mv / 1000.0
}
/// Amperes from milliamperes: I / 1000.
pub fn a_from_ma(current_ma: f64) -> f64 {
    current_ma / 1000.0
}
/// Degrees Celsius from degrees Fahrenheit: (t − 32) · 5/9 (NIST SP 811, appendix B.9).
pub fn c_from_f(temperature_f: f64) -> f64 {
    (temperature_f - 32.0) * 5.0 / 9.0
}
/// Metres per second from kilometres per hour: v / 3.6.
pub fn mps_from_kmh(speed_kmh: f64) -> f64 {
    speed_kmh / 3.6
}
/// Kilometres per hour from metres per second: v · 3.6.
pub fn kmh_from_mps(speed_mps: f64) -> f64 {
    speed_mps * 3.6
}
/// Metres per second from miles per hour: v · 1609.344 / 3600.
pub fn mps_from_mph(speed_mph: f64) -> f64 {
    speed_mph * (M_PER_MI / S_PER_H)
}
/// Metres per second from knots: v · 1852 / 3600 (SI Brochure, table 8 of its 8th edition).
pub fn mps_from_knots(speed_kn: f64) -> f64 {
    speed_kn * (1852.0 / S_PER_H)
}
/// Miles per hour from metres per second: v · 3600 / 1609.344.
pub fn mph_from_mps(speed_mps: f64) -> f64 {
    speed_mps / (M_PER_MI / S_PER_H)
}
/// Seconds from minutes: t · 60.
pub fn s_from_min(time_min: f64) -> f64 {
    time_min * S_PER_MIN
}
/// Minutes from seconds: t / 60.
pub fn min_from_s(time_s: f64) -> f64 {
    time_s / S_PER_MIN
}
/// Seconds from hours: t · 3600.
pub const fn s_from_h(time_h: f64) -> f64 {
    time_h * S_PER_H
}
/// Hours from seconds: t / 3600.
pub fn h_from_s(time_s: f64) -> f64 {
    time_s / S_PER_H
}
/// Whole hours, and the whole minutes over, from seconds: rounded to minutes.
pub fn h_and_min_from_s(time_s: f64) -> (f64, f64) {
    let minutes = min_from_s(time_s).round();
    ((minutes / 60.0).floor(), minutes % 60.0)
}
/// Metres from kilometres: d · 1000.
pub fn m_from_km(distance_km: f64) -> f64 {
    distance_km * 1000.0
}
/// Kilometres from metres: d / 1000.
pub fn km_from_m(distance_m: f64) -> f64 {
    distance_m / 1000.0
}
/// Metres from international miles: d · 1609.344.
pub fn m_from_mi(distance_mi: f64) -> f64 {
    distance_mi * M_PER_MI
}
/// International miles from metres: d / 1609.344.
pub fn mi_from_m(distance_m: f64) -> f64 {
    distance_m / M_PER_MI
}
/// Metres from feet: d · 0.3048.
pub fn m_from_ft(length_ft: f64) -> f64 {
    length_ft * M_PER_FT
}
/// Feet from metres: d / 0.3048.
pub fn ft_from_m(length_m: f64) -> f64 {
    length_m / M_PER_FT
}
/// Metres from inches: d · 0.0254.
pub fn m_from_in(length_in: f64) -> f64 {
    length_in * M_PER_IN
}
/// Inches from metres: d / 0.0254.
pub fn in_from_m(length_m: f64) -> f64 {
    length_m / M_PER_IN
}
/// Millimetres from inches: d · 25.4.
pub fn mm_from_in(length_in: f64) -> f64 {
    length_in * MM_PER_IN
}
/// Metres from millimetres: d / 1000.
pub fn m_from_mm(length_mm: f64) -> f64 {
    length_mm / 1000.0
}
/// Millimetres from metres: d · 1000.
pub fn mm_from_m(length_m: f64) -> f64 {
    length_m * 1000.0
}
/// Kilograms from pounds: m · 0.45359237.
pub fn kg_from_lb(mass_lb: f64) -> f64 {
    mass_lb * KG_PER_LB
}
/// Pounds from kilograms: m / 0.45359237.
pub fn lb_from_kg(mass_kg: f64) -> f64 {
    mass_kg / KG_PER_LB
}
/// Newtons from pounds-force: F · 0.45359237 · 9.80665.
pub fn n_from_lbf(force_lbf: f64) -> f64 {
    force_lbf * N_PER_LBF
}
/// Pounds-force from newtons: F / (0.45359237 · 9.80665).
pub fn lbf_from_n(force_n: f64) -> f64 {
    force_n / N_PER_LBF
}
/// Newton metres from pound-force feet: T · 0.45359237 · 9.80665 · 0.3048.
pub fn nm_from_lbft(torque_lbft: f64) -> f64 {
    torque_lbft * NM_PER_LBFT
}
/// Pound-force feet from newton metres: T / (0.45359237 · 9.80665 · 0.3048).
pub fn lbft_from_nm(torque_nm: f64) -> f64 {
    torque_nm / NM_PER_LBFT
}
/// Kelvins from degrees Celsius: T + 273.15.
pub fn k_from_c(temperature_c: f64) -> f64 {
    temperature_c + K_AT_0_C
}
/// Degrees Celsius from kelvins: T − 273.15.
pub fn c_from_k(temperature_k: f64) -> f64 {
    temperature_k - K_AT_0_C
}
/// Watts from kilowatts: P · 1000.
pub fn w_from_kw(power_kw: f64) -> f64 {
    power_kw * 1000.0
}
/// Degrees Fahrenheit from degrees Celsius: t · 9/5 + 32 (NIST SP 811, appendix B.9).
pub fn f_from_c(temperature_c: f64) -> f64 {
    temperature_c * 9.0 / 5.0 + 32.0
}
/// A difference of temperatures in degrees Fahrenheit from kelvins: ΔT · 9/5 (NIST SP 811,
/// appendix B.9).
pub fn f_from_k_apart(difference_k: f64) -> f64 {
    difference_k * 9.0 / 5.0
}
/// Kilowatts from watts: P / 1000.
pub fn kw_from_w(power_w: f64) -> f64 {
    power_w / 1000.0
}
/// Watts from mechanical horsepower: P · 745.6998….
pub fn w_from_hp(power_hp: f64) -> f64 {
    power_hp * W_PER_HP
}
/// Mechanical horsepower from watts: P / 745.6998….
pub fn hp_from_w(power_w: f64) -> f64 {
    power_w / W_PER_HP
}
/// Kilowatts from mechanical horsepower: P · 0.7456998….
pub fn kw_from_hp(power_hp: f64) -> f64 {
    kw_from_w(w_from_hp(power_hp))
}
/// Mechanical horsepower from kilowatts: P / 0.7456998….
pub fn hp_from_kw(power_kw: f64) -> f64 {
    hp_from_w(w_from_kw(power_kw))
}
/// Joules from watt hours: E · 3600.
pub fn j_from_wh(energy_wh: f64) -> f64 {
    energy_wh * J_PER_WH
}
/// Watt hours from joules: E / 3600.
pub fn wh_from_j(energy_j: f64) -> f64 {
    energy_j / J_PER_WH
}
/// Joules from kilowatt hours: E · 3 600 000.
pub fn j_from_kwh(energy_kwh: f64) -> f64 {
    energy_kwh * 1000.0 * J_PER_WH
}
/// Kilowatt hours from joules: E / 3 600 000.
pub fn kwh_from_j(energy_j: f64) -> f64 {
    energy_j / (1000.0 * J_PER_WH)
}
/// Kilowatt hours from watt hours: E / 1000.
pub fn kwh_from_wh(energy_wh: f64) -> f64 {
    energy_wh / 1000.0
}
/// Watt hours from kilowatt hours: E · 1000.
pub fn wh_from_kwh(energy_kwh: f64) -> f64 {
    energy_kwh * 1000.0
}
/// Joules from kilojoules, also for each kelvin: E · 1000.
pub fn j_from_kj(energy_kj: f64) -> f64 {
    energy_kj * 1000.0
}
/// Kilojoules from joules, also for each kelvin: E / 1000.
pub fn kj_from_j(energy_j: f64) -> f64 {
    energy_j / 1000.0
}
/// What a mile takes from what a kilometre takes, or the same for a hundred of them: x · 1.609344.
pub fn per_mi_from_per_km(taken_per_km: f64) -> f64 {
    taken_per_km * km_from_m(M_PER_MI)
}
/// What a kilometre takes from what a mile takes: x / 1.609344.
pub fn per_km_from_per_mi(taken_per_mi: f64) -> f64 {
    taken_per_mi / km_from_m(M_PER_MI)
}
/// Watt hours for each mile from watt hours for each kilometre: e · 1.609344.
pub fn wh_per_mi_from_wh_per_km(consumption_wh_per_km: f64) -> f64 {
    per_mi_from_per_km(consumption_wh_per_km)
}
/// Miles on a kilowatt hour from watt hours for each kilometre: 621.371… / e. Zero becomes
/// infinity.
pub fn mi_per_kwh_from_wh_per_km(consumption_wh_per_km: f64) -> f64 {
    mi_from_m(1000.0) * 1000.0 / consumption_wh_per_km
}
/// Milliohms from ohms: R · 1000.
pub fn mohm_from_ohm(resistance_ohm: f64) -> f64 {
    resistance_ohm * 1000.0
}

/// Farads from microfarads: C / 10⁶.
pub fn farad_from_uf(capacitance_uf: f64) -> f64 {
    capacitance_uf / 1e6
}

/// Microfarads from farads: C · 10⁶.
pub fn uf_from_farad(capacitance_f: f64) -> f64 {
    capacitance_f * 1e6
}

/// Square metres from square millimetres: A / 10⁶.
pub fn m2_from_mm2(area_mm2: f64) -> f64 {
    area_mm2 / 1e6
}

/// Square millimetres from square metres: A · 10⁶.
pub fn mm2_from_m2(area_m2: f64) -> f64 {
    area_m2 * 1e6
}

/// Ohms from milliohms: R / 1000.
pub fn ohm_from_mohm(resistance_mohm: f64) -> f64 {
    resistance_mohm / 1000.0
}
/// Millivolts from volts: U · 1000.
pub fn mv_from_v(voltage_v: f64) -> f64 {
    voltage_v * 1000.0
}
/// Ampere seconds from ampere hours: Q · 3600.
pub fn as_from_ah(charge_ah: f64) -> f64 {
    charge_ah * S_PER_H
}
/// Ampere hours from ampere seconds: Q / 3600.
pub fn ah_from_as(charge_as: f64) -> f64 {
    charge_as / S_PER_H
}
/// Radians per second from thousands of revolutions per minute: n · 1000 · 2π / 60.
pub fn radps_from_krpm(speed_krpm: f64) -> f64 {
    radps_from_rpm(speed_krpm * 1000.0)
}
/// Radians per second from revolutions per minute: n · 2π / 60.
pub fn radps_from_rpm(speed_rpm: f64) -> f64 {
    speed_rpm * (std::f64::consts::TAU / S_PER_MIN)
}
/// Revolutions per minute from radians per second: ω · 60 / 2π.
pub fn rpm_from_radps(speed_radps: f64) -> f64 {
    speed_radps / (std::f64::consts::TAU / S_PER_MIN)
}
/// Litres from US gallons: V · 3.785411784.
pub fn l_from_usgal(volume_usgal: f64) -> f64 {
    volume_usgal * (M3_PER_USGAL * 1000.0)
}
/// US gallons from litres: V / 3.785411784.
pub fn usgal_from_l(volume_l: f64) -> f64 {
    volume_l / (M3_PER_USGAL * 1000.0)
}
/// Miles per US gallon from litres per 100 km: 235.2145… / c. Zero becomes infinity.
pub fn usmpg_from_l_per_100km(consumption_l_per_100km: f64) -> f64 {
    mi_from_m(100_000.0) / usgal_from_l(consumption_l_per_100km)
}
/// Litres per 100 km from miles per US gallon: 235.2145… / m. Zero becomes infinity.
pub fn l_per_100km_from_usmpg(economy_usmpg: f64) -> f64 {
    l_from_usgal(mi_from_m(100_000.0) / economy_usmpg)
}
/// Share of a whole from per cent: p / 100.
pub fn share_from_pct(share_pct: f64) -> f64 {
    share_pct / 100.0
}
/// Per cent from a share of a whole: s · 100.
pub fn pct_from_share(share: f64) -> f64 {
    share * 100.0
}
/// Per cent that a part is of a whole: 100 · p / w.
pub fn pct_of(part: f64, whole: f64) -> f64 {
    100.0 * part / whole
}
/// Slope (rise over run) from a grade in per cent: g / 100.
pub fn slope_from_pct(grade_pct: f64) -> f64 {
    grade_pct / 100.0
}
/// Grade in per cent from a slope (rise over run): s · 100.
pub fn pct_from_slope(slope: f64) -> f64 {
    slope * 100.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, published: f64, digits: i32) {
        assert!(
            (found / published - 1.0).abs() < 0.5 * 10f64.powi(1 - digits),
            "{found} is not {published} to {digits} digits"
        );
    }

    /// NIST Special Publication 811, appendix B.8, factors to seven digits, from memory.
    #[test]
    fn factors_agree_with_nist_sp_811() {
        close(mps_from_mph(1.0), 0.447_04, 7);
        close(mps_from_kmh(1.0), 0.277_777_8, 7);
        close(n_from_lbf(1.0), 4.448_222, 7);
        close(nm_from_lbft(1.0), 1.355_818, 7);
        close(w_from_hp(1.0), 745.699_9, 7);
        close(l_from_usgal(1.0), 3.785_412, 7);
        close(radps_from_rpm(1.0), 0.104_719_8, 7);
        assert_eq!(h_and_min_from_s(7_229.0), (2.0, 0.0));
        assert_eq!(h_and_min_from_s(7_231.0), (2.0, 1.0));
        close(mm_from_in(1.0), 25.4, 7);
        close(f_from_k_apart(1.0), 1.8, 7);
        close(f_from_c(37.0), 98.6, 7);
        close(c_from_f(98.6), 37.0, 7);
        close(s_from_ms(1e3), 1.0, 7);
        close(s_from_us(1e6), 1.0, 7);
        close(v_from_mv(1e3), 1.0, 7);
        close(a_from_ma(1e3), 1.0, 7);
        close(ohm_from_mohm(1.0), 1e-3, 7);
        close(mv_from_v(1.0), 1e3, 7);
        close(radps_from_krpm(1.0), 104.719_8, 7);
        close(wh_per_mi_from_wh_per_km(1.0), 1.609_344, 7);
        close(mi_per_kwh_from_wh_per_km(1.0), 621.371_2, 7);
        close(pct_of(1.0, 8.0), 12.5, 7);
    }

    /// 40 CFR 600 and the fuel-economy literature use 235.215 for mpg (US) · L/100 km, from memory.
    #[test]
    fn fuel_consumption_and_economy_are_reciprocal() {
        close(usmpg_from_l_per_100km(1.0), 235.215, 6);
        close(l_per_100km_from_usmpg(23.5215), 10.0, 6);
    }

    #[test]
    fn every_pair_returns_to_where_it_began() {
        type Conversion = fn(f64) -> f64;
        let pairs: [(Conversion, Conversion); 26] = [
            (mps_from_kmh, kmh_from_mps),
            (mps_from_mph, mph_from_mps),
            (s_from_min, min_from_s),
            (s_from_h, h_from_s),
            (m_from_km, km_from_m),
            (m_from_mi, mi_from_m),
            (m_from_ft, ft_from_m),
            (m_from_in, in_from_m),
            (m_from_mm, mm_from_m),
            (kg_from_lb, lb_from_kg),
            (n_from_lbf, lbf_from_n),
            (nm_from_lbft, lbft_from_nm),
            (k_from_c, c_from_k),
            (w_from_kw, kw_from_w),
            (w_from_hp, hp_from_w),
            (kw_from_hp, hp_from_kw),
            (j_from_wh, wh_from_j),
            (j_from_kwh, kwh_from_j),
            (radps_from_rpm, rpm_from_radps),
            (l_from_usgal, usgal_from_l),
            (l_per_100km_from_usmpg, usmpg_from_l_per_100km),
            (slope_from_pct, pct_from_slope),
            (share_from_pct, pct_from_share),
            (kwh_from_wh, wh_from_kwh),
            (j_from_kj, kj_from_j),
            (as_from_ah, ah_from_as),
        ];
        for (there, back) in pairs {
            close(back(there(37.25)), 37.25, 12);
        }
    }
}
