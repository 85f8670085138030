//! Colour charts, against closed forms and against whole predictions.

use std::f64::consts::PI;

use polstack::color::{ColorWeights, Xyz, ciede2000};
use polstack::light_path::{LightPath, PartKind};
use polstack::material::catalog::SheetSection;
use polstack::material::{Birefringence, PolarizingSheet, catalog};
use polstack::optics::{Retarder, Specimen};
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::StudyError;
use polstack::study::chart::{
    ColorGrid, Dispersion, FIRST_ORDER_NM, GridShown, Polars, Scale, ScaleRequest, accessory_plate,
    background, compare_sheets, interference, plate, sheets, usual_irises, wall,
};
use polstack::study::predict::{predict, predict_seen};

use crate::common::close;
use crate::paths::{
    analyzer, ideal_lenses, ideal_sheet, lens, lens_pair, part, polarizer, retarder, sheet, slide,
    stack, uniform,
};
use crate::scene::scene_of;

fn lamp() -> Source {
    Source::named("led-b3").unwrap()
}

fn every_nm() -> WavelengthGrid {
    WavelengthGrid::new(380.0, 780.0, 1.0).unwrap()
}

fn asked<'a>(
    source: &'a Source,
    sheet: &'a PolarizingSheet,
    microscope: Option<(&'a LightPath, &'a WavelengthGrid)>,
) -> ScaleRequest<'a> {
    ScaleRequest {
        source,
        sheet,
        polars: Polars::Linear,
        dispersion: None,
        to_nm: 1200.0,
        step_nm: 12.5,
        exposure_stops: 0.0,
        adaptation_degree: 1.0,
        microscope,
    }
}

fn same(what: &str, got: Xyz, expected: Xyz, tolerance: f64) {
    for (axis, (got, expected)) in got.0.iter().zip(expected.0).enumerate() {
        close(&format!("{what}, axis {axis}"), *got, expected, tolerance);
    }
}

/// XYZ of a transmittance, over the luminance of another one.
fn relative(t: impl Fn(f64) -> f64, white: impl Fn(f64) -> f64) -> Xyz {
    let grid = every_nm();
    let weights = ColorWeights::new(&grid, &lamp()).unwrap();
    let all = |f: &dyn Fn(f64) -> f64| -> Xyz {
        let field: Vec<f64> = grid.wavelengths_nm().iter().map(|&nm| f(nm)).collect();
        weights.xyz(&field).unwrap()
    };
    all(&t).scaled(1.0 / all(&white).luminance())
}

fn wave(path_difference_nm: f64, nm: f64) -> f64 {
    (PI * path_difference_nm / nm).sin().powi(2)
}

#[test]
fn between_ideal_polars_linear_or_circular_light_is_the_squared_sine() {
    let (lamp, ideal) = (lamp(), ideal_sheet());
    for polars in [Polars::Linear, Polars::Circular] {
        let request = ScaleRequest {
            polars,
            ..asked(&lamp, &ideal, None)
        };
        let chart = interference(&request).unwrap();
        assert_eq!(chart.path_difference_nm.len(), 97);
        assert_eq!(chart.conditions.wavelengths_nm, (380.0, 780.0, 1.0));
        for (tint, &nm) in chart.bands[0].tints.iter().zip(&chart.path_difference_nm) {
            let exact = relative(|l| wave(nm, l), |_| 1.0);
            same(&format!("{polars:?} at {nm} nm"), tint.xyz, exact, 1e-13);
        }
    }
}

/// Crossed sheets with a retarder at 45 degrees: `k1 k2 + (k1 - k2)^2/2 sin^2(d/2)`; parallel ones without: `(k1^2 + k2^2)/2`.
#[test]
fn real_sheets_add_their_leak_and_circular_polars_do_not_change_that() {
    let (lamp, sheet) = (lamp(), catalog::sheet("iodine-medium").unwrap());
    let k = |nm| sheet.principal_transmittances(nm).unwrap();
    let quartz = Dispersion {
        name: "quartz".to_owned(),
        material: catalog::plate_material("quartz").unwrap(),
        at_nm: 589.3,
    };
    for polars in [Polars::Linear, Polars::Circular] {
        let request = ScaleRequest {
            polars,
            dispersion: Some(&quartz),
            ..asked(&lamp, &sheet, None)
        };
        let chart = interference(&request).unwrap();
        for (tint, &nm) in chart.bands[0].tints.iter().zip(&chart.path_difference_nm) {
            let crossed = |l: f64| {
                let (k1, k2) = k(l);
                let here = nm * quartz.material.relative(l, 589.3).unwrap();
                k1 * k2 + 0.5 * (k1 - k2).powi(2) * wave(here, l)
            };
            let parallel = |l| 0.5 * (k(l).0.powi(2) + k(l).1.powi(2));
            let exact = relative(crossed, parallel);
            same(&format!("{polars:?} at {nm} nm"), tint.xyz, exact, 1e-13);
        }
    }
}

