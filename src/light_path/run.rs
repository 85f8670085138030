//! From a light path to its transmittances at parallel and at crossed polars.
//!
//! The kernel runs the stretch in which parts act differently on different rays. Plates and analyzer in image space act on all rays alike, so they
//! act on the mean coherency matrix that the kernel leaves.
//!
//! ```
//! use polstack::light_path::run::{fields, quadrature};
//! let path = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene.path;
//! let (wavelengths_nm, luminous) = ([500.0, 600.0], [1.0, 1.0]);
//! let rays = quadrature(&path, &wavelengths_nm, &luminous, 1e-4)?.rays;
//! let fields = fields(&path, &rays, &wavelengths_nm, &luminous)?;
//! assert!(fields.crossed[0] < 0.01 * fields.parallel[0]);
//! # Ok::<(), polstack::light_path::PathError>(())
//! ```

use std::ops::Range;

use serde::Serialize;

use super::chain::{Chain, Setting};
use super::error::{Needed, PathError};
use super::kernel;
use super::stack::{LightPath, PartKind};
use crate::calculus::{Coherency, Stokes};
use crate::math;
use crate::optics::{Polarizer, Rays};

/// Transmittances for the lamp's light at each wavelength, the mean over the aperture, stray light included.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fields {
    /// Analyzer turned to the lower polar, plates and specimens out.
    pub parallel: Vec<f64>,
    /// Polars as the stack has them, plates out.
    pub crossed: Vec<f64>,
    /// Polars as the stack has them, plates in; `None` in a stack without plates.
    pub crossed_with_plate: Option<Vec<f64>>,
    /// Azimuth of the analyzer in the parallel field, radians.
    #[serde(skip)]
    pub parallel_azimuth_rad: f64,
}

/// A quadrature that meets a requested accuracy.
#[derive(Debug, Clone, PartialEq)]
pub struct Quadrature {
    /// The rays.
    pub rays: Rays,
    /// Estimated largest relative error of any transmittance: its change from the next smaller set of rays, or more where
    /// that set is not much smaller.
    pub error: f64,
}

/// Numbers of rings of the quadratures that are tried; there are four times as many spokes as rings.
const LADDER: [usize; 11] = [4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128];

/// Numbers of nodes in each cell that are tried where a clamp's contacts press near the rim of the light.
const CONTACT_LADDER: [usize; 4] = [3, 4, 6, 8];

/// The most wavelengths that one chain holds, so that its tables do not take too much memory.
pub(crate) fn at_once(rays: &Rays) -> usize {
    // At most 2 million numbers in a table that has one number for each ray and wavelength.
    (2_000_000 / rays.count()).clamp(8, 128).next_multiple_of(8)
}

const PLATES_OUT: Setting = Setting {
    specimens: true,
    ..Setting::EMPTY
};
const PLATES_IN: Setting = Setting {
    plates: true,
    ..PLATES_OUT
};

/// Runs a path that [`LightPath::check`] accepts.
///
/// `luminous` weighs the wavelengths (lamp times the observer's y-bar); only circular polars use it, to find the azimuth at which
/// the analyzer passes most.
///
/// # Errors
/// [`PathError`] when the path cannot be run.
pub fn fields(
    path: &LightPath,
    rays: &Rays,
    wavelengths_nm: &[f64],
    luminous: &[f64],
) -> Result<Fields, PathError> {
    run_fields(path, rays, wavelengths_nm, |run, empty| {
        run.parallel_azimuth_rad(empty, luminous)
    })
}

/// As [`fields`], with a known azimuth of the analyzer for the parallel field.
///
/// # Errors
/// [`PathError`] when the path cannot be run.
pub fn fields_at(
    path: &LightPath,
    rays: &Rays,
    wavelengths_nm: &[f64],
    parallel_azimuth_rad: f64,
) -> Result<Fields, PathError> {
    run_fields(path, rays, wavelengths_nm, |_, _| parallel_azimuth_rad)
}

