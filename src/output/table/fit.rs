//! `fit` for people.

use std::fmt::Write;

use comfy_table::CellAlignment;

use super::{BOLD, plain};
use crate::output::CAUTION;
use crate::output::numbers::{digits, exponent, supported};
use crate::study::fit::{BlameShare, Fit, Interval, UnknownAnswer};

/// A part is called the one to blame from this probability on.
const DECIDED: f64 = 0.9;
/// Parts and causes that are less probably the largest, and have no larger share, are gathered in one line.
const HARDLY: f64 = 0.005;
const SMALL: f64 = 0.02;
/// A next reading of less information than this tells nothing, nats.
const NOTHING_TO_TELL: f64 = 0.02;

/// `fit` for people. Styled; the caller strips the style where it is not wanted. `brief` leaves out notes and cautions.
#[must_use]
pub fn fit(title: &str, answer: &Fit, notes: &[String], brief: bool) -> String {
    let mut text = String::new();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("{BOLD}{title}{BOLD:#}"));
    line(&verdict(answer));
    for sentence in misfit(answer) {
        line(&sentence);
    }
    if let Some(words) = next(answer) {
        line(&words);
    }
    line("");
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
    line(&format!(
        "{BOLD}Unknown numbers{BOLD:#}, before and after the readings: 90 % lie between"
    ));
    line(&unknowns(answer));
    for sentence in ambiguous(answer) {
        line(&sentence);
    }
    if !answer.readings.is_empty() {
        line("");
        line(&format!(
            "{BOLD}Readings{BOLD:#}, parallel light over the light that was read"
        ));
        line(&readings(answer));
    }
    if !answer.next.is_empty() {
        line("");
        line(&format!(
            "{BOLD}What to read next{BOLD:#}, and what it is expected to tell of the part to blame (nats)"
        ));
        line(&candidates(answer));
    }
    if !brief {
        line("");
        for note in notes {
            line(&format!("Note: {note}"));
        }
        line(&format!(
            "{} stands drawn (seed {}); their light is that of direct runs to {} (root mean square). Shares are Shapley values: they add up to 1, and one that cancels another is negative.",
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

fn named(blame: &BlameShare) -> String {
    match blame.part.as_str() {
        "stack" => blame.cause.words().to_owned(),
        part => format!("{part}, {}", blame.cause.words()),
    }
}

fn chance(probability: f64) -> String {
    format!("{:.0} %", 100.0 * probability)
}

/// Which part is to blame, or between which that is not decided.
fn verdict(answer: &Fit) -> String {
    let Some(first) = answer.blame.first() else {
        return "Nothing leaks in these stands.".to_owned();
    };
    let before = if answer.readings.is_empty() {
        "Before any reading: "
    } else {
        ""
    };
    if first.largest >= DECIDED {
        return format!(
            "{before}{} is the largest leak ({}).",
            named(first),
            chance(first.largest)
        );
    }
    if let Some(words) = one_part(answer) {
        return format!("{before}{words}");
    }
    let mut sum = 0.0;
    let among: Vec<String> = (answer.blame.iter())
        .take_while(|blame| {
            let more = sum < DECIDED && blame.largest >= HARDLY;
            sum += blame.largest;
            more
        })
        .take(4)
        .map(|blame| format!("{} ({})", named(blame), chance(blame.largest)))
        .collect();
    format!(
        "{before}Not decided which leak is the largest: {}.",
        among.join(", or ")
    )
}

/// A part of which it is sure that it is to blame, though not what about it.
fn one_part(answer: &Fit) -> Option<String> {
    let part = &answer.blame.first()?.part;
    let own: Vec<&BlameShare> = (answer.blame.iter())
        .filter(|blame| blame.part == *part && blame.largest >= HARDLY)
        .collect();
    let sum: f64 = own.iter().map(|blame| blame.largest).sum();
    let causes: Vec<String> = (own.iter())
        .map(|blame| format!("{} ({})", blame.cause.words(), chance(blame.largest)))
        .collect();
    (sum >= DECIDED && part != "stack").then(|| {
        format!(
            "The largest leak is one of {part} ({}); not decided which: {}.",
            chance(sum),
            causes.join(", or ")
        )
    })
}

/// What readings and model do not agree on.
fn misfit(answer: &Fit) -> Vec<String> {
    let mut all = Vec::new();
    if !answer.consistent {
        all.push(format!(
            "Readings and model do not go together (p = {}): no stand that the priors allow shows them all.",
            if answer.p_value < 1e-3 { exponent(answer.p_value) } else { digits(answer.p_value, 2) }
        ));
        if let Some(spoiled) = answer.readings.iter().find(|reading| reading.spoiled) {
            all.push(format!(
                "The reading of line {} goes least with the others ({} read): read it again, and look how the stand was set.",
                spoiled.line,
                digits(spoiled.measured, 3),
            ));
        }
    }
    all
}

fn next(answer: &Fit) -> Option<String> {
    let best = answer.next.first()?;
    if answer
        .blame
        .first()
        .is_some_and(|first| first.largest >= DECIDED)
        && best.gain_nats < NOTHING_TO_TELL
    {
        return Some(
            "No further reading would tell much more of which part is to blame.".to_owned(),
        );
    }
    Some(format!("Next reading: {}.", uncapital(&best.words)))
}

fn uncapital(words: &str) -> String {
    let mut letters = words.chars();
    match letters.next() {
        Some(first) => first.to_lowercase().chain(letters).collect(),
        None => String::new(),
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
    table.set_header(["part", "cause", "share", "90 % between", "largest"]);
    let is_small = |blame: &&BlameShare| {
        blame.largest < HARDLY && blame.share.low.abs().max(blame.share.high.abs()) < SMALL
    };
    for blame in answer.blame.iter().filter(|blame| !is_small(blame)) {
        let of = |share: f64| format!("{:.0}", 100.0 * share + 0.0);
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
            format!("{small} others"),
            String::new(),
            format!("under {:.0} % each", 100.0 * SMALL),
            String::new(),
            String::new(),
        ]);
    }
    right(&mut table, &[2, 3, 4]);
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
            told_as.name.clone(),
            before,
            before_ends,
            after,
            after_ends,
            told,
        ]);
    }
    right(&mut table, &[1, 2, 3, 4]);
    table.trim_fmt()
}

