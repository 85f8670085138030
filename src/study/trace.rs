//! What is the state of polarization after each part?
//!
//! # Examples
//! ```
//! use polstack::study::trace::{Question, trace};
//! let scene = polstack::scenario::read("scenarios/circular-polars.toml".as_ref()).unwrap().scene;
//! let answer = trace(&scene, Question::default())?;
//! let behind = &answer.steps[2];
//! assert_eq!((behind.name.as_str(), behind.state.right_handed), ("lower quarter wave", Some(false)));
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

use std::f64::consts::TAU;
use std::ops::Range;

use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

use crate::calculus::{Coherency, Mueller, PolarDecomposition, Stokes};
use crate::light_path::run::Quadrature;
use crate::light_path::{LightPath, Needed, PartKind, PathError, Setting, run};
use crate::math;
use crate::optics::{CrystalRay, Ray, RayCounts, Rays, Specimen};
use crate::scene::Scene;
use crate::spectrum::WavelengthGrid;

use super::StudyError;
use super::lamp::Lamp;
use super::measures::{ACCURACY, NOTHING};
use super::told::{degrees, known_degrees};
use super::wavelengths::{Compared, resolve};

pub use super::wavelengths::Resolved;

/// A share of the light below this is the rounding of the arithmetic: it has no azimuth and no handedness.
const ROUNDING: f64 = 1e-9;
/// An azimuth so little below 180 degrees is 0 but for numerical error, radians.
const ROUNDING_RAD: f64 = 1e-7;

/// Points of an arc stand at most this far apart, radians.
const ARC_STEP_RAD: f64 = TAU / 72.0;

/// Which light is followed, and how far.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Question {
    /// The ray; `None` for the mean over the aperture.
    pub ray: Option<Ray>,
    /// The wavelength in nm; `None` for the lamp's light as the eye weighs it.
    pub wavelength_nm: Option<f64>,
    /// Accessory plates in.
    pub plates: bool,
    /// Mueller matrices too.
    pub matrices: bool,
}

/// The answer.
///
/// Checked by: `tests/cli/trace.rs`, as JSON.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trace {
    /// Numerical aperture of the direct light.
    pub na: f64,
    /// The ray that was followed; `None` for the mean over the aperture.
    pub ray: Option<Ray>,
    /// The wavelength that was followed, nm; `None` for the lamp's light as the eye weighs it.
    pub wavelength_nm: Option<f64>,
    /// The lamp by name.
    pub lamp: String,
    /// Whether the accessory plates are in.
    pub plates_in: bool,
    /// Estimated relative error of the mean over the aperture; `None` for one ray.
    pub quadrature_error: Option<f64>,
    /// The wavelengths that the light was summed over, and what their step leaves in doubt.
    #[serde(flatten)]
    pub resolved: Resolved,
    /// The rays of the mean over the aperture; `None` for one ray.
    pub rays: Option<RayCounts>,
    /// The lamp's own light, then the light after each part, then with the stray light where there is some.
    pub steps: Vec<TraceStep>,
    /// Everything between lower polar and analyzer, where matrices were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub between_polars: Option<StretchMatrix>,
}

/// The light at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct TraceStep {
    /// The part's name, "lamp" or "stray light".
    pub name: String,
    /// What it is, in one word.
    pub kind: StepKind,
    /// The light behind it.
    pub state: State,
    /// The fraction of the light in front of it that it passes; `None` for the lamp, a plate that is out, stray light, and in the dark.
    pub passed: Option<f64>,
    /// Of a retarder at one wavelength: the way from the state in front to the state behind as points `(S1, S2, S3)/S0`, at most one
    /// whole turn of it. Empty where the way is not known or the states differ from ray to ray.
    pub arc: Vec<[f64; 3]>,
    /// What the part does, where matrices were asked for and it is in.
    pub matrix: Option<StretchMatrix>,
}

