//! Strain of a lens as it was measured: a smooth surface through points.

use ndarray::Array2;
use thiserror::Error;

use super::strain::LocalStrain;
use crate::math;

/// A strain map on a rectilinear grid; between its nodes `path difference x (cos, sin)(2 azimuth)` is a smooth surface through all of them.
///
/// Strain in glass is smooth, and a surface with creases would need many more rays for the same accuracy. Along each axis the surface is a cubic
/// between every two nodes. Its slope at a node is that of the parabola through this node and its neighbours on either side (at an end, through the
/// two nearest nodes). An axis of two nodes gives a straight line. A map that is a parabola is reproduced exactly.
#[derive(Debug, Clone, PartialEq)]
pub struct StrainMap {
    x: Vec<f64>,
    y: Vec<f64>,
    /// `path difference x cos(2 azimuth)`, nm, at `[column, row]`.
    cos2: Array2<f64>,
    /// `path difference x sin(2 azimuth)`, nm.
    sin2: Array2<f64>,
    /// How far the whole map is turned, radians counter-clockwise.
    turn_rad: f64,
}

/// A strain map that cannot be used.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum StrainMapError {
    /// The rows do not form a grid with one node for every pair of x and y.
    #[error(
        "the map needs one row for every pair of its x and y values, at least 2 x 2: {columns} x values and {rows} y values ask for {wanted} rows, there are {found}{}",
        first_missing.map_or(String::new(), |(x, y)| format!("; the first that is missing is x = {x}, y = {y}"))
    )]
    Incomplete {
        /// Distinct x values.
        columns: usize,
        /// Distinct y values.
        rows: usize,
        /// Rows that a full grid has.
        wanted: usize,
        /// Rows found.
        found: usize,
        /// The first pair without a row.
        first_missing: Option<(f64, f64)>,
    },
    /// A node given twice.
    #[error("the point x = {x}, y = {y} is given twice")]
    Repeated {
        /// Its x.
        x: f64,
        /// Its y.
        y: f64,
    },
}

impl StrainMap {
    /// Multiplies every path difference by a factor.
    pub(super) fn scale(&mut self, factor: f64) {
        self.cos2.mapv_inplace(|nm| nm * factor);
        self.sin2.mapv_inplace(|nm| nm * factor);
    }

    /// Turns the whole map by an angle, radians counter-clockwise.
    pub(super) fn turn(&mut self, angle_rad: f64) {
        self.turn_rad += angle_rad;
    }

    /// A map from rows `(x, y, path difference in nm, slow azimuth in radians)` in any order. Every number must be finite.
    ///
    /// # Errors
    /// [`StrainMapError`] unless the rows fill a rectilinear grid once.
    pub fn new(nodes: &[(f64, f64, f64, f64)]) -> Result<Self, StrainMapError> {
        let axis = |pick: fn(&(f64, f64, f64, f64)) -> f64| {
            let mut values: Vec<f64> = nodes.iter().map(pick).collect();
            values.sort_by(f64::total_cmp);
            values.dedup();
            values
        };
        let (x, y) = (axis(|n| n.0), axis(|n| n.1));
        let wanted = x.len().saturating_mul(y.len());
        if x.len() < 2 || y.len() < 2 || nodes.len() != wanted {
            let mut pairs = (x.iter()).flat_map(|&px| y.iter().map(move |&py| (px, py)));
            let has = |pair: (f64, f64)| nodes.iter().any(|node| (node.0, node.1) == pair);
            // In a map of many rows the missing pair is not searched for; the error tells only the numbers of rows.
            let first_missing = (nodes.len() <= 10_000)
                .then(|| pairs.find(|&pair| !has(pair)))
                .flatten();
            return Err(StrainMapError::Incomplete {
                first_missing,
                columns: x.len(),
                rows: y.len(),
                wanted,
                found: nodes.len(),
            });
        }
        let mut cos2 = Array2::from_elem((x.len(), y.len()), f64::NAN);
        let mut sin2 = cos2.clone();
        for &(px, py, path_difference_nm, azimuth_rad) in nodes {
            let at = [
                x.partition_point(|&v| v < px),
                y.partition_point(|&v| v < py),
            ];
            if !cos2[at].is_nan() {
                return Err(StrainMapError::Repeated { x: px, y: py });
            }
            let (sin, cos) = math::sincos(2.0 * azimuth_rad);
            cos2[at] = path_difference_nm * cos;
            sin2[at] = path_difference_nm * sin;
        }
        Ok(Self {
            x,
            y,
            cos2,
            sin2,
            turn_rad: 0.0,
        })
    }

    /// How far the whole map is turned, radians counter-clockwise; 0 as it was read.
    #[must_use]
    pub fn turn_rad(&self) -> f64 {
        self.turn_rad
    }

