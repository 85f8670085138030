//! A stated specimen on the stage of a light path, turned to any azimuth.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use serde::Serialize;

use crate::color::{Adaptation, ColorWeights, Xyz};
use crate::light_path::{LightPath, Part, PartKind};
use crate::math;
use crate::optics::{Rays, Specimen};

use super::StudyError;
use super::lamp::Lamp;
use super::measures::{GREEN_NM, NOTHING};
use super::observer::Criterion;
use super::quantity::{Quantity, QuantityKind};
use super::response::Response;
use super::told::degrees;

/// Azimuths between 0 and 180 degrees at which the best one is looked for; a field is a sum of two waves over it.
const SCANNED: usize = 36;

/// Halvings, by the golden section, of the interval around the best of them.
const REFINED: usize = 30;

/// A path with one stated specimen on its stage, of no path difference yet.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Staged {
    /// The path.
    pub(super) path: LightPath,
    /// Index of the specimen.
    pub(super) specimen: usize,
    /// Whether the scenario had no specimen there and one was added: the index of every part behind it is then larger by one.
    inserted: bool,
}

impl Staged {
    /// The first specimen of the path is replaced where it lies, and further ones are made to do nothing. In a path without a specimen it is added
    /// behind the slide; without a slide, right before the objective; without an objective either, behind the parts that must lie below a specimen.
    #[must_use]
    pub(super) fn of(path: &LightPath) -> Self {
        let mut path = emptied(path);
        let had = path.find(|kind| matches!(kind, PartKind::Specimen(_)));
        let specimen = had.unwrap_or_else(|| place(&path));
        if had.is_none() {
            let part = Part {
                name: "specimen".to_owned(),
                kind: PartKind::Specimen(NO_SPECIMEN),
                tolerance: None,
            };
            path.parts.insert(specimen, part);
        }
        Self {
            path,
            specimen,
            inserted: had.is_none(),
        }
    }

    /// The same quantity in this path, with the index that its part has here.
    #[must_use]
    pub(super) fn moved(&self, quantity: Quantity) -> Quantity {
        let up = |part| part + usize::from(self.inserted && part >= self.specimen);
        Quantity {
            part: quantity.part.map(up),
            ..quantity
        }
    }

    /// The specimen's path difference and azimuth.
    #[must_use]
    pub(super) fn quantities(&self) -> [Quantity; 2] {
        [QuantityKind::PathDifference, QuantityKind::Azimuth].map(|kind| Quantity {
            part: Some(self.specimen),
            kind,
        })
    }
}

const NO_SPECIMEN: Specimen = Specimen::Stated {
    path_difference_nm: 0.0,
    slow_azimuth_rad: 0.0,
};

/// The same path with every specimen made to do nothing, and without tolerances of specimens. The parts keep their index.
pub(super) fn emptied(path: &LightPath) -> LightPath {
    let mut path = path.clone();
    for part in &mut path.parts {
        if matches!(part.kind, PartKind::Specimen(_)) {
            part.kind = PartKind::Specimen(NO_SPECIMEN);
            part.tolerance = None;
        }
    }
    path
}

/// Where a specimen goes in a path without one.
fn place(path: &LightPath) -> usize {
    let behind = |part: Option<usize>| part.map_or(0, |part| part + 1);
    let low = behind(path.lower_polar());
    if let Some(slide) = path.find(|kind| matches!(kind, PartKind::Slide(_))) {
        return low.max(slide + 1);
    }
    if let Some(objective) = path.find(|kind| matches!(kind, PartKind::Objective(_))) {
        return objective;
    }
    let condenser =
        (path.parts.iter()).rposition(|part| matches!(part.kind, PartKind::Condenser(_)));
    let low = low.max(behind(condenser));
    let quarter_wave = path.parts.get(low).map(|part| &part.kind);
    low + usize::from(path.is_circular() && matches!(quarter_wave, Some(PartKind::Retarder(_))))
}

/// The light of a staged path as a function of some quantities, and of the specimen's path difference and azimuth.
pub(super) struct Stage<'a> {
    weights: &'a ColorWeights,
    response: Response,
    plates: bool,
}

impl<'a> Stage<'a> {
    /// `quantities` are the staged path's; each is wanted within its range. `nodes` as of [`Lamp::response`].
    pub(super) fn new(
        staged: &Staged,
        quantities: &[Quantity],
        ranges: &[(f64, f64)],
        plates: bool,
        rays: &Rays,
        lamp: &'a Lamp<'a>,
        nodes: Option<usize>,
    ) -> Result<Self, StudyError> {
        let quantities = [quantities, &staged.quantities()].concat();
        // What a stated specimen does is a finite form of both: any range gives the same.
        let ranges = [ranges, &[(0.0, GREEN_NM / 2.0), (0.0, PI)]].concat();
        let response = lamp.response(&staged.path, &quantities, &ranges, rays, plates, nodes)?;
        Ok(Self {
            weights: &lamp.weights,
            response,
            plates,
        })
    }