fn ambiguous(answer: &Fit) -> Vec<String> {
    (answer.ambiguous.iter())
        .map(|pair| match &pair.names[..] {
            [one, other] => format!(
                "{one} and {other} are not told apart (correlation {:.2}){}.",
                pair.correlation,
                match pair.modes {
                    0 | 1 => String::new(),
                    modes => format!("; the stands lie in {modes} separate groups"),
                }
            ),
            names => format!(
                "{}: the stands that explain the readings lie in {} separate groups.",
                names.join(", "),
                pair.modes
            ),
        })
        .collect()
}

fn readings(answer: &Fit) -> String {
    let mut table = plain();
    table.set_header(["line", "read", "stands show", "90 % between", "off by", ""]);
    for reading in &answer.readings {
        let [middle, ends] = interval(&reading.predicted, "");
        let remark = match (reading.spoiled, reading.note.as_str()) {
            (true, "") => "goes least with the others".to_owned(),
            (true, note) => format!("goes least with the others; {note}"),
            (false, note) => note.to_owned(),
        };
        table.add_row([
            reading.line.to_string(),
            digits(reading.measured, 3),
            middle,
            ends,
            format!("{:+.1} of its errors", reading.z + 0.0),
            remark,
        ]);
    }
    right(&mut table, &[0, 1, 2, 3, 4]);
    table.trim_fmt()
}

fn candidates(answer: &Fit) -> String {
    let mut table = plain();
    table.set_header(["tells", "what to do"]);
    for next in &answer.next {
        table.add_row([format!("{:.2}", next.gain_nats), next.words.clone()]);
    }
    right(&mut table, &[0]);
    table.trim_fmt()
}

fn right(table: &mut comfy_table::Table, columns: &[usize]) {
    for column in columns {
        if let Some(column) = table.column_mut(*column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
}
