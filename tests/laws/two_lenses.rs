//! A condenser of two lenses, a sheet between them, and a sheet joined to the slide.

use polstack::light_path::{LightPath, Part, PartKind, PathError, Setting, reference, run};
use polstack::optics::{Coating, Polarizer, Rays, Strain};

use crate::common::close;
use crate::paths::{analyzer, ideal_sheet, lens, part, polarizer, sheet, slide, stack};

fn condenser(name: &str, na: f64, surfaces: u32, strain: Vec<Strain>) -> Part {
    part(
        name,
        PartKind::Condenser(lens(na, surfaces, Coating::None, strain)),
    )
}

fn radial(edge_nm: f64) -> Vec<Strain> {
    vec![Strain::radial(edge_nm)]
}

/// Lenses of NA 0.3 and 0.8, one after the other, and a lopsided strain in each; the lower polar is the part at `place`.
pub(crate) fn strained(place: usize) -> LightPath {
    let clamp = Strain::Clamp {
        contacts: 3,
        force_n: 6.0,
        diameter_mm: 22.0,
        first_azimuth_rad: 0.3,
        stress_optic_brewster: 2.75,
    };
    let mut parts = vec![
        condenser("field lens", 0.3, 2, vec![clamp]),
        condenser("front lens", 0.8, 3, radial(30.0)),
        slide(),
        part(
            "objective",
            PartKind::Objective(lens(0.65, 6, Coating::Mgf2, radial(-4.0))),
        ),
        analyzer(sheet(0.8, 1e-4), 91.0),
    ];
    parts.insert(place, polarizer(sheet(0.75, 3e-5), 2.0));
    stack(0.65, parts)
}

fn joined(mut path: LightPath, contact: f64) -> LightPath {
    for part in &mut path.parts {
        if let PartKind::Polarizer(polar) = &mut part.kind {
            polar.contact = Some(contact);
        }
    }
    path.check(&[546.1]).unwrap();
    path
}

#[test]
fn kernel_and_plain_matrices_agree_wherever_the_sheet_stands() {
    let paths = [
        strained(0),
        strained(1),
        strained(2),
        joined(strained(2), 1.47),
    ];
    for path in paths {
        let rays = Rays::disc(path.na(), 3, 10);
        for nm in [412.0, 650.0] {
            let each = run::crossed_rays(&path, &rays, &[nm], &[1.0]).unwrap();
            for ((ray, _), got) in rays.iter().zip(each) {
                let whole = 0..path.parts.len();
                let jones = reference::jones(&path, whole, Setting::EMPTY, ray, nm).unwrap();
                close(
                    &format!("{ray:?} at {nm} nm"),
                    got,
                    jones.transmittance(),
                    1e-14,
                );
            }
        }
    }
}

/// The sheet between the lenses sees rays of the first lens's beam; above the condenser it would see them at an iris closed by
/// the same ratio.
#[test]
fn a_sheet_between_ideal_lenses_leaks_as_one_above_them_at_the_smaller_angle() {
    let path = |na: f64, place: usize| {
        let ideal = |name, na| condenser(name, na, 0, Vec::new());
        let polar = polarizer(ideal_sheet(), 0.0);
        let mut parts = vec![
            ideal("first", 0.3),
            ideal("second", 0.9),
            part(
                "objective",
                PartKind::Objective(lens(0.9, 0, Coating::None, Vec::new())),
            ),
            analyzer(ideal_sheet(), 90.0),
        ];
        parts.insert(place, polar);
        stack(na, parts)
    };
    let leak = |path: &LightPath| {
        let rays = Rays::disc(path.na(), 8, 32);
        run::fields(path, &rays, &[550.0], &[1.0]).unwrap().crossed[0]
    };
    for na in [0.3, 0.6, 0.9] {
        let (between, above) = (leak(&path(na, 1)), leak(&path(na / 3.0, 2)));
        close(&format!("NA {na}"), between / above, 1.0, 1e-9);
        assert!(leak(&path(na, 0)) < 1e-29);
    }
}

#[test]
fn the_lenses_of_a_condenser_share_the_bending() {
    let path = strained(0);
    for s in [0.1f64, 0.4, 0.65] {
        let first = (s * 0.3 / 0.8).asin();
        close("first lens", path.deviation_rad(1, s), first, 1e-15);
        close("second", path.deviation_rad(2, s), s.asin() - first, 1e-15);
        close("objective", path.deviation_rad(4, s), s.asin(), 1e-15);
    }
    // Each lens is crossed over the same fraction of its own aperture.
    assert_eq!([1, 2, 4].map(|part| path.rim_na(part)), [0.8, 0.8, 0.65]);
    assert!(!path.is_oblique(0));
    let between = strained(1);
    assert_eq!(
        [1, 3, 5].map(|part| between.is_oblique(part)),
        [true, true, false]
    );
    close("between the lenses", between.steepness(1), 0.3 / 0.8, 1e-16);
}