fn run_fields(
    path: &LightPath,
    rays: &Rays,
    wavelengths_nm: &[f64],
    parallel_azimuth_rad: impl Fn(&Run, &[Coherency]) -> f64,
) -> Result<Fields, PathError> {
    let run = Run::new(path, rays, wavelengths_nm)?;
    let crossed = run.coherency(PLATES_OUT)?;
    let empty = if run.has_specimen {
        run.coherency(Setting::EMPTY)?
    } else {
        crossed.clone()
    };
    let with_plate = run
        .has_plate
        .then(|| run.coherency(PLATES_IN))
        .transpose()?;
    let parallel_azimuth_rad = parallel_azimuth_rad(&run, &empty);
    let turned = Setting {
        analyzer_azimuth_rad: Some(parallel_azimuth_rad),
        ..Setting::EMPTY
    };
    let parallel = run.behind_analyzer(&empty, turned)?;
    let with_stray = |field: Vec<f64>| -> Vec<f64> {
        (field.iter().zip(&parallel))
            .map(|(t, p)| t + path.stray_fraction * p)
            .collect()
    };
    Ok(Fields {
        crossed: with_stray(run.behind_analyzer(&crossed, PLATES_OUT)?),
        crossed_with_plate: (with_plate)
            .map(|field| run.behind_analyzer(&field, PLATES_IN).map(with_stray))
            .transpose()?,
        parallel,
        parallel_azimuth_rad,
    })
}

/// The smallest quadrature of the ladder with which no transmittance moves by more than `accuracy`, relatively, at five
/// wavelengths spread over the grid; the largest one when none does.
///
/// # Errors
/// [`PathError`] when the path cannot be run.
pub fn quadrature(
    path: &LightPath,
    wavelengths_nm: &[f64],
    luminous: &[f64],
    accuracy: f64,
) -> Result<Quadrature, PathError> {
    let last = wavelengths_nm.len() - 1;
    let mut probes: Vec<usize> = (0..5).map(|k| k * last / 4).collect();
    probes.dedup();
    let pick = |all: &[f64]| probes.iter().map(|&k| all[k]).collect::<Vec<_>>();
    let (wavelengths_nm, luminous) = (pick(wavelengths_nm), pick(luminous));
    let contacts = path.contacts_near_rim();
    let ladder = contacts.as_ref().map_or(&LADDER[..], |_| &CONTACT_LADDER);
    let rays_of = |nodes: usize| match &contacts {
        Some((azimuths, gap)) => Rays::toward_points(path.na(), azimuths, *gap, nodes),
        None => Rays::disc(path.na(), nodes, 4 * nodes),
    };
    let mut best = Quadrature {
        rays: rays_of(ladder[0]),
        error: f64::INFINITY,
    };
    let mut before = fields(path, &best.rays, &wavelengths_nm, &luminous)?;
    for pair in ladder.windows(2) {
        let rays = rays_of(pair[1]);
        let now = fields(path, &rays, &wavelengths_nm, &luminous)?;
        // The mean of a smooth function converges faster than any power of the number of nodes. A strain map has grid lines across which it is less
        // smooth, so the error is only taken to fall with the square of that number. If a step adds few nodes, the error that is left is then larger
        // than the last change.
        let step = pair[1] as f64 / pair[0] as f64;
        let ahead = (1.0 / (step * step - 1.0)).max(1.0);
        best = Quadrature {
            rays,
            error: ahead * relative_change(&before, &now),
        };
        if best.error <= accuracy {
            break;
        }
        before = now;
    }
    Ok(best)
}

/// Largest relative change of any transmittance; light below 1e-20 of the parallel field counts as none.
fn relative_change(before: &Fields, now: &Fields) -> f64 {
    let pairs = |a: &[f64], b: &[f64]| -> f64 {
        a.iter()
            .zip(b)
            .zip(&now.parallel)
            .map(|((a, b), parallel)| (a - b).abs() / b.abs().max(1e-20 * parallel))
            .fold(0.0, f64::max)
    };
    let plates = (before.crossed_with_plate.as_deref()).zip(now.crossed_with_plate.as_deref());
    pairs(&before.parallel, &now.parallel)
        .max(pairs(&before.crossed, &now.crossed))
        .max(plates.map_or(0.0, |(a, b)| pairs(a, b)))
}

