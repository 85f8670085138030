//! Discs of many rays as pixels.

use std::f64::consts::TAU;

use ndarray::Array2;
use palette::LinSrgb;

use super::map::ApertureMap;
use crate::color::{Adaptation, Xyz, linear_srgb, map_to_srgb, stops_within};
use crate::optics::Rays;
use crate::threads;

/// Where the pixels of a disc lie among rings and spokes that are evenly spaced, as those of [`Rays::even`].
pub(super) struct Sampler {
    side: u32,
    pixels: Vec<Option<Sample>>,
}

/// The four rays around a pixel, and how much each counts.
struct Sample {
    rays: [u32; 4],
    weight: [f64; 4],
    /// How much of the pixel lies in the disc.
    cover: f64,
}

impl Sampler {
    /// For a disc that fills `side` by `side` pixels.
    pub(super) fn new(rays: &Rays, side: u32) -> Self {
        let (last, spokes) = (rays.ring.len() - 1, rays.spoke_rad.len());
        let radius = 0.5 * f64::from(side);
        let pixel = |place: u32| -> Option<Sample> {
            let x = f64::from(place % side) + 0.5 - radius;
            let y = radius - f64::from(place / side) - 0.5;
            let r = x.hypot(y);
            let cover = (radius - r + 0.5).min(1.0);
            if cover <= 0.0 {
                return None;
            }
            let out = (r / radius).min(1.0) * last as f64;
            let ring = (out as usize).min(last.saturating_sub(1));
            let round = y.atan2(x).rem_euclid(TAU) / TAU * spokes as f64;
            let (spoke, next) = (round as usize % spokes, (round as usize + 1) % spokes);
            let (up, on) = (out - ring as f64, round.fract());
            let ray = |ring: usize, spoke: usize| (ring.min(last) * spokes + spoke) as u32;
            Some(Sample {
                rays: [
                    ray(ring, spoke),
                    ray(ring, next),
                    ray(ring + 1, spoke),
                    ray(ring + 1, next),
                ],
                weight: [
                    (1.0 - up) * (1.0 - on),
                    (1.0 - up) * on,
                    up * (1.0 - on),
                    up * on,
                ],
                cover,
            })
        };
        Self {
            side,
            pixels: threads::map(0..(side * side) as usize, |k| pixel(k as u32)),
        }
    }

    pub(super) fn side(&self) -> u32 {
        self.side
    }

    /// Each pixel in the disc: its number, a value between the rays', and how much of it lies in the disc.
    pub(super) fn values<const N: usize>(
        &self,
        light: &[[f32; N]],
    ) -> impl Iterator<Item = (usize, [f64; N], f64)> {
        (self.pixels.iter().enumerate()).filter_map(move |(place, sample)| {
            let Sample {
                rays,
                weight,
                cover,
            } = sample.as_ref()?;
            let mut value = [0.0; N];
            for (ray, weight) in rays.iter().zip(weight) {
                for (value, light) in value.iter_mut().zip(light[*ray as usize]) {
                    *value += weight * f64::from(light);
                }
            }
            Some((place, value, *cover))
        })
    }

    /// The disc in true colour on white.
    pub(super) fn picture(&self, linear: &[[f32; 3]]) -> Vec<u8> {
        let mut rgb = vec![255; self.pixels.len() * 3];
        for (place, linear, cover) in self.values(linear) {
            let color = encoded(linear);
            rgb[3 * place..3 * place + 3].copy_from_slice(&over_white(color, cover));
        }
        rgb
    }
}

/// A colour that covers part of a white pixel.
pub(super) fn over_white(color: [u8; 3], cover: f64) -> [u8; 3] {
    color.map(|v| (255.0 + cover * (f64::from(v) - 255.0)).round() as u8)
}

/// Bytes of linear sRGB within the gamut.
pub(super) fn encoded([red, green, blue]: [f64; 3]) -> [u8; 3] {
    let encoded = palette::Srgb::<f64>::from_linear(LinSrgb::new(red, green, blue));
    encoded.into_format::<u8>().into()
}

/// Light as a screen shows it, white being the parallel field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Exposure {
    balance: Option<Adaptation>,
    /// By how many stops it is exposed up.
    pub(super) stops: f64,
}

impl Exposure {
    /// The largest whole number of tenths of a stop, not below 0 and at most 40 stops, at which no ray's largest channel passes 1. Light
    /// of nearly one colour cannot be balanced and keeps its colour; it may be exposed down, because as bright as white it would have no hue
    /// on a screen.
    pub(super) fn of<'a>(light: impl Iterator<Item = &'a Xyz>, parallel: Xyz) -> Self {
        let balance = Adaptation::to_d65(parallel);
        let largest = light
            .flat_map(|xyz| linear_srgb(balance.unwrap_or(Adaptation::NONE).apply(*xyz)))
            .fold(0.0, f64::max);
        Self {
            balance,
            stops: stops_within(largest, balance.is_none()),
        }
    }

    pub(super) fn white_balanced(&self) -> bool {
        self.balance.is_some()
    }

    /// Linear sRGB of each ray, exposed and in the gamut, and whether any had to be brought there.
    pub(super) fn linear(&self, light: &[Xyz]) -> (Vec<[f32; 3]>, bool) {
        let balance = self.balance.unwrap_or(Adaptation::NONE);
        let factor = self.stops.exp2();
        let mapped = threads::map(0..light.len(), |ray| {
            map_to_srgb(linear_srgb(balance.apply(light[ray].scaled(factor))))
        });
        let changed = mapped.iter().any(|mapped| mapped.changed);
        let linear = mapped.iter().map(|mapped| mapped.linear.map(|v| v as f32));
        (linear.collect(), changed)
    }

    /// In words.
    pub(super) fn words(&self) -> String {
        if self.stops > 0.0 {
            format!("exposed {:.1} stops up", self.stops)
        } else if self.stops < 0.0 {
            format!("exposed {:.1} stops down", -self.stops)
        } else {
            "at the parallel field's exposure".to_owned()
        }
    }
}

/// A map of luminance.
pub(super) fn luminance_map(
    rays: &Rays,
    light: &[Xyz],
    na: f64,
    polars_rad: Option<(f64, f64)>,
    has_objective: bool,
) -> ApertureMap {
    let shape = (rays.ring.len(), rays.spoke_rad.len());
    let value: Vec<f64> = light.iter().map(Xyz::luminance).collect();
    ApertureMap {
        rings: rays.ring.clone(),
        spokes: rays.spoke_rad.clone(),
        // A study gives as many values as rays; a map without any is refused when it is drawn.
        value: Array2::from_shape_vec(shape, value).unwrap_or_default(),
        na,
        polars_rad,
        has_objective,
    }
}
