//! The hot loop: a chain run over rays and wavelengths.
//!
//! Vectors run along the wavelength; for one block of wavelengths all rays are crossed, ring by ring, and the sums
//! stay in registers. No closure holds vector arithmetic: it would not be compiled for the vectors chosen at run time. No fused multiply-add is used, and each wavelength is summed over the rays in one order, so the
//! bytes that come out do not depend on the width of the vectors nor on the number of threads.

use std::f64::consts::FRAC_1_PI;
use std::ops::{Add, Mul, Sub};

use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

use super::chain::{Axis, Chain, Link, Modes, Over, PAD, Table};
use crate::calculus::Coherency;

/// Coherency matrix behind the chain for each combination of versions and each wavelength, the weighted mean over
/// the rays, in the chain's frame.
pub(super) fn mean_coherency(chain: &Chain) -> Vec<Vec<Coherency>> {
    let arch = Arch::new();
    let walk = Walk::of(chain);
    let blocks: Vec<Vec<Coherency>> = (0..chain.padded / PAD)
        .into_par_iter()
        .map(|block| {
            let mut out = vec![Coherency::default(); chain.combinations() * PAD];
            arch.dispatch(Mean {
                chain,
                walk: &walk,
                first: block * PAD,
                out: &mut out,
            });
            out
        })
        .collect();
    (0..chain.combinations())
        .map(|combination| {
            let lanes = combination * PAD..(combination + 1) * PAD;
            let mut spectrum: Vec<_> = (blocks.iter())
                .flat_map(|block| block[lanes.clone()].iter().copied())
                .collect();
            spectrum.truncate(chain.wavelengths);
            spectrum
        })
        .collect()
}

/// The tree of versions, depth first: each step crosses one version of one stage, from the light that the stage before
/// left.
struct Walk {
    steps: Vec<Step>,
}

#[derive(Clone, Copy)]
struct Step {
    stage: usize,
    version: usize,
    /// The combination that is complete with this step.
    combination: Option<usize>,
}

impl Walk {
    fn of(chain: &Chain) -> Self {
        fn descend(chain: &Chain, stage: usize, number: usize, steps: &mut Vec<Step>) {
            for version in 0..chain.stages[stage].len() {
                let number = number * chain.stages[stage].len() + version;
                let last = stage + 1 == chain.stages.len();
                steps.push(Step {
                    stage,
                    version,
                    combination: last.then_some(number),
                });
                if !last {
                    descend(chain, stage + 1, number, steps);
                }
            }
        }
        let mut steps = Vec::new();
        descend(chain, 0, 0, &mut steps);
        Self { steps }
    }
}

/// Coherency matrix of each ray behind the chain (of first versions), summed over the wavelengths with `weight`, in the order of
/// [`crate::optics::Rays::iter`].
pub(super) fn ray_coherency(chain: &Chain, weight: &[f64]) -> Vec<Coherency> {
    let arch = Arch::new();
    let mut padded = weight.to_vec();
    padded.resize(chain.padded, 0.0);
    let mut rays = vec![Coherency::default(); chain.rings * chain.spokes];
    rays.par_chunks_mut(chain.spokes)
        .enumerate()
        .for_each(|(ring, out)| {
            arch.dispatch(Ring {
                chain,
                weight: &padded,
                ring,
                out,
            });
        });
    rays
}

/// A vector of wavelengths.
struct Lane<S: Simd> {
    simd: S,
    value: S::f64s,
}

impl<S: Simd> Clone for Lane<S> {
    #[inline(always)]
    fn clone(&self) -> Self {
        *self
    }
}

impl<S: Simd> Copy for Lane<S> {}

macro_rules! lane_operator {
    ($trait:ident, $method:ident, $intrinsic:ident) => {
        impl<S: Simd> $trait for Lane<S> {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                Self {
                    simd: self.simd,
                    value: self.simd.$intrinsic(self.value, other.value),
                }
            }
        }
    };
}
lane_operator!(Add, add, add_f64s);
lane_operator!(Sub, sub, sub_f64s);
lane_operator!(Mul, mul, mul_f64s);

#[inline(always)]
fn splat<S: Simd>(simd: S, value: f64) -> Lane<S> {
    Lane {
        simd,
        value: simd.splat_f64s(value),
    }
}

/// The wavelengths from `at` on.
#[inline(always)]
fn load<S: Simd>(simd: S, data: &[f64], at: usize) -> Lane<S> {
    Lane {
        simd,
        value: S::as_simd_f64s(&data[at..at + S::F64_LANES]).0[0],
    }
}

