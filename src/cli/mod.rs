//! The command line: one command per file, from arguments to scenario to study to output.

mod aperture;
mod catalog;
mod chart;
mod fit;
mod interrupt;
mod job;
mod lens;
mod lessons;
mod link;
mod number_table;
mod out_file;
mod page;
mod photographs;
mod place;
mod predict;
mod progress;
mod remedy;
mod render;
mod setup;
mod start;
mod tolerate;
mod trace;
mod view;
mod wrap;

use std::fmt;
use std::io::{self, ErrorKind, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Parser, Subcommand, ValueEnum};
use thiserror::Error;

use self::remedy::with_remedy;
use crate::os_words::{why, why_unread};
use crate::output::figure::FigureError;
use crate::photograph::PhotographProblem;
use crate::scenario::{PhotographLineError, STANDARD_INPUT, ScenarioError};
use crate::study::StudyError;

/// What the help ends with.
fn after_help() -> String {
    let statuses = "Exit status: 0 done; 1 a target that was given to tolerate is missed; 2 the input is wrong; 3 a file could not be read or written.";
    format!("{statuses}\n\n{}", crate::output::CAUTION)
}

/// What a light microscope will show under crossed polars, and why.
#[derive(Debug, Parser)]
#[command(
    name = "polstack",
    version,
    arg_required_else_help = true,
    after_help = after_help()
)]
pub struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// What will I see: extinction ratio, background colour, where the leak comes from; several stands side by side
    Predict(predict::PredictArguments),
    /// Where does the lower polar belong: every gap of the stack, at every iris, and what would change the answer
    Place(place::PlaceArguments),
    /// How much strain, or azimuth error, may a part have before a target is missed, and what will be seen
    Tolerate(tolerate::TolerateArguments),
    /// From readings at the bench: which part leaks, how much strain it has, how sure that is, what to read next
    Fit(Box<fit::FitArguments>),
    /// What does the back focal plane look like: light, true colour, part by part, while a part is turned, as a camera records it
    Aperture(Box<aperture::ApertureArguments>),
    /// What is seen in the field: an invented specimen, or one of your own, in this stack, while the stage turns
    View(Box<view::ViewArguments>),
    /// What a lens does that is told by its surfaces: focal length, NA, filter plane, room, and what each surface leaks
    Lens(Box<lens::LensArguments>),
    /// The state of polarization after each part, along one ray or averaged over the aperture
    Trace(trace::TraceArguments),
    /// Colour charts to print: interference colours, plates added and subtracted, backgrounds, sheets
    Chart(Box<chart::ChartArguments>),
    /// One HTML file with scenarios and the engine in it, for class and bench: opens in any browser, needs no server
    Page(page::PageArguments),
    /// Eight lessons: what to do, what to see, and the answers; a booklet, scenarios and links for the live page
    Lessons(lessons::LessonsArguments),
    /// Writes a commented starter scenario, by a few options or by questions on a terminal
    Start(start::StartArguments),
    /// The built-in lamps, sheets, glasses, crystals and plates, each with its source
    Catalog(catalog::CatalogArguments),
    /// The scenario file's format as a JSON Schema, for editors that complete and check it
    Schema,
    /// Shell completions on standard output
    Completions(setup::Completions),
    /// Manual pages, written into a directory
    Manual(setup::Manual),
}

/// What an option may be answered with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum YesNo {
    Yes,
    No,
}

