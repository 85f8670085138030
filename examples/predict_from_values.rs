//! Asks what will be seen, with a stand built from Rust values, the one of `scenarios/pond-life.toml`:
//! `cargo run --release --example predict_from_values`.

#![allow(clippy::print_stdout, reason = "an example shows its answer")]

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

use polstack::Scene;
use polstack::light_path::{LightPath, Part, PartKind};
use polstack::material::{Index, catalog};
use polstack::optics::{
    Coating, Lens, Polarizer, RadialAlong, RadialSlow, Retarder, Slide, Strain,
};
use polstack::spectrum::Source;
use polstack::study::predict::predict;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let sheet = catalog::sheet("iodine-medium").ok_or("no such sheet")?;
    let glass = |name| catalog::glass(name).ok_or("no such glass");
    // A numerical aperture, a number of surfaces, and their glass: bare and without strain.
    let moulded = glass("B270")?;
    let stress_optic_brewster = moulded.stress_optic_brewster.ok_or("not measured")?;
    let mut condenser = Lens::new(0.88, 4, moulded);
    condenser.strain = vec![
        Strain::Radial {
            edge_nm: 40.0,
            slow: RadialSlow::Radial,
            along: RadialAlong::Axis,
        },
        Strain::Clamp {
            contacts: 4,
            force_n: 5.0,
            diameter_mm: 26.0,
            first_azimuth_rad: 30f64.to_radians(),
            stress_optic_brewster,
        },
    ];
    let mut objective = Lens::new(0.60, 8, glass("N-BK7")?);
    objective.coating = Coating::Mgf2;
    objective.strain = vec![Strain::Uniform {
        path_difference_nm: 3.0,
        slow_azimuth_rad: FRAC_PI_4,
    }];
    let slide = Slide {
        glass: Index::Constant(1.515),
        mount: Index::Constant(1.515),
    };
    let plate = Retarder {
        path_difference_nm: 550.0,
        at_nm: 550.0,
        material: catalog::plate_material("quartz").ok_or("no such crystal")?,
        slow_azimuth_rad: FRAC_PI_4,
    };
    // A sheet, and the azimuth of the light that it passes, in radians counter-clockwise from East.
    let lower_polar = Polarizer::new(sheet.clone(), 0.0);
    let analyzer = Polarizer::new(sheet, FRAC_PI_2);
    // In the order of the light.
    let parts = vec![
        Part::new("condenser", PartKind::Condenser(condenser)),
        Part::new("lower polar", PartKind::Polarizer(lower_polar)),
        Part::new("slide", PartKind::Slide(slide)),
        Part::new("objective", PartKind::Objective(objective)),
        Part::new("first-order plate", PartKind::Plate(plate)),
        Part::new("analyzer", PartKind::Analyzer(analyzer)),
    ];
    let path = LightPath {
        parts,
        iris_na: Some(0.60),
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
