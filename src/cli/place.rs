//! `polstack place FILE`.

use std::path::PathBuf;

use clap::Args;

use super::job::{Job, Shown};
use super::{Failure, extinction_ratio};
use crate::output::figure::{ApertureMap, FigureError, PlacePlane, place_figures, plane_irises};
use crate::output::{csv, json, table};
use crate::scenario::Scenario;
use crate::study::doubt::{Stands, places_known, stands_of};
use crate::study::place::{pictures, place};

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack place scenarios/two-lens-condenser.toml --plots figures\n\ntells whether the lower polar of that file belongs below the condenser, between its lenses, above it or under the slide, and at which iris and at which strain of the condenser that changes."
)]
pub(super) struct PlaceArguments {
    /// The scenario file (TOML), or - for standard input
    file: PathBuf,
    /// Move the analyzer too, through the gaps above the objective
    #[arg(long)]
    analyzer: bool,
    /// Extinction ratio that the oblique rays of a sheet should leave
    #[arg(long, value_name = "RATIO", default_value_t = 1000.0, allow_negative_numbers = true, value_parser = extinction_ratio)]
    extinction: f64,
    /// Leave out how sure the answer is: the interval over what the file and the catalog do not know
    #[arg(long)]
    exact: bool,
    #[command(flatten)]
    shown: Shown,
}

pub(super) fn run(arguments: &PlaceArguments) -> Result<(), Failure> {
    let job = Job::about(&arguments.file, &arguments.shown);
    let Scenario {
        title,
        scene,
        notes,
        stands,
        summed_in,
        ..
    } = &job.read(&arguments.file)?;
    let answer = job.work("moving the polars", || {
        let mut answer = place(scene, arguments.analyzer, arguments.extinction)?;
        answer.summed_in = summed_in.clone();
        if !arguments.exact && summed_in.is_none() {
            let stands = stands_of(stands.as_ref(), || Stands::of_moved(&scene.path));
            if let Some(told) = places_known(scene, &stands, &answer)? {
                answer.take(told);
            }
        }
        Ok(answer)
    })?;
    job.draw(|| {
        let pictures = pictures(scene, &answer, &plane_irises(&answer));
        let planes: Vec<PlacePlane> = (pictures.map_err(|error| job.failed(error))?.into_iter())
            .map(|of| {
                let map = ApertureMap::of(&of.path, &of.rays, of.light)?;
                let (place, iris) = (of.place, of.iris);
                Ok(PlacePlane { place, iris, map })
            })
            .collect::<Result<_, FigureError>>()?;
        Ok(place_figures(title, &answer, &planes)?)
    })?;
    job.print(
        || json::answer(title, &answer, notes),
        || csv::placement(&answer),
        || table::placement(title, &answer, notes, job.quiet),
    )
}
