//! A light path tabulated for a set of rays and wavelengths: what the kernel runs.
//!
//! Every link has two orthogonal linear modes and is crossed in the ray's own frame, p and s: glass surfaces are diagonal
//! there, and whatever they do one after the other is one table. Any other link is
//! `J = mean + half_difference (C sigma_1 + S sigma_2)`, `(C, S) = (cos, sin)(2 azimuth)`, azimuth counted from p. A link's azimuth
//! depends on the spoke or on the ray; its modes depend on the wavelength and on nothing else, on the ring or on the ray.
//! Whatever does not depend on both ray and wavelength is computed once here, and only the strain's sines are left to
//! the kernel.

use std::f64::consts::{FRAC_PI_4, PI, TAU};
use std::mem;
use std::ops::Range;

use nalgebra::Matrix2;

use super::kernel;
use super::stack::{LightPath, PartKind, PathError, Space};
use crate::calculus::{Coherency, Complex};
use crate::optics::{Lens, LinearElement, Polarizer, RadialSlow, Ray, Rays, Specimen, Strain};
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
    /// Cosine and sine of each spoke's azimuth.
    pub(super) spoke: Vec<[f64; 2]>,
    /// Number of wavelengths, and that number padded.
    pub(super) wavelengths: usize,
    pub(super) padded: usize,
    /// The light that enters as two mutually incoherent beams: real and imaginary parts of the first one's `(Ex, Ey)`, then of
    /// the second one's. Leading parts that treat all rays alike are already in it.
    pub(super) light: Table<8>,
    pub(super) stages: Vec<Stage>,
}

/// The alternatives for one stretch of the chain: each is crossed link by link.
pub(super) type Stage = Vec<Vec<Link>>;

/// One element of the chain, in the ray's own frame.
#[derive(Debug, Clone)]
pub(super) enum Link {
    /// Modes p and s: real and imaginary part of the one's amplitude, then of the other's.
    Meridional(Table<4>),
    /// `mean`, `half_difference`, both real.
    Real(Axis, Table<2>),
    /// Cosine and sine of half the phase.
    Phase(Axis, Table<2>),
    /// Cosine of half the phase, and its sine times C and times S: the axis depends on the wavelength too.
    Crystal(Table<3>),
    /// A retarder that the kernel computes.
    Strain {
        axis: Axis,
        /// Path difference of each ray, nm.
        path_difference_nm: Vec<f64>,
        /// Up to this path difference half the phase stays within an eighth of a turn at every wavelength.
        gentle_nm: f64,
        /// `pi factor / wavelength`, 1/nm, of each wavelength.
        half_wavenumber: Vec<f64>,
    },
}

