//! Lessons for people.

use std::fmt::Write;

use super::{BOLD, plain};
use crate::output::CAUTION;
use crate::output::lesson::{LessonRead, found};

/// The lessons that there are: number, title and question. Styled as [`scale`](super::scale).
#[must_use]
pub fn lesson_list<'a>(lessons: impl Iterator<Item = (&'a str, &'a str)>, brief: bool) -> String {
    let mut text = format!("{BOLD}Lessons{BOLD:#}\n");
    for (k, (title, question)) in lessons.enumerate() {
        let _ = writeln!(text, " {}  {title}\n    {question}", k + 1);
    }
    if !brief {
        let _ = writeln!(
            text,
            "\npolstack lessons 1 shows the first of them with its answer; polstack lessons --out DIR writes all as a booklet, as scenarios and as links for the live page."
        );
    }
    text
}

/// One lesson with its answer; `brief` leaves out the caution.
#[must_use]
pub fn lesson(read: &LessonRead, brief: bool) -> String {
    let mut text = format!("{BOLD}{}{BOLD:#}\n", read.title);
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("Question: {}", read.lesson.question));
    for (k, step) in read.lesson.steps.iter().enumerate() {
        line(&format!(" {}. {step}", k + 1));
    }
    line(&format!("See: {}", read.lesson.see));
    line("");
    line(&tries(read));
    line("");
    line(&format!("Answer: {}", read.lesson.answer));
    if !brief {
        line(CAUTION);
    }
    text
}

fn tries(read: &LessonRead) -> String {
    let mut table = plain();
    let first = read.tries.first().map(|(_, answer)| &answer.findings);
    let heads = first.into_iter().flatten().map(|finding| found(finding).0);
    table.set_header(std::iter::once("try").chain(heads));
    for (name, answer) in &read.tries {
        let cells = answer.findings.iter().map(|finding| found(finding).1);
        table.add_row(std::iter::once(name.clone()).chain(cells));
    }
    table.trim_fmt()
}
