//! `polstack aperture`.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::{polstack, scenario, text};

fn run(name: &str, arguments: &[&str], plots: Option<&Path>) -> std::process::Output {
    let mut command = polstack();
    command.arg("aperture").arg(scenario(name)).args(arguments);
    if let Some(plots) = plots {
        command.arg("--plots").arg(plots);
    }
    command.output().unwrap()
}

#[test]
fn json_csv_and_table_tell_the_same() {
    let json = run("pond-life", &["--json"], None);
    assert!(json.status.success() && json.stderr.is_empty());
    let answer: Value = serde_json::from_slice(&json.stdout).unwrap();
    let predicted = polstack()
        .arg("predict")
        .arg(scenario("pond-life"))
        .arg("--json")
        .output()
        .unwrap();
    let predicted: Value = serde_json::from_slice(&predicted.stdout).unwrap();
    assert_eq!(
        answer["without_plate"]["extinction_ratio"],
        predicted["extinction_ratio"]
    );
    let steps = answer["build_up"].as_array().unwrap();
    let last = &steps[steps.len() - 1]["relative_luminance"];
    let whole = &predicted["background"]["without_plate"]["relative_luminance"];
    let off = last.as_f64().unwrap() / whole.as_f64().unwrap() - 1.0;
    assert!(off.abs() < 1e-12, "{off:e}");
    let map = answer["without_plate"]["map"].as_array().unwrap();
    assert_eq!(map.len(), answer["ring_na"].as_array().unwrap().len());
    let csv = run("pond-life", &["--csv"], None).stdout;
    let mut rows = csv::Reader::from_reader(&csv[..]);
    let records: Vec<_> = rows.records().map(Result::unwrap).collect();
    let sections = answer["sections"].as_array().unwrap();
    let points = sections[0]["na"].as_array().unwrap().len();
    assert_eq!(records.len(), 2 * points);
    for (k, record) in records.iter().enumerate() {
        let expected = &sections[k / points]["xyz"][k % points];
        for channel in 0..3 {
            let cell: f64 = record[3 + channel].parse().unwrap();
            assert_eq!(Some(cell), expected[channel].as_f64());
        }
    }
    let table = text(&run("pond-life", &[], None).stdout);
    for words in [
        "plate in",
        "perfect parts",
        "+ slide",
        "cross open",
        "identifies nothing",
    ] {
        assert!(table.contains(words), "{words}: {table}");
    }
    assert!(!text(&run("pond-life", &["--quiet"], None).stdout).contains("identifies nothing"));
}

/// Ideal polars and lenses, so that light is known without a calculation: an analyzer at `a` from the crossed position passes `sin^2 a`.
const PLAIN: &str = r#"
light.source = "cie-e"
aperture.na = 0.4
[[part]]
name = "lower polar"
polarizer = { sheet = "ideal", azimuth_deg = 0 }
[[part]]
name = "condenser"
condenser = { na = 0.9, surfaces = 0, glass = 1.5 }
[[part]]
name = "objective"
objective = { na = 0.4, surfaces = 0, glass = 1.5 }
[[part]]
name = "analyzer"
analyzer = { sheet = "ideal", azimuth_deg = 90 }
"#;

fn plain(folder: &Path, arguments: &[&str]) -> std::process::Output {
    let file = folder.join("plain.toml");
    fs::write(&file, PLAIN).unwrap();
    polstack()
        .arg("aperture")
        .arg(file)
        .arg("--plots")
        .arg(folder.join("out"))
        .args(arguments)
        .output()
        .unwrap()
}

#[test]
fn a_turning_analyzer_as_gif_shows_the_law_of_malus() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = [
        "--turn", "analyzer", "--color", "--frames", "8", "--size", "96",
    ];
    let output = plain(folder.path(), &arguments);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let bytes = fs::read(folder.path().join("out/turn-analyzer.gif")).unwrap();
    let mut options = gif::DecodeOptions::new();
    options.set_color_output(gif::ColorOutput::RGBA);
    let mut decoder = options.read_info(&bytes[..]).unwrap();
    assert_eq!((decoder.width(), decoder.height()), (96, 96));
    let mut frames = 0;
    let middle = 4 * (48 * 96 + 38);
    while let Some(frame) = decoder.read_next_frame().unwrap() {
        let angle = std::f64::consts::PI * f64::from(frames) / 8.0;
        let linear = angle.sin().powi(2);
        let srgb = if linear <= 0.003_130_8 {
            12.92 * linear
        } else {
            1.055 * linear.powf(1.0 / 2.4) - 0.055
        };
        // Dithered by up to 12, then the nearest of a few greys.
        let seen = &frame.buffer[middle..middle + 3];
        for channel in seen {
            let off = f64::from(*channel) - 255.0 * srgb;
            assert!(off.abs() <= 22.0, "frame {frames}: {seen:?}, {srgb}");
        }
        frames += 1;
    }
    assert_eq!(frames, 8);
    assert!(matches!(decoder.repeat(), gif::Repeat::Infinite));
    // Same input, same bytes.
    plain(folder.path(), &arguments);
    assert_eq!(
        bytes,
        fs::read(folder.path().join("out/turn-analyzer.gif")).unwrap()
    );
}

