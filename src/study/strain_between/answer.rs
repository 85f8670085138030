//! What photographs say of the strain between the polars, and what the back focal plane would show with it.

use serde::Serialize;

use super::lenses::{carrier, lenses_between, with_strains};
use crate::light_path::{LightPath, PartKind};
use crate::optics::{Rays, Strain, StrainMap};
use crate::scene::Scene;
use crate::study::StudyError;
use crate::study::fit::ZoneAnswer;
use crate::study::lamp::Lamp;
use crate::study::predict::leak_picture;
use crate::study::told::degrees;

/// The strain between the polars.
///
/// Checked by: `tests/laws/photographs.rs`; as JSON by `tests/cli/photographs.rs`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StrainBetween {
    /// The lens that carries it in the model.
    pub lens: String,
    /// Radius of the photographed disc over the lens's rim: beyond it the map goes on as it is at the disc's edge, and is not measured.
    pub reach: f64,
    /// Path difference, root mean square over the area of the photographed disc, nm.
    pub rms_nm: f64,
    /// Its error, root mean square over the same, nm.
    pub rms_error_nm: f64,
    /// Misfit per degree of freedom; errors are widened by its root where it is above 1.
    pub misfit: f64,
    /// Whether the photographs tell the strain from its mirror pictures; otherwise the one nearest to the fitted parts is given.
    pub settled: bool,
    /// Lines of the readings file whose photographs were used.
    pub lines: Vec<usize>,
    /// Lines that were left out.
    pub left_out: Vec<LeftOutLine>,
    /// The middle of each zone of the photographs.
    pub zones: Vec<StrainZone>,
    /// The zones of each photograph against the model with the map in it.
    pub residuals: Vec<PhotographResiduals>,
    /// The map, a square grid over the lens's rim, row by row from the South. A program reads it from its own file.
    #[serde(skip)]
    pub nodes: Vec<StrainNode>,
    /// Where the map is drawn: points of the photographed disc, whose radius is 1.
    #[serde(skip)]
    pub drawn: Rays,
    /// The map there.
    #[serde(skip)]
    pub disc: Vec<StrainNode>,
    /// The line of a photograph of the stand as it is written.
    #[serde(skip)]
    pub as_written: Option<usize>,
}

/// The strain at a point of the map.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StrainNode {
    /// East, in units of the lens's rim.
    pub x: f64,
    /// North, in units of the lens's rim.
    pub y: f64,
    /// Path difference, nm.
    pub path_difference_nm: f64,
    /// Slow azimuth, radians counter-clockwise from East. A program is told degrees.
    #[serde(rename = "azimuth_deg", serialize_with = "degrees")]
    pub slow_azimuth_rad: f64,
    /// Path difference times the cosine of twice the slow azimuth, nm.
    pub u_nm: f64,
    /// Path difference times the sine of twice the slow azimuth, nm.
    pub v_nm: f64,
    /// One standard deviation of the path difference, nm.
    pub error_nm: f64,
}

/// The strain in the middle of a zone.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StrainZone {
    /// Ring, from 0 at the axis.
    pub ring: usize,
    /// Sector, from 0 at East, counter-clockwise.
    pub sector: usize,
    /// What the photographs say.
    #[serde(flatten)]
    pub found: StrainNode,
    /// What the fitted parts add up to there: path difference, nm.
    pub fitted_nm: f64,
    /// Their slow azimuth, radians. A program is told degrees.
    #[serde(rename = "fitted_azimuth_deg", serialize_with = "degrees")]
    pub fitted_azimuth_rad: f64,
}

/// A line of the readings file that a map does without.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LeftOutLine {
    /// The line.
    pub line: usize,
    /// Why, in words.
    pub why: &'static str,
}

/// A photograph against the model with the map in it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PhotographResiduals {
    /// Line of the readings file.
    pub line: usize,
    /// Its zones.
    pub zones: Vec<ZoneAnswer>,
}

/// What the back focal plane shows at crossed polars, plates out: of the stand as it is written, and with a map in it.
#[derive(Debug, Clone, PartialEq)]
pub struct MapPictures {
    /// Rays of both.
    pub rays: Rays,
    /// Light of each ray over the mean of the parallel field, in the order of [`Rays::iter`]: as written, and with the map.
    pub light: [Vec<f64>; 2],
    /// Extinction ratios of both; infinite where nothing leaks.
    pub extinction_ratio: [f64; 2],
}

impl StrainBetween {
    /// The stand with the map in the lens that carries it; other lenses between the polars are free of strain. `None` for a stand that has no such
    /// lens.
    #[must_use]
    pub fn mapped(&self, path: &LightPath) -> Option<LightPath> {
        let nodes: Vec<_> = (self.nodes.iter())
            .map(|n| (n.x, n.y, n.path_difference_nm, n.slow_azimuth_rad))
            .collect();
        let map = StrainMap::new(&nodes).ok()?;
        let mut mapped = with_strains(path, lenses_between(path), Vec::clear);
        let carrier = carrier(path)?;
        match &mut mapped.parts[carrier].kind {
            PartKind::Condenser(lens) | PartKind::Objective(lens) => {
                lens.strain = vec![Strain::Map(map)];
            }
            _ => return None,
        }
        Some(mapped)
    }

    /// What the back focal plane shows before and after; `None` where the stand has no lens for the map.
    ///
    /// # Errors
    /// [`StudyError`] when the stand cannot be run.
    ///
    /// Checked by: `tests/laws/photographs.rs`.
    pub fn pictures(&self, scene: &Scene) -> Result<Option<MapPictures>, StudyError> {
        let Some(mapped) = self.mapped(&scene.path) else {
            return Ok(None);
        };
        let mapped = scene.with_path(mapped);
        let lamp = Lamp::new(&scene.source, &scene.grid)?;
        let ratio = |scene: &Scene| {
            let fields = lamp.fields(&scene.path)?;
            Ok::<_, StudyError>(lamp.extinction_ratio(&fields.parallel, &fields.crossed))
        };
        let (rays, written) = leak_picture(scene)?;
        Ok(Some(MapPictures {
            rays,
            light: [written, leak_picture(&mapped)?.1],
            extinction_ratio: [ratio(scene)?, ratio(&mapped)?],
        }))
    }
}
