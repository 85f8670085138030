//! The sensitivities of a colour camera, from a CSV file.

use std::path::Path;

use super::decode::Fault;
use super::error::ScenarioError;
use super::files;
use super::tables::{CAMERA, MOST_TABLE_BYTES, parsed, whole};
use crate::spectrum::{CameraSensitivity, WavelengthGrid};

/// Reads a camera's sensitivities from disk.
///
/// # Errors
/// [`ScenarioError`], with the file, line, column, value and what is allowed.
pub fn read_camera(path: &Path) -> Result<CameraSensitivity, ScenarioError> {
    let file = path.display().to_string();
    let bytes = files::any_file(path, MOST_TABLE_BYTES)
        .map_err(|error| whole(&file, error.problem(&file)))?;
    parse_camera(&files::text(&file, bytes)?, &file)
}

/// Reads a camera's sensitivities from their text: the columns `wavelength_nm`, `red`, `green` and `blue`, each a number for the light's energy, on
/// one scale. Outside the table the camera sees nothing.
///
/// # Errors
/// [`ScenarioError`], with the file, line, column, value and what is allowed.
///
/// Checked by: `tests/scenario/photographs.rs`.
///
/// # Examples
/// ```
/// use polstack::scenario::parse_camera;
/// use polstack::spectrum::Channel;
/// let camera = parse_camera("wavelength_nm,red,green,blue\n500,0,1,1\n540,1,1,0\n", "camera.csv")?;
/// assert_eq!(camera.channel(Channel::Red).at(520.0), 0.5);
/// # Ok::<(), polstack::scenario::ScenarioError>(())
/// ```
pub fn parse_camera(text: &str, file_name: &str) -> Result<CameraSensitivity, ScenarioError> {
    let read = || {
        let table = parsed(file_name, file_name.to_owned(), text.to_owned(), &CAMERA)?;
        table.check_order(&WavelengthGrid::default())?;
        for (column, told) in CAMERA.iter().enumerate().skip(1) {
            if table.rows.iter().all(|row| row[column] == 0.0) {
                return Err(table.unusable(format!("{} is 0 everywhere", told.name)));
            }
        }
        CameraSensitivity::from_rows(table.rows.clone())
            .map_err(|error| table.unusable(error.to_string()))
    };
    read().map_err(|fault: Fault| fault.place(file_name, text))
}
