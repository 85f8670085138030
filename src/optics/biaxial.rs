//! A plate of a crystal with two optic axes.

use super::rays::Ray;
use super::specimen::CrystalRay;
use crate::material::Biaxial;
use crate::math;

/// Newton's method ends when a step is smaller than this fraction of the wave's normal component.
const STEP: f64 = 1e-15;
/// It takes four or five steps; the rest is room for indices that no crystal has.
const MOST_STEPS: usize = 60;
/// A direction this near to the plate's normal has no azimuth of its own: its sine's square.
const UPRIGHT: f64 = 1e-12;

/// A plate of a crystal with two optic axes, cut at any angle.
#[derive(Debug, Clone, PartialEq)]
pub struct BiaxialPlate {
    /// The crystal.
    pub crystal: Biaxial,
    /// Thickness, micrometres.
    pub thickness_um: f64,
    /// Components, along X, Y and Z of the indicatrix, of the plate's normal on the side of the eye; not all of them nought. Its length does not
    /// matter.
    pub normal: [f64; 3],
    /// Azimuth, radians, of Z as it is seen in the plate, or of Y where Z stands upright. Where the normal is X, Y or Z this is the slow
    /// direction.
    pub azimuth_rad: f64,
}

/// The inverse of a plate's dielectric tensor in the frame of the stage (x East, y North, z toward the eye): what it is at one wavelength.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Impermeability {
    xx: f64,
    yy: f64,
    zz: f64,
    xy: f64,
    xz: f64,
    yz: f64,
    /// The largest principal index.
    largest_index: f64,
}

impl BiaxialPlate {
    /// Whether no axis of the indicatrix stands upright: the plate turned by half a turn is then another.
    #[must_use]
    pub fn is_tilted(&self) -> bool {
        let lying = self.normal.iter().filter(|n| **n == 0.0).count();
        lying < 2
    }

    /// The directions of X, Y and Z in the frame of the stage.
    #[must_use]
    pub fn axes(&self) -> [[f64; 3]; 3] {
        let length = dot(self.normal, self.normal).sqrt();
        let up = self.normal.map(|n| n / length);
        // The part of Z, or of Y, that lies in the plate.
        let lying = |axis: usize| {
            let mut part = up.map(|n| -n * up[axis]);
            part[axis] += 1.0;
            let square = dot(part, part);
            (square > UPRIGHT).then(|| part.map(|p| p / square.sqrt()))
        };
        let along = lying(2).or_else(|| lying(1)).unwrap_or([0.0, 1.0, 0.0]);
        let across = [
            up[1] * along[2] - up[2] * along[1],
            up[2] * along[0] - up[0] * along[2],
            up[0] * along[1] - up[1] * along[0],
        ];
        let (sin, cos) = math::sincos(self.azimuth_rad);
        [0, 1, 2].map(|axis| {
            let (a, b) = (along[axis], across[axis]);
            [cos * a - sin * b, sin * a + cos * b, up[axis]]
        })
    }

    /// The two optic axes as unit vectors in the frame of the stage, each in the sense that points toward the eye.
    #[must_use]
    pub fn optic_axes(&self, wavelength_nm: f64) -> [[f64; 3]; 2] {
        let [x, _, z] = self.axes();
        let (sin, cos) = math::sincos(self.crystal.angle_from_z_rad(wavelength_nm));
        [1.0, -1.0].map(|side| {
            let axis = [0, 1, 2].map(|k| cos * z[k] + side * sin * x[k]);
            let sense = if axis[2] < 0.0 { -1.0 } else { 1.0 };
            axis.map(|component| sense * component)
        })
    }

    /// The impermeability at one wavelength.
    #[must_use]
    pub fn impermeability(&self, wavelength_nm: f64) -> Impermeability {
        let indices = self.crystal.indices(wavelength_nm);
        let axes = self.axes();
        let sum = |i: usize, j: usize| -> f64 {
            (axes.iter().zip(indices))
                .map(|(axis, n)| axis[i] * axis[j] / (n * n))
                .sum()
        };
        Impermeability {
            xx: sum(0, 0),
            yy: sum(1, 1),
            zz: sum(2, 2),
            xy: sum(0, 1),
            xz: sum(0, 2),
            yz: sum(1, 2),
            largest_index: indices.into_iter().fold(0.0, f64::max),
        }
    }