#[test]
fn png_frames_are_numbered_and_exact() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = [
        "--turn", "analyzer", "--color", "--frames", "4", "--size", "96", "--png",
    ];
    let output = plain(folder.path(), &arguments);
    assert!(output.status.success(), "{}", text(&output.stderr));
    for (number, grey) in [(1, 0), (2, 188), (3, 255), (4, 188)] {
        let file = folder
            .path()
            .join(format!("out/turn-analyzer-{number:03}.png"));
        let mut decoder = png::Decoder::new(fs::File::open(file).unwrap());
        decoder.set_transformations(png::Transformations::EXPAND);
        let mut reader = decoder.read_info().unwrap();
        let mut pixels = vec![0; reader.output_buffer_size()];
        let info = reader.next_frame(&mut pixels).unwrap();
        assert_eq!((info.width, info.height), (96, 96));
        let middle = 3 * (48 * 96 + 38);
        // sin^2 of 45 degrees is 0.5, which sRGB encodes as 187.5.
        for channel in &pixels[middle..middle + 3] {
            assert!(channel.abs_diff(grey) <= 1, "{number}: {channel}");
        }
    }
    assert!(!folder.path().join("out/turn-analyzer-005.png").exists());
}

#[test]
fn what_cannot_turn_is_refused_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    for (arguments, words) in [
        (
            &["--turn", "crystal"][..],
            "cut across its axis is the same at every azimuth",
        ),
        (&["--turn", "slide"], "there is no part \"slide\""),
        (&["--turn", "analyser"], "did you mean \"analyzer\""),
        (&["--turn", "analyzer", "--frames", "0"], "--frames"),
        (
            &["--turn", "analyzer", "--frames", "1e9"],
            "a whole number from 1 to 720",
        ),
        (
            &["--turn", "analyzer", "--frames", "-1"],
            "a whole number from 1 to 720",
        ),
        (&["--turn", "analyzer", "--frames", "721"], "--frames"),
        (&["--turn", "analyzer", "--size", "63"], "--size"),
        (&["--turn", "analyzer", "--size", "2049"], "--size"),
        (&["--turn", "analyzer", "--through", "0"], "--through"),
        (&["--turn", "analyzer", "--through", "nan"], "--through"),
        (&["--color"], "--turn"),
    ] {
        let out = folder.path().join("out");
        let output = run("crystal-across-axis", arguments, Some(&out));
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let told = text(&output.stderr);
        assert!(told.contains(words), "{arguments:?}: {told}");
        assert!(!out.exists() && output.stdout.is_empty());
    }
    let output = run("crystal-across-axis", &["--turn", "analyzer"], None);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("--plots"));
    let output = run(
        "crystal-along-axis",
        &["--turn", "analyzer", "--plate"],
        Some(folder.path()),
    );
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("no plate"));
}

/// The strained condenser of this stand lies below the sheet, and its plate shows only where it is in.
#[test]
fn a_part_that_cannot_show_is_not_turned_and_a_plate_turns_in_the_light() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let output = run("pond-life", &["--turn", "condenser"], Some(&out));
    assert_eq!(output.status.code(), Some(2));
    let told = text(&output.stderr);
    assert!(told.contains("below the lower polar"), "{told}");
    assert!(!out.exists());
    let arguments = ["--turn", "first-order plate", "--frames", "2", "--png"];
    let arguments = [&arguments[..], &["--through", "90", "--size", "64"]].concat();
    let output = run("pond-life", &arguments, Some(&out));
    assert!(output.status.success(), "{}", text(&output.stderr));
    let frame = |number: u32| {
        let file = out.join(format!("turn-first-order-plate-{number:03}.png"));
        let mut decoder = png::Decoder::new(fs::File::open(file).unwrap());
        decoder.set_transformations(png::Transformations::EXPAND);
        let mut reader = decoder.read_info().unwrap();
        let mut pixels = vec![0; reader.output_buffer_size()];
        reader.next_frame(&mut pixels).unwrap();
        let middle = 3 * (32 * 64 + 25);
        [pixels[middle], pixels[middle + 1], pixels[middle + 2]]
    };
    // At 45 degrees the plate passes decades more than along the lower polar.
    assert_ne!(frame(1), frame(2));
}

