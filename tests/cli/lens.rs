//! `polstack lens`.

use serde_json::Value;

use crate::{polstack, scenario, text};

fn json(names: &[&str], arguments: &[&str]) -> Value {
    let mut command = polstack();
    command
        .arg("lens")
        .args(names.iter().map(|name| scenario(name)));
    let output = command.args(arguments).arg("--json").output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn the_json_has_the_stable_keys_and_what_follows_from_them() {
    let answer = json(&["moulded-parabolic"], &["--slot-mm", "-6"]);
    let lenses = answer["lenses"].as_array().unwrap();
    let parts: Vec<&str> = lenses
        .iter()
        .map(|lens| lens["part"].as_str().unwrap())
        .collect();
    assert_eq!(
        parts,
        ["lower lens and upper lens", "lower lens", "upper lens"]
    );
    let lens = &lenses[0];
    for key in [
        "focal_length_mm",
        "front_focal_plane_mm",
        "back_focal_plane_mm",
        "na_air",
        "na_oil",
        "sine_error",
        "filter_plane_mm",
        "room_mm",
        "leak",
    ] {
        assert!(lens[key].is_f64(), "{key}: {lens}");
    }
    assert!(
        lens["limited_by"]
            .as_str()
            .unwrap()
            .starts_with("clear aperture of surface ")
    );
    let number = |value: &Value| value.as_f64().unwrap();
    let focal = number(&lens["focal_length_mm"]);
    let off = -6.0 - number(&lens["filter_plane_mm"]);
    let slot = &lens["slot"];
    assert!((number(&slot["diopters"]) - 1e3 * off / (focal * focal)).abs() < 1e-12);
    let shares = lens["surfaces"].as_array().unwrap().iter();
    let sum: f64 = shares.map(|surface| number(&surface["leak_share"])).sum();
    assert!((sum - 1.0).abs() < 1e-12);
    let spherical = lens["spherical"].as_array().unwrap();
    assert_eq!(number(&spherical[0]["na"]), 0.1);
    assert_eq!(spherical.last().unwrap()["na"], lens["na"]);
}

#[test]
fn lenses_are_compared_side_by_side() {
    let files = ["moulded-parabolic", "moulded-spherical"].map(scenario);
    let output = polstack().arg("lens").args(&files).output().unwrap();
    let table = text(&output.stdout);
    assert!(
        table.contains("Side by side") && table.contains("in the glass"),
        "{table}"
    );
    let lines = table
        .lines()
        .filter(|line| line.contains("lower lens and upper lens"));
    assert_eq!(lines.count(), 2, "{table}");
    assert!(table.lines().all(|line| !line.ends_with(' ')));
}

#[test]
fn a_part_is_found_by_name_or_the_names_are_told() {
    let one = json(&["moulded-parabolic"], &["--part", "upper lens"]);
    assert_eq!(one["lenses"].as_array().unwrap().len(), 1);
    let output = polstack()
        .arg("lens")
        .arg(scenario("moulded-parabolic"))
        .args(["--part", "eyepiece"])
        .output()
        .unwrap();
    let message = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{message}");
    assert!(
        message.contains("there are: lower lens and upper lens, lower lens, upper lens"),
        "{message}"
    );
    let output = polstack()
        .arg("lens")
        .arg(scenario("pond-life"))
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("no lens has a prescription"));
}

