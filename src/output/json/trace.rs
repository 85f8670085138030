//! `trace` as JSON.

use std::f64::consts::TAU;

use serde::{Serialize, Serializer};

use super::Spectral;
use crate::optics::RayCounts;
use crate::study::trace::{State, StepKind, StretchMatrix, Trace, TraceStep};

impl Serialize for Trace {
    /// As in the JSON document: angles are in degrees.
    ///
    /// Checked by: `tests/cli/trace.rs`.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let question = self.question;
        TraceBody {
            na: self.na,
            ray: question.ray.map(|ray| TracedRayJson {
                na: ray.s,
                azimuth_deg: ray.azimuth_rad.to_degrees(),
            }),
            wavelength_nm: question.wavelength_nm,
            lamp: &self.lamp,
            plates_in: question.plates,
            quadrature_error: self.quadrature.map(|mean| mean.error),
            spectral_error: Spectral {
                error: self.resolved.error,
                step: self.resolved.step,
            },
            wavelength_step_nm: self.resolved.grid.step_nm(),
            rays: self.quadrature.map(|mean| mean.rays),
            steps: self
                .steps
                .iter()
                .map(|step| one(step, question.wavelength_nm))
                .collect(),
            between_polars: (self.between_polars.as_ref())
                .map(|matrix| optics(matrix, question.wavelength_nm)),
        }
        .serialize(serializer)
    }
}

fn one(step: &TraceStep, wavelength_nm: Option<f64>) -> After<'_> {
    After {
        after: &step.name,
        kind: step.kind.word(),
        state: (step.kind != StepKind::Out).then(|| ellipse(&step.state)),
        passed: step.passed,
        optics: step
            .matrix
            .as_ref()
            .map(|matrix| optics(matrix, wavelength_nm)),
    }
}

fn ellipse(state: &State) -> Ellipse {
    Ellipse {
        stokes: state.stokes.0,
        degree_of_polarization: state.polarized,
        degree_of_linear_polarization: state.linear,
        degree_of_circular_polarization: state.circular,
        azimuth_deg: state.azimuth_rad.map(f64::to_degrees),
        ellipticity_deg: state.ellipticity_rad.map(f64::to_degrees),
        axis_ratio: state.axis_ratio(),
        handedness: (state.right_handed()).map(|right| if right { "right" } else { "left" }),
    }
}

fn optics(matrix: &StretchMatrix, wavelength_nm: Option<f64>) -> TraceOpticsJson {
    let parts = matrix.decomposition.as_ref();
    let slow = parts.and_then(|parts| parts.slow_state()).map(State::of);
    TraceOpticsJson {
        mueller: rows(&matrix.mueller),
        depolarization_index: matrix.depolarization_index,
        decomposition: parts.map(|parts| Decomposition {
            diattenuation: parts.diattenuation,
            polarizance: parts.polarizance,
            retardance_deg: parts.retardance_rad.to_degrees(),
            retardance_nm: wavelength_nm.map(|nm| parts.retardance_rad / TAU * nm),
            slow_azimuth_deg: (slow.and_then(|slow| slow.azimuth_rad)).map(f64::to_degrees),
            slow_ellipticity_deg: (slow.and_then(|slow| slow.ellipticity_rad)).map(f64::to_degrees),
            depolarization: parts.depolarization,
            diattenuator: rows(&parts.diattenuator),
            retarder: rows(&parts.retarder),
            depolarizer: rows(&parts.depolarizer),
        }),
    }
}

fn rows(mueller: &crate::calculus::Mueller) -> [[f64; 4]; 4] {
    [0, 1, 2, 3].map(|i| [0, 1, 2, 3].map(|j| mueller.0[(i, j)]))
}

#[derive(Serialize)]
struct TraceBody<'a> {
    na: f64,
    ray: Option<TracedRayJson>,
    wavelength_nm: Option<f64>,
    lamp: &'a str,
    plates_in: bool,
    quadrature_error: Option<f64>,
    spectral_error: Spectral,
    wavelength_step_nm: f64,
    rays: Option<RayCounts>,
    steps: Vec<After<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    between_polars: Option<TraceOpticsJson>,
}

#[derive(Serialize)]
struct TracedRayJson {
    na: f64,
    azimuth_deg: f64,
}

#[derive(Serialize)]
struct After<'a> {
    after: &'a str,
    kind: &'static str,
    state: Option<Ellipse>,
    passed: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    optics: Option<TraceOpticsJson>,
}

#[derive(Serialize)]
struct Ellipse {
    stokes: [f64; 4],
    degree_of_polarization: f64,
    degree_of_linear_polarization: f64,
    degree_of_circular_polarization: f64,
    azimuth_deg: Option<f64>,
    ellipticity_deg: Option<f64>,
    axis_ratio: Option<f64>,
    handedness: Option<&'static str>,
}

#[derive(Serialize)]
struct TraceOpticsJson {
    mueller: [[f64; 4]; 4],
    depolarization_index: Option<f64>,
    decomposition: Option<Decomposition>,
}

#[derive(Serialize)]
struct Decomposition {
    diattenuation: f64,
    polarizance: f64,
    retardance_deg: f64,
    retardance_nm: Option<f64>,
    slow_azimuth_deg: Option<f64>,
    slow_ellipticity_deg: Option<f64>,
    depolarization: f64,
    diattenuator: [[f64; 4]; 4],
    retarder: [[f64; 4]; 4],
    depolarizer: [[f64; 4]; 4],
}
