//! From readings at the bench to what the parts are: which part leaks, how much strain it has, how sure that is, what to read next.
//!
//! [`fit()`] takes a scene, its [`Unknowns`] and [`Reading`]s. The light of every reading becomes a polynomial of the unknown numbers (`study::bench`),
//! [`sample`] draws stands that explain the readings, the polynomials are checked against direct runs of those stands and made anew where they are
//! off, and the stands answer: `blame`, `summary` and `next`.
//!
//! # Examples
//! ```
//! use polstack::study::draws::{Plan, Watch};
//! use polstack::study::fit::{BenchSetting, FitQuestion, Reading, fit};
//! use polstack::study::unknown::Unknowns;
//! let scene = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene;
//! let readings = [(0.60, 300.0), (0.20, 1500.0)].map(|(na, ratio)| Reading {
//!     line: 0,
//!     ratio,
//!     error: 0.05,
//!     common_error: 0.0,
//!     framing: [0.0; 3],
//!     setting: BenchSetting { na: Some(na), ..BenchSetting::default() },
//!     note: String::new(),
//! });
//! let question = FitQuestion::new(Plan { draws: 400, seed: 1 });
//! let stop = std::sync::atomic::AtomicBool::new(false);
//! let watch = Watch { progress: &|_| (), stop: &stop };
//! let answer = fit(&scene, &Unknowns::of_bench(&scene.path), &readings, &question, watch)?;
//! let sum: f64 = answer.blame.iter().map(|blame| blame.largest).sum();
//! assert!((sum - 1.0).abs() < 1e-9);
//! # Ok::<(), polstack::study::fit::FitError>(())
//! ```

mod agreement;
mod answer;
mod around;
mod blame;
mod checklist;
mod knowledge;
mod likelihood;
mod moves;
mod next;
mod photo;
mod sampler;
mod simulated;
mod stages;
mod summary;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardUniform};
use thiserror::Error;

pub use answer::Fit;
pub use blame::{BlameShare, PartBlame, blame_over};
pub use checklist::{Checklist, ChecklistStep, IfToBlame, checklist};
pub use next::{Action, ActionError, NextReading, PhotographWorth};
pub use photo::best_bias_rad;
pub use sampler::{Population, Posterior, SampleError, sample};
pub use summary::{Ambiguous, Posted, ReadingAnswer, UnknownAnswer, ZoneAnswer};

pub use super::interval::Interval;
pub use super::reading::{BenchSetting, Reading, SettingCell, Zone};

pub(in crate::study) use likelihood::FRAMING_SHARED;
use likelihood::Likelihood;
pub(in crate::study) use summary::zones_against;

use super::StudyError;
use super::bench::{Bench, BenchSurface, Care, SurfaceWork};
use super::draws::{Plan, Watch};
use super::unknown::Unknowns;
use crate::optics::ZoneGrid;
use crate::scene::Scene;
use crate::threads;

/// What the model leaves out, relatively, unless told otherwise.
pub const MODEL_ERROR: f64 = 0.02;
/// The error of a reading that is not told, and of the next one.
pub const READING_ERROR: f64 = 0.05;
/// Polynomials are good enough when the relative error of the light that they give is at most this, root mean square.
const SURFACE: f64 = 0.007;
/// Polynomials are made anew as long as each time their error falls below this fraction of the error before.
const BETTER: f64 = 0.7;
/// How often polynomials are made, and members that they are checked with.
const PASSES: usize = 5;
const CHECKED: usize = 128;
/// Members of a population that only says where to make polynomials.
const SCOUTS: usize = 1000;
/// Weight of a point of the prior beside a point of the population (which has weight 1) when polynomials are made anew.
const PRIOR_COUNTS: f64 = 0.02;
/// Below this p-value readings and model do not go together: stands of the model would seldom be read with as much misfit as there is.
const CONSISTENT: f64 = 0.01;
/// Members of a population that tells whether a reading is spoiled.
const WITHOUT_ONE: usize = 600;
/// Answers come from so many times as many stands as are asked for, as long as there are no more than the limit: how many of them lie in each of
/// several separate groups then depends less on chance.
const FINER: usize = 2;
const FINEST: usize = 8000;

