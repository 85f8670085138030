//! The strain between the polars as photographs tell it, with its error, beside what the back focal plane shows before and after.

use super::axes::AxisScale;
use super::look::*;
use super::map::ApertureMap;
use super::numbers::{extent, extinction};
use super::residuals::draw_zones;
use super::scale_bar::{bar, colored_bar};
use crate::optics::ZoneGrid;
use crate::output::disc::{LightScale, NO_NUMBER, Sampler, ramp};
use crate::output::findings::{FitReport, TELLS, findings, map_findings};
use crate::scene::Scene;
use crate::study::strain_between::{MapPictures, StrainBetween, StrainNode};

/// Middle of the strain's disc and of its error's, and where the three below stand.
const STRAIN: Point = (COLUMNS[0], 196.0);
const ERROR: Point = (COLUMNS[2], STRAIN.1);
const COLUMNS: [f64; 3] = [124.0, 326.0, 528.0];
const BELOW: f64 = 436.0;
/// Radius of every disc.
const RADIUS: f64 = 90.0;
/// Where what is said in sentences begins, and the height of a line.
const WORDS: f64 = 616.0;
const LINE: f64 = 18.0;
/// How far apart slow axes are drawn, and how long, over the radius.
const APART: f64 = 0.2;
const LONG: f64 = 0.07;
/// Pixels of a disc to a point.
const FINENESS: f64 = 2.0;
const CAPTION: Type = BODY.sized(14.0).centred();
const NOTE: Type = SOFT.sized(12.0).centred();

/// The figure "strain-map"; `report` is the fit that the map goes on from, `pictures` are those of [`StrainBetween::pictures`], `grid` is how
/// photographs are divided.
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn strain_map_figure(
    title: &str,
    scene: &Scene,
    (report, map): (&FitReport, &StrainBetween),
    pictures: Option<&MapPictures>,
    grid: ZoneGrid,
) -> Result<Figure, FigureError> {
    let planes = match pictures {
        None => Vec::new(),
        Some(pictures) => (pictures.light.iter())
            .map(|light| ApertureMap::of(&scene.path, &pictures.rays, light.clone()))
            .collect::<Result<Vec<_>, _>>()?,
    };
    let photographed = photographed(map, grid);
    let light = planes.iter().flat_map(|plane| plane.value.iter().copied());
    let scale = LightScale::of(light.chain(photographed.iter().flat_map(|seen| seen.1.clone())));
    let subtitle = format!(
        "Strain between the polars from {} photographs; East is right, North is up",
        map.lines.len()
    );
    let sentences = sentences(report, map);
    let said = |sheet: &Sheet| {
        let (set, lines) = (BODY.sized(13.0), (LINE, ROOM));
        (sentences.iter()).fold(WORDS, |y, words| {
            sheet.paragraph(words, (MARGIN, y), lines, set)
        })
    };
    let paint = |sheet: &Sheet| {
        let nm = |node: &StrainNode| node.path_difference_nm;
        strain_disc(sheet, map, STRAIN, nm);
        slow_axes(sheet, map);
        strain_disc(sheet, map, ERROR, |node| node.error_nm);
        let under = |(x, y): Point| (x + 14.0, y + RADIUS + 22.0);
        sheet.text("path difference, lines: slow axis", under(STRAIN), CAPTION);
        sheet.text("its error", under(ERROR), CAPTION);
        let [written, mapped, seen] = COLUMNS;
        let ratios = pictures.map(|pictures| pictures.extinction_ratio);
        let names = ["as the scenario is written", "map in it, else as written"];
        for (k, plane) in planes.iter().enumerate() {
            let at = ([written, mapped][k], BELOW);
            plane.draw_marked(sheet, &scale, (at, RADIUS));
            let ratio = ratios
                .map(|ratios| ratios[k])
                .filter(|ratio| ratio.is_finite());
            captions(
                sheet,
                at.0,
                names[k],
                &extinction("extinction ratio", ratio),
            );
        }
        if let Some((line, light)) = &photographed {
            let colors: Vec<[u8; 3]> = (light.iter())
                .map(|light| scale.color(ramp::colors(), *light))
                .collect();
            draw_zones(sheet, ((seen, BELOW), RADIUS), grid, &colors);
            let words = format!("photographed (line {line})");
            captions(sheet, seen, &words, "zones over their parallel light");
        }
        if !planes.is_empty() {
            let at = (0.5 * (written + mapped), BELOW + RADIUS + 62.0);
            sheet.text("marks: lower polar thick, analyzer thin", at, NOTE);
            bar(sheet, &scale, (BELOW - RADIUS, BELOW + RADIUS));
        }
        said(sheet);
    };
    // As high as the sentences reach.
    let height = said(&Sheet::new("", (WIDTH, 1.0)));
    draw("strain-map", (title, &subtitle), height, paint)
}

