//! Strain in a lens: a linear retarder that varies over the glass.

use std::f64::consts::{PI, TAU};

use super::rays::Rays;
use super::strain_map::StrainMap;
use crate::math;

/// The fraction of the aperture's radius within which [`Strain::amount_nm`] takes the mean of a clamp or a map.
pub const AMOUNT_WITHIN: f64 = 0.8;

/// Sense of a radial strain's slow axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RadialSlow {
    /// Slow axis along the radius.
    Radial,
    /// Slow axis along the rim.
    Tangential,
}

/// Along which path a ray is taken to cross a radial strain.
#[derive(Debug, Clone, PartialEq)]
pub enum RadialAlong {
    /// Parallel to the axis, whichever way the ray really goes: the path difference goes with `r^2`.
    Axis,
    /// Along the rays that a prescription traces.
    Ray(StressProfile),
}

/// Path difference over the aperture, relative to what a ray along the axis at the rim reads.
#[derive(Debug, Clone, PartialEq)]
pub struct StressProfile {
    /// Values at equal steps of r, from the axis to the rim.
    at: Vec<f64>,
}

impl StressProfile {
    /// A profile from its values at equal steps of r, axis and rim included. There must be at least four.
    #[must_use]
    pub fn new(at: Vec<f64>) -> Option<Self> {
        (at.len() >= 4 && at.iter().all(|value| value.is_finite())).then_some(Self { at })
    }

    /// The value at a distance `r` from the axis, with the rim at 1, from the cubic through the four nearest values.
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
    /// Uniform strain: the same at every point.
    Uniform {
        /// Path difference, nm.
        path_difference_nm: f64,
        /// Slow azimuth, radians.
        slow_azimuth_rad: f64,
    },
    /// Radial strain, as uneven cooling leaves it in moulded glass: `edge_nm r^2`, or what rays that are traced through a prescription see of it.
    Radial {
        /// Path difference at the rim, nm.
        edge_nm: f64,
        /// Which way the slow axis lies.
        slow: RadialSlow,
        /// Along which path the path difference is taken.
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

    /// Whether half a turn about the axis leaves it as it is, so that two rays opposite to each other meet the same.
    #[must_use]
    pub fn is_twofold(&self) -> bool {
        match self {
            Self::Uniform { .. } | Self::Radial { .. } => true,
            Self::Clamp { contacts, .. } => contacts.is_multiple_of(2),
            Self::Map(_) => false,
        }
    }

    /// The retarder at a point `(x, y)` of the aperture; `None` where a map does not reach.
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

    /// How much strain this is, nm: the path difference of a uniform one, that at the rim of a radial one; of a clamp or a map the root mean square
    /// within [`AMOUNT_WITHIN`] of the aperture's radius, because the strain of a clamp grows beyond all bounds at its contacts.
    ///
    /// If a map does not cover that disc, the part that it covers is taken. Checked by: `tests/published/disc.rs`, `tests/laws/strains.rs`.
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
            Self::Map(map) => map.scale(factor),
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
            Self::Map(map) => map.turn(angle_rad),
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
        // Nearer to a contact than 1e-4 of the radius, the field is kept at its value at that distance, because no real contact is a point.
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
