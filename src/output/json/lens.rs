//! `lens` as JSON.

use serde::Serialize;

use super::text;
use crate::study::lens::LensAnswer;

#[derive(Serialize)]
struct Lenses<'a> {
    lenses: Vec<OfScenario<'a>>,
    caution: &'static str,
}

#[derive(Serialize)]
struct OfScenario<'a> {
    scenario: &'a str,
    #[serde(flatten)]
    lens: &'a LensAnswer,
}

/// `lens` as one JSON document: the lenses of one scenario or of several, each with its scenario's title.
#[must_use]
pub fn lenses(answers: &[(String, Vec<LensAnswer>)]) -> String {
    let lenses = (answers.iter()).flat_map(|(scenario, lenses)| {
        lenses.iter().map(move |lens| OfScenario { scenario, lens })
    });
    text(&Lenses {
        lenses: lenses.collect(),
        caution: crate::output::CAUTION,
    })
}
