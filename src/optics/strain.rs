//! Strain in a lens: a linear retarder that varies over the glass.

use crate::math;
use std::f64::consts::{PI, TAU};

use ndarray::Array2;
use thiserror::Error;

use super::rays::Rays;

/// The part of the aperture's radius over which [`Strain::amount_nm`] takes the mean of a clamp or a map.
pub const AMOUNT_WITHIN: f64 = 0.8;

/// Sense of a radial strain's slow axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RadialSlow {
    /// Slow axis along the radius.
    Radial,
    /// Slow axis along the rim.
    Tangential,
}

/// Which way a radial strain is seen.
#[derive(Debug, Clone, PartialEq)]
pub enum RadialAlong {
    /// As along the axis, `r^2`, whichever way the ray goes.
    Axis,
    /// Along the rays that a prescription traces.
    Ray(StressProfile),
}

/// Path difference over the aperture, relative to what a ray along the axis at the rim reads.
#[derive(Debug, Clone, PartialEq)]
pub struct StressProfile {
    /// At equal steps of r, from the axis to the rim.
    at: Vec<f64>,
}

impl StressProfile {
    /// From its values at equal steps of r, axis and rim included: at least four.
    #[must_use]
    pub fn new(at: Vec<f64>) -> Option<Self> {
        (at.len() >= 4 && at.iter().all(|value| value.is_finite())).then_some(Self { at })
    }

    /// At a distance from the axis, the rim at 1: the cubic through the four nearest values.
    #[must_use]
    pub fn at(&self, r: f64) -> f64 {
        let last = self.at.len() - 1;
        let step = (r * last as f64).clamp(0.0, last as f64);
        let first = (step as usize).saturating_sub(1).min(last - 3);
        let t = step - first as f64;
        let [a, b, c, d] = [0, 1, 2, 3].map(|k| self.at[first + k]);
        let outer = d * t * (t - 1.0) * (t - 2.0) - a * (t - 1.0) * (t - 2.0) * (t - 3.0);
        let inner = b * t * (t - 2.0) * (t - 3.0) - c * t * (t - 1.0) * (t - 3.0);
        outer / 6.0 + 0.5 * inner
    }
}

impl RadialAlong {
    /// Path difference at a distance from the axis, over that of a ray along the axis at the rim.
    #[must_use]
    pub fn profile(&self, r: f64) -> f64 {
        match self {
            Self::Axis => r * r,
            Self::Ray(profile) => profile.at(r),
        }
    }
}

/// One strain profile over a lens. Coordinates are fractions of the full aperture, the rim at 1.
#[derive(Debug, Clone, PartialEq)]
pub enum Strain {
    /// The same everywhere.
    Uniform {
        /// Path difference, nm.
        path_difference_nm: f64,
        /// Slow azimuth, radians.
        slow_azimuth_rad: f64,
    },
    /// `edge_nm r^2`, or what the rays of a prescription see of it: what uneven cooling leaves in moulded glass.
    Radial {
        /// Path difference at the rim, nm.
        edge_nm: f64,
        /// Which way the slow axis lies.
        slow: RadialSlow,
        /// Along what the path difference is taken.
        along: RadialAlong,
    },
    /// Equal radial point forces on the rim of a disc, equally spaced.
    Clamp {
        /// Number of contacts, at least 2.
        contacts: u32,
        /// Force of each, N, positive inward.
        force_n: f64,
        /// Diameter of the disc, mm.
        diameter_mm: f64,
        /// Azimuth of the first contact, radians; the others follow counter-clockwise.
        first_azimuth_rad: f64,
        /// Stress-optic coefficient in Brewster (1e-12 / Pa), positive when the slow axis lies along a tension.
        stress_optic_brewster: f64,
    },
    /// A measured map.
    Map(StrainMap),
}

/// The retarder that a strain makes at one point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalStrain {
    /// Path difference, nm; a negative one has its slow axis across `slow_azimuth_rad`.
    pub path_difference_nm: f64,
    /// Slow azimuth, radians.
    pub slow_azimuth_rad: f64,
}

