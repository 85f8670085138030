//! What printed charts hold.

use resvg::tiny_skia::Pixmap;
use resvg::usvg::roxmltree;

use super::super::fixture::{lamp, matrix, path, scale, scene, wall_scale};
use super::super::look::ink_on;
use super::super::tests::{no_text_is_covered_or_cut, texts};
use super::super::{Figure, FigureError, Paper, PaperSize};

use super::{ChartRef, chart_figure, compared_figure, wall_figures};
use crate::color::{Lab, Oklch, Swatch, ciede2000};
use crate::material::catalog::named_birefringences;
use crate::output::CAUTION;
use crate::output::figure::look::INK;
use crate::output::sheet::{LEAST_TYPE, SlideTheme, slides_can_be_read};
use crate::study::chart::{ColorGrid, Scale, Tint};
use crate::study::chart::{GridShown, all_sheets, compare_sheets};

const SCREEN: Paper = Paper {
    size: PaperSize::A4,
    dpi: 100,
};
/// One column and lines of birefringence.
fn interference() -> Scale {
    scale(false, 1200.0, 2.0, false)
}

fn of_scale(chart: &Scale, paper: Paper) -> Figure {
    chart_figure("interference", None, ChartRef::Scale(chart), paper).unwrap()
}

fn of_matrix(chart: &ColorGrid, paper: Paper) -> Figure {
    chart_figure(
        "background",
        Some("Invented"),
        ChartRef::ColorGrid(chart),
        paper,
    )
    .unwrap()
}

fn rgb(picture: &Pixmap, x: u32, y: u32) -> [u8; 3] {
    let pixel = picture.pixel(x, y).unwrap();
    [pixel.red(), pixel.green(), pixel.blue()]
}

/// Left, top, width and height of every element of a name, in pixels of the picture, and its fill.
fn boxes(figure: &Figure, picture: &Pixmap, element: &str) -> Vec<([f64; 4], String)> {
    let document = roxmltree::Document::parse(&figure.svg).unwrap();
    let view = document.root_element().attribute("viewBox").unwrap();
    let view: Vec<f64> = view.split(' ').map(|v| v.parse().unwrap()).collect();
    let (x, y) = (
        f64::from(picture.width()) / view[2],
        f64::from(picture.height()) / view[3],
    );
    (document.descendants())
        .filter(|node| node.has_tag_name(element))
        .map(|node| {
            let place = [("x", x), ("y", y), ("width", x), ("height", y)]
                .map(|(name, scale)| scale * node.attribute(name).unwrap().parse::<f64>().unwrap());
            (place, node.attribute("fill").unwrap_or_default().to_owned())
        })
        .collect()
}

#[test]
fn every_pixel_of_a_column_has_the_colour_of_its_path_difference() {
    let chart = scale(true, 1200.0, 1.0, false);
    for dpi in [100, 300] {
        let figure = of_scale(&chart, Paper { dpi, ..SCREEN });
        let picture = Pixmap::decode_png(&figure.png).unwrap();
        let columns = boxes(&figure, &picture, "image");
        assert_eq!(columns.len(), chart.bands.len());
        for (([left, top, width, height], _), band) in columns.into_iter().zip(&chart.bands) {
            let count = band.tints.len() as f64;
            let linear: Vec<[f64; 3]> = band.tints.iter().map(|tint| tint.linear).collect();
            let shown = Swatch::of_column(&linear, 25);
            // Whole pixels, clear of the frame.
            let inside = |from: f64, size: f64| (from + 2.0) as u32..(from + size - 2.0) as u32;
            for y in inside(top, height) {
                let share = (top + height - f64::from(y) - 0.5) / height;
                let near = [-0.01, 0.01].map(|slack| (share * count + slack) as usize);
                let expected = near.map(|k| shown[k].srgb);
                for x in inside(left, width) {
                    let got = rgb(&picture, x, y);
                    assert!(
                        expected.contains(&got),
                        "{dpi} dpi, {x} {y}: {got:?} {expected:?}"
                    );
                }
            }
        }
    }
}

