//! The `polstack` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    polstack::cli::run()
}
