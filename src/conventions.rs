//! Frames, signs and handedness: this page owns them, every other module refers to it.
//!
//! # The frame
//!
//! Light travels along +z, up the stack, from the lamp to the eye. The eye looks down the stack, toward the lamp, and sees x
//! point right, to the East, and y up, to the North. An azimuth is counted counter-clockwise from East, as in ISO 8576; vibrations
//! have no head or tail, so 180 degrees more are the same.
//!
//! ```text
//!               N  90 deg  analyzer
//!               y
//!               |      NE  45 deg  slow direction of an accessory plate
//!               |    /
//!               |  /   ) azimuths grow this way, counter-clockwise
//!    W ---------+--------- x  E  0 deg  lower polar
//!               |
//!               |          +z comes out of the page, toward the reader, who is the eye;
//!               S          the lamp is behind the page
//! ```
//!
//! Angles are radians everywhere but in files and in print, where names end in `_deg`. An older stand with its lower polar N-S
//! is the same stack turned by 90 degrees.
//!
//! # Phase, retarders, handedness
//!
//! - A wave is `exp(i(kz - wt))`: a longer way adds a positive phase.
//! - A retarder multiplies the vibration along its slow axis by `exp(+i delta/2)` and the one along its fast axis by
//!   `exp(-i delta/2)`, with `delta = 2 pi Gamma / lambda`. Azimuths of retarders are those of the SLOW axis; books mostly give the
//!   fast one.
//! - Gamma, the path difference, is a length in nm; wavelengths are those in vacuum. A negative path difference is a positive one with
//!   the axes exchanged.
//! - `S0 = |Ex|^2 + |Ey|^2`, `S1 = |Ex|^2 - |Ey|^2`, `S2 = 2 Re Ex Ey*`, `S3 = 2 Im Ex Ey*`.
//! - `S3 > 0` is right-handed: at a fixed place the vibration turns clockwise as the eye sees it. The amplitudes `(1, -i)/sqrt 2` are
//!   right circular.
//! - Mueller from Jones: `M_ij = 1/2 tr(sigma_i J sigma_j J^dagger)` with the Pauli matrices in the order that gives these Stokes parameters.
//! - Matrices act on columns; light meets the right-hand factor first.
//!
//! # Where books differ
//!
//! Viewpoint, sign of the phase, order of p and s, `n + ik` or `n - ik`, advance or delay: two books seldom agree in all, and
//! formulas mixed from two of them are the usual cause of a wrong sign. From memory of the books; look before you quote:
//!
//! | book | wave | right-handed light, seen toward the lamp | its amplitudes | its S3 |
//! |---|---|---|---|---|
//! | Hecht, Optics | `exp(i(kz - wt))` | clockwise | `(1, -i)/sqrt 2` | +1 |
//! | Born and Wolf, section 1.4 | real, `cos(wt - kz + delta)` | clockwise, `sin(delta) > 0`, delta = delta2 - delta1 | | + |
//! | Goldstein; Collett | `exp(i(wt - kz))` | clockwise | `(1, +i)/sqrt 2` | +1 |
//! | Chipman, Lam and Young | `exp(i(kz - wt))`, "decreasing phase" | clockwise | `(1, -i)/sqrt 2` | +1 |
//! | IEEE, radio | `exp(+jwt)` | counter-clockwise | | |
//! | this program | `exp(i(kz - wt))` | clockwise | `(1, -i)/sqrt 2` | +1 |
//!
//! Between `exp(i(kz - wt))` and `exp(i(wt - kz))` every Jones matrix is conjugated and `2 Im Ex Ey*` changes sign; Mueller matrices stay. In
//! the same way a thin film's characteristic matrix, which most books print with `+i sin`, has `-i sin` here: a layer that matches its
//! glass must give `exp(+i phase)`.
//!
//! # Rays
//!
//! A ray is named by where it crosses the exit pupil of the objective: its numerical aperture `s = n sin(theta)`, which flat layers leave
//! alone, and its azimuth phi. Where rays are collimated, from lamp to condenser and from objective to eye, vibrations are
//! written in x and y. In between each ray has its own p direction, in the plane that holds the ray and the axis, and its s
//! direction at right angles to it. An ideal lens maps p to the radius of the pupil and s to the tangent:
//!
//! ```text
//! Ex = Ep cos(phi) - Es sin(phi)        Ey = Ep sin(phi) + Es cos(phi)
//! ```
//!
//! The pupil frame is x and y carried along in this way, and every matrix of this program is written in it. So an ideal lens is the
//! identity, whatever the ray, and what treats p and s differently is a diagonal matrix turned to phi. Amplitudes of interfaces are
//! normalised so that their squares are transmittances of light power.
//!
//! Rays cross in the specimen: one that leaves the objective at (x, y) came through the condenser at (-x, -y), and the
//! condenser's strain is read there. Between two lenses of a condenser the ray's numerical aperture is smaller in the ratio of the
//! lenses' full NAs (the sine condition); both are crossed at the same fraction of their own apertures.
//!
//! # Films and stress
//!
//! - A sheet is named by the azimuth of the vibration it passes. Its absorbing direction lies in the film, 90 degrees from that; an oblique ray
//!   is absorbed along that direction's projection across the ray, which need not be at 90 degrees any more.
//! - A stress makes a path difference `C t (sigma_1 - sigma_2)`, tensions positive. With C > 0, as in nearly all optical glass, the slow axis lies
//!   along the larger tension, so the FAST axis lies along a compression. This is what the photoelastic (Pockels) coefficients of
//!   silica say: `C = n^3 (1 + nu)(p12 - p11)/(2 E)` is positive with p11 = 0.121 and p12 = 0.270. Other texts state the rule the other
//!   way round, with another sign of C; check with glass of known stress before trusting a map's sign.
//! - A clamp's forces are positive inward; its azimuth is that of the first contact.
//!
//! Each of these is worked through once in the tests of this file.

