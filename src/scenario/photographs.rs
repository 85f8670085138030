//! Photographs that a readings file names, as readings: each zone of the aperture is one.

use std::path::Path;
use std::sync::Arc;

use thiserror::Error;

use super::files::{Disk, FileError, Files};
use super::photograph_lines::{PhotographFile, PhotographLine};
use super::readings::{LEAST_RATIO, lines_in_words};
use crate::optics::ZoneGrid;
use crate::photograph::{
    Fetch, Framed, GivenDisc, Orientation, PhotographError, PhotographProblem, PictureDisc,
    Pictures, Shot, ZonePicture, frame, odd_picture,
};
use crate::spectrum::CameraSensitivity;
use crate::study::fit::{Reading, Zone};

/// Largest picture file, bytes.
const MOST_BYTES: u64 = 500_000_000;
/// Least error of a picture through an unknown curve, relatively: of each zone, and of what all zones share.
const CURVE_ERROR: f64 = 0.15;

/// What is said of pictures that are as bright as parallel light, or a little brighter.
const BRIGHT: &str = "The light with the polars as they are set is as bright as with the polars parallel, or brighter. Are the exposures or the pictures swapped?";

/// How the camera was held, and how its pictures are read.
#[derive(Debug, Clone, PartialEq)]
pub struct CameraReading {
    /// How the disc is divided.
    pub grid: ZoneGrid,
    /// How far the picture is to be turned counter-clockwise, radians, for its right to be East.
    pub turn_rad: f64,
    /// Whether the picture is mirrored; `None` where that is not known.
    pub flip: Option<bool>,
    /// Whether 8-bit pictures and JPEG are read, as if their curve were that of sRGB.
    pub accept_curves: bool,
    /// Part of full scale from which a pixel is saturated.
    pub saturation: f64,
    /// What the channels of a colour camera see; `None` for the mean of measured cameras.
    pub sensitivity: Option<Arc<CameraSensitivity>>,
}

impl Default for CameraReading {
    fn default() -> Self {
        Self {
            grid: ZoneGrid::default(),
            turn_rad: 0.0,
            flip: None,
            accept_curves: false,
            saturation: 0.98,
            sensitivity: None,
        }
    }
}

/// What photographs show.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Photographed {
    /// Readings as the camera is told to be held; where it is not told whether the pictures are mirrored, as if they were not.
    pub readings: Vec<Reading>,
    /// The same with the pictures mirrored the other way.
    pub otherwise: Vec<Reading>,
    /// Discs that are given, and lie elsewhere than the bright discs that are found.
    pub elsewhere: Vec<DiscElsewhere>,
    /// What is to be said of the pictures, in whole sentences.
    pub notes: Vec<String>,
}

/// A disc that lines of the readings give, and where the bright disc of the parallel picture is found instead.
#[derive(Debug, Clone, PartialEq)]
pub struct DiscElsewhere {
    /// The lines.
    pub lines: Vec<usize>,
    /// The disc that is given.
    pub given: PictureDisc,
    /// The disc that is found.
    pub found: PictureDisc,
}

/// A line whose photographs cannot be used.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("line {line} of the readings: {source}")]
pub struct PhotographLineError {
    /// The line.
    pub line: usize,
    /// Why.
    pub source: PhotographError,
}

impl PhotographLine {
    /// Pictures that it names.
    #[must_use]
    pub fn count(&self) -> usize {
        self.crossed.len() + self.parallel.len()
    }
}

