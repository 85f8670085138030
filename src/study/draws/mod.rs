//! Of many instruments built to the tolerances, how many will do, and which tolerance matters?
//!
//! # Examples
//! ```
//! use polstack::study::draws::{Plan, Watch, draws};
//! let scene = polstack::scenario::read("scenarios/bench-built.toml".as_ref()).unwrap().scene;
//! let stop = std::sync::atomic::AtomicBool::new(false);
//! let watch = Watch { progress: &|_| (), stop: &stop };
//! let answer = draws(&scene, Plan { draws: 200, seed: 1 }, &|_, ratio| ratio >= 500.0, watch)?;
//! assert_eq!(answer.done, 200);
//! assert!(answer.met > 0 && answer.met < 200);
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

mod statistics;

pub use statistics::{Histogram, Percentile, wilson};

use std::sync::atomic::{AtomicBool, Ordering};

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal, Uniform};
use serde::Serialize;

use super::error::{BadTolerance, StudyError};
use super::lamp::Lamp;
use super::measures::ACCURACY;
use super::quantity::{Quantity, QuantityKind};
use super::response::{Light, Response, Work};
use super::sobol::{Sobol, sobol};
use crate::light_path::run::{self, Quadrature};
use crate::light_path::{LightPath, PartKind, PathError, ToleranceKind};
use crate::math;
use crate::scene::Scene;
use crate::threads;

/// Percentiles that are told.
const PERCENTS: [f64; 7] = [5.0, 10.0, 25.0, 50.0, 75.0, 90.0, 95.0];

/// With fewer draws than this no shares of the variance are told: they would be too uncertain.
const ENOUGH: usize = 200;

/// Draws between two looks at the stop flag.
const BLOCK: usize = 256;

/// The light is tabulated for normal draws within so many standard deviations; the few draws beyond take direct runs where the table does not hold.
const TABULATED: f64 = 6.0;

/// How many draws, and which.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Plan {
    /// Names the sequence of random numbers.
    pub seed: u64,
    /// How many, at least 1.
    pub draws: usize,
}

/// What watches and ends a long study.
#[derive(Clone, Copy)]
pub struct Watch<'a> {
    /// Is told how many draws are done.
    pub progress: &'a (dyn Fn(usize) + Sync),
    /// Ends the study soon once it is set.
    pub stop: &'a AtomicBool,
}

impl Watch<'_> {
    /// The same stop flag without a progress display, for a part of the work that reports no progress.
    pub(super) fn unseen(self) -> Self {
        Self {
            progress: &|_| (),
            ..self
        }
    }

    /// One of several equal parts of work that is reported in percent.
    pub(super) fn part<T>(
        self,
        number: usize,
        parts: usize,
        work: impl FnOnce(Watch<'_>) -> T,
    ) -> T {
        let progress = |percent: usize| (self.progress)((100 * number + percent) / parts);
        work(Watch {
            progress: &progress,
            stop: self.stop,
        })
    }
}

/// The answer. Extinction ratios are luminous, plates out, specimens in, and infinite where nothing leaks.
#[derive(Debug, Clone, PartialEq)]
pub struct Draws {
    /// Draws asked for.
    pub asked: usize,
    /// Draws done: fewer when the study was stopped.
    pub done: usize,
    /// The seed.
    pub seed: u64,
    /// What was varied.
    pub varied: Vec<Varied>,
    /// Extinction ratio of the path as written.
    pub nominal: f64,
    /// Draws that meet the target.
    pub met: usize,
    /// Wilson's 95 % interval of the yield, which is the fraction of instruments that meet the target.
    pub yield_interval: (f64, f64),
    /// The 5th, 10th, 25th, 50th, 75th, 90th and 95th percentile of the extinction ratio; none without a draw.
    pub percentiles: Vec<Percentile>,
    /// The extinction ratios; `None` where none is finite.
    pub histogram: Option<Histogram>,
    /// Draws in which nothing leaks: they are in no bin.
    pub dark: usize,
    /// Estimated largest relative error of any transmittance.
    pub quadrature_error: f64,
}

/// A tolerance and its effect.
#[derive(Debug, Clone, PartialEq)]
pub struct Varied {
    /// The part's name.
    pub part: String,
    /// What varies.
    pub quantity: Quantity,
    /// Its value as written, nm or radians.
    pub written: f64,
    /// The tolerance, in the same unit.
    pub tolerance: f64,
    /// What the tolerance means.
    pub kind: ToleranceKind,
    /// Its shares of the variance of the logarithm of the extinction ratio; `None` with fewer than 200 draws, one of them without
    /// a leak, or all alike.
    pub sobol: Option<Sobol>,
}

