//! The hot loop: a chain run over rays and wavelengths.
//!
//! A vector holds several neighbouring wavelengths. For one block of wavelengths the light of all rays is taken through the chain, ring by ring, and
//! the sums over the rays stay in registers. There is no vector arithmetic in closures, because a closure would not be compiled for the width of
//! vectors that is chosen at run time. No fused multiply-add is used, and each wavelength is summed over the rays in one order, so the bytes that
//! come out do not depend on the width of the vectors nor on the number of threads.

use std::f64::consts::FRAC_1_PI;
use std::ops::{Add, Mul, Sub};

use pulp::{Arch, Simd, WithSimd};

use super::chain::{Chain, Link, LinkAxis, LinkTable, Over, PAD};
use crate::calculus::Coherency;
use crate::threads;

impl Chain {
    /// Coherency matrix behind the chain for each combination of versions and each wavelength: the weighted mean over the rays, in the chain's frame.
    /// The work is done on all threads; the bytes of the result do not depend on how many there are.
    ///
    /// Checked by: `tests/laws/routes.rs`.
    #[must_use]
    pub fn mean_coherency(&self) -> Vec<Vec<Coherency>> {
        mean_coherency(self)
    }
}

fn mean_coherency(chain: &Chain) -> Vec<Vec<Coherency>> {
    let arch = Arch::new();
    let walk = Walk::of(chain);
    let blocks: Vec<Vec<Coherency>> = threads::map(0..chain.padded / PAD, |block| {
        let mut out = vec![Coherency::default(); chain.combinations() * PAD];
        arch.dispatch(Mean {
            chain,
            walk: &walk,
            first: block * PAD,
            out: &mut out,
        });
        out
    });
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

/// The tree of versions, walked depth first. Each step takes the light that the stage before left through one version of one stage.
struct Walk {
    steps: Vec<WalkStep>,
}

#[derive(Clone, Copy)]
struct WalkStep {
    stage: usize,
    version: usize,
    /// The number of the combination of versions that is complete with this step.
    combination: Option<usize>,
}

impl Walk {
    fn of(chain: &Chain) -> Self {
        fn descend(chain: &Chain, stage: usize, number: usize, steps: &mut Vec<WalkStep>) {
            for version in 0..chain.stages[stage].len() {
                let number = number * chain.stages[stage].len() + version;
                let last = stage + 1 == chain.stages.len();
                steps.push(WalkStep {
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

/// Coherency matrices of each ray behind the chain (of first versions), summed over the wavelengths with each of the weights, in the
/// order of [`crate::optics::Rays::iter`].
pub(super) fn ray_coherency<const N: usize>(
    chain: &Chain,
    weight: &[[f64; N]],
) -> Vec<[Coherency; N]> {
    let arch = Arch::new();
    let padded: [Vec<f64>; N] = std::array::from_fn(|n| {
        let mut column: Vec<f64> = weight.iter().map(|weights| weights[n]).collect();
        column.resize(chain.padded, 0.0);
        column
    });
    let rings = threads::map(0..chain.rings.len(), |ring| {
        let mut out = vec![[Coherency::default(); N]; chain.rings[ring].0.len()];
        arch.dispatch(Ring {
            chain,
            weight: &padded,
            ring,
            out: &mut out,
        });
        if chain.opposites_left_out {
            out.extend_from_within(..);
        }
        out
    });
    rings.concat()
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

/// Real and imaginary parts of `(Ex, Ey)`, or of `(Ep, Es)` in the ray's own frame, of the lamp's two beams:
/// `[beam][x re, x im, y re, y im]`.
type Beams<S> = [[Lane<S>; 4]; 2];

/// The place in the tables that the kernel works at: a ray, and the first wavelength of a vector.
#[derive(Clone, Copy)]
struct RayLane {
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
        for block in (0..PAD).step_by(S::F64_LANES) {
            let entering = entering(simd, chain, first + block);
            let mut light = vec![entering; chain.stages.len() + 1];
            let mut totals = vec![[splat(simd, 0.0); 4]; chain.combinations()];
            for (ring, (sector, first_ray)) in chain.rings.iter().enumerate() {
                for (spoke, ray) in sector.clone().zip(*first_ray..) {
                    let place = RayLane {
                        ring,
                        spoke,
                        ray,
                        wavelength: first + block,
                    };
                    let weight = splat(simd, chain.ring_weight[ring] * chain.spoke_weight[spoke]);
                    light[0] = entering;
                    into_ray_frame(simd, chain.spoke[spoke], &mut light[0]);
                    for step in &walk.steps {
                        let mut beams = light[step.stage];
                        for link in &chain.stages[step.stage][step.version] {
                            cross(simd, chain.padded, link, place, &mut beams);
                        }
                        match step.combination {
                            None => light[step.stage + 1] = beams,
                            Some(combination) => {
                                out_of_ray_frame(simd, chain.spoke[spoke], &mut beams);
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

struct Ring<'a, const N: usize> {
    chain: &'a Chain,
    weight: &'a [Vec<f64>; N],
    ring: usize,
    out: &'a mut [[Coherency; N]],
}

impl<const N: usize> WithSimd for Ring<'_, N> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self {
            chain,
            weight,
            ring,
            out,
        } = self;
        let (sector, first_ray) = &chain.rings[ring];
        for ((spoke, ray), out) in sector.clone().zip(*first_ray..).zip(out) {
            // There are PAD sums, however wide the vectors are, so that the order of addition is always the same.
            let mut totals = [[[splat(simd, 0.0); 4]; N]; PAD];
            for start in (0..chain.padded).step_by(PAD) {
                for (block, total) in totals[..PAD / S::F64_LANES].iter_mut().enumerate() {
                    let place = RayLane {
                        ring,
                        spoke,
                        ray,
                        wavelength: start + block * S::F64_LANES,
                    };
                    let mut beams = entering(simd, chain, place.wavelength);
                    into_ray_frame(simd, chain.spoke[spoke], &mut beams);
                    for link in chain.stages.iter().flat_map(|versions| &versions[0]) {
                        cross(simd, chain.padded, link, place, &mut beams);
                    }
                    out_of_ray_frame(simd, chain.spoke[spoke], &mut beams);
                    let here = coherency(beams);
                    for (total, weight) in total.iter_mut().zip(weight) {
                        let weight = load(simd, weight, place.wavelength);
                        for (total, here) in total.iter_mut().zip(here) {
                            *total = *total + weight * here;
                        }
                    }
                }
            }
            for total in &totals[..PAD / S::F64_LANES] {
                for (total, out) in total.iter().zip(&mut *out) {
                    store(*total, |_, coherency| *out = out.plus(coherency));
                }
            }
        }
    }
}

/// Passes the coherency matrix of each wavelength to the caller's function.
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

/// The two beams that enter.
#[inline(always)]
fn entering<S: Simd>(simd: S, chain: &Chain, wavelength: usize) -> Beams<S> {
    let mut beams = [[splat(simd, 0.0); 4]; 2];
    for (number, lane) in beams.as_flattened_mut().iter_mut().enumerate() {
        *lane = load(simd, &chain.light.data, number * chain.padded + wavelength);
    }
    beams
}

/// Turns the amplitudes from x and y to the ray's p and s.
#[inline(always)]
fn into_ray_frame<S: Simd>(simd: S, [cos, sin]: [f64; 2], beams: &mut Beams<S>) {
    let (c, s) = (splat(simd, cos), splat(simd, sin));
    for [xr, xi, yr, yi] in beams {
        (*xr, *yr) = (c * *xr + s * *yr, c * *yr - s * *xr);
        (*xi, *yi) = (c * *xi + s * *yi, c * *yi - s * *xi);
    }
}

/// Turns the amplitudes from the ray's p and s back to x and y.
#[inline(always)]
fn out_of_ray_frame<S: Simd>(simd: S, [cos, sin]: [f64; 2], beams: &mut Beams<S>) {
    into_ray_frame(simd, [cos, -sin], beams);
}

/// One link, applied to both beams.
#[inline(always)]
fn cross<S: Simd>(simd: S, padded: usize, link: &Link, place: RayLane, beams: &mut Beams<S>) {
    match link {
        Link::Meridional(table) => {
            let [p_re, p_im, s_re, s_im] = table.load(simd, padded, place);
            for [pr, pi, sr, si] in beams {
                (*pr, *pi) = (p_re * *pr - p_im * *pi, p_re * *pi + p_im * *pr);
                (*sr, *si) = (s_re * *sr - s_im * *si, s_re * *si + s_im * *sr);
            }
        }
        Link::Real(axis, table) => {
            let (c, s) = axis.load(simd, place);
            let [mean, half] = table.load(simd, padded, place);
            let (a, b, e) = (mean + half * c, half * s, mean - half * c);
            for [pr, pi, sr, si] in beams {
                (*pr, *sr) = (a * *pr + b * *sr, b * *pr + e * *sr);
                (*pi, *si) = (a * *pi + b * *si, b * *pi + e * *si);
            }
        }
        Link::Phase(axis, table) => {
            let (c, s) = axis.load(simd, place);
            let [cos, sin] = table.load(simd, padded, place);
            retard(cos, sin * c, sin * s, beams);
        }
        Link::Crystal(table) => {
            let [cos, p, q] = table.load(simd, padded, place);
            retard(cos, p, q, beams);
        }
        Link::Elliptic(table) => {
            let [cos, p, q, r] = table.load(simd, padded, place);
            retard_elliptic(cos, p, q, r, beams);
        }
        Link::Strain {
            axis,
            path_difference_nm,
            gentle_nm,
            half_wavenumber,
        } => {
            let (c, s) = axis.load(simd, place);
            let path_difference_nm = path_difference_nm[place.ray];
            let half_phase =
                splat(simd, path_difference_nm) * load(simd, half_wavenumber, place.wavelength);
            let (sin, cos) = if path_difference_nm.abs() <= *gentle_nm {
                sin_cos_within_an_eighth(simd, half_phase)
            } else {
                sin_cos_but_sign(simd, half_phase)
            };
            retard(cos, sin * c, sin * s, beams);
        }
    }
}

impl LinkAxis {
    #[inline(always)]
    fn load<S: Simd>(&self, simd: S, place: RayLane) -> (Lane<S>, Lane<S>) {
        let [c, s] = match self {
            Self::Spoke(axes) => axes[place.spoke],
            Self::Ray(axes) => axes[place.ray],
        };
        (splat(simd, c), splat(simd, s))
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

/// The retarder `cos + i (p sigma_1 + q sigma_2 + r sigma_3)`.
#[inline(always)]
fn retard_elliptic<S: Simd>(
    cos: Lane<S>,
    p: Lane<S>,
    q: Lane<S>,
    r: Lane<S>,
    beams: &mut Beams<S>,
) {
    for [xr, xi, yr, yi] in beams {
        let x_re = (cos * *xr - r * *yr) - (p * *xi + q * *yi);
        let x_im = (cos * *xi - r * *yi) + (p * *xr + q * *yr);
        let y_re = (cos * *yr + r * *xr) - (q * *xi - p * *yi);
        let y_im = (cos * *yi + r * *xi) + (q * *xr - p * *yr);
        [*xr, *xi, *yr, *yi] = [x_re, x_im, y_re, y_im];
    }
}

impl<const N: usize> LinkTable<N> {
    #[inline(always)]
    fn load<S: Simd>(&self, simd: S, padded: usize, place: RayLane) -> [Lane<S>; N] {
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

/// Sine and cosine of `x`, or both with their signs reversed. That is good enough for a retarder, because a sign common to all its amplitudes does
/// not change any intensity.
///
/// `x` is reduced by whole multiples of pi in three parts to `r` within +-pi/2; the sine and cosine of `r` come from those of
/// `r/2` by the double angle. Good to 3e-16 for `|x|` up to 1e7.
///
/// Source: S. L. Moshier, Cephes Mathematical Library, sin.c: the split of pi/4 (from memory; checked against the
/// standard library in the tests below).
#[inline(always)]
fn sin_cos_but_sign<S: Simd>(simd: S, x: Lane<S>) -> (Lane<S>, Lane<S>) {
    // Adding and taking away 1.5 x 2^52 rounds to the nearest whole number.
    const ROUND: f64 = 6_755_399_441_055_744.0;
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
    let (sin, cos) = sin_cos_within_an_eighth(simd, splat(simd, 0.5) * rest);
    let two = splat(simd, 2.0);
    (two * (sin * cos), splat(simd, 1.0) - two * (sin * sin))
}

/// Sines and cosines of a block of angles, with the sign of each pair left open as above.
#[inline(always)]
pub(crate) fn sin_cos_block<S: Simd>(simd: S, x: &[f64; PAD]) -> ([f64; PAD], [f64; PAD]) {
    let (mut sines, mut cosines) = ([0.0; PAD], [0.0; PAD]);
    for start in (0..PAD).step_by(S::F64_LANES) {
        let lanes = start..start + S::F64_LANES;
        let (sin, cos) = sin_cos_but_sign(simd, load(simd, x, start));
        simd.partial_store_f64s(&mut sines[lanes.clone()], sin.value);
        simd.partial_store_f64s(&mut cosines[lanes], cos.value);
    }
    (sines, cosines)
}

/// Sine and cosine of `x` within an eighth of a turn, +-pi/4.
///
/// Source: S. L. Moshier, Cephes Mathematical Library, sin.c: the coefficients (from memory; checked against the
/// standard library in the tests below).
#[inline(always)]
fn sin_cos_within_an_eighth<S: Simd>(simd: S, x: Lane<S>) -> (Lane<S>, Lane<S>) {
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
    let z = x * x;
    let z2 = z * z;
    let sin = x + x * (z * polynomial(simd, z, z2, SIN));
    let cos = splat(simd, 1.0) - splat(simd, 0.5) * z + z2 * polynomial(simd, z, z2, COS);
    (sin, cos)
}

/// A polynomial of the fifth degree, the highest power first. It is computed in pairs of terms that the processor can work on at the same time.
#[inline(always)]
fn polynomial<S: Simd>(simd: S, z: Lane<S>, z2: Lane<S>, coefficients: [f64; 6]) -> Lane<S> {
    let mut c = [z; 6];
    for (number, coefficient) in coefficients.into_iter().enumerate() {
        c[number] = splat(simd, coefficient);
    }
    ((c[0] * z + c[1]) * z2 + (c[2] * z + c[3])) * z2 + (c[4] * z + c[5])
}

#[cfg(test)]
mod tests;