fn ideal_microscope() -> LightPath {
    let mut parts = vec![polarizer(ideal_sheet(), 20.0)];
    parts.extend(ideal_lenses(0.3));
    parts.push(part("plate", PartKind::Plate(retarder(550.0, 65.0))));
    parts.push(analyzer(ideal_sheet(), 110.0));
    stack(0.3, parts)
}

#[test]
fn an_ideal_microscope_shows_the_ideal_chart_with_its_plate_out_added_and_subtracted() {
    let (lamp, ideal, grid) = (lamp(), ideal_sheet(), WavelengthGrid::default());
    for slow_deg in [65.0, -25.0] {
        let mut path = ideal_microscope();
        path.parts[3].kind = PartKind::Plate(retarder(550.0, slow_deg));
        let request = asked(&lamp, &ideal, Some((&path, &grid)));
        let alone = interference(&request).unwrap();
        let chart = plate(&request, None).unwrap();
        assert_eq!((alone.bands.len(), chart.bands.len()), (2, 6));
        for (k, &nm) in chart.path_difference_nm.iter().enumerate() {
            let xyz = |chart: &Scale, band: usize| chart.bands[band].tints[k].xyz;
            same("alone", xyz(&alone, 1), xyz(&alone, 0), 1e-10);
            for (band, with) in [(0, nm), (1, nm + 550.0), (2, nm - 550.0)] {
                let exact = relative(|l| wave(with, l), |_| 1.0);
                same(
                    &format!("{band} at {nm} nm"),
                    xyz(&chart, band),
                    exact,
                    1e-10,
                );
                same("microscope", xyz(&chart, band + 3), exact, 1e-10);
            }
        }
        // Where the plate is compensated nothing is left.
        let (dark_nm, dark) = chart.bands[5].first_minimum.unwrap();
        close("compensation, nm", dark_nm, 550.0, 1e-3);
        close("and the light there", dark, 0.0, 1e-10);
    }
}

fn leaky(specimen: Option<(f64, f64)>, circular: bool) -> LightPath {
    let (condenser_strain, objective_strain) = (vec![uniform(4.0, 20.0)], vec![uniform(6.0, 65.0)]);
    let [_, objective] = lens_pair(0.3, [Vec::new(), objective_strain]);
    let condenser = lens(0.3, 4, polstack::optics::Coating::None, condenser_strain);
    let specimen = specimen.map(|(nm, azimuth_deg)| {
        let stated = Specimen::Stated {
            path_difference_nm: nm,
            slow_azimuth_rad: f64::to_radians(azimuth_deg),
        };
        part("specimen", PartKind::Specimen(stated))
    });
    let wave = |azimuth_deg| {
        circular.then(|| part("wave", PartKind::Retarder(retarder(137.5, azimuth_deg))))
    };
    let plate = Retarder {
        material: catalog::plate_material("quartz").unwrap(),
        ..retarder(550.0, -30.0)
    };
    let parts = [
        Some(polarizer(sheet(0.8, 1e-4), 10.0)),
        wave(55.0),
        Some(part("condenser", PartKind::Condenser(condenser))),
        Some(slide()),
        specimen,
        Some(objective),
        Some(part("plate", PartKind::Plate(plate))),
        wave(-35.0),
        Some(analyzer(sheet(0.8, 1e-4), 101.0)),
    ];
    let mut path = stack(0.3, parts.into_iter().flatten().collect());
    path.stray_fraction = 1e-4;
    path
}

