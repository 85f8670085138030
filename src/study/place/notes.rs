//! What a builder should know about a place besides the light: by rule.

use std::f64::consts::FRAC_PI_2;

use serde::Serialize;

use super::contest::PlaceLight;
use super::places::{Place, PlacedPath};
use crate::calculus::Stokes;
use crate::light_path::{LightPath, PartKind, PathError};
use crate::optics::{Coating, Polarizer};
use crate::spectrum::Source;

/// Thinnest and thickest sheet, mm: plain film to film between glass or thick plastic. Common practice, no source.
pub const SHEET_MM: (f64, f64) = (0.2, 0.8);

/// Above this an iodine sheet fades, degrees Celsius. From memory.
pub const FADES_CELSIUS: f64 = 80.0;

/// How the polar is turned in its place. Common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PolarAccess {
    /// In a holder, from outside.
    InHolder,
    /// Only with the condenser taken apart, or through a slot in its mount.
    TakenApart,
    /// By hand, with the slide off.
    OnTopLens,
    /// It turns with the slide: on a rotating stage the polars uncross.
    WithSlide,
}

/// One thing to know about a place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "rule", rename_all = "snake_case")]
pub enum Note {
    /// The sheet lifts the slide, which takes as much from the working distance of a condenser.
    Height {
        /// Thinnest sheet, mm.
        from_mm: f64,
        /// Thickest sheet, mm.
        to_mm: f64,
        /// Whether a condenser stands below it.
        #[serde(skip)]
        above_condenser: bool,
    },
    /// The sheet lies in the beam of an incandescent lamp before any other part.
    Heat {
        /// Where it begins to fade, degrees Celsius.
        fades_celsius: f64,
    },
    /// Oil wets the sheet: film without protection swells or loses its edge seal. Common practice, no source.
    Oil {
        /// Refractive index of the medium.
        index: f64,
    },
    /// How it is turned.
    Turning {
        /// How.
        how: PolarAccess,
    },
    /// Dust and scratches on it are nearly in focus. Common practice, no source.
    NearFocus,
    /// Oblique rays cross the sheet.
    Oblique {
        /// NA at which that alone, with all else ideal, leaves the wanted extinction ratio; `None` when the steepest rays still leave more.
        na: Option<f64>,
        /// The wanted extinction ratio.
        extinction_ratio: f64,
        /// NA in object space that rays stay below to cross film and media at all.
        steepest_na: f64,
    },
}

/// What to know about a lower polar in its place.
pub(super) fn notes(
    PlacedPath { place, path, .. }: &PlacedPath,
    source: &Source,
    extinction_ratio: f64,
    light: impl Fn(&LightPath) -> Result<PlaceLight, PathError>,
) -> Vec<Note> {
    let mut notes = Vec::new();
    let under_slide = matches!(
        place,
        Place::UnderSlideDry | Place::UnderSlideImmersed { .. }
    );
    if *place == Place::BelowCondenser && is_incandescent(source) {
        notes.push(Note::Heat {
            fades_celsius: FADES_CELSIUS,
        });
    }
    if under_slide {
        let (from_mm, to_mm) = SHEET_MM;
        notes.push(Note::Height {
            from_mm,
            to_mm,
            above_condenser: path.condensers().next().is_some(),
        });
    }
    if let Some(index) = wetting(place, path) {
        notes.push(Note::Oil { index });
    }
    if under_slide || *place == Place::AboveCondenser {
        notes.push(Note::NearFocus);
    }
    notes.extend(
        match place {
            Place::BelowCondenser => Some(PolarAccess::InHolder),
            Place::BetweenLenses => Some(PolarAccess::TakenApart),
            Place::AboveCondenser => Some(PolarAccess::OnTopLens),
            Place::UnderSlideDry | Place::UnderSlideImmersed { .. } => Some(PolarAccess::WithSlide),
            Place::Behind { .. } | Place::AsWritten => None,
        }
        .map(|how| Note::Turning { how }),
    );
    notes.extend(oblique(path, extinction_ratio, light));
    notes
}

