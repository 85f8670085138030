//! `polstack view` and `polstack page`.

use std::fs;

use serde_json::Value;

use crate::{polstack, scenario, text};

fn view(arguments: &[&str]) -> std::process::Output {
    let mut command = polstack();
    command
        .arg("view")
        .arg(scenario("pond-life"))
        .args(arguments);
    command.output().unwrap()
}

#[test]
fn needles_along_and_across_differ_with_the_plate_in_only() {
    let answer: Value = serde_json::from_slice(&view(&["--json"]).stdout).unwrap();
    let objects = answer["objects"].as_array().unwrap();
    let of = |name: &str| {
        objects
            .iter()
            .find(|object| object["name"] == name)
            .unwrap()
    };
    let (along, across) = (of("needle, slow along"), of("needle, slow across"));
    assert_eq!(along["path_difference_nm"], 120.0);
    assert_eq!(across["path_difference_nm"], -120.0);
    assert_eq!(along["with_plate"]["name"], "sky blue");
    assert_eq!(across["with_plate"]["name"], "yellow");
    let light = |object: &Value| object["without_plate"]["luminance"].as_f64().unwrap();
    assert!((light(along) / light(across) - 1.0).abs() < 0.15);
    // The bead has no path difference: it is as dark as the field, and absorbs.
    let empty = light(of("empty field"));
    assert!((light(of("bead, isotropic")) / empty - 0.7).abs() < 1e-9);
    assert_eq!(
        text(&view(&["--csv"]).stdout).lines().count(),
        objects.len() + 1
    );
}

#[test]
fn the_field_is_drawn_and_turns() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().to_str().unwrap();
    let output = view(&[
        "--plots", dir, "--turn", "stage", "--frames", "4", "--size", "64",
    ]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(
        fs::read(folder.path().join("turn-stage.gif"))
            .unwrap()
            .starts_with(b"GIF89a")
    );
    assert!(folder.path().join("field.png").exists());
    let svg = fs::read_to_string(folder.path().join("field.svg")).unwrap();
    assert!(svg.contains("50 µm") && svg.contains("Diffraction is left out"));
    let output = view(&[
        "--plots", dir, "--turn", "stage", "--frames", "3", "--size", "64", "--png", "--plate",
    ]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(folder.path().join("turn-stage-003.png").exists());
}

#[test]
fn a_specimen_of_ones_own_is_read_and_its_mistakes_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, rows: &str| {
        let path = folder.path().join(name);
        fs::write(&path, rows).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let nm = file("nm.csv", "0,100\n200,0\n");
    let deg = file("deg.csv", "0,45\n45,0\n");
    let dir = folder.path().join("plots");
    let plots = dir.to_str().unwrap();
    let output = view(&[
        "--path-difference",
        &nm,
        "--azimuth",
        &deg,
        "--plots",
        plots,
        "--size",
        "64",
    ]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let table = text(&output.stdout);
    let about = "Your specimen from nm.csv has path differences of 0 to 200 nm";
    assert!(table.contains(about), "{table}");
    assert!(!table.contains("invented"), "{table}");
    let svg = fs::read_to_string(dir.join("field.svg")).unwrap();
    assert!(svg.contains("your specimen from nm.csv in this stack"));
    assert!(svg.contains(about) && !svg.contains("invented"));
    let own = ["--path-difference", &nm, "--azimuth", &deg];
    let answer: Value =
        serde_json::from_slice(&view(&[&own[..], &["--json"]].concat()).stdout).unwrap();
    let objects = answer["objects"].as_array().unwrap();
    let nm_of = |object: &Value| object["path_difference_nm"].as_f64().unwrap();
    // The middle one of 0, 0, 100 and 200 is the least again.
    assert_eq!(
        objects.iter().map(nm_of).collect::<Vec<_>>(),
        [0.0, 0.0, 200.0]
    );
    assert_eq!(objects[2]["name"], "your specimen, largest");
    assert_eq!(objects[0]["without_plate"], objects[1]["without_plate"]);
    let output = view(&[&own[..], &["--nm-per-step", "3"]].concat());
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("nm.csv is a CSV"));
    let way = folder.path().to_str().unwrap();
    let output = view(&["--path-difference", way, "--azimuth", &deg]);
    assert_eq!(output.status.code(), Some(3));
    assert!(text(&output.stderr).contains("it is a folder"));
    for (rows, words) in [
        ("0,x\n1,2\n", "line 1, column 2"),
        ("0,1,2\n", "3 by 1"),
        ("0\n", "1 by 1"),
        ("", "the file is empty"),
        ("0,1,2\n\n5\n", "line 3 has 1 cell where line 1 has 3"),
        ("1e300,0\n0,0\n", "path difference 1e300 in column 1"),
    ] {
        let wrong = file("wrong.csv", rows);
        let output = view(&["--path-difference", &wrong, "--azimuth", &deg]);
        assert_eq!(output.status.code(), Some(2), "{rows}");
        assert!(
            text(&output.stderr).contains(words),
            "{rows}: {}",
            text(&output.stderr)
        );
    }
    let output = view(&["--path-difference", "nowhere.csv", "--azimuth", &deg]);
    assert_eq!(output.status.code(), Some(3));
}

#[test]
fn a_page_holds_the_scenarios_that_it_was_given() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("lesson.html");
    let mut command = polstack();
    command
        .args([
            "page",
            "scenarios/moulded-parabolic.toml",
            "scenarios/pond-life.toml",
            "--out",
        ])
        .arg(&out);
    let output = command.output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(!text(&output.stderr).contains("over the file"));
    let output = command.output().unwrap();
    assert!(text(&output.stderr).contains("over the file that was there"));
    let page = fs::read_to_string(&out).unwrap();
    let (_, rest) = page.split_once("id=\"scenarios\">").unwrap();
    let carried: Value = serde_json::from_str(rest.split_once("</script>").unwrap().0).unwrap();
    assert_eq!(carried.as_array().unwrap().len(), 2);
    assert_eq!(carried[0]["name"], "moulded-parabolic.toml");
    assert!(!carried[0]["files"].as_object().unwrap().is_empty());
    assert_eq!(
        carried[1]["text"],
        fs::read_to_string("scenarios/pond-life.toml").unwrap()
    );
    // A scenario that is wrong is no page.
    let wrong = folder.path().join("wrong.toml");
    fs::write(&wrong, "title = 3").unwrap();
    let other = folder.path().join("other.html");
    let mut command = polstack();
    let output = command
        .arg("page")
        .arg(&wrong)
        .arg("--out")
        .arg(&other)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(!other.exists());
}
