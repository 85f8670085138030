//! `tolerate` as JSON.

use serde::{Serialize, Serializer};

use super::Spectral;
use crate::light_path::ToleranceKind;
use crate::study::doubt::Doubt;
use crate::study::draws::Draws;
use crate::study::leak::LeakShare;
use crate::study::observer::Criterion;
use crate::study::predict::StepChoice;
use crate::study::quantity::Quantity;
use crate::study::sobol::Estimate;
use crate::study::tolerate::{
    AtAzimuth, Limit, Limits, Rescue, StrainUnits, Target, Tolerable, Tolerances,
};
use crate::study::visibility::{Bias, Seen};

impl Serialize for Tolerances {
    /// As in the JSON document: angles in degrees.
    ///
    /// Checked by: `tests/cli/tolerate.rs`.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let verdict = &self.verdict;
        let (na, uncertainty) = match verdict.rescue {
            Rescue::Iris { na, uncertainty } => (Some(na), Some(uncertainty)),
            _ => (None, None),
        };
        let units = |quantity, limit: &Limit| {
            StrainUnits::of(&self.path, quantity, limit.value()?, self.glass_path_mm)
        };
        TolerateBody {
            na: verdict.na,
            target: target(&self.target),
            met: verdict.met(),
            times: verdict.times.is_finite().then_some(verdict.times),
            extinction_ratio: verdict.extinction_ratio,
            doubt: self.doubt.as_ref(),
            bias: verdict.bias.map(bias),
            dominates: verdict.dominates.as_ref().map(dominates),
            rescue: RescueIris { na, uncertainty },
            quadrature_error: verdict.quadrature_error,
            spectral_error: Spectral {
                error: verdict.spectral_error,
                step: StepChoice::Given,
            },
            tolerated: (self.quantities.iter())
                .map(|each| tolerated(each, &units))
                .collect(),
            visibility: self.visibility.observers.iter().map(seen).collect(),
            draws: self.draws.as_ref().map(built),
        }
        .serialize(serializer)
    }
}

fn target(target: &Target) -> TargetJson {
    match target {
        Target::Extinction(least) => TargetJson {
            extinction_ratio: Some(*least),
            see_nm: None,
            with_plate: false,
            criteria: Vec::new(),
        },
        Target::See(see) => TargetJson {
            extinction_ratio: None,
            see_nm: Some(see.path_difference_nm),
            with_plate: see.with_plate,
            criteria: see.criteria().iter().map(needs).collect(),
        },
    }
}

fn needs(criterion: &Criterion) -> Needs {
    let (by, full_well) = match *criterion {
        Criterion::Contrast { .. } => ("contrast", None),
        Criterion::Color { .. } => ("colour difference", None),
        Criterion::Signal { full_well, .. } => ("signal to noise", Some(full_well)),
    };
    Needs {
        by,
        least: criterion.least(),
        full_well,
    }
}

fn tolerated<'a>(
    each: &'a Tolerable,
    units: &impl Fn(Quantity, &Limit) -> Option<StrainUnits>,
) -> Tolerated<'a> {
    let quantity = each.quantity;
    let row = |case: String, azimuth: Option<&AtAzimuth>, limit: &Limit| {
        let units = units(quantity, limit);
        let (value, uncertainty) = match *limit {
            Limit::At { value, uncertainty } => (Some(value), Some(uncertainty)),
            _ => (None, None),
        };
        Row {
            case,
            azimuth_deg: azimuth.map(|at| at.azimuth_rad.to_degrees().rem_euclid(360.0)),
            limit: value.map(|value| quantity.in_unit(value)),
            uncertainty: uncertainty.map(|value| quantity.in_unit(value)),
            none_up_to: match limit {
                Limit::Beyond(end) => Some(quantity.in_unit(*end)),
                _ => None,
            },
            missed: *limit == Limit::Missed,
            waves: units.map(|units| units.waves),
            nm_per_cm: units.and_then(|units| units.nm_per_cm),
            stress_mpa: units.and_then(|units| units.stress_mpa),
            stress_grade_nm_per_cm: units
                .and_then(|units| units.grade)
                .map(|g| g.most_nm_per_cm),
            force_n: units.and_then(|units| units.force_n),
        }
    };
    let own = |case: &str, limit| row(case.to_owned(), None, limit);
    let mut at_least = None;
    let limits = match &each.limits {
        Limits::Strain(strain) => {
            let mut rows = vec![own("as written", &strain.as_written)];
            if let Some(over) = &strain.over_azimuths {
                rows.push(row(
                    "worst".to_owned(),
                    Some(&over.worst),
                    &over.worst.limit,
                ));
                rows.push(row("best".to_owned(), Some(&over.best), &over.best.limit));
                for (share, limit) in &over.random {
                    rows.push(row(format!("{share} of azimuths"), None, limit));
                }
            }
            rows
        }
        Limits::Between { below, above } => vec![own("below", below), own("above", above)],
        Limits::AtMost(most) => vec![own("at most", most)],
        Limits::AtLeast(fewest) => {
            at_least = *fewest;
            Vec::new()
        }
    };
    Tolerated {
        part: each.part.as_deref(),
        quantity: quantity.words(),
        unit: quantity.unit(),
        written: quantity.in_unit(each.written),
        missed: each.limits.missed(),
        at_least,
        limits,
        rescued_at: each.rescued_at.map(|value| quantity.in_unit(value)),
        dominates: each.dominates.as_ref().map(dominates),
    }
}

