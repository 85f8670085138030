//! `polstack predict FILE`.

use std::path::PathBuf;

use clap::Args;

use super::Failure;
use super::job::{Job, Shown};
use crate::output::figure::{ApertureMap, predict_figures};
use crate::output::{csv, json, table};
use crate::scenario::Scenario;
use crate::study::doubt::{Stands, doubt, stands_of};
use crate::study::predict::{leak_picture, predict};

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack predict scenarios/pond-life.toml --plots figures\n\nprints what the microscope of that file will show and draws it as PNG and SVG."
)]
pub(super) struct PredictArguments {
    /// The scenario file (TOML), or - for standard input
    file: PathBuf,
    /// Leave out how sure the answer is: the interval over what the file and the catalog do not know
    #[arg(long)]
    exact: bool,
    #[command(flatten)]
    shown: Shown,
}

pub(super) fn run(
    PredictArguments { file, exact, shown }: &PredictArguments,
) -> Result<(), Failure> {
    let job = Job::about(file, shown);
    let Scenario {
        title,
        scene,
        notes,
        stands,
    } = &job.read(file)?;
    job.say_if_many_wavelengths(scene);
    let answer = job.work("following the rays", || {
        let mut answer = predict(scene)?;
        if !exact {
            let open = || Stands::of_file(&scene.path);
            answer.doubt = doubt(scene, &stands_of(stands.as_ref(), open))?;
        }
        Ok(answer)
    })?;
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