impl Strain {
    /// A radial strain, `edge_nm r^2`, slow along the radius.
    #[must_use]
    pub fn radial(edge_nm: f64) -> Self {
        Self::Radial {
            edge_nm,
            slow: RadialSlow::Radial,
            along: RadialAlong::Axis,
        }
    }

    /// At a point `(x, y)` of the aperture; `None` where a map does not reach.
    #[must_use]
    pub fn at(&self, x: f64, y: f64) -> Option<LocalStrain> {
        Some(match self {
            Self::Uniform {
                path_difference_nm,
                slow_azimuth_rad,
            } => LocalStrain {
                path_difference_nm: *path_difference_nm,
                slow_azimuth_rad: *slow_azimuth_rad,
            },
            Self::Radial {
                edge_nm,
                slow,
                along,
            } => LocalStrain {
                path_difference_nm: edge_nm * along.profile(math::hypot(x, y)),
                slow_azimuth_rad: math::atan2(y, x)
                    + match slow {
                        RadialSlow::Radial => 0.0,
                        RadialSlow::Tangential => 0.5 * PI,
                    },
            },
            Self::Clamp {
                contacts,
                force_n,
                diameter_mm,
                first_azimuth_rad,
                stress_optic_brewster,
            } => {
                let (difference, azimuth) = clamped_disc(*contacts, *first_azimuth_rad, x, y);
                // C F / R: 1e-12 / Pa x N / (1e-3 m / 2) = 2e-9 m = 2 nm.
                LocalStrain {
                    path_difference_nm: 2.0 * stress_optic_brewster * force_n / diameter_mm
                        * difference,
                    slow_azimuth_rad: azimuth,
                }
            }
            Self::Map(map) => map.at(x, y)?,
        })
    }

    /// The turn after which the pattern is what it was, radians; `None` for a radial one, which turning does not change.
    ///
    /// Checked by: `tests/laws/strains.rs`.
    #[must_use]
    pub fn period_rad(&self) -> Option<f64> {
        match self {
            Self::Uniform { .. } => Some(PI),
            Self::Radial { .. } => None,
            Self::Clamp { contacts, .. } => Some(TAU / f64::from(*contacts)),
            Self::Map(_) => Some(TAU),
        }
    }

    /// How much strain this is, nm: the path difference of a uniform one, that at the rim of a radial one; of a clamp or a map
    /// the root mean square within [`AMOUNT_WITHIN`] of the aperture, because a clamp's grows beyond bounds at its contacts.
    ///
    /// A map that does not cover that disc counts where it does. Checked by: `tests/published/disc.rs`, `tests/laws/strains.rs`.
    #[must_use]
    pub fn amount_nm(&self) -> f64 {
        match self {
            Self::Uniform {
                path_difference_nm, ..
            } => *path_difference_nm,
            Self::Radial { edge_nm, .. } => *edge_nm,
            Self::Clamp { .. } | Self::Map(_) => {
                let (mut squares, mut weights) = (0.0, 0.0);
                for (ray, weight) in Rays::disc(AMOUNT_WITHIN, 32, 128).iter() {
                    let (sin, cos) = math::sincos(ray.azimuth_rad);
                    if let Some(local) = self.at(ray.s * cos, ray.s * sin) {
                        squares += weight * local.path_difference_nm.powi(2);
                        weights += weight;
                    }
                }
                if weights > 0.0 {
                    (squares / weights).sqrt()
                } else {
                    0.0
                }
            }
        }
    }