/// What is asked of readings.
#[derive(Debug, Clone, PartialEq)]
pub struct FitQuestion {
    /// How many stands are drawn, and which.
    pub plan: Plan,
    /// What the model leaves out, relatively: added to each reading's error.
    pub model_error: f64,
    /// What the user can do for the next reading; `None` for everything.
    pub can: Option<Vec<Action>>,
    /// How photographs of the back focal plane would be divided, where they can be taken; `None` where nobody has a camera.
    pub photographs: Option<ZoneGrid>,
}

impl FitQuestion {
    /// With the usual model error, and everything possible at the bench.
    #[must_use]
    pub fn new(plan: Plan) -> Self {
        Self {
            plan,
            model_error: MODEL_ERROR,
            can: None,
            photographs: None,
        }
    }
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum FitError {
    /// A setting of the stand cannot be run.
    #[error("the reading of line {line}: {source}")]
    Reading {
        /// Line of the readings file.
        line: usize,
        /// Why.
        source: StudyError,
    },
    /// The stand as written cannot be run.
    #[error(transparent)]
    Study(#[from] StudyError),
    /// No sample.
    #[error(transparent)]
    Sample(#[from] SampleError),
    /// Nothing is unknown.
    #[error("nothing is unknown: every number is held at what is written")]
    NothingUnknown,
}

/// Draws stands that explain readings, and answers from them.
///
/// # Errors
/// [`FitError`].
///
/// Checked by: `tests/laws/fit_bench.rs`, `tests/reference/fit.rs`.
pub fn fit(
    scene: &Scene,
    unknowns: &Unknowns,
    readings: &[Reading],
    question: &FitQuestion,
    watch: Watch,
) -> Result<Fit, FitError> {
    if unknowns.list.is_empty() {
        return Err(FitError::NothingUnknown);
    }
    let bench = bench_of(scene, unknowns, readings)?;
    let likelihood = Likelihood::new(readings, question.model_error);
    let (populations, surface) = stands(&bench, &likelihood, question.plan, watch)?;
    let (population, belongs) = agreement::joined(&populations);
    let surface_error = surface_error(&bench, &surface, &population.points);
    let light = threads::map_with(
        0..population.points.len(),
        SurfaceWork::default,
        |work, member| {
            bench.by_surface(&surface, &population.points[member], work);
            work.light.clone()
        },
    );
    let p_value = likelihood.p_value(&light);
    let consistent = p_value >= CONSISTENT;
    let spoiled = if consistent || likelihood.lines.len() < 3 {
        None
    } else {
        spoiled(&bench, &surface, &likelihood, question.plan, watch)?
    };
    let sample: Vec<Vec<f64>> = (population.points.iter())
        .map(|point| unknowns.told_values(point))
        .collect();
    let shares = blame::shares(scene, unknowns, &population.points, watch)?;
    let blame = blame::blame(&shares);
    let mut answer = Fit {
        plan: question.plan,
        log_evidence: population.log_evidence,
        consistent,
        p_value,
        surface_error,
        moves_per_draw: population.moves,
        independent_draws: agreement::independent_draws(&population.points, &belongs),
        extinction_ratio: Interval::of(&shares.ratios),
        unknown: summary::unknowns(unknowns, &sample),
        readings: summary::readings(&scene.path, readings, &likelihood, &light, spoiled),
        blame_by_part: blame::by_part(&shares),
        blame_by_population: agreement::blame_by_population(&shares, &blame, &belongs),
        blame,
        ambiguous: summary::ambiguous(unknowns, &population.points),
        next: Vec::new(),
        stands: Vec::new(),
    };
    let settings: Vec<BenchSetting> = readings.iter().map(|r| r.setting.clone()).collect();
    let taken = around::AlreadyRead {
        bench: &bench,
        surface: &surface,
        likelihood: &likelihood,
    };
    // Stands that do not explain the readings cannot say what another reading would tell.
    if consistent {
        answer.next = next::next(
            scene,
            unknowns,
            &population.points,
            &shares,
            &settings,
            question,
            (&taken, watch),
        )?;
    }
    let every = finer(question.plan.draws);
    answer.stands = (population.points.into_iter().step_by(every))
        .take(question.plan.draws)
        .collect();
    Ok(answer)
}

/// Members of a population that tells which of two sets of readings goes better with the model.
const TO_COMPARE: usize = 600;

/// Of two sets of readings that differ only in how a camera was held, how much likelier the second one is: the difference of the logarithms of their
/// evidence. Only zones that both have are compared, by polynomials that are made once.
///
/// # Errors
/// [`FitError`].
///
/// Checked by: `tests/laws/photographs.rs`.
pub fn likelier(
    scene: &Scene,
    unknowns: &Unknowns,
    (one, other): (&[Reading], &[Reading]),
    question: &FitQuestion,
    watch: Watch,
) -> Result<f64, FitError> {
    let shared = |from: &[Reading], with: &[Reading]| -> Vec<Reading> {
        (from.iter())
            .filter(|reading| {
                (with.iter())
                    .any(|twin| twin.line == reading.line && twin.setting == reading.setting)
            })
            .cloned()
            .collect()
    };
    let (one, other) = (shared(one, other), shared(other, one));
    let bench = bench_of(scene, unknowns, &one)?;
    let surface = prior_surface(&bench, question.plan.seed).1;
    let evidence = |readings: &[Reading]| {
        let likelihood = Likelihood::new(readings, question.model_error);
        let problem = OfBench {
            bench: &bench,
            surface: &surface,
            likelihood: &likelihood,
            skip: None,
        };
        let plan = Plan {
            draws: TO_COMPARE.min(question.plan.draws),
            ..question.plan
        };
        sample(&problem, plan, watch.unseen()).map(|population| population.log_evidence)
    };
    Ok(evidence(&other)? - evidence(&one)?)
}

/// The stand in the settings of readings.
pub(in crate::study) fn bench_of<'a>(
    scene: &Scene,
    unknowns: &'a Unknowns,
    readings: &[Reading],
) -> Result<Bench<'a>, FitError> {
    let settings: Vec<BenchSetting> = readings.iter().map(|r| r.setting.clone()).collect();
    Bench::new(scene, unknowns, &settings, Care::Full).map_err(|(number, source)| {
        FitError::Reading {
            line: readings[number].line,
            source,
        }
    })
}

/// What readings of a stand as written would show if they had no error: parallel light over the light, setting by setting.
///
/// # Errors
/// [`StudyError`] when a setting cannot be run, with its place in the list.
///
/// Checked by: `tests/laws/photographs.rs`.
pub fn without_error(
    scene: &Scene,
    settings: &[BenchSetting],
) -> Result<Vec<f64>, (usize, StudyError)> {
    let unknowns = Unknowns::of_bench(&scene.path);
    let bench = Bench::new(scene, &unknowns, settings, Care::Full)?;
    let light = bench.all_of(&scene.path);
    Ok(light.into_iter().map(|light| 1.0 / light).collect())
}

/// How many stands are sampled for each that is asked for.
fn finer(draws: usize) -> usize {
    (FINEST / draws.max(1)).clamp(1, FINER)
}

/// The posterior of a stand under polynomials; `skip` leaves a line of the readings out.
struct OfBench<'a> {
    bench: &'a Bench<'a>,
    surface: &'a BenchSurface,
    likelihood: &'a Likelihood,
    skip: Option<usize>,
}

