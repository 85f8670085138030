//! Which place is best as far as the parts are known, and what an answer takes for granted.

use super::ratio;
use crate::order::sort_by_number;
use crate::output::findings::{DECIDED, HARDLY as HARDLY_EVER, chance, odds};
use crate::output::numbers::{digits, supported};
use crate::output::sentences::unknown_in_words;
use crate::output::words::{place, uncapital};
use crate::study::doubt::median_leads;
use crate::study::place::{BestPlace, HARDLY, NoBest, PlaceAnswer, PlaceOdds, Placement};

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
        Some(NoBest::AllAlike) => alike(&numbers(answer, &rivals(answer, contest)).0),
        None => false,
    }
}

/// The places that are compared.
pub(super) fn rivals<'a>(answer: &'a Placement, contest: &BestPlace) -> Vec<&'a PlaceAnswer> {
    (contest.rivals.iter())
        .map(|index| &answer.lower[*index])
        .collect()
}

/// Whether some ratios are hardly different.
pub(super) fn alike(ratios: &[f64]) -> bool {
    let least = ratios.iter().copied().fold(f64::INFINITY, f64::min);
    ratios.iter().all(|ratio| *ratio <= least * (1.0 + HARDLY))
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

/// The extinction ratios of places that an answer leads with, infinite where nothing leaks, and those as written where these are others: the medians of what is
/// known lead where of any place the number as written lies off the middle.
pub(super) fn numbers(answer: &Placement, places: &[&PlaceAnswer]) -> (Vec<f64>, Option<Vec<f64>>) {
    let written = (places.iter())
        .map(|place| {
            answer
                .own(place)
                .and_then(|at| at.extinction_ratio)
                .unwrap_or(f64::INFINITY)
        })
        .collect();
    let leads = (answer.lower.iter().flat_map(|place| &place.known))
        .any(|known| median_leads(known.below_as_written));
    let medians: Option<Vec<f64>> = (places.iter())
        .map(|place| Some(place.known.as_ref()?.extinction_ratio?.median))
        .collect();
    match medians.filter(|_| leads) {
        Some(medians) => (medians, Some(written)),
        None => (written, None),
    }
}

/// What an answer says of some numbers, with those as written behind where these are others.
pub(super) fn led(leading: &str, written: Option<&str>) -> String {
    match written {
        Some(written) => format!("{leading} ({written} exactly as written)"),
        None => leading.to_owned(),
    }
}

/// A ratio; infinite where nothing leaks.
pub(super) fn shown(value: f64) -> String {
    ratio(value.is_finite().then_some(value))
}

/// From the least to the most of some ratios.
pub(super) fn least_to_most(ratios: &[f64]) -> String {
    let least = ratios.iter().copied().fold(f64::INFINITY, f64::min);
    let most = ratios.iter().copied().fold(0.0, f64::max);
    match shown(least) == shown(most) {
        true => shown(least),
        false => format!("{} to {}", shown(least), shown(most)),
    }
}

/// Why numbers as written lie outside of what is known.
pub(super) fn outside(answer: &Placement) -> Vec<String> {
    let side = |above: bool| -> Vec<String> {
        let out = |row: &&PlaceAnswer| {
            let at = answer.own(row).and_then(|at| at.extinction_ratio);
            let known = row.known.as_ref().and_then(|known| known.extinction_ratio);
            known.zip(at).is_some_and(|(known, at)| match above {
                true => at > known.high,
                false => at < known.low,
            })
        };
        (answer.lower.iter()).filter(out).map(place).collect()
    };
    [(true, "darker", "best"), (false, "brighter", "worst")]
        .into_iter()
        .map(|(above, light, end)| (side(above), light, end))
        .filter(|(places, ..)| !places.is_empty())
        .map(|(places, light, end)| {
            format!(
                "Exactly as written, the stand is {light} than nineteen of twenty such stands with the lower polar {}: the file has parts at or near the {end} that they may be.",
                places.join("; ")
            )
        })
        .collect()
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
