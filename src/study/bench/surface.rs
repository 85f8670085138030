//! The light of many settings as polynomials of the unknown numbers: a response surface.
//!
//! A polynomial is fitted to direct runs at scattered points by least squares, each run weighted by one over its light, so that dark stands are told
//! as well, relatively, as bright ones. To second order the leak is a quadratic form of the strains; the higher orders carry the rest.
//!
//! Source: G. E. P. Box and K. B. Wilson, J. R. Stat. Soc. B 13, 1 (1951), for the method; Hermite polynomials for normal variables: N. Wiener,
//! Am. J. Math. 60, 897 (1938). Both from memory.

use std::collections::HashMap;

use nalgebra::{Cholesky, DMatrix, DVector};

use crate::order::sort_by_number;
use crate::threads;

/// Highest degree, all variables together; of terms of more than two variables.
const DEGREE: usize = 4;
const DEGREE_OF_MANY: usize = 3;
/// A variable that is scattered by less than this fraction of its middle is taken to be constant.
const NARROW: f64 = 1e-12;
/// Added to the normal equations, relative to their diagonal: terms that the points do not tell apart stay small.
const RIDGE: f64 = 1e-11;

/// Products of Hermite polynomials of several variables, each scaled to its middle and spread.
#[derive(Debug, Clone)]
pub(super) struct Basis {
    /// Middle and spread of each variable.
    scale: Vec<(f64, f64)>,
    /// Of each term but the first, which is 1: an earlier term, and the place of what it is multiplied by in the table of single polynomials,
    /// [`DEGREE`] + 1 for each variable.
    products: Vec<(usize, usize)>,
}

/// Room to work in.
#[derive(Debug, Clone, Default)]
pub(super) struct BasisWork {
    single: Vec<f64>,
    terms: Vec<f64>,
}

impl Basis {
    /// For points scattered like these; `weight` says for how many degrees each variable counts, and `most` how many terms there may be.
    pub(super) fn new(points: &[Vec<f64>], weight: &[usize], most: usize) -> Self {
        let count = points.len().max(1) as f64;
        let scale: Vec<(f64, f64)> = (0..weight.len())
            .map(|k| {
                let mean = points.iter().map(|p| p[k]).sum::<f64>() / count;
                let square = points.iter().map(|p| (p[k] - mean).powi(2)).sum::<f64>() / count;
                (mean, square.sqrt())
            })
            .collect();
        let varies: Vec<usize> = (0..weight.len())
            .filter(|&k| scale[k].1 > NARROW * scale[k].0.abs().max(NARROW))
            .collect();
        let terms = (1..=DEGREE)
            .rev()
            .flat_map(|degree| (1..=DEGREE_OF_MANY).rev().map(move |joint| (degree, joint)))
            .map(|(degree, joint)| terms(&varies, weight, degree, joint))
            .find(|terms| terms.len() <= most)
            .unwrap_or_else(|| terms(&varies, weight, 1, 1));
        let place: HashMap<&[usize], usize> = (terms.iter().enumerate())
            .map(|(place, term)| (term.as_slice(), place))
            .collect();
        let products = (terms.iter())
            .filter_map(|term| term.split_last())
            .map(|(last, earlier)| (place[earlier], *last))
            .collect();
        Self { scale, products }
    }

    pub(super) fn terms(&self) -> usize {
        self.products.len() + 1
    }

    /// The terms at a point.
    pub(super) fn at<'a>(&self, point: &[f64], work: &'a mut BasisWork) -> &'a [f64] {
        let BasisWork { single, terms } = work;
        let roots: [(f64, f64); DEGREE + 1] =
            std::array::from_fn(|n| ((n as f64).sqrt(), (n as f64 + 1.0).sqrt()));
        single.clear();
        for (x, (mean, spread)) in point.iter().zip(&self.scale) {
            let z = if *spread > 0.0 {
                (x - mean) / spread
            } else {
                0.0
            };
            let (mut before, mut here) = (0.0, 1.0);
            for (root, next_root) in roots {
                single.push(here);
                // Normalised: He_(n+1) / sqrt((n+1)!).
                (before, here) = (here, (z * here - root * before) / next_root);
            }
        }
        terms.clear();
        terms.push(1.0);
        for (earlier, place) in &self.products {
            terms.push(terms[*earlier] * single[*place]);
        }
        terms
    }
}

/// All products of the variables up to a degree, of at most `joint` variables each, as places of their factors. Each comes after the product of all its
/// factors but the last.
fn terms(varies: &[usize], weight: &[usize], degree: usize, joint: usize) -> Vec<Vec<usize>> {
    let mut all: Vec<(Vec<usize>, usize)> = vec![(Vec::new(), 0)];
    for &variable in varies {
        let mut with = Vec::new();
        for (places, used) in &all {
            with.push((places.clone(), *used));
            if places.len() == joint {
                continue;
            }
            for power in 1..=DEGREE {
                let used = used + power * weight[variable];
                let most = if places.len() < 2 {
                    degree
                } else {
                    degree.min(DEGREE_OF_MANY)
                };
                if used > most {
                    break;
                }
                let mut places = places.clone();
                places.push(variable * (DEGREE + 1) + power);
                with.push((places, used));
            }
        }
        all = with;
    }
    all.into_iter().map(|(places, _)| places).collect()
}

