//! The reading that would tell most of which part is to blame.
//!
//! Candidates by rule; each is simulated on stands of the sample. What it would tell of the blamed part is the mutual information of the two,
//! `I = E ln p(y | part) - E ln p(y)`, with `p(y)` the mixture of the stands' readings with their errors; what it would tell of itself is
//! `1/2 ln(1 + Var/sigma^2)`.
//!
//! Source: D. V. Lindley, Ann. Math. Statist. 27, 986 (1956); nested Monte Carlo: K. J. Ryan, J. Comput. Graph. Stat. 12, 585 (2003). Both from
//! memory.

use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use thiserror::Error;

use super::around::{AlreadyRead, Around};
use super::blame::Shares;
use super::knowledge::{Knowledge, TRUE_STANDS_OF_PHOTOGRAPHS};
use super::photo;
use super::simulated::Simulated;
use super::{BenchSetting, FitError, FitQuestion, READING_ERROR, SampleError, SettingCell};
use crate::light_path::{LightPath, PartKind};
use crate::math;
use crate::optics::{Strain, ZoneGrid};
use crate::order::sort_by_number;
use crate::scene::Scene;
use crate::spectrum::Source;
use crate::study::bench::{Bench, Care};
use crate::study::draws::Watch;
use crate::study::place::{Place, places};
use crate::study::unknown::Unknowns;
use crate::threads;

/// Stands on which candidates are simulated: with fewer, readings with few others near them tell less than they would (at 300, 0.32 of 0.55 nats in
/// the check of `tests/laws/fit_bench.rs`; at this many, 0.51).
const STANDS: usize = 1500;
/// Readings that are told, and photographs.
const MOST_TOLD: usize = 5;
const MOST_PHOTOGRAPHS: usize = 3;
/// Iris settings of candidates, as parts of the stand's.
const IRISES: [f64; 3] = [1.0, 0.5, 0.25];
/// Turns of a lens, degrees, and how far the analyzer is set off.
const TURNS_DEG: [f64; 2] = [45.0, 90.0];
const ANALYZER_DEG: [f64; 2] = [5.0, -5.0];
/// Filters: name, centre and width in nm.
const FILTERS: [(&str, f64, f64); 2] = [("450/20", 450.0, 20.0), ("650/20", 650.0, 20.0)];
/// Nodes, in standard deviations, and weights of a mean over a normal error: exact for polynomials of degree 5.
const ERRORS: [(f64, f64); 3] = [
    (-1.732_050_807_568_877_2, 1.0 / 6.0),
    (0.0, 2.0 / 3.0),
    (1.732_050_807_568_877_2, 1.0 / 6.0),
];

/// Something that a user can do at the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Action {
    /// Turn the lens at this index in its mount.
    Turn(usize),
    /// Take the part at this index out.
    Out(usize),
    /// Put the plate at this index in.
    In(usize),
    /// Move the lower polar.
    Polar,
    /// Turn the analyzer's ring.
    Analyzer,
    /// Set the iris.
    Iris,
    /// Put a filter before the lamp.
    Filter,
    /// Photograph the back focal plane, at whatever azimuths of the polars tell most. It is no part of what is possible unless it is named.
    Photo,
}

/// A word that is no action.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("\"{word}\" is nothing that can be done with this stand; allowed: {}", allowed.join(", "))]
pub struct ActionError {
    /// The word.
    pub word: String,
    /// What there is.
    pub allowed: Vec<String>,
}

/// A reading to take.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NextReading {
    /// The setting as columns of a readings file.
    #[serde(serialize_with = "as_map")]
    pub setting: Vec<(String, SettingCell)>,
    /// Expected information about which part is to blame, nats.
    pub gain_nats: f64,
    /// Expected information of the reading itself, nats.
    pub reading_nats: f64,
    /// What to do.
    pub words: String,
    /// Of a photograph of the back focal plane: what it is worth. `None` for a meter reading.
    #[serde(rename = "photograph", skip_serializing_if = "Option::is_none")]
    pub worth: Option<PhotographWorth>,
    /// The setting itself.
    #[serde(skip)]
    pub bench: BenchSetting,
}

/// How many meter readings tell as much of the part to blame as a photograph: the best that can be taken, chosen one by one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct PhotographWorth {
    /// So many.
    pub readings: usize,
    /// Whether it tells more than these, and others would hardly add anything.
    pub more: bool,
}

