//! The tables under `data/`, parsed once.
//!
//! Numbers and their sources stand in CSV files with `#` headers that say where they come from; this file only reads them. A row that cannot be read
//! would be left out; a unit test makes sure that there is no such row.

use std::sync::LazyLock;

use serde::Deserialize;
use serde::de::DeserializeOwned;

use super::entry::{SheetAbout, SheetSection, SlowAlong, SpecimenClass, Standing};
use super::{
    Biaxial, Birefringence, Glass, Index, PolarizingSheet, RotatoryPower, SheetTransmittance,
    Uniaxial,
};
use crate::spectrum::SpectralTable;

/// First and last wavelength, nm, of tables and laws: what a [`crate::spectrum::WavelengthGrid`] may ask for.
const GRID_NM: (f64, f64) = (360.0, 830.0);

/// A catalogued sheet.
pub(super) struct SheetRow {
    pub(super) sheet: PolarizingSheet,
    /// Range of wavelengths in which the table is not only assumed; `None` for the ideal sheet.
    pub(super) range_nm: Option<(f64, f64)>,
    pub(super) about: SheetAbout,
    /// What it passes, in words.
    pub(super) words: String,
    pub(super) standing: Standing,
    pub(super) source: String,
}

/// A catalogued glass.
pub(super) struct GlassRow {
    pub(super) glass: Glass,
    pub(super) range_nm: (f64, f64),
    /// The weaker of the standings of index and stress-optic coefficient.
    pub(super) standing: Standing,
    /// Source and standing of both.
    pub(super) source: String,
}

/// A catalogued crystal.
pub(super) struct CrystalRow {
    pub(super) crystal: Uniaxial,
    pub(super) range_nm: (f64, f64),
    pub(super) source: String,
}

/// A catalogued crystal with two optic axes.
pub(super) struct BiaxialRow {
    /// With the middle index of the table.
    pub(super) crystal: Biaxial,
    /// The acute angle between the optic axes, degrees, where it is told by itself.
    pub(super) two_v_deg: Option<f64>,
    /// `None` where the indices are single values.
    pub(super) range_nm: Option<(f64, f64)>,
    pub(super) standing: Standing,
    pub(super) source: String,
}

/// A catalogued plate material that is not one of the crystals.
pub(super) struct PlateRow {
    pub(super) name: String,
    pub(super) birefringence: Birefringence,
    pub(super) range_nm: Option<(f64, f64)>,
    pub(super) standing: Standing,
    pub(super) source: String,
}

/// A catalogued immersion medium.
#[derive(Deserialize)]
pub(super) struct ImmersionRow {
    pub(super) name: String,
    pub(super) index: f64,
    pub(super) standing: Word,
    pub(super) source: String,
}

/// A line of the catalog that has only words, no numbers to compute with.
#[derive(Deserialize)]
pub(super) struct LineRow {
    pub(super) group: String,
    pub(super) name: String,
    pub(super) values: String,
    pub(super) standing: Word,
    pub(super) source: String,
}

/// A class of example objects.
#[derive(Deserialize)]
pub(super) struct SpecimenRow {
    pub(super) name: String,
    pub(super) class: Option<SpecimenClass>,
    pub(super) from_nm: Option<f64>,
    pub(super) to_nm: Option<f64>,
    pub(super) slow: Option<SlowAlong>,
    pub(super) values: String,
    pub(super) standing: Word,
    pub(super) source: String,
}

/// A grade of stress birefringence.
#[derive(Deserialize)]
pub(super) struct StressGradeRow {
    pub(super) most_nm_per_cm: f64,
    pub(super) usual_for: String,
}

/// A standing as the tables spell it.
#[derive(Clone, Copy, PartialEq, Eq, Deserialize)]
pub(super) enum Word {
    #[serde(rename = "read")]
    Read,
    #[serde(rename = "from memory")]
    FromMemory,
    #[serde(rename = "invented")]
    Invented,
    #[serde(rename = "assumed")]
    Assumed,
}

impl From<Word> for Standing {
    fn from(word: Word) -> Self {
        match word {
            Word::Read => Self::Read,
            Word::FromMemory => Self::FromMemory,
            Word::Invented | Word::Assumed => Self::Invented,
        }
    }
}

#[derive(Deserialize)]
struct SheetCsv {
    sheet: String,
    wavelength_nm: f64,
    k1: f64,
    k2: f64,
    row: Word,
}

#[derive(Deserialize)]
struct SheetKindCsv {
    name: String,
    table: String,
    section: SheetSection,
    words: String,
    cover_nm: f64,
    cover_is_told: u8,
    k1_from: f64,
    k1_to: f64,
    standing: Word,
    source: String,
}

