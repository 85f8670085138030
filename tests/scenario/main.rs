//! The scenario file: what is read, what is refused, and in which words.

mod condensers;
mod examples;
mod files;
mod fuzz;
mod lenses;
mod messages;
mod notes;
#[cfg(feature = "photographs")]
mod photographs;
mod ranges;
mod reading;
mod readings;
mod refusals;
mod schema;

use polstack::scenario::{Memory, Scenario, ScenarioError, parse};

/// A scenario with most of the format in it and no name of the catalog.
pub(crate) const BENCH: &str = r#"title = "Bench"

[light]
source = { blackbody_k = 3200 }

[aperture]
na = 0.6

[[part]]
name = "condenser"
condenser = { na = 0.88, surfaces = 4, glass = 1.52 }
strain = [ { radial = { edge_nm = 40 } },
           { clamp = { contacts = 4, force_n = 5, diameter_mm = 26, stress_optic_brewster = 2.7 } } ]

[[part]]
name = "lower polar"
polarizer = { sheet = { k1 = 0.8, k2 = 8e-6 }, cover_nm = 0, azimuth_deg = 0 }

[[part]]
name = "slide"
slide = { glass = 1.515, mount = 1.515 }

[[part]]
name = "fibre"
specimen = { path_difference_nm = 30, azimuth_deg = 20 }

[[part]]
name = "objective"
objective = { na = 0.6, surfaces = 8, glass = 1.52, coating = "mgf2" }
strain = [ { uniform = { path_difference_nm = 3, azimuth_deg = 45 } } ]

[[part]]
name = "plate"
plate = { path_difference_nm = 550, azimuth_deg = 45 }
tolerance = { azimuth_deg = 0.5 }

[[part]]
name = "analyzer"
analyzer = { sheet = { k1 = 0.8, k2 = 8e-6 }, azimuth_deg = 90 }
"#;

/// The bench with one stretch replaced.
pub(crate) fn bench(from: &str, to: &str) -> String {
    assert!(BENCH.contains(from), "the bench has no `{from}`");
    BENCH.replacen(from, to, 1)
}

pub(crate) fn read_text(text: &str) -> Result<Scenario, ScenarioError> {
    parse(text, "bench.toml", &Memory::default())
}

/// What is wrong with the bench when one stretch is replaced.
pub(crate) fn refusal(from: &str, to: &str) -> ScenarioError {
    match read_text(&bench(from, to)) {
        Ok(scenario) => panic!("`{to}` was taken: {scenario:?}"),
        Err(error) => error,
    }
}
