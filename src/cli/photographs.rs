//! What `polstack fit` does with photographs of the back focal plane.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::job::Job;
use super::{Failure, progress, within};
use crate::optics::ZoneGrid;
use crate::output::csv;
use crate::output::figure::{check_folder, write_files};
use crate::photograph::PhotographProblem;
use crate::scenario::{BenchReadings, CameraReading, read_photographs};
use crate::scene::Scene;
use crate::study::draws::Watch;
use crate::study::fit::{Fit, FitError, FitQuestion, Reading, likelier};
use crate::study::strain_between::{StrainBetween, strain_between};
use crate::study::unknown::Unknowns;

/// Below this difference of evidence, nats, pictures do not tell whether they are mirrored.
const TELLS: f64 = 3.0;

/// How the camera was held and how its pictures are read.
#[derive(Debug, Args)]
pub(super) struct PhotographArguments {
    /// Photographs: turn them counter-clockwise by so many degrees, so that their right is East and their top North
    #[arg(long, value_name = "DEG", default_value_t = 0.0, allow_negative_numbers = true, value_parser = degrees)]
    turn_picture: f64,
    /// Photographs: whether they are mirrored; both are tried where this is not given
    #[arg(long, value_name = "YES|NO")]
    flip: Option<Mirrored>,
    /// Photographs: rings and sectors that the disc is divided into
    #[arg(long, value_name = "RINGSxSECTORS", default_value = "5x16", value_parser = zones)]
    zones: ZoneGrid,
    /// Photographs: from which part of full scale, in percent, a pixel is saturated
    #[arg(long, value_name = "PERCENT", default_value_t = 98.0, allow_negative_numbers = true, value_parser = saturation)]
    saturation: f64,
    /// Photographs: read 8-bit pictures and JPEG too, as if their curve were that of sRGB, with an error of 15 % at least
    #[arg(long)]
    accept_curves: bool,
    /// Photographs: map the strain between the polars, and write the map into this directory
    #[arg(long, value_name = "DIR", requires = "readings")]
    map: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Mirrored {
    Yes,
    No,
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
    mirrored: Option<Vec<Reading>>,
    pub(super) notes: Vec<String>,
}

impl PhotographArguments {
    fn camera(&self) -> CameraReading {
        CameraReading {
            grid: self.zones,
            turn_rad: self.turn_picture.to_radians(),
            flip: self.flip.map(|flip| flip == Mirrored::Yes),
            accept_curves: self.accept_curves,
            saturation: 0.01 * self.saturation,
        }
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
        let notes = bench.after(notes);
        let (Some(file), false) = (file, bench.photographs.is_empty()) else {
            return Ok(AllReadings {
                readings: bench.taken,
                mirrored: None,
                notes,
            });
        };
        let count = bench.photographs.len();
        let folder = file.parent().unwrap_or(Path::new(""));
        let seen = progress::percent("reading photographs", job.quiet, |progress| {
            let read = |lines: usize| progress(100 * lines / count);
            read_photographs(&bench.photographs, folder, &self.camera(), &read)
        });
        let seen = seen.map_err(|error| {
            let option = match error.source.problem() {
                PhotographProblem::Curve => " (--accept-curves)",
                _ => "",
            };
            Failure::Fit {
                file: file.to_owned(),
                error: format!("{error}{option}"),
            }
        })?;
        let together = |photographed: Vec<Reading>| {
            let mut all = bench.taken.clone();
            all.extend(photographed);
            all.sort_by_key(|reading| reading.line);
            all
        };
        Ok(AllReadings {
            readings: together(seen.readings),
            mirrored: seen.mirrored.map(together),
            notes: notes.into_iter().chain(seen.notes).collect(),
        })
    }

    /// The strain between the polars, where a map is asked for.
    pub(super) fn map_of(
        &self,
        scene: &Scene,
        unknowns: &Unknowns,
        readings: &[Reading],
        answer: &Fit,
        (question, watch): (&FitQuestion, Watch<'_>),
    ) -> Result<Option<StrainBetween>, String> {
        if self.map.is_none() {
            return Ok(None);
        }
        let map = strain_between(
            scene,
            unknowns,
            readings,
            &answer.stands,
            question.model_error,
            watch,
        );
        map.map(Some).map_err(|error| error.to_string())
    }

    /// Writes the map.
    pub(super) fn write(&self, map: &StrainBetween, job: &Job<'_>) -> Result<(), Failure> {
        let Some(folder) = &self.map else {
            return Ok(());
        };
        let (nodes, zones) = (csv::strain_map(map), csv::strain_zones(map));
        let files = [
            ("strain-map.csv".to_owned(), nodes.as_bytes()),
            ("strain-zones.csv".to_owned(), zones.as_bytes()),
        ];
        let written = write_files(folder, &files)?;
        job.say(&format!(
            "wrote {} and {}; next: in the scenario give {} strain = [{{ map = {{ csv = \"strain-map.csv\" }} }}] and take the strain of other lenses between the polars out",
            written[0].display(),
            written[1].display(),
            map.lens
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
        let Some(mirrored) = self.mirrored.take() else {
            return Ok(());
        };
        let both = (&self.readings[..], &mirrored[..]);
        let gain = likelier(scene, unknowns, both, question, watch)?;
        let taken = if gain > 0.0 {
            "mirrored"
        } else {
            "not mirrored"
        };
        self.notes.push(match gain.abs() >= TELLS {
            true => format!("The photographs are taken as {taken}: that goes together with the model better than the other way round (--flip says it)."),
            false => format!("The photographs do not tell whether they are mirrored; they are taken as {taken}. A picture with the analyzer 5 degrees off would tell, or --flip."),
        });
        if gain > 0.0 {
            self.readings = mirrored;
        }
        Ok(())
    }
}
