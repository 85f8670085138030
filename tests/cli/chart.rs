//! `polstack chart`.

use std::fs;

use serde_json::Value;

use crate::{polstack, scenario, text};

fn run(arguments: &[&str]) -> std::process::Output {
    polstack().arg("chart").args(arguments).output().unwrap()
}

fn good(arguments: &[&str]) -> String {
    let output = run(arguments);
    assert!(output.status.success(), "{}", text(&output.stderr));
    text(&output.stdout)
}

fn json(arguments: &[&str]) -> Value {
    serde_json::from_str(&good(&[arguments, &["--json"]].concat())).unwrap()
}

fn file(name: &str) -> String {
    scenario(name).to_str().unwrap().to_owned()
}

#[test]
fn the_csv_of_a_scale_holds_what_its_json_holds() {
    let arguments = [
        "plate",
        "--to",
        "600",
        "--step",
        "50",
        "--lamp",
        "cie-a",
        "--plate",
        "quarter-wave",
    ];
    let answer = json(&arguments);
    assert_eq!(answer["chart"], "plate");
    assert!(answer["scenario"].is_null());
    assert_eq!(answer["conditions"]["lamp"], "cie-a");
    let csv = good(&[&arguments[..], &["--csv"]].concat());
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header: Vec<String> = reader
        .headers()
        .unwrap()
        .iter()
        .map(str::to_owned)
        .collect();
    assert_eq!(
        header,
        [
            "band",
            "path_difference_nm",
            "x",
            "y",
            "z",
            "lab_l",
            "lab_a",
            "lab_b",
            "srgb",
            "gamut_mapped",
            "name",
            "discrimination_per_nm",
            "ciede2000"
        ]
    );
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.unwrap()).collect();
    assert_eq!(rows.len(), 3 * 13);
    for (k, row) in rows.iter().enumerate() {
        let (band, k) = (&answer["bands"][k / 13], k % 13);
        let tint = &band["tints"][k];
        let number = |column: usize| row[column].parse::<f64>().unwrap();
        assert_eq!(row[0], band["heading"]);
        assert_eq!(number(1), answer["path_difference_nm"][k]);
        for axis in 0..3 {
            assert_eq!(number(2 + axis), tint["xyz"][axis]);
            assert_eq!(number(5 + axis), tint["lab"][axis]);
        }
        assert_eq!(row[8], tint["srgb"]);
        assert_eq!(&row[9] == "1", tint["gamut_mapped"]);
        assert_eq!(row[10], tint["name"]);
        assert_eq!(number(11), band["discrimination_per_nm"][k]);
        assert_eq!(
            number(12),
            answer["added_from_subtracted"][0]["ciede2000"][k]
        );
    }
}

#[test]
fn the_csv_of_a_matrix_holds_what_its_json_holds() {
    let file = file("pond-life");
    let arguments = [
        "background",
        "--scenario",
        &file,
        "--strain-nm",
        "0,20",
        "--na",
        "0.2,0.4,0.6",
    ];
    let answer = json(&arguments);
    assert_eq!(answer["panels"].as_array().unwrap().len(), 2);
    let csv = good(&[&arguments[..], &["--csv"]].concat());
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.unwrap()).collect();
    assert_eq!(rows.len(), 2 * 2 * 3);
    for (k, row) in rows.iter().enumerate() {
        let (panel, i, j) = (&answer["panels"][k / 6], k % 6 / 3, k % 3);
        let tint = &panel["cells"][i][j];
        assert_eq!(row[0], panel["heading"]);
        assert_eq!(
            (&row[1], &row[2]),
            (
                answer["rows"][i].as_str().unwrap(),
                answer["columns"][j].as_str().unwrap()
            )
        );
        assert_eq!(row[3].parse::<f64>().unwrap(), tint["xyz"][0]);
        assert_eq!(row[9], tint["srgb"]);
        assert_eq!(
            row[12].parse::<f64>().unwrap(),
            answer["extinction_ratio"][i][j]
        );
        assert_eq!(row[13].parse::<f64>().unwrap(), panel["exposure_stops"]);
    }
}

