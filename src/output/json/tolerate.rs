//! `tolerate` as JSON: angles in degrees.

use serde::{Serialize, Serializer};

use super::object;
use crate::light_path::ToleranceKind;
use crate::study::draws::{Draws, Percentile, Varied};
use crate::study::observer::Criterion;
use crate::study::sobol::Estimate;
use crate::study::tolerate::{
    AtAzimuth, Limit, Limits, Rescue, StrainUnits, Target, Tolerable, Tolerances,
};
use crate::study::visibility::{Covered, Seen};

impl Serialize for Tolerances {
    /// Checked by: `tests/cli/tolerate.rs`.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let verdict = &self.verdict;
        let tolerated = self.quantities.iter().map(|of| Tolerated { of, all: self });
        object!(serializer, {
            "na": verdict.na,
            "target": self.target,
            "met": verdict.met(),
            "times": finite(verdict.times),
            "extinction_ratio": verdict.extinction_ratio,
            "doubt" if some: self.doubt,
            "bias": verdict.bias,
            "dominates": verdict.dominates,
            "rescue": verdict.rescue,
            "quadrature_error": verdict.quadrature_error,
            "spectral_error": verdict.spectral_error,
            "tolerated": tolerated.collect::<Vec<_>>(),
            "visibility": self.visibility.observers,
            "draws": self.draws,
        })
    }
}

impl Serialize for Target {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (least, see) = match self {
            Self::Extinction(least) => (Some(least), None),
            Self::See(see) => (None, Some(see)),
        };
        object!(serializer, {
            "extinction_ratio": least,
            "see_nm": see.map(|see| see.path_difference_nm),
            "with_plate": see.is_some_and(|see| see.with_plate),
            "criteria": see.map(|see| see.criteria()).unwrap_or_default(),
        })
    }
}

impl Serialize for Criterion {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (by, full_well) = match *self {
            Self::Contrast { .. } => ("contrast", None),
            Self::Color { .. } => ("colour difference", None),
            Self::Signal { full_well, .. } => ("signal to noise", Some(full_well)),
        };
        object!(serializer, {
            "by": by,
            "least": self.least(),
            "full_well": full_well,
        })
    }
}

impl Serialize for Rescue {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (na, uncertainty) = match *self {
            Self::Iris { na, uncertainty } => (Some(na), Some(uncertainty)),
            Self::NotNeeded | Self::None => (None, None),
        };
        object!(serializer, {
            "na": na,
            "uncertainty": uncertainty,
        })
    }
}

/// A quantity beside the whole answer, of which path and glass tell its limits in other units.
struct Tolerated<'a> {
    of: &'a Tolerable,
    all: &'a Tolerances,
}

impl Serialize for Tolerated<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self { of, .. } = self;
        let quantity = of.quantity;
        let at_least = match of.limits {
            Limits::AtLeast(fewest) => fewest,
            _ => None,
        };
        object!(serializer, {
            "part": of.part,
            "quantity": quantity.words(),
            "unit": quantity.unit(),
            "written": quantity.in_unit(of.written),
            "missed": of.limits.missed(),
            "at_least": at_least,
            "limits": self.limits(),
            "rescued_at": of.rescued_at.map(|value| quantity.in_unit(value)),
            "dominates": of.dominates,
        })
    }
}

impl<'a> Tolerated<'a> {
    fn limits(&self) -> Vec<Row<'a>> {
        let of = self;
        let row = |case: String, azimuth_rad: Option<f64>, limit: Limit| Row {
            case,
            azimuth_rad,
            limit,
            of: of.of,
            all: of.all,
        };
        let own = |case: &str, limit: &Limit| row(case.to_owned(), None, *limit);
        let at = |case: &str, at: &AtAzimuth| row(case.to_owned(), Some(at.azimuth_rad), at.limit);
        match &self.of.limits {
            Limits::Strain(strain) => {
                let mut rows = vec![own("as written", &strain.as_written)];
                if let Some(over) = &strain.over_azimuths {
                    rows.extend([at("worst", &over.worst), at("best", &over.best)]);
                    for (share, limit) in &over.random {
                        rows.push(own(&format!("{share} of azimuths"), limit));
                    }
                }
                rows
            }
            Limits::Between { below, above } => vec![own("below", below), own("above", above)],
            Limits::AtMost(most) => vec![own("at most", most)],
            Limits::AtLeast(_) => Vec::new(),
        }
    }
}

