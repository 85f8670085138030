//! Where the leak comes from: sums, and switching by hand.

use std::f64::consts::FRAC_PI_2;

use polstack::calculus::Stokes;
use polstack::light_path::{Crossing, LightPath, Part, PartKind, run};
use polstack::material::catalog;
use polstack::optics::{Coating, Lens, Polarizer, Rays, Strain};
use polstack::study::leak::{Cause, Leak, leak};

use crate::common::close;
use crate::paths::{
    analyzer, ideal_sheet, lens, lens_pair, part, polarizer, retarder, sheet, slide, stack, uniform,
};
use crate::routes::everything;

const WAVELENGTHS_NM: [f64; 3] = [450.0, 550.0, 640.0];
const LUMINOUS: [f64; 3] = [0.2, 1.0, 0.4];

fn rays(path: &LightPath) -> Rays {
    Rays::disc(path.na(), 4, 16)
}

fn taken_apart(path: &LightPath) -> Leak {
    let found = leak(path, &rays(path), &WAVELENGTHS_NM, &LUMINOUS).unwrap();
    let sum: f64 = found.shares.iter().map(|share| share.share).sum();
    // A few hundred values with weights that add up to 1; cancelling shares are larger than 1 themselves.
    let size: f64 = found.shares.iter().map(|share| share.share.abs()).sum();
    close("sum of the shares", sum, 1.0, 1e-12 * (1.0 + size));
    found
}

/// Luminous crossed over parallel of the empty field, straight from a run.
fn whole(path: &LightPath) -> f64 {
    beside(path, path)
}

/// The same over the parallel field of another path.
fn beside(path: &LightPath, reference: &LightPath) -> f64 {
    let luminances = |path: &LightPath| {
        let mut path = path.without_specimens();
        (path.parts).retain(|part| !matches!(part.kind, PartKind::Plate(_)));
        path.stray_fraction = 0.0;
        let fields = run::fields(&path, &rays(&path), &WAVELENGTHS_NM, &LUMINOUS).unwrap();
        [fields.crossed, fields.parallel]
            .map(|field| field.iter().zip(LUMINOUS).map(|(t, w)| t * w).sum::<f64>())
    };
    luminances(path)[0] / luminances(reference)[1] + path.stray_fraction
}

/// The path with one imperfection made good, by hand.
fn repaired(path: &LightPath, name: &str, cause: Cause) -> LightPath {
    let mut path = path.clone();
    let crossed = path.polars().unwrap().0.azimuth_rad + FRAC_PI_2;
    match cause {
        Cause::StrayLight => path.stray_fraction = 0.0,
        Cause::LoneRetarder => path.parts.retain(|part| part.name != name),
        Cause::FlatSurfaces if name == "slide" => path.parts.retain(|part| part.name != "slide"),
        _ => {
            let part = path
                .parts
                .iter_mut()
                .find(|part| part.name == name)
                .unwrap();
            match &mut part.kind {
                PartKind::Polarizer(polar) | PartKind::Analyzer(polar) => match cause {
                    Cause::SheetLeak => polar.sheet.transmittance.absorb_fully(),
                    Cause::ObliqueRays => polar.foreshortened = false,
                    Cause::FlatSurfaces => polar.surfaces = false,
                    Cause::Misalignment => polar.azimuth_rad = crossed,
                    other => panic!("{name} has no {other:?}"),
                },
                PartKind::Condenser(lens) | PartKind::Objective(lens) => match cause {
                    Cause::LensSurfaces => lens.coating = Coating::Ideal,
                    Cause::Strain => lens.strain.clear(),
                    other => panic!("{name} has no {other:?}"),
                },
                other => panic!("nothing is wrong with {other:?}"),
            }
        }
    }
    path
}