/// The chart's specimen lies along the plate: its slow azimuth is 10 - 45 degrees, the plate's -30.
#[test]
fn a_microscopes_colours_are_those_of_whole_predictions() {
    let (lamp, ideal, grid) = (lamp(), ideal_sheet(), every_nm());
    for circular in [false, true] {
        let path = leaky(None, circular);
        let request = asked(&lamp, &ideal, Some((&path, &grid)));
        let (alone, with_plate) = (
            interference(&request).unwrap(),
            plate(&request, None).unwrap(),
        );
        for k in [0, 1, 7, 22, 40, 96] {
            let nm = alone.path_difference_nm[k];
            for (azimuth_deg, bands) in [(-35.0, [Some(3), Some(4)]), (55.0, [None, Some(5)])] {
                let path = leaky(Some((nm, azimuth_deg)), circular);
                let seen = predict(&scene_of(&path, &lamp, &grid)).unwrap();
                let looks = [
                    seen.background.without_plate,
                    seen.background.with_plate.unwrap(),
                ];
                for (band, look) in bands.into_iter().zip(looks) {
                    let Some(band) = band else { continue };
                    let tint = &with_plate.bands[band].tints[k];
                    let off = 1e-6 * look.relative_luminance;
                    same(
                        &format!("band {band} at {nm} nm"),
                        tint.xyz,
                        Xyz(look.xyz),
                        off,
                    );
                }
            }
            let (one, other) = (&alone.bands[1].tints[k], &with_plate.bands[3].tints[k]);
            assert_eq!(one, other, "a plate that is out does nothing");
        }
    }
}

#[test]
fn the_specimen_of_the_scenario_gives_way_to_the_charts() {
    let (lamp, ideal, grid) = (lamp(), ideal_sheet(), WavelengthGrid::default());
    let chart =
        |path: &LightPath| interference(&asked(&lamp, &ideal, Some((path, &grid)))).unwrap();
    let (without, with) = (
        chart(&leaky(None, false)),
        chart(&leaky(Some((90.0, 70.0)), false)),
    );
    assert_eq!(without.bands, with.bands);
    assert_eq!(
        with.conditions.notes.len(),
        without.conditions.notes.len() + 1
    );
}

/// Far up, where phase runs fast over the wavelengths, light is half of all and steps of wavelength become finer.
#[test]
fn high_orders_are_white_of_half_the_light_and_need_finer_wavelengths() {
    let (lamp, ideal) = (lamp(), ideal_sheet());
    let request = ScaleRequest {
        to_nm: 60_000.0,
        step_nm: 3000.0,
        ..asked(&lamp, &ideal, None)
    };
    let chart = interference(&request).unwrap();
    assert_eq!(chart.conditions.wavelengths_nm.2, 0.2);
    let tint = chart.bands[0].tints.last().unwrap();
    close("luminance", tint.xyz.luminance(), 0.5, 5e-3);
    assert!(tint.lab.0[1].hypot(tint.lab.0[2]) < 3.0, "{:?}", tint.lab);
    for wrong in [f64::NAN, 0.0, 9.0, 1e6, f64::INFINITY] {
        let request = ScaleRequest {
            to_nm: wrong,
            ..request
        };
        assert!(interference(&request).is_err(), "{wrong}");
    }
    for wrong in [f64::NAN, -1.0, 0.0, 1.0, 1e6] {
        let request = ScaleRequest {
            step_nm: wrong,
            ..request
        };
        assert!(interference(&request).is_err(), "{wrong}");
    }
}

#[test]
fn a_plate_is_needed_where_one_is_to_be_added() {
    let (lamp, ideal, grid) = (lamp(), ideal_sheet(), WavelengthGrid::default());
    let mut path = ideal_microscope();
    path.parts.remove(3);
    let request = asked(&lamp, &ideal, Some((&path, &grid)));
    assert_eq!(plate(&request, None), Err(StudyError::NoPlate));
    assert_eq!(
        plate(&asked(&lamp, &ideal, None), None),
        Err(StudyError::NoPlate)
    );
}

