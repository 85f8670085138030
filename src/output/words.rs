//! What more than one format calls the places of a polar, the rules of practice and the steps of a build-up.

use crate::study::aperture::BuildUpStep;
use crate::study::place::{Note, PlaceAnswer, PolarAccess};

/// What an eye takes for white, for a degree of its adaptation to a light; `None` where that light could not be balanced.
#[cfg(any(feature = "cli", feature = "figures"))]
pub(super) fn adapted(degree: Option<f64>, light: &str) -> String {
    match degree {
        Some(1.0) => format!("fully adapted to {light} (D = 1)"),
        Some(0.0) => format!("adapted to daylight, not to {light} (D = 0)"),
        Some(degree) => format!("adapted to {light} by D = {degree}, for the rest to daylight"),
        None => format!("not adapted: {light} is of nearly one colour"),
    }
}

/// With its first letter small, to stand within a sentence.
pub(super) fn uncapital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}

/// What to know about a place.
pub(super) fn note(note: &Note) -> String {
    match note {
        Note::Height {
            from_mm,
            to_mm,
            above_condenser,
        } => {
            let bridged = match above_condenser {
                true => ", which the condenser below it must bridge",
                false => "",
            };
            format!("lifts the slide by {from_mm} to {to_mm} mm (common practice, no source){bridged}")
        }
        Note::Heat { fades_celsius } => format!(
            "an incandescent lamp heats it: iodine sheet fades above about {fades_celsius} degrees Celsius (from memory)"
        ),
        Note::Oil { index } => format!(
            "wetted by a medium of index {index}: film without protection swells or loses its edge seal (common practice, no source)"
        ),
        Note::Turning { how } => match how {
            PolarAccess::InHolder => "can be turned in its holder",
            PolarAccess::TakenApart => {
                "can be turned only with the condenser taken apart, or through a slot in its mount"
            }
            PolarAccess::OnTopLens => "can be turned only with what lies on it taken off",
            PolarAccess::WithSlide => {
                "turns with the slide: on a rotating stage the polars uncross (common practice, no source)"
            }
        }
        .to_owned(),
        Note::NearFocus => {
            "dust and scratches on it are nearly in focus (common practice, no source)".to_owned()
        }
        Note::Oblique {
            na,
            extinction_ratio,
            steepest_na,
        } => match na {
            Some(na) => format!(
                "its oblique rays alone leave an extinction ratio of {extinction_ratio} up to NA {na:.2}; rays that cross it stay below NA {steepest_na:.2}"
            ),
            None => format!(
                "its oblique rays alone leave an extinction ratio of more than {extinction_ratio} at any NA; rays that cross it stay below NA {steepest_na:.2}"
            ),
        },
    }
}

/// Where the polar stands.
pub(super) fn place(answer: &PlaceAnswer) -> String {
    answer.placed.place.words()
}

/// What was put into the stack.
pub(super) fn step(step: &BuildUpStep) -> String {
    match (&step.part, step.stray) {
        (Some(part), _) => format!("+ {part}"),
        (None, true) => "+ stray light".to_owned(),
        (None, false) => "perfect parts".to_owned(),
    }
}
