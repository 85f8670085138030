//! The command as a user meets it: exit status, streams, files.

mod aperture;
mod catalog;
mod chart;
mod fit;
mod lens;
mod lessons;
mod photographs;
mod place;
mod predict;
mod render;
mod slides;
mod start;
mod tolerate;
mod trace;
mod view;

use std::path::{Path, PathBuf};

use assert_cmd::Command;

/// The command, run from the repository's root.
pub(crate) fn polstack() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_polstack"));
    command.current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

pub(crate) fn scenario(name: &str) -> PathBuf {
    Path::new("scenarios").join(name).with_extension("toml")
}

pub(crate) fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}
