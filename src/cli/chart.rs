//! `polstack chart KIND`.

mod background;
mod interference;
mod plate;
mod scale;
mod sheets;

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand, ValueEnum};

use super::job::{ForSlides, Format, Job};
use super::{Failure, number, whole};
use crate::material::catalog;
use crate::optics::Retarder;
use crate::output::figure::{ChartRef, Figure, Paper, PaperSize, chart_figure};
use crate::output::{csv, json, table};
use crate::scenario::Scenario;
use crate::scene::Scene;
use crate::spectrum::Source;
use crate::study::StudyError;
use crate::study::chart::{
    ColorGrid, Conditions, FIRST_ORDER_NM, Scale, accessory_plate, has_plate,
};

/// What a kind of chart is called: in JSON, as a file, and at the head of a table without a scenario.
struct Words {
    kind: &'static str,
    figure: &'static str,
    title: &'static str,
}

#[derive(Debug, Args)]
pub(super) struct ChartArguments {
    #[command(subcommand)]
    kind: Kind,
}

#[derive(Debug, Subcommand)]
enum Kind {
    /// Colour against path difference, with lines of equal birefringence
    #[command(
        after_help = "Example:\n  polstack chart interference --scenario scenarios/pond-life.toml --orders 4 --plots figures\n\ndraws the colours between ideal polars and, beside them, those that the microscope of that file will show."
    )]
    Interference(interference::InterferenceArguments),
    /// The same with an accessory plate added and subtracted, which tells slow from fast
    #[command(
        after_help = "Example:\n  polstack chart plate --plate quarter-wave --lamp led-b3 --to 700 --plots figures\n\ndraws a specimen alone, with the quarter-wave plate added and with it subtracted, and how far these two differ."
    )]
    Plate(plate::PlateArguments),
    /// Background colour against strain of the objective and iris of a scenario, plate out and in
    #[command(
        after_help = "Example:\n  polstack chart background --scenario scenarios/strained-objective.toml --strain-nm 0,5,20 --plots figures\n\ndraws what the empty field of that microscope looks like with so much strain, from a closed to an open iris."
    )]
    Background(background::BackgroundArguments),
    /// Which sheet: light, extinction, colour and cover of every sheet of the catalog, and of a scenario's own, and how well they are known
    #[command(
        after_help = "Example:\n  polstack chart sheets --scenario scenarios/pond-life.toml --plots figures\n\ncompares every sheet in that microscope, says which is the darkest and how sure that is, and draws it on a sheet of paper."
    )]
    Sheets(sheets::SheetsArguments),
}

#[derive(Debug, Args)]
struct ChartShown {
    #[command(flatten)]
    format: Format,
    /// Write the chart (PNG, SVG and PDF) into this directory
    #[arg(long, value_name = "DIR")]
    plots: Option<PathBuf>,
    #[command(flatten)]
    slides: ForSlides,
    /// The paper that it is drawn on
    #[arg(long, value_enum, default_value_t = PaperWord::A4, requires = "plots", conflicts_with = "slides")]
    paper: PaperWord,
    /// Pixels of the PNG to the inch, 72 to 1200
    #[arg(long, value_name = "N", default_value_t = 300, requires = "plots", conflicts_with = "slides", allow_negative_numbers = true, value_parser = dpi)]
    dpi: u32,
    /// Leave out notes, cautions and the progress display
    #[arg(long)]
    quiet: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum PaperWord {
    A4,
    A3,
    A2,
    A1,
    /// A projector's screen, 3840 x 2160 pixels at 300 dpi
    #[value(name = "16:9")]
    Wide,
}

impl PaperWord {
    fn size(self) -> PaperSize {
        match self {
            Self::A4 => PaperSize::A4,
            Self::A3 => PaperSize::A3,
            Self::A2 => PaperSize::A2,
            Self::A1 => PaperSize::A1,
            Self::Wide => PaperSize::Wide,
        }
    }
}

/// An entry of the catalog, or what it might have been.
fn named<T>(group: &str, what: &str, name: &str, found: Option<T>) -> Result<T, String> {
    found.ok_or_else(|| {
        let meant = catalog::nearest(group, name).map_or(String::new(), |known| {
            format!(", did you mean \"{known}\"?")
        });
        let known = catalog::names(group).join(", ");
        format!("the catalog has no such {what}{meant}; it has: {known}")
    })
}

fn lamp(name: &str) -> Result<Source, String> {
    named("lamp", "lamp", name, Source::named(name))
}

fn dpi(text: &str) -> Result<u32, String> {
    whole(text, 72, 1200)
}

fn stops(text: &str) -> Result<f64, String> {
    let stops = number(text).filter(|stops| (0.0..=40.0).contains(stops));
    stops.ok_or_else(|| "allowed: 0 to 40 stops".to_owned())
}

pub(super) fn run(arguments: &ChartArguments) -> Result<(), Failure> {
    match &arguments.kind {
        Kind::Interference(of) => interference::run(of),
        Kind::Plate(of) => plate::run(of),
        Kind::Background(of) => background::run(of),
        Kind::Sheets(of) => sheets::run(of),
    }
}

/// An answer of either shape.
enum Chart {
    Scale(Scale),
    ColorGrid(ColorGrid),
}

impl ChartShown {
    /// A slide is drawn from a sheet of its shape.
    fn paper(&self) -> Paper {
        let (size, dpi) = match self.slides.theme() {
            Some(_) => (PaperSize::Wide, *Paper::DPI.start()),
            None => (self.paper.size(), self.dpi),
        };
        Paper { size, dpi }
    }
}

/// A scenario's note as a whole sentence.
fn sentence(note: &str) -> String {
    let mut letters = note.chars();
    let first: String = letters
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .collect();
    format!("{first}{}.", letters.as_str())
}

/// A chart that is asked for, and the scenario that it is made for, where there is one.
struct ChartJob<'a> {
    job: Job<'a>,
    shown: &'a ChartShown,
    scenario: Option<Scenario>,
}