    /// What the plate does to a ray.
    #[must_use]
    pub fn ray(&self, ray: Ray, wavelength_nm: f64) -> CrystalRay {
        let modes = self.impermeability(wavelength_nm).modes(ray);
        let [cos2, sin2] = modes.slow;
        CrystalRay {
            azimuth_rad: ray.azimuth_rad + 0.5 * math::atan2(sin2, cos2),
            path_difference_nm: 1e3 * self.thickness_um * modes.difference(),
            circular_nm: 0.0,
        }
    }
}

/// The two waves of one tangential component in a plate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlateModes {
    /// Normal component of the wave vector over that of a vacuum wave: of the slow wave, then of the fast one.
    pub normal: [f64; 2],
    /// Cosine and sine of twice the azimuth of the slow vibration, counted from p.
    pub slow: [f64; 2],
}

impl PlateModes {
    /// Path difference for each length of the plate's thickness.
    #[must_use]
    pub fn difference(&self) -> f64 {
        self.normal[0] - self.normal[1]
    }
}

impl Impermeability {
    /// The two waves that a ray becomes in the plate.
    ///
    /// A wave of the normal `k = (s, 0, k_z)` (in the plane of the ray; vacuum waves of length 1) vibrates (its D) across `k`, and its index `n` is a
    /// half axis of the section of the indicatrix across `k`: `1/n^2` is an eigenvalue of the impermeability's section, `|k| = n`. With p and s across `k`,
    ///
    /// ```text
    /// A = |k|^2 eta_ss    B = |k|^2 eta_ps    C = |k|^2 eta_pp
    /// (A + C)/2 -+ sqrt((A - C)^2/4 + B^2) = 1        - slow wave, + fast wave
    /// ```
    ///
    /// which, multiplied out, is the quartic of Booker in `k_z`. It is solved by Newton's method root by root: taken apart in this way, the two roots
    /// keep their digits where they meet, at the optic axes. The directions of vibration are those of the section across the mean of both waves' normals.
    ///
    /// Source: the index ellipsoid: M. Born and E. Wolf, Principles of Optics, section 15.2.3; Booker's quartic: from memory.
    /// Checked by: `tests/reference/crystals.rs` against a 4x4 solver.
    #[must_use]
    pub fn modes(&self, ray: Ray) -> PlateModes {
        let (sin, cos) = math::sincos(ray.azimuth_rad);
        let (cc, ss, cs) = (cos * cos, sin * sin, cos * sin);
        let turned = RayFrame {
            q: ray.s,
            pp: cc * self.xx + ss * self.yy + 2.0 * cs * self.xy,
            ss: ss * self.xx + cc * self.yy - 2.0 * cs * self.xy,
            zz: self.zz,
            ps: cs * (self.yy - self.xx) + (cc - ss) * self.xy,
            pz: cos * self.xz + sin * self.yz,
            sz: cos * self.yz - sin * self.xz,
        };
        // No wave has a larger normal component, and from above Newton's method cannot miss.
        let start = (self.largest_index * self.largest_index - ray.s * ray.s).sqrt();
        let normal = [-1.0, 1.0].map(|branch| turned.root(branch, start));
        let mean = turned.section(0.5 * (normal[0] + normal[1]));
        let slow = match mean.half_difference {
            0.0 => [1.0, 0.0],
            half => [mean.half_sum_of_difference / half, -mean.b / half],
        };
        PlateModes { normal, slow }
    }
}

/// An impermeability in the frame of a ray: p along its tangential component `q`, s across it, z.
struct RayFrame {
    q: f64,
    pp: f64,
    ss: f64,
    zz: f64,
    ps: f64,
    pz: f64,
    sz: f64,
}

/// The section across a wave's normal, times the square of its length, with its slope over `k_z`.
struct WaveSection {
    /// `(A + C)/2`, and its slope.
    mean: f64,
    mean_slope: f64,
    /// `(A - C)/2`.
    half_sum_of_difference: f64,
    /// `B`.
    b: f64,
    /// `sqrt((A - C)^2/4 + B^2)`, and its slope.
    half_difference: f64,
    half_difference_slope: f64,
}

