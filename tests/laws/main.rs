//! Laws that must hold whatever the numbers: property tests and closed forms.

#[path = "../common/mod.rs"]
mod common;
mod paths;
mod routes;
