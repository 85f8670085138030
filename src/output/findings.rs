//! What a fit found, in sentences: which part is to blame and how sure that is, what does not go together, what to read next.

use super::numbers::{digits, exponent, supported};
use super::sentences::named_unknown;
use crate::study::fit::{BlameShare, Checklist, Fit, PhotographWorth};
use crate::study::leak::Cause;
use crate::study::strain_between::{StrainBetween, StrainNode, StrainZone};

/// A part is called the one to blame from this probability on.
const DECIDED: f64 = 0.9;
/// Parts and causes that are less probably the largest are not named.
pub(crate) const HARDLY: f64 = 0.005;
/// Once it is decided which part is to blame, a next reading with less information than this, in nats, is not proposed.
const NOTHING_TO_TELL: f64 = 0.02;

/// Beyond this, in errors of the zones, what is left between photographs and map is more than chance leaves.
const MORE_THAN_CHANCE: f64 = 1.3;

/// Draws that moved less often than this, on average, are not to be relied on.
const FEWEST_MOVES: f64 = 1.0;

/// The findings, most important first.
#[must_use]
pub fn findings(answer: &Fit) -> Vec<String> {
    let mut all = match answer.consistent {
        true => vec![verdict(answer)],
        false => misfit(answer),
    };
    if answer.moves_per_draw < FEWEST_MOVES {
        all.push("The draws hardly found other stands that explain the readings as well: take more of them, and see whether the answer stays.".to_owned());
    }
    all.extend(next(answer));
    all
}

/// A part and what is wrong with it.
pub(crate) fn named_leak(part: &str, cause: Cause) -> String {
    match part {
        "stack" => cause.words().to_owned(),
        part => format!("{part}, {}", cause.words()),
    }
}

pub(crate) fn chance(probability: f64) -> String {
    format!("{:.0} %", 100.0 * probability)
}

/// Which part is to blame, or between which that is not decided.
fn verdict(answer: &Fit) -> String {
    let Some(first) = answer.blame.first() else {
        return "Nothing leaks in these stands.".to_owned();
    };
    let before = if answer.readings.is_empty() {
        "Before any reading: "
    } else {
        ""
    };
    if first.largest >= DECIDED {
        return format!(
            "{before}{} is the largest leak: {} sure.",
            named_leak(&first.part, first.cause),
            chance(first.largest)
        );
    }
    if let Some(words) = one_part(answer) {
        return format!("{before}{words}");
    }
    format!(
        "{before}Not decided which leak is the largest: {}.",
        among_leaks(&answer.blame)
    )
}

/// The most probable leaks, with their probabilities: `condenser, strain (probability 53 %), or objective, strain (40 %)`.
pub(crate) fn among_leaks(blame: &[BlameShare]) -> String {
    let mut sum = 0.0;
    let among: Vec<String> = (blame.iter())
        .take_while(|blame| {
            let more = sum < DECIDED && blame.largest >= HARDLY;
            sum += blame.largest;
            more
        })
        .take(4)
        .enumerate()
        .map(|(number, blame)| {
            format!(
                "{} ({})",
                named_leak(&blame.part, blame.cause),
                probability(number, blame.largest)
            )
        })
        .collect();
    among.join(", or ")
}

/// A probability in a row of several: the first says what it is.
fn probability(number: usize, value: f64) -> String {
    match number {
        0 => format!("probability {}", chance(value)),
        _ => chance(value),
    }
}

/// A part of which it is sure that it is to blame, though not what about it.
fn one_part(answer: &Fit) -> Option<String> {
    let part = &answer.blame.first()?.part;
    let own: Vec<&BlameShare> = (answer.blame.iter())
        .filter(|blame| blame.part == *part && blame.largest >= HARDLY)
        .collect();
    let sum: f64 = own.iter().map(|blame| blame.largest).sum();
    let causes: Vec<String> = (own.iter().enumerate())
        .map(|(number, blame)| {
            let probability = probability(number, blame.largest);
            format!("{} ({probability})", blame.cause.words())
        })
        .collect();
    (sum >= DECIDED && part != "stack").then(|| {
        format!(
            "The largest leak is one of {part}: {} sure. Not decided which: {}.",
            chance(sum),
            causes.join(", or ")
        )
    })
}

/// Below this a p-value is told as being smaller.
const LEAST_P: f64 = 1e-300;

/// What readings and model do not agree on. Which part is to blame is then left open: the stands of the sample show other light than was read.
fn misfit(answer: &Fit) -> Vec<String> {
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
    if let Some(spoiled) = answer.readings.iter().find(|reading| reading.spoiled) {
        all.push(match spoiled.photograph {
            false => format!(
                "Without the reading of line {} ({}) the others go together best: read it again, and look how the stand was set.",
                spoiled.line,
                digits(spoiled.measured, 3),
            ),
            true => format!(
                "Without the photograph of line {} the others go together best: take it again, and look how the stand was set.",
                spoiled.line,
            ),
        });
    }
    if answer.readings.iter().any(|reading| reading.photograph) {
        all.push(PHOTOGRAPHS_FIRST.to_owned());
    }
    all
}

/// What is wrong most often with photographs that no stand explains. Common practice, no source.
const PHOTOGRAPHS_FIRST: &str = "Look at the photographs first: are exposure_s and exposure_parallel_s in the right columns, and was the exposure fixed; do the pictures lie as --turn-picture and --flip say; are they linear, without the curve of a JPEG; does the disc that the notes tell, or center_x, center_y and radius, lie on the bright disc? The figure `residuals` (--plots DIR) shows each zone.";

