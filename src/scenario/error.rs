//! What can be wrong with a scenario, and how it is told: file, line, column, key, value, and what is allowed.

use std::fmt;
use std::ops::Range;

use annotate_snippets::renderer::{AnsiColor, Effects, Style};
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};

use super::remedy::remedy;
use super::schema::where_written;
use super::suggest::{listed, nearest, quoted, shown};
use super::syntax::syntax_hint;
use crate::light_path::PathError;
use crate::material::catalog;

/// A scenario, or a table that it names, that cannot be used.
///
/// Its `Display` is the whole message, of several lines, without colour.
#[derive(Debug, Clone, PartialEq)]
pub struct ScenarioError(Box<Report>);

#[derive(Debug, Clone, PartialEq)]
struct Report {
    problem: Problem,
    /// Dotted path of the key, or name of the column.
    key: Option<String>,
    /// The value as it is written.
    value: Option<String>,
    place: Blame,
}

/// The kinds of mistake.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Problem {
    /// The file cannot be read.
    Unreadable {
        /// The file.
        file: String,
        /// Why.
        why: String,
    },
    /// The file is larger than any that makes sense.
    TooLarge {
        /// What is allowed, bytes.
        most: u64,
    },
    /// The file is not UTF-8.
    NotText,
    /// Nothing is in the file.
    Empty,
    /// It is not TOML.
    Syntax {
        /// What the parser says.
        why: String,
    },
    /// A key that the format does not have.
    UnknownKey {
        /// The keys that may stand there.
        allowed: Vec<String>,
    },
    /// A key that must be there.
    MissingKey {
        /// The key.
        missing: String,
    },
    /// A value of the wrong type.
    WrongType {
        /// What it is.
        found: String,
        /// What it may be.
        expected: String,
    },
    /// A number outside its range.
    OutOfRange {
        /// What it may be.
        allowed: String,
    },
    /// A name that nothing in the catalog or the file has.
    UnknownName {
        /// What kind of thing it should name.
        what: &'static str,
        /// The names that there are.
        known: Vec<String>,
    },
    /// Anything else that cannot be: keys that exclude each other, a table that does not cover the wavelengths.
    Refused {
        /// What is wrong.
        why: String,
        /// What to do.
        remedy: String,
    },
    /// A stack that cannot be run.
    Path(PathError),
}

/// Where the mistake is.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Blame {
    /// The file as a whole.
    File(String),
    /// A line of it.
    Line(MarkedLine),
}

/// One line of a file and the stretch of it that is to blame.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct MarkedLine {
    file: String,
    /// Counted from 1.
    line: usize,
    /// In characters, counted from 1.
    column: usize,
    text: String,
    /// In bytes of `text`.
    mark: Range<usize>,
}

impl MarkedLine {
    /// The line of `text` in which `span` begins.
    pub(super) fn of(file: &str, text: &str, span: &Range<usize>) -> Self {
        let start = floor(text, span.start);
        let end = floor(text, span.end.max(start));
        let from = text[..start].rfind('\n').map_or(0, |newline| newline + 1);
        let line = 1 + text[..from].matches('\n').count();
        Self::within(file, line, &text[from..], start - from..end - from)
    }

    /// From a line's number and a text that begins with it.
    pub(super) fn within(file: &str, line: usize, text: &str, mark: Range<usize>) -> Self {
        let text = text.split('\n').next().unwrap_or_default();
        let text = text.trim_end_matches('\r');
        let start = floor(text, mark.start);
        let end = floor(text, mark.end).max(start);
        let column = 1 + text[..start].chars().count();
        Self {
            file: file.to_owned(),
            line,
            column,
            text: text.to_owned(),
            mark: start..end,
        }
    }
}

/// The last character boundary that is not above `at`.
fn floor(text: &str, at: usize) -> usize {
    let at = at.min(text.len());
    (0..=at)
        .rev()
        .find(|&i| text.is_char_boundary(i))
        .unwrap_or(0)
}

impl ScenarioError {
    pub(super) fn new(
        problem: Problem,
        key: Option<String>,
        value: Option<String>,
        place: Blame,
    ) -> Self {
        Self(Box::new(Report {
            problem,
            key,
            value,
            place,
        }))
    }

    /// What is wrong.
    #[must_use]
    pub fn problem(&self) -> &Problem {
        &self.0.problem
    }

    /// The file that is wrong: the scenario, or a table that it names.
    #[must_use]
    pub fn file(&self) -> &str {
        match &self.0.place {
            Blame::File(file) => file,
            Blame::Line(line) => &line.file,
        }
    }

