//! `polstack view FILE`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::job::{Job, Shown};
use super::number_table::read_number_table;
use super::{Failure, number, progress, shown, whole};
use crate::color::Xyz;
use crate::output::figure::{FieldExposure, MovingForm, field_figure, field_film};
use crate::output::{SpecimenWords, csv, json, table};
use crate::scenario::Scenario;
use crate::study::StudyError;
use crate::study::view::{FieldLight, FieldSpecimen, SpecimenMap, SpecimenMapError, seen_objects};

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack view scenarios/pond-life.toml --plots figures --turn stage\n\nshows an invented specimen (grains with their dark crosses, needles, a wedge, fibres, a bead) in that stack, plate out and in, and as a moving picture while the stage turns."
)]
pub(super) struct ViewArguments {
    /// The scenario file (TOML), or - for standard input
    file: PathBuf,
    /// Turn the stage and draw a moving picture: turn-stage.gif
    #[arg(long, value_enum, requires = "plots")]
    turn: Option<TurnedStage>,
    /// Number of frames of a whole turn
    #[arg(long, value_name = "N", requires = "turn", default_value_t = 36, allow_negative_numbers = true, value_parser = frame_count)]
    frames: u32,
    /// Numbered PNG pictures in place of the GIF: turn-stage-001.png
    #[arg(long, requires = "turn", conflicts_with = "apng")]
    png: bool,
    /// An animated PNG in place of the GIF, in all its colours: turn-stage.png
    #[arg(long, requires = "turn")]
    apng: bool,
    /// The moving picture with the plates in
    #[arg(long, requires = "turn")]
    plate: bool,
    /// Width and height of the field in pixels
    #[arg(long, value_name = "PIXELS", default_value_t = 512, allow_negative_numbers = true, value_parser = pixels)]
    size: u32,
    /// Show the field as bright as the parallel field would be, or brighter by so many stops; without this each picture is as bright as a screen can
    /// show it
    #[arg(long, value_name = "STOPS", allow_negative_numbers = true, value_parser = stops)]
    stops: Option<f64>,
    /// A specimen of your own: path differences, as CSV in nm or as a 16-bit grey PNG
    #[arg(long, value_name = "FILE", requires = "azimuth")]
    path_difference: Option<PathBuf>,
    /// Azimuths of the slow direction that go with them, as CSV in degrees or as a 16-bit grey PNG of 0 to 180 degrees
    #[arg(long, value_name = "FILE", requires = "path_difference")]
    azimuth: Option<PathBuf>,
    /// Path difference of one step of the PNG's grey, nm; 0.1 unless given
    #[arg(long, value_name = "NM", requires = "path_difference", allow_negative_numbers = true, value_parser = above_zero)]
    nm_per_step: Option<f64>,
    /// Width of a point of your specimen, micrometres
    #[arg(long, value_name = "UM", requires = "path_difference", default_value_t = 1.0, allow_negative_numbers = true, value_parser = above_zero)]
    um_per_pixel: f64,
    #[command(flatten)]
    shown: Shown,
}

/// What can be turned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum TurnedStage {
    /// The stage with the specimen
    Stage,
}

fn frame_count(text: &str) -> Result<u32, String> {
    whole(text, 2, 360)
}

fn pixels(text: &str) -> Result<u32, String> {
    whole(text, 64, 2048)
}

fn stops(text: &str) -> Result<f64, String> {
    (number(text).filter(|stops| (-10.0..=40.0).contains(stops)))
        .ok_or_else(|| "allowed: -10 to 40".to_owned())
}

fn above_zero(text: &str) -> Result<f64, String> {
    (number(text).filter(|value| (1e-6..=1e6).contains(value)))
        .ok_or_else(|| "allowed: 1e-6 to 1e6".to_owned())
}

/// Path difference of one step of a 16-bit grey unless it is told, nm.
const NM_A_STEP: f64 = 0.1;
/// Degrees of one step of a 16-bit azimuth.
const DEGREES_A_STEP: f64 = 180.0 / 65536.0;

pub(super) fn run(arguments: &ViewArguments) -> Result<(), Failure> {
    let job = Job::about(&arguments.file, &arguments.shown);
    let Scenario {
        title,
        scene,
        notes,
        ..
    } = &job.read(&arguments.file)?;
    let specimen = specimen(arguments)?;
    let light = job.work("following the rays", || FieldLight::new(scene))?;
    let file = (arguments.path_difference.as_deref()).map(shown);
    let words = SpecimenWords::of(&specimen, file.as_deref());
    if job.plots.is_some() {
        draw(arguments, &job, title, &light, (&specimen, &words))?;
    }
    let objects = seen_objects(&light, &specimen);
    job.print(
        || json::view(title, &objects, notes),
        || csv::view(&objects),
        || table::view(title, &objects, &words, notes, job.quiet),
    )
}

fn specimen(arguments: &ViewArguments) -> Result<FieldSpecimen, Failure> {
    let (Some(differences), Some(azimuths)) = (&arguments.path_difference, &arguments.azimuth)
    else {
        return Ok(FieldSpecimen::Invented);
    };
    let (size, nm) = read_number_table(
        differences,
        arguments.nm_per_step.unwrap_or(NM_A_STEP),
        arguments.nm_per_step.map(|_| "--nm-per-step"),
    )?;
    let (azimuth_size, degrees) = read_number_table(azimuths, DEGREES_A_STEP, None)?;
    let failed = |error: &dyn std::fmt::Display| Failure::View {
        file: differences.clone(),
        error: error.to_string(),
    };
    if size != azimuth_size {
        let error = SpecimenMapError::Sizes {
            path_difference: size,
            azimuth: azimuth_size,
        };
        return Err(failed(&error));
    }
    SpecimenMap::new(size, &nm, &degrees, arguments.um_per_pixel)
        .map(FieldSpecimen::Map)
        .map_err(|error| failed(&error))
}

fn draw(
    arguments: &ViewArguments,
    job: &Job<'_>,
    title: &str,
    light: &FieldLight,
    (specimen, words): (&FieldSpecimen, &SpecimenWords),
) -> Result<(), Failure> {
    let exposure = (arguments.stops).map_or(FieldExposure::Own, FieldExposure::OfParallel);
    let size = arguments.size as usize;
    let still = light.view(specimen, size, 0.0);
    let figure = field_figure((title, words), &still, light.parallel, exposure)?;
    let mut others = Vec::new();
    if arguments.turn.is_some() {
        if arguments.plate && !light.has_plate() {
            return Err(job.failed(StudyError::NoPlate));
        }
        let count = arguments.frames as usize;
        let frames: Vec<Vec<Xyz>> = progress::counted("turning", job.quiet, count as u64, |done| {
            (0..count)
                .map(|frame| {
                    let angle = std::f64::consts::TAU * frame as f64 / count as f64;
                    let view = light.view(specimen, size, angle);
                    done(frame + 1);
                    match (arguments.plate, view.with_plate) {
                        (true, Some(with_plate)) => with_plate,
                        _ => view.without_plate,
                    }
                })
                .collect()
        });
        let form = MovingForm::asked(arguments.png, arguments.apng);
        others = field_film(&frames, size, (light.parallel, exposure), form)?;
    }
    job.write(&[figure], &others)
}
