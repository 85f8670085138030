//! The browser's door, natively: what it answers is what the program prints, changes keep the rest of the text, and no request is its end.
#![cfg(feature = "page")]

use std::fs;
use std::path::{Path, PathBuf};

use polstack::output::json;
use polstack::page::answer;
use polstack::scenario::read;
use polstack::study::predict::predict;
use serde_json::{Value, json};

fn ask(request: &Value) -> Value {
    serde_json::from_str(&answer(&request.to_string(), &|_| ())).unwrap()
}

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios")
        .join(format!("{name}.toml"))
}

fn text(name: &str) -> String {
    fs::read_to_string(file(name)).unwrap()
}

#[test]
fn a_prediction_is_the_programs_document() {
    let scenario = read(&file("pond-life")).unwrap();
    let told = predict(&scenario.scene).unwrap();
    let expected = json::answer(&scenario.title, &told, &scenario.notes);
    let request =
        json!({ "do": "predict", "text": text("pond-life"), "shares": true, "exact": true });
    assert_eq!(answer(&request.to_string(), &|_| ()), expected);
    let quick = ask(&json!({ "do": "predict", "text": text("pond-life"), "exact": true }));
    assert_eq!(quick["extinction_ratio"].as_f64(), told.extinction_ratio);
    assert!(quick.get("leak").is_none());
    let doubted = ask(&json!({ "do": "predict", "text": text("pond-life") }));
    assert!(doubted["doubt"]["extinction_ratio"]["low"].is_number());
}

#[test]
fn changes_keep_comments_and_order() {
    let before = text("pond-life");
    let edits = json!([
        { "path": ["part", 0, "strain", 0, "radial", "edge_nm"], "value": 20 },
        { "path": ["part", 3, "objective", "na"], "value": 0.5 },
        { "part": 3, "turn_deg": 10 },
        { "path": ["stray", "fraction"], "value": 1e-5 },
        { "path": ["aperture", "na"], "value": 0.4 }
    ]);
    let after = ask(&json!({ "do": "edit", "text": before, "edits": edits }));
    let after = after["text"].as_str().unwrap();
    let changed: Vec<(&str, &str)> = before
        .lines()
        .zip(after.lines())
        .filter(|(a, b)| a != b)
        .collect();
    let new: Vec<&str> = changed.iter().map(|(_, new)| *new).collect();
    assert_eq!(
        new,
        [
            "na = 0.4",
            "strain = [ { radial = { edge_nm = 20 } },",
            "objective = { na = 0.5, immersion = \"air\", surfaces = 8, glass = \"N-BK7\", coating = \"mgf2\" }",
            "strain = [ { uniform = { path_difference_nm = 3, azimuth_deg = 55 } } ]",
        ]
    );
    assert!(after.contains("[stray]\nfraction = 0.00001"), "{after}");
    assert!(ask(&json!({ "do": "predict", "text": after }))["extinction_ratio"].is_number());
}

#[test]
fn parts_move_leave_and_come() {
    let before = text("pond-life");
    let edited = |edits: Value| {
        let answer = ask(&json!({ "do": "edit", "text": before, "edits": edits }));
        answer["text"].as_str().unwrap().to_owned()
    };
    let names = |text: &str| -> Vec<String> {
        let outline = ask(&json!({ "do": "outline", "text": text }));
        let parts = outline["parts"]
            .as_array()
            .unwrap_or_else(|| panic!("{outline}"));
        parts
            .iter()
            .map(|part| part["name"].as_str().unwrap().to_owned())
            .collect()
    };
    let moved = edited(json!([{ "part": 1, "move_to": 0 }]));
    assert_eq!(names(&moved)[..3], ["lower polar", "condenser", "slide"]);
    let back = ask(&json!({ "do": "edit", "text": moved, "edits": [{ "part": 0, "move_to": 1 }] }));
    assert_eq!(names(back["text"].as_str().unwrap()), names(&before));
    let fewer = edited(json!([{ "part": 4, "remove": true }]));
    assert_eq!(names(&fewer).len(), 5);
    let more = edited(
        json!([{ "insert_at": 3, "table": { "name": "flake", "specimen": { "path_difference_nm": 120, "azimuth_deg": 45 } } }]),
    );
    assert_eq!(names(&more)[3], "flake");
    // Taken out for a while, it has its row all the same.
    let outline = ask(&json!({ "do": "outline", "text": before, "out": ["condenser"] }));
    assert_eq!(outline["parts"].as_array().unwrap().len(), 6);
    let without = edited(json!([{ "part": 0, "remove": true }]));
    let one = ask(&json!({ "do": "predict", "text": before, "out": ["condenser"], "exact": true }));
    let other = ask(&json!({ "do": "predict", "text": without, "exact": true }));
    assert_eq!(one["extinction_ratio"], other["extinction_ratio"]);
}

