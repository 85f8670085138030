//! How far an answer can be trusted: the answer over what nobody knows of the parts.
//!
//! # Examples
//! ```
//! use polstack::study::doubt::{Stands, doubt};
//! let scene = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene;
//! let told = doubt(&scene, &Stands::of_file(&scene.path))?.unwrap();
//! assert!(told.extinction_ratio.low < told.extinction_ratio.median);
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

use std::borrow::Cow;

use serde::Serialize;

use super::StudyError;
use super::bench::{Bench, BenchSurface, Care, SurfaceWork};
use super::interval::Interval;
use super::measures::NOTHING;
use super::place::{BestPlace, PlaceAnswer, PlaceKnown, PlaceOdds, Placement, PlacesKnown};
use super::reading::BenchSetting;
use super::unknown::Unknowns;
use crate::light_path::LightPath;
use crate::math;
use crate::order::order_of;
use crate::scene::Scene;
use crate::threads;

/// Stands that are drawn, and the seed of the draws: the same ones for all answers.
const DRAWS: usize = 1000;
const SEED: u64 = 1;
/// Polynomials take the place of direct runs when, at so many stands that they were not fitted to, they are within this relative error.
const CLOSE: f64 = 0.03;
const CHECKED: usize = 24;
/// Ratios are alike where 90 % of them lie within this part of their median.
const ALIKE_WITHIN: f64 = 1e-3;
/// How many stands are used to find which unknown widens an interval most: with polynomials, and with direct runs, which take longer.
const ALONE: (usize, usize) = (200, 60);

/// The number computed from the file as written counts as lying in the middle of the draws when the part of them below it is between these.
const MIDDLE: (f64, f64) = (0.25, 0.75);

/// Stands as they may be: what of a path is unknown, and draws of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Stands {
    /// The unknowns.
    pub unknowns: Unknowns,
    /// Points: see [`Unknowns`].
    pub points: Vec<Vec<f64>>,
}

/// What an answer's number may be as far as the parts are known.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Doubt {
    /// The luminous extinction ratio of the empty field, plates out.
    pub extinction_ratio: Interval,
    /// The part of the draws that lie below the ratio computed from the file as written.
    pub below_as_written: f64,
    /// The unknown that widens the interval most.
    pub widest: String,
    /// How many stands were drawn.
    pub draws: usize,
    /// The extinction ratio of each; not a number for a stand that cannot be, or in which nothing leaks.
    #[serde(skip)]
    pub ratios: Vec<f64>,
}

impl Doubt {
    /// Whether the number computed from the file as written lies off the middle of the draws: the median then says more.
    #[must_use]
    pub fn median_leads(&self) -> bool {
        median_leads(self.below_as_written)
    }

    /// The part of the draws in which the extinction ratio is at least the one that is wanted.
    #[must_use]
    pub fn probability_of(&self, wanted: f64) -> f64 {
        let met = self.ratios.iter().filter(|ratio| **ratio >= wanted).count();
        met as f64 / self.draws.max(1) as f64
    }
}

/// Whether the median of draws says more than the number computed from the file as written, below which this part of them lies.
#[must_use]
pub fn median_leads(below_as_written: f64) -> bool {
    !(MIDDLE.0..=MIDDLE.1).contains(&below_as_written)
}

/// In which part of common draws the field of `one` is darker than that of `other`; without doubt, its extinction ratio as written is that of every
/// draw.
///
/// Numbers of one name are the same in both: see [`Stands`]. Where they are equally dark, that counts half.
///
/// Checked by: `tests/laws/doubt.rs`.
#[must_use]
pub fn darker_probability(one: &StandRatios<'_>, other: &StandRatios<'_>) -> f64 {
    let count = one.draws().max(other.draws());
    let (mut darker, mut pairs) = (0.0, 0usize);
    for draw in 0..count {
        let (a, b) = (one.at(draw), other.at(draw));
        if a.is_nan() || b.is_nan() {
            continue;
        }
        pairs += 1;
        darker += match a.total_cmp(&b) {
            std::cmp::Ordering::Greater => 1.0,
            std::cmp::Ordering::Equal => 0.5,
            std::cmp::Ordering::Less => 0.0,
        };
    }
    darker / pairs.max(1) as f64
}

