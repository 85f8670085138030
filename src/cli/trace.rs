//! `polstack trace FILE`.

use std::path::PathBuf;

use clap::Args;

use super::job::{Job, Shown};
use super::{Failure, number};
use crate::optics::Ray;
use crate::output::figure::trace_figure;
use crate::output::{csv, json, table};
use crate::scenario::Scenario;
use crate::spectrum::WavelengthGrid;
use crate::study::trace::{Question, is_lit, trace};

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack trace scenarios/circular-polars.toml --ray 0.1,30 --wavelength 546.1 --plots figures\n\nfollows one green ray through the stack of that file, prints its state after each part and draws the ellipses and the way over the Poincare sphere. Specimens are in; plates are out unless --plate is given. Between condenser and objective a ray's state is in the pupil's frame: its p vibration is drawn along the pupil's radius, its s vibration across it. Right-handed is clockwise as seen looking down the microscope."
)]
pub(super) struct TraceArguments {
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

pub(super) fn run(arguments: &TraceArguments) -> Result<(), Failure> {
    let job = Job::about(&arguments.file, &arguments.shown);
    let Scenario {
        title,
        scene,
        mut notes,
        ..
    } = job.read(&arguments.file)?;
    let question = Question {
        ray: arguments.ray,
        wavelength_nm: arguments.wavelength,
        plates: arguments.plate,
        matrices: arguments.mueller,
    };
    match question.wavelength_nm {
        None => job.say_if_many_wavelengths(&scene),
        Some(nm) if !is_lit(&scene, nm) => notes.push(format!(
            "the lamp has next to no light at {nm} nm: this is what the stack would do to it"
        )),
        Some(_) => {}
    }
    let answer = job.work("following the light", || trace(&scene, question))?;
    job.draw(|| Ok(vec![trace_figure(&title, &answer)?]))?;
    job.print(
        || json::answer(&title, &answer, &notes),
        || csv::trace(&answer),
        || table::trace(&title, &answer, &notes, job.quiet),
    )
}
