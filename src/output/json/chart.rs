//! Colour charts as JSON.

use serde::Serialize;

use super::text;
use crate::output::CAUTION;
use crate::study::chart::{ColorGrid, Scale, SheetComparison};

/// A chart of colour over path difference as one JSON document, with a line break at its end. `chart` is its kind, `scenario`
/// the title of the microscope that it is for.
///
/// Checked by: `tests/cli/chart.rs`.
#[must_use]
pub fn scale(chart: &str, scenario: Option<&str>, answer: &Scale) -> String {
    document(chart, scenario, answer)
}

/// A chart of rows and columns as one JSON document; the arguments are those of [`scale`].
///
/// Checked by: `tests/cli/chart.rs`.
#[must_use]
pub fn matrix(chart: &str, scenario: Option<&str>, answer: &ColorGrid) -> String {
    document(chart, scenario, answer)
}

/// A chart of sheets as one JSON document: that of [`matrix`] with the comparison under the key `comparison`.
///
/// Checked by: `tests/cli/chart.rs`.
#[must_use]
pub fn sheets(
    chart: &str,
    scenario: Option<&str>,
    colors: &ColorGrid,
    comparison: &SheetComparison,
) -> String {
    #[derive(Serialize)]
    struct ComparedSheets<'a> {
        #[serde(flatten)]
        colors: &'a ColorGrid,
        comparison: &'a SheetComparison,
    }
    document(chart, scenario, ComparedSheets { colors, comparison })
}

fn document(chart: &str, scenario: Option<&str>, answer: impl Serialize) -> String {
    #[derive(Serialize)]
    struct ChartDocument<'a, A: Serialize> {
        chart: &'a str,
        scenario: Option<&'a str>,
        #[serde(flatten)]
        answer: A,
        caution: &'static str,
    }
    text(&ChartDocument {
        chart,
        scenario,
        answer,
        caution: CAUTION,
    })
}