/// As bright as white, light of one colour would be mapped to white.
#[test]
fn light_of_one_colour_is_shown_darker_and_keeps_its_hue() {
    let ideal = ideal_sheet();
    for (centre_nm, word) in [(546.1, "green"), (589.3, "orange"), (650.0, "red")] {
        let line = Source::Line {
            centre_nm,
            width_nm: 10.0,
        };
        let chart = interference(&asked(&line, &ideal, None)).unwrap();
        assert!(chart.exposure_stops < 0.0 && !chart.conditions.white_balanced);
        let brightest = (chart.bands[0].tints.iter())
            .max_by(|a, b| a.xyz.luminance().total_cmp(&b.xyz.luminance()))
            .unwrap();
        assert!(brightest.name.ends_with(word), "{}", brightest.name);
    }
    let (lamp, white) = (lamp(), interference(&asked(&lamp(), &ideal, None)).unwrap());
    assert_eq!(white.exposure_stops, 0.0, "{}", lamp.name());
}

/// Linear and circular polars, with and without an objective; a plate of its own gives way.
#[test]
fn a_plate_put_into_an_ideal_microscope_adds_and_subtracts_what_it_has() {
    let (lamp, ideal, grid) = (lamp(), ideal_sheet(), WavelengthGrid::default());
    let quarter = |azimuth_deg| part("wave", PartKind::Retarder(retarder(137.5, azimuth_deg)));
    let own = ideal_microscope();
    let mut circular = ideal_microscope();
    circular.parts.remove(3);
    circular.parts.insert(3, quarter(-25.0));
    circular.parts.insert(1, quarter(65.0));
    let mut bare = circular.clone();
    bare.parts
        .retain(|part| !["condenser", "objective"].contains(&part.kind.word()));
    // So narrow that obliquity leaks nothing.
    bare.view_na = Some(1e-3);
    bare.iris_na = None;
    for path in [own, circular, bare] {
        path.check(grid.wavelengths_nm()).unwrap();
        let request = asked(&lamp, &ideal, Some((&path, &grid)));
        let chart = plate(&request, Some(&retarder(137.0, 0.0))).unwrap();
        for (k, &nm) in chart.path_difference_nm.iter().enumerate() {
            for (band, with) in [(3, nm), (4, nm + 137.0), (5, nm - 137.0)] {
                let exact = relative(|l| wave(with, l), |_| 1.0);
                let words = format!("{} parts, {band} at {nm} nm", path.parts.len());
                same(&words, chart.bands[band].tints[k].xyz, exact, 1e-10);
            }
        }
    }
}

#[test]
fn a_background_of_the_chart_is_the_prediction_of_the_changed_path() {
    let (lamp, grid) = (lamp(), WavelengthGrid::default());
    let path = leaky(Some((90.0, 70.0)), false);
    let (strain_nm, iris_na) = ([0.0, 6.0, 30.0], [0.1, 0.3]);
    let chart = background(
        &scene_of(&path, &lamp, &grid),
        &strain_nm,
        &iris_na,
        GridShown::default(),
    )
    .unwrap();
    assert_eq!(chart.panels.len(), 2);
    for (row, nm) in strain_nm.into_iter().enumerate() {
        for (column, na) in iris_na.into_iter().enumerate() {
            let mut path = leaky(None, false);
            path.iris_na = Some(na);
            for part in &mut path.parts {
                if let PartKind::Objective(lens) = &mut part.kind {
                    lens.strain = vec![uniform(nm, 65.0)];
                }
            }
            let seen = predict(&scene_of(&path, &lamp, &grid)).unwrap();
            for (panel, look) in (chart.panels.iter()).zip([
                &seen.background.without_plate,
                seen.background.with_plate.as_ref().unwrap(),
            ]) {
                let tint = &panel.cells[row][column];
                same(&format!("{nm} nm, NA {na}"), tint.xyz, Xyz(look.xyz), 1e-15);
            }
            let (got, expected) = (chart.extinction_ratio[row][column], seen.extinction_ratio);
            close(
                "extinction",
                got.unwrap(),
                expected.unwrap(),
                1e-9 * expected.unwrap(),
            );
        }
    }
    // With the plate in the cells are told apart by how far they are from the first.
    let plate_in = &chart.panels[1];
    let first = plate_in.cells[0][0].lab;
    for (labels, tints) in plate_in.labels.iter().zip(&plate_in.cells) {
        for (label, tint) in labels.iter().zip(tints) {
            assert_eq!(*label, format!("{:.1}", ciede2000(first, tint.lab)));
        }
    }
    assert!(plate_in.labels[2][0].parse::<f64>().unwrap() > 1.0);
    let tells_nothing = |chart: &ColorGrid| {
        let mut notes = chart.conditions.notes.iter();
        notes.any(|note| note.contains("an eye sees no difference"))
    };
    assert!(!tells_nothing(&chart));
    let weak = background(
        &scene_of(&path, &lamp, &grid),
        &[0.0, 0.1],
        &[0.1],
        GridShown::default(),
    )
    .unwrap();
    assert!(tells_nothing(&weak), "{:?}", weak.conditions.notes);
    for panel in &chart.panels {
        let channels = panel
            .cells
            .iter()
            .flatten()
            .flat_map(|tint| tint.swatch.linear);
        let brightest = channels.fold(0.0, f64::max);
        assert!(
            brightest > 0.93 && brightest <= 1.0,
            "{}: {brightest}",
            panel.heading
        );
    }
    for (strain, na) in [
        (-1.0, 0.1),
        (f64::NAN, 0.1),
        (1.0, 0.31),
        (1.0, 0.0),
        (1.0, f64::NAN),
    ] {
        assert!(
            background(
                &scene_of(&path, &lamp, &grid),
                &[strain],
                &[na],
                GridShown::default()
            )
            .is_err(),
            "{strain} {na}"
        );
    }
}

