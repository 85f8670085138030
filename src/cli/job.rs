//! What every command does around its study, in this order: the folder for figures is checked, the scenario is read, the study is run while
//! a progress display shows, figures are drawn and written, the answer is printed.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::{Failure, print, progress};
use crate::output::figure::{Figure, SlideTheme, check_folder, write_files};
use crate::scenario::{self, Scenario};
use crate::scene::Scene;
use crate::study::StudyError;
use crate::study::predict::asks_for_many_wavelengths;

/// How an answer is printed.
#[derive(Debug, Clone, Copy, Args)]
pub(super) struct Format {
    /// Print one JSON document, numbers in full precision
    #[arg(long, conflicts_with = "csv")]
    pub(super) json: bool,
    /// Print a table as CSV, numbers in full precision
    #[arg(long)]
    pub(super) csv: bool,
}

/// How an answer about a scenario is shown.
#[derive(Debug, Args)]
pub(super) struct Shown {
    #[command(flatten)]
    format: Format,
    /// Write the figures (PNG and SVG) into this directory
    #[arg(long, value_name = "DIR")]
    plots: Option<PathBuf>,
    #[command(flatten)]
    slides: ForSlides,
    /// Leave out notes, cautions and the progress display
    #[arg(long)]
    quiet: bool,
}

/// Figures for slides.
#[derive(Debug, Clone, Copy, Args)]
pub(super) struct ForSlides {
    /// Write the figures for slides instead: 16:9 (1920 x 1080 pixels), without a background, type as large as there is room; for light slides or dark ones
    #[arg(long, value_name = "SLIDES", requires = "plots", num_args = 0..=1, default_missing_value = "light", value_enum)]
    slides: Option<SlidesWord>,
}

impl ForSlides {
    /// On which slides, where it was asked for.
    pub(super) fn theme(self) -> Option<SlideTheme> {
        self.slides.map(|word| match word {
            SlidesWord::Light => SlideTheme::Light,
            SlidesWord::Dark => SlideTheme::Dark,
        })
    }
}

/// On which slides figures are to lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum SlidesWord {
    Light,
    Dark,
}

/// One run of a command.
#[derive(Debug, Clone, Copy)]
pub(super) struct Job<'a> {
    /// The scenario's file; `None` for a chart that needs none.
    pub(super) file: Option<&'a Path>,
    /// How the answer is printed.
    pub(super) format: Format,
    /// Where figures go, where they are wanted.
    pub(super) plots: Option<&'a Path>,
    /// On which slides the figures are to lie, where they are for slides.
    pub(super) slides: Option<SlideTheme>,
    /// Whether notes, cautions and the progress display are left out.
    pub(super) quiet: bool,
}

impl<'a> Job<'a> {
    /// About a scenario, shown in the usual ways.
    pub(super) fn about(file: &'a Path, shown: &'a Shown) -> Self {
        Self {
            file: Some(file),
            format: shown.format,
            plots: shown.plots.as_deref(),
            slides: shown.slides.theme(),
            quiet: shown.quiet,
        }
    }

    /// Reads a scenario, after a look whether figures can be written at all.
    pub(super) fn read(&self, file: &Path) -> Result<Scenario, Failure> {
        self.plots.map_or(Ok(()), check_folder)?;
        Ok(scenario::read(file)?)
    }

    /// Reads the scenario, where there is one, after a look whether figures can be written at all.
    pub(super) fn read_if_any(&self) -> Result<Option<Scenario>, Failure> {
        match self.file {
            Some(file) => self.read(file).map(Some),
            None => Ok(self.plots.map_or(Ok(()), check_folder).map(|()| None)?),
        }
    }

    /// A study that failed, with the file that it was about.
    pub(super) fn failed(&self, error: StudyError) -> Failure {
        match self.file {
            Some(file) => Failure::Study {
                file: file.to_owned(),
                error,
            },
            None => Failure::Chart(error),
        }
    }

    /// Says so before work over many wavelengths, where fringes or a narrow line ask for them.
    pub(super) fn say_if_many_wavelengths(&self, scene: &Scene) {
        if !self.quiet && asks_for_many_wavelengths(scene) {
            progress::say(
                "fringes or a narrow line ask for many more wavelengths than usual: this may take a minute or more",
            );
        }
    }

    /// Runs a study while a mark with `what` shows that it goes on.
    pub(super) fn work<T>(
        &self,
        what: &'static str,
        study: impl FnOnce() -> Result<T, StudyError>,
    ) -> Result<T, Failure> {
        progress::shown(what, self.quiet, study).map_err(|error| self.failed(error))
    }

    /// Draws figures where they are wanted, and writes them.
    pub(super) fn draw(
        &self,
        figures: impl FnOnce() -> Result<Vec<Figure>, Failure>,
    ) -> Result<(), Failure> {
        if self.plots.is_none() {
            return Ok(());
        }
        let figures = progress::shown("drawing", self.quiet, figures)?;
        self.write(&figures, &[])
    }

    /// Writes figures and other files into the folder for figures, all of them or none, and says so.
    pub(super) fn write(
        &self,
        figures: &[Figure],
        others: &[(String, Vec<u8>)],
    ) -> Result<(), Failure> {
        let Some(folder) = self.plots else {
            return Ok(());
        };
        let slides = match self.slides {
            None => Vec::new(),
            Some(theme) => (figures.iter())
                .map(|figure| figure.slides(theme))
                .collect::<Result<Vec<_>, _>>()?
                .concat(),
        };
        let mut files: Vec<(String, &[u8])> = match self.slides {
            None => figures.iter().flat_map(Figure::files).collect(),
            Some(_) => (slides.iter())
                .map(|(name, bytes)| (name.clone(), &bytes[..]))
                .collect(),
        };
        files.extend(
            others
                .iter()
                .map(|(name, bytes)| (name.clone(), &bytes[..])),
        );
        let written = write_files(folder, &files)?.len();
        self.tell_missing(figures);
        self.say(&format!("wrote {written} files to {}", folder.display()));
        Ok(())
    }

    /// Says which characters of figures their font lacks.
    pub(super) fn tell_missing(&self, figures: &[Figure]) {
        let mut missing: Vec<char> = figures.iter().flat_map(|f| f.missing.clone()).collect();
        missing.sort_unstable();
        missing.dedup();
        if !missing.is_empty() {
            let missing: String = missing.into_iter().collect();
            progress::say(&format!(
                "the figures' font lacks {missing}: \u{fffd} stands there in PNG and PDF, the SVG keeps them"
            ));
        }
    }

    /// Says on standard error what was written, unless it is to be quiet.
    pub(super) fn say(&self, words: &str) {
        if !self.quiet {
            // An answer is no less true where nobody hears of its files.
            let _ = writeln!(anstream::stderr(), "{words}");
        }
    }

    /// Prints the answer in the form that was asked for.
    pub(super) fn print(
        &self,
        json: impl FnOnce() -> String,
        csv: impl FnOnce() -> String,
        table: impl FnOnce() -> String,
    ) -> Result<(), Failure> {
        print(match self.format {
            Format { json: true, .. } => json(),
            Format { csv: true, .. } => csv(),
            _ => table(),
        })
    }
}
