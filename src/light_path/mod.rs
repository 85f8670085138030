//! An ordered stack of parts and its run over rays and wavelengths.
//!
//! [`LightPath`] is the stack; [`Chain`] is its tabulated form for one set of rays and wavelengths; the kernel runs a
//! chain; [`run`] turns that into transmittances. [`reference`](mod@reference) does the same by plain matrices, one ray at a time.
//!
//! # Examples
//! ```
//! use polstack::light_path::{Crossing, Space};
//! let path = polstack::scenario::read("scenarios/pond-life.toml".as_ref())?.scene.path;
//! assert!(matches!(path.crossing(), Crossing::Crossed { .. }));
//! let lower = path.lower_polar().unwrap();
//! assert_eq!(path.space(lower), Space::Object); // the sheet lies above the condenser
//! # Ok::<(), polstack::scenario::ScenarioError>(())
//! ```

#![warn(clippy::disallowed_methods)]

mod builder;
mod chain;
mod check;
mod crossing;
mod error;
mod kernel;
mod passage;
pub mod reference;
pub mod run;
mod stack;

pub use chain::{Chain, Setting};
pub use crossing::{CROSSED_FROM_DEG, Crossing};
pub use error::{Misplaced, Needed, PathError};
pub(crate) use kernel::sin_cos_block;
pub use passage::{Passage, PassageAt, TOLD_NM, Traced};
pub use stack::{LightPath, Part, PartKind, Space, Tolerance, ToleranceKind};