/// `without` is the leak with that imperfection made good, `alone` the one with all the others made good, less what is left when
/// all are.
fn agrees_with_switching_by_hand(path: &LightPath, expected_count: usize) {
    let found = taken_apart(path);
    close("whole", found.whole / whole(path), 1.0, 1e-12);
    let causes: Vec<(String, Cause)> = (found.shares.iter())
        .filter(|share| share.cause != Cause::Retarders)
        .map(|share| (share.part.clone(), share.cause))
        .collect();
    assert_eq!(causes.len(), expected_count, "{causes:?}");
    // The parallel field keeps the lone retarder.
    let mended = |wanted: &dyn Fn(usize) -> bool| {
        let over = |keep: bool| {
            (causes.iter().enumerate())
                .filter(|(k, (_, cause))| wanted(*k) && !(keep && *cause == Cause::LoneRetarder))
                .fold(path.clone(), |path, (_, (name, cause))| {
                    repaired(&path, name, *cause)
                })
        };
        beside(&over(false), &over(true))
    };
    let none = mended(&|_| true);
    for (k, (name, cause)) in causes.iter().enumerate() {
        let share = (found.shares.iter())
            .find(|share| &share.part == name && share.cause == *cause)
            .unwrap();
        let what = format!("{name}, {}", cause.words());
        let without = mended(&|other| other == k);
        close(
            &format!("{what}: without"),
            share.without,
            without,
            1e-12 * found.whole,
        );
        let alone = mended(&|other| other != k) - none;
        close(
            &format!("{what}: alone"),
            share.alone,
            alone,
            1e-12 * found.whole,
        );
    }
}

#[test]
fn shares_of_a_whole_microscope_agree_with_switching_by_hand() {
    // Two strained and bare lenses, a slide, two sheets, misalignment, stray light.
    for (sheet_above, count) in [(false, 10), (true, 12)] {
        let mut path = everything(sheet_above);
        path.stray_fraction = 2e-4;
        agrees_with_switching_by_hand(&path, count);
    }
}

#[test]
fn shares_of_tabulated_sheets_agree_with_switching_by_hand() {
    let iodine = catalog::sheet("iodine-medium").unwrap();
    let mut parts = vec![polarizer(iodine.clone(), 0.0)];
    parts.extend(lens_pair(
        0.5,
        [vec![uniform(2.0, 30.0)], vec![uniform(3.0, 55.0)]],
    ));
    parts.push(analyzer(iodine, 90.0));
    agrees_with_switching_by_hand(&stack(0.5, parts), 4);
}

/// The eye looks straight at sheets on a table: both films are crossed by oblique rays.
fn without_objective(upper_deg: f64) -> LightPath {
    let path = LightPath {
        lamp: Stokes::UNPOLARIZED,
        iris_na: None,
        view_na: Some(0.3),
        parts: vec![
            polarizer(sheet(0.8, 1e-5), 0.0),
            slide(),
            analyzer(sheet(0.8, 1e-5), upper_deg),
        ],
        stray_fraction: 0.0,
    };
    path.check(&WAVELENGTHS_NM).unwrap();
    path
}

#[test]
fn shares_of_a_stack_without_objective_agree_with_switching_by_hand() {
    agrees_with_switching_by_hand(&without_objective(90.0), 7);
    agrees_with_switching_by_hand(&without_objective(91.0), 8);
}

/// Quarter-wave plates that are right at 550 nm alone leave light at the other wavelengths, whatever else is perfect.
fn circular() -> LightPath {
    let quarter = |name: &str, deg| part(name, PartKind::Retarder(retarder(137.5, deg)));
    let [condenser, objective] = lens_pair(0.4, [vec![uniform(3.0, 10.0)], Vec::new()]);
    stack(
        0.4,
        vec![
            polarizer(sheet(0.8, 1e-5), 0.0),
            quarter("lower quarter", 45.0),
            condenser,
            slide(),
            objective,
            quarter("upper quarter", -44.0),
            analyzer(sheet(0.8, 1e-5), 90.0),
        ],
    )
}

#[test]
fn circular_polars_leave_a_share_to_their_retarders() {
    let path = circular();
    assert!(path.is_circular());
    agrees_with_switching_by_hand(&path, 4);
    let found = taken_apart(&path);
    let residue = (found.shares.iter())
        .find(|share| share.cause == Cause::Retarders)
        .expect("retarders that do not undo each other");
    assert!(residue.share > 0.01 && residue.alone > 0.0, "{residue:?}");
    close("share", residue.share, residue.alone / found.whole, 1e-15);
}