/// `(C, S)` of a link's first mode.
#[derive(Debug, Clone)]
pub(super) enum Axis {
    Spoke(Vec<[f64; 2]>),
    Ray(Vec<[f64; 2]>),
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
    /// The light of each wavelength before the first link.
    light: Vec<Matrix2<Complex>>,
    /// Whether all that was added so far treats all rays alike, without a choice: then it is in `light`.
    alike: bool,
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
        let lamp = Coherency::from_stokes(&path.lamp.turned(-frame_rad)).beams();
        let mut builder = Builder {
            path,
            rays,
            wavelengths_nm,
            frame_rad,
            light: vec![lamp; wavelengths_nm.len()],
            alike: true,
            links: Vec::new(),
        };
        let mut stages: Vec<Stage> = Vec::new();
        for (part, versions) in parts {
            if let [version] = versions[..] {
                // Stretches without a choice are one.
                builder.add(*part, version, setting)?;
                continue;
            }
            builder.alike = false;
            stages.push(vec![mem::take(&mut builder.links)]);
            let stage: Stage = (versions.iter())
                .map(|version| {
                    builder.add(*part, *version, setting)?;
                    Ok(mem::take(&mut builder.links))
                })
                .collect::<Result<_, PathError>>()?;
            stages.push(stage);
        }
        stages.push(vec![builder.links.split_off(0)]);
        Ok(Self {
            rings: rays.ring.len(),
            spokes: rays.spoke_rad.len(),
            ring_weight: rays.ring_weight.clone(),
            spoke_weight: rays.spoke_weight.clone(),
            spoke: (rays.spoke_rad.iter())
                .map(|azimuth_rad| {
                    let (sin, cos) = (azimuth_rad - frame_rad).sin_cos();
                    [cos, sin]
                })
                .collect(),
            wavelengths: wavelengths_nm.len(),
            padded: wavelengths_nm.len().next_multiple_of(PAD),
            light: builder.table(Over::Nothing, |_, w| {
                let light = &builder.light[w];
                let [x, y, other_x, other_y] = [light.m11, light.m21, light.m12, light.m22];
                [
                    x.re, x.im, y.re, y.im, other_x.re, other_x.im, other_y.re, other_y.im,
                ]
            }),
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

impl<'a> Builder<'a> {
    /// One part as `path` has it.
    fn add(
        &mut self,
        part: usize,
        path: Option<&'a LightPath>,
        setting: Setting,
    ) -> Result<(), PathError> {
        let Some(path) = path else { return Ok(()) };
        self.path = path;
        let table = |source| PathError::Table { part, source };
        let in_object_space = path.space(part) == Space::Object;
        match &path.parts[part].kind {
            PartKind::Plate(_) if !setting.plates => {}
            PartKind::Specimen(_) if !setting.specimens => {}
            PartKind::Retarder(plate) | PartKind::Plate(plate) => {
                let elements = self
                    .each_wavelength(|nm| plate.element(nm))
                    .map_err(table)?;
                self.retarder_everywhere(&elements);
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
                let (below, above) = path.immersion();
                let modes = self.meridional(|s, nm| {
                    let (p, s) = slide.transmittances(below, above, s, nm);
                    (p.into(), s.into())
                });
                self.push(Link::Meridional(modes));
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
            if self.alike {
                self.cross_alike(&elements);
                return Ok(());
            }
            let modes = self.table(Over::Nothing, |_, w| {
                let LinearElement { along, across, .. } = elements[w];
                [0.5 * (along + across).re, 0.5 * (along - across).re]
            });
            self.push(Link::Real(self.spoke_axis(polar.azimuth_rad), modes));
            return Ok(());
        }
        let medium = self.path.immersion().0;
        let surface = self.meridional(|s, _| {
            let (p, s) = polar.surface(medium, s);
            (p.into(), s.into())
        });
        self.push(Link::Meridional(surface.clone()));
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
        let axes = (self.rays.iter().zip(&films))
            .map(|((ray, _), film)| axis(film.absorbed_azimuth_rad - ray.azimuth_rad))
            .collect();
        self.push(Link::Real(Axis::Ray(axes), modes));
        self.push(Link::Meridional(surface));
        Ok(())
    }

    /// `side` is -1 below the specimen, where rays cross the glass opposite to where they cross the objective's pupil.
    fn lens(&mut self, part: usize, lens: &Lens, side: f64) -> Result<(), PathError> {
        let share = if lens.strain.is_empty() { 1.0 } else { 0.5 };
        let surfaces = self.surfaces(part, lens, share)?;
        if let Some(surfaces) = &surfaces {
            self.push(Link::Meridional(surfaces.clone()));
        }
        if lens.strain.is_empty() {
            return Ok(());
        }
        let half_wavenumber = self
            .each_wavelength(|nm| Ok(PI * lens.strain_factor(nm)? / nm))
            .map_err(|source| PathError::Table { part, source })?;
        for strain in &lens.strain {
            self.strain(part, strain, side / lens.na, &half_wavenumber)?;
        }
        if let Some(surfaces) = surfaces {
            self.push(Link::Meridional(surfaces));
        }
        Ok(())
    }

    /// A share of a lens's surfaces; `None` when they do nothing.
    fn surfaces(
        &self,
        part: usize,
        lens: &Lens,
        share: f64,
    ) -> Result<Option<Table<4>>, PathError> {
        if lens.is_ideal() {
            return Ok(None);
        }
        let mut failed = None;
        let modes = self.meridional(|s, nm| {
            (lens.amplitudes(s, nm, share)).unwrap_or_else(|source| {
                failed = Some(source);
                (f64::NAN.into(), f64::NAN.into())
            })
        });
        match failed {
            Some(source) => Err(PathError::Lens { part, source }),
            None => Ok(Some(modes)),
        }
    }

    fn strain(
        &mut self,
        part: usize,
        strain: &Strain,
        scale: f64,
        half_wavenumber: &[f64],
    ) -> Result<(), PathError> {
        match *strain {
            Strain::Uniform {
                path_difference_nm,
                slow_azimuth_rad,
            } => {
                let elements: Vec<_> = half_wavenumber
                    .iter()
                    .map(|k| {
                        LinearElement::retarder(slow_azimuth_rad, 2.0 * k * path_difference_nm)
                    })
                    .collect();
                self.retarder_everywhere(&elements);
                return Ok(());
            }
            Strain::Radial { edge_nm, slow } => {
                let modes = self.table(Over::Ring, |ring, w| {
                    let r = scale * self.rays.ring[ring];
                    let slow_mode = Complex::cis(half_wavenumber[w] * edge_nm * r * r);
                    let (p, s) = match slow {
                        RadialSlow::Radial => (slow_mode, slow_mode.conj()),
                        RadialSlow::Tangential => (slow_mode.conj(), slow_mode),
                    };
                    [p.re, p.im, s.re, s.im]
                });
                self.push(Link::Meridional(modes));
                return Ok(());
            }
            Strain::Clamp { .. } | Strain::Map(_) => {}
        }
        let mut axes = Vec::with_capacity(self.rays.count());
        let mut path_difference_nm = Vec::with_capacity(self.rays.count());
        for (ray, _) in self.rays.iter() {
            let (sin, cos) = ray.azimuth_rad.sin_cos();
            let (x, y) = (scale * ray.s * cos, scale * ray.s * sin);
            let local = strain
                .at(x, y)
                .ok_or(PathError::MapUncovered { part, x, y })?;
            axes.push(axis(local.slow_azimuth_rad - ray.azimuth_rad));
            path_difference_nm.push(local.path_difference_nm);
        }
        let mut padded = half_wavenumber.to_vec();
        padded.resize(
            half_wavenumber.len().next_multiple_of(PAD),
            half_wavenumber[0],
        );
        self.push(Link::Strain {
            axis: Axis::Ray(axes),
            path_difference_nm,
            gentle_nm: FRAC_PI_4
                / half_wavenumber
                    .iter()
                    .fold(0.0, |largest, k| k.abs().max(largest)),
            half_wavenumber: padded,
        });
        Ok(())
    }

    fn specimen(&mut self, specimen: &Specimen) {
        let element = |ray: Ray, nm: f64| {
            let seen = specimen.ray(ray, nm);
            LinearElement::retarder(seen.azimuth_rad, TAU * seen.path_difference_nm / nm)
        };
        if let Specimen::Stated { .. } = specimen {
            let (any, _) = self.rays.iter().next().expect("at least one ray");
            let elements: Vec<_> = (self.wavelengths_nm.iter())
                .map(|&nm| element(any, nm))
                .collect();
            self.retarder_everywhere(&elements);
            return;
        }
        let rays: Vec<Ray> = self.rays.iter().map(|(ray, _)| ray).collect();
        let modes = self.table(Over::Ray, |ray, w| {
            let seen = element(rays[ray], self.wavelengths_nm[w]);
            let [c, s] = axis(seen.azimuth_rad - rays[ray].azimuth_rad);
            let Complex { re: cos, im: sin } = seen.along;
            [cos, sin * c, sin * s]
        });
        self.push(Link::Crystal(modes));
    }

    /// A retarder that is the same for every ray: one element for each wavelength, with one azimuth.
    fn retarder_everywhere(&mut self, elements: &[LinearElement]) {
        if self.alike {
            self.cross_alike(elements);
            return;
        }
        let modes = self.table(Over::Nothing, |_, w| {
            [elements[w].along.re, elements[w].along.im]
        });
        self.push(Link::Phase(self.spoke_axis(elements[0].azimuth_rad), modes));
    }

    /// Takes the light through a part that treats all rays alike, before any that does not.
    fn cross_alike(&mut self, elements: &[LinearElement]) {
        for (light, element) in self.light.iter_mut().zip(elements) {
            let turned = LinearElement {
                azimuth_rad: element.azimuth_rad - self.frame_rad,
                ..*element
            };
            *light = turned.jones().0 * *light;
        }
    }

    /// Amplitudes of p and s for each ring.
    fn meridional(&self, mut amplitudes: impl FnMut(f64, f64) -> (Complex, Complex)) -> Table<4> {
        self.table(Over::Ring, |ring, w| {
            let (p, s) = amplitudes(self.rays.ring[ring], self.wavelengths_nm[w]);
            [p.re, p.im, s.re, s.im]
        })
    }

    /// Appends a link. Surfaces that follow surfaces are one link with them.
    fn push(&mut self, link: Link) {
        self.alike = false;
        match (self.links.last_mut(), link) {
            (Some(Link::Meridional(before)), Link::Meridional(link)) => {
                let padded = self.wavelengths_nm.len().next_multiple_of(PAD);
                before.multiply_modes(&link, padded);
            }
            (_, link) => self.links.push(link),
        }
    }

    /// The axis of a part with one azimuth.
    fn spoke_axis(&self, azimuth_rad: f64) -> Axis {
        let spokes = self.rays.spoke_rad.iter();
        Axis::Spoke(spokes.map(|spoke| axis(azimuth_rad - spoke)).collect())
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

impl Table<4> {
    /// Mode by mode, the product of complex amplitudes.
    fn multiply_modes(&mut self, other: &Self, padded: usize) {
        let modes = self.data.chunks_exact_mut(2 * padded);
        for (mode, other) in modes.zip(other.data.chunks_exact(2 * padded)) {
            let (re, im) = mode.split_at_mut(padded);
            for w in 0..padded {
                let product =
                    Complex::new(re[w], im[w]) * Complex::new(other[w], other[padded + w]);
                (re[w], im[w]) = (product.re, product.im);
            }
        }
    }
}

/// `(C, S)` of an azimuth counted from p.
fn axis(azimuth_rad: f64) -> [f64; 2] {
    let (sin, cos) = (2.0 * azimuth_rad).sin_cos();
    [cos, sin]
}