#[test]
fn cells_have_the_colours_of_their_tints_beside_their_words() {
    let chart = matrix(3, 4);
    let tints: Vec<&Tint> = (chart.panels.iter())
        .flat_map(|panel| panel.cells.iter().flatten())
        .collect();
    for dpi in [100, 300] {
        let figure = of_matrix(&chart, Paper { dpi, ..SCREEN });
        let picture = Pixmap::decode_png(&figure.png).unwrap();
        // The first rectangle is the sheet.
        let cells = boxes(&figure, &picture, "rect").split_off(1);
        assert_eq!(cells.len(), tints.len());
        for (([left, top, width, height], fill), tint) in cells.iter().zip(&tints) {
            assert_eq!(fill.to_lowercase(), tint.swatch.hex());
            for x in (left + 2.0) as u32..(left + width - 2.0) as u32 {
                for y in [top + 2.0, top + height - 3.0] {
                    if x > (left + width - 8.0 * f64::from(dpi) / 72.0) as u32 && y < top + 3.0 {
                        continue; // the corner mark
                    }
                    assert_eq!(
                        rgb(&picture, x, y as u32),
                        tint.swatch.srgb,
                        "{dpi} dpi, {x} {y}"
                    );
                }
            }
        }
    }
}

#[test]
fn paper_has_its_size_in_every_format() {
    let chart = matrix(2, 2);
    let wide = matrix(2, 8);
    let a4 = (("210mm", "297mm"), (595.276, 841.890));
    let a3 = (("297mm", "420mm"), (841.890, 1190.551));
    for (size, dpi, pixels, (mm, points)) in [
        (PaperSize::A4, 100, (827, 1169), a4),
        (PaperSize::A4, 300, (2480, 3508), a4),
        (PaperSize::A3, 72, (842, 1191), a3),
    ] {
        let paper = Paper { size, dpi };
        for (figure, turned) in [
            (of_matrix(&chart, paper), false),
            (of_matrix(&wide, paper), true),
        ] {
            let turn = |pair: (f64, f64)| if turned { (pair.1, pair.0) } else { pair };
            let reader = png::Decoder::new(&figure.png[..]).read_info().unwrap();
            let info = reader.info();
            let got = (f64::from(info.width), f64::from(info.height));
            assert_eq!(got, turn((f64::from(pixels.0), f64::from(pixels.1))));
            let density = info.pixel_dims.unwrap();
            assert_eq!(
                (density.unit, density.xppu),
                (png::Unit::Meter, density.yppu)
            );
            assert_eq!((f64::from(density.xppu) * 0.0254).round() as u32, dpi);
            let svg = roxmltree::Document::parse(&figure.svg).unwrap();
            let shown = ["width", "height"].map(|side| svg.root_element().attribute(side).unwrap());
            let shown = (shown[0], shown[1]);
            assert_eq!(shown, if turned { (mm.1, mm.0) } else { mm });
            let [left, bottom, width, height] = page_box(&figure);
            assert_eq!((left, bottom), (0.0, 0.0));
            let points = turn(points);
            assert!(
                (width - points.0).abs() < 1e-3 && (height - points.1).abs() < 1e-3,
                "{width} {height}"
            );
        }
    }
}

/// The corners of the only page; what else a PDF holds is read by another reader, in `.ci/chart-pdf`.
fn page_box(figure: &Figure) -> [f64; 4] {
    let pdf = figure.pdf.as_deref().unwrap();
    assert!(pdf.starts_with(b"%PDF-") && pdf.trim_ascii_end().ends_with(b"%%EOF"));
    let text = String::from_utf8_lossy(pdf);
    let mut boxes = text.split("/MediaBox [").skip(1);
    let corners = boxes
        .next()
        .and_then(|rest| rest.split(']').next())
        .unwrap();
    assert!(boxes.next().is_none());
    let numbers: Vec<f64> = (corners.split_whitespace())
        .map(|number| number.parse().unwrap())
        .collect();
    numbers.try_into().unwrap()
}