/// Light of each ray behind the crossed analyzer, plates out, summed over the wavelengths with `weight`: in the order of
/// [`Rays::iter`].
///
/// # Errors
/// [`PathError`] when the path cannot be run.
pub fn crossed_rays(
    path: &LightPath,
    rays: &Rays,
    wavelengths_nm: &[f64],
    weight: &[f64],
) -> Result<Vec<f64>, PathError> {
    let weight: Vec<[f64; 1]> = weight.iter().map(|weight| [*weight]).collect();
    let light = crossed_ray_sums(path, rays, wavelengths_nm, &weight, false)?;
    Ok(light.into_iter().map(|[light]| light).collect())
}

/// Several sums of the same light at once, such as X, Y and Z: each wavelength has one weight for each sum. Plates are out or in as asked. Stray
/// light is not counted.
///
/// # Errors
/// [`PathError`] when the path cannot be run.
pub fn crossed_ray_sums<const N: usize>(
    path: &LightPath,
    rays: &Rays,
    wavelengths_nm: &[f64],
    weight: &[[f64; N]],
    plates: bool,
) -> Result<Vec<[f64; N]>, PathError> {
    let setting = if plates { PLATES_IN } else { PLATES_OUT };
    ray_sums(path, rays, wavelengths_nm, weight, setting)
}

/// Light of each ray in the parallel field, plates and specimens out and the analyzer turned to an azimuth (see
/// [`Fields::parallel_azimuth_rad`]), summed over the wavelengths with `weight`: in the order of [`Rays::iter`].
///
/// # Errors
/// [`PathError`] when the path cannot be run.
pub fn parallel_rays(
    path: &LightPath,
    rays: &Rays,
    wavelengths_nm: &[f64],
    weight: &[f64],
    azimuth_rad: f64,
) -> Result<Vec<f64>, PathError> {
    let weight: Vec<[f64; 1]> = weight.iter().map(|weight| [*weight]).collect();
    let turned = Setting {
        analyzer_azimuth_rad: Some(azimuth_rad),
        ..Setting::EMPTY
    };
    let light = ray_sums(path, rays, wavelengths_nm, &weight, turned)?;
    Ok(light.into_iter().map(|[light]| light).collect())
}

fn ray_sums<const N: usize>(
    path: &LightPath,
    rays: &Rays,
    wavelengths_nm: &[f64],
    weight: &[[f64; N]],
    setting: Setting,
) -> Result<Vec<[f64; N]>, PathError> {
    let run = Run::new(path, rays, wavelengths_nm)?;
    // Where a narrow line has no light there is nothing to add.
    let (wavelengths_nm, weight): (Vec<f64>, Vec<[f64; N]>) = (wavelengths_nm.iter())
        .zip(weight)
        .filter(|(_, weight)| weight.iter().any(|w| *w != 0.0))
        .unzip();
    let at_once = at_once(rays);
    let mut light = vec![[0.0; N]; rays.count()];
    for (wavelengths_nm, weight) in (wavelengths_nm.chunks(at_once)).zip(weight.chunks(at_once)) {
        let whole = 0..run.analyzer + 1;
        let chain = Chain::new(path, whole, setting, rays, wavelengths_nm, run.frame_rad)?;
        for (light, here) in light.iter_mut().zip(kernel::ray_coherency(&chain, weight)) {
            for (light, here) in light.iter_mut().zip(here) {
                *light += here.intensity();
            }
        }
    }
    Ok(light)
}

/// Coherency matrix of the lamp's light behind some parts at each wavelength, the mean over the rays, in a frame turned to
/// `frame_rad`.
pub(crate) fn coherency(
    path: &LightPath,
    parts: Range<usize>,
    setting: Setting,
    rays: &Rays,
    wavelengths_nm: &[f64],
    frame_rad: f64,
) -> Result<Vec<Coherency>, PathError> {
    let mut beams = Vec::with_capacity(wavelengths_nm.len());
    for wavelengths_nm in wavelengths_nm.chunks(at_once(rays)) {
        let chain = Chain::new(
            path,
            parts.clone(),
            setting,
            rays,
            wavelengths_nm,
            frame_rad,
        )?;
        beams.append(&mut chain.mean_coherency()[0]);
    }
    Ok(beams)
}

/// Index of the first part from which on, up to the analyzer, all parts do the same to all rays.
pub(crate) fn alike_from(path: &LightPath, analyzer: usize) -> usize {
    (path.parts[..analyzer].iter())
        .enumerate()
        .rev()
        .find(|(part, p)| match p.kind {
            PartKind::Retarder(_) | PartKind::Plate(_) => false,
            PartKind::Polarizer(_) | PartKind::Analyzer(_) => path.is_oblique(*part),
            _ => true,
        })
        .map_or(0, |(part, _)| part + 1)
}