fn dominates(share: &LeakShare) -> Dominates<'_> {
    Dominates {
        part: &share.part,
        cause: share.cause.words(),
        share: share.share,
    }
}

fn built(draws: &Draws) -> Built<'_> {
    // JSON has no infinity: nothing leaks where a ratio is null.
    let finite = |ratio: f64| ratio.is_finite().then_some(ratio);
    let interval = |low: f64, high: f64| [finite(low), finite(high)];
    let estimate = |e: &Estimate| EstimateRow {
        value: e.value,
        interval_95: interval(e.low, e.high),
    };
    let (low, high) = draws.yield_interval;
    Built {
        asked: draws.asked,
        done: draws.done,
        partial: draws.done < draws.asked,
        seed: draws.seed,
        met: draws.met,
        r#yield: (draws.done > 0).then(|| draws.met as f64 / draws.done as f64),
        yield_interval_95: interval(low, high),
        nominal_extinction_ratio: finite(draws.nominal),
        percentiles: (draws.percentiles.iter())
            .map(|each| PercentileRow {
                percent: each.percent,
                extinction_ratio: finite(each.ratio),
                interval_95: interval(each.low, each.high),
            })
            .collect(),
        histogram: draws.histogram.as_ref().map(|histogram| HistogramRow {
            first_log10: histogram.first_log10,
            width_log10: histogram.width_log10,
            counts: &histogram.counts,
        }),
        without_leak: draws.dark,
        causes: (draws.varied.iter())
            .map(|varied| CauseRow {
                part: &varied.part,
                quantity: varied.quantity.words(),
                unit: varied.quantity.unit(),
                written: varied.quantity.in_unit(varied.written),
                tolerance: varied.quantity.in_unit(varied.tolerance),
                distribution: match varied.kind {
                    ToleranceKind::Normal => "normal",
                    ToleranceKind::Uniform => "uniform",
                },
                first_order: varied.sobol.as_ref().map(|sobol| estimate(&sobol.first)),
                total: varied.sobol.as_ref().map(|sobol| estimate(&sobol.total)),
            })
            .collect(),
        quadrature_error: draws.quadrature_error,
    }
}

fn bias(bias: Bias) -> BiasRow {
    BiasRow {
        azimuth_deg: bias.azimuth_rad.to_degrees(),
        own_contrast: bias.own,
        contrast_with_bias: bias.with_bias,
        contrast_turned_90_deg: bias.turned,
    }
}

fn seen(seen: &Seen) -> SeenRow {
    let smallest = seen.smallest.as_ref();
    SeenRow {
        observer: match seen.criterion {
            Criterion::Signal { .. } => "camera",
            _ => "eye",
        },
        with_plate: seen.with_plate,
        needs: needs(&seen.criterion),
        background: seen.background,
        smallest_nm: smallest.map(|s| s.path_difference_nm),
        uncertainty_nm: smallest.map(|s| s.uncertainty_nm),
        azimuth_deg: smallest.map(|s| s.azimuth_rad.to_degrees()),
        bias: smallest.and_then(|s| s.bias).map(bias),
        covers: (seen.covers.iter())
            .map(|covered| CoveredRow {
                object: covered.object.name,
                class: covered.object.class.map(|class| class.words()),
                from_nm: covered.object.path_difference_nm.0,
                to_nm: covered.object.path_difference_nm.1,
                standing: covered.object.standing.word(),
                shows: covered.shows.word(),
            })
            .collect(),
    }
}

