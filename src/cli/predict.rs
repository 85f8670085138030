//! `polstack predict FILE`.

use std::path::PathBuf;

use clap::Args;

use super::Failure;
use super::job::{Job, Shown};
use crate::output::figure::{ApertureMap, predict_figures};
use crate::output::{csv, json, table};
use crate::scenario::Scenario;
use crate::study::predict::{leak_picture, predict};

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack predict scenarios/pond-life.toml --plots figures\n\nprints what the microscope of that file will show and draws it as PNG and SVG."
)]
pub(super) struct PredictArguments {
    /// The scenario file (TOML), or - for standard input
    file: PathBuf,
    #[command(flatten)]
    shown: Shown,
}

pub(super) fn run(PredictArguments { file, shown }: &PredictArguments) -> Result<(), Failure> {
    let job = Job::about(file, shown);
    let Scenario {
        title,
        scene,
        notes,
    } = &job.read(file)?;
    job.say_if_many_wavelengths(scene);
    let answer = job.work("following the rays", || predict(scene))?;
    job.draw(|| {
        let (rays, light) = leak_picture(scene).map_err(|error| job.failed(error))?;
        let map = ApertureMap::of(&scene.path, &rays, light)?;
        Ok(predict_figures(title, &answer, &map)?)
    })?;
    job.print(
        || json::answer(title, &answer, notes),
        || csv::prediction(&answer),
        || table::prediction(title, &answer, notes, job.quiet),
    )
}
