//! A light path tabulated for a set of rays and wavelengths: what the kernel runs.
//!
//! Every part is a chain of links with two orthogonal linear modes, `J = mean + half_difference (C sigma_1 + S sigma_2)`,
//! `(C, S) = (cos, sin)(2 azimuth)`. A link's azimuth depends on nothing, on the spoke or on the ray; its modes depend on
//! the wavelength and on nothing else, on the ring or on the ray. Whatever does not depend on both ray and wavelength is
//! computed once here, and only the strain's sines are left to the kernel.

use std::f64::consts::PI;
use std::ops::Range;

use nalgebra::Matrix2;

use super::kernel;
use super::stack::{LightPath, PartKind, PathError, Space};
use crate::calculus::{Coherency, Complex};
use crate::optics::{Lens, LinearElement, Polarizer, Ray, Rays, Specimen, Strain};
use crate::spectrum::TableError;

/// Wavelengths are padded to a multiple of this, the widest vector in use.
pub(super) const PAD: usize = 8;

/// Which of the removable parts are in, and how the analyzer is turned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// Accessory plates in.
    pub plates: bool,
    /// Specimens in.
    pub specimens: bool,
    /// Azimuth of the analyzer, radians; `None` as the stack has it.
    pub analyzer_azimuth_rad: Option<f64>,
}

/// A stretch of the light path, ready to run. All azimuths are counted from the frame's own.
#[derive(Debug, Clone)]
pub struct Chain {
    pub(super) rings: usize,
    pub(super) spokes: usize,
    pub(super) ring_weight: Vec<f64>,
    pub(super) spoke_weight: Vec<f64>,
    /// Number of wavelengths, and that number padded.
    pub(super) wavelengths: usize,
    pub(super) padded: usize,
    /// The lamp as two mutually incoherent beams, its columns.
    pub(super) lamp: Matrix2<Complex>,
    pub(super) stages: Vec<Stage>,
}

/// The alternatives for one stretch of the chain: each is crossed link by link.
pub(super) type Stage = Vec<Vec<Link>>;

/// One element of the chain.
#[derive(Debug, Clone)]
pub(super) struct Link {
    pub(super) axis: Axis,
    pub(super) modes: Modes,
}

/// `(C, S)` of a link's first mode.
#[derive(Debug, Clone)]
pub(super) enum Axis {
    Fixed([f64; 2]),
    Spoke(Vec<[f64; 2]>),
    Ray(Vec<[f64; 2]>),
}

/// A link's two modes.
#[derive(Debug, Clone)]
pub(super) enum Modes {
    /// `mean`, `half_difference`, both real.
    Real(Table<2>),
    /// Real and imaginary part of `mean`, then of `half_difference`.
    Complex(Table<4>),
    /// Cosine and sine of half the phase.
    Phase(Table<2>),
    /// Cosine of half the phase, and its sine times C and times S: the axis depends on the wavelength too.
    Crystal(Table<3>),
    /// Path difference of each ray, nm, and `pi factor / wavelength`, 1/nm, of each wavelength.
    Strain {
        path_difference_nm: Vec<f64>,
        half_wavenumber: Vec<f64>,
    },
}

/// What a table depends on besides the wavelength.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Over {
    Nothing,
    Ring,
    Ray,
}

/// `N` numbers for each index and wavelength: `[index][number][padded wavelength]`.
#[derive(Debug, Clone)]
pub(super) struct Table<const N: usize> {
    pub(super) over: Over,
    pub(super) data: Vec<f64>,
}

/// What a chain is built for.
struct Builder<'a> {
    path: &'a LightPath,
    rays: &'a Rays,
    wavelengths_nm: &'a [f64],
    frame_rad: f64,
    links: Vec<Link>,
}

