//! A light path tabulated for a set of rays and wavelengths: what the kernel runs.
//!
//! Every link has two orthogonal modes, linear but for an optically active crystal's, and is crossed in the ray's own frame, p and s: glass surfaces are
//! diagonal there, so surfaces that follow one another are multiplied into one table. Any other linear link is `J = mean + half_difference (C sigma_1 + S sigma_2)`,
//! `(C, S) = (cos, sin)(2 azimuth)`, azimuth counted from p. A link's azimuth depends on the spoke or on the ray; its modes depend on the
//! wavelength, and besides it on nothing, on the ring or on the ray. Whatever does not depend on both ray and wavelength is computed once here,
//! and only the strain's sines are left to the kernel.

use std::ops::Range;

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

/// A stretch of the light path, ready to run. All azimuths are counted from the azimuth of the frame that the chain was built for.
#[derive(Debug, Clone)]
pub struct Chain {
    /// For each ring: the spokes that it has, and the number of its first ray.
    pub(super) rings: Vec<(Range<usize>, usize)>,
    pub(super) ring_weight: Vec<f64>,
    pub(super) spoke_weight: Vec<f64>,
    /// Cosine and sine of each spoke's azimuth.
    pub(super) spoke: Vec<[f64; 2]>,
    /// Whether half a turn about the axis leaves every part as it is: of each two opposite rays only the first is run then, with the weight of both.
    pub(super) opposites_left_out: bool,
    /// Number of wavelengths; `padded` is that number rounded up to a multiple of [`PAD`].
    pub(super) wavelengths: usize,
    pub(super) padded: usize,
    /// The light that enters as two mutually incoherent beams: real and imaginary parts of the first one's `(Ex, Ey)`, then of
    /// the second one's. Leading parts that treat all rays alike are already in it.
    pub(super) light: LinkTable<8>,
    pub(super) stages: Vec<Branches>,
}

/// The versions of one stretch of the chain. Each version is a list of links, in the order of the light.
pub(super) type Branches = Vec<Vec<Link>>;

/// One element of the chain, in the ray's own frame.
#[derive(Debug, Clone)]
pub(super) enum Link {
    /// An element whose modes are p and s, such as a surface: real and imaginary part of the amplitude of p, then of s.
    Meridional(LinkTable<4>),
    /// Two modes with real amplitudes, given by their `mean` and `half_difference`.
    Real(LinkAxis, LinkTable<2>),
    /// A retarder whose azimuth is the same at all wavelengths: cosine and sine of half its phase.
    Phase(LinkAxis, LinkTable<2>),
    /// A retarder whose axis depends on the wavelength too: cosine of half its phase, then the sine of half its phase times C and times S.
    Crystal(LinkTable<3>),
    /// A retarder whose modes are elliptic: the same three numbers, then the sine of half its phase times the share of the right circular vibration.
    Elliptic(LinkTable<4>),
    /// A retarder whose cosines and sines the kernel computes, because its path difference depends on the ray and its phase on the wavelength too.
    Strain {
        axis: LinkAxis,
        /// Path difference of each ray, nm.
        path_difference_nm: Vec<f64>,
        /// Up to this path difference half the phase stays within an eighth of a turn at every wavelength, so that a shorter formula for the sine
        /// will do.
        gentle_nm: f64,
        /// `pi factor / wavelength`, 1/nm, of each wavelength.
        half_wavenumber: Vec<f64>,
    },
}

/// `(C, S)` of a link's first mode.
#[derive(Debug, Clone)]
pub(super) enum LinkAxis {
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
pub(super) struct LinkTable<const N: usize> {
    pub(super) over: Over,
    pub(super) data: Vec<f64>,
}

impl Chain {
    /// How many combinations of versions the chain has.
    #[must_use]
    pub fn combinations(&self) -> usize {
        self.stages.iter().map(Vec::len).product()
    }
}
