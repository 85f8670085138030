//! Discs of many rays as pixels.

use std::f64::consts::TAU;

use palette::LinSrgb;

use crate::color::{Adaptation, Xyz, linear_srgb, map_to_srgb, stops_within};
#[cfg(feature = "figures")]
use crate::optics::ZoneGrid;
#[cfg(feature = "page")]
use crate::study::aperture::SmoothDisc;
use crate::threads;

/// Where the pixels of a disc lie among rings and spokes.
pub(crate) struct Sampler {
    pub(crate) side: u32,
    pixels: Vec<Option<Sample>>,
}

/// The four rays around a pixel, and how much each counts.
struct Sample {
    rays: [u32; 4],
    weight: [f64; 4],
    /// How much of the pixel lies in the disc.
    cover: f64,
}

/// Where a pixel of a disc that fills `side` by `side` pixels lies: its distance from the axis in units of the disc's radius, its azimuth, and
/// how much of it lies in the disc; none outside.
fn polar(place: usize, side: u32) -> Option<(f64, f64, f64)> {
    let (place, radius) = (place as u32, 0.5 * f64::from(side));
    let x = f64::from(place % side) + 0.5 - radius;
    let y = radius - f64::from(place / side) - 0.5;
    let r = x.hypot(y);
    let cover = (radius - r + 0.5).min(1.0);
    (cover > 0.0).then(|| ((r / radius).min(1.0), y.atan2(x), cover))
}

impl Sampler {
    /// For a disc of a numerical aperture that fills `side` by `side` pixels. Between rings and spokes the light is linear; within the
    /// innermost ring and beyond the outermost one it stays as it is there.
    pub(crate) fn new(rings: &[f64], spokes: &[f64], na: f64, side: u32) -> Self {
        let count = spokes.len();
        let all_round = [&[spokes[count - 1] - TAU], spokes, &[spokes[0] + TAU]].concat();
        let pixel = |place: usize| -> Option<Sample> {
            let (r, azimuth, cover) = polar(place, side)?;
            let (inner, outer, up) = between(rings, r * na);
            let (before, after, on) = between(&all_round, azimuth.rem_euclid(TAU));
            let corners = [
                (inner, 1.0 - up, before, 1.0 - on),
                (inner, 1.0 - up, after, on),
                (outer, up, before, 1.0 - on),
                (outer, up, after, on),
            ];
            Some(Sample {
                rays: corners.map(|(r, _, s, _)| (r * count + (s + count - 1) % count) as u32),
                weight: corners.map(|(_, out, _, around)| out * around),
                cover,
            })
        };
        Self {
            side,
            pixels: threads::map(0..(side * side) as usize, pixel),
        }
    }

    /// The disc on white, rows from the top: `color` gives the colour of a pixel's place and of a value between the rays'.
    pub(crate) fn picture<const N: usize>(
        &self,
        light: &[[f32; N]],
        color: impl Fn(usize, [f64; N]) -> [u8; 3],
    ) -> Vec<u8> {
        let pixel = |(place, sample): (usize, &Option<Sample>)| {
            let Some(sample) = sample else {
                return [255; 3];
            };
            let mut value = [0.0; N];
            for (ray, weight) in sample.rays.iter().zip(sample.weight) {
                for (value, light) in value.iter_mut().zip(light[*ray as usize]) {
                    *value += weight * f64::from(light);
                }
            }
            color(place, value)
                .map(|v| (255.0 + sample.cover * (f64::from(v) - 255.0)).round() as u8)
        };
        self.pixels.iter().enumerate().flat_map(pixel).collect()
    }
}

/// A disc of zones on white, `side` by `side` pixels, rows from the top: `color` gives the colour of a zone by its number.
#[cfg(feature = "figures")]
pub(crate) fn zones_picture(
    grid: ZoneGrid,
    side: u32,
    color: impl Fn(usize) -> [u8; 3],
) -> Vec<u8> {
    let pixel = |place: usize| {
        let (rho, azimuth_rad, _) = polar(place, side)?;
        grid.zone_at(rho, azimuth_rad).map(&color)
    };
    (0..(side * side) as usize)
        .flat_map(|place| pixel(place).unwrap_or([255; 3]))
        .collect()
}

#[cfg(feature = "page")]
impl<const N: usize> SmoothDisc<'_, N> {
    /// The disc as red, green, blue and opacity, `side` by `side` pixels, rows from the top: nothing beyond the disc.
    pub(crate) fn pixels(&self, side: u32, color: impl Fn([f64; N]) -> [u8; 3] + Sync) -> Vec<u8> {
        let pixel = |place: usize| {
            let Some((radius, azimuth_rad, cover)) = polar(place, side) else {
                return [0; 4];
            };
            let [red, green, blue] = color(self.at(radius, azimuth_rad));
            [red, green, blue, (255.0 * cover).round() as u8]
        };
        threads::map(0..(side * side) as usize, pixel).concat()
    }
}

