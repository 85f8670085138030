//! Retarders between polars, and what happens as a quantity goes to nothing.

use std::f64::consts::{PI, TAU};

use polstack::calculus::{Complex, Jones, Mueller, Stokes};
use polstack::light_path::{LightPath, Part, PartKind, run};
use polstack::optics::{Coating, Rays, Specimen, Strain};
use proptest::prelude::*;

use crate::common::close;
use crate::paths::{
    analyzer, ideal_lenses, ideal_sheet, lens, part, polarizer, retarder, sheet, slide, stack,
    uniform,
};

const NM: f64 = 550.0;

fn after(element: &polstack::optics::LinearElement, azimuth_deg: f64) -> Stokes {
    let light = Stokes([1.0, 1.0, 0.0, 0.0]).turned(azimuth_deg.to_radians());
    Mueller::from_jones(&element.jones()).apply(&light)
}

fn specimen(path_difference_nm: f64, azimuth_deg: f64) -> Part {
    part(
        "specimen",
        PartKind::Specimen(Specimen::Stated {
            path_difference_nm,
            slow_azimuth_rad: azimuth_deg.to_radians(),
        }),
    )
}

/// A specimen between ideal lenses and ideal sheets.
fn viewed(path_difference_nm: f64, azimuth_deg: f64, polars_deg: [f64; 2]) -> f64 {
    let [condenser, objective] = ideal_lenses(0.4);
    let path = stack(
        0.4,
        vec![
            polarizer(ideal_sheet(), polars_deg[0]),
            condenser,
            specimen(path_difference_nm, azimuth_deg),
            objective,
            analyzer(ideal_sheet(), polars_deg[1]),
        ],
    );
    run::fields(&path, &Rays::disc(0.4, 2, 5), &[NM], &[1.0])
        .unwrap()
        .crossed[0]
}

/// The slow axis lags, exp(+i delta/2) in exp(i(kz - wt)): with the fast axis at +45 degrees horizontal light leaves as
/// (1, -i)/sqrt 2, which is right-handed, S3 = +1.
#[test]
fn a_quarter_wave_at_45_degrees_makes_circular_light_of_the_right_hand() {
    for (slow_deg, s3) in [(-45.0, 1.0), (135.0, 1.0), (45.0, -1.0)] {
        let element = retarder(NM / 4.0, slow_deg).element(NM).unwrap();
        let got = after(&element, 0.0);
        for (got, expected) in got.0.into_iter().zip([1.0, 0.0, 0.0, s3]) {
            close(
                &format!("slow axis at {slow_deg} deg"),
                got,
                expected,
                1e-15,
            );
        }
    }
    let fast_45 = retarder(NM / 4.0, -45.0).element(NM).unwrap().jones();
    let (x, y) = (fast_45.0[(0, 0)], fast_45.0[(1, 0)]);
    close("Ey/Ex + i", (y / x + Complex::i()).norm(), 0.0, 1e-15);
}

