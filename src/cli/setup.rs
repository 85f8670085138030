//! `polstack schema`, `polstack completions`, `polstack manual`: what editors and shells want.

use std::path::PathBuf;

use clap::{Args, CommandFactory};
use clap_complete::Shell;

use super::{Cli, Failure, print};
use crate::scenario;

#[derive(Debug, Args)]
#[command(after_help = "Example:\n  polstack completions bash > polstack.bash")]
pub(super) struct Completions {
    /// The shell
    shell: Shell,
}

#[derive(Debug, Args)]
#[command(after_help = "Example:\n  polstack manual man/man1")]
pub(super) struct Manual {
    /// Where the pages go
    directory: PathBuf,
}

pub(super) fn schema() -> Result<(), Failure> {
    print(format_args!("{:#}\n", scenario::json_schema()))
}

pub(super) fn completions(arguments: &Completions) -> Result<(), Failure> {
    let mut script = Vec::new();
    clap_complete::generate(
        arguments.shell,
        &mut Cli::command(),
        "polstack",
        &mut script,
    );
    print(String::from_utf8_lossy(&script))
}

pub(super) fn manual(arguments: &Manual) -> Result<(), Failure> {
    let failed = |error| Failure::Write {
        path: arguments.directory.clone(),
        error,
    };
    std::fs::create_dir_all(&arguments.directory).map_err(failed)?;
    clap_mangen::generate_to(Cli::command(), &arguments.directory).map_err(failed)
}
