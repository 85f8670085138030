//! `polstack catalog`.

use clap::Args;

use super::job::Format;
use super::{Failure, print};
use crate::material::catalog;
use crate::output::{csv, json, table};

/// Width of the table in characters where standard output is no terminal, and the least.
const WIDTH: (u16, u16) = (120, 60);

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack catalog --csv > catalog.csv\n\nlists every name that a scenario may use, with its source and how well it is known; the last two groups, specimens and stress grades, are for orientation only."
)]
pub(super) struct CatalogArguments {
    #[command(flatten)]
    format: Format,
}

pub(super) fn run(arguments: &CatalogArguments) -> Result<(), Failure> {
    let entries = catalog::entries();
    let width = terminal_size::terminal_size().map_or(WIDTH.0, |(width, _)| width.0.max(WIDTH.1));
    print(if arguments.format.json {
        json::catalog(&entries)
    } else if arguments.format.csv {
        csv::catalog(&entries)
    } else {
        table::catalog(&entries, width)
    })
}
