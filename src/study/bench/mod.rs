//! The light that the readings of a bench would show, from the unknown numbers of its stand.

mod surface;

use nalgebra::DMatrix;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;

use surface::{Basis, BasisWork};

use crate::color::ColorError;
use crate::light_path::{LightPath, PathError, run};
use crate::math;
use crate::optics::{Rays, ZoneGrid};
use crate::scene::Scene;
use crate::spectrum::{CameraSensitivity, Channel, Source, fewer_wavelengths};
use crate::study::StudyError;
use crate::study::lamp::Lamp;
use crate::study::reading::{BenchSetting, Zone};
use crate::study::unknown::{Sampled, Unknowns};
use crate::threads;

/// How well rays give a reading's light, relatively, and how far few wavelengths may be off before they are scaled to what all give in the stand as
/// written: readings are no better than a part in a hundred.
const ACCURACY: f64 = 1e-3;
const SCALED: f64 = 5e-3;
/// Numbers of wavelengths that are tried, one after the other; then all.
const WAVELENGTHS: [usize; 4] = [4, 6, 10, 16];
/// Terms of a response surface, and points to each.
const MOST_TERMS: usize = 600;
const FEW_TERMS: usize = 120;
const POINTS_A_TERM: f64 = 1.7;
const FEWEST_POINTS: usize = 60;

/// From so many lights on they are made of patterns, which leave off no more than this.
const MANY_LIGHTS: usize = 64;
const LEFT_OFF: f64 = 1e-3;
/// How far few wavelengths may be off in a zone before they are scaled to what all give in the stand as written.
const ZONE_SCALED: f64 = 0.03;
/// Nodes either way in a zone of a photograph.
pub(in crate::study) const ZONE_NODES: usize = 2;

/// One setting of a stand, with the rays and wavelengths that it needs. A meter reads one light of it; a photograph reads one for each zone.
#[derive(Debug, Clone)]
pub(in crate::study) struct BenchLight {
    pub(in crate::study) setting: BenchSetting,
    pub(in crate::study) wavelengths_nm: Vec<f64>,
    pub(in crate::study) luminous: Vec<f64>,
    pub(in crate::study) rays: Rays,
    with_plate: bool,
    /// The zones that a photograph reads; empty for a meter.
    pub(in crate::study) zones: Vec<Zone>,
    /// What few rays and wavelengths lack in the stand as written, of each light.
    factors: Vec<f64>,
}

/// How well the light of a bench is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::study) enum Care {
    /// As well as any reading can use.
    Full,
    /// With few rays and wavelengths, scaled to the right light in the stand as written, and polynomials of few terms: for an interval beside an
    /// answer.
    Little,
}

/// Rays and wavelengths that little care takes.
const FEW_RAYS: (usize, usize) = (6, 24);
const FEW_WAVELENGTHS: usize = 4;

/// Settings of one stand, and its unknowns.
#[derive(Debug, Clone)]
pub(in crate::study) struct Bench<'a> {
    pub(in crate::study) unknowns: &'a Unknowns,
    written_rad: f64,
    care: Care,
    pub(in crate::study) lights: Vec<BenchLight>,
}

/// The light of every setting as polynomials.
#[derive(Debug, Clone)]
pub(in crate::study) struct BenchSurface {
    basis: Basis,
    coefficients: Vec<Vec<f64>>,
    /// Of many lights, what each is made of: see [`patterns`]. `None` where the coefficients are the lights' own.
    patterns: Option<Vec<Vec<f64>>>,
    stray: Option<usize>,
}

