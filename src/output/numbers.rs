//! Numbers for people: one way of rounding for tables, figures and sentences.

/// So many significant digits, without an exponent: `0.650`, `471`, `12300`.
pub(crate) fn digits(value: f64, significant: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        // Adding nought turns -0 into 0.
        return (value + 0.0).to_string();
    }
    let (_, exponent) = parts(value, significant);
    let decimals = significant - 1 - exponent;
    if decimals >= 0 {
        return format!("{value:.*}", decimals.min(12) as usize);
    }
    // Digits that are not significant become noughts.
    let unit = 10f64.powi(-decimals);
    format!("{:.0}", (value / unit).round() * unit)
}

/// So many decimals, without a minus before noughts alone.
pub(super) fn decimals(value: f64, count: usize) -> String {
    let text = format!("{value:.count$}");
    match text.strip_prefix('-') {
        Some(noughts) if noughts.chars().all(|c| matches!(c, '0' | '.')) => noughts.to_owned(),
        _ => text,
    }
}

/// The same, never rounded up: for what must not be exceeded.
pub(crate) fn digits_down(value: f64, significant: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        // Adding nought turns -0 into 0.
        return (value + 0.0).to_string();
    }
    // With 17 digits nothing is rounded up to the next power of ten.
    let (_, exponent) = parts(value, 17);
    let unit = 10f64.powi(exponent - significant + 1);
    // What is whole but for its last bits stays whole.
    digits((value / unit + 1e-6).floor() * unit, significant)
}

/// A number rounded to so many significant digits as `d.dd` and a power of ten.
pub(super) fn parts(value: f64, significant: i32) -> (String, i32) {
    let text = format!("{value:.*e}", (significant - 1).max(0) as usize);
    let (digits, exponent) = text.split_once('e').unwrap_or((&text, "0"));
    (digits.to_owned(), exponent.parse().unwrap_or(0))
}

/// An interval whose lower end is less than this part of its upper end keeps no more digits of it than of its width.
const NEXT_TO_NOTHING: f64 = 0.01;

/// A value with the digits that an interval around it supports: the interval's width keeps two, and so does the value of a wide interval.
pub(super) fn supported(value: f64, low: f64, high: f64) -> String {
    let width = (high - low).abs();
    if !(width.is_finite() && width > 0.0 && value.is_finite()) {
        return digits(value, 4);
    }
    let place = width.log10().floor() as i32 - 1;
    if place < -3 && value.abs() < 0.01 {
        return if value == 0.0 {
            "0".to_owned()
        } else {
            exponent(value)
        };
    }
    // More decimals are never of use where the value is no small number.
    let mut place = place.max(-4);
    if low > NEXT_TO_NOTHING * high && value > 0.0 {
        place = place.min(value.log10().floor() as i32 - 1);
    }
    let unit = 10f64.powi(place);
    let rounded = (value / unit).round() * unit;
    decimals(rounded, usize::try_from(-place).unwrap_or(0))
}

/// How far a reading is off: `+0.3 of its errors`; `None` where that rounds to nought.
pub(super) fn of_its_errors(errors: f64) -> Option<String> {
    let words = format!("{errors:+.1}");
    (!matches!(&*words, "+0.0" | "-0.0")).then(|| format!("{words} of its errors"))
}

/// An error or a very small number: `8.2e-7`.
pub(super) fn exponent(value: f64) -> String {
    format!("{value:.1e}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_are_honest() {
        for (value, words) in [
            (0.65, "0.650"),
            (471.23, "471"),
            (12_345.6, "12300"),
            (3749.6, "3750"),
            (9.996, "10.0"),
            (999.6, "1000"),
            (0.001_234_5, "0.00123"),
            (0.001, "0.00100"),
            (100.0 * 1e-5, "0.00100"),
            (-0.0456, "-0.0456"),
            (0.0, "0"),
            (-0.0, "0"),
        ] {
            assert_eq!(digits(value, 3), words);
        }
    }

    #[test]
    fn nothing_is_less_than_nought() {
        for (value, count, words) in [
            (-0.3, 0, "0"),
            (-0.04, 1, "0.0"),
            (-0.06, 1, "-0.1"),
            (-0.6, 0, "-1"),
            (0.3, 0, "0"),
        ] {
            assert_eq!(decimals(value, count), words);
        }
    }

    #[test]
    fn an_interval_says_how_many_digits_a_number_has() {
        for (value, width, words) in [
            (934.2, 27.0, "934"),
            (12_345.6, 900.0, "12350"),
            (89.998, 0.018, "89.998"),
            (90.000_04, 0.000_2, "90.0000"),
            (90.0, 1e-9, "90.0000"),
            (1.04e-5, 2e-6, "1.0e-5"),
            (0.0, 1e-6, "0"),
            (-0.0004, 0.18, "0.00"),
            (893.5, 1450.0, "890"),
        ] {
            assert_eq!(
                supported(value, value - 0.5 * width, value + 0.5 * width),
                words
            );
        }
    }

    #[test]
    fn the_lower_end_of_a_wide_interval_keeps_two_digits() {
        let words = |low, high| [low, high].map(|end| supported(end, low, high));
        assert_eq!(words(168.98, 1618.8), ["170", "1600"]);
        assert_eq!(words(0.3, 1618.8), ["0", "1600"]);
    }

    #[test]
    fn what_must_not_be_exceeded_is_not_rounded_up() {
        for (value, words) in [
            (0.5169, "0.516"),
            (25.79, "25.7"),
            (12_399.0, "12300"),
            (9.999, "9.99"),
            (4.0, "4.00"),
            (0.3, "0.300"),
            (1e-3, "0.00100"),
        ] {
            assert_eq!(digits_down(value, 3), words);
        }
    }
}
