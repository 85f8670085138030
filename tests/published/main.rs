//! Published values and values settled when the project was planned. Each check is a triple: `name.csv` (the values),
//! `name.toml` (source, units, conditions, tolerance and its reason), `name.rs`.

#[path = "../common/mod.rs"]
mod common;

mod ciede2000;
mod colour;
