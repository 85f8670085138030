//! The one file that a command writes where `--out` says.

use std::path::Path;

use super::Failure;
use crate::output::figure::write_files;

/// A file that is still to be written.
pub(super) struct OutFile<'a> {
    path: &'a Path,
    name: String,
    /// The folder that it goes into.
    pub(super) folder: &'a Path,
}

impl<'a> OutFile<'a> {
    /// Refuses a path that names no file.
    pub(super) fn of(path: &'a Path) -> Result<Self, Failure> {
        let (Some(name), Some(folder)) = (path.file_name(), path.parent()) else {
            return Err(Failure::Start("--out names no file".to_owned()));
        };
        Ok(Self {
            path,
            name: name.to_string_lossy().into_owned(),
            folder: match folder.as_os_str().is_empty() {
                true => Path::new("."),
                false => folder,
            },
        })
    }

    /// Writes it. What comes back says what was done: also that a file was replaced or a folder made.
    pub(super) fn write(self, text: &str) -> Result<String, Failure> {
        let besides = if self.path.exists() {
            " over the file that was there".to_owned()
        } else if self.folder.exists() {
            String::new()
        } else {
            format!(" and made its folder {}", self.folder.display())
        };
        write_files(self.folder, &[(self.name, text.as_bytes())])?;
        Ok(format!("wrote {}{besides}", self.path.display()))
    }
}
