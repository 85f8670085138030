//! What a fit found, in sentences: which part is to blame and how sure that is, what does not go together, what to read next.

mod map;
mod misfit;
mod odds;

use serde::Serialize;

pub use map::map_findings;
#[cfg_attr(
    not(feature = "cli"),
    allow(unused_imports, reason = "tables and figures take them")
)]
pub(crate) use map::{FAR_LESS, MORE_THAN_CHANCE, TELLS};
#[cfg_attr(
    not(feature = "cli"),
    allow(unused_imports, reason = "tables and figures take them")
)]
pub(crate) use odds::{DECIDED, HARDLY, among_leaks, chance, named_leak, odds};

use super::sentences::named_unknown;
use super::words::uncapital;
use crate::study::fit::{BlameShare, Checklist, Fit, PhotographWorth};
use crate::study::strain_between::StrainBetween;
use odds::probability;

/// A fit as it is told: what holds of it, and what whoever asked for it knows besides.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FitReport {
    /// The fit, [`Fit::as_far_as_it_holds`].
    #[serde(flatten)]
    pub answer: Fit,
    /// Whether some unknown numbers alone were freed, all others being held at their written values.
    pub freed_only: bool,
    /// What was found to be wrong with the readings, in sentences.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fault: Option<String>,
    /// The strain between the polars, where it was mapped.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub map: Option<StrainBetween>,
}

impl FitReport {
    /// A fit of which nothing else is known.
    #[must_use]
    pub fn new(answer: Fit) -> Self {
        Self {
            answer: answer.as_far_as_it_holds(),
            freed_only: false,
            fault: None,
            map: None,
        }
    }
}

/// Once it is decided which part is to blame, a next reading with less information than this, in nats, is not proposed.
const NOTHING_TO_TELL: f64 = 0.02;

/// Draws that moved less often than this, on average, are not to be relied on.
const FEWEST_MOVES: f64 = 1.0;

/// Fewer independent draws than this limit the answer; the study tells them on the low side.
const FEW_DRAWS: usize = 100;

/// Populations that differ by no more than this agree: so much they differ by chance. Where they differ by more than the second, that is told even where
/// none of them is sure.
const AGREE: f64 = 0.06;
const APART: f64 = 0.15;

/// How sure it is that the largest leak is one of several.
struct Surety {
    /// Probability, no surer than the populations permit.
    least: f64,
    /// What the populations say, the lowest and the highest, where they do not agree.
    differ: Option<(f64, f64)>,
}

impl Surety {
    /// Of places in [`Fit::blame`].
    fn of(answer: &Fit, places: &[usize]) -> Self {
        let sum = |row: &dyn Fn(usize) -> f64| places.iter().map(|place| row(*place)).sum::<f64>();
        let mean = sum(&|place| answer.blame[place].largest);
        // So many draws that all agree do not tell of one more what the next would be.
        let most = 1.0 - 1.0 / (answer.independent_draws as f64 + 1.0);
        let each = (answer.blame_by_population.iter()).map(|row| sum(&|place| row[place]));
        let (low, high) = each.fold((1.0f64, 0.0f64), |(low, high), p| (low.min(p), high.max(p)));
        let differ = (high - low > AGREE).then_some((low, high));
        Self {
            least: differ.map_or(mean, |(low, _)| low).min(most),
            differ,
        }
    }

    fn words(&self) -> String {
        match self.differ {
            None => format!("{} sure", chance(self.least)),
            Some((low, high)) => format!(
                "at least {} sure (stands that were drawn independently say {} to {})",
                chance(self.least),
                chance(low),
                chance(high)
            ),
        }
    }
}

/// The findings, most important first.
#[must_use]
pub fn findings(report: &FitReport) -> Vec<String> {
    let answer = &report.answer;
    if !answer.consistent {
        return misfit::misfit(report);
    }
    let mut all: Vec<String> = report.fault.clone().into_iter().collect();
    all.push(verdict(report));
    if answer.moves_per_draw < FEWEST_MOVES {
        all.push("The draws hardly found other stands that explain the readings as well: take more of them, and see whether the answer stays.".to_owned());
    }
    all.extend(limits(answer));
    all.extend(next(answer));
    all
}

/// What keeps the answer from being surer than it is, where that is the number of stands.
fn limits(answer: &Fit) -> Option<String> {
    let first = answer.blame.first()?;
    let surety = Surety::of(answer, &[0]);
    let contradict = |(low, high): &(f64, f64)| {
        first.largest < DECIDED && (*high >= DECIDED || high - low > APART)
    };
    if let Some((low, high)) = surety.differ.filter(contradict) {
        return Some(format!(
            "Stands that were drawn independently do not agree: {} to {} for {}; draw more of them.",
            chance(low),
            chance(high),
            named_leak(&first.part, first.cause)
        ));
    }
    (answer.independent_draws < FEW_DRAWS).then(|| {
        format!(
            "The answer rests on about {} independent draws: draw more stands, and see whether it stays.",
            answer.independent_draws
        )
    })
}

