//! Which sheet: what each passes, how dark a pair of it gets, what its cover does, and how well all of that is known.

use std::f64::consts::FRAC_PI_2;

use serde::Serialize;

use super::sheets::in_path;
use super::tint::SeenBeside;
use super::usual::{USUAL_WAVELENGTHS_NM, catalog_and_own, usual_lamp};
use crate::color::{Background, Xyz, stops_within};
use crate::light_path::{LightPath, Part, PartKind};
use crate::material::catalog::{self, SheetSection};
use crate::material::{Glass, Index, PolarizingSheet};
use crate::optics::{Lens, Polarizer};
use crate::scene::Scene;
use crate::spectrum::{Source, WavelengthGrid};
use crate::study::StudyError;
use crate::study::doubt::{Doubt, Stands, doubt};
use crate::study::interval::Interval;
use crate::study::lamp::Lamp;
use crate::study::measures::ratio;
use crate::study::predict::seen;
use crate::study::unknown::cover_prior;

/// Where sheets are compared without a microscope: above a condenser that is perfect but for the sheet, at this numerical aperture. A usual dry objective:
/// common practice, no source.
const STEEP_NA: f64 = 0.65;

/// By so many stops the colour of a parallel pair is exposed up.
const IDEAL_PAIR_STOPS: f64 = 1.0;

/// Sheets side by side under one lamp.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SheetComparison {
    /// The lamp, by name.
    pub lamp: String,
    /// Where `placed` holds, in words.
    pub placed_in: String,
    /// The sheets, section by section.
    pub sheets: Vec<ComparedSheet>,
}

/// One of the sheets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComparedSheet {
    /// Its name.
    pub sheet: String,
    /// What it is made for.
    pub section: SheetSection,
    /// Out-of-plane path difference of its cover, nm.
    pub cover_nm: f64,
    /// Between what that lies; `None` where it is exact.
    pub cover: Option<Interval>,
    /// What one sheet passes of the lamp's light, as the eye weighs it.
    pub one: KnownLight,
    /// What two parallel ones pass.
    pub parallel: KnownLight,
    /// The colour of two parallel ones beside the lamp, exposed up by one stop: an ideal pair, which passes half of the light, is white.
    pub parallel_color: Background,
    /// The colour of two crossed ones beside their own parallel light, white being the lamp, exposed up.
    pub crossed_color: Background,
    /// How dark two crossed ones are in collimated light.
    pub pair: KnownRatio,
    /// How dark they are in place: see [`SheetComparison::placed_in`].
    pub placed: KnownRatio,
    /// In which part of common draws it is the darkest in place of all real sheets; `None` for an ideal one.
    pub darkest_probability: Option<f64>,
}

/// A transmittance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct KnownLight {
    /// As the catalog or the scenario has it. It may lie at an end of `doubt` or outside of it: the catalog's iodine sheets may pass up to 8 % less
    /// than is written there, and never more.
    pub transmittance: f64,
    /// Between what it lies; `None` where nothing is known of that.
    pub doubt: Option<Interval>,
}

impl KnownLight {
    /// The middle of what it may be; as it is written where nothing is known of that.
    #[must_use]
    pub fn likely(&self) -> f64 {
        self.doubt.map_or(self.transmittance, |doubt| doubt.median)
    }
}

/// A luminous extinction ratio.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct KnownRatio {
    /// With every number as the catalog or the scenario has it; `None` where nothing leaks.
    pub extinction_ratio: Option<f64>,
    /// Between what it lies; `None` where nothing is open.
    pub doubt: Option<Interval>,
}