#[derive(Serialize)]
struct TolerateBody<'a> {
    na: f64,
    target: TargetJson,
    met: bool,
    times: Option<f64>,
    extinction_ratio: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    doubt: Option<&'a Doubt>,
    bias: Option<BiasRow>,
    dominates: Option<Dominates<'a>>,
    rescue: RescueIris,
    quadrature_error: f64,
    spectral_error: Spectral,
    tolerated: Vec<Tolerated<'a>>,
    visibility: Vec<SeenRow>,
    draws: Option<Built<'a>>,
}

#[derive(Serialize)]
struct TargetJson {
    extinction_ratio: Option<f64>,
    see_nm: Option<f64>,
    with_plate: bool,
    criteria: Vec<Needs>,
}

#[derive(Serialize)]
struct Needs {
    by: &'static str,
    least: f64,
    full_well: Option<f64>,
}

#[derive(Serialize)]
struct RescueIris {
    na: Option<f64>,
    uncertainty: Option<f64>,
}

#[derive(Serialize)]
struct Tolerated<'a> {
    part: Option<&'a str>,
    quantity: String,
    unit: &'static str,
    written: f64,
    missed: bool,
    at_least: Option<u32>,
    limits: Vec<Row>,
    rescued_at: Option<f64>,
    dominates: Option<Dominates<'a>>,
}

#[derive(Serialize)]
struct Row {
    case: String,
    azimuth_deg: Option<f64>,
    limit: Option<f64>,
    uncertainty: Option<f64>,
    none_up_to: Option<f64>,
    missed: bool,
    waves: Option<f64>,
    nm_per_cm: Option<f64>,
    stress_mpa: Option<f64>,
    stress_grade_nm_per_cm: Option<f64>,
    force_n: Option<f64>,
}

#[derive(Serialize)]
struct Dominates<'a> {
    part: &'a str,
    cause: &'static str,
    share: f64,
}

#[derive(Serialize)]
struct SeenRow {
    observer: &'static str,
    with_plate: bool,
    needs: Needs,
    background: f64,
    smallest_nm: Option<f64>,
    uncertainty_nm: Option<f64>,
    azimuth_deg: Option<f64>,
    bias: Option<BiasRow>,
    covers: Vec<CoveredRow>,
}

#[derive(Serialize)]
struct BiasRow {
    azimuth_deg: f64,
    own_contrast: f64,
    contrast_with_bias: f64,
    contrast_turned_90_deg: f64,
}

#[derive(Serialize)]
struct CoveredRow {
    object: &'static str,
    class: Option<&'static str>,
    from_nm: f64,
    to_nm: f64,
    standing: &'static str,
    shows: &'static str,
}

#[derive(Serialize)]
struct Built<'a> {
    asked: usize,
    done: usize,
    partial: bool,
    seed: u64,
    met: usize,
    r#yield: Option<f64>,
    yield_interval_95: [Option<f64>; 2],
    nominal_extinction_ratio: Option<f64>,
    percentiles: Vec<PercentileRow>,
    histogram: Option<HistogramRow<'a>>,
    without_leak: usize,
    causes: Vec<CauseRow<'a>>,
    quadrature_error: f64,
}

#[derive(Serialize)]
struct PercentileRow {
    percent: f64,
    extinction_ratio: Option<f64>,
    interval_95: [Option<f64>; 2],
}

#[derive(Serialize)]
struct HistogramRow<'a> {
    first_log10: f64,
    width_log10: f64,
    counts: &'a [usize],
}

#[derive(Serialize)]
struct CauseRow<'a> {
    part: &'a str,
    quantity: String,
    unit: &'static str,
    written: f64,
    tolerance: f64,
    distribution: &'static str,
    first_order: Option<EstimateRow>,
    total: Option<EstimateRow>,
}

#[derive(Serialize)]
struct EstimateRow {
    value: f64,
    interval_95: [Option<f64>; 2],
}