/// Draws instruments from the tolerances written beside the parts ([`crate::light_path::Part::tolerance`]) and takes their
/// extinction ratios.
///
/// On a lens a tolerance is that of the first strain profile. A normal amount may fall below 0: the slow axis then lies across.
/// `meets` judges a draw by its values, in the order of [`Draws::varied`], and its extinction ratio. Every draw has random numbers
/// of its own, so the answer does not depend on the number of threads, and what a stopped study has done is what a shorter
/// one would have. Draws come in pairs, rows of the two samples of [`sobol`]; each pair costs one run more for each tolerance.
///
/// Checked by: `tests/laws/draws.rs`.
///
/// # Errors
/// [`StudyError`] when no draw is asked for, there is no tolerance or one that its part cannot have, or a path cannot be run.
pub fn draws(
    scene: &Scene,
    plan: Plan,
    meets: &(dyn Fn(&[f64], f64) -> bool + Sync),
    watch: Watch,
) -> Result<Draws, StudyError> {
    let Scene { path, source, grid } = scene;
    if plan.draws == 0 {
        return Err(StudyError::NoDraws);
    }
    let varied = varied(path)?;
    let lamp = Lamp::new(source, grid)?;
    let quadrature = quadrature(path, &varied, &lamp)?;
    let quantities: Vec<Quantity> = varied.iter().map(|v| v.quantity).collect();
    let ranges: Vec<(f64, f64)> = varied.iter().map(Varied::range).collect();
    let response = lamp.response(path, &quantities, &ranges, &quadrature.rays, false, None)?;
    let study = Study {
        response: &response,
        varied: &varied,
        lamp: &lamp,
        seed: plan.seed,
        meets,
    };
    let mut work = Work::default();
    response.light_into(&response.written(), &mut work)?;
    let nominal = study.extinction_ratio(&work.light);
    let sample = study.sample(plan.draws, watch)?;
    Ok(sample.answer(plan, varied, nominal, quadrature.error))
}

/// The tolerances of a path.
pub(super) fn varied(path: &LightPath) -> Result<Vec<Varied>, StudyError> {
    let mut all = Vec::new();
    for (index, part) in path.parts.iter().enumerate() {
        let Some(written) = &part.tolerance else {
            continue;
        };
        let is_lens = matches!(part.kind, PartKind::Condenser(_) | PartKind::Objective(_));
        let (amount, azimuth) = if is_lens {
            (
                QuantityKind::StrainAmount { profile: 0 },
                QuantityKind::StrainAzimuth { profile: 0 },
            )
        } else {
            (QuantityKind::PathDifference, QuantityKind::Azimuth)
        };
        for (what, tolerance, kind) in [
            ("path difference", written.path_difference_nm, amount),
            ("azimuth", written.azimuth_rad, azimuth),
        ] {
            let Some(tolerance) = tolerance else { continue };
            let refused = |why| StudyError::Tolerance {
                part: part.name.clone(),
                what,
                why,
            };
            let quantity = Quantity {
                part: Some(index),
                kind,
            };
            let value = quantity.value(path).ok_or(refused(if is_lens {
                BadTolerance::FirstStrainLacksIt
            } else {
                BadTolerance::PartLacksIt
            }))?;
            if !(tolerance.is_finite() && tolerance >= 0.0) {
                return Err(refused(BadTolerance::NotANumber));
            }
            all.push(Varied {
                part: part.name.clone(),
                quantity,
                written: value,
                tolerance,
                kind: written.kind,
                sobol: None,
            });
        }
    }
    if all.is_empty() {
        return Err(StudyError::NoTolerance);
    }
    Ok(all)
}

/// Rays that are good enough both for the path as written and for a path in which every quantity is off by its tolerance.
fn quadrature(path: &LightPath, varied: &[Varied], lamp: &Lamp) -> Result<Quadrature, PathError> {
    let rays = |path| run::quadrature(path, lamp.wavelengths_nm, &lamp.luminous, ACCURACY);
    let written = rays(path)?;
    let mut off = path.clone();
    for v in varied {
        let far = match v.kind {
            ToleranceKind::Normal => 2.0,
            ToleranceKind::Uniform => 1.0,
        };
        v.quantity.set(&mut off, v.written + far * v.tolerance);
    }
    let off = rays(&off)?;
    Ok(if off.rays.count() > written.rays.count() {
        off
    } else {
        written
    })
}

impl Varied {
    /// The lowest and the highest value for which the light is tabulated.
    pub(super) fn range(&self) -> (f64, f64) {
        let reach = match self.kind {
            ToleranceKind::Normal => TABULATED * self.tolerance,
            ToleranceKind::Uniform => self.tolerance,
        };
        (self.written - reach, self.written + reach)
    }

    fn draw(&self, random: &mut ChaCha8Rng) -> f64 {
        let offset: f64 = match self.kind {
            ToleranceKind::Normal => StandardNormal.sample(random),
            ToleranceKind::Uniform => {
                Uniform::new_inclusive(-1.0, 1.0).map_or(0.0, |range| range.sample(random))
            }
        };
        self.written + self.tolerance * offset
    }
}

struct Study<'a> {
    response: &'a Response,
    varied: &'a [Varied],
    lamp: &'a Lamp<'a>,
    seed: u64,
    meets: &'a (dyn Fn(&[f64], f64) -> bool + Sync),
}

