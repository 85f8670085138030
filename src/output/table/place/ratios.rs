//! The extinction ratios of places: which an answer leads with, and what is known of them.

use crate::output::numbers::supported;
use crate::output::words::place;
use crate::study::doubt::median_leads;
use crate::study::place::{HARDLY, PlaceAnswer, Placement};

use super::ratio;

/// The extinction ratios of some places, infinite where nothing leaks.
pub(super) struct Ratios {
    /// Those that the answer leads with.
    leading: Vec<f64>,
    /// Those of every part exactly as written, where these do not lead.
    written: Option<Vec<f64>>,
}

impl Ratios {
    /// The medians of what is known lead, where of any place of the answer the number as written lies off the middle.
    pub(super) fn of(answer: &Placement, places: &[&PlaceAnswer]) -> Self {
        let written = |place: &&PlaceAnswer| {
            let at = answer.own(place).and_then(|at| at.extinction_ratio);
            at.unwrap_or(f64::INFINITY)
        };
        let written: Vec<f64> = places.iter().map(written).collect();
        let off_the_middle = (answer.lower.iter().flat_map(|place| &place.known))
            .any(|known| median_leads(known.below_as_written));
        let medians: Option<Vec<f64>> = (places.iter())
            .map(|place| Some(place.known.as_ref()?.extinction_ratio?.median))
            .collect();
        match medians.filter(|_| off_the_middle) {
            Some(medians) => Self {
                leading: medians,
                written: Some(written),
            },
            None => Self {
                leading: written,
                written: None,
            },
        }
    }

    /// Whether they are hardly different.
    pub(super) fn are_alike(&self) -> bool {
        let (least, most) = ends(&self.leading);
        most <= least * (1.0 + HARDLY)
    }

    /// One of them in words.
    pub(super) fn told(&self, place: usize) -> String {
        self.words(|ratios| shown(ratios[place]))
    }

    /// From the least to the most of them in words.
    pub(super) fn range(&self) -> String {
        self.words(|ratios| {
            let (least, most) = ends(ratios);
            match shown(least) == shown(most) {
                true => shown(least),
                false => format!("{} to {}", shown(least), shown(most)),
            }
        })
    }

    fn words(&self, of: impl Fn(&[f64]) -> String) -> String {
        let leading = of(&self.leading);
        match &self.written {
            Some(written) => format!("{leading} ({} exactly as written)", of(written)),
            None => leading,
        }
    }
}

fn ends(ratios: &[f64]) -> (f64, f64) {
    let least = ratios.iter().copied().fold(f64::INFINITY, f64::min);
    (least, ratios.iter().copied().fold(0.0, f64::max))
}

fn shown(value: f64) -> String {
    ratio(value.is_finite().then_some(value))
}

/// The extinction ratio of a place as far as the parts are known.
pub(super) fn known_range(place: &PlaceAnswer) -> Option<String> {
    let known = place.known.as_ref()?.extinction_ratio?;
    let of = |value: f64| supported(value, known.low, known.high);
    Some(format!("{} to {}", of(known.low), of(known.high)))
}

/// Why ratios as written lie outside of what is known.
pub(super) fn outside(answer: &Placement) -> Vec<String> {
    let sides = [(true, "darker", "best"), (false, "brighter", "worst")];
    let sentence = |(above, light, end): (bool, &str, &str)| {
        let is_out = |row: &&PlaceAnswer| {
            let at = answer.own(row).and_then(|at| at.extinction_ratio);
            let known = row.known.as_ref().and_then(|known| known.extinction_ratio);
            known.zip(at).is_some_and(|(known, at)| match above {
                true => at > known.high,
                false => at < known.low,
            })
        };
        let places: Vec<String> = answer.lower.iter().filter(is_out).map(place).collect();
        (!places.is_empty()).then(|| {
            format!(
                "Exactly as written, the stand is {light} than nineteen of twenty such stands with the lower polar {}: the file has parts at or near the {end} that they may be.",
                places.join("; ")
            )
        })
    };
    sides.into_iter().filter_map(sentence).collect()
}
