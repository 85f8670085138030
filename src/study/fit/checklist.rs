//! Before any reading: the fewest readings that decide which part is to blame, in an order that a bench can follow.
//!
//! Stands are drawn from the priors, and every candidate reading of [`super::next`] is simulated on each of them. Readings are then chosen one by
//! one. Some of the stands take the place of the true one in turn; chosen is the reading with which all readings so far tell most, on average over
//! these, of the part to blame. What readings tell is measured by the logarithm of the probability that they leave for the right part. That
//! probability comes from the stands whose readings are most like the true stand's; how shares of the leak go with readings among them is fitted by
//! straight lines and taken off, so that hundreds of stands do, where thousands would be needed to find some with the very same readings.
//!
//! Sources: D. V. Lindley, Ann. Math. Statist. 27, 986 (1956), for the information; M. A. Beaumont, W. Zhang and D. J. Balding, Genetics 162, 2025
//! (2002), for the stands nearby and the straight lines; G. L. Nemhauser and others, Math. Program. 14, 265 (1978), for choosing one by one. All from
//! memory.

use serde::Serialize;

use super::around::Around;
use super::blame;
use super::knowledge::{Exact, Knowledge, LEAST_NATS, MOST_STEPS, TRUE_STANDS_OF_PHOTOGRAPHS};
use super::next::{PhotographWorth, as_map, candidates};
use super::photo;
use super::simulated::{Simulated, stream};
use super::{
    BenchSetting, BlameShare, FitError, FitQuestion, Interval, READING_ERROR, SampleError,
    SettingCell,
};
use crate::math;
use crate::order::sort_by_number;
use crate::scene::Scene;
use crate::study::draws::Watch;
use crate::study::leak::Cause;
use crate::study::unknown::Unknowns;

/// How many stands are drawn at most.
const STANDS: usize = 1500;
/// Readings are chosen until they decide in this fraction of the stands, if nothing else ends it before.
const ENOUGH: f64 = 0.9;
/// For parts and causes with at least this probability before any reading, the answer tells what would be read if they were to blame.
const PROBABLE: f64 = 0.04;
const MOST_CULPRITS: usize = 5;

/// Readings to take, in order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Checklist {
    /// Stands drawn from the priors, and the seed.
    pub draws: usize,
    /// The seed.
    pub seed: u64,
    /// Who is to blame before any reading, most probable first.
    pub before: Vec<BlameShare>,
    /// The readings.
    pub steps: Vec<ChecklistStep>,
}

/// One reading to take.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChecklistStep {
    /// The setting as columns of a readings file.
    #[serde(serialize_with = "as_map")]
    pub setting: Vec<(String, SettingCell)>,
    /// How the stand is set; crossed and parallel light are read, or photographed.
    pub words: String,
    /// Of a photograph of the back focal plane: what it alone is worth. `None` for a meter reading.
    #[serde(rename = "photograph", skip_serializing_if = "Option::is_none")]
    pub worth: Option<PhotographWorth>,
    /// What the stands drawn would read: parallel light over this light; of a photograph, over its whole disc.
    pub ratio: Interval,
    /// The same for those stands in which a part is to blame, of the parts that are most probable before any reading.
    pub if_to_blame: Vec<IfToBlame>,
    /// Information about the blamed part in this reading and those before it, nats, on average.
    pub told_nats: f64,
    /// The fraction of the stands in which this reading and those before it decide which part is to blame.
    pub decided: f64,
    /// The setting itself.
    #[serde(skip)]
    pub bench: BenchSetting,
}

/// What a reading would be if a part were to blame.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IfToBlame {
    /// The part.
    pub part: String,
    /// What is wrong with it.
    pub cause: Cause,
    /// The reading.
    pub ratio: Interval,
}

