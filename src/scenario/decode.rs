//! From text to the types of `schema`, and where in the text a mistake is.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};
use toml_parser::Source;
use toml_parser::lexer::TokenKind;

use super::error::{Blame, MarkedLine, Problem, ScenarioError};
use super::from_toml::FromToml;
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

    pub(super) fn missing(span: Range<usize>, key: &str) -> Self {
        let missing = key.to_owned();
        Self::at(span, Problem::MissingKey { missing })
    }

    pub(super) fn out_of_range(span: Range<usize>, allowed: impl Into<String>) -> Self {
        let allowed = allowed.into();
        Self::at(span, Problem::OutOfRange { allowed })
    }

    /// With the line of the scenario that it is about, which its message calls "this line" in place of a key.
    #[cfg(feature = "cli")]
    pub(super) fn place_alone(self, file: &str, text: &str) -> ScenarioError {
        match self {
            Self::Here(problem, Some(span)) => {
                let line = Blame::Line(MarkedLine::of(file, text, &span));
                ScenarioError::new(problem, None, None, line)
            }
            other => other.place(file, text),
        }
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
    let table = DeTable::parse(text).map_err(|error| {
        let why = error.message().to_owned();
        Fault::Here(Problem::Syntax { why }, error.span())
    })?;
    if table.get_ref().is_empty() {
        return Err(Fault::Here(Problem::Empty, None));
    }
    let span = table.span();
    ScenarioFile::from_toml(&Spanned::new(span, DeValue::Table(table.into_inner())))
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

/// A key in the document.
struct FoundKey {
    /// Its dotted path; places in arrays are left out.
    path: String,
    /// Whether what stands there is one number, text or word.
    scalar: bool,
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