#[derive(Deserialize)]
struct GlassCsv {
    name: String,
    law: Law,
    coefficients: String,
    from_nm: f64,
    to_nm: f64,
    index_standing: Word,
    index_source: String,
    stress_optic_brewster: f64,
    stress_standing: Word,
    stress_source: String,
}

#[derive(Deserialize)]
struct CrystalCsv {
    name: String,
    ray: char,
    law: Law,
    coefficients: String,
    from_nm: f64,
    to_nm: f64,
    source: String,
}

#[derive(Deserialize)]
struct BiaxialCsv {
    name: String,
    axis: char,
    law: Law,
    coefficients: String,
    from_nm: Option<f64>,
    to_nm: Option<f64>,
    two_v_deg: Option<f64>,
    standing: Word,
    source: String,
}

#[derive(Deserialize)]
struct RotationCsv {
    name: String,
    terms: String,
    constant_deg_per_mm: f64,
    across_over_along: f64,
}

#[derive(Deserialize)]
struct PlateCsv {
    name: String,
    a: f64,
    b_um2: f64,
    from_nm: Option<f64>,
    to_nm: Option<f64>,
    standing: Word,
    source: String,
}

/// The forms of dispersion law that the tables use.
#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Law {
    /// Resonances in square micrometres.
    Sellmeier,
    /// Resonances in micrometres.
    SellmeierRoots,
    Powers,
    SquaredPowers,
}

/// Numbers with spaces between.
fn numbers(text: &str) -> Option<Vec<f64>> {
    let numbers = text.split_whitespace().map(str::parse);
    numbers.collect::<Result<_, _>>().ok()
}

/// The index that a row of coefficients stands for; `None` when they do not fit the law.
fn index(law: Law, coefficients: &str) -> Option<Index> {
    let numbers = numbers(coefficients)?;
    let pairs = |flat: &[f64]| flat.chunks_exact(2).map(|p| (p[0], p[1])).collect();
    let powers = |flat: &[f64]| flat.chunks_exact(2).map(|p| (p[0], p[1] as i32)).collect();
    let resonances = numbers.get(1..).filter(|rest| rest.len() % 2 == 0);
    Some(match law {
        Law::Sellmeier => Index::Sellmeier {
            a0: *numbers.first()?,
            terms: pairs(resonances?),
        },
        Law::SellmeierRoots => {
            let terms: Vec<(f64, f64)> = pairs(resonances?);
            Index::Sellmeier {
                a0: *numbers.first()?,
                terms: terms.into_iter().map(|(b, c)| (b, c * c)).collect(),
            }
        }
        Law::Powers => Index::Powers(powers(&numbers)),
        Law::SquaredPowers => Index::SquaredPowers(powers(&numbers)),
    })
}

pub(super) fn rows<T: DeserializeOwned>(text: &str) -> Vec<T> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(text.as_bytes())
        .deserialize()
        .filter_map(Result::ok)
        .collect()
}

/// The sheets in the order of their table, the ideal one last.
pub(super) static SHEETS: LazyLock<Vec<SheetRow>> = LazyLock::new(|| {
    let table: Vec<SheetCsv> = rows(include_str!("data/sheets.csv"));
    let kinds: Vec<SheetKindCsv> = rows(include_str!("data/sheet-kinds.csv"));
    let real = kinds.into_iter().filter_map(|kind| {
        let rows = || table.iter().filter(|row| row.sheet == kind.table);
        let column = |pick: fn(&SheetCsv) -> f64| {
            SpectralTable::new(rows().map(|row| (row.wavelength_nm, pick(row)))).ok()
        };
        let mut remembered = rows().filter(|row| row.row != Word::Assumed);
        Some(SheetRow {
            sheet: PolarizingSheet {
                name: kind.name,
                transmittance: SheetTransmittance::Table {
                    k1: column(|row| row.k1)?,
                    k2: column(|row| row.k2)?,
                },
                index: PolarizingSheet::FILM_INDEX,
                cover_nm: kind.cover_nm,
                cover_is_told: kind.cover_is_told == 1,
            },
            range_nm: (remembered.next())
                .zip(remembered.next_back())
                .map(|(first, last)| (first.wavelength_nm, last.wavelength_nm)),
            about: SheetAbout {
                section: kind.section,
                k1_factors: Some((kind.k1_from, kind.k1_to)),
            },
            words: kind.words,
            standing: kind.standing.into(),
            source: kind.source,
        })
    });
    real.chain(std::iter::once(SheetRow {
        sheet: PolarizingSheet::ideal(),
        range_nm: None,
        about: SheetAbout {
            section: SheetSection::Ideal,
            k1_factors: None,
        },
        words: "k1 1, k2 0, no surfaces".to_owned(),
        standing: Standing::Invented,
        source: "an idealisation".to_owned(),
    }))
    .collect()
});