impl PhotographWorth {
    /// Of a photograph with so much information, beside what one meter reading tells, two, and so on.
    pub(super) fn of(nats: f64, meter: &[f64]) -> Self {
        match meter.iter().position(|told| *told >= nats) {
            Some(before) => Self {
                readings: before + 1,
                more: false,
            },
            None => Self {
                readings: meter.len(),
                more: true,
            },
        }
    }
}

/// A setting as a table of its columns.
pub(super) fn as_map<S: Serializer>(
    columns: &[(String, SettingCell)],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let mut map = serializer.serialize_map(Some(columns.len()))?;
    for (name, cell) in columns {
        map.serialize_entry(name, cell)?;
    }
    map.end()
}

impl Action {
    /// Everything that can be done with a stand, with the word for each.
    #[must_use]
    pub fn all(path: &LightPath) -> Vec<(String, Self)> {
        let mut all = Vec::new();
        for (index, part) in path.parts.iter().enumerate() {
            let name = &part.name;
            match part.kind {
                PartKind::Condenser(_) | PartKind::Objective(_) => {
                    all.push((format!("turn:{name}"), Self::Turn(index)));
                    all.push((format!("out:{name}"), Self::Out(index)));
                }
                PartKind::Slide(_) => all.push((format!("out:{name}"), Self::Out(index))),
                PartKind::Plate(_) => all.push((format!("in:{name}"), Self::In(index))),
                _ => {}
            }
        }
        all.extend([
            ("polar".to_owned(), Self::Polar),
            ("analyzer".to_owned(), Self::Analyzer),
            ("iris".to_owned(), Self::Iris),
            ("filter".to_owned(), Self::Filter),
            ("photo".to_owned(), Self::Photo),
        ]);
        all
    }

    /// The action of a word.
    ///
    /// # Errors
    /// [`ActionError`] for a word that is none.
    pub fn named(word: &str, path: &LightPath) -> Result<Self, ActionError> {
        let all = Self::all(path);
        match all.iter().find(|(name, _)| name == word) {
            Some((_, action)) => Ok(*action),
            None => Err(ActionError {
                word: word.to_owned(),
                allowed: all.into_iter().map(|(name, _)| name).collect(),
            }),
        }
    }
}

/// Settings that a reading could be taken in, those that were read left out.
pub(super) fn candidates(
    path: &LightPath,
    can: Option<&[Action]>,
    read: &[BenchSetting],
) -> Vec<BenchSetting> {
    let has_condenser = path.condensers().next().is_some();
    let can = |action: Action| match can {
        Some(can) => can.contains(&action),
        // An iris belongs to a condenser: one without it must be named.
        None => action != Action::Iris || has_condenser,
    };
    let one = |of: &dyn Fn(&mut BenchSetting)| {
        let mut setting = BenchSetting::default();
        of(&mut setting);
        setting
    };
    let mut all = vec![BenchSetting::default()];
    for (index, part) in path.parts.iter().enumerate() {
        match &part.kind {
            PartKind::Condenser(lens) | PartKind::Objective(lens) => {
                // A radial strain looks the same however the lens is turned.
                let turns =
                    (lens.strain.iter()).any(|strain| !matches!(strain, Strain::Radial { .. }));
                if turns && can(Action::Turn(index)) {
                    all.extend(
                        TURNS_DEG.map(|deg| {
                            one(&|setting| setting.turned.push((index, deg.to_radians())))
                        }),
                    );
                }
                if can(Action::Out(index)) {
                    all.push(one(&|setting| setting.out.push(index)));
                }
            }
            PartKind::Slide(_) if can(Action::Out(index)) => {
                all.push(one(&|setting| setting.out.push(index)));
            }
            PartKind::Plate(_) if can(Action::In(index)) => {
                all.push(one(&|setting| setting.plates.push(index)));
            }
            _ => {}
        }
    }
    if can(Action::Polar) {
        let others = places(path).into_iter().filter(|placed| {
            !placed.written
                && placed.refused.is_none()
                && placed.same_as.is_none()
                && !matches!(placed.place, Place::UnderSlideImmersed { .. })
        });
        all.extend(
            others.map(|placed| one(&|setting| setting.polar_at = Some(placed.place.clone()))),
        );
    }
    if let Some((_, polar)) = path.polars()
        && can(Action::Analyzer)
    {
        all.extend(ANALYZER_DEG.map(|off| {
            one(&|setting| setting.analyzer_rad = Some(polar.azimuth_rad + off.to_radians()))
        }));
    }
    if can(Action::Filter) {
        all.extend(FILTERS.map(|(name, centre_nm, width_nm)| {
            one(&|setting| {
                let line = Source::Line {
                    centre_nm,
                    width_nm,
                };
                setting.lamp = Some((name.to_owned(), line));
            })
        }));
    }
    let na = path.na();
    let wide = (all.into_iter()).flat_map(|setting| {
        let irises = IRISES.iter().take(if can(Action::Iris) { 3 } else { 1 });
        irises.map(move |part| BenchSetting {
            na: (*part < 1.0).then(|| (part * na * 100.0).round() / 100.0),
            ..setting.clone()
        })
    });
    wide.filter(|setting| !read.contains(setting)).collect()
}

