//! Answers as JSON documents, full precision, keys in a fixed order.

mod aperture;
mod chart;
mod lens;
#[cfg(feature = "cli")]
mod lesson;
mod place;
mod tolerate;
mod trace;

use std::collections::BTreeMap;

use serde::Serialize;

use super::StandNote;
use super::findings::FitReport;
use crate::material::catalog::Entry;
use crate::study::doubt::darker_probability;
use crate::study::predict::Prediction;
use crate::study::view::SeenObject;

pub use chart::{matrix, scale, sheets};
pub use lens::lenses;
#[cfg(feature = "cli")]
pub use lesson::lessons;

/// Writes an object with these keys in this order: for answers of which a value is worked out, or put into words, while it is written. All
/// others derive [`Serialize`]. A key `if some` is left out where its value is `None`.
macro_rules! object {
    (@entry $keys:ident $key:literal some $value:expr) => {
        if let Some(value) = &$value {
            $keys.serialize_entry($key, value)?;
        }
    };
    (@entry $keys:ident $key:literal $value:expr) => {
        $keys.serialize_entry($key, &$value)?;
    };
    ($serializer:expr, { $($key:literal $(if $some:ident)?: $value:expr),* $(,)? }) => {{
        use serde::ser::SerializeMap;
        let mut keys = $serializer.serialize_map(None)?;
        $(object!(@entry keys $key $($some)? $value);)*
        keys.end()
    }};
}
use object;

/// A study's answer as one JSON document, with a line break at its end: the title first, the notes and the caution last. Every answer is
/// [`Serialize`], so that a program can embed it as it likes.
///
/// # Examples
/// ```
/// let scene = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene;
/// let answer = polstack::study::predict::predict(&scene)?;
/// let value = serde_json::to_value(&answer).unwrap();
/// assert_eq!(value["extinction_ratio"].as_f64(), answer.extinction_ratio);
/// # Ok::<(), polstack::study::StudyError>(())
/// ```
///
/// Checked by: `tests/cli`, for every command.
#[must_use]
pub fn answer(title: &str, answer: &impl Serialize, notes: &[String]) -> String {
    text(&Document {
        answer: Titled {
            scenario: title,
            answer,
        },
        notes,
        caution: super::CAUTION,
    })
}

#[derive(Serialize)]
struct Document<'a, A: Serialize> {
    #[serde(flatten)]
    answer: Titled<'a, A>,
    notes: &'a [String],
    caution: &'static str,
}

/// An answer with the title of the scenario that it is for.
#[derive(Serialize)]
struct Titled<'a, A: Serialize> {
    scenario: &'a str,
    #[serde(flatten)]
    answer: &'a A,
}

/// `fit` as one JSON document, with the strain between the polars where it was mapped.
#[must_use]
pub fn fit(title: &str, report: &FitReport, notes: &[String]) -> String {
    answer(title, report, notes)
}

/// `view` as one JSON document.
#[must_use]
pub fn view(title: &str, objects: &[SeenObject], notes: &[String]) -> String {
    answer(title, &BTreeMap::from([("objects", objects)]), notes)
}

/// Answers of `predict` side by side: each as a document of its own, and for every pair how probably the field of one is darker.
#[must_use]
pub fn side_by_side(answers: &[(String, Prediction)], notes: &[StandNote]) -> String {
    let stands = answers
        .iter()
        .map(|(scenario, answer)| Titled { scenario, answer });
    let pairs = (0..answers.len()).flat_map(|one| (0..one).map(move |other| (one, other)));
    text(&SideBySide {
        stands: stands.collect(),
        darker: pairs
            .map(|(one, other)| Darker {
                stand: &answers[one].0,
                than: &answers[other].0,
                probability: darker_probability(
                    &answers[one].1.ratios(),
                    &answers[other].1.ratios(),
                ),
            })
            .collect(),
        notes: notes.iter().map(|note| &note.words[..]).collect(),
        caution: super::CAUTION,
    })
}

#[derive(Serialize)]
struct SideBySide<'a> {
    stands: Vec<Titled<'a, Prediction>>,
    darker: Vec<Darker<'a>>,
    notes: Vec<&'a str>,
    caution: &'static str,
}

/// How probably one stand is darker than another.
#[derive(Serialize)]
struct Darker<'a> {
    stand: &'a str,
    than: &'a str,
    probability: f64,
}

/// The catalog as one JSON document.
#[must_use]
pub fn catalog(entries: &[Entry]) -> String {
    text(&entries)
}

fn text(document: &impl Serialize) -> String {
    // Writing plain structs of numbers and strings to memory cannot fail.
    let mut text = serde_json::to_string_pretty(document).unwrap_or_default();
    text.push('\n');
    text
}
