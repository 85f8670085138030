//! The printed catalog: what each table holds, in words.

use super::Birefringence;
use super::entry::{Entry, NO_MATERIAL, STRESS_GRADE_SOURCE, Standing};
use crate::spectrum::Source;

use super::SODIUM_NM;
use super::data::{
    BIAXIALS, CRYSTALS, GLASSES, IMMERSIONS, LINES, PLATES, SHEETS, SPECIMENS, STRESS_GRADES,
};

/// The mercury e line, nm: where the printed catalog states indices and birefringences.
const E_LINE_NM: f64 = 546.07;

/// All entries, group by group.
pub(super) fn entries() -> Vec<Entry> {
    let immersions = IMMERSIONS.iter().map(|row| Entry {
        group: "immersion",
        name: &row.name,
        values: format!("n {}", row.index),
        source: &row.source,
        standing: row.standing.into(),
    });
    let specimens = SPECIMENS.iter().map(|row| Entry {
        group: "specimen",
        name: &row.name,
        values: row.values.clone(),
        source: &row.source,
        standing: row.standing.into(),
    });
    let grades = STRESS_GRADES.iter().map(|row| Entry {
        group: "stress grade",
        name: &row.usual_for,
        values: format!("at most {} nm/cm", row.most_nm_per_cm),
        source: STRESS_GRADE_SOURCE,
        standing: Standing::FromMemory,
    });
    lamp_entries()
        .chain(sheet_entries())
        .chain(glass_entries())
        .chain(crystal_entries())
        .chain(biaxial_entries())
        .chain(plate_entries())
        .chain(line_entries("coating"))
        .chain(immersions)
        .chain(specimens)
        .chain(grades)
        .collect()
}

fn lamp_entries() -> impl Iterator<Item = Entry> {
    Source::catalog().map(|(name, words, (from, to))| Entry {
        group: "lamp",
        name,
        values: format!("{words}; {from} to {to} nm"),
        source: "CIE illuminant of that name; table of colour-science 0.4.7, see src/spectrum/data",
        standing: Standing::Read,
    })
}

fn sheet_entries() -> impl Iterator<Item = Entry> {
    SHEETS.iter().map(|row| Entry {
        group: "sheet",
        name: &row.sheet.name,
        values: match row.range_nm {
            Some((from, to)) => row.sheet.principal_transmittances(550.0).map_or_else(
                |error| error.to_string(),
                |(k1, k2)| {
                    let (words, cover_nm) = (&row.words, row.sheet.cover_nm);
                    let usual = match row.sheet.cover_is_told {
                        true => "low",
                        false => "40 to 60 is usual",
                    };
                    format!(
                        "{words}; k1 {k1}, k2 {k2:e} at 550 nm; cover {cover_nm} nm ({usual}); k2 good to a factor of 5; table {from} to {to} nm, held constant (assumed) from 360 and to 830 nm"
                    )
                },
            ),
            None => row.words.clone(),
        },
        source: &row.source,
        standing: row.standing,
    })
}

fn glass_entries() -> impl Iterator<Item = Entry> {
    GLASSES.iter().map(|row| Entry {
        group: "glass",
        name: &row.glass.name,
        values: format!(
            "n {:.4} at {E_LINE_NM} nm; C {} Brewster; law {}",
            row.glass.index.at(E_LINE_NM),
            row.glass.stress_optic_brewster.unwrap_or(f64::NAN),
            measured(row.range_nm),
        ),
        source: &row.source,
        standing: row.standing,
    })
}

fn crystal_entries() -> impl Iterator<Item = Entry> {
    CRYSTALS.iter().map(|row| Entry {
        group: "crystal",
        name: &row.crystal.name,
        values: format!(
            "n_o {:.4}, n_e {:.4} at {E_LINE_NM} nm; law {}{}",
            row.crystal.ordinary.at(E_LINE_NM),
            row.crystal.extraordinary.at(E_LINE_NM),
            measured(row.range_nm),
            row.crystal.rotation.as_ref().map_or(String::new(), |power| {
                format!(
                    "; turns light along its axis by {:.2} degrees a mm at {SODIUM_NM} nm (from memory: see src/material/data/rotation.csv)",
                    power.deg_per_mm(SODIUM_NM)
                )
            }),
        ),
        source: &row.source,
        standing: Standing::Read,
    })
}

fn biaxial_entries() -> impl Iterator<Item = Entry> {
    BIAXIALS.iter().map(|row| {
        let crystal = &row.crystal;
        let [x, y, z] = crystal.indices(SODIUM_NM);
        let computed = crystal.acute_angle_rad(SODIUM_NM).to_degrees();
        let sign = if crystal.is_positive(SODIUM_NM) {
            "positive"
        } else {
            "negative"
        };
        let angle = match row.two_v_deg {
            Some(told) => {
                let [_, used, _] =
                    (crystal.clone().with_acute_angle(told.to_radians())).indices(SODIUM_NM);
                format!(
                    "2V {told} degrees, for which n_y {used:.5} is used (the three indices give {computed:.1})"
                )
            }
            None => format!("2V {computed:.1} degrees by the indices"),
        };
        let law = (row.range_nm).map_or("constant in wavelength".to_owned(), |range_nm| {
            format!("law {}", measured(range_nm))
        });
        Entry {
            group: "biaxial crystal",
            name: &crystal.name,
            values: format!(
                "n_x {x:.4}, n_y {y:.4}, n_z {z:.4} at {SODIUM_NM} nm; {sign}, {angle}; {law}"
            ),
            source: &row.source,
            standing: row.standing,
        }
    })
}

fn plate_entries() -> impl Iterator<Item = Entry> {
    let crystals = CRYSTALS.iter().map(|row| Entry {
        group: "plate",
        name: &row.crystal.name,
        values: format!(
            "cut along its axis; birefringence {:.6} at {E_LINE_NM} nm; law {}",
            row.crystal.birefringence(E_LINE_NM).abs(),
            measured(row.range_nm),
        ),
        source: &row.source,
        standing: Standing::Read,
    });
    let others = PLATES.iter().map(|row| Entry {
        group: "plate",
        name: &row.name,
        values: match (&row.birefringence, row.range_nm) {
            (Birefringence::Constant(b), _) => {
                format!("birefringence {b}, constant in wavelength")
            }
            (table, range_nm) => format!(
                "birefringence {:.5} at {E_LINE_NM} nm; law {}",
                (table.at(E_LINE_NM).ok().flatten()).unwrap_or(f64::NAN),
                range_nm.map_or_else(|| "without a stated range".to_owned(), measured),
            ),
        },
        source: &row.source,
        standing: row.standing,
    });
    let none = Entry {
        group: "plate",
        name: NO_MATERIAL,
        values: "path difference constant in wavelength, no thickness".to_owned(),
        source: "an idealisation",
        standing: Standing::Invented,
    };
    crystals.chain(others).chain(std::iter::once(none))
}

fn line_entries(group: &'static str) -> impl Iterator<Item = Entry> {
    LINES
        .iter()
        .filter(move |row| row.group == group)
        .map(move |row| Entry {
            group,
            name: &row.name,
            values: row.values.clone(),
            source: &row.source,
            standing: row.standing.into(),
        })
}

/// A range of measurement in words, with what is done outside it where the program's grid reaches there.
fn measured((from, to): (f64, f64)) -> String {
    let outside = if from > 360.0 || to < 830.0 {
        ", evaluated as it stands outside"
    } else {
        ""
    };
    format!("{from} to {to} nm{outside}")
}
