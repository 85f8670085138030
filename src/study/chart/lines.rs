//! Lines of equal birefringence.

use super::BirefringenceLine;
use crate::material::catalog;
use crate::order::sort_by_number;

/// The wavelength at which birefringence is told.
pub use crate::material::SODIUM_NM;

/// Round numbers between those of the catalog.
const ROUND: [f64; 8] = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2];

/// Digits behind the point that are printed.
const UNIT: f64 = 1e-4;

/// One line for each birefringence of the catalog's plate materials in sodium light, to four digits behind the point, and lines of round numbers
/// between them; rising.
///
/// Checked by: this file's unit test.
#[must_use]
pub fn birefringence_lines() -> Vec<BirefringenceLine> {
    let mut lines: Vec<BirefringenceLine> = Vec::new();
    let known = catalog::names("plate").into_iter().filter_map(|name| {
        let birefringence = catalog::plate_material(name)?.at(SODIUM_NM).ok()??;
        Some((birefringence, Some(name)))
    });
    for (birefringence, name) in known.chain(ROUND.map(|round| (round, None))) {
        let birefringence = (birefringence / UNIT).round() / (1.0 / UNIT).round();
        let same = (lines.iter_mut()).find(|line| line.birefringence == birefringence);
        match same {
            Some(line) => line.materials.extend(name.map(str::to_owned)),
            None => lines.push(BirefringenceLine {
                birefringence,
                materials: name.map(str::to_owned).into_iter().collect(),
            }),
        }
    }
    sort_by_number(&mut lines, |line| line.birefringence);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_material_with_a_birefringence_has_its_line_and_equals_share_one() {
        let lines = birefringence_lines();
        let of = |name: &str| {
            let line = (lines.iter()).find(|line| line.materials.iter().any(|m| m == name));
            line.map(|line| line.birefringence)
        };
        // The first list of check values, part B (tests/published/SOURCES.md), and the rows of plates.csv.
        for (name, birefringence) in [
            ("quartz", 0.0091),
            ("gypsum", 0.0091),
            ("calcite", 0.1722),
            ("mgf2", 0.0118),
            ("mica", 0.0047),
            ("polymer-film", 0.0024),
        ] {
            assert_eq!(of(name), Some(birefringence), "{name}");
        }
        assert_eq!(of("none"), None);
        assert!(
            lines
                .windows(2)
                .all(|pair| pair[0].birefringence < pair[1].birefringence)
        );
    }
}
