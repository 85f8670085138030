//! `place` for people.

use std::fmt::Write;

use comfy_table::CellAlignment;

use super::{BOLD, fraction, percent, plain, ratio};
use crate::output::CAUTION;
use crate::output::findings::{DECIDED, HARDLY as HARDLY_EVER, chance, odds};
use crate::output::numbers::{digits, exponent};
use crate::output::sentences::{amount, luminance_error, not_crossed, unknown_in_words, unsure};
use crate::output::words::{note, place};
use crate::study::place::{
    AtIris, BestPlace, HARDLY, Place, PlaceAnswer, Placement, StrainFlip, StrainTried,
};

/// Columns of irises at most.
const IRIS_COLUMNS: usize = 8;

/// `place` for people. Styled; the caller strips the style where it is not wanted. `brief` leaves out the scenario's notes and cautions.
#[must_use]
pub fn placement(title: &str, answer: &Placement, notes: &[String], brief: bool) -> String {
    let mut text = String::new();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("{BOLD}{title}{BOLD:#}"));
    match not_crossed(&answer.crossing) {
        Some(why) => line(&format!(
            "{why}. Which place of the lower polar is best can be told only once they are crossed."
        )),
        None => match as_far_as_known(answer) {
            Some(known) => {
                for sentence in known {
                    line(&sentence);
                }
            }
            None => line(&as_if_summed(answer, &headline(answer, &answer.verdict))),
        },
    }
    if let Some(words) = best_probability(answer) {
        line(&words);
    }
    if let Some(unsure) = unsure(worst_error(answer), answer.spectral_error) {
        line(&unsure);
    }
    if let Some(dry) = &answer.without_oil
        && dry.best != answer.verdict.best
        && answer.verdict.no_best.is_none()
    {
        line(&format!(
            "Without oil{}: {}.",
            as_written(answer),
            uncapital(&headline(answer, dry))
        ));
    }
    line("");
    line(&places(answer, &answer.lower, Some(&answer.verdict)));
    for refused in &answer.lower {
        if let Some(why) = &refused.placed.refused {
            line(&format!("Not {}: {why}.", place(refused)));
        }
    }
    line("");
    line(&format!(
        "{BOLD}Extinction ratio over the iris{BOLD:#}{}",
        as_written(answer)
    ));
    line(&over_iris(answer));
    line("");
    for sentence in flips(answer) {
        line(&sentence);
    }
    if !answer.analyzer.is_empty() {
        line("");
        line(&format!("{BOLD}Places of the analyzer{BOLD:#}"));
        line(&places(answer, &answer.analyzer, None));
        for moved in &answer.analyzer {
            if !moved.placed.outside.is_empty() {
                line(&format!(
                    "With the analyzer {} these are outside the polars, without effect: {}.",
                    place(moved),
                    moved.placed.outside.join(", ")
                ));
            }
        }
    }
    line("");
    line(&format!("{BOLD}In practice{BOLD:#}"));
    for (note, places) in practice(answer) {
        line(&format!(" {}: {note}", capital(&places.join("; "))));
    }
    if !brief {
        line("");
        for note in notes {
            line(&format!("Note: {note}"));
        }
        line(&format!(
            "Specimens and plates are out. Light: of the parallel field's image, iris included, against the stack as it is now. {}",
            luminance_error(worst_error(answer), answer.spectral_error)
        ));
        line(CAUTION);
    }
    text
}

