//! From what is written to the parts of the stack.

use std::collections::HashSet;

use super::decode::Fault;
use super::lens;
use super::located::{Located, NameOr, Number};
use super::names;
use super::schema::{
    DistributionWord, KINDS, PartTable, PolarizerTable, RetarderTable, SheetTable, ToleranceTable,
};
use super::specimen;
use super::tables::{self, Context, SHEET};
use crate::light_path::{Part, PartKind, Tolerance, ToleranceKind};
use crate::material::{PolarizingSheet, SheetTransmittance, catalog};
use crate::optics::{Polarizer, Retarder, Slide, Specimen};

pub(super) fn parts(
    written: &[Located<PartTable>],
    context: &Context<'_>,
) -> Result<Vec<Part>, Fault> {
    let mut names = HashSet::new();
    let mut parts = Vec::new();
    for part in written {
        let part = part.get();
        if part.name.get().trim().is_empty() {
            let remedy = "a part needs a name of 1 to 80 characters";
            return Err(Fault::refused(part.name.span(), "is empty", remedy));
        }
        let name = printable(&part.name, 80)?;
        if !names.insert(name) {
            let why = "is the name of an earlier part";
            return Err(Fault::refused(
                part.name.span(),
                why,
                "give each part its own name",
            ));
        }
        let kind = kind(part, context)?;
        parts.push(Part {
            name: name.to_owned(),
            tolerance: tolerance(part, &kind)?,
            kind,
        });
    }
    Ok(parts)
}

/// A text that fits a line of a table.
pub(super) fn printable(text: &Located<String>, longest: usize) -> Result<&str, Fault> {
    fit_to_print(text.get(), text.span(), longest)
}

/// The same of a text that stands at a place in bytes.
pub(super) fn fit_to_print(
    text: &str,
    span: std::ops::Range<usize>,
    longest: usize,
) -> Result<&str, Fault> {
    let inside = text.trim();
    let good = !inside.is_empty()
        && inside.chars().count() <= longest
        && !inside.chars().any(char::is_control);
    if good {
        Ok(inside)
    } else {
        let remedy = format!("allowed: one line of 1 to {longest} characters");
        Err(Fault::refused(span, "does not fit a table", remedy))
    }
}

fn kind(part: &PartTable, context: &Context<'_>) -> Result<PartKind, Fault> {
    let spans = [
        part.polarizer.as_ref().map(Located::span),
        part.retarder.as_ref().map(Located::span),
        part.plate.as_ref().map(Located::span),
        part.condenser.as_ref().map(Located::span),
        part.slide.as_ref().map(Located::span),
        part.specimen.as_ref().map(Located::span),
        part.objective.as_ref().map(Located::span),
        part.analyzer.as_ref().map(Located::span),
    ];
    let said: Vec<_> = (KINDS.iter().zip(spans))
        .filter_map(|(kind, span)| Some((*kind, span?)))
        .collect();
    match &said[..] {
        [_] => {}
        [] => {
            let remedy = format!("add one of: {}", KINDS.join(", "));
            return Err(Fault::refused(
                part.name.span(),
                "is a part of no kind",
                remedy,
            ));
        }
        [(first, _), (second, span), ..] => {
            let why = format!("makes this part {} as well as {}", one(second), one(first));
            return Err(Fault::refused(
                span.clone(),
                why,
                "a part is of one kind: make two parts",
            ));
        }
    }
    if part.condenser.is_none() && part.objective.is_none() {
        let strain = (part.strain.as_ref().map(Located::span))
            .or(part.strain_dispersion.as_ref().map(Located::span));
        if let Some(span) = strain {
            let remedy = "allowed on a condenser or objective";
            return Err(Fault::refused(
                span,
                format!("stands on a {}", said[0].0),
                remedy,
            ));
        }
    }
    Ok(if let Some(polar) = &part.polarizer {
        PartKind::Polarizer(polarizer(polar.get(), context)?)
    } else if let Some(polar) = &part.analyzer {
        PartKind::Analyzer(polarizer(polar.get(), context)?)
    } else if let Some(table) = &part.retarder {
        PartKind::Retarder(retarder(table.get(), context)?)
    } else if let Some(table) = &part.plate {
        PartKind::Plate(retarder(table.get(), context)?)
    } else if let Some(table) = &part.condenser {
        PartKind::Condenser(lens::lens(table, part, context)?)
    } else if let Some(table) = &part.objective {
        PartKind::Objective(lens::lens(table, part, context)?)
    } else if let Some(table) = &part.slide {
        PartKind::Slide(Slide {
            glass: names::glass(&table.get().glass)?.index,
            mount: names::mount(&table.get().mount)?,
        })
    } else if let Some(table) = &part.specimen {
        PartKind::Specimen(specimen::specimen(table)?)
    } else {
        // Exactly one kind was counted above, so this line is never reached; if it were, an error would be better than a panic.
        return Err(Fault::refused(part.name.span(), "is a part of no kind", ""));
    })
}

