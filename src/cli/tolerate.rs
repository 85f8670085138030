//! `polstack tolerate FILE`.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use clap::{Args, ValueEnum};

use super::job::{ForSlides, Format, Job};
use super::{Failure, extinction_ratio, interrupt, number, progress, refused, seed, whole};
use crate::output::figure::draws_figures;
use crate::output::{csv, json, table};
use crate::scenario::Scenario;
use crate::scene::Scene;
use crate::study::StudyError;
use crate::study::doubt::{Stands, doubt, stands_of};
use crate::study::draws::{Draws, Plan, Watch};
use crate::study::observer::{COLOR_DIFFERENCE, CONTRAST, FULL_WELL, SNR};
use crate::study::quantity::QuantityKind;
use crate::study::tolerate::{
    Profile, See, Subject, Target, Tolerances, Vary, built, takes_long, tolerances,
};
use crate::study::visibility::Thresholds;

/// The extinction ratio that is judged where no target is given.
const USUAL_EXTINCTION: f64 = 1000.0;

/// The longest path difference and glass path that are taken, nm and mm.
const MOST: (f64, f64) = (1e4, 1e3);

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack tolerate scenarios/strained-objective.toml --part objective --profile radial --see 2nm\n\ntells how much strain at its rim the objective of that file may have before a specimen of 2 nm is lost in the background. Without --part every number of the file is judged. Exit status 1 says that the file as written misses a target that was given."
)]
pub(super) struct TolerateArguments {
    /// The scenario file (TOML), or - for standard input
    file: PathBuf,
    /// The part to vary; without it, every number of the file
    #[arg(long, value_name = "NAME")]
    part: Option<String>,
    /// What to vary: of a lens usually its strain, of a polar its azimuth, of a retarder or plate its path difference; stray light
    /// needs no part
    #[arg(long)]
    vary: Option<VaryWord>,
    /// Which shape of strain; a uniform or radial one that is not written is taken as 0
    #[arg(long)]
    profile: Option<ProfileWord>,
    /// The extinction ratio to reach (without a target: 1000)
    #[arg(long, value_name = "RATIO", conflicts_with = "see", allow_negative_numbers = true, value_parser = extinction_ratio)]
    extinction: Option<f64>,
    /// The path difference of a specimen that is to show at its best azimuth by its own light, not by bias: 2nm, "2 nm" or 2
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true, value_parser = length_nm)]
    see: Option<f64>,
    /// It is to show with the plate in, by its colour
    #[arg(long, requires = "see")]
    with_plate: bool,
    /// Weber contrast that the eye needs, plates out: 0.1 in the dark of crossed polars, 0.02 in good light
    #[arg(long, value_name = "FRACTION", default_value_t = CONTRAST, allow_negative_numbers = true, value_parser = above_zero)]
    contrast: f64,
    /// CIEDE2000 difference that the eye needs
    #[arg(long, value_name = "DIFFERENCE", default_value_t = COLOR_DIFFERENCE, allow_negative_numbers = true, value_parser = above_zero)]
    color_difference: f64,
    /// Electrons that fill a camera's pixel (usually 10000); given with --see, the camera must see the specimen too
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = above_zero)]
    full_well: Option<f64>,
    /// Signal-to-noise ratio that the camera needs
    #[arg(long, value_name = "RATIO", default_value_t = SNR, allow_negative_numbers = true, value_parser = above_zero)]
    snr: f64,
    /// Path of the light in the strained glass, for limits in nm/cm, MPa and stress grades
    #[arg(long, value_name = "T", requires = "part", allow_negative_numbers = true, value_parser = glass_path_mm)]
    glass_path_mm: Option<f64>,
    /// Draw so many instruments from the tolerances written in the file; Ctrl-C ends that and keeps what is done
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = draws)]
    draws: Option<u32>,
    /// Names the random numbers: the same seed draws the same instruments
    #[arg(long, value_name = "S", requires = "draws", default_value_t = 1, allow_negative_numbers = true, value_parser = seed)]
    seed: u64,
    /// Leave out how sure the extinction ratio is: the interval over what the file and the catalog do not know
    #[arg(long)]
    exact: bool,
    #[command(flatten)]
    format: Format,
    /// Write the figure of the draws (PNG and SVG) into this directory
    #[arg(long, value_name = "DIR", requires = "draws")]
    plots: Option<PathBuf>,
    #[command(flatten)]
    slides: ForSlides,
    /// Leave out notes, cautions and the progress display
    #[arg(long)]
    quiet: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum VaryWord {
    Strain,
    Azimuth,
    PathDifference,
    Surfaces,
    Stray,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum ProfileWord {
    Uniform,
    Radial,
    Clamp,
    Map,
}

/// A length, nm.
fn length_nm(text: &str) -> Result<f64, String> {
    let bare = text.trim();
    let nm = number(bare.strip_suffix("nm").unwrap_or(bare));
    nm.filter(|nm| (1e-3..=MOST.0).contains(nm))
        .ok_or_else(|| "allowed: a length of 0.001 to 10000 nm, such as 2nm".to_owned())
}

fn above_zero(text: &str) -> Result<f64, String> {
    let value = number(text).filter(|value| (1e-9..=1e15).contains(value));
    value.ok_or_else(|| "allowed: a number above 0".to_owned())
}

fn draws(text: &str) -> Result<u32, String> {
    whole(text, 1, 10_000_000)
}

fn glass_path_mm(text: &str) -> Result<f64, String> {
    let mm = number(text).filter(|mm| (1e-3..=MOST.1).contains(mm));
    mm.ok_or_else(|| "allowed: 0.001 to 1000 mm".to_owned())
}

/// Answers, and says whether a target that was given is met.
pub(super) fn run(arguments: &TolerateArguments) -> Result<bool, Failure> {
    arguments.stray_alone()?;
    let job = Job {
        file: Some(&arguments.file),
        format: arguments.format,
        plots: arguments.plots.as_deref(),
        slides: arguments.slides.theme(),
        quiet: arguments.quiet,
    };
    let Scenario {
        title,
        scene,
        notes,
        stands,
        ..
    } = &job.read(&arguments.file)?;
    let parts = &scene.path.parts;
    if arguments.draws.is_some() && parts.iter().all(|part| part.tolerance.is_none()) {
        return Err(job.failed(StudyError::NoTolerance));
    }
    let stop = match arguments.draws {
        Some(_) => interrupt::flag(),
        None => Arc::default(),
    };
    if takes_long(&scene.path) && !job.quiet {
        progress::say(
            "a clamp near the rim, a strain map or an analyzer among oblique rays takes a run for every value that is tried: this may take minutes; --part and --vary narrow it",
        );
    }
    let subject = subject(arguments, scene).map_err(|error| job.failed(error))?;
    if let Some(subject) = &subject {
        arguments.profile_of_strain(subject)?;
    }
    let mut answer = job.work("varying the parts", || {
        let mut answer = answer(arguments, scene, subject)?;
        if !arguments.exact {
            let open = || Stands::of_file(&scene.path);
            answer.doubt = doubt(scene, &stands_of(stands.as_ref(), open))?;
        }
        Ok(answer)
    })?;
    answer.glass_path_mm = arguments.glass_path_mm;
    if let Some(draws) = arguments.draws {
        let built = built_to(&answer, scene, draws, arguments, &stop);
        answer.draws = Some(built.map_err(|error| job.failed(error))?);
    }
    if let Some(draws) = &answer.draws {
        let wanted = match answer.target {
            Target::Extinction(ratio) => Some(ratio),
            Target::See(_) => None,
        };
        job.draw(|| Ok(draws_figures(title, draws, wanted)?))?;
    }
    job.print(
        || json::answer(title, &answer, notes),
        || match &answer.draws {
            Some(draws) => csv::draws(draws),
            None => csv::tolerances(&answer),
        },
        || table::tolerances(title, &answer, notes, job.quiet),
    )?;
    let asked = arguments.extinction.is_some() || arguments.see.is_some();
    Ok(!asked || answer.verdict.met())
}

/// Instruments drawn from the tolerances of the file.
fn built_to(
    answer: &Tolerances,
    scene: &Scene,
    draws: u32,
    arguments: &TolerateArguments,
    stop: &AtomicBool,
) -> Result<Draws, StudyError> {
    let plan = Plan {
        draws: draws as usize,
        seed: arguments.seed,
    };
    progress::counted("drawing", arguments.quiet, u64::from(draws), |progress| {
        let watch = Watch { progress, stop };
        built(scene, &answer.target, plan, watch)
    })
}

impl TolerateArguments {
    /// Stray light is of no part, and has no shape of strain.
    fn stray_alone(&self) -> Result<(), Failure> {
        if !matches!(self.vary, Some(VaryWord::Stray)) {
            return Ok(());
        }
        let why = "stray light belongs to the whole stack";
        match (self.part.is_some(), self.profile.is_some()) {
            (true, _) => Err(refused("--part", why, "leave out --part")),
            (_, true) => Err(refused("--profile", why, "leave out --profile")),
            _ => Ok(()),
        }
    }

    /// A shape of strain is given for nothing but strain.
    fn profile_of_strain(&self, subject: &Subject) -> Result<(), Failure> {
        let strain = matches!(
            subject.quantity.kind,
            QuantityKind::StrainAmount { .. } | QuantityKind::StrainAzimuth { .. }
        );
        match subject.quantity.part {
            Some(part) if self.profile.is_some() && !strain => {
                let part = &subject.path.parts[part];
                let why = format!(
                    "only strain has a profile, and of {} something else is varied",
                    part.name
                );
                Err(refused("--profile", &why, "leave out --profile"))
            }
            _ => Ok(()),
        }
    }
}

/// The one number that is to be varied, where one is asked for.
fn subject(arguments: &TolerateArguments, scene: &Scene) -> Result<Option<Subject>, StudyError> {
    let narrowed = arguments.vary.is_some() || arguments.profile.is_some();
    if arguments.part.is_none() && !narrowed {
        return Ok(None);
    }
    let vary = arguments.vary.map(|word| match word {
        VaryWord::Strain => Vary::Strain,
        VaryWord::Azimuth => Vary::Azimuth,
        VaryWord::PathDifference => Vary::PathDifference,
        VaryWord::Surfaces => Vary::Surfaces,
        VaryWord::Stray => Vary::Stray,
    });
    let profile = arguments.profile.map(|word| match word {
        ProfileWord::Uniform => Profile::Uniform,
        ProfileWord::Radial => Profile::Radial,
        ProfileWord::Clamp => Profile::Clamp,
        ProfileWord::Map => Profile::Map,
    });
    Subject::of(&scene.path, arguments.part.as_deref(), vary, profile).map(Some)
}

fn answer(
    arguments: &TolerateArguments,
    scene: &Scene,
    subject: Option<Subject>,
) -> Result<Tolerances, StudyError> {
    let thresholds = Thresholds {
        contrast: arguments.contrast,
        color_difference: arguments.color_difference,
        full_well: arguments.full_well.unwrap_or(FULL_WELL),
        snr: arguments.snr,
    };
    let judged = (&target(arguments), &thresholds);
    match subject {
        None => tolerances(scene, judged, None),
        Some(Subject { path, quantity, .. }) => {
            tolerances(&scene.with_path(path), judged, Some(quantity))
        }
    }
}

fn target(arguments: &TolerateArguments) -> Target {
    match arguments.see {
        Some(path_difference_nm) => Target::See(See {
            path_difference_nm,
            with_plate: arguments.with_plate,
            contrast: arguments.contrast,
            color_difference: arguments.color_difference,
            full_well: arguments.full_well,
            snr: arguments.snr,
        }),
        None => Target::Extinction(arguments.extinction.unwrap_or(USUAL_EXTINCTION)),
    }
}
