//! `polstack catalog`.

use clap::Args;

use super::{Failure, Format, print};
use crate::material::catalog;
use crate::output::{csv, json, table};
use crate::spectrum::Source;

/// Width of the table where standard output is no terminal.
const WIDTH: u16 = 120;

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack catalog --csv > catalog.csv\n\nlists every name that a scenario may use, with its source and how well it is known."
)]
pub(super) struct Arguments {
    #[command(flatten)]
    format: Format,
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let entries = catalog::entries();
    print(if arguments.format.json {
        json::catalog(&entries)
    } else if arguments.format.csv {
        csv::catalog(&entries)
    } else {
        table::catalog(&entries, WIDTH)
    })
}
