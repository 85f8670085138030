//! From readings to what the parts are: what unknown numbers may be, drawn by how well they explain what was read.
//!
//! So far the room holds the sampler alone; see [`sample`].

mod sampler;

pub use sampler::{Population, Posterior, SampleError, sample};
