//! The lesson that a scenario may carry: a question, what to do, what to see, the answer, and the scenario as it is to be tried.

use super::decode::Fault;
use super::error::Problem;
use super::located::{Located, NameOr};
use super::parts::printable;
use super::schema::{LessonSetTable, LessonTable, LessonTryTable, ReadingWord};
#[cfg(feature = "cli")]
use super::{
    Files, Scenario, ScenarioError,
    edit::{Edit, edited},
    error::Blame,
    parse,
};
use crate::light_path::LightPath;
use crate::study::lesson::LessonReading;

/// Most characters of a text of a lesson, and of the name of a try.
const MOST_TEXT: usize = 1000;
const MOST_NAME: usize = 60;
/// Most steps, tries, and changes of a try.
const MOST_STEPS: usize = 12;
const MOST_TRIES: usize = 10;
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
pub(super) fn read(table: &LessonTable, path: &LightPath) -> Result<Lesson, Fault> {
    let text = |text: &Located<String>| printable(text, MOST_TEXT).map(str::to_owned);
    let steps = listed(&table.r#do, 1, MOST_STEPS)?;
    let readings = listed(&table.show, 1, 4)?;
    let may_change = (table.may_change.as_ref())
        .map(|names| {
            let names = names.get().iter();
            names
                .map(|name| match name.get().as_str() {
                    LAMP => Ok(LAMP.to_owned()),
                    _ => part_of(name, path).map(|_| name.get().clone()),
                })
                .collect()
        })
        .transpose()?;
    let tries = match &table.r#try {
        None => vec![LessonTry {
            name: "as written".to_owned(),
            changes: Vec::new(),
        }],
        Some(tries) => (listed(tries, 1, MOST_TRIES)?.iter())
            .map(|one| read_try(one, path))
            .collect::<Result<_, _>>()?,
    };
    Ok(Lesson {
        question: text(&table.question)?,
        steps: steps.iter().map(text).collect::<Result<_, _>>()?,
        see: text(&table.see)?,
        answer: text(&table.answer)?,
        may_change,
        readings: readings.iter().map(|word| reading(*word.get())).collect(),
        tries,
    })
}

/// What a list holds, where that is as many as is allowed.
fn listed<T>(list: &Located<Vec<T>>, least: usize, most: usize) -> Result<&[T], Fault> {
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

fn reading(word: ReadingWord) -> LessonReading {
    match word {
        ReadingWord::Light => LessonReading::Light,
        ReadingWord::Passed => LessonReading::Passed,
        ReadingWord::ExtinctionRatio => LessonReading::ExtinctionRatio,
        ReadingWord::Color => LessonReading::Color,
        ReadingWord::ColorWithPlate => LessonReading::ColorWithPlate,
        ReadingWord::State => LessonReading::State,
        ReadingWord::Cross => LessonReading::Cross,
        ReadingWord::Quadrants => LessonReading::Quadrants,
        ReadingWord::Smallest => LessonReading::Smallest,
        ReadingWord::Blame => LessonReading::Blame,
    }
}

/// The place of the part of this name.
fn part_of(name: &Located<String>, path: &LightPath) -> Result<usize, Fault> {
    let names = || path.parts.iter().map(|part| part.name.as_str());
    names()
        .position(|other| other == name.get())
        .ok_or_else(|| {
            let problem = Problem::UnknownName {
                what: "part of this scenario",
                known: names().map(str::to_owned).collect(),
            };
            Fault::at(name.span(), problem)
        })
}

fn read_try(table: &LessonTryTable, path: &LightPath) -> Result<LessonTry, Fault> {
    let changes = table.set.iter().flatten();
    Ok(LessonTry {
        name: printable(&table.name, MOST_NAME)?.to_owned(),
        changes: changes
            .map(|change| read_change(change, path))
            .collect::<Result<_, _>>()?,
    })
}

fn read_change(written: &Located<LessonSetTable>, path: &LightPath) -> Result<LessonChange, Fault> {
    let table = written.get();
    let part = (table.part.as_ref())
        .map(|name| part_of(name, path))
        .transpose()?;
    let out = table.out.as_ref().filter(|out| *out.get());
    let change = match (part, &table.key, &table.to, &table.turn_deg, out) {
        (part, Some(key), Some(to), None, None) => Some(LessonChange::Set {
            part,
            key: key.get().clone(),
            to: match to.get() {
                NameOr::Name(name) => LessonValue::Word(name.clone()),
                NameOr::Other(number) => LessonValue::Number(number.value()),
            },
        }),
        (Some(part), None, None, Some(degrees), None) => Some(LessonChange::Turn {
            part,
            degrees: degrees.value(),
        }),
        (Some(part), None, None, None, Some(_)) => Some(LessonChange::Out { part }),
        (Some(part), None, None, None, None) => {
            let beside = match (&table.above, &table.below) {
                (Some(above), None) => Some((part_of(above, path)?, 1)),
                (None, Some(below)) => Some((part_of(below, path)?, 0)),
                _ => None,
            };
            beside.map(|(other, after)| LessonChange::Move {
                part,
                // The place among the parts that are left when it is away.
                to: other + after - usize::from(other > part),
            })
        }
        _ => None,
    };
    let place = table.above.is_some() || table.below.is_some();
    let is_move = matches!(change, Some(LessonChange::Move { .. }));
    change.filter(|_| is_move || !place).ok_or_else(|| {
        Fault::refused(
            written.span(),
            "is not one change",
            "allowed: { key, to }, { part, key, to }, { part, turn_deg }, { part, out = true }, { part, above } or { part, below }",
        )
    })
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
            let called = format!("{file_name}, try \"{}\"", one.name);
            let changed = edited(text, &edits(&one.changes)).map_err(|why| {
                let remedy = "write the key as it stands in the scenario, with points between";
                let problem = super::tables::refused(&why, remedy);
                ScenarioError::new(problem, None, None, Blame::File(called.clone()))
            })?;
            Ok((one.name, parse(&changed, &called, files)?))
        })
        .collect()
}

/// Changes in an order in which each finds the parts where it was told them: those that move parts come last, from the last part to the first.
#[cfg(feature = "cli")]
fn edits(changes: &[LessonChange]) -> Vec<Edit> {
    let mut all: Vec<(usize, Edit)> = changes.iter().map(edit).collect();
    all.sort_by_key(|(last, _)| *last);
    all.into_iter().map(|(_, edit)| edit).collect()
}

/// A change, and where it stands in the order.
#[cfg(feature = "cli")]
fn edit(change: &LessonChange) -> (usize, Edit) {
    use super::edit::Step;
    match change {
        LessonChange::Set { part, key, to } => {
            let way = part.map(|part| [Step::Key("part".to_owned()), Step::Place(part)]);
            let steps = key.split('.').map(|step| match step.parse() {
                Ok(place) => Step::Place(place),
                Err(_) => Step::Key(step.to_owned()),
            });
            let edit = Edit::Value {
                path: way.into_iter().flatten().chain(steps).collect(),
                value: Some(match to {
                    LessonValue::Number(number) => (*number).into(),
                    LessonValue::Word(word) => word.as_str().into(),
                }),
                remove: false,
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
