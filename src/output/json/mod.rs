//! Answers as JSON documents, full precision, keys in a fixed order.

mod aperture;
mod chart;
mod lens;
mod place;
mod tolerate;
mod trace;

use serde::Serialize;

use crate::color::Background;
use crate::material::catalog::Entry;
use crate::study::leak::LeakShare;
use crate::study::predict::{BetweenPolars, Prediction, SpectralError, StepChoice};

pub use aperture::back_focal_plane;
pub use chart::{matrix, scale};
pub use lens::lenses;
pub use place::placement;
pub use tolerate::tolerances;
pub use trace::trace;

/// `predict` as one JSON document, with a line break at its end.
///
/// Checked by: `tests/cli/predict.rs`, `tests/reference/optics.rs`.
#[must_use]
pub fn prediction(title: &str, answer: &Prediction, notes: &[String]) -> String {
    text(&PredictDocument {
        scenario: title,
        na: answer.na,
        extinction_ratio: answer.extinction_ratio,
        extinction_note: (answer.extinction_ratio.is_none()).then_some(super::INFINITE),
        extinction_ratio_546nm: answer.extinction_green.flatten(),
        quadrature_error: answer.quadrature_error,
        spectral_error: Spectral {
            error: answer.spectral_error,
            step: answer.step,
        },
        wavelength_step_nm: answer
            .wavelength_nm
            .get(1)
            .map_or(0.0, |nm| nm - answer.wavelength_nm[0]),
        rays: RaysJson::of(answer.rays, answer.ray_count),
        spectrum: Spectrum {
            wavelength_nm: &answer.wavelength_nm,
            parallel: &answer.fields.parallel,
            crossed: &answer.fields.crossed,
            crossed_with_plate: answer.fields.crossed_with_plate.as_deref(),
            extinction_ratio: &answer.extinction_spectrum,
        },
        background: Backgrounds {
            without_plate: &answer.without_plate,
            with_plate: answer.with_plate.as_ref(),
        },
        beside_specimen: answer.beside_specimen.as_ref().map(|empty| Beside {
            extinction_ratio: empty.extinction_ratio,
            crossed: &empty.fields.crossed,
            crossed_with_plate: empty.fields.crossed_with_plate.as_deref(),
            background: Backgrounds {
                without_plate: &empty.without_plate,
                with_plate: empty.with_plate.as_ref(),
            },
        }),
        leak_luminance: answer.leak.whole,
        leak: &answer.leak.shares,
        between_polars: optics(&answer.between_polars),
        plate_thickness_um: (answer.thickness_um.iter())
            .map(|(part, thickness_um)| Thickness {
                part,
                thickness_um: *thickness_um,
            })
            .collect(),
        notes,
        caution: super::CAUTION,
    })
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
struct PredictDocument<'a> {
    scenario: &'a str,
    na: f64,
    extinction_ratio: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    extinction_note: Option<&'static str>,
    extinction_ratio_546nm: Option<f64>,
    quadrature_error: f64,
    spectral_error: Spectral,
    wavelength_step_nm: f64,
    rays: RaysJson,
    spectrum: Spectrum<'a>,
    background: Backgrounds<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    beside_specimen: Option<Beside<'a>>,
    leak_luminance: f64,
    leak: &'a [LeakShare],
    between_polars: BetweenPolarsJson,
    plate_thickness_um: Vec<Thickness<'a>>,
    notes: &'a [String],
    caution: &'static str,
}

/// What the step between the wavelengths leaves in doubt, and how it came about.
#[derive(Serialize)]
struct Spectral {
    #[serde(flatten)]
    error: SpectralError,
    step: StepChoice,
}

#[derive(Serialize)]
struct RaysJson {
    rings: usize,
    /// Of the ring that has most.
    spokes: usize,
    count: usize,
}

impl RaysJson {
    fn of((rings, spokes): (usize, usize), count: usize) -> Self {
        Self {
            rings,
            spokes,
            count,
        }
    }
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

#[derive(Serialize)]
struct Thickness<'a> {
    part: &'a str,
    thickness_um: f64,
}
