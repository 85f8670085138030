//! Tables of what surfaces pass over aperture and spectrum: rays are traced once, and the table is read often.
//!
//! The logarithms of [`Passed`] are smooth functions of the square of the numerical aperture and of the wavenumber. So they are kept at Chebyshev
//! points of these two, and read in between by the barycentric formula. The number of points grows until rays traced between the points agree.
//!
//! Source: J.-P. Berrut and L. N. Trefethen, SIAM Rev. 46, 501 (2004), equation 5.4 (from memory).

use std::f64::consts::PI;
use std::ops::Range;

use super::passed::Passed;
use super::train::{Stopped, Train};
use crate::calculus::Complex;
use crate::math;

/// Numbers of points over the aperture and over the spectrum to begin with, and how often they are doubled at most.
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
    /// The wavenumbers; for each of them, what is passed at the points of the aperture.
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
    /// Traces rays up to `full_na` and makes a table for each of some ranges of the train's surfaces, so that the lenses of one condenser need one
    /// trace only. `outermost` is the height and numerical aperture of the outermost ray at any wavelength; the search for heights starts there.
    ///
    /// # Errors
    /// The wavelength and numerical aperture of a ray that does not get through, and why.
    pub fn of_ranges(
        train: &Train,
        owns: &[Range<usize>],
        full_na: f64,
        outermost: (f64, f64),
    ) -> Result<Vec<Self>, (f64, f64, Stopped)> {
        let mut points = POINTS;
        let mut tables = Self::at_points(train, owns, full_na, outermost, points)?;
        for _ in 0..DOUBLINGS {
            let (aperture, spectrum) = off(&tables, train, owns, outermost)?;
            if aperture.max(spectrum) <= OFF {
                break;
            }
            if aperture > OFF {
                points.0 = 2 * points.0 - 1;
            }
            if spectrum > OFF {
                points.1 = 2 * points.1 - 1;
            }
            tables = Self::at_points(train, owns, full_na, outermost, points)?;
        }
        Ok(tables)
    }

    fn at_points(
        train: &Train,
        owns: &[Range<usize>],
        full_na: f64,
        outermost: (f64, f64),
        points: (usize, usize),
    ) -> Result<Vec<Self>, (f64, f64, Stopped)> {
        let wavenumbers = chebyshev(1.0 / SPECTRUM_NM.1, 1.0 / SPECTRUM_NM.0, points.1);
        let squares = chebyshev(0.0, full_na * full_na, points.0);
        let empty = Self {
            full_na,
            wavenumbers: wavenumbers.clone(),
            squares: squares.clone(),
            rows: Vec::with_capacity(points.1),
        };
        let mut tables = vec![empty; owns.len()];
        for wavenumber in &wavenumbers {
            let nm = 1.0 / wavenumber;
            let at = train.at(nm);
            let mut outer = None;
            let mut rows = vec![vec![[0.0; 4]; points.0]; owns.len()];
            // Rays are traced from the rim to the axis, so that each lies nearer to the axis than the one before.
            for (point, square) in squares.iter().enumerate().rev() {
                let na = square.sqrt();
                let height = match outer {
                    None => at.height_of(na, outermost),
                    Some(outer) => at.height_below(na, outer),
                };
                let ray = height.and_then(|height| Ok((height, at.ray(height)?)));
                let (height, ray) = ray.map_err(|stopped| (nm, na, stopped))?;
                outer = Some((height, ray.na));
                for (row, own) in rows.iter_mut().zip(owns) {
                    row[point] = numbers(at.passed_by(own.clone(), &ray));
                }
            }
            for (table, row) in tables.iter_mut().zip(rows) {
                table.rows.push(row);
            }
        }
        Ok(tables)
    }

    /// What is passed at some wavelengths of the rays of some numerical apertures: one row for each wavelength.
    #[must_use]
    pub fn over(&self, na: &[f64], wavelengths_nm: &[f64]) -> Vec<Vec<Passed>> {
        let weights: Vec<Vec<f64>> = (na.iter())
            .map(|na| weights(&self.squares, na * na))
            .collect();
        let row = |nm: &f64| {
            let row = self.at(*nm).row;
            let of = |weights: &Vec<f64>| passed(sum(&row, weights));
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
        passed(sum(&self.row, &weights))
    }
}

/// The weighted sum of as many numbers as there are weights.
#[inline]
fn sum(numbers: &[Numbers], weights: &[f64]) -> Numbers {
    let mut sum = [0.0; 4];
    for (numbers, weight) in numbers.iter().zip(weights) {
        add(&mut sum, *weight, numbers);
    }
    sum
}

#[inline]
fn add(sum: &mut Numbers, weight: f64, numbers: &Numbers) {
    // Written out by hand, because most of the time of reading a table is spent here.
    sum[0] += weight * numbers[0];
    sum[1] += weight * numbers[1];
    sum[2] += weight * numbers[2];
    sum[3] += weight * numbers[3];
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

/// The largest errors of the tables: between their points of the aperture, at one of their wavelengths, and between their wavelengths, for one of
/// their rays.
fn off(
    tables: &[PassedTable],
    train: &Train,
    owns: &[Range<usize>],
    outermost: (f64, f64),
) -> Result<(f64, f64), (f64, f64, Stopped)> {
    let off = |na: f64, nm: f64| {
        let at = train.at(nm);
        let ray = at
            .height_of(na, outermost)
            .and_then(|height| at.ray(height));
        let ray = ray.map_err(|stopped| (nm, na, stopped))?;
        let each = tables.iter().zip(owns).map(|(table, own)| {
            let (got, traced) = (table.at(nm).at(na), at.passed_by(own.clone(), &ray));
            (got.p - traced.p).norm().max((got.s - traced.s).norm())
        });
        Ok(each.fold(0f64, f64::max))
    };
    let (mut aperture, mut spectrum) = (0f64, 0f64);
    let Some(first) = tables.first() else {
        return Ok((aperture, spectrum));
    };
    let own_nm = 1.0 / first.wavenumbers[first.wavenumbers.len() / 2];
    let own_na = first.squares[first.squares.len() - 1].sqrt();
    for part in [0.2, 0.6, 0.9, 0.995] {
        aperture = aperture.max(off(part * first.full_na, own_nm)?);
    }
    for nm in [365.0, 470.0, 800.0] {
        spectrum = spectrum.max(off(own_na, nm)?);
    }
    Ok((aperture, spectrum))
}

/// Chebyshev points of the second kind, both ends included, ascending.
fn chebyshev(from: f64, to: f64, count: usize) -> Vec<f64> {
    let last = (count - 1) as f64;
    (0..count)
        .map(|k| from + (to - from) * 0.5 * (1.0 - math::cos(PI * k as f64 / last)))
        .collect()
}

/// The weight of the value at each Chebyshev point for a place in between: the barycentric weights 1/2, -1, 1, ..., 1/2, divided by the distances
/// from the place.
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
