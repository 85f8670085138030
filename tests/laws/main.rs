//! Laws that must hold whatever the numbers: property tests and closed forms.

#[path = "../common/mod.rs"]
mod common;
#[path = "../common/scene.rs"]
mod scene;

mod aperture;
mod calculus;
mod camera;
mod chart;
mod checklist;
mod coverage;
mod crystals;
mod doubt;
mod draws;
mod fit;
mod fit_bench;
mod ideal;
mod leak;
mod lenses;
mod malus;
mod paths;
mod photographs;
mod place;
mod quadrature;
mod response;
mod retarders;
mod routes;
mod strains;
mod symmetry;
mod threads;
mod tolerate;
mod trace;
mod trade;
mod two_lenses;
mod unknowns;
mod view;
mod visibility;
