//! Places brought to light, setting by setting.

use super::contest::{self, Change, PlaceLight, best, changes};
use super::places::{PlacedPath, Refusal};
use super::strain::Scan;
use super::{AtIris, BestPlace, IrisFlip, NoBest, PlaceAnswer, StrainFlip, StrainTried};
use crate::light_path::{Crossing, LightPath, PathError};
use crate::study::lamp::Lamp;
use crate::study::predict::leak_shares;
use crate::threads;

/// Iris settings to an NA of 1: steps of 0.05.
const STEPS_PER_NA: f64 = 20.0;

/// No more steps than this, however wide the iris opens.
const MOST_STEPS: u32 = 40;

/// What every run shares.
pub(super) struct PlaceBench<'a> {
    lamp: &'a Lamp<'a>,
    /// Iris settings, rising.
    pub(super) iris_na: Vec<f64>,
    /// Which of them is the scenario's own.
    own: usize,
    /// Luminance of the parallel field's image as written.
    written_luminance: f64,
    /// Whether the polars are crossed, or circular.
    crossed: bool,
}

/// Every place under a condenser of every strain, at the scenario's own iris.
pub(super) struct Strained {
    scan: Scan,
    /// The path as written.
    path: LightPath,
    /// The light of each place at each factor of the scan; `None` where the polar cannot stand or an earlier place has the same.
    lights: Vec<Vec<Option<PlaceLight>>>,
}

impl Strained {
    pub(super) fn tried(&self) -> StrainTried {
        StrainTried {
            written_rms_nm: self.scan.written_rms_nm,
            assumed: self.scan.assumed,
            most_rms_nm: self.scan.most_nm(),
        }
    }
}

impl<'a> PlaceBench<'a> {
    pub(super) fn new(path: &LightPath, lamp: &'a Lamp<'a>, written_parallel: f64) -> Self {
        let own_na = path.na();
        let iris_na = iris_settings(path);
        Self {
            lamp,
            own: iris_na.iter().position(|na| *na == own_na).unwrap_or(0),
            iris_na,
            written_luminance: written_parallel * own_na.powi(2),
            crossed: matches!(
                path.crossing(),
                Crossing::Crossed { .. } | Crossing::Circular
            ),
        }
    }

    pub(super) fn light(&self, path: &LightPath) -> Result<PlaceLight, PathError> {
        PlaceLight::of(path, self.lamp)
    }

    /// Places at every iris setting.
    pub(super) fn compare(&self, places: Vec<PlacedPath>) -> Result<Vec<PlaceAnswer>, PathError> {
        let mut answers: Vec<PlaceAnswer> = Vec::with_capacity(places.len());
        for mut placed in places {
            let at_iris = match placed.same_as {
                Some(same) => answers[same].at_iris.clone(),
                None => threads::try_each(&self.iris_na, |na| self.at_iris(&placed, *na))?,
            };
            if placed.refused.is_none() {
                let checked = placed.path.check(self.lamp.wavelengths_nm);
                placed.refused = checked.err().map(Refusal::Path);
            }
            answers.push(PlaceAnswer {
                placed,
                at_iris,
                notes: Vec::new(),
                known: None,
            });
        }
        Ok(answers)
    }

    /// One place at one iris setting; `None` where the polar cannot stand.
    fn at_iris(&self, placed: &PlacedPath, na: f64) -> Result<Option<AtIris>, PathError> {
        let path = with_iris(&placed.path, na);
        if placed.refused.is_some() || path.check(self.lamp.wavelengths_nm).is_err() {
            return Ok(None);
        }
        let path = contest::without_plates(path);
        let light = self.light(&path)?;
        Ok(Some(AtIris {
            iris_na: na,
            extinction_ratio: light.extinction_ratio(),
            relative_luminance: light.leak,
            parallel_luminance: light.parallel * na.powi(2) / self.written_luminance,
            quadrature_error: light.error,
            leak: leak_shares(&path, self.lamp.wavelengths_nm, &self.lamp.luminous)?,
        }))
    }

