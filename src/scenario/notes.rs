//! What is no mistake in a scenario but worth saying.

use super::located::Located;
use super::schema::{MapOfWord, MapTable, ScenarioFile};
use crate::light_path::{CROSSED_FROM_DEG, LightPath, Part, PartKind};
use crate::material::SODIUM_NM;
use crate::material::catalog::{self, Standing};
use crate::optics::{AskewPlate, BiaxialPlate, LensForm, Specimen};
use crate::spectrum::{Source, WavelengthGrid};
use crate::study::strain_between::lenses_between;

pub(super) fn notes(
    file: &ScenarioFile,
    path: &LightPath,
    source: &Source,
    grid: &WavelengthGrid,
) -> Vec<String> {
    let mut notes = Vec::new();
    iris(path, &mut notes);
    line(source, grid, &mut notes);
    oblique_retarders(path, &mut notes);
    active_crystals(file, path, &mut notes);
    biaxial_crystals(path, &mut notes);
    polars_apart(path, &mut notes);
    plates_without_effect(path, &mut notes);
    coated_sheets(path, grid, &mut notes);
    unknown_covers(path, file, &mut notes);
    idle_covers(path, file, &mut notes);
    inner_aperture(path, &mut notes);
    summed_maps(file, path, &mut notes);
    measured_ranges(file, path, grid, &mut notes);
    from_memory(file, &mut notes);
    notes
}

/// The iris is wider than what the lenses, or the eye, let through.
fn iris(path: &LightPath, notes: &mut Vec<String>) {
    // Of a condenser's two lenses the second one's NA is that of its light.
    let lenses = (path.parts.iter().enumerate())
        .filter(|(_, part)| matches!(part.kind, PartKind::Condenser(_) | PartKind::Objective(_)))
        .map(|(index, part)| (part.name.as_str(), path.rim_na(index)));
    let has_objective = path.has_objective();
    let eye = path.view_na.filter(|_| !has_objective);
    let limits = lenses.chain(eye.map(|na| ("[view]", na)));
    if let Some((name, na)) = limits.min_by(|a, b| a.1.total_cmp(&b.1))
        && let Some(iris_na) = path.iris_na
        && na < iris_na
    {
        notes.push(format!(
            "the iris is set to NA {iris_na}, but {name} passes only NA {}: that is what counts",
            short(na)
        ));
    }
    if let Some(mount_na) = path.mount_na().filter(|na| *na < path.open_na()) {
        notes.push(format!(
            "rays of up to NA {} reach the slide, but its mounting medium reflects those beyond NA {mount_na:.3} totally: that is what counts",
            short(path.open_na())
        ));
    }
    if has_objective && path.view_na.is_some() {
        notes.push("[view] says nothing here: the objective's NA counts".into());
    }
}

/// To four decimals: lenses told by their surfaces have more.
fn short(na: f64) -> f64 {
    (na * 1e4).round() / 1e4
}

/// A line so narrow that the wavelengths step over it.
fn line(source: &Source, grid: &WavelengthGrid, notes: &mut Vec<String>) {
    if let Source::Line { width_nm, .. } = source
        && *width_nm < 2.0 * grid.step_nm()
    {
        let finer = if grid.is_given() {
            "set a smaller `step_nm` in [spectrum]"
        } else {
            "`predict`, `aperture` and `trace` take smaller steps by themselves, for the others set a smaller `step_nm` in [spectrum]"
        };
        notes.push(format!(
            "the lamp's line is {width_nm} nm wide, less than two steps of {} nm: {finer}",
            grid.step_nm()
        ));
    }
}

/// Plates among oblique rays are taken as if those were not oblique.
fn oblique_retarders(path: &LightPath, notes: &mut Vec<String>) {
    for (index, part) in path.parts.iter().enumerate() {
        let plate = matches!(part.kind, PartKind::Retarder(_) | PartKind::Plate(_));
        if plate && path.is_oblique(index) {
            notes.push(format!(
                "{} lies among oblique rays, but is taken at normal incidence",
                part.name
            ));
        }
    }
}

/// Crystals seen along their axis, or nearly so, of which the file does not say which way they turn the light, or that they do.
fn active_crystals(file: &ScenarioFile, path: &LightPath, notes: &mut Vec<String>) {
    for (part, written) in path.parts.iter().zip(&file.part) {
        let PartKind::Specimen(
            Specimen::Across { crystal, .. } | Specimen::Askew(AskewPlate { crystal, .. }),
        ) = &part.kind
        else {
            continue;
        };
        let table = written.get().specimen.as_ref().map(Located::get);
        let is_told = table.is_some_and(|table| table.rotation.is_some());
        match &crystal.rotation {
            Some(_) if !is_told => notes.push(format!(
                "{}: a right-handed crystal, which turns light clockwise; left-handed ones are as common (rotation = \"left\")",
                part.name
            )),
            None if is_told => notes.push(format!(
                "{}: {} turns light that runs along its axis; that is left out, so the middle of the dark cross stays dark here, however thick the section",
                part.name, crystal.name
            )),
            _ => {}
        }
    }
}

