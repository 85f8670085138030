//! Sobol indices of the Ishigami function.

use std::f64::consts::PI;
use std::slice::from_ref;

use polstack::study::sobol::{Sobol, sobol};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, Uniform};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

const ROWS: usize = 32_768;
const SEEDS: u64 = 40;

#[derive(Deserialize)]
struct Row {
    kind: String,
    variable: usize,
    expected: f64,
}

fn ishigami([x1, x2, x3]: [f64; 3]) -> f64 {
    x1.sin() + 7.0 * x2.sin().powi(2) + 0.1 * x3.powi(4) * x1.sin()
}

fn indices(seed: u64) -> Vec<Sobol> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let range = Uniform::new(-PI, PI).unwrap();
    let mut sample = || -> Vec<[f64; 3]> {
        (0..ROWS)
            .map(|_| [0; 3].map(|_| range.sample(&mut random)))
            .collect()
    };
    let (a, b) = (sample(), sample());
    let values = |sample: &[[f64; 3]]| sample.iter().copied().map(ishigami).collect::<Vec<_>>();
    let mixed: Vec<Vec<f64>> = (0..3)
        .map(|variable| {
            let rows = a.iter().zip(&b).map(|(a, b)| {
                let mut row = *a;
                row[variable] = b[variable];
                row
            });
            values(&rows.collect::<Vec<_>>())
        })
        .collect();
    sobol(&values(&a), &values(&b), &mixed, seed).expect("a function that varies")
}

#[test]
fn the_ishigami_function_has_its_known_indices() {
    let triple: Triple<Row> = Triple::read(include_str!("sobol.csv"), include_str!("sobol.toml"));
    let runs: Vec<Vec<Sobol>> = (1..=SEEDS).map(indices).collect();
    for row in &triple.rows {
        let of = |run: &Vec<Sobol>| match row.kind.as_str() {
            "first" => run[row.variable - 1].first,
            _ => run[row.variable - 1].total,
        };
        let quantity = format!("{} of x{}", row.kind, row.variable);
        let mean = runs.iter().map(|run| of(run).value).sum::<f64>() / SEEDS as f64;
        close(&quantity, mean, row.expected, triple.tolerance(&row.kind));
        let missed = (runs.iter().map(of))
            .filter(|index| !(index.low..=index.high).contains(&row.expected))
            .count();
        let most = triple.tolerance("held");
        close(
            &format!("{quantity}: intervals that miss"),
            missed as f64,
            0.0,
            most,
        );
    }
    assert_eq!(indices(3), runs[2], "the same seed gives the same bytes");
    assert_ne!(indices(3), runs[3]);
}

#[test]
fn what_does_not_vary_has_no_indices() {
    let flat = vec![0.7; 500];
    assert_eq!(sobol(&flat, &flat, from_ref(&flat), 1), None);
    assert_eq!(sobol(&[], &[], &[], 1), None);
    assert_eq!(sobol(&[1.0, 2.0], &[1.0], &[], 1), None);
    assert_eq!(sobol(&[1.0, f64::NAN], &[1.0, 2.0], &[], 1), None);
    assert_eq!(sobol(&[1.0, f64::INFINITY], &[1.0, 2.0], &[], 1), None);
    // Rows that differ in what does not matter: no variable has a share.
    let (a, b) = (vec![1.0, 2.0, 4.0], vec![3.0, 1.0, 2.0]);
    let none = sobol(&a, &b, from_ref(&a), 1).unwrap();
    assert_eq!((none[0].first.value, none[0].total.value), (0.0, 0.0));
}