/// Real and imaginary parts of `(Ex, Ey)` of the lamp's two beams: `[beam][x re, x im, y re, y im]`.
type Beams<S> = [[Lane<S>; 4]; 2];

/// Where the kernel is: a ray and the first wavelength of a vector.
#[derive(Clone, Copy)]
struct Place {
    ring: usize,
    spoke: usize,
    ray: usize,
    wavelength: usize,
}

struct Mean<'a> {
    chain: &'a Chain,
    walk: &'a Walk,
    first: usize,
    out: &'a mut [Coherency],
}

impl WithSimd for Mean<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self {
            chain,
            walk,
            first,
            out,
        } = self;
        let mut light = vec![lamp(simd, chain); chain.stages.len() + 1];
        for block in (0..PAD).step_by(S::F64_LANES) {
            let mut totals = vec![[splat(simd, 0.0); 4]; chain.combinations()];
            for ring in 0..chain.rings {
                for spoke in 0..chain.spokes {
                    let place = Place {
                        ring,
                        spoke,
                        ray: ring * chain.spokes + spoke,
                        wavelength: first + block,
                    };
                    let weight = splat(simd, chain.ring_weight[ring] * chain.spoke_weight[spoke]);
                    for step in &walk.steps {
                        let mut beams = light[step.stage];
                        for link in &chain.stages[step.stage][step.version] {
                            cross(simd, chain.padded, link, place, &mut beams);
                        }
                        match step.combination {
                            None => light[step.stage + 1] = beams,
                            Some(combination) => {
                                let here = coherency(beams);
                                for (total, here) in totals[combination].iter_mut().zip(here) {
                                    *total = *total + weight * here;
                                }
                            }
                        }
                    }
                }
            }
            for (combination, total) in totals.into_iter().enumerate() {
                let start = combination * PAD + block;
                store(total, |lane, coherency| out[start + lane] = coherency);
            }
        }
    }
}

struct Ring<'a> {
    chain: &'a Chain,
    weight: &'a [f64],
    ring: usize,
    out: &'a mut [Coherency],
}

impl WithSimd for Ring<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self {
            chain,
            weight,
            ring,
            out,
        } = self;
        for (spoke, out) in out.iter_mut().enumerate() {
            let ray = ring * chain.spokes + spoke;
            // PAD sums, whatever the width of the vectors, so that the order of addition is always the same.
            let mut totals = [[splat(simd, 0.0); 4]; PAD];
            for start in (0..chain.padded).step_by(PAD) {
                for (block, total) in totals[..PAD / S::F64_LANES].iter_mut().enumerate() {
                    let place = Place {
                        ring,
                        spoke,
                        ray,
                        wavelength: start + block * S::F64_LANES,
                    };
                    let weight = load(simd, weight, place.wavelength);
                    let mut beams = lamp(simd, chain);
                    for link in chain.stages.iter().flat_map(|versions| &versions[0]) {
                        cross(simd, chain.padded, link, place, &mut beams);
                    }
                    for (total, here) in total.iter_mut().zip(coherency(beams)) {
                        *total = *total + weight * here;
                    }
                }
            }
            for total in &totals[..PAD / S::F64_LANES] {
                store(*total, |_, coherency| *out = out.plus(coherency));
            }
        }
    }
}

/// Hands each wavelength's coherency matrix on.
#[inline(always)]
fn store<S: Simd>(sums: [Lane<S>; 4], mut put: impl FnMut(usize, Coherency)) {
    let mut lanes = [[0.0; PAD]; 4];
    for (wide, sum) in lanes.iter_mut().zip(sums) {
        (sum.simd).partial_store_f64s(&mut wide[..S::F64_LANES], sum.value);
    }
    for lane in 0..S::F64_LANES {
        let [xx, yy, xy_re, xy_im] = lanes.map(|numbers| numbers[lane]);
        put(
            lane,
            Coherency {
                xx,
                yy,
                xy_re,
                xy_im,
            },
        );
    }
}

/// `<|Ex|^2>, <|Ey|^2>, Re <Ex Ey*>, Im <Ex Ey*>`, both beams added.
#[inline(always)]
fn coherency<S: Simd>(beams: Beams<S>) -> [Lane<S>; 4] {
    let [[ar, ai, br, bi], [cr, ci, dr, di]] = beams;
    [
        (ar * ar + ai * ai) + (cr * cr + ci * ci),
        (br * br + bi * bi) + (dr * dr + di * di),
        (ar * br + ai * bi) + (cr * dr + ci * di),
        (ai * br - ar * bi) + (ci * dr - cr * di),
    ]
}

