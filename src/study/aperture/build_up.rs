//! The stack put together part by part, so that the dark cross can be seen to open and to turn.

use std::f64::consts::FRAC_PI_2;

use crate::color::Xyz;
use crate::light_path::{LightPath, Part, PartKind};
use crate::math;
use crate::optics::{Coating, Polarizer, Rays};

use super::cross::Cross;
use super::crystal::FigureLies;
use super::{ApertureBench, luminances, polars_rad};
use crate::study::StudyError;
use crate::study::lamp::Lamp;
use crate::study::measures::{NOTHING, ratio};

/// One stage of the stack.
#[derive(Debug, Clone, PartialEq)]
pub struct BuildUpStep {
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
    /// Whether the figure of a crystal, if there is one, lies about the middle of the disc (within [`super::OFF_MIDDLE`]).
    pub is_centred: bool,
    /// How the dark cross stands; `None` for circular polars, where nothing leaks, and where there is none about the middle of the disc.
    pub cross: Option<Cross>,
}

/// The stages, from perfect parts to the stack itself. Parts that are perfect already are no stage of their own.
pub(super) fn build_up(
    path: &LightPath,
    lamp: &Lamp,
    quadrature: &Rays,
    picture: &Rays,
) -> Result<Vec<BuildUpStep>, StudyError> {
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
) -> Result<BuildUpStep, StudyError> {
    let bench = ApertureBench::new(&path, lamp, quadrature)?;
    let view = bench.view(picture, false)?;
    let relative_luminance = match view.relative_luminance > NOTHING {
        true => view.relative_luminance,
        false => 0.0,
    };
    let figure = FigureLies::of(&path);
    let cross = match polars_rad(&path) {
        Some((lower, _)) if relative_luminance > 0.0 => {
            Cross::of(picture, &luminances(&view.light), lower, figure)
        }
        _ => None,
    };
    Ok(BuildUpStep {
        part,
        stray,
        light: view.light,
        relative_luminance,
        extinction_ratio: ratio(1.0, relative_luminance),
        is_centred: figure.is_centred(),
        cross,
    })
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
            let crossed = lower.filter(|lower| math::sin(lower - polar.azimuth_rad).abs() > 1e-9);
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
