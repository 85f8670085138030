//! How sure answers are: intervals against direct runs, and the probability that a place is best.

use polstack::Scene;
use polstack::study::doubt::{Stands, doubt, places_known};
use polstack::study::interval::Interval;
use polstack::study::place::place;
use polstack::study::predict::predict;

use crate::common::close;

fn scene(name: &str) -> Scene {
    let file = format!("{}/scenarios/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    polstack::scenario::read(file.as_ref()).unwrap().scene
}

#[test]
fn the_interval_is_that_of_whole_predictions() {
    for name in ["pond-life", "sheet-below-condenser", "leaking-stand"] {
        let scene = scene(name);
        let mut stands = Stands::of_file(&scene.path);
        let told = doubt(&scene, &stands).unwrap().unwrap();
        assert_eq!(told.draws, 1000);
        stands.points.truncate(60);
        let direct: Vec<f64> = (stands.points.iter())
            .map(|point| {
                let path = stands.unknowns.with(point).without_specimens();
                predict(&scene.with_path(path))
                    .unwrap()
                    .extinction_ratio
                    .unwrap()
            })
            .collect();
        let few = doubt(&scene, &stands).unwrap().unwrap();
        for (got, direct) in few.ratios.iter().zip(&direct) {
            // Few rays, scaled to the right light as written.
            close(name, got.ln(), direct.ln(), 0.02);
        }
        // And the thousand are no others than the sixty, but for their number.
        let expected = Interval::of(&direct);
        close(
            name,
            told.extinction_ratio.median.ln(),
            expected.median.ln(),
            0.2,
        );
        assert!(told.extinction_ratio.low < expected.median, "{name}");
        assert!(stands.unknowns.names().contains(&told.widest.as_str()));
    }
}

#[test]
fn nothing_unknown_is_no_doubt() {
    let scene = scene("sheet-below-condenser");
    let mut stands = Stands::of_file(&scene.path);
    stands.unknowns.list.clear();
    assert_eq!(doubt(&scene, &stands).unwrap(), None);
}

#[test]
fn places_are_best_as_often_as_whole_predictions_say() {
    let scene = scene("sheet-above-condenser-wide");
    let answer = place(&scene, false, 1000.0).unwrap();
    let mut stands = Stands::of_moved(&scene.path);
    stands.points.truncate(20);
    let told = places_known(&scene, &stands, &answer).unwrap().unwrap();
    let dry = answer.without_oil.as_ref().unwrap();
    let contests = [
        (&answer.verdict, &told.odds),
        (dry, told.without_oil.as_ref().unwrap()),
    ];
    let known = told.known.clone();
    let mut counts = vec![vec![0.0; known.len()]; contests.len()];
    let mut ratios = vec![Vec::new(); known.len()];
    for point in &stands.points {
        let moved = scene.with_path(stands.unknowns.with(point));
        let again = place(&moved, false, 1000.0).unwrap();
        for (counts, best) in counts
            .iter_mut()
            .zip([again.verdict.best, again.without_oil.as_ref().unwrap().best])
        {
            counts[best] += 1.0 / 20.0;
        }
        for (ratios, place) in ratios.iter_mut().zip(&again.lower) {
            ratios.extend(again.own(place).and_then(|at| at.extinction_ratio));
        }
    }
    for ((contest, odds), counts) in contests.into_iter().zip(&counts) {
        let sum: f64 = odds.best_probability.iter().map(|place| place.1).sum();
        close("sum", sum, 1.0, 1e-12);
        assert_eq!(odds.best_probability.len(), contest.rivals.len());
        for &(place, probability) in &odds.best_probability {
            close("probability", probability, counts[place], 0.051);
        }
    }
    for (index, known) in known.iter().enumerate() {
        let Some(known) = known else { continue };
        let (own, counted) = (
            known.extinction_ratio.unwrap(),
            Interval::of(&ratios[index]),
        );
        for (own, counted) in [
            (own.low, counted.low),
            (own.median, counted.median),
            (own.high, counted.high),
        ] {
            close("ratio", own / counted, 1.0, 0.03);
        }
        let written = answer
            .own(&answer.lower[index])
            .unwrap()
            .extinction_ratio
            .unwrap();
        let below = ratios[index]
            .iter()
            .filter(|ratio| **ratio < written)
            .count() as f64
            / 20.0;
        close("below as written", known.below_as_written, below, 0.051);
    }
}

/// The number that it hangs on which place is best moves the ratio of the two places' lights farther than any other, from whole predictions with that number
/// alone at the ends of its range.
#[test]
fn which_place_is_best_hangs_on_the_number_that_moves_it_most() {
    let scene = scene("leaking-stand");
    let answer = place(&scene, false, 1000.0).unwrap();
    let stands = Stands::of_moved(&scene.path);
    let told = places_known(&scene, &stands, &answer)
        .unwrap()
        .unwrap()
        .odds;
    let mut order = told.best_probability.clone();
    order.sort_by(|a, b| b.1.total_cmp(&a.1));
    let order: Vec<usize> = order.into_iter().map(|place| place.0).collect();
    let ends = |at: usize| {
        let mut values: Vec<f64> = stands.points.iter().map(|point| point[at]).collect();
        values.sort_by(f64::total_cmp);
        [0.05, 0.5, 0.95].map(|part| values[(part * values.len() as f64) as usize])
    };
    let middle: Vec<f64> = (0..stands.points[0].len()).map(|at| ends(at)[1]).collect();
    let own = answer
        .iris_na
        .iter()
        .position(|na| *na == answer.na)
        .unwrap();
    let log_ratio = |point: &[f64]| {
        let again = place(&scene.with_path(stands.unknowns.with(point)), false, 1000.0).unwrap();
        let light = |index: usize| {
            again.lower[index].at_iris[own]
                .as_ref()
                .unwrap()
                .relative_luminance
        };
        (light(order[0]) / light(order[1])).ln()
    };
    let mut most = (0.0, String::new());
    let mut at = 0;
    for unknown in &stands.unknowns.list {
        for told in &unknown.told {
            let [low, _, high] = ends(at);
            let moved = [low, high].map(|value| {
                let mut point = middle.clone();
                point[at] = value;
                log_ratio(&point)
            });
            let moves = (moved[1] - moved[0]).abs();
            if moves > most.0 {
                most = (moves, told.name.clone());
            }
            at += 1;
        }
    }
    assert_eq!(told.hangs_on, Some(most.1));
}