proptest! {
    #[test]
    fn a_half_wave_turns_light_by_twice_the_angle_to_its_axis(axis in -180.0..180.0f64, light in -180.0..180.0f64) {
        let element = retarder(NM / 2.0, axis).element(NM).unwrap();
        let expected = Stokes([1.0, 1.0, 0.0, 0.0]).turned((2.0 * axis - light).to_radians());
        for (got, expected) in after(&element, light).0.into_iter().zip(expected.0) {
            close("Stokes parameter", got, expected, 1e-14);
        }
    }

    #[test]
    fn between_crossed_linear_polars_a_specimen_passes_sin2_2a_sin2_half_phase(
        path_nm in -3000.0..3000.0f64, azimuth in -180.0..180.0f64, lower in -180.0..180.0f64,
    ) {
        let got = viewed(path_nm, azimuth, [lower, lower + 90.0]);
        let angle = (azimuth - lower).to_radians();
        let expected = 0.5 * ((2.0 * angle).sin() * (PI * path_nm / NM).sin()).powi(2);
        close("transmittance", got, expected, 1e-13);
    }

    /// `cos^2 phi - sin 2(tau - phi) sin 2tau sin^2(pi Gamma/lambda)`: phi from polarizer to analyzer, tau from polarizer to crystal.
    #[test]
    fn between_polars_at_any_angle_a_specimen_follows_the_general_formula(
        path_nm in 0.0..3000.0f64, tau in -180.0..180.0f64, phi in -180.0..180.0f64,
    ) {
        let got = viewed(path_nm, tau, [0.0, phi]);
        let (tau, phi) = (tau.to_radians(), phi.to_radians());
        let wave = (PI * path_nm / NM).sin().powi(2);
        let expected = phi.cos().powi(2) - (2.0 * (tau - phi)).sin() * (2.0 * tau).sin() * wave;
        close("transmittance", got, 0.5 * expected, 1e-13);
    }

    #[test]
    fn between_crossed_circular_polars_the_azimuth_does_not_matter(
        path_nm in 0.0..3000.0f64, azimuth in -180.0..180.0f64, lower in -180.0..180.0f64,
    ) {
        let [condenser, objective] = ideal_lenses(0.4);
        let quarter = |deg| part("quarter wave", PartKind::Retarder(retarder(NM / 4.0, deg)));
        let path = stack(0.4, vec![
            polarizer(ideal_sheet(), lower),
            quarter(lower + 45.0),
            condenser,
            specimen(path_nm, azimuth),
            objective,
            quarter(lower - 45.0),
            analyzer(ideal_sheet(), lower + 90.0),
        ]);
        let fields = run::fields(&path, &Rays::disc(0.4, 2, 5), &[NM], &[1.0]).unwrap();
        close("crossed", fields.crossed[0], 0.5 * (PI * path_nm / NM).sin().powi(2), 1e-13);
        close("parallel", fields.parallel[0], 0.5, 1e-14);
    }

    #[test]
    fn a_plate_at_right_angles_to_another_undoes_it(path_nm in 0.0..3000.0f64, azimuth in -180.0..180.0f64) {
        let turn = |deg| retarder(path_nm, deg).element(NM).unwrap().jones();
        let both = turn(azimuth + 90.0) * turn(azimuth);
        close("off the identity", (both.0 - Jones::identity().0).camax(), 0.0, 1e-13);
    }
}

/// A real stack in which every leak has its cause already, so that what is added meets amplitudes to interfere with.
struct Knobs {
    strain: Vec<Strain>,
    misalignment_rad: f64,
    stray: f64,
    plate_nm: f64,
    specimen_nm: f64,
    na: f64,
}

impl Default for Knobs {
    fn default() -> Self {
        Self {
            strain: Vec::new(),
            misalignment_rad: 0.0,
            stray: 0.0,
            plate_nm: 0.0,
            specimen_nm: 0.0,
            na: 0.4,
        }
    }
}

fn path(knobs: Knobs) -> LightPath {
    let mut below = vec![uniform(7.0, 20.0)];
    below.extend(knobs.strain);
    let mut path = stack(
        knobs.na,
        vec![
            polarizer(sheet(0.8, 1e-4), 3.0),
            part(
                "condenser",
                PartKind::Condenser(lens(0.6, 4, Coating::None, below)),
            ),
            slide(),
            specimen(knobs.specimen_nm, 31.0),
            part(
                "objective",
                PartKind::Objective(lens(0.5, 4, Coating::Mgf2, Vec::new())),
            ),
            part(
                "retarder",
                PartKind::Retarder(retarder(knobs.plate_nm, 40.0)),
            ),
            analyzer(sheet(0.7, 1e-4), 94.0 + knobs.misalignment_rad.to_degrees()),
        ],
    );
    path.stray_fraction = knobs.stray;
    path
}

