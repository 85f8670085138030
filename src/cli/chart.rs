//! `polstack chart KIND`.

mod sheets;

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand, ValueEnum};

use super::job::{Format, Job};
use super::{EyeArguments, Failure, number, whole};
use crate::material::catalog::{SpecimenSize, named_birefringences};
use crate::material::{Birefringence, PolarizingSheet, catalog};
use crate::optics::Retarder;
use crate::output::figure::{ChartRef, Figure, Paper, PaperSize, chart_figure, wall_figures};
use crate::output::{csv, json, table};
use crate::scenario::Scenario;
use crate::scene::Scene;
use crate::spectrum::Source;
use crate::study::StudyError;
use crate::study::chart::{
    ColorGrid, Conditions, Dispersion, FIRST_ORDER_NM, GridShown, MOST_NM, ORDER_NM, Polars,
    QUARTER_WAVE_NM, SODIUM_NM, Scale, ScaleRequest, USUAL_END_NM, USUAL_STRAIN_NM,
    accessory_plate, background, charted_object, has_plate, interference, plate, usual_irises,
    usual_lamp, usual_step_nm, wall,
};

/// Orders that fit the longest scale.
const MOST_ORDERS: f64 = 181.0;

/// What a kind of chart is called: in JSON, as a file, and at the head of a table without a scenario.
struct Words {
    kind: &'static str,
    figure: &'static str,
    title: &'static str,
}

const INTERFERENCE: Words = Words {
    kind: "interference",
    figure: "chart-interference",
    title: "Interference colours",
};
const PLATE: Words = Words {
    kind: "plate",
    figure: "chart-plate",
    title: "Interference colours with a plate",
};
const BACKGROUND: Words = Words {
    kind: "background",
    figure: "chart-background",
    title: "Background colours",
};
const SHEETS: Words = Words {
    kind: "sheets",
    figure: "chart-sheets",
    title: "Polarizing sheets",
};

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
    Interference(InterferenceArguments),
    /// The same with an accessory plate added and subtracted, which tells slow from fast
    #[command(
        after_help = "Example:\n  polstack chart plate --plate quarter-wave --lamp led-b3 --to 700 --plots figures\n\ndraws a specimen alone, with the quarter-wave plate added and with it subtracted, and how far these two differ."
    )]
    Plate(PlateArguments),
    /// Background colour against strain of the objective and iris of a scenario, plate out and in
    #[command(
        after_help = "Example:\n  polstack chart background --scenario scenarios/strained-objective.toml --strain-nm 0,5,20 --plots figures\n\ndraws what the empty field of that microscope looks like with so much strain, from a closed to an open iris."
    )]
    Background(BackgroundArguments),
    /// Which sheet: light, extinction, colour and cover of every sheet of the catalog, and of a scenario's own, and how well they are known
    #[command(
        after_help = "Example:\n  polstack chart sheets --scenario scenarios/pond-life.toml --plots figures\n\ncompares every sheet in that microscope, says which is the darkest and how sure that is, and draws it on a sheet of paper."
    )]
    Sheets(sheets::SheetsArguments),
}

#[derive(Debug, Args)]
struct InterferenceArguments {
    #[command(flatten)]
    scale: ScaleArguments,
    /// How it is laid out [default: desk on A4, wall on larger paper and on screens]
    #[arg(long, value_enum, requires = "plots")]
    layout: Option<LayoutWord>,
    #[command(flatten)]
    shown: ChartShown,
}

#[derive(Debug, Args)]
struct PlateArguments {
    /// The plate: first-order (550 nm), quarter-wave (137.5 nm) or its path difference in nm at 550 nm; of quartz [default: the scenario's own, or first-order]
    #[arg(long, value_name = "PLATE", allow_negative_numbers = true, value_parser = plate_nm)]
    plate: Option<f64>,
    /// An elongated object of the catalog: its colours with its length along the plate's slow direction and across it are told, and the chart reaches at least as far as it does
    #[arg(long, value_name = "NAME", value_parser = object)]
    object: Option<SpecimenSize>,
    #[command(flatten)]
    scale: ScaleArguments,
    #[command(flatten)]
    shown: ChartShown,
}

