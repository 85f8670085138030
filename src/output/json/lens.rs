//! `lens` as JSON.

use serde::Serialize;

use super::{Titled, text};
use crate::study::lens::LensAnswer;

#[derive(Serialize)]
struct Lenses<'a> {
    lenses: Vec<Titled<'a, LensAnswer>>,
    caution: &'static str,
}

/// `lens` as one JSON document: the lenses of one scenario or of several, each with its scenario's title.
#[must_use]
pub fn lenses(answers: &[(String, Vec<LensAnswer>)]) -> String {
    let lenses = (answers.iter()).flat_map(|(scenario, lenses)| {
        lenses.iter().map(move |answer| Titled { scenario, answer })
    });
    text(&Lenses {
        lenses: lenses.collect(),
        caution: crate::output::CAUTION,
    })
}