thread_local! {
    static WORK: std::cell::RefCell<SurfaceWork> = std::cell::RefCell::default();
}

impl Posterior for OfBench<'_> {
    fn draw(&self, random: &mut ChaCha8Rng) -> Vec<f64> {
        self.bench.unknowns.draw(random)
    }

    fn log_prior(&self, point: &[f64]) -> f64 {
        self.bench.unknowns.log_prior(point)
    }

    fn log_likelihood(&self, point: &[f64]) -> f64 {
        WORK.with_borrow_mut(|work| {
            self.bench.by_surface(self.surface, point, work);
            self.likelihood.log(&work.light, self.skip)
        })
    }
}

/// Points of the prior, with polynomials through their light, and the random numbers after them.
fn prior_surface(bench: &Bench<'_>, seed: u64) -> (Vec<Vec<f64>>, BenchSurface, ChaCha8Rng) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(u64::MAX);
    let many = bench.points();
    let prior: Vec<Vec<f64>> = (0..many)
        .map(|_| bench.unknowns.draw(&mut random))
        .collect();
    let surface = bench.surface(&prior, &vec![1.0; many]);
    (prior, surface, random)
}

/// Populations of stands that are drawn independently of each other, with polynomials that are good at their members.
fn stands(
    bench: &Bench<'_>,
    likelihood: &Likelihood,
    plan: Plan,
    watch: Watch,
) -> Result<(Vec<Population>, BenchSurface), FitError> {
    if likelihood.has_photographs() {
        return stages::stands(bench, likelihood, plan, watch);
    }
    let (prior, mut surface, mut random) = prior_surface(bench, plan.seed);
    let many = prior.len();
    let (mut pass, mut before) = (1, f64::INFINITY);
    loop {
        let scouts = Plan {
            draws: SCOUTS.min(plan.draws),
            seed: plan.seed.wrapping_add(pass as u64),
        };
        let drawn = |plan: Plan, watch: Watch<'_>| {
            let problem = OfBench {
                bench,
                surface: &surface,
                likelihood,
                skip: None,
            };
            sample(&problem, plan, watch)
        };
        let scouted = drawn(scouts, watch.unseen())?;
        let error = surface_error(bench, &surface, &scouted.points);
        if error <= SURFACE || error > BETTER * before || pass == PASSES {
            let finer = Plan {
                draws: finer(plan.draws) * plan.draws,
                ..plan
            };
            let plans = agreement::plans(finer);
            let populations = (plans.iter().enumerate())
                .map(|(number, plan)| watch.part(number, plans.len(), |watch| drawn(*plan, watch)))
                .collect::<Result<_, _>>()?;
            return Ok((populations, surface));
        }
        let (mut points, mut counts) = (prior.clone(), vec![PRIOR_COUNTS; many]);
        for _ in 0..many {
            points.push(around(&scouted.points, &mut random));
            counts.push(1.0);
        }
        surface = bench.surface(&points, &counts);
        (pass, before) = (pass + 1, error);
    }
}

