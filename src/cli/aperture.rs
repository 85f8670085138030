//! `polstack aperture FILE`.

use std::path::PathBuf;

use clap::Args;

use super::{Failure, Format, figures_written, print, progress};
use crate::output::figure::{aperture_figures, write_all};
use crate::output::{csv, json, table};
use crate::scenario;
use crate::study::aperture::back_focal_plane;

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack aperture scenarios/crystal-across-axis.toml --plots figures --turn analyzer\n\ndraws the back focal plane of that file, how its parts make it what it is, and as a moving picture what happens while the analyzer is turned."
)]
pub(super) struct Arguments {
    /// The scenario file (TOML)
    file: PathBuf,
    #[command(flatten)]
    format: Format,
    /// Write the figures (PNG and SVG) into this directory
    #[arg(long, value_name = "DIR")]
    plots: Option<PathBuf>,
    /// Leave out notes, cautions and the progress display
    #[arg(long)]
    quiet: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let scenario = scenario::read(&arguments.file)?;
    let failed = |error| Failure::Study {
        file: arguments.file.clone(),
        error,
    };
    let answer = progress::shown("following the rays", arguments.quiet, || {
        back_focal_plane(&scenario.path, &scenario.source, &scenario.grid)
    })
    .map_err(failed)?;
    let (title, notes) = (&scenario.title, &scenario.notes);
    if let Some(directory) = &arguments.plots {
        let files = progress::shown("drawing", arguments.quiet, || {
            write_all(directory, &aperture_figures(title, &answer)?)
        })?;
        figures_written(&files, directory, arguments.quiet);
    }
    print(if arguments.format.json {
        json::back_focal_plane(title, &answer, notes)
    } else if arguments.format.csv {
        csv::back_focal_plane(&answer)
    } else {
        table::back_focal_plane(title, &answer, notes, arguments.quiet)
    })
}
