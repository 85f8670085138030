//! Answers as JSON documents, full precision, keys in a fixed order.

mod aperture;
mod chart;
mod fit;
mod lens;
mod place;
mod tolerate;
mod trace;

use serde::{Serialize, Serializer};

use crate::color::Background;
use crate::material::catalog::Entry;
use crate::optics::RayCounts;
use crate::study::doubt::{Doubt, darker_probability};
use crate::study::leak::LeakShare;
use crate::study::predict::{BetweenPolars, PlateThickness, Prediction, SpectralError, StepChoice};
use crate::study::view::SeenObject;

pub use chart::{matrix, scale};
pub use lens::lenses;

impl Serialize for Prediction {
    /// As in the JSON document: light relative to the parallel field.
    ///
    /// Checked by: `tests/cli/predict.rs`, `tests/reference/optics.rs`.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        PredictBody {
            na: self.na,
            extinction_ratio: self.extinction_ratio,
            extinction_note: (self.extinction_ratio.is_none()).then_some(super::INFINITE),
            extinction_ratio_546nm: self.extinction_green.flatten(),
            quadrature_error: self.quadrature_error,
            spectral_error: Spectral {
                error: self.spectral_error,
                step: self.step,
            },
            wavelength_step_nm: self
                .wavelength_nm
                .get(1)
                .map_or(0.0, |nm| nm - self.wavelength_nm[0]),
            rays: self.rays,
            spectrum: Spectrum {
                wavelength_nm: &self.wavelength_nm,
                parallel: &self.fields.parallel,
                crossed: &self.fields.crossed,
                crossed_with_plate: self.fields.crossed_with_plate.as_deref(),
                extinction_ratio: &self.extinction_spectrum,
            },
            background: Backgrounds {
                without_plate: &self.without_plate,
                with_plate: self.with_plate.as_ref(),
            },
            beside_specimen: self.beside_specimen.as_ref().map(|empty| Beside {
                extinction_ratio: empty.extinction_ratio,
                crossed: &empty.fields.crossed,
                crossed_with_plate: empty.fields.crossed_with_plate.as_deref(),
                background: Backgrounds {
                    without_plate: &empty.without_plate,
                    with_plate: empty.with_plate.as_ref(),
                },
            }),
            doubt: self.doubt.as_ref(),
            leak_luminance: self.leak.whole,
            leak: &self.leak.shares,
            between_polars: optics(&self.between_polars),
            plate_thickness_um: &self.plates,
        }
        .serialize(serializer)
    }
}

/// A study's answer as one JSON document, with a line break at its end: the title first, the notes and the caution last. Every answer is
/// [`Serialize`], so that a program can embed it as it likes.
///
/// # Examples
/// ```
/// let scene = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene;
/// let answer = polstack::study::predict::predict(&scene)?;
/// let value = serde_json::to_value(&answer).unwrap();
/// assert_eq!(value["extinction_ratio"].as_f64(), answer.extinction_ratio);
/// # Ok::<(), polstack::study::StudyError>(())
/// ```
///
/// Checked by: `tests/cli`, for every command.
#[must_use]
pub fn answer(title: &str, answer: &impl Serialize, notes: &[String]) -> String {
    text(&Document {
        scenario: title,
        answer,
        notes,
        caution: super::CAUTION,
    })
}

#[derive(Serialize)]
struct Document<'a, A: Serialize> {
    scenario: &'a str,
    #[serde(flatten)]
    answer: &'a A,
    notes: &'a [String],
    caution: &'static str,
}

/// `view` as one JSON document.
#[must_use]
pub fn view(title: &str, objects: &[SeenObject], notes: &[String]) -> String {
    #[derive(Serialize)]
    struct FieldObjects<'a> {
        objects: &'a [SeenObject],
    }
    answer(title, &FieldObjects { objects }, notes)
}

