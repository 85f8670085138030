//! Numbers as figures print them, and where ticks stand.

use std::ops::RangeInclusive;

use crate::output::numbers::{digits, parts};

/// An exponent in raised digits: -5 is `⁻⁵`.
fn superscript(exponent: i32) -> String {
    const RAISED: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    let raised = |c: char| c.to_digit(10).map_or('⁻', |digit| RAISED[digit as usize]);
    exponent.to_string().chars().map(raised).collect()
}

/// A power of ten as an axis prints it: `10⁻⁵`, and 1 for the zeroth.
pub(super) fn power_of_ten(exponent: i32) -> String {
    match exponent {
        0 => "1".to_owned(),
        _ => format!("10{}", superscript(exponent)),
    }
}

/// Three significant digits: `0.0123`, `471`, `2.10 × 10⁻⁵`.
pub(super) fn significant(value: f64) -> String {
    in_words(value, -2..=3)
}

/// An extinction ratio in three significant digits, without an exponent below a million: `11400`.
pub(super) fn ratio(value: f64) -> String {
    in_words(value, -2..=5)
}

/// An extinction ratio after what it is called; there is none where nothing leaks.
pub(super) fn extinction(called: &str, extinction: Option<f64>) -> String {
    match extinction {
        Some(extinction) => format!("{called} {}", ratio(extinction)),
        None => "nothing leaks".to_owned(),
    }
}

/// Three significant digits, with a power of ten outside of these.
fn in_words(value: f64, plainly: RangeInclusive<i32>) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if !value.is_finite() {
        return "not a number".to_owned();
    }
    let (mantissa, exponent) = parts(value, 3);
    match plainly.contains(&exponent) {
        true => with_minus(&digits(value, 3)),
        false => format!("{} × 10{}", with_minus(&mantissa), superscript(exponent)),
    }
}

/// A mantissa of 1, 2 or 5 at a power of ten: `2 × 10⁻⁵`.
pub(super) fn step_of_decade(mantissa: u32, exponent: i32) -> String {
    match (mantissa, exponent) {
        (1, _) => power_of_ten(exponent),
        (_, 0) => mantissa.to_string(),
        _ => format!("{mantissa} × {}", power_of_ten(exponent)),
    }
}

/// The same, with all digits where there are at most `digits` of them.
pub(super) fn whole_step(mantissa: u32, exponent: i32, digits: i32) -> String {
    match (0..digits).contains(&exponent) {
        true => (u64::from(mantissa) * 10u64.pow(exponent.unsigned_abs())).to_string(),
        false => step_of_decade(mantissa, exponent),
    }
}

/// The least and the most of some values that are numbers; none where there are none.
pub(super) fn extent(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    let numbers = values.filter(|value| !value.is_nan());
    numbers.fold(None, |extent, value| {
        let (least, most) = extent.unwrap_or((value, value));
        Some((value.min(least), value.max(most)))
    })
}

/// Fixed decimals with a proper minus sign, and no minus before nothing.
pub(super) fn plain(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.bytes().all(|b| !b.is_ascii_digit() || b == b'0') {
        return text.trim_start_matches('-').to_owned();
    }
    with_minus(&text)
}

fn with_minus(text: &str) -> String {
    text.replace('-', "−")
}

/// Ticks of a linear axis: round numbers within `from..=to`, at most `most` or so, and the decimals that they need.
pub(super) fn linear_ticks(from: f64, to: f64, most: u32) -> (Vec<f64>, usize) {
    let span = to - from;
    if !(span.is_finite() && span > 0.0) {
        return (vec![from], 0);
    }
    let raw = span / f64::from(most.max(1));
    let exponent = raw.log10().floor() as i32;
    let unit = 10f64.powi(exponent);
    // A hair of slack: 0.6 / 6 is a little more than 0.1.
    let enough = |factor: &f64| factor * unit >= raw * (1.0 - 1e-9);
    let step = [1.0, 2.0, 5.0].into_iter().find(enough).unwrap_or(10.0) * unit;
    let decimals = (-(step * (1.0 + 1e-9)).log10().floor()).max(0.0) as usize;
    let first = (from / step - 1e-9).ceil() as i64;
    let last = (to / step + 1e-9).floor() as i64;
    ((first..=last).map(|k| k as f64 * step).collect(), decimals)
}

/// Mantissas of every decade with their log10, within `from..=to` (log10): (log10, mantissa, exponent).
pub(super) fn decade_steps(from: f64, to: f64, mantissas: &[u32]) -> Vec<(f64, u32, i32)> {
    ((from.floor() as i32)..=(to.ceil() as i32))
        .flat_map(|exponent| {
            (mantissas.iter())
                .map(move |&m| (f64::from(exponent) + f64::from(m).log10(), m, exponent))
        })
        .filter(|&(log, _, _)| log >= from - 1e-9 && log <= to + 1e-9)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_printed_with_three_digits_and_raised_exponents() {
        for (value, text) in [
            (0.0, "0"),
            (471.23, "471"),
            (9999.0, "1.00 × 10⁴"),
            (9994.0, "9990"),
            (9.996, "10.0"),
            (0.01234, "0.0123"),
            (0.00996, "9.96 × 10⁻³"),
            (2.1e-5, "2.10 × 10⁻⁵"),
            (-0.5, "−0.500"),
            (1.0e10, "1.00 × 10¹⁰"),
            (f64::NAN, "not a number"),
        ] {
            assert_eq!(significant(value), text);
        }
        assert_eq!(
            [9.996, 471.2, 3749.6, 9344.0, 11_449.0, 3.2e6].map(ratio),
            ["10.0", "471", "3750", "9340", "11400", "3.20 × 10⁶"]
        );
        assert_eq!(
            (power_of_ten(0), power_of_ten(-12)),
            ("1".into(), "10⁻¹²".into())
        );
        assert_eq!(step_of_decade(5, -3), "5 × 10⁻³");
        assert_eq!(
            (plain(-0.04, 1), plain(-0.4, 1)),
            ("0.0".into(), "−0.4".into())
        );
    }

    #[test]
    fn ticks_are_round_and_stay_inside() {
        let (ticks, decimals) = linear_ticks(380.0, 780.0, 9);
        assert_eq!((ticks[0], ticks[ticks.len() - 1]), (400.0, 750.0));
        assert_eq!((ticks[1] - ticks[0], decimals), (50.0, 0));
        let (ticks, decimals) = linear_ticks(-0.6, 0.6, 6);
        assert_eq!((ticks.len(), decimals), (7, 1));
        assert_eq!(linear_ticks(5.0, 5.0, 4), (vec![5.0], 0));
        let steps: Vec<_> = (decade_steps(-3.0, -2.0, &[1, 2, 5]).iter())
            .map(|&(_, m, e)| step_of_decade(m, e))
            .collect();
        assert_eq!(steps, ["10⁻³", "2 × 10⁻³", "5 × 10⁻³", "10⁻²"]);
    }
}
