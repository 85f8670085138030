//! `polstack predict FILE`.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{Failure, Shown, figures_written, print, progress};
use crate::optics::Rays;
use crate::output::figure::{ApertureMap, predict_figures, write_all};
use crate::output::{csv, json, table};
use crate::scenario::{self, Scenario};
use crate::study::StudyError;
use crate::study::predict::{Prediction, leak_map, predict};

/// Rings and spokes of the back focal plane's picture.
const MAP_RAYS: (usize, usize) = (65, 256);

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack predict scenarios/pond-life.toml --plots figures\n\nprints what the microscope of that file will show and draws it as PNG and SVG."
)]
pub(super) struct Arguments {
    /// The scenario file (TOML), or - for standard input
    file: PathBuf,
    #[command(flatten)]
    shown: Shown,
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    arguments.shown.check()?;
    let scenario = scenario::read(&arguments.file)?;
    let failed = |error| Failure::Study {
        file: arguments.file.clone(),
        error,
    };
    progress::say_if_many_wavelengths(&scenario, arguments.shown.quiet);
    let answer = progress::shown("following the rays", arguments.shown.quiet, || {
        predict(&scenario.scene)
    })
    .map_err(failed)?;
    if let Some(directory) = &arguments.shown.plots {
        let files = progress::shown("drawing", arguments.shown.quiet, || {
            let map = aperture_map(&scenario, &answer).map_err(failed)?;
            draw(&scenario, &answer, map, directory)
        })?;
        figures_written(&files, directory, arguments.shown.quiet);
    }
    let (title, notes) = (&scenario.title, &scenario.notes);
    print(if arguments.shown.format.json {
        json::prediction(title, &answer, notes)
    } else if arguments.shown.format.csv {
        csv::prediction(&answer)
    } else {
        table::prediction(title, &answer, notes, arguments.shown.quiet)
    })
}

/// Rays of the back focal plane's picture, and the light of each.
fn aperture_map(scenario: &Scenario, answer: &Prediction) -> Result<(Rays, Vec<f64>), StudyError> {
    let rays = Rays::even(answer.na, MAP_RAYS.0, MAP_RAYS.1);
    let light = leak_map(&scenario.scene, &rays)?;
    Ok((rays, light))
}

fn draw(
    scenario: &Scenario,
    answer: &Prediction,
    (rays, light): (Rays, Vec<f64>),
    directory: &Path,
) -> Result<Vec<PathBuf>, Failure> {
    let map = ApertureMap::of(&scenario.scene.path, &rays, light)?;
    let figures = predict_figures(&scenario.title, answer, &map)?;
    Ok(write_all(directory, &figures)?)
}
