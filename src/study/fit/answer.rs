//! What a fit tells.

use serde::Serialize;

use super::{
    Ambiguous, BlameShare, Interval, NextReading, PartBlame, Posted, ReadingAnswer, UnknownAnswer,
};
use crate::study::draws::Plan;

/// What readings say of a stand.
///
/// Checked by: `tests/cli/fit.rs`, as JSON.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fit {
    /// The draws.
    #[serde(flatten)]
    pub plan: Plan,
    /// Logarithm of the evidence.
    pub log_evidence: f64,
    /// Whether [`Self::p_value`] is large enough for readings and model to go together.
    pub consistent: bool,
    /// Posterior predictive p-value: how often stands of the sample would be read with as much misfit as there is.
    pub p_value: f64,
    /// Relative error of the polynomials at the stands of the sample, root mean square.
    #[serde(rename = "polynomial_error")]
    pub surface_error: f64,
    /// How often each draw was moved on average at the end. Where this is small, many draws are copies of each other, and the sample says less than its
    /// size suggests.
    pub moves_per_draw: f64,
    /// As many independent draws would tell the mean of each unknown number as well, of the number that is told worst; by how far populations that were
    /// drawn independently of each other differ.
    pub independent_draws: usize,
    /// Extinction ratio of the stand as the file has it set, plates out.
    pub extinction_ratio: Interval,
    /// Each told number.
    pub unknown: Vec<UnknownAnswer>,
    /// The readings against the model.
    pub readings: Vec<ReadingAnswer>,
    /// Where the leak of the stand as it stands comes from, the probably largest first.
    pub blame: Vec<BlameShare>,
    /// The same for each part, whatever is wrong with it.
    pub blame_by_part: Vec<PartBlame>,
    /// Of each population that was drawn independently of the others: the probability that each of [`Self::blame`] is the largest, in its order.
    pub blame_by_population: Vec<Vec<f64>>,
    /// What the readings do not tell apart.
    pub ambiguous: Vec<Ambiguous>,
    /// Readings that would tell most of which part is to blame, best first.
    pub next: Vec<NextReading>,
    /// The stands that explain the readings, as many as were asked for: points of the unknowns. A program reads them from their own file.
    #[serde(skip)]
    pub stands: Vec<Vec<f64>>,
}

impl Fit {
    /// What may be told: all of it where readings and model go together. Otherwise the stands that were drawn do not explain the readings, and what they
    /// say of the parts is no answer: lists of it become empty, its numbers not numbers (`null` in JSON). The readings stay, each with what comes
    /// nearest to it, and so do the priors.
    ///
    /// Checked by: `tests/cli/photographs.rs`.
    #[must_use]
    pub fn as_far_as_it_holds(mut self) -> Self {
        if self.consistent {
            return self;
        }
        let none = Interval::of(&[]);
        self.extinction_ratio = none;
        for unknown in &mut self.unknown {
            unknown.told = false;
            unknown.posterior = Posted {
                interval: none,
                mean: f64::NAN,
                sd: f64::NAN,
            };
        }
        Self {
            blame: Vec::new(),
            blame_by_part: Vec::new(),
            blame_by_population: Vec::new(),
            ambiguous: Vec::new(),
            next: Vec::new(),
            stands: Vec::new(),
            ..self
        }
    }
}
