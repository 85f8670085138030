//! Whether a stack can be run: which parts there must be, in which order, and what their media let through.

use super::error::{Misplaced, Needed, PathError};
use super::stack::{LightPath, Part, PartKind};
use crate::math;
use crate::optics::{AskewPlate, Lens, Specimen};

impl LightPath {
    /// Whether the stack can be run at these wavelengths.
    ///
    /// # Errors
    /// The first [`PathError`] found: a missing part, an impossible order, rays too steep for a medium.
    pub fn check(&self, wavelengths_nm: &[f64]) -> Result<(), PathError> {
        self.check_order()?;
        self.check_media(wavelengths_nm)
    }

    fn check_order(&self) -> Result<(), PathError> {
        let mut seen: Vec<&'static str> = Vec::new();
        for (part, Part { kind, .. }) in self.parts.iter().enumerate() {
            let what = kind.word();
            let had = |word: &str| seen.contains(&word);
            let order = |how| Err(PathError::Order { part, what, how });
            let most = match what {
                "condenser" => 2,
                "slide" | "objective" | "analyzer" => 1,
                _ => usize::MAX,
            };
            if seen.iter().filter(|word| **word == what).count() >= most {
                return Err(PathError::Twice { part, what, most });
            }
            if had("analyzer") {
                return order(Misplaced::AfterAnalyzer);
            }
            let below_objective = matches!(
                kind,
                PartKind::Polarizer(_)
                    | PartKind::Condenser(_)
                    | PartKind::Slide(_)
                    | PartKind::Specimen(_)
            );
            if matches!(kind, PartKind::Polarizer(_)) && had("objective") {
                return order(Misplaced::PolarizerAfterObjective);
            }
            if below_objective && had("objective") {
                return order(Misplaced::AfterObjective);
            }
            if matches!(kind, PartKind::Condenser(_)) && (had("slide") || had("specimen")) {
                return order(Misplaced::CondenserAfterSlide);
            }
            let contact = match kind {
                PartKind::Polarizer(polar) | PartKind::Analyzer(polar) => polar.contact,
                _ => None,
            };
            let follows = self.parts.get(part + 1).map(|part| &part.kind);
            if contact.is_some() && !matches!(follows, Some(PartKind::Slide(_))) {
                return Err(PathError::NoContact { part });
            }
            seen.push(what);
        }
        if let (Some((part, first)), Some((index, last))) =
            (self.condensers().next(), self.condenser())
            && part < index
            && first.na / first.immersion >= last.na / last.immersion
        {
            let angle_rad = |lens: &Lens| math::asin(lens.na / lens.immersion);
            return Err(PathError::Narrowing {
                part,
                angle_rad: angle_rad(first),
                next_rad: angle_rad(last),
            });
        }
        let missing = |what| Err(PathError::Missing { what });
        if !seen.contains(&"polarizer") {
            return missing(Needed::Polarizer);
        }
        if !seen.contains(&"analyzer") {
            return missing(Needed::Analyzer);
        }
        if self.objective().is_none() && self.view_na.is_none() {
            return missing(Needed::Objective);
        }
        Ok(())
    }

    fn check_media(&self, wavelengths_nm: &[f64]) -> Result<(), PathError> {
        let na = self.na();
        for (part, Part { kind, .. }) in self.parts.iter().enumerate() {
            let na = match kind {
                PartKind::Condenser(lens) => na * lens.na / self.rim_na(part),
                _ if self.is_oblique(part) => na * self.steepness(part),
                _ => na,
            };
            let steep = |index: f64, medium| {
                // NaN counts as too steep.
                if na < index {
                    Ok(())
                } else {
                    Err(PathError::TooSteep {
                        part,
                        na,
                        index,
                        medium,
                    })
                }
            };
            match kind {
                PartKind::Condenser(lens) | PartKind::Objective(lens) => {
                    steep(lens.immersion, "its immersion medium")?;
                    self.passage(part)?.check(self.na(), wavelengths_nm)?;
                    for &wavelength_nm in wavelengths_nm {
                        lens.strain_factor(wavelength_nm)
                            .map_err(|source| PathError::Table { part, source })?;
                    }
                    // A rectangle holds a disc when it holds the disc's four outermost points.
                    let rim = na / lens.na;
                    for (x, y) in [(rim, 0.0), (-rim, 0.0), (0.0, rim), (0.0, -rim)] {
                        if lens.strain.iter().any(|strain| strain.at(x, y).is_none()) {
                            return Err(PathError::MapUncovered { part, x, y });
                        }
                    }
                }
                PartKind::Slide(slide) => {
                    let (below, above) = self.media(part);
                    steep(below, "the medium below the slide")?;
                    steep(above, "the medium above the slide")?;
                    for &wavelength_nm in wavelengths_nm {
                        steep(slide.glass.at(wavelength_nm), "slide or cover glass")?;
                        steep(slide.mount.at(wavelength_nm), "mounting medium")?;
                    }
                }
                PartKind::Polarizer(polar) | PartKind::Analyzer(polar) if self.is_oblique(part) => {
                    let (below, above) = self.media(part);
                    steep(polar.sheet.index, "the film")?;
                    if polar.sheet.cover_nm != 0.0 {
                        let (ordinary, extraordinary) = polar.cover_indices();
                        steep(ordinary.min(extraordinary), "the film's cover")?;
                    }
                    steep(below, "the medium around the film")?;
                    steep(above, "the medium between film and slide")?;
                }
                PartKind::Specimen(
                    Specimen::Plate { crystal, .. }
                    | Specimen::Across { crystal, .. }
                    | Specimen::Askew(AskewPlate { crystal, .. }),
                ) => {
                    for &wavelength_nm in wavelengths_nm {
                        steep(crystal.ordinary.at(wavelength_nm), "the crystal")?;
                        steep(crystal.extraordinary.at(wavelength_nm), "the crystal")?;
                    }
                }
                PartKind::Specimen(Specimen::Biaxial(plate)) => {
                    for &wavelength_nm in wavelengths_nm {
                        for index in plate.crystal.indices(wavelength_nm) {
                            steep(index, "the crystal")?;
                        }
                    }
                }
                _ => {}
            }
        }
        Ok(())
    }
}
