//! Where in the file things are named that a message points at.

use std::ops::Range;

use super::decode::Fault;
use super::error::Problem;
use super::located::Located;
use super::schema::{AlongWord, PartTable, ScenarioFile, StrainTable};
use crate::light_path::PathError;

/// A stack that cannot be run, at the line of the part that is to blame.
pub(super) fn fault(error: PathError, file: &ScenarioFile) -> Fault {
    // A part that is missing has no line of its own. The message points at the last part, where the stack ends.
    let index = error.part().unwrap_or(file.part.len().saturating_sub(1));
    let part = file.part.get(index).map(Located::get);
    let map = match error {
        PathError::MapUncovered { .. } => part.and_then(first_map),
        _ => None,
    };
    let span = map.or_else(|| part.map(|part| part.name.span()));
    Fault::Here(Problem::Path(error), span)
}

/// Where a profile says that it is to be taken along the ray.
pub(super) fn along_ray(profile: &Located<StrainTable>) -> Option<Range<usize>> {
    let along = profile.get().radial.as_ref()?.get().along.as_ref()?;
    (*along.get() == AlongWord::Ray).then(|| along.span())
}

/// Where the first strain map of a part is named.
fn first_map(part: &PartTable) -> Option<Range<usize>> {
    let maps = part.strain.as_ref()?.get().iter();
    maps.filter_map(|profile| profile.get().map.as_ref())
        .map(|map| map.get().csv.span())
        .next()
}
