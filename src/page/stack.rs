//! The stack that a request is about, and what is wrong with it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::scenario::edit::{Edit, edited};
use crate::scenario::{Memory, Scenario, ScenarioError, parse, remedy};
use crate::study::StudyError;

/// What messages call the scenario.
pub(super) const FILE: &str = "scenario";

/// A scenario, the files that it names, and the parts that are taken out.
#[derive(Debug, Clone, Deserialize)]
pub struct Stack {
    /// The scenario (TOML).
    pub text: String,
    /// The files that it names, by these names.
    #[serde(default)]
    pub files: BTreeMap<String, String>,
    /// Names of parts that are taken out.
    #[serde(default)]
    pub out: Vec<String>,
    /// Whether the doubt is left out.
    #[serde(default)]
    pub exact: bool,
}

/// A scenario that was read.
pub(super) type Read = Scenario;

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(transparent)]
pub(super) struct Refused(pub(super) Box<Trouble>);

/// What is wrong with a stack.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Trouble {
    pub(super) message: String,
    pub(super) remedy: Option<String>,
    pub(super) line: Option<usize>,
    pub(super) column: Option<usize>,
    pub(super) key: Option<String>,
    /// The part, counted from 0.
    pub(super) part: Option<usize>,
    /// The whole message as the command prints it.
    pub(super) rendered: String,
}

impl Refused {
    pub(super) fn saying(message: String) -> Self {
        Self(Box::new(Trouble {
            rendered: format!("error: {message}"),
            message,
            remedy: None,
            line: None,
            column: None,
            key: None,
            part: None,
        }))
    }
}

impl From<ScenarioError> for Refused {
    fn from(error: ScenarioError) -> Self {
        let (line, column) = error.line_and_column().unzip();
        Self(Box::new(Trouble {
            message: error.message(),
            remedy: error.advice(),
            line,
            column,
            key: error.key().map(str::to_owned),
            part: None,
            rendered: error.to_string(),
        }))
    }
}

impl From<StudyError> for Refused {
    fn from(error: StudyError) -> Self {
        let remedy = match &error {
            StudyError::Path(error) | StudyError::AtWavelength { error, .. } => remedy(error),
            _ => None,
        };
        let mut refused = Self::saying(error.to_string());
        refused.0.remedy = remedy.map(str::to_owned);
        refused
    }
}

impl Stack {
    /// Reads the stack. The text is checked before any part is taken out of it, so that a mistake is told at its place in the text.
    pub(super) fn read(&self) -> Result<Read, Refused> {
        let whole = self.parsed(&self.text)?;
        if self.out.is_empty() {
            return Ok(whole);
        }
        let names = &whole.scene.path.parts;
        // From the last to the first, so that the others keep their places.
        let edits: Vec<Edit> = (names.iter().enumerate().rev())
            .filter(|(_, part)| self.out.contains(&part.name))
            .map(|(part, _)| Edit::remove_part(part))
            .collect();
        let mut read = self
            .parsed(&edited(&self.text, &edits).map_err(Refused::saying)?)
            .map_err(|mut refused| {
                // Its lines are those of a text that nobody sees.
                (refused.0.line, refused.0.column) = (None, None);
                refused
            })?;
        read.title = whole.title;
        Ok(read)
    }

    fn parsed(&self, text: &str) -> Result<Read, Refused> {
        let files: Memory = self.files.clone().into();
        parse(text, FILE, &files).map_err(|error| {
            let mut refused = Refused::from(error);
            refused.0.part = (refused.0.line).and_then(|line| part_at(text, line));
            refused
        })
    }
}

/// The part in whose table a line lies.
fn part_at(text: &str, line: usize) -> Option<usize> {
    let before = text.lines().take(line);
    let count = before
        .filter(|line| line.trim_start().starts_with("[[part]]"))
        .count();
    count.checked_sub(1)
}
