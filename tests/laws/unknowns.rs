//! Unknown numbers: which a stand has, what they are told as, and how they are put into a path.

use std::f64::consts::FRAC_PI_4;

use polstack::light_path::{LightPath, PartKind, Tolerance, ToleranceKind};
use polstack::optics::{Coating, Strain};
use polstack::study::unknown::{Prior, Unknowns};

use crate::paths::{analyzer, lens, part, polarizer, sheet, slide, stack};

/// A stand with a strained condenser of four surfaces, and an objective of which nothing is known.
fn stand() -> LightPath {
    let strain = vec![Strain::radial(30.0)];
    stack(
        0.4,
        vec![
            polarizer(sheet(0.8, 1e-5), 0.0),
            part(
                "condenser",
                PartKind::Condenser(lens(0.9, 4, Coating::None, strain)),
            ),
            slide(),
            part(
                "objective",
                PartKind::Objective(lens(0.5, 6, Coating::None, Vec::new())),
            ),
            analyzer(sheet(0.8, 1e-5), 90.0),
        ],
    )
}

#[test]
fn a_bench_has_the_unknowns_of_its_parts() {
    let expected = [
        "condenser.radial.edge_nm",
        "condenser.uniform.path_difference_nm",
        "condenser.uniform.azimuth_deg",
        "condenser.bending.n_eff",
        "objective.uniform.path_difference_nm",
        "objective.uniform.azimuth_deg",
        "objective.radial.edge_nm",
        "objective.bending.n_eff",
        "lower polar.k2",
        "analyzer.azimuth_deg",
        "stray.fraction",
    ];
    assert_eq!(Unknowns::of_bench(&stand()).names(), expected);
    // What is written is taken at its word: only sheet and bending stay open, and tolerances.
    let file = Unknowns::of_file(&stand());
    let open = [
        "condenser.bending.n_eff",
        "objective.bending.n_eff",
        "lower polar.k2",
    ];
    assert_eq!(file.names(), open);
    let mut tolerant = stand();
    tolerant.parts[4].tolerance = Some(Tolerance {
        azimuth_rad: Some(0.01),
        path_difference_nm: None,
        kind: ToleranceKind::Uniform,
    });
    let file = Unknowns::of_file(&tolerant);
    assert_eq!(file.names().last(), Some(&"analyzer.azimuth_deg"));
    let Prior::Uniform { low, high } = file.list.last().unwrap().priors[0] else {
        panic!("an even tolerance is an even prior");
    };
    assert!((high - low - 0.02).abs() < 1e-12);
}

/// A name may end at a point; what ends elsewhere is answered by the names that begin so.
#[test]
fn the_beginning_of_a_name_stands_for_all_that_begin_so() {
    let only = |name: &str| Unknowns::of_bench(&stand()).only(&[name.to_owned()]);
    let names = |name: &str| -> Vec<String> {
        let some = only(name).unwrap();
        some.names().into_iter().map(str::to_owned).collect()
    };
    assert_eq!(names("condenser.radial"), ["condenser.radial.edge_nm"]);
    assert_eq!(
        names("objective.uniform"),
        [
            "objective.uniform.path_difference_nm",
            "objective.uniform.azimuth_deg"
        ]
    );
    assert_eq!(names("condenser").len(), 4);
    assert_eq!(names("lower polar"), ["lower polar.k2"]);
    let said = only("condenser.rad").unwrap_err().to_string();
    let wanted = "but these begin so: condenser.radial.edge_nm; a name";
    assert!(said.contains(wanted), "{said}");
    let said = only("condensor").unwrap_err().to_string();
    assert!(
        said.contains("of this stand: condenser.radial.edge_nm, "),
        "{said}"
    );
}