    /// Whether the light is tabulated: otherwise every answer is a run of its own.
    pub(super) fn is_fast(&self) -> bool {
        self.response.nodes().is_some()
    }

    /// The fields with the quantities at `values` and a specimen of `path_difference_nm`.
    pub(super) fn looks(
        &self,
        values: &[f64],
        path_difference_nm: f64,
    ) -> Result<Looks, StudyError> {
        let mut values = [values, &[0.0, 0.0]].concat();
        let at = values.len() - 2;
        let light = self.response.light(&values)?;
        let parallel = self.weights.xyz(&light.parallel)?;
        let relative = |crossed: &[f64]| -> Result<Xyz, StudyError> {
            Ok((self.weights.xyz(crossed)?).scaled(1.0 / parallel.luminance()))
        };
        values[at] = path_difference_nm;
        let mut turned = [Xyz::BLACK; 5];
        for (k, field) in turned.iter_mut().enumerate() {
            values[at + 1] = PI * k as f64 / 5.0;
            *field = relative(&self.response.light(&values)?.crossed)?;
        }
        Ok(Looks {
            background: relative(&light.crossed)?,
            specimen: FiveAzimuths::through(turned),
            balance: Adaptation::to_d65(parallel).unwrap_or(Adaptation::NONE),
            plates: self.plates,
        })
    }
}

/// A specimen and its background, relative to the luminance of the parallel field.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Looks {
    pub(super) background: Xyz,
    pub(super) specimen: FiveAzimuths,
    pub(super) balance: Adaptation,
    /// Whether accessory plates are in.
    pub(super) plates: bool,
}

/// What bias makes of a specimen. Bias is light that leaks in step with the specimen's, from strain between the polars: at one slow azimuth of
/// the specimen it adds to the specimen's own light, and at right angles it takes away as much.
///
/// Contrasts are Weber contrasts of luminances, below 0 where the specimen is darker than the background.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bias {
    /// The specimen's slow azimuth, radians within 0 to pi, at which bias adds most.
    #[serde(rename = "azimuth_deg", serialize_with = "degrees")]
    pub azimuth_rad: f64,
    /// Contrast there by the specimen's own light alone.
    #[serde(rename = "own_contrast")]
    pub own: f64,
    /// Contrast there by both.
    #[serde(rename = "contrast_with_bias")]
    pub with_bias: f64,
    /// Contrast of the same specimen turned by 90 degrees.
    #[serde(rename = "contrast_turned_90_deg")]
    pub turned: f64,
}

impl Looks {
    /// Every criterion is passed by so many times its threshold; this is the smallest of these numbers, at the azimuth at which it is largest.
    pub(super) fn best(&self, criteria: &[Criterion]) -> (f64, f64) {
        best_azimuth(|azimuth_rad| self.times(criteria, azimuth_rad, 1.0))
    }

    /// The smallest of these numbers at one azimuth, with the specimen's light multiplied by `factor`.
    ///
    /// With the plates out a specimen is judged by its own light, the mean of what it shows and what it shows turned by 90 degrees: what bias
    /// adds at one azimuth it takes away at the other. With a plate in, which is bias by intention, the fainter of the two counts.
    pub(super) fn times(&self, criteria: &[Criterion], azimuth_rad: f64, factor: f64) -> f64 {
        let least = |specimen: Xyz| {
            let specimen = specimen.scaled(factor);
            (criteria.iter())
                .map(|criterion| criterion.times(specimen, self.background, &self.balance))
                .fold(f64::INFINITY, f64::min)
        };
        if self.plates {
            let [here, turned] = [azimuth_rad, azimuth_rad + FRAC_PI_2];
            least(self.specimen.at(here)).min(least(self.specimen.at(turned)))
        } else {
            least(self.specimen.own(azimuth_rad))
        }
    }

    /// What bias does beside the specimen's own light; `None` with the plates in, and before a background without light.
    pub(super) fn bias(&self) -> Option<Bias> {
        let background = self.background.luminance();
        if self.plates || background <= NOTHING {
            return None;
        }
        let azimuth_rad = self.specimen.biased_rad();
        let contrast = |field: Xyz| field.luminance() / background - 1.0;
        Some(Bias {
            azimuth_rad,
            own: contrast(self.specimen.own(azimuth_rad)),
            with_bias: contrast(self.specimen.at(azimuth_rad)),
            turned: contrast(self.specimen.at(azimuth_rad + FRAC_PI_2)),
        })
    }