/// The extinction ratios of a stand: as written, and of its draws where something is unknown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandRatios<'a> {
    /// As written; infinite where nothing leaks.
    pub written: f64,
    /// Of each draw.
    pub drawn: &'a [f64],
}

impl StandRatios<'_> {
    fn draws(&self) -> usize {
        self.drawn.len().max(1)
    }

    fn at(&self, draw: usize) -> f64 {
        match self.drawn {
            [] => self.written,
            drawn => drawn[draw % drawn.len()],
        }
    }
}

impl Stands {
    /// What the file and the catalog leave open: see [`Unknowns::of_file`].
    #[must_use]
    pub fn of_file(path: &LightPath) -> Self {
        Self::drawn(Unknowns::of_file(path))
    }

    /// The same where the lower polar may be moved into steep rays.
    #[must_use]
    pub fn of_moved(path: &LightPath) -> Self {
        Self::drawn(Unknowns::for_file(path, true))
    }

    fn drawn(unknowns: Unknowns) -> Self {
        let points = (0..DRAWS)
            .map(|draw| unknowns.draw_by_name(SEED, draw))
            .collect();
        Self { unknowns, points }
    }
}

/// The stands that a file refers to, or else those that it and the catalog leave `open`.
#[must_use]
pub fn stands_of<'a>(told: Option<&'a Stands>, open: impl Fn() -> Stands) -> Cow<'a, Stands> {
    told.map_or_else(|| Cow::Owned(open()), Cow::Borrowed)
}

/// The light of settings over stands.
struct OverStands<'a> {
    bench: Bench<'a>,
    surface: Option<BenchSurface>,
}

impl<'a> OverStands<'a> {
    fn new(
        scene: &Scene,
        stands: &'a Stands,
        settings: &[BenchSetting],
    ) -> Result<Self, StudyError> {
        let bench = Bench::new(scene, &stands.unknowns, settings, Care::Little)
            .map_err(|(_, error)| error)?;
        let points = bench.points();
        // With many unknowns, polynomials need more runs to be fitted than they save, and their few terms may not follow the light.
        let surface = (2 * points <= stands.points.len())
            .then(|| bench.surface(&stands.points[..points], &vec![1.0; points]))
            .filter(|surface| {
                let fresh = &stands.points[points..];
                let checked: Vec<&Vec<f64>> = fresh.iter().take(CHECKED).collect();
                bench.surface_error(surface, &checked) <= CLOSE
            });
        Ok(Self { bench, surface })
    }

    /// Crossed over parallel light in each setting.
    fn light(&self, points: &[Vec<f64>]) -> Vec<Vec<f64>> {
        threads::map_with(
            0..points.len(),
            SurfaceWork::default,
            |work, k| match &self.surface {
                Some(surface) => {
                    self.bench.by_surface(surface, &points[k], work);
                    work.light.clone()
                }
                None => self.bench.direct_all(&points[k]),
            },
        )
    }
}

/// The interval of ratios, where there is something to tell: stands that leak, and not all alike.
fn interval(ratios: &[f64]) -> Option<Interval> {
    let interval = Interval::of(ratios);
    (interval.width() > ALIKE_WITHIN * interval.median).then_some(interval)
}

