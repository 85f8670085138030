//! A plate of a crystal with one optic axis, cut at any angle to it.

use super::rays::Ray;
use super::specimen::{CrystalRay, circular_nm};
use crate::material::Uniaxial;
use crate::math;

/// A plate of a uniaxial crystal whose optic axis leans, with optical activity where the crystal has it.
///
/// # Examples
/// ```
/// use polstack::optics::{AskewPlate, Ray};
/// let plate = AskewPlate {
///     crystal: polstack::material::catalog::crystal("calcite").unwrap(),
///     thickness_um: 30.0,
///     axis_from_normal_rad: 30f64.to_radians(),
///     azimuth_rad: 0.0,
/// };
/// // Light that runs along the optic axis has the ordinary index, and nothing is retarded.
/// let s = plate.crystal.ordinary.at(550.0) * 0.5;
/// let seen = plate.ray(Ray { s, azimuth_rad: 0.0 }, 550.0);
/// assert!(seen.path_difference_nm.abs() < 1e-9);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct AskewPlate {
    /// The crystal.
    pub crystal: Uniaxial,
    /// Thickness, micrometres.
    pub thickness_um: f64,
    /// Angle between the optic axis and the plate's normal, radians: 0 where the axis stands upright, a right angle where it lies in the plate.
    pub axis_from_normal_rad: f64,
    /// Azimuth, radians, toward which the axis leans: that of its end on the side of the eye, as it is seen in the plate.
    pub azimuth_rad: f64,
}

impl AskewPlate {
    /// What the plate does to a ray.
    #[must_use]
    pub fn ray(&self, ray: Ray, wavelength_nm: f64) -> CrystalRay {
        self.ray_at(ray, wavelength_nm, self.indices(wavelength_nm))
    }

    /// Ordinary and extraordinary index.
    pub(crate) fn indices(&self, wavelength_nm: f64) -> (f64, f64) {
        let Uniaxial {
            ordinary,
            extraordinary,
            ..
        } = &self.crystal;
        (ordinary.at(wavelength_nm), extraordinary.at(wavelength_nm))
    }

