//! A strain limit in the units of those who make, buy and mount glass.

use crate::light_path::{LightPath, PartKind};
use crate::material::catalog::{StressGrade, stress_grade};
use crate::material::stress_path_difference_nm;
use crate::optics::Strain;

use super::super::measures::GREEN_NM;
use super::super::quantity::{Quantity, QuantityKind};

/// A strain's amount in other units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrainUnits {
    /// The amount, nm: of a uniform strain its path difference, of a radial one that at the rim, of a clamp or a map the root
    /// mean square within 0.8 of the aperture.
    pub path_difference_nm: f64,
    /// In waves at [`GREEN_NM`].
    pub waves: f64,
    /// For each cm of glass path, where that is stated.
    pub nm_per_cm: Option<f64>,
    /// Difference of the principal stresses in MPa, where glass path and stress-optic coefficient are known.
    pub stress_mpa: Option<f64>,
    /// The loosest stress grade that stays within; `None` where no glass path is stated or no grade does.
    pub grade: Option<StressGrade>,
    /// Force of each contact of a clamp, N.
    pub force_n: Option<f64>,
}

impl StrainUnits {
    /// Of `amount_nm` of one strain of a path; `None` for any other quantity.
    #[must_use]
    pub fn of(
        path: &LightPath,
        amount: Quantity,
        amount_nm: f64,
        glass_path_mm: Option<f64>,
    ) -> Option<Self> {
        let QuantityKind::StrainAmount { profile } = amount.kind else {
            return None;
        };
        let there = amount.with(path, amount_nm);
        let (PartKind::Condenser(lens) | PartKind::Objective(lens)) =
            &there.parts.get(amount.part?)?.kind
        else {
            return None;
        };
        let (brewster, force_n) = match lens.strain.get(profile)? {
            Strain::Clamp {
                stress_optic_brewster,
                force_n,
                ..
            } => (Some(*stress_optic_brewster), Some(*force_n)),
            _ => (lens.glass.stress_optic_brewster, None),
        };
        let nm_per_cm = glass_path_mm.map(|mm| amount_nm / (0.1 * mm));
        let nm_per_mpa = (brewster.zip(glass_path_mm))
            .map(|(c, mm)| stress_path_difference_nm(c.abs(), 1.0, mm))
            .filter(|nm| *nm > 0.0);
        Some(Self {
            path_difference_nm: amount_nm,
            waves: amount_nm / GREEN_NM,
            nm_per_cm,
            stress_mpa: nm_per_mpa.map(|nm| amount_nm / nm),
            grade: nm_per_cm.and_then(stress_grade),
            force_n,
        })
    }
}