impl Chain {
    /// Parts `range` of `path` in a setting, seen from a frame turned to `frame_rad`; the lamp's light enters.
    ///
    /// # Errors
    /// [`PathError`] when a table does not cover the wavelengths or a map the rays.
    pub fn new(
        path: &LightPath,
        range: Range<usize>,
        setting: Setting,
        rays: &Rays,
        wavelengths_nm: &[f64],
        frame_rad: f64,
    ) -> Result<Self, PathError> {
        let parts: Vec<_> = range.map(|part| (part, vec![Some(path)])).collect();
        Self::branching(path, &parts, setting, rays, wavelengths_nm, frame_rad)
    }

    /// Like [`Self::new`], but a part may come in several versions: `parts` names each part's index with the paths
    /// from which it is taken, `None` for a version without it. The kernel runs every combination and shares what
    /// comes before; combinations are numbered with the first part's versions changing slowest.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn branching(
        path: &LightPath,
        parts: &[(usize, Vec<Option<&LightPath>>)],
        setting: Setting,
        rays: &Rays,
        wavelengths_nm: &[f64],
        frame_rad: f64,
    ) -> Result<Self, PathError> {
        let mut stages: Vec<Stage> = vec![vec![Vec::new()]];
        for (part, versions) in parts {
            let stage: Stage = (versions.iter())
                .map(|version| {
                    let mut builder = Builder {
                        path: version.unwrap_or(path),
                        rays,
                        wavelengths_nm,
                        frame_rad,
                        links: Vec::new(),
                    };
                    if version.is_some() {
                        builder.add(*part, setting)?;
                    }
                    Ok(builder.links)
                })
                .collect::<Result<_, PathError>>()?;
            match (stages.last_mut().map(Vec::as_mut_slice), &stage[..]) {
                // Two stretches without a choice are one.
                (Some([before]), [links]) => before.extend_from_slice(links),
                _ => stages.push(stage),
            }
        }
        Ok(Self {
            rings: rays.ring.len(),
            spokes: rays.spoke_rad.len(),
            ring_weight: rays.ring_weight.clone(),
            spoke_weight: rays.spoke_weight.clone(),
            wavelengths: wavelengths_nm.len(),
            padded: wavelengths_nm.len().next_multiple_of(PAD),
            lamp: Coherency::from_stokes(&path.lamp.turned(-frame_rad)).beams(),
            stages,
        })
    }

    /// Coherency matrix behind the chain for each combination of versions and each wavelength, the weighted mean over the
    /// rays, in the chain's frame. On all threads; the bytes do not depend on how many.
    ///
    /// Checked by: `tests/laws/routes.rs`.
    #[must_use]
    pub fn mean_coherency(&self) -> Vec<Vec<Coherency>> {
        kernel::mean_coherency(self)
    }

    /// How many combinations of versions the chain has.
    #[must_use]
    pub fn combinations(&self) -> usize {
        self.stages.iter().map(Vec::len).product()
    }
}