/// The glasses and polymers.
pub(super) static GLASSES: LazyLock<Vec<GlassRow>> = LazyLock::new(|| {
    rows::<GlassCsv>(include_str!("data/glasses.csv"))
        .into_iter()
        .filter_map(|row| {
            let standing = if row.index_standing == Word::Read && row.stress_standing == Word::Read
            {
                Standing::Read
            } else {
                Standing::FromMemory
            };
            let word = |word: Word| Standing::from(word).word();
            Some(GlassRow {
                source: format!(
                    "index: {} ({}); stress-optic coefficient: {} ({})",
                    row.index_source,
                    word(row.index_standing),
                    row.stress_source,
                    word(row.stress_standing),
                ),
                glass: Glass {
                    index: index(row.law, &row.coefficients)?,
                    name: row.name,
                    stress_optic_brewster: Some(row.stress_optic_brewster),
                },
                range_nm: (row.from_nm, row.to_nm),
                standing,
            })
        })
        .collect()
});

/// How crystals turn light, each with its name; right-handed ones.
fn rotations() -> Vec<(String, RotatoryPower)> {
    rows::<RotationCsv>(include_str!("data/rotation.csv"))
        .into_iter()
        .filter_map(|row| {
            let terms = numbers(&row.terms)?;
            let power = RotatoryPower {
                terms: terms
                    .chunks_exact(2)
                    .map(|pair| (pair[0], pair[1]))
                    .collect(),
                constant_deg_per_mm: row.constant_deg_per_mm,
                across_over_along: row.across_over_along,
                is_left: false,
            };
            Some((row.name, power))
        })
        .collect()
}

/// The uniaxial crystals.
pub(super) static CRYSTALS: LazyLock<Vec<CrystalRow>> = LazyLock::new(|| {
    let table: Vec<CrystalCsv> = rows(include_str!("data/crystals.csv"));
    let rotations = rotations();
    table
        .chunk_by(|a, b| a.name == b.name)
        .filter_map(|rays| {
            let of = |ray: char| rays.iter().find(|row| row.ray == ray);
            let (o, e) = of('o').zip(of('e'))?;
            Some(CrystalRow {
                crystal: Uniaxial {
                    name: o.name.clone(),
                    ordinary: index(o.law, &o.coefficients)?,
                    extraordinary: index(e.law, &e.coefficients)?,
                    rotation: (rotations.iter())
                        .find(|(name, _)| *name == o.name)
                        .map(|(_, power)| power.clone()),
                },
                range_nm: (o.from_nm.max(e.from_nm), o.to_nm.min(e.to_nm)),
                source: o.source.clone(),
            })
        })
        .collect()
});

/// The crystals with two optic axes.
pub(super) static BIAXIALS: LazyLock<Vec<BiaxialRow>> = LazyLock::new(|| {
    let table: Vec<BiaxialCsv> = rows(include_str!("data/biaxial.csv"));
    table
        .chunk_by(|a, b| a.name == b.name)
        .filter_map(|axes| {
            let of = |axis: char| axes.iter().find(|row| row.axis == axis);
            let rows = [of('x')?, of('y')?, of('z')?];
            let [x, y, z] = rows.map(|row| index(row.law, &row.coefficients));
            Some(BiaxialRow {
                crystal: Biaxial {
                    name: rows[0].name.clone(),
                    principal: [x?, y?, z?],
                    middle_shift: 0.0,
                },
                two_v_deg: rows[1].two_v_deg,
                range_nm: rows[0].from_nm.zip(rows[0].to_nm),
                standing: rows[0].standing.into(),
                source: rows[0].source.clone(),
            })
        })
        .collect()
});

