//! Where the lower polar belongs: what `place` finds, confirmed by `predict`.

use polstack::calculus::Stokes;
use polstack::light_path::{Crossing, LightPath, Part, PartKind};
use polstack::optics::{Coating, RadialSlow, Specimen, Strain};
use polstack::scenario;
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::place::{
    Amount, BestPlace, NoBest, Note, OIL_INDEX, Place, PlacedPath, Placement, Refusal, StrainFlip,
    analyzer_places, place, places,
};
use polstack::study::predict::predict;

use crate::common::close;
use crate::paths::{
    analyzer, ideal_sheet, lens, lens_pair, part, polarizer, retarder, sheet, slide, stack, uniform,
};
use crate::scene::scene_of;

fn grid() -> WavelengthGrid {
    WavelengthGrid::new(400.0, 700.0, 30.0).unwrap()
}

fn lamp() -> Source {
    Source::named("led-b3").unwrap()
}

fn placed(path: &LightPath) -> Placement {
    place(&scene_of(path, &lamp(), &grid()), true, 1000.0).unwrap()
}

/// Luminous extinction ratio of an empty field, by `predict`.
fn extinction(path: &LightPath) -> f64 {
    let answer = predict(&scene_of(&path.without_specimens(), &lamp(), &grid())).unwrap();
    answer.extinction_ratio.unwrap_or(f64::INFINITY)
}

fn with_iris(path: &LightPath, na: f64) -> LightPath {
    let mut path = path.clone();
    path.iris_na = Some(na);
    path
}

fn strained(path: &LightPath, strain: impl Fn(&[Strain]) -> Vec<Strain>) -> LightPath {
    let mut path = path.clone();
    for part in &mut path.parts {
        if let PartKind::Condenser(lens) = &mut part.kind {
            lens.strain = strain(&lens.strain);
        }
    }
    path
}

/// A strained condenser under a dry objective, the sheet below it.
fn dry(na: f64, strain: Vec<Strain>) -> LightPath {
    stack(
        na,
        vec![
            polarizer(sheet(0.8, 1e-6), 0.0),
            part(
                "condenser",
                PartKind::Condenser(lens(0.8, 4, Coating::Mgf2, strain)),
            ),
            slide(),
            part(
                "objective",
                PartKind::Objective(lens(0.7, 6, Coating::Mgf2, Vec::new())),
            ),
            analyzer(sheet(0.8, 1e-6), 90.0),
        ],
    )
}

/// Two lenses, a strained one below and a good one above, the sheet above both.
fn two_lenses() -> LightPath {
    let condenser = |name, na, strain| {
        part(
            name,
            PartKind::Condenser(lens(na, 2, Coating::Mgf2, strain)),
        )
    };
    let clamp = Strain::Clamp {
        contacts: 3,
        force_n: 4.0,
        diameter_mm: 24.0,
        first_azimuth_rad: 0.2,
        stress_optic_brewster: 2.75,
    };
    stack(
        0.5,
        vec![
            condenser("lower lens", 0.4, vec![clamp]),
            condenser("upper lens", 0.9, vec![radial(6.0)]),
            polarizer(sheet(0.8, 1e-6), 0.0),
            slide(),
            part(
                "objective",
                PartKind::Objective(lens(0.65, 6, Coating::Mgf2, Vec::new())),
            ),
            analyzer(sheet(0.8, 1e-6), 90.0),
        ],
    )
}

fn radial(edge_nm: f64) -> Strain {
    Strain::radial(edge_nm)
}

fn verdicts(answer: &Placement) -> impl Iterator<Item = &BestPlace> {
    [Some(&answer.verdict), answer.without_oil.as_ref()]
        .into_iter()
        .flatten()
}

