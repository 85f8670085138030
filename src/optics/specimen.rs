//! What lies on the stage.

use std::f64::consts::{PI, TAU};

use super::askew::AskewPlate;
use super::biaxial::BiaxialPlate;
use super::element::LinearElement;
use super::interface::cosine;
use super::rays::Ray;
use crate::material::{RotatoryPower, Uniaxial};
use crate::math;

/// A birefringent specimen.
#[derive(Debug, Clone, PartialEq)]
pub enum Specimen {
    /// A stated path difference, the same for every ray and wavelength.
    Stated {
        /// Path difference, nm; below 0 where the slow direction is the one at right angles.
        path_difference_nm: f64,
        /// Slow azimuth, radians.
        slow_azimuth_rad: f64,
    },
    /// A plate of a uniaxial crystal with its optic axis in the plane of the stage. Optical activity is left out: that of quartz makes
    /// the vibrations elliptic by no more than 0.1 degrees there.
    Plate {
        /// The crystal.
        crystal: Uniaxial,
        /// Thickness, micrometres.
        thickness_um: f64,
        /// Azimuth of the optic axis, radians.
        axis_azimuth_rad: f64,
    },
    /// A plate of a uniaxial crystal cut across its optic axis, which stands along the microscope's; with optical activity where the crystal has it.
    Across {
        /// The crystal.
        crystal: Uniaxial,
        /// Thickness, micrometres.
        thickness_um: f64,
    },
    /// A plate of a uniaxial crystal cut at any angle to its optic axis, with optical activity where the crystal has it.
    Askew(AskewPlate),
    /// A plate of a crystal with two optic axes.
    Biaxial(BiaxialPlate),
}

/// What a crystal plate does to one ray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrystalRay {
    /// Azimuth, in the pupil frame, of the extraordinary vibration; of the slow one where the crystal has two optic axes.
    pub azimuth_rad: f64,
    /// Path difference extraordinary minus ordinary, or slow minus fast, nm.
    pub path_difference_nm: f64,
    /// Path difference right circular minus left circular vibration, nm, that optical activity gives besides.
    pub circular_nm: f64,
}

impl Specimen {
    /// Whether half a turn about the axis leaves it as it is, so that two rays opposite to each other meet the same. A crystal whose optic axes lean may
    /// have none of that.
    #[must_use]
    pub fn is_twofold(&self) -> bool {
        !matches!(self, Self::Askew(_) | Self::Biaxial(_))
    }

    /// What the specimen does to one ray at one wavelength.
    #[must_use]
    pub fn ray(&self, ray: Ray, wavelength_nm: f64) -> CrystalRay {
        match self {
            Self::Stated {
                path_difference_nm,
                slow_azimuth_rad,
            } => CrystalRay {
                azimuth_rad: *slow_azimuth_rad,
                path_difference_nm: *path_difference_nm,
                circular_nm: 0.0,
            },
            Self::Plate {
                crystal,
                thickness_um,
                axis_azimuth_rad,
            } => {
                let indices = indices(crystal, wavelength_nm);
                CrystalRay::of(ray, *axis_azimuth_rad, *thickness_um, indices)
            }
            Self::Across {
                crystal,
                thickness_um,
            } => {
                let indices = indices(crystal, wavelength_nm);
                let seen = CrystalRay::across(ray, *thickness_um, indices);
                match &crystal.rotation {
                    None => seen,
                    Some(power) => {
                        let waves = across_axis(ray, indices);
                        CrystalRay {
                            circular_nm: circular_nm(power, *thickness_um, waves, wavelength_nm),
                            ..seen
                        }
                    }
                }
            }
            Self::Askew(plate) => plate.ray(ray, wavelength_nm),
            Self::Biaxial(plate) => plate.ray(ray, wavelength_nm),
        }
    }

