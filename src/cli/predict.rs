//! `polstack predict FILE`.

use std::path::PathBuf;

use clap::Args;

use super::{Failure, Format, print, progress};
use crate::optics::Rays;
use crate::output::{csv, json, table};
use crate::scenario::{self, Scenario};
use crate::study::predict::{Prediction, leak_map, predict};

/// Rings and spokes of the back focal plane's picture.
const MAP_RAYS: (usize, usize) = (64, 256);

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack predict scenarios/pond-life.toml --plots plots\n\nprints what the microscope of that file will show and draws it as PNG and SVG."
)]
pub(super) struct Arguments {
    /// The scenario file (TOML)
    file: PathBuf,
    #[command(flatten)]
    format: Format,
    /// Write the figures (PNG and SVG) into this directory
    #[arg(long, value_name = "DIR")]
    plots: Option<PathBuf>,
    /// Leave out notes, cautions and the progress bar
    #[arg(long)]
    quiet: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let scenario = scenario::read(&arguments.file)?;
    let failed = |error| Failure::Study {
        file: arguments.file.clone(),
        error,
    };
    let Scenario {
        title,
        path,
        source,
        grid,
        notes,
        ..
    } = &scenario;
    let answer = predict(path, source, grid).map_err(failed)?;
    print(if arguments.format.json {
        json::prediction(title, &answer, notes)
    } else if arguments.format.csv {
        csv::prediction(&answer)
    } else {
        table::prediction(title, &answer, notes, arguments.quiet)
    })
}
