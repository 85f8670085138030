//! Lamps.

use std::sync::LazyLock;

use super::{SpectralTable, TableError, WavelengthGrid, embedded};
use crate::math;

/// The second radiation constant `h c / k` in nm K, from the exact constants of the SI (BIPM, SI brochure, 9th
/// edition 2019; from memory).
const SECOND_RADIATION_NM_K: f64 = 1e9 * 6.626_070_15e-34 * 299_792_458.0 / 1.380_649e-23;

/// Where a blackbody's relative power is 1, nm.
const REFERENCE_NM: f64 = 560.0;

/// A lamp's relative spectral power.
///
/// Only ratios matter: everything is divided by the parallel field in the end.
#[derive(Debug, Clone, PartialEq)]
pub enum Source {
    /// A tabulated spectrum, relative power.
    Table {
        /// Catalog name or file name.
        name: String,
        /// Relative power against wavelength.
        power: SpectralTable,
    },
    /// Planck's radiator.
    Blackbody {
        /// Temperature, K, above 0; a scenario allows [`Source::BLACKBODY_K`].
        temperature_k: f64,
    },
    /// A Gaussian line.
    Line {
        /// Centre, nm.
        centre_nm: f64,
        /// Full width at half maximum, nm, above 0. A line much narrower than the wavelength grid's step falls between
        /// its points.
        width_nm: f64,
    },
}

/// A lamp of the catalog.
struct CatalogLamp {
    name: &'static str,
    /// What it is, in a few words.
    words: &'static str,
    power: SpectralTable,
}

/// The catalog's lamps, in the order in which they are listed.
static LAMPS: LazyLock<Vec<CatalogLamp>> = LazyLock::new(|| {
    let equal_energy = [
        (WavelengthGrid::SHORTEST_NM, 100.0),
        (WavelengthGrid::LONGEST_NM, 100.0),
    ];
    let read = |name, words, text| {
        let rows = embedded::rows(text).into_iter().map(|[nm, p]| (nm, p));
        let power = SpectralTable::new(rows).ok()?;
        Some(CatalogLamp { name, words, power })
    };
    [
        read(
            "cie-a",
            "incandescent, 2856 K",
            include_str!("data/cie-a.csv"),
        ),
        read("cie-d65", "daylight", include_str!("data/cie-d65.csv")),
        (SpectralTable::new(equal_energy).ok()).map(|power| CatalogLamp {
            name: "cie-e",
            words: "equal power",
            power,
        }),
        read(
            "led-b1",
            "white light-emitting diode, about 2700 K",
            include_str!("data/led-b1.csv"),
        ),
        read(
            "led-b2",
            "white light-emitting diode, about 3000 K",
            include_str!("data/led-b2.csv"),
        ),
        read(
            "led-b3",
            "white light-emitting diode, about 4100 K",
            include_str!("data/led-b3.csv"),
        ),
        read(
            "led-b4",
            "white light-emitting diode, about 5100 K",
            include_str!("data/led-b4.csv"),
        ),
        read(
            "led-b5",
            "white light-emitting diode, about 6600 K",
            include_str!("data/led-b5.csv"),
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
});

impl Source {
    /// Least and largest temperature of a blackbody that a scenario may ask for, K.
    pub const BLACKBODY_K: (f64, f64) = (500.0, 50_000.0);

    /// A lamp of the catalog; `None` for an unknown name.
    ///
    /// `cie-a` and `cie-d65` are the CIE's tables and cover 300 to 780 nm, `led-b1` to `led-b5` 380 to 780 nm; `cie-e`,
    /// equal power, covers 360 to 830 nm. The files in `src/spectrum/data/` name their sources.
    ///
    /// Checked by: this file's unit tests and `tests/reference/color.rs`.
    ///
    /// # Examples
    /// ```
    /// use polstack::spectrum::Source;
    /// let lamp = Source::named("cie-d65").unwrap();
    /// assert_eq!(lamp.power(560.0), Ok(100.0));
    /// ```
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        let lamp = LAMPS.iter().find(|lamp| lamp.name == name)?;
        Some(Self::Table {
            name: lamp.name.to_owned(),
            power: lamp.power.clone(),
        })
    }

    /// The catalog's lamp names.
    #[must_use]
    pub fn names() -> Vec<&'static str> {
        LAMPS.iter().map(|lamp| lamp.name).collect()
    }

    /// The catalog's lamps: name, what it is in a few words, first and last wavelength in nm.
    pub fn catalog() -> impl Iterator<Item = (&'static str, &'static str, (f64, f64))> {
        LAMPS
            .iter()
            .map(|lamp| (lamp.name, lamp.words, lamp.power.ends_nm()))
    }

    /// A word for the lamp.
    #[must_use]
    pub fn name(&self) -> String {
        match self {
            Self::Table { name, .. } => name.clone(),
            Self::Blackbody { temperature_k } => format!("blackbody at {temperature_k} K"),
            Self::Line {
                centre_nm,
                width_nm,
            } => format!("line at {centre_nm} nm, {width_nm} nm wide"),
        }
    }

    /// Relative power at one wavelength.
    ///
    /// - A table is linear between its rows. That is the CIE's practice for D65 and for the LED tables, which are
    ///   to be read linearly at 1 nm (CIE 015:2018, from memory); for A, which has a formula, the straight line
    ///   between rows 5 nm apart is within 0.1 % of it from 380 nm on.
    /// - A blackbody is `(560/l)^5 (exp(c2/(560 T)) - 1) / (exp(c2/(l T)) - 1)`, 1 at 560 nm, with `c2 = h c/k` exact.
    ///   Source: Planck's law, CIE 015:2018 (from memory).
    /// - A line is `exp(-4 ln 2 ((l - centre)/width)^2)`, 1 at its centre.
    ///
    /// Checked by: this file's unit tests.
    ///
    /// # Errors
    /// [`TableError::Uncovered`] outside a table.
    pub fn power(&self, wavelength_nm: f64) -> Result<f64, TableError> {
        match self {
            Self::Table { power, .. } => power.at(wavelength_nm),
            Self::Blackbody { temperature_k } => Ok(planck(wavelength_nm, *temperature_k)),
            Self::Line {
                centre_nm,
                width_nm,
            } => {
                let widths = (wavelength_nm - centre_nm) / width_nm;
                Ok(math::exp(-4.0 * std::f64::consts::LN_2 * widths * widths))
            }
        }
    }
}

