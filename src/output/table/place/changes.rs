//! What changes which place of the lower polar is best: the iris, and strain of the condenser.

use crate::output::numbers::digits;
use crate::output::sentences::{amount, not_crossed};
use crate::output::words::{place, uncapital};
use crate::study::place::{BestPlace, Placement, StrainFlip, StrainTried};

use super::{percent, ratio};

/// A numerical error that three digits do not show is not told.
const SHOWN: f64 = 5e-4;

/// The relative numerical error of a change, where it shows.
fn numerically(relative: f64) -> String {
    match relative < SHOWN {
        true => String::new(),
        false => format!("; numerically good to {}", percent(relative)),
    }
}

/// What changes the answer.
pub(super) fn flips(answer: &Placement) -> Vec<String> {
    let mut sentences = of_verdict(answer, &answer.verdict);
    if let Some(dry) = &answer.without_oil {
        let without: Vec<String> = (of_verdict(answer, dry).into_iter())
            .filter(|sentence| !sentences.contains(sentence))
            .map(|sentence| format!("Without oil: {}", uncapital(&sentence)))
            .collect();
        sentences.extend(without);
    }
    sentences.extend(answer.strain.as_ref().map(strain_meant));
    sentences
}

fn of_verdict(answer: &Placement, verdict: &BestPlace) -> Vec<String> {
    // Without crossed polars nothing that changes is worth acting on.
    if verdict.rivals.len() < 2 || not_crossed(&answer.crossing).is_some() {
        return Vec::new();
    }
    let name = |index: usize| place(&answer.lower[index]);
    let mut sentences: Vec<String> = (verdict.iris_flips.iter())
        .map(|flip| {
            format!(
                "From NA {} on, {} is better than {} (extinction ratio {} there{}).",
                digits(flip.iris_na, 3),
                name(flip.to),
                name(flip.from),
                ratio(flip.extinction_ratio),
                numerically(flip.uncertainty / flip.iris_na)
            )
        })
        .collect();
    if sentences.is_empty() {
        sentences.push("The iris does not change which place is best.".to_owned());
    }
    if let Some(tried) = &answer.strain {
        sentences.extend(of_strain(answer, verdict, tried));
    }
    sentences
}

fn of_strain(answer: &Placement, verdict: &BestPlace, tried: &StrainTried) -> Vec<String> {
    let flip = |flip: &StrainFlip| {
        let several = flip
            .profiles
            .iter()
            .any(|own| own.part != flip.profiles[0].part);
        let profiles: Vec<String> = (flip.profiles.iter())
            .map(|own| {
                let lens = if several {
                    format!(" in {}", own.part)
                } else {
                    String::new()
                };
                amount(own.amount, |number| digits(number, 3)) + &lens
            })
            .collect();
        format!(
            "Once the condenser adds more than {} nm ({}), {} is better than {} (extinction ratio {} there{}).",
            digits(flip.rms_nm, 3),
            profiles.join(", "),
            place(&answer.lower[flip.to]),
            place(&answer.lower[flip.from]),
            ratio(flip.extinction_ratio),
            numerically(flip.relative_uncertainty)
        )
    };
    if verdict.strain_flips.is_empty() {
        return vec![format!(
            "Strain of the condenser up to {} nm does not change which place is best.",
            digits(tried.most_rms_nm, 3)
        )];
    }
    verdict.strain_flips.iter().map(flip).collect()
}

/// What the numbers of the condenser's strain mean.
fn strain_meant(tried: &StrainTried) -> String {
    let written = if tried.assumed {
        "none is written, and a radial one is assumed in every lens of it".to_owned()
    } else if tried.written_rms_nm == 0.0 {
        "0 nm as written, so all its profiles are taken to grow together, a newton on each contact with a nanometre of the others"
            .to_owned()
    } else {
        format!("{} nm as written", digits(tried.written_rms_nm, 3))
    };
    format!(
        "The condenser's strain is counted as the root mean square path difference over the used aperture: {written}."
    )
}