/// Unpolarized light has no state that a retarder could change.
#[test]
fn strain_below_the_lower_polar_of_an_unpolarized_lamp_has_no_share() {
    let strained = |surfaces: Coating| {
        let strain = vec![uniform(120.0, 20.0)];
        stack(
            0.4,
            vec![
                part(
                    "condenser",
                    PartKind::Condenser(lens(0.4, 4, surfaces, strain)),
                ),
                polarizer(sheet(0.8, 1e-5), 0.0),
                part(
                    "objective",
                    PartKind::Objective(lens(0.4, 4, Coating::None, Vec::new())),
                ),
                analyzer(sheet(0.8, 1e-5), 90.0),
            ],
        )
    };
    let strain_of = |path: &LightPath| {
        let found = taken_apart(path);
        let share = (found.shares.iter())
            .find(|share| share.part == "condenser" && share.cause == Cause::Strain)
            .unwrap()
            .clone();
        (share.share, share.alone, share.without / found.whole)
    };
    let path = strained(Coating::Ideal);
    let (share, alone, without) = strain_of(&path);
    close("share", share, 0.0, 1e-13);
    close("alone", alone, 0.0, 1e-18);
    close("without over whole", without, 1.0, 1e-13);
    // A polarized lamp is another matter: the strain decides how much of it the sheet passes, ray by ray.
    let mut polarized = path;
    polarized.lamp = Stokes([1.0, 0.0, 1.0, 0.0]);
    let (_, _, without) = strain_of(&polarized);
    assert!((without - 1.0).abs() > 1e-3, "{without}");
}

/// Two uniform strains across each other between ideal polars, in nm.
fn two_strains(below_nm: f64, above_nm: f64) -> LightPath {
    let strain = [vec![uniform(below_nm, 0.0)], vec![uniform(above_nm, 90.0)]];
    let mut parts = vec![polarizer(ideal_sheet(), 30.0)];
    parts.extend(lens_pair(0.25, strain));
    parts.push(analyzer(ideal_sheet(), 120.0));
    stack(0.25, parts)
}

#[test]
fn strains_that_cancel_leave_nothing_to_share() {
    let found = leak(
        &two_strains(5.0, 5.0),
        &Rays::disc(0.25, 2, 8),
        &WAVELENGTHS_NM,
        &LUMINOUS,
    );
    assert_eq!(
        found.unwrap(),
        Leak {
            whole: 0.0,
            shares: Vec::new()
        }
    );
}

/// With two players a, b alone and w together the shares are (w + a - b)/2w and (w + b - a)/2w: the stronger strain has more
/// than all, the weaker a negative share, as it takes light away.
#[test]
fn strains_that_nearly_cancel_still_share_the_whole() {
    let path = two_strains(5.0, 4.8);
    let found = taken_apart(&path);
    let [strong, weak] = &found.shares[..] else {
        panic!("{found:?}")
    };
    assert_eq!(
        (strong.part.as_str(), weak.part.as_str()),
        ("condenser", "objective")
    );
    let (a, b, w) = (strong.alone, weak.alone, found.whole);
    assert!(w < 0.01 * a, "{w:e} {a:e}");
    close("stronger", strong.share, 0.5 * (w + a - b) / w, 1e-10);
    close("weaker", weak.share, 0.5 * (w + b - a) / w, 1e-10);
    assert!(strong.share > 10.0 && weak.share < -9.0);
    // sin^2(2 x 30 deg) sin^2(pi Gamma/lambda), and the parallel field has lost as much.
    let alone = |nm: f64| {
        let crossed: f64 = (WAVELENGTHS_NM.iter().zip(LUMINOUS))
            .map(|(l, w)| w * 0.75 * (std::f64::consts::PI * nm / l).sin().powi(2))
            .sum();
        crossed / (LUMINOUS.iter().sum::<f64>() - crossed)
    };
    close("condenser alone", a, alone(5.0), 1e-15);
    close("objective alone", b, alone(4.8), 1e-15);
    close("together", w, alone(0.2), 1e-15);
}

