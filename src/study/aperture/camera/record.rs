//! From light to counts: exposure, the light's and the camera's noise, and rounding.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, Poisson, StandardNormal};

use crate::math;
use crate::threads;

use super::{Camera, Noise};

/// The largest count.
const FULL_SCALE: f64 = 65535.0;
/// Of the disc's pixels so many are dimmer than what the picture is exposed by.
const DIMMER: f64 = 0.999;

/// Light on each pixel of a camera.
pub(super) struct Image {
    width: usize,
    light: Vec<f64>,
}

impl Image {
    /// The disc as a camera sees it: `light` gives the light of a place in the aperture, its distance from the axis and azimuth. Beyond the disc it is
    /// dark; a pixel on the edge has as much light as it has of the disc.
    pub(super) fn new(camera: &Camera, light: impl Fn(f64, f64) -> f64 + Sync + Send) -> Self {
        let (frame, width) = (camera.frame(), camera.pixels as usize);
        let middle = 0.5 * f64::from(camera.pixels);
        let pixel = |x: f64, y: f64| {
            let cover = frame.cover(x, y);
            if cover == 0.0 {
                return 0.0;
            }
            let (distance, azimuth_rad) = frame.place(x, y);
            let off = math::hypot(x - middle, y - middle) / frame.radius;
            let passed = 1.0 - camera.vignetting * off * off;
            cover * passed * light(distance.min(1.0), azimuth_rad)
        };
        let rows = threads::map(0..width, |row| {
            let across = (0..width).map(|column| pixel(column as f64 + 0.5, row as f64 + 0.5));
            across.collect::<Vec<f64>>()
        });
        Self {
            width,
            light: rows.concat(),
        }
    }

    /// What the brightest thousandth of the disc begins at.
    pub(super) fn bright(&self) -> f64 {
        let mut lit: Vec<f64> = self.light.iter().copied().filter(|v| *v > 0.0).collect();
        if lit.is_empty() {
            return 0.0;
        }
        let place = ((lit.len() - 1) as f64 * DIMMER) as usize;
        *lit.select_nth_unstable_by(place, f64::total_cmp).1
    }

    /// The counts of a picture in which a light of 1 reaches `exposed` of full scale.
    pub(super) fn counts(&self, camera: &Camera, exposed: f64, number: u32) -> Vec<u16> {
        let rows = threads::map(0..self.width, |row| {
            // Every row of every picture has a stream of its own, so that threads do not matter.
            let mut scatter = camera
                .noise
                .map(|noise| Scatter::new(noise, number, row as u32));
            let light = &self.light[row * self.width..(row + 1) * self.width];
            (light.iter())
                .map(|light| {
                    let value = exposed * light;
                    let read = scatter
                        .as_mut()
                        .map_or(value, |scatter| scatter.read(value));
                    rounded(read + camera.dark_counts / FULL_SCALE, camera.bits)
                })
                .collect::<Vec<u16>>()
        });
        rows.concat()
    }
}

/// A fraction of full scale as a count: rounded to a converter's steps, which are spread over 16 bits.
fn rounded(value: f64, bits: u32) -> u16 {
    let steps = f64::from((1u32 << bits) - 1);
    let step = (value.clamp(0.0, 1.0) * steps).round();
    (step * FULL_SCALE / steps).round() as u16
}

/// The noise of a row of pixels.
///
/// The crate that draws it takes a few functions from the system: another machine may draw other noise from the same seed.
struct Scatter {
    noise: Noise,
    random: ChaCha8Rng,
}

impl Scatter {
    fn new(noise: Noise, number: u32, row: u32) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(noise.seed);
        random.set_stream(u64::from(number) << 32 | u64::from(row));
        Self { noise, random }
    }

    /// What is read where so much of full scale is expected: electrons come one by one, and reading them out adds to their number.
    fn read(&mut self, expected: f64) -> f64 {
        let electrons = expected * self.noise.full_well;
        // No light has no noise; so much light that no such distribution is known saturates anyway.
        let caught =
            Poisson::new(electrons).map_or(electrons, |poisson| poisson.sample(&mut self.random));
        let normal: f64 = StandardNormal.sample(&mut self.random);
        (caught + self.noise.read_noise * normal) / self.noise.full_well
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_bits_are_spread_over_sixteen() {
        assert_eq!(
            [0.0, 0.5, 1.0, 2.0, -1.0].map(|v| rounded(v, 16)),
            [0, 32768, 65535, 65535, 0]
        );
        assert_eq!(rounded(1.0 / 4095.0, 12), 16);
        assert_eq!(rounded(1.0, 12), 65535);
        let steps: std::collections::BTreeSet<u16> = (0..=65535)
            .map(|k| rounded(f64::from(k) / FULL_SCALE, 12))
            .collect();
        assert_eq!(steps.len(), 4096);
    }

    /// Of electrons that come one by one the variance is their mean; reading them out adds its own.
    #[test]
    fn noise_has_the_variance_that_is_stated() {
        for (value, full_well, read_noise) in [
            (0.8, 20_000.0, 3.0),
            (0.002, 20_000.0, 3.0),
            (0.3, 500.0, 0.0),
        ] {
            let noise = Noise {
                full_well,
                read_noise,
                seed: 5,
            };
            let mut scatter = Scatter::new(noise, 1, 2);
            let count = 40_000;
            let read: Vec<f64> = (0..count)
                .map(|_| scatter.read(value) * full_well)
                .collect();
            let mean = read.iter().sum::<f64>() / f64::from(count);
            let variance =
                read.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / f64::from(count - 1);
            let expected = value * full_well + read_noise * read_noise;
            // Four standard deviations of each.
            let off = (expected / f64::from(count)).sqrt() * 4.0;
            assert!((mean - value * full_well).abs() < off, "{mean}");
            let off =
                4.0 * (2.0 / f64::from(count)).sqrt() + 4.0 / (f64::from(count) * expected).sqrt();
            assert!(
                (variance / expected - 1.0).abs() < off,
                "{variance} {expected}"
            );
        }
    }

    #[test]
    fn a_dark_picture_stays_dark() {
        let camera = Camera {
            pixels: 64,
            noise: None,
            ..Camera::default()
        };
        let image = Image::new(&camera, |_, _| 0.0);
        assert_eq!(image.bright(), 0.0);
        assert!(
            image
                .counts(&camera, 1.0, 0)
                .iter()
                .all(|count| *count == 0)
        );
    }
}