#![warn(clippy::disallowed_methods)]

#[cfg(test)]
mod tests {
    use crate::calculus::{Complex, Jones, Mueller, Stokes};
    use crate::light_path::{LightPath, Part, PartKind, Setting, reference};
    use crate::material::{Birefringence, Glass, Index, PolarizingSheet, SheetTransmittance};
    use crate::math;
    use crate::optics::{
        Coating, Lens, LensForm, Polarizer, Ray, Retarder, Specimen, Strain, StrainMap,
        coated_surfaces, flat_interface,
    };

    const NM: f64 = 550.0;
    const SETTING: Setting = Setting {
        plates: true,
        specimens: true,
        analyzer_azimuth_rad: None,
    };

    #[track_caller]
    fn close(got: f64, expected: f64) {
        assert!((got - expected).abs() < 1e-12, "{got}, expected {expected}");
    }

    #[track_caller]
    fn same(got: &Jones, expected: &Jones) {
        let off = (got.0 - expected.0).camax();
        assert!(off < 1e-12, "{got:?}, expected {expected:?}");
    }

    fn linear(azimuth_deg: f64) -> Stokes {
        Stokes([1.0, 1.0, 0.0, 0.0]).turned(azimuth_deg.to_radians())
    }

    fn after(part: &Jones, light: Stokes) -> [f64; 4] {
        Mueller::from_jones(part).apply(&light).0
    }

    #[track_caller]
    fn is(got: [f64; 4], expected: [f64; 4]) {
        for (got, expected) in got.into_iter().zip(expected) {
            close(got, expected);
        }
    }

    fn polarizer(azimuth_deg: f64) -> Polarizer {
        let sheet = PolarizingSheet {
            name: "ideal".to_owned(),
            transmittance: SheetTransmittance::Ideal,
            index: 1.5,
            cover_nm: 0.0,
            cover_is_told: false,
        };
        Polarizer::new(sheet, azimuth_deg.to_radians())
    }

    fn plate(path_difference_nm: f64, slow_deg: f64) -> Retarder {
        Retarder {
            path_difference_nm,
            at_nm: NM,
            material: Birefringence::None,
            slow_azimuth_rad: slow_deg.to_radians(),
        }
    }

    fn lens(coating: Coating, strain: Vec<Strain>) -> Lens {
        Lens {
            na: 0.5,
            immersion: 1.0,
            form: LensForm::Equal { surfaces: 2 },
            glass: Glass {
                name: "1.5".to_owned(),
                index: Index::Constant(1.5),
                stress_optic_brewster: None,
            },
            coating,
            strain,
            strain_dispersion: None,
        }
    }

    fn path(kinds: Vec<PartKind>) -> LightPath {
        LightPath {
            lamp: Stokes::UNPOLARIZED,
            iris_na: None,
            view_na: None,
            parts: (kinds.into_iter())
                .map(|kind| Part {
                    name: kind.word().to_owned(),
                    kind,
                    tolerance: None,
                })
                .collect(),
            stray_fraction: 0.0,
        }
    }

    /// Jones matrix of one part of a path for one ray.
    fn of_part(path: &LightPath, part: usize, s: f64, azimuth_deg: f64) -> Jones {
        let ray = Ray {
            s,
            azimuth_rad: azimuth_deg.to_radians(),
        };
        reference::jones(path, part..part + 1, SETTING, ray, NM).unwrap()
    }