/// The extinction ratio over stands, specimens out; `None` where nothing is unknown or nothing leaks, and where what is unknown changes nothing, such as with
/// polars that are not crossed.
///
/// # Errors
/// [`StudyError`] when the path as written cannot be run.
///
/// Checked by: `tests/laws/doubt.rs`, against direct runs.
pub fn doubt(scene: &Scene, stands: &Stands) -> Result<Option<Doubt>, StudyError> {
    if stands.unknowns.list.is_empty() || stands.points.is_empty() {
        return Ok(None);
    }
    let over = OverStands::new(scene, stands, &[BenchSetting::default()])?;
    // The light of each stand; not a number where there is none.
    let first = |light: Vec<Vec<f64>>| -> Vec<f64> {
        (light.into_iter())
            .map(|light| light.first().copied().unwrap_or(f64::NAN))
            .map(|light| if light > NOTHING { light } else { f64::NAN })
            .collect()
    };
    let finite = |values: Vec<f64>| -> Vec<f64> {
        values
            .into_iter()
            .filter(|value| value.is_finite())
            .collect()
    };
    // A large sample is told as well by some of it.
    let stride = stands.points.len().div_ceil(2 * DRAWS);
    let some: Vec<Vec<f64>> = stands.points.iter().step_by(stride).cloned().collect();
    let ratios: Vec<f64> = first(over.light(&some))
        .iter()
        .map(|light| 1.0 / light)
        .collect();
    let Some(written) = over.bench.written() else {
        return Ok(None);
    };
    let told = finite(ratios.clone());
    let Some(extinction_ratio) = interval(&told).filter(|_| written > NOTHING) else {
        return Ok(None);
    };
    let below = told.iter().filter(|ratio| **ratio < 1.0 / written).count();
    // Each unknown alone, the others in the middle.
    let middle: Vec<f64> = (0..stands.unknowns.count())
        .map(|at| Interval::of(&stands.points.iter().map(|p| p[at]).collect::<Vec<_>>()).median)
        .collect();
    let count = match over.surface {
        Some(_) => ALONE.0,
        None => ALONE.1,
    };
    let mut widest = (0.0, "");
    for (unknown, place) in stands.unknowns.places() {
        let alone: Vec<Vec<f64>> = (stands.points.iter().take(count))
            .map(|point| {
                let mut alone = middle.clone();
                alone[place.clone()].copy_from_slice(&point[place.clone()]);
                alone
            })
            .collect();
        let logs = first(over.light(&alone))
            .iter()
            .map(|l| math::log(*l))
            .collect();
        let width = Interval::of(&finite(logs)).width();
        if width > widest.0 {
            widest = (width, &unknown.told[0].name);
        }
    }
    Ok(Some(Doubt {
        extinction_ratio,
        below_as_written: below as f64 / told.len() as f64,
        widest: widest.1.to_owned(),
        draws: told.len(),
        ratios,
    }))
}

/// Stands are put into so many groups that are alike in one unknown number.
const ALIKE: usize = 10;
/// A number that explains less than this part of a variance is not worth naming. Of a thousand draws chance explains about a hundredth.
const TELLS: f64 = 0.2;

/// What is known of the places of the lower polar; `None` where nothing is unknown.
///
/// # Errors
/// [`StudyError`] when a place as written cannot be run.
///
/// Checked by: `tests/laws/doubt.rs`.
pub fn places_known(
    scene: &Scene,
    stands: &Stands,
    answer: &Placement,
) -> Result<Option<PlacesKnown>, StudyError> {
    let stands_there =
        |place: &PlaceAnswer| place.placed.refused.is_none() && place.placed.same_as.is_none();
    let settings: Vec<BenchSetting> = (answer.lower.iter().filter(|place| stands_there(place)))
        .map(|place| BenchSetting {
            polar_at: (!place.placed.written).then(|| place.placed.place.clone()),
            ..BenchSetting::default()
        })
        .collect();
    if stands.unknowns.list.is_empty() || settings.is_empty() {
        return Ok(None);
    }
    let over = OverStands::new(scene, stands, &settings)?;
    let light = over.light(&stands.points);
    let places: Vec<usize> = (0..answer.lower.len())
        .filter(|index| stands_there(&answer.lower[*index]))
        .collect();
    let mut known = vec![None; answer.lower.len()];
    for (at, &place) in places.iter().enumerate() {
        let ratios: Vec<f64> = (light.iter().map(|light| light[at]))
            .filter(|light| *light > NOTHING)
            .map(|light| 1.0 / light)
            .collect();
        let written = answer.own(&answer.lower[place]);
        let written = written.and_then(|at| at.extinction_ratio);
        let below = (ratios.iter()).filter(|ratio| written.is_none_or(|own| **ratio < own));
        known[place] = Some(PlaceKnown {
            below_as_written: below.count() as f64 / ratios.len().max(1) as f64,
            extinction_ratio: interval(&ratios),
        });
    }
    let odds = |contest: &BestPlace| {
        let rivals: Vec<usize> = (0..places.len())
            .filter(|at| contest.rivals.contains(&places[*at]))
            .collect();
        odds(stands, &light, &places, &rivals)
    };
    Ok(Some(PlacesKnown {
        known,
        odds: odds(&answer.verdict),
        without_oil: answer.without_oil.as_ref().map(odds),
    }))
}

