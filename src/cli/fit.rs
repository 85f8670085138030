//! `polstack fit FILE [READINGS.csv]`.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use clap::Args;

use super::job::{Job, Shown};
use super::photographs::{AllReadings, NOT_WRITTEN, PhotographArguments, STRAIN_MAP};
use super::{Failure, interrupt, number, progress, seed, whole};
use crate::output::figure::{check_folder, checklist_figure, fit_figure, write_files};
use crate::output::findings::takes_photographs;
use crate::output::{FitReport, csv, json, table};
use crate::scenario::suggest::nearest;
use crate::scenario::{BenchReadings, Scenario, read_readings, with_map, with_stand};
use crate::scene::Scene;
use crate::study::doubt::Stands;
use crate::study::draws::{Plan, Watch};
use crate::study::fit::{Action, Fit, FitError, FitQuestion, Reading, checklist, fit};
use crate::study::strain_between::{
    StrainBetween, StrainBetweenError, beside_map, can_be_mapped, strain_between,
};
use crate::study::unknown::{UnknownError, Unknowns};

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack fit scenarios/leaking-stand.toml scenarios/readings/leaking-stand.csv\n\ntells from a few readings of that stand which of its parts leaks most, how sure that is, and which reading would tell more. Before any reading, polstack fit scenarios/leaking-stand.toml --checklist says what to read, in which order. Columns of the readings: reading and parallel, or ratio; error_percent, na, analyzer_deg, polars_turned_deg, turn:NAME, out, in, polar_at, lamp, note; of photographs: photo, photo_parallel, exposure_s, exposure_parallel_s, center_x, center_y, radius, dark_counts."
)]
pub(super) struct FitArguments {
    /// The scenario file (TOML), or - for standard input
    file: PathBuf,
    /// The readings (CSV); without them the answer is what is known before any
    readings: Option<PathBuf>,
    /// Take only this number to be unknown, by its name in the answer, or all whose names begin so up to a point, such as those of a part (repeatable)
    #[arg(long, value_name = "NAME")]
    unknown: Vec<String>,
    /// Hold this number, or all numbers of this part, at what is written (repeatable)
    #[arg(long, value_name = "NAME")]
    known: Vec<String>,
    /// What you can do for the next reading, such as iris, analyzer, polar, filter, turn:objective, out:condenser (repeatable); everything
    /// unless given, but photographs: photo adds photographs of the back focal plane to whatever else you can do
    #[arg(long, value_name = "ACTION")]
    can: Vec<String>,
    /// How many stands to draw
    #[arg(long, value_name = "N", default_value_t = 4000, allow_negative_numbers = true, value_parser = draws)]
    draws: u32,
    /// Which sequence of random numbers
    #[arg(long, value_name = "N", default_value_t = 1, allow_negative_numbers = true, value_parser = seed)]
    seed: u64,
    /// What the model leaves out, in percent: added to the error of each reading
    #[arg(long, value_name = "PERCENT", default_value_t = 2.0, allow_negative_numbers = true, value_parser = model_error)]
    model_error: f64,
    /// Write the scenario with the medians of the answer in place, and the stands that explain the readings beside it, into this directory:
    /// predict, place and tolerate then answer over those stands
    #[arg(long, value_name = "DIR")]
    write: Option<PathBuf>,
    /// Before any reading: which readings would decide which part is to blame, in an order for the bench; with --write also as a sheet to print
    /// (PDF) and as the CSV to fill in
    #[arg(long, conflicts_with = "readings")]
    checklist: bool,
    #[command(flatten)]
    shown: Shown,
    #[command(flatten)]
    photographs: PhotographArguments,
}

impl FitArguments {
    /// Whether some unknown numbers alone are freed.
    fn frees_only_some(&self) -> bool {
        !self.unknown.is_empty()
    }
}

/// Processor time of a fit of photographs for each zone and unknown number, seconds (DEVELOPERS.md says where it was measured), and from when on that is
/// told.
const SECONDS_A_ZONE: f64 = 0.006;
/// What it takes besides to try whether the pictures are mirrored.
const SECONDS_THE_OTHER_WAY: f64 = 0.0017;
const LONG_S: f64 = 20.0;

fn draws(text: &str) -> Result<u32, String> {
    whole(text, 100, 1_000_000)
}

fn model_error(text: &str) -> Result<f64, String> {
    (number(text).filter(|percent| (0.0..=100.0).contains(percent)))
        .ok_or_else(|| "allowed: 0 to 100, such as 2".to_owned())
}

