//! What will I see under crossed polars?
//!
//! ```
//! let scene = polstack::scenario::read("scenarios/sheet-below-condenser.toml".as_ref()).unwrap().scene;
//! let answer = polstack::study::predict::predict(&scene)?;
//! assert!(answer.extinction_ratio.unwrap() > 10.0);
//! println!("{} leaks most", answer.leak.shares[0].part);
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

mod turned;

use std::f64::consts::TAU;

use serde::Serialize;

use crate::calculus::{Mueller, PolarDecomposition};
use crate::color::{Background, ColorWeights, Xyz};
use crate::light_path::run::{self, Fields, Quadrature};
use crate::light_path::{Crossing, LightPath, PartKind, PathError, Setting, reference};
use crate::optics::{RayCounts, Rays};
use crate::scene::Scene;
use crate::spectrum::{WavelengthGrid, fewer_wavelengths};

use super::StudyError;
use super::doubt::{Doubt, StandRatios};
use super::lamp::Lamp;
use super::leak::{Leak, leak};
use super::wavelengths::{Compared, Resolved, resolve};

use super::measures::{NOTHING, luminous, ratio};
use super::told::noted_ratio;
use turned::turned;

pub use super::measures::{ACCURACY, GREEN_NM};
pub use turned::{TurnedDirection, TurnedSpecimen};

pub use super::wavelengths::{MOST_WORK, SpectralError, StepChoice, asks_for_many_wavelengths};

/// Leak shares are worked out with the smallest quadrature that is good to this, or to the second where a clamp's contacts press
/// near the rim and rays are many.
const LEAK_ACCURACY: (f64, f64) = (1e-4, 1e-3);

/// Rings and spokes of the back focal plane's picture.
const PICTURE_RAYS: (usize, usize) = (65, 256);

/// The answer. As JSON, light is relative to the parallel field.
///
/// Checked by: `tests/cli/predict.rs`, `tests/reference/optics.rs`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Prediction {
    /// Numerical aperture of the direct light.
    pub na: f64,
    /// How the polars stand to each other.
    #[serde(skip)]
    pub crossing: Crossing,
    /// Luminous extinction ratio, plates out, specimens in; `None` when nothing leaks.
    #[serde(flatten, serialize_with = "noted_ratio")]
    pub extinction_ratio: Option<f64>,
    /// Extinction ratio at [`GREEN_NM`], where the grid reaches it.
    #[serde(rename = "extinction_ratio_546nm")]
    pub extinction_green: Option<Option<f64>>,
    /// Estimated largest relative error of any transmittance that the rays leave, from its change between quadratures.
    pub quadrature_error: f64,
    /// What the step between the wavelengths leaves in doubt.
    pub spectral_error: SpectralError,
    /// That step, nm; 0 for a single wavelength.
    pub wavelength_step_nm: f64,
    /// The rays of the quadrature.
    pub rays: RayCounts,
    /// The fields wavelength by wavelength.
    pub spectrum: Spectrum,
    /// The field at crossed polars.
    pub background: Backgrounds,
    /// The field beside the specimen; `None` in a stack without one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub beside_specimen: Option<BesideSpecimen>,
    /// The specimen turned along the plate's slow direction and across it; `None` without a specimen that has an azimuth, without a plate, and between
    /// circular polars.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turned: Option<TurnedSpecimen>,
    /// How far the extinction ratio of the empty field can be trusted: left to [`super::doubt`].
    #[serde(skip_serializing_if = "Option::is_none")]
    pub doubt: Option<Doubt>,
    /// Where the light of the empty field comes from.
    #[serde(flatten)]
    pub leak: Leak,
    /// The optics between the polars at [`GREEN_NM`] (or the middle of a grid that does not reach it), plates and
    /// specimens out.
    pub between_polars: BetweenPolars,
    /// Plates and retarders of a material, and how thick that has to be.
    #[serde(rename = "plate_thickness_um")]
    pub plates: Vec<PlateThickness>,
}