/// What a step is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StepKind {
    /// The light that enters the stack.
    Lamp,
    /// A part, by the word for its kind.
    Part(&'static str),
    /// An accessory plate that is out.
    Out,
    /// Light that reaches the image unpolarized, added behind the analyzer.
    Stray,
}

impl StepKind {
    /// In a word or two.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Lamp => "lamp",
            Self::Part(word) => word,
            Self::Out => "plate (out)",
            Self::Stray => "stray light",
        }
    }
}

/// A state of polarization.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct State {
    /// Stokes vector; S0 is the fraction of the lamp's light, and all four are 0 in the dark.
    pub stokes: Stokes,
    /// Degree of polarization.
    #[serde(rename = "degree_of_polarization")]
    pub polarized: f64,
    /// Degree of linear polarization.
    #[serde(rename = "degree_of_linear_polarization")]
    pub linear: f64,
    /// Degree of circular polarization, right-handed positive.
    #[serde(rename = "degree_of_circular_polarization")]
    pub circular: f64,
    /// Azimuth of the ellipse's long axis, radians from 0 to below pi, where what is less than 1e-7 below pi is told as 0; `None` where it has none: circular, unpolarized or dark.
    #[serde(rename = "azimuth_deg", serialize_with = "known_degrees")]
    pub azimuth_rad: Option<f64>,
    /// Ellipticity angle, radians, right-handed positive: its tangent is the ratio of the axes. `None` where nothing is polarized.
    #[serde(rename = "ellipticity_deg", serialize_with = "known_degrees")]
    pub ellipticity_rad: Option<f64>,
    /// Short over long axis of the ellipse, 0 to 1; `None` where nothing is polarized.
    pub axis_ratio: Option<f64>,
    /// `Some(true)` for right-handed light, clockwise as seen looking down the microscope; `None` for linear and unpolarized light.
    #[serde(rename = "handedness", serialize_with = "handedness")]
    pub right_handed: Option<bool>,
}

fn handedness<S: Serializer>(right: &Option<bool>, serializer: S) -> Result<S::Ok, S::Error> {
    let word = right.map(|right| if right { "right" } else { "left" });
    word.serialize(serializer)
}

impl State {
    /// Of a Stokes vector.
    #[must_use]
    pub fn of(stokes: Stokes) -> Self {
        let [s0, s1, s2, s3] = stokes.0;
        if s0 < NOTHING {
            return Self {
                stokes: Stokes([0.0; 4]),
                polarized: 0.0,
                linear: 0.0,
                circular: 0.0,
                azimuth_rad: None,
                ellipticity_rad: None,
                axis_ratio: None,
                right_handed: None,
            };
        }
        // The mean of pure states may be rounded to a little more than pure.
        let polarized = stokes.degree_of_polarization().min(1.0);
        let linear = (math::hypot(s1, s2) / s0).min(1.0);
        let circular = (s3 / s0).clamp(-1.0, 1.0);
        let ellipticity_rad = (polarized > ROUNDING).then(|| stokes.ellipticity_rad());
        Self {
            stokes,
            polarized,
            linear,
            circular,
            azimuth_rad: (linear > ROUNDING).then(|| {
                let within = stokes.azimuth_rad().rem_euclid(std::f64::consts::PI);
                // Numerical error makes 180 degrees of an azimuth of 0.
                match std::f64::consts::PI - within < ROUNDING_RAD {
                    true => 0.0,
                    false => within,
                }
            }),
            ellipticity_rad,
            axis_ratio: ellipticity_rad.map(|angle| math::tan(angle.abs())),
            right_handed: (circular.abs() > ROUNDING).then_some(circular > 0.0),
        }
    }
}

/// What a stretch of the path does to any state.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StretchMatrix {
    /// The Mueller matrix.
    pub mueller: Mueller,
    /// Its depolarization index; `None` where it passes nothing.
    pub depolarization_index: Option<f64>,
    /// Its polar decomposition; `None` where it is not unique.
    pub decomposition: Option<Decomposition>,
}

