//! `polstack aperture FILE`.

use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};

use clap::Args;

use super::{Failure, Shown, figures_written, number, print, progress, whole};
use crate::color::Xyz;
use crate::output::figure::{
    Figure, FigureError, LightScale, TurnFrame, Turning, aperture_figures, frame_angles,
    turn_file_stem, turning_bytes, turning_gif, turning_pngs, write_files,
};
use crate::output::{csv, json, table};
use crate::scenario;
use crate::study::StudyError;
use crate::study::aperture::{Turn, back_focal_plane, polars_rad, turnable};
use crate::threads;

/// A moving picture from here on says its size first, bytes.
const LARGE_BYTES: usize = 50_000_000;

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack aperture scenarios/crystal-across-axis.toml --plots figures --turn analyzer\n\ndraws the back focal plane of that file, how its parts make it what it is, and as a moving picture what happens while the analyzer is turned."
)]
pub(super) struct Arguments {
    /// The scenario file (TOML), or - for standard input
    file: PathBuf,
    /// Draw a moving picture of the disc while the part of this name is turned: turn-NAME.gif
    #[arg(long, value_name = "NAME", requires = "plots")]
    turn: Option<String>,
    #[command(flatten)]
    film: Film,
    #[command(flatten)]
    shown: Shown,
}

/// How a turn is shown.
#[derive(Debug, Clone, Copy, Args)]
struct Film {
    /// Turn the part through so many degrees, counter-clockwise: 180 where it has an axis, 360 for a lens, if this is left out
    #[arg(long, value_name = "DEG", requires = "turn", allow_negative_numbers = true, value_parser = degrees)]
    through: Option<f64>,
    /// Number of frames
    #[arg(long, value_name = "N", requires = "turn", default_value_t = 60, allow_negative_numbers = true, value_parser = frame_count)]
    frames: u32,
    /// Width and height of a frame
    #[arg(long, value_name = "PIXELS", requires = "turn", default_value_t = 512, allow_negative_numbers = true, value_parser = pixels)]
    size: u32,
    /// True colour in place of luminance
    #[arg(long, requires = "turn")]
    color: bool,
    /// With the plates in, as they are while a plate is turned
    #[arg(long, requires = "turn")]
    plate: bool,
    /// Numbered PNG pictures in place of the GIF: turn-NAME-001.png
    #[arg(long, requires = "turn")]
    png: bool,
}

fn frame_count(text: &str) -> Result<u32, String> {
    whole(text, 1, 720)
}

fn pixels(text: &str) -> Result<u32, String> {
    whole(text, 64, 2048)
}

