//! `polstack place`.

use std::fs;

use serde_json::Value;

use crate::{polstack, scenario, text};

/// The answer for a scenario on a coarse wavelength grid, to keep the tests short.
fn run(name: &str, arguments: &[&str]) -> std::process::Output {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("coarse.toml");
    let written = fs::read_to_string(scenario(name)).unwrap();
    let coarse = format!("spectrum = {{ from_nm = 400, to_nm = 700, step_nm = 50 }}\n{written}");
    fs::write(&file, coarse).unwrap();
    polstack()
        .arg("place")
        .arg(&file)
        .args(arguments)
        .output()
        .unwrap()
}

fn json(name: &str, arguments: &[&str]) -> Value {
    let output = run(name, &[arguments, &["--json"]].concat());
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(output.stderr.is_empty(), "{}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn the_json_names_places_flips_and_practice() {
    let answer = json("high-grade-stand", &["--analyzer"]);
    assert_eq!(answer["verdict"]["best"], "below the condenser");
    let flip = &answer["verdict"]["iris_flips"][0];
    assert_eq!(flip["better_below"], "under the slide, immersed");
    assert_eq!(flip["better_above"], "below the condenser");
    for key in ["iris_na", "uncertainty", "extinction_ratio"] {
        assert!(flip[key].is_number(), "{key}");
    }
    let flip = &answer["without_oil"]["strain_flips"][0];
    for key in ["factor", "rms_nm", "relative_uncertainty"] {
        assert!(flip[key].is_number(), "{key}");
    }
    assert_eq!(flip["profiles"][0]["part"], "condenser");
    assert_eq!(flip["profiles"][0]["profile"], "uniform");
    assert!(flip["profiles"][0]["path_difference_nm"].is_number());
    assert!(answer["condenser_strain"]["written_rms_nm"].is_number());
    let places = answer["places"].as_array().unwrap();
    assert_eq!(places.len(), 4);
    assert_eq!(places[2]["same_as"], "above the condenser");
    for place in places {
        assert!(place["refused"].is_null());
        let seen = place["over_iris"].as_array().unwrap();
        assert_eq!(seen.len(), 5);
        for at in seen {
            let number = |key: &str| at[key].as_f64().unwrap();
            let product = number("extinction_ratio") * number("relative_luminance");
            assert!((product - 1.0).abs() < 1e-12);
            let shares = at["leak"].as_array().unwrap();
            let sum: f64 = shares
                .iter()
                .map(|leak| leak["share"].as_f64().unwrap())
                .sum();
            assert!((sum - 1.0).abs() < 1e-9);
        }
    }
    let rules = |place: &Value| -> Vec<String> {
        let practice = place["practice"].as_array().unwrap();
        practice
            .iter()
            .map(|note| note["rule"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(rules(&places[0]), ["heat", "turning"]);
    assert_eq!(
        rules(&places[3]),
        ["height", "oil", "near_focus", "turning", "oblique"]
    );
    let analyzer = &answer["analyzer_places"][0];
    assert_eq!(analyzer["outside_the_polars"][0], "first-order plate");
}

#[test]
fn the_csv_has_a_row_for_each_place_and_iris() {
    let answer = json("two-lens-condenser", &[]);
    let csv = run("two-lens-condenser", &["--csv"]).stdout;
    let mut reader = csv::Reader::from_reader(&csv[..]);
    let columns = reader.headers().unwrap().clone();
    let rows: Vec<_> = reader.records().map(Result::unwrap).collect();
    let places = answer["places"].as_array().unwrap();
    let seen = places.iter().flat_map(|place| {
        let seen = place["over_iris"].as_array().unwrap();
        seen.iter().map(move |at| (place, at))
    });
    let seen: Vec<_> = seen.collect();
    assert_eq!(rows.len(), seen.len());
    for (row, (place, at)) in rows.iter().zip(seen) {
        let cell = |name: &str| {
            let column = columns.iter().position(|column| column == name).unwrap();
            row[column].to_owned()
        };
        assert_eq!(cell("place"), place["place"].as_str().unwrap());
        for key in ["iris_na", "extinction_ratio", "parallel_luminance"] {
            assert_eq!(cell(key).parse::<f64>().unwrap(), at[key].as_f64().unwrap());
        }
        assert_eq!(cell("leaks_most"), at["leak"][0]["part"].as_str().unwrap());
    }
    // One best place at each iris.
    let best = columns.iter().position(|column| column == "best").unwrap();
    let count = rows.iter().filter(|row| &row[best] == "1").count();
    assert_eq!(
        count,
        answer["verdict"]["best_over_iris"]
            .as_array()
            .unwrap()
            .len()
    );
}

#[test]
fn the_table_begins_with_the_answer() {
    let output = run("pond-life", &["--analyzer"]);
    let table = text(&output.stdout);
    let lines: Vec<&str> = table.lines().collect();
    assert!(
        lines[1].starts_with("Put the lower polar under the slide, immersed: extinction ratio "),
        "{}",
        lines[1]
    );
    for words in [
        "where it is now (NA 0.600)",
        "Without oil: leave the lower polar above the condenser",
        "the same light as above the condenser",
        "The iris does not change which place is best.",
        "Once the condenser adds more than ",
        "With the analyzer behind objective these are outside the polars",
        "alone leave an extinction ratio of 1000 up to NA 0.65",
        "no diagnostic device",
    ] {
        assert!(table.contains(words), "{words} is missing in\n{table}");
    }
    let quiet = text(&run("pond-life", &["--quiet"]).stdout);
    assert!(!quiet.contains("no diagnostic device") && quiet.contains("Extinction ratio"));
    assert!(!quiet.contains("With the analyzer"));
}

#[test]
fn the_ratio_asked_of_oblique_rays_can_be_given() {
    let table = text(&run("sheet-below-condenser", &["--extinction", "200"]).stdout);
    assert!(
        table.contains("leave an extinction ratio of 200 up to NA 0.93"),
        "{table}"
    );
    for wrong in ["1", "0", "nan", "inf", "-3", "many"] {
        let output = run("sheet-below-condenser", &["--extinction", wrong]);
        assert_eq!(output.status.code(), Some(2), "{wrong}");
        assert!(output.stdout.is_empty());
        let message = text(&output.stderr);
        assert!(
            wrong == "-3" || message.contains("a number above 1"),
            "{message}"
        );
    }
}

#[test]
fn figures_are_written_whole() {
    let folder = tempfile::tempdir().unwrap();
    let plots = folder.path().join("plots");
    let output = run("two-lens-condenser", &["--plots", plots.to_str().unwrap()]);
    assert!(output.status.success());
    let mut names: Vec<String> = fs::read_dir(&plots)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(
        names,
        ["places.png", "places.svg", "planes.png", "planes.svg"]
    );
    let planes = fs::read_to_string(plots.join("planes.svg")).unwrap();
    assert_eq!(planes.matches("<image").count(), 16);
    let taken = folder.path().join("taken");
    fs::write(&taken, "mine").unwrap();
    let output = run("two-lens-condenser", &["--plots", taken.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(3));
    assert!(output.stdout.is_empty());
}

#[test]
fn wrong_files_give_status_2_and_3() {
    let missing = polstack()
        .args(["place", "scenarios/nowhere.toml"])
        .output()
        .unwrap();
    assert_eq!(missing.status.code(), Some(3));
    let wrong = polstack().args(["place", "Cargo.toml"]).output().unwrap();
    assert_eq!(wrong.status.code(), Some(2));
    assert!(wrong.stdout.is_empty());
}

/// The answer for a text in place of a scenario's.
fn run_text(written: &str) -> String {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("scene.toml");
    let coarse = format!("spectrum = {{ from_nm = 400, to_nm = 700, step_nm = 50 }}\n{written}");
    fs::write(&file, coarse).unwrap();
    let output = polstack().arg("place").arg(&file).output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    text(&output.stdout)
}

#[test]
fn a_strain_written_as_0_is_told_as_it_is_written() {
    let written = fs::read_to_string(scenario("pond-life")).unwrap();
    let zero = written
        .replace("edge_nm = 40", "edge_nm = 0")
        .replace("force_n = 5", "force_n = 0");
    assert_ne!(zero, written);
    let told = run_text(&zero);
    assert!(!told.contains(" 0 nm at the rim"), "{told}");
    assert!(!told.contains("none is written"), "{told}");
    assert!(told.contains("0 nm as written"), "{told}");
}

#[test]
fn perfect_parts_leak_nothing_in_every_column() {
    let told = run_text(
        r#"
light.source = "cie-e"
aperture.na = 0.3
[[part]]
name = "lower polar"
polarizer = { sheet = "ideal", azimuth_deg = 0 }
[[part]]
name = "condenser"
condenser = { na = 0.4, surfaces = 0 }
[[part]]
name = "objective"
objective = { na = 0.4, surfaces = 0 }
[[part]]
name = "analyzer"
analyzer = { sheet = "ideal", azimuth_deg = 90 }
"#,
    );
    let row = told
        .lines()
        .find(|line| line.starts_with(" below the condenser"))
        .unwrap();
    assert!(row.contains("infinite         0 %"), "{row}");
    assert!(!told.contains("e-3"), "{told}");
}

#[test]
fn polars_that_are_not_crossed_are_said_at_the_top_and_no_place_is_best() {
    let written = fs::read_to_string(scenario("pond-life")).unwrap();
    let lone = written.replace(
        "[[part]]\nname = \"analyzer\"",
        "[[part]]\nname = \"quarter wave\"\nretarder = { path_difference_nm = 137.5, azimuth_deg = 45 }\n\n[[part]]\nname = \"analyzer\"",
    );
    assert_ne!(lone, written);
    let told = run_text(&lone);
    let top: Vec<&str> = told.lines().take(3).collect();
    assert!(
        top[1].starts_with("Not crossed: one quarter-wave retarder between the polars"),
        "{top:?}"
    );
    assert!(top[1].contains("use `plate`, or a matched pair"));
    assert!(!told.contains("  best") && !told.contains('*'), "{told}");
}

/// Where no place is probable enough to be best, none is advised.
#[test]
fn a_place_that_is_not_decided_is_not_advised() {
    let table = text(&run("leaking-stand", &[]).stdout);
    let lines: Vec<&str> = table.lines().collect();
    assert!(
        lines[1].starts_with("Not decided which place of the lower polar is best: ")
            && lines[1].contains("below the condenser")
            && lines[1].contains("probability "),
        "{table}"
    );
    assert!(
        lines[2].starts_with("Exactly as written, below the condenser is the darkest: "),
        "{table}"
    );
    assert!(
        lines[3].starts_with("To decide, read parallel over crossed light")
            && lines[3].contains("hangs most on"),
        "{table}"
    );
    assert!(table.contains("best as written") && !table.contains("Leave the lower polar"));
    // What holds for the numbers as written says so before it is told.
    let changes = table.split("What changes the best place, with every part exactly as written\n");
    let after = changes.last().unwrap();
    assert!(after.starts_with("The iris does not change"), "{table}");
    let answer = json("leaking-stand", &[]);
    assert_eq!(answer["decided"], false);
    assert!(answer["hangs_on"].is_string());
    // With nothing in doubt, and where one place is sure, it is advised.
    let exact = text(&run("leaking-stand", &["--exact"]).stdout);
    assert!(
        exact.contains("Leave the lower polar below the condenser"),
        "{exact}"
    );
    assert!(json("leaking-stand", &["--exact"])["decided"].is_null());
    let sure = text(&run("pond-life", &[]).stdout);
    assert!(
        sure.contains("Put the lower polar") && sure.contains("a probability of over 99 %"),
        "{sure}"
    );
    assert_eq!(json("pond-life", &[])["decided"], true);
}

/// Beside the number as written stands what is known, and the middle of that leads where it is another. A dry place is advised by the same rule as any.
#[test]
fn a_place_is_told_as_far_as_the_parts_are_known() {
    let table = text(&run("pond-life", &[]).stdout);
    let dry = "Without oil: leave the lower polar above the condenser: extinction ratio ";
    assert!(
        table.contains(dry) && table.contains("exactly as written"),
        "{table}"
    );
    assert!(
        table.contains(
            "Without oil: as far as the parts are known, above the condenser is the darkest"
        ),
        "{table}"
    );
    assert!(
        table.contains(" place                      as written  as far as known  "),
        "{table}"
    );
    // The strained condenser's ratio as written lies above all that is known of it, and the table says why.
    let answer = json("pond-life", &[]);
    let below = &answer["places"][0];
    let number = |value: &Value| value.as_f64().unwrap();
    let known = &below["doubt"]["extinction_ratio"];
    let written = (below["over_iris"].as_array().unwrap().iter())
        .find(|at| number(&at["iris_na"]) == number(&answer["na"]))
        .map(|at| number(&at["extinction_ratio"]))
        .unwrap();
    assert!(number(&known["low"]) < number(&known["median"]) && number(&known["high"]) < written);
    let why = "Exactly as written, the stand is darker than nineteen of twenty such stands with the lower polar below the condenser: ";
    assert!(table.contains(why), "{table}");
    let probable = &answer["without_oil"]["most_probable"];
    assert_eq!(probable["place"], "above the condenser");
    assert!(number(&probable["probability"]) > 0.9, "{probable}");
    // Nothing of it without doubt.
    let exact = text(&run("pond-life", &["--exact"]).stdout);
    assert!(
        !exact.contains("as far as") && !exact.contains("xactly as written"),
        "{exact}"
    );

    // Dry, another place may be the best than the one of the numbers as written: it is not advised by these.
    let starter = polstack().arg("start").output().unwrap();
    let told = run_text(&text(&starter.stdout));
    let undecided = "Without oil: not decided which place of the lower polar is best: ";
    assert!(told.contains(undecided), "{told}");
    assert!(told.contains("Without oil: exactly as written, below the condenser is the darkest: "));
}
