//! Colour charts to print.
//!
//! Two shapes serve all of them: a [`Scale`] of colour over path difference, and a [`ColorGrid`] of colours in rows and columns.
//!
//! # Examples
//! ```
//! use polstack::study::chart::{Polars, ScaleRequest, interference, usual_lamp};
//! let request = ScaleRequest {
//!     source: &usual_lamp(),
//!     sheet: &polstack::material::catalog::sheet("ideal").unwrap(),
//!     polars: Polars::Linear,
//!     dispersion: None,
//!     to_nm: 600.0,
//!     step_nm: 10.0,
//!     exposure_stops: 0.0,
//!     adaptation_degree: 1.0,
//!     microscope: None,
//! };
//! let chart = interference(&request)?;
//! assert_eq!(chart.bands[0].tints[0].name, "black");
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

mod background;
mod compared;
mod interference;
mod light;
mod lines;
mod notes;
mod object;
mod orders;
mod plate;
mod scale;
mod sheets;
mod tint;
mod usual;

use serde::{Serialize, Serializer};

use crate::color::{Lab, Swatch, Xyz};

pub use background::{GridShown, USUAL_STRAIN_NM, background, usual_irises};
pub use compared::{ComparedSheet, KnownLight, KnownRatio, SheetComparison, compare_sheets};
pub use interference::{PlateColors, colors_of_path, interference};
pub use light::Polars;
pub use lines::{SODIUM_NM, birefringence_lines};
pub use object::{ChartedObject, ObjectColors, charted_object};
pub use orders::{FIRST_ORDER_NM, ORDER_NM, QUARTER_WAVE_NM};
pub use plate::{plate, wall};
pub use scale::{Dispersion, MOST_NM, MOST_STEPS, ScaleRequest, usual_step_nm};
pub use sheets::sheets;
pub use usual::{USUAL_END_NM, accessory_plate, all_sheets, has_plate, usual_lamp};

/// The observer of every chart.
const OBSERVER: &str = "CIE 1931, 2 degrees";

/// Under what a chart holds: what is printed on it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Conditions {
    /// The lamp by name; `None` where the chart is of several lamps.
    pub lamp: Option<String>,
    /// Whose colour matching functions: those of the CIE 1931 standard observer.
    pub observer: &'static str,
    /// Chromaticity of the white that colours are balanced on, the parallel field of the first column; `None` where there are several lamps.
    pub white_xy: Option<[f64; 2]>,
    /// Whether the light could be balanced to white (light of nearly one colour cannot).
    pub white_balanced: bool,
    /// Degree of the eye's adaptation to the parallel field (to the lamp, on a chart of sheets), CIECAM16's D: 1 where the eye takes it for white,
    /// 0 where it takes daylight for white. `None` where the light could not be balanced.
    pub adaptation_degree: Option<f64>,
    /// What the polars are, of a scale those of the first columns and of what stands beside, in words: "ideal linear polars", "linear polars,
    /// iodine-medium", "the scenario's polars".
    pub polars: String,
    /// First and last wavelength and the step between them, nm.
    #[serde(rename = "wavelengths", serialize_with = "from_to_step")]
    pub wavelengths_nm: (f64, f64, f64),
    /// What the chart assumes beyond that, in whole sentences: dispersion, data from memory, wavelengths held constant.
    pub notes: Vec<String>,
}

fn from_to_step<S: Serializer>(nm: &(f64, f64, f64), serializer: S) -> Result<S::Ok, S::Error> {
    #[derive(Serialize)]
    struct FromToStep {
        from_nm: f64,
        to_nm: f64,
        step_nm: f64,
    }
    let (from_nm, to_nm, step_nm) = *nm;
    FromToStep {
        from_nm,
        to_nm,
        step_nm,
    }
    .serialize(serializer)
}

fn extremum<S: Serializer>(at: &Option<(f64, f64)>, serializer: S) -> Result<S::Ok, S::Error> {
    #[derive(Serialize)]
    struct Extremum {
        path_difference_nm: f64,
        relative_luminance: f64,
    }
    let told = at.map(|(path_difference_nm, relative_luminance)| Extremum {
        path_difference_nm,
        relative_luminance,
    });
    told.serialize(serializer)
}

/// One colour.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tint {
    /// Tristimulus values over the luminance of the parallel field (of the lamp, on a chart of sheets), before white balance and
    /// exposure.
    pub xyz: Xyz,
    /// Balanced on that field as white, before exposure.
    pub lab: Lab,
    /// As a screen shows it: balanced, exposed, in the gamut.
    #[serde(flatten)]
    pub swatch: Swatch,
    /// The swatch in words.
    pub name: String,
    /// Linear sRGB as it is shown, before it is brought into the gamut.
    #[serde(skip)]
    pub linear: [f64; 3],
}

