//! `fit` for people.

use std::fmt::Write;

use super::{BOLD, plain, right_columns};
use crate::output::CAUTION;
use crate::output::findings::{
    HARDLY, ambiguities, chance, findings, map_findings, nothing_to_tell, worth_words,
};
use crate::output::numbers::{decimals, digits, supported};
use crate::output::sentences::named_unknown;
use crate::study::fit::{BlameShare, Fit, Interval, UnknownAnswer};
use crate::study::strain_between::StrainBetween;

/// Parts and causes that are hardly ever the largest, and have no larger share, are gathered in one line.
const SMALL: f64 = 0.02;

/// `fit` for people, with the strain between the polars where it was mapped. Styled; the caller strips the style where it is not wanted. `brief` leaves out notes and cautions.
#[must_use]
pub fn fit(
    title: &str,
    answer: &Fit,
    map: Option<&StrainBetween>,
    notes: &[String],
    brief: bool,
) -> String {
    let mut text = String::new();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("{BOLD}{title}{BOLD:#}"));
    for sentence in findings(answer) {
        line(&sentence);
    }
    line("");
    line(&format!(
        "{BOLD}Shares of the leak{BOLD:#}, as the file has the stand set{}",
        match answer.consistent {
            true => "",
            false => ", if the model held all the same",
        }
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
    line(&format!(
        "{BOLD}Unknown numbers{BOLD:#}, before and after the readings: 90 % lie between"
    ));
    line(&unknowns(answer));
    for sentence in ambiguities(answer) {
        line(&sentence);
    }
    if !answer.readings.is_empty() {
        line("");
        line(&format!(
            "{BOLD}Readings{BOLD:#}, parallel light over the light that was read"
        ));
        line(&readings(answer));
    }
    if let Some(map) = map {
        line("");
        line(&format!(
            "{BOLD}Strain between the polars{BOLD:#}, all lenses between them together, from the photographs of {} lines",
            map.lines.len()
        ));
        for sentence in map_findings(map) {
            line(&sentence);
        }
    }
    if !answer.next.is_empty() && answer.consistent && !nothing_to_tell(answer) {
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
        line(&format!(
            "{} stands drawn (seed {}); their light is that of direct runs to {} (root mean square). Shares add up to 1; an imperfection that cancels another has a negative one (Shapley values).",
            answer.plan.draws,
            answer.plan.seed,
            match answer.surface_error {
                0.0 => "0 %".to_owned(),
                error => format!("{} %", digits(100.0 * error, 2)),
            }
        ));
        line(
            "The answer is about this model of the stand with these priors: a fault that is in none of them is laid at the door of those that are.",
        );
        line(CAUTION);
    }
    text
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
            format!(
                "under {:.0} %{}",
                100.0 * SMALL,
                if small == 1 { "" } else { " each" }
            ),
            String::new(),
            String::new(),
        ]);
    }
    right_columns(&mut table, &[2, 3, 4]);
    table.trim_fmt()
}

fn unknowns(answer: &Fit) -> String {
    let mut table = plain();
    table.set_header(["", "before", "", "after", "", ""]);
    for row in &answer.unknown {
        let UnknownAnswer {
            told_as,
            prior,
            posterior,
            told,
        } = row;
        let [before, before_ends] = interval(prior, told_as.unit);
        let [after, after_ends] = interval(&posterior.interval, told_as.unit);
        let told = if *told { "told" } else { "" }.to_owned();
        table.add_row([
            named_unknown(&told_as.name),
            before,
            before_ends,
            after,
            after_ends,
            told,
        ]);
    }
    right_columns(&mut table, &[1, 2, 3, 4]);
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
            match format!("{:+.1}", reading.z).as_str() {
                "+0.0" | "-0.0" => "nothing".to_owned(),
                errors => format!("{errors} of its errors"),
            },
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