/// Fits values at points; `light[setting][point]`, each above 0, and how much each point counts. Coefficients come out setting by setting, in the
/// order of the terms.
pub(super) fn fit(
    basis: &Basis,
    points: &[Vec<f64>],
    counts: &[f64],
    light: &[Vec<f64>],
) -> Vec<Vec<f64>> {
    fit_weighted(basis, points, light, &|setting, row| {
        let value = light[setting][row];
        match value > 0.0 {
            true => counts[row].sqrt() / value,
            false => 0.0,
        }
    })
}

/// The same for values of either sign, each point weighted as `weight` says of the setting and the point.
pub(super) fn fit_weighted(
    basis: &Basis,
    points: &[Vec<f64>],
    values: &[Vec<f64>],
    weight: &(dyn Fn(usize, usize) -> f64 + Sync),
) -> Vec<Vec<f64>> {
    let terms = basis.terms();
    let mut work = BasisWork::default();
    let mut design = DMatrix::<f64>::zeros(points.len(), terms);
    for (row, point) in points.iter().enumerate() {
        for (column, value) in basis.at(point, &mut work).iter().enumerate() {
            design[(row, column)] = *value;
        }
    }
    threads::map(0..values.len(), |setting| {
        let mut rows = design.clone();
        let mut wanted = DVector::<f64>::zeros(points.len());
        for (row, value) in values[setting].iter().enumerate() {
            let weight = weight(setting, row);
            rows.row_mut(row).scale_mut(weight);
            wanted[row] = weight * value;
        }
        let mut normal = rows.transpose() * &rows;
        let right = rows.tr_mul(&wanted);
        // Terms of very different size are scaled alike.
        let size: Vec<f64> = (0..terms)
            .map(|k| normal[(k, k)].sqrt().max(1e-300))
            .collect();
        for i in 0..terms {
            for j in 0..terms {
                normal[(i, j)] /= size[i] * size[j];
            }
            normal[(i, i)] += RIDGE;
        }
        let right = DVector::from_fn(terms, |k, _| right[k] / size[k]);
        match Cholesky::new(normal) {
            Some(cholesky) => {
                let solved = cholesky.solve(&right);
                (0..terms).map(|k| solved[k] / size[k]).collect()
            }
            None => vec![0.0; terms],
        }
    })
}

/// From so many lights on they are made of patterns, which leave off no more than this.
pub(super) const MANY_LIGHTS: usize = 64;
const LEFT_OFF: f64 = 1e-3;

/// The zones of photographs change together: their lights are made of few patterns. Coefficients of as many patterns as leave off less than
/// [`LEFT_OFF`] of the lights at the points, relatively and on average, and of what each light is made: rows of the matrix.
///
/// The patterns are the principal components of the lights over their own means.
pub(super) fn patterns(
    coefficients: &[Vec<f64>],
    light: &[Vec<f64>],
) -> (Vec<Vec<f64>>, Vec<Vec<f64>>) {
    let (lights, points) = (light.len(), light.first().map_or(0, Vec::len).max(1));
    let means: Vec<f64> = (light.iter())
        .map(|light| light.iter().sum::<f64>() / points as f64)
        .collect();
    let relative = DMatrix::from_fn(lights, points, |k, at| light[k][at] / means[k]);
    let found = (&relative * relative.transpose()).symmetric_eigen();
    let mut order: Vec<usize> = (0..lights).collect();
    sort_by_number(&mut order, |at| -found.eigenvalues[*at]);
    let allowed = LEFT_OFF * LEFT_OFF * (lights * points) as f64;
    let mut left: f64 = found.eigenvalues.iter().map(|value| value.max(0.0)).sum();
    let mut kept = 0;
    while kept < lights && left > allowed {
        left -= found.eigenvalues[order[kept]].max(0.0);
        kept += 1;
    }
    let width = coefficients.first().map_or(0, Vec::len);
    let amounts = (order[..kept].iter())
        .map(|&pattern| {
            (0..width)
                .map(|term| {
                    let part = |k: usize| {
                        found.eigenvectors[(k, pattern)] * coefficients[k][term] / means[k]
                    };
                    (0..lights).map(part).sum()
                })
                .collect()
        })
        .collect();
    let made_of = (0..lights)
        .map(|k| {
            let part = |pattern: &usize| found.eigenvectors[(k, *pattern)] * means[k];
            order[..kept].iter().map(part).collect()
        })
        .collect();
    (amounts, made_of)
}
