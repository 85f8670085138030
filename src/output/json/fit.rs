//! `fit` as JSON.

use serde::{Serialize, Serializer};

use crate::study::fit::{
    Ambiguous, BlameShare, Fit, Interval, NextReading, PartBlame, ReadingAnswer, UnknownAnswer,
};

impl Serialize for Fit {
    /// As in the JSON document. The sample itself is written by `--write`, not here.
    ///
    /// Checked by: `tests/cli/fit.rs`.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        FitBody {
            seed: self.plan.seed,
            draws: self.plan.draws,
            log_evidence: self.log_evidence,
            consistent: self.consistent,
            p_value: self.p_value,
            polynomial_error: self.surface_error,
            moves_per_draw: self.moves_per_draw,
            extinction_ratio: self.extinction_ratio,
            unknown: &self.unknown,
            readings: &self.readings,
            blame: &self.blame,
            blame_by_part: &self.blame_by_part,
            ambiguous: &self.ambiguous,
            next: &self.next,
        }
        .serialize(serializer)
    }
}

#[derive(Serialize)]
struct FitBody<'a> {
    seed: u64,
    draws: usize,
    log_evidence: f64,
    consistent: bool,
    p_value: f64,
    polynomial_error: f64,
    moves_per_draw: f64,
    extinction_ratio: Interval,
    unknown: &'a [UnknownAnswer],
    readings: &'a [ReadingAnswer],
    blame: &'a [BlameShare],
    blame_by_part: &'a [PartBlame],
    ambiguous: &'a [Ambiguous],
    next: &'a [NextReading],
}
