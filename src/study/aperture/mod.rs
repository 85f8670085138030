//! What does the back focal plane look like?
//!
//! Light is relative to the mean of the parallel field of the stack as written, stray light included, ray by ray.
//!
//! # Examples
//! ```
//! let scene = polstack::scenario::read("scenarios/crystal-across-axis.toml".as_ref()).unwrap().scene;
//! let plane = polstack::study::aperture::back_focal_plane(&scene)?;
//! assert!((plane.without_plate.extinction_ratio.unwrap() - 4.02).abs() < 0.01);
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

mod build_up;
mod camera;
mod cross;
mod crystal;
mod picture;
mod quick;
mod smooth;
mod turn;

use serde::Serialize;

use crate::color::Xyz;
use crate::light_path::run;
use crate::light_path::{Crossing, LightPath, PathError};
use crate::optics::Rays;
use crate::scene::Scene;
use crate::spectrum::WavelengthGrid;
use crate::threads::join;

use self::cross::directions_rad;
use self::crystal::FigureLies;
use super::StudyError;
use super::lamp::Lamp;
use super::measures::{ACCURACY, ratio};
use super::told::degrees;
use super::wavelengths::{Compared, Resolved, resolve};

pub use build_up::BuildUpStep;
pub use camera::{Camera, CameraPicture, CameraStand, Noise, PictureFrame, PicturedPolars};
pub use cross::{Cross, SectionsAlong};
pub use crystal::{CrystalFigure, LeaningAxis, Melatope, OFF_MIDDLE, ReadOff, Unread};
pub use picture::picture_rays;
pub use quick::{QuickFrame, QuickPlane, quick_frame};
pub(crate) use smooth::SmoothDisc;
pub use turn::{Turn, turnable};

/// Rings and spokes of the rays whose colours are compared between steps of the wavelengths.
const PROBES: (usize, usize) = (5, 16);

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct BackFocalPlane {
    /// Numerical aperture of the direct light.
    pub na: f64,
    /// Azimuths that lower polar and analyzer pass, radians; `None` for circular polars.
    pub polars_rad: Option<(f64, f64)>,
    /// How the polars stand to each other.
    pub crossing: Crossing,
    /// Whether it lies in the back focal plane of an objective.
    pub has_objective: bool,
    /// Whether a specimen is in the stack; it is in all that is told here.
    pub has_specimen: bool,
    /// Estimated largest relative error of the means over the aperture that the rays leave.
    pub quadrature_error: f64,
    /// The wavelengths, and what their step leaves in doubt: of the means by themselves, of single rays beside the brightest one.
    pub resolved: Resolved,
    /// The parallel field: mean over the aperture, of luminance 1.
    pub parallel: Xyz,
    /// The rays of the maps.
    pub rays: Rays,
    /// Crossed polars, plates out.
    pub without_plate: View,
    /// The same with the plates in; `None` in a stack without one.
    pub with_plate: Option<View>,
    /// Along the dark direction and along the bright one, plates out: where the arms of the dark cross have parted, on the diameter on which they
    /// have and at right angles to it; otherwise along the darker arm and the brighter diagonal. Where there is no dark cross about the middle,
    /// [`Self::sections_along`] says what they are.
    pub sections: Vec<Section>,
    /// What the sections run along.
    pub sections_along: SectionsAlong,
    /// The stack as its parts are put in one by one, plates out: first all parts perfect, last the stack as it is.
    pub build_up: Vec<BuildUpStep>,
    /// What the figure tells of a crystal with two optic axes; `None` without one.
    pub crystal: Option<CrystalFigure>,
    /// Where the optic axis of a crystal with one axis that leans comes out; `None` without one.
    pub leaning_axis: Option<LeaningAxis>,
}

/// The disc at one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct View {
    /// Light of each ray, in the order of [`Rays::iter`].
    pub light: Vec<Xyz>,
    /// Mean luminance over the aperture.
    pub relative_luminance: f64,
    /// Luminous extinction ratio; `None` when nothing leaks.
    pub extinction_ratio: Option<f64>,
}

/// The light along a diameter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Section {
    /// Azimuth of its positive end, radians.
    #[serde(rename = "azimuth_deg", serialize_with = "degrees")]
    pub azimuth_rad: f64,
    /// Numerical aperture, negative at the other end.
    pub na: Vec<f64>,
    /// Light there, plates out.
    #[serde(rename = "xyz")]
    pub without_plate: Vec<Xyz>,
    /// Light there, plates in.
    #[serde(rename = "xyz_with_plate")]
    pub with_plate: Option<Vec<Xyz>>,
}

