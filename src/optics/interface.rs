//! Flat interfaces: the slide, the cover glass, the surfaces of a film.

use crate::material::Index;

/// Amplitude transmittances `(t_p, t_s)` of a flat interface `n1 -> n2` for a ray of numerical aperture `s = n sin(theta)`,
/// multiplied by `sqrt(n2 cos2 / n1 cos1)` so that their squares are transmittances. Multiple reflections are left out.
///
/// NaN where `s` is larger than either index (total reflection); [`crate::light_path::LightPath::check`] refuses such paths.
///
/// Source: Fresnel; M. Born and E. Wolf, Principles of Optics, section 1.5.2 (from memory).
/// Checked by: `tests/published/fresnel.rs`.
///
/// # Examples
/// ```
/// let (p, s) = polstack::optics::flat_interface(1.0, 1.5, 0.0);
/// assert!((p * p - 0.96).abs() < 1e-15 && (s * s - 0.96).abs() < 1e-15);
/// ```
#[must_use]
pub fn flat_interface(n1: f64, n2: f64, s: f64) -> (f64, f64) {
    let cos1 = cosine(n1, s);
    let cos2 = cosine(n2, s);
    let flux = 2.0 * (n1 * cos1 * n2 * cos2).sqrt();
    (
        flux / (n2 * cos1 + n1 * cos2),
        flux / (n1 * cos1 + n2 * cos2),
    )
}

/// Cosine of the angle of a ray of numerical aperture `s` in a medium of index `n`.
pub(crate) fn cosine(n: f64, s: f64) -> f64 {
    let sine = s / n;
    ((1.0 - sine) * (1.0 + sine)).sqrt()
}

/// A microscope slide with its mount and cover glass: four flat interfaces.
#[derive(Debug, Clone, PartialEq)]
pub struct Slide {
    /// Index of slide and cover glass.
    pub glass: Index,
    /// Index of the mounting medium between them.
    pub mount: Index,
}

impl Slide {
    /// `(t_p, t_s)` of the whole slide for a ray `s` that comes from a medium of index `below` and leaves into `above`.
    #[must_use]
    pub fn transmittances(&self, below: f64, above: f64, s: f64, wavelength_nm: f64) -> (f64, f64) {
        let glass = self.glass.at(wavelength_nm);
        let mount = self.mount.at(wavelength_nm);
        [below, glass, mount, glass, above]
            .windows(2)
            .map(|pair| flat_interface(pair[0], pair[1], s))
            .fold((1.0, 1.0), |(p, q), (tp, ts)| (p * tp, q * ts))
    }
}
