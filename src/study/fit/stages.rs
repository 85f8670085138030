//! Stands that explain photographs.
//!
//! Photographs tell numbers so exactly that polynomials through the light of all stands that the priors allow are not good enough: where they are off
//! by more than the zones' errors, stands far from the truth explain the pictures better than the truth does. So the readings are taken to be as
//! uncertain as the polynomials are, at first; the population that this leaves lies in a smaller part of the priors, where new polynomials are
//! better. The same population is led on from stage to stage, and is never again drawn from where the polynomials are not good.

use super::likelihood::Likelihood;
use super::sampler::sample_on;
use super::{
    FitError, Population, Posterior, SCOUTS, SampleError, agreement, around, finer, prior_surface,
    sample,
};
use crate::math;
use crate::study::bench::{Bench, BenchSurface, SurfaceWork};
use crate::study::draws::{Plan, Watch};
use crate::threads;
use rand_chacha::ChaCha8Rng;

/// Stands in which polynomials are compared with direct runs.
const CHECKED: usize = 96;
/// Polynomials are good enough when they add no more than this part to the errors of the readings, and are made anew as long as each time they are off
/// by less than this part of what they were off before.
const ENOUGH: f64 = 0.3;
const BETTER: f64 = 0.8;
const MOST_STAGES: usize = 10;
/// Weight of a point of the prior beside a point of the population.
const PRIOR_COUNTS: f64 = 1e-3;

/// Polynomials, and the readings with what the polynomials may be off in their errors.
struct FitStage {
    surface: BenchSurface,
    likelihood: Likelihood,
}

/// The way from one stage to the next; the first stage begins with the prior.
struct Way<'a> {
    bench: &'a Bench<'a>,
    before: Option<&'a FitStage>,
    here: &'a FitStage,
}

impl FitStage {
    fn log(&self, bench: &Bench<'_>, point: &[f64]) -> f64 {
        super::WORK.with_borrow_mut(|work| {
            bench.by_surface(&self.surface, point, work);
            self.likelihood.log(&work.light, None)
        })
    }
}

impl Posterior for Way<'_> {
    fn draw(&self, random: &mut ChaCha8Rng) -> Vec<f64> {
        self.bench.unknowns.draw(random)
    }

    fn log_prior(&self, point: &[f64]) -> f64 {
        self.bench.unknowns.log_prior(point)
    }

    fn log_likelihood(&self, point: &[f64]) -> f64 {
        self.here.log(self.bench, point)
    }

    fn log_before(&self, point: &[f64], log_likelihood: f64) -> f64 {
        match self.before {
            None => 0.0,
            Some(stage) if std::ptr::eq(stage, self.here) => log_likelihood,
            Some(stage) => stage.log(self.bench, point),
        }
    }
}

/// Stands with the light of direct runs.
struct Checked {
    points: Vec<Vec<f64>>,
    light: Vec<Vec<f64>>,
}

impl Checked {
    fn new(bench: &Bench<'_>, points: Vec<Vec<f64>>) -> Self {
        let light = threads::map(0..points.len(), |k| bench.direct_all(&points[k]));
        Self { points, light }
    }

    /// How far polynomials are off, relatively, line by line: of each stand the root mean square over the line's lights, and of the stands one of
    /// the larger ones: `part` of them lie below.
    fn off(
        &self,
        bench: &Bench<'_>,
        surface: &BenchSurface,
        likelihood: &Likelihood,
        part: f64,
    ) -> Vec<f64> {
        let by_stand = threads::map(0..self.points.len(), |k| {
            let mut work = SurfaceWork::default();
            bench.by_surface(surface, &self.points[k], &mut work);
            let square = |at: usize| {
                let off = math::log(work.light[at] / self.light[k][at]);
                // For a stand that cannot be run, or for which the polynomials give no light, the error is taken to be 100 %.
                if off.is_finite() { off * off } else { 1.0 }
            };
            (likelihood.lines.iter())
                .map(|line| {
                    let sum: f64 = line.lights.clone().map(square).sum();
                    (sum / line.lights.len() as f64).sqrt()
                })
                .collect::<Vec<f64>>()
        });
        (0..likelihood.lines.len())
            .map(|line| {
                let mut off: Vec<f64> = by_stand.iter().map(|of| of[line]).collect();
                off.sort_by(f64::total_cmp);
                off.get((part * off.len() as f64) as usize)
                    .copied()
                    .unwrap_or(1.0)
            })
            .collect()
    }
}

/// Populations of stands that are drawn independently of each other, with polynomials that are good at their members. The polynomials are made of all of
/// them.
pub(super) fn stands(
    bench: &Bench<'_>,
    likelihood: &Likelihood,
    plan: Plan,
    watch: Watch,
) -> Result<(Vec<Population>, BenchSurface), FitError> {
    let (prior, surface, mut random) = prior_surface(bench, plan.seed);
    let fresh = (0..CHECKED).map(|_| bench.unknowns.draw(&mut random));
    let checked = Checked::new(bench, fresh.collect());
    let mut off = checked.off(bench, &surface, likelihood, 0.5);
    let mut stage = FitStage {
        surface,
        likelihood: likelihood.widened(&off),
    };
    let scouts = |number: usize| {
        agreement::plans(Plan {
            draws: SCOUTS.min(plan.draws),
            seed: plan.seed.wrapping_add(number as u64),
        })
    };
    let first = Way {
        bench,
        before: None,
        here: &stage,
    };
    let mut populations = (scouts(1).iter())
        .map(|plan| sample(&first, *plan, watch.unseen()))
        .collect::<Result<Vec<_>, _>>()?;
    for number in 2..=MOST_STAGES {
        if likelihood.outweighs(&off, ENOUGH) {
            break;
        }
        let members = agreement::joined(&populations).0.points;
        let (mut points, mut counts) = (prior.clone(), vec![PRIOR_COUNTS; prior.len()]);
        for _ in 0..prior.len() {
            points.push(around(&members, &mut random));
            counts.push(1.0);
        }
        let surface = bench.surface(&points, &counts);
        let stride = (members.len() / CHECKED).max(1);
        let checked = Checked::new(bench, members.into_iter().step_by(stride).collect());
        let found = checked.off(bench, &surface, likelihood, 0.9);
        let sum = |off: &[f64]| off.iter().sum::<f64>();
        let better = sum(&found) <= BETTER * sum(&off);
        let next = FitStage {
            surface,
            likelihood: likelihood.widened(&found),
        };
        let way = Way {
            bench,
            before: Some(&stage),
            here: &next,
        };
        populations = led_on(&way, &populations, &scouts(number), watch.unseen())?;
        (stage, off) = (next, found);
        if !better {
            break;
        }
    }
    // The same once more with as many members as are asked for.
    let way = Way {
        bench,
        before: Some(&stage),
        here: &stage,
    };
    let finer = Plan {
        draws: finer(plan.draws) * plan.draws,
        ..plan
    };
    let plans = agreement::shared_out(finer, populations.len());
    let populations = led_on(&way, &populations, &plans, watch)?;
    Ok((populations, stage.surface))
}

/// Each population led on to another stage by its own plan.
fn led_on(
    way: &Way<'_>,
    populations: &[Population],
    plans: &[Plan],
    watch: Watch,
) -> Result<Vec<Population>, SampleError> {
    (populations.iter().zip(plans).enumerate())
        .map(|(number, (before, plan))| {
            watch.part(number, plans.len(), |watch| {
                sample_on(way, before, *plan, watch)
            })
        })
        .collect()
}
