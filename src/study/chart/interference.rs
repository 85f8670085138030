//! Colour over path difference.

use std::f64::consts::TAU;

use super::light::SpecimenLight;
use super::scale::{Frame, OWN_POLARS, ScaleRequest, band, conditions, heading, stops};
use super::tint::SeenBeside;
use super::{Scale, lines, notes};
use crate::color::Swatch;
use crate::scene::Scene;
use crate::study::StudyError;
use crate::study::lamp::Lamp;

/// The colours of a specimen at 45 degrees between crossed polars, of the sheets asked for and, beside them, of a microscope.
///
/// Between ideal polars, linear or circular, light is `sin^2(pi Gamma(l)/l)` of the parallel field's.
///
/// # Errors
/// [`StudyError`] for a scale beyond its bounds, a lamp or sheet that does not cover the wavelengths, a path that cannot be run.
///
/// Checked by: `tests/laws/chart.rs`, `tests/published/colour.rs`, `tests/reference/charts.rs`.
pub fn interference(request: &ScaleRequest<'_>) -> Result<Scale, StudyError> {
    let frame = Frame::new(request)?;
    let lamp = Lamp::new(request.source, &frame.grid)?;
    let sheets = (request.sheet, request.polars, &[][..]);
    let first = SpecimenLight::of_sheets(sheets, &frame.phase_per_nm, &lamp)?;
    let stops = stops(request, &first)?;
    let mut bands = vec![band(&heading(request), &first, 1.0, &frame, stops)?];
    if let Some((path, _)) = request.microscope {
        let (light, _) = SpecimenLight::of_path(path, &frame.phase_per_nm, &lamp)?;
        bands.push(band(THIS_MICROSCOPE, &light, 1.0, &frame, stops)?);
    }
    let notes = notes::of_scale(request, frame.grid.ends_nm());
    Ok(Scale {
        conditions: conditions(request, &frame, &first, notes)?,
        exposure_stops: stops,
        path_difference_nm: frame.path_difference_nm,
        at_nm: request.dispersion.map(|law| law.at_nm),
        bands,
        beside: request.microscope.map(|_| OWN_POLARS),
        lines: lines::birefringence_lines(),
        differences: Vec::new(),
        object: None,
    })
}

/// Colours of specimens on a screen.
#[derive(Debug, Clone, PartialEq)]
pub struct PlateColors {
    /// Plates out.
    pub without_plate: Vec<Swatch>,
    /// Plates in; `None` in a stack without one.
    pub with_plate: Option<Vec<Swatch>>,
}

/// Colours of specimens at 45 degrees in a microscope, by their path differences in nm, the parallel field being white: plates out and, where there
/// are any, in.
///
/// # Errors
/// [`StudyError`] when the path cannot be run or no light is seen.
pub fn colors_of_path(
    scene: &Scene,
    path_difference_nm: &[f64],
) -> Result<PlateColors, StudyError> {
    let Scene { path, source, grid } = scene;
    let lamp = Lamp::new(source, grid)?;
    let phase_per_nm: Vec<f64> = (grid.wavelengths_nm().iter()).map(|nm| TAU / nm).collect();
    let (without_plate, with_plate) = SpecimenLight::of_path(path, &phase_per_nm, &lamp)?;
    let colors = |light: &SpecimenLight| {
        let seen = SeenBeside::beside(light.parallel, 1.0)?;
        let stops = seen.white_stops();
        let color = |nm: &f64| seen.swatch(light.xyz(*nm), stops);
        Ok::<_, StudyError>(path_difference_nm.iter().map(color).collect())
    };
    Ok(PlateColors {
        without_plate: colors(&without_plate)?,
        with_plate: with_plate.as_ref().map(colors).transpose()?,
    })
}

/// What the columns of a scenario are called.
pub(super) const THIS_MICROSCOPE: &str = "this microscope";