pub(super) fn run(arguments: &FitArguments) -> Result<(), Failure> {
    let job = Job::about(&arguments.file, &arguments.shown);
    let Scenario {
        title,
        scene,
        notes,
        ..
    } = &job.read(&arguments.file)?;
    let readings = match &arguments.readings {
        Some(file) => read_readings(file, scene)?,
        None => BenchReadings::default(),
    };
    let (pictures, file) = (&arguments.photographs, arguments.readings.as_deref());
    let mut all = pictures.read(readings, file, notes, &job)?;
    let unknowns = unknowns(arguments, scene, &all.readings)?;
    if !arguments.unknown.is_empty() {
        all.notes.push(format!(
            "Only {} free (--unknown): every probability holds for a stand that is in all else as written.",
            match unknowns.count() {
                1 => "one number was".to_owned(),
                count => format!("{count} numbers were"),
            }
        ));
    }
    if arguments.checklist {
        return check_list(arguments, &job, title, scene, &unknowns, &all.notes);
    }
    let found = (arguments.write.as_ref())
        .map(|folder| Found::new("--write", folder, &arguments.file))
        .transpose()?;
    let mapped = (pictures.map.as_ref())
        .map(|folder| Found::new("--map", folder, &arguments.file))
        .transpose()?;
    if mapped.is_some() && pictures.map == arguments.write {
        let why = "--write and --map would both write the scenario there: name two directories";
        return Err(failed(&arguments.file, &why));
    }
    let work = FitWork::new(arguments, &job, scene, &all.readings)?;
    if pictures.maps() {
        can_be_mapped(scene, &all.readings).map_err(|error| match (&error, file) {
            (StrainBetweenError::TooFew(_), Some(file)) => failed(file, &error),
            _ => failed(&arguments.file, &error),
        })?;
    }
    say_if_long(&all, &unknowns, &job);
    let mut report = work.run("drawing stands", |question, watch| {
        all.settle_flip(scene, &unknowns, (question, watch))?;
        let answer = fit(scene, &unknowns, &all.readings, question, watch)?;
        Ok(FitReport {
            freed_only: arguments.frees_only_some(),
            fault: all.fault(scene, &unknowns, &answer, (question, watch))?,
            ..FitReport::new(answer)
        })
    })?;
    if pictures.maps() && report.answer.consistent {
        let map = work.run("mapping the strain", |question, watch| {
            let (readings, error) = (&all.readings, question.model_error);
            let stands = &report.answer.stands;
            Ok(strain_between(
                scene, &unknowns, readings, stands, error, watch,
            ))
        })?;
        report.map = Some(map.map_err(|error| failed(&arguments.file, &error))?);
    }
    let (answer, notes) = (&report.answer, &all.notes);
    let figures = match pictures.maps() || job.plots.is_some() {
        true => pictures.figures((title, scene), &report, &job)?,
        false => Vec::new(),
    };
    job.draw(|| Ok([vec![fit_figure(title, answer)?], figures.clone()].concat()))?;
    match found {
        Some(found) if answer.consistent => {
            found.write(&arguments.file, &unknowns, answer, &job)?;
        }
        Some(found) => {
            let folder = found.folder.display();
            job.say(&format!(
                "wrote no scenario to {folder}, because {NOT_WRITTEN}"
            ));
        }
        None => {}
    }
    if let Some(mapped) = mapped {
        let map = report.map.as_ref().map(|map| {
            let stand = mapped.mapped(scene, &unknowns, (answer, map));
            let stand =
                stand.ok_or_else(|| failed(&arguments.file, &"it changed while it was read"))?;
            Ok::<_, Failure>((map, stand))
        });
        pictures.write(map.transpose()?, &figures, &job)?;
    }
    job.print(
        || json::fit(title, &report, notes),
        || csv::unknowns(answer),
        || table::fit(title, &report, notes, job.quiet),
    )
}

/// Says before the fit of photographs that it may take long, and how to shorten it.
fn say_if_long(all: &AllReadings, unknowns: &Unknowns, job: &Job<'_>) {
    let zones = (all.readings.iter())
        .filter(|reading| reading.setting.zone.is_some())
        .count();
    let numbers = unknowns.count();
    let mut each = SECONDS_A_ZONE;
    if all.tries_both_ways() {
        each += SECONDS_THE_OTHER_WAY;
    }
    let seconds = each * (zones * numbers) as f64;
    if seconds > LONG_S {
        job.say(&format!(
            "{zones} zones of photographs and {numbers} unknown numbers: this may take about {:.0} s of processor time, and several times as long where readings and model do not go together. Shorter: only the numbers that you suspect (--unknown NAME), --flip no or yes if you know whether the pictures are mirrored, fewer stands (--draws N).",
            10.0 * (0.1 * seconds).ceil()
        ));
    }
}