/// The [`PolarDecomposition`] of a stretch of the path, with its retardance as a length and its slow state as an ellipse.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Decomposition {
    /// Diattenuation, 0 to 1.
    pub diattenuation: f64,
    /// Polarizance, 0 to 1.
    pub polarizance: f64,
    /// Retardance in radians, 0 to pi.
    #[serde(rename = "retardance_deg", serialize_with = "degrees")]
    pub retardance_rad: f64,
    /// The same in nm; `None` where the light is not of one wavelength.
    pub retardance_nm: Option<f64>,
    /// The state that the retarder delays most; `None` where it delays none.
    #[serde(flatten, serialize_with = "slow_axis")]
    pub slow: Option<State>,
    /// Depolarization power, 0 to 1.
    pub depolarization: f64,
    /// Diattenuator, with the transmittance of the whole.
    pub diattenuator: Mueller,
    /// Retarder.
    pub retarder: Mueller,
    /// Depolarizer, with the polarizance of the whole.
    pub depolarizer: Mueller,
}

fn slow_axis<S: Serializer>(slow: &Option<State>, serializer: S) -> Result<S::Ok, S::Error> {
    let told = |angle_rad: Option<f64>| angle_rad.map(f64::to_degrees);
    let mut keys = serializer.serialize_map(None)?;
    keys.serialize_entry(
        "slow_azimuth_deg",
        &told(slow.and_then(|slow| slow.azimuth_rad)),
    )?;
    keys.serialize_entry(
        "slow_ellipticity_deg",
        &told(slow.and_then(|slow| slow.ellipticity_rad)),
    )?;
    keys.end()
}

impl StretchMatrix {
    /// Of a Mueller matrix, of light of one wavelength where that is given.
    fn of(mueller: Mueller, wavelength_nm: Option<f64>) -> Self {
        let decomposition = PolarDecomposition::of(&mueller).map(|parts| Decomposition {
            diattenuation: parts.diattenuation,
            polarizance: parts.polarizance,
            retardance_rad: parts.retardance_rad,
            retardance_nm: wavelength_nm.map(|nm| parts.retardance_rad / TAU * nm),
            slow: parts.slow_state().map(State::of),
            depolarization: parts.depolarization,
            diattenuator: parts.diattenuator,
            retarder: parts.retarder,
            depolarizer: parts.depolarizer,
        });
        Self {
            mueller,
            decomposition,
            depolarization_index: (mueller.0[(0, 0)] > NOTHING)
                .then(|| mueller.depolarization_index()),
        }
    }
}

/// Less light than this share of the brightest wavelength's is next to none.
const UNLIT: f64 = 1e-4;

/// Whether the lamp has light worth following at a wavelength, nm.
#[must_use]
pub fn is_lit(scene: &Scene, wavelength_nm: f64) -> bool {
    let power = |nm| scene.source.power(nm).unwrap_or(0.0);
    let wavelengths_nm = scene.grid.wavelengths_nm().iter();
    let most = wavelengths_nm.map(|&nm| power(nm)).fold(0.0, f64::max);
    power(wavelength_nm) >= UNLIT * most
}

/// Follows the light of a path that [`LightPath::check`] accepts, specimens in.
///
/// Over the lamp, Stokes vectors and Mueller matrices are summed with weights lamp times y-bar that add up to 1. Stray light is added as
/// [`run::fields`] does, so that the last step's S0 is the crossed transmittance of [`super::predict::predict`]; of a single ray it is
/// the fraction of that ray's own parallel light.
///
/// # Errors
/// [`StudyError`] when the ray lies beyond the direct light, or the path cannot be run at the wavelength.
///
/// Checked by: `tests/laws/trace.rs`, `tests/reference/traces.rs`.
pub fn trace(scene: &Scene, question: Question) -> Result<Trace, StudyError> {
    let path = &scene.path;
    follow(scene, question).map_err(|error| match (error, question.wavelength_nm) {
        (StudyError::Path(error), Some(nm)) => at_wavelength(path, nm, error),
        (error, _) => error,
    })
}