    /// Its azimuth, radians, where it has one: that of a stated slow direction, of the optic axis as it is seen in the plate, or of
    /// [`BiaxialPlate::azimuth_rad`].
    #[must_use]
    pub fn azimuth_rad(&self) -> Option<f64> {
        match self {
            Self::Stated {
                slow_azimuth_rad: azimuth_rad,
                ..
            }
            | Self::Plate {
                axis_azimuth_rad: azimuth_rad,
                ..
            }
            | Self::Askew(AskewPlate { azimuth_rad, .. })
            | Self::Biaxial(BiaxialPlate { azimuth_rad, .. }) => Some(*azimuth_rad),
            Self::Across { .. } => None,
        }
    }

    /// Whether half a turn of the stage makes another specimen of it: a crystal of which an axis leans.
    #[must_use]
    pub fn has_one_side(&self) -> bool {
        match self {
            Self::Stated { .. } | Self::Plate { .. } | Self::Across { .. } => false,
            Self::Askew(_) => true,
            Self::Biaxial(plate) => plate.is_tilted(),
        }
    }

    /// The same, to set.
    pub fn azimuth_mut(&mut self) -> Option<&mut f64> {
        match self {
            Self::Stated {
                slow_azimuth_rad: azimuth_rad,
                ..
            }
            | Self::Plate {
                axis_azimuth_rad: azimuth_rad,
                ..
            }
            | Self::Askew(AskewPlate { azimuth_rad, .. })
            | Self::Biaxial(BiaxialPlate { azimuth_rad, .. }) => Some(azimuth_rad),
            Self::Across { .. } => None,
        }
    }
}

/// Ordinary and extraordinary.
fn indices(crystal: &Uniaxial, wavelength_nm: f64) -> (f64, f64) {
    (
        crystal.ordinary.at(wavelength_nm),
        crystal.extraordinary.at(wavelength_nm),
    )
}

impl CrystalRay {
    /// What a plate does to a ray: principal indices `(no, ne)`, the optic axis in the plane of the plate.
    ///
    /// `Gamma = d (k_ez - k_oz)` with `k_oz = sqrt(no^2 - s^2)` and
    /// `k_ez = sqrt(ne^2 - s_across^2 - s_along^2 ne^2/no^2)`; the extraordinary vibration is the axis' projection
    /// across the ray at the mean index.
    ///
    /// Source: Yeh and Gu, chapter 3; Born and Wolf, chapter 15 (from memory).
    /// Checked by: `tests/published/oblique_plates.rs`.
    #[must_use]
    pub fn of(ray: Ray, axis_azimuth_rad: f64, thickness_um: f64, (no, ne): (f64, f64)) -> Self {
        let (sin, cos) = math::sincos(axis_azimuth_rad - ray.azimuth_rad);
        let (along, across) = (ray.s * cos, ray.s * sin);
        let k_o = (no * no - ray.s * ray.s).sqrt();
        let k_e = (ne * ne - across * across - (along * ne / no).powi(2)).sqrt();
        let tilt = cosine(0.5 * (no + ne), ray.s);
        Self {
            azimuth_rad: ray.azimuth_rad + math::atan2(sin, tilt * cos),
            path_difference_nm: 1e3 * thickness_um * (k_e - k_o),
            circular_nm: 0.0,
        }
    }

    /// What a plate does to a ray: principal indices `(no, ne)`, the plate cut across its optic axis.
    ///
    /// `Gamma = d (k_ez - k_oz)` with `k_oz = sqrt(no^2 - s^2)` and `k_ez = (no/ne) sqrt(ne^2 - s^2)`; the extraordinary vibration lies
    /// in the meridional plane.
    ///
    /// Source: Yeh and Gu, chapter 3; Born and Wolf, chapter 15 (from memory).
    /// Checked by: `tests/published/across_plates.rs`.
    #[must_use]
    pub fn across(ray: Ray, thickness_um: f64, (no, ne): (f64, f64)) -> Self {
        let k_o = (no * no - ray.s * ray.s).sqrt();
        let k_e = no / ne * (ne * ne - ray.s * ray.s).sqrt();
        Self {
            azimuth_rad: ray.azimuth_rad,
            path_difference_nm: 1e3 * thickness_um * (k_e - k_o),
            circular_nm: 0.0,
        }
    }