/// How a sentence begins that says what is known before any reading. What was held at its written value cannot be found to blame for being otherwise.
pub(crate) fn before_any_reading(freed_only: bool) -> &'static str {
    match freed_only {
        false => "Before any reading: ",
        true => "Before any reading, of the numbers freed: ",
    }
}

/// Which part is to blame, or between which that is not decided.
fn verdict(report: &FitReport) -> String {
    let answer = &report.answer;
    let Some(first) = answer.blame.first() else {
        return "Nothing leaks in these stands.".to_owned();
    };
    let before = match (answer.readings.is_empty(), report.freed_only) {
        (true, freed_only) => before_any_reading(freed_only),
        (false, true) => "Of the numbers freed: ",
        (false, false) => "",
    };
    let surety = Surety::of(answer, &[0]);
    if is_decided(answer, 0) {
        return format!(
            "{before}{} is the largest leak: {}.",
            named_leak(&first.part, first.cause),
            surety.words()
        );
    }
    if let Some((low, high)) = surety.differ.filter(|_| first.largest >= DECIDED) {
        return format!(
            "{before}Not decided whether {} is the largest leak: stands that were drawn independently do not agree, {} to {}; draw more of them.",
            named_leak(&first.part, first.cause),
            chance(low),
            chance(high)
        );
    }
    if let Some(words) = one_part(answer) {
        return format!("{before}{words}");
    }
    if first.largest >= DECIDED {
        return format!(
            "{before}Not decided whether {} is the largest leak: about {} independent draws are too few to tell; draw more stands.",
            named_leak(&first.part, first.cause),
            answer.independent_draws
        );
    }
    format!(
        "{before}Not decided which leak is the largest: {}.",
        among_leaks(&answer.blame)
    )
}

/// A part of which it is sure that it is to blame, though not what about it.
fn one_part(answer: &Fit) -> Option<String> {
    let part = &answer.blame.first()?.part;
    let places: Vec<usize> = (0..answer.blame.len())
        .filter(|&at| answer.blame[at].part == *part && answer.blame[at].largest >= HARDLY)
        .collect();
    let own: Vec<&BlameShare> = places.iter().map(|&at| &answer.blame[at]).collect();
    let surety = Surety::of(answer, &places);
    let causes: Vec<String> = (own.iter().enumerate())
        .map(|(number, blame)| {
            let probability = probability(number, blame.largest);
            format!("{} ({probability})", blame.cause.words())
        })
        .collect();
    // One cause alone has been told already, or is not sure enough.
    (surety.least >= DECIDED && own.len() > 1 && part != "stack").then(|| {
        format!(
            "The largest leak is one of {part}: {}. Not decided which: {}.",
            surety.words(),
            causes.join(", or ")
        )
    })
}

/// What readings do not tell apart, in sentences.
#[must_use]
pub fn ambiguities(answer: &Fit) -> Vec<String> {
    (answer.ambiguous.iter())
        .map(|pair| {
            (
                pair,
                pair.names
                    .iter()
                    .map(|name| named_unknown(name))
                    .collect::<Vec<_>>(),
            )
        })
        .map(|(pair, names)| match &names[..] {
            [one, other] => format!(
                "{one} and {other} are {}: one stands in for the other (correlation {:.2}){}.",
                match pair.names.iter().all(|name| told(answer, name)) {
                    true => "known better together than each for itself",
                    false => "not told apart",
                },
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

/// Whether the readings tell a number by itself.
fn told(answer: &Fit, name: &str) -> bool {
    (answer.unknown.iter()).any(|unknown| unknown.told_as.name == name && unknown.told)
}

fn groups(modes: usize) -> String {
    format!(
        "the stands that explain the readings lie in {modes} separate groups, and hardly any between them"
    )
}

/// Whether it is decided that the leak at a place of [`Fit::blame`] is the largest.
pub(crate) fn is_decided(answer: &Fit, place: usize) -> bool {
    Surety::of(answer, &[place]).least >= DECIDED
}

/// Whether it is decided which leak is the largest, and no further reading would tell much more of it.
pub(crate) fn nothing_to_tell(answer: &Fit) -> bool {
    let decided = !answer.blame.is_empty() && is_decided(answer, 0);
    decided && (answer.next.first()).is_some_and(|best| best.gain_nats < NOTHING_TO_TELL)
}

fn next(answer: &Fit) -> Option<String> {
    let best = answer.next.first()?;
    Some(if nothing_to_tell(answer) {
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

#[cfg(test)]
pub(crate) mod tests;