#[test]
fn figures_are_written_with_their_texts() {
    let folder = tempfile::tempdir().unwrap();
    let output = run("crystal-across-axis", &[], Some(folder.path()));
    assert!(output.status.success(), "{}", text(&output.stderr));
    for (name, words) in [
        ("back-focal-plane", "lines: extinction ratio there"),
        ("build-up", "+ crystal"),
        ("sections", "bright at 45°, plate in"),
    ] {
        let svg = fs::read_to_string(folder.path().join(name).with_extension("svg")).unwrap();
        assert!(svg.contains(words), "{name}");
        assert!(folder.path().join(name).with_extension("png").exists());
    }
}

/// A disc of one figure can be laid beside one of another: their colours mean the same.
#[test]
fn all_discs_of_a_command_share_one_scale_in_whole_decades() {
    let folder = tempfile::tempdir().unwrap();
    let output = run("pond-life", &[], Some(folder.path()));
    assert!(output.status.success(), "{}", text(&output.stderr));
    let decades = |name: &str| -> Vec<String> {
        let svg = fs::read_to_string(folder.path().join(name)).unwrap();
        let words = svg.split('>').filter_map(|piece| piece.split_once("</"));
        let mut seen: Vec<String> = words
            .map(|(words, _)| words.trim().to_owned())
            .filter(|words| words.trim_start_matches("≤ ").starts_with("10⁻"))
            .collect();
        seen.sort();
        seen.dedup();
        seen
    };
    let (scale, part) = (decades("back-focal-plane.svg"), decades("build-up.svg"));
    assert!(scale.len() >= 4, "{scale:?}");
    // Both bars begin at the same darkest colour; that of the build-up ends at the brightest light that it shows.
    assert_eq!(scale.last(), part.last());
    assert!(part.len() + 1 >= scale.len(), "{part:?}");
    assert!(part.iter().all(|decade| scale.contains(decade)), "{part:?}");
}

#[test]
fn a_lens_of_no_strain_is_refused_for_that_and_not_for_its_place() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("zero.toml");
    let written = fs::read_to_string(scenario("pond-life")).unwrap();
    assert!(written.contains("path_difference_nm = 3,"));
    let zero = written.replace("path_difference_nm = 3,", "path_difference_nm = 0,");
    fs::write(&file, zero).unwrap();
    let output = polstack()
        .arg("aperture")
        .arg(&file)
        .args(["--turn", "objective", "--plots"])
        .arg(folder.path().join("out"))
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    let told = text(&output.stderr);
    assert!(told.contains("its strain is 0 as written"), "{told}");
}

#[test]
fn a_crystal_with_two_axes_tells_where_they_come_out() {
    let json = run("muscovite-figure", &["--json"], None);
    let answer: Value = serde_json::from_slice(&json.stdout).unwrap();
    let crystal = &answer["crystal"];
    // The line of the axes is the brighter diameter here: none is called dark.
    assert_eq!(answer["sections_along"], "no_cross");
    assert_eq!(crystal["optic_sign"], "negative");
    assert_eq!(crystal["material"], "muscovite");
    let number = |value: &Value| value.as_f64().unwrap();
    assert!((number(&crystal["two_v_deg"]) - 38.5).abs() < 1e-9);
    let middle = number(&crystal["indices"][1]);
    let na = middle * 19.25f64.to_radians().sin();
    for melatope in crystal["melatopes"].as_array().unwrap() {
        assert!((number(&melatope["na"]) - na).abs() < 1e-9);
        assert_eq!(melatope["seen"], true);
    }
    let read = &crystal["read_off"];
    // This stand's lenses leak little.
    assert!((number(&read["half_distance_na"]) - na).abs() < 1e-4);
    assert!((number(&read["two_v_deg"]) - 38.5).abs() < 0.01);
    let table = text(&run("muscovite-figure", &[], None).stdout);
    for words in [
        "crystal: muscovite, optically negative, at 589.3 nm",
        "NA 0.5269 at 45.0 deg",
        "2E, in air",
        "Read off the figure:",
    ] {
        assert!(table.contains(words), "{words}: {table}");
    }
    // Without such a crystal nothing is said of one.
    let json = run("pond-life", &["--json"], None);
    let answer: Value = serde_json::from_slice(&json.stdout).unwrap();
    assert!(answer.get("crystal").is_none());
}

