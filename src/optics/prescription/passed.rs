//! What the surfaces of a train pass of p and s.

use std::f64::consts::TAU;
use std::ops::{Add, Mul};

use super::train::{SurfaceRay, TracedRay, TrainAt};
use crate::calculus::Complex;
use crate::math;
use crate::optics::Coating;
use crate::optics::interface::cosine;

/// Index of the antireflection layer, magnesium fluoride.
const LAYER_INDEX: f64 = 1.38;
/// Wavelength in nm at which the layer is a quarter wave at normal incidence.
const LAYER_DESIGN_NM: f64 = 550.0;

/// Logarithms of the amplitude transmittances, normalised so that squared amplitudes are transmittances of power. The real part is the logarithm of
/// the amplitude, the imaginary part the phase without jumps. For surfaces one after the other these logarithms add up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Passed {
    /// Logarithm for the vibration p, in the plane of the ray and the axis.
    pub p: Complex,
    /// Logarithm for the vibration s, across that plane.
    pub s: Complex,
}

impl Passed {
    /// Everything.
    pub const WHOLE: Self = Self {
        p: Complex::new(0.0, 0.0),
        s: Complex::new(0.0, 0.0),
    };

    /// A bare surface between two media, met at an angle.
    ///
    /// Source: Fresnel; M. Born and E. Wolf, Principles of Optics, section 1.5.2 (from memory).
    /// Checked by: `tests/published/fresnel.rs`, `tests/reference/lenses.rs`.
    #[must_use]
    pub fn bare((n1, n2): (f64, f64), incidence_rad: f64, refraction_rad: f64) -> Self {
        let (cos1, cos2) = (math::cos(incidence_rad), math::cos(refraction_rad));
        let flux = 2.0 * (n1 * cos1 * n2 * cos2).sqrt();
        Self {
            p: math::log(flux / (n2 * cos1 + n1 * cos2)).into(),
            s: math::log(flux / (n1 * cos1 + n2 * cos2)).into(),
        }
    }

    /// The same with one layer of magnesium fluoride (n = 1.38, a quarter wave thick at normal incidence at 550 nm) on it.
    #[must_use]
    pub fn coated(index: (f64, f64), incidence_rad: f64, wavelength_nm: f64) -> Self {
        Self::layered(
            LAYER_INDEX,
            LAYER_DESIGN_NM,
            index,
            incidence_rad,
            wavelength_nm,
        )
    }

    /// The same with one layer of index `layer` that is a quarter wave thick at normal incidence at `design_nm`.
    ///
    /// By the layer's characteristic matrix
    ///
    /// ```text
    /// | cos d           -i sin(d)/eta |
    /// | -i eta sin(d)    cos d        |     d = 2 pi n h cos(theta) / wavelength,  exp(i(kz - wt))
    /// ```
    ///
    /// with `eta = n cos(theta)` for s and `n / cos(theta)` for p, and `t = 2 eta1 / (eta1 B + C)`, power-normalised by
    /// `sqrt(eta2 / eta1)`. In this convention an index-matched layer gives `exp(+i d)`; most books print the conjugate. The
    /// phase is taken without jumps, near `d`.
    ///
    /// Source: H. A. Macleod, Thin-Film Optical Filters, chapter 2 (from memory; sign of i reversed).
    /// Checked by: `tests/published/coating.rs`.
    #[must_use]
    pub fn layered(
        layer: f64,
        design_nm: f64,
        (n1, n2): (f64, f64),
        incidence_rad: f64,
        wavelength_nm: f64,
    ) -> Self {
        let s = n1 * math::sin(incidence_rad);
        let indices = [n1, layer, n2];
        let cosines = [math::cos(incidence_rad), cosine(layer, s), cosine(n2, s)];
        let thickness_nm = design_nm / (4.0 * layer);
        let phase = TAU * layer * thickness_nm * cosines[1] / wavelength_nm;
        let (sin, cos) = math::sincos(phase);
        let whole = |[first, layer, last]: [f64; 3]| {
            let b = Complex::new(cos, -sin * last / layer);
            let c = Complex::new(last * cos, -layer * sin);
            let t = 2.0 * (first * last).sqrt() / (b * first + c);
            Complex::new(
                math::log(math::hypot(t.re, t.im)),
                phase + math::carg(t * math::cis(-phase)),
            )
        };
        let admittance = |power: i32| [0, 1, 2].map(|k| indices[k] * cosines[k].powi(power));
        Self {
            p: whole(admittance(-1)),
            s: whole(admittance(1)),
        }
    }

    /// Amplitudes `(t_p, t_s)` of a share of the surfaces: share 1 for all of them, 0.5 for the half on one side of the strain in the middle.
    #[must_use]
    pub fn amplitudes(self, share: f64) -> (Complex, Complex) {
        (math::cexp(self.p * share), math::cexp(self.s * share))
    }
}

impl Add for Passed {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            p: self.p + other.p,
            s: self.s + other.s,
        }
    }
}

impl Mul<f64> for Passed {
    type Output = Self;

    fn mul(self, count: f64) -> Self {
        Self {
            p: self.p * count,
            s: self.s * count,
        }
    }
}

impl TrainAt<'_> {
    /// What one surface passes of a ray.
    #[must_use]
    pub fn passed(&self, surface: usize, ray: &SurfaceRay) -> Passed {
        match self.train().coating(surface) {
            Coating::Ideal => Passed::WHOLE,
            Coating::None => Passed::bare(ray.index, ray.incidence_rad, ray.refraction_rad),
            Coating::Mgf2 => Passed::coated(ray.index, ray.incidence_rad, self.wavelength_nm()),
        }
    }

    /// What some of the surfaces pass of a ray, one after the other.
    #[must_use]
    pub fn passed_by(&self, surfaces: std::ops::Range<usize>, ray: &TracedRay) -> Passed {
        surfaces
            .map(|surface| self.passed(surface, &ray.surfaces[surface]))
            .fold(Passed::WHOLE, Add::add)
    }
}
