//! From what is written to a scenario: the lamp, the wavelengths, the stack as a whole.

use std::path::Path;

use super::decode::Fault;
use super::error::Problem;
use super::files::Files;
use super::lesson::{self, Lesson};
use super::located::{Located, NameOr};
use super::names;
use super::notes;
use super::parts;
use super::prescription;
use super::sample;
use super::schema::{LightTable, ScenarioFile, SourceTable, SpectrumTable};
use super::spans::fault;
use super::tables::{self, Context, LAMP};
use crate::calculus::Stokes;
use crate::light_path::{LightPath, PartKind};
use crate::scene::Scene;
use crate::spectrum::{GridError, Source, WavelengthGrid};
use crate::study::doubt::Stands;

/// Most parts in a stack.
const MOST_PARTS: usize = 100;

/// A scenario, checked and ready to run.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// What it shows, in a line.
    pub title: String,
    /// The microscope; [`LightPath::check`] accepts its path.
    pub scene: Scene,
    /// Stands that a fit to readings has drawn, where the file refers to them.
    pub stands: Option<Stands>,
    /// The lens whose map is the strain of all lenses between the polars together, where a map is; what hangs on which of them has it, this scenario
    /// does not tell.
    pub summed_in: Option<String>,
    /// What a class is to do with it and to learn, where it is a lesson; no answer depends on it.
    pub lesson: Option<Lesson>,
    /// What is no mistake but worth saying, one sentence each.
    pub notes: Vec<String>,
}

pub(super) fn scenario(
    file: &ScenarioFile,
    file_name: &str,
    files: &dyn Files,
) -> Result<Scenario, Fault> {
    let title = match &file.title {
        Some(title) => parts::printable(title, 200)?.to_owned(),
        None => Path::new(file_name)
            .file_stem()
            .map_or_else(String::new, |stem| stem.to_string_lossy().into_owned()),
    };
    let grid = grid(file.spectrum.as_ref())?;
    let context = Context { files, grid: &grid };
    let source = source(&file.light.source, &context)?;
    check_count(file)?;
    let parts = parts::parts(&file.part, &context)?;
    let mut path = LightPath {
        lamp: lamp(&file.light)?,
        iris_na: file.aperture.as_ref().map(|aperture| aperture.na.value()),
        view_na: file.view.as_ref().map(|view| view.na.value()),
        parts,
        stray_fraction: (file.stray.as_ref()).map_or(0.0, |stray| stray.fraction.value()),
    };
    prescription::settle(&mut path, file)?;
    path.check(grid.wavelengths_nm())
        .map_err(|error| fault(error, file))?;
    check_lamp(&file.light, &path)?;
    let stands = (file.doubt.as_ref())
        .map(|doubt| sample::read(&doubt.sample, files, &path))
        .transpose()?;
    let lesson = (file.lesson.as_ref())
        .map(|written| lesson::read(written, &path))
        .transpose()?;
    let summed_in = notes::summed_in(file, &path).map(str::to_owned);
    let notes = notes::notes(file, &path, &source, &grid);
    Ok(Scenario {
        title,
        scene: Scene { path, source, grid },
        stands,
        summed_in,
        lesson,
        notes,
    })
}

fn check_count(file: &ScenarioFile) -> Result<(), Fault> {
    if file.part.is_empty() {
        return Err(Fault::Here(
            Problem::Refused {
                why: "has no parts".into(),
                remedy: "add [[part]] tables, lamp first: at least a polarizer and an analyzer"
                    .into(),
            },
            None,
        ));
    }
    match file.part.get(MOST_PARTS) {
        Some(part) => Err(Fault::refused(
            part.get().name.span(),
            format!("is one part too many: there are {}", file.part.len()),
            format!("at most {MOST_PARTS} parts"),
        )),
        None => Ok(()),
    }
}

fn grid(written: Option<&SpectrumTable>) -> Result<WavelengthGrid, Fault> {
    let Some(SpectrumTable {
        from_nm,
        to_nm,
        step_nm,
    }) = written
    else {
        return Ok(WavelengthGrid::default());
    };
    let from = from_nm.as_ref().map_or(380.0, |nm| nm.value());
    let to = to_nm.as_ref().map_or(780.0, |nm| nm.value());
    let step = step_nm.as_ref().map_or(5.0, |nm| nm.value());
    WavelengthGrid::new(from, to, step).map_err(|error| {
        let span = to_nm.as_ref().map(Located::span);
        let span = span.or_else(|| from_nm.as_ref().map(Located::span));
        let span = span.or_else(|| step_nm.as_ref().map(Located::span));
        // Each number is in its own range already: what is left is how they go together.
        let allowed = match &error {
            GridError::OutOfRange { allowed, .. } => {
                format!("{allowed} (from {from} to {to} nm every {step} nm)")
            }
            GridError::TooMany { .. } => format!("at most {} wavelengths", WavelengthGrid::MOST),
        };
        Fault::Here(Problem::OutOfRange { allowed }, span)
    })
}