    /// Line and column, counted from 1, the column in characters; `None` where the file as a whole is wrong.
    #[must_use]
    pub fn line_and_column(&self) -> Option<(usize, usize)> {
        match &self.0.place {
            Blame::File(_) => None,
            Blame::Line(line) => Some((line.line, line.column)),
        }
    }

    /// What is wrong, in a sentence.
    #[must_use]
    pub fn message(&self) -> String {
        self.0.title()
    }

    /// What to do instead, where there is something to say.
    #[must_use]
    pub fn advice(&self) -> Option<String> {
        let parts = [Some(self.0.label()), self.0.help()];
        let parts: Vec<String> = parts
            .into_iter()
            .flatten()
            .filter(|part| !part.is_empty())
            .collect();
        (!parts.is_empty()).then(|| parts.join("; "))
    }

    /// Dotted path of the key that is to blame, or the name of the column.
    #[must_use]
    pub fn key(&self) -> Option<&str> {
        self.0.key.as_deref()
    }

    /// The exit status that this calls for: 3 for a file that cannot be read, 2 for wrong input.
    #[must_use]
    pub fn exit_code(&self) -> u8 {
        match self.0.problem {
            Problem::Unreadable { .. } => 3,
            _ => 2,
        }
    }

    /// The whole message, with colour or without.
    #[must_use]
    pub fn render(&self, color: bool) -> String {
        let report = &*self.0;
        let title = Level::ERROR.primary_title(report.title());
        let help = report.help().map(|text| Level::HELP.message(text));
        let group = match &report.place {
            Blame::File(file) => Group::with_title(title).element(Origin::path(file.as_str())),
            Blame::Line(line) => {
                // An empty mark at the very end still gets its caret.
                let annotation = AnnotationKind::Primary
                    .span(line.mark.clone())
                    .label(report.label());
                let snippet = Snippet::source(line.text.as_str())
                    .path(line.file.as_str())
                    .line_start(line.line)
                    .annotation(annotation);
                title.element(snippet)
            }
        };
        let group = group.elements(help);
        let renderer = if color {
            let accent = Style::new().effects(Effects::BOLD);
            Renderer::styled()
                .error(AnsiColor::Red.on_default().effects(Effects::BOLD))
                .help(accent)
                .hyperlink(false)
        } else {
            Renderer::plain()
        };
        renderer.render(&[group])
    }
}

impl fmt::Display for ScenarioError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for ScenarioError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match &self.0.problem {
            Problem::Path(source) => Some(source),
            _ => None,
        }
    }
}

impl Report {
    /// The key in back quotes, with its value where it is short enough to print.
    fn subject(&self) -> String {
        match (&self.key, &self.value) {
            (Some(key), Some(value)) if !value.is_empty() => {
                format!("`{}` = {}", shown(key), shown(value))
            }
            (Some(key), _) => format!("`{}`", shown(key)),
            (None, Some(value)) => shown(value),
            (None, None) => match &self.place {
                Blame::File(_) => "the file".into(),
                Blame::Line(_) => "this line".into(),
            },
        }
    }

    fn title(&self) -> String {
        let subject = self.subject();
        match &self.problem {
            Problem::Unreadable { why, .. } if matches!(self.place, Blame::File(_)) => {
                format!("the file cannot be read: {why}")
            }
            Problem::Unreadable { file, why } => format!("cannot read {}: {why}", shown(file)),
            Problem::TooLarge { most } => format!("the file is larger than {most} bytes"),
            Problem::NotText => "the file is not UTF-8 text".into(),
            Problem::Empty => "the file is empty".into(),
            Problem::Syntax { why } => format!("this is not TOML: {why}"),
            Problem::UnknownKey { .. } => {
                match self.key.as_deref().and_then(|k| k.rsplit_once('.')) {
                    Some((table, key)) => {
                        format!("unknown key `{}` in `{}`", shown(key), shown(table))
                    }
                    None => format!("unknown key {subject}"),
                }
            }
            Problem::MissingKey { missing } => match &self.key {
                Some(key) => format!("missing key `{missing}` in `{}`", shown(key)),
                None => format!("missing key `{missing}`"),
            },
            Problem::WrongType { found, .. } => format!("{subject} is {found}"),
            Problem::OutOfRange { .. } => format!("{subject} is not allowed"),
            Problem::UnknownName { what, .. } => format!("{subject} is no {what}"),
            Problem::Refused { why, .. } => format!("{subject} {why}"),
            Problem::Path(error) => match remedy(error) {
                Some(remedy) => format!("{error}; {remedy}"),
                None => error.to_string(),
            },
        }
    }

    /// The table in which the key stands, and the key's last step.
    fn table_and_key(&self) -> (&str, &str) {
        let key = self.key.as_deref().unwrap_or_default();
        key.rsplit_once('.').unwrap_or(("", key))
    }

