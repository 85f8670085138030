//! Which place is best as far as the parts are known, and what an answer takes for granted.

use super::ratio;
use crate::order::sort_by_number;
use crate::output::findings::{DECIDED, HARDLY as HARDLY_EVER, chance, odds};
use crate::output::numbers::{digits, supported};
use crate::output::sentences::unknown_in_words;
use crate::output::words::{place, uncapital};
use crate::study::doubt::median_leads;
use crate::study::interval::Interval;
use crate::study::place::{PlaceAnswer, Placement};

/// The most probably best place and its probability, where what is known of it is not what the numbers as written say: another is best, or none is decided.
fn otherwise_known(answer: &Placement) -> Option<(usize, f64)> {
    let verdict = &answer.verdict;
    (answer.probably_best()).filter(|(first, most)| {
        verdict.no_best.is_none() && (*first != verdict.best || *most < DECIDED)
    })
}

/// What is known then, in sentences.
pub(super) fn as_far_as_known(answer: &Placement) -> Option<Vec<String>> {
    let verdict = &answer.verdict;
    let (first, most) = otherwise_known(answer)?;
    let ratio_at = |index: usize| {
        let at = answer.own(&answer.lower[index]);
        ratio(at.and_then(|at| at.extinction_ratio))
    };
    let named = |index: usize| place(&answer.lower[index]);
    let mut places: Vec<(usize, f64)> = (answer.lower.iter().enumerate())
        .filter_map(|(index, place)| Some((index, place.known.as_ref()?.best_probability)))
        .filter(|(_, probability)| *probability >= HARDLY_EVER)
        .collect();
    sort_by_number(&mut places, |place| -place.1);
    let first_line = if most >= DECIDED {
        let verb = match answer.lower[first].placed.written {
            true => "Leave",
            false => "Put",
        };
        format!(
            "{verb} the lower polar {}: as far as the parts are known, it is the darkest place, {} sure.",
            named(first),
            chance(most)
        )
    } else {
        let among = places.iter().map(|(index, most)| (named(*index), *most));
        format!(
            "Not decided which place of the lower polar is best: {}.",
            odds(among)
        )
    };
    // The place that is best as written stands first, the most probable other second.
    let other = (places.iter().map(|(index, _)| *index)).find(|index| *index != verdict.best);
    let against = other.map_or(String::new(), |other| {
        format!(", against {} {}", ratio_at(other), named(other))
    });
    let mut sentences = vec![
        first_line,
        format!(
            "Exactly as written, {} is the darkest: extinction ratio {}{against} (NA {}).",
            named(verdict.best),
            ratio_at(verdict.best),
            digits(answer.na, 3)
        ),
    ];
    if most < DECIDED {
        let knowing = answer.hangs_on.as_deref().map_or(String::new(), |name| {
            format!(
                " Of the numbers that are not known it hangs most on {}.",
                unknown_in_words(name)
            )
        });
        sentences.push(format!(
            "To decide, read parallel over crossed light with the lower polar in each of these places; or let polstack fit tell the parts from readings, and ask again with the scenario that it writes.{knowing}"
        ));
    }
    Some(sentences)
}

/// The headline, with what it takes for granted where a map is the strain of several lenses together.
pub(super) fn as_if_summed(answer: &Placement, headline: &str) -> String {
    match &answer.summed_in {
        Some(lens) => format!(
            "Not decided which place of the lower polar is best: the map in {lens} is the strain of all lenses between the polars together, and it hangs on which of them has it. Ask with the scenario that polstack fit --write writes. With all of it in {lens}: {}.",
            uncapital(headline)
        ),
        None => format!("{headline}."),
    }
}

/// What is known of the ratios of places, where it leads: where of any place of the answer the number as written lies off the middle.
fn medians(answer: &Placement, places: &[&PlaceAnswer]) -> Option<Vec<Interval>> {
    let leads = (answer.lower.iter().flat_map(|place| &place.known))
        .any(|known| median_leads(known.below_as_written));
    let ratios = (places.iter()).map(|place| place.known.as_ref()?.extinction_ratio);
    leads.then(|| ratios.collect())?
}

/// The extinction ratios of places that an answer compares: as written, or the medians with those as written behind.
pub(super) fn compared<const N: usize>(
    answer: &Placement,
    places: [&PlaceAnswer; N],
) -> [String; N] {
    let medians = medians(answer, &places);
    std::array::from_fn(|k| {
        let written = ratio(answer.own(places[k]).and_then(|at| at.extinction_ratio));
        match medians.as_ref().map(|medians| medians[k]) {
            Some(known) => format!(
                "{} ({written} exactly as written)",
                supported(known.median, known.low, known.high)
            ),
            None => written,
        }
    })
}

/// From the least to the most of some places' extinction ratios.
pub(super) fn least_to_most(answer: &Placement, places: &[&PlaceAnswer]) -> String {
    let range = |ratios: Vec<f64>| {
        let least = ratios.iter().copied().fold(f64::INFINITY, f64::min);
        match ratios.iter().copied().fold(0.0, f64::max) {
            0.0 => ratio(None),
            most => format!("{} to {}", digits(least, 3), digits(most, 3)),
        }
    };
    let at = |place: &&PlaceAnswer| answer.own(place)?.extinction_ratio;
    let written = range(places.iter().filter_map(at).collect());
    match medians(answer, places) {
        Some(known) => {
            let medians = known.iter().map(|known| known.median);
            format!(
                "{} ({written} exactly as written)",
                range(medians.collect())
            )
        }
        None => written,
    }
}

/// The extinction ratio of a place as far as the parts are known.
pub(super) fn known_range(place: &PlaceAnswer) -> Option<String> {
    let known = place.known.as_ref()?.extinction_ratio?;
    let of = |value: f64| supported(value, known.low, known.high);
    Some(format!("{} to {}", of(known.low), of(known.high)))
}

/// What an answer takes for granted that holds for the numbers as written, where that is not what is known.
pub(super) fn granted(answer: &Placement) -> Option<String> {
    match &answer.summed_in {
        Some(lens) => Some(format!("with all of that strain in {lens}")),
        None => otherwise_known(answer).map(|_| "with every part exactly as written".to_owned()),
    }
}

/// The same, to be added to a heading; nothing where nothing is taken for granted.
pub(super) fn if_granted(answer: &Placement) -> String {
    granted(answer).map_or_else(String::new, |granted| format!(", {granted}"))
}

/// How probable it is that the best place is the best, as far as the parts are known, and which other may be.
pub(super) fn best_probability(answer: &Placement) -> Option<String> {
    if answer.verdict.no_best.is_some() || otherwise_known(answer).is_some() {
        return None;
    }
    let best = &answer.lower[answer.verdict.best];
    let probability = best.known.as_ref()?.best_probability;
    let others: Vec<String> = (answer.lower.iter().enumerate())
        .filter(|(index, _)| *index != answer.verdict.best)
        .filter_map(|(_, other)| {
            let probability = other.known.as_ref()?.best_probability;
            if probability < HARDLY_EVER {
                return None;
            }
            Some(format!("{} {}", place(other), chance(probability)))
        })
        .collect();
    let others = match others.is_empty() {
        true => String::new(),
        false => format!("; {}", others.join(", ")),
    };
    Some(format!(
        "As far as the parts are known, {} is the darkest with a probability of {}{others}.",
        place(best),
        chance(probability)
    ))
}