#[test]
fn charts_say_under_what_the_chart_holds_and_what_to_beware_of() {
    let exposure = "One exposure for the whole chart: exposed 0.5 stops (× 1.41)";
    let charts = [
        (
            of_scale(&interference(), SCREEN),
            [
                "0.0091 quartz, gypsum",
                "thickness, µm",
                "order 1",
                "a colour identifies nothing",
                exposure,
            ],
        ),
        (
            of_scale(&scale(true, 800.0, 4.0, true), SCREEN),
            [
                "ideal: plate subtracted",
                "this microscope: plate added",
                "per nm",
                "Orders are",
                exposure,
            ],
        ),
        (
            of_matrix(&matrix(3, 3), SCREEN),
            [
                "Invented",
                "plate in",
                "iris NA",
                "objective strain",
                "above white",
            ],
        ),
    ];
    let version = concat!("polstack ", env!("CARGO_PKG_VERSION"));
    for (figure, own) in &charts {
        let svg = texts(figure).join(" ");
        let every = [
            "Lamp led-b3",
            "CIE 1931 2° observer",
            "white at x 0.37",
            "eye fully adapted to this light (D = 1)",
            " nm every ",
            CAUTION,
            version,
        ];
        for text in every.iter().chain(own) {
            assert!(svg.contains(text), "{text}: {svg}");
        }
    }
}

#[test]
fn no_words_meet_on_any_chart() {
    let mut far = scale(false, 11000.0, 5.0, false);
    far.lines = (1..20).map(|k| line(0.0003 * f64::from(k * k))).collect();
    let mut noted = scale(false, 1200.0, 2.0, true);
    let note = "A note about what the chart assumes, at some length. ";
    noted.conditions.notes = vec![note.repeat(12)];
    let mut pair = scale(true, 60.0, 10.0, false);
    pair.bands.truncate(2);
    pair.differences.clear();
    let scales = [
        interference(),
        noted,
        far,
        scale(true, 1100.0, 2.0, false),
        scale(true, 1800.0, 2.0, true),
        pair,
    ];
    for chart in &scales {
        no_text_is_covered_or_cut(&of_scale(chart, SCREEN));
    }
    for (rows, columns) in [(6, 6), (12, 9), (4, 8), (1, 1), (24, 16)] {
        no_text_is_covered_or_cut(&of_matrix(&matrix(rows, columns), SCREEN));
    }
}

fn line(birefringence: f64) -> crate::study::chart::BirefringenceLine {
    crate::study::chart::BirefringenceLine {
        birefringence,
        materials: vec!["invented".to_owned()],
    }
}

#[test]
fn words_stand_out_from_their_cell() {
    let steps = [0.0, 0.05, 0.18, 0.5, 1.0];
    for red in steps {
        for green in steps {
            for blue in steps {
                let linear = Swatch::of_linear([red, green, blue]).linear;
                let luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2];
                let ink = f64::from(ink_on(linear).0) / 255.0;
                let (high, low) = (luminance.max(ink), luminance.min(ink));
                let contrast = (high + 0.05) / (low + 0.05);
                assert!(contrast >= 4.5, "{linear:?}: {contrast}");
            }
        }
    }
}

#[test]
fn sheets_are_the_same_bytes_again() {
    let chart = interference();
    let (once, again) = (of_scale(&chart, SCREEN), of_scale(&chart, SCREEN));
    assert_eq!(once.files().len(), 3);
    for ((name, one), (_, other)) in once.files().iter().zip(again.files()) {
        assert!(*one == other, "{name}");
    }
}

fn on_wall(chart: &Scale, title: Option<&str>, size: PaperSize, dpi: u32) -> Vec<Figure> {
    let paper = Paper { size, dpi };
    wall_figures(title, chart, &named_birefringences(), paper).unwrap()
}

const PAPERS: [PaperSize; 5] = [
    PaperSize::A4,
    PaperSize::A3,
    PaperSize::A2,
    PaperSize::A1,
    PaperSize::Wide,
];