impl Builder<'_> {
    fn add(&mut self, part: usize, setting: Setting) -> Result<(), PathError> {
        let table = |source| PathError::Table { part, source };
        let in_object_space = self.path.space(part) == Space::Object;
        match &self.path.parts[part].kind {
            PartKind::Plate(_) if !setting.plates => {}
            PartKind::Specimen(_) if !setting.specimens => {}
            PartKind::Retarder(plate) | PartKind::Plate(plate) => {
                let elements = self
                    .each_wavelength(|nm| plate.element(nm))
                    .map_err(table)?;
                self.phase_everywhere(&elements);
            }
            PartKind::Polarizer(polar) => self.polar(part, polar, in_object_space)?,
            PartKind::Analyzer(polar) => {
                let turned = Polarizer {
                    azimuth_rad: setting.analyzer_azimuth_rad.unwrap_or(polar.azimuth_rad),
                    ..polar.clone()
                };
                self.polar(part, &turned, in_object_space)?;
            }
            PartKind::Condenser(lens) => self.lens(part, lens, -1.0)?,
            PartKind::Objective(lens) => self.lens(part, lens, 1.0)?,
            PartKind::Slide(slide) => {
                let (below, above) = self.path.immersion();
                self.meridional(|s, nm| slide.transmittances(below, above, s, nm));
            }
            PartKind::Specimen(specimen) => self.specimen(specimen),
        }
        Ok(())
    }

    fn polar(&mut self, part: usize, polar: &Polarizer, oblique: bool) -> Result<(), PathError> {
        let table = |source| PathError::Table { part, source };
        if !oblique {
            let elements = self
                .each_wavelength(|nm| polar.collimated(nm))
                .map_err(table)?;
            let modes = self.table(Over::Nothing, |_, w| {
                [
                    0.5 * (elements[w].along + elements[w].across).re,
                    0.5 * (elements[w].along - elements[w].across).re,
                ]
            });
            let axis = self.fixed_axis(polar.azimuth_rad);
            self.push(axis, Modes::Real(modes));
            return Ok(());
        }
        let medium = self.path.immersion().0;
        self.meridional(|s, _| polar.surface(medium, s));
        let films: Vec<_> = self
            .rays
            .iter()
            .map(|(ray, _)| polar.film_ray(ray))
            .collect();
        // The film's amplitudes depend on ray and wavelength through exp(-(a u + b v)): tabulated ray by ray.
        for &nm in self.wavelengths_nm {
            polar.sheet.principal_transmittances(nm).map_err(table)?;
        }
        let modes = self.table(Over::Ray, |ray, w| {
            let (passed, absorbed) =
                (polar.film(films[ray], self.wavelengths_nm[w])).unwrap_or((f64::NAN, f64::NAN));
            [0.5 * (absorbed + passed), 0.5 * (absorbed - passed)]
        });
        let axis = Axis::Ray(
            films
                .iter()
                .map(|film| self.axis(film.absorbed_azimuth_rad))
                .collect(),
        );
        self.push(axis, Modes::Real(modes));
        self.meridional(|s, _| polar.surface(medium, s));
        Ok(())
    }

    /// `side` is -1 below the specimen, where rays cross the glass opposite to where they cross the objective's pupil.
    fn lens(&mut self, part: usize, lens: &Lens, side: f64) -> Result<(), PathError> {
        if lens.strain.is_empty() {
            return self.surfaces(part, lens, 1.0);
        }
        self.surfaces(part, lens, 0.5)?;
        let half_wavenumber = self
            .each_wavelength(|nm| Ok(PI * lens.strain_factor(nm)? / nm))
            .map_err(|source| PathError::Table { part, source })?;
        for strain in &lens.strain {
            self.strain(part, strain, side / lens.na, &half_wavenumber)?;
        }
        self.surfaces(part, lens, 0.5)
    }

    fn surfaces(&mut self, part: usize, lens: &Lens, share: f64) -> Result<(), PathError> {
        if lens.is_ideal() {
            return Ok(());
        }
        let mut failed = None;
        let rays = self.rays;
        let modes = self.table(Over::Ring, |ring, w| {
            match lens.amplitudes(rays.ring[ring], self.wavelengths_nm[w], share) {
                Ok((p, s)) => {
                    let (mean, half) = (0.5 * (p + s), 0.5 * (p - s));
                    [mean.re, mean.im, half.re, half.im]
                }
                Err(source) => {
                    failed = Some(source);
                    [f64::NAN; 4]
                }
            }
        });
        if let Some(source) = failed {
            return Err(PathError::Lens { part, source });
        }
        let axis = self.spoke_axis();
        self.push(axis, Modes::Complex(modes));
        Ok(())
    }

    fn strain(
        &mut self,
        part: usize,
        strain: &Strain,
        scale: f64,
        half_wavenumber: &[f64],
    ) -> Result<(), PathError> {
        let mut axes = Vec::with_capacity(self.rays.count());
        let mut path_difference_nm = Vec::with_capacity(self.rays.count());
        for (ray, _) in self.rays.iter() {
            let (sin, cos) = ray.azimuth_rad.sin_cos();
            let (x, y) = (scale * ray.s * cos, scale * ray.s * sin);
            let local = strain
                .at(x, y)
                .ok_or(PathError::MapUncovered { part, x, y })?;
            axes.push(self.axis(local.slow_azimuth_rad));
            path_difference_nm.push(local.path_difference_nm);
        }
        if let Strain::Uniform {
            path_difference_nm,
            slow_azimuth_rad,
        } = *strain
        {
            let elements: Vec<_> = half_wavenumber
                .iter()
                .map(|k| LinearElement::retarder(slow_azimuth_rad, 2.0 * k * path_difference_nm))
                .collect();
            self.phase_everywhere(&elements);
            return Ok(());
        }
        let mut padded = half_wavenumber.to_vec();
        padded.resize(
            half_wavenumber.len().next_multiple_of(PAD),
            half_wavenumber[0],
        );
        self.push(
            Axis::Ray(axes),
            Modes::Strain {
                path_difference_nm,
                half_wavenumber: padded,
            },
        );
        Ok(())
    }

    fn specimen(&mut self, specimen: &Specimen) {
        let rays: Vec<Ray> = self.rays.iter().map(|(ray, _)| ray).collect();
        let over = match specimen {
            Specimen::Stated { .. } => Over::Nothing,
            Specimen::Plate { .. } => Over::Ray,
        };
        let modes = self.table(over, |ray, w| {
            let nm = self.wavelengths_nm[w];
            let seen = specimen.ray(rays[ray], nm);
            let (sin, cos) = (PI * seen.path_difference_nm / nm).sin_cos();
            let [c, s] = self.axis(seen.azimuth_rad);
            [cos, sin * c, sin * s]
        });
        self.push(Axis::Fixed([1.0, 0.0]), Modes::Crystal(modes));
    }

    /// A retarder that is the same for every ray.
    fn phase_everywhere(&mut self, elements: &[LinearElement]) {
        let modes = self.table(Over::Nothing, |_, w| {
            [elements[w].along.re, elements[w].along.im]
        });
        let axis = self.fixed_axis(elements[0].azimuth_rad);
        self.push(axis, Modes::Phase(modes));
    }

    /// A part that treats p and s differently by real amplitudes.
    fn meridional(&mut self, amplitudes: impl Fn(f64, f64) -> (f64, f64)) {
        let modes = self.table(Over::Ring, |ring, w| {
            let (p, s) = amplitudes(self.rays.ring[ring], self.wavelengths_nm[w]);
            [0.5 * (p + s), 0.5 * (p - s)]
        });
        let axis = self.spoke_axis();
        self.push(axis, Modes::Real(modes));
    }

    fn push(&mut self, axis: Axis, modes: Modes) {
        self.links.push(Link { axis, modes });
    }

    fn axis(&self, azimuth_rad: f64) -> [f64; 2] {
        let (sin, cos) = (2.0 * (azimuth_rad - self.frame_rad)).sin_cos();
        [cos, sin]
    }

    fn fixed_axis(&self, azimuth_rad: f64) -> Axis {
        Axis::Fixed(self.axis(azimuth_rad))
    }

    fn spoke_axis(&self) -> Axis {
        Axis::Spoke(
            self.rays
                .spoke_rad
                .iter()
                .map(|&azimuth| self.axis(azimuth))
                .collect(),
        )
    }

    fn each_wavelength<T>(
        &self,
        value: impl Fn(f64) -> Result<T, TableError>,
    ) -> Result<Vec<T>, TableError> {
        self.wavelengths_nm.iter().map(|&nm| value(nm)).collect()
    }

    fn table<const N: usize>(
        &self,
        over: Over,
        mut value: impl FnMut(usize, usize) -> [f64; N],
    ) -> Table<N> {
        let count = match over {
            Over::Nothing => 1,
            Over::Ring => self.rays.ring.len(),
            Over::Ray => self.rays.count(),
        };
        let wavelengths = self.wavelengths_nm.len();
        let padded = wavelengths.next_multiple_of(PAD);
        let mut data = vec![0.0; count * N * padded];
        for (index, block) in data.chunks_exact_mut(N * padded).enumerate() {
            for w in 0..wavelengths {
                for (number, v) in value(index, w).into_iter().enumerate() {
                    block[number * padded + w] = v;
                }
            }
        }
        Table { over, data }
    }
}