#[test]
fn stray_light_alone_is_the_whole_leak() {
    let mut path = two_strains(5.0, 5.0);
    path.stray_fraction = 3e-4;
    for part in &mut path.parts {
        if let PartKind::Condenser(Lens { strain, .. }) | PartKind::Objective(Lens { strain, .. }) =
            &mut part.kind
        {
            strain.clear();
        }
    }
    let found = taken_apart(&path);
    close("whole", found.whole, 3e-4, 1e-18);
    let [stray] = &found.shares[..] else {
        panic!("{found:?}")
    };
    assert_eq!(
        (stray.part.as_str(), stray.cause),
        ("stack", Cause::StrayLight)
    );
    close("share", stray.share, 1.0, 1e-14);
    close("alone", stray.alone, 3e-4, 1e-18);
    close("without", stray.without, 0.0, 1e-29);
}

#[test]
fn misalignment_alone_leaks_its_sine_squared() {
    let mut parts = vec![polarizer(ideal_sheet(), 0.0)];
    parts.extend(lens_pair(0.25, [Vec::new(), Vec::new()]));
    parts.push(analyzer(ideal_sheet(), 90.5));
    let found = taken_apart(&stack(0.25, parts));
    // Parallel means turned to the lower polar, whatever the crossed position is off by.
    close(
        "whole",
        found.whole,
        0.5f64.to_radians().sin().powi(2),
        1e-17,
    );
    assert_eq!(found.shares.len(), 1);
    assert_eq!(found.shares[0].cause, Cause::Misalignment);
}

#[test]
fn a_perfect_stack_has_no_leak_to_share() {
    let path = two_strains(0.0, 0.0);
    let found = leak(&path, &rays(&path), &WAVELENGTHS_NM, &LUMINOUS).unwrap();
    assert_eq!((found.whole, found.shares.len()), (0.0, 0));
}

/// A part that leaks more, all else equal, has the larger share.
#[test]
fn more_strain_has_more_of_the_leak() {
    let share = |edge_nm| {
        let radial = Strain::radial(edge_nm);
        let mut parts: Vec<Part> = vec![polarizer(sheet(0.8, 1e-5), 0.0)];
        parts.extend(lens_pair(0.25, [vec![radial], Vec::new()]));
        parts.push(part(
            "analyzer",
            PartKind::Analyzer(Polarizer::new(sheet(0.8, 1e-5), FRAC_PI_2)),
        ));
        let found = taken_apart(&stack(0.25, parts));
        (found.shares.iter())
            .find(|share| share.cause == Cause::Strain)
            .map(|share| share.share)
            .unwrap()
    };
    let shares = [1.0, 2.0, 5.0, 20.0].map(share);
    assert!(
        shares.is_sorted() && shares[0] > 0.0 && shares[3] < 1.0,
        "{shares:?}"
    );
}

/// A real microscope with one quarter-wave retarder between its polars, above the objective or below it.
fn with_lone_retarder(below: bool, azimuth_deg: f64) -> LightPath {
    let mut path = everything(false);
    path.parts.retain(|part| {
        !matches!(
            part.kind,
            PartKind::Plate(_) | PartKind::Retarder(_) | PartKind::Specimen(_)
        )
    });
    path.stray_fraction = 2e-4;
    let quarter = part(
        "quarter wave",
        PartKind::Retarder(retarder(137.5, azimuth_deg)),
    );
    let low = path.lower_polar().unwrap();
    let at = if below { low + 1 } else { path.parts.len() - 1 };
    path.parts.insert(at, quarter);
    path
}

fn without_part(path: &LightPath, name: &str) -> LightPath {
    let mut path = path.clone();
    path.parts.retain(|part| part.name != name);
    path
}