    /// [`ray`](Self::ray) with the indices `(no, ne)` of the wavelength.
    ///
    /// With the axis `c` and a wave's normal `k = (s, 0, k_z)`, both in the ray's frame of p, s and z, the extraordinary wave has
    /// `|k|^2 + beta (k c)^2 = ne^2`, `beta = (ne^2 - no^2)/no^2`, which is of the second degree in `k_z`; the ordinary one has `|k|^2 = no^2`. The
    /// extraordinary vibration is the axis as it is seen along the mean of both normals.
    ///
    /// Source: A. Yariv and P. Yeh, Optical Waves in Crystals, chapter 4, the two sheets of the normal surface; from memory.
    /// Checked by: `tests/reference/crystals.rs` against a 4x4 solver.
    pub(crate) fn ray_at(&self, ray: Ray, wavelength_nm: f64, (no, ne): (f64, f64)) -> CrystalRay {
        let (lying, z) = math::sincos(self.axis_from_normal_rad);
        let (sin, cos) = math::sincos(self.azimuth_rad - ray.azimuth_rad);
        let (p, s) = (lying * cos, lying * sin);
        let square = ray.s * ray.s;
        let beta = (ne * ne - no * no) / (no * no);
        let (a, b) = (1.0 + beta * z * z, beta * z * p * ray.s);
        let k_o = (no * no - square).sqrt();
        let k_e = ((b * b + a * (ne * ne - square * (1.0 + beta * p * p))).sqrt() - b) / a;
        let normal = 0.5 * (k_o + k_e);
        let length = math::hypot(ray.s, normal);
        CrystalRay {
            azimuth_rad: ray.azimuth_rad + math::atan2(length * s, normal * p - ray.s * z),
            path_difference_nm: 1e3 * self.thickness_um * (k_e - k_o),
            circular_nm: match &self.crystal.rotation {
                None => 0.0,
                Some(power) => {
                    let along = (ray.s * p + normal * z) / length;
                    let waves = (no, normal, along * along);
                    circular_nm(power, self.thickness_um, waves, wavelength_nm)
                }
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{FRAC_PI_2, PI};

    use super::*;
    use crate::material::{Biaxial, Index, catalog};
    use crate::optics::{BiaxialPlate, Specimen};

    const NM: f64 = 589.3;

    fn askew(crystal: Uniaxial, degrees: f64) -> AskewPlate {
        AskewPlate {
            crystal,
            thickness_um: 30.0,
            axis_from_normal_rad: degrees.to_radians(),
            azimuth_rad: 0.6,
        }
    }

    fn rays() -> impl Iterator<Item = Ray> {
        (0..60).map(|k| Ray {
            s: 0.95 * f64::from(k % 6) / 5.0,
            azimuth_rad: 0.7 * f64::from(k / 6),
        })
    }

    /// How far two linear vibrations are from each other, radians.
    fn between(one_rad: f64, other_rad: f64) -> f64 {
        let off = (one_rad - other_rad).rem_euclid(PI);
        off.min(PI - off)
    }

    /// Upright and lying in the plate, it is what the two older cuts are.
    #[test]
    fn both_ends_are_the_other_cuts() {
        for name in ["quartz", "calcite"] {
            let crystal = catalog::crystal(name).unwrap();
            let upright = Specimen::Across {
                crystal: crystal.clone(),
                thickness_um: 30.0,
            };
            let lying = Specimen::Plate {
                crystal: crystal.clone(),
                thickness_um: 30.0,
                axis_azimuth_rad: 0.6,
            };
            let birefringence = crystal.birefringence(NM).abs();
            for ray in rays() {
                let (got, expected) = (
                    askew(crystal.clone(), 0.0).ray(ray, NM),
                    upright.ray(ray, NM),
                );
                assert!((got.path_difference_nm - expected.path_difference_nm).abs() < 2e-10);
                assert!((got.circular_nm - expected.circular_nm).abs() < 1e-12);
                let off = between(got.azimuth_rad, expected.azimuth_rad);
                assert!(ray.s == 0.0 || off < 1e-14, "{ray:?}: {off}");
                let (got, expected) = (
                    askew(crystal.clone(), 90.0).ray(ray, NM),
                    lying.ray(ray, NM),
                );
                assert!((got.path_difference_nm - expected.path_difference_nm).abs() < 2e-10);
                // That cut takes the vibration across the ray at the mean index, this one at the mean of both waves.
                let off = between(got.azimuth_rad, expected.azimuth_rad);
                assert!(off < 0.05 * birefringence, "{ray:?}: {off}");
            }
        }
    }

    /// A crystal with two optic axes of which two indices are alike, cut as it may be.
    #[test]
    fn the_biaxial_plate_with_two_indices_alike_is_the_same() {
        let (no, ne) = (1.52, 1.61);
        let crystal = Uniaxial {
            name: String::new(),
            ordinary: Index::Constant(no),
            extraordinary: Index::Constant(ne),
            rotation: None,
        };
        for degrees in [7.0f64, 33.0, 58.0, 81.0] {
            let plate = askew(crystal.clone(), degrees);
            let (sin, cos) = math::sincos(degrees.to_radians());
            let biaxial = BiaxialPlate {
                crystal: Biaxial {
                    name: String::new(),
                    principal: [no, no, ne].map(Index::Constant),
                    middle_shift: 0.0,
                },
                thickness_um: 30.0,
                normal: [sin, 0.0, cos],
                azimuth_rad: 0.6,
            };
            for ray in rays() {
                let (got, expected) = (plate.ray(ray, NM), biaxial.ray(ray, NM));
                let off = got.path_difference_nm - expected.path_difference_nm;
                assert!(off.abs() < 1e-9, "{degrees} {ray:?}: {off}");
                let off = between(got.azimuth_rad, expected.azimuth_rad);
                assert!(off < 1e-10, "{degrees} {ray:?}: {off}");
            }
        }
    }

    /// Half a turn of the stage is another plate unless the axis stands upright or lies in the plate.
    #[test]
    fn a_leaning_axis_has_one_side() {
        let ray = Ray {
            s: 0.4,
            azimuth_rad: 0.1,
        };
        for (degrees, alike) in [(0.0, true), (40.0, false), (90.0, true)] {
            let plate = askew(catalog::crystal("calcite").unwrap(), degrees);
            let turned = AskewPlate {
                azimuth_rad: plate.azimuth_rad + 2.0 * FRAC_PI_2,
                ..plate.clone()
            };
            let nm = |plate: &AskewPlate| plate.ray(ray, NM).path_difference_nm;
            assert_eq!((nm(&plate) - nm(&turned)).abs() < 1e-6, alike, "{degrees}");
        }
    }
}
