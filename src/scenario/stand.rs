//! A scenario written anew with the numbers that a fit found, comments and all else as they were.

use std::path::Path;

use toml_edit::{ArrayOfTables, DocumentMut, InlineTable, Item, TableLike, Value, value};

use crate::light_path::{LightPath, PartKind};
use crate::optics::Strain;
use crate::study::strain_between::lenses_between;
use crate::study::unknown::{Sampled, Unknown, Unknowns};

/// The text of a scenario with the medians of a sample in place, in the order of [`Unknowns::told`], and a line that refers to the sample, a file of
/// so many stands.
///
/// `folder` is where the scenario's own files are: their names are written so that they are found from anywhere. A number that the file has no
/// place for (how evenly surfaces share the bending, the leak of a catalog's sheet, the scale of a map) stays as it is, and a comment says so: the
/// sample carries it.
///
/// `None` for a text that is no scenario.
///
/// Checked by: `tests/cli/fit.rs`.
#[must_use]
pub fn with_stand(
    text: &str,
    folder: &Path,
    unknowns: &Unknowns,
    medians: &[f64],
    (sample, stands): (&str, usize),
) -> Option<String> {
    let (mut document, carried) = settled(text, folder, unknowns, medians)?;
    refer(&mut document, sample);
    let carried = only_in_sample(&carried);
    Some(format!(
        "# Written by polstack fit: every number that was unknown stands at the median of the {stands} stands in {sample} that explain the readings. The sample takes the place of tolerances, and of what comments below call typical or assumed.\n{carried}{document}"
    ))
}

/// The text of a scenario with a map of the strain between the polars: the path as written; the path with the map in the lens that carries it and
/// without strain in the others between the polars; and the map's file beside the scenario. All other numbers stand at the medians of the sample, whose
/// file, and how many stands it holds, are named too: `unknowns` are those without the strains that the map holds. Where nothing else was unknown there is
/// no sample.
///
/// `None` for a text that is no scenario.
///
/// Checked by: `tests/cli/photographs.rs`.
#[must_use]
pub fn with_map(
    text: &str,
    folder: &Path,
    (unknowns, medians): (&Unknowns, &[f64]),
    sample: Option<(&str, usize)>,
    (written, mapped, csv): (&LightPath, &LightPath, &str),
) -> Option<String> {
    let (mut document, carried) = settled(text, folder, unknowns, medians)?;
    let lenses = lenses_between(mapped);
    let mut carrier = None;
    for &at in &lenses {
        let (part, before) = (&mapped.parts[at], &written.parts[at]);
        let (PartKind::Condenser(lens) | PartKind::Objective(lens)) = &part.kind else {
            continue;
        };
        let table = part_tables(&mut document)?.get_mut(at)?;
        // What it says is how far the strain may be off that was written here.
        table.remove("tolerance");
        match &lens.strain[..] {
            [Strain::Map(_)] if part.kind != before.kind => {
                let (mut file, mut map) = (InlineTable::new(), InlineTable::new());
                file.insert("csv", csv.into());
                if lenses.len() > 1 {
                    file.insert("of", "sum".into());
                }
                map.insert("map", Value::InlineTable(file));
                let mut all = toml_edit::Array::new();
                all.push(map);
                table.insert("strain", value(all));
                carrier = Some(part.name.as_str());
            }
            _ => {
                table.remove("strain");
                table.remove("strain_dispersion");
            }
        }
    }
    let carrier = carrier?;
    let sum = match lenses.len() {
        1 => " as photographs show it".to_owned(),
        _ => " of all lenses between the polars together, which photographs do not tell apart; the others have none".to_owned(),
    };
    let rest = match sample {
        Some((sample, stands)) => {
            refer(&mut document, sample);
            format!(
                "# Every other number that was unknown stands at the median of the {stands} stands in {sample} that explain the readings. The sample takes the place of tolerances, and of what comments below call typical or assumed; of the strain between the polars it holds nothing, and that is taken as the map has it.\n{}",
                only_in_sample(&carried)
            )
        }
        None => {
            document.remove("doubt");
            String::new()
        }
    };
    Some(format!(
        "# Written by polstack fit --map: {carrier} carries the strain{sum}.\n{rest}{document}"
    ))
}

/// Makes a scenario refer to a sample.
fn refer(document: &mut DocumentMut, sample: &str) {
    let mut doubt = toml_edit::Table::new();
    doubt.insert("sample", value(sample));
    document.insert("doubt", Item::Table(doubt));
}

/// What a scenario's head says of numbers that it has no place for.
fn only_in_sample(carried: &[&str]) -> String {
    match carried.is_empty() {
        true => String::new(),
        false => format!(
            "# Only the sample carries these, for which the file has no place: {}.\n",
            carried.join(", ")
        ),
    }
}

/// A scenario with medians in place, and the names of those that it has no place for.
fn settled<'a>(
    text: &str,
    folder: &Path,
    unknowns: &'a Unknowns,
    medians: &[f64],
) -> Option<(DocumentMut, Vec<&'a str>)> {
    let mut document: DocumentMut = text.parse().ok()?;
    find_files(document.as_table_mut(), folder);
    let mut carried = Vec::new();
    for (unknown, place) in unknowns.places() {
        if write(&mut document, unknowns, unknown, &medians[place]).is_none() {
            carried.extend(unknown.told.iter().map(|told| told.name.as_str()));
        }
    }
    Some((document, carried))
}