fn degrees(text: &str) -> Result<f64, String> {
    let degrees = number(text).filter(|deg| *deg != 0.0 && deg.abs() <= 3600.0);
    degrees.ok_or_else(|| "allowed: degrees from -3600 to 3600, not 0".to_owned())
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    arguments.shown.check()?;
    let scenario = scenario::read(&arguments.file)?;
    let failed = |error| Failure::Study {
        file: arguments.file.clone(),
        error,
    };
    let turn = (arguments.turn.as_deref())
        .map(|name| turnable(&scenario.scene.path, name))
        .transpose()
        .map_err(failed)?;
    let turn = turn
        .map(|(part, period_rad)| {
            let film = &arguments.film;
            let through_rad = film.through.map_or(period_rad, f64::to_radians);
            Ok((
                part,
                Turn::new(&scenario.scene, part, film.plate)?,
                through_rad,
            ))
        })
        .transpose()
        .map_err(failed)?;
    progress::say_if_many_wavelengths(&scenario, arguments.shown.quiet);
    let answer = progress::shown("following the rays", arguments.shown.quiet, || {
        back_focal_plane(&scenario.scene)
    })
    .map_err(failed)?;
    let (title, notes) = (&scenario.title, &scenario.notes);
    if let Some(directory) = &arguments.shown.plots {
        let frames = turn
            .as_ref()
            .map(|(_, turn, through_rad)| frames(arguments, turn, *through_rad).map_err(failed))
            .transpose()?;
        let turned = frames.iter().flatten().flat_map(|frame| &frame.light);
        let scale = LightScale::of_plane(&answer, turned.map(Xyz::luminance));
        let (figures, film) = match turn.zip(frames) {
            None => {
                let draw = || aperture_figures(title, &answer, &scale);
                (
                    progress::shown("drawing", arguments.shown.quiet, draw),
                    Ok(Vec::new()),
                )
            }
            Some(((part, turn, _), frames)) => {
                let turning = Turning {
                    title: title.clone(),
                    part: scenario.scene.path.parts[part].name.clone(),
                    size: arguments.film.size,
                    color: arguments.film.color,
                    plate: match (&answer.with_plate, turn.plates) {
                        (None, _) => "",
                        (Some(_), false) => "plate out",
                        (Some(_), true) => "plate in",
                    },
                    rays: turn.rays.clone(),
                    parallel: turn.parallel(),
                    scale,
                    frames,
                };
                say_if_large(arguments, &turning)?;
                threads::join(
                    || aperture_figures(title, &answer, &scale),
                    || film(arguments, &turning),
                )
            }
        };
        let (figures, film) = (figures?, film?);
        let mut files: Vec<(String, &[u8])> = figures.iter().flat_map(Figure::files).collect();
        files.extend(film.iter().map(|(name, bytes)| (name.clone(), &bytes[..])));
        let written = write_files(directory, &files)?;
        figures_written(&written, directory, arguments.shown.quiet);
    }
    print(if arguments.shown.format.json {
        json::back_focal_plane(title, &answer, notes)
    } else if arguments.shown.format.csv {
        csv::back_focal_plane(&answer)
    } else {
        table::back_focal_plane(title, &answer, notes, arguments.shown.quiet)
    })
}

/// The light of each frame of the moving picture.
fn frames(
    arguments: &Arguments,
    turn: &Turn,
    through_rad: f64,
) -> Result<Vec<TurnFrame>, StudyError> {
    let angles = frame_angles(arguments.film.frames, through_rad);
    let total = angles.len() as u64;
    progress::counted("turning", arguments.shown.quiet, total, |done| {
        let finished = AtomicUsize::new(0);
        threads::try_each(&angles, |&angle_rad| {
            let light = turn.light(angle_rad)?;
            done(finished.fetch_add(1, Ordering::Relaxed) + 1);
            Ok(TurnFrame {
                angle_rad,
                polars_rad: polars_rad(&turn.path_at(angle_rad)),
                light,
            })
        })
    })
}

/// Says how large a moving picture will be before it is drawn, where that is much.
fn say_if_large(arguments: &Arguments, turning: &Turning) -> Result<(), FigureError> {
    let pixels = turning.frames.len() * (turning.size as usize).pow(2);
    // A frame takes less than a byte a pixel.
    if arguments.shown.quiet || pixels < LARGE_BYTES {
        return Ok(());
    }
    let bytes = turning_bytes(turning, arguments.film.png)?;
    if bytes >= LARGE_BYTES {
        progress::say(&format!(
            "the moving picture will take about {} MB: {} frames of {} x {} pixels; --frames and --size make it smaller",
            bytes / 1_000_000,
            turning.frames.len(),
            turning.size,
            turning.size
        ));
    }
    Ok(())
}

/// The moving picture: names and bytes of its files.
fn film(arguments: &Arguments, turning: &Turning) -> Result<Vec<(String, Vec<u8>)>, FigureError> {
    let total = turning.frames.len() as u64;
    let stem = turn_file_stem(&turning.part);
    progress::counted("drawing", arguments.shown.quiet, total, |done| {
        if arguments.film.png {
            let numbered = turning_pngs(turning, done)?.into_iter().enumerate();
            let named = numbered.map(|(k, png)| (format!("{stem}-{:03}.png", k + 1), png));
            return Ok(named.collect());
        }
        Ok(vec![(format!("{stem}.gif"), turning_gif(turning, done)?)])
    })
}