/// The sheets of the catalog and of the microscope, compared under a lamp: that of the microscope, or daylight, where `lamp` is `None`.
///
/// Intervals hold 90 %. They come from what the catalog and the file leave open: a sheet's leak and cover as [`Stands::of_file`] has them, and the factor
/// within which the catalog's `k1` is right.
///
/// # Errors
/// [`StudyError`] for a lamp or sheet that does not cover the wavelengths, or a path that cannot be run.
///
/// Checked by: `tests/laws/chart.rs`.
pub fn compare_sheets(
    microscope: Option<&Scene>,
    lamp: Option<&Source>,
) -> Result<SheetComparison, StudyError> {
    let own = || microscope.map(|scene| scene.source.clone());
    let source = (lamp.cloned().or_else(own)).unwrap_or_else(usual_lamp);
    let (from, to, step) = USUAL_WAVELENGTHS_NM;
    let usual = WavelengthGrid::new(from, to, 5.0 * step).unwrap_or_default();
    let grid = microscope.map_or(usual, |scene| scene.grid.clone());
    let lamp = Lamp::new(&source, &grid)?;
    let mut rows = Vec::new();
    for sheet in catalog_and_own(microscope) {
        let path = match microscope {
            Some(scene) => with_sheet(&scene.path, &sheet),
            None => above_a_condenser(&sheet),
        };
        let scene = Scene {
            path,
            source: source.clone(),
            grid: grid.clone(),
        };
        rows.push(compared(&sheet, &scene, &lamp)?);
    }
    let (mut sheets, ratios): (Vec<ComparedSheet>, Vec<Vec<f64>>) = rows.into_iter().unzip();
    for (row, probability) in darkest(&sheets, &ratios) {
        sheets[row].darkest_probability = Some(probability);
    }
    // The catalog's order within a section.
    sheets.sort_by_key(|row| row.section);
    Ok(SheetComparison {
        lamp: source.name(),
        placed_in: match microscope {
            Some(_) => "in the scenario's microscope".to_owned(),
            None => format!("above a perfect condenser, NA {STEEP_NA}"),
        },
        sheets,
    })
}

/// A sheet in its place, and the extinction ratios there of the draws of what is not known.
fn compared(
    sheet: &PolarizingSheet,
    placed: &Scene,
    lamp: &Lamp<'_>,
) -> Result<(ComparedSheet, Vec<f64>), StudyError> {
    let about = catalog::sheet_about(&sheet.name);
    let k1_factors = about.and_then(|about| about.k1_factors);
    let passed = passed_by(sheet, lamp)?;
    let known = |light: fn(f64, f64) -> f64| -> Result<KnownLight, StudyError> {
        Ok(KnownLight {
            transmittance: passed.share(lamp, 1.0, light)?,
            doubt: match k1_factors {
                Some((least, most)) => {
                    let at = |part: f64| passed.share(lamp, least + part * (most - least), light);
                    let (low, median, high) = (at(0.05)?, at(0.5)?, at(0.95)?);
                    Some(Interval { low, median, high })
                }
                None => None,
            },
        })
    };
    let white = lamp.weights.white();
    let [parallel, crossed] = [parallel_pair, crossed_pair].map(|light| passed.seen(lamp, light));
    let (parallel, crossed) = (parallel?, crossed?);
    let parallel_color = Background::exposed(parallel, white, IDEAL_PAIR_STOPS)?;
    // Brought to the lamp's luminance, so that the lamp's white and the parallel pair's light count as one.
    let beside = seen(crossed, parallel).scaled(1.0 / parallel.luminance());
    let brightest = SeenBeside::beside(white, 1.0)?.largest_channel(beside);
    let stops = stops_within(brightest, false);
    let crossed_color = Background::exposed(beside.scaled(white.luminance()), white, stops)?;
    let alone = Scene {
        path: collimated(sheet),
        ..placed.clone()
    };
    let (alone_doubt, placed_doubt) = (doubt_of(&alone)?, doubt_of(placed)?);
    let (in_parallel, in_crossed) = in_path(sheet, &placed.path, lamp)?;
    let placed_ratio = ratio(lamp.luminance(&in_parallel), lamp.luminance(&in_crossed));
    let interval = |doubt: &Option<Doubt>| doubt.as_ref().map(|doubt| doubt.extinction_ratio);
    let row = ComparedSheet {
        sheet: sheet.name.clone(),
        section: about.map_or(SheetSection::Own, |about| about.section),
        cover_nm: sheet.cover_nm,
        cover: cover_prior(sheet).map(|prior| {
            let [low, median, high] = [0.05, 0.5, 0.95].map(|part| prior.quantile(part));
            Interval { low, median, high }
        }),
        one: known(|k1, k2| 0.5 * (k1 + k2))?,
        parallel: known(parallel_pair)?,
        parallel_color,
        crossed_color,
        pair: KnownRatio {
            extinction_ratio: ratio(parallel.luminance(), crossed.luminance()),
            doubt: interval(&alone_doubt),
        },
        placed: KnownRatio {
            extinction_ratio: placed_ratio,
            doubt: interval(&placed_doubt),
        },
        darkest_probability: None,
    };
    let written = placed_ratio.unwrap_or(f64::INFINITY);
    Ok((
        row,
        placed_doubt.map_or(vec![written], |doubt| doubt.ratios),
    ))
}

fn parallel_pair(k1: f64, k2: f64) -> f64 {
    0.5 * (k1 * k1 + k2 * k2)
}

