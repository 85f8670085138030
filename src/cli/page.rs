//! `polstack page FILE...`.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use clap::Args;
use miniz_oxide::inflate::decompress_to_vec_zlib;
use serde::Serialize;

use super::out_file::OutFile;
use super::{Failure, progress};
use crate::output::figure::check_folder;
use crate::scenario::{Disk, FileError, Files, parse, read};

/// The page as it is shipped, packed by `build.rs`; CI builds it anew and compares what it does.
const PAGE: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/page.zlib"));
/// What stands around the page's scenarios.
const BEFORE: &str = "<script type=\"application/json\" id=\"scenarios\">";
const AFTER: &str = "</script>";

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack page scenarios/pond-life.toml scenarios/strained-objective.toml --out lesson.html\n\nwrites one HTML file with these scenarios and the engine in it: it opens in any browser, without a server or a network."
)]
pub(super) struct PageArguments {
    /// The scenario files (TOML); the page opens with the first
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Where the page goes
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Say nothing
    #[arg(long)]
    quiet: bool,
}

/// A scenario as the page carries it.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Carried {
    pub(super) name: String,
    pub(super) title: String,
    pub(super) text: String,
    /// The files that it names, by these names.
    pub(super) files: BTreeMap<String, String>,
}

/// Files of a folder, each kept as it is read.
struct Kept {
    disk: Disk,
    read: RefCell<BTreeMap<String, String>>,
}

impl Files for Kept {
    fn shown(&self, name: &str) -> String {
        self.disk.shown(name)
    }

    fn bytes(&self, name: &str, most: u64) -> Result<Vec<u8>, FileError> {
        let bytes = self.disk.bytes(name, most)?;
        // What is no text is refused by the reader of the table.
        let text = String::from_utf8_lossy(&bytes).into_owned();
        self.read.borrow_mut().insert(name.to_owned(), text);
        Ok(bytes)
    }
}

pub(super) fn carried(file: &Path) -> Result<Carried, Failure> {
    // Said first, with the file's own name, what is wrong with it.
    read(file)?;
    let text = std::fs::read_to_string(file).map_err(|error| Failure::Unreadable {
        path: file.to_owned(),
        error,
    })?;
    let kept = Kept {
        disk: Disk::folder(file.parent().unwrap_or(Path::new(""))),
        read: RefCell::default(),
    };
    let scenario = parse(&text, &file.display().to_string(), &kept)?;
    Ok(Carried {
        name: file
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned(),
        title: scenario.title,
        text,
        files: kept.read.into_inner(),
    })
}

/// The page as it is shipped, with other scenarios in it; `None` for a page that has no place for them.
pub(super) fn with_scenarios(scenarios: &[Carried]) -> Option<String> {
    let page = String::from_utf8(decompress_to_vec_zlib(PAGE).ok()?).ok()?;
    let (head, rest) = page.split_once(BEFORE)?;
    let (_, tail) = rest.split_once(AFTER)?;
    // Plain structs of strings: writing them to memory cannot fail. No end tag and no comment may stand in a script.
    let json = serde_json::to_string(scenarios).unwrap_or_default();
    let json = json.replace("</", "<\\/").replace("<!--", "<\\u0021--");
    Some([head, BEFORE, &json, AFTER, tail].concat())
}

pub(super) fn run(arguments: &PageArguments) -> Result<(), Failure> {
    let out = OutFile::of(&arguments.out)?;
    check_folder(out.folder)?;
    let scenarios: Vec<Carried> = arguments
        .files
        .iter()
        .map(|file| carried(file))
        .collect::<Result<_, _>>()?;
    let Some(page) = with_scenarios(&scenarios) else {
        return Err(Failure::Start(
            "the page has no place for scenarios".to_owned(),
        ));
    };
    let wrote = out.write(&page)?;
    if !arguments.quiet {
        progress::say(&format!("{wrote}: open it in any browser"));
    }
    Ok(())
}