/// The lamp's two beams.
#[inline(always)]
fn lamp<S: Simd>(simd: S, chain: &Chain) -> Beams<S> {
    let mut beams = [[splat(simd, 0.0); 4]; 2];
    for (column, beam) in beams.iter_mut().enumerate() {
        let (x, y) = (chain.lamp[(0, column)], chain.lamp[(1, column)]);
        for (lane, number) in beam.iter_mut().zip([x.re, x.im, y.re, y.im]) {
            *lane = splat(simd, number);
        }
    }
    beams
}

/// One link, applied to both beams.
#[inline(always)]
fn cross<S: Simd>(simd: S, padded: usize, link: &Link, place: Place, beams: &mut Beams<S>) {
    let [c, s] = match &link.axis {
        Axis::Fixed(axis) => *axis,
        Axis::Spoke(axes) => axes[place.spoke],
        Axis::Ray(axes) => axes[place.ray],
    };
    let (c, s) = (splat(simd, c), splat(simd, s));
    match &link.modes {
        Modes::Real(table) => {
            let [mean, half] = table.load(simd, padded, place);
            let (a, b, e) = (mean + half * c, half * s, mean - half * c);
            for [xr, xi, yr, yi] in beams {
                (*xr, *yr) = (a * *xr + b * *yr, b * *xr + e * *yr);
                (*xi, *yi) = (a * *xi + b * *yi, b * *xi + e * *yi);
            }
        }
        Modes::Complex(table) => {
            let [mean_re, mean_im, half_re, half_im] = table.load(simd, padded, place);
            let (ar, ai) = (mean_re + half_re * c, mean_im + half_im * c);
            let (br, bi) = (half_re * s, half_im * s);
            let (er, ei) = (mean_re - half_re * c, mean_im - half_im * c);
            for [xr, xi, yr, yi] in beams {
                let x_re = (ar * *xr - ai * *xi) + (br * *yr - bi * *yi);
                let x_im = (ar * *xi + ai * *xr) + (br * *yi + bi * *yr);
                let y_re = (br * *xr - bi * *xi) + (er * *yr - ei * *yi);
                let y_im = (br * *xi + bi * *xr) + (er * *yi + ei * *yr);
                [*xr, *xi, *yr, *yi] = [x_re, x_im, y_re, y_im];
            }
        }
        Modes::Phase(table) => {
            let [cos, sin] = table.load(simd, padded, place);
            retard(cos, sin * c, sin * s, beams);
        }
        Modes::Crystal(table) => {
            let [cos, p, q] = table.load(simd, padded, place);
            retard(cos, p, q, beams);
        }
        Modes::Strain {
            path_difference_nm,
            half_wavenumber,
        } => {
            let half_phase = splat(simd, path_difference_nm[place.ray])
                * load(simd, half_wavenumber, place.wavelength);
            let (sin, cos) = sin_cos_but_sign(simd, half_phase);
            retard(cos, sin * c, sin * s, beams);
        }
    }
}

/// The retarder `cos + i (p sigma_1 + q sigma_2)`.
#[inline(always)]
fn retard<S: Simd>(cos: Lane<S>, p: Lane<S>, q: Lane<S>, beams: &mut Beams<S>) {
    for [xr, xi, yr, yi] in beams {
        let x_re = cos * *xr - (p * *xi + q * *yi);
        let x_im = cos * *xi + (p * *xr + q * *yr);
        let y_re = cos * *yr - (q * *xi - p * *yi);
        let y_im = cos * *yi + (q * *xr - p * *yr);
        [*xr, *xi, *yr, *yi] = [x_re, x_im, y_re, y_im];
    }
}

impl<const N: usize> Table<N> {
    #[inline(always)]
    fn load<S: Simd>(&self, simd: S, padded: usize, place: Place) -> [Lane<S>; N] {
        let index = match self.over {
            Over::Nothing => 0,
            Over::Ring => place.ring,
            Over::Ray => place.ray,
        };
        let start = index * N * padded + place.wavelength;
        let mut numbers = [splat(simd, 0.0); N];
        for (number, lane) in numbers.iter_mut().enumerate() {
            *lane = load(simd, &self.data, start + number * padded);
        }
        numbers
    }
}

