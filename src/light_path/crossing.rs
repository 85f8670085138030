//! How the polars of a stack stand to each other: crossed, circular, or neither.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::stack::{LightPath, PartKind};
use crate::calculus::{Complex, Jones};
use crate::math;
use crate::optics::{Polarizer, Retarder};

/// Linear polars this many degrees apart or more are called crossed.
pub const CROSSED_FROM_DEG: f64 = 80.0;

/// The fraction of the parallel field's light that retarders may let through while the polars still count as crossed: as much as polars that stand 80
/// degrees apart.
const CROSSED_WITHIN: f64 = 0.03;

/// How the polars stand to each other.
#[derive(Debug, Clone, PartialEq)]
pub enum Crossing {
    /// Linear and crossed, or nearly so.
    Crossed {
        /// How far from a right angle they are, 0 to 10 degrees.
        off_deg: f64,
    },
    /// Circular.
    Circular,
    /// The retarders between the polars would make circular polars, but do not undo each other.
    Unmatched {
        /// Fraction of the light of ideal polars that they let through on the axis.
        passes: f64,
        /// Whether a quarter turn of one of them mends it.
        quarter_turn: bool,
    },
    /// Linear and not crossed.
    Apart {
        /// The angle between them, 0 to 80 degrees.
        degrees: f64,
    },
    /// Linear and crossed, but a retarder stands between them in every setting. It has no partner that undoes it, and it lets light through.
    LoneRetarder {
        /// The retarder's name.
        name: String,
        /// Its path difference in waves of the wavelength that it is stated for.
        waves: f64,
    },
}

impl LightPath {
    /// Angle between linear polars in degrees, 0 to 90; `None` for circular polars.
    #[must_use]
    pub fn polars_apart_deg(&self) -> Option<f64> {
        let (low, high) = self.polars().filter(|_| !self.is_circular())?;
        let turn = (high.azimuth_rad - low.azimuth_rad).rem_euclid(PI);
        Some(turn.min(PI - turn).to_degrees())
    }

    /// How the polars stand to each other.
    ///
    /// Checked by: `tests/laws/leak.rs`.
    #[must_use]
    pub fn crossing(&self) -> Crossing {
        let Some(degrees) = self.polars_apart_deg() else {
            return self.circular_crossing();
        };
        let off_deg = 90.0 - degrees;
        if degrees < CROSSED_FROM_DEG {
            return Crossing::Apart { degrees };
        }
        let Some((part, retarder)) = self.lone_retarder() else {
            return Crossing::Crossed { off_deg };
        };
        let lower_rad = self.polars().map_or(0.0, |(low, _)| low.azimuth_rad);
        let waves = retarder.path_difference_nm / retarder.at_nm;
        let turned = math::sin(2.0 * (retarder.slow_azimuth_rad - lower_rad));
        if (turned * math::sin(PI * waves)).powi(2) < CROSSED_WITHIN {
            return Crossing::Crossed { off_deg };
        }
        Crossing::LoneRetarder {
            name: self.parts[part].name.clone(),
            waves,
        }
    }

    /// Whether the retarders between the polars undo each other on the axis, each at the wavelength that it is stated for.
    fn circular_crossing(&self) -> Crossing {
        let Some((low, high)) = self.polars() else {
            return Crossing::Circular;
        };
        let between = self.lower_polar().unwrap_or(0)..self.analyzer().unwrap_or(0);
        let retarders: Vec<&Retarder> = (self.parts[between].iter())
            .filter_map(|part| match &part.kind {
                PartKind::Retarder(retarder) => Some(retarder),
                _ => None,
            })
            .collect();
        let passes = |turned: Option<usize>| {
            let ideal = |polar: &Polarizer| {
                Jones::linear(Complex::from(1.0), Complex::from(0.0), polar.azimuth_rad)
            };
            let mut path = ideal(low);
            for (index, retarder) in retarders.iter().enumerate() {
                let turn = if turned == Some(index) {
                    FRAC_PI_2
                } else {
                    0.0
                };
                let phase_rad = TAU * retarder.path_difference_nm / retarder.at_nm;
                path = Jones::retarder(phase_rad, retarder.slow_azimuth_rad + turn) * path;
            }
            // Parallel polars pass half of unpolarized light.
            2.0 * (ideal(high) * path).transmittance()
        };
        let passes_now = passes(None);
        if passes_now < CROSSED_WITHIN {
            return Crossing::Circular;
        }
        Crossing::Unmatched {
            passes: passes_now,
            quarter_turn: (0..retarders.len()).any(|index| passes(Some(index)) < CROSSED_WITHIN),
        }
    }
}
