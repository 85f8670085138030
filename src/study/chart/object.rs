//! An elongated object turned along the plate's slow direction and across it.

use serde::Serialize;

use super::{Scale, Tint};
use crate::material::catalog::{SlowAlong, SpecimenSize};

/// An object of the catalog in its two positions on a chart of plates.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChartedObject {
    /// Its catalog name.
    pub name: String,
    /// Least, middle and largest path difference of a typical one, nm.
    pub path_difference_nm: [f64; 3],
    /// "positive" where its slow direction lies along its length, else "negative".
    pub elongation: &'static str,
    /// The colours, for each group of columns.
    pub positions: Vec<ObjectColors>,
}

/// Colours of an object in its two positions, at its least, middle and largest path difference.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ObjectColors {
    /// The column with the plate added; the next one has it subtracted.
    pub heading: String,
    /// Its length along the plate's slow direction.
    pub along: [Tint; 3],
    /// Its length across it.
    pub across: [Tint; 3],
}

/// Puts an object on a chart of plates ([`super::plate()`]) that reaches as far as its path differences; `None` where its slow direction is not known.
///
/// Checked by: `tests/laws/crystals.rs`.
#[must_use]
pub fn charted_object(chart: &Scale, object: &SpecimenSize) -> Option<ChartedObject> {
    let (from, to) = object.path_difference_nm;
    let path_difference_nm = [from, 0.5 * (from + to), to];
    let is_along = object.slow? == SlowAlong::Along;
    let positions = chart.bands.chunks_exact(3).map(|group| {
        let [_, added, subtracted] = [0, 1, 2].map(|column| {
            path_difference_nm.map(|nm| group[column].tints[nearest(chart, nm)].clone())
        });
        // A slow direction along the plate's adds.
        let (along, across) = match is_along {
            true => (added, subtracted),
            false => (subtracted, added),
        };
        ObjectColors {
            heading: group[1].heading.clone(),
            along,
            across,
        }
    });
    Some(ChartedObject {
        name: object.name.to_owned(),
        path_difference_nm,
        elongation: if is_along { "positive" } else { "negative" },
        positions: positions.collect(),
    })
}

/// The chart's path difference that is nearest to one.
fn nearest(chart: &Scale, nm: f64) -> usize {
    let off = |k: &usize| (chart.path_difference_nm[*k] - nm).abs();
    (0..chart.path_difference_nm.len())
        .min_by(|a, b| off(a).total_cmp(&off(b)))
        .unwrap_or(0)
}
