//! Answers: one question per file.

#![warn(clippy::disallowed_methods)]

pub mod aperture;
mod bench;
pub mod chart;
pub mod doubt;
pub mod draws;
mod error;
pub mod fit;
pub mod interval;
mod lamp;
pub mod leak;
pub mod lens;
pub mod lesson;
pub(crate) mod measures;
pub mod observer;
pub mod place;
pub mod predict;
pub mod quantity;
pub mod reading;
pub mod response;
mod root;
pub mod sobol;
mod stage;
pub mod strain_between;
pub(crate) mod told;
pub mod tolerate;
pub mod trace;
pub mod unknown;
mod vary;
pub mod view;
pub mod visibility;
mod wavelengths;

pub use error::{BadTolerance, NoTurn, NoVary, StudyError};