/// Whether a lamp sends its heat along with its light.
fn is_incandescent(source: &Source) -> bool {
    match source {
        Source::Blackbody { .. } => true,
        Source::Table { name, .. } => name == "cie-a",
        Source::Line { .. } => false,
    }
}

/// Refractive index of what wets the sheet, where it is not dry.
fn wetting(place: &Place, path: &LightPath) -> Option<f64> {
    let part = path.lower_polar()?;
    let medium = path.media(part).0;
    match place {
        Place::UnderSlideImmersed { index } => Some(*index),
        Place::AboveCondenser if medium != 1.0 => Some(medium),
        _ => None,
    }
}

/// What the oblique rays allow; `None` where the sheet meets none.
fn oblique(
    path: &LightPath,
    extinction_ratio: f64,
    light: impl Fn(&LightPath) -> Result<PlaceLight, PathError>,
) -> Option<Note> {
    let part = path.lower_polar()?;
    let (lower, _) = path.polars()?;
    if !path.is_oblique(part) {
        return None;
    }
    let (below, above) = path.media(part);
    let around = below.min(above).min(lower.sheet.index) / path.steepness(part);
    let objective = path.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Objective(lens) => Some(lens.immersion),
        _ => None,
    });
    // Rays in object space are never steeper than its media allow.
    let steepest_na = objective.fold(around.min(path.condenser_medium()), f64::min);
    let leaves =
        |na: f64| light(&bare(path, na)).is_ok_and(|light| light.leak * extinction_ratio < 1.0);
    let most = steepest_na * (1.0 - 1e-6);
    let na = if leaves(most) {
        None
    } else {
        let (mut from, mut to) = (0.0, most);
        while to - from > 1e-4 {
            let middle = 0.5 * (from + to);
            if leaves(middle) {
                from = middle;
            } else {
                to = middle;
            }
        }
        Some(from)
    };
    Some(Note::Oblique {
        na,
        extinction_ratio,
        steepest_na,
    })
}

/// The path with nothing wrong in it but the oblique rays in its lower polar, opened to an NA.
fn bare(path: &LightPath, na: f64) -> LightPath {
    let mut bare = LightPath {
        lamp: Stokes::UNPOLARIZED,
        iris_na: Some(na),
        view_na: path.view_na.map(|_| na),
        stray_fraction: 0.0,
        ..path.clone()
    };
    let lower = path.lower_polar();
    let crossed_rad = path
        .polars()
        .map_or(0.0, |(lower, _)| lower.azimuth_rad + FRAC_PI_2);
    let mut index = 0;
    bare.parts.retain(|part| {
        index += 1;
        match part.kind {
            PartKind::Condenser(_) | PartKind::Objective(_) | PartKind::Analyzer(_) => true,
            PartKind::Polarizer(_) => lower == Some(index - 1),
            _ => false,
        }
    });
    let last_na = bare.parts.iter().rev().find_map(|part| match &part.kind {
        PartKind::Condenser(lens) => Some(lens.na),
        _ => None,
    });
    let perfect = |polar: &mut Polarizer| {
        polar.sheet.transmittance.absorb_fully();
        polar.surfaces = false;
        polar.contact = None;
    };
    for part in &mut bare.parts {
        match &mut part.kind {
            PartKind::Condenser(lens) => {
                // The beam between two lenses keeps its share.
                lens.na *= na / last_na.unwrap_or(lens.na);
                lens.coating = Coating::Ideal;
                lens.strain.clear();
            }
            PartKind::Objective(lens) => {
                lens.na = na;
                lens.coating = Coating::Ideal;
                lens.strain.clear();
            }
            PartKind::Polarizer(polar) => perfect(polar),
            PartKind::Analyzer(polar) => {
                perfect(polar);
                polar.azimuth_rad = crossed_rad;
            }
            _ => {}
        }
    }
    bare
}