/// Chooses readings for a stand of which nothing has been read yet.
///
/// # Errors
/// [`FitError`].
///
/// Checked by: `tests/laws/checklist.rs`.
pub fn checklist(
    scene: &Scene,
    unknowns: &Unknowns,
    question: &FitQuestion,
    watch: Watch,
) -> Result<Checklist, FitError> {
    if unknowns.list.is_empty() {
        return Err(FitError::NothingUnknown);
    }
    let draws = question.plan.draws.min(STANDS);
    let seed = question.plan.seed;
    let points: Vec<Vec<f64>> = (0..draws)
        .map(|draw| unknowns.draw(&mut stream(seed, draw)))
        .collect();
    let shares = blame::shares(scene, unknowns, &points, watch)?;
    let settings = candidates(&unknowns.path, question.can.as_deref(), &[]);
    let sd = math::hypot(READING_ERROR, question.model_error);
    let of = (&points[..], &shares);
    let mut read = Simulated::new(scene, unknowns, &settings, of, (sd, seed), watch)?;
    let (mut exact, mut meter) = (None, Vec::new());
    if let Some(grid) = question.photographs {
        meter = Knowledge::new(&read).curve(watch)?;
        let ratio = Interval::of(&shares.ratios).median;
        let taken = photo::photographs(&unknowns.path, ratio, question.can.as_deref(), &[]);
        read.add_photographs(scene, unknowns, &taken, of, watch)?;
        let trues = read.trues(TRUE_STANDS_OF_PHOTOGRAPHS);
        let how = (grid, question.model_error, seed);
        let around = Around::new(scene, unknowns, of, &trues, None, how)?;
        exact = Some(Exact::new(&mut read, around, trues, scene, watch)?);
    }
    let fresh = || match &exact {
        None => Knowledge::new(&read),
        Some(exact) => Knowledge::with(&read, exact),
    };
    let mut chosen = fresh();
    let mut told = 0.0;
    while chosen.chosen.len() < MOST_STEPS && chosen.decided() < ENOUGH {
        if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
            return Err(SampleError::Stopped.into());
        }
        (watch.progress)(100 * chosen.chosen.len() / MOST_STEPS);
        let Some((best, nats)) = chosen.best() else {
            break;
        };
        if nats - told < LEAST_NATS {
            break;
        }
        chosen.add(best);
        told = nats;
    }
    let culprits = blame::blame(&shares);
    let nothing = fresh();
    let mut so_far = fresh();
    let steps = (in_bench_order(&read, &chosen.chosen).into_iter())
        .map(|at| {
            so_far.add(at);
            let (setting, light) = &read.lights[at];
            let is_photograph = read.is_photograph(at);
            let of = |keep: &dyn Fn(usize) -> bool| {
                let kept = (light.iter().zip(&read.blamed)).filter(|(_, blamed)| keep(**blamed));
                Interval::of(&kept.map(|(log, _)| math::exp(*log)).collect::<Vec<_>>())
            };
            let probable = culprits
                .iter()
                .filter(|culprit| culprit.largest >= PROBABLE);
            ChecklistStep {
                setting: setting.columns(&unknowns.path),
                words: setting.words(&unknowns.path),
                worth: is_photograph.then(|| PhotographWorth::of(nothing.nats(Some(at)), &meter)),
                ratio: of(&|_| true),
                if_to_blame: (probable.take(MOST_CULPRITS))
                    .filter_map(|culprit| {
                        let key = (culprit.part.clone(), culprit.cause);
                        let at = shares.of.iter().position(|of| *of == key)?;
                        Some(IfToBlame {
                            part: key.0,
                            cause: key.1,
                            ratio: of(&|blamed| blamed == at),
                        })
                    })
                    .collect(),
                told_nats: so_far.nats(None),
                decided: so_far.decided(),
                bench: setting.clone(),
            }
        })
        .collect();
    Ok(Checklist {
        draws,
        seed,
        before: culprits,
        steps,
    })
}

/// Readings of the same state of the stand one after the other, from the open iris down; states in the order in which they were chosen.
fn in_bench_order(read: &Simulated, chosen: &[usize]) -> Vec<usize> {
    let state = |at: &usize| {
        let setting = BenchSetting {
            na: None,
            ..read.lights[*at].0.clone()
        };
        (read.is_photograph(*at), setting)
    };
    let mut order: Vec<usize> = Vec::new();
    for first in chosen {
        if order.contains(first) {
            continue;
        }
        let mut same: Vec<usize> = (chosen.iter().copied())
            .filter(|at| state(at) == state(first))
            .collect();
        let na = |at: &usize| read.lights[*at].0.na.unwrap_or(f64::INFINITY);
        sort_by_number(&mut same, |step| -na(step));
        order.extend(same);
    }
    order
}
