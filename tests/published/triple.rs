//! Reading of a check's `csv` and `toml`.

use serde::Deserialize;
use serde::de::DeserializeOwned;

/// Values and what is said about them.
pub(crate) struct Triple<Row> {
    pub(crate) rows: Vec<Row>,
    about: About,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct About {
    source: String,
    standing: String,
    units: String,
    conditions: String,
    tolerance: std::collections::BTreeMap<String, Tolerance>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tolerance {
    value: f64,
    reason: String,
}

impl<Row: DeserializeOwned> Triple<Row> {
    /// Every row must be readable, every statement made.
    pub(crate) fn read(csv: &str, toml: &str) -> Self {
        let about: About = toml::from_str(toml).expect("the toml states every key");
        for said in [
            &about.source,
            &about.standing,
            &about.units,
            &about.conditions,
        ] {
            assert!(!said.trim().is_empty(), "an empty statement");
        }
        let rows: Vec<Row> = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .from_reader(csv.as_bytes())
            .deserialize()
            .collect::<Result<_, _>>()
            .expect("every row can be read");
        assert!(!rows.is_empty(), "no values");
        Self { rows, about }
    }

    /// A stated tolerance.
    pub(crate) fn tolerance(&self, name: &str) -> f64 {
        let tolerance = &self.about.tolerance[name];
        assert!(!tolerance.reason.trim().is_empty(), "{name}: no reason");
        tolerance.value
    }
}
