//! polstack computes what a light microscope will show under crossed polars, and why.

pub mod calculus;
pub mod color;
pub mod conventions;
pub mod light_path;
pub mod material;
pub mod optics;
pub mod output;
pub mod spectrum;
pub mod study;
