//! `place` as JSON.

use serde::{Serialize, Serializer};

use super::Spectral;
use crate::output::words;
use crate::study::place::{
    AtIris, BestPlace, NoBest, Note, PlaceAnswer, Placement, ProfileAmount, StrainTried,
};
use crate::study::predict::StepChoice;

impl Serialize for Placement {
    /// As in the JSON document: places are named as in the table.
    ///
    /// Checked by: `tests/cli/place.rs`.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        PlaceBody {
            na: self.na,
            verdict: verdict(self, &self.verdict),
            without_oil: self.without_oil.as_ref().map(|dry| verdict(self, dry)),
            condenser_strain: self.strain,
            spectral_error: Spectral {
                error: self.spectral_error,
                step: StepChoice::Given,
            },
            places: places(self, &self.lower),
            analyzer_places: places(self, &self.analyzer),
        }
        .serialize(serializer)
    }
}

fn verdict<'a>(answer: &Placement, verdict: &'a BestPlace) -> Contest<'a> {
    let name = |place: usize| words::place(&answer.lower[place]);
    let by_iris = verdict.best_at.iter().zip(&answer.iris_na);
    Contest {
        best: verdict.no_best.is_none().then(|| name(verdict.best)),
        no_best: verdict.no_best,
        best_over_iris: by_iris
            .map(|(best, iris_na)| BestAt {
                iris_na: *iris_na,
                best: best.map(name),
            })
            .collect(),
        iris_flips: (verdict.iris_flips.iter())
            .map(|flip| IrisFlipJson {
                iris_na: flip.iris_na,
                uncertainty: flip.uncertainty,
                better_below: name(flip.from),
                better_above: name(flip.to),
                extinction_ratio: flip.extinction_ratio,
            })
            .collect(),
        best_unstrained: verdict.best_unstrained.map(name),
        strain_flips: (verdict.strain_flips.iter())
            .map(|flip| StrainFlipJson {
                factor: flip.factor,
                rms_nm: flip.rms_nm,
                relative_uncertainty: flip.relative_uncertainty,
                profiles: &flip.profiles,
                better_below: name(flip.from),
                better_above: name(flip.to),
                extinction_ratio: flip.extinction_ratio,
            })
            .collect(),
    }
}

fn places<'a>(answer: &'a Placement, list: &'a [PlaceAnswer]) -> Vec<PlaceJson<'a>> {
    let one = |place: &'a PlaceAnswer| {
        let seen = answer.iris_na.iter().zip(&place.at_iris);
        PlaceJson {
            place: words::place(place),
            written: place.placed.written,
            same_as: place.placed.same_as.map(|same| words::place(&list[same])),
            refused: (place.placed.refused.as_ref()).map(ToString::to_string),
            best_probability: place.best_probability,
            outside_the_polars: &place.placed.outside,
            over_iris: seen
                .filter_map(|(na, at)| {
                    Some(SettingJson {
                        iris_na: *na,
                        at: at.as_ref()?,
                    })
                })
                .collect(),
            practice: (place.notes.iter())
                .map(|note| Practice {
                    rule: *note,
                    words: words::note(note),
                })
                .collect(),
        }
    };
    list.iter().map(one).collect()
}

#[derive(Serialize)]
struct PlaceBody<'a> {
    na: f64,
    verdict: Contest<'a>,
    without_oil: Option<Contest<'a>>,
    condenser_strain: Option<StrainTried>,
    spectral_error: Spectral,
    places: Vec<PlaceJson<'a>>,
    analyzer_places: Vec<PlaceJson<'a>>,
}

#[derive(Serialize)]
struct Contest<'a> {
    best: Option<String>,
    no_best: Option<NoBest>,
    best_over_iris: Vec<BestAt>,
    iris_flips: Vec<IrisFlipJson>,
    best_unstrained: Option<String>,
    strain_flips: Vec<StrainFlipJson<'a>>,
}

#[derive(Serialize)]
struct BestAt {
    iris_na: f64,
    best: Option<String>,
}

#[derive(Serialize)]
struct IrisFlipJson {
    iris_na: f64,
    uncertainty: f64,
    better_below: String,
    better_above: String,
    extinction_ratio: Option<f64>,
}

#[derive(Serialize)]
struct StrainFlipJson<'a> {
    factor: f64,
    rms_nm: f64,
    relative_uncertainty: f64,
    profiles: &'a [ProfileAmount],
    better_below: String,
    better_above: String,
    extinction_ratio: Option<f64>,
}

#[derive(Serialize)]
struct PlaceJson<'a> {
    place: String,
    written: bool,
    same_as: Option<String>,
    refused: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    best_probability: Option<f64>,
    outside_the_polars: &'a [String],
    over_iris: Vec<SettingJson<'a>>,
    practice: Vec<Practice>,
}

#[derive(Serialize)]
struct SettingJson<'a> {
    iris_na: f64,
    #[serde(flatten)]
    at: &'a AtIris,
}

#[derive(Serialize)]
struct Practice {
    #[serde(flatten)]
    rule: Note,
    words: String,
}
