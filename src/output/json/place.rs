//! `place` as JSON.

use serde::{Serialize, Serializer};

use super::object;
use crate::output::findings::DECIDED;
use crate::output::words;
use crate::study::place::{
    BestPlace, IrisFlip, NoBest, Note, PlaceAnswer, PlaceOdds, Placement, StrainFlip,
};

impl Serialize for Placement {
    /// Places are named as in the table.
    ///
    /// Checked by: `tests/cli/place.rs`.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let without_oil = self.without_oil.as_ref();
        let odds = self.verdict.odds.as_ref();
        let probable = odds.and_then(PlaceOdds::first);
        object!(serializer, {
            "na": self.na,
            "verdict": contest(self, &self.verdict),
            "without_oil": without_oil.map(|dry| contest(self, dry)),
            "condenser_strain": self.strain,
            "spectral_error": self.spectral_error,
            "decided": match self.summed_in {
                Some(_) => Some(false),
                None => probable.map(|(_, probability)| probability >= DECIDED),
            },
            "hangs_on" if some: odds.and_then(|odds| odds.hangs_on.as_ref()),
            "summed_in" if some: self.summed_in,
            "places": places(&self.lower, odds),
            "analyzer_places": places(&self.analyzer, None),
        })
    }
}

fn contest<'a>(answer: &Placement, verdict: &'a BestPlace) -> Contest<'a> {
    let name = |place: usize| words::place(&answer.lower[place]);
    let by_iris = verdict.best_at.iter().zip(&answer.iris_na);
    Contest {
        best: verdict.no_best.is_none().then(|| name(verdict.best)),
        no_best: verdict.no_best,
        most_probable: verdict.odds.as_ref().and_then(PlaceOdds::first).map(
            |(place, probability)| MostProbable {
                place: name(place),
                probability,
            },
        ),
        best_over_iris: by_iris
            .map(|(best, iris_na)| BestAt {
                iris_na: *iris_na,
                best: best.map(name),
            })
            .collect(),
        iris_flips: (verdict.iris_flips.iter())
            .map(|flip| Flip {
                flip,
                better_below: name(flip.from),
                better_above: name(flip.to),
                extinction_ratio: flip.extinction_ratio,
            })
            .collect(),
        best_unstrained: verdict.best_unstrained.map(name),
        strain_flips: (verdict.strain_flips.iter())
            .map(|flip| Flip {
                flip,
                better_below: name(flip.from),
                better_above: name(flip.to),
                extinction_ratio: flip.extinction_ratio,
            })
            .collect(),
    }
}

fn places<'a>(list: &'a [PlaceAnswer], odds: Option<&PlaceOdds>) -> Vec<PlaceJson<'a>> {
    let probability = |index: usize| {
        let mut all = odds?.best_probability.iter();
        all.find(|(place, _)| *place == index)
            .map(|(_, part)| *part)
    };
    let one = |(index, place)| PlaceJson {
        place,
        list,
        best_probability: probability(index),
    };
    list.iter().enumerate().map(one).collect()
}

/// A verdict with places by name: the study names them by their index in the list of places.
#[derive(Serialize)]
struct Contest<'a> {
    best: Option<String>,
    no_best: Option<NoBest>,
    #[serde(skip_serializing_if = "Option::is_none")]
    most_probable: Option<MostProbable>,
    best_over_iris: Vec<BestAt>,
    iris_flips: Vec<Flip<'a, IrisFlip>>,
    best_unstrained: Option<String>,
    strain_flips: Vec<Flip<'a, StrainFlip>>,
}

/// The place that is most probably the best as far as the parts are known; `best` is that of the numbers as written.
#[derive(Serialize)]
struct MostProbable {
    place: String,
    probability: f64,
}

#[derive(Serialize)]
struct BestAt {
    iris_na: f64,
    best: Option<String>,
}

/// An iris or a strain at which the best place changes, with both places by name.
#[derive(Serialize)]
struct Flip<'a, F: Serialize> {
    #[serde(flatten)]
    flip: &'a F,
    better_below: String,
    better_above: String,
    extinction_ratio: Option<f64>,
}

/// A place beside the list in which it stands, which names the place that it is the same as.
struct PlaceJson<'a> {
    place: &'a PlaceAnswer,
    list: &'a [PlaceAnswer],
    best_probability: Option<f64>,
}

impl Serialize for PlaceJson<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self {
            place,
            list,
            best_probability,
        } = self;
        let practice = place.notes.iter().map(|note| Practice {
            rule: *note,
            words: words::note(note),
        });
        object!(serializer, {
            "place": words::place(place),
            "written": place.placed.written,
            "same_as": place.placed.same_as.map(|same| words::place(&list[same])),
            "refused": place.placed.refused.as_ref().map(ToString::to_string),
            "best_probability" if some: best_probability,
            "doubt" if some: place.known.as_ref(),
            "outside_the_polars": place.placed.outside,
            "over_iris": place.at_iris.iter().flatten().collect::<Vec<_>>(),
            "practice": practice.collect::<Vec<_>>(),
        })
    }
}

/// A rule of practice with its words, which are those of the table: the study has none.
#[derive(Serialize)]
struct Practice {
    #[serde(flatten)]
    rule: Note,
    words: String,
}
