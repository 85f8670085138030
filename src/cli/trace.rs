//! `polstack trace FILE`.

use std::path::PathBuf;

use clap::Args;

use super::{Failure, Shown, figures_written, number, print, progress};
use crate::optics::Ray;
use crate::output::figure::{trace_figure, write_all};
use crate::output::{csv, json, table};
use crate::scenario::{self, Scenario};
use crate::spectrum::WavelengthGrid;
use crate::study::trace::{Question, trace};

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack trace scenarios/circular-polars.toml --ray 0.1,30 --wavelength 546.1 --plots figures\n\nfollows one green ray through the stack of that file, prints its state after each part and draws the ellipses and the way over the Poincare sphere. Specimens are in; plates are out unless --plate is given. Between condenser and objective a ray's state is in the pupil's frame: its p vibration is drawn along the pupil's radius, its s vibration across it. Right-handed is clockwise as seen looking down the microscope."
)]
pub(super) struct Arguments {
    /// The scenario file (TOML), or - for standard input
    file: PathBuf,
    /// Follow one ray, named by its NA and azimuth in the objective's pupil: 0.5,30; 0,0 is the axis. Without it: the mean over the
    /// aperture
    #[arg(long, value_name = "NA,AZIMUTH_DEG", allow_hyphen_values = true, value_parser = ray)]
    ray: Option<Ray>,
    /// Follow the light of one wavelength. Without it: the lamp's light, as the eye weighs it
    #[arg(long, value_name = "NM", allow_hyphen_values = true, value_parser = wavelength_nm)]
    wavelength: Option<f64>,
    /// Put the accessory plates in
    #[arg(long)]
    plate: bool,
    /// Mueller matrix of each part and of everything between the polars, with its polar decomposition
    #[arg(long)]
    mueller: bool,
    #[command(flatten)]
    shown: Shown,
}

/// Less light than this share of the brightest wavelength's is next to none.
const UNLIT: f64 = 1e-4;

/// A ray of the command line.
fn ray(text: &str) -> Result<Ray, String> {
    let numbers = text
        .split_once(',')
        .and_then(|(s, azimuth)| Some((number(s)?, number(azimuth)?)));
    match numbers {
        Some((s, azimuth_deg)) if s >= 0.0 && azimuth_deg.abs() <= 360.0 => Ok(Ray {
            s: s.abs(),
            azimuth_rad: azimuth_deg.to_radians(),
        }),
        _ => Err(
            "allowed: a numerical aperture from 0 and an azimuth of -360 to 360 degrees, such as 0.5,30"
                .to_owned(),
        ),
    }
}

/// A wavelength of the command line.
fn wavelength_nm(text: &str) -> Result<f64, String> {
    let bare = text.trim();
    let (from, to) = (WavelengthGrid::SHORTEST_NM, WavelengthGrid::LONGEST_NM);
    number(bare.strip_suffix("nm").unwrap_or(bare))
        .filter(|nm| (from..=to).contains(nm))
        .ok_or_else(|| format!("allowed: a wavelength of {from} to {to} nm, such as 546.1"))
}

/// Says so where the lamp has next to no light at a wavelength.
fn unlit(scenario: &Scenario, wavelength_nm: f64) -> Option<String> {
    let power = |nm| scenario.scene.source.power(nm).unwrap_or(0.0);
    let wavelengths_nm = scenario.scene.grid.wavelengths_nm().iter();
    let most = wavelengths_nm.map(|&nm| power(nm)).fold(0.0, f64::max);
    (power(wavelength_nm) < UNLIT * most).then(|| {
        format!(
            "the lamp has next to no light at {wavelength_nm} nm: this is what the stack would do to it"
        )
    })
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    arguments.shown.check()?;
    let scenario = scenario::read(&arguments.file)?;
    let question = Question {
        ray: arguments.ray,
        wavelength_nm: arguments.wavelength,
        plates: arguments.plate,
        matrices: arguments.mueller,
    };
    if question.wavelength_nm.is_none() {
        progress::say_if_many_wavelengths(&scenario, arguments.shown.quiet);
    }
    let answer = progress::shown("following the light", arguments.shown.quiet, || {
        trace(&scenario.scene, question)
    })
    .map_err(|error| Failure::Study {
        file: arguments.file.clone(),
        error,
    })?;
    let (title, mut notes) = (&scenario.title, scenario.notes.clone());
    notes.extend(question.wavelength_nm.and_then(|nm| unlit(&scenario, nm)));
    if let Some(directory) = &arguments.shown.plots {
        let files = write_all(directory, &[trace_figure(title, &answer)?])?;
        figures_written(&files, directory, arguments.shown.quiet);
    }
    print(if arguments.shown.format.json {
        json::trace(title, &answer, &notes)
    } else if arguments.shown.format.csv {
        csv::trace(&answer)
    } else {
        table::trace(title, &answer, &notes, arguments.shown.quiet)
    })
}