/// `at(place, x)` by `predict` a little on either side of a flip: `from` is the best of the rivals below it, `to` above.
#[track_caller]
fn flips_there(
    what: &str,
    verdict: &BestPlace,
    (x, uncertainty): (f64, f64),
    (from, to): (usize, usize),
    at: impl Fn(usize, f64) -> f64,
) {
    let step = (1e-3 * x).max(3.0 * uncertainty);
    assert!(step < 0.1 * x, "{what}: uncertain by {uncertainty:e}");
    for (x, best) in [(x - step, from), (x + step, to)] {
        for &rival in verdict.rivals.iter().filter(|rival| **rival != best) {
            let (best, rival) = (at(best, x), at(rival, x));
            assert!(best > rival, "{what} at {x}: {best} against {rival}");
        }
    }
}

fn confirm_iris_flips(what: &str, answer: &Placement) -> usize {
    let mut count = 0;
    for verdict in verdicts(answer) {
        for flip in &verdict.iris_flips {
            let at =
                |place: usize, na| extinction(&with_iris(&answer.lower[place].placed.path, na));
            let x = (flip.iris_na, flip.uncertainty);
            flips_there(what, verdict, x, (flip.from, flip.to), at);
            let ratio = flip.extinction_ratio.unwrap();
            close(what, at(flip.from, flip.iris_na) / ratio, 1.0, 1e-5);
            count += 1;
        }
        // Without a flip between two settings the best place is the same at both.
        for (nas, best) in answer.iris_na.windows(2).zip(verdict.best_at.windows(2)) {
            let between = |na: f64| nas[0] < na && na < nas[1];
            let flips = verdict
                .iris_flips
                .iter()
                .filter(|flip| between(flip.iris_na));
            assert!(best[0] == best[1] || flips.count() > 0, "{what}: {nas:?}");
        }
    }
    count
}

fn confirm_strain_flips(what: &str, answer: &Placement) -> usize {
    let assumed = answer.strain.unwrap().assumed;
    let mut count = 0;
    for verdict in verdicts(answer) {
        for flip in &verdict.strain_flips {
            let at = |place: usize, factor: f64| {
                let path = strained(&answer.lower[place].placed.path, |strain| {
                    if assumed {
                        return vec![radial(factor * edge_nm(flip) / flip.factor)];
                    }
                    strain.iter().map(|strain| strain.scaled(factor)).collect()
                });
                extinction(&path)
            };
            let x = (flip.factor, flip.factor * flip.relative_uncertainty);
            flips_there(what, verdict, x, (flip.from, flip.to), at);
            count += 1;
        }
    }
    count
}

fn edge_nm(flip: &StrainFlip) -> f64 {
    match flip.profiles[0].amount {
        Amount::Radial { edge_nm } => edge_nm,
        other => panic!("{other:?} is no radial strain"),
    }
}

#[test]
fn every_flip_is_confirmed_by_predict_on_both_sides() {
    let (mut by_iris, mut by_strain) = (0, 0);
    for (what, path) in [
        ("uniform strain", dry(0.45, vec![uniform(1.0, 45.0)])),
        ("no strain", dry(0.3, Vec::new())),
        (
            "two profiles",
            dry(0.6, vec![radial(20.0), uniform(2.0, 20.0)]),
        ),
        ("two lenses", two_lenses()),
    ] {
        let answer = placed(&path);
        by_iris += confirm_iris_flips(what, &answer);
        by_strain += confirm_strain_flips(what, &answer);
    }
    assert!(by_iris >= 2 && by_strain >= 7, "{by_iris} {by_strain}");
}

#[test]
fn flips_of_the_shipped_scenarios_are_confirmed_by_predict() {
    for (name, flips) in [("high-grade-stand", (2, 2)), ("oil-immersion", (1, 1))] {
        let file = format!("{}/scenarios/{name}.toml", env!("CARGO_MANIFEST_DIR"));
        let answer = placed(&scenario::read(file.as_ref()).unwrap().scene.path);
        let found = (
            confirm_iris_flips(name, &answer),
            confirm_strain_flips(name, &answer),
        );
        assert_eq!(found, flips, "{name}");
    }
}

