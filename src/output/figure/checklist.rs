//! A checklist of readings as a sheet for the bench: what to do, room to write down what is read, and what to expect.

use super::look::*;
use super::print::{Held, Paper, PaperSize, printed};
use crate::output::CAUTION;
use crate::output::findings::{
    PHOTOGRAPH_RULES, among_leaks, before_any_reading, chance, named_leak, takes_photographs,
    worth_words,
};
use crate::output::numbers::{digits, supported};
use crate::study::fit::Checklist;

/// Room at the sides, and types.
const SIDE: f64 = 40.0;
const TEXT: Type = BODY.sized(9.0);
const SMALL: Type = SOFT.sized(7.5);
const LEADING: f64 = 12.0;
/// Left edges of the columns: number, what to do, expected, parallel, crossed, note; then the right edge.
const COLUMNS: [f64; 7] = [SIDE, 58.0, 262.0, 322.0, 394.0, 466.0, 555.0];
const HEADS: [&str; 6] = [
    "",
    "What to do",
    "Expect",
    "Parallel",
    "Polars as set",
    "Note",
];
const ROW: f64 = 36.0;
const DPI: u32 = 150;

/// The sheet "checklist", A4 upright; `freed_only`: some unknown numbers alone were freed.
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn checklist_figure(
    title: &str,
    answer: &Checklist,
    freed_only: bool,
) -> Result<Figure, FigureError> {
    let (size, dpi) = (PaperSize::A4, DPI);
    let paper = Paper { size, dpi };
    let (sideways, own_size) = (false, false);
    let held = Held { sideways, own_size };
    printed("checklist", title, paper, held, |sheet| {
        let y = head(sheet, title, answer, freed_only);
        let y = rows(sheet, answer, y);
        let y = culprits(sheet, answer, y + 26.0);
        foot(sheet, answer, y + 16.0);
    })
}

/// A paragraph from the top at `y`; gives back where it ends.
fn paragraph(sheet: &Sheet, words: &str, (x, y): Point, room: f64, set: Type) -> f64 {
    sheet.paragraph(words, (x, y), (LEADING / TEXT.size * set.size, room), set)
}

fn head(sheet: &Sheet, title: &str, answer: &Checklist, freed_only: bool) -> f64 {
    let room = sheet.size.0 - 2.0 * SIDE;
    let y = paragraph(sheet, title, (SIDE, 36.0), room, TEXT.sized(16.0).bold());
    let words = "Which part is to blame for the light that leaks: what to read, in this order";
    let y = paragraph(sheet, words, (SIDE, y + 2.0), room, TEXT.sized(11.0));
    let decided = answer.steps.last().map_or(0.0, |last| last.decided);
    let words = format!(
        "{}{}. These readings are expected to decide it in {} of such stands. What a line does not name is as in the file: set it back. Read parallel light (analyzer turned to the lower polar's azimuth, no plate) at every iris, lamp and state of the stand that you read crossed light at. Keep the lamp as it is within a line; subtract the dark value; write both in one unit.",
        before_any_reading(freed_only),
        among_leaks(&answer.before),
        chance(decided)
    );
    let y = paragraph(sheet, &words, (SIDE, y + 6.0), room, TEXT);
    let y = match takes_photographs(answer) {
        true => paragraph(sheet, PHOTOGRAPH_RULES, (SIDE, y + 3.0), room, TEXT),
        false => y,
    };
    let words = "Dim the lamp before polars are uncrossed or a sheet is lifted.";
    let y = paragraph(sheet, words, (SIDE, y + 3.0), room, TEXT.bold());
    let line = "Dark value ____________     unit ____________     lamp ____________     read by ____________     day ____________";
    sheet.fitted(line, (SIDE, y + 18.0), room, TEXT);
    y + 34.0
}

