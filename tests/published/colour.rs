//! Interference colours and the landmarks among them.

use polstack::color::{Adaptation, ColorWeights, Swatch, Xyz, linear_srgb};
use polstack::material::catalog;
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::chart::{Band, Dispersion, Polars, SODIUM_NM, ScaleRequest, interference};
use serde::Deserialize;
use toml::Table;

use crate::common::close;

fn tolerance(key: &str) -> f64 {
    let about: Table = include_str!("colour.toml").parse().expect("TOML");
    about["tolerance"][key].as_float().expect("number")
}

/// A lamp seen through a plate between crossed polars, every nanometre from 380 to 780.
struct Lamp {
    wavelength_nm: Vec<f64>,
    weights: ColorWeights,
}

impl Lamp {
    fn named(name: &str) -> Self {
        let grid = WavelengthGrid::new(380.0, 780.0, 1.0).expect("a grid");
        let source = Source::named(name).expect("a lamp of the catalog");
        Self {
            weights: ColorWeights::new(&grid, &source).expect("a lamp that covers the grid"),
            wavelength_nm: grid.wavelengths_nm().to_vec(),
        }
    }

    fn through_plate(&self, path_difference_nm: f64) -> Xyz {
        let half_turns = (self.wavelength_nm.iter()).map(|nm| path_difference_nm / nm);
        let plate: Vec<f64> = half_turns
            .map(|m| (std::f64::consts::PI * m).sin().powi(2))
            .collect();
        self.weights.xyz(&plate).expect("a value a wavelength")
    }

    /// 8 bits, with channels outside 0 to 1 cut off.
    fn clipped_srgb(&self, xyz: Xyz) -> [u8; 3] {
        let balance = Adaptation::to_d65(self.weights.white()).expect("a white that balances");
        let linear = linear_srgb(balance.apply(xyz));
        Swatch::of_linear(linear.map(|v| v.clamp(0.0, 1.0))).srgb
    }

    /// The path difference between two ends, nm, at which `sign` times luminance is largest, by halving the
    /// interval around the best of three.
    fn extreme_nm(&self, mut low: f64, mut high: f64, sign: f64) -> f64 {
        while high - low > 1e-6 {
            let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
            let [at_a, at_b] = [a, b].map(|g| sign * self.through_plate(g).luminance());
            if at_a < at_b { low = a } else { high = b }
        }
        0.5 * (low + high)
    }
}

#[derive(Deserialize)]
struct Row {
    path_difference_nm: f64,
    d65_x: f64,
    d65_y: f64,
    d65_z: f64,
    d65_r: f64,
    d65_g: f64,
    d65_b: f64,
    a_luminance: f64,
    a_cx: Option<f64>,
    a_cy: Option<f64>,
    a_r: f64,
    a_g: f64,
    a_b: f64,
}

#[test]
fn interference_colours_are_the_settled_ones() {
    let (d65, a) = (Lamp::named("cie-d65"), Lamp::named("cie-a"));
    let (fine, step) = (tolerance("tristimulus"), tolerance("srgb"));
    let about: Table = include_str!("colour.toml").parse().expect("TOML");
    let exception = |key: &str| about["exception"][key].as_integer().expect("number") as f64;
    let mut reader = csv::Reader::from_reader(include_bytes!("colour.csv").as_slice());
    let rows: Vec<Row> = reader.deserialize().map(|r| r.expect("a row")).collect();
    assert_eq!(rows.len(), 38);
    for mut row in rows {
        let g = row.path_difference_nm;
        if g == exception("path_difference_nm") {
            row.d65_g = exception("d65_g");
        }
        let xyz = d65.through_plate(g);
        for (got, expected) in xyz.0.iter().zip([row.d65_x, row.d65_y, row.d65_z]) {
            close(&format!("D65 XYZ at {g} nm"), *got, expected, fine);
        }
        for (got, expected) in (d65.clipped_srgb(xyz).iter()).zip([row.d65_r, row.d65_g, row.d65_b])
        {
            close(
                &format!("D65 sRGB at {g} nm"),
                f64::from(*got),
                expected,
                step,
            );
        }
        let xyz = a.through_plate(g);
        close(
            &format!("A Y at {g} nm"),
            xyz.luminance(),
            row.a_luminance,
            fine,
        );
        assert_eq!(xyz.chromaticity().is_some(), row.a_cx.is_some(), "{g} nm");
        let [cx, cy] = xyz.chromaticity().unwrap_or_default();
        close(&format!("A x at {g} nm"), cx, row.a_cx.unwrap_or(0.0), fine);
        close(&format!("A y at {g} nm"), cy, row.a_cy.unwrap_or(0.0), fine);
        for (got, expected) in (a.clipped_srgb(xyz).iter()).zip([row.a_r, row.a_g, row.a_b]) {
            close(
                &format!("A sRGB at {g} nm"),
                f64::from(*got),
                expected,
                step,
            );
        }
    }
}

