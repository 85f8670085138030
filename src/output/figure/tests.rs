//! What the finished figures hold.

use resvg::tiny_skia::Pixmap;
use resvg::usvg::{self, roxmltree};

use super::fixture::{lamp, many_parts, path, predicted, scene};
use super::{
    ApertureMap, Figure, FigureError, PlacePlane, place_figures, plane_irises, predict_figures,
    trace_figure,
};
use crate::calculus::Stokes;
use crate::optics::{Ray, Rays};
use crate::output::disc::ramp;
use crate::output::sheet::{FOOT_TYPE, SlideTheme, slides_can_be_read};
use crate::spectrum::Source;
use crate::study::place::{IrisFlip, place};
use crate::study::predict::leak_map;
use crate::study::trace::{Question, State, trace};

const TITLE: &str = "Pond life & <sheet> above the condenser";

pub(super) fn texts(figure: &Figure) -> Vec<String> {
    let document = roxmltree::Document::parse(&figure.svg).unwrap();
    (document.descendants())
        .filter(|node| node.has_tag_name("text"))
        .map(|node| node.text().unwrap_or_default().trim().to_owned())
        .collect()
}

fn says(figure: &Figure, words: &str) -> bool {
    texts(figure).iter().any(|text| text == words)
}

fn pixel(picture: &Pixmap, x: u32, y: u32) -> [u8; 3] {
    let seen = picture.pixel(x, y).unwrap().demultiply();
    [seen.red(), seen.green(), seen.blue()]
}

#[test]
fn figures_say_what_they_show_and_in_which_unit() {
    let (prediction, map) = predicted(true, &lamp());
    let figures = predict_figures(TITLE, &prediction, &map).unwrap();
    let names: Vec<_> = figures.iter().map(|figure| figure.name).collect();
    assert_eq!(names, ["spectra", "aperture", "background"]);
    let look = &prediction.background.without_plate;
    let stops = format!("shown {:.1} stops brighter than", look.exposure_stops);
    let expected: [&[&str]; 3] = [
        &[
            "wavelength (nm)",
            "transmittance",
            "10⁻¹",
            "parallel polars",
            "plate in",
        ],
        &[
            "x in NA (East)",
            "y in NA (North)",
            "light over the parallel field's mean",
            "Back focal plane, polars crossed, plate out; marks: lower polar 0° thick, analyzer 90° thin",
        ],
        &["plate out", "plate in", &look.name, &look.srgb, &stops],
    ];
    for (figure, expected) in figures.iter().zip(expected) {
        assert_eq!(texts(figure)[0], TITLE);
        for text in expected {
            assert!(says(figure, text), "{}: {text}", figure.name);
        }
        assert!(figure.missing.is_empty(), "{}", figure.name);
        let picture = Pixmap::decode_png(&figure.png).unwrap();
        assert_eq!(picture.width(), 1600);
    }
    assert!(says(&figures[2], crate::output::CAUTION_IN_A_LINE));
    // Every text keeps clear of the others and of the edges, on slides too.
    for figure in &figures {
        no_text_is_covered_or_cut(figure);
        slides_can_be_read(
            figure.name,
            &figure.sheet.slides(SlideTheme::Light),
            FOOT_TYPE,
        );
    }
    let mut wide = map.clone();
    wide.value.mapv_inplace(|v| v.powi(5));
    wide.value[[0, 0]] = 4e-5;
    for azimuth in [0.0, 0.5, 0.8, 1.2] {
        wide.polars_rad = Some((azimuth, azimuth + 1.5));
        let figures = predict_figures(TITLE, &prediction, &wide).unwrap();
        assert!(
            texts(&figures[1])
                .iter()
                .any(|text| text.starts_with("≤ 10"))
        );
        no_text_is_covered_or_cut(&figures[1]);
    }
    assert_eq!(figures, predict_figures(TITLE, &prediction, &map).unwrap());
}

