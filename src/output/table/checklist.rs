//! A checklist of readings for people.

use std::fmt::Write;

use super::{BOLD, plain, right_columns};
use crate::output::CAUTION;
use crate::output::findings::{
    DECIDED, PHOTOGRAPH_RULES, among_leaks, before_any_reading, chance, named_leak,
    takes_photographs, worth_words,
};
use crate::output::numbers::{digits, supported};
use crate::study::fit::{Checklist, ChecklistStep, IfToBlame, Interval};

/// A checklist for people. Styled; the caller strips the style where it is not wanted. `brief` leaves out notes and cautions; `freed_only`: some unknown
/// numbers alone were freed.
#[must_use]
pub fn checklist(
    title: &str,
    answer: &Checklist,
    freed_only: bool,
    notes: &[String],
    brief: bool,
) -> String {
    let mut text = String::new();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("{BOLD}{title}{BOLD:#}"));
    let before = before_any_reading(freed_only);
    line(&format!("{before}{}.", among_leaks(&answer.before)));
    match answer.steps.last() {
        None => line("No reading is expected to tell which part is to blame."),
        Some(last) => line(&format!(
            "{} readings are expected to decide it in {} of such stands.",
            answer.steps.len(),
            chance(last.decided)
        )),
    }
    let undecided = answer
        .steps
        .last()
        .is_some_and(|last| last.decided < DECIDED);
    if undecided {
        let photographs = match takes_photographs(answer) {
            true => "",
            false => "; photographs of the back focal plane may tell more (--can photo)",
        };
        line(&format!(
            "Where they do not decide it, polstack fit still says from them how probable each part is, and what to read next{photographs}."
        ));
    }
    line("");
    line(&format!(
        "{BOLD}How to set the stand{BOLD:#}, in this order, all else as in the file; read crossed and parallel light each time"
    ));
    line(&steps(answer));
    if let Some(culprits) = culprits(answer) {
        line("");
        line(&format!(
            "{BOLD}What each would read{BOLD:#} (parallel light over crossed light, the middle of such stands) if this were the largest leak"
        ));
        line(&culprits);
    }
    if !brief {
        line("");
        for note in notes {
            line(&format!("Note: {note}"));
        }
        line(&format!(
            "{} stands drawn (seed {}). A leak counts as decided where the readings leave it 90 %; readings are taken to be good to 5 %.",
            answer.draws, answer.seed
        ));
        line(
            "Subtract the dark value from each reading, and read crossed and parallel light in one unit.",
        );
        if takes_photographs(answer) {
            line(PHOTOGRAPH_RULES);
        }
        line(CAUTION);
    }
    text
}

fn steps(answer: &Checklist) -> String {
    let mut table = plain();
    table.set_header(["", "what to do", "reads", "90 % between", "decided in"]);
    for (number, step) in answer.steps.iter().enumerate() {
        let [middle, ends] = rough(&step.ratio);
        table.add_row([
            (number + 1).to_string(),
            step_words(step),
            middle,
            ends,
            chance(step.decided),
        ]);
    }
    right_columns(&mut table, &[0, 2, 3, 4]);
    table.trim_fmt()
}

/// What to do for a step; of a photograph with what it is worth.
fn step_words(step: &ChecklistStep) -> String {
    match step.worth {
        None => step.words.clone(),
        Some(worth) => format!(
            "Photographs. {} (alone tells {})",
            step.words,
            worth_words(worth)
        ),
    }
}

fn rough(interval: &Interval) -> [String; 2] {
    let of = |value| supported(value, interval.low, interval.high);
    [
        of(interval.median),
        format!("{} to {}", of(interval.low), of(interval.high)),
    ]
}

/// A row for each that may be to blame, a column for each reading.
fn culprits(answer: &Checklist) -> Option<String> {
    let first = answer.steps.first()?;
    if first.if_to_blame.len() < 2 {
        return None;
    }
    let mut table = plain();
    let mut header = vec!["largest leak".to_owned()];
    header.extend((1..=answer.steps.len()).map(|number| number.to_string()));
    table.set_header(header);
    for (row, IfToBlame { part, cause, .. }) in first.if_to_blame.iter().enumerate() {
        let mut cells = vec![named_leak(part, *cause)];
        for step in &answer.steps {
            cells.push(digits(step.if_to_blame[row].ratio.median, 2));
        }
        table.add_row(cells);
    }
    let columns: Vec<usize> = (1..=answer.steps.len()).collect();
    right_columns(&mut table, &columns);
    Some(table.trim_fmt())
}