#[test]
fn irises_rise_in_round_steps_to_the_paths_own() {
    for (na, irises) in [
        (0.6, vec![0.1, 0.2, 0.3, 0.4, 0.5, 0.6]),
        (0.25, vec![0.05, 0.1, 0.15, 0.2, 0.25]),
        (0.65, vec![0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.65]),
        (0.03, vec![0.03]),
    ] {
        let mut path = ideal_microscope();
        for part in &mut path.parts {
            if let PartKind::Condenser(lens) | PartKind::Objective(lens) = &mut part.kind {
                lens.na = 0.9;
            }
        }
        path.iris_na = Some(na);
        assert_eq!(usual_irises(&path), irises);
    }
}

/// The same sheets between ideal lenses, below the condenser and above the objective, are sheets in collimated light.
#[test]
fn sheets_between_ideal_lenses_look_as_in_collimated_light() {
    let all = ["iodine-dense", "iodine-medium", "iodine-pale", "ideal"]
        .map(|name| catalog::sheet(name).unwrap());
    let lamps = [lamp(), Source::named("cie-a").unwrap()];
    let (grid, path) = (every_nm(), ideal_microscope());
    let bare = sheets(&all, &lamps, &grid, None, GridShown::default()).unwrap();
    let mounted = sheets(&all, &lamps, &grid, Some(&path), GridShown::default()).unwrap();
    for (row, sheet) in all.iter().enumerate() {
        let k = |nm| sheet.principal_transmittances(nm).unwrap();
        let exact = [
            relative(|l| 0.5 * (k(l).0.powi(2) + k(l).1.powi(2)), |_| 1.0),
            relative(
                |l| k(l).0 * k(l).1,
                |l| 0.5 * (k(l).0.powi(2) + k(l).1.powi(2)),
            ),
        ];
        for (panel, exact) in exact.into_iter().enumerate() {
            same(
                &sheet.name,
                bare.panels[panel].cells[row][0].xyz,
                exact,
                1e-14,
            );
            for column in 0..2 {
                let xyz = |chart: &ColorGrid| chart.panels[panel].cells[row][column].xyz;
                same("mounted", xyz(&mounted), xyz(&bare), 1e-14);
            }
        }
        let leaks = sheet.name != "ideal";
        assert_eq!(bare.extinction_ratio[row][0].is_some(), leaks);
        if leaks {
            let expected = 1.0 / exact[1].luminance();
            close(
                "ratio",
                bare.extinction_ratio[row][0].unwrap(),
                expected,
                1e-9 * expected,
            );
        }
    }
    // Crossed, each row is as bright as a screen can show it, to a tenth of a stop; an exposure that is asked for is that of all.
    for row in 0..3 {
        let cells = &bare.panels[1].cells[row];
        let brightest = cells
            .iter()
            .flat_map(|tint| tint.linear)
            .fold(0.0, f64::max);
        assert!((0.93..1.0 + 1e-6).contains(&brightest), "{brightest}");
    }
    let stops = bare.panels[1].row_exposure_stops.as_ref().unwrap();
    let least = stops
        .iter()
        .filter(|stops| **stops > 0.0)
        .copied()
        .fold(f64::MAX, f64::min);
    assert_eq!(bare.panels[1].exposure_stops, least);
    assert_eq!(bare.panels[0].row_exposure_stops, None);
    let asked = GridShown {
        exposure_stops: Some(2.0),
        ..GridShown::default()
    };
    let asked = sheets(&all, &lamps, &grid, None, asked).unwrap();
    assert_eq!(
        (
            asked.panels[1].exposure_stops,
            &asked.panels[1].row_exposure_stops
        ),
        (2.0, &None)
    );
    // An ideal pair leaks least, whatever the others pass; all labels of a panel are of one kind.
    let leak = |row: usize| bare.panels[1].cells[row][0].xyz.luminance();
    assert!((0..3).all(|row| leak(row) > leak(3)));
    assert!(
        bare.panels[0]
            .labels
            .iter()
            .flatten()
            .all(|label| label.ends_with('%'))
    );
    let fraction = |label: &String| label.starts_with("1/") || label == "none";
    assert!(bare.panels[1].labels.iter().flatten().all(fraction));
    // The lamp is white: the parallel pair of ideal sheets is half of it, of no colour.
    let [l, a, b] = bare.panels[0].cells[3][1].lab.0;
    close("L*", l, 116.0 * 0.5f64.cbrt() - 16.0, 1e-9);
    close("a*, b*", a.hypot(b), 0.0, 1e-9);
}