/// The fields of a stack wavelength by wavelength.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spectrum {
    /// Wavelengths, nm: those asked for, or finer ones where the answer needs them.
    pub wavelength_nm: Vec<f64>,
    /// Transmittances at these wavelengths.
    #[serde(flatten)]
    pub fields: Fields,
    /// Extinction ratio at each wavelength; `None` where nothing leaks.
    pub extinction_ratio: Vec<Option<f64>>,
}

/// How the field at crossed polars looks.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Backgrounds {
    /// Plates out.
    pub without_plate: Background,
    /// Plates in; `None` in a stack without one.
    pub with_plate: Option<Background>,
}

impl Prediction {
    /// The extinction ratios of the empty field: as written, and of the draws where something is unknown.
    #[must_use]
    pub fn ratios(&self) -> StandRatios<'_> {
        let written = match &self.beside_specimen {
            Some(empty) => empty.extinction_ratio,
            None => self.extinction_ratio,
        };
        StandRatios {
            written: written.unwrap_or(f64::INFINITY),
            drawn: self.doubt.as_ref().map_or(&[], |doubt| &doubt.ratios),
        }
    }
}

/// The empty field of a stack that has a specimen in it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BesideSpecimen {
    /// Luminous extinction ratio; `None` when nothing leaks.
    pub extinction_ratio: Option<f64>,
    /// Transmittances at the prediction's wavelengths, plates out.
    pub crossed: Vec<f64>,
    /// The same with the plates in; `None` in a stack without one.
    pub crossed_with_plate: Option<Vec<f64>>,
    /// How it looks.
    pub background: Backgrounds,
}

/// How thick a plate has to be for its path difference.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlateThickness {
    /// The part's name.
    pub part: String,
    /// Micrometres of its material.
    pub thickness_um: f64,
}

/// The optics between the polars as one Mueller matrix, the mean over the aperture.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BetweenPolars {
    /// At this wavelength, nm.
    pub wavelength_nm: f64,
    /// The matrix.
    pub mueller: Mueller,
    /// Its depolarization index.
    pub depolarization_index: f64,
    /// Diattenuation of its polar decomposition, 0 to 1; `None`, as the next two, where that is not unique.
    pub diattenuation: Option<f64>,
    /// Retardance of its polar decomposition, nm.
    pub retardance_nm: Option<f64>,
    /// Depolarization power of its polar decomposition, 0 to 1.
    pub depolarization: Option<f64>,
}

/// Predicts what a path that [`LightPath::check`] accepts will show.
///
/// The step of a grid that nobody asked for is halved until luminances and colours stay as they are; see [`StepChoice`].
///
/// # Errors
/// [`StudyError`] when the path cannot be run or no light is seen.
///
/// # Examples
/// See the crate's front page. Checked by: `tests/reference/optics.rs` against an independent implementation.
pub fn predict(scene: &Scene) -> Result<Prediction, StudyError> {
    predict_seen(scene, 1.0)
}

/// The same to an eye whose adaptation to the parallel field has this degree, 0 (it takes daylight for white) to 1 (it takes the parallel field for
/// white); see [`crate::color::Adaptation::by_degree`]. Colours alone depend on it.
///
/// # Errors
/// As [`predict`], and [`StudyError::OutOfRange`] for any other degree.
///
/// Checked by: `tests/laws/chart.rs`.
pub fn predict_seen(scene: &Scene, degree: f64) -> Result<Prediction, StudyError> {
    check_degree(degree)?;
    predicted(scene, true, degree)
}

/// Refuses what is no degree of adaptation.
pub(super) fn check_degree(degree: f64) -> Result<(), StudyError> {
    match (0.0..=1.0).contains(&degree) {
        true => Ok(()),
        false => Err(StudyError::OutOfRange {
            quantity: "the degree of adaptation",
            value: degree,
            allowed: "0 to 1".to_owned(),
        }),
    }
}