impl<'a> ChartJob<'a> {
    fn read(file: Option<&'a Path>, shown: &'a ChartShown) -> Result<Self, Failure> {
        let job = Job {
            file,
            format: shown.format,
            plots: shown.plots.as_deref(),
            slides: shown.slides.theme(),
            quiet: shown.quiet,
        };
        let scenario = job.read_if_any()?;
        Ok(Self {
            job,
            shown,
            scenario,
        })
    }

    fn scene(&self) -> Option<&Scene> {
        self.scenario.as_ref().map(|scenario| &scenario.scene)
    }

    fn answer<T>(
        &self,
        study: impl FnOnce(Option<&Scene>) -> Result<T, StudyError>,
    ) -> Result<T, Failure> {
        (self.job).work("mixing the colours", || study(self.scene()))
    }

    fn title(&self) -> Option<&str> {
        (self.scenario.as_ref()).map(|scenario| scenario.title.as_str())
    }

    /// A first-order plate, unless the scenario has a plate of its own.
    fn usual_plate(&self) -> Option<Retarder> {
        let own = self.scene().is_some_and(has_plate);
        (!own).then(|| accessory_plate(FIRST_ORDER_NM))
    }

    /// Puts what the scenario has to say behind the chart's own notes.
    fn note(&self, conditions: &mut Conditions) {
        let notes = self.scenario.iter().flat_map(|scenario| &scenario.notes);
        conditions.notes.extend(notes.map(|note| sentence(note)));
    }

    fn show(&self, words: &Words, mut chart: Chart) -> Result<(), Failure> {
        let (Chart::Scale(Scale { conditions, .. })
        | Chart::ColorGrid(ColorGrid { conditions, .. })) = &mut chart;
        self.note(conditions);
        let drawn = match &chart {
            Chart::Scale(scale) => ChartRef::Scale(scale),
            Chart::ColorGrid(matrix) => ChartRef::ColorGrid(matrix),
        };
        let paper = self.shown.paper();
        let figure = || {
            Ok(vec![chart_figure(
                words.figure,
                self.title(),
                drawn,
                paper,
            )?])
        };
        self.show_drawn(words, &chart, figure)
    }

    /// Draws figures where they are wanted, and prints a chart.
    fn show_drawn(
        &self,
        words: &Words,
        chart: &Chart,
        figures: impl FnOnce() -> Result<Vec<Figure>, Failure>,
    ) -> Result<(), Failure> {
        self.job.draw(figures)?;
        let title = self.title();
        let head = title.unwrap_or(words.title);
        self.job.print(
            || match chart {
                Chart::Scale(chart) => json::scale(words.kind, title, chart),
                Chart::ColorGrid(chart) => json::matrix(words.kind, title, chart),
            },
            || match chart {
                Chart::Scale(chart) => csv::scale(chart),
                Chart::ColorGrid(chart) => csv::matrix(chart),
            },
            || match chart {
                Chart::Scale(chart) => table::scale(head, chart, self.job.quiet),
                Chart::ColorGrid(chart) => table::matrix(head, chart, self.job.quiet),
            },
        )
    }
}
