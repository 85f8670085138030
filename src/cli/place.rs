//! `polstack place FILE`.

use std::path::PathBuf;

use clap::Args;

use super::{Failure, Format, print, progress};
use crate::output::{csv, json, table};
use crate::scenario;
use crate::study::place::place;

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack place scenarios/two-lens-condenser.toml --plots figures\n\ntells whether the lower polar of that file belongs below the condenser, between its lenses, above it or under the slide, and at which iris and at which strain of the condenser that changes."
)]
pub(super) struct Arguments {
    /// The scenario file (TOML)
    file: PathBuf,
    /// Move the analyzer too, through the gaps above the objective
    #[arg(long)]
    analyzer: bool,
    /// Extinction ratio that the oblique rays of a sheet should leave
    #[arg(long, value_name = "RATIO", default_value_t = 1000.0, value_parser = above_one)]
    extinction: f64,
    #[command(flatten)]
    format: Format,
    /// Leave out notes, cautions and the progress display
    #[arg(long)]
    quiet: bool,
}

/// A finite number above 1.
fn above_one(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(ratio) if ratio > 1.0 && ratio.is_finite() => Ok(ratio),
        _ => Err("allowed: a number above 1, such as 1000".to_owned()),
    }
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let scenario = scenario::read(&arguments.file)?;
    let answer = progress::shown("moving the polars", arguments.quiet, || {
        place(
            &scenario.path,
            &scenario.source,
            &scenario.grid,
            arguments.analyzer,
            arguments.extinction,
        )
    })
    .map_err(|error| Failure::Study {
        file: arguments.file.clone(),
        error,
    })?;
    let (title, notes) = (&scenario.title, &scenario.notes);
    print(if arguments.format.json {
        json::placement(title, &answer, notes)
    } else if arguments.format.csv {
        csv::placement(&answer)
    } else {
        table::placement(title, &answer, notes, arguments.quiet)
    })
}
