//! `aperture` as JSON.

use serde::{Serialize, Serializer};

use super::Spectral;
use crate::color::Xyz;
use crate::output::{INFINITE, words};
use crate::study::aperture::{BackFocalPlane, BuildUpStep, Section, View};

impl Serialize for BackFocalPlane {
    /// As in the JSON document: light is relative to the mean luminance of the parallel field; maps are luminance, a list for each ring.
    ///
    /// Checked by: `tests/cli/aperture.rs`.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let spokes = self.rays.spoke_rad.len();
        ApertureBody {
            na: self.na,
            polars_deg: (self.polars_rad)
                .map(|(lower, analyzer)| [lower.to_degrees(), analyzer.to_degrees()]),
            quadrature_error: self.quadrature_error,
            spectral_error: Spectral {
                error: self.resolved.error,
                step: self.resolved.step,
            },
            wavelength_step_nm: self.resolved.grid.step_nm(),
            parallel_xyz: self.parallel.0,
            ring_na: &self.rays.ring,
            spoke_deg: (self.rays.spoke_rad.iter())
                .map(|azimuth| azimuth.to_degrees())
                .collect(),
            without_plate: view(&self.without_plate, spokes),
            with_plate: self.with_plate.as_ref().map(|seen| view(seen, spokes)),
            sections: self.sections.iter().map(section).collect(),
            build_up: self.build_up.iter().map(stage).collect(),
        }
        .serialize(serializer)
    }
}

fn view(view: &View, spokes: usize) -> PlaneJson {
    let luminance: Vec<f64> = view.light.iter().map(Xyz::luminance).collect();
    PlaneJson {
        extinction_ratio: view.extinction_ratio,
        extinction_note: view.extinction_ratio.is_none().then_some(INFINITE),
        relative_luminance: view.relative_luminance,
        map: luminance.chunks(spokes).map(<[f64]>::to_vec).collect(),
    }
}

fn section(section: &Section) -> Diameter<'_> {
    let xyz = |light: &[Xyz]| light.iter().map(|xyz| xyz.0).collect();
    Diameter {
        azimuth_deg: section.azimuth_rad.to_degrees(),
        na: &section.na,
        xyz: xyz(&section.without_plate),
        xyz_with_plate: section.with_plate.as_deref().map(xyz),
    }
}

fn stage(step: &BuildUpStep) -> StageJson {
    StageJson {
        put_in: words::step(step),
        extinction_ratio: step.extinction_ratio,
        relative_luminance: step.relative_luminance,
        cross_opening: step.cross.map(|cross| cross.opening),
        cross_parted_deg: (step.cross.and_then(|cross| cross.parted_rad)).map(f64::to_degrees),
        cross_filled: step.cross.map(|cross| cross.filled),
        cross_turned_deg: (step.cross.and_then(|cross| cross.turned_rad)).map(f64::to_degrees),
    }
}

#[derive(Serialize)]
struct ApertureBody<'a> {
    na: f64,
    polars_deg: Option<[f64; 2]>,
    quadrature_error: f64,
    spectral_error: Spectral,
    wavelength_step_nm: f64,
    parallel_xyz: [f64; 3],
    ring_na: &'a [f64],
    spoke_deg: Vec<f64>,
    without_plate: PlaneJson,
    with_plate: Option<PlaneJson>,
    sections: Vec<Diameter<'a>>,
    build_up: Vec<StageJson>,
}

#[derive(Serialize)]
struct PlaneJson {
    extinction_ratio: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    extinction_note: Option<&'static str>,
    relative_luminance: f64,
    map: Vec<Vec<f64>>,
}

#[derive(Serialize)]
struct Diameter<'a> {
    azimuth_deg: f64,
    na: &'a [f64],
    xyz: Vec<[f64; 3]>,
    xyz_with_plate: Option<Vec<[f64; 3]>>,
}

#[derive(Serialize)]
struct StageJson {
    put_in: String,
    extinction_ratio: Option<f64>,
    relative_luminance: f64,
    cross_opening: Option<f64>,
    cross_parted_deg: Option<f64>,
    cross_filled: Option<f64>,
    cross_turned_deg: Option<f64>,
}
