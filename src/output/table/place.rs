//! `place` for people.

mod changes;
mod known;
mod ratios;

use std::fmt::Write;

use comfy_table::CellAlignment;

use super::{BOLD, fraction, percent, plain, ratio};
use crate::output::CAUTION;
use crate::output::numbers::digits;
use crate::output::sentences::{luminance_error, not_crossed, unsure};
use crate::output::words::{note, place, uncapital};
use crate::study::place::{BestPlace, Place, PlaceAnswer, Placement};
use changes::flips;
use known::{
    as_far_as_known, as_if_summed, best_probability, granted, hardly_matters, if_granted,
    may_need_oil, rivals,
};
use ratios::{Ratios, known_range, outside};

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
        None => match as_far_as_known(answer, &answer.verdict) {
            Some(known) => {
                for sentence in known {
                    line(&sentence);
                }
            }
            None => line(&as_if_summed(answer, &headline(answer, &answer.verdict))),
        },
    }
    if let Some(words) = best_probability(answer, &answer.verdict) {
        line(&words);
    }
    if let Some(unsure) = unsure(worst_error(answer), answer.spectral_error) {
        line(&unsure);
    }
    if let Some(dry) = &answer.without_oil
        && !hardly_matters(answer, &answer.verdict)
        && may_need_oil(answer, dry)
    {
        for sentence in without_oil(answer, dry) {
            line(&sentence);
        }
    }
    line("");
    let known = answer
        .lower
        .iter()
        .any(|place| known_range(place).is_some());
    if known {
        line(&format!(
            "{BOLD}Extinction ratio in each place{BOLD:#}, exactly as written and as far as the parts are known"
        ));
    }
    line(&places(answer, &answer.lower, Some(&answer.verdict)));
    for why in outside(answer) {
        line(&why);
    }
    for refused in &answer.lower {
        if let Some(why) = &refused.placed.refused {
            line(&format!("Not {}: {why}.", place(refused)));
        }
    }
    line("");
    line(&format!(
        "{BOLD}Extinction ratio over the iris{BOLD:#}{}",
        match (if_granted(answer), known) {
            (granted, true) if granted.is_empty() => ", exactly as written".to_owned(),
            (granted, _) => granted,
        }
    ));
    line(&over_iris(answer));
    line("");
    if let Some(granted) = granted(answer) {
        line(&format!(
            "{BOLD}What changes the best place{BOLD:#}, {granted}"
        ));
    }
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

/// The same where no oil can be used.
fn without_oil(answer: &Placement, dry: &BestPlace) -> Vec<String> {
    let sentences = as_far_as_known(answer, dry).unwrap_or_else(|| {
        let headline = headline(answer, dry);
        (std::iter::once(format!("{headline}.")))
            .chain(best_probability(answer, dry))
            .collect()
    });
    let granted = match answer.summed_in {
        Some(_) => if_granted(answer),
        None => String::new(),
    };
    // How to decide was said already.
    (sentences.into_iter().take(2))
        .map(|sentence| format!("Without oil{granted}: {}", uncapital(&sentence)))
        .collect()
}

/// Where to put the lower polar, and what another place would give.
fn headline(answer: &Placement, verdict: &BestPlace) -> String {
    let best = &answer.lower[verdict.best];
    let leak = |place: &PlaceAnswer| answer.own(place).map(|at| at.relative_luminance);
    // The place that the best one is compared with: the written place, or the second best where the written one is the best.
    let other = (verdict.rivals.iter())
        .filter(|index| **index != verdict.best)
        .map(|index| &answer.lower[*index])
        .filter(|other| leak(other).is_some())
        .min_by(|a, b| {
            let written = b.placed.written.cmp(&a.placed.written);
            written.then(leak(a).unwrap_or(0.0).total_cmp(&leak(b).unwrap_or(0.0)))
        });
    let na = digits(answer.na, 3);
    let Some(other) = other else {
        return format!(
            "The lower polar can stand in one place only, {}: extinction ratio {} (NA {na})",
            place(best),
            Ratios::of(answer, &[best]).told(0)
        );
    };
    if hardly_matters(answer, verdict) {
        let rivals = rivals(answer, verdict);
        return format!(
            "It hardly matters where the lower polar stands: extinction ratio {} in {} places (NA {na})",
            Ratios::of(answer, &rivals).range(),
            rivals.len()
        );
    }
    let ratios = Ratios::of(answer, &[best, other]);
    let [of_best, of_other] = [0, 1].map(|place| ratios.told(place));
    let near = ratios.are_alike();
    if near && other.placed.written {
        return format!(
            "Leave the lower polar {}: extinction ratio {of_other}; {} it is {of_best}, hardly a difference (NA {na})",
            place(other),
            place(best)
        );
    }
    let verb = if best.placed.written { "Leave" } else { "Put" };
    let where_now = match &other.placed {
        placed if !placed.written => "",
        placed if placed.place == Place::AsWritten => " now",
        _ => ", where it is now",
    };
    let hardly = if near {
        "; that is hardly a difference"
    } else {
        ""
    };
    format!(
        "{verb} the lower polar {}: extinction ratio {of_best}, against {of_other} {}{where_now} (NA {na}){hardly}",
        place(best),
        place(other)
    )
}

/// A row for each place at the scenario's own iris.
fn places(answer: &Placement, list: &[PlaceAnswer], verdict: Option<&BestPlace>) -> String {
    let mut table = plain();
    let known = list.iter().any(|row| known_range(row).is_some());
    let (ratios, known_head) = match known {
        true => ("as written", Some("as far as known")),
        false => ("extinction", None),
    };
    let heads = ["background", "light", "leaks most", ""];
    table.set_header(["place", ratios].into_iter().chain(known_head).chain(heads));
    for (index, row) in list.iter().enumerate() {
        let mut remarks = Vec::new();
        if row.placed.written {
            remarks.push("now".to_owned());
        }
        if verdict.is_some_and(|verdict| verdict.best == index && verdict.no_best.is_none()) {
            remarks.push(match granted(answer) {
                Some(_) => "best as written".to_owned(),
                None => "best".to_owned(),
            });
        }
        if let Some(same) = row.placed.same_as {
            remarks.push(format!("the same light as {}", place(&list[same])));
        }
        let Some(at) = answer.own(row) else { continue };
        let most = (at.leak.shares.first()).map_or("nothing".to_owned(), |share| {
            format!(
                "{}, {} {}",
                share.part,
                share.cause.words(),
                percent(share.share)
            )
        });
        let same = row.placed.same_as.map_or(row, |same| &list[same]);
        let range = known.then(|| known_range(same).unwrap_or_default());
        let numbers = [
            fraction(at.relative_luminance),
            percent(at.parallel_luminance),
        ];
        let told = [place(row), ratio(at.extinction_ratio)];
        let words = [most, remarks.join(", ")];
        table.add_row((told.into_iter().chain(range)).chain(numbers).chain(words));
    }
    for column in 1..4 + usize::from(known) {
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
