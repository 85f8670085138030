//! A disc of rays as a screen shows it: pixels, false colours, exposure, lines of equal light.

mod isolines;
mod light_scale;
pub(crate) mod ramp;
mod sampler;

#[cfg(feature = "figures")]
pub(crate) use isolines::followed;
pub(crate) use isolines::{RingMap, isolines, ratio_levels};
pub use light_scale::LightScale;
pub(crate) use sampler::{Exposure, Sampler, encoded};