#[test]
fn each_place_has_the_light_that_predict_finds() {
    let path = two_lenses();
    let answer = placed(&path);
    let own = answer.iris_na.iter().position(|na| *na == 0.5).unwrap();
    let words: Vec<String> = (answer.lower.iter())
        .map(|place| place.placed.place.words())
        .collect();
    assert_eq!(
        words,
        [
            "below the condenser",
            "between the condenser's lenses",
            "above the condenser",
            "under the slide, dry",
            "under the slide, immersed"
        ]
    );
    for (words, row) in words.iter().zip(&answer.lower) {
        assert_eq!(row.placed.refused, None, "{words}");
        assert_eq!(row.placed.written, words == "above the condenser");
        for k in [0, own, answer.iris_na.len() - 1] {
            let at = row.at_iris[k].as_ref().unwrap();
            let path = with_iris(&row.placed.path, answer.iris_na[k]);
            let seen = predict(&scene_of(&path, &lamp(), &grid())).unwrap();
            let ratio = at.extinction_ratio.unwrap();
            close(words, ratio / seen.extinction_ratio.unwrap(), 1.0, 1e-12);
            close(words, ratio * at.relative_luminance, 1.0, 1e-12);
            assert_eq!(at.leak, seen.leak);
        }
    }
    let written = answer.lower[2].at_iris[own].as_ref().unwrap();
    close(
        "light of the written place",
        written.parallel_luminance,
        1.0,
        1e-12,
    );
    // As much less light as the disc is smaller, but for what slide and lenses lose at steep rays.
    let closed = answer.lower[2].at_iris[0].as_ref().unwrap();
    close(
        "light of a closed iris",
        closed.parallel_luminance,
        0.01,
        3e-4,
    );
}

#[test]
fn a_sheet_on_a_dry_condenser_and_one_under_the_slide_have_the_same_light() {
    let found = places(&dry(0.5, vec![radial(10.0)]));
    assert_eq!(found[2].place, Place::UnderSlideDry);
    assert_eq!(found[2].same_as, Some(1));
    assert_eq!(extinction(&found[1].path), extinction(&found[2].path));
    // With a retarder between them it is another matter.
    let mut path = dry(0.5, vec![radial(10.0)]);
    let quarter = PartKind::Retarder(retarder(137.5, 30.0));
    path.parts.insert(2, part("quarter wave", quarter));
    let found = places(&path);
    assert_eq!(found[2].same_as, None);
    assert!(extinction(&found[1].path) < 0.1 * extinction(&found[2].path));
}

/// Nothing turns the light's vibration before the sheet below an ideal condenser, and above it the sheet meets oblique rays.
#[test]
fn above_an_ideal_condenser_a_sheet_is_never_better_than_below_it() {
    let mut path = dry(0.6, Vec::new());
    if let PartKind::Condenser(lens) = &mut path.parts[1].kind {
        lens.coating = Coating::Ideal;
    }
    let answer = placed(&path);
    for (below, above) in answer.lower[0].at_iris.iter().zip(&answer.lower[1].at_iris) {
        let [below, above] = [below, above].map(|at| at.as_ref().unwrap().relative_luminance);
        assert!(below < above, "{below:e} {above:e}");
    }
    assert_eq!(
        (answer.verdict.best, answer.verdict.iris_flips.len()),
        (0, 0)
    );
    // Each step wider is worse for the sheet above.
    let above = answer.lower[1].at_iris.iter().flatten();
    let leaks: Vec<f64> = above.map(|at| at.relative_luminance).collect();
    assert!(leaks.is_sorted_by(|a, b| a < b), "{leaks:?}");
}

