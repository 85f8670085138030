//! Files into text, text into a [`Scenario`].

use std::fs::File;
use std::io::Read;
use std::path::Path;

use super::build;
use super::decode::{Fault, decode};
use super::error::{Line, Place, Problem, ScenarioError};
use crate::light_path::LightPath;
use crate::os_words::why;
use crate::spectrum::{Source, WavelengthGrid};

/// Largest scenario, bytes.
pub(super) const MOST_SCENARIO_BYTES: u64 = 1 << 20;
/// Largest table, bytes.
pub(super) const MOST_TABLE_BYTES: u64 = 16 << 20;

/// A scenario, checked and ready to run.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// What it shows, in a line.
    pub title: String,
    /// The stack; [`LightPath::check`] accepts it.
    pub path: LightPath,
    /// The lamp.
    pub source: Source,
    /// The wavelengths.
    pub grid: WavelengthGrid,
    /// What is no mistake but worth saying, one sentence each.
    pub notes: Vec<String>,
}

/// What standard input is called, in place of a file.
pub const STANDARD_INPUT: &str = "-";

/// Reads a scenario file, or [`STANDARD_INPUT`]. Tables that it names are looked for in its folder, or in the folder that the program
/// runs in.
///
/// # Errors
/// [`ScenarioError`], with the file, line, column, key, value and what is allowed.
pub fn read(path: &Path) -> Result<Scenario, ScenarioError> {
    let is_standard_input = path == Path::new(STANDARD_INPUT);
    let (file, bytes) = if is_standard_input {
        let bytes = all_of(std::io::stdin().lock(), path, MOST_SCENARIO_BYTES);
        ("standard input".to_owned(), bytes)
    } else {
        (
            path.display().to_string(),
            any_file(path, MOST_SCENARIO_BYTES),
        )
    };
    let bytes = bytes
        .map_err(|problem| ScenarioError::new(problem, None, None, Place::File(file.clone())))?;
    let text = text(&file, bytes)?;
    parse(&text, &file, path.parent().unwrap_or(Path::new("")))
}

/// Reads a scenario from its text. `file_name` is the name that messages use; tables are looked for in `base_dir`.
///
/// # Errors
/// [`ScenarioError`], with the file, line, column, key, value and what is allowed.
///
/// # Examples
/// ```
/// let text = "light.source = { blackbody_k = 3200 }
/// aperture.na = 0.9
/// [[part]]
/// name = \"polar\"
/// polarizer = { sheet = { k1 = 0.8, k2 = 1.8 }, azimuth_deg = 0 }";
/// let error = polstack::scenario::parse(text, "bench.toml", "".as_ref()).unwrap_err();
/// assert_eq!(error.line_and_column(), Some((5, 40)));
/// assert_eq!(error.exit_code(), 2);
/// ```
pub fn parse(text: &str, file_name: &str, base_dir: &Path) -> Result<Scenario, ScenarioError> {
    let result = if text.len() as u64 > MOST_SCENARIO_BYTES {
        let most = MOST_SCENARIO_BYTES;
        Err(Fault::Here(Problem::TooLarge { most }, None))
    } else {
        decode(text).and_then(|file| build::scenario(&file, file_name, base_dir))
    };
    result.map_err(|fault| fault.place(file_name, text))
}

/// The bytes of a file that may be a pipe, at most so many.
fn any_file(path: &Path, most: u64) -> Result<Vec<u8>, Problem> {
    let unreadable = |error: std::io::Error| self::unreadable(path, &why(&error));
    if path.is_dir() {
        return Err(self::unreadable(path, "it is a folder"));
    }
    all_of(File::open(path).map_err(unreadable)?, path, most)
}

/// All that can be read, at most so many bytes.
fn all_of(from: impl Read, path: &Path, most: u64) -> Result<Vec<u8>, Problem> {
    let mut bytes = Vec::new();
    (from.take(most + 1).read_to_end(&mut bytes))
        .map_err(|error| unreadable(path, &why(&error)))?;
    if bytes.len() as u64 > most {
        return Err(Problem::TooLarge { most });
    }
    Ok(bytes)
}

/// The bytes of a file on disk. A scenario must not make the program wait for a pipe.
pub(super) fn regular_file(path: &Path, most: u64) -> Result<Vec<u8>, Problem> {
    let kind = std::fs::metadata(path).map_err(|error| unreadable(path, &why(&error)))?;
    if !kind.is_file() && !kind.is_dir() {
        return Err(unreadable(path, "it is no regular file"));
    }
    any_file(path, most)
}

fn unreadable(path: &Path, why: &str) -> Problem {
    Problem::Unreadable {
        file: path.display().to_string(),
        why: why.to_owned(),
    }
}

/// Bytes as text, without a byte order mark.
pub(super) fn text(file: &str, bytes: Vec<u8>) -> Result<String, ScenarioError> {
    match String::from_utf8(bytes) {
        Ok(text) => Ok(match text.strip_prefix('\u{feff}') {
            Some(rest) => rest.to_owned(),
            None => text,
        }),
        Err(error) => {
            // UTF-16 with its mark: no line of it is fit to print.
            if let [0xff, 0xfe, ..] | [0xfe, 0xff, ..] = error.as_bytes() {
                let place = Place::File(file.to_owned());
                return Err(ScenarioError::new(Problem::NotText, None, None, place));
            }
            let good = error.utf8_error().valid_up_to();
            let lossy = String::from_utf8_lossy(error.as_bytes());
            let end = good + lossy[good..].chars().next().map_or(0, char::len_utf8);
            let place = Place::Line(Line::of(file, &lossy, &(good..end)));
            Err(ScenarioError::new(Problem::NotText, None, None, place))
        }
    }
}
