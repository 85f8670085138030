//! A disc of rays as a screen shows it: pixels, false colours, exposure, lines of equal light.

mod isolines;
mod light_scale;
pub(crate) mod ramp;
mod sampler;

pub(crate) use isolines::{RingMap, isolines, ratio_levels};
#[cfg(feature = "figures")]
pub(crate) use isolines::{followed, length};
pub use light_scale::LightScale;
#[cfg(feature = "figures")]
pub(crate) use light_scale::NO_NUMBER;
pub(crate) use sampler::{Exposure, encoded};
#[cfg(feature = "figures")]
pub(crate) use sampler::{Sampler, zones_picture};
