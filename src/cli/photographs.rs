//! What `polstack fit` does with photographs of the back focal plane.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;

use super::job::Job;
use super::{Failure, YesNo, progress, within};
use crate::optics::ZoneGrid;
use crate::output::figure::{
    Figure, check_folder, residuals_figure, strain_map_figure, write_files,
};
use crate::output::numbers::digits;
use crate::output::{FitReport, csv};
use crate::scenario::{
    BenchReadings, CameraReading, DiscElsewhere, ScenarioError, lines_in_words, read_camera,
    read_photographs,
};
use crate::scene::Scene;
use crate::study::draws::Watch;
use crate::study::fit::{Fit, FitError, FitQuestion, Reading, likelier};
use crate::study::strain_between::StrainBetween;
use crate::study::unknown::Unknowns;

/// The file of the map.
pub(super) const STRAIN_MAP: &str = "strain-map.csv";

/// Below this difference of evidence, nats, pictures do not tell whether they are mirrored.
const TELLS: f64 = 3.0;
/// From this difference on, pictures that were told to be held one way are said to go far better the other way: wrong exposures or curves alone may make
/// a smaller one.
const FAR_BETTER: f64 = 10.0;
/// Odds above this are not told as a number.
const MANY: f64 = 1e6;

/// Why no scenario is written of stands that do not explain the readings.
pub(super) const NOT_WRITTEN: &str =
    "readings and model do not go together, and what it would answer would look surer than it is";

/// How the camera was held and how its pictures are read.
#[derive(Debug, Args)]
#[command(next_help_heading = "Photographs of the back focal plane")]
pub(super) struct PhotographArguments {
    /// Turn them counter-clockwise by so many degrees, so that their right is East and their top North
    #[arg(long, value_name = "DEG", default_value_t = 0.0, allow_negative_numbers = true, value_parser = degrees)]
    turn_picture: f64,
    /// Whether they are mirrored; both are tried where this is not given
    #[arg(long, value_name = "YES|NO")]
    flip: Option<YesNo>,
    /// Rings and sectors that the disc is divided into
    #[arg(long, value_name = "RINGSxSECTORS", default_value = "5x16", allow_negative_numbers = true, value_parser = zones)]
    pub(super) zones: ZoneGrid,
    /// From which part of full scale, in percent, a pixel is saturated
    #[arg(long, value_name = "PERCENT", default_value_t = 98.0, allow_negative_numbers = true, value_parser = saturation)]
    saturation: f64,
    /// Read 8-bit pictures and JPEG too, as if their curve were that of sRGB, with an error of 15 % at least
    #[arg(long)]
    accept_curves: bool,
    /// Of colour photographs: what your camera's channels see, a CSV with the columns wavelength_nm, red, green, blue; the mean of ten measured
    /// cameras where this is not given
    #[arg(long, value_name = "CSV", requires = "readings")]
    camera: Option<PathBuf>,
    /// Map the strain between the polars, and write the map, its figures and the scenario with the map in it into this directory
    #[arg(long, value_name = "DIR", requires = "readings")]
    pub(super) map: Option<PathBuf>,
}

fn degrees(text: &str) -> Result<f64, String> {
    within(text, -360.0, 360.0, "22.5")
}

fn saturation(text: &str) -> Result<f64, String> {
    within(text, 1.0, 100.0, "98")
}

fn zones(text: &str) -> Result<ZoneGrid, String> {
    let parsed = text.split_once('x').and_then(|(rings, sectors)| {
        let (rings, sectors) = (rings.parse().ok()?, sectors.parse().ok()?);
        let fits = rings <= 20 && (4..=64).contains(&sectors);
        ZoneGrid::new(rings, sectors).filter(|_| fits)
    });
    parsed.ok_or_else(|| "allowed: 1 to 20 rings, x, 4 to 64 sectors, such as 5x16".to_owned())
}

/// The readings of a file, its photographs read.
pub(super) struct AllReadings {
    pub(super) readings: Vec<Reading>,
    /// The same with the photographs mirrored the other way; `None` without photographs.
    otherwise: Option<Vec<Reading>>,
    flip: Option<YesNo>,
    elsewhere: Vec<DiscElsewhere>,
    pub(super) notes: Vec<String>,
}