/// What readings do not tell apart, in sentences.
#[must_use]
pub fn ambiguities(answer: &Fit) -> Vec<String> {
    (answer.ambiguous.iter())
        .map(|pair| (pair, pair.names.iter().map(|name| named_unknown(name)).collect::<Vec<_>>()))
        .map(|(pair, names)| match &names[..] {
            [one, other] => format!(
                "{one} and {other} are not told apart: one stands in for the other (correlation {:.2}){}.",
                pair.correlation,
                match pair.modes {
                    0 | 1 => String::new(),
                    modes => format!("; {}", groups(modes)),
                }
            ),
            names => format!("{}: {}.", names.join(", "), groups(pair.modes)),
        })
        .collect()
}

fn groups(modes: usize) -> String {
    format!(
        "the stands that explain the readings lie in {modes} separate groups, and hardly any between them"
    )
}

/// Whether it is decided which leak is the largest, and no further reading would tell much more of it.
pub(crate) fn nothing_to_tell(answer: &Fit) -> bool {
    let decided = (answer.blame.first()).is_some_and(|first| first.largest >= DECIDED);
    decided && (answer.next.first()).is_some_and(|best| best.gain_nats < NOTHING_TO_TELL)
}

fn next(answer: &Fit) -> Option<String> {
    let best = answer.next.first()?;
    Some(if !answer.consistent {
        "Clear that up first. Where all readings are right, the stand is another than the file says: compare its parts, its iris and where its polars are."
            .to_owned()
    } else if nothing_to_tell(answer) {
        "No further reading would tell much more of which part is to blame.".to_owned()
    } else {
        format!("Next reading: {}.", uncapital(&best.words))
    })
}

/// What to mind when photographs of the back focal plane are taken.
pub(crate) const PHOTOGRAPH_RULES: &str = "Photographs: eyepiece out, camera fixed over the tube, everything automatic off. For each line take one picture as the line says and one with the polars parallel (analyzer turned to the lower polar's azimuth, no plate), and write down both exposures. Dim the lamp before polars are uncrossed, and leave it so for both; nothing moves between the two but the polars.";

/// Whether a checklist asks for photographs.
pub(crate) fn takes_photographs(list: &Checklist) -> bool {
    list.steps.iter().any(|step| step.worth.is_some())
}

/// How much a photograph tells, in meter readings.
pub(crate) fn worth_words(worth: PhotographWorth) -> String {
    match (worth.readings, worth.more) {
        (0, _) => "more than any meter reading".to_owned(),
        (1, false) => "as much as 1 meter reading".to_owned(),
        (1, true) => "more than the 1 meter reading that tells anything".to_owned(),
        (readings, false) => format!("as much as {readings} meter readings"),
        (readings, true) => format!("more than {readings} meter readings"),
    }
}

fn uncapital(words: &str) -> String {
    let mut letters = words.chars();
    match letters.next() {
        Some(first) => first.to_lowercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// What a map of the strain between the polars says, in sentences.
#[must_use]
pub fn map_findings(map: &StrainBetween) -> Vec<String> {
    let count = map.zones.len().max(1) as f64;
    let rms = |of: &dyn Fn(&StrainNode) -> f64| {
        let squares = map.zones.iter().map(|zone| of(&zone.found).powi(2));
        (squares.sum::<f64>() / count).sqrt()
    };
    let error = rms(&|node| node.error_nm);
    // The last decimal is that of the error's first digit.
    let told = |nm: f64| supported(nm, nm - 5.0 * error, nm + 5.0 * error);
    let mut all = Vec::new();
    let strain = |zone: &&StrainZone| zone.found.path_difference_nm;
    if let Some(most) = (map.zones.iter()).max_by(|a, b| strain(a).total_cmp(&strain(b))) {
        let (x, y) = (most.found.x / map.reach, most.found.y / map.reach);
        all.push(format!(
            "The path difference is {} nm root mean square over the disc, with an error of {} nm. It is largest in the zone at {:.2} of the radius, {:.0} degrees counter-clockwise from East: {} nm, slow axis at {:.0} degrees.",
            told(rms(&|node| node.path_difference_nm)),
            digits(error, 1),
            x.hypot(y),
            y.atan2(x).to_degrees().rem_euclid(360.0),
            told(strain(&most)),
            most.found.slow_azimuth_rad.to_degrees(),
        ));
    }
    let left = map.misfit.max(0.0).sqrt();
    all.push(format!(
        "With the map in it, the model is off from the photographs by {} of the zones' errors, root mean square{}",
        digits(left, 2),
        match left > MORE_THAN_CHANCE {
            false => ".",
            true => ": more than chance would have it. The strain changes faster over the disc than the map can follow, or a picture is off; the figure `residuals` shows where.",
        }
    ));
    all.push(format!(
        "The map stands for all lenses between the polars together, whichever of them is strained: in a scenario {} carries it, the last of them, and the others have no strain.",
        map.lens
    ));
    if !map.settled {
        all.push("The photographs do not tell this strain from others that look alike, such as the one with slow and fast axes exchanged: this is the one nearest to the fitted parts. A picture with a plate in would tell slow from fast.".to_owned());
    }
    for left in &map.left_out {
        all.push(format!(
            "Line {} is left out of the map: {}.",
            left.line, left.why
        ));
    }
    all
}
