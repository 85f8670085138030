//! What a chart takes where nothing else is asked for.

use std::f64::consts::FRAC_PI_4;

use super::orders::ORDER_NM;
use super::{ColorGrid, GridShown, sheets};
use crate::light_path::PartKind;
use crate::material::{Birefringence, PolarizingSheet, catalog};
use crate::optics::Retarder;
use crate::scene::Scene;
use crate::spectrum::{Source, WavelengthGrid};
use crate::study::StudyError;

/// The end of a scale, nm.
pub const USUAL_END_NM: f64 = 1800.0;

/// What accessory plates are made of.
const PLATE_MATERIAL: &str = "quartz";
/// Wavelengths of a chart of sheets without a microscope: first, last and step, nm.
pub(super) const USUAL_WAVELENGTHS_NM: (f64, f64, f64) = (380.0, 780.0, 1.0);

/// The lamp of a chart without a microscope: daylight. The catalog has it.
#[must_use]
pub fn usual_lamp() -> Source {
    Source::named("cie-d65").unwrap_or(Source::Blackbody {
        temperature_k: 6500.0,
    })
}

/// An accessory plate of quartz of this path difference, its slow direction at 45 degrees; a chart that needs another azimuth sets it.
///
/// # Examples
/// ```
/// use polstack::study::chart::{FIRST_ORDER_NM, accessory_plate};
/// let plate = accessory_plate(FIRST_ORDER_NM);
/// assert!((plate.thickness_um().unwrap() - 60.05).abs() < 0.01);
/// ```
#[must_use]
pub fn accessory_plate(path_difference_nm: f64) -> Retarder {
    Retarder {
        path_difference_nm,
        at_nm: ORDER_NM,
        material: catalog::plate_material(PLATE_MATERIAL).unwrap_or(Birefringence::None),
        slow_azimuth_rad: FRAC_PI_4,
    }
}

/// Whether a microscope has an accessory plate of its own.
#[must_use]
pub fn has_plate(scene: &Scene) -> bool {
    let mut parts = scene.path.parts.iter();
    parts.any(|part| matches!(part.kind, PartKind::Plate(_)))
}

/// [`sheets()`] of every sheet of the catalog, and of the microscope's own, under every lamp of the catalog: in collimated light, or
/// in the microscope's path.
///
/// # Errors
/// As [`sheets()`].
pub fn all_sheets(microscope: Option<&Scene>, shown: GridShown) -> Result<ColorGrid, StudyError> {
    let all = catalog_and_own(microscope);
    let names = Source::names().into_iter();
    let lamps: Vec<Source> = names.filter_map(Source::named).collect();
    let (from, to, step) = USUAL_WAVELENGTHS_NM;
    let usual = WavelengthGrid::new(from, to, step).unwrap_or_default();
    let grid = microscope.map_or(&usual, |scene| &scene.grid);
    let path = microscope.map(|scene| &scene.path);
    sheets(&all, &lamps, grid, path, shown)
}

/// Every sheet of the catalog, and the microscope's own where they are others.
pub(super) fn catalog_and_own(microscope: Option<&Scene>) -> Vec<PolarizingSheet> {
    let names = catalog::names("sheet").into_iter();
    let mut all: Vec<PolarizingSheet> = names.filter_map(catalog::sheet).collect();
    let polars = microscope.and_then(|scene| scene.path.polars());
    for own in polars.into_iter().flat_map(|(low, high)| [low, high]) {
        if !all.contains(&own.sheet) {
            all.push(own.sheet.clone());
        }
    }
    all
}
