//! What a chart assumes, in sentences.

use super::light::Polars;
use super::scale::ScaleRequest;
use crate::light_path::{LightPath, PartKind};
use crate::material::catalog::{self, Standing};

/// What a scale assumes, for the wavelengths that it runs over.
pub(super) fn of_scale(request: &ScaleRequest<'_>, ends_nm: (f64, f64)) -> Vec<String> {
    let mut notes = vec![match request.dispersion {
        None => "Path difference is taken as the same at every wavelength.".to_owned(),
        Some(law) => format!(
            "Path differences are named at {} nm and follow the dispersion of {}.",
            law.at_nm, law.name
        ),
    }];
    if let Some(law) = request.dispersion {
        notes.extend(standing("plate", [law.name.as_str()], ends_nm));
    }
    notes.extend(standing("sheet", [request.sheet.name.as_str()], ends_nm));
    if request.polars == Polars::Circular {
        notes.push(
            "At 45 degrees to the polars the two quarter-wave plates cancel at every wavelength; at other azimuths colours differ away from 550 nm."
                .to_owned(),
        );
    }
    if let Some((path, _)) = request.microscope {
        notes.push(
            "The specimen lies on the scenario's stage at 45 degrees to the lower polar; each column is balanced on its own parallel field, whose luminance is 1."
                .to_owned(),
        );
        notes.extend(left_out(path));
    }
    notes
}

/// Whether the scenario's own specimens give way to the chart's.
pub(super) fn left_out(path: &LightPath) -> Option<String> {
    (path.find(|kind| matches!(kind, PartKind::Specimen(_))))
        .map(|_| "The scenario's own specimen is left out.".to_owned())
}

/// Which of some entries of the catalog are from memory, and which are not known over all the wavelengths.
pub(super) fn standing<'a>(
    group: &str,
    names: impl IntoIterator<Item = &'a str>,
    (from, to): (f64, f64),
) -> Vec<String> {
    let entries = catalog::entries();
    let (mut remembered, mut short) = (Vec::new(), Vec::new());
    for name in names {
        let known = (entries.iter()).find(|entry| entry.group == group && entry.name == name);
        let Some(entry) = known else { continue };
        if entry.standing == Standing::FromMemory {
            remembered.push(name);
        }
        if let Some((first, last)) = catalog::measured_range_nm(name)
            && (from < first || to > last)
        {
            short.push(format!("{name} ({first} to {last} nm)"));
        }
    }
    [
        ("Known from memory", remembered.join(", ")),
        ("Continued beyond where it is known", short.join(", ")),
    ]
    .into_iter()
    .filter(|(_, names)| !names.is_empty())
    .map(|(what, names)| format!("{what}: {names}."))
    .collect()
}
