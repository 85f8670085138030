//! What surfaces pass over aperture and spectrum, traced once and read often.
//!
//! Both logarithms are smooth in the square of the numerical aperture and in the wavenumber, so they are kept at Chebyshev points of the two and
//! read by the barycentric formula. The number of points grows until rays traced in between agree.
//!
//! Source: J.-P. Berrut and L. N. Trefethen, SIAM Rev. 46, 501 (2004), equation 5.4 (from memory).

use std::f64::consts::PI;
use std::ops::Range;

use super::passed::Passed;
use super::train::{Stopped, Train};
use crate::calculus::Complex;

/// Points over the aperture and over the spectrum to begin with, and how often they are doubled.
const POINTS: (usize, usize) = (13, 9);
const DOUBLINGS: u32 = 3;
/// Logarithms of amplitudes may be off by this much.
const OFF: f64 = 1e-9;
/// Wavelengths that are covered, nm.
const SPECTRUM_NM: (f64, f64) = (360.0, 830.0);

/// A table of [`Passed`] for some of a train's surfaces.
#[derive(Debug, Clone, PartialEq)]
pub struct PassedTable {
    full_na: f64,
    /// Wavenumbers, and for each what is passed at the points of the aperture.
    wavenumbers: Vec<f64>,
    squares: Vec<f64>,
    rows: Vec<Vec<Numbers>>,
}

/// Real and imaginary part of what is passed of p, then of s.
type Numbers = [f64; 4];

/// The table at one wavelength.
#[derive(Debug, Clone, PartialEq)]
pub struct PassedRow<'a> {
    table: &'a PassedTable,
    row: Vec<Numbers>,
}

impl PassedTable {
    /// Traces rays up to `full_na`; `outermost` is a ray's height and numerical aperture at any wavelength, near which heights are looked for.
    ///
    /// # Errors
    /// The wavelength and numerical aperture of a ray that does not get through, and why.
    pub fn new(
        train: &Train,
        own: Range<usize>,
        full_na: f64,
        outermost: (f64, f64),
    ) -> Result<Self, (f64, f64, Stopped)> {
        let mut points = POINTS;
        let mut table = Self::of(train, &own, full_na, outermost, points)?;
        for _ in 0..DOUBLINGS {
            let (aperture, spectrum) = table.off(train, &own, outermost)?;
            if aperture.max(spectrum) <= OFF {
                break;
            }
            if aperture > OFF {
                points.0 = 2 * points.0 - 1;
            }
            if spectrum > OFF {
                points.1 = 2 * points.1 - 1;
            }
            table = Self::of(train, &own, full_na, outermost, points)?;
        }
        Ok(table)
    }

    fn of(
        train: &Train,
        own: &Range<usize>,
        full_na: f64,
        outermost: (f64, f64),
        points: (usize, usize),
    ) -> Result<Self, (f64, f64, Stopped)> {
        let wavenumbers = chebyshev(1.0 / SPECTRUM_NM.1, 1.0 / SPECTRUM_NM.0, points.1);
        let squares = chebyshev(0.0, full_na * full_na, points.0);
        // From the rim to the axis: each ray lies below the one before.
        let row = |wavenumber: &f64| {
            let nm = 1.0 / wavenumber;
            let at = train.at(nm);
            let mut outer = None;
            let rows = squares.iter().rev().map(|square| {
                let na = square.sqrt();
                let height = match outer {
                    None => at.height_of(na, outermost),
                    Some(outer) => at.height_below(na, outer),
                };
                let ray = height.and_then(|height| Ok((height, at.ray(height)?)));
                let (height, ray) = ray.map_err(|stopped| (nm, na, stopped))?;
                outer = Some((height, ray.na));
                Ok(numbers(at.passed_by(own.clone(), &ray)))
            });
            let mut row = rows.collect::<Result<Vec<_>, _>>()?;
            row.reverse();
            Ok(row)
        };
        let rows = wavenumbers.iter().map(row).collect::<Result<_, _>>()?;
        Ok(Self {
            full_na,
            wavenumbers,
            squares,
            rows,
        })
    }

    /// By how much the table misses rays between its points of the aperture, at a wavelength of its own, and between its wavelengths, for a ray
    /// of its own.
    fn off(
        &self,
        train: &Train,
        own: &Range<usize>,
        outermost: (f64, f64),
    ) -> Result<(f64, f64), (f64, f64, Stopped)> {
        let off = |na: f64, nm: f64| {
            let (got, traced) = (self.at(nm).at(na), traced(train, own, na, nm, outermost)?);
            Ok((got.p - traced.p).norm().max((got.s - traced.s).norm()))
        };
        let own_nm = 1.0 / self.wavenumbers[self.wavenumbers.len() / 2];
        let own_na = self.squares[self.squares.len() - 1].sqrt();
        let (mut aperture, mut spectrum) = (0f64, 0f64);
        for part in [0.2, 0.6, 0.9, 0.995] {
            aperture = aperture.max(off(part * self.full_na, own_nm)?);
        }
        for nm in [365.0, 470.0, 800.0] {
            spectrum = spectrum.max(off(own_na, nm)?);
        }
        Ok((aperture, spectrum))
    }