/// The back focal plane of a path that [`LightPath::check`] accepts.
///
/// # Errors
/// [`StudyError`] when the path cannot be run or no light is seen.
///
/// Checked by: `tests/laws/aperture.rs`, `tests/reference/maps.rs`.
pub fn back_focal_plane(scene: &Scene) -> Result<BackFocalPlane, StudyError> {
    let Scene { path, source, grid } = scene;
    let usual = Lamp::new(source, grid)?;
    let quadrature = run::quadrature(path, usual.wavelengths_nm, &usual.luminous, ACCURACY)?;
    let rays = picture_rays(path);
    let resolved = resolved(scene, &quadrature.rays, rays.count())?;
    let lamp = Lamp::new(source, &resolved.grid)?;
    let bench = ApertureBench::new(path, &lamp, &quadrature.rays)?;
    let (plane, build_up) = join(
        || {
            let with_plate = bench.means[1]
                .map(|_| bench.view(&rays, true))
                .transpose()?;
            let without_plate = bench.view(&rays, false)?;
            let lower = polars_rad(path).map(|(lower, _)| lower);
            let light = luminances(&without_plate.light);
            let (along, directions) = directions_rad(&rays, &light, lower, FigureLies::of(path));
            let sections = (along, sections(&bench, &rays, directions)?);
            Ok::<_, StudyError>((without_plate, with_plate, sections))
        },
        || build_up::build_up(path, &lamp, &quadrature.rays, &rays),
    );
    let (without_plate, with_plate, (sections_along, sections)) = plane?;
    let lower_rad = polars_rad(path).map(|(lower, _)| lower);
    let crystal = crystal::crystal_figure(path, grid, lower_rad)?;
    Ok(BackFocalPlane {
        na: path.na(),
        polars_rad: polars_rad(path),
        crossing: path.crossing(),
        has_objective: path.has_objective(),
        has_specimen: path.without_specimens().parts.len() < path.parts.len(),
        quadrature_error: quadrature.error,
        resolved: resolved.clone(),
        parallel: bench.parallel.scaled(1.0 / bench.parallel.luminance()),
        without_plate,
        with_plate,
        sections,
        sections_along,
        build_up: build_up?,
        crystal,
        leaning_axis: crystal::leaning_axis(path),
        rays,
    })
}

/// Wavelengths fine enough for the means over the aperture and for each of some rays, plates out and in. `rays` is how many rays will be
/// run.
fn resolved(scene: &Scene, quadrature: &Rays, rays: usize) -> Result<Resolved, StudyError> {
    let Scene { path, source, .. } = scene;
    let probes = Rays::even(path.na(), PROBES.0, PROBES.1);
    let fields = |grid: &WavelengthGrid| {
        let lamp = Lamp::new(source, grid)?;
        let bench = ApertureBench::new(path, &lamp, quadrature)?;
        let mut compared = vec![Compared::alone(bench.parallel)];
        for plates in [false, true] {
            if bench.means[usize::from(plates)].is_none() {
                continue;
            }
            let light = bench.light(&probes, plates)?;
            let brightest = (light.iter())
                .max_by(|a, b| a.luminance().total_cmp(&b.luminance()))
                .copied()
                .unwrap_or(Xyz::BLACK);
            let seen = |xyz: &Xyz| Compared::beside(*xyz, brightest);
            compared.extend(light.iter().map(seen));
        }
        Ok(compared)
    };
    resolve(scene, rays, fields)
}

/// Light of given rays at crossed polars, relative to the mean of the parallel field, in the order of [`Rays::iter`].
///
/// # Errors
/// [`StudyError`] when the path cannot be run, no light is seen, or plates are wanted where there are none.
pub fn light_of_rays(scene: &Scene, rays: &Rays, plates: bool) -> Result<Vec<Xyz>, StudyError> {
    let Scene { path, source, grid } = scene;
    let usual = Lamp::new(source, grid)?;
    let quadrature = run::quadrature(path, usual.wavelengths_nm, &usual.luminous, ACCURACY)?;
    let resolved = resolved(scene, &quadrature.rays, rays.count())?;
    let lamp = Lamp::new(source, &resolved.grid)?;
    let bench = ApertureBench::new(path, &lamp, &quadrature.rays)?;
    Ok(bench.view(rays, plates)?.light)
}

pub(crate) fn polars_rad(path: &LightPath) -> Option<(f64, f64)> {
    let (low, high) = path.polars().filter(|_| !path.is_circular())?;
    Some((low.azimuth_rad, high.azimuth_rad))
}