/// The plate materials that are not crystals of [`CRYSTALS`].
pub(super) static PLATES: LazyLock<Vec<PlateRow>> = LazyLock::new(|| {
    rows::<PlateCsv>(include_str!("data/plates.csv"))
        .into_iter()
        .filter_map(|row| {
            let birefringence = if row.b_um2 == 0.0 {
                Birefringence::Constant(row.a)
            } else {
                // Every nanometre: straight lines between the rows stay within 3e-6 of the law.
                let (from, to) = (GRID_NM.0 as i32, GRID_NM.1 as i32);
                let law = (from..=to).map(|nm| {
                    let um = f64::from(nm) * 1e-3;
                    (f64::from(nm), row.a + row.b_um2 / (um * um))
                });
                Birefringence::Table(SpectralTable::new(law).ok()?)
            };
            Some(PlateRow {
                name: row.name,
                birefringence,
                range_nm: row.from_nm.zip(row.to_nm),
                standing: row.standing.into(),
                source: row.source,
            })
        })
        .collect()
});

/// The immersion media.
pub(super) static IMMERSIONS: LazyLock<Vec<ImmersionRow>> =
    LazyLock::new(|| rows(include_str!("data/immersion.csv")));

/// Coatings.
pub(super) static LINES: LazyLock<Vec<LineRow>> =
    LazyLock::new(|| rows(include_str!("data/lines.csv")));

/// The classes of example objects.
pub(super) static SPECIMENS: LazyLock<Vec<SpecimenRow>> =
    LazyLock::new(|| rows(include_str!("data/specimens.csv")));

/// The grades of stress birefringence, the strictest first.
pub(super) static STRESS_GRADES: LazyLock<Vec<StressGradeRow>> =
    LazyLock::new(|| rows(include_str!("data/stress-grades.csv")));

#[cfg(test)]
mod tests {
    use super::*;

    fn lines_of(text: &str) -> usize {
        let data = text.lines().filter(|line| !line.starts_with('#'));
        data.count() - 1
    }

    #[test]
    fn every_row_of_every_table_is_read() {
        let sheets = include_str!("data/sheets.csv");
        assert_eq!(rows::<SheetCsv>(sheets).len(), lines_of(sheets));
        let kinds = include_str!("data/sheet-kinds.csv");
        assert_eq!(rows::<SheetKindCsv>(kinds).len(), lines_of(kinds));
        assert_eq!(SHEETS.len(), lines_of(kinds) + 1);
        assert_eq!(GLASSES.len(), lines_of(include_str!("data/glasses.csv")));
        assert_eq!(
            2 * CRYSTALS.len(),
            lines_of(include_str!("data/crystals.csv"))
        );
        assert_eq!(
            3 * BIAXIALS.len(),
            lines_of(include_str!("data/biaxial.csv"))
        );
        let rotations = include_str!("data/rotation.csv");
        assert_eq!(super::rotations().len(), lines_of(rotations));
        for (name, _) in super::rotations() {
            assert!(
                CRYSTALS.iter().any(|row| row.crystal.name == name),
                "{name}"
            );
        }
        assert_eq!(PLATES.len(), lines_of(include_str!("data/plates.csv")));
        assert_eq!(
            IMMERSIONS.len(),
            lines_of(include_str!("data/immersion.csv"))
        );
        assert_eq!(LINES.len(), lines_of(include_str!("data/lines.csv")));
        assert_eq!(
            SPECIMENS.len(),
            lines_of(include_str!("data/specimens.csv"))
        );
        let grades = include_str!("data/stress-grades.csv");
        assert_eq!(STRESS_GRADES.len(), lines_of(grades));
    }

    #[test]
    fn every_table_says_where_it_comes_from() {
        for (name, text) in [
            ("sheets", include_str!("data/sheets.csv")),
            ("sheet-kinds", include_str!("data/sheet-kinds.csv")),
            ("glasses", include_str!("data/glasses.csv")),
            ("crystals", include_str!("data/crystals.csv")),
            ("biaxial", include_str!("data/biaxial.csv")),
            ("rotation", include_str!("data/rotation.csv")),
            ("plates", include_str!("data/plates.csv")),
            ("immersion", include_str!("data/immersion.csv")),
            ("lines", include_str!("data/lines.csv")),
            ("specimens", include_str!("data/specimens.csv")),
            ("stress-grades", include_str!("data/stress-grades.csv")),
            ("named-lines", include_str!("data/named-lines.csv")),
        ] {
            let header: String = text.lines().filter(|line| line.starts_with('#')).collect();
            let header = header.to_lowercase();
            for word in ["source", "retrieved", "licence", "standing"] {
                assert!(header.contains(word), "{name}.csv does not state: {word}");
            }
        }
    }

    #[test]
    fn coefficients_that_do_not_fit_their_law_are_refused() {
        assert_eq!(index(Law::Sellmeier, "0 1.0"), None);
        assert_eq!(index(Law::Sellmeier, "0 1.0 x"), None);
        assert_eq!(index(Law::SellmeierRoots, ""), None);
    }
}