/// Answers of `predict` side by side: each as a document of its own, and for every pair how probably the field of one is darker.
#[must_use]
pub fn side_by_side(answers: &[(String, Prediction)], notes: &[String]) -> String {
    let stands = answers
        .iter()
        .map(|(scenario, answer)| OfStand { scenario, answer });
    let pairs = (0..answers.len()).flat_map(|one| (0..one).map(move |other| (one, other)));
    text(&SideBySide {
        stands: stands.collect(),
        darker: pairs
            .map(|(one, other)| Darker {
                stand: &answers[one].0,
                than: &answers[other].0,
                probability: darker_probability(
                    &answers[one].1.ratios(),
                    &answers[other].1.ratios(),
                ),
            })
            .collect(),
        notes,
        caution: super::CAUTION,
    })
}

#[derive(Serialize)]
struct SideBySide<'a> {
    stands: Vec<OfStand<'a>>,
    darker: Vec<Darker<'a>>,
    notes: &'a [String],
    caution: &'static str,
}

#[derive(Serialize)]
struct OfStand<'a> {
    scenario: &'a str,
    #[serde(flatten)]
    answer: &'a Prediction,
}

/// How probably one stand is darker than another.
#[derive(Serialize)]
struct Darker<'a> {
    stand: &'a str,
    than: &'a str,
    probability: f64,
}

/// The catalog as one JSON document.
#[must_use]
pub fn catalog(entries: &[Entry]) -> String {
    text(&entries)
}

fn text(document: &impl Serialize) -> String {
    // Writing plain structs of numbers and strings to memory cannot fail.
    let mut text = serde_json::to_string_pretty(document).unwrap_or_default();
    text.push('\n');
    text
}

fn optics(between: &BetweenPolars) -> BetweenPolarsJson {
    let parts = between.decomposition.as_ref();
    BetweenPolarsJson {
        wavelength_nm: between.wavelength_nm,
        mueller: [0, 1, 2, 3].map(|i| [0, 1, 2, 3].map(|j| between.mueller.0[(i, j)])),
        depolarization_index: between.depolarization_index,
        diattenuation: parts.map(|p| p.diattenuation),
        retardance_nm: parts
            .map(|p| p.retardance_rad / std::f64::consts::TAU * between.wavelength_nm),
        depolarization: parts.map(|p| p.depolarization),
    }
}

#[derive(Serialize)]
struct PredictBody<'a> {
    na: f64,
    extinction_ratio: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    extinction_note: Option<&'static str>,
    extinction_ratio_546nm: Option<f64>,
    quadrature_error: f64,
    spectral_error: Spectral,
    wavelength_step_nm: f64,
    rays: RayCounts,
    spectrum: Spectrum<'a>,
    background: Backgrounds<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    beside_specimen: Option<Beside<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    doubt: Option<&'a Doubt>,
    leak_luminance: f64,
    leak: &'a [LeakShare],
    between_polars: BetweenPolarsJson,
    plate_thickness_um: &'a [PlateThickness],
}

/// What the step between the wavelengths leaves in doubt, and how it came about.
#[derive(Serialize)]
struct Spectral {
    #[serde(flatten)]
    error: SpectralError,
    step: StepChoice,
}

#[derive(Serialize)]
struct Spectrum<'a> {
    wavelength_nm: &'a [f64],
    parallel: &'a [f64],
    crossed: &'a [f64],
    crossed_with_plate: Option<&'a [f64]>,
    extinction_ratio: &'a [Option<f64>],
}

#[derive(Serialize)]
struct Backgrounds<'a> {
    without_plate: &'a Background,
    with_plate: Option<&'a Background>,
}

#[derive(Serialize)]
struct Beside<'a> {
    extinction_ratio: Option<f64>,
    crossed: &'a [f64],
    crossed_with_plate: Option<&'a [f64]>,
    background: Backgrounds<'a>,
}

#[derive(Serialize)]
struct BetweenPolarsJson {
    wavelength_nm: f64,
    mueller: [[f64; 4]; 4],
    depolarization_index: f64,
    diattenuation: Option<f64>,
    retardance_nm: Option<f64>,
    depolarization: Option<f64>,
}
