//! The objects of a field in words.

use serde::Serialize;

use super::{FieldLight, FieldSpecimen};
use crate::color::{Adaptation, Swatch, Xyz, color_name, linear_srgb};

/// How an object looks beside the parallel field as white, at its exposure.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SeenColor {
    /// Luminance over that of the parallel field.
    pub luminance: f64,
    /// As a screen shows it, `#rrggbb`.
    pub srgb: String,
    /// In words.
    pub name: String,
}

/// An object with its slow direction at 45 degrees to the lower polar.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SeenObject {
    /// What it is; "empty field" first.
    pub name: String,
    /// Its path difference, nm; below 0 where the slow direction lies across.
    pub path_difference_nm: f64,
    /// Plates out.
    pub without_plate: SeenColor,
    /// Plates in; `None` in a stack without one.
    pub with_plate: Option<SeenColor>,
}

/// The empty field and the objects of a specimen.
#[must_use]
pub fn seen_objects(light: &FieldLight, specimen: &FieldSpecimen) -> Vec<SeenObject> {
    let balance = Adaptation::to_d65(light.parallel).unwrap_or(Adaptation::NONE);
    let color = |xyz: Xyz| {
        let swatch = Swatch::of_linear(linear_srgb(balance.apply(xyz)));
        SeenColor {
            luminance: xyz.luminance(),
            srgb: swatch.hex(),
            name: color_name(swatch.oklch()).to_owned(),
        }
    };
    let empty = super::FieldObject {
        name: "empty field",
        point: super::SpecimenPoint::NOTHING,
    };
    (std::iter::once(empty).chain(specimen.objects()))
        .map(|object| {
            let mut point = object.point;
            point.slow_azimuth_rad += light.lower_rad;
            SeenObject {
                name: object.name.to_owned(),
                path_difference_nm: point.path_difference_nm,
                without_plate: color(light.at(point, false)),
                with_plate: light.has_plate().then(|| color(light.at(point, true))),
            }
        })
        .collect()
}
