//! From a table of surfaces to a lens, and what its rays say of it.

use super::decode::Fault;
use super::error::Problem;
use super::located::Located;
use super::schema::ScenarioFile;
use super::spans::{along_ray, fault};
use super::tables::{self, Context, CsvTable, PRESCRIPTION};
use crate::light_path::{LightPath, PartKind};
use crate::material::{Glass, Index, catalog};
use crate::optics::prescription::Surface;
use crate::optics::{Coating, LensForm, RadialAlong, Strain};

/// Most surfaces told one by one.
pub(super) const MOST_SURFACES: usize = 200;
/// Places of the columns in [`PRESCRIPTION`].
const THICKNESS: usize = 1;
const GLASS: usize = 2;
const HALF_DIAMETER: usize = 3;
const COATING: usize = 9;
/// Into how many steps an aperture is divided when it is checked that neighbouring surfaces do not cross.
const LOOKS: usize = 64;

/// The surfaces of a lens; `coating` covers those that do not say what covers them.
pub(super) fn read(
    csv: &Located<String>,
    context: &Context<'_>,
    coating: Coating,
) -> Result<LensForm, Fault> {
    let table = tables::read(csv, context.files, &PRESCRIPTION)?;
    let count = table.rows.len();
    if count > MOST_SURFACES {
        let why = format!("it holds {count} surfaces; at most {MOST_SURFACES} are taken");
        return Err(table.unusable(why));
    }
    let surfaces = (0..count)
        .map(|row| surface(&table, row, coating))
        .collect::<Result<Vec<_>, _>>()?;
    if let Some(last) = surfaces.last()
        && last.after.is_some()
    {
        let remedy =
            "leave it empty: what follows the last surface is air, or the part's `immersion`";
        return Err(table.refused(count - 1, GLASS, "stands behind the last surface", remedy));
    }
    if surfaces.iter().all(|surface| surface.after.is_none()) {
        return Err(table.unusable("no surface has glass behind it".into()));
    }
    for row in 1..count {
        gap(&table, row, &surfaces[row - 1], &surfaces[row])?;
    }
    Ok(LensForm::prescription(surfaces))
}

fn surface(table: &CsvTable<10>, row: usize, coating: Coating) -> Result<Surface, Fault> {
    let [
        radius_mm,
        thickness_mm,
        _,
        half_diameter_mm,
        conic,
        a4,
        a6,
        a8,
        a10,
        _,
    ] = table.rows[row];
    let surface = Surface {
        radius_mm,
        conic,
        aspheric: [a4, a6, a8, a10],
        thickness_mm,
        after: glass(table, row)?,
        half_diameter_mm,
        coating: match table.words[row][COATING].to_lowercase().as_str() {
            "" => coating,
            "none" => Coating::None,
            "mgf2" => Coating::Mgf2,
            "ideal" => Coating::Ideal,
            _ => {
                let remedy = "allowed: none, mgf2, ideal or nothing";
                return Err(table.refused(row, COATING, "is no coating", remedy));
            }
        },
    };
    if surface.sag(half_diameter_mm).is_none() {
        let reach_mm = radius_mm.abs() / (1.0 + conic).sqrt();
        let why = "is more than the surface has";
        let remedy = format!("a surface of this radius and conic ends at {reach_mm:.3} mm");
        return Err(table.refused(row, HALF_DIAMETER, why, &remedy));
    }
    Ok(surface)
}

/// The glass behind a surface, by name or index; air where nothing stands.
fn glass(table: &CsvTable<10>, row: usize) -> Result<Option<Glass>, Fault> {
    let word = table.words[row][GLASS].as_str();
    if word.is_empty() || word.eq_ignore_ascii_case("air") {
        return Ok(None);
    }
    let (min, max) = (PRESCRIPTION[GLASS].min, PRESCRIPTION[GLASS].max);
    if let Ok(index) = word.parse::<f64>() {
        if !(min..=max).contains(&index) {
            let allowed = format!("{min} to {max}, or a glass of the catalog");
            return Err(table.wrong(row, GLASS, Problem::OutOfRange { allowed }));
        }
        return Ok((index != 1.0).then(|| Glass {
            name: format!("n = {index}"),
            index: Index::Constant(index),
            stress_optic_brewster: None,
        }));
    }
    catalog::glass(word).map(Some).ok_or_else(|| {
        let known = catalog::names("glass").into_iter().map(str::to_owned);
        let problem = Problem::UnknownName {
            what: "glass of the catalog",
            known: known.collect(),
        };
        table.wrong(row, GLASS, problem)
    })
}

/// Two surfaces must not cross within the larger of their clear apertures; beyond its own, a surface goes on flat.
fn gap(table: &CsvTable<10>, row: usize, before: &Surface, here: &Surface) -> Result<(), Fault> {
    let rim = before.half_diameter_mm.max(here.half_diameter_mm);
    let (needed, at) = (1..=LOOKS)
        .map(|look| {
            let h = rim * look as f64 / LOOKS as f64;
            let sag = |surface: &Surface| {
                let inside = h.min(surface.half_diameter_mm);
                surface.sag(inside).map_or(0.0, |sag| sag.0)
            };
            (sag(before) - sag(here), h)
        })
        .fold(
            (0.0, 0.0),
            |most, need| if need.0 > most.0 { need } else { most },
        );
    if needed <= before.thickness_mm {
        return Ok(());
    }
    let why = "lets this surface and the next cross inside their clear apertures";
    let remedy = format!(
        "at {at:.2} mm from the axis, where they are nearest, they need {needed:.3} mm or more; or their half diameters are smaller (beyond its own, a surface is taken to go on flat)"
    );
    Err(table.refused(row - 1, THICKNESS, why, &remedy))
}

/// Traces every lens with a prescription: its NA, which must not be above what its surfaces reach, and its strain along the rays.
pub(super) fn settle(path: &mut LightPath, file: &ScenarioFile) -> Result<(), Fault> {
    path.settle_prescriptions()
        .map_err(|error| fault(error, file))?;
    for (part, written) in file.part.iter().enumerate() {
        let written = written.get();
        let table = written.condenser.as_ref().or(written.objective.as_ref());
        let (PartKind::Condenser(lens) | PartKind::Objective(lens)) = &path.parts[part].kind else {
            continue;
        };
        if !matches!(lens.form, LensForm::Prescription(_)) {
            continue;
        }
        let full_na = path.rim_na(part);
        if let Some(na) = table.and_then(|table| table.get().na.as_ref()) {
            let followed = path.condensers().any(|(index, _)| index > part)
                && matches!(path.parts[part].kind, PartKind::Condenser(_));
            if followed {
                return Err(Fault::refused(
                    na.span(),
                    "is given for the first of two lenses whose surfaces are known",
                    "take it out: both lenses are traced together; [aperture] na sets the iris",
                ));
            }
            if na.value() > full_na {
                let allowed = format!("up to {full_na:.4}, what its surfaces let through");
                return Err(Fault::out_of_range(na.span(), allowed));
            }
        }
        let profiles = written.strain.iter().flat_map(|strain| strain.get());
        for (number, _) in profiles.enumerate().filter(|(_, p)| along_ray(p).is_some()) {
            let profile = path
                .stress_profile(part)
                .map_err(|error| fault(error, file))?;
            if let PartKind::Condenser(lens) | PartKind::Objective(lens) =
                &mut path.parts[part].kind
                && let Some(Strain::Radial { along, .. }) = lens.strain.get_mut(number)
            {
                *along = RadialAlong::Ray(profile);
            }
        }
    }
    Ok(())
}
