//! What a class reads of a stack: a few numbers and colours, each of them an answer of another study.
//!
//! # Examples
//! ```
//! use polstack::study::lesson::{LessonFinding, LessonReading, read_lesson};
//! let scene = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene;
//! let seen = read_lesson(&scene, &[LessonReading::ExtinctionRatio])?;
//! let [LessonFinding::ExtinctionRatio(Some(ratio))] = seen.findings[..] else { panic!() };
//! assert!((ratio - 501.0).abs() < 1.0);
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

use std::f64::consts::{FRAC_PI_4, TAU};

use super::StudyError;
use super::aperture::{Cross, QuickPlane, quick_frame};
use super::leak::Cause;
use super::predict::{Backgrounds, Prediction, predict, predict_without_shares};
use super::trace::{Question, State, Trace, trace};
use super::visibility::{Thresholds, visibility};
use crate::color::Background;
use crate::optics::{Ray, Rays};
use crate::scene::Scene;

/// Rings and spokes of a disc: spokes lie on the diagonals.
const DISC: (usize, usize) = (33, 128);
/// Where the quadrants of a disc are read, of its radius.
const QUADRANT: f64 = 0.7;

/// What is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LessonReading {
    /// The light, of the parallel field.
    Light,
    /// The light, of that behind the lower polar.
    Passed,
    /// The extinction ratio.
    ExtinctionRatio,
    /// The colour, plates out.
    Color,
    /// The colour, plates in.
    ColorWithPlate,
    /// How the light along the axis vibrates before the analyzer.
    State,
    /// How far the dark cross is open.
    Cross,
    /// The colours of two quadrants of the back focal plane, plates in.
    Quadrants,
    /// The colour of the middle of the back focal plane, plates in.
    Middle,
    /// The smallest path difference that an eye sees.
    Smallest,
    /// The largest leak.
    Blame,
}