/// A retarder without a partner uncrosses the polars: it takes nearly all of the leak, nothing is negative, and what is left without it is
/// the light of the stack without it, still as a fraction of the parallel field with it.
#[test]
fn a_lone_retarder_is_named_and_no_light_is_negative() {
    for below in [false, true] {
        let lower_deg = everything(false)
            .polars()
            .unwrap()
            .0
            .azimuth_rad
            .to_degrees();
        let path = with_lone_retarder(below, lower_deg + 45.0);
        assert_eq!(
            path.crossing(),
            Crossing::LoneRetarder {
                name: "quarter wave".to_owned(),
                waves: 0.25
            }
        );
        let found = taken_apart(&path);
        for share in &found.shares {
            assert!(share.without >= 0.0 && share.alone > -1e-15, "{share:?}");
        }
        let first = &found.shares[0];
        assert_eq!(
            (first.part.as_str(), first.cause),
            ("quarter wave", Cause::LoneRetarder)
        );
        assert!((0.9..=1.0).contains(&first.share), "{first:?}");
        let left = beside(&without_part(&path, "quarter wave"), &path);
        close("without it", first.without, left, 1e-12);
        close("whole", found.whole / whole(&path), 1.0, 1e-12);
    }
}

#[test]
fn polars_count_as_crossed_with_a_retarder_that_does_nothing_or_has_its_partner() {
    let lower_deg = everything(false)
        .polars()
        .unwrap()
        .0
        .azimuth_rad
        .to_degrees();
    // Along the polars.
    let along = with_lone_retarder(false, lower_deg);
    assert!(matches!(along.crossing(), Crossing::Crossed { .. }));
    let mut paired = with_lone_retarder(false, lower_deg + 45.0);
    let low = paired.lower_polar().unwrap();
    let partner = part(
        "partner",
        PartKind::Retarder(retarder(137.5, lower_deg - 45.0)),
    );
    paired.parts.insert(low + 1, partner);
    assert_eq!(paired.crossing(), Crossing::Circular);
    // A partner across its own direction adds to it: half a wave at 45 degrees lets the light of parallel polars through, but for what
    // the polars of this stack are off.
    let mut adding = paired.clone();
    if let PartKind::Retarder(plate) = &mut adding.parts[low + 1].kind {
        plate.slow_azimuth_rad += std::f64::consts::FRAC_PI_2;
    }
    match adding.crossing() {
        Crossing::Unmatched {
            passes,
            quarter_turn,
        } => assert!(quarter_turn && passes > 0.99 && passes <= 1.0 + 1e-12),
        other => panic!("{other:?}"),
    }
    // A pair that is not quite one leaves a residue; without it the leak is that of an exact pair.
    if let PartKind::Retarder(plate) = &mut paired.parts[low + 1].kind {
        plate.path_difference_nm = 130.0;
    }
    let found = taken_apart(&paired);
    let residue = found
        .shares
        .iter()
        .find(|share| share.cause == Cause::Retarders)
        .unwrap();
    let mut exact = paired.clone();
    for part in &mut exact.parts {
        match &mut part.kind {
            PartKind::Retarder(plate) => plate.path_difference_nm = 130.0,
            PartKind::Analyzer(polar) => {
                polar.azimuth_rad = lower_deg.to_radians() + FRAC_PI_2;
            }
            _ => {}
        }
    }
    close("without the residue", residue.without, whole(&exact), 1e-12);
    assert!(found.shares.iter().all(|share| share.without >= 0.0));
    let mut apart = everything(false);
    if let PartKind::Analyzer(polar) = &mut apart.parts.last_mut().unwrap().kind {
        polar.azimuth_rad = (lower_deg + 40.0).to_radians();
    }
    let Crossing::Apart { degrees } = apart.crossing() else {
        panic!("{:?}", apart.crossing())
    };
    close("apart", degrees, 40.0, 1e-9);
}

/// The analyzer under oblique rays takes another route to the same shares.
#[test]
fn a_lone_retarder_without_an_objective_is_named_too() {
    let path = LightPath {
        lamp: Stokes::UNPOLARIZED,
        iris_na: None,
        view_na: Some(0.05),
        parts: vec![
            polarizer(sheet(0.8, 1e-5), 0.0),
            part("quarter wave", PartKind::Retarder(retarder(137.5, 45.0))),
            analyzer(sheet(0.8, 1e-5), 90.0),
        ],
        stray_fraction: 0.0,
    };
    path.check(&WAVELENGTHS_NM).unwrap();
    let found = taken_apart(&path);
    assert_eq!(found.shares[0].cause, Cause::LoneRetarder);
    assert!(
        found
            .shares
            .iter()
            .all(|share| share.without >= 0.0 && share.alone > -1e-15)
    );
}
