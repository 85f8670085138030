//! The lesson that a scenario may carry: a question, what to do, what to see, the answer, and the scenario as it is to be tried.

mod written;

use std::ops::Range;

use super::decode::Fault;
use super::error::Problem;
use super::located::{Limited, Located, NameOr};
use super::parts::fit_to_print;
#[cfg(feature = "cli")]
use super::{
    Files, Scenario, ScenarioError,
    edit::{Edit, edited},
    parse,
};
use crate::light_path::LightPath;
use crate::study::lesson::LessonReading;

pub(super) use written::LessonTable;
use written::{LessonSetTable, LessonTryTable};

/// Most characters of a text of a lesson, and of the name of a try.
const MOST_TEXT: usize = 1000;
const MOST_NAME: usize = 60;
/// Most steps, readings, tries, and changes of a try.
const MOST_STEPS: usize = 12;
const MOST_READINGS: usize = 4;
const MOST_TRIES: usize = 10;
const MOST_CHANGES: usize = 10;
/// What the lamp and the iris are called among the parts that a class may change.
const LAMP: &str = "lamp";

/// A lesson.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    /// The question.
    pub question: String,
    /// What to do, step by step.
    pub steps: Vec<String>,
    /// What to look at meanwhile.
    pub see: String,
    /// The answer.
    pub answer: String,
    /// Names of the parts that a class may change; `None` for all.
    pub may_change: Option<Vec<String>>,
    /// What is read in each try.
    pub readings: Vec<LessonReading>,
    /// The scenario as it is to be tried, at least once.
    pub tries: Vec<LessonTry>,
}

/// One try.
#[derive(Debug, Clone, PartialEq)]
pub struct LessonTry {
    /// What is tried, in a few words.
    pub name: String,
    /// What is changed for it.
    pub changes: Vec<LessonChange>,
    /// Where each change is written, in bytes of the scenario's text.
    pub written_at: Vec<Range<usize>>,
}

/// One change of the scenario; parts are told by their place, counted from 0.
#[derive(Debug, Clone, PartialEq)]
pub enum LessonChange {
    /// A key is set.
    Set {
        /// The part that has it; `None` for a key of the scenario itself.
        part: Option<usize>,
        /// The key, with points between its steps.
        key: String,
        /// What it is set to.
        to: LessonValue,
    },
    /// A key is taken out.
    Unset {
        /// The part that has it; `None` for a key of the scenario itself.
        part: Option<usize>,
        /// The key, with points between its steps.
        key: String,
    },
    /// A part is turned.
    Turn {
        /// The part.
        part: usize,
        /// By so many degrees, counter-clockwise.
        degrees: f64,
    },
    /// A part is taken out.
    Out {
        /// The part.
        part: usize,
    },
    /// A part is put elsewhere.
    Move {
        /// The part.
        part: usize,
        /// Its place among the others.
        to: usize,
    },
}

/// What a key is set to.
#[derive(Debug, Clone, PartialEq)]
pub enum LessonValue {
    /// A number.
    Number(f64),
    /// A name.
    Word(String),
}

/// A lesson as it is written, checked against the parts that there are.
pub(super) fn read(written: &LessonTable, path: &LightPath) -> Result<Lesson, Fault> {
    let text = |words: &Located<String>| printed(words, MOST_TEXT);
    let steps = within(&written.r#do, 1, MOST_STEPS)?;
    let readings = within(&written.show, 1, MOST_READINGS)?;
    let may_change = (written.may_change.as_ref())
        .map(|names| {
            (names.iter())
                .map(|name| match name.get().as_str() {
                    LAMP => Ok(LAMP.to_owned()),
                    _ => part_of(name, path).map(|_| name.get().clone()),
                })
                .collect()
        })
        .transpose()?;
    let tries = match &written.r#try {
        None => vec![LessonTry {
            name: "as written".to_owned(),
            changes: Vec::new(),
            written_at: Vec::new(),
        }],
        Some(tries) => (within(tries, 1, MOST_TRIES)?.iter())
            .map(|one| read_try(one, path))
            .collect::<Result<_, _>>()?,
    };
    Ok(Lesson {
        question: text(&written.question)?,
        steps: steps.iter().map(text).collect::<Result<_, _>>()?,
        see: text(&written.see)?,
        answer: text(&written.answer)?,
        may_change,
        readings: readings.iter().map(reading).collect::<Result<_, _>>()?,
        tries,
    })
}

