//! The standard observer.

use std::sync::LazyLock;

use super::{TableError, embedded};

/// Wavelength in nm, x-bar, y-bar, z-bar; every nanometre from 360 to 830.
static CIE_1931: LazyLock<Vec<[f64; 4]>> =
    LazyLock::new(|| embedded::rows(include_str!("data/cie-1931-2deg.csv")));

/// Colour matching functions `[x-bar, y-bar, z-bar]` of the CIE 1931 2 degree standard observer.
///
/// The table has one row a nanometre; between rows the line is straight. The CIE tabulates against wavelength in
/// standard air; this program takes the same number as a vacuum wavelength. The two differ by less than 0.25 nm,
/// and lamp and observer are shifted together.
///
/// Source: `src/spectrum/data/cie-1931-2deg.csv`, which names its own.
/// Checked by: this file's unit tests and `tests/reference/color.rs`.
///
/// # Errors
/// [`TableError::Uncovered`] outside 360 to 830 nm.
///
/// # Examples
/// ```
/// let [_, y_bar, _] = polstack::spectrum::cie1931(555.0).unwrap();
/// assert_eq!(y_bar, 1.0);
/// ```
pub fn cie1931(wavelength_nm: f64) -> Result<[f64; 3], TableError> {
    let table = &*CIE_1931;
    let (first_nm, last_nm) = match table[..] {
        [[first, ..], .., [last, ..]] => (first, last),
        _ => return Err(TableError::TooShort { rows: table.len() }),
    };
    if !(first_nm..=last_nm).contains(&wavelength_nm) {
        return Err(TableError::Uncovered {
            wavelength_nm,
            first_nm,
            last_nm,
        });
    }
    let low = ((wavelength_nm - first_nm) as usize).min(table.len() - 2);
    let (a, b) = (table[low], table[low + 1]);
    let fraction = wavelength_nm - a[0];
    Ok([1, 2, 3].map(|i| a[i] + fraction * (b[i] - a[i])))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_whole_and_has_one_row_a_nanometre() {
        assert_eq!(CIE_1931.len(), 471);
        for (i, row) in CIE_1931.iter().enumerate() {
            assert_eq!(row[0], 360.0 + i as f64);
            assert!(row[1..].iter().all(|&v| v >= 0.0));
        }
    }

    /// Values of colour-science 0.4.7 noted when the project was planned, apart from the table file.
    #[test]
    fn known_rows_are_met() {
        for (nm, expected) in [
            (400.0, [0.01431, 0.000396, 0.06785]),
            (450.0, [0.3362, 0.038, 1.77211]),
            (500.0, [0.0049, 0.3230, 0.2720]),
            (600.0, [1.0622, 0.6310, 0.0008]),
            (650.0, [0.2835, 0.1070, 0.0]),
            (700.0, [0.011359, 0.004102, 0.0]),
        ] {
            let got = cie1931(nm).unwrap();
            for (g, e) in got.iter().zip(expected) {
                assert!((g - e).abs() < 5e-7, "{nm} nm: {got:?}, {expected:?}");
            }
        }
        for (nm, y_bar) in [(550.0, 0.99495), (555.0, 1.0), (560.0, 0.9950)] {
            assert!((cie1931(nm).unwrap()[1] - y_bar).abs() < 5e-7, "{nm} nm");
        }
    }

    #[test]
    fn the_sums_at_1_nm_are_the_known_ones_and_nearly_equal() {
        let mut sum = [0.0; 3];
        for nm in 360..=830 {
            let row = cie1931(f64::from(nm)).unwrap();
            for (s, v) in sum.iter_mut().zip(row) {
                *s += v;
            }
        }
        for (got, expected) in sum.iter().zip([106.8655, 106.8569, 106.8923]) {
            assert!((got - expected).abs() < 6e-5, "{got}, {expected}");
        }
    }

    #[test]
    fn between_rows_the_line_is_straight_and_outside_there_is_none() {
        let [a, b] = [555.0, 556.0].map(|nm| cie1931(nm).unwrap()[0]);
        assert!((cie1931(555.25).unwrap()[0] - (0.75 * a + 0.25 * b)).abs() < 1e-15);
        assert!(cie1931(359.9).is_err() && cie1931(830.1).is_err() && cie1931(f64::NAN).is_err());
        assert!(cie1931(360.0).is_ok() && cie1931(830.0).is_ok());
    }
}
