//! The light of one setting of a stand: of the whole aperture as a meter reads it, or of each zone as a photograph shows it.

use std::sync::Arc;

use super::Care;
use crate::color::ColorError;
use crate::light_path::{LightPath, PathError, run};
use crate::optics::{Ray, Rays, ZoneGrid};
use crate::scene::Scene;
use crate::spectrum::{CameraSensitivity, Channel, Source, fewer_wavelengths};
use crate::study::StudyError;
use crate::study::lamp::Lamp;
use crate::study::reading::{BenchSetting, Zone};

/// How well rays give a reading's light, relatively, and how far few wavelengths may be off before they are scaled to what all give in the stand as
/// written: readings are no better than a part in a hundred.
const ACCURACY: f64 = 1e-3;
const SCALED: f64 = 5e-3;
/// Numbers of wavelengths that are tried, one after the other; then all.
const WAVELENGTHS: [usize; 4] = [4, 6, 10, 16];
/// How far few wavelengths may be off in a zone before they are scaled to what all give in the stand as written.
const ZONE_SCALED: f64 = 0.03;
/// Nodes either way in a zone of a photograph.
const ZONE_NODES: usize = 2;

/// Rays and wavelengths that little care takes.
const FEW_RAYS: (usize, usize) = (6, 24);
const FEW_WAVELENGTHS: usize = 4;

/// One setting of a stand, with the rays and wavelengths that it needs. A meter reads one light of it; a photograph reads one for each zone.
#[derive(Debug, Clone)]
pub(in crate::study) struct BenchLight {
    pub(in crate::study) setting: BenchSetting,
    pub(in crate::study) wavelengths_nm: Vec<f64>,
    pub(in crate::study) luminous: Vec<f64>,
    pub(in crate::study) rays: Rays,
    pub(in crate::study) with_plate: bool,
    /// The zones that a photograph reads; empty for a meter.
    pub(in crate::study) zones: Vec<Zone>,
    /// What few rays and wavelengths lack in the stand as written, of each light.
    pub(in crate::study) factors: Vec<f64>,
}

impl BenchLight {
    /// Of a stand as written, and as a few draws have it: whichever needs most rays.
    pub(super) fn new(
        scene: &Scene,
        stands: &[LightPath],
        written_rad: f64,
        settings: &[BenchSetting],
        care: Care,
    ) -> Result<Self, StudyError> {
        let Some(setting) = settings.first() else {
            return Err(StudyError::NoPlaceForPolar);
        };
        let zones: Vec<Zone> = settings.iter().filter_map(|setting| setting.zone).collect();
        let source: &Source = setting
            .lamp
            .as_ref()
            .map_or(&scene.source, |(_, lamp)| lamp);
        let mut lamp = Lamp::new(source, &scene.grid)?;
        if let Some(channel) = setting.zone.and_then(|zone| zone.channel) {
            let camera = match &setting.camera {
                Some(own) => own,
                None => &Arc::new(CameraSensitivity::typical()),
            };
            lamp.luminous = seen_by(camera, source, lamp.wavelengths_nm, channel)?;
        }
        let mut made: Option<Self> = None;
        for (number, stand) in stands.iter().enumerate() {
            let Some(path) = setting.of(stand, written_rad) else {
                return Err(StudyError::NoPlaceForPolar);
            };
            // A drawn stand may be one that cannot be run; the stand as written must be one that can.
            let found = path
                .check(lamp.wavelengths_nm)
                .and_then(|()| Self::of(&path, &lamp, setting, &zones, care));
            match found {
                Err(error) if number == 0 => return Err(error.into()),
                Err(_) => {}
                Ok(found) => {
                    let more = |made: &Self| {
                        let size = |light: &Self| light.rays.count() * light.luminous.len();
                        size(made) >= size(&found)
                    };
                    if !made.as_ref().is_some_and(more) {
                        made = Some(found);
                    }
                }
            }
        }
        made.ok_or(StudyError::NoPlaceForPolar)
    }

    fn of(
        path: &LightPath,
        lamp: &Lamp,
        setting: &BenchSetting,
        zones: &[Zone],
        care: Care,
    ) -> Result<Self, PathError> {
        let all = fewer_wavelengths(lamp.wavelengths_nm, &lamp.luminous, usize::MAX);
        let rays = match zones.first() {
            Some(Zone { grid, .. }) => {
                let na = ZoneGrid::WITHIN * path.na();
                Rays::zones(na, grid.rings(), grid.sectors(), ZONE_NODES)
            }
            None => run::quadrature(path, &all.0, &all.1, ACCURACY)?.rays,
        };
        let light = |(wavelengths_nm, luminous): (Vec<f64>, Vec<f64>)| Self {
            setting: setting.clone(),
            wavelengths_nm,
            luminous,
            rays: rays.clone(),
            with_plate: !setting.plates.is_empty(),
            zones: zones.to_vec(),
            factors: vec![1.0; zones.len().max(1)],
        };
        let exact = light(all.clone());
        let wanted = exact.crossed_over_parallel(path)?;
        let counts = match care {
            Care::Full => &WAVELENGTHS[..],
            Care::Little => &[FEW_WAVELENGTHS],
        };
        for count in counts {
            let mut few = light(fewer_wavelengths(&all.0, &all.1, *count));
            if care == Care::Little {
                few.rays = Rays::disc(path.na(), FEW_RAYS.0, FEW_RAYS.1);
            }
            let found = few.crossed_over_parallel(path)?;
            let factors = wanted.iter().zip(&found).map(|(wanted, found)| {
                let factor = wanted / found;
                if factor.is_finite() { factor } else { 1.0 }
            });
            few.factors = factors.collect();
            let most = if zones.is_empty() {
                SCALED
            } else {
                ZONE_SCALED
            };
            let near = |factor: &f64| (factor - 1.0).abs() <= most;
            if care == Care::Little || few.factors.iter().all(near) {
                return Ok(few);
            }
        }
        Ok(exact)
    }