/// Light by closed form, ratios as `predict` has them, intervals as wide as what the catalog leaves open.
#[test]
fn compared_sheets_are_those_of_closed_forms_and_predictions() {
    let own = scene_of(&leaky(None, false), &lamp(), &WavelengthGrid::default());
    let answer = compare_sheets(Some(&own), None).unwrap();
    assert_eq!(answer.lamp, lamp().name());
    let mut sum = 0.0;
    for row in &answer.sheets {
        sum += row.darkest_probability.unwrap_or(0.0);
        let Some(sheet) = catalog::sheet(&row.sheet) else {
            assert_eq!(row.section, SheetSection::Own);
            assert_eq!(row.one.doubt, None);
            continue;
        };
        let k = |nm| sheet.principal_transmittances(nm).unwrap();
        let one = |f: f64| relative(move |l| 0.5 * (f * k(l).0 + k(l).1), |_| 1.0).luminance();
        close(&row.sheet, row.one.transmittance, one(1.0), 2e-5);
        if let Some((least, most)) = catalog::sheet_about(&row.sheet).unwrap().k1_factors {
            let at = |part: f64| one(least + part * (most - least));
            let doubt = row.one.doubt.unwrap();
            close(&row.sheet, doubt.low, at(0.05), 2e-5);
            close(&row.sheet, doubt.high, at(0.95), 2e-5);
            // The ratio of a pair is k1/(2 k2), and 90 % of k2 lie within a factor of 5: of 1000 draws the ends are known to some percent.
            let (ratio, pair) = (row.pair.extinction_ratio.unwrap(), row.pair.doubt.unwrap());
            assert!(
                (4.0..6.2).contains(&(ratio / pair.low)),
                "{}: {pair:?}",
                row.sheet
            );
            assert!(
                (4.0..6.2).contains(&(pair.high / ratio)),
                "{}: {pair:?}",
                row.sheet
            );
        } else {
            assert_eq!(row.section, SheetSection::Ideal);
            assert_eq!(
                (row.one.doubt, row.pair.doubt, row.cover),
                (None, None, None)
            );
            assert_eq!(row.darkest_probability, None);
        }
        let mut placed = own.path.clone();
        for part in &mut placed.parts {
            if let PartKind::Polarizer(polar) | PartKind::Analyzer(polar) = &mut part.kind {
                polar.sheet = sheet.clone();
            }
        }
        let seen = predict(&scene_of(&placed, &lamp(), &WavelengthGrid::default())).unwrap();
        let (got, expected) = (row.placed.extinction_ratio, seen.extinction_ratio);
        close(
            &row.sheet,
            got.unwrap(),
            expected.unwrap(),
            1e-4 * expected.unwrap(),
        );
    }
    close("probabilities of being the darkest", sum, 1.0, 1e-9);
}

