//! Back focal planes of the places that rival each other.

use super::{PlaceAnswer, Placement};
use crate::light_path::LightPath;
use crate::optics::Rays;
use crate::scene::Scene;
use crate::study::StudyError;
use crate::study::predict::leak_map;

/// Rings and spokes of each picture.
const RAYS: (usize, usize) = (33, 128);

/// The light of one back focal plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Index of the place in [`Placement::lower`].
    pub place: usize,
    /// Index of the iris setting in [`Placement::iris_na`].
    pub iris: usize,
    /// The stack with the polar in that place and the iris so far open.
    pub path: LightPath,
    /// The rays.
    pub rays: Rays,
    /// Light of each ray, as of [`leak_map`].
    pub light: Vec<f64>,
}

/// The back focal planes of the places that differ in light, at some of the iris settings.
///
/// # Errors
/// [`StudyError`] when a path cannot be run.
pub fn pictures(
    scene: &Scene,
    answer: &Placement,
    irises: &[usize],
) -> Result<Vec<Picture>, StudyError> {
    let mut pictures = Vec::new();
    for &place in &answer.verdict.rivals {
        let PlaceAnswer {
            placed, at_iris, ..
        } = &answer.lower[place];
        for &iris in irises.iter().filter(|iris| at_iris[**iris].is_some()) {
            let mut path = placed.path.clone();
            path.iris_na = Some(answer.iris_na[iris]);
            let rays = Rays::even(path.na(), RAYS.0, RAYS.1);
            let light = leak_map(&scene.with_path(path.clone()), &rays)?;
            pictures.push(Picture {
                place,
                iris,
                path,
                rays,
                light,
            });
        }
    }
    Ok(pictures)
}