fn leak(path: &LightPath) -> f64 {
    run::fields(path, &Rays::disc(path.na(), 6, 24), &[NM], &[1.0])
        .unwrap()
        .crossed[0]
}

/// A retarder of phase d moves no amplitude by more than d/2 and a turn by e none by more than e, and light is at most 1: so
/// the light moves by no more than d, or 2 e. The light stays within 2/3 of the clamp's radius, 1/3 of it away from any contact,
/// where three fields of (2/pi)/(1/3) make at most 2 C F/D x 5.8, 1.6 nm a newton.
#[test]
fn the_leak_is_continuous_as_each_imperfection_goes_to_nothing() {
    let none = leak(&path(Knobs::default()));
    let phase = TAU / NM;
    type Turned = fn(f64) -> Knobs;
    let knobs: [(&str, f64, Turned); 7] = [
        ("uniform strain, nm", phase, |e| Knobs {
            strain: vec![uniform(e, 80.0)],
            ..Knobs::default()
        }),
        ("radial strain, nm", phase, |e| Knobs {
            strain: vec![Strain::radial(e)],
            ..Knobs::default()
        }),
        ("clamp, N", 1.6 * phase, |e| Knobs {
            strain: vec![Strain::Clamp {
                contacts: 3,
                force_n: e,
                diameter_mm: 20.0,
                first_azimuth_rad: 0.2,
                stress_optic_brewster: 2.77,
            }],
            ..Knobs::default()
        }),
        ("path difference of a retarder, nm", phase, |e| Knobs {
            plate_nm: e,
            ..Knobs::default()
        }),
        ("path difference of a specimen, nm", phase, |e| Knobs {
            specimen_nm: e,
            ..Knobs::default()
        }),
        ("misalignment, rad", 2.0, |e| Knobs {
            misalignment_rad: e,
            ..Knobs::default()
        }),
        ("stray fraction", 1.0, |e| Knobs {
            stray: e,
            ..Knobs::default()
        }),
    ];
    for (name, slope, turned) in knobs {
        for size in [1e-2, 1e-4, 1e-6] {
            let now = leak(&path(turned(size)));
            // Below this the roundings of a light of order 1e-3 show.
            close(&format!("{name} {size}"), now, none, slope * size + 1e-16);
            assert!(now != none, "{name} {size}: nothing happened");
        }
    }
}

/// At normal incidence surfaces start to pass p better and s worse by the same amount of order NA^2, which the mean over the
/// azimuths does not see: what comes first is NA^4.
#[test]
fn a_closing_iris_leads_to_the_axis() {
    let at = |na| {
        leak(&path(Knobs {
            na,
            ..Knobs::default()
        }))
    };
    let axis = at(0.0);
    assert!(axis > 1e-4, "{axis:e}");
    for na in [0.1, 0.01, 0.001] {
        close(&format!("NA {na}"), at(na), axis, na.powi(4));
    }
    let order = ((at(0.02) - axis) / (at(0.01) - axis)).log2();
    close("order", order, 4.0, 0.01);
}

/// N surfaces that share one deviation theta pass `t_s/t_p = cos(theta/N)^N`, about exp(-theta^2/(2N)).
#[test]
fn surfaces_that_bend_ever_less_stop_to_polarize() {
    let mut before = f64::INFINITY;
    for surfaces in [2, 4, 8, 16, 64, 1024] {
        let theta = 0.65f64.asin();
        let (p, s) =
            (lens(0.65, surfaces, Coating::None, Vec::new()).amplitudes(theta, NM, 1.0)).unwrap();
        let n = f64::from(surfaces);
        let off = (p / s).norm() - 1.0;
        close("t_p/t_s - 1", off, (theta / n).cos().powf(-n) - 1.0, 1e-12);
        assert!(off > 0.0 && off < before);
        before = off;
    }
    assert!(before < 3e-4);
}