#[test]
fn one_wavelength_is_dark_at_every_whole_order() {
    let line = Source::Line {
        centre_nm: 546.1,
        width_nm: 5.0,
    };
    let (grid, ideal, path) = (
        WavelengthGrid::single(546.1),
        ideal_sheet(),
        ideal_microscope(),
    );
    let chart = interference(&asked(&line, &ideal, Some((&path, &grid)))).unwrap();
    assert!(!chart.conditions.white_balanced);
    for band in &chart.bands {
        close("brightest", band.first_maximum.unwrap().0, 273.05, 1e-4);
        close("darkest", band.first_minimum.unwrap().0, 546.1, 1e-4);
    }
    assert_eq!(Birefringence::None.relative(400.0, 500.0), Ok(1.0));
}

/// Full adaptation to the lamp and none at all leave the light as it is; the screen's colours lie in proportion between them.
#[test]
fn adaptation_changes_how_colours_are_shown_and_nothing_of_the_light() {
    let (source, grid) = (Source::named("cie-a").unwrap(), WavelengthGrid::default());
    let scene = scene_of(&leaky(Some((90.0, 70.0)), false), &source, &grid);
    let at = |degree| predict_seen(&scene, degree).unwrap();
    let [none, half, full] = [0.0, 0.5, 1.0].map(at);
    assert_eq!(full, predict(&scene).unwrap());
    for other in [&none, &half] {
        assert_eq!(other.spectrum, full.spectrum);
        assert_eq!(other.leak, full.leak);
        assert_eq!(other.extinction_ratio, full.extinction_ratio);
        let (one, two) = (
            &other.background.without_plate,
            &full.background.without_plate,
        );
        assert_eq!(
            (one.xyz, one.relative_luminance),
            (two.xyz, two.relative_luminance)
        );
    }
    assert_eq!(half.background.without_plate.adaptation.degree, Some(0.5));
    let ideal = ideal_sheet();
    let lab = |degree| {
        let request = ScaleRequest {
            adaptation_degree: degree,
            ..asked(&source, &ideal, None)
        };
        let chart = interference(&request).unwrap();
        assert_eq!(chart.conditions.adaptation_degree, Some(degree));
        (chart.bands[0].tints.clone(), chart.exposure_stops)
    };
    let ((none, darker), (full, as_white)) = (lab(0.0), lab(1.0));
    // Lamplight that is not taken for white leaves the screen's gamut unless it is shown darker.
    assert!((-1.0..-0.8).contains(&darker) && as_white == 0.0);
    for (none, full) in none.iter().zip(&full) {
        assert_eq!(none.xyz, full.xyz);
    }
    // Tungsten light is yellower than daylight: first-order white is white to an eye adapted to it, orange or yellow to one that is not.
    let white = 20; // 250 nm
    assert!(full[white].lab.0[2].abs() < 15.0 && none[white].lab.0[2] > 50.0);
    for degree in [-0.1, 1.1, f64::NAN] {
        assert!(predict_seen(&scene, degree).is_err(), "{degree}");
        let request = ScaleRequest {
            adaptation_degree: degree,
            ..asked(&source, &ideal, None)
        };
        assert!(interference(&request).is_err(), "{degree}");
        let shown = GridShown {
            adaptation_degree: degree,
            ..GridShown::default()
        };
        assert!(
            sheets(
                std::slice::from_ref(&ideal),
                std::slice::from_ref(&source),
                &grid,
                None,
                shown
            )
            .is_err()
        );
    }
}

/// A chart for the wall shows the sheets asked for, or the microscope alone where there is one: the same colours as the chart of a plate.
#[test]
fn the_bands_of_the_wall_are_the_last_ones_of_the_chart_of_a_plate() {
    let (lamp, ideal, grid) = (lamp(), ideal_sheet(), every_nm());
    let own = accessory_plate(FIRST_ORDER_NM);
    let path = leaky(None, false);
    for microscope in [None, Some((&path, &grid))] {
        let request = asked(&lamp, &ideal, microscope);
        let chart = plate(&request, Some(&own)).unwrap();
        let wall = wall(&request, Some(&own)).unwrap();
        assert_eq!(wall.bands.len(), 3);
        assert_eq!(wall.bands, chart.bands[chart.bands.len() - 3..]);
        assert_eq!(
            wall.differences,
            chart.differences[chart.differences.len() - 1..]
        );
        let own = wall.conditions.polars == "the scenario's own polars";
        assert_eq!(own, microscope.is_some());
    }
}