fn rows(sheet: &Sheet, answer: &Checklist, top: f64) -> f64 {
    let (left, right) = (COLUMNS[0], COLUMNS[6]);
    for (head, x) in HEADS.iter().zip(COLUMNS) {
        // No column that has a head is narrower than this.
        sheet.fitted(head, (x + 4.0, top + 8.0), 66.0, TEXT.bold());
    }
    let mut y = top + 17.0;
    let rule = Pen::full(FRAME, 0.6);
    sheet.line(&[(left, y), (right, y)], rule);
    for (number, step) in answer.steps.iter().enumerate() {
        let room = COLUMNS[2] - COLUMNS[1] - 10.0;
        let words = match step.worth {
            None => step.words.clone(),
            Some(worth) => format!(
                "Photograph the back focal plane. {}. Alone it tells {}.",
                step.words,
                worth_words(worth)
            ),
        };
        let lines = sheet.wrapped(&words, room, TEXT);
        let height = ROW.max(LEADING * lines.len() as f64 + 10.0);
        let middle = y + 0.5 * height;
        sheet.text(&(number + 1).to_string(), (left + 4.0, middle), TEXT.bold());
        sheet.block(&lines, (COLUMNS[1] + 4.0, middle), (LEADING, room), TEXT);
        let [median, low, high] = [step.ratio.median, step.ratio.low, step.ratio.high]
            .map(|value| supported(value, step.ratio.low, step.ratio.high));
        let expect = [median, format!("{low} to {high}")];
        let room = COLUMNS[3] - COLUMNS[2] - 8.0;
        sheet.block(&expect, (COLUMNS[2] + 4.0, middle), (LEADING, room), TEXT);
        if step.worth.is_some() {
            for column in [3, 4] {
                for (line, words) in ["file", "seconds"].iter().enumerate() {
                    let at = (COLUMNS[column] + 4.0, middle - 6.0 + LEADING * line as f64);
                    sheet.text(words, at, SMALL);
                }
            }
        }
        y += height;
        sheet.line(&[(left, y), (right, y)], rule);
    }
    for x in &COLUMNS[3..] {
        sheet.line(&[(*x, top + 17.0), (*x, y)], rule);
    }
    y
}

/// What each reading would be, for those that may be to blame.
fn culprits(sheet: &Sheet, answer: &Checklist, top: f64) -> f64 {
    let first = answer.steps.first();
    let Some(first) = first.filter(|step| step.if_to_blame.len() > 1) else {
        return top - 20.0;
    };
    let words = "Parallel over crossed light, if the largest leak is (middle of such stands):";
    sheet.text(words, (SIDE, top), TEXT.bold());
    let (from, column) = (190.0, (COLUMNS[6] - 190.0) / answer.steps.len() as f64);
    let mut y = top + 16.0;
    let right_of = |number: usize| from + column * (number as f64 + 1.0) - 4.0;
    for number in 0..answer.steps.len() {
        let words = (number + 1).to_string();
        sheet.text(&words, (right_of(number), y), TEXT.bold().right());
    }
    for (row, culprit) in first.if_to_blame.iter().enumerate() {
        y += 14.0;
        let ends = [(SIDE, y - 7.0), (COLUMNS[6], y - 7.0)];
        sheet.line(&ends, Pen::full(GRID, 0.5));
        let words = named_leak(&culprit.part, culprit.cause);
        sheet.fitted(&words, (SIDE, y), from - SIDE, TEXT);
        for (number, step) in answer.steps.iter().enumerate() {
            let ratio = digits(step.if_to_blame[row].ratio.median, 2);
            sheet.text(&ratio, (right_of(number), y), TEXT.right());
        }
    }
    y
}

fn foot(sheet: &Sheet, answer: &Checklist, y: f64) {
    let room = sheet.size.0 - 2.0 * SIDE;
    let words = format!(
        "Expect: the middle of {} stands drawn from what is known before any reading, and where 90 % of them lie; all is parallel over crossed light. Then type the readings into the CSV beside this sheet (its column \"reading\" is for what you read with the polars as set) and run polstack fit.",
        answer.draws
    );
    let y = paragraph(sheet, &words, (SIDE, y), room, SMALL);
    paragraph(sheet, CAUTION, (SIDE, y + 3.0), room, SMALL);
}
