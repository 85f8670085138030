//! A quantity tabulated against wavelength.
//!
//! # Examples
//! ```
//! use polstack::spectrum::SpectralTable;
//! let lamp = SpectralTable::new([(400.0, 1.0), (500.0, 3.0)])?;
//! assert_eq!(lamp.at(450.0), Ok(2.0));
//! assert!(lamp.at(510.0).is_err()); // nothing is extrapolated
//! # Ok::<(), polstack::spectrum::TableError>(())
//! ```

use thiserror::Error;

use crate::math;

/// A table that cannot be used, or is asked for a wavelength that it does not hold.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum TableError {
    /// Fewer than two rows.
    #[error("{rows} rows, at least 2 are needed")]
    TooShort {
        /// How many rows there are.
        rows: usize,
    },
    /// A wavelength that does not lie above the one before it, or a number that is not finite.
    #[error("row {row}: wavelengths must ascend and every number must be finite")]
    Disordered {
        /// The row, counted from 1.
        row: usize,
    },
    /// Outside the table.
    #[error(
        "{wavelength_nm} nm lies outside the table, which covers {first_nm} to {last_nm} nm; nothing is extrapolated"
    )]
    Uncovered {
        /// The wavelength asked for, nm.
        wavelength_nm: f64,
        /// The first that the table holds, nm.
        first_nm: f64,
        /// The last that the table holds, nm.
        last_nm: f64,
    },
}

/// One quantity against vacuum wavelength, linear between the rows, never extrapolated.
#[derive(Debug, Clone, PartialEq)]
pub struct SpectralTable {
    wavelength_nm: Vec<f64>,
    value: Vec<f64>,
}

impl SpectralTable {
    /// From (wavelength in nm, value) pairs, wavelengths ascending.
    ///
    /// # Errors
    /// [`TableError`] when there are fewer than two rows, or one is out of order or not finite.
    pub fn new(rows: impl IntoIterator<Item = (f64, f64)>) -> Result<Self, TableError> {
        let (wavelength_nm, value): (Vec<f64>, Vec<f64>) = rows.into_iter().unzip();
        if wavelength_nm.len() < 2 {
            return Err(TableError::TooShort {
                rows: wavelength_nm.len(),
            });
        }
        for row in 0..value.len() {
            let ascends = row == 0 || wavelength_nm[row] > wavelength_nm[row - 1];
            if !(ascends && wavelength_nm[row].is_finite() && value[row].is_finite()) {
                return Err(TableError::Disordered { row: row + 1 });
            }
        }
        Ok(Self {
            wavelength_nm,
            value,
        })
    }

    /// First and last wavelength in nm.
    #[must_use]
    pub fn ends_nm(&self) -> (f64, f64) {
        (
            self.wavelength_nm[0],
            self.wavelength_nm[self.wavelength_nm.len() - 1],
        )
    }

    /// The rows as (wavelength in nm, value).
    pub fn rows(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.wavelength_nm
            .iter()
            .copied()
            .zip(self.value.iter().copied())
    }

    /// The same table with every value put through `f`.
    ///
    /// # Panics
    /// Never: the wavelengths stay as they are; a value that stops being finite is the caller's to avoid.
    #[must_use]
    pub fn map(&self, f: impl Fn(f64) -> f64) -> Self {
        Self {
            wavelength_nm: self.wavelength_nm.clone(),
            value: self.value.iter().map(|&v| f(v)).collect(),
        }
    }

    /// The value at one wavelength, linear between rows.
    ///
    /// # Errors
    /// [`TableError::Uncovered`] outside the table.
    pub fn at(&self, wavelength_nm: f64) -> Result<f64, TableError> {
        let (low, high, fraction) = self.bracket(wavelength_nm)?;
        Ok((1.0 - fraction) * self.value[low] + fraction * self.value[high])
    }

    /// The value at one wavelength with its logarithm linear between rows: right for quantities that span
    /// decades, such as a sheet's smaller principal transmittance. Between rows of which one is not
    /// positive, linear.
    ///
    /// # Errors
    /// [`TableError::Uncovered`] outside the table.
    pub fn at_logarithmic(&self, wavelength_nm: f64) -> Result<f64, TableError> {
        let (low, high, fraction) = self.bracket(wavelength_nm)?;
        let (a, b) = (self.value[low], self.value[high]);
        // At a row itself, the row's own value is returned, to the last bit.
        let between = fraction > 0.0 && fraction < 1.0;
        Ok(if between && a > 0.0 && b > 0.0 {
            math::exp(math::log(a) + fraction * (math::log(b) - math::log(a)))
        } else {
            (1.0 - fraction) * a + fraction * b
        })
    }

    fn bracket(&self, wavelength_nm: f64) -> Result<(usize, usize, f64), TableError> {
        let (first_nm, last_nm) = self.ends_nm();
        if !(first_nm..=last_nm).contains(&wavelength_nm) {
            return Err(TableError::Uncovered {
                wavelength_nm,
                first_nm,
                last_nm,
            });
        }
        let high = self
            .wavelength_nm
            .partition_point(|&w| w < wavelength_nm)
            .max(1);
        let low = high - 1;
        let span = self.wavelength_nm[high] - self.wavelength_nm[low];
        Ok((low, high, (wavelength_nm - self.wavelength_nm[low]) / span))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_met_exactly_and_between_them_the_line_is_straight() {
        let table = SpectralTable::new([(400.0, 1.0), (500.0, 3.0), (600.0, 0.0)]).unwrap();
        for (nm, value) in [(400.0, 1.0), (450.0, 2.0), (500.0, 3.0), (575.0, 0.75)] {
            assert_eq!(table.at(nm), Ok(value));
        }
        assert!(table.at(399.9).is_err() && table.at(600.1).is_err());
        assert!(table.at(f64::NAN).is_err());
    }

    #[test]
    fn decades_are_halved_in_the_logarithm() {
        let table = SpectralTable::new([(400.0, 1e-2), (500.0, 1e-4), (600.0, 0.0)]).unwrap();
        assert!((table.at_logarithmic(450.0).unwrap() - 1e-3).abs() < 1e-15);
        assert_eq!(table.at_logarithmic(550.0), Ok(5e-5));
    }

    #[test]
    fn disorder_is_refused_with_its_row() {
        assert_eq!(
            SpectralTable::new([(400.0, 1.0), (400.0, 2.0)]),
            Err(TableError::Disordered { row: 2 })
        );
        assert_eq!(
            SpectralTable::new([(400.0, 1.0)]),
            Err(TableError::TooShort { rows: 1 })
        );
        assert!(SpectralTable::new([(400.0, f64::NAN), (410.0, 1.0)]).is_err());
    }
}
