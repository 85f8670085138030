//! What a colour camera's channels see of each wavelength.
//!
//! # Examples
//! ```
//! use polstack::spectrum::{CameraSensitivity, Channel};
//! let camera = CameraSensitivity::typical();
//! let green = camera.channel(Channel::Green);
//! assert!(green.at(530.0) > 0.99);
//! assert_eq!(green.at(900.0), 0.0); // outside the table a camera sees nothing
//! ```

use std::sync::LazyLock;

use super::{TableError, embedded};

/// Wavelength in nm, then red, green and blue; every 10 nm from 380 to 780.
static TYPICAL: LazyLock<Vec<[f64; 4]>> =
    LazyLock::new(|| embedded::rows(include_str!("data/camera.csv")));

/// A channel of a colour camera.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Channel {
    /// The pixels under a red filter.
    Red,
    /// The pixels under a green filter.
    Green,
    /// The pixels under a blue filter.
    Blue,
}

impl Channel {
    /// The three, in the order in which pictures hold them.
    pub const ALL: [Self; 3] = [Self::Red, Self::Green, Self::Blue];
}

/// Relative spectral sensitivities of a colour camera's three channels.
///
/// A channel's sensitivity is a number for the light's energy at a wavelength, on one scale for all three channels. What the scale is
/// does not matter where crossed light is told beside parallel light of the same channel.
#[derive(Debug, Clone, PartialEq)]
pub struct CameraSensitivity {
    /// Wavelength in nm, then red, green and blue; wavelengths ascend.
    rows: Vec<[f64; 4]>,
}

impl CameraSensitivity {
    /// The mean of ten measured cameras: no camera is quite like it, and few are far from it.
    ///
    /// Source: `src/spectrum/data/camera.csv`, which names its own.
    /// Checked by: this file's unit tests.
    #[must_use]
    pub fn typical() -> Self {
        Self {
            rows: TYPICAL.clone(),
        }
    }

    /// From rows of wavelength in nm, red, green and blue, as a CSV file holds them.
    ///
    /// # Errors
    /// [`TableError`] when there are fewer than two rows, wavelengths do not ascend, or a number is not finite or below 0.
    pub fn from_rows(rows: Vec<[f64; 4]>) -> Result<Self, TableError> {
        if rows.len() < 2 {
            return Err(TableError::TooShort { rows: rows.len() });
        }
        let sound = |row: &[f64; 4]| row.iter().all(|v| v.is_finite() && *v >= 0.0);
        for (index, row) in rows.iter().enumerate() {
            let ascends = index == 0 || rows[index - 1][0] < row[0];
            if !ascends || !sound(row) {
                return Err(TableError::Disordered { row: index + 1 });
            }
        }
        Ok(Self { rows })
    }

    /// One of the three channels.
    #[must_use]
    pub fn channel(&self, channel: Channel) -> CameraChannel<'_> {
        CameraChannel {
            rows: &self.rows,
            column: 1 + channel as usize,
        }
    }
}

/// One channel of a camera.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CameraChannel<'a> {
    rows: &'a [[f64; 4]],
    column: usize,
}

impl CameraChannel<'_> {
    /// The sensitivity at a wavelength in nm: straight lines between the rows, 0 outside them.
    #[must_use]
    pub fn at(&self, wavelength_nm: f64) -> f64 {
        let above = self.rows.partition_point(|row| row[0] < wavelength_nm);
        let value = |row: usize| self.rows[row][self.column];
        match self.rows.get(above) {
            Some(row) if row[0] == wavelength_nm => value(above),
            Some(row) if above > 0 => {
                let before = self.rows[above - 1][0];
                let part = (wavelength_nm - before) / (row[0] - before);
                value(above - 1) + part * (value(above) - value(above - 1))
            }
            _ => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_whole_and_no_number_is_negative() {
        let rows = CameraSensitivity::typical().rows;
        assert_eq!(rows.len(), 41);
        for (i, row) in rows.iter().enumerate() {
            assert_eq!(row[0], 380.0 + 10.0 * i as f64);
            assert!(row.iter().all(|v| (0.0..=780.0).contains(v)));
        }
        assert_eq!(
            CameraSensitivity::from_rows(rows),
            Ok(CameraSensitivity::typical())
        );
    }

    #[test]
    fn each_channel_sees_most_where_its_name_says() {
        let camera = CameraSensitivity::typical();
        for (channel, (first, last), most) in [
            (Channel::Red, (580, 620), 0.5..0.8),
            (Channel::Green, (520, 550), 0.95..1.0),
            (Channel::Blue, (440, 480), 0.7..1.0),
        ] {
            let channel = camera.channel(channel);
            let at = |nm: &i32| channel.at(f64::from(*nm));
            let peak = (300..=900).max_by(|a, b| at(a).total_cmp(&at(b))).unwrap();
            assert!((first..=last).contains(&peak), "{peak}");
            assert!(most.contains(&at(&peak)), "{peak}: {}", at(&peak));
        }
    }

    #[test]
    fn between_rows_the_line_is_straight_and_outside_there_is_nothing() {
        let camera = CameraSensitivity::typical();
        let red = camera.channel(Channel::Red);
        let middle = 0.25 * red.at(580.0) + 0.75 * red.at(590.0);
        assert!((red.at(587.5) - middle).abs() < 1e-15);
        assert!(red.at(380.0) > 0.0 && red.at(780.0) > 0.0);
        assert_eq!([379.9, 780.1, f64::NAN].map(|nm| red.at(nm)), [0.0; 3]);
    }

    #[test]
    fn unsound_rows_are_refused() {
        let refused = |rows: &[[f64; 4]]| CameraSensitivity::from_rows(rows.to_vec()).unwrap_err();
        assert_eq!(refused(&[[400.0; 4]]), TableError::TooShort { rows: 1 });
        let good = [400.0, 0.1, 0.2, 0.3];
        for bad in [
            [400.0, 0.1, 0.2, 0.3],
            [500.0, -0.1, 0.2, 0.3],
            [500.0, 0.1, f64::NAN, 0.3],
        ] {
            assert_eq!(refused(&[good, bad]), TableError::Disordered { row: 2 });
        }
    }
}
