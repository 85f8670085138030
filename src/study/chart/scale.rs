//! What charts of colour over path difference share: wavelengths, path differences, one band.

use std::f64::consts::TAU;

use super::light::{Polars, SpecimenLight};
use super::tint::SeenBeside;
use super::{Band, Conditions, OBSERVER, Tint};
use crate::color::ciede2000;
use crate::light_path::LightPath;
use crate::material::{Birefringence, PolarizingSheet, SheetTransmittance};
use crate::spectrum::{Source, WavelengthGrid};
use crate::study::StudyError;
use crate::study::predict::check_degree;
use crate::study::stage::golden;
use crate::threads;

/// The longest scale, nm.
pub const MOST_NM: f64 = 1e5;
/// The most path differences of a scale.
pub const MOST_STEPS: usize = 20_000;

/// Wavelengths of a chart without a scenario, nm.
const USUAL_RANGE_NM: (f64, f64) = (380.0, 780.0);

/// Steps of wavelength that are tried, nm.
const WAVELENGTH_STEPS_NM: [f64; 4] = [1.0, 0.5, 0.2, 0.1];
/// Most turns of phase between neighbouring wavelengths.
const MOST_TURNS: f64 = 0.1;

/// Distance of the path differences at which extremes of luminance are looked for, nm: colours repeat in hundreds.
const SCAN_NM: f64 = 4.0;
/// Steps of the golden section, each of which leaves 0.62 of the interval: after so many, what is left is below the rounding of the arithmetic.
const GOLDEN: usize = 40;

/// The eye's discrimination is judged from this lightness on: colour-difference formulas are not made for the dark.
const LEAST_LIGHTNESS: f64 = 20.0;
/// Where the eye discriminates best is looked for in the first two orders, nm: beyond, hues return and only their order tells them apart.
const KEENEST_UP_TO_NM: f64 = 1100.0;

/// What a chart of colour over path difference is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScaleRequest<'a> {
    /// The lamp.
    pub source: &'a Source,
    /// The sheet of both polars of the chart's first columns.
    pub sheet: &'a PolarizingSheet,
    /// How they are used.
    pub polars: Polars,
    /// How path differences follow the wavelength; `None` for the same at every one.
    pub dispersion: Option<&'a Dispersion>,
    /// The scale's end, nm.
    pub to_nm: f64,
    /// Distance of its path differences, nm.
    pub step_nm: f64,
    /// By how many stops all colours are exposed up.
    pub exposure_stops: f64,
    /// Degree of the eye's adaptation to the parallel field, 0 to 1; see [`crate::color::Adaptation::by_degree`].
    pub adaptation_degree: f64,
    /// A light path that is to be shown beside them, and the wavelengths of its scenario.
    pub microscope: Option<(&'a LightPath, &'a WavelengthGrid)>,
}

/// Path difference that follows a material's birefringence.
#[derive(Debug, Clone, PartialEq)]
pub struct Dispersion {
    /// The material's name.
    pub name: String,
    /// Its birefringence.
    pub material: Birefringence,
    /// The wavelength, nm, at which path differences are named.
    pub at_nm: f64,
}

impl Dispersion {
    /// Path difference over that at [`Self::at_nm`].
    fn relative(&self, wavelength_nm: f64) -> Result<f64, StudyError> {
        (self.material.relative(wavelength_nm, self.at_nm)).map_err(|source| StudyError::Table {
            what: self.name.clone(),
            source,
        })
    }
}

/// A step that suits a scale of this length: 1 nm, or more where that would be thousands of them.
#[must_use]
pub fn usual_step_nm(to_nm: f64) -> f64 {
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0];
    let few = steps.into_iter().find(|step| to_nm <= 5000.0 * step);
    few.unwrap_or(20.0)
}

/// A scale's wavelengths, and the path differences that it shows.
pub(super) struct Frame {
    pub(super) grid: WavelengthGrid,
    /// Phase for each nm of path difference, radians, by wavelength.
    pub(super) phase_per_nm: Vec<f64>,
    pub(super) path_difference_nm: Vec<f64>,
    /// Degree of the eye's adaptation.
    pub(super) degree: f64,
}