/// Planck's law relative to 560 nm. Both exponentials are written with a negative exponent, so that neither
/// overflows.
fn planck(wavelength_nm: f64, temperature_k: f64) -> f64 {
    let exponent = |nm: f64| SECOND_RADIATION_NM_K / (nm * temperature_k);
    let (here, reference) = (exponent(wavelength_nm), exponent(REFERENCE_NM));
    (REFERENCE_NM / wavelength_nm).powi(5)
        * math::exp(reference - here)
        * (math::expm1(-reference) / math::expm1(-here))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn power(name: &str, nm: f64) -> f64 {
        Source::named(name).unwrap().power(nm).unwrap()
    }

    #[test]
    fn every_listed_lamp_is_there_with_all_its_rows() {
        let names = Source::names();
        assert_eq!(
            names,
            [
                "cie-a", "cie-d65", "cie-e", "led-b1", "led-b2", "led-b3", "led-b4", "led-b5"
            ]
        );
        for name in names {
            let Some(Source::Table { name: own, power }) = Source::named(name) else {
                panic!("{name}")
            };
            assert_eq!(own, name);
            let (count, ends_nm) = match name {
                "cie-a" | "cie-d65" => (97, (300.0, 780.0)),
                "cie-e" => (2, (360.0, 830.0)),
                _ => (81, (380.0, 780.0)),
            };
            assert_eq!(
                (power.rows().count(), power.ends_nm()),
                (count, ends_nm),
                "{name}"
            );
            assert!(power.rows().all(|(_, p)| p >= 0.0), "{name}");
        }
        assert_eq!(Source::named("CIE-A"), None);
    }

    /// Values of colour-science 0.4.7 noted when the project was planned, apart from the table files.
    #[test]
    fn known_rows_of_the_lamps_are_met() {
        for (name, nm, expected) in [
            ("cie-d65", 400.0, 82.7549),
            ("cie-d65", 450.0, 117.008),
            ("cie-d65", 500.0, 109.354),
            ("cie-d65", 560.0, 100.0),
            ("cie-d65", 600.0, 90.0062),
            ("cie-d65", 650.0, 80.0268),
            ("cie-d65", 700.0, 71.6091),
            ("led-b3", 450.0, 18.87),
            ("led-b3", 455.0, 14.58),
            ("led-b3", 500.0, 8.94),
            ("led-b3", 560.0, 15.08),
            ("led-b3", 600.0, 16.50),
            ("led-b3", 650.0, 9.85),
            ("cie-e", 487.3, 100.0),
        ] {
            assert!(
                (power(name, nm) - expected).abs() < 1e-9,
                "{name} at {nm} nm"
            );
        }
    }

    /// The CIE's formula for illuminant A (CIE 015:2018), with its own c2 = 1.435e7 nm K and 2848 K.
    #[test]
    fn the_table_of_illuminant_a_follows_its_formula() {
        let a = |nm: f64| {
            let x = |nm: f64| math::expm1(1.435e7 / (2848.0 * nm));
            100.0 * (560.0 / nm).powi(5) * x(560.0) / x(nm)
        };
        for i in 0..=80 {
            let nm = 380.0 + 5.0 * f64::from(i);
            let (table, formula) = (power("cie-a", nm), a(nm));
            // Six digits in the table.
            assert!((table / formula - 1.0).abs() < 5e-6, "{nm} nm: {table}");
            // Half way between rows, where a straight line is furthest off.
            if nm < 780.0 {
                let (table, formula) = (power("cie-a", nm + 2.5), a(nm + 2.5));
                assert!((table / formula - 1.0).abs() < 1e-3, "{nm} nm: {table}");
            }
        }
    }

    /// Illuminant A is Planck's radiator at 2848 K * 1.43878/1.435 = 2855.5 K in today's constants.
    #[test]
    fn a_blackbody_of_2855_5_kelvin_is_illuminant_a() {
        let lamp = Source::Blackbody {
            temperature_k: 2848.0 * SECOND_RADIATION_NM_K / 1.435e7,
        };
        for nm in [380.0, 450.0, 560.0, 700.0, 780.0] {
            let ratio = 100.0 * lamp.power(nm).unwrap() / power("cie-a", nm);
            assert!((ratio - 1.0).abs() < 5e-6, "{nm} nm: {ratio}");
        }
    }

    #[test]
    fn blackbodies_stay_finite_and_obey_wien_and_rayleigh_jeans() {
        for temperature_k in [1000.0, 3200.0, 20000.0] {
            let lamp = Source::Blackbody { temperature_k };
            assert!((lamp.power(560.0).unwrap() - 1.0).abs() < 1e-14);
            for i in 0..=470 {
                let p = lamp.power(360.0 + f64::from(i)).unwrap();
                assert!(p.is_finite() && p > 0.0);
            }
        }
        // Wien's displacement: 2.897771955e6 nm K (from memory of CODATA) puts the peak of 5000 K at 579.554 nm.
        let lamp = Source::Blackbody {
            temperature_k: 5000.0,
        };
        let slope = |nm: f64| lamp.power(nm + 0.01).unwrap() - lamp.power(nm - 0.01).unwrap();
        assert!(slope(579.5) > 0.0 && slope(579.6) < 0.0);
        // Far above c2/l the law is l^-4.
        assert!((planck(280.0, 1e12) / 16.0 - 1.0).abs() < 1e-6);
    }

    #[test]
    fn a_line_is_half_as_high_half_a_width_from_its_centre() {
        let lamp = Source::Line {
            centre_nm: 546.1,
            width_nm: 10.0,
        };
        for (nm, expected) in [(546.1, 1.0), (541.1, 0.5), (551.1, 0.5), (556.1, 0.0625)] {
            assert!((lamp.power(nm).unwrap() - expected).abs() < 1e-12);
        }
        assert_eq!(lamp.name(), "line at 546.1 nm, 10 nm wide");
    }

    #[test]
    fn a_lamp_is_not_extrapolated() {
        assert!(Source::named("led-b1").unwrap().power(379.0).is_err());
        assert!(Source::named("cie-a").unwrap().power(781.0).is_err());
    }
}