/// Names of files, from wherever they are read.
fn find_files(table: &mut dyn TableLike, folder: &Path) {
    for (key, item) in table.iter_mut() {
        if key == "csv"
            && let Some(name) = item.as_str()
            && let Ok(path) = folder.join(name).canonicalize()
        {
            *item = value(path.display().to_string());
        } else if let Some(tables) = item.as_array_of_tables_mut() {
            tables
                .iter_mut()
                .for_each(|table| find_files(table, folder));
        } else if let Some(array) = item.as_array_mut() {
            for value in array.iter_mut() {
                if let Some(table) = value.as_inline_table_mut() {
                    find_files(table, folder);
                }
            }
        } else if let Some(table) = item.as_table_like_mut() {
            find_files(table, folder);
        }
    }
}

/// Puts one unknown in place; `None` where the file has no place for it.
fn write(
    document: &mut DocumentMut,
    unknowns: &Unknowns,
    unknown: &Unknown,
    told: &[f64],
) -> Option<()> {
    let number = |value: f64| Value::from(short(value));
    match &unknown.sampled {
        Sampled::UniformStrain { part, profile } => {
            let table = strain(document, unknowns, *part, *profile, "uniform")?;
            table.insert("path_difference_nm", number(told[0]));
            table.insert("azimuth_deg", number(told[1].rem_euclid(180.0)));
        }
        Sampled::RadialStrain { part, profile } => {
            let table = strain(document, unknowns, *part, *profile, "radial")?;
            table.insert("edge_nm", number(told[0]));
        }
        Sampled::ScaledStrain { part, profile, .. } => {
            let table = strain(document, unknowns, *part, *profile, "clamp")?;
            table.insert("force_n", number(told[0]));
        }
        Sampled::SheetLeak { parts, .. } => {
            for part in parts {
                let sheet = kind(document, unknowns, *part)?.get_mut("sheet")?;
                let sheet = sheet.as_table_like_mut()?;
                // A table of wavelengths stays what it was measured as.
                sheet.get("k2")?;
                sheet.insert("k2", Item::Value(number(told[0])));
            }
        }
        Sampled::SheetCover { parts } => {
            for part in parts {
                let polar = kind(document, unknowns, *part)?;
                polar.insert("cover_nm", Item::Value(number(told[0])));
                tidy(document, unknowns, *part);
            }
        }
        Sampled::Bending { .. } => return None,
        Sampled::Number(quantity) => {
            let key = unknown.told[0].name.rsplit_once('.')?.1.to_owned();
            let part = kind(document, unknowns, quantity.part?)?;
            part.insert(&key, Item::Value(number(told[0])));
            tidy(document, unknowns, quantity.part?);
        }
        Sampled::Stray => {
            let stray = document.entry("stray").or_insert(toml_edit::table());
            let stray = stray.as_table_like_mut()?;
            stray.insert("fraction", Item::Value(number(told[0])));
        }
    }
    Some(())
}

fn part_tables(document: &mut DocumentMut) -> Option<&mut ArrayOfTables> {
    document.get_mut("part")?.as_array_of_tables_mut()
}

/// The table of a part's kind.
fn kind<'a>(
    document: &'a mut DocumentMut,
    unknowns: &Unknowns,
    part: usize,
) -> Option<&'a mut dyn TableLike> {
    let word = unknowns.path.parts[part].kind.word();
    let table = part_tables(document)?.get_mut(part)?;
    table.get_mut(word)?.as_table_like_mut()
}

/// The table of a strain profile of a lens, put in where it is not written.
fn strain<'a>(
    document: &'a mut DocumentMut,
    unknowns: &Unknowns,
    part: usize,
    profile: usize,
    kind: &str,
) -> Option<&'a mut InlineTable> {
    let (PartKind::Condenser(_) | PartKind::Objective(_)) = unknowns.path.parts[part].kind else {
        return None;
    };
    let table = part_tables(document)?.get_mut(part)?;
    let all = table
        .entry("strain")
        .or_insert(value(toml_edit::Array::new()));
    let all = all.as_array_mut()?;
    // Profiles that the unknowns added lie behind those that are written, in the order in which they are asked for here.
    if all.len() <= profile {
        let mut profile = InlineTable::new();
        profile.insert(kind, Value::InlineTable(InlineTable::new()));
        all.push(profile);
        all.fmt();
    }
    let last = all.len() - 1;
    let table = all.get_mut(profile.min(last))?.as_inline_table_mut()?;
    table.get_mut(kind)?.as_inline_table_mut()
}

/// One blank between the keys of a part, where one was put in.
fn tidy(document: &mut DocumentMut, unknowns: &Unknowns, part: usize) {
    let word = unknowns.path.parts[part].kind.word();
    let table = part_tables(document).and_then(|parts| parts.get_mut(part));
    if let Some(table) = table.and_then(|table| table.get_mut(word)?.as_inline_table_mut()) {
        table.fmt();
    }
}

/// To six digits, which is more than any reading tells.
fn short(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}