/// Crystals with two optic axes: minerals vary, and what is used is told.
fn biaxial_crystals(path: &LightPath, notes: &mut Vec<String>) {
    for part in &path.parts {
        if let PartKind::Specimen(Specimen::Biaxial(BiaxialPlate { crystal, .. })) = &part.kind {
            let [x, y, z] = crystal.indices(SODIUM_NM);
            let two_v = crystal.acute_angle_rad(SODIUM_NM).to_degrees();
            notes.push(format!(
                "{}: computed with the indices {x:.4}, {y:.4}, {z:.4} and 2V {two_v:.1} degrees at {SODIUM_NM} nm; minerals vary from piece to piece",
                part.name
            ));
        }
    }
}

/// Linear polars that are far from crossed: radians written for degrees, perhaps.
fn polars_apart(path: &LightPath, notes: &mut Vec<String>) {
    if let Some(apart) = path.polars_apart_deg()
        && apart < CROSSED_FROM_DEG
    {
        notes.push(format!(
            "the polars are {apart:.1} degrees apart, not crossed; azimuths are in degrees, 0 and 90 for crossed polars"
        ));
    }
}

/// Plates that stand along a polar, or where there is no polarized light.
fn plates_without_effect(path: &LightPath, notes: &mut Vec<String>) {
    let Some((low, high)) = path.polars().filter(|_| !path.is_circular()) else {
        return;
    };
    // Between other plates a plate along a polar may well do something.
    let plates = |part: &&Part| matches!(part.kind, PartKind::Plate(_) | PartKind::Retarder(_));
    let alone = path.parts.iter().filter(plates).count() == 1;
    for (index, part) in path.parts.iter().enumerate() {
        let PartKind::Plate(plate) = &part.kind else {
            continue;
        };
        let along =
            |azimuth_rad: f64| (2.0 * (plate.slow_azimuth_rad - azimuth_rad)).sin().abs() < 1e-3;
        if path.lower_polar().is_some_and(|low| index < low) {
            notes.push(format!(
                "{} stands before the lower polar, where a plate does nothing to unpolarized light",
                part.name
            ));
        } else if alone && along(low.azimuth_rad) && along(high.azimuth_rad) {
            notes.push(format!(
                "{} lies along the polars, where a plate does nothing; its slow direction usually stands at 45 degrees",
                part.name
            ));
        }
    }
}

/// Sheets that pass more than bare surfaces let through.
fn coated_sheets(path: &LightPath, grid: &WavelengthGrid, notes: &mut Vec<String>) {
    for part in &path.parts {
        let (PartKind::Polarizer(polar) | PartKind::Analyzer(polar)) = &part.kind else {
            continue;
        };
        let most = (grid.wavelengths_nm().iter())
            .filter_map(|&nm| Some(polar.sheet.principal_transmittances(nm).ok()?.0))
            .fold(0.0, f64::max);
        let bare = polar.sheet.bare_surfaces();
        if most > bare + 1e-9 {
            notes.push(format!(
                "{}: k1 = {most} is more than two bare surfaces of a film of index {} let pass ({bare:.3}); they are taken as coated, so that it passes what is written. Where k1 was measured without the loss at the surfaces, multiply k1 and k2 by {bare:.3}",
                part.name, polar.sheet.index
            ));
        }
    }
}

/// Sheets under oblique rays of which nothing is said about the protective film.
fn unknown_covers(path: &LightPath, file: &ScenarioFile, notes: &mut Vec<String>) {
    for (index, (part, written)) in path.parts.iter().zip(&file.part).enumerate() {
        let polar = (written.get().polarizer.as_ref()).or(written.get().analyzer.as_ref());
        if let Some(polar) = polar
            && path.is_oblique(index)
            && polar.get().cover_nm.is_none()
            && polar.get().sheet.get().name().is_none()
        {
            notes.push(format!(
                "{}: how much its protective film retards oblique rays is not known and taken as nothing; where it has 50 nm (40 to 60 is usual), write cover_nm = 50",
                part.name
            ));
        }
    }
}

/// Covers that are written on a sheet which no oblique ray crosses.
fn idle_covers(path: &LightPath, file: &ScenarioFile, notes: &mut Vec<String>) {
    for (index, (part, written)) in path.parts.iter().zip(&file.part).enumerate() {
        let polar = (written.get().polarizer.as_ref()).or(written.get().analyzer.as_ref());
        let cover_nm = polar.and_then(|polar| polar.get().cover_nm.as_ref());
        if cover_nm.is_some_and(|nm| nm.value() != 0.0) && !path.is_oblique(index) {
            notes.push(format!(
                "cover_nm of {} changes nothing where it stands: only rays at an angle are retarded by the protective film, and here they run along the axis",
                part.name
            ));
        }
    }
}

