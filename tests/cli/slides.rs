//! Figures for slides, and moving pictures as animated PNG.

use std::fs;
use std::path::Path;

use crate::{polstack, scenario, text};

fn run(command: &str, name: &str, arguments: &[&str], plots: &Path) -> String {
    let mut run = polstack();
    run.arg(command).arg(scenario(name)).args(arguments);
    let output = run
        .args(["--quiet", "--plots"])
        .arg(plots)
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    text(&output.stdout)
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// The frames of a PNG as they are shown, each pixel `channels` bytes, and whether they move for ever.
fn frames(bytes: &[u8]) -> (Vec<Vec<u8>>, usize, bool) {
    let mut decoder = png::Decoder::new(bytes);
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().unwrap();
    let (width, count, plays) = {
        let info = reader.info();
        let animation = info.animation_control();
        let frames = animation.map_or(1, |control| control.num_frames);
        (
            info.width as usize,
            frames,
            animation.map(|control| control.num_plays),
        )
    };
    let channels = reader.output_color_type().0.samples();
    let mut shown = vec![0; reader.output_buffer_size()];
    let mut all = Vec::new();
    for _ in 0..count {
        let mut part = vec![0; reader.output_buffer_size()];
        reader.next_frame(&mut part).unwrap();
        match reader.info().frame_control() {
            None => shown.clone_from(&part),
            Some(control) => {
                let wide = channels * control.width as usize;
                for row in 0..control.height as usize {
                    let line = (control.y_offset as usize + row) * width;
                    let at = channels * (line + control.x_offset as usize);
                    shown[at..at + wide].copy_from_slice(&part[row * wide..(row + 1) * wide]);
                }
            }
        }
        all.push(shown.clone());
    }
    (all, channels, plays == Some(0))
}

#[test]
fn slides_are_sixteen_to_nine_and_have_no_background() {
    let folder = tempfile::tempdir().unwrap();
    let plain = run("predict", "pond-life", &[], &folder.path().join("paper"));
    for theme in [&["--slides"][..], &["--slides", "dark"]] {
        let out = folder.path().join(theme.join(""));
        // The answer is the same.
        assert_eq!(run("predict", "pond-life", theme, &out), plain);
        assert_eq!(
            names(&out),
            [
                "aperture-slide.png",
                "aperture-slide.svg",
                "background-slide.png",
                "background-slide.svg",
                "spectra-slide.png",
                "spectra-slide.svg"
            ]
        );
        for name in ["aperture", "background", "spectra"] {
            let bytes = fs::read(out.join(format!("{name}-slide.png"))).unwrap();
            let info = png::Decoder::new(&bytes[..]).read_info().unwrap();
            assert_eq!((info.info().width, info.info().height), (1920, 1080));
            let (all, channels, _) = frames(&bytes);
            assert_eq!(channels, 4);
            let clear = all[0].chunks_exact(4).filter(|pixel| pixel[3] == 0).count();
            assert!(clear > 1920 * 1080 / 4, "{name}: {clear}");
            assert_eq!(all[0][3], 0);
            let svg = fs::read_to_string(out.join(format!("{name}-slide.svg"))).unwrap();
            assert!(svg.contains("width=\"1920\" height=\"1080\""));
        }
    }
    // A figure with two rows of pictures is two slides.
    let out = folder.path().join("two");
    run("aperture", "pond-life", &["--slides"], &out);
    assert!(names(&out).contains(&"back-focal-plane-slide-2.png".to_owned()));
}

#[test]
fn charts_are_slides_too() {
    let folder = tempfile::tempdir().unwrap();
    let file = scenario("pond-life");
    for (kind, names_of) in [
        ("interference", &["chart-interference"][..]),
        ("plate", &["chart-plate"]),
        ("background", &["chart-background"]),
        ("sheets", &["chart-sheets", "chart-sheets-compared"]),
    ] {
        let out = folder.path().join(kind);
        let mut run = polstack();
        run.args(["chart", kind, "--quiet", "--slides", "dark", "--scenario"]);
        let output = run.arg(&file).arg("--plots").arg(&out).output().unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        let mut expected: Vec<String> = (names_of.iter())
            .flat_map(|name| ["png", "svg"].map(|kind| format!("{name}-slide.{kind}")))
            .collect();
        expected.sort();
        assert_eq!(names(&out), expected);
        for name in names_of {
            let (all, channels, _) =
                frames(&fs::read(out.join(format!("{name}-slide.png"))).unwrap());
            assert_eq!((all[0].len(), channels), (4 * 1920 * 1080, 4));
            let clear = all[0].chunks_exact(4).filter(|pixel| pixel[3] == 0).count();
            assert!(clear > 1920 * 1080 / 8, "{name}: {clear}");
        }
    }
    // A slide has its own shape and its own pixels.
    for given in [["--paper", "a3"], ["--dpi", "100"]] {
        let mut run = polstack();
        run.args(["chart", "interference", "--slides", "--plots", "x"]);
        let output = run.args(given).output().unwrap();
        assert_eq!(output.status.code(), Some(2));
        assert!(text(&output.stderr).contains("--slides"));
    }
}

#[test]
fn an_animated_png_shows_the_numbered_pictures() {
    let folder = tempfile::tempdir().unwrap();
    let film = ["--turn", "analyzer", "--frames", "4", "--size", "96"];
    let out = folder.path();
    run(
        "aperture",
        "pond-life",
        &[&film[..], &["--png"]].concat(),
        out,
    );
    run(
        "aperture",
        "pond-life",
        &[&film[..], &["--apng"]].concat(),
        out,
    );
    let (moving, channels, for_ever) = frames(&fs::read(out.join("turn-analyzer.png")).unwrap());
    assert_eq!((moving.len(), channels, for_ever), (4, 3, true));
    for (k, frame) in moving.iter().enumerate() {
        let numbered = fs::read(out.join(format!("turn-analyzer-{:03}.png", k + 1))).unwrap();
        assert_eq!(*frame, frames(&numbered).0[0], "{k}");
    }
    assert!(moving[0] != moving[1]);
    // For slides it has no background.
    let slides = out.join("slides");
    run(
        "aperture",
        "pond-life",
        &[&film[..], &["--slides", "dark"]].concat(),
        &slides,
    );
    let (moving, channels, _) = frames(&fs::read(slides.join("turn-analyzer.png")).unwrap());
    assert_eq!((moving.len(), channels, moving[0][3]), (4, 4, 0));
    assert!(!names(&slides).iter().any(|name| name.ends_with(".gif")));
    let film = ["--turn", "stage", "--frames", "3", "--size", "64"];
    run("view", "pond-life", &[&film[..], &["--apng"]].concat(), out);
    run("view", "pond-life", &[&film[..], &["--png"]].concat(), out);
    let (moving, ..) = frames(&fs::read(out.join("turn-stage.png")).unwrap());
    let third = fs::read(out.join("turn-stage-003.png")).unwrap();
    assert_eq!(moving[2], frames(&third).0[0]);
}

#[test]
fn slides_need_a_folder_and_a_theme_that_there_is() {
    for (arguments, words) in [
        (&["--slides"][..], "--plots"),
        (&["--plots", "x", "--slides", "pink"], "dark"),
    ] {
        let mut command = polstack();
        command
            .arg("predict")
            .arg(scenario("pond-life"))
            .args(arguments);
        let output = command.output().unwrap();
        assert_eq!(output.status.code(), Some(2));
        assert!(
            text(&output.stderr).contains(words),
            "{}",
            text(&output.stderr)
        );
    }
    let mut command = polstack();
    command.arg("aperture").arg(scenario("pond-life"));
    command.args(["--plots", "x", "--turn", "analyzer", "--png", "--apng"]);
    assert_eq!(command.output().unwrap().status.code(), Some(2));
}

/// A slide says what its marks mean, and nothing of columns that it does not show.
#[test]
fn slides_of_charts_have_a_key_and_say_nothing_of_what_is_not_shown() {
    let folder = tempfile::tempdir().unwrap();
    let said = |kind: &str, name: &str| {
        let mut run = polstack();
        run.args(["chart", kind, "--quiet", "--slides", "--scenario"]);
        run.arg(scenario("pond-life")).arg("--plots");
        assert!(run.arg(folder.path()).output().unwrap().status.success());
        let svg = fs::read_to_string(folder.path().join(format!("{name}-slide.svg"))).unwrap();
        let words = svg.split('<').filter_map(|tag| tag.split_once('>'));
        let words: Vec<&str> = words
            .flat_map(|(_, text)| text.split_whitespace())
            .collect();
        words.join(" ")
    };
    let plate = said("plate", "chart-plate");
    for key in [
        "A rule at the left of a column:",
        "Plate added: the specimen",
        "own polars",
    ] {
        assert!(plate.contains(key), "{key}: {plate}");
    }
    for hidden in ["ideal linear polars", "white at x"] {
        assert!(!plate.contains(hidden), "{hidden}: {plate}");
    }
    let bands = said("interference", "chart-interference");
    for key in ["A grey edge beside a band:", "plate: the specimen"] {
        assert!(bands.contains(key), "{key}: {bands}");
    }
    assert!(said("sheets", "chart-sheets").contains("A corner mark:"));
    let compared = said("sheets", "chart-sheets-compared");
    for key in ["of the pair alone", "logarithmic"] {
        assert!(compared.contains(key), "{key}: {compared}");
    }
}

/// What would be set too small on one slide is cut in more.
#[test]
fn rows_of_states_are_read_from_afar() {
    let folder = tempfile::tempdir().unwrap();
    run("trace", "pond-life", &["--slides"], folder.path());
    let svg = fs::read_to_string(folder.path().join("trace-slide-1.svg")).unwrap();
    let sizes = svg.split("font-size=\"").skip(1);
    let sizes = sizes.map(|rest| rest.split('"').next().unwrap().parse::<f64>().unwrap());
    // Notes have 12 points.
    let least = sizes
        .filter(|size| *size > 12.5)
        .fold(f64::INFINITY, f64::min);
    assert!(least >= 16.0, "{least}");
}
