//! Functions that give the same bits on every machine and in a browser: those of the crate `libm`.
//!
//! The standard library takes them from the system, and systems differ in the last digits. The engine (calculus, optics, light path, spectrum,
//! colour, studies) calls none of the standard library's: `clippy.toml` forbids them there. Roots, which are exact everywhere, are the standard
//! library's.

use num_complex::Complex;

pub(crate) use libm::{
    acos, asin, atan, atan2, cbrt, cos, erfc, exp, exp2, expm1, hypot, log, log1p, log2, log10,
    pow, sin, sincos, tan,
};

/// `exp(i phase)`.
pub(crate) fn cis(phase_rad: f64) -> Complex<f64> {
    let (sin, cos) = sincos(phase_rad);
    Complex::new(cos, sin)
}

/// `exp(z)`.
pub(crate) fn cexp(z: Complex<f64>) -> Complex<f64> {
    exp(z.re) * cis(z.im)
}

/// The angle of `z`, radians from -pi to pi.
pub(crate) fn carg(z: Complex<f64>) -> f64 {
    atan2(z.im, z.re)
}
