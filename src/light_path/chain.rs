//! A light path tabulated for a set of rays and wavelengths: what the kernel runs.
//!
//! Every link has two orthogonal linear modes and is crossed in the ray's own frame, p and s: glass surfaces are diagonal
//! there, and whatever they do one after the other is one table. Any other link is
//! `J = mean + half_difference (C sigma_1 + S sigma_2)`, `(C, S) = (cos, sin)(2 azimuth)`, azimuth counted from p. A link's azimuth
//! depends on the spoke or on the ray; its modes depend on the wavelength and on nothing else, on the ring or on the ray.
//! Whatever does not depend on both ray and wavelength is computed once here, and only the strain's sines are left to
//! the kernel.

use std::mem;
use std::ops::Range;

use super::builder::Builder;
use super::kernel;
use super::stack::{LightPath, PathError};
use crate::calculus::Coherency;
use crate::optics::Rays;

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

impl Setting {
    /// The empty field: plates and specimens out, the analyzer as the stack has it.
    pub const EMPTY: Self = Self {
        plates: false,
        specimens: false,
        analyzer_azimuth_rad: None,
    };
}

/// A stretch of the light path, ready to run. All azimuths are counted from the frame's own.
#[derive(Debug, Clone)]
pub struct Chain {
    /// Of each ring the spokes that it has, and the number of its first ray.
    pub(super) rings: Vec<(Range<usize>, usize)>,
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
