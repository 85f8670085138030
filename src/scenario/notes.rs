//! What is no mistake in a scenario but worth saying.

use crate::light_path::{LightPath, PartKind, Space};
use crate::spectrum::{Source, WavelengthGrid};

pub(super) fn notes(path: &LightPath, source: &Source, grid: &WavelengthGrid) -> Vec<String> {
    let mut notes = Vec::new();
    iris(path, &mut notes);
    line(source, grid, &mut notes);
    oblique_retarders(path, &mut notes);
    measured_ranges(path, grid, &mut notes);
    notes
}

/// The iris is wider than what the lenses, or the eye, let through.
fn iris(path: &LightPath, notes: &mut Vec<String>) {
    let lenses = path.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Condenser(lens) | PartKind::Objective(lens) => {
            Some((part.name.as_str(), lens.na))
        }
        _ => None,
    });
    let has_objective = (path.parts.iter()).any(|part| matches!(part.kind, PartKind::Objective(_)));
    let eye = path.view_na.filter(|_| !has_objective);
    let limits = lenses.chain(eye.map(|na| ("[view]", na)));
    if let Some((name, na)) = limits.min_by(|a, b| a.1.total_cmp(&b.1))
        && let Some(iris_na) = path.iris_na
        && na < iris_na
    {
        notes.push(format!(
            "the iris is set to NA {iris_na}, but {name} passes only NA {na}: that is what counts"
        ));
    }
    if has_objective && path.view_na.is_some() {
        notes.push("[view] says nothing here: the objective's NA counts".into());
    }
}

/// A line so narrow that the wavelengths step over it.
fn line(source: &Source, grid: &WavelengthGrid, notes: &mut Vec<String>) {
    if let Source::Line { width_nm, .. } = source
        && *width_nm < 2.0 * grid.step_nm()
    {
        notes.push(format!(
            "the lamp's line is {width_nm} nm wide, less than two steps of {} nm: set a smaller `step_nm` in [spectrum]",
            grid.step_nm()
        ));
    }
}

/// Plates among oblique rays are taken as if those were not oblique.
fn oblique_retarders(path: &LightPath, notes: &mut Vec<String>) {
    for (index, part) in path.parts.iter().enumerate() {
        let plate = matches!(part.kind, PartKind::Retarder(_) | PartKind::Plate(_));
        if plate && path.space(index) == Space::Object {
            notes.push(format!(
                "{} lies in object space, among oblique rays, but is taken at normal incidence",
                part.name
            ));
        }
    }
}

/// A catalog law used outside the range in which it was measured.
///
/// The catalog does not state these ranges yet. When it does, this is the one place that compares them with the grid.
fn measured_ranges(_path: &LightPath, _grid: &WavelengthGrid, _notes: &mut Vec<String>) {}