/// The same without the parts of the leak: [`Prediction::leak`] has no shares. Several times as fast, for what follows a moving hand.
///
/// # Errors
/// As [`predict`].
///
/// Checked by: `tests/laws/leak.rs`.
pub fn predict_without_shares(scene: &Scene) -> Result<Prediction, StudyError> {
    predicted(scene, false, 1.0)
}

fn predicted(scene: &Scene, with_shares: bool, degree: f64) -> Result<Prediction, StudyError> {
    let Scene { path, source, grid } = scene;
    let usual = Lamp::new(source, grid)?;
    let quadrature = run::quadrature(path, usual.wavelengths_nm, &usual.luminous, ACCURACY)?;
    let rays = &quadrature.rays;
    let resolved = resolved(scene, rays)?;
    let lamp = Lamp::new(source, &resolved.grid)?;
    let fields = run::fields(path, rays, lamp.wavelengths_nm, &lamp.luminous)?;
    let (weights, wavelengths_nm) = (&lamp.weights, lamp.wavelengths_nm);
    let empty = path.without_specimens();
    let has_specimen = empty.parts.len() < path.parts.len();
    let beside_specimen = has_specimen
        .then(|| {
            let fields = run::fields(&empty, rays, wavelengths_nm, &lamp.luminous)?;
            let background = backgrounds(weights, &fields, degree)?;
            Ok::<_, StudyError>(BesideSpecimen {
                extinction_ratio: ratio(1.0, background.without_plate.relative_luminance),
                crossed: fields.crossed,
                crossed_with_plate: fields.crossed_with_plate,
                background,
            })
        })
        .transpose()?;
    let background = backgrounds(weights, &fields, degree)?;
    let leak = if !with_shares {
        let field = (beside_specimen.as_ref()).map_or(&background, |empty| &empty.background);
        Leak {
            whole: field.without_plate.relative_luminance,
            shares: Vec::new(),
        }
    } else if has_specimen && resolved.error.step != StepChoice::Usual {
        // The empty field has no fringes of the specimen and needs no steps as fine.
        let coarser = self::resolved(&scene.with_path(empty.clone()), rays)?;
        let lamp = Lamp::new(source, &coarser.grid)?;
        leak_shares(&empty, lamp.wavelengths_nm, &lamp.luminous)?
    } else {
        leak_shares(&empty, wavelengths_nm, &lamp.luminous)?
    };
    Ok(Prediction {
        na: path.na(),
        crossing: path.crossing(),
        extinction_ratio: ratio(1.0, background.without_plate.relative_luminance),
        extinction_green: green(path, rays, grid, fields.parallel_azimuth_rad)?,
        quadrature_error: quadrature.error,
        spectral_error: resolved.error,
        wavelength_step_nm: resolved.grid.step_nm(),
        rays: rays.counts(),
        spectrum: Spectrum {
            wavelength_nm: wavelengths_nm.to_vec(),
            extinction_ratio: (fields.parallel.iter().zip(&fields.crossed))
                .map(|(&parallel, &crossed)| ratio(parallel, crossed))
                .collect(),
            fields,
        },
        background,
        beside_specimen,
        turned: match with_shares {
            true => turned(path, rays, &lamp, degree)?,
            false => None,
        },
        doubt: None,
        leak,
        between_polars: between_polars(&empty, &quadrature, grid)?,
        plates: plates(path),
    })
}

/// Rings and spokes that the step between the wavelengths is judged with where no rays are chosen yet, or contacts press near the rim.
const STEP_RAYS: (usize, usize) = (12, 48);

/// Numbers of wavelengths that leak shares are worked out with, tried one after the other; then all.
const LEAK_WAVELENGTHS: [usize; 3] = [12, 16, 24];