struct Run<'a> {
    path: &'a LightPath,
    rays: &'a Rays,
    wavelengths_nm: &'a [f64],
    analyzer: usize,
    polars: (&'a Polarizer, &'a Polarizer),
    /// Index of the first part from which on all parts do the same to all rays.
    alike_from: usize,
    /// The analyzer's own azimuth: in this frame crossed light is one element of the coherency matrix.
    frame_rad: f64,
    has_plate: bool,
    has_specimen: bool,
}

impl<'a> Run<'a> {
    fn new(
        path: &'a LightPath,
        rays: &'a Rays,
        wavelengths_nm: &'a [f64],
    ) -> Result<Self, PathError> {
        let (polars, analyzer) =
            (path.polars().zip(path.analyzer())).ok_or(PathError::Missing {
                what: Needed::Polars,
            })?;
        let any = |kind: fn(&PartKind) -> bool| path.find(kind).is_some();
        Ok(Self {
            path,
            rays,
            wavelengths_nm,
            analyzer,
            polars,
            alike_from: alike_from(path, analyzer),
            frame_rad: polars.1.azimuth_rad,
            has_plate: any(|kind| matches!(kind, PartKind::Plate(_))),
            has_specimen: any(|kind| matches!(kind, PartKind::Specimen(_))),
        })
    }

    /// Mean coherency matrix in front of the analyzer, in the frame of the crossed analyzer.
    fn coherency(&self, setting: Setting) -> Result<Vec<Coherency>, PathError> {
        let mut beams = self.run(0..self.alike_from, setting)?;
        for part in self.alike_from..self.analyzer {
            let plate = match &self.path.parts[part].kind {
                PartKind::Retarder(plate) => plate,
                PartKind::Plate(plate) if setting.plates => plate,
                _ => continue,
            };
            for (beam, &nm) in beams.iter_mut().zip(self.wavelengths_nm) {
                let mut element =
                    (plate.element(nm)).map_err(|source| PathError::Table { part, source })?;
                element.azimuth_rad -= self.frame_rad;
                *beam = beam.through(&element.jones());
            }
        }
        Ok(beams)
    }

    /// Transmittance behind the analyzer. If rays cross the analyzer at a slant (in a stack without an objective), all rays are run again.
    fn behind_analyzer(
        &self,
        before: &[Coherency],
        setting: Setting,
    ) -> Result<Vec<f64>, PathError> {
        if self.path.is_oblique(self.analyzer) {
            let beams = self.run(0..self.analyzer + 1, setting)?;
            return Ok(beams.iter().map(Coherency::intensity).collect());
        }
        let azimuth = setting.analyzer_azimuth_rad.unwrap_or(self.frame_rad) - self.frame_rad;
        (before.iter().zip(self.wavelengths_nm))
            .map(|(beam, &nm)| {
                let mut element =
                    (self.polars.1.collimated(nm)).map_err(|source| PathError::Table {
                        part: self.analyzer,
                        source,
                    })?;
                element.azimuth_rad = azimuth;
                Ok(beam.through(&element.jones()).intensity())
            })
            .collect()
    }

    /// Linear polars: the lower polar's azimuth. Circular polars: the azimuth that passes most.
    fn parallel_azimuth_rad(&self, empty: &[Coherency], luminous: &[f64]) -> f64 {
        if !self.path.is_circular() {
            return self.polars.0.azimuth_rad;
        }
        let sum = (empty.iter().zip(luminous)).fold(Coherency::default(), |sum, (beam, &w)| {
            sum.plus(beam.scaled(w))
        });
        let Stokes([_, s1, s2, _]) = sum.to_stokes();
        self.frame_rad + 0.5 * math::atan2(s2, s1)
    }

    /// Mean coherency matrix behind some parts at each wavelength.
    fn run(&self, parts: Range<usize>, setting: Setting) -> Result<Vec<Coherency>, PathError> {
        coherency(
            self.path,
            parts,
            setting,
            self.rays,
            self.wavelengths_nm,
            self.frame_rad,
        )
    }
}
