//! Will a faint specimen show?
//!
//! # Examples
//! ```
//! use polstack::study::visibility::{Thresholds, visibility};
//! let scene = polstack::scenario::read("scenarios/strained-objective.toml".as_ref()).unwrap().scene;
//! let eye = &visibility(&scene, &Thresholds::default())?.observers[0];
//! let smallest = eye.smallest.as_ref().unwrap();
//! assert!((smallest.path_difference_nm - 1.06).abs() < 0.01);
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

use crate::light_path::{PartKind, run};
use crate::material::catalog::{SpecimenSize, specimen_sizes};
use crate::math;
use crate::scene::Scene;

use super::StudyError;
use super::lamp::Lamp;
use super::measures::{ACCURACY, GREEN_NM};
use super::observer::Criterion;
use super::stage::{Stage, Staged, emptied};

pub use super::stage::Bias;

/// The smallest path difference that is looked for, nm: a smaller one that shows is reported as this.
pub const LEAST_NM: f64 = 0.01;

/// The largest path difference that is looked for, nm: a quarter wave at [`GREEN_NM`].
pub const MOST_NM: f64 = 0.25 * GREEN_NM;

/// Each path difference that is tried is the one before it multiplied by this.
const STEP: f64 = 1.1;

/// What each observer needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thresholds {
    /// Weber contrast for the eye, plates out.
    pub contrast: f64,
    /// CIEDE2000 for the eye, plates in.
    pub color_difference: f64,
    /// Electrons that fill a camera's pixel.
    pub full_well: f64,
    /// Signal-to-noise ratio for the camera.
    pub snr: f64,
}

impl Default for Thresholds {
    fn default() -> Self {
        use super::observer::{COLOR_DIFFERENCE, CONTRAST, FULL_WELL, SNR};
        Self {
            contrast: CONTRAST,
            color_difference: COLOR_DIFFERENCE,
            full_well: FULL_WELL,
            snr: SNR,
        }
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Visibility {
    /// Eye and camera, plates out and then in.
    pub observers: Vec<Seen>,
    /// Estimated relative error of the light, from the quadrature.
    pub quadrature_error: f64,
}

/// What one observer sees.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// Whether the plates are in.
    pub with_plate: bool,
    /// What is needed.
    pub criterion: Criterion,
    /// Luminance of the background over that of the parallel field.
    pub background: f64,
    /// The smallest path difference that shows at its best azimuth; `None` when none up to [`MOST_NM`] does.
    pub smallest: Option<Smallest>,
    /// Whether typical objects of the catalog show.
    pub covers: Vec<Covered>,
}

/// The smallest path difference that shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Smallest {
    /// Path difference, nm; [`LEAST_NM`] stands for that or less.
    pub path_difference_nm: f64,
    /// What the quadrature leaves open, nm.
    pub uncertainty_nm: f64,
    /// Slow azimuth at which it shows best, radians.
    pub azimuth_rad: f64,
    /// What bias makes of it; `None` with the plates in.
    pub bias: Option<Bias>,
}

/// Whether a typical object shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Covered {
    /// The object.
    pub object: SpecimenSize,
    /// Whether it does.
    pub shows: Shows,
}

/// Whether an object shows, judged by its least and its largest path difference.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shows {
    /// Both of them show.
    Yes,
    /// Only one of them shows.
    Partly,
    /// Neither of them shows.
    No,
}

impl Shows {
    /// In a word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::Partly => "partly",
            Self::No => "no",
        }
    }
}

/// What will show in a path that [`LightPath::check`](crate::light_path::LightPath::check) accepts.
///
/// With the plates out a specimen is judged by its own light, whatever bias would add to it at one azimuth ([`Bias`]); with a plate in, by the
/// fainter of its two colours, slow direction along the plate's and across it.
///
/// Diffraction and image formation are left out: the specimen is wider than what the objective resolves.
///
/// # Errors
/// [`StudyError`] when the path cannot be run or no light is seen.
///
/// Checked by: `tests/laws/visibility.rs`.
pub fn visibility(scene: &Scene, thresholds: &Thresholds) -> Result<Visibility, StudyError> {
    let Scene { path, source, grid } = scene;
    let lamp = Lamp::new(source, grid)?;
    // The empty field is the darkest and asks for the most rays.
    let quadrature = run::quadrature(
        &emptied(path),
        lamp.wavelengths_nm,
        &lamp.luminous,
        ACCURACY,
    )?;
    let staged = Staged::of(path);
    let has_plate = path
        .find(|kind| matches!(kind, PartKind::Plate(_)))
        .is_some();
    let mut observers = Vec::new();
    for with_plate in [false, true] {
        if with_plate && !has_plate {
            continue;
        }
        let stage = Stage::new(&staged, &[], &[], with_plate, &quadrature.rays, &lamp, None)?;
        let eye = if with_plate {
            Criterion::Color {
                least: thresholds.color_difference,
            }
        } else {
            Criterion::Contrast {
                least: thresholds.contrast,
            }
        };
        let camera = Criterion::Signal {
            least: thresholds.snr,
            full_well: thresholds.full_well,
        };
        for criterion in [eye, camera] {
            observers.push(seen(&stage, with_plate, criterion, quadrature.error)?);
        }
    }
    Ok(Visibility {
        observers,
        quadrature_error: quadrature.error,
    })
}

fn seen(
    stage: &Stage<'_>,
    with_plate: bool,
    criterion: Criterion,
    error: f64,
) -> Result<Seen, StudyError> {
    let times = |nm: f64| Ok::<_, StudyError>(stage.looks(&[], nm)?.best(&[criterion]).1);
    let covers = (specimen_sizes().into_iter())
        .map(|object| {
            let (from, to) = object.path_difference_nm;
            let shows = match (times(from)? >= 1.0, times(to)? >= 1.0) {
                (true, true) => Shows::Yes,
                (false, false) => Shows::No,
                _ => Shows::Partly,
            };
            Ok(Covered { object, shows })
        })
        .collect::<Result<_, StudyError>>()?;
    Ok(Seen {
        with_plate,
        criterion,
        background: stage.looks(&[], 0.0)?.background.luminance(),
        smallest: smallest(stage, criterion, error)?,
        covers,
    })
}

/// The first path difference on the way up that shows.
fn smallest(
    stage: &Stage<'_>,
    criterion: Criterion,
    error: f64,
) -> Result<Option<Smallest>, StudyError> {
    let looks = |nm: f64| stage.looks(&[], nm);
    let shows = |nm: f64| Ok::<_, StudyError>(looks(nm)?.best(&[criterion]).1 >= 1.0);
    let (mut below, mut nm) = (LEAST_NM, LEAST_NM);
    while !shows(nm)? {
        if nm >= MOST_NM {
            return Ok(None);
        }
        (below, nm) = (nm, (nm * STEP).min(MOST_NM));
    }
    while nm - below > 1e-12 * nm {
        let middle = 0.5 * (below + nm);
        if shows(middle)? {
            nm = middle;
        } else {
            below = middle;
        }
    }
    let here = looks(nm)?;
    let (azimuth_rad, times) = here.best(&[criterion]);
    let ahead = looks(1.001 * nm)?.best(&[criterion]).1;
    let slope = math::log(ahead / times) / (0.001 * nm);
    let uncertainty_nm = (error * here.sensitivity(&[criterion], azimuth_rad) / slope).abs();
    Ok(Some(Smallest {
        path_difference_nm: nm,
        // Before a background without light everything shows.
        uncertainty_nm: if times.is_finite() {
            uncertainty_nm
        } else {
            0.0
        },
        azimuth_rad,
        bias: here.bias(),
    }))
}