/// Where to put the lower polar, and what another place would give.
fn headline(answer: &Placement, verdict: &BestPlace) -> String {
    let best = &answer.lower[verdict.best];
    let leak = |place: &PlaceAnswer| own(answer, place).map(|at| at.relative_luminance);
    // The place that the best one is compared with: the written place, or the second best where the written one is the best.
    let other = (verdict.rivals.iter())
        .filter(|index| **index != verdict.best)
        .map(|index| &answer.lower[*index])
        .filter(|other| leak(other).is_some())
        .min_by(|a, b| {
            let written = b.placed.written.cmp(&a.placed.written);
            written.then(leak(a).unwrap_or(0.0).total_cmp(&leak(b).unwrap_or(0.0)))
        });
    let now = |place: &PlaceAnswer| own(answer, place).and_then(|at| at.extinction_ratio);
    let found = format!("extinction ratio {}", ratio(now(best)));
    let Some(other) = other else {
        return format!(
            "The lower polar can stand in one place only, {}: {found} (NA {})",
            place(best),
            digits(answer.na, 3)
        );
    };
    if verdict.no_best.is_some() {
        let ratios = (verdict.rivals.iter()).filter_map(|index| now(&answer.lower[*index]));
        let least = ratios.clone().fold(f64::INFINITY, f64::min);
        let most = ratios.fold(0.0, f64::max);
        let range = match most {
            0.0 => ratio(None),
            _ => format!("{} to {}", digits(least, 3), digits(most, 3)),
        };
        return format!(
            "It hardly matters where the lower polar stands: extinction ratio {range} in {} places (NA {})",
            verdict.rivals.len(),
            digits(answer.na, 3)
        );
    }
    let near = match (now(best), now(other)) {
        (Some(best), Some(other)) => best < other * (1.0 + HARDLY),
        (best, other) => best.is_none() && other.is_none(),
    };
    if near && other.placed.written {
        return format!(
            "Leave the lower polar {}: extinction ratio {}; {} it is {}, hardly a difference (NA {})",
            place(other),
            ratio(now(other)),
            place(best),
            ratio(now(best)),
            digits(answer.na, 3)
        );
    }
    let verb = if best.placed.written { "Leave" } else { "Put" };
    let where_now = match &other.placed {
        placed if !placed.written => "",
        placed if placed.place == Place::AsWritten => " now",
        _ => ", where it is now",
    };
    let na = digits(answer.na, 3);
    let hardly = if near {
        "; that is hardly a difference"
    } else {
        ""
    };
    format!(
        "{verb} the lower polar {}: {found}, against {} {}{where_now} (NA {na}){hardly}",
        place(best),
        ratio(now(other)),
        place(other)
    )
}

/// A place at the scenario's own iris.
fn own<'a>(answer: &Placement, place: &'a PlaceAnswer) -> Option<&'a AtIris> {
    let own = answer.iris_na.iter().position(|na| *na == answer.na)?;
    place.at_iris[own].as_ref()
}

