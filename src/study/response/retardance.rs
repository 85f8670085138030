//! A retarder that is the same for every ray, with numbers that may be varied.

use std::array::from_fn;
use std::f64::consts::{FRAC_PI_4, PI};

use super::beam::{LANES, Lanes};
use crate::light_path::{LightPath, PartKind, PathError};
use crate::math;
use crate::optics::{Specimen, Strain};
use crate::study::quantity::{Quantity, QuantityKind};

/// A retarder whose nodes leave less than this of `sin(2x)` at some wavelength is not tabulated.
const LEAST_SINE: f64 = 0.05;

/// Half phases beyond this, in radians, are left to direct runs: the sum's sines are good up to 1e7.
const MOST_PHASE: f64 = 1e6;

/// A number that is varied, or stays as written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Given {
    Fixed(f64),
    /// Index in the quantities.
    Varied(usize),
}

impl Given {
    /// A quantity of the path; the last of several equal ones counts, as where they are set one by one.
    pub(super) fn of(path: &LightPath, quantities: &[Quantity], quantity: Quantity) -> Self {
        match quantities.iter().rposition(|q| *q == quantity) {
            Some(index) => Self::Varied(index),
            None => Self::Fixed(quantity.value(path).unwrap_or(0.0)),
        }
    }

    pub(super) fn at(self, values: &[f64]) -> f64 {
        match self {
            Self::Fixed(value) => value,
            Self::Varied(index) => values[index],
        }
    }

    pub(super) fn is_varied(self) -> bool {
        matches!(self, Self::Varied(_))
    }
}

/// A retarder that is the same for every ray.
#[derive(Debug, Clone)]
pub(super) struct Retardance {
    pub(super) amount: Given,
    pub(super) azimuth: Given,
    pub(super) amount_is: Quantity,
    pub(super) azimuth_is: Quantity,
    /// `pi f / wavelength`, 1/nm, of each block of wavelengths.
    pub(super) half_wavenumber: Vec<Lanes>,
    /// The least and the most of it, signs left out.
    extremes: (f64, f64),
}

impl Retardance {
    /// The retarder of a part, or of a uniform strain profile of a lens; `None` for a part that is none.
    pub(super) fn of(
        path: &LightPath,
        quantities: &[Quantity],
        part: usize,
        profile: Option<usize>,
        wavelengths_nm: &[f64],
    ) -> Result<Option<Self>, PathError> {
        let factor = |nm: f64| match (&path.parts[part].kind, profile) {
            (PartKind::Condenser(lens) | PartKind::Objective(lens), Some(profile)) => {
                match lens.strain.get(profile) {
                    Some(Strain::Uniform { .. }) => lens.strain_factor(nm).map(Some),
                    _ => Ok(None),
                }
            }
            (PartKind::Retarder(plate) | PartKind::Plate(plate), None) => {
                plate.material.relative(nm, plate.at_nm).map(Some)
            }
            (PartKind::Specimen(Specimen::Stated { .. }), None) => Ok(Some(1.0)),
            _ => Ok(None),
        };
        let half_wavenumber: Option<Vec<f64>> = (wavelengths_nm.iter())
            .map(|&nm| Ok(factor(nm)?.map(|factor| PI * factor / nm)))
            .collect::<Result<_, _>>()
            .map_err(|source| PathError::Table { part, source })?;
        let quantity = |kind| Quantity {
            part: Some(part),
            kind,
        };
        let (amount_is, azimuth_is) = match profile {
            Some(profile) => (
                quantity(QuantityKind::StrainAmount { profile }),
                quantity(QuantityKind::StrainAzimuth { profile }),
            ),
            None => (
                quantity(QuantityKind::PathDifference),
                quantity(QuantityKind::Azimuth),
            ),
        };
        Ok(half_wavenumber.map(|numbers| Self {
            amount: Given::of(path, quantities, amount_is),
            azimuth: Given::of(path, quantities, azimuth_is),
            amount_is,
            azimuth_is,
            half_wavenumber: in_blocks(&numbers),
            extremes: (numbers.iter()).fold((f64::INFINITY, 0.0), |(least, most), k| {
                (least.min(k.abs()), most.max(k.abs()))
            }),
        }))
    }

    pub(super) fn is_varied(&self) -> bool {
        self.amount.is_varied() || self.azimuth.is_varied()
    }

    /// Whether the kernel's sines are good for the path difference.
    pub(super) fn reaches(&self, values: &[f64]) -> bool {
        self.amount.at(values).abs() * self.extremes.1 < MOST_PHASE
    }

    /// The path difference of the nodes, nm: about a quarter wave.
    pub(super) fn node_nm(&self) -> f64 {
        let (least, most) = self.extremes;
        2.0 * FRAC_PI_4 / (least + most)
    }

    /// Whether the nodes tell the products apart at every wavelength.
    pub(super) fn is_told_apart(&self) -> bool {
        // The sine has no lower point than its ends between them.
        let (least, most) = self.extremes;
        let apart = |k: f64| math::sin(2.0 * k * self.node_nm()) >= LEAST_SINE;
        apart(least) && apart(most)
    }
}

/// Numbers of the wavelengths in blocks; the last one fills the last block up.
pub(super) fn in_blocks(numbers: &[f64]) -> Vec<Lanes> {
    let last = numbers.len().saturating_sub(1);
    (0..numbers.len().div_ceil(LANES))
        .map(|block| from_fn(|lane| numbers[(block * LANES + lane).min(last)]))
        .collect()
}