    /// Crossed light over parallel light of a stand that is set already: one number for a meter, one for each zone of a photograph.
    pub(super) fn crossed_over_parallel(&self, path: &LightPath) -> Result<Vec<f64>, PathError> {
        let (rays, nm, luminous) = (&self.rays, &self.wavelengths_nm, &self.luminous);
        let mut light = if self.zones.is_empty() {
            let fields = run::fields(path, rays, nm, luminous)?;
            let sum = |field: &[f64]| -> f64 {
                (field.iter().zip(luminous))
                    .map(|(light, weight)| light * weight)
                    .sum()
            };
            let crossed = match (&fields.crossed_with_plate, self.with_plate) {
                (Some(field), true) => sum(field),
                _ => sum(&fields.crossed),
            };
            vec![crossed / sum(&fields.parallel)]
        } else {
            self.zones_over_parallel(path)?
        };
        for (light, factor) in light.iter_mut().zip(&self.factors) {
            *light *= factor;
        }
        Ok(light)
    }

    /// Azimuth of the analyzer in the parallel field.
    pub(in crate::study) fn parallel_azimuth_rad(
        &self,
        path: &LightPath,
    ) -> Result<f64, PathError> {
        match path.polars() {
            Some((lower, _)) if !path.is_circular() => Ok(lower.azimuth_rad),
            _ => run::fields(path, &self.rays, &self.wavelengths_nm, &self.luminous)
                .map(|fields| fields.parallel_azimuth_rad),
        }
    }

    /// The rays of a zone: number, ray, weight.
    pub(in crate::study) fn rays_of(&self, zone: Zone) -> impl Iterator<Item = (usize, Ray, f64)> {
        let rays = &self.rays;
        let (ring, sector) = zone.grid.place(zone.number);
        let nodes = |cell: usize| cell * ZONE_NODES..(cell + 1) * ZONE_NODES;
        nodes(ring).flat_map(move |ring| {
            nodes(sector).map(move |spoke| {
                let ray = Ray {
                    s: rays.ring[ring],
                    azimuth_rad: rays.spoke_rad[spoke],
                };
                let weight = rays.ring_weight[ring] * rays.spoke_weight[spoke];
                (ring * rays.spoke_rad.len() + spoke, ray, weight)
            })
        })
    }

    /// Each zone's crossed light over its own parallel light. Stray light is taken to be as bright in each zone as its parallel light says.
    fn zones_over_parallel(&self, path: &LightPath) -> Result<Vec<f64>, PathError> {
        let (rays, nm, luminous) = (&self.rays, &self.wavelengths_nm, &self.luminous);
        let weight: Vec<[f64; 1]> = luminous.iter().map(|weight| [*weight]).collect();
        let crossed = run::crossed_ray_sums(path, rays, nm, &weight, self.with_plate)?;
        let azimuth_rad = self.parallel_azimuth_rad(path)?;
        let parallel = run::parallel_rays(path, rays, nm, luminous, azimuth_rad)?;
        let zone = |zone: &Zone| {
            let (mut dark, mut bright) = (0.0, 0.0);
            for (number, _, weight) in self.rays_of(*zone) {
                dark += weight * crossed[number][0];
                bright += weight * parallel[number];
            }
            dark / bright + path.stray_fraction
        };
        Ok(self.zones.iter().map(zone).collect())
    }
}

/// How much of a lamp's light at each wavelength a channel of a colour camera sees.
fn seen_by(
    camera: &CameraSensitivity,
    source: &Source,
    wavelengths_nm: &[f64],
    channel: usize,
) -> Result<Vec<f64>, StudyError> {
    let channel = camera.channel(Channel::ALL[channel.min(2)]);
    let seen: Vec<f64> = (wavelengths_nm.iter())
        .map(|&nm| source.power(nm).map(|power| power * channel.at(nm)))
        .collect::<Result<_, _>>()
        .map_err(|error| ColorError::Uncovered {
            table: source.name(),
            error,
        })?;
    match seen.iter().sum::<f64>() > 0.0 {
        true => Ok(seen),
        false => Err(StudyError::UnseenByCamera),
    }
}
