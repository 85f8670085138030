//! The wavelengths at which everything is computed.
//!
//! # Examples
//! ```
//! use polstack::spectrum::WavelengthGrid;
//! let grid = WavelengthGrid::new(400.0, 700.0, 10.0)?;
//! assert_eq!((grid.wavelengths_nm().len(), grid.ends_nm()), (31, (400.0, 700.0)));
//! assert!(WavelengthGrid::new(700.0, 400.0, 10.0).is_err());
//! # Ok::<(), polstack::spectrum::GridError>(())
//! ```

use thiserror::Error;

/// A grid that cannot be used.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum GridError {
    /// An end or the step is not a usable number.
    #[error("{quantity} is {value}, allowed is {allowed}")]
    OutOfRange {
        /// Which number is wrong.
        quantity: &'static str,
        /// What it is.
        value: f64,
        /// What it may be.
        allowed: &'static str,
    },
    /// More wavelengths than [`WavelengthGrid::MOST`].
    #[error("{count} wavelengths, allowed are at most {}", WavelengthGrid::MOST)]
    TooMany {
        /// How many were asked for.
        count: usize,
    },
}

/// Equally spaced vacuum wavelengths in nanometres, first and last included.
///
/// Spectral integrals in this program are plain sums over the grid, as CIE 015:2018 section 7.1 allows for
/// tables at 5 nm.
#[derive(Debug, Clone, PartialEq)]
pub struct WavelengthGrid {
    wavelength_nm: Vec<f64>,
    /// Whether the user asked for these wavelengths. If so, no study takes finer ones.
    given: bool,
}

impl Default for WavelengthGrid {
    /// 380 nm to 780 nm every 5 nm; studies that need finer steps take them.
    fn default() -> Self {
        Self {
            wavelength_nm: (0..=80).map(|i| 380.0 + 5.0 * f64::from(i)).collect(),
            given: false,
        }
    }
}

impl WavelengthGrid {
    /// Shortest wavelength that the observer's table holds.
    pub const SHORTEST_NM: f64 = 360.0;
    /// Longest wavelength that the observer's table holds.
    pub const LONGEST_NM: f64 = 830.0;
    /// Most wavelengths in one grid.
    pub const MOST: usize = 4701;

    /// Wavelengths from `from_nm` up to `to_nm` in steps of `step_nm`. Studies keep to these steps. The last wavelength is never above `to_nm`.
    ///
    /// # Errors
    /// [`GridError`] when an end lies outside 360 to 830 nm, the ends are in the wrong order, or the step is
    /// not within 0.1 to 50 nm.
    pub fn new(from_nm: f64, to_nm: f64, step_nm: f64) -> Result<Self, GridError> {
        let range = Self::SHORTEST_NM..=Self::LONGEST_NM;
        let check = |good: bool, quantity, value, allowed| {
            good.then_some(()).ok_or(GridError::OutOfRange {
                quantity,
                value,
                allowed,
            })
        };
        check(range.contains(&from_nm), "from_nm", from_nm, "360 to 830")?;
        check(range.contains(&to_nm), "to_nm", to_nm, "360 to 830")?;
        check(
            from_nm <= to_nm,
            "to_nm",
            to_nm,
            "a wavelength not below from_nm",
        )?;
        check(
            (0.1..=50.0).contains(&step_nm),
            "step_nm",
            step_nm,
            "0.1 to 50",
        )?;
        let count = ((to_nm - from_nm) / step_nm + 1e-9).floor() as usize + 1;
        if count > Self::MOST {
            return Err(GridError::TooMany { count });
        }
        Ok(Self {
            wavelength_nm: (0..count).map(|i| from_nm + step_nm * i as f64).collect(),
            given: true,
        })
    }

    /// One wavelength alone.
    #[must_use]
    pub fn single(wavelength_nm: f64) -> Self {
        Self {
            wavelength_nm: vec![wavelength_nm],
            given: true,
        }
    }

    /// Whether studies must keep to these steps, because the user asked for them.
    #[must_use]
    pub fn is_given(&self) -> bool {
        self.given
    }

    /// The same wavelengths, marked so that studies keep to their steps.
    #[must_use]
    pub fn kept(&self) -> Self {
        Self {
            given: true,
            ..self.clone()
        }
    }

    /// The same range with one more wavelength between every two.
    #[must_use]
    pub fn halved(&self) -> Self {
        let between = (self.wavelength_nm.windows(2)).map(|pair| 0.5 * (pair[0] + pair[1]));
        let last = self.wavelength_nm.last().copied();
        Self {
            wavelength_nm: (self.wavelength_nm.iter().copied().zip(between))
                .flat_map(|(here, between)| [here, between])
                .chain(last)
                .collect(),
            given: self.given,
        }
    }

    /// Every other wavelength, from the first on.
    #[must_use]
    pub fn doubled(&self) -> Self {
        Self {
            wavelength_nm: self.wavelength_nm.iter().step_by(2).copied().collect(),
            given: self.given,
        }
    }

    /// The wavelengths in nm, ascending.
    #[must_use]
    pub fn wavelengths_nm(&self) -> &[f64] {
        &self.wavelength_nm
    }

    /// First and last wavelength in nm.
    #[must_use]
    pub fn ends_nm(&self) -> (f64, f64) {
        (
            self.wavelength_nm[0],
            self.wavelength_nm[self.wavelength_nm.len() - 1],
        )
    }

    /// Distance between neighbours in nm; 0 for a single wavelength.
    #[must_use]
    pub fn step_nm(&self) -> f64 {
        match self.wavelength_nm[..] {
            [first, second, ..] => second - first,
            _ => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_default_grid_is_380_to_780_every_5_nm() {
        let grid = WavelengthGrid::default();
        assert_eq!(grid.wavelengths_nm().len(), 81);
        assert_eq!(grid.ends_nm(), (380.0, 780.0));
        let same = WavelengthGrid::new(380.0, 780.0, 5.0).unwrap();
        assert_eq!(grid.wavelengths_nm(), same.wavelengths_nm());
        assert!(!grid.is_given() && same.is_given());
    }

    #[test]
    fn a_halved_step_keeps_every_wavelength_and_doubling_undoes_it() {
        let grid = WavelengthGrid::new(400.0, 410.0, 4.0).unwrap();
        let halved = grid.halved();
        assert_eq!(halved.wavelengths_nm(), [400.0, 402.0, 404.0, 406.0, 408.0]);
        assert_eq!(halved.doubled(), grid);
        let one = WavelengthGrid::single(500.0);
        assert_eq!((one.halved(), one.doubled()), (one.clone(), one));
    }

    #[test]
    fn a_step_that_does_not_divide_the_range_stops_short_of_the_end() {
        let grid = WavelengthGrid::new(400.0, 410.0, 4.0).unwrap();
        assert_eq!(grid.wavelengths_nm(), [400.0, 404.0, 408.0]);
    }

    #[test]
    fn unusable_grids_are_refused() {
        for (from, to, step) in [
            (300.0, 700.0, 5.0),
            (400.0, 900.0, 5.0),
            (700.0, 400.0, 5.0),
            (400.0, 700.0, 0.0),
            (f64::NAN, 700.0, 5.0),
            (400.0, 700.0, f64::INFINITY),
        ] {
            assert!(
                WavelengthGrid::new(from, to, step).is_err(),
                "{from} {to} {step}"
            );
        }
    }
}