    /// Every place under a condenser of every strain; `None` without a condenser.
    pub(super) fn strain(
        &self,
        path: &LightPath,
        places: &[PlaceAnswer],
    ) -> Result<Option<Strained>, PathError> {
        let Some(scan) = Scan::of(path) else {
            return Ok(None);
        };
        let lights = places.iter().map(|place| {
            let light = |factor: f64| self.light(&scan.path(&place.placed.path, factor));
            if place.placed.refused.is_some() || place.placed.same_as.is_some() {
                Ok(vec![None; scan.factor.len()])
            } else if Scan::matters(&place.placed.path) {
                threads::try_each(&scan.factor, |factor| light(*factor).map(Some))
            } else {
                Ok(vec![Some(light(0.0)?); scan.factor.len()])
            }
        });
        Ok(Some(Strained {
            lights: lights.collect::<Result<_, PathError>>()?,
            path: path.clone(),
            scan,
        }))
    }

    /// The contest between some places, named by their index.
    pub(super) fn verdict(
        &self,
        places: &[PlaceAnswer],
        strain: Option<&Strained>,
        rivals: &[usize],
    ) -> Result<BestPlace, PathError> {
        let written = (rivals.iter()).position(|rival| places[*rival].placed.written);
        let best_of = |lights: &[Vec<Option<PlaceLight>>], k: usize| {
            let lights: Vec<_> = lights.iter().map(|lights| lights[k]).collect();
            best(&lights, written.unwrap_or(0)).map(|rival| rivals[rival])
        };
        let path = |rival: usize| &places[rivals[rival]].placed.path;
        let lights: Vec<Vec<Option<PlaceLight>>> = (rivals.iter())
            .map(|rival| {
                let at_iris = places[*rival].at_iris.iter();
                at_iris.map(|seen| Some(seen.as_ref()?.light())).collect()
            })
            .collect();
        let by_iris = changes(&self.iris_na, &lights, |rival, na| {
            self.light(&with_iris(path(rival), na))
        })?;
        let best_at: Vec<Option<usize>> = (0..self.iris_na.len())
            .map(|k| best_of(&lights, k))
            .collect();
        let mut verdict = BestPlace {
            rivals: rivals.to_vec(),
            best: best_at[self.own].unwrap_or(rivals[written.unwrap_or(0)]),
            no_best: if !self.crossed {
                Some(NoBest::NotCrossed)
            } else if contest::all_alike(lights.iter().map(|lights| lights[self.own])) {
                Some(NoBest::AllAlike)
            } else {
                None
            },
            best_at,
            iris_flips: by_iris
                .iter()
                .map(|change| iris_flip(change, rivals))
                .collect(),
            best_unstrained: None,
            strain_flips: Vec::new(),
            odds: None,
        };
        if let Some(Strained {
            scan,
            path: written_path,
            lights,
        }) = strain
        {
            let lights: Vec<_> = rivals.iter().map(|rival| lights[*rival].clone()).collect();
            let by_strain = changes(&scan.factor, &lights, |rival, factor| {
                self.light(&scan.path(path(rival), factor))
            })?;
            verdict.best_unstrained = best_of(&lights, 0);
            verdict.strain_flips = (by_strain.iter())
                .map(|change| StrainFlip {
                    from: rivals[change.from],
                    to: rivals[change.to],
                    ..scan.flip(change, written_path)
                })
                .collect();
        }
        Ok(verdict)
    }
}

impl AtIris {
    fn light(&self) -> PlaceLight {
        PlaceLight {
            parallel: self.parallel_luminance,
            leak: self.relative_luminance,
            error: self.quadrature_error,
        }
    }
}

fn iris_flip(change: &Change, rivals: &[usize]) -> IrisFlip {
    IrisFlip {
        iris_na: change.at,
        uncertainty: change.uncertainty,
        from: rivals[change.from],
        to: rivals[change.to],
        extinction_ratio: change.extinction_ratio,
    }
}

/// The iris settings that are compared: steps up to the full NA, which is what lenses and eye let through with the iris open, and the scenario's own
/// setting.
fn iris_settings(path: &LightPath) -> Vec<f64> {
    let open = LightPath {
        iris_na: None,
        ..path.clone()
    };
    let (own, full) = (path.na(), open.na());
    let mut settings: Vec<f64> = (1..=MOST_STEPS)
        .map(|k| f64::from(k) / STEPS_PER_NA)
        .take_while(|na| *na < full - 1e-9)
        .filter(|na| (na - own).abs() > 1e-9)
        .chain([own, full])
        .collect();
    settings.sort_by(f64::total_cmp);
    settings.dedup();
    settings
}

fn with_iris(path: &LightPath, na: f64) -> LightPath {
    LightPath {
        iris_na: Some(na),
        ..path.clone()
    }
}
