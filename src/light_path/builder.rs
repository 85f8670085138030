//! From parts to the links of a chain.

use std::f64::consts::{FRAC_PI_4, PI, TAU};
use std::mem;
use std::ops::Range;

use nalgebra::Matrix2;

use super::chain::{Branches, Chain, Link, LinkAxis, LinkTable, Over, PAD, Setting};
use super::error::PathError;
use super::stack::{LightPath, PartKind};
use crate::calculus::{Coherency, Complex};
use crate::math;
use crate::optics::{
    CrystalRay, Lens, LinearElement, Polarizer, RadialSlow, Ray, Rays, Specimen, Strain,
};
use crate::spectrum::TableError;
use crate::threads;

/// One task of the thread pool fills at least so many rows of a table.
const AT_LEAST: usize = 64;

impl Chain {
    /// Tabulates the parts `range` of `path` in a setting. Azimuths are counted from a frame turned to `frame_rad`. The light that enters is the
    /// lamp's.
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
        let twofold = parts.iter().all(|(part, versions)| {
            let specimen = matches!(path.parts[*part].kind, PartKind::Specimen(_));
            specimen && !setting.specimens
                || versions.iter().flatten().all(|path| path.is_twofold(*part))
        });
        let half = twofold.then(|| rays.one_of_opposites()).flatten();
        let rays = half.as_ref().unwrap_or(rays);
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
        let mut stages: Vec<Branches> = Vec::new();
        for (part, versions) in parts {
            if let [version] = versions[..] {
                // Neighbouring stretches that have one version only are joined into one stage.
                builder.add(*part, version, setting)?;
                continue;
            }
            builder.alike = false;
            stages.push(vec![mem::take(&mut builder.links)]);
            let stage: Branches = (versions.iter())
                .map(|version| {
                    builder.add(*part, *version, setting)?;
                    Ok(mem::take(&mut builder.links))
                })
                .collect::<Result<_, PathError>>()?;
            stages.push(stage);
        }
        stages.push(vec![builder.links.split_off(0)]);
        Ok(Self {
            rings: (0..rays.ring.len())
                .scan(0, |ray, ring| {
                    let sector = rays.sector(ring);
                    let first = *ray;
                    *ray += sector.len();
                    Some((sector, first))
                })
                .collect(),
            ring_weight: rays.ring_weight.clone(),
            spoke_weight: rays.spoke_weight.clone(),
            spoke: (rays.spoke_rad.iter())
                .map(|azimuth_rad| {
                    let (sin, cos) = math::sincos(azimuth_rad - frame_rad);
                    [cos, sin]
                })
                .collect(),
            opposites_left_out: half.is_some(),
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
}

/// What a chain is built for.
struct Builder<'a> {
    path: &'a LightPath,
    rays: &'a Rays,
    wavelengths_nm: &'a [f64],
    frame_rad: f64,
    /// The light of each wavelength before the first link.
    light: Vec<Matrix2<Complex>>,
    /// Whether every part added so far does the same to all rays and has one version only. The effect of these parts is then already contained in
    /// `light`.
    alike: bool,
    links: Vec<Link>,
}

impl<'a> Builder<'a> {
    /// Adds one part, as `path` describes it.
    fn add(
        &mut self,
        part: usize,
        path: Option<&'a LightPath>,
        setting: Setting,
    ) -> Result<(), PathError> {
        let Some(path) = path else { return Ok(()) };
        self.path = path;
        let table = |source| PathError::Table { part, source };
        match &path.parts[part].kind {
            PartKind::Plate(_) if !setting.plates => {}
            PartKind::Specimen(_) if !setting.specimens => {}
            PartKind::Retarder(plate) | PartKind::Plate(plate) => {
                let elements = self
                    .each_wavelength(|nm| plate.element(nm))
                    .map_err(table)?;
                self.retarder_everywhere(&elements);
            }
            PartKind::Polarizer(polar) => self.polar(part, polar)?,
            PartKind::Analyzer(polar) => {
                let turned = Polarizer {
                    azimuth_rad: setting.analyzer_azimuth_rad.unwrap_or(polar.azimuth_rad),
                    ..polar.clone()
                };
                self.polar(part, &turned)?;
            }
            PartKind::Condenser(lens) => self.lens(part, lens, -1.0)?,
            PartKind::Objective(lens) => self.lens(part, lens, 1.0)?,
            PartKind::Slide(slide) => {
                let (below, above) = path.media(part);
                let modes = self.meridional(|s, nm| slide.transmittances(below, above, s, nm));
                self.push(Link::Meridional(modes));
            }
            PartKind::Specimen(specimen) => self.specimen(specimen),
        }
        Ok(())
    }