#[test]
fn a_scenario_stands_beside_the_chart_and_brings_its_lamp() {
    let file = file("circular-polars");
    let answer = json(&["interference", "--scenario", &file, "--step", "100"]);
    assert_eq!(answer["scenario"], "Circular polars");
    assert_eq!(answer["conditions"]["lamp"], "led-b3");
    assert_eq!(answer["bands"][1]["heading"], "this microscope");
    let other = json(&[
        "interference",
        "--scenario",
        &file,
        "--step",
        "100",
        "--lamp",
        "cie-a",
    ]);
    assert_eq!(other["conditions"]["lamp"], "cie-a");
    // The scenario has no plate of its own.
    let added = json(&["plate", "--scenario", &file, "--step", "100"]);
    assert_eq!(added["bands"].as_array().unwrap().len(), 6);
    let sheets = json(&["sheets", "--scenario", &file]);
    assert_eq!(sheets["rows"].as_array().unwrap().len(), 6);
    assert_eq!(sheets["columns"].as_array().unwrap().len(), 8);
}

#[test]
fn what_means_nothing_or_cannot_be_is_refused_with_its_remedy() {
    let pond = file("pond-life");
    for (arguments, words) in [
        (
            &["interference", "--lamp", "cie-d66"][..],
            &["cie-d65", "did you mean"][..],
        ),
        (
            &["interference", "--sheet", "iodine medium"],
            &["iodine-medium"],
        ),
        (&["interference", "--material", "quarz"], &["quartz"]),
        (&["interference", "--to", "-5"], &["allowed"]),
        (&["interference", "--to", "nan"], &["allowed"]),
        (&["interference", "--to", "1e9"], &["allowed"]),
        (
            &["interference", "--to", "500", "--orders", "2"],
            &["cannot be used with"],
        ),
        (&["interference", "--to", "100001"], &["10 to 100000 nm"]),
        (&["interference", "--step", "0"], &["allowed"]),
        (
            &["interference", "--step", "0.01"],
            &["step", "allowed are 0.09"],
        ),
        (&["interference", "--exposure", "-1"], &["allowed"]),
        (&["interference", "--na", "0.2"], &["--na"]),
        (&["interference", "--dpi", "300"], &["--plots"]),
        (&["plate", "--plate", "gypsum"], &["first-order"]),
        (&["background"], &["--scenario"]),
        (
            &["background", "--scenario", &pond, "--na", "0.7"],
            &["pond-life.toml", "iris NA", "0.6"],
        ),
        (
            &["background", "--scenario", &pond, "--strain-nm", "-2"],
            &["strain"],
        ),
        (
            &["background", "--scenario", &pond, "--strain-nm", "2,,3"],
            &["numbers"],
        ),
        (&["sheets", "--lamp", "cie-d66"], &["cie-d65"]),
        (&["sheets", "--colors"], &["--csv"]),
        (&["colours"], &["colours"]),
        (&[], &["Usage"]),
    ] {
        let output = run(arguments);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
        assert!(output.stdout.is_empty(), "{arguments:?}");
        for word in words {
            assert!(
                said.contains(word),
                "{arguments:?}: {word} is missing in\n{said}"
            );
        }
    }
}