impl LessonReading {
    /// All of them, each with a word for it.
    pub const ALL: [(&'static str, Self); 11] = [
        ("light", Self::Light),
        ("passed", Self::Passed),
        ("extinction_ratio", Self::ExtinctionRatio),
        ("color", Self::Color),
        ("color_with_plate", Self::ColorWithPlate),
        ("state", Self::State),
        ("cross", Self::Cross),
        ("quadrants", Self::Quadrants),
        ("middle", Self::Middle),
        ("smallest", Self::Smallest),
        ("blame", Self::Blame),
    ];
}

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub enum LessonFinding {
    /// Luminance over that of the parallel field.
    Light(f64),
    /// Light behind the analyzer over that behind the lower polar.
    Passed(f64),
    /// The luminous extinction ratio; `None` where nothing leaks.
    ExtinctionRatio(Option<f64>),
    /// The field, plates out; through the specimen where there is one.
    Color(Background),
    /// The same with the plates in.
    ColorWithPlate(Background),
    /// The light along the axis before the analyzer.
    State(State),
    /// How the dark cross stands; `None` where there is none.
    Cross(Option<Cross>),
    /// At 0.7 of the aperture, 45 and 135 degrees from the lower polar.
    Quadrants(Box<[Background; 2]>),
    /// On the axis.
    Middle(Box<Background>),
    /// Path difference, nm; `None` where none up to a quarter wave shows.
    Smallest(Option<f64>),
    /// The largest leak: part, cause and share; `None` where nothing leaks.
    Blame(Option<(String, Cause, f64)>),
}

/// What there is to see.
#[derive(Debug, Clone, PartialEq)]
pub enum LessonLook {
    /// The field.
    Field(Box<Backgrounds>),
    /// The back focal plane, in true colour or in luminance.
    Disc {
        /// The disc.
        plane: Box<QuickPlane>,
        /// Whether it is in true colour.
        color: bool,
    },
}

/// A stack as a class reads it.
#[derive(Debug, Clone, PartialEq)]
pub struct LessonAnswer {
    /// A finding for each reading.
    pub findings: Vec<LessonFinding>,
    /// What there is to see.
    pub look: LessonLook,
}

/// Reads a stack.
///
/// # Errors
/// [`StudyError`] when the path cannot be run, or plates are wanted where there are none.
///
/// Checked by: `tests/cli/lessons.rs`.
pub fn read_lesson(scene: &Scene, readings: &[LessonReading]) -> Result<LessonAnswer, StudyError> {
    let wants = |reading| readings.contains(&reading);
    let seen = match wants(LessonReading::Blame) {
        true => predict(scene)?,
        false => predict_without_shares(scene)?,
    };
    let disc = |plates| Ok::<_, StudyError>(quick_frame(scene, DISC, plates)?.plane);
    let cross = wants(LessonReading::Cross)
        .then(|| disc(false))
        .transpose()?;
    let quadrants = (wants(LessonReading::Quadrants) || wants(LessonReading::Middle))
        .then(|| disc(true))
        .transpose()?;
    let findings = (readings.iter())
        .map(|reading| find(*reading, scene, &seen, cross.as_ref(), quadrants.as_ref()))
        .collect::<Result<_, _>>()?;
    let look = match (quadrants, cross) {
        (Some(plane), _) => LessonLook::Disc {
            plane: Box::new(plane),
            color: true,
        },
        (None, Some(plane)) => LessonLook::Disc {
            plane: Box::new(plane),
            color: false,
        },
        (None, None) => LessonLook::Field(Box::new(seen.background)),
    };
    Ok(LessonAnswer { findings, look })
}

fn find(
    reading: LessonReading,
    scene: &Scene,
    seen: &Prediction,
    cross: Option<&QuickPlane>,
    quadrants: Option<&QuickPlane>,
) -> Result<LessonFinding, StudyError> {
    let field = &seen.background;
    Ok(match reading {
        LessonReading::Light => LessonFinding::Light(field.without_plate.relative_luminance),
        LessonReading::Passed => LessonFinding::Passed(passed(scene)?),
        LessonReading::ExtinctionRatio => LessonFinding::ExtinctionRatio(seen.extinction_ratio),
        LessonReading::Color => LessonFinding::Color(field.without_plate.clone()),
        LessonReading::ColorWithPlate => {
            LessonFinding::ColorWithPlate(field.with_plate.clone().ok_or(StudyError::NoPlate)?)
        }
        LessonReading::State => LessonFinding::State(before_analyzer(scene)?),
        LessonReading::Cross => LessonFinding::Cross(cross.and_then(QuickPlane::cross)),
        LessonReading::Quadrants => {
            let plane = quadrants.ok_or(StudyError::NoPlate)?;
            let [one, other] = [1.0, 3.0].map(|times| color_at(plane, QUADRANT, times * FRAC_PI_4));
            LessonFinding::Quadrants(Box::new([one?, other?]))
        }
        LessonReading::Middle => {
            let plane = quadrants.ok_or(StudyError::NoPlate)?;
            LessonFinding::Middle(Box::new(color_at(plane, 0.0, 0.0)?))
        }
        LessonReading::Smallest => {
            let visible = visibility(scene, &Thresholds::default())?;
            let eye = visible.observers.first();
            let smallest = eye.and_then(|eye| eye.smallest.as_ref());
            LessonFinding::Smallest(smallest.map(|smallest| smallest.path_difference_nm))
        }
        LessonReading::Blame => LessonFinding::Blame(
            (seen.leak.shares.first()).map(|first| (first.part.clone(), first.cause, first.share)),
        ),
    })
}

/// The light after each part, and the places of lower polar and analyzer among its steps.
fn followed(scene: &Scene, ray: Option<Ray>) -> Result<(Trace, usize, usize), StudyError> {
    let question = Question {
        ray,
        ..Question::default()
    };
    let path = &scene.path;
    let (lower, analyzer) = (path.lower_polar(), path.analyzer());
    // The lamp is the first step. A path that was checked has both polars.
    let place = |part: Option<usize>| part.map_or(0, |part| part + 1);
    Ok((trace(scene, question)?, place(lower), place(analyzer)))
}

fn passed(scene: &Scene) -> Result<f64, StudyError> {
    let (told, lower, analyzer) = followed(scene, None)?;
    let light = |step: usize| {
        told.steps
            .get(step)
            .map_or(0.0, |step| step.state.stokes.0[0])
    };
    Ok(light(analyzer) / light(lower))
}

fn before_analyzer(scene: &Scene) -> Result<State, StudyError> {
    let axis = Ray {
        s: 0.0,
        azimuth_rad: 0.0,
    };
    let (told, _, analyzer) = followed(scene, Some(axis))?;
    let step = told.steps.get(analyzer.saturating_sub(1));
    Ok(step.map_or_else(|| State::of(scene.path.lamp), |step| step.state))
}

/// The colour of a disc at a part of its radius, so many radians from the lower polar.
fn color_at(plane: &QuickPlane, part: f64, from_polar_rad: f64) -> Result<Background, StudyError> {
    let azimuth_rad = plane.polars_rad.map_or(0.0, |polars| polars.0) + from_polar_rad;
    let Rays {
        ring, spoke_rad, ..
    } = &plane.rays;
    let nearest = |values: &[f64], distance: &dyn Fn(f64) -> f64| {
        let places = 0..values.len();
        let near = |a: &usize, b: &usize| distance(values[*a]).total_cmp(&distance(values[*b]));
        places.min_by(near).unwrap_or(0)
    };
    let ring = nearest(ring, &|s| (s - part * plane.na).abs());
    let spoke = nearest(spoke_rad, &|at| {
        let off = (at - azimuth_rad).rem_euclid(TAU);
        off.min(TAU - off)
    });
    let light = plane.light[ring * spoke_rad.len() + spoke];
    Ok(Background::of(light, plane.parallel)?)
}
