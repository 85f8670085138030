//! The interference scale of a stack.

use serde::Serialize;

use super::stack::{Refused, Stack};
use crate::color::{Swatch, color_name};
use crate::light_path::PartKind;
use crate::optics::Specimen;
use crate::study::chart::{ORDER_NM, colors_of_path};

/// The scale's end unless asked for, its limits, and how many colours it has, nm.
const USUAL_END_NM: f64 = 1800.0;
const ENDS_NM: (f64, f64) = (100.0, 6000.0);
const STEPS: usize = 360;

pub(super) fn usual_end() -> f64 {
    USUAL_END_NM
}

/// Colours over path difference.
#[derive(Debug, Serialize)]
pub(super) struct ScaleColors {
    path_difference_nm: Vec<f64>,
    without_plate: Vec<String>,
    with_plate: Option<Vec<String>>,
    /// The same in words.
    names: Vec<String>,
    names_with_plate: Option<Vec<String>>,
    orders_nm: Vec<f64>,
    /// The specimen's path difference, where one is stated.
    marker_nm: Option<f64>,
    marker_name: Option<String>,
}

pub(super) fn scale(stack: &Stack, to_nm: f64) -> Result<ScaleColors, Refused> {
    let read = stack.read()?;
    let to_nm = match to_nm.is_finite() {
        true => to_nm.clamp(ENDS_NM.0, ENDS_NM.1),
        false => USUAL_END_NM,
    };
    let path_difference_nm: Vec<f64> = (0..=STEPS)
        .map(|step| to_nm * step as f64 / STEPS as f64)
        .collect();
    let colors = colors_of_path(&read.scene, &path_difference_nm)?;
    let hex = |colors: &Vec<Swatch>| colors.iter().map(Swatch::hex).collect();
    let names = |colors: &Vec<Swatch>| {
        colors
            .iter()
            .map(|color| color_name(color.oklch()))
            .collect()
    };
    let marker = read
        .scene
        .path
        .parts
        .iter()
        .find_map(|part| match part.kind {
            PartKind::Specimen(Specimen::Stated {
                path_difference_nm, ..
            }) => Some((path_difference_nm.abs(), part.name.clone())),
            _ => None,
        });
    let (marker_nm, marker_name) = marker.unzip();
    Ok(ScaleColors {
        path_difference_nm,
        without_plate: hex(&colors.without_plate),
        with_plate: colors.with_plate.as_ref().map(hex),
        names: names(&colors.without_plate),
        names_with_plate: colors.with_plate.as_ref().map(names),
        orders_nm: (1..)
            .map(|order| f64::from(order) * ORDER_NM)
            .take_while(|nm| *nm < to_nm)
            .collect(),
        marker_nm,
        marker_name,
    })
}
