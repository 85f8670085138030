//! Which place is best as far as the parts are known, and what an answer takes for granted.

use super::ratio;
use super::ratios::Ratios;
use crate::order::sort_by_number;
use crate::output::findings::{DECIDED, HARDLY as HARDLY_EVER, chance, odds};
use crate::output::numbers::digits;
use crate::output::sentences::unknown_in_words;
use crate::output::words::{place, uncapital};
use crate::study::place::{BestPlace, NoBest, PlaceAnswer, PlaceOdds, Placement};

/// The most probably best place of a contest and its probability, where what is known of it is not what the numbers as written say: another is best, or none
/// is decided.
fn otherwise_known(answer: &Placement, contest: &BestPlace) -> Option<(usize, f64)> {
    let first = contest.odds.as_ref().and_then(PlaceOdds::first);
    first.filter(|(first, most)| {
        !hardly_matters(answer, contest) && (*first != contest.best || *most < DECIDED)
    })
}

/// Whether no place is worth a move: the polars are not crossed, or all ratios that the answer leads with are alike.
pub(super) fn hardly_matters(answer: &Placement, contest: &BestPlace) -> bool {
    match contest.no_best {
        Some(NoBest::NotCrossed) => true,
        Some(NoBest::AllAlike) => Ratios::of(answer, &rivals(answer, contest)).are_alike(),
        None => false,
    }
}

/// The places that are compared.
pub(super) fn rivals<'a>(answer: &'a Placement, contest: &BestPlace) -> Vec<&'a PlaceAnswer> {
    (contest.rivals.iter())
        .map(|index| &answer.lower[*index])
        .collect()
}

/// Places of a contest that may be the best, the most probable first.
fn candidates(contest: &BestPlace) -> Vec<(usize, f64)> {
    let odds = contest.odds.iter().flat_map(|odds| &odds.best_probability);
    let mut places: Vec<(usize, f64)> = odds
        .copied()
        .filter(|place| place.1 >= HARDLY_EVER)
        .collect();
    sort_by_number(&mut places, |place| -place.1);
    places
}

/// Whether another answer is due where no oil can be used: the best place, or one that may be it, needs oil.
pub(super) fn may_need_oil(answer: &Placement, dry: &BestPlace) -> bool {
    let contest = &answer.verdict;
    let needs = |place: &usize| !dry.rivals.contains(place);
    needs(&contest.best) || candidates(contest).iter().any(|(place, _)| needs(place))
}

/// What is known then, in sentences.
pub(super) fn as_far_as_known(answer: &Placement, contest: &BestPlace) -> Option<Vec<String>> {
    let (first, most) = otherwise_known(answer, contest)?;
    let ratio_at = |index: usize| {
        let at = answer.own(&answer.lower[index]);
        ratio(at.and_then(|at| at.extinction_ratio))
    };
    let named = |index: usize| place(&answer.lower[index]);
    let places = candidates(contest);
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
    let other = (places.iter().map(|(index, _)| *index)).find(|index| *index != contest.best);
    let against = other.map_or(String::new(), |other| {
        format!(", against {} {}", ratio_at(other), named(other))
    });
    let mut sentences = vec![
        first_line,
        format!(
            "Exactly as written, {} is the darkest: extinction ratio {}{against} (NA {}).",
            named(contest.best),
            ratio_at(contest.best),
            digits(answer.na, 3)
        ),
    ];
    if most < DECIDED {
        let hangs_on = contest
            .odds
            .as_ref()
            .and_then(|odds| odds.hangs_on.as_deref());
        let knowing = hangs_on.map_or(String::new(), |name| {
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

/// What an answer takes for granted that holds for the numbers as written, where that is not what is known.
pub(super) fn granted(answer: &Placement) -> Option<String> {
    match &answer.summed_in {
        Some(lens) => Some(format!("with all of that strain in {lens}")),
        None => otherwise_known(answer, &answer.verdict)
            .map(|_| "with every part exactly as written".to_owned()),
    }
}

/// The same, to be added to a heading; nothing where nothing is taken for granted.
pub(super) fn if_granted(answer: &Placement) -> String {
    granted(answer).map_or_else(String::new, |granted| format!(", {granted}"))
}

/// How probable it is that the best place is the best, as far as the parts are known, and which other may be.
pub(super) fn best_probability(answer: &Placement, contest: &BestPlace) -> Option<String> {
    if hardly_matters(answer, contest) || otherwise_known(answer, contest).is_some() {
        return None;
    }
    let places = candidates(contest);
    let (best, probability) = *places.first()?;
    let others: Vec<String> = (places[1..].iter())
        .map(|(index, probability)| {
            format!("{} {}", place(&answer.lower[*index]), chance(*probability))
        })
        .collect();
    let others = match others.is_empty() {
        true => String::new(),
        false => format!("; {}", others.join(", ")),
    };
    Some(format!(
        "As far as the parts are known, {} is the darkest with a probability of {}{others}.",
        place(&answer.lower[best]),
        chance(probability)
    ))
}