#[test]
fn no_words_meet_on_a_chart_for_the_wall() {
    let title =
        "A microscope with an invented name that goes on for rather longer than a title should";
    for (to_nm, step_nm) in [(60.0, 2.0), (700.0, 2.0), (1800.0, 2.0), (11000.0, 10.0)] {
        let mut chart = wall_scale(to_nm, step_nm);
        chart.conditions.notes = vec!["A note of some length that nobody needs. ".repeat(20)];
        for size in PAPERS {
            for title in [None, Some(title)] {
                for figure in on_wall(&chart, title, size, 72) {
                    no_text_is_covered_or_cut(&figure);
                    assert!(figure.missing.is_empty());
                }
            }
        }
    }
}

/// Size of the type, in mm on paper, of every text of a figure.
fn sizes_mm(figure: &Figure) -> Vec<(String, f64)> {
    let document = roxmltree::Document::parse(&figure.svg).unwrap();
    let root = document.root_element();
    let wide: f64 = root
        .attribute("width")
        .unwrap()
        .trim_end_matches("mm")
        .parse()
        .unwrap();
    let view: Vec<&str> = root.attribute("viewBox").unwrap().split(' ').collect();
    let mm = wide / view[2].parse::<f64>().unwrap();
    let texts = document
        .descendants()
        .filter(|node| node.has_tag_name("text"));
    texts
        .map(|node| {
            let size: f64 = node.attribute("font-size").unwrap().parse().unwrap();
            (node.text().unwrap().to_owned(), mm * size)
        })
        .collect()
}

#[test]
fn charts_for_slides_have_type_that_is_read_from_the_last_row_and_no_words_meet() {
    let paper = Paper {
        size: PaperSize::Wide,
        dpi: 72,
    };
    let mut charts = on_wall(
        &wall_scale(1800.0, 2.0),
        Some("Invented"),
        PaperSize::Wide,
        72,
    );
    charts.truncate(1);
    for beside in [false, true] {
        for to_nm in [700.0, 1800.0, 4000.0] {
            charts.push(of_scale(&scale(true, to_nm, 2.0, beside), paper));
        }
    }
    for (rows, columns) in [(3, 2), (6, 6), (2, 6)] {
        charts.push(of_matrix(&matrix(rows, columns), paper));
    }
    let scene = scene(path(true), lamp(), 20.0);
    let grid = all_sheets(Some(&scene), GridShown::default()).unwrap();
    let compared = compare_sheets(Some(&scene), None).unwrap();
    charts.push(of_matrix(&grid, paper));
    charts.push(compared_figure(Some("Invented"), &compared, &grid, paper).unwrap());
    for chart in charts {
        for theme in [SlideTheme::Light, SlideTheme::Dark] {
            let slides = chart.sheet.slides(theme);
            assert_eq!(slides.len(), 1);
            if theme == SlideTheme::Light {
                slides_can_be_read(chart.name, &slides, LEAST_TYPE);
            }
        }
    }
}

#[test]
fn a_name_of_each_plain_hue_stands_on_the_wall() {
    let figure = &on_wall(&wall_scale(1800.0, 1.0), None, PaperSize::A3, 72)[0];
    let words = texts(figure);
    for hue in ["green", "blue", "yellow", "red", "orange", "white", "pink"] {
        assert!(words.iter().any(|text| text == hue), "{hue}: {words:?}");
    }
    // A sign and the plate that it belongs to stay on one line.
    assert!(words.iter().all(|text| !text.ends_with(['+', '−'])));
}