fn lamp(light: &LightTable) -> Result<Stokes, Fault> {
    let Some(written) = &light.stokes else {
        return Ok(Stokes::UNPOLARIZED);
    };
    let numbers: Vec<f64> = written.get().iter().map(|s| s.value()).collect();
    let Ok(numbers) = <[f64; 4]>::try_from(numbers) else {
        let why = format!("holds {} numbers", written.get().len());
        return Err(Fault::refused(
            written.span(),
            why,
            "allowed: four, S0 to S3",
        ));
    };
    let normalised = Stokes(numbers.map(|s| s / numbers[0]));
    if numbers[0] > 0.0 && normalised.is_physical() {
        Ok(normalised)
    } else {
        Err(Fault::refused(
            written.span(),
            "is no state that light can have",
            "allowed: S0 above 0 and S1^2 + S2^2 + S3^2 at most S0^2",
        ))
    }
}

/// Less than this part of polarized light behind the lower polar is nothing to compare other light with.
const LEAST_PASSED: f64 = 0.01;

/// Light of a polarized lamp has to pass the lower polar, at least where no retarder comes before it.
fn check_lamp(light: &LightTable, path: &LightPath) -> Result<(), Fault> {
    let before = path
        .lower_polar()
        .map_or(&[][..], |part| &path.parts[..part]);
    let turned = before
        .iter()
        .any(|part| matches!(part.kind, PartKind::Retarder(_)));
    let (Some(written), Some((lower, _)), false) = (&light.stokes, path.polars(), turned) else {
        return Ok(());
    };
    let Stokes([whole, s1, ..]) = path.lamp.turned(-lower.azimuth_rad);
    match 0.5 * (whole + s1) < LEAST_PASSED * whole {
        false => Ok(()),
        true => Err(Fault::refused(
            written.span(),
            "is light that the lower polar hardly passes, so that there is no parallel field",
            "turn one of the two by 90 degrees, or leave `stokes` out",
        )),
    }
}

fn source(written: &Located<NameOr<SourceTable>>, context: &Context<'_>) -> Result<Source, Fault> {
    let source = match written.get() {
        NameOr::Name(name) => Source::named(name)
            .ok_or_else(|| names::unknown_among(written, "lamp of the catalog", Source::names()))?,
        NameOr::Other(table) => source_table(written, table, context)?,
    };
    let mut total = 0.0;
    for &wavelength_nm in context.grid.wavelengths_nm() {
        total += source.power(wavelength_nm).map_err(|error| {
            Fault::refused(written.span(), "does not cover the run", error.to_string())
        })?;
    }
    // NaN is no light either.
    if total > 0.0 {
        Ok(source)
    } else {
        Err(Fault::refused(
            written.span(),
            "gives no light",
            "no power at any wavelength of the run: move the line, widen it, or take smaller steps",
        ))
    }
}

fn source_table(
    written: &Located<NameOr<SourceTable>>,
    table: &SourceTable,
    context: &Context<'_>,
) -> Result<Source, Fault> {
    match (
        &table.blackbody_k,
        &table.line_nm,
        &table.width_nm,
        &table.csv,
    ) {
        (Some(temperature), None, None, None) => Ok(Source::Blackbody {
            temperature_k: temperature.value(),
        }),
        (None, Some(centre), Some(width), None) => Ok(Source::Line {
            centre_nm: centre.value(),
            width_nm: width.value(),
        }),
        (None, None, None, Some(csv)) => {
            let table = tables::read_spectral(csv, context, &LAMP)?;
            Ok(Source::Table {
                name: table.name.clone(),
                power: table.spectrum(1)?,
            })
        }
        (None, Some(_), None, None) => Err(Fault::missing(written.span(), "width_nm")),
        (None, None, Some(_), None) => Err(Fault::missing(written.span(), "line_nm")),
        _ => Err(Fault::refused(
            written.span(),
            "does not say one lamp",
            "allowed: { blackbody_k }, { line_nm, width_nm } or { csv }",
        )),
    }
}