impl Frame {
    pub(super) fn new(request: &ScaleRequest<'_>) -> Result<Self, StudyError> {
        let &ScaleRequest { to_nm, step_nm, .. } = request;
        within("the scale's end in nm", to_nm, 10.0, MOST_NM)?;
        let least = to_nm / MOST_STEPS as f64;
        within("the step of path difference in nm", step_nm, least, to_nm)?;
        check_exposure(request.exposure_stops)?;
        check_degree(request.adaptation_degree)?;
        let grid = grid(request)?;
        let count = (to_nm / step_nm + 1e-9).floor() as usize;
        let phase_per_nm = (grid.wavelengths_nm().iter())
            .map(|&nm| Ok(TAU * turns_per_nm(request, nm)?))
            .collect::<Result<_, StudyError>>()?;
        Ok(Self {
            grid,
            phase_per_nm,
            path_difference_nm: (0..=count).map(|k| step_nm * k as f64).collect(),
            degree: request.adaptation_degree,
        })
    }
}

/// Every nanometre, or so closely that phase turns little from one wavelength to the next even at the scale's end.
fn grid(request: &ScaleRequest<'_>) -> Result<WavelengthGrid, StudyError> {
    let written = request.microscope.map(|(_, grid)| grid);
    let (from, to) = written.map_or(USUAL_RANGE_NM, WavelengthGrid::ends_nm);
    if from == to {
        return Ok(WavelengthGrid::single(from));
    }
    let per_nm = (turns_per_nm(request, from)? - turns_per_nm(request, from + 1.0)?).abs();
    let most = MOST_TURNS / (per_nm * request.to_nm);
    let wanted = most.min(written.map_or(f64::INFINITY, WavelengthGrid::step_nm));
    let Some(step) = WAVELENGTH_STEPS_NM.into_iter().find(|step| *step <= wanted) else {
        let reach = MOST_TURNS / (per_nm * WAVELENGTH_STEPS_NM[3]);
        return Err(StudyError::OutOfRange {
            quantity: "the scale's end in nm",
            value: request.to_nm,
            allowed: format!(
                "10 to {} with wavelengths from {from} nm, 0.1 nm apart",
                reach.floor()
            ),
        });
    };
    WavelengthGrid::new(from, to, step).map_err(|_| StudyError::OutOfRange {
        quantity: "the last wavelength in nm",
        value: to,
        allowed: "360 to 830".to_owned(),
    })
}

/// Turns of phase for each nm of path difference.
fn turns_per_nm(request: &ScaleRequest<'_>, wavelength_nm: f64) -> Result<f64, StudyError> {
    let relative = (request.dispersion).map_or(Ok(1.0), |law| law.relative(wavelength_nm))?;
    Ok(relative / wavelength_nm)
}

pub(super) fn within(
    quantity: &'static str,
    value: f64,
    least: f64,
    most: f64,
) -> Result<(), StudyError> {
    if (least..=most).contains(&value) {
        return Ok(());
    }
    Err(StudyError::OutOfRange {
        quantity,
        value,
        allowed: format!("{least} to {most}"),
    })
}

pub(super) fn check_exposure(stops: f64) -> Result<(), StudyError> {
    within("the exposure in stops", stops, 0.0, 40.0)
}

/// Stops by which a scale is exposed up: those asked for, from what suits its white.
pub(super) fn stops(request: &ScaleRequest<'_>, first: &SpecimenLight) -> Result<f64, StudyError> {
    let seen = SeenBeside::beside(first.parallel, request.adaptation_degree)?;
    Ok(request.exposure_stops + seen.white_stops())
}

