//! What a fit found, in sentences: which part is to blame and how sure that is, what does not go together, what to read next.

use super::numbers::{digits, exponent, supported};
use super::sentences::named_unknown;
use crate::study::fit::{BlameShare, Checklist, Fit, PhotographWorth};
use crate::study::leak::Cause;
use crate::study::strain_between::{StrainBetween, StrainNode, StrainZone};

/// A part is called the one to blame, and a place the best, from this probability on.
pub(crate) const DECIDED: f64 = 0.9;
/// Parts and causes that are less probably the largest are not named.
pub(crate) const HARDLY: f64 = 0.005;
/// Once it is decided which part is to blame, a next reading with less information than this, in nats, is not proposed.
const NOTHING_TO_TELL: f64 = 0.02;

/// Beyond this, in errors of the zones, what is left between photographs and map is more than chance leaves.
pub(crate) const MORE_THAN_CHANCE: f64 = 1.3;

/// A slow azimuth is told and drawn where the path difference is above so many of its errors.
pub(crate) const TELLS: f64 = 2.0;

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
pub fn findings(answer: &Fit) -> Vec<String> {
    let mut all = match answer.consistent {
        true => vec![verdict(answer)],
        false => misfit(answer),
    };
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
    if let Some((low, high)) = surety.differ.filter(contradict)
        && answer.consistent
    {
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

/// A part and what is wrong with it.
pub(crate) fn named_leak(part: &str, cause: Cause) -> String {
    match part {
        "stack" => cause.words().to_owned(),
        part => format!("{part}, {}", cause.words()),
    }
}

/// A probability in percent. Draws do not tell certainty: what rounds to 100 % or to nought is told as a bound.
///
/// Checked by: this file's unit tests.
pub(crate) fn chance(probability: f64) -> String {
    match probability {
        more if more >= 0.995 => "over 99 %".to_owned(),
        less if less < 0.005 => "under 1 %".to_owned(),
        between => format!("{:.0} %", 100.0 * between),
    }
}

/// Which part is to blame, or between which that is not decided.
fn verdict(answer: &Fit) -> String {
    let Some(first) = answer.blame.first() else {
        return "Nothing leaks in these stands.".to_owned();
    };
    // What was held at its written value cannot be found to blame for being otherwise.
    let before = match (answer.readings.is_empty(), answer.freed_only) {
        (true, false) => "Before any reading: ",
        (true, true) => "Before any reading, of the numbers freed: ",
        (false, true) => "Of the numbers freed: ",
        (false, false) => "",
    };
    let surety = Surety::of(answer, &[0]);
    if surety.least >= DECIDED {
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
    format!(
        "{before}Not decided which leak is the largest: {}.",
        among_leaks(&answer.blame)
    )
}

/// The most probable leaks, with their probabilities: `condenser, strain (probability 53 %), or objective, strain (40 %)`.
pub(crate) fn among_leaks(blame: &[BlameShare]) -> String {
    let mut sum = 0.0;
    let among = (blame.iter())
        .take_while(|blame| {
            let more = sum < DECIDED && blame.largest >= HARDLY;
            sum += blame.largest;
            more
        })
        .take(4)
        .map(|blame| (named_leak(&blame.part, blame.cause), blame.largest));
    odds(among)
}

/// What may be, with how probable each is: `A (probability 53 %), or B (40 %)`.
pub(crate) fn odds(among: impl Iterator<Item = (String, f64)>) -> String {
    let named = (among.enumerate())
        .map(|(number, (name, value))| format!("{name} ({})", probability(number, value)));
    named.collect::<Vec<_>>().join(", or ")
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
    if let Some(fault) = &answer.fault {
        all.push(fault.clone());
        return all;
    }
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

/// Whether it is decided which leak is the largest, and no further reading would tell much more of it.
pub(crate) fn nothing_to_tell(answer: &Fit) -> bool {
    let decided = !answer.blame.is_empty() && Surety::of(answer, &[0]).least >= DECIDED;
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
        let degrees = most.found.slow_azimuth_rad.to_degrees();
        let slow = match strain(&most) < TELLS * most.found.error_nm {
            true => ", too little beside its error to tell the slow axis".to_owned(),
            false => format!(", slow axis at {degrees:.0} degrees"),
        };
        all.push(format!(
            "The path difference is {} nm root mean square over the disc, with an error of {} nm. It is largest in the zone at {:.2} of the radius, {:.0} degrees counter-clockwise from East: {} nm{slow}.",
            told(rms(&|node| node.path_difference_nm)),
            digits(error, 1),
            x.hypot(y),
            y.atan2(x).to_degrees().rem_euclid(360.0),
            told(strain(&most)),
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
        all.push("The photographs do not tell this strain from others that look alike, such as the one with slow and fast axes exchanged: this is the one nearest to the fitted parts. A picture with a plate in tells slow from fast, where the pictures go together with the model.".to_owned());
    }
    for left in &map.left_out {
        all.push(format!(
            "Line {} is left out of the map: {}.",
            left.line, left.why
        ));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::draws::Plan;
    use crate::study::fit::Interval;

    /// An answer of which populations say how probably the condenser's strain is the largest leak.
    fn answer(populations: &[f64], independent_draws: usize) -> Fit {
        let interval = Interval {
            low: 0.0,
            median: 0.5,
            high: 1.0,
        };
        let mean = populations.iter().sum::<f64>() / populations.len() as f64;
        let share = |part: &str, largest: f64| BlameShare {
            part: part.to_owned(),
            cause: Cause::Strain,
            share: interval,
            largest,
        };
        Fit {
            plan: Plan { draws: 1, seed: 1 },
            log_evidence: 0.0,
            consistent: true,
            p_value: 1.0,
            surface_error: 0.0,
            moves_per_draw: 12.0,
            independent_draws,
            extinction_ratio: interval,
            unknown: Vec::new(),
            readings: Vec::new(),
            blame: vec![share("condenser", mean), share("objective", 1.0 - mean)],
            blame_by_part: Vec::new(),
            blame_by_population: populations.iter().map(|p| vec![*p, 1.0 - p]).collect(),
            ambiguous: Vec::new(),
            next: Vec::new(),
            stands: Vec::new(),
            freed_only: false,
            fault: None,
        }
    }

    #[test]
    fn certainty_is_told_as_a_bound() {
        for (probability, words) in [
            (1.0, "over 99 %"),
            (0.996, "over 99 %"),
            (0.994, "99 %"),
            (0.5, "50 %"),
            (0.006, "1 %"),
            (0.004, "under 1 %"),
            (0.0, "under 1 %"),
        ] {
            assert_eq!(chance(probability), words, "{probability}");
        }
    }

    #[test]
    fn what_was_freed_alone_is_named_so() {
        let answer = Fit {
            freed_only: true,
            ..answer(&[1.0; 4], 900)
        };
        let words = "Before any reading, of the numbers freed: condenser, strain is the largest leak: over 99 % sure.";
        assert_eq!(findings(&answer)[0], words);
    }

    #[test]
    fn nothing_is_surer_than_independent_populations_permit() {
        for (populations, draws, words) in [
            (
                [0.97, 0.95, 0.96, 0.96],
                900,
                &["Before any reading: condenser, strain is the largest leak: 96 % sure."][..],
            ),
            (
                [1.0, 1.0, 1.0, 1.0],
                19,
                &[
                    "Before any reading: condenser, strain is the largest leak: 95 % sure.",
                    "The answer rests on about 19 independent draws: draw more stands, and see whether it stays.",
                ],
            ),
            (
                [0.99, 0.92, 0.98, 0.99],
                900,
                &[
                    "Before any reading: condenser, strain is the largest leak: at least 92 % sure (stands that were drawn independently say 92 % to 99 %).",
                ],
            ),
            (
                [0.99, 0.80, 0.98, 0.99],
                900,
                &[
                    "Before any reading: Not decided whether condenser, strain is the largest leak: stands that were drawn independently do not agree, 80 % to 99 %; draw more of them.",
                ],
            ),
            (
                [0.91, 0.50, 0.88, 0.71],
                900,
                &[
                    "Before any reading: Not decided which leak is the largest: condenser, strain (probability 75 %), or objective, strain (25 %).",
                    "Stands that were drawn independently do not agree: 50 % to 91 % for condenser, strain; draw more of them.",
                ],
            ),
        ] {
            assert_eq!(findings(&answer(&populations, draws)), words);
        }
    }
}
