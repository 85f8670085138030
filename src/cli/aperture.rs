//! `polstack aperture FILE`.

use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};

use clap::Args;

use super::job::{Job, Shown};
use super::render::Render;
use super::{Failure, number, progress, whole};
use crate::color::Xyz;
use crate::output::figure::{
    FigureError, LightScale, MovingForm, TurnFrame, TurningPicture, aperture_figures, frame_angles,
    turning_bytes, turning_film,
};
use crate::output::{csv, json, table};
use crate::scenario::Scenario;
use crate::scene::Scene;
use crate::study::StudyError;
use crate::study::aperture::{BackFocalPlane, Turn, back_focal_plane, polars_rad, turnable};
use crate::threads;

/// From how many bytes on a moving picture's size is told before it is drawn.
const LARGE_BYTES: usize = 50_000_000;

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack aperture scenarios/crystal-across-axis.toml --plots figures --turn analyzer\n\ndraws the back focal plane of that file, how its parts make it what it is, and as a moving picture what happens while the analyzer is turned."
)]
pub(super) struct ApertureArguments {
    /// The scenario file (TOML), or - for standard input
    file: PathBuf,
    /// Draw a moving picture of the disc while the part of this name is turned: turn-NAME.gif
    #[arg(long, value_name = "NAME", requires = "plots")]
    turn: Option<String>,
    #[command(flatten)]
    film: Film,
    #[command(flatten)]
    shown: Shown,
    #[command(flatten)]
    camera: Render,
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
    #[arg(long, requires = "turn", conflicts_with = "apng")]
    png: bool,
    /// An animated PNG in place of the GIF, in all its colours: turn-NAME.png; for slides it is one without being asked, since a GIF needs a background
    #[arg(long, requires = "turn")]
    apng: bool,
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

pub(super) fn run(arguments: &ApertureArguments) -> Result<(), Failure> {
    let job = Job::about(&arguments.file, &arguments.shown);
    let Scenario {
        title,
        scene,
        notes,
        ..
    } = &job.read(&arguments.file)?;
    let turned = (arguments.turn.as_deref())
        .map(|name| Turned::new(scene, name, arguments.film))
        .transpose()
        .map_err(|error| job.failed(error))?;
    let rendering = arguments.camera.of(scene)?;
    job.say_if_many_wavelengths(scene);
    let answer = job.work("following the rays", || back_focal_plane(scene))?;
    match &turned {
        None => job.draw(|| {
            let scale = LightScale::of_plane(&answer, std::iter::empty());
            Ok(aperture_figures(title, &answer, &scale)?)
        }),
        Some(turned) => turned.draw(&job, title, &answer),
    }?;
    if let Some(rendering) = rendering {
        rendering.write(&job, title)?;
    }
    job.print(
        || json::answer(title, &answer, notes),
        || csv::back_focal_plane(&answer),
        || table::back_focal_plane(title, &answer, notes, job.quiet),
    )
}

/// A part that is turned for the moving picture.
struct Turned<'a> {
    film: Film,
    part: &'a str,
    turn: Turn<'a>,
    through_rad: f64,
}

impl<'a> Turned<'a> {
    fn new(scene: &'a Scene, name: &str, film: Film) -> Result<Self, StudyError> {
        let (part, period_rad) = turnable(&scene.path, name)?;
        Ok(Self {
            film,
            part: &scene.path.parts[part].name,
            turn: Turn::new(scene, part, film.plate)?,
            through_rad: film.through.map_or(period_rad, f64::to_radians),
        })
    }

    /// Draws the figures and the moving picture, all discs on one scale of light.
    fn draw(&self, job: &Job<'_>, title: &str, answer: &BackFocalPlane) -> Result<(), Failure> {
        let frames = self.frames(job.quiet).map_err(|error| job.failed(error))?;
        let light = frames.iter().flat_map(|frame| &frame.light);
        let scale = LightScale::of_plane(answer, light.map(Xyz::luminance));
        let turning = TurningPicture {
            title: title.to_owned(),
            part: self.part.to_owned(),
            size: self.film.size,
            color: self.film.color,
            plate: match (&answer.with_plate, self.turn.plates) {
                (None, _) => "",
                (Some(_), false) => "plate out",
                (Some(_), true) => "plate in",
            },
            rays: self.turn.rays.clone(),
            parallel: self.turn.parallel(),
            slides: job.slides,
            scale,
            frames,
        };
        self.say_if_large(job.quiet, &turning)?;
        let (figures, film) = threads::join(
            || aperture_figures(title, answer, &scale),
            || self.film(job.quiet, &turning),
        );
        job.write(&figures?, &film?)
    }

    /// The light of each frame of the moving picture.
    fn frames(&self, quiet: bool) -> Result<Vec<TurnFrame>, StudyError> {
        let turn = &self.turn;
        let angles = frame_angles(self.film.frames, self.through_rad);
        let total = angles.len() as u64;
        progress::counted("turning", quiet, total, |done| {
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
    fn say_if_large(&self, quiet: bool, turning: &TurningPicture) -> Result<(), FigureError> {
        let pixels = turning.frames.len() * (turning.size as usize).pow(2);
        // A frame takes less than a byte a pixel.
        if quiet || pixels < LARGE_BYTES {
            return Ok(());
        }
        let bytes = turning_bytes(turning, self.form())?;
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

    fn form(&self) -> MovingForm {
        MovingForm::asked(self.film.png, self.film.apng)
    }

    /// The moving picture: names and bytes of its files.
    fn film(
        &self,
        quiet: bool,
        turning: &TurningPicture,
    ) -> Result<Vec<(String, Vec<u8>)>, FigureError> {
        let total = turning.frames.len() as u64;
        progress::counted("drawing", quiet, total, |done| {
            turning_film(turning, self.form(), done)
        })
    }
}
