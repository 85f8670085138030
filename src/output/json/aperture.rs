//! `aperture` as JSON.

use serde::{Serialize, Serializer};

use super::object;
use crate::color::Xyz;
use crate::output::{INFINITE, words};
use crate::study::aperture::{BackFocalPlane, BuildUpStep, View};

impl Serialize for BackFocalPlane {
    /// Light is relative to the mean luminance of the parallel field; maps are luminance, a list for each ring.
    ///
    /// Checked by: `tests/cli/aperture.rs`.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let degrees = |angles_rad: &[f64]| -> Vec<f64> {
            angles_rad.iter().map(|angle| angle.to_degrees()).collect()
        };
        let spokes = self.rays.spoke_rad.len();
        let polars_deg = self
            .polars_rad
            .map(|(lower, analyzer)| degrees(&[lower, analyzer]));
        object!(serializer, {
            "na": self.na,
            "polars_deg": polars_deg,
            "quadrature_error": self.quadrature_error,
            "spectral_error": self.resolved.error,
            "wavelength_step_nm": self.resolved.grid.step_nm(),
            "parallel_xyz": self.parallel,
            "ring_na": self.rays.ring,
            "spoke_deg": degrees(&self.rays.spoke_rad),
            "without_plate": Plane::of(&self.without_plate, spokes),
            "with_plate": self.with_plate.as_ref().map(|view| Plane::of(view, spokes)),
            "sections": self.sections,
            "sections_along": self.sections_along,
            "build_up": self.build_up,
            "crystal" if some: self.crystal,
            "leaning_axis" if some: self.leaning_axis,
        })
    }
}

/// A view with its light as a map. The view does not know how many spokes a ring has: that is told beside it.
#[derive(Serialize)]
struct Plane {
    extinction_ratio: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    extinction_note: Option<&'static str>,
    relative_luminance: f64,
    map: Vec<Vec<f64>>,
}

impl Plane {
    fn of(view: &View, spokes: usize) -> Self {
        let luminance: Vec<f64> = view.light.iter().map(Xyz::luminance).collect();
        Self {
            extinction_ratio: view.extinction_ratio,
            extinction_note: view.extinction_ratio.is_none().then_some(INFINITE),
            relative_luminance: view.relative_luminance,
            map: luminance.chunks(spokes).map(<[f64]>::to_vec).collect(),
        }
    }
}

impl Serialize for BuildUpStep {
    /// What was put in is named as in the table.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let cross = self.cross;
        let degrees = |angle_rad: Option<f64>| angle_rad.map(f64::to_degrees);
        object!(serializer, {
            "put_in": words::step(self),
            "extinction_ratio": self.extinction_ratio,
            "relative_luminance": self.relative_luminance,
            "figure_centred": self.is_centred,
            "cross_opening": cross.map(|cross| cross.opening),
            "cross_parted_deg": degrees(cross.and_then(|cross| cross.parted_rad)),
            "cross_filled": cross.map(|cross| cross.filled),
            "cross_turned_deg": degrees(cross.and_then(|cross| cross.turned_rad)),
        })
    }
}
