//! What is seen in the field: a specimen of many path differences and azimuths in this stack, while the stage turns.
//!
//! Diffraction is left out: every point of the specimen is seen by the rays of the whole aperture, as if it were alone.
//!
//! # Examples
//! ```
//! use polstack::study::view::{FieldLight, FieldSpecimen};
//! let scene = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene;
//! let light = FieldLight::new(&scene)?;
//! let field = light.view(&FieldSpecimen::Invented, 64, 0.0);
//! assert_eq!(field.without_plate.len(), 64 * 64);
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

mod light;
mod seen;
mod specimen;

pub use light::{FieldLight, FieldView};
pub use seen::{SeenColor, SeenObject, seen_objects};
pub use specimen::{FieldObject, FieldSpecimen, SpecimenMap, SpecimenMapError, SpecimenPoint};
