//! From text to the types of `schema`, and from what the TOML and serde libraries say to a located problem.

use std::ops::Range;

use serde::Deserialize;
use toml::de::{DeTable, DeValue, Deserializer};
use toml_parser::Source;
use toml_parser::lexer::TokenKind;

use super::error::{Blame, MarkedLine, Problem, ScenarioError};
use super::lesson::WrittenLesson;
use super::located::OUT_OF_RANGE;
use super::schema::ScenarioFile;

/// Most names that one dotted key or header may join.
const DEEPEST_KEY: usize = 16;

/// A mistake before file name and text are added to it, which its message shows.
#[derive(Debug)]
pub(super) enum Fault {
    /// In the scenario: as a whole, or at a place in bytes.
    Here(Problem, Option<Range<usize>>),
    /// In another file.
    Elsewhere(ScenarioError),
}

impl Fault {
    pub(super) fn at(span: Range<usize>, problem: Problem) -> Self {
        Self::Here(problem, Some(span))
    }

    pub(super) fn refused(
        span: Range<usize>,
        why: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        let (why, remedy) = (why.into(), remedy.into());
        Self::at(span, Problem::Refused { why, remedy })
    }

    pub(super) fn out_of_range(span: Range<usize>, allowed: impl Into<String>) -> Self {
        let allowed = allowed.into();
        Self::at(span, Problem::OutOfRange { allowed })
    }

    /// With the line of the scenario that it is about.
    pub(super) fn place(self, file: &str, text: &str) -> ScenarioError {
        let (problem, span) = match self {
            Self::Elsewhere(error) => return error,
            Self::Here(problem, span) => (problem, span),
        };
        let Some(span) = span else {
            return ScenarioError::new(problem, None, None, Blame::File(file.to_owned()));
        };
        let found = find(text, &span);
        // A table is no value to print, and for a missing key the table is all that there is.
        let prints = !matches!(
            problem,
            Problem::UnknownKey { .. } | Problem::MissingKey { .. }
        );
        let value = match &found {
            Some(found) if prints && found.scalar => text.get(span.clone()).map(str::to_owned),
            _ => None,
        };
        let problem = match problem {
            // The library hands a date on as a table.
            Problem::WrongType { expected, .. } if found.as_ref().is_some_and(|f| f.date) => {
                let found = "a date".into();
                Problem::WrongType { found, expected }
            }
            other => other,
        };
        let key = found.map(|found| found.path);
        ScenarioError::new(
            problem,
            key,
            value,
            Blame::Line(MarkedLine::of(file, text, &span)),
        )
    }
}

/// Reads a scenario's text.
pub(super) fn decode(text: &str) -> Result<ScenarioFile, Fault> {
    if let Some(span) = too_deep(text) {
        let why = "joins too many names with dots";
        let remedy = format!("allowed: at most {DEEPEST_KEY} in one key");
        return Err(Fault::refused(span, why, remedy));
    }
    let mut table = DeTable::parse(text).map_err(|error| {
        let why = error.message().to_owned();
        Fault::Here(Problem::Syntax { why }, error.span())
    })?;
    if table.get_ref().is_empty() {
        return Err(Fault::Here(Problem::Empty, None));
    }
    let lesson = (table.get_mut().remove("lesson"))
        .map(|lesson| WrittenLesson::of(&lesson))
        .transpose()?;
    let file: ScenarioFile =
        Deserialize::deserialize(Deserializer::from(table)).map_err(|error| interpret(&error))?;
    Ok(ScenarioFile {
        taken_lesson: lesson,
        ..file
    })
}

/// The first dotted key with too many names.
///
/// The TOML library bounds how deep arrays and inline tables nest, not how deep dotted keys do; without this a
/// megabyte of `a.a.a` would overflow the stack.
fn too_deep(text: &str) -> Option<Range<usize>> {
    let mut dots = 0;
    for token in Source::new(text).lex() {
        match token.kind() {
            TokenKind::Dot => dots += 1,
            TokenKind::Equals
            | TokenKind::Comma
            | TokenKind::LeftSquareBracket
            | TokenKind::LeftCurlyBracket
            | TokenKind::Newline => dots = 0,
            _ => {}
        }
        if dots >= DEEPEST_KEY {
            return Some(token.span().start()..token.span().end());
        }
    }
    None
}