    /// Path difference of the two vibrations that cross unchanged: with optical activity they are elliptic, and their squares add.
    ///
    /// Source: J. F. Nye, Physical Properties of Crystals, chapter 14; from memory. Checked by: `tests/reference/crystals.rs`.
    #[must_use]
    pub fn between_modes_nm(&self) -> f64 {
        match self.circular_nm {
            0.0 => self.path_difference_nm.abs(),
            circular_nm => math::hypot(self.path_difference_nm, circular_nm),
        }
    }

    /// Cosine of half the phase, then the sine of half the phase times the shares of the vibration at `azimuth_rad`, and of the right circular one:
    /// the retarder `cos + i sin (C sigma_1 + S sigma_2 + r sigma_3)`, `C^2 + S^2 + r^2 = 1`, with its azimuth counted from p still to be put in.
    #[must_use]
    pub fn elliptic(&self, wavelength_nm: f64) -> [f64; 3] {
        let whole_nm = self.between_modes_nm();
        let (sin, cos) = math::sincos(PI * whole_nm / wavelength_nm);
        // Without a path difference it does nothing, and has no modes.
        let share = |part_nm: f64| match whole_nm {
            0.0 => 0.0,
            whole_nm => sin * part_nm / whole_nm,
        };
        [cos, share(self.path_difference_nm), share(self.circular_nm)]
    }

    /// As linear elements in the order of the light. An elliptic retarder is a rotation, which two half-wave retarders make, followed by a linear
    /// retarder.
    ///
    /// With the Pauli matrices of these Stokes parameters `cos a + i sin a sigma_3` turns vibrations by `a` counter-clockwise, and
    /// `sigma_1 sigma_3 = i sigma_2`, `sigma_2 sigma_3 = -i sigma_1`.
    ///
    /// Checked by: `tests/laws/routes.rs`, kernel against these elements.
    #[must_use]
    pub fn elements(&self, wavelength_nm: f64) -> Vec<LinearElement> {
        if self.circular_nm == 0.0 {
            let phase = TAU * self.path_difference_nm / wavelength_nm;
            return vec![LinearElement::retarder(self.azimuth_rad, phase)];
        }
        let [cos, linear, circular] = self.elliptic(wavelength_nm);
        let (s, c) = math::sincos(2.0 * self.azimuth_rad);
        let (one, two) = (linear * c, linear * s);
        let turn = math::atan2(circular, cos);
        let (sin, cos_turn) = math::sincos(turn);
        let (one, two) = (one * cos_turn - two * sin, two * cos_turn + one * sin);
        let half_phase = math::atan2(math::hypot(one, two), math::hypot(cos, circular));
        vec![
            LinearElement::retarder(0.0, PI),
            LinearElement::retarder(0.5 * turn, PI),
            LinearElement::retarder(0.5 * math::atan2(two, one), 2.0 * half_phase),
        ]
    }
}

/// Of a plate cut across its axis: what [`circular_nm`] asks of its waves.
fn across_axis(ray: Ray, (no, ne): (f64, f64)) -> (f64, f64, f64) {
    let square = ray.s * ray.s;
    let k_o = (no * no - square).sqrt();
    let k_e = no / ne * (ne * ne - square).sqrt();
    let normal = 0.5 * (k_o + k_e);
    (no, normal, normal * normal / (normal * normal + square))
}

