//! The stack put together part by part, so that the dark cross can be seen to open and to turn.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI, TAU};

use crate::color::Xyz;
use crate::light_path::{LightPath, Part, PartKind};
use crate::optics::{Coating, Polarizer, Rays};

use super::{Bench, polars_rad};
use crate::study::StudyError;
use crate::study::lamp::Lamp;
use crate::study::predict::{NOTHING, ratio};

/// Rays on the rim that the cross is judged by: a multiple of 8.
const ON_THE_RIM: usize = 256;

/// Light that retarders leave by rounding where they cancel each other.
const ROUNDING: f64 = 1e-15;

/// A fourth harmonic smaller than this fraction of the mean is no cross that an eye would see.
const NO_CROSS: f64 = 1e-2;

/// One stage of the stack.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What was put in: a part's name; `None` for the stack of perfect parts, and for stray light.
    pub part: Option<String>,
    /// Whether it is stray light that was put in.
    pub stray: bool,
    /// Light of each ray of the maps, relative to the mean of this stage's parallel field.
    pub light: Vec<Xyz>,
    /// Mean luminance over the aperture, relative to that.
    pub relative_luminance: f64,
    /// Luminous extinction ratio; `None` when nothing leaks.
    pub extinction_ratio: Option<f64>,
    /// How the dark cross stands; `None` for circular polars, and where nothing leaks.
    pub cross: Option<Cross>,
}

/// How the dark cross stands, judged by the luminance `I(phi)` of the rays on the rim.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cross {
    /// How far it is open: the light on the lower polar's azimuth and at right angles to it (mean of four rays) over that at 45
    /// degrees to them. 0 is a closed cross, 1 none.
    pub opening: f64,
    /// How far it is turned against the lower polar, radians counter-clockwise, within +-45 degrees: where the fourth harmonic of `I`
    /// is least. `None` where there is no such harmonic.
    pub turned_rad: Option<f64>,
}

/// The stages, from perfect parts to the stack itself. Parts that are perfect already are no stage of their own.
pub(super) fn build_up(
    path: &LightPath,
    lamp: &Lamp,
    quadrature: &Rays,
    picture: &Rays,
) -> Result<Vec<Step>, StudyError> {
    stages(path)
        .into_iter()
        .map(|stage| step(stage, lamp, quadrature, picture))
        .collect()
}

fn step(
    (path, part, stray): (LightPath, Option<String>, bool),
    lamp: &Lamp,
    quadrature: &Rays,
    picture: &Rays,
) -> Result<Step, StudyError> {
    let bench = Bench::new(&path, lamp, quadrature)?;
    let view = bench.view(picture, false)?;
    let relative_luminance = match view.relative_luminance > ROUNDING {
        true => view.relative_luminance,
        false => 0.0,
    };
    let cross = match polars_rad(&path) {
        Some((lower, _)) if relative_luminance > 0.0 => {
            let rim = bench.light(&rim(path.na(), lower), false)?;
            let luminance: Vec<f64> = rim.iter().map(Xyz::luminance).collect();
            Cross::of(&luminance)
        }
        _ => None,
    };
    Ok(Step {
        part,
        stray,
        light: view.light,
        relative_luminance,
        extinction_ratio: ratio(1.0, relative_luminance),
        cross,
    })
}

/// Rays on the rim, counter-clockwise from the lower polar's azimuth.
fn rim(na: f64, lower_rad: f64) -> Rays {
    let rays = Rays::even(na, 2, ON_THE_RIM);
    Rays {
        ring: vec![na],
        ring_weight: vec![1.0],
        spoke_rad: rays.spoke_rad.iter().map(|phi| lower_rad + phi).collect(),
        spoke_weight: rays.spoke_weight,
    }
}

impl Cross {
    /// From the light of rays equally spaced around the rim, the first one on the lower polar's azimuth.
    fn of(rim: &[f64]) -> Option<Self> {
        let quarter = rim.len() / 4;
        let four = |from: usize| (0..4).map(|k| rim[from + k * quarter]).sum::<f64>();
        let (axes, diagonals) = (four(0), four(quarter / 2));
        let (mut mean, mut cos, mut sin) = (0.0, 0.0, 0.0);
        for (k, light) in rim.iter().enumerate() {
            let (s, c) = (4.0 * TAU * k as f64 / rim.len() as f64).sin_cos();
            (mean, cos, sin) = (mean + light, cos + light * c, sin + light * s);
        }
        // Least where cos(4 phi - theta) = -1.
        let turned = (sin.atan2(cos) + PI) / 4.0;
        let turned = (turned + FRAC_PI_4).rem_euclid(FRAC_PI_2) - FRAC_PI_4;
        (diagonals > 4.0 * NOTHING).then(|| Self {
            opening: axes / diagonals,
            turned_rad: (cos.hypot(sin) > NO_CROSS * mean).then_some(turned),
        })
    }
}