/// What is above the sheet does not care about the condenser below, unless its light is polarized.
#[test]
fn strain_below_the_sheet_matters_only_to_polarized_light() {
    let ratio = |lamp: Stokes, edge_nm: f64| {
        let mut path = dry(0.5, vec![radial(edge_nm)]);
        path.lamp = lamp;
        extinction(&places(&path)[1].path)
    };
    let plain = ratio(Stokes::UNPOLARIZED, 80.0) / ratio(Stokes::UNPOLARIZED, 0.0);
    close("unpolarized", plain, 1.0, 1e-6);
    let polarized = Stokes([1.0, 0.7, 0.0, 0.0]);
    assert!((ratio(polarized, 80.0) / ratio(polarized, 0.0) - 1.0).abs() > 1e-4);
    let mut path = dry(0.5, vec![radial(10.0)]);
    path.lamp = polarized;
    confirm_strain_flips("polarized lamp", &placed(&path));
}

#[test]
fn the_condensers_strain_is_the_root_mean_square_of_the_sum_of_its_profiles() {
    let written = |strain: Vec<Strain>| placed(&dry(0.4, strain)).strain.unwrap();
    close(
        "uniform",
        written(vec![uniform(3.0, 20.0)]).written_rms_nm,
        3.0,
        1e-12,
    );
    // At right angles on the circle of (cos, sin)(2 azimuth).
    let sum = written(vec![uniform(3.0, 20.0), uniform(4.0, 65.0)]);
    close(
        "3 and 4 nm, 45 degrees apart",
        sum.written_rms_nm,
        5.0,
        1e-12,
    );
    // Mean of r^4 over the disc of half the radius: (1/2)^4 / 3.
    let edge = written(vec![radial(30.0)]);
    close(
        "radial",
        edge.written_rms_nm,
        30.0 * 0.25 / 3f64.sqrt(),
        1e-9,
    );
    let cancelled = written(vec![uniform(3.0, 20.0), uniform(3.0, 110.0)]);
    assert!(cancelled.assumed && cancelled.written_rms_nm < 1e-12);
    assert!(written(Vec::new()).assumed);
}

/// The rays' geometry alone, checked against a path made by hand.
#[test]
fn the_steepest_rays_for_a_ratio_leave_that_ratio() {
    let answer = placed(&dry(0.5, vec![radial(10.0)]));
    let oblique = |place: usize| {
        (answer.lower[place].notes.iter()).find_map(|note| match note {
            Note::Oblique {
                na, steepest_na, ..
            } => Some((na.unwrap(), *steepest_na)),
            _ => None,
        })
    };
    assert_eq!(oblique(0), None);
    let (na, steepest_na) = oblique(1).unwrap();
    assert_eq!(steepest_na, 1.0);
    let ideal = |name: &str, kind: fn(polstack::optics::Lens) -> PartKind| {
        part(name, kind(lens(na, 0, Coating::None, Vec::new())))
    };
    let mut perfect = sheet(0.8, 0.0);
    perfect.transmittance.absorb_fully();
    let mut polar = polarizer(perfect.clone(), 0.0);
    if let PartKind::Polarizer(polar) = &mut polar.kind {
        polar.surfaces = false;
    }
    let path = stack(
        na,
        vec![
            ideal("condenser", PartKind::Condenser),
            polar,
            ideal("objective", PartKind::Objective),
            analyzer(perfect, 90.0),
        ],
    );
    close("extinction ratio", extinction(&path), 1000.0, 2.0);
}

fn one(found: &[PlacedPath], place: &Place) -> PlacedPath {
    let placed = found.iter().find(|placed| placed.place == *place);
    placed.unwrap_or_else(|| panic!("no {place:?}")).clone()
}

