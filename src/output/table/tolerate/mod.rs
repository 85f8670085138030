//! `tolerate` for people.

mod built;
mod limits;
mod visibility;

use std::fmt::Write;

use super::{BOLD, fraction, percent, ratio};
use crate::output::CAUTION;
use crate::output::findings::chance;
use crate::output::numbers::digits;
use crate::output::sentences::{doubted_sentence, luminance_error, unsure};
use crate::study::doubt::Doubt;
use crate::study::leak::Cause;
use crate::study::observer::Criterion;
use crate::study::tolerate::{LargestShare, Rescue, Target, Tolerances};
use crate::study::visibility::Bias;

use built::built;
use limits::{at_most, heading, one, overview};
use visibility::visibility;

/// Bias that changes a contrast by less than this is not worth a sentence.
const LITTLE_BIAS: f64 = 0.01;
/// A contrast of less than this is none.
const NO_CONTRAST: f64 = 0.001;

/// `tolerate` for people. Styled; the caller strips the style where it is not wanted. `brief` leaves out notes and cautions.
#[must_use]
pub fn tolerances(title: &str, answer: &Tolerances, notes: &[String], brief: bool) -> String {
    let mut text = String::new();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("{BOLD}{title}{BOLD:#}"));
    line(&format!(
        "Aperture NA {}; wanted: {}.",
        digits(answer.verdict.na, 3),
        target(&answer.target)
    ));
    let at = &answer.verdict;
    if let Some(unsure) = unsure(at.quadrature_error, at.spectral_error) {
        line(&unsure);
    }
    let mut sentences = vec![verdict(answer)];
    if let Some((doubt, ratio)) = answer.doubt.as_ref().zip(answer.verdict.extinction_ratio) {
        sentences.push(doubted_sentence(doubt, ratio));
        if let Target::Extinction(wanted) = answer.target {
            sentences.push(target_probability(doubt, wanted));
        }
        // What is known leads where it is something else.
        if doubt.median_leads() {
            sentences.reverse();
        }
    }
    for sentence in sentences {
        line(&sentence);
    }
    if let Target::See(see) = &answer.target
        && let Some(words) = answer
            .verdict
            .bias
            .and_then(|b| bias(see.path_difference_nm, b))
    {
        line(&words);
    }
    line("");
    match &answer.quantities[..] {
        [only] => {
            line(&heading(&answer.path, only));
            line(&one(answer, only));
        }
        all => {
            line(&format!(
                "{BOLD}How much each number may be{BOLD:#}, all others as written; strain at its worst azimuth"
            ));
            line(&overview(&answer.path, all));
        }
    }
    if let Some(draws) = &answer.draws {
        line("");
        line(&built(draws));
    }
    line("");
    line(&format!(
        "{BOLD}What will show{BOLD:#} by its own light, at its best azimuth"
    ));
    line(&visibility(&answer.visibility.observers));
    // The first row is the eye's, plates out.
    if let Some(smallest) = answer.visibility.observers.first().and_then(|s| s.smallest)
        && let Some(words) = (smallest.bias).and_then(|b| bias(smallest.path_difference_nm, b))
    {
        line(&words);
    }
    if !brief {
        line("");
        for note in notes {
            line(&format!("Note: {note}"));
        }
        line(
            "Own light is what a specimen adds to the background whichever way it is turned. Bias adds to it at one azimuth and takes as much away at another, so it does not count here.",
        );
        line(
            "In the dark of crossed polars an eye needs a contrast of 10 % and more; in good light it sees 1 or 2 % (`--contrast 0.02`).",
        );
        line(&format!(
            "{} Sizes of specimens are for orientation: `polstack catalog` gives their sources.",
            luminance_error(
                answer.verdict.quadrature_error,
                answer.verdict.spectral_error
            )
        ));
        line(CAUTION);
    }
    text
}

fn target(target: &Target) -> String {
    let see = match target {
        Target::Extinction(least) => {
            return format!("an extinction ratio of {}", digits(*least, 3));
        }
        Target::See(see) => see,
    };
    let needs: Vec<String> = see.criteria().iter().map(needs).collect();
    format!(
        "a specimen of {} nm that shows, plates {}: {}",
        digits(see.path_difference_nm, 3),
        if see.with_plate { "in" } else { "out" },
        needs.join(" and ")
    )
}

