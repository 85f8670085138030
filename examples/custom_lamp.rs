//! How to use a lamp of your own, measured at a few wavelengths (this one is invented): `cargo run --release --example custom_lamp`.

#![allow(clippy::print_stdout, reason = "an example shows its answer")]

use std::path::Path;

use polstack::scenario;
use polstack::spectrum::{Source, SpectralTable};
use polstack::study::predict::predict;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut scene = scenario::read(Path::new("scenarios/pond-life.toml"))?.scene;
    let power = [
        (380.0, 0.0),
        (430.0, 0.1),
        (455.0, 1.0),
        (480.0, 0.3),
        (560.0, 0.9),
        (620.0, 0.6),
        (700.0, 0.1),
        (780.0, 0.0),
    ];
    scene.source = Source::Table {
        name: "torch, measured".to_owned(),
        power: SpectralTable::new(power)?,
    };
    let answer = predict(&scene)?;
    println!(
        "plate out: {} {}",
        answer.background.without_plate.name, answer.background.without_plate.srgb
    );
    if let Some(with_plate) = &answer.background.with_plate {
        println!("plate in:  {} {}", with_plate.name, with_plate.srgb);
    }
    Ok(())
}
