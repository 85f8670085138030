//! Parts, places and stands with how probable each is, in words.

use crate::study::fit::BlameShare;
use crate::study::leak::Cause;

/// A part is called the one to blame, and a place the best, from this probability on.
pub(crate) const DECIDED: f64 = 0.9;
/// Parts and causes that are less probably the largest are not named.
pub(crate) const HARDLY: f64 = 0.005;

/// A part and what is wrong with it.
pub(crate) fn named_leak(part: &str, cause: Cause) -> String {
    match part {
        "stack" => cause.words().to_owned(),
        part => format!("{part}, {}", cause.words()),
    }
}

/// A probability in percent. Draws do not tell certainty: what rounds to 100 % or to nought is told as a bound, and so is what rounds to [`DECIDED`] but lies below it.
///
/// Checked by: this file's unit tests.
pub(crate) fn chance(probability: f64) -> String {
    match probability {
        more if more >= 0.995 => "over 99 %".to_owned(),
        less if less < 0.005 => "under 1 %".to_owned(),
        almost if (DECIDED - 0.005..DECIDED).contains(&almost) => "just under 90 %".to_owned(),
        between => format!("{:.0} %", 100.0 * between),
    }
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
pub(super) fn probability(number: usize, value: f64) -> String {
    match number {
        0 => format!("probability {}", chance(value)),
        _ => chance(value),
    }
}
