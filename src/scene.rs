//! What every study takes: a light path, a lamp, and the wavelengths.

use crate::light_path::LightPath;
use crate::spectrum::{Source, WavelengthGrid};

/// A microscope under its lamp.
///
/// # Examples
/// ```
/// use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};
/// use polstack::light_path::{LightPath, Part, PartKind};
/// use polstack::material::catalog;
/// use polstack::optics::{Lens, Polarizer, Strain};
/// use polstack::{Scene, spectrum::Source, study::predict::predict};
///
/// let sheet = catalog::sheet("iodine-medium").unwrap();
/// let mut lens = Lens::new(0.25, 6, catalog::glass("N-BK7").unwrap());
/// lens.strain = vec![Strain::Uniform { path_difference_nm: 5.0, slow_azimuth_rad: FRAC_PI_4 }];
/// let parts = vec![
///     Part::new("lower polar", PartKind::Polarizer(Polarizer::new(sheet.clone(), 0.0))),
///     Part::new("objective", PartKind::Objective(lens)),
///     Part::new("analyzer", PartKind::Analyzer(Polarizer::new(sheet, FRAC_PI_2))),
/// ];
/// let scene = Scene::new(LightPath { parts, ..LightPath::default() }, Source::named("cie-a").unwrap());
/// let answer = predict(&scene)?;
/// assert_eq!(answer.leak.shares[0].part, "objective");
/// # Ok::<(), polstack::study::StudyError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// The stack; studies run what [`LightPath::check`] accepts.
    pub path: LightPath,
    /// The lamp.
    pub source: Source,
    /// The wavelengths.
    pub grid: WavelengthGrid,
}

impl Scene {
    /// A path under a lamp, over the usual wavelengths: 380 to 780 nm every 5 nm, and finer where an answer needs it.
    #[must_use]
    pub fn new(path: LightPath, source: Source) -> Self {
        Self {
            path,
            source,
            grid: WavelengthGrid::default(),
        }
    }

    /// Another path under the same lamp, over the same wavelengths.
    #[must_use]
    pub fn with_path(&self, path: LightPath) -> Self {
        Self {
            path,
            ..self.clone()
        }
    }

    /// The same over other wavelengths.
    #[must_use]
    pub fn with_grid(&self, grid: WavelengthGrid) -> Self {
        Self {
            grid,
            ..self.clone()
        }
    }
}
