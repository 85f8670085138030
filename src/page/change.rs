//! What the last move did, in a sentence.

use super::predicted;
use super::stack::{Refused, Stack};
use crate::light_path::{LightPath, PartKind};
use crate::output::findings::named_leak;
use crate::output::numbers::digits;
use crate::study::leak::{Cause, Leak};

/// Ratios that differ by less than this, relatively, are the same to a user.
const SAME: f64 = 2e-3;

pub(super) fn words(before: &Stack, after: &Stack) -> Result<String, Refused> {
    let exactly = |stack: &Stack| Stack {
        exact: true,
        ..stack.clone()
    };
    let (was, was_read) = predicted(&exactly(before), true)?;
    let (is, is_read) = predicted(&exactly(after), true)?;
    let (old, new) = (was.ratios().written, is.ratios().written);
    let told = |ratio: f64| match ratio.is_finite() {
        true => digits(ratio, 3),
        false => "infinite".to_owned(),
    };
    if old == new || (old / new - 1.0).abs() < SAME {
        return Ok(format!("The extinction ratio stays at {}.", told(new)));
    }
    let why = reason(
        (&was.leak, &was_read.scene.path),
        (&is.leak, &is_read.scene.path),
    );
    let why = why.map_or(String::new(), |why| format!(": {why}"));
    Ok(format!(
        "Extinction ratio {} to {}{why}.",
        told(old),
        told(new)
    ))
}

/// A part that came or went, or else the part and cause of which the light has changed most.
fn reason(was: (&Leak, &LightPath), is: (&Leak, &LightPath)) -> Option<String> {
    let lacks = |path: &LightPath, name: &str| path.parts.iter().all(|part| part.name != name);
    if let Some(gone) = was.1.parts.iter().find(|part| lacks(is.1, &part.name)) {
        return Some(format!("the {} is out", gone.name));
    }
    if let Some(new) = is.1.parts.iter().find(|part| lacks(was.1, &part.name)) {
        return Some(format!("the {} is in", new.name));
    }
    let light = |leak: &Leak, key: (&str, Cause)| {
        let own = leak
            .shares
            .iter()
            .find(|share| (share.part.as_str(), share.cause) == key);
        own.map_or(0.0, |share| share.share * leak.whole)
    };
    let keys = was
        .0
        .shares
        .iter()
        .chain(&is.0.shares)
        .map(|share| (share.part.as_str(), share.cause));
    let change = |key: (&str, Cause)| light(is.0, key) - light(was.0, key);
    let (part, cause) = keys.max_by(|a, b| change(*a).abs().total_cmp(&change(*b).abs()))?;
    let what = named_leak(part, cause);
    let more = change((part, cause)) > 0.0;
    let between = |path: &LightPath| {
        let at = path.parts.iter().position(|own| own.name == part)?;
        let lens = matches!(
            path.parts[at].kind,
            PartKind::Condenser(_) | PartKind::Objective(_)
        );
        lens.then(|| path.lower_polar().is_some_and(|polar| polar < at))
    };
    let own = match part {
        "stack" => what.clone(),
        part => format!("the {part}'s {}", cause.words()),
    };
    Some(match (between(was.1), between(is.1)) {
        (Some(false), Some(true)) => format!("{own} is now between the polars"),
        (Some(true), Some(false)) => format!("{own} is no longer between the polars"),
        _ if more => format!("{own} lets more light through"),
        _ => format!("{own} lets less light through"),
    })
}
