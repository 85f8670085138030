//! `polstack place FILE`.

use std::path::PathBuf;

use clap::Args;

use super::{Failure, Shown, extinction_ratio, figures_written, print, progress};
use crate::light_path::LightPath;
use crate::optics::Rays;
use crate::output::figure::{
    ApertureMap, FigureError, Plane, place_figures, plane_irises, write_all,
};
use crate::output::{csv, json, table};
use crate::scenario::{self, Scenario};
use crate::study::StudyError;
use crate::study::place::{PlaceAnswer, Placement, place};
use crate::study::predict::leak_map;

/// Rings and spokes of each back focal plane's picture.
const MAP_RAYS: (usize, usize) = (33, 128);

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack place scenarios/two-lens-condenser.toml --plots figures\n\ntells whether the lower polar of that file belongs below the condenser, between its lenses, above it or under the slide, and at which iris and at which strain of the condenser that changes."
)]
pub(super) struct Arguments {
    /// The scenario file (TOML), or - for standard input
    file: PathBuf,
    /// Move the analyzer too, through the gaps above the objective
    #[arg(long)]
    analyzer: bool,
    /// Extinction ratio that the oblique rays of a sheet should leave
    #[arg(long, value_name = "RATIO", default_value_t = 1000.0, allow_negative_numbers = true, value_parser = extinction_ratio)]
    extinction: f64,
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
    let answer = progress::shown("moving the polars", arguments.shown.quiet, || {
        place(&scenario.scene, arguments.analyzer, arguments.extinction)
    })
    .map_err(failed)?;
    let (title, notes) = (&scenario.title, &scenario.notes);
    if let Some(directory) = &arguments.shown.plots {
        let files = progress::shown("drawing", arguments.shown.quiet, || {
            let seen = planes(&scenario, &answer).map_err(failed)?;
            let planes: Vec<Plane> = (seen.into_iter())
                .map(|seen| seen.plane())
                .collect::<Result<_, _>>()?;
            let figures = place_figures(title, &answer, &planes)?;
            Ok::<_, Failure>(write_all(directory, &figures)?)
        })?;
        figures_written(&files, directory, arguments.shown.quiet);
    }
    print(if arguments.shown.format.json {
        json::placement(title, &answer, notes)
    } else if arguments.shown.format.csv {
        csv::placement(&answer)
    } else {
        table::placement(title, &answer, notes, arguments.shown.quiet)
    })
}

/// The light of a back focal plane.
struct Seen {
    place: usize,
    iris: usize,
    path: LightPath,
    rays: Rays,
    light: Vec<f64>,
}

impl Seen {
    fn plane(self) -> Result<Plane, FigureError> {
        Ok(Plane {
            place: self.place,
            iris: self.iris,
            map: ApertureMap::of(&self.path, &self.rays, self.light)?,
        })
    }
}

/// The back focal planes that the figure shows.
fn planes(scenario: &Scenario, answer: &Placement) -> Result<Vec<Seen>, StudyError> {
    let mut seen = Vec::new();
    for &place in &answer.verdict.rivals {
        let PlaceAnswer {
            placed, at_iris, ..
        } = &answer.lower[place];
        for iris in plane_irises(answer) {
            if at_iris[iris].is_none() {
                continue;
            }
            let mut path = placed.path.clone();
            path.iris_na = Some(answer.iris_na[iris]);
            let rays = Rays::even(path.na(), MAP_RAYS.0, MAP_RAYS.1);
            let light = leak_map(&scenario.scene.with_path(path.clone()), &rays)?;
            seen.push(Seen {
                place,
                iris,
                path,
                rays,
                light,
            });
        }
    }
    Ok(seen)
}