#[derive(Deserialize)]
struct Landmark {
    lamp: String,
    first_maximum_nm: f64,
    darkest_nm: f64,
    darkest_luminance: f64,
    effective_nm: f64,
    luminance_at_1_nm: f64,
    cx: f64,
    cy: f64,
    quartz_darkest_nm: f64,
}

#[test]
fn brightest_and_darkest_path_differences_are_the_settled_ones() {
    let (fine, nm) = (tolerance("tristimulus"), tolerance("landmark_nm"));
    let mut reader = csv::Reader::from_reader(include_bytes!("colour-landmarks.csv").as_slice());
    let rows: Vec<Landmark> = reader.deserialize().map(|r| r.expect("a row")).collect();
    assert_eq!(rows.len(), 4);
    for row in rows {
        let (name, lamp) = (row.lamp.as_str(), Lamp::named(&row.lamp));
        let brightest_nm = lamp.extreme_nm(200.0, 350.0, 1.0);
        close(
            &format!("{name}, first maximum"),
            brightest_nm,
            row.first_maximum_nm,
            nm,
        );
        let darkest_nm = lamp.extreme_nm(450.0, 650.0, -1.0);
        close(&format!("{name}, darkest"), darkest_nm, row.darkest_nm, nm);
        let darkest = lamp.through_plate(darkest_nm).luminance();
        close(
            &format!("{name}, Y there"),
            darkest,
            row.darkest_luminance,
            fine,
        );

        let inverse_squares: f64 = (lamp.wavelength_nm.iter())
            .zip(lamp.weights.per_wavelength())
            .map(|(nm, weight)| weight[1] / (nm * nm))
            .sum();
        let (effective, tolerance_nm) = (inverse_squares.powf(-0.5), tolerance("effective_nm"));
        close(
            &format!("{name}, effective"),
            effective,
            row.effective_nm,
            tolerance_nm,
        );
        let small = lamp.through_plate(1.0).luminance();
        let tolerance = tolerance("small_luminance");
        close(
            &format!("{name}, Y at 1 nm"),
            small,
            row.luminance_at_1_nm,
            tolerance,
        );
        let [cx, cy] = lamp.through_plate(1e-3).chromaticity().expect("light");
        close(&format!("{name}, x towards 0"), cx, row.cx, fine);
        close(&format!("{name}, y towards 0"), cy, row.cy, fine);
    }
}

/// What the chart says of itself, on a scale too coarse to show it.
fn charted(lamp: &str, material: &str) -> Band {
    let dispersion = Dispersion {
        name: material.to_owned(),
        material: catalog::plate_material(material).expect("a plate material"),
        at_nm: SODIUM_NM,
    };
    let request = ScaleRequest {
        source: &Source::named(lamp).expect("a lamp of the catalog"),
        sheet: &catalog::sheet("ideal").expect("the ideal sheet"),
        polars: Polars::Linear,
        dispersion: Some(&dispersion),
        to_nm: 700.0,
        step_nm: 100.0,
        exposure_stops: 0.0,
        adaptation_degree: 1.0,
        microscope: None,
    };
    interference(&request).expect("a chart").bands.remove(0)
}

#[test]
fn charts_find_the_settled_landmarks_of_a_constant_path_difference_and_of_a_quartz_wedge() {
    let nm = tolerance("landmark_nm");
    let mut reader = csv::Reader::from_reader(include_bytes!("colour-landmarks.csv").as_slice());
    for row in reader.deserialize() {
        let row: Landmark = row.expect("a row");
        let at = |place: Option<(f64, f64)>| place.expect("a landmark").0;
        let constant = charted(&row.lamp, "none");
        close(
            &row.lamp,
            at(constant.first_maximum),
            row.first_maximum_nm,
            nm,
        );
        close(&row.lamp, at(constant.first_minimum), row.darkest_nm, nm);
        let quartz = charted(&row.lamp, "quartz");
        close(
            &row.lamp,
            at(quartz.first_minimum),
            row.quartz_darkest_nm,
            nm,
        );
    }
}