/// A point near those of a population, scattered a little wider than they are.
fn around(points: &[Vec<f64>], random: &mut ChaCha8Rng) -> Vec<f64> {
    let mut pick = || {
        let part: f64 = StandardUniform.sample(random);
        &points[((part * points.len() as f64) as usize).min(points.len() - 1)]
    };
    let (at, one, other) = (pick(), pick(), pick());
    (at.iter().zip(one).zip(other))
        .map(|((at, one), other)| at + 0.5 * (one - other))
        .collect()
}

/// Relative error of the polynomials at some members of a population, root mean square over members and settings.
fn surface_error(bench: &Bench<'_>, surface: &BenchSurface, points: &[Vec<f64>]) -> f64 {
    let stride = (points.len() / CHECKED).max(1);
    let checked: Vec<&Vec<f64>> = points.iter().step_by(stride).collect();
    bench.surface_error(surface, &checked)
}

/// The line without which the others have the largest evidence: without it they go together with the model best.
fn spoiled(
    bench: &Bench<'_>,
    surface: &BenchSurface,
    likelihood: &Likelihood,
    plan: Plan,
    watch: Watch,
) -> Result<Option<usize>, FitError> {
    let mut best: Option<(usize, f64)> = None;
    for skip in 0..likelihood.lines.len() {
        let problem = OfBench {
            bench,
            surface,
            likelihood,
            skip: Some(skip),
        };
        let plan = Plan {
            draws: WITHOUT_ONE.min(plan.draws),
            seed: plan.seed,
        };
        let population = sample(&problem, plan, watch.unseen())?;
        // A line of many zones has more misfit to lose: what it has by chance alone is no sign against it.
        let by_chance = 0.5 * likelihood.lines[skip].lights.len() as f64;
        let evidence = population.log_evidence - by_chance;
        if best.is_none_or(|(_, before)| evidence > before) {
            best = Some((skip, evidence));
        }
    }
    Ok(best.map(|(skip, _)| skip))
}
