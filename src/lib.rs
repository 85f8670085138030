//! polstack computes what a light microscope will show under crossed polars, and why.
//!
//! From a scenario file (lamp, iris, and the parts in the order of the light) it predicts extinction ratio, background colour
//! with and without an accessory plate, and which part is to blame for the light that leaks: Jones and Mueller calculus over
//! the rays of the aperture and the wavelengths of the lamp, then colour, then an answer.
//!
//! # What is modelled
//!
//! Rays of the direct light through the aperture, each with its own angle; sheet polarizers in collimated light and under
//! oblique rays; flat interfaces; lens groups, bare or coated; strain that varies over the glass; retarders and plates with
//! their dispersion; birefringent specimens, among them plates of crystals with one and with two optic axes; stray light; lamps, the CIE 1931 observer, white balance and sRGB.
//!
//! # What is left out
//!
//! Diffraction and image formation; multiple reflections between surfaces; scattering inside sheets and glass, except as a stated
//! stray fraction; optical activity of crystals cut along their axis and of those with two axes; the eye's behaviour in the dark. A lens that is told by a number of
//! surfaces is a row of equal ones; one that is told by its prescription is traced.
//!
//! # A tour
//!
//! One walks from scenario to answer: [`scenario`] reads a file into a [`light_path::LightPath`], a
//! [`spectrum::Source`] and a [`spectrum::WavelengthGrid`]; [`light_path`] runs it over rays and wavelengths with the parts of
//! [`optics`], made of [`material`]s; [`study`] turns the result into an answer, by way of [`color`]; [`output`] shows it;
//! [`cli`] is the command line. [`calculus`] is the algebra under all of it, and [`conventions`] owns frames and signs.
//!
//! # Example
//!
//! ```
//! let text = r#"
//!     light.source = "cie-a"
//!     aperture.na = 0.25
//!     [[part]]
//!     name = "lower polar"
//!     polarizer = { sheet = "iodine-medium", azimuth_deg = 0 }
//!     [[part]]
//!     name = "objective"
//!     objective = { na = 0.25, immersion = "air", surfaces = 6, glass = "N-BK7", coating = "none" }
//!     strain = [ { uniform = { path_difference_nm = 5, azimuth_deg = 45 } } ]
//!     [[part]]
//!     name = "analyzer"
//!     analyzer = { sheet = "iodine-medium", azimuth_deg = 90 }
//! "#;
//! let scenario = polstack::scenario::parse(text, "example.toml", &polstack::scenario::Memory::default())?;
//! let answer = polstack::study::predict::predict(&scenario.scene).unwrap();
//! assert!(answer.extinction_ratio.unwrap() > 800.0);
//! assert_eq!(answer.leak.shares[0].part, "objective");
//! # Ok::<(), polstack::scenario::ScenarioError>(())
//! ```

pub mod calculus;
#[cfg(feature = "cli")]
pub mod cli;
pub mod color;
pub mod conventions;
pub mod light_path;
pub mod material;
mod math;
pub mod optics;
mod order;
mod os_words;
pub mod output;
#[cfg(feature = "page")]
pub mod page;
#[cfg(feature = "photographs")]
pub mod photograph;
pub mod scenario;
mod scene;
pub mod spectrum;
pub mod study;
mod threads;

pub use scene::Scene;
