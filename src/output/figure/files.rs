//! Figures as files, all of them whole or none.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::{Builder, NamedTempFile};

use super::{Figure, FigureError};

/// Whether files can be written into a folder that may not be there yet: to be asked before a long computation. Leaves nothing behind.
///
/// # Errors
/// [`FigureError::Write`], with the path that is to blame.
pub fn check_folder(dir: &Path) -> Result<(), FigureError> {
    let there = dir.ancestors().find(|folder| folder.exists());
    let folder = there.unwrap_or(Path::new("."));
    let blame = |source| FigureError::Write {
        path: folder.to_owned(),
        source,
    };
    if !folder.is_dir() {
        return Err(blame(io::Error::from(io::ErrorKind::NotADirectory)));
    }
    temporary(folder).map(drop).map_err(|error| {
        // A folder that is there and yet takes no file: one of the system's own.
        blame(match error.kind() {
            io::ErrorKind::NotFound => io::Error::from(io::ErrorKind::Unsupported),
            _ => error,
        })
    })
}

/// Writes every figure's files into a folder: [`write_files`] of [`Figure::files`].
///
/// # Errors
/// As [`write_files`].
pub fn write_all(dir: &Path, figures: &[Figure]) -> Result<Vec<PathBuf>, FigureError> {
    let files: Vec<_> = figures.iter().flat_map(Figure::files).collect();
    write_files(dir, &files)
}

/// Writes files, each a name and what it holds, into a folder, which is made where it is missing; gives back their paths.
///
/// Files are first written whole under temporary names in that folder and take their own names when all are ready. A file that is
/// there already is replaced. When a file cannot be put in place, those that were are taken away again.
///
/// # Errors
/// [`FigureError::Write`], with the path that is to blame.
pub fn write_files(dir: &Path, files: &[(String, &[u8])]) -> Result<Vec<PathBuf>, FigureError> {
    let blame = |path: &Path| {
        let path = path.to_owned();
        move |source| FigureError::Write { path, source }
    };
    fs::create_dir_all(dir).map_err(blame(dir))?;
    let mut ready = Vec::new();
    for (name, bytes) in files {
        let path = dir.join(name);
        if path.is_dir() {
            return Err(blame(&path)(io::Error::from(io::ErrorKind::IsADirectory)));
        }
        let mut file = temporary(dir).map_err(blame(dir))?;
        file.write_all(bytes).map_err(blame(&path))?;
        file.flush().map_err(blame(&path))?;
        ready.push((file, path));
    }
    let mut written: Vec<PathBuf> = Vec::new();
    for (file, path) in ready {
        if let Err(failed) = file.persist(&path) {
            for done in &written {
                // The first failure is the one to report.
                let _ = fs::remove_file(done);
            }
            return Err(blame(&path)(failed.error));
        }
        written.push(path);
    }
    Ok(written)
}

/// A temporary file with the permissions that an ordinary new file has.
fn temporary(dir: &Path) -> io::Result<NamedTempFile> {
    let mut builder = Builder::new();
    builder.prefix(".polstack-");
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(dir)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figures() -> Vec<Figure> {
        [("one", "<svg/>"), ("two", "<svg></svg>")]
            .map(|(name, svg)| Figure {
                name,
                missing: Vec::new(),
                svg: svg.to_owned(),
                png: name.as_bytes().to_vec(),
                pdf: None,
                sheet: crate::output::sheet::Sheet::new(name, (1.0, 1.0)),
            })
            .to_vec()
    }

    #[test]
    fn a_folder_is_checked_before_anything_is_made() {
        let root = tempfile::tempdir().unwrap();
        assert!(check_folder(&root.path().join("new").join("plots")).is_ok());
        assert!(names(root.path()).is_empty());
        let file = root.path().join("file");
        fs::write(&file, "kept").unwrap();
        for path in [file.clone(), file.join("below")] {
            let error = check_folder(&path).unwrap_err().to_string();
            assert!(error.contains("file cannot be written"), "{error}");
        }
        assert_eq!(fs::read_to_string(file).unwrap(), "kept");
    }

    fn names(dir: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(dir)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn files_are_written_into_a_new_folder_and_replace_old_ones() {
        let root = tempfile::tempdir().unwrap();
        let dir = root.path().join("new").join("plots");
        for _ in 0..2 {
            let paths = write_all(&dir, &figures()).unwrap();
            assert_eq!(paths.len(), 4);
            assert_eq!(names(&dir), ["one.png", "one.svg", "two.png", "two.svg"]);
            assert_eq!(
                fs::read_to_string(dir.join("two.svg")).unwrap(),
                "<svg></svg>"
            );
            fs::write(dir.join("two.svg"), "old and much longer than the new one").unwrap();
        }
    }

    #[cfg(unix)]
    #[test]
    fn files_can_be_read_by_whoever_reads_ordinary_new_files() {
        use std::os::unix::fs::PermissionsExt;
        let dir = tempfile::tempdir().unwrap();
        fs::write(dir.path().join("ordinary"), "").unwrap();
        let mode = |name: &str| {
            let file = fs::metadata(dir.path().join(name)).unwrap();
            file.permissions().mode()
        };
        write_all(dir.path(), &figures()).unwrap();
        assert_eq!(mode("one.svg"), mode("ordinary"));
    }

    #[test]
    fn what_cannot_be_written_is_named_and_nothing_is_left() {
        let root = tempfile::tempdir().unwrap();
        let file = root.path().join("file");
        fs::write(&file, "kept").unwrap();
        let error = write_all(&file, &figures()).unwrap_err().to_string();
        assert!(error.contains(file.to_str().unwrap()), "{error}");
        assert_eq!(fs::read_to_string(&file).unwrap(), "kept");
        // The last of four files cannot be put in place.
        let dir = root.path().join("dir");
        fs::create_dir_all(dir.join("two.png")).unwrap();
        let error = write_all(&dir, &figures()).unwrap_err().to_string();
        assert!(error.contains("two.png"), "{error}");
        assert_eq!(names(&dir), ["two.png"]);
    }
}