/// Sine and cosine of `x`, both with the same sign left out: a retarder's common sign never shows in an intensity.
///
/// `x` is reduced by whole multiples of pi in three parts to `r` within +-pi/2; the sine and cosine of `r/2` come from
/// polynomials, those of `r` from the double angle. Good to 3e-16 for `|x|` up to 1e7.
///
/// Source: S. L. Moshier, Cephes Mathematical Library, sin.c: the coefficients and the split of pi/4 (from memory;
/// checked against the standard library in the tests below).
#[inline(always)]
fn sin_cos_but_sign<S: Simd>(simd: S, x: Lane<S>) -> (Lane<S>, Lane<S>) {
    // Adding and taking away 1.5 x 2^52 rounds to the nearest whole number.
    const ROUND: f64 = 6_755_399_441_055_744.0;
    const SIN: [f64; 6] = [
        1.589_623_015_765_465_7e-10,
        -2.505_074_776_285_780_7e-8,
        2.755_731_362_138_572_2e-6,
        -1.984_126_982_958_954e-4,
        8.333_333_333_322_118e-3,
        -1.666_666_666_666_663e-1,
    ];
    const COS: [f64; 6] = [
        -1.135_853_652_138_768_2e-11,
        2.087_570_084_197_473e-9,
        -2.755_731_417_929_674e-7,
        2.480_158_728_885_171_7e-5,
        -1.388_888_888_887_305_6e-3,
        4.166_666_666_666_66e-2,
    ];
    const PI_PARTS: [f64; 3] = [
        4.0 * 7.853_981_256_484_985e-1,
        4.0 * 3.774_894_707_930_798e-8,
        4.0 * 2.695_151_429_079_059_5e-15,
    ];
    let whole = (x * splat(simd, FRAC_1_PI) + splat(simd, ROUND)) - splat(simd, ROUND);
    let mut rest = x;
    for part in PI_PARTS {
        rest = rest - whole * splat(simd, part);
    }
    let half = splat(simd, 0.5) * rest;
    let z = half * half;
    let sin = half + half * (z * polynomial(simd, z, SIN));
    let cos = splat(simd, 1.0) - splat(simd, 0.5) * z + (z * z) * polynomial(simd, z, COS);
    let two = splat(simd, 2.0);
    (two * (sin * cos), splat(simd, 1.0) - two * (sin * sin))
}

/// Horner's rule, the highest power first.
#[inline(always)]
fn polynomial<S: Simd>(simd: S, z: Lane<S>, coefficients: [f64; 6]) -> Lane<S> {
    let mut sum = splat(simd, coefficients[0]);
    for next in [1, 2, 3, 4, 5] {
        sum = sum * z + splat(simd, coefficients[next]);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    struct SinCos(f64);

    impl WithSimd for SinCos {
        type Output = (f64, f64);

        #[inline(always)]
        fn with_simd<S: Simd>(self, simd: S) -> (f64, f64) {
            let (sin, cos) = sin_cos_but_sign(simd, splat(simd, self.0));
            let mut out = [[0.0; PAD]; 2];
            simd.partial_store_f64s(&mut out[0][..S::F64_LANES], sin.value);
            simd.partial_store_f64s(&mut out[1][..S::F64_LANES], cos.value);
            (out[0][0], out[1][0])
        }
    }

    #[test]
    fn sines_agree_with_the_standard_library_and_on_every_vector_width() {
        let mut worst = 0.0f64;
        for k in 0..200_000 {
            let x = (f64::from(k) - 1e5) * if k % 2 == 0 { 1e-4 } else { 97.3 };
            let (sin, cos) = Arch::new().dispatch(SinCos(x));
            assert_eq!((sin, cos), SinCos(x).with_simd(pulp::Scalar::new()));
            let (exact_sin, exact_cos) = x.sin_cos();
            let sign = if (x * FRAC_1_PI).round().rem_euclid(2.0) == 0.0 {
                1.0
            } else {
                -1.0
            };
            // Near +-pi/2 either multiple of pi is a right one; the sign is then common all the same.
            let off = |sign: f64| {
                (sin - sign * exact_sin)
                    .abs()
                    .max((cos - sign * exact_cos).abs())
            };
            worst = worst.max(off(sign).min(off(-sign)));
        }
        assert!(worst < 1e-15, "{worst:e}");
    }
}