#[derive(Debug, Args)]
struct ScaleArguments {
    /// A scenario file (TOML), or - for standard input, whose microscope is shown beside the chart
    #[arg(long, value_name = "FILE")]
    scenario: Option<PathBuf>,
    /// The lamp, by its name in the catalog [default: the scenario's, or cie-d65]
    #[arg(long, value_name = "NAME", value_parser = lamp)]
    lamp: Option<Source>,
    /// The sheet of both polars, by its name in the catalog
    #[arg(long, value_name = "NAME", default_value = "ideal", value_parser = sheet)]
    sheet: PolarizingSheet,
    /// Linear polars, or circular ones with quarter-wave plates of 137.5 nm
    #[arg(long, value_enum, default_value_t = PolarsWord::Linear)]
    polars: PolarsWord,
    /// What the specimen's path difference follows over the wavelengths, a plate material of the catalog; named at 589.3 nm
    #[arg(long, value_name = "NAME", default_value = "none", value_parser = material)]
    material: Dispersion,
    /// The largest path difference [default: 1800]
    #[arg(long, value_name = "NM", allow_negative_numbers = true, conflicts_with = "orders", value_parser = end_nm)]
    to: Option<f64>,
    /// The same in orders of 550 nm
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = orders)]
    orders: Option<f64>,
    /// Distance of the path differences [default: 1, more on scales beyond 5000 nm]
    #[arg(long, value_name = "NM", allow_negative_numbers = true, value_parser = above_zero)]
    step: Option<f64>,
    /// Stops by which every colour is exposed up
    #[arg(long, value_name = "STOPS", default_value_t = 0.0, allow_negative_numbers = true, value_parser = stops)]
    exposure: f64,
    #[command(flatten)]
    eye: EyeArguments,
}

#[derive(Debug, Args)]
struct BackgroundArguments {
    /// The scenario file (TOML), or - for standard input
    #[arg(long, value_name = "FILE")]
    scenario: PathBuf,
    /// The lamp, by its name in the catalog [default: the scenario's]
    #[arg(long, value_name = "NAME", value_parser = lamp)]
    lamp: Option<Source>,
    /// Amounts of the objective's strain, with commas between [default: 0,2,5,10,20,50]
    #[arg(long, value_name = "LIST", value_delimiter = ',', allow_negative_numbers = true, value_parser = finite)]
    strain_nm: Vec<f64>,
    /// Settings of the condenser iris, with commas between [default: about six up to the scenario's]
    #[arg(long, value_name = "LIST", value_delimiter = ',', allow_negative_numbers = true, value_parser = finite)]
    na: Vec<f64>,
    /// Stops by which every colour is exposed up [default: so that the brightest of a panel is just not too bright]
    #[arg(long, value_name = "STOPS", allow_negative_numbers = true, value_parser = stops)]
    exposure: Option<f64>,
    #[command(flatten)]
    eye: EyeArguments,
    #[command(flatten)]
    shown: ChartShown,
}