/// The leak of an empty field taken apart, with as many rays and wavelengths as that needs.
///
/// Every combination of imperfections is run, so a few wavelengths stand for many ([`fewer_wavelengths`]): so many that they give the whole
/// leak as well as the rays do.
pub(super) fn leak_shares(
    empty: &LightPath,
    wavelengths_nm: &[f64],
    luminous: &[f64],
) -> Result<Leak, PathError> {
    let accuracy = match empty.contacts_near_rim() {
        None => LEAK_ACCURACY.0,
        Some(_) => LEAK_ACCURACY.1,
    };
    let rays = run::quadrature(empty, wavelengths_nm, luminous, accuracy)?.rays;
    let whole = |wavelengths_nm: &[f64], luminous: &[f64]| {
        let fields = run::fields(empty, &rays, wavelengths_nm, luminous)?;
        let sum = |field: &[f64]| -> f64 { field.iter().zip(luminous).map(|(t, w)| t * w).sum() };
        Ok::<_, PathError>(sum(&fields.crossed) / sum(&fields.parallel))
    };
    // Where a narrow line has no light there is nothing to share out.
    let all = fewer_wavelengths(wavelengths_nm, luminous, wavelengths_nm.len());
    let expected = whole(&all.0, &all.1)?;
    for count in LEAK_WAVELENGTHS {
        let (few_nm, weights) = fewer_wavelengths(&all.0, &all.1, count);
        let off = whole(&few_nm, &weights)? - expected;
        if off.abs() <= accuracy * expected {
            return leak(empty, &rays, &few_nm, &weights);
        }
    }
    leak(empty, &rays, &all.0, &all.1)
}

/// Wavelengths fine enough for the fields of a path. A step is judged with no more than so many rays as tell fringes apart: a clamp's contacts
/// ask for more than that, at every wavelength alike.
fn resolved(scene: &Scene, rays: &Rays) -> Result<Resolved, StudyError> {
    let Scene { path, source, .. } = scene;
    let few = match path.contacts_near_rim() {
        Some(_) => Rays::disc(path.na(), STEP_RAYS.0, STEP_RAYS.1),
        None => rays.clone(),
    };
    resolve(scene, rays.count(), |grid| {
        let lamp = Lamp::new(source, grid)?;
        let fields = run::fields(path, &few, lamp.wavelengths_nm, &lamp.luminous)?;
        compared(&lamp.weights, &fields)
    })
}

/// What the step of a grid, kept as it is, leaves in doubt of the empty field of a path.
pub(super) fn step_error(scene: &Scene) -> Result<SpectralError, StudyError> {
    let rays = Rays::disc(scene.path.na(), STEP_RAYS.0, STEP_RAYS.1);
    let empty = Scene {
        path: scene.path.without_specimens(),
        source: scene.source.clone(),
        grid: scene.grid.kept(),
    };
    Ok(resolved(&empty, &rays)?.error)
}

/// The fields of a run as they are compared between two steps of the wavelengths.
fn compared(weights: &ColorWeights, fields: &Fields) -> Result<Vec<Compared>, StudyError> {
    let parallel = weights.xyz(&fields.parallel)?;
    let crossed = [Some(&fields.crossed), fields.crossed_with_plate.as_ref()];
    (crossed.into_iter().flatten())
        .map(|field| Ok(seen(weights.xyz(field)?, parallel)))
        .chain([Ok(parallel)])
        .map(|field| field.map(Compared::alone))
        .collect()
}

/// Luminance of each ray at crossed polars, plates out, relative to the mean of the parallel field: what the back
/// focal plane shows. In the order of [`Rays::iter`].
///
/// # Errors
/// As [`predict`].
pub fn leak_map(scene: &Scene, rays: &Rays) -> Result<Vec<f64>, StudyError> {
    let Scene { path, source, grid } = scene;
    let weights = ColorWeights::new(grid, source)?;
    let luminous = luminous(&weights);
    let fields = run::fields(path, rays, grid.wavelengths_nm(), &luminous)?;
    let parallel = weights.luminous(&fields.parallel)?;
    let light = run::crossed_rays(path, rays, grid.wavelengths_nm(), &luminous)?;
    Ok(light
        .into_iter()
        .map(|ray| ray / parallel + path.stray_fraction)
        .collect())
}

