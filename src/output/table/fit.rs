//! `fit` for people.

use std::fmt::Write;

use super::{BOLD, plain, right_columns};
use crate::output::CAUTION;
use crate::output::findings::{
    FitReport, HARDLY, ambiguities, chance, findings, map_findings, nothing_to_tell, worth_words,
};
use crate::output::numbers::{decimals, digits, of_its_errors, supported};
use crate::output::sentences::named_unknown;
use crate::study::fit::{BlameShare, Fit, Interval, UnknownAnswer};

/// Parts and causes that are hardly ever the largest, and have no larger share, are gathered in one line.
const SMALL: f64 = 0.02;

/// The light of the drawn stands is computed from polynomials; beyond this relative error of theirs intervals are less sure than they look, and it is told.
const ROUGH: f64 = 0.01;

/// `fit` for people, with the strain between the polars where it was mapped. Styled; the caller strips the style where it is not wanted. `brief` leaves out notes and cautions.
#[must_use]
pub fn fit(title: &str, report: &FitReport, notes: &[String], brief: bool) -> String {
    let answer = &report.answer;
    let mut text = String::new();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("{BOLD}{title}{BOLD:#}"));
    for sentence in findings(report) {
        line(&sentence);
    }
    line("");
    if answer.consistent {
        line(&format!(
            "{BOLD}Shares of the leak{BOLD:#}, as the file has the stand set"
        ));
        line(&blame(answer));
        let ratio = &answer.extinction_ratio;
        let of = |value| supported(value, ratio.low, ratio.high);
        line(&format!(
            "Extinction ratio {}; 90 % between {} and {}.",
            of(ratio.median),
            of(ratio.low),
            of(ratio.high)
        ));
        line("");
    }
    line(&format!(
        "{BOLD}Unknown numbers{BOLD:#}, before {}: 90 % lie between",
        match answer.consistent {
            true => "and after the readings",
            false => "the readings, which tell nothing of them",
        }
    ));
    line(&unknowns(answer));
    for sentence in ambiguities(answer) {
        line(&sentence);
    }
    if !answer.readings.is_empty() {
        line("");
        line(&format!(
            "{BOLD}Readings{BOLD:#}, parallel light over the light that was read{}",
            match answer.consistent {
                true => "",
                false => "; the stands are those that come nearest",
            }
        ));
        line(&readings(answer));
    }
    if let Some(map) = &report.map {
        line("");
        line(&format!(
            "{BOLD}Strain between the polars{BOLD:#}, all lenses between them together, from the photographs of {} lines",
            map.lines.len()
        ));
        for sentence in map_findings(map) {
            line(&sentence);
        }
    }
    if !answer.next.is_empty() && !nothing_to_tell(answer) {
        line("");
        line(&format!(
            "{BOLD}What to read next{BOLD:#}, and how much it is expected to tell of the part to blame: 0.69 decides between two that are equally probable (a measure of information, in nats). A reading may also leave it less decided."
        ));
        line(&candidates(answer));
    }
    if !brief {
        line("");
        for note in notes {
            line(&format!("Note: {note}"));
        }
        let drawn = format!(
            "{} stands drawn (seed {}).",
            answer.plan.draws, answer.plan.seed
        );
        match answer.consistent {
            false => line(&drawn),
            true => line(&format!(
                "{drawn} Shares add up to 1; an imperfection that cancels another has a negative one (Shapley values).{}",
                rough(answer)
            )),
        }
        if answer.consistent {
            line(
                "The answer is about this model of the stand with these priors: a fault that is in none of them is laid at the door of those that are.",
            );
        }
        line(CAUTION);
    }
    text
}

/// How far the light of the drawn stands is off, where that matters.
fn rough(answer: &Fit) -> String {
    match answer.surface_error > ROUGH {
        false => String::new(),
        true => format!(
            " The light of these stands is computed by an approximation that is off by {} % (root mean square): the intervals are less sure than they look.",
            digits(100.0 * answer.surface_error, 2)
        ),
    }
}

fn interval(interval: &Interval, unit: &str) -> [String; 2] {
    let of = |value| supported(value, interval.low, interval.high);
    let unit = if unit.is_empty() {
        String::new()
    } else {
        format!(" {unit}")
    };
    [
        format!("{}{unit}", of(interval.median)),
        format!("{} to {}", of(interval.low), of(interval.high)),
    ]
}

