//! The catalog of materials: everything that a file may call by name, with its source.
//!
//! Upper and lower case do not matter when a name is looked for; what is returned has the name as the catalog spells it. Numbers and sources stand in
//! the tables under `src/material/data/`. Lamps are in [`crate::spectrum`].

use super::data::{
    BIAXIALS, CRYSTALS, GLASSES, IMMERSIONS, PLATES, SHEETS, SPECIMENS, STRESS_GRADES,
};
use super::entry::NO_MATERIAL;
use super::{Biaxial, Birefringence, Glass, PolarizingSheet, Uniaxial, listing};

pub use super::entry::{
    Entry, STRESS_GRADE_SOURCE, SheetAbout, SheetSection, SlowAlong, SpecimenClass, Standing,
};
pub use super::named::{NamedBirefringence, named_birefringences};

/// A suggestion must be at least this similar (Jaro-Winkler, 0 to 1); chosen by trying misspellings.
const SIMILAR: f64 = 0.75;

/// Names that entries had in earlier versions, each with its present name.
const RENAMED: [(&str, &str); 3] = [
    ("iodine-38", "iodine-pale"),
    ("iodine-32", "iodine-medium"),
    ("iodine-22", "iodine-dense"),
];

/// An example object whose path difference is roughly known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpecimenSize {
    /// What it is.
    pub name: &'static str,
    /// Its class; `None` for none of them.
    pub class: Option<SpecimenClass>,
    /// Least and largest path difference of a typical one, nm.
    pub path_difference_nm: (f64, f64),
    /// Where its slow direction lies; `None` where it has no length, or that is not known.
    pub slow: Option<SlowAlong>,
    /// How well that is known.
    pub standing: Standing,
}

/// The example objects whose path difference is roughly known; for orientation only, they vary from object to object.
#[must_use]
pub fn specimen_sizes() -> Vec<SpecimenSize> {
    (SPECIMENS.iter())
        .filter_map(|row| {
            Some(SpecimenSize {
                name: &row.name,
                class: row.class,
                path_difference_nm: row.from_nm.zip(row.to_nm)?,
                slow: row.slow,
                standing: row.standing.into(),
            })
        })
        .collect()
}

/// An elongated example object by name, with hyphens in place of spaces or not: one whose path difference and slow direction are roughly known.
///
/// # Examples
/// ```
/// use polstack::material::catalog::{SlowAlong, elongated};
/// assert_eq!(elongated("monosodium urate crystal").unwrap().slow, Some(SlowAlong::Across));
/// assert_eq!(elongated("starch grain"), None);
/// ```
#[must_use]
pub fn elongated(name: &str) -> Option<SpecimenSize> {
    let spaced = name.replace('-', " ");
    elongated_objects().find(|object| same(object.name, &spaced))
}

/// The objects that [`elongated`] knows.
pub fn elongated_objects() -> impl Iterator<Item = SpecimenSize> {
    specimen_sizes()
        .into_iter()
        .filter(|object| object.slow.is_some())
}

/// A grade of stress birefringence in optical glass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StressGrade {
    /// Most path difference, nm for each cm of glass.
    pub most_nm_per_cm: f64,
    /// What the grade is usual for.
    pub usual_for: &'static str,
}

/// The loosest grade of stress birefringence that stays within `nm_per_cm`; `None` when even the strictest does not.
///
/// # Examples
/// ```
/// use polstack::material::catalog::stress_grade;
/// assert_eq!(stress_grade(12.0).unwrap().most_nm_per_cm, 10.0);
/// assert_eq!(stress_grade(1.9), None);
/// ```
#[must_use]
pub fn stress_grade(nm_per_cm: f64) -> Option<StressGrade> {
    let row = (STRESS_GRADES.iter()).rfind(|row| row.most_nm_per_cm <= nm_per_cm)?;
    Some(StressGrade {
        most_nm_per_cm: row.most_nm_per_cm,
        usual_for: &row.usual_for,
    })
}

/// All entries, group by group, lamps first.
#[must_use]
pub fn entries() -> Vec<Entry> {
    listing::entries()
}

fn same(a: &str, b: &str) -> bool {
    a.eq_ignore_ascii_case(b)
}

/// A glass or polymer by name.
///
/// # Examples
/// ```
/// let glass = polstack::material::catalog::glass("n-bk7").unwrap();
/// assert_eq!(glass.name, "N-BK7");
/// assert!((glass.index.at(587.56) - 1.516_800).abs() < 1e-6);
/// ```
/// Checked by: `tests/published/indices.rs`, `tests/published/stress.rs`.
#[must_use]
pub fn glass(name: &str) -> Option<Glass> {
    let row = GLASSES.iter().find(|row| same(&row.glass.name, name))?;
    Some(row.glass.clone())
}