/// In which part of the stands each of some rivals is the darkest of them. Rivals are told by their column of `light`, whose places are `places`.
fn odds(stands: &Stands, light: &[Vec<f64>], places: &[usize], rivals: &[usize]) -> PlaceOdds {
    let mut counts = vec![0usize; places.len()];
    let mut done = 0;
    for light in light {
        let darkest = (rivals.iter().filter(|at| light[**at].is_finite()))
            .min_by(|a, b| light[**a].total_cmp(&light[**b]));
        if let Some(&at) = darkest {
            counts[at] += 1;
            done += 1;
        }
    }
    let probability = |at: usize| (places[at], counts[at] as f64 / done.max(1) as f64);
    PlaceOdds {
        best_probability: rivals.iter().map(|at| probability(*at)).collect(),
        hangs_on: hangs_on(stands, light, &counts, rivals),
    }
}

/// The unknown number that tells most of which of the two most probable places is darker: of the variance of the logarithm of their lights' ratio, the mean
/// over stands that are alike in that number explains the largest part (the correlation ratio), and [`TELLS`] at least.
fn hangs_on(
    stands: &Stands,
    light: &[Vec<f64>],
    counts: &[usize],
    rivals: &[usize],
) -> Option<String> {
    let mut order = rivals.to_vec();
    order.sort_by_key(|place| std::cmp::Reverse(counts[*place]));
    let [one, other] = *order.get(..2)? else {
        return None;
    };
    let (points, differences): (Vec<&Vec<f64>>, Vec<f64>) = (stands.points.iter().zip(light))
        .map(|(point, light)| (point, math::log(light[one] / light[other])))
        .filter(|(_, difference)| difference.is_finite())
        .unzip();
    let explained = |at: usize| {
        let numbers: Vec<f64> = points.iter().map(|point| point[at]).collect();
        let order = order_of(&numbers);
        let sorted: Vec<f64> = order.iter().map(|k| differences[*k]).collect();
        let mean = |some: &[f64]| some.iter().sum::<f64>() / some.len() as f64;
        let whole = mean(&sorted);
        let square = |value: f64| (value - whole) * (value - whole);
        let variance: f64 = sorted.iter().map(|value| square(*value)).sum();
        let between: f64 = (sorted.chunks(points.len().div_ceil(ALIKE)))
            .map(|alike| alike.len() as f64 * square(mean(alike)))
            .sum();
        if variance > 0.0 {
            between / variance
        } else {
            0.0
        }
    };
    if points.len() < ALIKE * ALIKE {
        return None;
    }
    let mut most = (TELLS, None);
    for (unknown, place) in stands.unknowns.places() {
        for (told, at) in place.enumerate() {
            let share = explained(at);
            if share > most.0 {
                most = (share, unknown.told.get(told));
            }
        }
    }
    most.1.map(|told| told.name.clone())
}