/// Keys of a specimen go and come; the rest of the line is as it was written.
#[test]
fn keys_that_are_taken_away_leave_the_others_as_they_are() {
    let line = |edits: Value, before: &str| {
        let whole = text("muscovite-figure");
        let old = whole.lines().find(|line| line.starts_with("specimen"));
        let whole = whole.replace(old.unwrap(), before);
        let answer = ask(&json!({ "do": "edit", "text": whole, "edits": edits }));
        let after = answer["text"].as_str().unwrap();
        let mut found = after.lines().filter(|line| line.starts_with("specimen"));
        found.next().unwrap().to_owned()
    };
    let key = |key: &str| json!(["part", 2, "specimen", key]);
    let written = "specimen = { material = \"topaz\", normal = [0.8, 0, 0.6], azimuth_deg = 45, two_v_deg = 40 } # mine";
    let gone = line(
        json!([{ "path": key("two_v_deg"), "remove": true }]),
        written,
    );
    let plain =
        "specimen = { material = \"topaz\", normal = [0.8, 0, 0.6], azimuth_deg = 45 } # mine";
    assert_eq!(gone, plain);
    // Once more is nothing.
    assert_eq!(
        line(json!([{ "path": key("two_v_deg"), "remove": true }]), plain),
        plain
    );
    let other = line(
        json!([
            { "path": key("normal"), "remove": true },
            { "path": key("azimuth_deg"), "remove": true },
            { "path": key("material"), "value": "calcite" },
            { "path": key("cut"), "value": "across" },
        ]),
        plain,
    );
    assert_eq!(
        other,
        "specimen = { material = \"calcite\", cut = \"across\" } # mine"
    );
}

#[test]
fn what_cannot_be_done_says_why() {
    let outline = ask(&json!({ "do": "outline", "text": text("pond-life") }));
    let part = |index: usize| &outline["parts"][index];
    assert_eq!(part(0)["can_leave"]["allowed"], true);
    assert!(
        part(5)["can_leave"]["why_not"]
            .as_str()
            .unwrap()
            .contains("no analyzer")
    );
    assert!(
        part(2)["can_turn"]["why_not"]
            .as_str()
            .unwrap()
            .contains("same at every azimuth")
    );
    let gaps = part(1)["gaps"].as_array().unwrap();
    assert_eq!(gaps[1]["here"], true);
    assert_eq!(gaps[0]["words"], "below the condenser");
    assert!(
        gaps[3]["why_not"]
            .as_str()
            .unwrap()
            .contains("after the objective")
    );
}

#[test]
fn a_mistake_is_told_with_its_place_and_part() {
    let wrong = text("pond-life").replace("na = 0.88", "na = 8");
    let error = &ask(&json!({ "do": "predict", "text": wrong }))["error"];
    assert_eq!((&error["part"], &error["line"]), (&json!(0), &json!(14)));
    assert_eq!(error["key"], "part.condenser.na");
    assert!(error["remedy"].as_str().unwrap().contains("allowed"));
    for request in [
        "",
        "{}",
        "[1]",
        r#"{"do":"nothing"}"#,
        r#"{"do":"predict"}"#,
    ] {
        let told: Value = serde_json::from_str(&answer(request, &|_| ())).unwrap();
        assert!(
            told["error"]["message"]
                .as_str()
                .unwrap()
                .contains("no request"),
            "{told}"
        );
    }
}

#[test]
fn a_frame_is_the_prediction_and_its_plane_the_right_way_up() {
    let request = json!({ "do": "frame", "text": text("pond-life"), "size": 64 });
    let frame = ask(&request);
    let told = ask(&json!({ "do": "predict", "text": text("pond-life"), "exact": true }));
    let (quick, exact) = (
        frame["extinction_ratio"].as_f64().unwrap(),
        told["extinction_ratio"].as_f64().unwrap(),
    );
    assert!((quick / exact - 1.0).abs() < 1e-3, "{quick} {exact}");
    assert_eq!(
        frame["background"]["with_plate"]["name"],
        told["background"]["with_plate"]["name"]
    );
    assert!(frame["plane"]["levels"].as_array().unwrap().len() > 2);
    assert!(
        frame["plane"]["sentence"]
            .as_str()
            .unwrap()
            .contains("dark cross")
    );
    let askew = ask(&json!({ "do": "frame", "text": text("calcite-askew"), "size": 64 }));
    let sentence = askew["plane"]["sentence"].as_str().unwrap();
    assert!(
        sentence.contains("no dark cross about the middle"),
        "{sentence}"
    );
}