/// The places on a rising list on both sides of a value, and how far it is from the first to the second.
fn between(list: &[f64], value: f64) -> (usize, usize, f64) {
    let above = list.partition_point(|&v| v <= value);
    let (a, b) = (above.saturating_sub(1), above.min(list.len() - 1));
    let gap = list[b] - list[a];
    let part = (gap > 0.0).then(|| (value - list[a]) / gap);
    (a, b, part.unwrap_or(0.0).clamp(0.0, 1.0))
}

/// Bytes of linear sRGB within the gamut.
pub(crate) fn encoded([red, green, blue]: [f64; 3]) -> [u8; 3] {
    let encoded = palette::Srgb::<f64>::from_linear(LinSrgb::new(red, green, blue));
    encoded.into_format::<u8>().into()
}

/// Light as a screen shows it, white being the parallel field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Exposure {
    balance: Option<Adaptation>,
    /// By how many stops it is exposed up.
    pub(crate) stops: f64,
}

impl Exposure {
    /// The largest whole number of tenths of a stop, not below 0 and at most 40 stops, at which no ray's largest channel passes 1. Light
    /// of nearly one colour cannot be balanced and keeps its colour; it may be exposed down, because as bright as white it would have no hue
    /// on a screen.
    pub(crate) fn of<'a>(light: impl Iterator<Item = &'a Xyz>, parallel: Xyz) -> Self {
        let balance = Adaptation::to_d65(parallel);
        let largest = light
            .flat_map(|xyz| linear_srgb(balance.unwrap_or(Adaptation::NONE).apply(*xyz)))
            .fold(0.0, f64::max);
        Self {
            balance,
            stops: stops_within(largest, balance.is_none()),
        }
    }

    /// The same by another number of stops.
    pub(crate) fn by(self, stops: f64) -> Self {
        Self { stops, ..self }
    }

    pub(crate) fn white_balanced(&self) -> bool {
        self.balance.is_some()
    }

    /// Linear sRGB of each ray, exposed and in the gamut, and whether any had to be brought there.
    pub(crate) fn linear(&self, light: &[Xyz]) -> (Vec<[f32; 3]>, bool) {
        let balance = self.balance.unwrap_or(Adaptation::NONE);
        let factor = self.stops.exp2();
        let mapped = threads::map(0..light.len(), |ray| {
            map_to_srgb(linear_srgb(balance.apply(light[ray].scaled(factor))))
        });
        let changed = mapped.iter().any(|mapped| mapped.changed);
        let linear = mapped.iter().map(|mapped| mapped.linear.map(|v| v as f32));
        (linear.collect(), changed)
    }

    /// One colour as a screen shows it.
    pub(crate) fn bytes(&self, light: Xyz) -> [u8; 3] {
        let balance = self.balance.unwrap_or(Adaptation::NONE);
        let linear = linear_srgb(balance.apply(light.scaled(self.stops.exp2())));
        encoded(map_to_srgb(linear).linear)
    }

    /// In words.
    pub(crate) fn words(&self) -> String {
        match self.stops {
            up if up > 0.0 => format!("exposed {up:.1} stops up"),
            down if down < 0.0 => format!("exposed {:.1} stops down", -down),
            _ => "at the parallel field's exposure".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::optics::Rays;

    #[test]
    fn light_between_the_rays_is_linear_and_held_at_the_ends() {
        let rays = Rays::disc(0.6, 12, 40);
        let at = |list: &[f64], value: f64| {
            let (a, b, part) = between(list, value);
            list[a] + part * (list[b] - list[a])
        };
        for s in [0.2, 0.45, 0.5, 0.3] {
            assert!((at(&rays.ring, s) - s).abs() < 1e-12, "{s}");
        }
        assert_eq!(at(&rays.ring, 0.0), rays.ring[0]);
        assert_eq!(at(&rays.ring, 0.6), rays.ring[11]);
        assert_eq!(at(&[0.3], 0.1), 0.3);
        // Linear in the azimuth across East, where the spokes begin again.
        let sampler = Sampler::new(&rays.ring, &rays.spoke_rad, 0.6, 31);
        let from_west: Vec<[f32; 1]> = (0..12 * 40)
            .map(|ray| [(rays.spoke_rad[ray % 40] - 0.5 * TAU).abs() as f32])
            .collect();
        sampler.picture(&from_west, |place, [light]| {
            let (x, y) = ((place % 31) as f64 - 15.0, 15.0 - (place / 31) as f64);
            let expected = (y.atan2(x).rem_euclid(TAU) - 0.5 * TAU).abs();
            assert!(
                (light - expected).abs() < 0.09,
                "{x} {y}: {light} {expected}"
            );
            [0; 3]
        });
    }
}
