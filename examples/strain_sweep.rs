//! Prints the extinction ratio over the strain of an objective, as CSV on standard output: `cargo run --release --example strain_sweep`.

#![allow(clippy::print_stdout, reason = "an example shows its answer")]

use std::path::Path;

use polstack::scenario;
use polstack::study::predict::predict;
use polstack::study::tolerate::{Profile, Subject};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let scene = scenario::read(Path::new("scenarios/strained-objective.toml"))?.scene;
    // What is varied: radial strain of the objective. Strain is what a lens has; a polar would be turned.
    let radial = Subject::of(&scene.path, Some("objective"), None, Some(Profile::Radial))?;
    let mut table = csv::Writer::from_writer(std::io::stdout());
    table.write_record(["edge_nm", "extinction_ratio"])?;
    for edge_nm in [0.0, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0] {
        let path = radial.quantity.with(&radial.path, edge_nm);
        let ratio = predict(&scene.with_path(path))?.extinction_ratio;
        let ratio = ratio.map_or(String::new(), |ratio| ratio.to_string());
        table.write_record([edge_nm.to_string(), ratio])?;
    }
    table.flush()?;
    Ok(())
}