/// A row for each place at the scenario's own iris.
fn places(answer: &Placement, list: &[PlaceAnswer], verdict: Option<&BestPlace>) -> String {
    let mut table = plain();
    table.set_header([
        "place",
        "extinction",
        "background",
        "light",
        "leaks most",
        "",
    ]);
    for (index, row) in list.iter().enumerate() {
        let mut remarks = Vec::new();
        if row.placed.written {
            remarks.push("now".to_owned());
        }
        if verdict.is_some_and(|verdict| verdict.best == index && verdict.no_best.is_none()) {
            let written = match as_written(answer) {
                "" => "best",
                _ => "best as written",
            };
            remarks.push(written.to_owned());
        }
        if let Some(same) = row.placed.same_as {
            remarks.push(format!("the same light as {}", place(&list[same])));
        }
        let Some(at) = own(answer, row) else { continue };
        let most = (at.leak.shares.first()).map_or("nothing".to_owned(), |share| {
            format!(
                "{}, {} {}",
                share.part,
                share.cause.words(),
                percent(share.share)
            )
        });
        table.add_row([
            place(row),
            ratio(at.extinction_ratio),
            fraction(at.relative_luminance),
            percent(at.parallel_luminance),
            most,
            remarks.join(", "),
        ]);
    }
    for column in 1..4 {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table.trim_fmt()
}

/// Places that differ in light against a few irises; the best of each column is marked.
fn over_iris(answer: &Placement) -> String {
    let columns = columns(answer);
    let mut table = plain();
    let heads = columns
        .iter()
        .map(|k| format!("NA {:.2}", answer.iris_na[*k]));
    table.set_header(["place".to_owned()].into_iter().chain(heads));
    for &index in &answer.verdict.rivals {
        let row = &answer.lower[index];
        let cells = columns.iter().map(|&k| {
            let mark =
                if answer.verdict.best_at[k] == Some(index) && answer.verdict.no_best.is_none() {
                    "*"
                } else {
                    " "
                };
            let number =
                (row.at_iris[k].as_ref()).map_or("-".to_owned(), |at| ratio(at.extinction_ratio));
            format!("{number}{mark}")
        });
        table.add_row([place(row)].into_iter().chain(cells));
    }
    for column in 1..=columns.len() {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table.trim_fmt()
}

/// Evenly chosen irises, the first, the last and the scenario's own among them.
fn columns(answer: &Placement) -> Vec<usize> {
    let last = answer.iris_na.len() - 1;
    let step = last.div_ceil(IRIS_COLUMNS - 2).max(1);
    (0..=last)
        .filter(|k| k % step == 0 || *k == last || answer.iris_na[*k] == answer.na)
        .collect()
}

/// What changes the answer.
fn flips(answer: &Placement) -> Vec<String> {
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
                "From NA {} on, {} is better than {} (extinction ratio {} there; numerically ± {}).",
                digits(flip.iris_na, 3),
                name(flip.to),
                name(flip.from),
                ratio(flip.extinction_ratio),
                exponent(flip.uncertainty)
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
            "Once the condenser adds more than {} nm ({}), {} is better than {} (extinction ratio {} there; numerically ± {} nm).",
            digits(flip.rms_nm, 3),
            profiles.join(", "),
            place(&answer.lower[flip.to]),
            place(&answer.lower[flip.from]),
            ratio(flip.extinction_ratio),
            exponent(flip.rms_nm * flip.relative_uncertainty)
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

/// What to know besides the light: each thing with the places that it is true of.
fn practice(answer: &Placement) -> Vec<(String, Vec<String>)> {
    let mut found: Vec<(String, Vec<String>)> = Vec::new();
    for (words, place) in
        (answer.lower.iter()).flat_map(|row| row.notes.iter().map(move |n| (note(n), place(row))))
    {
        match found.iter_mut().find(|(known, _)| *known == words) {
            Some((_, places)) => places.push(place),
            None => found.push((words, vec![place])),
        }
    }
    found
}

/// The largest numerical error of any number shown.
fn worst_error(answer: &Placement) -> f64 {
    (answer.lower.iter().chain(&answer.analyzer))
        .flat_map(|place| place.at_iris.iter().flatten())
        .map(|at| at.quadrature_error)
        .fold(0.0, f64::max)
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn uncapital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}

/// The most probably best place and its probability, where what is known of it is not what the numbers as written say: another is best, or none is decided.
fn otherwise_known(answer: &Placement) -> Option<(usize, f64)> {
    let verdict = &answer.verdict;
    (answer.probably_best()).filter(|(first, most)| {
        verdict.no_best.is_none() && (*first != verdict.best || *most < DECIDED)
    })
}

/// What is known then, in sentences.
fn as_far_as_known(answer: &Placement) -> Option<Vec<String>> {
    let verdict = &answer.verdict;
    let (first, most) = otherwise_known(answer)?;
    let ratio_at = |index: usize| {
        let at = own(answer, &answer.lower[index]);
        ratio(at.and_then(|at| at.extinction_ratio))
    };
    let named = |index: usize| place(&answer.lower[index]);
    let mut places: Vec<(usize, f64)> = (answer.lower.iter().enumerate())
        .filter_map(|(index, place)| Some((index, place.best_probability?)))
        .filter(|(_, probability)| *probability >= HARDLY_EVER)
        .collect();
    places.sort_by(|a, b| b.1.total_cmp(&a.1));
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
            "Exactly as written, {} is: extinction ratio {}{against} (NA {}).",
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
fn as_if_summed(answer: &Placement, headline: &str) -> String {
    match &answer.summed_in {
        Some(lens) => format!(
            "Not decided which place of the lower polar is best: the map in {lens} is the strain of all lenses between the polars together, and it hangs on which of them has it. Ask with the scenario that polstack fit --write writes. With all of it in {lens}: {}.",
            uncapital(headline)
        ),
        None => format!("{headline}."),
    }
}

/// What to add to an answer that holds for the numbers as written, where that is not what is known.
fn as_written(answer: &Placement) -> &'static str {
    match otherwise_known(answer) {
        Some(_) => ", with every part exactly as written",
        None => "",
    }
}

/// How probable it is that the best place is the best, as far as the parts are known, and which other may be.
fn best_probability(answer: &Placement) -> Option<String> {
    if answer.verdict.no_best.is_some() || otherwise_known(answer).is_some() {
        return None;
    }
    let best = &answer.lower[answer.verdict.best];
    let probability = best.best_probability?;
    let others: Vec<String> = (answer.lower.iter().enumerate())
        .filter(|(index, _)| *index != answer.verdict.best)
        .filter_map(|(_, other)| {
            let probability = other.best_probability.filter(|p| *p >= HARDLY_EVER)?;
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