impl RayFrame {
    fn section(&self, kz: f64) -> WaveSection {
        let q = self.q;
        let square = q * q + kz * kz;
        let length = square.sqrt();
        let (a, a_slope) = (self.ss * square, 2.0 * kz * self.ss);
        let c = kz * (kz * self.pp - 2.0 * q * self.pz) + q * q * self.zz;
        let c_slope = 2.0 * (kz * self.pp - q * self.pz);
        let tilted = kz * self.ps - q * self.sz;
        let (b, b_slope) = (length * tilted, kz / length * tilted + length * self.ps);
        let off = 0.5 * (a - c);
        let half = (off * off + b * b).sqrt();
        WaveSection {
            mean: 0.5 * (a + c),
            mean_slope: 0.5 * (a_slope + c_slope),
            half_sum_of_difference: off,
            b,
            half_difference: half,
            half_difference_slope: if half > 0.0 {
                (0.5 * off * (a_slope - c_slope) + b * b_slope) / half
            } else {
                0.0
            },
        }
    }

    /// The normal component of the slow wave (`branch` -1) or of the fast one (1).
    fn root(&self, branch: f64, start: f64) -> f64 {
        let mut kz = start;
        for _ in 0..MOST_STEPS {
            let here = self.section(kz);
            let off = here.mean + branch * here.half_difference - 1.0;
            let step = off / (here.mean_slope + branch * here.half_difference_slope);
            kz -= step;
            if step.abs() <= STEP * kz {
                break;
            }
        }
        kz
    }
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{FRAC_PI_2, PI};

    use super::*;
    use crate::material::{Index, Uniaxial};
    use crate::optics::Specimen;

    const NM: f64 = 589.3;

    fn plate(indices: [f64; 3], normal: [f64; 3], azimuth_rad: f64) -> BiaxialPlate {
        BiaxialPlate {
            crystal: Biaxial {
                name: String::new(),
                principal: indices.map(Index::Constant),
                middle_shift: 0.0,
            },
            thickness_um: 30.0,
            normal,
            azimuth_rad,
        }
    }

    fn rays() -> impl Iterator<Item = Ray> {
        (0..60).map(|k| Ray {
            s: 0.95 * f64::from(k % 6) / 5.0,
            azimuth_rad: 0.7 * f64::from(k / 6),
        })
    }

    #[test]
    fn axes_stand_at_right_angles_and_the_normal_is_upright() {
        for normal in [
            [1.0, 0.0, 0.0],
            [0.0, -2.0, 0.0],
            [0.0, 0.0, 1.0],
            [0.3, -0.4, 0.8],
            [1e-9, 0.0, 1.0],
        ] {
            let axes = plate([1.5, 1.55, 1.6], normal, 0.4).axes();
            for i in 0..3 {
                for j in 0..3 {
                    let expected = f64::from(u8::from(i == j));
                    assert!((dot(axes[i], axes[j]) - expected).abs() < 1e-14);
                }
                let length = dot(normal, normal).sqrt();
                assert!((axes[i][2] - normal[i] / length).abs() < 1e-15);
            }
            // Right-handed, as seen from the eye.
            let [x, y, z] = axes;
            let cross = [
                x[1] * y[2] - x[2] * y[1],
                x[2] * y[0] - x[0] * y[2],
                x[0] * y[1] - x[1] * y[0],
            ];
            assert!((dot(cross, z) - 1.0).abs() < 1e-14);
        }
    }

    #[test]
    fn along_the_normal_both_indices_are_those_of_the_other_axes() {
        let indices = [1.53, 1.61, 1.68];
        for (normal, fast, slow) in [
            ([1.0, 0.0, 0.0], 1.61, 1.68),
            ([0.0, 1.0, 0.0], 1.53, 1.68),
            ([0.0, 0.0, 1.0], 1.53, 1.61),
        ] {
            let plate = plate(indices, normal, 0.6);
            let ray = Ray {
                s: 0.0,
                azimuth_rad: 2.0,
            };
            let modes = plate.impermeability(NM).modes(ray);
            assert!((modes.normal[0] - slow).abs() < 4e-16 * 4.0, "{modes:?}");
            assert!((modes.normal[1] - fast).abs() < 4e-16 * 4.0, "{modes:?}");
            // The slow direction is at the azimuth that is told.
            let off = (plate.ray(ray, NM).azimuth_rad - 0.6).rem_euclid(PI);
            assert!(off.min(PI - off) < 1e-14, "{off}");
        }
    }