    /// The same pattern with every path difference multiplied; a negative factor turns slow into fast.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let mut scaled = self.clone();
        match &mut scaled {
            Self::Uniform {
                path_difference_nm, ..
            } => *path_difference_nm *= factor,
            Self::Radial { edge_nm, .. } => *edge_nm *= factor,
            Self::Clamp { force_n, .. } => *force_n *= factor,
            Self::Map(map) => {
                map.cos2.mapv_inplace(|nm| nm * factor);
                map.sin2.mapv_inplace(|nm| nm * factor);
            }
        }
        scaled
    }

    /// The same pattern turned about the axis by `angle_rad` counter-clockwise, as in a lens that is turned in its mount. A radial
    /// pattern stays as it is.
    #[must_use]
    pub fn turned(&self, angle_rad: f64) -> Self {
        let mut turned = self.clone();
        match &mut turned {
            Self::Uniform {
                slow_azimuth_rad: azimuth_rad,
                ..
            }
            | Self::Clamp {
                first_azimuth_rad: azimuth_rad,
                ..
            } => *azimuth_rad += angle_rad,
            Self::Radial { .. } => {}
            Self::Map(map) => map.turn_rad += angle_rad,
        }
        turned
    }
}

/// Difference of the principal stresses in units of force / (radius x thickness), and the azimuth of the larger
/// (the more tensile) one, in a disc of radius 1 pressed by `contacts` equal forces.
///
/// Plane stress: the sum of the Flamant fields `sigma_rr = -(2F/(pi t)) cos(theta)/r` of the contacts; the
/// uniform tension that frees the rim adds nothing to the difference. The thickness cancels in the path difference
/// `C t (sigma_1 - sigma_2)`.
///
/// Sign: with C > 0 the slow axis lies along the larger tension, so the fast axis lies along a compression. From the
/// photoelastic coefficients `C = n^3 (1 + nu) (p12 - p11) / (2 E)`, positive for silica: p11 0.121, p12 0.270.
///
/// Source: S. P. Timoshenko and J. N. Goodier, Theory of Elasticity, section 41 (from memory).
/// Checked by: `tests/published/disc.rs`.
fn clamped_disc(contacts: u32, first_azimuth_rad: f64, x: f64, y: f64) -> (f64, f64) {
    let (mut difference, mut shear) = (0.0, 0.0);
    for k in 0..contacts {
        let (sin, cos) = math::sincos(first_azimuth_rad + TAU * f64::from(k) / f64::from(contacts));
        let (dx, dy) = (x - cos, y - sin);
        // Nearer to a contact than 1e-4 of the radius the field stays what it is there: no contact is a point.
        let square = (dx * dx + dy * dy).max(1e-8);
        let inward = -(dx * cos + dy * sin);
        let radial = -(2.0 / PI) * inward / square;
        difference += radial * (dx * dx - dy * dy) / square;
        shear += radial * 2.0 * dx * dy / square;
    }
    (
        math::hypot(difference, shear),
        0.5 * math::atan2(shear, difference),
    )
}

/// A strain map on a rectilinear grid; between its nodes `path difference x (cos, sin)(2 azimuth)` is a smooth surface through all of them.
///
/// Strain in glass is smooth, and a surface with creases would need many more rays for the same accuracy. Along each axis it is a cubic
/// between two nodes with the slopes, at each, of the parabola through that node and its neighbours on either side (at the ends, the two next
/// ones); with two nodes it is straight. Parabolas are met exactly.
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
    /// Not one node for every pair of x and y.
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
    /// From rows `(x, y, path difference in nm, slow azimuth in radians)` in any order; every number finite.
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
            // A map of many rows is not searched: what is missing is told by the numbers.
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

    /// At a point; `None` outside the map.
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

/// Nodes of an ascending axis and what each counts for at `value`: a cubic through the two around it, with the slopes of parabolas through
/// three neighbours. `None` outside the axis.
fn spline(axis: &[f64], value: f64) -> Option<[(usize, f64); 4]> {
    let (low, t) = cell(axis, value)?;
    let last = axis.len() - 1;
    let width = |k: usize| axis[k + 1] - axis[k];
    // Two of the four may be the same node, with weights that add up.
    let first = low.saturating_sub(1);
    let mut weights = [0, 1, 2, 3].map(|k| ((first + k).min(last), 0.0));
    let mut add = |node: usize, weight: f64| weights[node - first].1 += weight;
    // A slope as the sum of the slopes of two neighbouring cells.
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

/// The cell of an ascending axis that holds `value`, and where in it.
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