/// What to do for a photograph.
fn photograph_words(setting: &BenchSetting, path: &LightPath) -> String {
    format!(
        "{}, then photograph the back focal plane, and once more with the polars parallel",
        setting.words(path)
    )
}

/// What to do for a reading.
fn instruction(setting: &BenchSetting, path: &LightPath) -> String {
    format!("{}, then read crossed and parallel", setting.words(path))
}

/// The readings that would tell most.
pub(super) fn next(
    scene: &Scene,
    unknowns: &Unknowns,
    points: &[Vec<f64>],
    shares: &Shares,
    read: &[BenchSetting],
    question: &FitQuestion,
    (taken, watch): (&AlreadyRead<'_>, Watch),
) -> Result<Vec<NextReading>, FitError> {
    let path = &unknowns.path;
    let settings = candidates(path, question.can.as_deref(), read);
    // What cannot be run is no candidate.
    let lights: Vec<Bench<'_>> = threads::map(0..settings.len(), |k| {
        Bench::new(scene, unknowns, &settings[k..=k], Care::Full).ok()
    })
    .into_iter()
    .flatten()
    .collect();
    let stride = shares.members.len().div_ceil(STANDS).max(1);
    let stands: Vec<(usize, usize)> = (shares.members.iter().copied())
        .zip(shares.largest.iter().copied())
        .step_by(stride)
        .collect();
    let sd = math::hypot(READING_ERROR, question.model_error);
    let mut found: Vec<NextReading> = threads::map(0..lights.len(), |k| {
        if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
            return None;
        }
        let bench = &lights[k];
        let light = bench.lights.first()?;
        let simulated: Vec<(f64, usize)> = (stands.iter())
            .map(|&(member, blamed)| (-math::log(bench.meter(light, &points[member])), blamed))
            .filter(|(log, _)| log.is_finite())
            .collect();
        Some(NextReading {
            setting: light.setting.columns(path),
            gain_nats: information(&simulated, sd),
            reading_nats: of_reading(&simulated, sd),
            words: instruction(&light.setting, path),
            worth: None,
            bench: light.setting.clone(),
        })
    })
    .into_iter()
    .flatten()
    .collect();
    if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
        return Err(SampleError::Stopped.into());
    }
    best_first(&mut found, MOST_TOLD);
    if let Some(grid) = question.photographs {
        let of = (points, &shares.thinned(STANDS));
        let photographs = photographs(
            scene,
            unknowns,
            of,
            (read, &settings),
            question,
            (grid, taken, watch),
        )?;
        found.extend(photographs);
        sort_by_number(&mut found, |next| -next.gain_nats);
    }
    Ok(found)
}