fn follow(scene: &Scene, question: Question) -> Result<Trace, StudyError> {
    let Scene { path, source, grid } = scene;
    let usual = Lamp::new(source, grid)?;
    let needs_mean = question.ray.is_none() || has_circular_stray(path);
    let mean = needs_mean
        .then(|| run::quadrature(path, usual.wavelengths_nm, &usual.luminous, ACCURACY))
        .transpose()?;
    let whole = path.analyzer().map_or(path.parts.len(), |a| a + 1);
    let light_over = |grid: &WavelengthGrid| {
        let lamp = Lamp::new(source, grid)?;
        Followed::new(path, &lamp, mean.as_ref(), question)
    };
    let resolved = match question.wavelength_nm {
        Some(nm) => Resolved::single(nm),
        None => {
            let rays = match question.ray {
                None => mean.as_ref().map_or(1, |mean| mean.rays.count()),
                Some(_) => 1,
            };
            let states = |grid: &WavelengthGrid| {
                let light = light_over(grid)?;
                let compared = (0..whole).map(|part| {
                    let state = State::of(light.stokes(0..part + 1)?);
                    Ok(Compared::state(state.stokes))
                });
                Ok(compared.collect::<Result<_, PathError>>()?)
            };
            resolve(scene, rays, states)?
        }
    };
    let light = match question.wavelength_nm {
        Some(_) => light_over(grid)?,
        None => light_over(&resolved.grid)?,
    };
    let mut steps = vec![step("lamp", StepKind::Lamp, State::of(path.lamp), None)];
    for part in 0..whole {
        let before = steps[part].state;
        steps.push(light.behind(part, before)?);
    }
    if path.stray_fraction > 0.0 {
        let mut stokes = steps[whole].state.stokes;
        stokes.0[0] += path.stray_fraction * light.parallel()?;
        steps.push(step(
            "stray light",
            StepKind::Stray,
            State::of(stokes),
            None,
        ));
    }
    let between = path.lower_polar().map_or(0, |low| low + 1)..whole.saturating_sub(1);
    let is_mean = question.ray.is_none();
    Ok(Trace {
        na: path.na(),
        ray: question.ray,
        wavelength_nm: question.wavelength_nm,
        lamp: source.name(),
        plates_in: question.plates,
        quadrature_error: is_mean.then_some(light.error),
        resolved,
        rays: is_mean.then(|| light.rays.counts()),
        steps,
        between_polars: question
            .matrices
            .then(|| light.matrix(between))
            .transpose()?,
    })
}

fn step(name: &str, kind: StepKind, state: State, passed: Option<f64>) -> TraceStep {
    TraceStep {
        name: name.to_owned(),
        kind,
        state,
        passed,
        arc: Vec::new(),
        matrix: None,
    }
}

/// The light that is followed.
struct Followed<'a> {
    path: &'a LightPath,
    question: Question,
    setting: Setting,
    rays: Rays,
    /// Of the mean over the aperture.
    error: f64,
    wavelengths_nm: Vec<f64>,
    /// Of the wavelengths; they add up to 1.
    weights: Vec<f64>,
    /// The analyzer's azimuth: in this frame crossed light is no difference of large numbers.
    frame_rad: f64,
    /// Azimuth of the analyzer in the parallel field.
    parallel_azimuth_rad: f64,
}

