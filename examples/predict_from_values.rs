//! Asks what will be seen, with a stand built from Rust values: `cargo run --release --example predict_from_values`.

#![allow(clippy::print_stdout, reason = "an example shows its answer")]

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

use polstack::Scene;
use polstack::light_path::{LightPath, Part, PartKind};
use polstack::material::catalog;
use polstack::optics::{Lens, Polarizer, Strain};
use polstack::spectrum::Source;
use polstack::study::predict::predict;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let sheet = catalog::sheet("iodine-medium").ok_or("no such sheet")?;
    let mut lens = Lens::new(0.25, 6, catalog::glass("N-BK7").ok_or("no such glass")?);
    lens.strain = vec![Strain::Uniform {
        path_difference_nm: 5.0,
        slow_azimuth_rad: FRAC_PI_4,
    }];
    let parts = vec![
        Part::new(
            "lower polar",
            PartKind::Polarizer(Polarizer::new(sheet.clone(), 0.0)),
        ),
        Part::new("objective", PartKind::Objective(lens)),
        Part::new(
            "analyzer",
            PartKind::Analyzer(Polarizer::new(sheet, FRAC_PI_2)),
        ),
    ];
    let path = LightPath {
        parts,
        ..LightPath::default()
    };
    let scene = Scene::new(path, Source::named("led-b3").ok_or("no such lamp")?);
    let answer = predict(&scene)?;
    let leak = &answer.leak.shares[0];
    match answer.extinction_ratio {
        Some(ratio) => println!("extinction ratio {ratio:.0}"),
        None => println!("nothing leaks in this model"),
    }
    println!("background {}", answer.background.without_plate.name);
    println!(
        "most of the leak: {}, {} ({:.0} %)",
        leak.part,
        leak.cause.words(),
        100.0 * leak.share
    );
    Ok(())
}