/// What serde says, in our own words. Its messages have a fixed form, which is the only thing about an unknown or missing
/// key that it passes on; an unfamiliar one is passed on whole.
fn interpret(error: &toml::de::Error) -> Fault {
    let message = error.message();
    let span = error.span().filter(|span| !span.is_empty());
    let problem = if let Some(allowed) = message.strip_prefix(OUT_OF_RANGE) {
        Problem::OutOfRange {
            allowed: allowed.to_owned(),
        }
    } else if message.ends_with("number overflowed") {
        Problem::OutOfRange {
            allowed: "a number that 64 bits can hold".into(),
        }
    } else if message.starts_with("unknown field `$__toml") {
        // A date, which the library hands on as a table with a secret key.
        wrong_type("map", "anything but a date")
    } else if message.starts_with("unknown field ") {
        Problem::UnknownKey {
            allowed: quoted(expected(message)),
        }
    } else if let Some(missing) = message.strip_prefix("missing field ") {
        Problem::MissingKey {
            missing: missing.trim_matches('`').to_owned(),
        }
    } else if message.starts_with("unknown variant ") {
        Problem::UnknownName {
            what: "word that is known here",
            known: quoted(expected(message)),
        }
    } else if let Some(found) = message.strip_prefix("invalid type: ") {
        wrong_type(found, expected(message))
    } else if message == "wanted string or table" {
        wrong_type("other", "a word in quotes")
    } else {
        Problem::Refused {
            why: "cannot be used".into(),
            remedy: message.to_owned(),
        }
    };
    Fault::Here(problem, span)
}

/// What serde's message says is expected. What was found stands before it and may hold anything.
fn expected(message: &str) -> &str {
    message
        .rsplit_once(", expected ")
        .map_or("something else", |(_, expected)| expected)
}

fn quoted(list: &str) -> Vec<String> {
    list.split('`')
        .skip(1)
        .step_by(2)
        .map(str::to_owned)
        .collect()
}

pub(super) fn wrong_type(found: &str, expected: &str) -> Problem {
    let found = [
        ("string", "text"),
        ("integer", "a whole number"),
        ("floating point", "a number"),
        ("boolean", "a boolean"),
        ("map", "a table"),
        ("sequence", "an array"),
    ]
    .into_iter()
    .find(|(word, _)| found.starts_with(word))
    .map_or("of the wrong type", |(_, plain)| plain);
    let expected = match expected {
        "a sequence" => "an array: [ ], or a [[ ]] header for each table",
        "a string" => "text in quotes",
        "a table" => "a table in { }",
        other => other,
    };
    Problem::WrongType {
        found: found.into(),
        expected: expected.into(),
    }
}

/// A key in the document.
struct FoundKey {
    /// Its dotted path; places in arrays are left out.
    path: String,
    /// Whether what stands there is one number, text or word.
    scalar: bool,
    date: bool,
}

/// The key that stands at a place, or whose value does.
fn find(text: &str, span: &Range<usize>) -> Option<FoundKey> {
    if too_deep(text).is_some() {
        return None;
    }
    let table = DeTable::parse(text).ok()?;
    let mut path = Vec::new();
    let value = descend(table.get_ref(), span, &mut path)?;
    Some(FoundKey {
        path: path.join("."),
        scalar: !matches!(value, DeValue::Table(_) | DeValue::Array(_)),
        date: value.is_datetime(),
    })
}

fn descend<'t, 'i>(
    table: &'t DeTable<'i>,
    span: &Range<usize>,
    path: &mut Vec<&'t str>,
) -> Option<&'t DeValue<'i>> {
    for (key, value) in table {
        path.push(key.get_ref());
        let found = if key.span() == *span || value.span() == *span {
            Some(value.get_ref())
        } else {
            descend_value(value.get_ref(), span, path)
        };
        if found.is_some() {
            return found;
        }
        path.pop();
    }
    None
}

fn descend_value<'t, 'i>(
    value: &'t DeValue<'i>,
    span: &Range<usize>,
    path: &mut Vec<&'t str>,
) -> Option<&'t DeValue<'i>> {
    match value {
        DeValue::Table(table) => descend(table, span, path),
        DeValue::Array(items) => items.iter().find_map(|item| {
            if item.span() == *span {
                Some(item.get_ref())
            } else {
                descend_value(item.get_ref(), span, path)
            }
        }),
        _ => None,
    }
}