#[test]
fn sheets_are_compared_in_json_csv_and_words() {
    let answer = json(&["sheets", "--lamp", "cie-a"]);
    let compared = &answer["comparison"];
    assert_eq!(compared["lamp"], "cie-a");
    let sheets = compared["sheets"].as_array().unwrap();
    let csv = good(&["sheets", "--lamp", "cie-a", "--csv"]);
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = reader.headers().unwrap().clone();
    let column = |name: &str| header.iter().position(|head| head == name).unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.unwrap()).collect();
    assert_eq!((rows.len(), sheets.len()), (6, 6));
    for (row, sheet) in rows.iter().zip(sheets) {
        assert_eq!(&row[column("sheet")], sheet["sheet"].as_str().unwrap());
        for (name, value) in [
            ("transmittance", &sheet["one"]["transmittance"]),
            ("parallel_high", &sheet["parallel"]["doubt"]["high"]),
            ("extinction_pair_low", &sheet["pair"]["doubt"]["low"]),
            ("extinction_placed", &sheet["placed"]["extinction_ratio"]),
            ("cover_high_nm", &sheet["cover"]["high"]),
            ("darkest_probability", &sheet["darkest_probability"]),
        ] {
            let told = row[column(name)].parse::<f64>().ok();
            assert_eq!(told, value.as_f64(), "{} {name}", &row[column("sheet")]);
        }
    }
    // Every number that is shown lies within the range under it.
    let words = good(&["sheets"]);
    let lines: Vec<&str> = words
        .lines()
        .take_while(|line| *line != "Colours under every lamp")
        .collect();
    let mut ranges = 0;
    for pair in lines.windows(2).filter(|pair| {
        pair[0].starts_with("   ") && pair[1].contains(" to ") && pair[0].contains(" %")
    }) {
        let ends: Vec<f64> = pair[1]
            .split("  ")
            .flat_map(|cell| cell.trim().split(" to "))
            .filter_map(|end| end.parse().ok())
            .collect();
        let shown: Vec<f64> = (pair[0].split("  ").map(str::trim))
            .filter_map(|cell| {
                cell.trim_start_matches("under ")
                    .trim_end_matches(" %")
                    .trim_end_matches(" nm")
                    .parse()
                    .ok()
            })
            .collect();
        // One passes, pair passes, two ratios, how probably the darkest, cover.
        assert_eq!((shown.len(), ends.len()), (6, 10), "{pair:?}");
        for (value, ends) in [0, 1, 2, 3, 5].iter().zip(ends.chunks(2)) {
            assert!((ends[0]..=ends[1]).contains(&shown[*value]), "{pair:?}");
        }
        ranges += 1;
    }
    assert_eq!(ranges, 5);
    // One word for an ideal pair, in the comparison and under every lamp.
    let ideal: Vec<&str> = words
        .lines()
        .filter(|line| line.trim_start().starts_with("ideal "))
        .collect();
    assert!(
        ideal[0].contains(" white ") && ideal[1].matches("white").count() == 8,
        "{ideal:?}"
    );
    for part in [
        "Laminated sheets:",
        "Display films:",
        "Lamp cie-d65",
        "Not decided which is darkest",
        "colour, crossed,",
        "Brightest: display-film and display-film-low-cover, alike, of each of which",
    ] {
        assert!(words.contains(part), "{part} is missing in\n{words}");
    }
    let colors = good(&["sheets", "--csv", "--colors"]);
    assert!(colors.starts_with("panel,row,column,x,y,z"), "{colors}");
    let file = file("measured-achromat");
    let own = json(&["sheets", "--scenario", &file]);
    assert_eq!(
        own["comparison"]["placed_in"],
        "in the scenario's microscope"
    );
}

#[test]
fn a_chart_is_written_as_png_svg_and_pdf_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let plots = folder.path().join("plots");
    let directory = plots.to_str().unwrap();
    for kind in ["interference", "plate", "sheets"] {
        good(&[kind, "--plots", directory, "--dpi", "72"]);
        for ending in ["png", "svg", "pdf"] {
            let bytes = fs::read(plots.join(format!("chart-{kind}.{ending}"))).unwrap();
            let start: &[u8] = match ending {
                "png" => b"\x89PNG",
                "pdf" => b"%PDF",
                _ => b"<svg",
            };
            assert!(bytes.starts_with(start), "{kind}.{ending}");
        }
    }
    let taken = folder.path().join("taken");
    fs::write(&taken, "mine").unwrap();
    let output = run(&["sheets", "--dpi", "72", "--plots", taken.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(3));
    assert!(output.stdout.is_empty());
    assert_eq!(fs::read_to_string(&taken).unwrap(), "mine");
}

#[test]
fn the_same_chart_has_the_same_bytes_on_any_number_of_threads() {
    let file = file("oil-immersion");
    let run = |threads: &str| {
        let mut command = polstack();
        command.args([
            "chart",
            "plate",
            "--json",
            "--scenario",
            &file,
            "--step",
            "20",
        ]);
        command
            .env("RAYON_NUM_THREADS", threads)
            .output()
            .unwrap()
            .stdout
    };
    let one = run("1");
    assert!(!one.is_empty());
    assert_eq!(one, run("3"));
}

#[test]
fn tables_end_with_the_caution_unless_quiet() {
    for kind in ["interference", "plate", "sheets"] {
        assert!(good(&[kind]).contains("no diagnostic device"));
        assert!(!good(&[kind, "--quiet"]).contains("no diagnostic device"));
    }
}