impl PhotographArguments {
    fn camera(&self) -> Result<CameraReading, ScenarioError> {
        let own = self.camera.as_deref().map(read_camera).transpose()?;
        Ok(CameraReading {
            grid: self.zones,
            turn_rad: self.turn_picture.to_radians(),
            flip: self.flip.map(|flip| flip == YesNo::Yes),
            accept_curves: self.accept_curves,
            saturation: 0.01 * self.saturation,
            sensitivity: own.map(Arc::new),
        })
    }

    /// Reads the photographs that readings name.
    pub(super) fn read(
        &self,
        bench: BenchReadings,
        file: Option<&Path>,
        notes: &[String],
        job: &Job<'_>,
    ) -> Result<AllReadings, Failure> {
        self.map.as_deref().map_or(Ok(()), check_folder)?;
        let camera = self.camera()?;
        let notes = bench.after(notes);
        let (Some(file), false) = (file, bench.photographs.is_empty()) else {
            return Ok(AllReadings {
                readings: bench.taken,
                otherwise: None,
                flip: self.flip,
                elsewhere: Vec::new(),
                notes,
            });
        };
        let lines = &bench.photographs;
        let count = lines.iter().map(|line| line.count() as u64).sum();
        let folder = file.parent().unwrap_or(Path::new(""));
        let seen = progress::counted("reading photographs", job.quiet, count, |done| {
            read_photographs(lines, folder, &camera, done)
        });
        let seen = seen.map_err(|error| Failure::Photograph {
            file: file.to_owned(),
            error: Box::new(error),
        })?;
        let together = |photographed: Vec<Reading>| {
            let mut all = bench.taken.clone();
            all.extend(photographed);
            all.sort_by_key(|reading| reading.line);
            all
        };
        Ok(AllReadings {
            readings: together(seen.readings),
            otherwise: Some(together(seen.otherwise)),
            flip: self.flip,
            elsewhere: seen.elsewhere,
            notes: notes.into_iter().chain(seen.notes).collect(),
        })
    }

    /// Whether the strain between the polars is to be mapped.
    pub(super) fn maps(&self) -> bool {
        self.map.is_some()
    }

    /// The figures of photographs: "residuals", and "strain-map" where there is a map.
    pub(super) fn figures(
        &self,
        (title, scene): (&str, &Scene),
        report: &FitReport,
        job: &Job<'_>,
    ) -> Result<Vec<Figure>, Failure> {
        let map = report.map.as_ref();
        let mut figures = Vec::new();
        if let Some(map) = map {
            let pictures = map.pictures(scene).map_err(|error| job.failed(error))?;
            let figure =
                strain_map_figure(title, scene, (report, map), pictures.as_ref(), self.zones)?;
            figures.push(figure);
        }
        figures.extend(residuals_figure(title, &report.answer, map, self.zones)?);
        Ok(figures)
    }

    /// Writes the map with its figures, and the scenario with the map in it and what belongs to it, by name and text. Without a map, because readings and
    /// model do not go together, the figures alone.
    pub(super) fn write(
        &self,
        map: Option<(&StrainBetween, Vec<(String, String)>)>,
        figures: &[Figure],
        job: &Job<'_>,
    ) -> Result<(), Failure> {
        let Some(folder) = &self.map else {
            return Ok(());
        };
        let mut texts: Vec<(String, String)> = Vec::new();
        let carrier = map.map(|(map, stand)| {
            texts.extend(stand);
            texts.push((STRAIN_MAP.to_owned(), csv::strain_map(map)));
            texts.push(("strain-zones.csv".to_owned(), csv::strain_zones(map)));
            &map.lens
        });
        let mut files: Vec<(String, &[u8])> = (texts.iter())
            .map(|(name, text)| (name.clone(), text.as_bytes()))
            .collect();
        files.extend(figures.iter().flat_map(Figure::files));
        let written = write_files(folder, &files)?;
        job.tell_missing(figures);
        let what = match carrier {
            None => format!("look at residuals.png there, and no map: {NOT_WRITTEN}"),
            Some(lens) => format!(
                "among them {}: the stand with the map, which {lens} carries for all lenses between the polars; next: polstack predict {}",
                written[0].display(),
                written[0].display()
            ),
        };
        job.say(&format!(
            "wrote {} files to {}, {what}",
            written.len(),
            folder.display(),
        ));
        Ok(())
    }
}