impl BenchLight {
    /// Of a stand as written, and as a few draws have it: whichever needs most rays.
    fn new(
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
            lamp.luminous = seen_by(source, lamp.wavelengths_nm, channel)?;
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
    fn crossed_over_parallel(&self, path: &LightPath) -> Result<Vec<f64>, PathError> {
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

    /// Whether the plates are in.
    pub(in crate::study) fn with_plate(&self) -> bool {
        self.with_plate
    }

    /// Each zone's crossed light over its own parallel light. Stray light is taken to be as bright in each zone as its parallel light says.
    fn zones_over_parallel(&self, path: &LightPath) -> Result<Vec<f64>, PathError> {
        let (rays, nm, luminous) = (&self.rays, &self.wavelengths_nm, &self.luminous);
        let weight: Vec<[f64; 1]> = luminous.iter().map(|weight| [*weight]).collect();
        let crossed = run::crossed_ray_sums(path, rays, nm, &weight, self.with_plate)?;
        let azimuth_rad = self.parallel_azimuth_rad(path)?;
        let parallel = run::parallel_rays(path, rays, nm, luminous, azimuth_rad)?;
        let spokes = rays.spoke_rad.len();
        let zone = |zone: &Zone| {
            let (ring, sector) = zone.grid.place(zone.number);
            let (ring, sector) = (ring * ZONE_NODES, sector * ZONE_NODES);
            let (mut dark, mut bright) = (0.0, 0.0);
            for ring in ring..ring + ZONE_NODES {
                for spoke in sector..sector + ZONE_NODES {
                    let weight = rays.ring_weight[ring] * rays.spoke_weight[spoke];
                    let ray = ring * spokes + spoke;
                    dark += weight * crossed[ray][0];
                    bright += weight * parallel[ray];
                }
            }
            dark / bright + path.stray_fraction
        };
        Ok(self.zones.iter().map(zone).collect())
    }
}

impl<'a> Bench<'a> {
    pub(in crate::study) fn new(
        scene: &Scene,
        unknowns: &'a Unknowns,
        settings: &[BenchSetting],
        care: Care,
    ) -> Result<Self, (usize, StudyError)> {
        let written_rad = scene
            .path
            .polars()
            .map_or(0.0, |(_, polar)| polar.azimuth_rad);
        let mut random = ChaCha8Rng::seed_from_u64(1);
        let mut stands = vec![scene.path.clone()];
        // Little care is scaled to the stand as written and to no other.
        let others = if care == Care::Full { 2 } else { 0 };
        stands.extend((0..others).map(|_| unknowns.with(&unknowns.draw(&mut random))));
        let photographs = photographs(settings);
        let made = threads::map(0..photographs.len(), |number| {
            let settings = &settings[photographs[number].clone()];
            BenchLight::new(scene, &stands, written_rad, settings, care)
                .map_err(|error| (photographs[number].start, error))
        });
        Ok(Self {
            unknowns,
            written_rad,
            care,
            lights: made.into_iter().collect::<Result<_, _>>()?,
        })
    }

    /// Every light of one setting at a point, relative to the parallel light, by a direct run; not a number where the stand cannot be run.
    pub(in crate::study) fn direct(&self, light: &BenchLight, point: &[f64]) -> Vec<f64> {
        self.direct_of(light, &self.unknowns.with(point))
    }

    /// The light that a meter reads.
    pub(in crate::study) fn meter(&self, light: &BenchLight, point: &[f64]) -> f64 {
        self.direct(light, point)
            .first()
            .copied()
            .unwrap_or(f64::NAN)
    }

    /// A stand in the setting of a light; `None` where it cannot be.
    pub(in crate::study) fn set(&self, light: &BenchLight, stand: &LightPath) -> Option<LightPath> {
        light.setting.of(stand, self.written_rad)
    }

    fn direct_of(&self, light: &BenchLight, stand: &LightPath) -> Vec<f64> {
        (self.set(light, stand))
            .and_then(|path| light.crossed_over_parallel(&path).ok())
            .unwrap_or_else(|| vec![f64::NAN; light.factors.len()])
    }

    /// Light of the first setting in the stand as written.
    pub(in crate::study) fn written(&self) -> Option<f64> {
        let light = self.lights.first()?;
        self.direct_of(light, &self.unknowns.path).first().copied()
    }

    /// Light of every setting at a point, by direct runs.
    pub(in crate::study) fn direct_all(&self, point: &[f64]) -> Vec<f64> {
        self.all_of(&self.unknowns.with(point))
    }

    /// Light of every setting in a stand, by direct runs.
    pub(in crate::study) fn all_of(&self, stand: &LightPath) -> Vec<f64> {
        (self.lights.iter())
            .flat_map(|light| self.direct_of(light, stand))
            .collect()
    }

    /// Polynomials through direct runs at points; `counts` says how much each counts. Stray light is added exactly.
    pub(in crate::study) fn surface(&self, points: &[Vec<f64>], counts: &[f64]) -> BenchSurface {
        let stray = (self.unknowns.places())
            .find(|(unknown, _)| unknown.sampled == Sampled::Stray)
            .map(|(_, place)| place.start);
        let light = threads::map(0..points.len(), |k| {
            let mut stand = self.unknowns.with(&points[k]);
            if stray.is_some() {
                stand.stray_fraction = 0.0;
            }
            self.all_of(&stand)
        });
        let good: Vec<usize> = (0..points.len())
            .filter(|&k| light[k].iter().all(|l| l.is_finite()))
            .collect();
        let smooth: Vec<Vec<f64>> = (good.iter())
            .map(|&k| {
                let mut smooth = Vec::new();
                self.smooth(&points[k], &mut smooth);
                smooth
            })
            .collect();
        let counts: Vec<f64> = good.iter().map(|&k| counts[k]).collect();
        let basis = Basis::new(&smooth, &self.weights(), self.most_terms());
        let readings: usize = self.lights.iter().map(|light| light.factors.len()).sum();
        let by_setting: Vec<Vec<f64>> = (0..readings)
            .map(|setting| good.iter().map(|&k| light[k][setting]).collect())
            .collect();
        let coefficients = surface::fit(&basis, &smooth, &counts, &by_setting);
        let (coefficients, patterns) = match readings > MANY_LIGHTS {
            true => {
                let (coefficients, patterns) = patterns(&coefficients, &by_setting);
                (coefficients, Some(patterns))
            }
            false => (coefficients, None),
        };
        BenchSurface {
            coefficients,
            patterns,
            basis,
            stray,
        }
    }

    /// Relative error of polynomials at some points, root mean square over points and settings.
    pub(in crate::study) fn surface_error(
        &self,
        surface: &BenchSurface,
        points: &[&Vec<f64>],
    ) -> f64 {
        if self.lights.is_empty() || points.is_empty() {
            return 0.0;
        }
        let squares = threads::map(0..points.len(), |k| {
            let mut work = SurfaceWork::default();
            self.by_surface(surface, points[k], &mut work);
            let direct = self.direct_all(points[k]);
            let off = work.light.iter().zip(&direct).map(|(got, direct)| {
                let off = math::log(got / direct);
                // For a stand that cannot be run, or for which the polynomials give no light, the error is taken to be 100 %.
                if off.is_finite() { off * off } else { 1.0 }
            });
            off.sum::<f64>() / direct.len() as f64
        });
        (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
    }

    /// How many points a surface is fitted to.
    pub(in crate::study) fn points(&self) -> usize {
        let weights = self.weights();
        // As if every variable varied.
        let probe: Vec<Vec<f64>> = [0.0, 1.0].map(|x| vec![x; weights.len()]).to_vec();
        let terms = Basis::new(&probe, &weights, self.most_terms()).terms();
        ((terms as f64 * POINTS_A_TERM) as usize).max(FEWEST_POINTS)
    }

    fn most_terms(&self) -> usize {
        match self.care {
            Care::Full => MOST_TERMS,
            Care::Little => FEW_TERMS,
        }
    }

    /// The numbers that the polynomials are of.
    fn smooth(&self, point: &[f64], smooth: &mut Vec<f64>) {
        smooth.clear();
        for (unknown, place) in self.unknowns.places() {
            unknown.smooth(&point[place], smooth);
        }
    }

    /// For how many degrees of the polynomials each variable counts.
    fn weights(&self) -> Vec<usize> {
        (self.unknowns.list.iter())
            .flat_map(|unknown| {
                let weight = match unknown.sampled {
                    // Linear, and hardly in company.
                    Sampled::SheetLeak { .. } => 3,
                    // Beyond every degree: it is added.
                    Sampled::Stray => 100,
                    _ => 1,
                };
                vec![weight; unknown.count()]
            })
            .collect()
    }

    /// Light of every setting at a point, by polynomials.
    pub(in crate::study) fn by_surface(
        &self,
        surface: &BenchSurface,
        point: &[f64],
        work: &mut SurfaceWork,
    ) {
        self.smooth(point, &mut work.smooth);
        let stray = surface.stray.map_or(0.0, |at| math::exp(point[at]));
        let terms = surface.basis.at(&work.smooth, &mut work.basis);
        work.light.clear();
        let sums = surface.coefficients.iter().map(|row| dot(row, terms));
        match &surface.patterns {
            None => work.light.extend(sums),
            Some(patterns) => {
                work.amounts.clear();
                work.amounts.extend(sums);
                let light = patterns.iter().map(|row| dot(row, &work.amounts));
                work.light.extend(light);
            }
        }
        for light in &mut work.light {
            *light = if *light > 0.0 {
                *light + stray
            } else {
                f64::NAN
            };
        }
    }
}

/// How much of a lamp's light at each wavelength a channel of a colour camera sees.
fn seen_by(
    source: &Source,
    wavelengths_nm: &[f64],
    channel: usize,
) -> Result<Vec<f64>, StudyError> {
    let camera = CameraSensitivity::typical();
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

/// Settings that one photograph shows are run together: where each begins and ends. A meter's reading stands alone.
fn photographs(settings: &[BenchSetting]) -> Vec<std::ops::Range<usize>> {
    let stand = |setting: &BenchSetting| BenchSetting {
        zone: None,
        ..setting.clone()
    };
    let alike = |one: &BenchSetting, other: &BenchSetting| match (one.zone, other.zone) {
        (Some(a), Some(b)) => {
            a.grid == b.grid && a.channel == b.channel && stand(one) == stand(other)
        }
        _ => false,
    };
    let mut start = 0;
    (settings.chunk_by(alike))
        .map(|settings| {
            start += settings.len();
            start - settings.len()..start
        })
        .collect()
}

/// Room to work in, and the light of every setting.
#[derive(Debug, Clone, Default)]
pub(in crate::study) struct SurfaceWork {
    smooth: Vec<f64>,
    basis: BasisWork,
    amounts: Vec<f64>,
    pub(in crate::study) light: Vec<f64>,
}

/// The zones of photographs change together: their lights are made of few patterns. Coefficients of as many patterns as leave off less than
/// [`LEFT_OFF`] of the lights at the points, relatively and on average, and of what each light is made: rows of the matrix.
///
/// The patterns are the principal components of the lights over their own means.
fn patterns(coefficients: &[Vec<f64>], light: &[Vec<f64>]) -> (Vec<Vec<f64>>, Vec<Vec<f64>>) {
    let (lights, points) = (light.len(), light.first().map_or(0, Vec::len).max(1));
    let means: Vec<f64> = (light.iter())
        .map(|light| light.iter().sum::<f64>() / points as f64)
        .collect();
    let relative = DMatrix::from_fn(lights, points, |k, at| light[k][at] / means[k]);
    let found = (&relative * relative.transpose()).symmetric_eigen();
    let mut order: Vec<usize> = (0..lights).collect();
    order.sort_by(|a, b| found.eigenvalues[*b].total_cmp(&found.eigenvalues[*a]));
    let allowed = LEFT_OFF * LEFT_OFF * (lights * points) as f64;
    let mut left: f64 = found.eigenvalues.iter().map(|value| value.max(0.0)).sum();
    let mut kept = 0;
    while kept < lights && left > allowed {
        left -= found.eigenvalues[order[kept]].max(0.0);
        kept += 1;
    }
    let width = coefficients.first().map_or(0, Vec::len);
    let amounts = (order[..kept].iter())
        .map(|&pattern| {
            (0..width)
                .map(|term| {
                    let part = |k: usize| {
                        found.eigenvectors[(k, pattern)] * coefficients[k][term] / means[k]
                    };
                    (0..lights).map(part).sum()
                })
                .collect()
        })
        .collect();
    let made_of = (0..lights)
        .map(|k| {
            let part = |pattern: &usize| found.eigenvectors[(k, *pattern)] * means[k];
            order[..kept].iter().map(part).collect()
        })
        .collect();
    (amounts, made_of)
}

/// A sum of products, taken as eight partial sums so that the compiler can vectorise it, and always in the same order.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut sums = [0.0; 8];
    let (a8, b8) = (a.chunks_exact(8), b.chunks_exact(8));
    let rest: f64 = (a8.remainder().iter().zip(b8.remainder()))
        .map(|(x, y)| x * y)
        .sum();
    for (x, y) in a8.zip(b8) {
        for k in 0..8 {
            sums[k] += x[k] * y[k];
        }
    }
    sums.iter().sum::<f64>() + rest
}