impl<'a> Followed<'a> {
    /// `mean` is the quadrature over the aperture, where one is needed.
    fn new(
        path: &'a LightPath,
        lamp: &Lamp<'_>,
        mean: Option<&Quadrature>,
        question: Question,
    ) -> Result<Self, StudyError> {
        let na = path.na();
        if let Some(ray) = question.ray
            && !(0.0..=na).contains(&ray.s)
        {
            return Err(StudyError::RayBeyond { s: ray.s, na });
        }
        if let Some(nm) = question.wavelength_nm {
            path.check(&[nm])?;
        }
        let (low, high) = path.polars().ok_or(PathError::Missing {
            what: Needed::Polars,
        })?;
        let Lamp {
            wavelengths_nm,
            luminous,
            ..
        } = lamp;
        // The parallel setting is the instrument's, whichever of its light is followed.
        let parallel_azimuth_rad = match mean {
            Some(mean) if has_circular_stray(path) => {
                run::fields(path, &mean.rays, wavelengths_nm, luminous)?.parallel_azimuth_rad
            }
            _ => low.azimuth_rad,
        };
        let error = mean.map_or(0.0, |mean| mean.error);
        let rays = match (question.ray, mean) {
            (None, Some(mean)) => mean.rays.clone(),
            (ray, _) => one(ray.unwrap_or(AXIS)),
        };
        let sum: f64 = luminous.iter().sum();
        let (wavelengths_nm, weights) = match question.wavelength_nm {
            Some(nm) => (vec![nm], vec![1.0]),
            None => (
                wavelengths_nm.to_vec(),
                luminous.iter().map(|weight| weight / sum).collect(),
            ),
        };
        Ok(Self {
            path,
            question,
            setting: Setting {
                plates: question.plates,
                specimens: true,
                analyzer_azimuth_rad: None,
            },
            rays,
            error,
            wavelengths_nm,
            weights,
            frame_rad: high.azimuth_rad,
            parallel_azimuth_rad,
        })
    }

    /// The light behind a part.
    fn behind(&self, part: usize, before: State) -> Result<TraceStep, StudyError> {
        let here = &self.path.parts[part];
        if matches!(here.kind, PartKind::Plate(_)) && !self.question.plates {
            return Ok(step(&here.name, StepKind::Out, before, None));
        }
        let state = State::of(self.stokes(0..part + 1)?);
        let entered = before.stokes.0[0];
        let passed = (entered > 0.0).then(|| state.stokes.0[0] / entered);
        let matrix = (self.question.matrices)
            .then(|| self.matrix(part..part + 1))
            .transpose()?;
        Ok(TraceStep {
            arc: self.arc(part, before)?,
            matrix,
            ..step(&here.name, StepKind::Part(here.kind.word()), state, passed)
        })
    }

    /// Stokes vector of the lamp's light behind some parts.
    fn stokes(&self, parts: Range<usize>) -> Result<Stokes, PathError> {
        self.behind_parts(self.path, parts, self.frame_rad)
    }

    fn behind_parts(
        &self,
        path: &LightPath,
        parts: Range<usize>,
        frame_rad: f64,
    ) -> Result<Stokes, PathError> {
        let beams = run::coherency(
            path,
            parts,
            self.setting,
            &self.rays,
            &self.wavelengths_nm,
            frame_rad,
        )?;
        let sum = (beams.iter().zip(&self.weights))
            .fold(Coherency::default(), |sum, (beam, &weight)| {
                sum.plus(beam.scaled(weight))
            });
        Ok(sum.to_stokes().turned(frame_rad))
    }

    /// Parallel light of these rays, as a fraction of the lamp's.
    fn parallel(&self) -> Result<f64, PathError> {
        let fields = run::fields_at(
            self.path,
            &self.rays,
            &self.wavelengths_nm,
            self.parallel_azimuth_rad,
        )?;
        let pairs = fields.parallel.iter().zip(&self.weights);
        Ok(pairs.map(|(light, weight)| light * weight).sum())
    }

    /// Mueller matrix of some parts: what they make of four lamps, unpolarized, East, north-east and right circular.
    fn matrix(&self, parts: Range<usize>) -> Result<StretchMatrix, PathError> {
        let mut mueller = Mueller::identity();
        let mut unpolarized = Stokes::UNPOLARIZED;
        for column in 0..4 {
            let mut path = self.path.clone();
            path.lamp = Stokes::UNPOLARIZED;
            path.lamp.0[column] = 1.0;
            let light = self.behind_parts(&path, parts.clone(), 0.0)?;
            if column == 0 {
                unpolarized = light;
            }
            for row in 0..4 {
                let base = if column == 0 { 0.0 } else { unpolarized.0[row] };
                mueller.0[(row, column)] = light.0[row] - base;
            }
        }
        Ok(StretchMatrix::of(mueller, self.question.wavelength_nm))
    }