#[test]
fn figures_of_places_name_every_line_and_plane() {
    let answer = place(&scene(path(true), lamp(), 50.0), false, 1000.0).unwrap();
    let planes: Vec<PlacePlane> = (answer.verdict.rivals.iter())
        .flat_map(|place| plane_irises(&answer).into_iter().map(|iris| (*place, iris)))
        .map(|(place, iris)| {
            let mut path = answer.lower[place].placed.path.clone();
            path.iris_na = Some(answer.iris_na[iris]);
            let rays = Rays::even(path.na(), 9, 32);
            let light = leak_map(&scene(path.clone(), lamp(), 50.0), &rays).unwrap();
            let map = ApertureMap::of(&path, &rays, light).unwrap();
            PlacePlane { place, iris, map }
        })
        .collect();
    let figures = place_figures(TITLE, &answer, &planes).unwrap();
    let names: Vec<_> = figures.iter().map(|figure| figure.name).collect();
    assert_eq!(names, ["places", "planes"]);
    for text in [
        "below the condenser",
        "above the condenser",
        "(now)",
        "extinction ratio",
    ] {
        assert!(says(&figures[0], text), "{text}");
    }
    assert_eq!(figures[1].svg.matches("<image").count(), planes.len());
    for figure in &figures {
        no_text_is_covered_or_cut(figure);
        slides_can_be_read(
            figure.name,
            &figure.sheet.slides(SlideTheme::Light),
            FOOT_TYPE,
        );
    }
    // Marks close together, and places where nothing leaks.
    let mut crowded = answer;
    for iris_na in [0.31, 0.32, 0.325, 0.59] {
        let flip = IrisFlip {
            iris_na,
            uncertainty: 1e-9,
            from: 0,
            to: 1,
            extinction_ratio: Some(900.0),
        };
        crowded.verdict.iris_flips.push(flip);
    }
    for at in &mut crowded.lower[0].at_iris[3..] {
        at.as_mut().unwrap().extinction_ratio = None;
    }
    let figures = place_figures(TITLE, &crowded, &planes).unwrap();
    assert!(says(&figures[0], "NA 0.325"));
    assert!(says(&figures[1], "nothing leaks"));
    for figure in &figures {
        no_text_is_covered_or_cut(figure);
    }
}

#[test]
fn ellipses_and_spheres_are_drawn_for_few_parts_and_for_many() {
    let mut few = path(false);
    few.parts.retain(|part| part.kind.word() != "condenser");
    for (path, cells) in [(few, 4), (path(true), 6), (many_parts(), 17)] {
        for (ray, wavelength_nm, plates) in [
            (None, None, false),
            (None, Some(550.0), true),
            (Some((0.1, 0.3)), Some(550.0), true),
            (Some((0.25, 2.0)), None, false),
        ] {
            let question = Question {
                ray: ray.map(|(s, azimuth_rad)| Ray { s, azimuth_rad }),
                wavelength_nm,
                plates,
                matrices: false,
            };
            let mut answer = trace(&scene(path.clone(), lamp(), 50.0), question).unwrap();
            assert_eq!(answer.steps.len(), cells);
            let figure = trace_figure(TITLE, &answer).unwrap();
            for text in ["0", "lamp", "light 100 %", "S1, 0°", "S3, right"] {
                assert!(says(&figure, text), "{text}");
            }
            assert_eq!(says(&figure, "out"), cells > 4 && !plates);
            no_text_is_covered_or_cut(&figure);
            for step in &mut answer.steps[2..] {
                step.state = State::of(Stokes([0.0; 4]));
            }
            let figure = trace_figure(TITLE, &answer).unwrap();
            assert!(says(&figure, "dark"));
            no_text_is_covered_or_cut(&figure);
        }
    }
}

pub(super) fn no_text_is_covered_or_cut(figure: &Figure) {
    let tree = crate::output::sheet::parse(&figure.svg).unwrap();
    let mut boxes = Vec::new();
    collect_boxes(tree.root(), &mut boxes);
    assert!(boxes.len() > 8);
    for (k, (text, a)) in boxes.iter().enumerate() {
        let inside = a.left() > 5.0
            && a.top() > 5.0
            && a.right() < tree.size().width() - 5.0
            && a.bottom() < tree.size().height() - 5.0;
        assert!(inside, "{}: `{text}` at {a:?}", figure.name);
        for (other, b) in &boxes[k + 1..] {
            let apart = a.right() <= b.left()
                || b.right() <= a.left()
                || a.bottom() <= b.top()
                || b.bottom() <= a.top();
            assert!(
                apart,
                "{}: `{text}` and `{other}`: {a:?} {b:?}",
                figure.name
            );
        }
    }
}

