//! The strain that several stands give together, with its error.

use nalgebra::DMatrix;

use super::answer::StrainNode;
use super::polynomial::{TERMS, components, local, mean, terms};
use super::solve::StrainSolution;
use crate::math;

/// Nodes of the map that is written, to a side.
const NODES: usize = 17;

/// Solutions of several stands together.
pub(super) struct Spread {
    mean: Vec<f64>,
    covariance: DMatrix<f64>,
    pub(super) misfit: f64,
}

impl Spread {
    pub(super) fn new(found: &[StrainSolution]) -> Self {
        let all: Vec<Vec<f64>> = found.iter().map(|found| found.terms.clone()).collect();
        let mean = mean(&all);
        let count = all.len() as f64;
        let misfit = found.iter().map(|found| found.misfit).sum::<f64>() / count;
        let mut covariance = DMatrix::<f64>::zeros(mean.len(), mean.len());
        for found in found {
            let own = &found.covariance * (found.misfit.max(1.0) / count);
            covariance += own;
            let off = DMatrix::from_fn(mean.len(), 1, |k, _| found.terms[k] - mean[k]);
            covariance += &off * off.transpose() / (count - 1.0).max(1.0);
        }
        Self {
            mean,
            covariance,
            misfit,
        }
    }

    /// At a point in units of the disc's radius; `reach` is that radius over the lens's rim.
    pub(super) fn at(&self, at: (f64, f64), reach: f64) -> StrainNode {
        let (path_difference_nm, slow_azimuth_rad) = local(&self.mean, at);
        let (u_nm, v_nm) = components(&self.mean, at);
        let (sin, cos) = math::sincos(2.0 * slow_azimuth_rad);
        // The derivative of the path difference by each coefficient.
        let terms = terms(at);
        let by = DMatrix::from_fn(2 * TERMS, 1, |k, _| {
            terms[k % TERMS] * if k < TERMS { cos } else { sin }
        });
        let variance = (by.transpose() * &self.covariance * &by)[(0, 0)];
        StrainNode {
            x: reach * at.0,
            y: reach * at.1,
            path_difference_nm,
            slow_azimuth_rad,
            u_nm,
            v_nm,
            error_nm: variance.max(0.0).sqrt(),
        }
    }

    /// A square grid over the lens's rim. Beyond the photographed disc a point has the strain of the disc's edge on the same spoke.
    pub(super) fn grid(&self, reach: f64) -> impl Iterator<Item = StrainNode> + '_ {
        let place = |k: usize| 2.0 * k as f64 / (NODES - 1) as f64 - 1.0;
        let pairs = (0..NODES).flat_map(|row| (0..NODES).map(move |column| (column, row)));
        pairs.map(move |(column, row)| {
            let at = (place(column), place(row));
            let beyond = (math::hypot(at.0, at.1) / reach).max(1.0);
            let inside = (at.0 / (reach * beyond), at.1 / (reach * beyond));
            StrainNode {
                x: at.0,
                y: at.1,
                ..self.at(inside, reach)
            }
        })
    }
}
