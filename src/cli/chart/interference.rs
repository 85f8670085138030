//! `polstack chart interference`.

use clap::{Args, ValueEnum};

use super::scale::ScaleArguments;
use super::{Chart, ChartJob, ChartShown, Words};
use crate::cli::Failure;
use crate::material::catalog::named_birefringences;
use crate::output::figure::{PaperSize, wall_figures};
use crate::study::chart::{ScaleRequest, interference, wall};

const WORDS: Words = Words {
    kind: "interference",
    figure: "chart-interference",
    title: "Interference colours",
};

#[derive(Debug, Args)]
pub(super) struct InterferenceArguments {
    #[command(flatten)]
    scale: ScaleArguments,
    /// How it is laid out [default: desk on A4, wall on larger paper and on screens]
    #[arg(long, value_enum, requires = "plots")]
    layout: Option<LayoutWord>,
    #[command(flatten)]
    shown: ChartShown,
}

/// How a chart of interference colours is laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum LayoutWord {
    /// All that is known, to be read at a desk
    Desk,
    /// Large bands and names, to be read from afar, with a sheet of details
    Wall,
}

pub(super) fn run(arguments: &InterferenceArguments) -> Result<(), Failure> {
    let InterferenceArguments {
        scale,
        layout,
        shown,
    } = arguments;
    let asked = ChartJob::read(scale.scenario.as_deref(), shown)?;
    let mut chart = asked.answer(|scene| scale.answer(scene, interference))?;
    let paper = shown.paper();
    if *layout == Some(LayoutWord::Desk) && asked.job.slides.is_some() {
        return Err(Failure::Start(
            "--layout desk has type too small for a slide: leave it out, or draw it on paper without --slides".to_owned(),
        ));
    }
    let usual = match paper.size {
        PaperSize::A4 => LayoutWord::Desk,
        _ => LayoutWord::Wall,
    };
    if layout.unwrap_or(usual) == LayoutWord::Desk {
        return asked.show(&WORDS, Chart::Scale(chart));
    }
    let given = asked.usual_plate();
    let study = |request: &ScaleRequest<'_>| wall(request, given.as_ref());
    asked.note(&mut chart.conditions);
    asked.show_drawn(&WORDS, &Chart::Scale(chart), || {
        let mut wall = asked.answer(|scene| scale.answer(scene, study))?;
        asked.note(&mut wall.conditions);
        let mut figures = wall_figures(asked.title(), &wall, &named_birefringences(), paper)?;
        if asked.job.slides.is_some() {
            // Details are to be read on paper.
            figures.truncate(1);
        }
        Ok(figures)
    })
}