    #[test]
    fn a_polarizer_at_north_east_passes_s2() {
        let ne = polarizer(45.0).collimated(NM).unwrap().jones();
        // Ex and Ey in step: S2 = +1. North-west, 135 deg, is S2 = -1 and gets nothing through.
        is(after(&ne, Stokes::UNPOLARIZED), [0.5, 0.0, 0.5, 0.0]);
        is(after(&ne, Stokes([1.0, 0.0, -1.0, 0.0])), [0.0; 4]);
        // East is S1 = +1, North S1 = -1.
        let east = polarizer(0.0).collimated(NM).unwrap().jones();
        is(after(&east, Stokes::UNPOLARIZED), [0.5, 0.5, 0.0, 0.0]);
    }

    #[test]
    fn a_positive_angle_turns_from_east_toward_north() {
        is(linear(30.0).0, [1.0, 0.5, 0.75f64.sqrt(), 0.0]);
        let east = Jones::linear(1.0.into(), 0.0.into(), 0.0);
        let turned = east.turned(90f64.to_radians());
        same(&turned, &Jones::linear(0.0.into(), 1.0.into(), 0.0));
        // A half wave with its slow axis at 20 deg sends East to 40 deg, on the same side.
        let half = plate(0.5 * NM, 20.0).element(NM).unwrap().jones();
        is(after(&half, linear(0.0)), linear(40.0).0);
    }

    #[test]
    fn the_slow_axis_of_a_retarder_lags() {
        // Slow axis East, a quarter wave: Ex gets exp(+i pi/4), Ey exp(-i pi/4).
        let slow_east = plate(0.25 * NM, 0.0).element(NM).unwrap().jones();
        let eighth = math::cis(std::f64::consts::FRAC_PI_4);
        same(&slow_east, &Jones::linear(eighth, eighth.conj(), 0.0));
        // Minus the path difference is the same plate turned by 90 deg.
        let fast_east = plate(-0.25 * NM, 0.0).element(NM).unwrap().jones();
        same(
            &fast_east,
            &plate(0.25 * NM, 90.0).element(NM).unwrap().jones(),
        );
    }

    #[test]
    fn a_quarter_wave_with_its_fast_axis_north_east_makes_right_circular_light() {
        let fast_ne = plate(0.25 * NM, 135.0).element(NM).unwrap().jones();
        is(after(&fast_ne, linear(0.0)), [1.0, 0.0, 0.0, 1.0]);
        let right = Stokes::from_amplitudes(Complex::from(1.0), -Complex::i());
        is(right.0, [2.0, 0.0, 0.0, 2.0]);
        // Clockwise in time: exp(-iwt)(1, -i) is (cos wt, -sin wt), from East to South.
        let quarter_period = math::cis(-std::f64::consts::FRAC_PI_2);
        close((quarter_period * -Complex::i()).re, -1.0);
        let slow_ne = plate(0.25 * NM, 45.0).element(NM).unwrap().jones();
        is(after(&slow_ne, linear(0.0)), [1.0, 0.0, 0.0, -1.0]);
    }

    #[test]
    fn an_ideal_lens_is_the_identity_and_a_bare_one_passes_the_radius_best() {
        let pair = |coating| {
            path(vec![
                PartKind::Condenser(lens(coating, Vec::new())),
                PartKind::Objective(lens(coating, Vec::new())),
            ])
        };
        for azimuth_deg in [0.0, 35.0, 200.0] {
            let ideal = of_part(&pair(Coating::Ideal), 0, 0.4, azimuth_deg);
            same(&ideal, &Jones::identity());
            // p vibrates along the radius of the pupil and meets less reflection.
            for part in [0, 1] {
                let bare = of_part(&pair(Coating::None), part, 0.4, azimuth_deg);
                let radial = after(&bare, linear(azimuth_deg))[0];
                let tangential = after(&bare, linear(azimuth_deg + 90.0))[0];
                assert!(radial > tangential + 1e-3, "{radial} {tangential}");
            }
        }
    }

    #[test]
    fn an_interface_passes_p_whole_at_brewsters_angle() {
        let s = math::sin(math::atan(1.5f64));
        let (p, along_s) = flat_interface(1.0, 1.5, s);
        close(p, 1.0);
        // R_s at Brewster's angle is ((n^2 - 1)/(n^2 + 1))^2.
        close(along_s * along_s, 1.0 - (1.25f64 / 3.25).powi(2));
        // The first of the pair is p, here and in every other pair.
        let (coated_p, coated_s) = coated_surfaces(1.5, NM, 1.5, math::asin(s), NM, 1.0);
        close(coated_p.norm(), p);
        close(coated_s.norm(), along_s);
        // A layer of the glass itself delays by the way through it, a positive phase below 90 deg.
        assert!(coated_s.arg() > 0.0 && coated_s.arg() < std::f64::consts::FRAC_PI_2);
    }

