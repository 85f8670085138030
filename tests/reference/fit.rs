//! `fit` against an independent sampler (emcee) on the independent model: three invented benches.

use std::sync::atomic::AtomicBool;

use polstack::scenario::{read, read_readings};
use polstack::study::draws::{Plan, Watch};
use polstack::study::fit::{FitQuestion, fit};
use polstack::study::unknown::Unknowns;
use serde_json::Value;

use crate::common::close;

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

#[test]
fn stands_are_those_of_an_independent_sampler() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/fit");
    let fixture: Value = serde_json::from_str(include_str!("fit/fit.json")).unwrap();
    for (name, bench) in fixture["benches"].as_object().unwrap() {
        let file = |key: &str| format!("{folder}/{}", bench[key].as_str().unwrap());
        let scene = read(file("scenario").as_ref()).unwrap().scene;
        let readings = read_readings(file("readings").as_ref(), &scene)
            .unwrap()
            .taken;
        let free: Vec<String> = (bench["free"].as_array().unwrap().iter())
            .map(|name| name.as_str().unwrap().to_owned())
            .collect();
        let unknowns = Unknowns::of_bench(&scene.path).only(&free).unwrap();
        let stop = AtomicBool::new(false);
        let watch = Watch {
            progress: &|_| (),
            stop: &stop,
        };
        let draws = 4000;
        let question = FitQuestion {
            // The sampler tells nothing of what to read next.
            can: Some(Vec::new()),
            ..FitQuestion::new(Plan { draws, seed: 1 })
        };
        let answer = fit(&scene, &unknowns, &readings, &question, watch).unwrap();
        close(
            name,
            answer.log_evidence,
            number(&bench["log_evidence"]),
            0.25,
        );
        for expected in bench["unknowns"].as_array().unwrap() {
            let row = (answer.unknown.iter())
                .find(|row| expected["name"] == row.told_as.name.as_str())
                .unwrap();
            // Of an azimuth without a direction an interval means nothing.
            if row.told_as.is_axis() {
                continue;
            }
            let posterior = &expected["posterior"];
            let (mean, sd) = (number(&posterior["mean"]), number(&posterior["sd"]));
            // 4000 members that moved several times, and modes of which the rarer holds a few of a hundred.
            let what = format!("{name} {}", row.told_as.name);
            close(&what, row.posterior.mean, mean, 0.12 * sd);
            close(&what, row.posterior.sd, sd, 0.2 * sd);
        }
    }
}
