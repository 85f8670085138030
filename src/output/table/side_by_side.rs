//! Stands side by side for people.

use std::fmt::Write;

use super::{BOLD, fraction, plain, ratio, right_columns};
use crate::color::Background;
use crate::output::findings::{DECIDED, chance, named_leak, odds};
use crate::output::numbers::supported;
use crate::output::words::adapted;
use crate::output::{CAUTION, StandNote};
use crate::study::doubt::darker_probability;
use crate::study::predict::Prediction;

/// The answers of several scenarios side by side, and how sure it is which is darker. Styled; the caller strips the style where it is not wanted.
/// `brief` leaves out notes and cautions.
#[must_use]
pub fn side_by_side(answers: &[(String, Prediction)], notes: &[StandNote], brief: bool) -> String {
    let mut text = String::new();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!(
        "{BOLD}Stands side by side{BOLD:#}, by their extinction ratios"
    ));
    line(&stands(answers));
    line("");
    for sentence in darker(answers) {
        line(&sentence);
    }
    if !brief {
        line("");
        for note in notes {
            line(&format!(
                "Note{}: {}",
                of_stands(note, answers.len()),
                note.words
            ));
        }
        if answers.iter().any(|(_, answer)| answer.doubt.is_some()) {
            line(
                "The stands are compared over common draws of what is not known: a number of one name, such as the leak of one catalog sheet, is the same in all of them.",
            );
        }
        if let Some(eye) = eye(answers) {
            line(&eye);
        }
        line(CAUTION);
    }
    text
}

/// Which stands a note is about, where it is not about all.
fn of_stands(note: &StandNote, count: usize) -> String {
    if note.stands.len() == count {
        return String::new();
    }
    let letters: Vec<String> = note.stands.iter().map(|stand| letter(*stand)).collect();
    format!(" on {}", letters.join(", "))
}

/// What the eye is adapted to that sees the colours: the same for all stands, but that a light of nearly one colour cannot be balanced.
fn eye(answers: &[(String, Prediction)]) -> Option<String> {
    let degree = |answer: &Prediction| answer.background.without_plate.adaptation.degree;
    let known = answers.iter().find_map(|(_, answer)| degree(answer));
    let eye = adapted(Some(known?), "the parallel field of each stand");
    Some(format!("Colours are for an eye {eye}."))
}

fn stands(answers: &[(String, Prediction)]) -> String {
    let mut table = plain();
    table.set_header([
        "",
        "as written",
        "middle",
        "90 % between",
        "plate out",
        "plate in",
        "leaks most",
    ]);
    for (number, (title, answer)) in answers.iter().enumerate() {
        let empty = answer.beside_specimen.as_ref();
        let written = empty.map_or(answer.extinction_ratio, |empty| empty.extinction_ratio);
        let drawn = answer.doubt.as_ref().map(|doubt| {
            let ends = &doubt.extinction_ratio;
            let of = |value| supported(value, ends.low, ends.high);
            [
                of(ends.median),
                format!("{} to {}", of(ends.low), of(ends.high)),
            ]
        });
        let [middle, ends] = drawn.unwrap_or_else(|| [ratio(written), "exactly".to_owned()]);
        let field = empty.map_or(&answer.background, |empty| &empty.background);
        let (out, within) = (&field.without_plate, field.with_plate.as_ref());
        let look =
            |field: &Background| format!("{} {}", field.name, fraction(field.relative_luminance));
        let most = answer.leak.shares.first();
        table.add_row([
            format!("{}: {title}", letter(number)),
            ratio(written),
            middle,
            ends,
            look(out),
            within.map_or(String::new(), look),
            most.map_or(String::new(), |share| named_leak(&share.part, share.cause)),
        ]);
    }
    right_columns(&mut table, &[1, 2, 3]);
    table.trim_fmt()
}

/// A, B, C; after Z come numbers.
fn letter(number: usize) -> String {
    match u8::try_from(number) {
        Ok(small) if small < 26 => char::from(b'A' + small).to_string(),
        _ => (number + 1).to_string(),
    }
}

/// Each stand against the first.
fn darker(answers: &[(String, Prediction)]) -> Vec<String> {
    let Some(((_, first), others)) = answers.split_first() else {
        return Vec::new();
    };
    (others.iter().enumerate())
        .map(|(number, (_, other))| {
            let name = letter(number + 1);
            let probability = darker_probability(&other.ratios(), &first.ratios());
            match probability {
                0.5 => format!("{name} is as dark as A."),
                above if above >= DECIDED => format!("{name} is darker than A: {}.", chance(above)),
                below if 1.0 - below >= DECIDED => {
                    format!("A is darker than {name}: {}.", chance(1.0 - below))
                }
                open => format!(
                    "Not decided whether A or {name} is darker: {}.",
                    odds([("A".to_owned(), 1.0 - open), (name.clone(), open)].into_iter())
                ),
            }
        })
        .collect()
}
