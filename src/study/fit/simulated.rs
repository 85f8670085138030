//! Readings that could be taken, simulated on stands that may be the true one.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};

use super::blame::Shares;
use super::{BenchSetting, FitError, SampleError};
use crate::math;
use crate::scene::Scene;
use crate::study::bench::{Bench, Care};
use crate::study::draws::Watch;
use crate::study::unknown::Unknowns;
use crate::threads;

/// Every candidate on every stand.
pub(super) struct Simulated {
    /// Logarithm of the parallel light over the light, stand by stand.
    pub(super) lights: Vec<(BenchSetting, Vec<f64>)>,
    /// The same with the errors of readings, in standard deviations of them. Of photographs, which stand behind, there is nothing here.
    pub(super) read: Vec<Vec<f64>>,
    /// The shares of the leak of each part and cause, stand by stand.
    pub(super) share: Vec<Vec<f64>>,
    /// The part and cause that is to blame in each stand.
    pub(super) blamed: Vec<usize>,
}

impl Simulated {
    pub(super) fn new(
        scene: &Scene,
        unknowns: &Unknowns,
        settings: &[BenchSetting],
        (points, shares): (&[Vec<f64>], &Shares),
        (sd, seed): (f64, u64),
        watch: Watch,
    ) -> Result<Self, FitError> {
        let lights = threads::map(0..settings.len(), |k| {
            // What cannot be run is no candidate.
            let bench = Bench::new(scene, unknowns, &settings[k..=k], Care::Full).ok()?;
            let light = bench.lights.first()?;
            let mut logs = Vec::with_capacity(shares.members.len());
            for member in &shares.members {
                if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
                    return None;
                }
                logs.push(-math::log(bench.meter(light, &points[*member])));
            }
            // Nor is a setting a candidate that cannot be run in some of the stands, or that leaves no light.
            logs.iter()
                .all(|log| log.is_finite())
                .then(|| (settings[k].clone(), logs))
        });
        if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
            return Err(SampleError::Stopped.into());
        }
        let lights: Vec<(BenchSetting, Vec<f64>)> = lights.into_iter().flatten().collect();
        let read = (lights.iter().enumerate())
            .map(|(k, (_, logs))| {
                let mut random = stream(seed, points.len() + k);
                logs.iter()
                    .map(|log| {
                        let error: f64 = StandardNormal.sample(&mut random);
                        log / sd + error
                    })
                    .collect()
            })
            .collect();
        Ok(Self {
            lights,
            read,
            share: shares.share.clone(),
            blamed: shares.largest.clone(),
        })
    }

    /// Whether a candidate is a photograph.
    pub(super) fn is_photograph(&self, candidate: usize) -> bool {
        candidate >= self.read.len()
    }

    /// Stands that take the place of the true one.
    pub(super) fn trues(&self, most: usize) -> Vec<usize> {
        let many = self.blamed.len();
        (0..many).step_by(many.div_ceil(most).max(1)).collect()
    }

    /// Adds photographs, with the light of their whole disc.
    pub(super) fn add_photographs(
        &mut self,
        scene: &Scene,
        unknowns: &Unknowns,
        settings: &[BenchSetting],
        (points, shares): (&[Vec<f64>], &Shares),
        watch: Watch,
    ) -> Result<(), FitError> {
        // The errors are of no account here.
        let whole = Self::new(scene, unknowns, settings, (points, shares), (1.0, 0), watch)?;
        self.lights.extend(whole.lights);
        Ok(())
    }
}

/// The random numbers of this number.
pub(super) fn stream(seed: u64, number: usize) -> ChaCha8Rng {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(number as u64);
    random
}
