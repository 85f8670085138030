//! What a system says about a file, in our words and without names of temporary files.

use std::io::{Error, ErrorKind};

/// Why a file or folder cannot be read or written.
pub(crate) fn why(error: &Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => "there is no such file or folder",
        ErrorKind::PermissionDenied => "permission is denied",
        ErrorKind::AlreadyExists => "something of that name is there already",
        ErrorKind::Unsupported => "no file or folder can be made in it",
        ErrorKind::NotADirectory => "a part of its path is a file, not a folder",
        ErrorKind::IsADirectory => "a folder of that name is in the way",
        ErrorKind::DirectoryNotEmpty => "the folder is not empty",
        ErrorKind::ReadOnlyFilesystem => "the disk can only be read",
        ErrorKind::StorageFull => "the disk is full",
        ErrorKind::QuotaExceeded => "the disk space that you may use is full",
        ErrorKind::FileTooLarge => "the file would be too large for the disk",
        ErrorKind::InvalidFilename => "the name is not allowed here",
        ErrorKind::BrokenPipe => "the program that reads it has ended",
        ErrorKind::Interrupted => "it was interrupted",
        ErrorKind::TimedOut => "the disk does not answer",
        // Whatever else there is, by the system's own number.
        _ => {
            return error.raw_os_error().map_or_else(
                || "the system does not say why".to_owned(),
                |number| format!("the system refuses it with its error {number}"),
            );
        }
    }
    .to_owned()
}

/// Why a file cannot be read.
#[cfg(feature = "cli")]
pub(crate) fn why_unread(error: &Error) -> String {
    match error.kind() {
        ErrorKind::IsADirectory => "it is a folder".to_owned(),
        _ => why(error),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reasons_are_told_in_our_words() {
        let full = Error::from(ErrorKind::StorageFull);
        assert_eq!(why(&full), "the disk is full");
        assert_eq!(
            why(&Error::from_raw_os_error(5)),
            "the system refuses it with its error 5"
        );
        let secret = Error::other("at path /tmp/.polstack-x1");
        assert_eq!(why(&secret), "the system does not say why");
    }
}