#[test]
fn a_crystal_with_two_axes_turns_and_an_active_section_does_not() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--turn", "crystal", "--frames", "3", "--size", "64"];
    let output = run("muscovite-figure", &arguments, Some(folder.path()));
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(folder.path().join("turn-crystal.gif").exists());
    let output = run("quartz-across-axis", &arguments, Some(folder.path()));
    assert_eq!(output.status.code(), Some(2));
    let message = text(&output.stderr);
    assert!(message.contains("the same at every azimuth"), "{message}");
}

/// A crystal cut askew and turned: there is no cross about the middle, and no number for one.
#[test]
fn no_cross_is_measured_where_the_axis_comes_out_off_the_middle() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("askew.toml");
    let written = fs::read_to_string(scenario("calcite-askew")).unwrap();
    let turned = written.replace("= 20, azimuth_deg = 0 }", "= 20, azimuth_deg = 30 }");
    assert_ne!(written, turned);
    fs::write(&file, turned).unwrap();
    let ask = |arguments: &[&str]| {
        let mut command = polstack();
        command.arg("aperture").arg(&file).args(arguments);
        text(&command.output().unwrap().stdout)
    };
    let table = ask(&[]);
    for words in [
        "none about the middle",
        "the optic axis comes out at      NA 0.5672 at 30.0 deg",
        "Light along the diameter through the figure's middle and across it",
        "by more than 5 % of its radius",
    ] {
        assert!(table.contains(words), "{words}: {table}");
    }
    assert!(!table.contains("dark and the bright direction"), "{table}");
    let answer: Value = serde_json::from_str(&ask(&["--json"])).unwrap();
    let steps = answer["build_up"].as_array().unwrap();
    let (lenses, whole) = (&steps[1], &steps[steps.len() - 1]);
    assert_eq!(lenses["figure_centred"], true);
    assert!(lenses["cross_opening"].is_number());
    assert_eq!(whole["figure_centred"], false);
    for key in [
        "cross_opening",
        "cross_parted_deg",
        "cross_filled",
        "cross_turned_deg",
    ] {
        assert!(whole[key].is_null(), "{key}: {whole}");
    }
    assert_eq!(answer["sections_along"], "figure_middle");
    let axis = &answer["leaning_axis"];
    let number = |key: &str| axis[key].as_f64().unwrap();
    // The ordinary index of calcite in sodium light is 1.6584 (from memory).
    assert!((number("na") - 1.6584 * 20f64.to_radians().sin()).abs() < 2e-4);
    assert!((number("azimuth_deg") - 30.0).abs() < 1e-9);
    assert_eq!(axis["seen"], true);
}

/// A diameter along a dark arm tells nothing: the light is told beside the arms, and is nowhere none at the figure's own ring.
#[test]
fn a_dark_arm_is_not_the_diameter_that_is_shown() {
    let output = run("calcite-askew", &["--json"], None);
    let answer: Value = serde_json::from_str(&text(&output.stdout)).unwrap();
    assert_eq!(answer["sections_along"], "beside_arms");
    let table = text(&run("calcite-askew", &[], None).stdout);
    assert!(table.contains("halfway between the polars"), "{table}");
    assert!(table.contains("lies along a dark arm"), "{table}");
    assert!(table.contains(" 45 deg, plate out"), "{table}");
}

/// What is not read off a figure has its reason, and azimuths are within 0 to 360.
#[test]
fn a_figure_that_is_not_read_off_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let written = fs::read_to_string(scenario("muscovite-figure")).unwrap();
    let told = |change: (&str, &str)| {
        let changed = written.replace(change.0, change.1);
        assert_ne!(written, changed);
        let file = folder.path().join("changed.toml");
        fs::write(&file, changed).unwrap();
        let mut command = polstack();
        text(&command.arg("aperture").arg(&file).output().unwrap().stdout)
    };
    let upright = text(&run("muscovite-figure", &[], None).stdout);
    assert!(upright.contains("NA 0.5269 at 225.0 deg"), "{upright}");
    assert!(!upright.contains("Not read off"), "{upright}");
    let closed = told(("na = 0.85\n\n", "na = 0.4\n\n"));
    assert!(
        closed.contains("Not read off the figure: not both"),
        "{closed}"
    );
}