fn luminances(light: &[Xyz]) -> Vec<f64> {
    light.iter().map(Xyz::luminance).collect()
}

/// A path under a lamp, with the means over its aperture.
struct ApertureBench<'a> {
    path: &'a LightPath,
    lamp: &'a Lamp<'a>,
    /// Mean of the parallel field.
    parallel: Xyz,
    /// Mean luminance of the crossed field over that of the parallel one: plates out, and in where there are plates.
    means: [Option<f64>; 2],
}

impl<'a> ApertureBench<'a> {
    fn new(path: &'a LightPath, lamp: &'a Lamp<'a>, rays: &Rays) -> Result<Self, StudyError> {
        let fields = run::fields(path, rays, lamp.wavelengths_nm, &lamp.luminous)?;
        let parallel = lamp.weights.xyz(&fields.parallel)?;
        let mean = |field: &[f64]| lamp.luminance(field) / parallel.luminance();
        Ok(Self {
            path,
            lamp,
            means: [
                Some(mean(&fields.crossed)),
                fields.crossed_with_plate.as_deref().map(mean),
            ],
            parallel,
        })
    }

    /// Light of each ray.
    fn light(&self, rays: &Rays, plates: bool) -> Result<Vec<Xyz>, PathError> {
        let lamp = (self.lamp.wavelengths_nm, self.lamp.weights.per_wavelength());
        light(self.path, lamp, rays, plates, self.parallel)
    }

    fn view(&self, rays: &Rays, plates: bool) -> Result<View, StudyError> {
        let relative_luminance = self.means[usize::from(plates)].ok_or(StudyError::NoPlate)?;
        Ok(View {
            light: self.light(rays, plates)?,
            relative_luminance,
            extinction_ratio: ratio(1.0, relative_luminance),
        })
    }
}

/// Light of each ray over the luminance of the parallel field `parallel`, stray light included; the lamp as wavelengths with a weight for each of
/// X, Y and Z.
fn light(
    path: &LightPath,
    (wavelengths_nm, weights): (&[f64], &[[f64; 3]]),
    rays: &Rays,
    plates: bool,
    parallel: Xyz,
) -> Result<Vec<Xyz>, PathError> {
    let sums = run::crossed_ray_sums(path, rays, wavelengths_nm, weights, plates)?;
    let one = |sum: [f64; 3]| {
        let seen = |k: usize| sum[k] + path.stray_fraction * parallel.0[k];
        Xyz([0, 1, 2].map(|k| seen(k) / parallel.luminance()))
    };
    Ok(sums.into_iter().map(one).collect())
}

/// Sections, four times as finely sampled as the picture.
fn sections(
    bench: &ApertureBench,
    picture: &Rays,
    azimuths_rad: [f64; 2],
) -> Result<Vec<Section>, StudyError> {
    let even = Rays::even(bench.path.na(), 4 * (picture.ring.len() - 1) + 1, 1);
    let spoke_rad: Vec<f64> = azimuths_rad
        .iter()
        .flat_map(|azimuth| [*azimuth, azimuth + std::f64::consts::PI])
        .collect();
    let rays = Rays {
        ring: even.ring,
        sectors: Vec::new(),
        ring_weight: even.ring_weight,
        spoke_weight: vec![1.0 / spoke_rad.len() as f64; spoke_rad.len()],
        spoke_rad,
    };
    let [without_plate, with_plate] = [false, true].map(|plates| {
        let wanted = bench.means[usize::from(plates)].is_some();
        wanted.then(|| bench.light(&rays, plates)).transpose()
    });
    let (without_plate, with_plate) = (without_plate?.unwrap_or_default(), with_plate?);
    // The axis once, then outward.
    let (last, spokes) = (rays.ring.len() - 1, rays.spoke_rad.len());
    let along = |section: usize| {
        let other = (1..=last).rev().map(move |ring| (ring, 2 * section + 1));
        other.chain((0..=last).map(move |ring| (ring, 2 * section)))
    };
    let section = |section: usize, azimuth_rad: f64| {
        let pick = |light: &[Xyz]| {
            let points = along(section).map(|(ring, spoke)| light[ring * spokes + spoke]);
            points.collect::<Vec<_>>()
        };
        Section {
            azimuth_rad,
            na: along(section)
                .map(|(ring, spoke)| rays.ring[ring] * [1.0, -1.0][spoke % 2])
                .collect(),
            without_plate: pick(&without_plate),
            with_plate: with_plate.as_deref().map(pick),
        }
    };
    let numbered = azimuths_rad.into_iter().enumerate();
    Ok(numbered.map(|(k, azimuth)| section(k, azimuth)).collect())
}