/// What one pair of draws gives; the second draw of the last pair may not have been asked for.
struct DrawPair {
    /// Extinction ratio, and whether the target is met.
    first: (f64, bool),
    second: Option<(f64, bool)>,
    /// Extinction ratios of the first draw with each quantity in turn taken from the second.
    mixed: Vec<f64>,
}

impl Study<'_> {
    fn extinction_ratio(&self, light: &Light) -> f64 {
        self.lamp.extinction_ratio(&light.parallel, &light.crossed)
    }

    /// Draws in order until all are done or the study is stopped.
    fn sample(&self, asked: usize, watch: Watch) -> Result<DrawnRatios, PathError> {
        let mut sample = DrawnRatios::new(self.varied.len());
        for start in (0..asked).step_by(BLOCK) {
            if watch.stop.load(Ordering::Relaxed) {
                break;
            }
            let end = (start + BLOCK).min(asked);
            let pairs = start / 2..end.div_ceil(2);
            let pairs = threads::map_with(pairs, Work::default, |work, pair| {
                self.pair(pair, end, work)
            });
            for pair in pairs {
                sample.push(pair?);
            }
            (watch.progress)(end);
        }
        Ok(sample)
    }

    fn pair(&self, pair: usize, end: usize, work: &mut Work) -> Result<DrawPair, PathError> {
        let (first, second) = (self.values(2 * pair), self.values(2 * pair + 1));
        let mut ratio = |values: &[f64]| {
            self.response.light_into(values, work)?;
            Ok::<_, PathError>(self.extinction_ratio(&work.light))
        };
        let judged = |values: &[f64], ratio| (ratio, (self.meets)(values, ratio));
        if 2 * pair + 1 >= end {
            return Ok(DrawPair {
                first: judged(&first, ratio(&first)?),
                second: None,
                mixed: Vec::new(),
            });
        }
        let mixed = |number: usize| {
            let mut values = first.clone();
            values[number] = second[number];
            values
        };
        Ok(DrawPair {
            first: judged(&first, ratio(&first)?),
            second: Some(judged(&second, ratio(&second)?)),
            mixed: (0..first.len())
                .map(|number| ratio(&mixed(number)))
                .collect::<Result<_, _>>()?,
        })
    }

    /// The values of one draw: a stream of random numbers of its own.
    fn values(&self, draw: usize) -> Vec<f64> {
        let mut random = ChaCha8Rng::seed_from_u64(self.seed);
        random.set_stream(draw as u64);
        self.varied.iter().map(|v| v.draw(&mut random)).collect()
    }
}

/// Extinction ratios of the draws done.
struct DrawnRatios {
    met: usize,
    /// The two samples of independent draws, and the first with each quantity taken from the second.
    first: Vec<f64>,
    second: Vec<f64>,
    mixed: Vec<Vec<f64>>,
}

impl DrawnRatios {
    fn new(quantities: usize) -> Self {
        Self {
            met: 0,
            first: Vec::new(),
            second: Vec::new(),
            mixed: vec![Vec::new(); quantities],
        }
    }

    fn push(&mut self, pair: DrawPair) {
        let (ratio, met) = pair.first;
        self.first.push(ratio);
        self.met += usize::from(met);
        if let Some((ratio, met)) = pair.second {
            self.second.push(ratio);
            self.met += usize::from(met);
        }
        for (all, ratio) in self.mixed.iter_mut().zip(pair.mixed) {
            all.push(ratio);
        }
    }

    fn answer(
        self,
        plan: Plan,
        mut varied: Vec<Varied>,
        nominal: f64,
        quadrature_error: f64,
    ) -> Draws {
        let mut ratios = [&self.first[..], &self.second].concat();
        ratios.sort_by(f64::total_cmp);
        let done = ratios.len();
        if done >= ENOUGH
            && let Some(all) = self.sobol(plan.seed)
        {
            for (v, sobol) in varied.iter_mut().zip(all) {
                v.sobol = Some(sobol);
            }
        }
        let percents = PERCENTS.iter().filter(|_| done > 0);
        Draws {
            asked: plan.draws,
            done,
            seed: plan.seed,
            varied,
            nominal,
            met: self.met,
            yield_interval: wilson(self.met, done),
            percentiles: percents.map(|&p| Percentile::of(&ratios, p)).collect(),
            histogram: Histogram::of(&ratios),
            dark: ratios.iter().filter(|ratio| ratio.is_infinite()).count(),
            quadrature_error,
        }
    }

    /// Sobol indices of the logarithm of the ratio; `None` when one of the draws does not leak, because its ratio has no finite logarithm.
    fn sobol(&self, seed: u64) -> Option<Vec<Sobol>> {
        let logs = |ratios: &[f64]| {
            ratios
                .iter()
                .map(|ratio| math::log10(*ratio))
                .collect::<Vec<_>>()
        };
        let rows = self.second.len();
        let mixed: Vec<_> = self.mixed.iter().map(|ratios| logs(ratios)).collect();
        sobol(
            &logs(&self.first[..rows]),
            &logs(&self.second),
            &mixed,
            seed,
        )
    }
}
