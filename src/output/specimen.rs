//! What a field's specimen is called, in tables and figures.

use crate::study::view::FieldSpecimen;

/// The words for a specimen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpecimenWords {
    /// Within a sentence: "an invented specimen".
    pub name: String,
    /// A sentence without its stop: what it is and, of a map, its path differences.
    pub about: String,
}

impl SpecimenWords {
    /// Of a specimen; `file` is where its path differences come from, if anywhere. Of its path only the name is told.
    #[must_use]
    pub fn of(specimen: &FieldSpecimen, file: Option<&str>) -> Self {
        let FieldSpecimen::Map(map) = specimen else {
            return Self {
                name: "an invented specimen".to_owned(),
                about: "The specimen is invented".to_owned(),
            };
        };
        let from = file.map_or(String::new(), |file| {
            let name = file.rsplit(['/', '\\']).next().unwrap_or(file);
            format!(" from {name}")
        });
        let [least, _, largest] = map.path_differences_nm();
        let has = match least == largest {
            true => format!("a path difference of {least} nm everywhere"),
            false => format!("path differences of {least} to {largest} nm"),
        };
        Self {
            name: format!("your specimen{from}"),
            about: format!("Your specimen{from} has {has}"),
        }
    }
}