fn failed(file: &Path, error: &dyn std::fmt::Display) -> Failure {
    Failure::Fit {
        file: file.to_owned(),
        error: error.to_string(),
    }
}

/// A word of an option that means nothing for this stand.
fn misnamed(
    option: &'static str,
    error: &dyn std::fmt::Display,
    word: &str,
    known: &[String],
) -> Failure {
    let several = word.contains(',');
    Failure::Named {
        option,
        error: match several {
            true => format!("{error}; one name at a time: repeat {option} for each"),
            false => error.to_string(),
        },
        nearest: (!several)
            .then(|| nearest(word, known).map(str::to_owned))
            .flatten(),
    }
}

/// What is unknown of the stand, as far as it was not said otherwise.
fn unknowns(
    arguments: &FitArguments,
    scene: &Scene,
    readings: &[Reading],
) -> Result<Unknowns, Failure> {
    let named = |option, error: UnknownError| misnamed(option, &error, &error.name, &error.names);
    let all = Unknowns::of_readings(&scene.path, readings.iter().map(|r| &r.setting));
    let some = match &arguments.unknown[..] {
        [] => all,
        names => (all.only(names)).map_err(|error| named("--unknown", error))?,
    };
    (some.without(&arguments.known)).map_err(|error| named("--known", error))
}

/// Where the stand that is found goes.
struct Found<'a> {
    folder: &'a Path,
    /// Where the scenario's own files are.
    home: PathBuf,
    /// The scenario as it was.
    text: String,
    /// Its name without the ending.
    stem: String,
}

impl<'a> Found<'a> {
    /// Looks whether it can go there, before any work is done.
    fn new(option: &'static str, folder: &'a Path, file: &Path) -> Result<Self, Failure> {
        check_folder(folder)?;
        let stem = file
            .file_stem()
            .map(|stem| stem.to_string_lossy().into_owned());
        let (Some(stem), Ok(text)) = (stem, std::fs::read_to_string(file)) else {
            let why = format!("{option} needs a scenario that is a file, not standard input");
            return Err(failed(file, &why));
        };
        let itself = folder.join(format!("{stem}.toml")).canonicalize().ok();
        if itself.is_some() && itself == file.canonicalize().ok() {
            let why = format!("{option} would replace the scenario itself: name another directory");
            return Err(failed(file, &why));
        }
        Ok(Self {
            folder,
            home: file.parent().unwrap_or(Path::new("")).to_owned(),
            text,
            stem,
        })
    }

    /// Names and texts of the scenario with a map in it, which stands beside it, and of the sample of what else was unknown.
    fn mapped(
        &self,
        scene: &Scene,
        unknowns: &Unknowns,
        (answer, map): (&Fit, &StrainBetween),
    ) -> Option<Vec<(String, String)>> {
        let mapped = map.mapped(&scene.path)?;
        let Stands { unknowns, points } = beside_map(unknowns, &answer.stands);
        let names = unknowns.names();
        let medians: Vec<f64> = (answer.unknown.iter().zip(medians(answer)))
            .filter(|(unknown, _)| names.contains(&unknown.told_as.name.as_str()))
            .map(|(_, median)| median)
            .collect();
        let file = format!("{}.sample.csv", self.stem);
        let sample = (!names.is_empty()).then_some((file.as_str(), points.len()));
        let with = (&scene.path, &mapped, STRAIN_MAP);
        let known = (&unknowns, &medians[..]);
        let stand = with_map(&self.text, &self.home, known, sample, with)?;
        let mut files = vec![(format!("{}.toml", self.stem), stand)];
        if sample.is_some() {
            files.push((file, csv::sample(&unknowns, &points)));
        }
        Some(files)
    }

    fn write(
        &self,
        file: &Path,
        unknowns: &Unknowns,
        answer: &Fit,
        job: &Job<'_>,
    ) -> Result<(), Failure> {
        let sample = format!("{}.sample.csv", self.stem);
        let medians = medians(answer);
        let named = (sample.as_str(), answer.stands.len());
        let scenario = with_stand(&self.text, &self.home, unknowns, &medians, named)
            .ok_or_else(|| failed(file, &"it changed while it was read"))?;
        let rows = csv::sample(unknowns, &answer.stands);
        let files = [
            (format!("{}.toml", self.stem), scenario.as_bytes()),
            (sample, rows.as_bytes()),
        ];
        let written = write_files(self.folder, &files)?;
        job.say(&format!(
            "wrote {}; next: polstack predict {}",
            listed(&written),
            written[0].display()
        ));
        Ok(())
    }
}