/// Two surfaces toward air, with R = ((n - 1)/(n + 1))^2 = 0.04 of the film and that of the slide, are gone where a medium of the
/// film's own index joins film and slide; what is left is the step from film to glass.
#[test]
fn a_joined_sheet_loses_less_light_at_its_surfaces() {
    let path = || {
        let polar = Polarizer::new(sheet(0.8, 1e-9), 0.0);
        let parts = vec![
            part("polar", PartKind::Polarizer(polar)),
            slide(),
            part(
                "objective",
                PartKind::Objective(lens(0.2, 0, Coating::None, Vec::new())),
            ),
            analyzer(ideal_sheet(), 90.0),
        ];
        stack(1e-4, parts)
    };
    let parallel = |path: &LightPath| {
        let fields = run::fields(path, &Rays::disc(1e-4, 1, 4), &[550.0], &[1.0]).unwrap();
        fields.parallel[0]
    };
    let passed = |a: f64, b: f64| 1.0 - ((a - b) / (a + b)).powi(2);
    let expected = passed(1.5, 1.515) / (passed(1.5, 1.0) * passed(1.0, 1.515));
    let gain = parallel(&joined(path(), 1.5)) / parallel(&path());
    close("light of the joined sheet", gain, expected, 1e-9);
}

#[test]
fn impossible_condensers_and_joints_are_refused() {
    let wavelengths_nm = [546.1];
    let mut narrowing = strained(0);
    narrowing.parts.swap(1, 2);
    assert!(matches!(
        narrowing.check(&wavelengths_nm),
        Err(PathError::Narrowing { part: 1, .. })
    ));
    // It is the angle that counts: 30 degrees in air are steeper than 21 in oil.
    let media = |first: (f64, f64), second: (f64, f64)| {
        let mut path = strained(0);
        path.iris_na = Some(0.2);
        for (part, (na, immersion)) in [(1, first), (2, second)] {
            if let PartKind::Condenser(lens) = &mut path.parts[part].kind {
                (lens.na, lens.immersion) = (na, immersion);
            }
        }
        path.check(&wavelengths_nm)
    };
    assert!(matches!(
        media((0.5, 1.0), (0.55, 1.515)),
        Err(PathError::Narrowing { .. })
    ));
    assert_eq!(media((0.7, 1.333), (0.65, 1.0)), Ok(()));
    let mut three = strained(0);
    three
        .parts
        .insert(3, condenser("third", 0.9, 2, Vec::new()));
    assert!(matches!(
        three.check(&wavelengths_nm),
        Err(PathError::Twice { part: 3, .. })
    ));
    let mut loose = strained(1);
    if let PartKind::Polarizer(polar) = &mut loose.parts[1].kind {
        polar.contact = Some(1.515);
    }
    assert_eq!(
        loose.check(&wavelengths_nm),
        Err(PathError::NoContact { part: 1 })
    );
    let mut thin = joined(strained(2), 1.47);
    if let PartKind::Polarizer(polar) = &mut thin.parts[2].kind {
        polar.contact = Some(0.6);
    }
    assert!(matches!(
        thin.check(&wavelengths_nm),
        Err(PathError::TooSteep { part: 2, .. })
    ));
}

/// Strain of the first lens turns up as if it lay in the second: both are crossed over the same fraction of their apertures.
#[test]
fn strain_in_either_lens_of_a_condenser_with_ideal_surfaces_leaks_alike() {
    let path = |first: Vec<Strain>, second: Vec<Strain>| {
        stack(
            0.6,
            vec![
                polarizer(ideal_sheet(), 0.0),
                condenser("first", 0.25, 0, first),
                condenser("second", 0.75, 0, second),
                part(
                    "objective",
                    PartKind::Objective(lens(0.6, 0, Coating::None, Vec::new())),
                ),
                analyzer(ideal_sheet(), 90.0),
            ],
        )
    };
    let leak = |path: &LightPath| {
        let rays = Rays::disc(path.na(), 8, 32);
        run::fields(path, &rays, &[550.0], &[1.0]).unwrap().crossed[0]
    };
    let in_first = leak(&path(radial(20.0), Vec::new()));
    close(
        "first over second",
        in_first / leak(&path(Vec::new(), radial(20.0))),
        1.0,
        1e-12,
    );
    let both = leak(&path(radial(20.0), radial(20.0)));
    // Strains with the same axes add: 40 nm, whose leak is that of 20 nm times 4 but for the sine's curvature.
    let double = leak(&path(Vec::new(), radial(40.0)));
    close(
        "both over one of twice the strain",
        both / double,
        1.0,
        1e-12,
    );
    assert!(in_first > 1e-5);
}
