//! Files into text, text into a [`Scenario`].

use std::path::Path;

use super::build::{self, Scenario};
use super::decode::{Fault, decode};
use super::error::{Blame, Problem, ScenarioError};
use super::files::{self, Disk, Files};

/// Largest scenario, bytes.
const MOST_SCENARIO_BYTES: u64 = 1 << 20;

/// What standard input is called, in place of a file.
pub const STANDARD_INPUT: &str = "-";

/// Reads a scenario file from disk, or [`STANDARD_INPUT`]. Tables that it names are looked for in its folder, or in the folder that
/// the program runs in.
///
/// # Errors
/// [`ScenarioError`], with the file, line, column, key, value and what is allowed.
pub fn read(path: &Path) -> Result<Scenario, ScenarioError> {
    let (file, bytes) = if path == Path::new(STANDARD_INPUT) {
        let bytes = files::all_of(std::io::stdin().lock(), MOST_SCENARIO_BYTES);
        ("standard input".to_owned(), bytes)
    } else {
        let bytes = files::any_file(path, MOST_SCENARIO_BYTES);
        (path.display().to_string(), bytes)
    };
    let bytes = bytes.map_err(|error| {
        let problem = error.problem(&path.display().to_string());
        ScenarioError::new(problem, None, None, Blame::File(file.clone()))
    })?;
    let folder = path.parent().unwrap_or(Path::new(""));
    parse(&files::text(&file, bytes)?, &file, &Disk::folder(folder))
}

/// Reads a scenario from its text. `file_name` is the name that messages use; tables are looked for in `files`.
///
/// # Errors
/// [`ScenarioError`], with the file, line, column, key, value and what is allowed.
///
/// # Examples
/// ```
/// use polstack::scenario::{Memory, parse};
/// let text = "light.source = { blackbody_k = 3200 }
/// aperture.na = 0.9
/// [[part]]
/// name = \"polar\"
/// polarizer = { sheet = { k1 = 0.8, k2 = 1.8 }, azimuth_deg = 0 }";
/// let error = parse(text, "bench.toml", &Memory::default()).unwrap_err();
/// assert_eq!(error.line_and_column(), Some((5, 40)));
/// assert_eq!(error.exit_code(), 2);
/// ```
pub fn parse(text: &str, file_name: &str, files: &dyn Files) -> Result<Scenario, ScenarioError> {
    let result = if text.len() as u64 > MOST_SCENARIO_BYTES {
        let most = MOST_SCENARIO_BYTES;
        Err(Fault::Here(Problem::TooLarge { most }, None))
    } else {
        decode(text).and_then(|file| build::scenario(&file, file_name, files))
    };
    result.map_err(|fault| fault.place(file_name, text))
}
