//! The same physics written to be read: plain matrices, one ray and one wavelength at a time.
//!
//! It gives the same numbers as the kernel (tests compare the two to 1e-12). Studies use it where a few rays at one wavelength are enough.
//!
//! ```
//! use polstack::light_path::Setting;
//! use polstack::light_path::reference::jones;
//! use polstack::optics::Ray;
//! let path = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene.path;
//! let along_the_axis = Ray { s: 0.0, azimuth_rad: 0.0 };
//! let whole = jones(&path, 0..path.parts.len(), Setting::EMPTY, along_the_axis, 550.0)?;
//! // Crossed polars leave nothing but what the sheets leak.
//! assert!(whole.transmittance() < 1e-3);
//! # Ok::<(), polstack::light_path::PathError>(())
//! ```

use std::f64::consts::TAU;
use std::ops::Range;

use super::chain::Setting;
use super::error::PathError;
use super::stack::{LightPath, PartKind};
use crate::calculus::{Jones, Mueller};
use crate::math;
use crate::optics::{Lens, LinearElement, Polarizer, Ray, Rays};

/// What one part does to one ray, as linear elements in the order of the light.
///
/// # Errors
/// [`PathError`] when a table does not cover the wavelength, a map the ray, or a lens cannot bend it.
pub fn elements(
    path: &LightPath,
    part: usize,
    setting: Setting,
    ray: Ray,
    wavelength_nm: f64,
) -> Result<Vec<LinearElement>, PathError> {
    let table = |source| PathError::Table { part, source };
    let meridional = |(p, s): (f64, f64)| LinearElement::real(ray.azimuth_rad, p, s);
    let polar = |polar: &Polarizer| {
        if !path.is_oblique(part) {
            return Ok(vec![polar.collimated(wavelength_nm).map_err(table)?]);
        }
        let ray = Ray {
            s: path.s_at(part, ray.s)?,
            ..ray
        };
        let film = polar.film_ray(ray);
        let absorbances = polar.absorbances(wavelength_nm).map_err(table)?;
        let (passed, absorbed) = film.amplitudes(absorbances);
        let (below, above) = path.media(part);
        let surface = |n: f64| meridional(polar.surface(n, ray.s));
        let sheet = LinearElement::real(film.absorbed_azimuth_rad, absorbed, passed);
        let phase = TAU * polar.cover_nm(ray.s) / wavelength_nm;
        let cover = LinearElement::retarder(ray.azimuth_rad, phase);
        Ok(match path.parts[part].kind {
            PartKind::Analyzer(_) => vec![surface(below), cover, sheet, surface(above)],
            _ => vec![surface(below), sheet, cover, surface(above)],
        })
    };
    match &path.parts[part].kind {
        PartKind::Plate(_) if !setting.plates => Ok(Vec::new()),
        PartKind::Specimen(_) if !setting.specimens => Ok(Vec::new()),
        PartKind::Retarder(plate) | PartKind::Plate(plate) => {
            Ok(vec![plate.element(wavelength_nm).map_err(table)?])
        }
        PartKind::Polarizer(sheet) => polar(sheet),
        PartKind::Analyzer(sheet) => polar(&Polarizer {
            azimuth_rad: setting.analyzer_azimuth_rad.unwrap_or(sheet.azimuth_rad),
            ..sheet.clone()
        }),
        PartKind::Condenser(lens) => lens_elements(path, part, lens, ray, wavelength_nm),
        PartKind::Objective(lens) => lens_elements(path, part, lens, ray, wavelength_nm),
        PartKind::Slide(slide) => {
            let (below, above) = path.media(part);
            Ok(vec![meridional(slide.transmittances(
                below,
                above,
                ray.s,
                wavelength_nm,
            ))])
        }
        PartKind::Specimen(specimen) => {
            Ok(specimen.ray(ray, wavelength_nm).elements(wavelength_nm))
        }
    }
}

fn lens_elements(
    path: &LightPath,
    part: usize,
    lens: &Lens,
    ray: Ray,
    wavelength_nm: f64,
) -> Result<Vec<LinearElement>, PathError> {
    let passage = path.passage(part)?;
    let (p, s) = passage.at(wavelength_nm).passed(ray.s)?.amplitudes(0.5);
    let half = LinearElement {
        azimuth_rad: ray.azimuth_rad,
        along: p,
        across: s,
    };
    let factor =
        (lens.strain_factor(wavelength_nm)).map_err(|source| PathError::Table { part, source })?;
    let (sin, cos) = math::sincos(ray.azimuth_rad);
    // Rays cross one another in the focus, so below the specimen a ray lies opposite to where it crosses the objective's pupil.
    let r = match path.parts[part].kind {
        PartKind::Condenser(_) => -ray.s / path.rim_na(part),
        _ => ray.s / path.rim_na(part),
    };
    let (x, y) = (r * cos, r * sin);
    let mut elements = vec![half];
    for strain in &lens.strain {
        let local = strain
            .at(x, y)
            .ok_or(PathError::MapUncovered { part, x, y })?;
        let phase = TAU * local.path_difference_nm * factor / wavelength_nm;
        elements.push(LinearElement::retarder(local.slow_azimuth_rad, phase));
    }
    elements.push(half);
    Ok(elements)
}

/// Jones matrix of the parts in `range` for one ray.
///
/// # Errors
/// As [`elements`].
pub fn jones(
    path: &LightPath,
    range: Range<usize>,
    setting: Setting,
    ray: Ray,
    wavelength_nm: f64,
) -> Result<Jones, PathError> {
    let mut whole = Jones::identity();
    for part in range {
        for element in elements(path, part, setting, ray, wavelength_nm)? {
            whole = element.jones() * whole;
        }
    }
    Ok(whole)
}

/// Mueller matrix of the parts in `range`, the weighted mean over the rays, by the coherent route: amplitudes multiply along
/// a ray, Mueller matrices add over rays.
///
/// # Errors
/// As [`elements`].
pub fn mean_mueller(
    path: &LightPath,
    range: Range<usize>,
    setting: Setting,
    rays: &Rays,
    wavelength_nm: f64,
) -> Result<Mueller, PathError> {
    mean(rays, |ray| {
        let jones = jones(path, range.clone(), setting, ray, wavelength_nm)?;
        Ok(Mueller::from_jones(&jones))
    })
}

/// The same mean Mueller matrix by the incoherent route: the Mueller matrix of every element is computed first, and these are multiplied along a ray.
///
/// # Errors
/// As [`elements`].
pub fn mean_mueller_of_elements(
    path: &LightPath,
    range: Range<usize>,
    setting: Setting,
    rays: &Rays,
    wavelength_nm: f64,
) -> Result<Mueller, PathError> {
    mean(rays, |ray| {
        let mut whole = Mueller::identity();
        for part in range.clone() {
            for element in elements(path, part, setting, ray, wavelength_nm)? {
                whole = Mueller::from_jones(&element.jones()) * whole;
            }
        }
        Ok(whole)
    })
}

/// Weighted mean over the rays.
fn mean(
    rays: &Rays,
    of_ray: impl Fn(Ray) -> Result<Mueller, PathError>,
) -> Result<Mueller, PathError> {
    let mut mean = Mueller::identity().scaled(0.0);
    for (ray, weight) in rays.iter() {
        mean = mean + of_ray(ray)?.scaled(weight);
    }
    Ok(mean)
}