fn collect_boxes(group: &usvg::Group, boxes: &mut Vec<(String, resvg::tiny_skia::Rect)>) {
    for node in group.children() {
        match node {
            usvg::Node::Group(inner) => collect_boxes(inner, boxes),
            usvg::Node::Text(text) => {
                let words = text.chunks().iter().map(|chunk| chunk.text()).collect();
                boxes.push((words, node.abs_bounding_box()));
            }
            _ => {}
        }
    }
}

#[test]
fn swatches_have_the_predicted_colours() {
    let (prediction, map) = predicted(true, &lamp());
    let figures = predict_figures(TITLE, &prediction, &map).unwrap();
    let card = Pixmap::decode_png(&figures[2].png).unwrap();
    let hex = |x, y| {
        let [r, g, b] = pixel(&card, x, y);
        format!("#{r:02x}{g:02x}{b:02x}")
    };
    assert_eq!(hex(400, 400), prediction.background.without_plate.srgb);
    assert_eq!(
        hex(1200, 400),
        prediction.background.with_plate.unwrap().srgb
    );
}

#[test]
fn the_map_is_one_picture_in_the_colours_of_its_bar() {
    let (prediction, mut map) = predicted(true, &lamp());
    // Light everywhere, none in the southern half but for its edge: two colours.
    let spokes = map.spokes.clone();
    for ((_, spoke), value) in map.value.indexed_iter_mut() {
        *value = if spokes[spoke] < std::f64::consts::PI {
            1e-2
        } else {
            1e-5
        };
    }
    let figures = predict_figures(TITLE, &prediction, &map).unwrap();
    let document = roxmltree::Document::parse(&figures[1].svg).unwrap();
    let images: Vec<_> = (document.descendants())
        .filter(|node| node.has_tag_name("image"))
        .collect();
    assert_eq!(images.len(), 1);
    let href = images[0].attribute("href").unwrap();
    assert!(href.starts_with("data:image/png;base64,"));
    let picture = Pixmap::decode_png(&figures[1].png).unwrap();
    let colors = ramp::colors();
    // The disc's centre stands at (362, 348) points, two pixels each; North is up.
    assert_eq!(pixel(&picture, 724, 696 - 200), colors[255]);
    assert_eq!(pixel(&picture, 724, 696 + 200), colors[0]);
    // The ends of the bar.
    assert_eq!(pixel(&picture, 1330, 2 * 84 + 2), colors[255]);
    assert_eq!(pixel(&picture, 1330, 2 * (84 + 528) - 3), colors[0]);
    for figure in [&figures[0], &figures[2]] {
        assert!(!figure.svg.contains("<image"));
    }
}

#[test]
fn maps_and_spectra_without_light_or_numbers_are_drawn() {
    let (mut prediction, mut map) = predicted(false, &lamp());
    for value in [0.0, f64::NAN, f64::INFINITY, 1e-300, 0.3] {
        map.value.fill(value);
        prediction.spectrum.fields.crossed.fill(value);
        prediction.spectrum.fields.parallel[3] = value;
        prediction.extinction_ratio = None;
        map.polars_rad = None;
        for figure in predict_figures("", &prediction, &map).unwrap() {
            let document = roxmltree::Document::parse(&figure.svg).unwrap();
            let attributes = document.descendants().flat_map(|node| node.attributes());
            for attribute in attributes.filter(|attribute| attribute.name() != "href") {
                for wrong in ["NaN", "inf", "-2147483648", "2147483647"] {
                    assert!(
                        !attribute.value().contains(wrong),
                        "{}: {attribute:?}",
                        figure.name
                    );
                }
            }
            Pixmap::decode_png(&figure.png).unwrap();
        }
    }
    map.na = 0.0;
    assert!(matches!(
        predict_figures("", &prediction, &map),
        Err(FigureError::MapNa { .. })
    ));
}

#[test]
fn light_of_one_colour_has_no_white_beside_it() {
    let line = Source::Line {
        centre_nm: 540.0,
        width_nm: 20.0,
    };
    let (prediction, map) = predicted(false, &line);
    assert!(!prediction.background.without_plate.white_balanced);
    let figures = predict_figures(TITLE, &prediction, &map).unwrap();
    assert!(says(&figures[2], "crossed polars"));
    assert!(!says(&figures[2], "parallel field"));
}