/// A sheet polarizer by name.
///
/// Tables reach from 360 to 830 nm; outside 375 to 750 nm they are assumed, not remembered: see [`measured_range_nm`].
#[must_use]
pub fn sheet(name: &str) -> Option<PolarizingSheet> {
    let row = SHEETS.iter().find(|row| same(&row.sheet.name, name))?;
    Some(row.sheet.clone())
}

/// What is known of a catalogued sheet beside its numbers.
///
/// # Examples
/// ```
/// use polstack::material::catalog::{SheetSection, sheet_about};
/// assert_eq!(sheet_about("display-film").unwrap().section, SheetSection::Display);
/// assert_eq!(sheet_about("spectacles"), None);
/// ```
#[must_use]
pub fn sheet_about(name: &str) -> Option<SheetAbout> {
    let row = SHEETS.iter().find(|row| same(&row.sheet.name, name))?;
    Some(row.about)
}

/// A uniaxial crystal by name.
///
/// Checked by: `tests/published/indices.rs`.
#[must_use]
pub fn crystal(name: &str) -> Option<Uniaxial> {
    let row = CRYSTALS.iter().find(|row| same(&row.crystal.name, name))?;
    Some(row.crystal.clone())
}

/// A crystal with two optic axes by name. Where the catalog tells 2V by itself, the middle index follows from it and from the two others.
///
/// Checked by: `tests/published/biaxial.rs`.
#[must_use]
pub fn biaxial(name: &str) -> Option<Biaxial> {
    let row = BIAXIALS.iter().find(|row| same(&row.crystal.name, name))?;
    let crystal = row.crystal.clone();
    Some(match row.two_v_deg {
        Some(degrees) => crystal.with_acute_angle(degrees.to_radians()),
        None => crystal,
    })
}

/// A plate material by name: crystals, gypsum, mica, polymer film, "none".
///
/// Checked by: `tests/published/plates.rs`.
#[must_use]
pub fn plate_material(name: &str) -> Option<Birefringence> {
    if same(name, NO_MATERIAL) {
        return Some(Birefringence::None);
    }
    let other = PLATES.iter().find(|row| same(&row.name, name));
    crystal(name)
        .map(Birefringence::Uniaxial)
        .or_else(|| other.map(|row| row.birefringence.clone()))
}

/// Refractive index of an immersion medium by name: "air", "water", "oil".
#[must_use]
pub fn immersion(name: &str) -> Option<f64> {
    let row = IMMERSIONS.iter().find(|row| same(&row.name, name))?;
    Some(row.index)
}

/// The names of a group, in the catalog's order; none for an unknown group and for "source".
#[must_use]
pub fn names(group: &str) -> Vec<&'static str> {
    entries()
        .into_iter()
        .filter(|entry| entry.group == group)
        .map(|entry| entry.name)
        .collect()
}

/// First and last wavelength, nm, of the range in which the law or table of a glass, crystal, plate material or sheet was measured (or, for what is
/// from memory, remembered).
///
/// Outside it a law is evaluated as it stands and a sheet's table is held constant: a caller whose wavelengths reach
/// there should print a note. `None` for an unknown name and where nothing is measured (constants, idealisations).
///
/// # Examples
/// ```
/// use polstack::material::catalog::measured_range_nm;
/// assert_eq!(measured_range_nm("pmma"), Some((420.0, 1620.0)));
/// assert_eq!(measured_range_nm("ideal"), None);
/// ```
#[must_use]
pub fn measured_range_nm(name: &str) -> Option<(f64, f64)> {
    let glasses = GLASSES.iter().map(|row| (&row.glass.name, row.range_nm));
    let crystals = CRYSTALS.iter().map(|row| (&row.crystal.name, row.range_nm));
    let biaxials = (BIAXIALS.iter()).filter_map(|row| Some((&row.crystal.name, row.range_nm?)));
    let plates = (PLATES.iter()).filter_map(|row| Some((&row.name, row.range_nm?)));
    let sheets = (SHEETS.iter()).filter_map(|row| Some((&row.sheet.name, row.range_nm?)));
    glasses
        .chain(crystals)
        .chain(biaxials)
        .chain(plates)
        .chain(sheets)
        .find_map(|(entry, range_nm)| same(entry, name).then_some(range_nm))
}

/// What an entry is called now that had this name before; `None` for any other name.
///
/// # Examples
/// ```
/// use polstack::material::catalog::renamed;
/// assert_eq!(renamed("Iodine-32"), Some("iodine-medium"));
/// assert_eq!(renamed("iodine-medium"), None);
/// ```
#[must_use]
pub fn renamed(name: &str) -> Option<&'static str> {
    (RENAMED.iter())
        .find(|(before, _)| same(before, name))
        .map(|(_, now)| *now)
}