/// Reads the photographs that lines of a readings file in `folder` name; `done` is told how many pictures are read and their zones cut.
///
/// # Errors
/// [`PhotographLineError`], with the picture and the remedy.
///
/// Checked by: `tests/scenario/photographs.rs`.
pub fn read_photographs(
    lines: &[PhotographLine],
    folder: &Path,
    camera: &CameraReading,
    done: &(dyn Fn(usize) + Sync),
) -> Result<Photographed, PhotographLineError> {
    let disk = Disk::folder(folder);
    let fetch = |name: &str| {
        disk.bytes(name, MOST_BYTES).map_err(|error| match error {
            FileError::Unreadable { why } => why,
            FileError::TooLarge { .. } => "it is larger than 500 MB".to_owned(),
        })
    };
    let mut all = Photographed::default();
    let mut notes: Vec<(String, Vec<usize>)> = Vec::new();
    let (mut pictures, mut colored) = (0, false);
    for line in lines {
        let framed = framed(line, camera, &fetch).map_err(|source| PhotographLineError {
            line: line.line,
            source: blamed(source, line, lines, &fetch),
        })?;
        if let Some(found) = framed.elsewhere() {
            let given = framed.disc();
            // As they are told, in tenths of a pixel.
            let same = |of: &&mut DiscElsewhere| {
                of.given.words() == given.words() && of.found.words() == found.words()
            };
            match all.elsewhere.iter_mut().find(same) {
                Some(of) => of.lines.push(line.line),
                None => all.elsewhere.push(DiscElsewhere {
                    lines: vec![line.line],
                    given,
                    found,
                }),
            }
        }
        let held = camera.flip.unwrap_or(false);
        let orientations = [held, !held].map(|flip| Orientation {
            flip,
            turn_rad: camera.turn_rad,
        });
        let mut cut = framed.zones_of(camera.grid, &orientations).into_iter();
        let Some(straight) = cut.next() else {
            continue;
        };
        let wrong = |source| PhotographLineError {
            line: line.line,
            source,
        };
        framed
            .refusal(&straight)
            .map_or(Ok(()), |error| Err(wrong(error)))?;
        let ratio = straight.ratio();
        if ratio < LEAST_RATIO {
            let times = 1.0 / ratio;
            let problem = PhotographProblem::Brighter { times };
            return Err(wrong(PhotographError::of(&line.crossed[0].name, problem)));
        }
        let readings = |picture: &ZonePicture| readings(line, picture, framed.is_curved(), camera);
        all.readings.extend(readings(&straight));
        all.otherwise.extend(cut.flat_map(|other| readings(&other)));
        let bright = (ratio < 1.0).then(|| BRIGHT.to_owned());
        for note in straight.notes.into_iter().chain(bright) {
            match notes.iter_mut().find(|(known, _)| *known == note) {
                Some((_, of)) => of.push(line.line),
                None => notes.push((note, vec![line.line])),
            }
        }
        colored |= framed.channels() > 1;
        pictures += line.count();
        done(pictures);
    }
    all.notes = notes.iter().map(|(note, of)| of_lines(note, of)).collect();
    all.notes.extend(match (colored, &camera.sensitivity) {
        (true, None) => Some("The channels of the colour photographs are taken to see what the mean of ten measured cameras sees: --camera gives your own camera's sensitivities.".to_owned()),
        (false, Some(_)) => Some("All photographs are grey: the sensitivities of --camera are not needed.".to_owned()),
        _ => None,
    });
    Ok(all)
}

/// The error with the right picture blamed: of pictures that have not one size, not the first that differs but the one that differs from most.
fn blamed(
    error: PhotographError,
    line: &PhotographLine,
    lines: &[PhotographLine],
    fetch: &Fetch<'_>,
) -> PhotographError {
    if !matches!(error.problem(), PhotographProblem::OtherSize { .. }) {
        return error;
    }
    let names = |line: &PhotographLine| -> Vec<String> {
        let files = line.crossed.iter().chain(&line.parallel);
        files.map(|file| file.name.clone()).collect()
    };
    let (own, all) = (
        names(line),
        lines.iter().flat_map(names).collect::<Vec<_>>(),
    );
    odd_picture(&own, &all, fetch).unwrap_or(error)
}

/// A note with the lines of the readings that it is about.
fn of_lines(note: &str, lines: &[usize]) -> String {
    match lines_in_words(lines) {
        Some((lines, _)) => format!("{lines} of the readings: {note}"),
        None => note.to_owned(),
    }
}

fn framed(
    line: &PhotographLine,
    camera: &CameraReading,
    fetch: &Fetch<'_>,
) -> Result<Framed, PhotographError> {
    let shots = |files: &[PhotographFile]| {
        let shot = |file: &PhotographFile| Shot {
            name: file.name.clone(),
            exposure_s: file.exposure_s,
        };
        files.iter().map(shot).collect()
    };
    let pictures = Pictures {
        dark_counts: line.dark_counts,
        saturation: camera.saturation,
        accept_curves: camera.accept_curves,
        disc: line.disc.map(|[center_x, center_y, radius]| GivenDisc {
            center_x,
            center_y,
            radius,
        }),
        ..Pictures::new(shots(&line.crossed), shots(&line.parallel))
    };
    frame(&pictures, fetch)
}

/// The readings of one line, channel by channel.
fn readings(
    line: &PhotographLine,
    picture: &ZonePicture,
    curved: bool,
    camera: &CameraReading,
) -> Vec<Reading> {
    let least = if curved { CURVE_ERROR } else { 0.0 };
    let channels = 0..picture.channels;
    let zones = channels.flat_map(|channel| {
        let zones = picture.zones.iter().enumerate();
        zones.filter_map(move |(number, zone)| {
            let seen = zone.channels.get(channel)?.reading.as_ref().ok()?;
            let mut setting = line.setting.clone();
            setting.camera.clone_from(&camera.sensitivity);
            setting.zone = Some(Zone {
                grid: picture.grid,
                number,
                channel: (picture.channels > 1).then_some(channel),
            });
            Some(Reading {
                line: line.line,
                ratio: seen.ratio,
                error: seen.relative_error.max(least),
                common_error: line.error.max(least),
                framing: seen.framing,
                setting,
                note: line.note.clone(),
            })
        })
    });
    zones.collect()
}