/// Rays of a picture of the back focal plane, and [`leak_map`] of them.
///
/// # Errors
/// As [`predict`].
pub fn leak_picture(scene: &Scene) -> Result<(Rays, Vec<f64>), StudyError> {
    let rays = Rays::even(scene.path.na(), PICTURE_RAYS.0, PICTURE_RAYS.1);
    let light = leak_map(scene, &rays)?;
    Ok((rays, light))
}

/// A field beside the parallel one; black where it is rounding.
pub(super) fn seen(field: Xyz, parallel: Xyz) -> Xyz {
    if field.luminance() > NOTHING * parallel.luminance() {
        field
    } else {
        Xyz::BLACK
    }
}

/// How the crossed field looks with the plates out and in, to an eye of some degree of adaptation.
pub(super) fn backgrounds(
    weights: &ColorWeights,
    fields: &Fields,
    degree: f64,
) -> Result<Backgrounds, StudyError> {
    let parallel = weights.xyz(&fields.parallel)?;
    let look = |transmittance: &[f64]| -> Result<Background, StudyError> {
        let seen = seen(weights.xyz(transmittance)?, parallel);
        Ok(Background::seen(seen, parallel, degree)?)
    };
    Ok(Backgrounds {
        without_plate: look(&fields.crossed)?,
        with_plate: fields.crossed_with_plate.as_deref().map(look).transpose()?,
    })
}

/// Extinction ratio at the green line, with the analyzer of the parallel field where the whole spectrum has it.
fn green(
    path: &LightPath,
    rays: &Rays,
    grid: &WavelengthGrid,
    parallel_azimuth_rad: f64,
) -> Result<Option<Option<f64>>, StudyError> {
    let (first, last) = grid.ends_nm();
    if !(first..=last).contains(&GREEN_NM) {
        return Ok(None);
    }
    let fields = run::fields_at(path, rays, &[GREEN_NM], parallel_azimuth_rad)?;
    Ok(Some(ratio(fields.parallel[0], fields.crossed[0])))
}

fn plates(path: &LightPath) -> Vec<PlateThickness> {
    (path.parts.iter())
        .filter_map(|part| match &part.kind {
            PartKind::Plate(plate) | PartKind::Retarder(plate) => Some(PlateThickness {
                part: part.name.clone(),
                thickness_um: plate.thickness_um()?,
            }),
            _ => None,
        })
        .collect()
}

fn between_polars(
    path: &LightPath,
    quadrature: &Quadrature,
    grid: &WavelengthGrid,
) -> Result<BetweenPolars, StudyError> {
    let (first, last) = grid.ends_nm();
    let wavelength_nm = if (first..=last).contains(&GREEN_NM) {
        GREEN_NM
    } else {
        grid.wavelengths_nm()[grid.wavelengths_nm().len() / 2]
    };
    let between = path.lower_polar().map_or(0, |low| low + 1)..path.analyzer().unwrap_or(0);
    let mueller = reference::mean_mueller(
        path,
        between,
        Setting::EMPTY,
        &quadrature.rays,
        wavelength_nm,
    )?;
    let parts = PolarDecomposition::of(&mueller);
    Ok(BetweenPolars {
        wavelength_nm,
        mueller,
        depolarization_index: mueller.depolarization_index(),
        diattenuation: parts.map(|parts| parts.diattenuation),
        retardance_nm: parts.map(|parts| parts.retardance_rad / TAU * wavelength_nm),
        depolarization: parts.map(|parts| parts.depolarization),
    })
}