#[test]
fn stacks_without_condenser_or_slide_have_the_gaps_that_there_are() {
    let objective = || {
        part(
            "objective",
            PartKind::Objective(lens(0.3, 4, Coating::None, Vec::new())),
        )
    };
    let polars = || {
        [
            polarizer(sheet(0.8, 1e-5), 0.0),
            analyzer(sheet(0.8, 1e-5), 90.0),
        ]
    };
    let [low, high] = polars();
    let bare = stack(0.3, vec![low, objective(), high]);
    let answer = placed(&bare);
    assert_eq!(answer.lower.len(), 1);
    assert_eq!(answer.lower[0].placed.place, Place::AsWritten);
    assert!(answer.lower[0].placed.written && answer.strain.is_none());
    assert_eq!(
        (answer.verdict.best, answer.verdict.iris_flips.len()),
        (0, 0)
    );
    let [low, high] = polars();
    let answer = placed(&stack(0.3, vec![low, slide(), objective(), high]));
    let found: Vec<&Place> = answer
        .lower
        .iter()
        .map(|place| &place.placed.place)
        .collect();
    assert_eq!(
        found,
        [
            &Place::UnderSlideDry,
            &Place::UnderSlideImmersed { index: OIL_INDEX }
        ]
    );
    assert!(answer.lower[0].placed.written && answer.verdict.best == 1);
    // The eye looks straight at a stack without an objective.
    let [low, high] = polars();
    let mut seen = stack(0.3, vec![low, slide(), objective(), high]);
    seen.parts.remove(2);
    (seen.iris_na, seen.view_na) = (None, Some(0.04));
    let answer = placed(&seen);
    assert_eq!(answer.iris_na, [0.04]);
    assert_eq!(answer.analyzer.len(), 1);
}

#[test]
fn a_circular_polarizer_moves_whole_and_cannot_be_joined_to_the_slide() {
    let quarter = |name: &str, deg| part(name, PartKind::Retarder(retarder(137.5, deg)));
    let mut path = dry(0.4, vec![radial(8.0)]);
    path.parts.insert(1, quarter("lower quarter", 45.0));
    path.parts.insert(5, quarter("upper quarter", -45.0));
    path.check(&[550.0]).unwrap();
    let found = places(&path);
    for placed in found.iter().filter(|placed| placed.refused.is_none()) {
        let low = placed.path.lower_polar().unwrap();
        assert_eq!(placed.path.parts[low + 1].name, "lower quarter");
        assert!(placed.path.is_circular());
    }
    let joined = one(&found, &Place::UnderSlideImmersed { index: OIL_INDEX });
    assert_eq!(joined.refused, Some(Refusal::RetarderBetween));
    // The analyzer takes its retarder along.
    assert_eq!(analyzer_places(&path).len(), 1);
    let answer = placed(&path);
    confirm_strain_flips("circular polars", &answer);
    assert!(!answer.verdict.rivals.contains(&3));
}

#[test]
fn a_sheet_joined_to_the_slide_is_loosened_elsewhere() {
    let mut path = dry(0.4, vec![radial(8.0)]);
    path.parts.swap(0, 1);
    if let PartKind::Polarizer(polar) = &mut path.parts[1].kind {
        polar.contact = Some(1.47);
    }
    path.check(&[550.0]).unwrap();
    let found = places(&path);
    let joined = one(&found, &Place::UnderSlideImmersed { index: 1.47 });
    assert!(joined.written && joined.path == path);
    for placed in found.iter().filter(|placed| !placed.written) {
        assert_eq!(placed.path.polars().unwrap().0.contact, None);
        placed.path.check(&[550.0]).unwrap();
    }
}