    fn polar(&mut self, part: usize, polar: &Polarizer) -> Result<(), PathError> {
        let table = |source| PathError::Table { part, source };
        if !self.path.is_oblique(part) {
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
        let (ring_s, rays) = self.rays_at(part)?;
        let surface = |n: f64| {
            self.table(Over::Ring, |ring, _| {
                let (p, s) = polar.surface(n, ring_s[ring]);
                [p, 0.0, s, 0.0]
            })
        };
        let cover = self.cover(&ring_s, polar);
        let (below, above) = self.path.media(part);
        let (below, above) = (surface(below), surface(above));
        self.push(Link::Meridional(below));
        // Only the cover between the dyed layer and the specimen counts.
        let is_analyzer = matches!(self.path.parts[part].kind, PartKind::Analyzer(_));
        if is_analyzer {
            cover
                .iter()
                .for_each(|cover| self.push(Link::Meridional(cover.clone())));
        }
        let films: Vec<_> = rays.iter().map(|ray| polar.film_ray(*ray)).collect();
        let absorbances = (self.each_wavelength(|nm| polar.absorbances(nm))).map_err(table)?;
        let modes = self.table(Over::Ray, |ray, w| {
            let (passed, absorbed) = films[ray].amplitudes(absorbances[w]);
            [0.5 * (absorbed + passed), 0.5 * (absorbed - passed)]
        });
        let axes = (self.rays.iter().zip(&films))
            .map(|((ray, _), film)| axis(film.absorbed_azimuth_rad - ray.azimuth_rad))
            .collect();
        self.push(Link::Real(LinkAxis::Ray(axes), modes));
        if !is_analyzer {
            cover
                .iter()
                .for_each(|cover| self.push(Link::Meridional(cover.clone())));
        }
        self.push(Link::Meridional(above));
        Ok(())
    }

    /// What a sheet's cover does to p and s; `None` without one.
    fn cover(&self, ring_s: &[f64], polar: &Polarizer) -> Option<LinkTable<4>> {
        if polar.sheet.cover_nm == 0.0 {
            return None;
        }
        let path_difference_nm: Vec<f64> = ring_s.iter().map(|&s| polar.cover_nm(s)).collect();
        Some(self.table(Over::Ring, |ring, w| {
            let phase = PI * path_difference_nm[ring] / self.wavelengths_nm[w];
            let (sin, cos) = math::sincos(phase);
            [cos, sin, cos, -sin]
        }))
    }

    /// The numerical aperture that each ring has at a part, and all rays with these numerical apertures.
    fn rays_at(&self, part: usize) -> Result<(Vec<f64>, Vec<Ray>), PathError> {
        let rings = self.rays.ring.iter();
        let ring_s: Vec<f64> = rings
            .map(|&s| self.path.s_at(part, s))
            .collect::<Result<_, _>>()?;
        let rays = (ring_s.iter().enumerate()).flat_map(|(ring, &s)| {
            self.rays.sector(ring).map(move |spoke| Ray {
                s,
                azimuth_rad: self.rays.spoke_rad[spoke],
            })
        });
        let rays = rays.collect();
        Ok((ring_s, rays))
    }

    /// Adds a lens: half of its surfaces, its strain, the other half. `side` is -1 below the specimen, where a ray crosses the glass opposite to
    /// where it crosses the objective's pupil; else it is 1.
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
            let scale = side / self.path.rim_na(part);
            self.strain(part, strain, scale, &half_wavenumber)?;
        }
        if let Some(surfaces) = surfaces {
            self.push(Link::Meridional(surfaces));
        }
        Ok(())
    }