#[test]
fn a_starter_table_is_read_back_as_a_lens_of_the_focal_length_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    // The last one is so strong that light of the longest wavelengths is nearly reflected totally at its rim.
    for (shape, size, asked) in [
        ("plano-convex", "diameter=20,thickness=9", 25.0),
        ("biconvex", "diameter=20,thickness=9", 25.0),
        ("parabolic", "diameter=20,thickness=9", 25.0),
        ("aspheric", "diameter=20,thickness=9", 25.0),
        ("biconvex", "diameter=25,thickness=10", 20.0),
    ] {
        let from = format!("{size},focal={asked},glass=B270,shape={shape}");
        let output = polstack().args(["lens", "--from", &from]).output().unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        let table = text(&output.stdout);
        assert!(table.contains("# Assumed: "), "{table}");
        std::fs::write(folder.path().join("lens.csv"), &table).unwrap();
        let stand = std::fs::read_to_string(scenario("sheet-below-condenser")).unwrap();
        let start = stand.find("condenser = {").unwrap();
        let end = start + stand[start..].find('\n').unwrap();
        let stand = format!(
            "{}condenser = {{ prescription = {{ csv = \"lens.csv\" }} }}{}",
            &stand[..start],
            &stand[end..]
        );
        let file = folder.path().join("stand.toml");
        std::fs::write(&file, stand.replace("na = 0.25", "na = 0.2")).unwrap();
        let output = polstack()
            .arg("lens")
            .arg(&file)
            .arg("--json")
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
        let focal = answer["lenses"][0]["focal_length_mm"].as_f64().unwrap();
        // Radii are written to a tenth of a micrometre.
        assert!((focal - asked).abs() < 2e-4, "{shape}: {focal}");
    }
}

#[test]
fn what_cannot_be_started_from_is_told() {
    for (from, words) in [
        (
            "diameter=20",
            "missing: thickness, focal, glass, shape (plano-convex, biconvex, parabolic or aspheric)",
        ),
        (
            "size=20",
            "size is none of diameter, thickness, focal, glass, shape",
        ),
        ("diameter", "is no key=value"),
        ("diameter=-2", "allowed: 0.001 to 1000 mm"),
        ("diameter=22,diameter=23", "diameter is given twice"),
        (
            "diameter=28,thickness=8.4,focal=18,glass=B270,shape=aspheric",
            "measure thickness, diameter and focal length again; shape=parabolic needs less, 10.37 mm",
        ),
        (
            "glass=mud",
            "no glass of the catalog; `polstack catalog` lists them all",
        ),
        (
            "shape=round",
            "allowed: plano-convex, biconvex, parabolic, aspheric",
        ),
        (
            "diameter=28,thickness=3,focal=18,glass=B270,shape=parabolic",
            "the rim needs 10.37 mm in the middle",
        ),
        (
            "diameter=8,thickness=20,focal=5,glass=B270,shape=biconvex",
            "two equal curved sides 20 mm apart have no focal length of 5 mm",
        ),
        (
            "diameter=28,thickness=9,focal=9,glass=B270,shape=biconvex",
            "which is at most 15.00 mm wide where 28 mm are asked for: the lens is of another shape",
        ),
    ] {
        let output = polstack().args(["lens", "--from", from]).output().unwrap();
        let message = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{from}: {message}");
        assert!(
            output.stdout.is_empty() && message.contains(words),
            "{words}\n{message}"
        );
    }
}

#[test]
fn the_number_of_told_surfaces_is_not_free() {
    let mut command = polstack();
    command.arg("tolerate").arg(scenario("flat-field"));
    let output = command
        .args(["--part", "objective", "--vary", "surfaces"])
        .output()
        .unwrap();
    let message = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{message}");
    assert!(
        message.contains("its surfaces are told one by one"),
        "{message}"
    );
}

#[test]
fn a_number_below_0_meets_its_range_and_standard_input_is_named_once() {
    let file = scenario("moulded-parabolic");
    let file = file.to_str().unwrap();
    for (arguments, words) in [
        (
            &["lens", file, "--sheet-mm", "-1"][..],
            "allowed: 0 to 20 mm",
        ),
        (
            &["view", file, "--size", "-1"],
            "allowed: a whole number from 64",
        ),
        (&["start", "--iris", "-1"], "allowed: 0.01 to 0.99"),
        (&["lens", "-", "-"], "standard input can be named once"),
        (&["predict", "-", "-"], "standard input can be named once"),
    ] {
        let output = polstack().args(arguments).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let message = text(&output.stderr);
        assert!(message.contains(words), "{arguments:?}: {message}");
    }
}