#[derive(Debug, Args)]
struct ChartShown {
    #[command(flatten)]
    format: Format,
    /// Write the chart (PNG, SVG and PDF) into this directory
    #[arg(long, value_name = "DIR")]
    plots: Option<PathBuf>,
    /// The paper that it is drawn on
    #[arg(long, value_enum, default_value_t = PaperWord::A4, requires = "plots")]
    paper: PaperWord,
    /// Pixels of the PNG to the inch, 72 to 1200
    #[arg(long, value_name = "N", default_value_t = 300, requires = "plots", allow_negative_numbers = true, value_parser = dpi)]
    dpi: u32,
    /// Leave out notes, cautions and the progress display
    #[arg(long)]
    quiet: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum PolarsWord {
    Linear,
    Circular,
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

/// How a chart of interference colours is laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum LayoutWord {
    /// All that is known, to be read at a desk
    Desk,
    /// Large bands and names, to be read from afar, with a sheet of details
    Wall,
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

fn sheet(name: &str) -> Result<PolarizingSheet, String> {
    named("sheet", "sheet", name, catalog::sheet(name))
}

fn material(name: &str) -> Result<Dispersion, String> {
    let material = catalog::plate_material(name);
    Ok(Dispersion {
        name: name.to_lowercase(),
        material: named("plate", "plate material", name, material)?,
        at_nm: SODIUM_NM,
    })
}

fn object(name: &str) -> Result<SpecimenSize, String> {
    catalog::elongated(name).ok_or_else(|| {
        let known: Vec<&str> = catalog::elongated_objects()
            .map(|object| object.name)
            .collect();
        format!(
            "the catalog has no such object whose slow direction is known; it has: {}",
            known.join(", ")
        )
    })
}

fn plate_nm(text: &str) -> Result<f64, String> {
    match text {
        "first-order" => Ok(FIRST_ORDER_NM),
        "quarter-wave" => Ok(QUARTER_WAVE_NM),
        _ => (number(text).filter(|nm| (1.0..=MOST_NM).contains(nm)))
            .ok_or_else(|| format!("allowed: first-order, quarter-wave, or 1 to {MOST_NM} nm")),
    }
}

fn end_nm(text: &str) -> Result<f64, String> {
    let end = number(text).filter(|nm| (10.0..=MOST_NM).contains(nm));
    end.ok_or_else(|| format!("allowed: 10 to {MOST_NM} nm"))
}

fn orders(text: &str) -> Result<f64, String> {
    let orders = number(text).filter(|orders| (0.1..=MOST_ORDERS).contains(orders));
    orders.ok_or_else(|| format!("allowed: 0.1 to {MOST_ORDERS} orders of {ORDER_NM} nm"))
}

fn above_zero(text: &str) -> Result<f64, String> {
    let value = number(text).filter(|value| *value > 0.0);
    value.ok_or_else(|| "allowed: a number of nm above 0".to_owned())
}

fn dpi(text: &str) -> Result<u32, String> {
    whole(text, 72, 1200)
}

fn stops(text: &str) -> Result<f64, String> {
    let stops = number(text).filter(|stops| (0.0..=40.0).contains(stops));
    stops.ok_or_else(|| "allowed: 0 to 40 stops".to_owned())
}

fn finite(text: &str) -> Result<f64, String> {
    number(text).ok_or_else(|| "allowed: numbers with commas between".to_owned())
}

pub(super) fn run(arguments: &ChartArguments) -> Result<(), Failure> {
    match &arguments.kind {
        Kind::Interference(InterferenceArguments {
            scale,
            layout,
            shown,
        }) => {
            let asked = ChartJob::read(scale.scenario.as_deref(), shown)?;
            let mut chart = asked.answer(|scene| scale.answer(scene, interference))?;
            let usual = match shown.paper {
                PaperWord::A4 => LayoutWord::Desk,
                _ => LayoutWord::Wall,
            };
            if layout.unwrap_or(usual) == LayoutWord::Desk {
                return asked.show(&INTERFERENCE, Chart::Scale(chart));
            }
            let given = asked.usual_plate();
            let study = |request: &ScaleRequest<'_>| wall(request, given.as_ref());
            asked.note(&mut chart.conditions);
            asked.show_drawn(&INTERFERENCE, &Chart::Scale(chart), || {
                let mut wall = asked.answer(|scene| scale.answer(scene, study))?;
                asked.note(&mut wall.conditions);
                let (title, paper) = (asked.title(), shown.paper());
                Ok(wall_figures(title, &wall, &named_birefringences(), paper)?)
            })
        }
        Kind::Plate(PlateArguments {
            plate: given,
            object,
            scale,
            shown,
        }) => {
            let asked = ChartJob::read(scale.scenario.as_deref(), shown)?;
            let given = given.map(accessory_plate).or_else(|| asked.usual_plate());
            let study = |request: &ScaleRequest<'_>| {
                let reach = object.map_or(0.0, |object| object.path_difference_nm.1);
                let request = ScaleRequest {
                    to_nm: request.to_nm.max(reach),
                    ..*request
                };
                let mut chart = plate(&request, given.as_ref())?;
                chart.object = object.and_then(|object| charted_object(&chart, &object));
                Ok(chart)
            };
            let chart = asked.answer(|scene| scale.answer(scene, study))?;
            asked.show(&PLATE, Chart::Scale(chart))
        }
        Kind::Background(of) => {
            let asked = ChartJob::read(Some(&of.scenario), &of.shown)?;
            let chart = asked.answer(|scene| match scene {
                Some(scene) => of.answer(scene),
                None => Err(StudyError::NoObjective),
            })?;
            asked.show(&BACKGROUND, Chart::ColorGrid(chart))
        }
        Kind::Sheets(of) => sheets::run(of),
    }
}

impl ScaleArguments {
    fn answer(
        &self,
        scene: Option<&Scene>,
        study: impl Fn(&ScaleRequest<'_>) -> Result<Scale, StudyError>,
    ) -> Result<Scale, StudyError> {
        let own = || scene.map(|scene| scene.source.clone());
        let source = (self.lamp.clone().or_else(own)).unwrap_or_else(usual_lamp);
        let orders_nm = self.orders.map(|orders| orders * ORDER_NM);
        let to_nm = self.to.or(orders_nm).unwrap_or(USUAL_END_NM);
        let constant = self.material.material == Birefringence::None;
        study(&ScaleRequest {
            source: &source,
            sheet: &self.sheet,
            polars: match self.polars {
                PolarsWord::Linear => Polars::Linear,
                PolarsWord::Circular => Polars::Circular,
            },
            dispersion: (!constant).then_some(&self.material),
            to_nm,
            step_nm: self.step.unwrap_or_else(|| usual_step_nm(to_nm)),
            exposure_stops: self.exposure,
            adaptation_degree: self.eye.adapted,
            microscope: scene.map(|scene| (&scene.path, &scene.grid)),
        })
    }
}

impl BackgroundArguments {
    fn answer(&self, scene: &Scene) -> Result<ColorGrid, StudyError> {
        let mut scene = scene.clone();
        if let Some(lamp) = &self.lamp {
            scene.source = lamp.clone();
        }
        let or = |given: &[f64], usual: Vec<f64>| match given {
            [] => usual,
            given => given.to_vec(),
        };
        let strain_nm = or(&self.strain_nm, USUAL_STRAIN_NM.to_vec());
        let na = or(&self.na, usual_irises(&scene.path));
        let shown = GridShown {
            exposure_stops: self.exposure,
            adaptation_degree: self.eye.adapted,
        };
        background(&scene, &strain_nm, &na, shown)
    }
}

/// An answer of either shape.
enum Chart {
    Scale(Scale),
    ColorGrid(ColorGrid),
}

impl ChartShown {
    fn paper(&self) -> Paper {
        Paper {
            size: self.paper.size(),
            dpi: self.dpi,
        }
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
            slides: None,
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