/// In how many stands the target is met, as far as the parts are known.
fn target_probability(doubt: &Doubt, wanted: f64) -> String {
    format!(
        "As far as the parts are known, {} is reached with a probability of {}.",
        digits(wanted, 3),
        chance(doubt.probability_of(wanted))
    )
}

fn needs(criterion: &Criterion) -> String {
    match *criterion {
        Criterion::Contrast { least } => format!("contrast {}", fraction(least)),
        Criterion::Color { least } => format!("colour difference {}", digits(least, 2)),
        Criterion::Signal { least, full_well } => format!(
            "signal to noise {} with {} electrons",
            digits(least, 2),
            digits(full_well, 3)
        ),
    }
}

fn verdict(answer: &Tolerances) -> String {
    let verdict = &answer.verdict;
    let has = reached(answer);
    let rescue = match verdict.rescue {
        Rescue::NotNeeded => return format!("As written the target is met: {has}."),
        Rescue::Iris { na, uncertainty } => {
            format!(
                "Closing the iris to NA {} would rescue it, with every part exactly as written.",
                at_most(na, uncertainty)
            )
        }
        Rescue::None => "No iris down to NA 0.02 rescues it.".to_owned(),
    };
    format!(
        "As written the target is missed: {has}.{} {rescue}",
        dominates(verdict.dominates.as_ref())
    )
}

/// What the path as it stands reaches of the target.
fn reached(answer: &Tolerances) -> String {
    let verdict = &answer.verdict;
    let ratio = format!("extinction ratio {}", ratio(verdict.extinction_ratio));
    let Target::See(see) = &answer.target else {
        return ratio;
    };
    if verdict.times.is_infinite() {
        return "nothing leaks".to_owned();
    }
    match see.criteria()[..] {
        [Criterion::Contrast { least }] => format!(
            "its own light adds {} to the background, of an {ratio}",
            contrast(verdict.times * least)
        ),
        [Criterion::Color { least }] => format!(
            "its colour differs from the background's by {} (CIEDE2000)",
            digits(verdict.times * least, 2)
        ),
        _ => format!("{} times what is needed, {ratio}", digits(verdict.times, 2)),
    }
}

/// A Weber contrast: a percentage, or how many times the background.
fn contrast(contrast: f64) -> String {
    if contrast < 10.0 {
        fraction(contrast)
    } else {
        format!("{} times as much", digits(contrast, 3))
    }
}

/// What bias makes of a specimen, in a sentence; `None` where it makes little.
fn bias(path_difference_nm: f64, bias: Bias) -> Option<String> {
    (bias.with_bias - bias.own > LITTLE_BIAS).then(|| {
        let side = |light: f64| if light < 0.0 { "darker" } else { "brighter" };
        let against = |light: f64| format!("{} by {}", side(light), contrast(light.abs()));
        let turned = against(bias.turned);
        if bias.own.abs() < NO_CONTRAST {
            // Along a polar, say: there bias comes from strain on one side of the specimen and light that lenses turn on the other.
            return format!(
                "At one azimuth a specimen shows by bias alone: with its slow direction at {:.0} degrees one of {} nm adds no light of its own, but is {} than the background by {}, turned by 90 degrees it is {turned}.",
                bias.azimuth_rad.to_degrees(),
                digits(path_difference_nm, 3),
                side(bias.with_bias),
                contrast(bias.with_bias.abs()),
            );
        }
        let own = match bias.own {
            own if own < 0.0 => against(own),
            own => contrast(own),
        };
        format!(
            "Bias, which strain at one azimuth makes, changes that: with its slow direction at {:.0} degrees a specimen of {} nm is {} than the background by {} instead of {own}, turned by 90 degrees it is {turned}.",
            bias.azimuth_rad.to_degrees(),
            digits(path_difference_nm, 3),
            side(bias.with_bias),
            contrast(bias.with_bias.abs()),
        )
    })
}

fn dominates(share: Option<&LargestShare>) -> String {
    share.map_or(String::new(), |share| match share.cause {
        Cause::Misalignment => format!(
            " Most of the leak comes from polars that are not crossed ({}): turn one of them first.",
            percent(share.share)
        ),
        _ => format!(
            " Most of the leak comes from {}, {} ({}).",
            share.part,
            share.cause.words(),
            percent(share.share)
        ),
    })
}
