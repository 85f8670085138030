//! `trace` as JSON.

use serde::{Serialize, Serializer};

use super::object;
use crate::study::trace::{StepKind, TraceStep};

impl Serialize for TraceStep {
    /// A plate that is out has no light of its own behind it; `optics` stands where matrices were asked for.
    ///
    /// Checked by: `tests/cli/trace.rs`.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        object!(serializer, {
            "after": self.name,
            "kind": self.kind.word(),
            "state": (self.kind != StepKind::Out).then_some(self.state),
            "passed": self.passed,
            "optics" if some: self.matrix,
        })
    }
}
