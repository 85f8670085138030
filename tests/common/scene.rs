//! Scenes of test crates that run studies.

use polstack::Scene;
use polstack::light_path::LightPath;
use polstack::spectrum::{Source, WavelengthGrid};

/// A path under a lamp over some wavelengths.
pub(crate) fn scene_of(path: &LightPath, source: &Source, grid: &WavelengthGrid) -> Scene {
    Scene {
        path: path.clone(),
        source: source.clone(),
        grid: grid.clone(),
    }
}
