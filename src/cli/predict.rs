//! `polstack predict FILE...`.

use std::path::{Path, PathBuf};

use clap::Args;

use super::job::{Job, Shown};
use super::{EyeArguments, Failure, one_standard_input, tell_apart};
use crate::output::figure::{ApertureMap, predict_figures};
use crate::output::{StandNote, csv, json, table};
use crate::scenario::Scenario;
use crate::study::doubt::{Stands, doubt, stands_of};
use crate::study::predict::{Prediction, leak_picture, predict_seen};

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack predict scenarios/pond-life.toml --plots figures\n\nprints what the microscope of that file will show and draws it as PNG and SVG.\n\n  polstack predict scenarios/sheet-below-condenser.toml scenarios/pond-life.toml\n\nputs two stands side by side and says which is darker, and how sure that is."
)]
pub(super) struct PredictArguments {
    /// The scenario file (TOML), or - for standard input; several are put side by side
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Leave out how sure the answer is: the interval over what the file and the catalog do not know
    #[arg(long)]
    exact: bool,
    #[command(flatten)]
    eye: EyeArguments,
    #[command(flatten)]
    shown: Shown,
}

pub(super) fn run(arguments: &PredictArguments) -> Result<(), Failure> {
    match &arguments.files[..] {
        [file] => one(file, arguments),
        files => {
            one_standard_input(files)?;
            side_by_side(files, arguments)
        }
    }
}

fn answer(
    job: &Job<'_>,
    scenario: &Scenario,
    arguments: &PredictArguments,
) -> Result<Prediction, Failure> {
    let Scenario { scene, stands, .. } = scenario;
    job.say_if_many_wavelengths(scene);
    job.work("following the rays", || {
        let mut answer = predict_seen(scene, arguments.eye.adapted)?;
        if !arguments.exact {
            let open = || Stands::of_file(&scene.path);
            answer.doubt = doubt(scene, &stands_of(stands.as_ref(), open))?;
        }
        Ok(answer)
    })
}

fn one(file: &Path, arguments: &PredictArguments) -> Result<(), Failure> {
    let job = Job::about(file, &arguments.shown);
    let scenario = job.read(file)?;
    let answer = answer(&job, &scenario, arguments)?;
    let Scenario {
        title,
        scene,
        notes,
        ..
    } = &scenario;
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

fn side_by_side(files: &[PathBuf], arguments: &PredictArguments) -> Result<(), Failure> {
    let mut answers = Vec::new();
    let mut notes: Vec<StandNote> = Vec::new();
    for (stand, file) in files.iter().enumerate() {
        let job = Job::about(file, &arguments.shown);
        if job.plots.is_some() {
            return Err(Failure::SideBySide);
        }
        let scenario = job.read(file)?;
        let answer = answer(&job, &scenario, arguments)?;
        for words in scenario.notes {
            match notes.iter_mut().find(|note| note.words == words) {
                Some(note) => note.stands.push(stand),
                None => notes.push(StandNote {
                    words,
                    stands: vec![stand],
                }),
            }
        }
        answers.push((scenario.title, answer));
    }
    tell_apart(&mut answers, files);
    let job = Job::about(&files[0], &arguments.shown);
    job.print(
        || json::side_by_side(&answers, &notes),
        || csv::side_by_side(&answers),
        || table::side_by_side(&answers, &notes, job.quiet),
    )
}
