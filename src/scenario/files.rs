//! Where scenarios and their tables are read from: the disk, or memory. The only place in the library that opens files to read them.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::error::{Blame, MarkedLine, Problem, ScenarioError};
use crate::os_words::why;

/// The files that a scenario may name.
///
/// Checked by: `tests/scenario/files.rs`, `tests/fuzz/main.rs`.
pub trait Files {
    /// What messages call the file of this name.
    fn shown(&self, name: &str) -> String;

    /// All bytes of the file of this name.
    ///
    /// # Errors
    /// [`FileError`] where there is no such file, or it holds more than `most` bytes.
    fn bytes(&self, name: &str, most: u64) -> Result<Vec<u8>, FileError>;
}

/// Why a file gives no bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FileError {
    /// It cannot be read.
    Unreadable {
        /// Why, in words.
        why: String,
    },
    /// It holds more than is allowed.
    TooLarge {
        /// What is allowed, bytes.
        most: u64,
    },
}

/// Files on disk, by names relative to a folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Disk {
    folder: PathBuf,
}

impl Disk {
    /// The files of a folder; the empty path is the folder that the program runs in.
    pub fn folder(folder: impl Into<PathBuf>) -> Self {
        let folder = folder.into();
        Self { folder }
    }
}

impl Files for Disk {
    fn shown(&self, name: &str) -> String {
        self.folder.join(name).display().to_string()
    }

    /// A table must not make the program wait for a pipe: only regular files are read.
    fn bytes(&self, name: &str, most: u64) -> Result<Vec<u8>, FileError> {
        let path = self.folder.join(name);
        let kind = fs::metadata(&path).map_err(unreadable)?;
        if !kind.is_file() && !kind.is_dir() {
            return Err(refused("it is no regular file"));
        }
        any_file(&path, most)
    }
}

/// Files in memory, each a name and what it holds: for a browser, a test, or a program that has its tables from elsewhere.
///
/// # Examples
/// ```
/// use polstack::scenario::{FileError, Files, Memory};
/// let files = Memory::from([("lamp.csv", "wavelength_nm,power\n380,1\n780,1\n")]);
/// assert_eq!(files.bytes("lamp.csv", 100).unwrap().len(), 32);
/// assert_eq!(files.bytes("lamp.csv", 10), Err(FileError::TooLarge { most: 10 }));
/// assert!(files.bytes("sheet.csv", 100).is_err());
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Memory {
    files: BTreeMap<String, Vec<u8>>,
}

impl<const N: usize, T: Into<Vec<u8>>> From<[(&str, T); N]> for Memory {
    fn from(files: [(&str, T); N]) -> Self {
        let named = files.map(|(name, bytes)| (name.to_owned(), bytes.into()));
        Self {
            files: named.into(),
        }
    }
}

impl From<BTreeMap<String, String>> for Memory {
    fn from(files: BTreeMap<String, String>) -> Self {
        let named = files
            .into_iter()
            .map(|(name, text)| (name, text.into_bytes()));
        Self {
            files: named.collect(),
        }
    }
}

impl Files for Memory {
    fn shown(&self, name: &str) -> String {
        name.to_owned()
    }

    fn bytes(&self, name: &str, most: u64) -> Result<Vec<u8>, FileError> {
        match self.files.get(name) {
            None => Err(unreadable(io::Error::from(io::ErrorKind::NotFound))),
            Some(bytes) if bytes.len() as u64 > most => Err(FileError::TooLarge { most }),
            Some(bytes) => Ok(bytes.clone()),
        }
    }
}

/// The bytes of a file on disk that may be a pipe, at most so many.
pub(super) fn any_file(path: &Path, most: u64) -> Result<Vec<u8>, FileError> {
    if path.is_dir() {
        return Err(refused("it is a folder"));
    }
    let file = File::open(path).map_err(unreadable)?;
    let size = file.metadata().map_or(0, |about| about.len());
    let mut bytes = Vec::with_capacity(size.min(most) as usize + 1);
    (file.take(most + 1).read_to_end(&mut bytes)).map_err(unreadable)?;
    enough(bytes, most)
}

/// All that can be read, at most so many bytes.
pub(super) fn all_of(from: impl Read, most: u64) -> Result<Vec<u8>, FileError> {
    let mut bytes = Vec::new();
    (from.take(most + 1).read_to_end(&mut bytes)).map_err(unreadable)?;
    enough(bytes, most)
}

/// Bytes, if they are at most so many.
fn enough(bytes: Vec<u8>, most: u64) -> Result<Vec<u8>, FileError> {
    if bytes.len() as u64 > most {
        return Err(FileError::TooLarge { most });
    }
    Ok(bytes)
}

#[allow(clippy::needless_pass_by_value, reason = "it stands in `map_err`")]
fn unreadable(error: io::Error) -> FileError {
    refused(&why(&error))
}

fn refused(why: &str) -> FileError {
    let why = why.to_owned();
    FileError::Unreadable { why }
}

impl FileError {
    /// The mistake that this is of a file that messages call `file`.
    pub(super) fn problem(self, file: &str) -> Problem {
        match self {
            Self::Unreadable { why } => Problem::Unreadable {
                file: file.to_owned(),
                why,
            },
            Self::TooLarge { most } => Problem::TooLarge { most },
        }
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
                let place = Blame::File(file.to_owned());
                return Err(ScenarioError::new(Problem::NotText, None, None, place));
            }
            let good = error.utf8_error().valid_up_to();
            let lossy = String::from_utf8_lossy(error.as_bytes());
            let end = good + lossy[good..].chars().next().map_or(0, char::len_utf8);
            let place = Blame::Line(MarkedLine::of(file, &lossy, &(good..end)));
            Err(ScenarioError::new(Problem::NotText, None, None, place))
        }
    }
}
