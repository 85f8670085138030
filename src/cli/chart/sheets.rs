//! `polstack chart sheets`.

use std::path::PathBuf;

use clap::Args;

use super::{ChartJob, ChartShown, Words, lamp, stops};
use crate::cli::{EyeArguments, Failure};
use crate::output::figure::{ChartRef, chart_figure, compared_figure};
use crate::output::{csv, json, table};
use crate::spectrum::Source;
use crate::study::chart::{GridShown, all_sheets, compare_sheets};

const WORDS: Words = Words {
    kind: "sheets",
    figure: "chart-sheets",
    title: "Polarizing sheets",
};

#[derive(Debug, Args)]
pub(super) struct SheetsArguments {
    /// A scenario file (TOML), or - for standard input, whose two polars get each sheet in turn [default: two sheets alone, and above a perfect condenser]
    #[arg(long, value_name = "FILE")]
    scenario: Option<PathBuf>,
    /// The lamp of the comparison, by its name in the catalog [default: the scenario's, or cie-d65]
    #[arg(long, value_name = "NAME", value_parser = lamp)]
    lamp: Option<Source>,
    /// Stops by which every colour under the lamps is exposed up [default: so that the brightest of a panel is just not too bright]
    #[arg(long, value_name = "STOPS", allow_negative_numbers = true, value_parser = stops)]
    exposure: Option<f64>,
    /// With --csv: the colours under every lamp in place of the comparison
    #[arg(long, requires = "csv")]
    colors: bool,
    #[command(flatten)]
    eye: EyeArguments,
    #[command(flatten)]
    shown: ChartShown,
}

pub(super) fn run(arguments: &SheetsArguments) -> Result<(), Failure> {
    let asked = ChartJob::read(arguments.scenario.as_deref(), &arguments.shown)?;
    let shown = GridShown {
        exposure_stops: arguments.exposure,
        adaptation_degree: arguments.eye.adapted,
    };
    let mut grid = asked.answer(|scene| all_sheets(scene, shown))?;
    asked.note(&mut grid.conditions);
    let compared = asked.answer(|scene| compare_sheets(scene, arguments.lamp.as_ref()))?;
    let title = asked.title();
    let paper = asked.shown.paper();
    asked.job.draw(|| {
        Ok(vec![
            compared_figure(title, &compared, &grid, paper)?,
            chart_figure(WORDS.figure, title, ChartRef::ColorGrid(&grid), paper)?,
        ])
    })?;
    let head = title.unwrap_or(WORDS.title);
    asked.job.print(
        || json::sheets(WORDS.kind, title, &grid, &compared),
        || match arguments.colors {
            true => csv::matrix(&grid),
            false => csv::sheets(&compared),
        },
        || table::sheets(head, &compared, &grid, asked.job.quiet),
    )
}