/// One column of colour; `sign` -1 turns the specimen by 90 degrees.
pub(super) fn band(
    heading: &str,
    light: &SpecimenLight,
    sign: f64,
    frame: &Frame,
    exposure_stops: f64,
) -> Result<Band, StudyError> {
    let seen = SeenBeside::beside(light.parallel, frame.degree)?;
    let scale = &frame.path_difference_nm;
    let tints = threads::map(0..scale.len(), |step| {
        seen.tint(light.xyz(sign * scale[step]), exposure_stops)
    });
    let discrimination_per_nm = discrimination(&tints, scale);
    let luminance = |nm: f64| light.xyz(sign * nm).luminance();
    let to_nm = scale.last().copied().unwrap_or(0.0);
    let first_maximum = first_least(0.0, to_nm, |nm| -luminance(nm));
    let first_minimum = first_maximum.and_then(|(from, _)| first_least(from, to_nm, luminance));
    Ok(Band {
        heading: heading.to_owned(),
        keenest_nm: keenest_nm(&tints, &discrimination_per_nm, scale),
        tints,
        discrimination_per_nm,
        first_maximum: first_maximum.map(|(nm, minus)| (nm, -minus)),
        first_minimum,
    })
}

/// CIEDE2000 between the two neighbours of each colour, over their distance; at the ends, from the end to its neighbour.
fn discrimination(tints: &[Tint], scale: &[f64]) -> Vec<f64> {
    let last = tints.len() - 1;
    (0..tints.len())
        .map(|k| {
            let (before, after) = (k.saturating_sub(1), (k + 1).min(last));
            let apart = scale[after] - scale[before];
            if apart > 0.0 {
                ciede2000(tints[before].lab, tints[after].lab) / apart
            } else {
                0.0
            }
        })
        .collect()
}

fn keenest_nm(tints: &[Tint], discrimination: &[f64], scale: &[f64]) -> f64 {
    let most = |least: f64| {
        (0..tints.len())
            .filter(|&k| tints[k].lab.0[0] >= least && scale[k] <= KEENEST_UP_TO_NM)
            // The first of equals.
            .reduce(|best, k| {
                if discrimination[k] > discrimination[best] {
                    k
                } else {
                    best
                }
            })
    };
    let best = most(LEAST_LIGHTNESS).or_else(|| most(f64::NEG_INFINITY));
    best.map_or(0.0, |k| scale[k])
}

/// The first place between two at which a function is least among its neighbours, and the value there.
fn first_least(from: f64, to: f64, value: impl Fn(f64) -> f64) -> Option<(f64, f64)> {
    let (mut before, mut here) = (value(from), value(from + SCAN_NM));
    let mut middle = from + SCAN_NM;
    while middle + SCAN_NM <= to {
        let after = value(middle + SCAN_NM);
        if here < before && here <= after {
            return Some(golden(middle - SCAN_NM, middle + SCAN_NM, GOLDEN, value));
        }
        (before, here) = (here, after);
        middle += SCAN_NM;
    }
    None
}

/// Under what a scale holds: white and wavelengths of its first column.
pub(super) fn conditions(
    request: &ScaleRequest<'_>,
    frame: &Frame,
    first: &SpecimenLight,
    notes: Vec<String>,
) -> Result<Conditions, StudyError> {
    let seen = SeenBeside::beside(first.parallel, frame.degree)?;
    Ok(Conditions {
        observer: OBSERVER,
        lamp: Some(request.source.name()),
        white_xy: seen.white.chromaticity(),
        white_balanced: seen.degree.is_some(),
        adaptation_degree: seen.degree,
        polars: polars_words(request),
        wavelengths_nm: told(&frame.grid),
        notes,
    })
}

/// First and last wavelength of a grid and its step, nm, without the rounding of its sums.
pub(super) fn told(grid: &WavelengthGrid) -> (f64, f64, f64) {
    let (from, to) = grid.ends_nm();
    (from, to, (1e6 * grid.step_nm()).round() / 1e6)
}

/// What the first columns' polars are.
pub(super) fn heading(request: &ScaleRequest<'_>) -> String {
    let ideal = matches!(request.sheet.transmittance, SheetTransmittance::Ideal);
    if ideal {
        "ideal".to_owned()
    } else {
        request.sheet.name.clone()
    }
}

/// What a microscope's own polars are called.
pub(super) const OWN_POLARS: &str = "the scenario's own polars";

fn polars_words(request: &ScaleRequest<'_>) -> String {
    let kind = match request.polars {
        Polars::Linear => "linear",
        Polars::Circular => "circular",
    };
    let first = format!("{} {kind} polars", heading(request));
    match request.microscope {
        Some(_) => format!("{first}; beside them the scenario's own"),
        None => first,
    }
}