#[test]
fn immersion_fills_the_gap_under_the_slide() {
    let immersed = |index: f64| {
        let mut path = dry(0.6, Vec::new());
        if let PartKind::Condenser(lens) = &mut path.parts[1].kind {
            lens.immersion = index;
        }
        path
    };
    let found = places(&immersed(OIL_INDEX));
    assert_eq!(
        one(&found, &Place::UnderSlideDry).refused,
        Some(Refusal::Immersed)
    );
    let joined = Place::UnderSlideImmersed { index: OIL_INDEX };
    assert_eq!(one(&found, &joined).same_as, Some(1));
    // Oil on both sides joins nothing.
    let mut path = immersed(OIL_INDEX);
    path.parts.swap(0, 1);
    if let PartKind::Polarizer(polar) = &mut path.parts[1].kind {
        polar.contact = Some(OIL_INDEX);
    }
    let found = places(&path);
    assert!(one(&found, &Place::AboveCondenser).written);
    close(
        "light",
        extinction(&found[1].path) / extinction(&path),
        1.0,
        1e-12,
    );
    // Water below the sheet, oil above it.
    let found = places(&immersed(1.333));
    assert_eq!(one(&found, &joined).same_as, None);
    let answer = placed(&immersed(1.333));
    assert!(answer.lower[1].notes.contains(&Note::Oil { index: 1.333 }));
}

#[test]
fn a_place_that_the_rays_are_too_steep_for_is_refused_with_the_reason() {
    let mut path = dry(0.7, Vec::new());
    if let PartKind::Polarizer(polar) = &mut path.parts[0].kind {
        polar.sheet.index = 0.68;
    }
    let answer = placed(&path);
    let above = &answer.lower[1];
    assert!(matches!(above.placed.refused, Some(Refusal::Path(_))));
    let seen =
        |na: f64| above.at_iris[answer.iris_na.iter().position(|x| *x == na).unwrap()].is_some();
    assert!(seen(0.65) && !seen(0.7));
    assert!(above.notes.is_empty() && answer.verdict.best == 0);
}

#[test]
fn specimens_and_plates_are_out() {
    let mut path = dry(0.4, vec![radial(8.0)]);
    let specimen = PartKind::Specimen(Specimen::Stated {
        path_difference_nm: 100.0,
        slow_azimuth_rad: 0.6,
    });
    let with = |path: &mut LightPath, at, name, kind| path.parts.insert(at, part(name, kind));
    with(&mut path, 3, "specimen", specimen);
    with(
        &mut path,
        5,
        "plate",
        PartKind::Plate(retarder(550.0, 45.0)),
    );
    let (answer, bare) = (placed(&path), placed(&dry(0.4, vec![radial(8.0)])));
    assert_eq!(answer.verdict, bare.verdict);
    for (row, bare) in answer.lower.iter().zip(&bare.lower) {
        for (at, bare) in row
            .at_iris
            .iter()
            .flatten()
            .zip(bare.at_iris.iter().flatten())
        {
            close(
                "leak",
                at.relative_luminance / bare.relative_luminance,
                1.0,
                1e-12,
            );
        }
    }
    // The analyzer below the plate: the same light, and the plate is no longer between the polars.
    let [low, high] = &answer.analyzer[..] else {
        panic!("{:?}", answer.analyzer)
    };
    assert_eq!(
        (low.placed.outside.as_slice(), high.placed.written),
        (&["plate".to_owned()][..], true)
    );
    assert_eq!(
        low.placed.place,
        Place::Behind {
            part: "objective".to_owned()
        }
    );
    let leak = |row: &polstack::study::place::PlaceAnswer| {
        row.at_iris[0].as_ref().unwrap().relative_luminance
    };
    close(
        "analyzer below the plate",
        leak(low) / leak(high),
        1.0,
        1e-12,
    );
}

#[test]
fn a_polar_above_the_slide_stays_the_last_polarizer() {
    // A second sheet below the condenser, the lower polar on top of the slide.
    let mut path = dry(0.4, Vec::new());
    let mut top = polarizer(sheet(0.8, 1e-6), 0.0);
    top.name = "upper sheet".to_owned();
    path.parts.insert(3, top);
    let found = places(&path);
    assert!(
        found
            .iter()
            .any(|placed| placed.place == Place::AsWritten && placed.written)
    );
    for placed in &found {
        let low = placed.path.lower_polar().unwrap();
        assert_eq!(placed.path.parts[low].name, "upper sheet");
    }
}