fn medians(answer: &Fit) -> Vec<f64> {
    (answer.unknown.iter())
        .map(|unknown| unknown.posterior.interval.median)
        .collect()
}

/// Files by name, with "and" before the last.
fn listed(files: &[PathBuf]) -> String {
    let names: Vec<String> = (files.iter())
        .map(|file| file.display().to_string())
        .collect();
    names.join(" and ")
}

/// The readings to take, before any is taken.
fn check_list(
    arguments: &FitArguments,
    job: &Job<'_>,
    title: &str,
    scene: &Scene,
    unknowns: &Unknowns,
    notes: &[String],
) -> Result<(), Failure> {
    arguments.write.as_deref().map_or(Ok(()), check_folder)?;
    let freed_only = arguments.frees_only_some();
    let answer = FitWork::new(arguments, job, scene, &[])?
        .run("drawing stands", |question, watch| {
            checklist(scene, unknowns, question, watch)
        })?;
    if let Some(folder) = &arguments.write {
        let figure = checklist_figure(title, &answer, freed_only)?;
        let stem = arguments.file.file_stem().unwrap_or_default();
        let stem = stem.to_string_lossy();
        let (pdf, rows) = (figure.pdf.unwrap_or_default(), csv::checklist(&answer));
        let files = [
            (format!("{stem}.checklist.pdf"), &pdf[..]),
            (format!("{stem}.readings.csv"), rows.as_bytes()),
        ];
        let readings = folder.join(&files[1].0);
        if std::fs::read(&readings).is_ok_and(|before| before != rows.as_bytes()) {
            let why = format!(
                "{} is there already and may hold readings: move it, or name another directory",
                readings.display()
            );
            return Err(failed(&arguments.file, &why));
        }
        let written = write_files(folder, &files)?;
        job.say(&format!(
            "wrote {}; next: fill in {}, then polstack fit {} {}",
            listed(&written),
            match takes_photographs(&answer) {
                true => "reading and parallel, and names and exposures of photographs",
                false => "reading and parallel",
            },
            arguments.file.display(),
            written[1].display()
        ));
    }
    job.draw(|| Ok(vec![checklist_figure(title, &answer, freed_only)?]))?;
    job.print(
        || json::answer(title, &answer, notes),
        || csv::checklist(&answer),
        || table::checklist(title, &answer, freed_only, notes, job.quiet),
    )
}

/// Studies of one question, each with a progress display; an interrupt ends them before anything is written.
struct FitWork<'a> {
    arguments: &'a FitArguments,
    job: &'a Job<'a>,
    question: FitQuestion,
    stop: Arc<AtomicBool>,
}

impl<'a> FitWork<'a> {
    fn new(
        arguments: &'a FitArguments,
        job: &'a Job<'a>,
        scene: &Scene,
        readings: &[Reading],
    ) -> Result<Self, Failure> {
        let can = (arguments.can.iter())
            .map(|word| Action::named(word, &scene.path))
            .collect::<Result<Vec<Action>, _>>()
            .map_err(|error| misnamed("--can", &error, &error.word, &error.allowed))?;
        let (photo, can): (Vec<Action>, Vec<Action>) =
            (can.into_iter()).partition(|action| *action == Action::Photo);
        // Who has taken photographs can take more.
        let has_camera = readings
            .iter()
            .any(|reading| reading.setting.zone.is_some());
        Ok(Self {
            arguments,
            job,
            question: FitQuestion {
                photographs: (has_camera || !photo.is_empty())
                    .then_some(arguments.photographs.zones),
                plan: Plan {
                    draws: arguments.draws as usize,
                    seed: arguments.seed,
                },
                model_error: 0.01 * arguments.model_error,
                can: (!can.is_empty()).then_some(can),
            },
            stop: interrupt::flag(),
        })
    }

    fn run<T>(
        &self,
        what: &'static str,
        study: impl FnOnce(&FitQuestion, Watch<'_>) -> Result<T, FitError>,
    ) -> Result<T, Failure> {
        let stand = &self.arguments.file;
        let made = progress::percent(what, self.job.quiet, |progress| {
            let watch = Watch {
                progress,
                stop: &self.stop,
            };
            study(&self.question, watch)
        });
        if self.stop.load(Ordering::Relaxed) {
            return Err(failed(stand, &"stopped, nothing is written"));
        }
        made.map_err(|error| match (error, &self.arguments.readings) {
            (FitError::Study(error), _) => self.job.failed(error),
            (error @ FitError::Reading { .. }, Some(file)) => failed(file, &error),
            (error, _) => failed(stand, &error),
        })
    }
}
