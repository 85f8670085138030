//! What is said where readings and model do not go together.

use super::FitReport;
use crate::output::numbers::{digits, exponent};
use crate::study::fit::ReadingAnswer;

/// Below this a p-value is told as being smaller.
const LEAST_P: f64 = 1e-300;

/// What readings and model do not agree on. Which part is to blame is then left open: the stands of the sample show other light than was read.
pub(super) fn misfit(report: &FitReport) -> Vec<String> {
    let answer = &report.answer;
    let mut all = vec![format!(
        "Readings and model do not go together (p {}): no stand that the priors allow shows them all, so it is left open which part is to blame.",
        if answer.p_value < LEAST_P {
            "< 1e-300".to_owned()
        } else if answer.p_value < 1e-3 {
            format!("= {}", exponent(answer.p_value))
        } else {
            format!("= {}", digits(answer.p_value, 2))
        }
    )];
    if let Some(fault) = &report.fault {
        all.push(fault.clone());
        all.push(CLEAR_UP.to_owned());
        return all;
    }
    if report.freed_only {
        all.push(FREED_ONLY.to_owned());
    }
    if let Some(spoiled) = answer.readings.iter().find(|reading| reading.spoiled) {
        all.push(match spoiled.photograph {
            false => format!(
                "Without the reading of line {} ({}) the others go together best: read it again, and look how the stand was set.",
                spoiled.line,
                digits(spoiled.measured, 3),
            ),
            true => format!(
                "Without the photograph of line {} the others go together best{} Correct it, or take it again, and look how the stand was set.",
                spoiled.line,
                as_a_whole(spoiled)
            ),
        });
    }
    if answer.readings.iter().any(|reading| reading.photograph) {
        all.push(PHOTOGRAPHS_FIRST.to_owned());
    }
    all.push(CLEAR_UP.to_owned());
    all
}

/// A photograph of which all zones lie off together by more than so many errors of its exposures is blamed on these.
const FAR_OFF: f64 = 3.0;

/// By how much a photograph is too bright or too dark as a whole, which its exposures would explain.
fn as_a_whole(photograph: &ReadingAnswer) -> String {
    match photograph.z.abs() > FAR_OFF {
        true => format!(
            "; as a whole it is {} times as bright as the others let it be: are exposure_s and exposure_parallel_s of that line right?",
            digits(photograph.predicted.median / photograph.measured, 2)
        ),
        false => ".".to_owned(),
    }
}

/// What to do before anything else.
const CLEAR_UP: &str = "Clear that up first. Where all readings are right, the stand is another than the file says: compare its parts, its iris and where its polars are.";
/// What may be wrong where most numbers were held at what is written.
const FREED_ONLY: &str = "Some of the stand's numbers were held at what is written: free them all (without --unknown) before you doubt the readings.";

/// What is wrong most often with photographs that no stand explains. Common practice, no source.
const PHOTOGRAPHS_FIRST: &str = "Look at the photographs first: are photo and photo_parallel, and exposure_s and exposure_parallel_s, in the right columns, and was the exposure fixed; do the pictures lie as --turn-picture and --flip say; are they linear, without the curve of a JPEG; does the disc that the notes tell, or center_x, center_y and radius, lie on the bright disc? The figure `residuals` (--plots DIR) shows each zone.";
