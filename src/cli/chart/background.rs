//! `polstack chart background`.

use std::path::PathBuf;

use clap::Args;

use super::{Chart, ChartJob, ChartShown, Words, lamp, stops};
use crate::cli::{EyeArguments, Failure, number};
use crate::scene::Scene;
use crate::spectrum::Source;
use crate::study::StudyError;
use crate::study::chart::{ColorGrid, GridShown, USUAL_STRAIN_NM, background, usual_irises};

const WORDS: Words = Words {
    kind: "background",
    figure: "chart-background",
    title: "Background colours",
};

#[derive(Debug, Args)]
pub(super) struct BackgroundArguments {
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

fn finite(text: &str) -> Result<f64, String> {
    number(text).ok_or_else(|| "allowed: numbers with commas between".to_owned())
}

pub(super) fn run(arguments: &BackgroundArguments) -> Result<(), Failure> {
    let asked = ChartJob::read(Some(&arguments.scenario), &arguments.shown)?;
    let chart = asked.answer(|scene| match scene {
        Some(scene) => arguments.answer(scene),
        None => Err(StudyError::NoObjective),
    })?;
    asked.show(&WORDS, Chart::ColorGrid(chart))
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