fn printed(words: &Located<String>, most: usize) -> Result<String, Fault> {
    fit_to_print(words.get(), words.span(), most).map(str::to_owned)
}

/// What a list holds, where that is as many as is allowed.
fn within<T>(list: &Located<Vec<T>>, least: usize, most: usize) -> Result<&[T], Fault> {
    let count = list.get().len();
    match (least..=most).contains(&count) {
        true => Ok(list.get()),
        false => Err(Fault::refused(
            list.span(),
            format!("holds {count} of them"),
            format!("allowed: {least} to {most}"),
        )),
    }
}

fn unknown(span: Range<usize>, what: &'static str, known: &[&str]) -> Fault {
    let known = known.iter().map(|name| (*name).to_owned()).collect();
    Fault::at(span, Problem::UnknownName { what, known })
}

fn reading(word: &Located<String>) -> Result<LessonReading, Fault> {
    let found = LessonReading::ALL
        .iter()
        .find(|(name, _)| name == word.get());
    found.map(|(_, reading)| *reading).ok_or_else(|| {
        let names = LessonReading::ALL.map(|(name, _)| name);
        unknown(word.span(), "reading of a lesson", &names)
    })
}

/// The place of the part of this name.
fn part_of(name: &Located<String>, path: &LightPath) -> Result<usize, Fault> {
    let names: Vec<&str> = path.parts.iter().map(|part| part.name.as_str()).collect();
    (names.iter().position(|other| other == name.get()))
        .ok_or_else(|| unknown(name.span(), "part of this scenario", &names))
}

fn read_try(written: &LessonTryTable, path: &LightPath) -> Result<LessonTry, Fault> {
    let set = match &written.set {
        None => &[],
        Some(set) => within(set, 0, MOST_CHANGES)?,
    };
    let changes = set.iter().map(|change| read_change(change, path));
    Ok(LessonTry {
        name: printed(&written.name, MOST_NAME)?,
        changes: changes.collect::<Result<_, _>>()?,
        written_at: set.iter().map(Located::span).collect(),
    })
}

fn read_change(written: &Located<LessonSetTable>, path: &LightPath) -> Result<LessonChange, Fault> {
    let change = written.get();
    let part = (change.part.as_ref())
        .map(|name| part_of(name, path))
        .transpose()?;
    let beside = match (&change.above, &change.below) {
        (None, None) => None,
        (Some(other), None) => Some((part_of(other, path)?, 1)),
        (None, Some(other)) => Some((part_of(other, path)?, 0)),
        (Some(_), Some(_)) => return Err(not_one(written)),
    };
    let turn_deg = change.turn_deg.map(Limited::value);
    let out = change.out == Some(true);
    match (part, &change.key, &change.to, turn_deg, out, beside) {
        (part, Some(key), Some(to), None, false, None) => Ok(LessonChange::Set {
            part,
            key: key.clone(),
            to: match to {
                NameOr::Name(word) => LessonValue::Word(word.clone()),
                NameOr::Other(number) => LessonValue::Number(number.value()),
            },
        }),
        (part, Some(key), None, None, true, None) => Ok(LessonChange::Unset {
            part,
            key: key.clone(),
        }),
        (Some(part), None, None, Some(degrees), false, None) => {
            Ok(LessonChange::Turn { part, degrees })
        }
        (Some(part), None, None, None, true, None) => Ok(LessonChange::Out { part }),
        (Some(part), None, None, None, false, Some((other, after))) if other != part => {
            Ok(LessonChange::Move {
                part,
                // The place among the parts that are left when it is away.
                to: other + after - usize::from(other > part),
            })
        }
        _ => Err(not_one(written)),
    }
}

fn not_one(written: &Located<LessonSetTable>) -> Fault {
    Fault::refused(
        written.span(),
        "is not one change",
        "allowed: { key, to }, { part, key, to }, { part, turn_deg }, { part, out = true }, { part, key, out = true }, { part, above } or { part, below }",
    )
}