/// Which part is to blame, what is drawn, and what the map says.
fn sentences(report: &FitReport, map: &StrainBetween) -> Vec<String> {
    // The answer stands behind what is wrong with the readings.
    let answer = 1 + usize::from(report.fault.is_some());
    let blamed = findings(report).into_iter().take(answer);
    let drawn = "The map is the strain of all lenses between the polars together, and by itself cannot tell which of them has it; the sentence before this one is what the fit says that takes each lens to have strain of its own form.";
    let said = map_findings(map).into_iter();
    blamed.chain([drawn.to_owned()]).chain(said).collect()
}

/// The line of a photograph of the stand as written, and each zone's crossed over parallel light; of a colour camera the green channel's.
fn photographed(map: &StrainBetween, grid: ZoneGrid) -> Option<(usize, Vec<f64>)> {
    let line = map.as_written?;
    let of = map.residuals.iter().find(|of| of.line == line)?;
    let mut light = vec![f64::NAN; grid.count()];
    for zone in of
        .zones
        .iter()
        .filter(|zone| zone.channel.unwrap_or(1) == 1)
    {
        if let Some(light) = light.get_mut(zone.ring * grid.sectors() + zone.sector) {
            *light = 1.0 / zone.measured;
        }
    }
    Some((line, light))
}

/// Two lines under a disc of the lower row.
fn captions(sheet: &Sheet, x: f64, name: &str, note: &str) {
    let below = BELOW + RADIUS + 24.0;
    sheet.fitted(name, (x, below), 196.0, CAPTION);
    sheet.fitted(note, (x, below + 19.0), 196.0, NOTE);
}

/// A number of the map as a disc with its bar.
fn strain_disc(sheet: &Sheet, map: &StrainBetween, centre: Point, of: impl Fn(&StrainNode) -> f64) {
    let most = extent(map.disc.iter().map(&of)).map_or(0.0, |(_, most)| most);
    let most = if most > 0.0 && most.is_finite() {
        most
    } else {
        1.0
    };
    let side = (FINENESS * 2.0 * RADIUS).ceil() as u32;
    let colors = ramp::colors();
    let color = |_, [nm]: [f64; 1]| match nm.is_nan() {
        true => NO_NUMBER,
        false => {
            let place = (nm / most).clamp(0.0, 1.0);
            colors[(place * (colors.len() - 1) as f64).round() as usize]
        }
    };
    let values: Vec<[f32; 1]> = map.disc.iter().map(|node| [of(node) as f32]).collect();
    let sampler = Sampler::new(&map.drawn.ring, &map.drawn.spoke_rad, 1.0, side);
    let pixels = sampler.picture(&values, color);
    sheet.disc(centre, RADIUS, (side, pixels), Pen::full(INK, 1.2));
    let axis = AxisScale::linear(0.0, most, 5);
    let (ends, left) = (
        (centre.1 - RADIUS, centre.1 + RADIUS),
        centre.0 + RADIUS + 20.0,
    );
    colored_bar(sheet, axis, colors, left, ends);
    // The unit stands over the bar.
    sheet.text(
        "nm",
        (left + 12.0, ends.0 - 13.0),
        BODY.sized(13.0).centred(),
    );
}

