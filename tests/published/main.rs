//! Published values against the program. Each check is a triple: `name.csv` holds the values, `name.toml` says where they come
//! from and how close they must be met and why, `name.rs` compares.

#[path = "../common/mod.rs"]
mod common;

mod across_plates;
mod biaxial;
mod ciede2000;
mod coating;
mod colour;
mod cover;
mod disc;
mod extinction;
mod film;
mod fresnel;
mod handbook_words;
mod indices;
mod jones;
mod mueller;
mod oblique_plates;
mod plates;
mod rotation;
mod sheets;
mod sobol;
mod stress;
mod triple;