fn polarizer(written: &PolarizerTable, context: &Context<'_>) -> Result<Polarizer, Fault> {
    let mut sheet = match written.sheet.get() {
        NameOr::Name(name) if name == "ideal" => PolarizingSheet::ideal(),
        NameOr::Name(name) => catalog::sheet(name).ok_or_else(|| {
            let names = catalog::names("sheet").into_iter().chain(["ideal"]);
            names::unknown_among(&written.sheet, "sheet of the catalog", names)
        })?,
        NameOr::Other(table) => PolarizingSheet {
            name: table
                .csv
                .as_ref()
                .map_or("k1, k2", |csv| csv.get())
                .to_owned(),
            transmittance: transmittance(&written.sheet, table, context)?,
            index: PolarizingSheet::FILM_INDEX,
            cover_nm: 0.0,
            cover_is_told: false,
        },
    };
    if let Some(cover) = &written.cover_nm {
        sheet.cover_nm = cover.value();
        sheet.cover_is_told = true;
    }
    if let Some(index) = &written.index {
        sheet.index = index.value();
    }
    for &wavelength_nm in context.grid.wavelengths_nm() {
        sheet
            .principal_transmittances(wavelength_nm)
            .map_err(|error| {
                Fault::refused(
                    written.sheet.span(),
                    "does not cover the run",
                    error.to_string(),
                )
            })?;
    }
    let contact = (written.contact.as_ref())
        .map(|medium| names::immersion(Some(medium)))
        .transpose()?;
    Ok(Polarizer {
        contact,
        ..Polarizer::new(sheet, written.azimuth_deg.value().to_radians())
    })
}

fn transmittance(
    written: &Located<NameOr<SheetTable>>,
    table: &SheetTable,
    context: &Context<'_>,
) -> Result<SheetTransmittance, Fault> {
    match (&table.k1, &table.k2, &table.csv) {
        (Some(k1), Some(k2), None) => {
            if k2.value() > k1.value() {
                return Err(Fault::out_of_range(
                    k2.span(),
                    format!("0 to k1, which is {}", k1.value()),
                ));
            }
            Ok(SheetTransmittance::Constant {
                k1: k1.value(),
                k2: k2.value(),
            })
        }
        (None, None, Some(csv)) => {
            let table = tables::read(csv, context.files, &SHEET)?;
            for (row, [_, k1, k2]) in table.rows.iter().enumerate() {
                if k2 > k1 {
                    let remedy = format!("allowed: 0 to {k1}");
                    return Err(table.refused(row, 2, "is above k1", &remedy));
                }
            }
            table.check_wavelengths(csv, context.grid)?;
            Ok(SheetTransmittance::Table {
                k1: table.spectrum(1)?,
                k2: table.spectrum(2)?,
            })
        }
        (Some(_), None, None) => Err(Fault::missing(written.span(), "k2")),
        (None, Some(_), None) => Err(Fault::missing(written.span(), "k1")),
        _ => Err(Fault::refused(
            written.span(),
            "does not say one sheet",
            "allowed: { k1, k2 } or { csv }",
        )),
    }
}

fn retarder(written: &RetarderTable, context: &Context<'_>) -> Result<Retarder, Fault> {
    let retarder = Retarder {
        path_difference_nm: written.path_difference_nm.value(),
        at_nm: written.at_nm.as_ref().map_or(550.0, Number::value),
        material: names::plate_material(written.material.as_ref())?,
        slow_azimuth_rad: written.azimuth_deg.value().to_radians(),
    };
    for &wavelength_nm in context.grid.wavelengths_nm() {
        let difference = retarder.path_difference_nm(wavelength_nm);
        let why = match difference {
            Ok(nm) if nm.is_finite() => continue,
            Ok(_) => format!("no birefringence to scale with at {} nm", retarder.at_nm),
            Err(error) => error.to_string(),
        };
        let span = written.material.as_ref().map(Located::span);
        let span = span.unwrap_or_else(|| written.path_difference_nm.span());
        return Err(Fault::refused(span, "does not cover the run", why));
    }
    Ok(retarder)
}

/// A word with its article.
fn one(word: &str) -> String {
    let article = match word.starts_with(['a', 'e', 'i', 'o', 'u']) {
        true => "an",
        false => "a",
    };
    format!("{article} {word}")
}

fn tolerance(part: &PartTable, kind: &PartKind) -> Result<Option<Tolerance>, Fault> {
    let Some(written) = &part.tolerance else {
        return Ok(None);
    };
    let ToleranceTable {
        azimuth_deg,
        path_difference_nm,
        distribution,
    } = written.get();
    let said = [
        ("azimuth_deg", azimuth_deg.as_ref().map(Located::span)),
        (
            "path_difference_nm",
            path_difference_nm.as_ref().map(Located::span),
        ),
    ];
    if said.iter().all(|(_, span)| span.is_none()) {
        let remedy = "allowed: { azimuth_deg }, { path_difference_nm } or both";
        return Err(Fault::refused(written.span(), "says nothing", remedy));
    }
    let allowed: &[&str] = match kind {
        PartKind::Polarizer(_) | PartKind::Analyzer(_) => &["azimuth_deg"],
        PartKind::Slide(_) | PartKind::Specimen(Specimen::Across { .. }) => &[],
        PartKind::Condenser(lens) | PartKind::Objective(lens) if lens.strain.is_empty() => &[],
        _ => &["azimuth_deg", "path_difference_nm"],
    };
    for (key, span) in said {
        if let (Some(span), false) = (span, allowed.contains(&key)) {
            let such = match kind {
                PartKind::Specimen(Specimen::Across { .. }) => " cut across its axis",
                PartKind::Condenser(_) | PartKind::Objective(_) => " without strain",
                _ => "",
            };
            let why = format!("is nothing that {}{such} has", one(kind.word()));
            let remedy = match allowed {
                [] => "take the tolerance out".to_owned(),
                _ => format!("allowed here: {}", allowed.join(", ")),
            };
            return Err(Fault::refused(span, why, remedy));
        }
    }
    Ok(Some(Tolerance {
        azimuth_rad: azimuth_deg.as_ref().map(|deg| deg.value().to_radians()),
        path_difference_nm: path_difference_nm.as_ref().map(Number::value),
        kind: match distribution.as_ref().map(Located::get) {
            None | Some(DistributionWord::Normal) => ToleranceKind::Normal,
            Some(DistributionWord::Uniform) => ToleranceKind::Uniform,
        },
    }))
}