    /// What is passed at some wavelengths of the rays of some numerical apertures: one row for each wavelength.
    #[must_use]
    pub fn over(&self, na: &[f64], wavelengths_nm: &[f64]) -> Vec<Vec<Passed>> {
        let weights: Vec<Vec<f64>> = (na.iter())
            .map(|na| weights(&self.squares, na * na))
            .collect();
        let row = |nm: &f64| {
            let row = self.at(*nm).row;
            let of = |weights: &Vec<f64>| passed(sum(row.iter().zip(weights)));
            weights.iter().map(of).collect()
        };
        wavelengths_nm.iter().map(row).collect()
    }

    /// Largest numerical aperture.
    #[must_use]
    pub fn full_na(&self) -> f64 {
        self.full_na
    }

    /// Whether it covers a wavelength.
    #[must_use]
    pub fn covers(&self, wavelength_nm: f64) -> bool {
        (SPECTRUM_NM.0..=SPECTRUM_NM.1).contains(&wavelength_nm)
    }

    /// The table at one wavelength.
    #[must_use]
    pub fn at(&self, wavelength_nm: f64) -> PassedRow<'_> {
        let weights = weights(&self.wavenumbers, 1.0 / wavelength_nm);
        let mut row = vec![[0.0; 4]; self.squares.len()];
        for (weight, numbers) in weights.iter().zip(&self.rows) {
            for (sum, numbers) in row.iter_mut().zip(numbers) {
                add(sum, *weight, numbers);
            }
        }
        PassedRow { table: self, row }
    }
}

impl PassedRow<'_> {
    /// What is passed of the ray of a numerical aperture.
    #[must_use]
    pub fn at(&self, na: f64) -> Passed {
        let weights = weights(&self.table.squares, na * na);
        passed(sum(self.row.iter().zip(&weights)))
    }
}

fn sum<'a>(terms: impl Iterator<Item = (&'a Numbers, &'a f64)>) -> Numbers {
    let mut sum = [0.0; 4];
    terms.for_each(|(numbers, weight)| add(&mut sum, *weight, numbers));
    sum
}

fn add(sum: &mut Numbers, weight: f64, numbers: &Numbers) {
    for (sum, number) in sum.iter_mut().zip(numbers) {
        *sum += weight * number;
    }
}

fn numbers(passed: Passed) -> Numbers {
    [passed.p.re, passed.p.im, passed.s.re, passed.s.im]
}

fn passed([p_re, p_im, s_re, s_im]: Numbers) -> Passed {
    Passed {
        p: Complex::new(p_re, p_im),
        s: Complex::new(s_re, s_im),
    }
}

fn traced(
    train: &Train,
    own: &Range<usize>,
    na: f64,
    wavelength_nm: f64,
    outermost: (f64, f64),
) -> Result<Passed, (f64, f64, Stopped)> {
    let at = train.at(wavelength_nm);
    let ray = at
        .height_of(na, outermost)
        .and_then(|height| at.ray(height));
    let ray = ray.map_err(|stopped| (wavelength_nm, na, stopped))?;
    Ok(at.passed_by(own.clone(), &ray))
}

/// Chebyshev points of the second kind, both ends included, ascending.
fn chebyshev(from: f64, to: f64, count: usize) -> Vec<f64> {
    let last = (count - 1) as f64;
    (0..count)
        .map(|k| from + (to - from) * 0.5 * (1.0 - (PI * k as f64 / last).cos()))
        .collect()
}

/// What the value at each Chebyshev point counts for at a place: barycentric weights 1/2, -1, 1, ..., 1/2 over the distances.
fn weights(points: &[f64], at: f64) -> Vec<f64> {
    if let Some(here) = points.iter().position(|point| *point == at) {
        return (0..points.len())
            .map(|k| f64::from(u8::from(k == here)))
            .collect();
    }
    let last = points.len() - 1;
    let mut weights: Vec<f64> = (points.iter().enumerate())
        .map(|(k, point)| {
            let end = if k == 0 || k == last { 0.5 } else { 1.0 };
            let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
            sign * end / (at - point)
        })
        .collect();
    let whole: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|weight| *weight /= whole);
    weights
}