#[test]
fn names_on_a3_have_capitals_of_six_millimetres_and_larger_paper_has_more_of_them() {
    let chart = wall_scale(1800.0, 1.0);
    let mut counts = Vec::new();
    for size in PAPERS {
        let figures = on_wall(&chart, None, size, 72);
        let sizes = sizes_mm(&figures[0]);
        let of = |words: &str| {
            let found = sizes.iter().find(|(text, _)| text == words);
            0.729 * found.unwrap_or_else(|| panic!("{size:?}: no {words}")).1
        };
        let least = match size {
            PaperSize::A4 => 4.4,
            PaperSize::Wide => 4.5,
            _ => 6.0,
        };
        let names = [
            "white",
            "yellow",
            "greyish blue",
            "quartz",
            "starch",
            "fluoride",
            "− plate",
        ];
        for name in names {
            assert!(of(name) >= least, "{size:?}, {name}: {}", of(name));
        }
        let names = sizes.iter().filter(|(_, mm)| 0.729 * mm >= least);
        counts.push(names.count());
    }
    let [a4, a3, a2, a1, _] = counts[..] else {
        unreachable!()
    };
    assert!(a4 < a3 && a3 < a2 && a2 < a1, "{counts:?}");
}

#[test]
fn neighbours_in_the_bands_of_the_printed_wall_differ_by_less_than_two() {
    let chart = wall_scale(1800.0, 1.0);
    let figure = &on_wall(&chart, None, PaperSize::A3, 300)[0];
    let picture = Pixmap::decode_png(&figure.png).unwrap();
    let images = boxes(figure, &picture, "image");
    // The soft colours, then the bands.
    assert_eq!(images.len(), 4);
    for ([left, top, width, height], _) in &images[1..] {
        let x = (left + 0.5 * width) as u32;
        let rows = (top + 3.0) as u32..(top + height - 3.0) as u32;
        let lab = |y| {
            let linear = linear(rgb(&picture, x, y));
            Lab::of(xyz(linear), crate::color::D65_WHITE)
        };
        let colors: Vec<Lab> = rows.map(lab).collect();
        let steps = colors.windows(2).map(|pair| ciede2000(pair[0], pair[1]));
        let most = steps.fold(0.0, f64::max);
        assert!(most < 2.0, "{most}");
        assert!(colors.len() > 2000);
    }
}

/// A colour's bytes as linear sRGB.
fn linear([red, green, blue]: [u8; 3]) -> [f64; 3] {
    let color = palette::Srgb::new(red, green, blue).into_format::<f64>();
    color.into_linear().into()
}

/// Tristimulus values of linear sRGB: the primaries of IEC 61966-2-1, four digits as it prints them (from memory).
fn xyz([r, g, b]: [f64; 3]) -> crate::color::Xyz {
    crate::color::Xyz([
        0.4124 * r + 0.3576 * g + 0.1805 * b,
        0.2126 * r + 0.7152 * g + 0.0722 * b,
        0.0193 * r + 0.1192 * g + 0.9505 * b,
    ])
}

#[test]
fn lines_run_over_the_soft_colours_of_the_band_and_ink_stands_out_from_them() {
    let chart = wall_scale(1800.0, 1.0);
    let figure = &on_wall(&chart, None, PaperSize::A3, 150)[0];
    let picture = Pixmap::decode_png(&figure.png).unwrap();
    let images = boxes(figure, &picture, "image");
    let ([soft_left, top, soft_width, height], [left, _, width, _]) = (images[0].0, images[1].0);
    let oklch = |color: [u8; 3]| Oklch::of_linear(linear(color));
    // At the right end of the panel, above all lines that end there.
    let (x, beside) = (
        (soft_left + soft_width - 8.0) as u32,
        (left + 0.5 * width) as u32,
    );
    for y in (top + 4.0) as u32..(top + 0.5 * height) as u32 {
        let (pale, full) = (oklch(rgb(&picture, x, y)), oklch(rgb(&picture, beside, y)));
        assert!(
            (1.0 - pale.lightness - 0.36 * (1.0 - full.lightness)).abs() < 0.01,
            "{y}"
        );
        assert!((pale.chroma - 0.36 * full.chroma).abs() < 0.01, "{y}");
    }
    let luminance = |linear: [f64; 3]| 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2];
    let ink = luminance(linear([INK.0, INK.1, INK.2]));
    // Between the ticks and the numbers there is nothing but the soft colour.
    let x = (soft_left + 20.0) as u32;
    for y in (top + 4.0) as u32..(top + height - 4.0) as u32 {
        let pale = oklch(rgb(&picture, x, y)).to_linear();
        let contrast = (luminance(pale) + 0.05) / (ink + 0.05);
        assert!(contrast >= 4.5, "{y}: {contrast}");
    }
}