fn blame(answer: &Fit) -> String {
    let mut table = plain();
    table.set_header(["part", "cause", "share", "90 % between", "probably largest"]);
    let is_small = |blame: &&BlameShare| {
        blame.largest < HARDLY && blame.share.low.abs().max(blame.share.high.abs()) < SMALL
    };
    for blame in answer.blame.iter().filter(|blame| !is_small(blame)) {
        let of = |share: f64| decimals(100.0 * share, 0);
        table.add_row([
            blame.part.clone(),
            blame.cause.words().to_owned(),
            format!("{} %", of(blame.share.median)),
            format!("{} to {} %", of(blame.share.low), of(blame.share.high)),
            chance(blame.largest),
        ]);
    }
    let small = answer.blame.iter().filter(is_small).count();
    if small > 0 {
        table.add_row([
            match small {
                1 => "1 other".to_owned(),
                many => format!("{many} others"),
            },
            String::new(),
            match small {
                1 => format!("under {:.0} %", 100.0 * SMALL),
                _ => format!("under {:.0} % each", 100.0 * SMALL),
            },
            String::new(),
            String::new(),
        ]);
    }
    right_columns(&mut table, &[2, 3, 4]);
    table.trim_fmt()
}

fn unknowns(answer: &Fit) -> String {
    let mut table = plain();
    let columns = match answer.consistent {
        true => &["", "before", "", "after", "", ""][..],
        false => &["", "before", ""],
    };
    table.set_header(columns);
    for row in &answer.unknown {
        let UnknownAnswer {
            told_as,
            prior,
            posterior,
            told,
        } = row;
        let mut cells = vec![named_unknown(&told_as.name)];
        cells.extend(match told_as.is_any(prior) {
            true => ["any".to_owned(), String::new()],
            false => interval(prior, told_as.unit),
        });
        if answer.consistent {
            cells.extend(interval(&posterior.interval, told_as.unit));
            cells.push(if *told { "told" } else { "" }.to_owned());
        }
        table.add_row(cells);
    }
    let numbers: Vec<usize> = (1..columns.len().min(5)).collect();
    right_columns(&mut table, &numbers);
    table.trim_fmt()
}

fn readings(answer: &Fit) -> String {
    let mut table = plain();
    table.set_header(["line", "read", "stands show", "90 % between", "off by", ""]);
    for reading in &answer.readings {
        let [middle, ends] = interval(&reading.predicted, "");
        let remark = match (reading.spoiled, reading.note.as_str()) {
            (true, "") => "without it the others go together best".to_owned(),
            (true, note) => format!("without it the others go together best; {note}"),
            (false, note) => note.to_owned(),
        };
        table.add_row([
            match reading.photograph {
                true => format!("{} (photograph)", reading.line),
                false => reading.line.to_string(),
            },
            digits(reading.measured, 3),
            middle,
            ends,
            of_its_errors(reading.z).unwrap_or_else(|| "nothing".to_owned()),
            remark,
        ]);
    }
    right_columns(&mut table, &[0, 1, 2, 3, 4]);
    table.trim_fmt()
}

fn candidates(answer: &Fit) -> String {
    let mut table = plain();
    table.set_header(["tells", "what to do"]);
    for next in &answer.next {
        let gain = format!("{:.2}", next.gain_nats);
        // What tells nothing is compared with nothing.
        let words = match next.worth {
            Some(worth) if gain != "0.00" => format!("{} ({})", next.words, worth_words(worth)),
            _ => next.words.clone(),
        };
        table.add_row([gain, words]);
    }
    right_columns(&mut table, &[0]);
    table.trim_fmt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::findings::tests::answer;
    use crate::study::fit::Checklist;

    #[test]
    fn a_small_share_is_counted_and_an_approximation_is_told_where_it_is_rough() {
        let mut report = answer(&[1.0; 4], 900);
        let share = &mut report.answer.blame[1].share;
        (share.low, share.high) = (0.0, 0.01);
        let said = fit("Stand", &report, &[], false);
        let row = said.lines().find(|line| line.contains("1 other")).unwrap();
        assert!(!row.contains("others") && !row.contains("each"), "{row}");
        assert!(!said.contains("approximation"), "{said}");
        report.answer.surface_error = 0.13;
        let said = fit("Stand", &report, &[], false);
        assert!(
            said.contains("an approximation that is off by 13 %"),
            "{said}"
        );
    }

    #[test]
    fn a_failed_fit_shows_no_share() {
        let failed = FitReport::new(Fit {
            consistent: false,
            surface_error: 0.43,
            ..answer(&[1.0; 4], 900).answer
        });
        let said = fit("Stand", &failed, &[], false);
        for words in ["Shares", "Extinction ratio", "after", "approximation"] {
            assert!(!said.contains(words), "{words}: {said}");
        }
    }

    #[test]
    fn a_checklist_says_that_some_numbers_alone_were_freed() {
        let list = Checklist {
            draws: 100,
            seed: 1,
            before: answer(&[1.0; 4], 900).answer.blame,
            steps: Vec::new(),
        };
        let words = "Before any reading, of the numbers freed: condenser, strain";
        for (freed_only, holds) in [(true, true), (false, false)] {
            let said = super::super::checklist("Stand", &list, freed_only, &[], true);
            assert_eq!(said.contains(words), holds, "{said}");
        }
    }
}
