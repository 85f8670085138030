//! What all studies measure by: the green line, how accurate is enough, and when there is no light.

use crate::color::ColorWeights;

/// The wavelength in nm, the green line of mercury, at which single-wavelength answers are given.
pub const GREEN_NM: f64 = 546.1;

/// Estimated relative error with which a quadrature is good enough.
pub const ACCURACY: f64 = 1e-6;

/// Below this fraction of the parallel field the crossed one is the rounding of the arithmetic: nothing leaks.
pub(crate) const NOTHING: f64 = 1e-15;

/// `parallel / crossed`; `None` when nothing leaks.
pub(crate) fn ratio(parallel: f64, crossed: f64) -> Option<f64> {
    (crossed > NOTHING * parallel).then(|| parallel / crossed)
}

/// Lamp times y-bar.
pub(super) fn luminous(weights: &ColorWeights) -> Vec<f64> {
    weights.per_wavelength().iter().map(|w| w[1]).collect()
}