#[test]
fn the_sheet_of_details_names_every_source_and_how_well_it_is_known() {
    let figures = on_wall(&wall_scale(600.0, 2.0), Some("Invented"), PaperSize::A3, 72);
    assert_eq!(figures[1].name, "chart-interference-details");
    assert!(figures[1].pdf.is_some());
    let words = texts(&figures[1]).join(" ");
    for thing in named_birefringences() {
        let source = thing.source.split([' ', ',']).next().unwrap();
        for word in [thing.called, thing.standing.word(), source] {
            assert!(words.contains(word), "{word}");
        }
    }
    for word in ["Invented", "CSS Color 4", "D = 1", CAUTION] {
        assert!(words.contains(word), "{word}: {words}");
    }
    let paper = Paper {
        size: PaperSize::A3,
        dpi: 72,
    };
    let error = wall_figures(None, &interference(), &[], paper).unwrap_err();
    assert!(
        error.to_string().contains("1 bands, needed are 3"),
        "{error}"
    );
}

#[test]
fn charts_that_are_no_tables_are_refused() {
    let refused = |chart: ChartRef<'_>, paper: Paper, said: &str| {
        let error = chart_figure("chart", None, chart, paper).unwrap_err();
        assert!(matches!(error, FigureError::Drawing { .. }));
        assert!(error.to_string().contains(said), "{error}");
    };
    let spoiled = |spoil: fn(&mut Scale), said: &str| {
        let mut chart = scale(true, 100.0, 10.0, false);
        spoil(&mut chart);
        refused(ChartRef::Scale(&chart), SCREEN, said);
    };
    spoiled(|chart| chart.path_difference_nm.truncate(1), "needed are 2");
    spoiled(|chart| chart.path_difference_nm[3] += 1.0, "equal steps");
    spoiled(|chart| chart.path_difference_nm.reverse(), "equal steps");
    spoiled(
        |chart| chart.path_difference_nm[4] = f64::NAN,
        "equal steps",
    );
    spoiled(|chart| chart.bands.clear(), "no column");
    spoiled(
        |chart| drop(chart.bands[1].tints.pop()),
        "10 values of `ideal: plate added`",
    );
    spoiled(
        |chart| chart.differences[0].ciede2000.clear(),
        "0 values of `ideal`",
    );
    let mut chart = matrix(2, 2);
    for dpi in [0, 71, 1201, u32::MAX] {
        refused(
            ChartRef::ColorGrid(&chart),
            Paper { dpi, ..SCREEN },
            "allowed are 72 to 1200",
        );
    }
    chart.panels[0].cells[1].clear();
    refused(ChartRef::ColorGrid(&chart), SCREEN, "not 2 rows of 2");
    refused(ChartRef::ColorGrid(&matrix(0, 2)), SCREEN, "no cells");
}

#[test]
fn a_chart_of_what_is_not_a_number_is_still_drawn() {
    let mut chart = scale(true, 600.0, 10.0, false);
    for band in &mut chart.bands {
        band.keenest_nm = f64::NAN;
        band.first_maximum = Some((f64::NAN, 1.0));
        band.discrimination_per_nm.fill(f64::NAN);
        band.tints[3].lab.0 = [f64::INFINITY; 3];
    }
    chart.differences[0].ciede2000.fill(f64::NAN);
    chart.lines = vec![
        line(f64::NAN),
        line(0.0),
        line(-1.0),
        line(1e300),
        line(1e-300),
    ];
    let figure = of_scale(&chart, SCREEN);
    assert!(!figure.svg.contains("NaN") && !figure.svg.contains("inf nm"));
}