/// Short lines along the slow axis, where the photographs tell it.
fn slow_axes(sheet: &Sheet, map: &StrainBetween) {
    let ((x, y), radius) = (STRAIN, RADIUS);
    let steps = (1.0 / APART).floor() as i32;
    for (row, column) in (-steps..=steps).flat_map(|r| (-steps..=steps).map(move |c| (r, c))) {
        let at = (APART * f64::from(column), APART * f64::from(row));
        let apart = |node: &StrainNode| {
            let off = (node.x / map.reach - at.0, node.y / map.reach - at.1);
            off.0 * off.0 + off.1 * off.1
        };
        let nearest = (map.disc.iter()).min_by(|a, b| apart(a).total_cmp(&apart(b)));
        let Some(node) = nearest.filter(|_| at.0.hypot(at.1) < 1.0 - LONG) else {
            continue;
        };
        if node.path_difference_nm < TELLS * node.error_nm {
            continue;
        }
        let (sin, cos) = node.slow_azimuth_rad.sin_cos();
        let end = |side: f64| {
            let along = side * LONG * radius;
            (
                x + radius * at.0 + along * cos,
                y - radius * at.1 - along * sin,
            )
        };
        let ends = [end(-1.0), end(1.0)];
        sheet.line(&ends, Pen::full(Color(0x10, 0x10, 0x14), 3.2));
        sheet.line(&ends, Pen::full(Color::WHITE, 1.5));
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::FRAC_PI_8;
    use std::sync::atomic::AtomicBool;

    use super::super::residuals_figure;
    use super::super::tests::{no_text_is_covered_or_cut, texts};
    use super::*;
    use crate::output::sheet::SlideTheme;
    use crate::scenario::read;
    use crate::study::draws::{Plan, Watch};
    use crate::study::fit::{BenchSetting, FitQuestion, Reading, Zone, fit, without_error};
    use crate::study::strain_between::strain_between;
    use crate::study::unknown::Unknowns;

    /// Photographs without error of a shipped stand, both polars turned a step further in each; in the last one the objective is turned.
    fn photographed(colors: usize) -> (Scene, FitReport, StrainBetween, ZoneGrid) {
        let scene = read("scenarios/leaking-stand.toml".as_ref()).unwrap().scene;
        let objective = (scene.path.parts.iter()).position(|part| part.name == "objective");
        let grid = ZoneGrid::new(2, 8).unwrap();
        let mut readings = Vec::new();
        for line in 0..4u32 {
            let channels = if colors == 3 { 3 } else { 1 };
            let zones = (0..channels).flat_map(|k| (0..grid.count()).map(move |zone| (k, zone)));
            let settings: Vec<BenchSetting> = zones
                .map(|(k, number)| BenchSetting {
                    polars_turned_rad: f64::from(line) * FRAC_PI_8,
                    turned: (line == 3)
                        .then_some((objective.unwrap(), 1.0))
                        .into_iter()
                        .collect(),
                    zone: Some(Zone {
                        grid,
                        number,
                        channel: (colors == 3).then_some(k),
                    }),
                    ..BenchSetting::default()
                })
                .collect();
            let ratios = without_error(&scene, &settings).unwrap();
            readings.extend(
                settings
                    .into_iter()
                    .zip(ratios)
                    .map(|(setting, ratio)| Reading {
                        line: 2 + line as usize,
                        ratio,
                        error: 0.02,
                        common_error: 0.05,
                        framing: [0.0; 3],
                        setting,
                        note: String::new(),
                    }),
            );
        }
        let names = ["condenser.radial.edge_nm".to_owned()];
        let unknowns = Unknowns::of_bench(&scene.path).only(&names).unwrap();
        let question = FitQuestion::new(Plan {
            draws: 100,
            seed: 1,
        });
        let stop = AtomicBool::new(false);
        let watch = Watch {
            progress: &|_| (),
            stop: &stop,
        };
        let answer = fit(&scene, &unknowns, &readings, &question, watch).unwrap();
        let stands = &answer.stands;
        let map = strain_between(&scene, &unknowns, &readings, stands, 0.02, watch).unwrap();
        (scene, FitReport::new(answer), map, grid)
    }

    /// The texts of each slide of a figure, and whether a picture is on it.
    fn slides(figure: &Figure) -> Vec<(String, bool)> {
        let slides = figure.sheet.slides(SlideTheme::Dark).into_iter();
        let told = slides.map(|slide| {
            let svg = slide.svg(("1", "1"));
            let document = resvg::usvg::roxmltree::Document::parse(&svg).unwrap();
            let texts = document
                .descendants()
                .filter(|node| node.has_tag_name("text"));
            let texts: Vec<&str> = texts.filter_map(|node| node.text()).collect();
            (texts.join(" "), svg.contains("<image"))
        });
        told.collect()
    }

    #[test]
    fn slides_of_photographs_tear_no_sentence_and_each_has_its_colours() {
        let (scene, report, map, grid) = photographed(1);
        let pictures = map.pictures(&scene).unwrap().unwrap();
        let figure =
            strain_map_figure("Stand", &scene, (&report, &map), Some(&pictures), grid).unwrap();
        let all = slides(&figure);
        let said = sentences(&report, &map);
        assert!(all.len() > 1 && said.len() > 3);
        // What is wrong with the readings stands before the answer, which stays right before what is said of the map.
        let told = FitReport {
            fault: Some("A fault.".to_owned()),
            ..report.clone()
        };
        assert_eq!(
            sentences(&told, &map)[..3],
            ["A fault.", &said[0], &said[1]]
        );
        for sentence in said {
            let holding = all.iter().filter(|slide| slide.0.contains(&sentence));
            assert_eq!(holding.count(), 1, "`{sentence}` in {all:#?}");
        }
        let figure = residuals_figure("Stand", &report.answer, Some(&map), grid);
        let all = slides(&figure.unwrap().unwrap());
        for words in ["measured less predicted light", "with map"] {
            let mut drawn = all.iter().filter(|slide| slide.1);
            assert!(drawn.all(|slide| slide.0.contains(words)), "{all:#?}");
        }
        for line in 2..6 {
            let holding = all
                .iter()
                .filter(|slide| slide.0.contains(&format!("line {line}")));
            assert_eq!(holding.count(), 1, "{all:#?}");
        }
    }

    #[test]
    fn figures_of_photographs_name_their_lines_and_no_text_covers_another() {
        for colors in [1, 3] {
            let (scene, report, map, grid) = photographed(colors);
            let answer = &report.answer;
            let pictures = map.pictures(&scene).unwrap().unwrap();
            let figure =
                strain_map_figure("Stand", &scene, (&report, &map), Some(&pictures), grid).unwrap();
            no_text_is_covered_or_cut(&figure);
            let said = texts(&figure);
            for words in [
                "its error",
                "nm",
                "as the scenario is written",
                "map in it, else as written",
                "photographed (line 2)",
                "marks: lower polar thick, analyzer thin",
                "Line 5 is left out of the map: a lens is turned in it.",
            ] {
                assert!(said.iter().any(|text| text == words), "{words}: {said:?}");
            }
            // Two discs of numbers, two back focal planes, one photograph.
            assert_eq!(figure.svg.matches("<image").count(), 5);
            let bare = strain_map_figure("Stand", &scene, (&report, &map), None, grid).unwrap();
            assert_eq!(bare.svg.matches("<image").count(), 3);
            let channels = if colors == 3 { 3 } else { 1 };
            for (map, discs) in [(None, 4 * channels), (Some(&map), 7 * channels)] {
                let figure = residuals_figure("Stand", answer, map, grid)
                    .unwrap()
                    .unwrap();
                no_text_is_covered_or_cut(&figure);
                assert_eq!(figure.svg.matches("<image").count(), discs);
                let left_out = texts(&figure)
                    .iter()
                    .filter(|text| *text == "left out")
                    .count();
                assert_eq!(left_out, if map.is_some() { channels } else { 0 });
            }
        }
    }

    #[test]
    fn a_zone_that_is_brighter_than_predicted_is_orange_and_one_that_was_not_read_is_grey() {
        let (_, report, _, grid) = photographed(1);
        let mut answer = report.answer;
        answer.readings.truncate(1);
        let zones = &mut answer.readings[0].zones;
        // Of the first ring, from East: as predicted, darker, brighter; the rest is not read.
        zones.truncate(3);
        for (zone, z) in zones.iter_mut().zip([0.0, 4.0, -4.0]) {
            zone.z = z;
        }
        let figure = residuals_figure("Stand", &answer, None, grid)
            .unwrap()
            .unwrap();
        let picture = resvg::tiny_skia::Pixmap::decode_png(&figure.png).unwrap();
        // The middle of the only disc, two pixels to a point.
        let middle = (2.0 * (MARGIN + 140.0 + 62.0), 2.0 * (116.0 + 62.0));
        let seen = |out: f64, azimuth_deg: f64| {
            let (sin, cos) = azimuth_deg.to_radians().sin_cos();
            let at = (middle.0 + out * cos, middle.1 - out * sin);
            let pixel = picture.pixel(at.0 as u32, at.1 as u32).unwrap();
            [pixel.red(), pixel.green(), pixel.blue()]
        };
        let colors = ramp::diverging();
        assert_eq!(seen(30.0, 22.0), colors[colors.len() / 2]);
        assert_eq!(seen(30.0, 67.0), colors[0]);
        assert_eq!(seen(30.0, 112.0), colors[colors.len() - 1]);
        assert_eq!(seen(30.0, 200.0), NO_NUMBER);
        let [red, _, blue] = seen(30.0, 112.0);
        assert!(red > blue);
        // In grey the signs tell: a stroke across in the darker zone, another upright in the brighter one, none in the one as predicted.
        let out = 108.0 * grid.middle(0).0;
        let ink = [INK.0, INK.1, INK.2];
        assert_ne!(seen(out, 22.5), ink);
        assert_eq!([seen(out, 67.5), seen(out, 112.5)], [ink; 2]);
        let above = |azimuth_deg: f64| {
            let (sin, cos) = azimuth_deg.to_radians().sin_cos();
            let (x, y) = (out * cos, out * sin + 4.0);
            seen(x.hypot(y), y.atan2(x).to_degrees())
        };
        assert_eq!([above(67.5) == ink, above(112.5) == ink], [false, true]);
        let said = texts(&figure).join(" ");
        assert!(said.contains("With the fitted parts more is left than noise: 3.3 errors root mean square (2 of 3 zones"), "{said}");
        for (z, words) in [
            (0.5, "within the noise: 0.50 errors"),
            (
                0.1,
                "far less than the zones' errors, which are told too large: 0.10 errors",
            ),
        ] {
            for zone in &mut answer.readings[0].zones {
                zone.z = z;
            }
            let figure = residuals_figure("Stand", &answer, None, grid)
                .unwrap()
                .unwrap();
            let said = texts(&figure).join(" ");
            assert!(said.contains(words), "{said}");
        }
    }
}