/// The name of a group that comes nearest to a misspelt one, for error messages; `None` when nothing is near.
///
/// # Examples
/// ```
/// use polstack::material::catalog::nearest;
/// assert_eq!(nearest("glass", "bk7"), Some("N-BK7"));
/// assert_eq!(nearest("sheet", "spectacles"), None);
/// ```
#[must_use]
pub fn nearest(group: &str, name: &str) -> Option<&'static str> {
    // Hyphens and spaces are what people leave out or put in: they do not count.
    let bare = |name: &str| -> String {
        let kept = name.chars().filter(|c| c.is_alphanumeric());
        kept.flat_map(char::to_lowercase).collect()
    };
    let wanted = bare(name);
    let names = names(group);
    if let Some(now) = renamed(name).filter(|now| names.contains(now)) {
        return Some(now);
    }
    (names.into_iter())
        .map(|known| (strsim::jaro_winkler(&bare(known), &wanted), known))
        .filter(|&(similarity, _)| similarity >= SIMILAR)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, known)| known)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math;

    #[test]
    fn every_listed_name_is_found_whatever_its_case() {
        for entry in entries() {
            let found = |name: &str| match entry.group {
                "sheet" => sheet(name).map(|sheet| sheet.name),
                "glass" => glass(name).map(|glass| glass.name),
                "crystal" => crystal(name).map(|crystal| crystal.name),
                "biaxial crystal" => biaxial(name).map(|crystal| crystal.name),
                "plate" => plate_material(name).map(|_| entry.name.to_owned()),
                "immersion" => immersion(name).map(|_| entry.name.to_owned()),
                _ => Some(entry.name.to_owned()),
            };
            for name in [
                entry.name.to_owned(),
                entry.name.to_uppercase(),
                entry.name.to_lowercase(),
            ] {
                assert_eq!(found(&name).as_deref(), Some(entry.name), "{name}");
            }
            assert!(!entry.values.is_empty() && !entry.values.contains("NaN"));
            assert!(!entry.source.is_empty());
        }
        assert_eq!(sheet("iodine-99"), None);
        assert_eq!(plate_material("N-BK7"), None);
    }

    #[test]
    fn groups_hold_what_files_may_name() {
        assert_eq!(
            names("sheet"),
            [
                "iodine-dense",
                "iodine-medium",
                "iodine-pale",
                "display-film",
                "display-film-low-cover",
                "ideal"
            ]
        );
        assert_eq!(names("glass").len(), 36);
        assert_eq!(names("crystal"), ["quartz", "calcite", "mgf2"]);
        assert_eq!(
            names("biaxial crystal"),
            [
                "muscovite",
                "gypsum",
                "topaz",
                "aragonite",
                "anhydrite",
                "baryte",
                "ktp",
                "lbo"
            ]
        );
        assert_eq!(
            names("plate"),
            [
                "quartz",
                "calcite",
                "mgf2",
                "gypsum",
                "mica",
                "polymer-film",
                "none"
            ]
        );
        assert_eq!(names("coating"), ["none", "mgf2", "ideal"]);
        assert_eq!(names("immersion"), ["air", "water", "oil"]);
        assert!(names("source").is_empty());
    }

    #[test]
    fn misspelt_names_find_their_neighbour_and_strangers_none() {
        for (group, name, expected) in [
            ("sheet", "iodine medium", Some("iodine-medium")),
            ("sheet", "Iodin-pale", Some("iodine-pale")),
            ("sheet", "iodine-32", Some("iodine-medium")),
            ("sheet", "IODINE-38", Some("iodine-pale")),
            ("glass", "iodine-22", None),
            ("glass", "B-270", Some("B270")),
            ("glass", "fused silica", Some("fused-silica")),
            ("glass", "acrylic", None),
            ("plate", "quarz", Some("quartz")),
            ("plate", "polymer", Some("polymer-film")),
            ("coating", "MgF", Some("mgf2")),
            ("immersion", "", None),
            ("nothing", "quartz", None),
        ] {
            assert_eq!(nearest(group, name), expected, "{group} {name}");
        }
    }

    #[test]
    fn everything_can_be_used_over_the_whole_grid() {
        for nm in [360.0, 374.9, 555.5, 750.1, 830.0] {
            for name in names("sheet") {
                let (k1, k2) = sheet(name).unwrap().principal_transmittances(nm).unwrap();
                assert!(0.0 <= k2 && k2 < k1 && k1 <= 1.0, "{name} at {nm}");
            }
            for name in names("glass") {
                let n = glass(name).unwrap().index.at(nm);
                assert!((1.4..2.0).contains(&n), "{name} at {nm}: {n}");
            }
            for name in names("plate") {
                if let Some(b) = plate_material(name).unwrap().at(nm).unwrap() {
                    assert!((0.002..0.25).contains(&b), "{name} at {nm}: {b}");
                }
            }
        }
    }

    /// Two strengths of one dye: their densities stand in a constant ratio (Beer's law). 2.07 +- 0.06 over the table is the
    /// spread that two-digit values leave; a wrong digit in one row falls out.
    #[test]
    fn iodine_sheets_obey_beers_law() {
        let (strong, weak) = (
            sheet("iodine-dense").unwrap(),
            sheet("iodine-medium").unwrap(),
        );
        for nm in [400.0, 450.0, 500.0, 550.0, 600.0, 650.0, 700.0, 750.0] {
            let density = |sheet: &PolarizingSheet| {
                -math::log10(sheet.principal_transmittances(nm).unwrap().0)
            };
            let ratio = density(&strong) / density(&weak);
            assert!((ratio - 2.07).abs() < 0.06, "{nm} nm: {ratio}");
        }
    }

    /// What is remembered of display films: 42 to 44 % of unpolarized white light, of which 99.9 % and more is polarized.
    #[test]
    fn a_display_film_passes_and_polarizes_what_is_remembered() {
        use crate::spectrum::{Source, WavelengthGrid};
        let film = sheet("display-film").unwrap();
        let weights = crate::color::ColorWeights::new(
            &WavelengthGrid::default(),
            &Source::named("cie-d65").unwrap(),
        )
        .unwrap();
        let light = |of: fn(f64, f64) -> f64| {
            let spectrum: Vec<f64> = (WavelengthGrid::default().wavelengths_nm().iter())
                .map(|nm| film.principal_transmittances(*nm).unwrap())
                .map(|(k1, k2)| of(k1, k2))
                .collect();
            weights.xyz(&spectrum).unwrap().luminance() / weights.white().luminance()
        };
        let single = light(|k1, k2| 0.5 * (k1 + k2));
        assert!((single - 0.43).abs() < 0.005, "{single}");
        let parallel = light(|k1, k2| 0.5 * (k1 * k1 + k2 * k2));
        let crossed = light(|k1, k2| k1 * k2);
        let polarized = ((parallel - crossed) / (parallel + crossed)).sqrt();
        assert!((0.999..0.99999).contains(&polarized), "{polarized}");
    }

    /// A table in which two rows were exchanged would give another sign or no axes.
    #[test]
    fn biaxial_crystals_rise_from_x_to_z_and_have_their_sign() {
        for (name, positive, two_v_deg) in [
            ("muscovite", false, 38.5),
            ("gypsum", true, 58.0),
            ("topaz", true, 58.0),
            ("aragonite", false, 18.0),
            ("anhydrite", true, 43.0),
            ("baryte", true, 38.0),
        ] {
            let crystal = biaxial(name).unwrap();
            let [x, y, z] = crystal.indices(589.3);
            assert!(x < y && y < z, "{name}: {x} {y} {z}");
            assert_eq!(crystal.is_positive(589.3), positive, "{name}");
            let two_v = crystal.acute_angle_rad(589.3).to_degrees();
            assert!((two_v - two_v_deg).abs() < 1e-6, "{name}: {two_v}");
        }
        for nm in [360.0, 589.3, 830.0] {
            for (name, positive) in [("ktp", true), ("lbo", false)] {
                let crystal = biaxial(name).unwrap();
                let [x, y, z] = crystal.indices(nm);
                assert!(x < y && y < z, "{name} {nm}");
                assert_eq!(crystal.is_positive(nm), positive, "{name} {nm}");
            }
        }
    }

    #[test]
    fn a_range_is_known_where_something_was_measured() {
        for (name, range_nm) in [
            ("IODINE-MEDIUM", Some((375.0, 750.0))),
            ("b270", Some((435.83, 656.27))),
            ("polycarbonate", Some((436.8, 1052.0))),
            ("quartz", Some((198.0, 2053.1))),
            ("polymer-film", Some((450.0, 650.0))),
            ("gypsum", None),
            ("none", None),
            ("nonsense", None),
        ] {
            assert_eq!(measured_range_nm(name), range_nm, "{name}");
        }
    }

    #[test]
    fn the_polymer_film_follows_the_trade() {
        let film = plate_material("polymer-film").unwrap();
        for (nm, remembered) in [(450.0, 1.08), (550.0, 1.0), (650.0, 0.96)] {
            // Two digits behind the point are remembered, so half a unit of the last.
            let relative = film.relative(nm, 550.0).unwrap();
            assert!((relative - remembered).abs() < 5e-3, "{nm}: {relative}");
        }
        let b = film.at(550.0).unwrap().unwrap();
        assert!((b - 0.0025).abs() < 5e-5);
    }
}