#[test]
fn a_change_is_told_in_a_sentence() {
    let below = text("sheet-below-condenser");
    let before = json!({ "text": text("pond-life") });
    let moved = ask(
        &json!({ "do": "edit", "text": before["text"], "edits": [{ "part": 1, "move_to": 0 }] }),
    );
    let words =
        ask(&json!({ "do": "compare", "before": before, "after": { "text": moved["text"] } }));
    assert_eq!(
        words["words"],
        "Extinction ratio 501 to 390: the condenser's strain is now between the polars; but less light comes from the lower polar's oblique rays."
    );
    let before = json!({ "text": text("leaking-stand") });
    let without = json!({ "text": text("leaking-stand"), "out": ["condenser"] });
    let words = ask(&json!({ "do": "compare", "before": before, "after": without }));
    let words = words["words"].as_str().unwrap();
    assert!(words.ends_with(": the condenser is out."), "{words}");
    let same =
        ask(&json!({ "do": "compare", "before": { "text": below }, "after": { "text": below } }));
    assert!(same["words"].as_str().unwrap().contains("stays at"));
}

#[test]
fn a_turned_strain_is_told_by_where_it_lies_beside_the_polars() {
    let written = text("pond-life");
    let turned = |text: &str, degrees: f64| -> String {
        let edits = json!([{ "part": 3, "turn_deg": degrees }]);
        let answer = ask(&json!({ "do": "edit", "text": text, "edits": edits }));
        answer["text"].as_str().unwrap().to_owned()
    };
    let words = |before: &str, after: &str| -> String {
        let answer = ask(
            &json!({ "do": "compare", "before": { "text": before }, "after": { "text": after } }),
        );
        answer["words"].as_str().unwrap().to_owned()
    };
    let lies = |before: &str, after: &str, where_to: &str| {
        let words = words(before, after);
        let told = format!(": the objective's strain now lies {where_to}.");
        assert!(words.ends_with(&told), "{words}");
    };
    // Written at 45 degrees, the lower polar at 0, the analyzer at 90.
    let along = turned(&written, -45.0);
    lies(
        &written,
        &along,
        "along the lower polar's azimuth, where it does nothing to the light",
    );
    let closer = turned(&written, 20.0);
    lies(
        &written,
        &closer,
        "closer to the analyzer's azimuth, where it would do nothing to the light",
    );
    lies(
        &closer,
        &written,
        "halfway between the polars' azimuths, where it lets most light through",
    );
    lies(
        &along,
        &turned(&along, 20.0),
        "farther from the lower polar's azimuth, where it would do nothing to the light",
    );
    let stronger = written.replace("path_difference_nm = 3,", "path_difference_nm = 6,");
    assert!(
        words(&written, &stronger).ends_with(": more light comes from the objective's strain.")
    );
}

#[test]
fn how_sure_the_shares_are_comes_through_the_door() {
    let told = ask(&json!({ "do": "sure", "text": text("pond-life") }));
    let shares = told["shares"].as_array().unwrap();
    let largest: f64 = (shares.iter())
        .map(|share| share["largest"].as_f64().unwrap())
        .sum();
    assert!((largest - 1.0).abs() < 1e-9, "{largest}");
    for share in shares {
        let end = |name: &str| share["share"][name].as_f64().unwrap();
        assert!(end("low") <= end("median") && end("median") <= end("high"));
    }
    let exact = ask(&json!({ "do": "sure", "text": text("pond-life"), "exact": true }));
    assert_eq!(exact["shares"], json!([]));
}

#[test]
fn a_fit_and_a_table_come_through_the_door() {
    let readings =
        fs::read_to_string(file("leaking-stand").with_file_name("readings/leaking-stand.csv"))
            .unwrap();
    let request =
        json!({ "do": "fit", "text": text("leaking-stand"), "readings": readings, "draws": 400 });
    let told = ask(&request);
    assert!(
        told["words"][0]
            .as_str()
            .unwrap()
            .contains("objective, strain"),
        "{}",
        told["words"]
    );
    let wrong =
        ask(&json!({ "do": "fit", "text": text("leaking-stand"), "readings": "ratio\nnothing\n" }));
    assert_eq!(
        (&wrong["error"]["line"], &wrong["error"]["part"]),
        (&json!(2), &Value::Null)
    );
    for name in ["spectra", "shares"] {
        let table = ask(&json!({ "do": "csv", "text": text("pond-life"), "name": name }));
        assert!(table["csv"].as_str().unwrap().lines().count() > 5);
    }
    let catalog = ask(&json!({ "do": "catalog" }));
    assert!(catalog["glasses"].as_array().unwrap().len() > 30);
    assert_eq!(catalog["active"].as_array().unwrap().len(), 1);
    for entry in catalog["biaxials"].as_array().unwrap() {
        let is_negative = entry["about"].as_str().unwrap().contains("negative");
        assert_eq!(
            entry["acute"],
            if is_negative { "x" } else { "z" },
            "{entry}"
        );
    }
    // All of them can be written as a specimen.
    for entry in catalog["objects"].as_array().unwrap() {
        let needle = text("urate-needle")
            .replace("monosodium urate crystal", entry["name"].as_str().unwrap());
        let told = ask(&json!({ "do": "outline", "text": needle }));
        assert!(told.get("error").is_none(), "{told}");
    }
}
