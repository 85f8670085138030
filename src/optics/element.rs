//! The one form in which every part acts on a ray.

use crate::calculus::{Complex, Jones};
use crate::math;

/// Two orthogonal linear modes: `along` multiplies the vibration at `azimuth_rad`, `across` the one at right angles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinearElement {
    /// Azimuth of the first mode in the pupil frame, radians counter-clockwise from East.
    pub azimuth_rad: f64,
    /// Amplitude factor of the first mode.
    pub along: Complex,
    /// Amplitude factor of the second mode.
    pub across: Complex,
}

impl LinearElement {
    /// An element whose amplitude factors are real.
    #[must_use]
    pub fn real(azimuth_rad: f64, along: f64, across: f64) -> Self {
        Self {
            azimuth_rad,
            along: along.into(),
            across: across.into(),
        }
    }

    /// A retarder with its slow axis at `azimuth_rad`.
    #[must_use]
    pub fn retarder(azimuth_rad: f64, phase_rad: f64) -> Self {
        let along = math::cis(0.5 * phase_rad);
        Self {
            azimuth_rad,
            along,
            across: along.conj(),
        }
    }

    /// The Jones matrix of this element, in the frame that its azimuth is counted in.
    #[must_use]
    pub fn jones(&self) -> Jones {
        Jones::linear(self.along, self.across, self.azimuth_rad)
    }
}
