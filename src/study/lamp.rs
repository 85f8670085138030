//! A lamp over a grid of wavelengths, ready to weigh fields with.

use crate::color::ColorWeights;
use crate::light_path::run::{self, Fields};
use crate::light_path::{LightPath, PathError};
use crate::optics::Rays;
use crate::spectrum::{Source, WavelengthGrid};

use super::StudyError;
use super::measures::{ACCURACY, luminous, ratio};
use super::quantity::Quantity;
use super::response::Response;

/// A lamp with the weights of its wavelengths, made once by studies that judge many fields under it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Lamp<'a> {
    pub(super) weights: ColorWeights,
    /// Lamp times y-bar.
    pub(super) luminous: Vec<f64>,
    pub(super) wavelengths_nm: &'a [f64],
}

impl<'a> Lamp<'a> {
    pub(super) fn new(source: &Source, grid: &'a WavelengthGrid) -> Result<Self, StudyError> {
        let weights = ColorWeights::new(grid, source)?;
        Ok(Self {
            luminous: luminous(&weights),
            weights,
            wavelengths_nm: grid.wavelengths_nm(),
        })
    }

    /// The fields of a path, with as many rays as they need.
    pub(super) fn fields(&self, path: &LightPath) -> Result<Fields, PathError> {
        path.check(self.wavelengths_nm)?;
        let (nm, luminous) = (self.wavelengths_nm, &self.luminous);
        let rays = run::quadrature(path, nm, luminous, ACCURACY)?.rays;
        run::fields(path, &rays, nm, luminous)
    }

    /// Luminance of a transmittance at the grid's wavelengths.
    pub(super) fn luminance(&self, transmittance: &[f64]) -> f64 {
        let pairs = transmittance.iter().zip(&self.luminous);
        pairs.map(|(t, weight)| t * weight).sum()
    }

    /// Luminous extinction ratio of two fields; infinite where nothing leaks.
    pub(super) fn extinction_ratio(&self, parallel: &[f64], crossed: &[f64]) -> f64 {
        ratio(self.luminance(parallel), self.luminance(crossed)).unwrap_or(f64::INFINITY)
    }

    /// The light as a function of some quantities. Without `nodes` the table is compared with direct runs and made fine enough; with `nodes` it is a
    /// sketch of about so many nodes, which is not compared.
    pub(super) fn response(
        &self,
        path: &LightPath,
        quantities: &[Quantity],
        ranges: &[(f64, f64)],
        rays: &Rays,
        plates: bool,
        nodes: Option<usize>,
    ) -> Result<Response, PathError> {
        let (wavelengths_nm, luminous) = (self.wavelengths_nm, &self.luminous[..]);
        match nodes {
            Some(nodes) => {
                let spectrum = (wavelengths_nm, luminous);
                Ok(Response::sketched(
                    path, quantities, ranges, rays, spectrum, plates, nodes,
                ))
            }
            None => Response::new(
                path,
                quantities,
                ranges,
                rays,
                wavelengths_nm,
                luminous,
                plates,
            ),
        }
    }
}