/// The photographs that would tell most, beside what the meter's settings would.
fn photographs(
    scene: &Scene,
    unknowns: &Unknowns,
    of: (&[Vec<f64>], &Shares),
    (read, meter): (&[BenchSetting], &[BenchSetting]),
    question: &FitQuestion,
    (grid, taken, watch): (ZoneGrid, &AlreadyRead<'_>, Watch),
) -> Result<Vec<NextReading>, FitError> {
    let (path, shares) = (&unknowns.path, of.1);
    let seed = question.plan.seed;
    let errors = (math::hypot(READING_ERROR, question.model_error), seed);
    let simulated = Simulated::new(scene, unknowns, meter, of, errors, watch)?;
    let curve = Knowledge::new(&simulated).curve(watch)?;
    let trues = simulated.trues(TRUE_STANDS_OF_PHOTOGRAPHS);
    let how = (grid, question.model_error, seed);
    let around = Around::new(scene, unknowns, of, &trues, Some(taken), how)?;
    let ratio = super::Interval::of(&shares.ratios).median;
    let mut found = Vec::new();
    for setting in photo::photographs(path, ratio, question.can.as_deref(), read) {
        let Some(told) = around.told(scene, &setting, true, watch)? else {
            continue;
        };
        let each = threads::map(0..trues.len(), |stand| {
            let blamed = shares.largest[trues[stand]];
            let left = around.left(stand, std::iter::once(&told[stand]));
            let left = left.get(blamed).copied().unwrap_or(0.0);
            math::log(left.max(Around::least()) / shares.often(blamed))
        });
        let gain_nats = (each.iter().sum::<f64>() / trues.len().max(1) as f64).max(0.0);
        found.push(NextReading {
            setting: setting.columns(path),
            gain_nats,
            reading_nats: around.of_reading(&told),
            words: photograph_words(&setting, path),
            worth: Some(PhotographWorth::of(gain_nats, &curve)),
            bench: setting,
        });
    }
    best_first(&mut found, MOST_PHOTOGRAPHS);
    Ok(found)
}

/// As many as are told, those that tell most of the part to blame first.
fn best_first(found: &mut Vec<NextReading>, most: usize) {
    found.sort_by(|a, b| {
        (b.gain_nats.total_cmp(&a.gain_nats)).then(b.reading_nats.total_cmp(&a.reading_nats))
    });
    found.truncate(most);
}

/// Mutual information, nats, of a reading with errors of `sd` and a group, from pairs of both.
fn information(pairs: &[(f64, usize)], sd: f64) -> f64 {
    // The density of what a stand may read, among all other stands and among those of its group. A stand is left out of the density at its own
    // reading; otherwise small groups would look as if a reading could tell them.
    let mut all = vec![[0.0; ERRORS.len()]; pairs.len()];
    let mut own = all.clone();
    for (one, (log, group)) in pairs.iter().enumerate() {
        for (other, (other_log, other_group)) in pairs[..one].iter().enumerate() {
            let apart = (log - other_log) / sd;
            for (at, (off, _)) in ERRORS.iter().enumerate() {
                let density = math::exp(-0.5 * (apart + off).powi(2));
                // With the opposite error the other stand reads as far from this one.
                for (stand, at) in [(one, at), (other, ERRORS.len() - 1 - at)] {
                    all[stand][at] += density;
                    if group == other_group {
                        own[stand][at] += density;
                    }
                }
            }
        }
    }
    let mut sum = 0.0;
    for (stand, (_, group)) in pairs.iter().enumerate() {
        let others = pairs.iter().filter(|(_, other)| other == group).count() - 1;
        for (at, (_, weight)) in ERRORS.iter().enumerate() {
            let (own, all) = (own[stand][at], all[stand][at]);
            if own > 0.0 && all > 0.0 {
                let (own, all) = (own / others as f64, all / (pairs.len() - 1) as f64);
                sum += weight * math::log(own / all);
            }
        }
    }
    (sum / pairs.len().max(1) as f64).max(0.0)
}

/// Expected information of a reading itself, nats.
fn of_reading(pairs: &[(f64, usize)], sd: f64) -> f64 {
    let count = pairs.len().max(1) as f64;
    let mean = pairs.iter().map(|(log, _)| log).sum::<f64>() / count;
    let variance = pairs
        .iter()
        .map(|(log, _)| (log - mean).powi(2))
        .sum::<f64>()
        / count;
    0.5 * math::log(1.0 + variance / (sd * sd))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light_path::Part;
    use crate::optics::{Lens, Polarizer};

    #[test]
    fn a_stand_without_a_condenser_has_no_iris_unless_it_is_named() {
        let lens = |na| Lens::new(na, 4, crate::material::catalog::glass("N-BK7").unwrap());
        let polar = || {
            Polarizer::new(
                crate::material::catalog::sheet("iodine-medium").unwrap(),
                0.0,
            )
        };
        let all = vec![
            Part::new("lower polar", PartKind::Polarizer(polar())),
            Part::new("condenser", PartKind::Condenser(lens(0.5))),
            Part::new("objective", PartKind::Objective(lens(0.5))),
            Part::new("analyzer", PartKind::Analyzer(polar())),
        ];
        let with_iris = |parts: &[Part], can: Option<&[Action]>| {
            let path = LightPath {
                parts: parts.to_vec(),
                ..LightPath::default()
            };
            let settings = candidates(&path, can, &[]);
            assert!(!settings.is_empty());
            settings.iter().any(|setting| setting.na.is_some())
        };
        let bare = [&all[..1], &all[2..]].concat();
        assert!(with_iris(&all, None));
        assert!(!with_iris(&bare, None));
        assert!(with_iris(&bare, Some(&[Action::Iris])));
    }
}