    #[test]
    fn an_oblique_ray_sees_the_absorbing_axis_foreshortened_toward_s() {
        // Passes East, absorbs North.
        let film = polarizer(0.0);
        let seen = |s: f64, azimuth_deg: f64| {
            let ray = Ray {
                s,
                azimuth_rad: azimuth_deg.to_radians(),
            };
            film.film_ray(ray).absorbed_azimuth_rad.to_degrees()
        };
        close(seen(0.0, 45.0), 90.0);
        // Inclined to East or North the axis is seen where it is.
        close(seen(0.9, 0.0), 90.0);
        close(seen(0.9, 90.0), 90.0);
        // Inclined to NE, p at 45 deg shrinks by cos(theta'), s at 135 deg stays: the axis turns from 90 deg toward 135.
        let cos = (1.0 - 0.36f64).sqrt();
        close(seen(0.9, 45.0), 45.0 + math::atan(1.0 / cos).to_degrees());
        assert!(seen(0.9, 45.0) > 90.0 && seen(0.9, 135.0) < 90.0);
    }

    #[test]
    fn the_condenser_is_crossed_opposite_to_the_objective() {
        // Strain in the West half of the glass alone: nothing at x = 1, 100 nm at x = -1.
        let nodes = [(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)]
            .map(|(x, y)| (x, y, 50.0 - 50.0 * x, 0.0));
        let map = Strain::Map(StrainMap::new(&nodes).unwrap());
        let pair = path(vec![
            PartKind::Condenser(lens(Coating::Ideal, vec![map.clone()])),
            PartKind::Objective(lens(Coating::Ideal, vec![map])),
        ]);
        let strained = plate(100.0, 0.0).element(NM).unwrap().jones();
        // The ray at East, at the rim.
        same(&of_part(&pair, 0, 0.5, 0.0), &strained);
        same(&of_part(&pair, 1, 0.5, 0.0), &Jones::identity());
        same(&of_part(&pair, 0, 0.5, 180.0), &Jones::identity());
        same(&of_part(&pair, 1, 0.5, 180.0), &strained);
    }

    #[test]
    fn the_fast_axis_lies_along_a_clamps_pressure() {
        // Two forces East and West, C > 0: the centre is pressed along East and drawn out along North.
        let clamp = Strain::Clamp {
            contacts: 2,
            force_n: 10.0,
            diameter_mm: 25.0,
            first_azimuth_rad: 0.0,
            stress_optic_brewster: 2.77,
        };
        let centre = clamp.at(0.0, 0.0).unwrap();
        let (sin, cos) = math::sincos(centre.slow_azimuth_rad);
        close(cos, 0.0);
        close(sin.abs(), 1.0);
        assert!(centre.path_difference_nm > 0.0);
        // A radial strain says in so many words which way it is slow.
        let radial = Strain::radial(10.0);
        close(
            radial.at(0.0, 0.5).unwrap().slow_azimuth_rad.to_degrees(),
            90.0,
        );
        close(radial.at(0.0, 0.5).unwrap().path_difference_nm, 2.5);
    }

    #[test]
    fn a_plate_adds_to_a_specimen_whose_slow_axis_is_parallel() {
        // Crossed polars, plate of 550 nm slow NE-SW, specimen of 100 nm.
        let seen = |specimen_deg: f64| {
            let specimen = Specimen::Stated {
                path_difference_nm: 100.0,
                slow_azimuth_rad: f64::to_radians(specimen_deg),
            };
            let path = path(vec![
                PartKind::Polarizer(polarizer(0.0)),
                PartKind::Condenser(lens(Coating::Ideal, Vec::new())),
                PartKind::Specimen(specimen),
                PartKind::Objective(lens(Coating::Ideal, Vec::new())),
                PartKind::Plate(plate(550.0, 45.0)),
                PartKind::Analyzer(polarizer(90.0)),
            ]);
            let ray = Ray {
                s: 0.2,
                azimuth_rad: 1.0,
            };
            reference::jones(&path, 0..6, SETTING, ray, 500.0)
                .unwrap()
                .transmittance()
        };
        let alone = |path_nm: f64| 0.5 * math::sin(std::f64::consts::PI * path_nm / 500.0).powi(2);
        close(seen(45.0), alone(650.0));
        close(seen(135.0), alone(450.0));
    }
}