fn crossed_pair(k1: f64, k2: f64) -> f64 {
    k1 * k2
}

/// Principal transmittances at a lamp's wavelengths.
struct PassedBySheet(Vec<(f64, f64)>);

fn passed_by(sheet: &PolarizingSheet, lamp: &Lamp<'_>) -> Result<PassedBySheet, StudyError> {
    let at = |nm: &f64| sheet.principal_transmittances(*nm);
    let all: Result<Vec<_>, _> = lamp.wavelengths_nm.iter().map(at).collect();
    all.map(PassedBySheet).map_err(|source| StudyError::Table {
        what: sheet.name.clone(),
        source,
    })
}

impl PassedBySheet {
    /// Light that sheets pass, in the unit of the lamp's weights.
    fn seen(&self, lamp: &Lamp<'_>, light: impl Fn(f64, f64) -> f64) -> Result<Xyz, StudyError> {
        let spectrum: Vec<f64> = self.0.iter().map(|(k1, k2)| light(*k1, *k2)).collect();
        Ok(lamp.weights.xyz(&spectrum)?)
    }

    /// The part of the lamp's luminance that they pass when `k1` is a factor off.
    fn share(
        &self,
        lamp: &Lamp<'_>,
        factor: f64,
        light: fn(f64, f64) -> f64,
    ) -> Result<f64, StudyError> {
        let xyz = self.seen(lamp, |k1, k2| light(factor * k1, k2))?;
        Ok(xyz.luminance() / lamp.weights.white().luminance())
    }
}

fn doubt_of(scene: &Scene) -> Result<Option<Doubt>, StudyError> {
    doubt(scene, &Stands::of_file(&scene.path))
}

/// In which part of common draws each real sheet is the darkest, by row.
fn darkest(sheets: &[ComparedSheet], ratios: &[Vec<f64>]) -> Vec<(usize, f64)> {
    let real: Vec<usize> = (0..sheets.len())
        .filter(|&row| sheets[row].section != SheetSection::Ideal && !ratios[row].is_empty())
        .collect();
    let draws = real.iter().map(|&row| ratios[row].len()).max().unwrap_or(0);
    let mut won = vec![0usize; real.len()];
    for draw in 0..draws {
        let here = |place: usize| ratios[real[place]][draw % ratios[real[place]].len()];
        let best = (0..real.len())
            .filter(|&place| !here(place).is_nan())
            .max_by(|&a, &b| here(a).total_cmp(&here(b)));
        if let Some(place) = best {
            won[place] += 1;
        }
    }
    let shares = won.iter().map(|won| *won as f64 / draws.max(1) as f64);
    real.iter().copied().zip(shares).collect()
}

fn polars(sheet: &PolarizingSheet) -> [Part; 2] {
    [
        Part::new(
            "lower polar",
            PartKind::Polarizer(Polarizer::new(sheet.clone(), 0.0)),
        ),
        Part::new(
            "analyzer",
            PartKind::Analyzer(Polarizer::new(sheet.clone(), FRAC_PI_2)),
        ),
    ]
}

/// Two sheets and nothing else.
fn collimated(sheet: &PolarizingSheet) -> LightPath {
    LightPath {
        parts: polars(sheet).to_vec(),
        view_na: Some(1e-3),
        ..LightPath::default()
    }
}

/// One sheet between perfect lenses, in steep rays, the other above the objective.
fn above_a_condenser(sheet: &PolarizingSheet) -> LightPath {
    // Lenses without surfaces: of the glass nothing is seen.
    let lens = || {
        let glass = Glass {
            name: String::new(),
            index: Index::Constant(1.5),
            stress_optic_brewster: None,
        };
        Lens::new(STEEP_NA, 0, glass)
    };
    let [lower, analyzer] = polars(sheet);
    LightPath {
        parts: vec![
            Part::new("condenser", PartKind::Condenser(lens())),
            lower,
            Part::new("objective", PartKind::Objective(lens())),
            analyzer,
        ],
        ..LightPath::default()
    }
}

/// A path with another sheet in both polars, specimens out.
pub(super) fn with_sheet(path: &LightPath, sheet: &PolarizingSheet) -> LightPath {
    let mut path = path.without_specimens();
    let polars = [path.lower_polar(), path.analyzer()];
    for part in polars.into_iter().flatten() {
        if let PartKind::Polarizer(polar) | PartKind::Analyzer(polar) = &mut path.parts[part].kind {
            polar.sheet = sheet.clone();
        }
    }
    path
}