    /// Whether the value is the name of a CSV table, where a name of the catalog or a table in braces may stand.
    fn names_a_table(&self) -> bool {
        let value = self.value.as_deref().unwrap_or_default();
        let ends = |end: &str| {
            value
                .trim_matches(['"', '\''])
                .to_lowercase()
                .ends_with(end)
        };
        let (_, key) = self.table_and_key();
        ends(".csv")
            && [
                "sheet",
                "source",
                "prescription",
                "strain_dispersion",
                "map",
            ]
            .contains(&key)
    }

    /// What stands beside the caret.
    fn label(&self) -> String {
        match &self.problem {
            Problem::UnknownKey { allowed } => {
                let (table, key) = self.table_and_key();
                match (where_written(table, key), nearest(key, allowed)) {
                    (Some(table), _) => format!("stands {table}"),
                    (None, Some(key)) => format!("did you mean `{key}`?"),
                    (None, None) => "not a key of this table".into(),
                }
            }
            Problem::MissingKey { missing } => format!("needs `{missing}`"),
            Problem::WrongType { .. } | Problem::UnknownName { .. } if self.names_a_table() => {
                format!(
                    "a file is named as {{ csv = {} }}",
                    shown(self.value.as_deref().unwrap_or_default())
                )
            }
            Problem::WrongType { expected, .. } => format!("allowed: {expected}"),
            Problem::OutOfRange { allowed } => format!("allowed: {allowed}"),
            Problem::UnknownName { known, .. } => {
                let value = self.value.as_deref().unwrap_or_default();
                let name = value.trim_matches(['"', '\'']);
                match catalog::renamed(name).filter(|now| known.iter().any(|k| k == now)) {
                    Some(now) => format!("is called \"{now}\" now"),
                    None => nearest(name, known).map_or("unknown name".into(), |name| {
                        format!("did you mean \"{name}\"?")
                    }),
                }
            }
            Problem::Refused { remedy, .. } => remedy.clone(),
            Problem::Path(PathError::MapUncovered { .. }) => "this map".into(),
            Problem::Path(PathError::Missing { .. }) => "the last part".into(),
            Problem::Path(_) => "this part".into(),
            Problem::NotText => "the first byte that is not".into(),
            Problem::Unreadable { .. } => "named here".into(),
            _ => String::new(),
        }
    }

    /// The line, and what of it begins with the mark.
    fn marked(&self) -> (&str, &str) {
        match &self.place {
            Blame::File(_) => ("", ""),
            Blame::Line(line) => (&line.text, &line.text[line.mark.start..]),
        }
    }

    fn is_in_a_kind(&self) -> bool {
        let key = self
            .key
            .as_deref()
            .and_then(|key| key.strip_prefix("part."));
        key.is_some_and(|kind| !kind.contains('.'))
    }

    /// What stands below the line.
    fn help(&self) -> Option<String> {
        match &self.problem {
            Problem::UnknownKey { allowed } => {
                Some(format!("allowed here: {}", quoted(allowed, '`')))
            }
            Problem::Syntax { why } => {
                let is_first = matches!(&self.place, Blame::Line(line) if line.line == 1);
                let (line, marked) = self.marked();
                Some(syntax_hint(line, marked, is_first, why).to_owned())
            }
            Problem::NotText => Some("save the file as UTF-8 text".into()),
            Problem::UnknownName { known, .. } if known.is_empty() => {
                Some("`polstack catalog` lists the names".into())
            }
            Problem::UnknownName { what, known } => {
                // Names of the catalog are many, and all others are what the user wants to see.
                let names = match what.contains("catalog") || what.starts_with("lamp") {
                    true => listed(known, '"'),
                    false => quoted(known, '"'),
                };
                let index = match what.contains("glass") || what.contains("immersion") {
                    true => "; its index may stand there too, a number without quotes",
                    false => "",
                };
                Some(format!("known: {names}{index}"))
            }
            Problem::TooLarge { .. } => Some("a scenario or table of that size is a mistake".into()),
            Problem::Empty => Some(
                "a scenario has a [light] table and [[part]] tables; see the examples in scenarios/"
                    .into(),
            ),
            // Without a line there is no label to say it.
            Problem::Refused { remedy, .. } if matches!(self.place, Blame::File(_)) => {
                Some(remedy.clone())
            }
            Problem::MissingKey { missing } if matches!(self.place, Blame::File(_)) => {
                Some(format!("add a [{missing}] table"))
            }
            Problem::MissingKey { .. } if self.is_in_a_kind() => {
                Some("what belongs to a kind stands in its table, inside the braces".into())
            }
            _ => None,
        }
    }
}