/// Colour over path difference.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Scale {
    /// Under what it holds.
    pub conditions: Conditions,
    /// By how many stops every colour is exposed up; 0 shows the parallel field white, below 0 stands light of nearly one colour.
    pub exposure_stops: f64,
    /// The wavelength in nm that they are named at; `None` where they do not depend on it.
    pub at_nm: Option<f64>,
    /// Path differences in nm, ascending in equal steps.
    pub path_difference_nm: Vec<f64>,
    /// The columns of colour, side by side; the last are a microscope's, where one stands beside.
    pub bands: Vec<Band>,
    /// What the polars of the microscope's columns are, in words; `None` without such columns.
    #[serde(skip)]
    pub beside: Option<&'static str>,
    /// Lines of equal birefringence; none on a chart of plates.
    #[serde(rename = "birefringence")]
    pub lines: Vec<BirefringenceLine>,
    /// Of a chart of plates: CIEDE2000 between the second and the third of a group of three bands (plate added, plate subtracted), at
    /// each path difference. One for each group.
    #[serde(rename = "added_from_subtracted")]
    pub differences: Vec<Difference>,
    /// Of a chart of plates: an elongated object in its two positions, where one was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub object: Option<ChartedObject>,
}

/// One column of colour.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Band {
    /// What it shows, in few words.
    pub heading: String,
    /// Where the luminance has its first maximum, and the minimum that follows it: path difference in nm and luminance. None where the chart ends before.
    #[serde(serialize_with = "extremum")]
    pub first_maximum: Option<(f64, f64)>,
    /// The minimum after the first maximum.
    #[serde(serialize_with = "extremum")]
    pub first_minimum: Option<(f64, f64)>,
    /// Path difference in nm at which that is greatest within the first two orders, beyond the darkness near 0.
    pub keenest_nm: f64,
    /// A colour for each path difference.
    pub tints: Vec<Tint>,
    /// CIEDE2000 between neighbours per nm of path difference, at each path difference.
    pub discrimination_per_nm: Vec<f64>,
}

/// What tells a specimen's slow direction from its fast one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Difference {
    /// Whose: "ideal", "this microscope".
    pub heading: String,
    /// CIEDE2000 at each path difference.
    pub ciede2000: Vec<f64>,
}

/// A straight line through the origin of path difference over thickness.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BirefringenceLine {
    /// Its slope: path difference over thickness.
    pub birefringence: f64,
    /// Materials of the catalog that have it, to the digits that are printed.
    pub materials: Vec<String>,
}

/// Colours in rows and columns.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ColorGrid {
    /// Under what it holds.
    pub conditions: Conditions,
    /// What the rows are, with its unit: "objective strain at the rim, nm", "sheet".
    pub rows_are: String,
    /// What the columns are: "iris NA", "lamp".
    pub columns_are: String,
    /// Labels of the rows.
    pub rows: Vec<String>,
    /// Labels of the columns.
    pub columns: Vec<String>,
    /// Plate out and in; polars parallel and crossed.
    pub panels: Vec<Panel>,
    /// Luminous extinction ratio, plate out, row by row; `None` where nothing leaks.
    pub extinction_ratio: Vec<Vec<Option<f64>>>,
}

/// One of the matrices that belong together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Panel {
    /// What is seen.
    pub heading: String,
    /// By how many stops all of its colours are exposed up, beside the exposure of the parallel field.
    pub exposure_stops: f64,
    /// By how many stops each row is exposed up, where each is exposed for itself; `exposure_stops` is then that of the brightest row.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub row_exposure_stops: Option<Vec<f64>>,
    /// What the labels are: "luminance over the parallel field's", "CIEDE2000 from the first cell".
    pub labels_are: String,
    /// A few characters for each cell, all of one kind in a panel: "38 %", "1/17 500", "0.4".
    pub labels: Vec<Vec<String>>,
    /// Colours, row by row.
    pub cells: Vec<Vec<Tint>>,
}

impl Panel {
    /// By how many stops a row is exposed up.
    #[must_use]
    pub fn stops_of_row(&self, row: usize) -> f64 {
        let own = self.row_exposure_stops.as_ref();
        let own = own.and_then(|rows| rows.get(row).copied());
        own.unwrap_or(self.exposure_stops)
    }
}