/// The scenario of each try, with its name.
///
/// # Errors
/// [`ScenarioError`] where the text cannot be read, a change cannot be made in it, or what comes out of it cannot be read.
///
/// Checked by: `tests/cli/lessons.rs`.
#[cfg(feature = "cli")]
pub fn lesson_scenes(
    text: &str,
    file_name: &str,
    files: &dyn Files,
) -> Result<Vec<(String, Scenario)>, ScenarioError> {
    let lesson = parse(text, file_name, files)?.lesson;
    let tries = lesson.into_iter().flat_map(|lesson| lesson.tries);
    tries
        .map(|one| {
            let scene = tried(text, file_name, files, &one, one.changes.len());
            let scene = scene.map_err(|wrong| {
                // The change to blame is the first one after which it is wrong in this way.
                let blamed = (1..=one.changes.len()).find(|count| {
                    let so_far = tried(text, file_name, files, &one, *count);
                    so_far.err().as_ref() == Some(&wrong)
                });
                let at = blamed.and_then(|count| one.written_at.get(count - 1).cloned());
                Fault::Here(wrong, at).place_alone(file_name, text)
            });
            Ok((one.name, scene?))
        })
        .collect()
}

/// The scenario of a try after the first changes of it, or what is wrong with it.
#[cfg(feature = "cli")]
fn tried(
    text: &str,
    file_name: &str,
    files: &dyn Files,
    one: &LessonTry,
    changes: usize,
) -> Result<Scenario, Problem> {
    let name = &one.name;
    let wrong = |why: String, remedy: String| Problem::Refused { why, remedy };
    let changed = edited(text, &edits(&one.changes[..changes])).map_err(|_| {
        let why =
            format!("cannot be made in the try \"{name}\": the scenario has no place for this key");
        wrong(
            why,
            "write the key as it stands in the scenario, with points between; profiles of strain are counted from 0: strain.0.radial.edge_nm".to_owned(),
        )
    })?;
    parse(&changed, file_name, files).map_err(|error| {
        let why = format!("makes the try \"{name}\" wrong: {}", error.message());
        wrong(why, error.advice().unwrap_or_default())
    })
}

/// Changes in an order in which each finds the parts where it was told them: those that move parts come last, from the last part to the first.
#[cfg(feature = "cli")]
fn edits(changes: &[LessonChange]) -> Vec<Edit> {
    use super::edit::Step;
    // What the lesson says is of the scenario as it is written: its parts may be gone now.
    let bare = Edit::Value {
        path: vec![Step::Key("lesson".to_owned())],
        value: None,
        remove: true,
    };
    let mut all: Vec<(usize, Edit)> = changes.iter().map(edit).collect();
    all.sort_by_key(|(last, _)| *last);
    let edits = all.into_iter().map(|(_, edit)| edit);
    std::iter::once(bare).chain(edits).collect()
}

/// The steps to a key of a part, or of the scenario itself.
#[cfg(feature = "cli")]
fn way_to(part: Option<usize>, key: &str) -> Vec<super::edit::Step> {
    use super::edit::Step;
    let way = part.map(|part| [Step::Key("part".to_owned()), Step::Place(part)]);
    let steps = key.split('.').map(|step| match step.parse() {
        Ok(place) => Step::Place(place),
        Err(_) => Step::Key(step.to_owned()),
    });
    way.into_iter().flatten().chain(steps).collect()
}

/// A change, and where it stands in the order.
#[cfg(feature = "cli")]
fn edit(change: &LessonChange) -> (usize, Edit) {
    match change {
        LessonChange::Set { part, key, to } => {
            let edit = Edit::Value {
                path: way_to(*part, key),
                value: Some(match to {
                    LessonValue::Number(number) => (*number).into(),
                    LessonValue::Word(word) => word.as_str().into(),
                }),
                remove: false,
            };
            (0, edit)
        }
        LessonChange::Unset { part, key } => {
            let edit = Edit::Value {
                path: way_to(*part, key),
                value: None,
                remove: true,
            };
            (0, edit)
        }
        LessonChange::Turn { part, degrees } => {
            let edit = Edit::Part {
                part: *part,
                turn_deg: Some(*degrees),
                move_to: None,
                remove: false,
            };
            (0, edit)
        }
        LessonChange::Move { part, to } => (1, Edit::move_part(*part, *to)),
        LessonChange::Out { part } => (usize::MAX - part, Edit::remove_part(*part)),
    }
}