    /// The largest factor by which a relative error of the light can grow into a relative error of [`Self::times`]: specimen and background may be
    /// off by that error in opposite directions.
    pub(super) fn sensitivity(&self, criteria: &[Criterion], azimuth_rad: f64) -> f64 {
        let small = 1e-6;
        let [less, more] = [1.0 - small, 1.0 + small].map(|f| self.times(criteria, azimuth_rad, f));
        let change = math::log(more / less).abs() / small;
        if change.is_finite() { change } else { 0.0 }
    }
}

/// Where a function of an azimuth is largest between 0 and 180 degrees, and how large.
fn best_azimuth(value: impl Fn(f64) -> f64) -> (f64, f64) {
    let step = PI / SCANNED as f64;
    let (mut at, mut best) = (0.0, f64::NEG_INFINITY);
    for k in 0..SCANNED {
        let here = value(k as f64 * step);
        if here > best {
            (at, best) = (k as f64 * step, here);
        }
    }
    let (refined, value) = golden(at - step, at + step, REFINED, |azimuth| -value(azimuth));
    if -value > best {
        (at, best) = (refined, -value);
    }
    (at.rem_euclid(PI), best)
}

/// Golden section: where a function is least in an interval that holds one minimum, and how little.
pub(super) fn golden(
    mut from: f64,
    mut to: f64,
    steps: usize,
    value: impl Fn(f64) -> f64,
) -> (f64, f64) {
    let ratio = 0.5 * (5f64.sqrt() - 1.0);
    let (mut low, mut high) = (to - ratio * (to - from), from + ratio * (to - from));
    let (mut at_low, mut at_high) = (value(low), value(high));
    for _ in 0..steps {
        if at_low <= at_high {
            (to, high, at_high) = (high, low, at_low);
            low = to - ratio * (to - from);
            at_low = value(low);
        } else {
            (from, low, at_low) = (low, high, at_high);
            high = from + ratio * (to - from);
            at_high = value(high);
        }
    }
    if at_low <= at_high {
        (low, at_low)
    } else {
        (high, at_high)
    }
}

/// A field over the specimen's azimuth `a`: `1, cos 2a, sin 2a, cos 4a, sin 4a` for each of X, Y and Z.
///
/// A uniform retarder between fixed surroundings is `c + i s (C sigma_1 + S sigma_2)`, `(C, S) = (cos, sin)(2a)`, and light is
/// quadratic in it: the fields at five azimuths determine it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct FiveAzimuths([[f64; 5]; 3]);

impl FiveAzimuths {
    /// Through the fields at 0, 36, 72, 108 and 144 degrees.
    fn through(fields: [Xyz; 5]) -> Self {
        Self([0, 1, 2].map(|axis| {
            let mut sums = [0.0; 5];
            for (k, field) in fields.iter().enumerate() {
                let phase = TAU * k as f64 / 5.0;
                for (sum, wave) in sums.iter_mut().zip(waves(phase)) {
                    *sum += 0.4 * wave * field.0[axis];
                }
            }
            sums[0] *= 0.5;
            sums
        }))
    }

    /// At an azimuth, radians.
    pub(super) fn at(&self, azimuth_rad: f64) -> Xyz {
        self.sum(waves(2.0 * azimuth_rad))
    }

    /// The mean of an azimuth and the one at right angles to it, or of a specimen and its opposite: what is quadratic in its `(C, S)`,
    /// so that the waves of 2a fall out.
    fn own(&self, azimuth_rad: f64) -> Xyz {
        let [one, _, _, cos4, sin4] = waves(2.0 * azimuth_rad);
        self.sum([one, 0.0, 0.0, cos4, sin4])
    }

    /// The azimuth at which the waves of 2a add most luminance, radians within 0 to pi.
    fn biased_rad(&self) -> f64 {
        let [_, cos2, sin2, ..] = self.0[1];
        (0.5 * math::atan2(sin2, cos2)).rem_euclid(PI)
    }

    fn sum(&self, waves: [f64; 5]) -> Xyz {
        Xyz(self
            .0
            .map(|c| c.iter().zip(waves).map(|(c, wave)| c * wave).sum()))
    }
}

fn waves(phase: f64) -> [f64; 5] {
    let (sin, cos) = math::sincos(phase);
    [1.0, cos, sin, cos * cos - sin * sin, 2.0 * sin * cos]
}
