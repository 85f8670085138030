//! What the page builds its rows from.

use serde::Serialize;
use serde_json::Value;

use super::stack::{Refused, Stack};
use crate::light_path::{LightPath, PartKind};
use crate::output::CAUTION;
use crate::scenario::edit::{Edit, edited};
use crate::study::aperture::turnable;

/// The outline of a stack.
#[derive(Debug, Serialize)]
pub(super) struct Outline {
    title: String,
    /// The scenario as it is written.
    document: Value,
    parts: Vec<PartRow>,
    notes: Vec<String>,
    caution: &'static str,
}

#[derive(Debug, Serialize)]
struct PartRow {
    index: usize,
    name: String,
    kind: &'static str,
    /// Whether it can be turned, or why not.
    can_turn: Allowed,
    /// Whether it can be taken out.
    can_leave: Allowed,
    /// Where it may stand, for the lower polar.
    gaps: Vec<Gap>,
}

/// Whether something can be done.
#[derive(Debug, Serialize)]
struct Allowed {
    allowed: bool,
    why_not: Option<String>,
}

/// A place among the other parts.
#[derive(Debug, Serialize)]
struct Gap {
    /// The place in the list of the others, from 0.
    move_to: usize,
    words: String,
    here: bool,
    allowed: bool,
    why_not: Option<String>,
}

impl Allowed {
    fn of<T, E: ToString>(tried: &Result<T, E>) -> Self {
        Self {
            allowed: tried.is_ok(),
            why_not: tried.as_ref().err().map(ToString::to_string),
        }
    }
}

/// The outline of a stack, with all its parts in: what is taken out has a row all the same.
pub(super) fn outline(stack: &Stack) -> Result<Outline, Refused> {
    let whole = Stack {
        out: Vec::new(),
        ..stack.clone()
    };
    let read = whole.read()?;
    let document: toml::Table =
        toml::from_str(&stack.text).map_err(|error| Refused::saying(error.to_string()))?;
    let path = &read.scene.path;
    let parts = (path.parts.iter().enumerate())
        .map(|(index, part)| PartRow {
            index,
            name: part.name.clone(),
            kind: part.kind.word(),
            can_turn: Allowed::of(&turnable(path, &part.name)),
            can_leave: Allowed::of(&tried(&whole, Edit::remove_part(index))),
            gaps: match part.kind {
                PartKind::Polarizer(_) => gaps(&whole, path, index),
                _ => Vec::new(),
            },
        })
        .collect();
    Ok(Outline {
        title: read.title,
        document: serde_json::to_value(document).unwrap_or_default(),
        parts,
        notes: read.notes,
        caution: CAUTION,
    })
}

/// Whether the stack can be read after a change.
fn tried(stack: &Stack, edit: Edit) -> Result<(), String> {
    let changed = edited(&stack.text, &[edit])?;
    let changed = Stack {
        text: changed,
        ..stack.clone()
    };
    changed
        .read()
        .map(drop)
        .map_err(|refused| refused.0.message)
}

/// Every gap among the other parts.
fn gaps(stack: &Stack, path: &LightPath, polar: usize) -> Vec<Gap> {
    let others: Vec<&str> = (path.parts.iter().enumerate())
        .filter(|(index, _)| *index != polar)
        .map(|(_, part)| part.name.as_str())
        .collect();
    (0..=others.len())
        .map(|to| {
            let words = match (to.checked_sub(1).map(|below| others[below]), others.get(to)) {
                (None, Some(above)) => format!("below the {above}"),
                (Some(below), _) => format!("above the {below}"),
                (None, None) => "alone".to_owned(),
            };
            let tried = tried(stack, Edit::move_part(polar, to));
            Gap {
                move_to: to,
                words,
                here: to == polar,
                allowed: tried.is_ok(),
                why_not: tried.err(),
            }
        })
        .collect()
}