    /// With two indices alike the plate is that of a uniaxial crystal, cut along its axis or across it.
    #[test]
    fn the_uniaxial_limit() {
        for (no, ne) in [(1.5442, 1.5533), (1.6584, 1.4864)] {
            let crystal = Uniaxial {
                name: String::new(),
                ordinary: Index::Constant(no),
                extraordinary: Index::Constant(ne),
                rotation: None,
            };
            // The axis is Z where it is the largest, else X.
            let positive = ne > no;
            let indices = if positive { [no, no, ne] } else { [ne, no, no] };
            let axis = if positive {
                [0.0, 0.0, 1.0]
            } else {
                [1.0, 0.0, 0.0]
            };
            let along = Specimen::Plate {
                crystal: crystal.clone(),
                thickness_um: 30.0,
                axis_azimuth_rad: if positive { 0.5 } else { 0.5 + FRAC_PI_2 },
            };
            let across = Specimen::Across {
                crystal,
                thickness_um: 30.0,
            };
            for (uniaxial, biaxial) in [
                (along, plate(indices, [0.0, 1.0, 0.0], 0.5)),
                (across, plate(indices, axis, 0.5)),
            ] {
                for ray in rays() {
                    let (one, other) = (uniaxial.ray(ray, NM), biaxial.ray(ray, NM));
                    // The slow direction against the extraordinary one, which is the fast one of a negative crystal.
                    let gamma = one.path_difference_nm.abs();
                    let off = (gamma - other.path_difference_nm).abs();
                    assert!(off < 1e-9, "{one:?} {other:?}");
                    let slow = match one.path_difference_nm > 0.0 {
                        true => one.azimuth_rad,
                        false => one.azimuth_rad + FRAC_PI_2,
                    };
                    let turned = (other.azimuth_rad - slow).rem_euclid(PI);
                    // A uniaxial plate's vibrations are taken at the mean of both principal indices, here at the mean of the two waves.
                    let off = turned.min(PI - turned);
                    assert!(
                        gamma < 1e-6 || off < 0.05 * (ne - no).abs(),
                        "{off} {ray:?}"
                    );
                }
            }
        }
    }

    /// At the optic axes both waves are one, however the plate is cut.
    #[test]
    fn there_is_no_path_difference_along_an_optic_axis() {
        let indices = [1.564, 1.5985, 1.6025];
        for normal in [[1.0, 0.0, 0.0], [0.9, 0.1, -0.2], [0.95, 0.0, 0.3]] {
            let plate = plate(indices, normal, 1.1);
            for [x, y, _] in plate.optic_axes(NM) {
                let ray = Ray {
                    s: indices[1] * math::hypot(x, y),
                    azimuth_rad: math::atan2(y, x),
                };
                let seen = plate.ray(ray, NM).path_difference_nm;
                assert!(seen.abs() < 1e-9, "{normal:?}: {seen}");
            }
        }
    }

    #[test]
    fn a_plate_turned_is_the_same_plate_seen_by_turned_rays() {
        let straight = plate([1.53, 1.61, 1.68], [0.4, 0.3, 0.8], 0.2);
        let turned = BiaxialPlate {
            azimuth_rad: 0.9,
            ..straight.clone()
        };
        for ray in rays() {
            let (a, b) = (
                straight.ray(ray, NM),
                turned.ray(
                    Ray {
                        azimuth_rad: ray.azimuth_rad + 0.7,
                        ..ray
                    },
                    NM,
                ),
            );
            assert!((a.path_difference_nm - b.path_difference_nm).abs() < 1e-9);
            let off = (b.azimuth_rad - a.azimuth_rad - 0.7).rem_euclid(PI);
            assert!(off.min(PI - off) < 1e-11, "{off}");
        }
    }
}