#[test]
fn an_object_is_charted_along_and_across_the_plate() {
    let name = "monosodium urate crystal";
    let answer = json(&["plate", "--to", "50", "--object", name]);
    let object = &answer["object"];
    assert_eq!(object["elongation"], "negative");
    assert_eq!(
        object["path_difference_nm"],
        serde_json::json!([100.0, 150.0, 200.0])
    );
    let along = object["positions"][0]["along"][1]["name"].as_str().unwrap();
    let across = object["positions"][0]["across"][1]["name"]
        .as_str()
        .unwrap();
    assert!(
        along.contains("yellow") && across.contains("blue"),
        "{along}, {across}"
    );
    // The chart reaches as far as the object does.
    let scale = answer["path_difference_nm"].as_array().unwrap();
    assert_eq!(scale.last().unwrap().as_f64(), Some(200.0));
    let table = good(&["plate", "--object", "monosodium-urate-crystal", "--quiet"]);
    assert!(
        table.contains("slow across its length (negative elongation)"),
        "{table}"
    );
    assert!(table.contains("is no diagnostic device"), "{table}");
    assert!(json(&["plate"]).get("object").is_none());
    let output = run(&["plate", "--object", "starch grain"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("cotton fibre"));
}

#[test]
fn every_paper_is_drawn_and_large_paper_and_screens_have_the_wall() {
    let folder = tempfile::tempdir().unwrap();
    for (paper, layout, mm, files) in [
        ("a4", None, "210mm", 3),
        ("a4", Some("wall"), "297mm", 6),
        ("a3", None, "420mm", 6),
        ("a3", Some("desk"), "297mm", 3),
        ("a1", None, "841mm", 6),
        ("16:9", None, "325.12mm", 6),
    ] {
        let dir = folder
            .path()
            .join(format!("{}-{layout:?}", paper.replace(':', "-")));
        let plots = dir.to_str().unwrap();
        let mut arguments = vec![
            "interference",
            "--to",
            "600",
            "--step",
            "5",
            "--dpi",
            "72",
            "--paper",
            paper,
            "--plots",
            plots,
        ];
        arguments.extend(layout.into_iter().flat_map(|layout| ["--layout", layout]));
        good(&arguments);
        assert_eq!(
            fs::read_dir(&dir).unwrap().count(),
            files,
            "{paper} {layout:?}"
        );
        let svg = fs::read_to_string(dir.join("chart-interference.svg")).unwrap();
        assert!(
            svg.contains(&format!("width=\"{mm}\"")),
            "{paper} {layout:?}"
        );
    }
    let wide = folder.path().join("wide");
    let plots = wide.to_str().unwrap();
    good(&[
        "plate", "--to", "600", "--step", "5", "--paper", "16:9", "--plots", plots,
    ]);
    let picture = fs::File::open(wide.join("chart-plate.png")).unwrap();
    let decoder = png::Decoder::new(std::io::BufReader::new(picture));
    let reader = decoder.read_info().unwrap();
    assert_eq!((reader.info().width, reader.info().height), (3840, 2160));
}

#[test]
fn the_eyes_adaptation_is_asked_for_and_told() {
    let file = file("pond-life");
    let step = ["--step", "50", "--to", "600", "--lamp", "cie-a"];
    let asked = |state: &str| json(&[&["interference"][..], &step, &["--adapted", state]].concat());
    for (state, degree) in [("full", 1.0), ("daylight", 0.0), ("0.75", 0.75)] {
        let answer = asked(state);
        assert_eq!(answer["conditions"]["adaptation_degree"], degree);
        let told = &asked(state)["bands"][0]["tints"];
        assert_eq!(told[5]["xyz"], asked("full")["bands"][0]["tints"][5]["xyz"]);
    }
    for kind in ["background", "sheets"] {
        let answer = json(&[kind, "--scenario", &file, "--adapted", "daylight"]);
        assert_eq!(answer["conditions"]["adaptation_degree"], 0.0);
    }
    let words = good(&[&["interference"][..], &step, &["--adapted", "daylight"]].concat());
    assert!(
        words.contains("Eye adapted to daylight, not to this light (D = 0)"),
        "{words}"
    );
    let predict = |state: &str, format: &[&str]| {
        let arguments = [&["predict", &file, "--adapted", state, "--exact"], format].concat();
        let output = polstack().args(arguments).output().unwrap();
        assert!(output.status.success());
        text(&output.stdout)
    };
    let answer: Value = serde_json::from_str(&predict("0.6", &["--json"])).unwrap();
    let told = &answer["background"]["with_plate"]["adaptation"];
    assert_eq!(told["degree"], 0.6);
    assert!(told["parallel_exposure_stops"].as_f64().unwrap() <= 0.0);
    assert!(predict("full", &[]).contains("fully adapted to the parallel field (D = 1)"));
    assert!(predict("0.6", &[]).contains("adapted to the parallel field by D = 0.6"));
    for state in ["1.5", "-0.1", "dark", "nan"] {
        let output = run(&["interference", "--adapted", state]);
        assert_eq!(output.status.code(), Some(2), "{state}");
        let error = text(&output.stderr);
        assert!(
            error.contains("allowed: full, daylight, or a degree of 0 to 1"),
            "{error}"
        );
    }
}