#[test]
fn where_nothing_leaks_the_written_place_is_as_good_as_any() {
    let mut parts: Vec<Part> = vec![polarizer(ideal_sheet(), 0.0)];
    parts.extend(lens_pair(0.5, [Vec::new(), Vec::new()]));
    parts.push(analyzer(ideal_sheet(), 90.0));
    let answer = placed(&stack(0.5, parts));
    assert_eq!(answer.verdict.best, 0);
    assert_eq!(
        answer.lower[0].at_iris[0]
            .as_ref()
            .unwrap()
            .extinction_ratio,
        None
    );
    assert!(answer.verdict.iris_flips.is_empty());
}

#[test]
fn the_number_of_threads_changes_no_bit() {
    let answer = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| format!("{:?}", placed(&two_lenses())))
    };
    let one = answer(1);
    assert!(one.contains("iris_flips"));
    assert_eq!(answer(3), one);
}

/// One quarter wave between the polars lets half of the light through wherever the polar stands: no place is crowned.
#[test]
fn no_place_is_best_where_all_are_alike() {
    let mut path = dry(0.5, vec![uniform(20.0, 30.0)]);
    let last = path.parts.len() - 1;
    let quarter = PartKind::Retarder(retarder(137.5, 45.0));
    path.parts.insert(last, part("quarter wave", quarter));
    let answer = placed(&path);
    assert!(answer.verdict.rivals.len() > 2);
    assert_eq!(answer.verdict.no_best, Some(NoBest::NotCrossed));
    let crossing = Crossing::LoneRetarder {
        name: "quarter wave".to_owned(),
        waves: 0.25,
    };
    assert_eq!(answer.crossing, crossing);
    // The same stack without it has a best place.
    path.parts.remove(last);
    let answer = placed(&path);
    assert_eq!(
        (answer.verdict.no_best, answer.crossing),
        (None, Crossing::Crossed { off_deg: 0.0 })
    );
    // Closed so far that neither strain nor obliqueness counts, a stack of poor sheets is as dark with the polar anywhere.
    let poor = |path: LightPath| {
        let mut path = path;
        for part in &mut path.parts {
            if let PartKind::Polarizer(polar) | PartKind::Analyzer(polar) = &mut part.kind {
                polar.sheet = sheet(0.8, 1e-2);
            }
        }
        path
    };
    let answer = placed(&poor(dry(0.1, Vec::new())));
    assert_eq!(answer.verdict.no_best, Some(NoBest::AllAlike));
}

/// A strain that is written as 0 is turned up in its own shape; one that is not written at all is taken as radial.
#[test]
fn a_strain_of_no_strength_is_turned_up_in_its_own_shape() {
    let radial = |edge_nm| Strain::Radial {
        edge_nm,
        slow: RadialSlow::Tangential,
        along: polstack::optics::RadialAlong::Axis,
    };
    let flips = |strain: Vec<Strain>| {
        let answer = placed(&dry(0.6, strain));
        (answer.strain.unwrap(), answer.verdict.strain_flips)
    };
    let (none, assumed) = flips(Vec::new());
    assert!(none.assumed && none.written_rms_nm == 0.0);
    let (zero, turned_up) = flips(vec![radial(0.0)]);
    assert!(!zero.assumed && zero.written_rms_nm == 0.0);
    for (flip, shapes) in [(&assumed, 1), (&turned_up, 1)] {
        assert!(!flip.is_empty());
        for flip in flip {
            assert_eq!(flip.profiles.len(), shapes, "{flip:?}");
            assert!(matches!(flip.profiles[0].amount, Amount::Radial { edge_nm } if edge_nm > 0.0));
        }
    }
    // Two profiles of which one has no strength: the other alone is scaled, and nothing of 0 nm is told.
    let (both, _) = flips(vec![radial(0.0), uniform(4.0, 45.0)]);
    assert!(both.written_rms_nm > 3.9 && !both.assumed);
}
