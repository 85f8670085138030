//! The scenario file: its format, its checks, its errors. The only place that knows what files call things.
//!
//! [`read()`] takes a TOML file to a [`Scenario`]: a light path, a lamp, the wavelengths. Degrees become radians here, names
//! are looked up in the catalogs here, and everything that a file can get wrong is found here: what comes out is
//! accepted by [`LightPath::check`](crate::light_path::LightPath::check). [`json_schema`] describes the format to editors.

mod build;
mod camera;
mod decode;
#[cfg(any(feature = "cli", feature = "page"))]
pub(crate) mod edit;
mod error;
mod files;
mod from_toml;
mod lens;
mod lesson;
mod located;
mod names;
mod notes;
mod parts;
mod photograph_lines;
#[cfg(feature = "photographs")]
mod photographs;
mod prescription;
mod read;
mod readings;
mod remedy;
mod sample;
mod schema;
mod spans;
mod specimen;
#[cfg(feature = "cli")]
mod stand;
mod start;
pub(crate) mod suggest;
mod syntax;
mod tables;

pub use build::Scenario;
pub use camera::{parse_camera, read_camera};
pub use error::{Problem, ScenarioError};
pub use files::{Disk, FileError, Files, Memory};
#[cfg(feature = "cli")]
pub use lesson::lesson_scenes;
pub use lesson::{Lesson, LessonChange, LessonTry, LessonValue};
pub use photograph_lines::{PhotographFile, PhotographLine};
#[cfg(feature = "photographs")]
pub use photographs::{
    CameraReading, DiscElsewhere, PhotographLineError, Photographed, read_photographs,
};
pub use read::{STANDARD_INPUT, parse, read};
#[cfg(feature = "cli")]
pub(crate) use readings::lines_in_words;
pub use readings::{BenchReadings, parse_readings, read_readings};
pub use remedy::remedy;
pub use schema::json_schema;
#[cfg(feature = "cli")]
pub use stand::{with_map, with_stand};
pub use start::{CondenserKind, ObjectiveKind, Starter, StarterPlace};