    /// The retarder at a point; `None` outside the map.
    #[must_use]
    pub fn at(&self, x: f64, y: f64) -> Option<LocalStrain> {
        let (sin, cos) = math::sincos(self.turn_rad);
        let (x, y) = (cos * x + sin * y, cos * y - sin * x);
        let (columns, rows) = (spline(&self.x, x)?, spline(&self.y, y)?);
        let at = |f: &Array2<f64>| -> f64 {
            let along_y = |column: usize| -> f64 {
                rows.iter()
                    .map(|(row, weight)| weight * f[[column, *row]])
                    .sum()
            };
            columns
                .iter()
                .map(|(column, weight)| weight * along_y(*column))
                .sum()
        };
        let (cos2, sin2) = (at(&self.cos2), at(&self.sin2));
        Some(LocalStrain {
            path_difference_nm: math::hypot(cos2, sin2),
            slow_azimuth_rad: self.turn_rad + 0.5 * math::atan2(sin2, cos2),
        })
    }
}

/// The nodes of an ascending axis whose values matter at `value`, each with its weight: a cubic through the two nodes around `value`, with the slopes
/// of parabolas through three neighbours. `None` outside the axis.
fn spline(axis: &[f64], value: f64) -> Option<[(usize, f64); 4]> {
    let (low, t) = cell(axis, value)?;
    let last = axis.len() - 1;
    let width = |k: usize| axis[k + 1] - axis[k];
    // Two of the four may be the same node; then their weights are to be added.
    let first = low.saturating_sub(1);
    let mut weights = [0, 1, 2, 3].map(|k| ((first + k).min(last), 0.0));
    let mut add = |node: usize, weight: f64| weights[node - first].1 += weight;
    // The slope at a node, as a weighted sum of the slopes of the two cells beside it.
    let mut add_slope = |node: usize, weight: f64| {
        let mut secant = |k: usize, part: f64| {
            add(k + 1, weight * part / width(k));
            add(k, -weight * part / width(k));
        };
        match node {
            _ if last == 1 => secant(0, 1.0),
            0 => {
                let rest = width(0) / (width(0) + width(1));
                secant(0, 1.0 + rest);
                secant(1, -rest);
            }
            k if k == last => {
                let rest = width(k - 1) / (width(k - 1) + width(k - 2));
                secant(k - 1, 1.0 + rest);
                secant(k - 2, -rest);
            }
            k => {
                let right = width(k - 1) / (width(k - 1) + width(k));
                secant(k - 1, 1.0 - right);
                secant(k, right);
            }
        }
    };
    // Hermite's cubics.
    let (t2, t3) = (t * t, t * t * t);
    add_slope(low, (t3 - 2.0 * t2 + t) * width(low));
    add_slope(low + 1, (t3 - t2) * width(low));
    add(low, 2.0 * t3 - 3.0 * t2 + 1.0);
    add(low + 1, 3.0 * t2 - 2.0 * t3);
    Some(weights)
}

/// The cell of an ascending axis that holds `value`, and how far through the cell it is, 0 to 1.
fn cell(axis: &[f64], value: f64) -> Option<(usize, f64)> {
    let inside = axis[0] <= value && value <= axis[axis.len() - 1];
    inside.then(|| {
        let low = axis[1..axis.len() - 1].partition_point(|&v| v <= value);
        (low, (value - axis[low]) / (axis[low + 1] - axis[low]))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const UNEVEN: [f64; 5] = [-1.0, -0.7, 0.1, 0.4, 1.0];

    fn value(axis: &[f64], at: f64, of: impl Fn(f64) -> f64) -> f64 {
        let weights = spline(axis, at).unwrap();
        weights
            .iter()
            .map(|(k, weight)| weight * of(axis[*k]))
            .sum()
    }

    #[test]
    fn a_spline_meets_its_nodes_and_parabolas() {
        for at in [-1.0, -0.9, -0.7, 0.0, 0.1, 0.35, 0.7, 0.999, 1.0] {
            let parabola = |x: f64| 2.0 - 3.0 * x + 5.0 * x * x;
            assert!(
                (value(&UNEVEN, at, parabola) - parabola(at)).abs() < 1e-14,
                "{at}"
            );
            let line = |x: f64| 1.0 + 4.0 * x;
            assert!(
                (value(&[-1.0, 1.0], at, line) - line(at)).abs() < 1e-14,
                "{at}"
            );
        }
        for node in UNEVEN {
            assert!((value(&UNEVEN, node, math::exp) - math::exp(node)).abs() < 1e-15);
        }
        assert_eq!(spline(&UNEVEN, 1.01), None);
    }

    #[test]
    fn a_spline_has_no_creases() {
        let at = |x: f64| value(&UNEVEN, x, |x| math::sin(3.0 * x));
        let step = 1e-6;
        for node in &UNEVEN[1..4] {
            let before = (at(*node) - at(node - step)) / step;
            let after = (at(node + step) - at(*node)) / step;
            assert!((before - after).abs() < 1e-4, "{node}: {before} {after}");
        }
    }
}
