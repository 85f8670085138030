//! Photographs from `polstack aperture --render` through `polstack fit`.

use std::fs;

use serde_json::Value;

use crate::{polstack, scenario, text};

#[test]
fn what_is_rendered_is_read_back_and_mapped() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let rendered = (polstack().arg("aperture").arg(scenario("leaking-stand")))
        .args(["--render", &at("pictures"), "--picture", "256"])
        .args(["--polars-turned", "0,22.5,45,67.5", "--quiet"])
        .output()
        .unwrap();
    assert!(rendered.status.success(), "{}", text(&rendered.stderr));
    let fitted = (polstack().arg("fit").arg(scenario("leaking-stand")))
        .arg(at("pictures/readings.csv"))
        .args(["--unknown", "condenser.radial.edge_nm"])
        .args(["--unknown", "analyzer.azimuth_deg", "--flip", "no"])
        .args(["--draws", "200", "--map", &at("map"), "--json"])
        .output()
        .unwrap();
    assert!(fitted.status.success(), "{}", text(&fitted.stderr));
    let answer: Value = serde_json::from_slice(&fitted.stdout).unwrap();
    assert_eq!(answer["consistent"], true);
    // The stand was rendered as it is written: 20 nm.
    let edge = &answer["unknown"][0]["posterior"];
    let end = |key: &str| edge[key].as_f64().unwrap();
    assert!(end("low") < 20.0 && 20.0 < end("high"), "{edge}");
    assert!(end("high") - end("low") < 2.0, "{edge}");
    let zones = answer["readings"][0]["zones"].as_array().unwrap();
    assert!(zones.len() > 70);

    // The map is one that a scenario reads, and the stand that has it is as dark.
    let written = fs::read_to_string(scenario("leaking-stand")).unwrap();
    let mapped = written
        .replace("strain = [ { radial = { edge_nm = 20 } } ]", "")
        .replace(
            "coating = \"mgf2\" }\n\n[[part]]\nname = \"first-order plate\"",
            "coating = \"mgf2\" }\nstrain = [ { map = { csv = \"strain-map.csv\" } } ]\n\n[[part]]\nname = \"first-order plate\"",
        );
    fs::write(at("map/mapped.toml"), mapped).unwrap();
    let ratio = |file: &str| -> f64 {
        let output = (polstack().args(["predict", file, "--exact", "--json"]))
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
        answer["extinction_ratio"].as_f64().unwrap()
    };
    let (before, after) = (
        ratio(&scenario("leaking-stand").display().to_string()),
        ratio(&at("map/mapped.toml")),
    );
    assert!((after / before - 1.0).abs() < 0.05, "{before} {after}");
}

#[test]
fn pictures_that_cannot_be_used_are_told_with_their_line() {
    let folder = tempfile::tempdir().unwrap();
    let readings = folder.path().join("readings.csv");
    for (cells, words) in [
        ("none.png,none.png,1,1", "line 2 of the readings"),
        ("readings.csv,readings.csv,1,1", "readings.csv"),
    ] {
        fs::write(
            &readings,
            format!("photo,photo_parallel,exposure_s,exposure_parallel_s\n{cells}\n"),
        )
        .unwrap();
        let output = (polstack().arg("fit").arg(scenario("leaking-stand")))
            .arg(&readings)
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(2), "{cells}");
        assert!(
            text(&output.stderr).contains(words),
            "{}",
            text(&output.stderr)
        );
        assert!(output.stdout.is_empty());
    }
}
