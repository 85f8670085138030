//! Comparison with reference libraries. Each module has a folder beside it with the script and the pinned versions
//! that wrote its fixtures.

#[path = "../common/mod.rs"]
mod common;
#[path = "../common/scene.rs"]
mod scene;

mod charts;
mod color;
mod cover;
mod crystals;
mod decisions;
mod fine;
mod fit;
mod lenses;
mod maps;
mod optics;
mod photographs;
mod seeing;
mod traces;