impl AllReadings {
    /// Of pictures of which it is not known whether they are mirrored, takes those that go better with the model, and says so.
    pub(super) fn settle_flip(
        &mut self,
        scene: &Scene,
        unknowns: &Unknowns,
        (question, watch): (&FitQuestion, Watch<'_>),
    ) -> Result<(), FitError> {
        if self.flip.is_some() {
            return Ok(());
        }
        let Some(mirrored) = self.otherwise.take() else {
            return Ok(());
        };
        let both = (&self.readings[..], &mirrored[..]);
        let gain = likelier(scene, unknowns, both, question, watch)?;
        let (taken, flip) = match gain > 0.0 {
            true => ("mirrored", "yes"),
            false => ("not mirrored", "no"),
        };
        let times = times(gain.abs());
        self.notes.push(match gain.abs() >= TELLS {
            true => format!("The photographs are taken as {taken}: the model makes them {times} as probable so as the other way round. Say --flip {flip}, and it is not tried again."),
            false => format!("The photographs do not tell whether they are mirrored; they are taken as {taken}, which makes them {times} as probable as the other way round. A picture with the analyzer 5 degrees off would tell, or you can: --flip yes or --flip no."),
        });
        if gain > 0.0 {
            self.readings = mirrored;
        }
        Ok(())
    }

    /// Whether it is still to be tried whether the pictures are mirrored.
    pub(super) fn tries_both_ways(&self) -> bool {
        self.flip.is_none() && self.otherwise.is_some()
    }

    /// What is found to be wrong with pictures, in sentences: a disc in the wrong place and, where they do not go together with the model, how they are
    /// held.
    pub(super) fn fault(
        &self,
        scene: &Scene,
        unknowns: &Unknowns,
        answer: &Fit,
        watched: (&FitQuestion, Watch<'_>),
    ) -> Result<Option<String>, FitError> {
        if answer.consistent {
            return Ok(self.misplaced_disc());
        }
        let flip = self.question_flip(scene, unknowns, answer, watched)?;
        let faults: Vec<String> = self.misplaced_disc().into_iter().chain(flip).collect();
        Ok((!faults.is_empty()).then(|| faults.join(" ")))
    }

    /// A sentence where a disc is given elsewhere than it is found.
    fn misplaced_disc(&self) -> Option<String> {
        let of = self.elsewhere.first()?;
        Some(format!(
            "The disc of {} of the readings ({}) is not where the bright disc of the parallel picture is found ({}): leave center_x, center_y and radius empty before you try anything else.",
            lines_in_words(&of.lines).map_or(String::new(), |(lines, _)| lines),
            of.given.words(),
            of.found.words()
        ))
    }

    /// Of pictures of which it was told whether they are mirrored, and that do not go together with the model: a sentence where they do far better the
    /// other way round.
    fn question_flip(
        &self,
        scene: &Scene,
        unknowns: &Unknowns,
        answer: &Fit,
        (question, watch): (&FitQuestion, Watch<'_>),
    ) -> Result<Option<String>, FitError> {
        let (Some(flip), Some(otherwise)) = (self.flip, &self.otherwise) else {
            return Ok(None);
        };
        let both = (&self.readings[..], &otherwise[..]);
        let gain = likelier(scene, unknowns, both, question, watch)?;
        // Among pictures that fit badly either way, for another reason, one way is better by chance: it must explain most of the misfit.
        let zones = answer.readings.iter().flat_map(|reading| &reading.zones);
        let misfit: f64 = zones.map(|zone| 0.5 * (zone.z * zone.z - 1.0)).sum();
        let (how, other) = match flip {
            YesNo::Yes => ("not mirrored", "no"),
            YesNo::No => ("mirrored", "yes"),
        };
        Ok((gain >= FAR_BETTER.max(0.5 * misfit)).then(|| {
            format!(
                "The photographs go together with the model far better if they are {how}, which makes them {} as probable: try --flip {other} before anything else.",
                times(gain)
            )
        }))
    }
}

/// By how much one of two readings of the pictures is more probable, from the difference of the logarithms.
fn times(gain: f64) -> String {
    match gain < MANY.ln() {
        true => format!("{} times", digits(gain.exp(), 2)),
        false => "more than a million times".to_owned(),
    }
}