#[test]
fn priors_are_those_of_the_design() {
    let unknowns = Unknowns::of_bench(&stand());
    let prior = |name: &str| {
        let found = (unknowns.list.iter()).find(|unknown| unknown.told[0].name == name);
        found.unwrap().priors[0]
    };
    let ends = |prior: Prior| [prior.quantile(0.05), prior.quantile(0.95)];
    // As strong as written, where that is more than the usual 20 nm of a condenser.
    let [low, high] = ends(prior("condenser.radial.edge_nm"));
    assert!((low - (30.0 - 1.644_85 * 30.0)).abs() < 1e-3 && (high - 79.346).abs() < 1e-3);
    let [low, high] = ends(prior("objective.radial.edge_nm"));
    assert!((high - 5.0 * 1.644_85).abs() < 1e-3 && (low + high).abs() < 1e-9);
    // Numbers of the file are good to a factor of 2; six surfaces act like 1.5 to 6.
    let factor = |name: &str| ends(prior(name)).map(f64::exp);
    let [low, high] = factor("lower polar.k2");
    assert!((low - 0.5).abs() < 1e-9 && (high - 2.0).abs() < 1e-9);
    let [low, high] = factor("objective.bending.n_eff");
    assert!(
        (low - 1.5).abs() < 0.05 && (high - 6.0).abs() < 0.05,
        "{low} {high}"
    );
    let [low, high] = factor("stray.fraction");
    assert!((low - 1e-5 / 12.0).abs() < 1e-12 && (high - 12e-5).abs() < 1e-12);
}

#[test]
fn told_numbers_go_into_the_path_and_come_back() {
    let unknowns = Unknowns::of_bench(&stand());
    let told = [
        -12.0, 4.0, 30.0, 2.5, 7.0, 135.0, 3.0, 3.5, 2e-5, 90.5, 4e-5,
    ];
    let point = unknowns.point(&told).unwrap();
    for (got, told) in unknowns.told_values(&point).iter().zip(told) {
        assert!(
            (got - told).abs() < 1e-9 * told.abs().max(1.0),
            "{got} {told}"
        );
    }
    let path = unknowns.with(&point);
    let PartKind::Objective(objective) = &path.parts[3].kind else {
        panic!("the objective stays where it is");
    };
    let Strain::Uniform {
        path_difference_nm,
        slow_azimuth_rad,
    } = objective.strain[0]
    else {
        panic!("a uniform strain was put in first");
    };
    assert!((path_difference_nm - 7.0).abs() < 1e-12);
    assert!((slow_azimuth_rad - 3.0 * FRAC_PI_4).abs() < 1e-12);
    assert!((path.stray_fraction - 4e-5).abs() < 1e-18);
    let (lower, top) = path.polars().unwrap();
    assert!((top.azimuth_rad.to_degrees() - 90.5).abs() < 1e-12);
    for polar in [lower, top] {
        let (_, k2) = polar.sheet.principal_transmittances(550.0).unwrap();
        assert!((k2 - 2e-5).abs() < 1e-17, "one sheet, one leak");
    }
    assert_eq!(
        unknowns.point(&[0.0; 11]),
        None,
        "a fraction of 0 has no logarithm"
    );
}

#[test]
fn names_choose_what_is_free() {
    let names = |names: &[&str]| {
        names
            .iter()
            .map(|name| (*name).to_owned())
            .collect::<Vec<_>>()
    };
    let all = Unknowns::of_bench(&stand());
    let only = all.clone().only(&names(&["stray.fraction"])).unwrap();
    assert_eq!(only.names(), ["stray.fraction"]);
    // Either name of a uniform strain stands for both.
    let rest = all
        .clone()
        .without(&names(&["objective.uniform.azimuth_deg"]))
        .unwrap();
    assert!(
        !rest
            .names()
            .iter()
            .any(|name| name.starts_with("objective.uniform"))
    );
    let error = all.only(&names(&["objectve.radial.edge_nm"])).unwrap_err();
    assert!(
        error.to_string().contains("objective.radial.edge_nm"),
        "{error}"
    );
}
