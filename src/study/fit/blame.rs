//! Which part and cause is to blame for the leak, stand by stand.

use serde::Serialize;

use super::FitError;
use super::{BenchSetting, Interval};
use crate::order::sort_by_number;
use crate::scene::Scene;
use crate::study::StudyError;
use crate::study::bench::{Bench, Care};
use crate::study::draws::Watch;
use crate::study::leak::{Cause, Leak, leak};
use crate::study::unknown::Unknowns;
use crate::threads;

/// Stands whose leak is taken apart.
const MOST: usize = 8000;

/// One part and cause.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BlameShare {
    /// The part's name.
    pub part: String,
    /// What is wrong with it.
    pub cause: Cause,
    /// Its share of the leak.
    pub share: Interval,
    /// The probability that it is the largest share; over all parts and causes these add up to 1.
    pub largest: f64,
}

/// One part, whatever is wrong with it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartBlame {
    /// The part's name.
    pub part: String,
    /// The probability that the largest share is one of its own; over all parts these add up to 1.
    pub largest: f64,
}

/// Shares of the leak over stands.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Shares {
    /// Parts and causes.
    pub(super) of: Vec<(String, Cause)>,
    /// Of each, its share in each stand.
    pub(super) share: Vec<Vec<f64>>,
    /// Of each stand, the place of the largest share in `of`.
    pub(super) largest: Vec<usize>,
    /// Of each stand, its extinction ratio.
    pub(super) ratios: Vec<f64>,
    /// Of each stand, its place among the points.
    pub(super) members: Vec<usize>,
}

/// Takes the leak of the stand as written apart, for points evenly spread over the population.
pub(super) fn shares(
    scene: &Scene,
    unknowns: &Unknowns,
    points: &[Vec<f64>],
    watch: Watch,
) -> Result<Shares, FitError> {
    let stride = points.len().div_ceil(MOST).max(1);
    let members: Vec<usize> = (0..points.len()).step_by(stride).collect();
    let bench = Bench::new(scene, unknowns, &[BenchSetting::default()], Care::Full)
        .map_err(|(_, error)| error)?;
    let Some(light) = bench.lights.first() else {
        return Err(StudyError::NoPlaceForPolar.into());
    };
    let leaks = threads::map(0..members.len(), |k| {
        if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
            return None;
        }
        let path = unknowns.with(&points[members[k]]).without_specimens();
        leak(&path, &light.rays, &light.wavelengths_nm, &light.luminous).ok()
    });
    let mut shares = Shares {
        of: Vec::new(),
        share: Vec::new(),
        largest: Vec::new(),
        ratios: Vec::new(),
        members: Vec::new(),
    };
    let stopped = watch.stop.load(std::sync::atomic::Ordering::Relaxed);
    if stopped {
        return Err(super::SampleError::Stopped.into());
    }
    for (member, leak) in members.into_iter().zip(leaks) {
        if let Some(leak) = leak {
            shares.add(member, &leak);
        }
    }
    if shares.members.is_empty() {
        // Every stand of the sample failed: the written one says why.
        let path = scene.path.without_specimens();
        leak(&path, &light.rays, &light.wavelengths_nm, &light.luminous)
            .map_err(StudyError::from)?;
    }
    Ok(shares)
}

impl Shares {
    fn add(&mut self, member: usize, leak: &Leak) {
        let Some(largest) = leak.shares.first() else {
            return;
        };
        let before = self.members.len();
        self.members.push(member);
        self.ratios.push(1.0 / leak.whole);
        for share in &leak.shares {
            let key = (share.part.clone(), share.cause);
            let at = (self.of.iter().position(|of| *of == key)).unwrap_or_else(|| {
                self.of.push(key);
                self.share.push(vec![0.0; before]);
                self.of.len() - 1
            });
            self.share[at].resize(before, 0.0);
            self.share[at].push(share.share);
            if std::ptr::eq(share, largest) {
                self.largest.push(at);
            }
        }
        for share in &mut self.share {
            share.resize(before + 1, 0.0);
        }
    }

    /// Of at most so many stands, evenly spread.
    pub(super) fn thinned(&self, most: usize) -> Self {
        let stride = self.members.len().div_ceil(most).max(1);
        Self {
            of: self.of.clone(),
            share: (self.share.iter()).map(|of| every(of, stride)).collect(),
            largest: every(&self.largest, stride),
            ratios: every(&self.ratios, stride),
            members: every(&self.members, stride),
        }
    }

    /// How often each is the largest.
    pub(super) fn often(&self, of: usize) -> f64 {
        let count = self
            .largest
            .iter()
            .filter(|largest| **largest == of)
            .count();
        count as f64 / self.members.len().max(1) as f64
    }
}

/// One of so many, from the first on.
fn every<T: Copy>(all: &[T], stride: usize) -> Vec<T> {
    all.iter().copied().step_by(stride).collect()
}

/// The blame, most probable first.
pub(super) fn blame(shares: &Shares) -> Vec<BlameShare> {
    let mut all: Vec<BlameShare> = (shares.of.iter().enumerate())
        .map(|(at, (part, cause))| BlameShare {
            part: part.clone(),
            cause: *cause,
            share: Interval::of(&shares.share[at]),
            largest: shares.often(at),
        })
        .collect();
    all.sort_by(|a, b| {
        (b.largest.total_cmp(&a.largest)).then(b.share.median.total_cmp(&a.share.median))
    });
    all
}

/// The blame over stands that are told, whether or not anything was read: most probable first.
///
/// # Errors
/// [`FitError`] when the stand as written cannot be run.
///
/// Checked by: `tests/page`.
pub fn blame_over(
    scene: &Scene,
    unknowns: &Unknowns,
    points: &[Vec<f64>],
    watch: Watch,
) -> Result<Vec<BlameShare>, FitError> {
    Ok(blame(&shares(scene, unknowns, points, watch)?))
}

/// The blame part by part, most probable first.
pub(super) fn by_part(shares: &Shares) -> Vec<PartBlame> {
    let mut all: Vec<PartBlame> = Vec::new();
    for (at, (part, _)) in shares.of.iter().enumerate() {
        let largest = shares.often(at);
        match all.iter_mut().find(|known| known.part == *part) {
            Some(known) => known.largest += largest,
            None => all.push(PartBlame {
                part: part.clone(),
                largest,
            }),
        }
    }
    sort_by_number(&mut all, |part| -part.largest);
    all
}