/// Path difference right minus left circular, nm, of a plate of an active crystal. Of the waves it takes the ordinary index, the mean of both normal
/// components, and the square of the cosine between the mean of both normals and the optic axis.
///
/// Along the axis light is turned clockwise by `rho` for each length, so the left circular vibration is the slower one: `(n_L - n_R) d = rho d lambda / pi`
/// (`rho` in radians). At an angle `theta` to the axis the gyration is `G_33 cos^2 theta + G_11 sin^2 theta`, and both waves' normal components differ by
/// `G / k_z`.
///
/// Source: J. F. Nye, Physical Properties of Crystals, chapter 14, and M. Born and E. Wolf, section 15; from memory.
/// Checked by: `tests/reference/crystals.rs` against a 4x4 solver with that gyration.
pub(super) fn circular_nm(
    power: &RotatoryPower,
    thickness_um: f64,
    (no, normal, along): (f64, f64, f64),
    wavelength_nm: f64,
) -> f64 {
    let turned_rad = power.deg_per_mm(wavelength_nm).to_radians() * 1e-3 * thickness_um;
    let gyration = along + power.across_over_along * (1.0 - along);
    -turned_rad * wavelength_nm / PI * gyration * no / normal
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calculus::{Complex, Jones};
    use crate::material::catalog;

    const AXIS: Ray = Ray {
        s: 0.0,
        azimuth_rad: 0.0,
    };

    fn section(thickness_um: f64, is_left: bool) -> Specimen {
        let mut crystal = catalog::crystal("quartz").unwrap();
        if let Some(power) = &mut crystal.rotation {
            power.is_left = is_left;
        }
        Specimen::Across {
            crystal,
            thickness_um,
        }
    }

    fn jones(seen: &CrystalRay, nm: f64) -> Jones {
        let elements = seen.elements(nm);
        elements
            .iter()
            .fold(Jones::identity(), |whole, element| element.jones() * whole)
    }

    /// A millimetre of right-handed quartz turns sodium light by 21.7 degrees clockwise as the eye sees it, so azimuths fall.
    #[test]
    fn quartz_turns_light_along_its_axis() {
        for (is_left, expected) in [(false, -21.72), (true, 21.72)] {
            let seen = section(1000.0, is_left).ray(AXIS, 589.3);
            let out = jones(&seen, 589.3).0
                * nalgebra::Vector2::new(Complex::from(1.0), Complex::from(0.0));
            let ratio = out[1] / out[0];
            assert!(ratio.im.abs() < 1e-14, "stays linear: {ratio}");
            let azimuth = math::atan2(ratio.re, 1.0).to_degrees();
            assert!((azimuth - expected).abs() < 0.01, "{azimuth}");
        }
    }

    /// What is told as three linear elements is the matrix that the kernel computes.
    #[test]
    fn an_elliptic_retarder_is_three_linear_ones() {
        for k in 0..40 {
            let k = f64::from(k);
            let seen = CrystalRay {
                azimuth_rad: 0.37 * k,
                path_difference_nm: 90.0 * math::sin(1.3 * k) * k,
                circular_nm: 70.0 * math::cos(2.1 * k + 0.1),
            };
            let nm = 500.0 + 5.0 * k;
            let [cos, linear, r] = seen.elliptic(nm);
            let (s, c) = math::sincos(2.0 * seen.azimuth_rad);
            let (p, q) = (linear * c, linear * s);
            // cos + i (p sigma_1 + q sigma_2 + r sigma_3), sigma_3 = ((0, i), (-i, 0)).
            let i = Complex::new(0.0, 1.0);
            let expected = [cos + i * p, i * q - r, i * q + r, cos - i * p];
            let got = jones(&seen, nm).0;
            let got = [got.m11, got.m12, got.m21, got.m22];
            // They may differ by a sign, which no light shows.
            let sign = if (got[0] * expected[0].conj()).re + (got[1] * expected[1].conj()).re < 0.0
            {
                -1.0
            } else {
                1.0
            };
            for (got, expected) in got.iter().zip(expected) {
                assert!(
                    (got * sign - expected).norm() < 1e-13,
                    "{k}: {got} {expected}"
                );
            }
        }
    }
}