/// The stack at each stage, with the name of what was put in last.
fn stages(path: &LightPath) -> Vec<(LightPath, Option<String>, bool)> {
    let perfect: Vec<Option<Part>> = (0..path.parts.len())
        .map(|index| made_good(path, index))
        .collect();
    let with = |real: usize, stray_fraction: f64| LightPath {
        parts: (path.parts.iter().zip(&perfect).enumerate())
            .filter_map(|(index, (part, perfect))| match index < real {
                true => Some(part.clone()),
                false => perfect.clone(),
            })
            .collect(),
        stray_fraction,
        ..path.clone()
    };
    let mut stages = vec![(with(0, 0.0), None, false)];
    for (index, (part, perfect)) in path.parts.iter().zip(&perfect).enumerate() {
        if perfect.as_ref() != Some(part) {
            stages.push((with(index + 1, 0.0), Some(part.name.clone()), false));
        }
    }
    if path.stray_fraction > 0.0 {
        stages.push((path.clone(), None, true));
    }
    stages
}

/// A part without its imperfections: sheets that absorb fully, seen without foreshortening and surfaces, the analyzer crossed with the
/// lower polar; lenses without surfaces and strain. `None` where it is then no part: slides, specimens, and retarders. Circular polars
/// are what their retarders make them: there retarders and the analyzer's azimuth stay as written.
fn made_good(path: &LightPath, index: usize) -> Option<Part> {
    let (part, oblique) = (&path.parts[index], path.is_oblique(index));
    let sheet = |polar: &Polarizer| {
        let mut polar = polar.clone();
        polar.sheet.transmittance.absorb_fully();
        if oblique {
            polar.foreshortened = false;
            polar.surfaces = false;
        }
        polar
    };
    let kind = match &part.kind {
        PartKind::Polarizer(polar) => PartKind::Polarizer(sheet(polar)),
        PartKind::Analyzer(polar) => {
            let linear = path.polars().filter(|_| !path.is_circular());
            let lower = linear.map(|(low, _)| low.azimuth_rad + FRAC_PI_2);
            let crossed = lower.filter(|lower| (lower - polar.azimuth_rad).sin().abs() > 1e-9);
            PartKind::Analyzer(Polarizer {
                azimuth_rad: crossed.unwrap_or(polar.azimuth_rad),
                ..sheet(polar)
            })
        }
        PartKind::Condenser(lens) | PartKind::Objective(lens) => {
            let mut lens = lens.clone();
            if !lens.is_ideal() {
                lens.coating = Coating::Ideal;
            }
            lens.strain.clear();
            match part.kind {
                PartKind::Condenser(_) => PartKind::Condenser(lens),
                _ => PartKind::Objective(lens),
            }
        }
        PartKind::Plate(plate) => PartKind::Plate(plate.clone()),
        PartKind::Retarder(plate) if path.is_circular() => PartKind::Retarder(plate.clone()),
        PartKind::Slide(_) | PartKind::Specimen(_) | PartKind::Retarder(_) => return None,
    };
    Some(Part {
        kind,
        ..part.clone()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cross_of_known_light_is_measured() {
        // a sin^2(2 (phi - t)) + b.
        let rim = |a: f64, b: f64, turn: f64| -> Vec<f64> {
            (0..ON_THE_RIM)
                .map(|k| TAU * k as f64 / ON_THE_RIM as f64)
                .map(|phi| a * (2.0 * (phi - turn)).sin().powi(2) + b)
                .collect()
        };
        let closed = Cross::of(&rim(1e-3, 0.0, 0.0)).unwrap();
        assert!(closed.opening < 1e-25 && closed.turned_rad.unwrap().abs() < 1e-12);
        let open = Cross::of(&rim(2.0, 3.0, 0.0)).unwrap();
        assert!((open.opening - 3.0 / 5.0).abs() < 1e-12);
        for turn in [-0.7, -0.2, 0.3, 0.75] {
            let seen = Cross::of(&rim(1.0, 0.1, turn)).unwrap();
            assert!((seen.turned_rad.unwrap() - turn).abs() < 1e-12, "{turn}");
        }
        assert_eq!(Cross::of(&rim(0.0, 0.5, 0.0)).unwrap().turned_rad, None);
        assert_eq!(Cross::of(&rim(0.0, 0.0, 0.0)), None);
    }
}