/// Strained lenses of which the rays cross the middle only.
fn inner_aperture(path: &LightPath, notes: &mut Vec<String>) {
    for (index, part) in path.parts.iter().enumerate() {
        let used = path.na() / path.rim_na(index);
        if let PartKind::Condenser(lens) | PartKind::Objective(lens) = &part.kind
            && !lens.strain.is_empty()
            && used < 0.5
        {
            notes.push(format!(
                "rays cross only the inner {:.0} % of the radius of {}: strain near its rim does not show",
                100.0 * used,
                part.name
            ));
        }
    }
}

/// Maps of the strain of several lenses together, which lie in one of them.
fn summed_maps(file: &ScenarioFile, path: &LightPath, notes: &mut Vec<String>) {
    let Some(name) = summed_in(file, path) else {
        return;
    };
    let others: Vec<&str> = (lenses_between(path).into_iter())
        .map(|at| path.parts[at].name.as_str())
        .filter(|other| *other != name)
        .collect();
    let all = match others[..] {
        [] => "all lenses that were between the polars".to_owned(),
        _ => format!("{} and {name}", others.join(", ")),
    };
    notes.push(format!(
        "the map in {name} is the strain of {all} together: photographs do not tell which of them has it. The share of {name} in the leak and its limits are those of all of them. Where the lower polar does best, and what turning a lens or taking it out does, is answered as if {name} had all the strain, and no probability counts that it may not; nor does any range count the map's own error (error_nm beside the map): ask that of the scenario that `fit --write` writes"
    ));
}

/// The part whose map is the strain of all lenses between the polars together.
pub(super) fn summed_in<'a>(file: &ScenarioFile, path: &'a LightPath) -> Option<&'a str> {
    let is_sum = |map: &MapTable| (map.of.as_ref()).is_some_and(|of| *of.get() == MapOfWord::Sum);
    (path.parts.iter().zip(&file.part))
        .find(|(_, written)| {
            let profiles = written.get().strain.iter().flat_map(Located::get);
            let mut maps = profiles.filter_map(|profile| profile.get().map.as_ref());
            maps.any(|map| is_sum(map.get()))
        })
        .map(|(part, _)| part.name.as_str())
}

/// Sheets whose numbers were not read in a source.
fn from_memory(file: &ScenarioFile, notes: &mut Vec<String>) {
    let entries = catalog::entries();
    let mut sheets: Vec<&str> = names(file)
        .filter(|name| {
            entries.iter().any(|entry| {
                entry.group == "sheet"
                    && entry.standing == Standing::FromMemory
                    && entry.name.eq_ignore_ascii_case(name)
            })
        })
        .collect();
    sheets.dedup();
    if !sheets.is_empty() {
        notes.push(format!(
            "{}: from memory, k2 good to a factor of 5; measure your own sheet where its leak counts",
            sheets.join(", ")
        ));
    }
}

/// Laws and tables of the catalog that are used outside the range in which they were measured.
fn measured_ranges(
    file: &ScenarioFile,
    path: &LightPath,
    grid: &WavelengthGrid,
    notes: &mut Vec<String>,
) {
    let (first_nm, last_nm) = grid.ends_nm();
    let mut outside: Vec<String> = Vec::new();
    for name in names(file).chain(prescribed(path)) {
        if let Some((from_nm, to_nm)) = catalog::measured_range_nm(name)
            && (first_nm < from_nm || last_nm > to_nm)
        {
            let range = format!("{name} ({from_nm} to {to_nm} nm)");
            if !outside.contains(&range) {
                outside.push(range);
            }
        }
    }
    if !outside.is_empty() {
        notes.push(format!(
            "the run reaches from {first_nm} to {last_nm} nm, beyond where the data of these end: {}; there they are assumed",
            outside.join(", ")
        ));
    }
}

/// The glasses that prescriptions name.
fn prescribed(path: &LightPath) -> impl Iterator<Item = &str> {
    let forms = path.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Condenser(lens) | PartKind::Objective(lens) => Some(&lens.form),
        _ => None,
    });
    let surfaces = forms.flat_map(|form| match form {
        LensForm::Prescription(told) => &told.surfaces[..],
        _ => &[],
    });
    surfaces.filter_map(|surface| Some(surface.after.as_ref()?.name.as_str()))
}

/// The names that a file takes from the catalog of materials.
fn names(file: &ScenarioFile) -> impl Iterator<Item = &str> {
    file.part.iter().map(Located::get).flat_map(|part| {
        let polar = part.polarizer.as_ref().or(part.analyzer.as_ref());
        let plate = part.plate.as_ref().or(part.retarder.as_ref());
        let lens = part.condenser.as_ref().or(part.objective.as_ref());
        let slide = part.slide.as_ref().map(Located::get);
        let specimen = part.specimen.as_ref().map(Located::get);
        [
            polar.and_then(|polar| polar.get().sheet.get().name()),
            plate.and_then(|plate| Some(plate.get().material.as_ref()?.get().as_str())),
            lens.and_then(|lens| lens.get().glass.as_ref()?.get().name()),
            slide.and_then(|slide| slide.glass.get().name()),
            slide.and_then(|slide| slide.mount.get().name()),
            specimen.and_then(|specimen| Some(specimen.material.as_ref()?.get().as_str())),
        ]
        .into_iter()
        .flatten()
    })
}