/// One limit of a quantity.
struct Row<'a> {
    case: String,
    azimuth_rad: Option<f64>,
    limit: Limit,
    of: &'a Tolerable,
    all: &'a Tolerances,
}

impl Serialize for Row<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let quantity = self.of.quantity;
        let units = self.limit.value().and_then(|value| {
            StrainUnits::of(&self.all.path, quantity, value, self.all.glass_path_mm)
        });
        let (uncertainty, none_up_to) = match self.limit {
            Limit::At { uncertainty, .. } => (Some(uncertainty), None),
            Limit::Beyond(end) => (None, Some(end)),
            Limit::Missed => (None, None),
        };
        let in_unit = |value: Option<f64>| value.map(|value| quantity.in_unit(value));
        let azimuth_deg = (self.azimuth_rad).map(|rad| rad.to_degrees().rem_euclid(360.0));
        let grade = units.and_then(|units| units.grade);
        object!(serializer, {
            "case": self.case,
            "azimuth_deg": azimuth_deg,
            "limit": in_unit(self.limit.value()),
            "uncertainty": in_unit(uncertainty),
            "none_up_to": in_unit(none_up_to),
            "missed": self.limit == Limit::Missed,
            "waves": units.map(|units| units.waves),
            "nm_per_cm": units.and_then(|units| units.nm_per_cm),
            "stress_mpa": units.and_then(|units| units.stress_mpa),
            "stress_grade_nm_per_cm": grade.map(|grade| grade.most_nm_per_cm),
            "force_n": units.and_then(|units| units.force_n),
        })
    }
}

impl Serialize for Seen {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let smallest = self.smallest;
        let observer = match self.criterion {
            Criterion::Signal { .. } => "camera",
            _ => "eye",
        };
        object!(serializer, {
            "observer": observer,
            "with_plate": self.with_plate,
            "needs": self.criterion,
            "background": self.background,
            "smallest_nm": smallest.map(|least| least.path_difference_nm),
            "uncertainty_nm": smallest.map(|least| least.uncertainty_nm),
            "azimuth_deg": smallest.map(|least| least.azimuth_rad.to_degrees()),
            "bias": smallest.and_then(|least| least.bias),
            "covers": self.covers,
        })
    }
}

impl Serialize for Covered {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (from_nm, to_nm) = self.object.path_difference_nm;
        object!(serializer, {
            "object": self.object.name,
            "class": self.object.class.map(|class| class.words()),
            "from_nm": from_nm,
            "to_nm": to_nm,
            "standing": self.object.standing,
            "shows": self.shows.word(),
        })
    }
}

impl Serialize for Draws {
    /// A ratio is null where nothing leaks.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        object!(serializer, {
            "asked": self.asked,
            "done": self.done,
            "partial": self.done < self.asked,
            "seed": self.seed,
            "met": self.met,
            "yield": (self.done > 0).then(|| self.met as f64 / self.done as f64),
            "yield_interval_95": interval(self.yield_interval.0, self.yield_interval.1),
            "nominal_extinction_ratio": finite(self.nominal),
            "percentiles": self.percentiles,
            "histogram": self.histogram,
            "without_leak": self.dark,
            "causes": self.varied,
            "quadrature_error": self.quadrature_error,
        })
    }
}

impl Serialize for Percentile {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        object!(serializer, {
            "percent": self.percent,
            "extinction_ratio": finite(self.ratio),
            "interval_95": interval(self.low, self.high),
        })
    }
}

impl Serialize for Varied {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let distribution = match self.kind {
            ToleranceKind::Normal => "normal",
            ToleranceKind::Uniform => "uniform",
        };
        object!(serializer, {
            "part": self.part,
            "quantity": self.quantity.words(),
            "unit": self.quantity.unit(),
            "written": self.quantity.in_unit(self.written),
            "tolerance": self.quantity.in_unit(self.tolerance),
            "distribution": distribution,
            "first_order": self.sobol.as_ref().map(|sobol| sobol.first),
            "total": self.sobol.as_ref().map(|sobol| sobol.total),
        })
    }
}

impl Serialize for Estimate {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        object!(serializer, {
            "value": self.value,
            "interval_95": interval(self.low, self.high),
        })
    }
}

/// JSON has no infinity.
fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

fn interval(low: f64, high: f64) -> [Option<f64>; 2] {
    [finite(low), finite(high)]
}