    /// The way through a retarder that treats all the rays that are followed alike.
    fn arc(&self, part: usize, before: State) -> Result<Vec<[f64; 3]>, StudyError> {
        let (Some(nm), true) = (self.question.wavelength_nm, before.polarized > ROUNDING) else {
            return Ok(Vec::new());
        };
        let seen = match &self.path.parts[part].kind {
            PartKind::Retarder(plate) | PartKind::Plate(plate) => CrystalRay {
                azimuth_rad: plate.slow_azimuth_rad,
                path_difference_nm: (plate.path_difference_nm(nm))
                    .map_err(|source| PathError::Table { part, source })?,
                circular_nm: 0.0,
            },
            PartKind::Specimen(specimen)
                if self.question.ray.is_some() || matches!(specimen, Specimen::Stated { .. }) =>
            {
                specimen.ray(self.question.ray.unwrap_or(AXIS), nm)
            }
            _ => return Ok(Vec::new()),
        };
        let [s0, s1, s2, s3] = before.stokes.0;
        let from = [s1 / s0, s2 / s0, s3 / s0];
        let (sin2, cos2) = math::sincos(2.0 * seen.azimuth_rad);
        let (about, whole_nm) = match seen.circular_nm {
            0.0 => ([cos2, sin2, 0.0], seen.path_difference_nm),
            circular_nm => {
                let whole_nm = seen.between_modes_nm();
                let linear = seen.path_difference_nm / whole_nm;
                let about = [linear * cos2, linear * sin2, circular_nm / whole_nm];
                (about, whole_nm)
            }
        };
        Ok(turn(from, about, TAU * whole_nm / nm))
    }
}

/// Whether the azimuth at which circular polars are parallel, which all rays decide, is needed to tell the stray light.
fn has_circular_stray(path: &LightPath) -> bool {
    path.is_circular() && path.stray_fraction > 0.0
}

const AXIS: Ray = Ray {
    s: 0.0,
    azimuth_rad: 0.0,
};

fn one(ray: Ray) -> Rays {
    Rays {
        ring: vec![ray.s],
        sectors: Vec::new(),
        ring_weight: vec![1.0],
        spoke_rad: vec![ray.azimuth_rad],
        spoke_weight: vec![1.0],
    }
}

/// A path that cannot be run at a wavelength, with the part that is to blame.
fn at_wavelength(path: &LightPath, wavelength_nm: f64, error: PathError) -> StudyError {
    match error.part() {
        Some(part) => StudyError::AtWavelength {
            wavelength_nm,
            part: path.parts[part].name.clone(),
            error,
        },
        None => error.into(),
    }
}

/// Points of a turn of the Poincare sphere by `phase_rad`, right-handed about a state, of length 1: its last whole turn where there are more.
fn turn(from: [f64; 3], about: [f64; 3], phase_rad: f64) -> Vec<[f64; 3]> {
    let [a, b, c] = about;
    let along = from[0] * a + from[1] * b + from[2] * c;
    let [x, y, z] = [
        from[0] - along * a,
        from[1] - along * b,
        from[2] - along * c,
    ];
    // The axis times what lies across it.
    let across = [b * z - c * y, c * x - a * z, a * y - b * x];
    let begin = phase_rad - phase_rad.clamp(-TAU, TAU);
    let count = ((phase_rad - begin).abs() / ARC_STEP_RAD).ceil().max(1.0);
    (0..=count as usize)
        .map(|k| {
            let (sin, cos) = math::sincos(begin + (phase_rad - begin) * k as f64 / count);
            [
                along * a + x * cos + across[0] * sin,
                along * b + y * cos + across[1] * sin,
                along * c + z * cos + across[2] * sin,
            ]
        })
        .collect()
}