    /// What a share of a lens's surfaces passes: share 1 for all of them, 0.5 for half. `None` when the surfaces do nothing.
    fn surfaces(
        &self,
        part: usize,
        lens: &Lens,
        share: f64,
    ) -> Result<Option<LinkTable<4>>, PathError> {
        if lens.is_ideal() {
            return Ok(None);
        }
        let passage = self.path.passage(part)?;
        let passed = passage.over(&self.rays.ring, self.wavelengths_nm)?;
        Ok(Some(self.table(Over::Ring, |ring, w| {
            let (p, s) = passed[w][ring].amplitudes(share);
            [p.re, p.im, s.re, s.im]
        })))
    }

    fn strain(
        &mut self,
        part: usize,
        strain: &Strain,
        scale: f64,
        half_wavenumber: &[f64],
    ) -> Result<(), PathError> {
        match strain {
            &Strain::Uniform {
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
            Strain::Radial {
                edge_nm,
                slow,
                along,
            } => {
                let modes = self.table(Over::Ring, |ring, w| {
                    let profile = along.profile((scale * self.rays.ring[ring]).abs());
                    let slow_mode = math::cis(half_wavenumber[w] * edge_nm * profile);
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
            let (sin, cos) = math::sincos(ray.azimuth_rad);
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
            axis: LinkAxis::Ray(axes),
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
        match specimen {
            Specimen::Stated {
                path_difference_nm,
                slow_azimuth_rad,
            } => {
                let elements: Vec<_> = (self.wavelengths_nm.iter())
                    .map(|nm| {
                        LinearElement::retarder(*slow_azimuth_rad, TAU * path_difference_nm / nm)
                    })
                    .collect();
                self.retarder_everywhere(&elements);
            }
            Specimen::Plate {
                crystal,
                thickness_um,
                axis_azimuth_rad,
            } => {
                let rays: Vec<Ray> = self.rays.iter().map(|(ray, _)| ray).collect();
                let indices: Vec<_> = (self.wavelengths_nm.iter())
                    .map(|&nm| (crystal.ordinary.at(nm), crystal.extraordinary.at(nm)))
                    .collect();
                let modes = self.table(Over::Ray, |ray, w| {
                    let ray = rays[ray];
                    let seen = CrystalRay::of(ray, *axis_azimuth_rad, *thickness_um, indices[w]);
                    let (sin, cos) =
                        math::sincos(PI * seen.path_difference_nm / self.wavelengths_nm[w]);
                    let [c, s] = axis(seen.azimuth_rad - ray.azimuth_rad);
                    [cos, sin * c, sin * s]
                });
                self.push(Link::Crystal(modes));
            }
            Specimen::Across { crystal, .. } if crystal.rotation.is_some() => {
                let modes = self.table(Over::Ring, |ring, w| {
                    let nm = self.wavelengths_nm[w];
                    let ray = Ray {
                        s: self.rays.ring[ring],
                        azimuth_rad: 0.0,
                    };
                    // The extraordinary vibration is p.
                    let [cos, linear, circular] = specimen.ray(ray, nm).elliptic(nm);
                    [cos, linear, 0.0, circular]
                });
                self.push(Link::Elliptic(modes));
            }
            Specimen::Across {
                crystal,
                thickness_um,
            } => {
                let modes = self.table(Over::Ring, |ring, w| {
                    let nm = self.wavelengths_nm[w];
                    let ray = Ray {
                        s: self.rays.ring[ring],
                        azimuth_rad: 0.0,
                    };
                    let indices = (crystal.ordinary.at(nm), crystal.extraordinary.at(nm));
                    let seen = CrystalRay::across(ray, *thickness_um, indices);
                    let (sin, cos) = math::sincos(PI * seen.path_difference_nm / nm);
                    [cos, sin, cos, -sin]
                });
                self.push(Link::Meridional(modes));
            }
            Specimen::Askew(plate) => {
                let rays: Vec<Ray> = self.rays.iter().map(|(ray, _)| ray).collect();
                let indices: Vec<_> = (self.wavelengths_nm.iter())
                    .map(|&nm| plate.indices(nm))
                    .collect();
                let modes = |ray: usize, w: usize| {
                    let (ray, nm) = (rays[ray], self.wavelengths_nm[w]);
                    let seen = plate.ray_at(ray, nm, indices[w]);
                    let [cos, linear, circular] = seen.elliptic(nm);
                    let [c, s] = axis(seen.azimuth_rad - ray.azimuth_rad);
                    [cos, linear * c, linear * s, circular]
                };
                let link = match plate.crystal.rotation {
                    Some(_) => Link::Elliptic(self.table(Over::Ray, modes)),
                    None => Link::Crystal(self.table(Over::Ray, |ray, w| {
                        let [cos, p, q, _] = modes(ray, w);
                        [cos, p, q]
                    })),
                };
                self.push(link);
            }
            Specimen::Biaxial(plate) => {
                let rays: Vec<Ray> = self.rays.iter().map(|(ray, _)| ray).collect();
                let of_wavelength: Vec<_> = (self.wavelengths_nm.iter())
                    .map(|&nm| plate.impermeability(nm))
                    .collect();
                let modes = self.table(Over::Ray, |ray, w| {
                    let modes = of_wavelength[w].modes(rays[ray]);
                    let path_difference_nm = 1e3 * plate.thickness_um * modes.difference();
                    let (sin, cos) = math::sincos(PI * path_difference_nm / self.wavelengths_nm[w]);
                    let [c, s] = modes.slow;
                    [cos, sin * c, sin * s]
                });
                self.push(Link::Crystal(modes));
            }
        }
    }

    /// Adds a retarder that is the same for every ray: `elements` has one element for each wavelength, all with one azimuth.
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

    /// Takes the light through a part that does the same to all rays. Possible only while no part that differs between rays lies before it.
    fn cross_alike(&mut self, elements: &[LinearElement]) {
        for (light, element) in self.light.iter_mut().zip(elements) {
            let turned = LinearElement {
                azimuth_rad: element.azimuth_rad - self.frame_rad,
                ..*element
            };
            *light = turned.jones().0 * *light;
        }
    }

    /// A table of the real amplitudes of p and s for each ring.
    fn meridional(&self, amplitudes: impl Fn(f64, f64) -> (f64, f64) + Sync) -> LinkTable<4> {
        self.table(Over::Ring, |ring, w| {
            let (p, s) = amplitudes(self.rays.ring[ring], self.wavelengths_nm[w]);
            [p, 0.0, s, 0.0]
        })
    }

    /// Appends a link. Where surfaces follow surfaces, the two links are multiplied into one.
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
    fn spoke_axis(&self, azimuth_rad: f64) -> LinkAxis {
        let spokes = self.rays.spoke_rad.iter();
        LinkAxis::Spoke(spokes.map(|spoke| axis(azimuth_rad - spoke)).collect())
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
        value: impl Fn(usize, usize) -> [f64; N] + Sync,
    ) -> LinkTable<N> {
        let count = match over {
            Over::Nothing => 1,
            Over::Ring => self.rays.ring.len(),
            Over::Ray => self.rays.count(),
        };
        let wavelengths = self.wavelengths_nm.len();
        let padded = wavelengths.next_multiple_of(PAD);
        let mut data = vec![0.0; count * N * padded];
        let fill = |(index, block): (usize, &mut [f64])| {
            for w in 0..wavelengths {
                for (number, v) in value(index, w).into_iter().enumerate() {
                    block[number * padded + w] = v;
                }
            }
        };
        threads::fill_rows(&mut data, N * padded, AT_LEAST, fill);
        LinkTable { over, data }
    }
}

impl LinkTable<4> {
    /// Multiplies the complex amplitudes of this link by those of the next, mode by mode.
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
    let (sin, cos) = math::sincos(2.0 * azimuth_rad);
    [cos, sin]
}