/// Why a command failed.
#[derive(Debug, Error)]
enum Failure {
    /// The scenario is wrong or cannot be read.
    #[error(transparent)]
    Scenario(#[from] ScenarioError),
    /// The scenario cannot be answered.
    #[error("error: {}: {}", shown(file), with_remedy(error))]
    Study {
        /// The scenario's file.
        file: PathBuf,
        /// Why not.
        error: StudyError,
    },
    /// A chart that needs no scenario cannot be made.
    #[error("error: {}", with_remedy(.0))]
    Chart(StudyError),
    /// A lens that is not there, or cannot be made.
    #[error("error: {0}")]
    Lens(String),
    /// A starter scenario or a page that cannot be made.
    #[error("error: {0}")]
    Start(String),
    /// Figures of several scenarios.
    #[error("error: --plots draws one scenario at a time: name one file")]
    SideBySide,
    /// A map of a specimen that cannot be used.
    #[error("error: {}: {error}", shown(file))]
    View {
        /// The map's file.
        file: PathBuf,
        /// Why not.
        error: String,
    },
    /// A file that cannot be read.
    #[error("error: {path} cannot be read: {}", why_unread(error), path = path.display())]
    Unreadable {
        /// Its path.
        path: PathBuf,
        /// Why not.
        error: io::Error,
    },
    /// A question about readings that has no answer.
    #[error("error: {}: {error}", shown(file))]
    Fit {
        /// The file that it is about.
        file: PathBuf,
        /// Why not.
        error: String,
    },
    /// A photograph that gives no readings.
    #[error("error: {}: {error}{}", shown(file), match error.source.problem() {
        PhotographProblem::Curve => " (--accept-curves)",
        _ => "",
    })]
    Photograph {
        /// The readings file that names it.
        file: PathBuf,
        /// Why not.
        error: Box<PhotographLineError>,
    },
    /// An option names something that this stand has not got.
    #[error("error: {option}: {error}{}", nearest.as_ref().map_or(String::new(), |near| format!("; did you mean \"{near}\"?")))]
    Named {
        /// The option.
        option: &'static str,
        /// Why not.
        error: String,
        /// What may have been meant.
        nearest: Option<String>,
    },
    /// Figures could not be drawn or written.
    #[error("error: {0}")]
    Figure(#[from] FigureError),
    /// A file could not be written.
    #[error("error: {path} cannot be written: {}", why(error), path = path.display())]
    Write {
        /// Its path.
        path: PathBuf,
        /// Why not.
        error: io::Error,
    },
    /// Standard output is closed or full.
    #[error("error: standard output cannot be written: {}", why(.0))]
    Output(#[from] io::Error),
}

impl Failure {
    fn exit_code(&self) -> u8 {
        match self {
            Self::Scenario(error) => error.exit_code(),
            Self::Study { .. }
            | Self::Chart(_)
            | Self::Lens(_)
            | Self::SideBySide
            | Self::Start(_)
            | Self::View { .. }
            | Self::Named { .. }
            | Self::Fit { .. } => 2,
            Self::Photograph { error, .. } => match error.source.problem() {
                PhotographProblem::Unreadable { .. } => 3,
                _ => 2,
            },
            Self::Figure(_) | Self::Write { .. } | Self::Unreadable { .. } => 3,
            // A reader that has seen enough (`polstack catalog | head`) is no failure.
            Self::Output(error) if error.kind() == ErrorKind::BrokenPipe => 0,
            Self::Output(_) => 3,
        }
    }
}

/// Exit status where a target was given and is missed.
const TARGET_MISSED: u8 = 1;

/// A command without a target has met it.
fn done(_: ()) -> bool {
    true
}

/// Runs the command line and says how it went.
#[must_use]
pub fn run() -> ExitCode {
    let cli = Cli::parse();
    let met = match cli.command {
        Command::Predict(arguments) => predict::run(&arguments).map(done),
        Command::Place(arguments) => place::run(&arguments).map(done),
        Command::Tolerate(arguments) => tolerate::run(&arguments),
        Command::Fit(arguments) => fit::run(&arguments).map(done),
        Command::Aperture(arguments) => aperture::run(&arguments).map(done),
        Command::View(arguments) => view::run(&arguments).map(done),
        Command::Lens(arguments) => lens::run(&arguments).map(done),
        Command::Trace(arguments) => trace::run(&arguments).map(done),
        Command::Chart(arguments) => chart::run(&arguments).map(done),
        Command::Page(arguments) => page::run(&arguments).map(done),
        Command::Lessons(arguments) => lessons::run(&arguments).map(done),
        Command::Start(arguments) => start::run(&arguments).map(done),
        Command::Catalog(arguments) => catalog::run(&arguments).map(done),
        Command::Schema => setup::schema().map(done),
        Command::Completions(arguments) => setup::completions(&arguments).map(done),
        Command::Manual(arguments) => setup::manual(&arguments).map(done),
    };
    let failure = match met {
        Ok(true) => return ExitCode::SUCCESS,
        Ok(false) => return ExitCode::from(TARGET_MISSED),
        Err(failure) => failure,
    };
    let code = failure.exit_code();
    if code != 0 {
        // Nothing is left to do where even standard error is closed.
        let _ = match &failure {
            Failure::Scenario(error) => writeln!(anstream::stderr(), "{}", error.render(true)),
            other => writeln!(anstream::stderr(), "{other}"),
        };
    }
    ExitCode::from(code)
}

/// A finite number of the command line.
fn number(text: &str) -> Option<f64> {
    text.trim()
        .parse()
        .ok()
        .filter(|value: &f64| value.is_finite())
}

/// Degree of adaptation of the eye: full, daylight or a number.
fn adapted(text: &str) -> Result<f64, String> {
    match text {
        "full" => Ok(1.0),
        "daylight" => Ok(0.0),
        _ => (number(text).filter(|degree| (0.0..=1.0).contains(degree))).ok_or_else(|| {
            "allowed: full, daylight, or a degree of 0 to 1, such as 0.8".to_owned()
        }),
    }
}

/// What the eye takes for white.
#[derive(Debug, Args)]
struct EyeArguments {
    /// What the eye is adapted to: full (the microscope's own light looks white), daylight (daylight looks white), or CIECAM16's degree of adaptation between these, 0 to 1
    #[arg(long, value_name = "STATE", default_value = "full", allow_negative_numbers = true, value_parser = adapted)]
    adapted: f64,
}

/// A number within limits; `such_as` is one of them, for the message.
fn within(text: &str, least: f64, most: f64, such_as: &str) -> Result<f64, String> {
    let value = number(text).filter(|value| (least..=most).contains(value));
    value.ok_or_else(|| format!("allowed: {least} to {most}, such as {such_as}"))
}

/// A whole number of the command line.
fn whole(text: &str, least: u32, most: u32) -> Result<u32, String> {
    let value = text.trim().parse().ok();
    (value.filter(|value| (least..=most).contains(value)))
        .ok_or_else(|| format!("allowed: a whole number from {least} to {most}"))
}

/// What names a sequence of random numbers.
fn seed(text: &str) -> Result<u64, String> {
    (text.trim().parse()).map_err(|_| format!("allowed: a whole number from 0 to {}", u64::MAX))
}

/// An option that cannot be taken as it is.
fn refused(option: &'static str, why: &str, remedy: &str) -> Failure {
    Failure::Named {
        option,
        error: format!("{why}; {remedy}"),
        nearest: None,
    }
}

/// Standard input can be read once only.
fn one_standard_input(files: &[PathBuf]) -> Result<(), Failure> {
    let named = |file: &&PathBuf| file.as_path() == Path::new(STANDARD_INPUT);
    match files.iter().filter(named).count() {
        0 | 1 => Ok(()),
        _ => Err(Failure::Start(
            "standard input can be named once: save the other scenarios as files and name these"
                .to_owned(),
        )),
    }
}

/// An extinction ratio of the command line.
fn extinction_ratio(text: &str) -> Result<f64, String> {
    let ratio = number(text).filter(|ratio| *ratio > 1.0 && *ratio <= 1e12);
    ratio.ok_or_else(|| {
        "allowed: a number above 1, such as 1000, to 1e12, which is more than any sheet reaches"
            .to_owned()
    })
}

/// Prints an answer; on a terminal the sentences of a table, which begins with a styled title, are broken to fit. Elsewhere styles are
/// stripped.
fn print(answer: impl fmt::Display) -> Result<(), Failure> {
    let mut text = answer.to_string();
    if text.starts_with('\u{1b}')
        && io::stdout().is_terminal()
        && let Some((width, _)) = terminal_size::terminal_size()
    {
        text = wrap::wrapped(&text, usize::from(width.0));
    }
    let mut out = anstream::stdout().lock();
    write!(out, "{text}")?;
    Ok(out.flush()?)
}

/// Where two scenarios have one title, each gets its file's name behind it.
fn tell_apart<A>(answers: &mut [(String, A)], files: &[PathBuf]) {
    let titles: Vec<String> = answers.iter().map(|(title, _)| title.clone()).collect();
    for ((title, _), file) in answers.iter_mut().zip(files) {
        if titles.iter().filter(|other| *other == title).count() > 1 {
            *title = format!("{title} ({})", shown(file));
        }
    }
}

/// What messages call a file.
fn shown(file: &Path) -> String {
    if file == Path::new(STANDARD_INPUT) {
        "standard input".to_owned()
    } else {
        file.display().to_string()
    }
}
