//! Lenses told by their surfaces: closed forms, the way back, and whatever anybody may write.

use std::f64::consts::FRAC_PI_2;

use polstack::light_path::{LightPath, Part, PartKind};
use polstack::material::{Glass, Index};
use polstack::optics::prescription::{Form, FormError, Passed, Shape, Stop, Surface, Train};
use polstack::optics::{Coating, Lens, LensForm};
use proptest::prelude::*;

use super::common::close;
use polstack::study::lens::{LensQuestion, lenses};

const GREEN_NM: f64 = 546.1;

fn glass(index: f64) -> Option<Glass> {
    Some(Glass {
        name: format!("n = {index}"),
        index: Index::Constant(index),
        stress_optic_brewster: None,
    })
}

/// Where a ray crosses the axis behind the last vertex, mm.
fn crossing_mm(train: &Train, height_mm: f64) -> f64 {
    let ray = train.at(GREEN_NM).ray(height_mm).unwrap();
    let last = ray.surfaces.last().unwrap();
    let vertex: f64 = train
        .surfaces
        .iter()
        .rev()
        .skip(1)
        .map(|s| s.thickness_mm)
        .sum();
    last.along_mm - vertex - last.height_mm / last.slope_rad.tan()
}

#[test]
fn a_plano_convex_lens_has_the_focal_length_of_its_curve() {
    for (radius, n) in [(10.0, 1.5), (23.0, 1.7)] {
        let surfaces = vec![
            Surface::sphere(radius, 4.0, glass(n), 5.0),
            Surface::sphere(0.0, 0.0, None, 5.0),
        ];
        let lens = Train::new(surfaces, 1.0);
        let paraxial = lens.at(GREEN_NM).paraxial();
        let focal = radius / (n - 1.0);
        close("focal length", paraxial.focal_length_mm, focal, 1e-12);
        close("front plane", paraxial.front_focal_plane_mm, -focal, 1e-12);
        close(
            "back plane",
            paraxial.back_focal_plane_mm,
            focal - 4.0 / n,
            1e-12,
        );
        // Rays near the axis go there.
        close(
            "near the axis",
            crossing_mm(&lens, 1e-4),
            focal - 4.0 / n,
            1e-8,
        );
    }
}

/// M. Born and E. Wolf, Principles of Optics, section 4.4 (from memory): a ball of radius R and index n has the focal length n R / (2 (n - 1)).
#[test]
fn a_ball_lens_has_its_focal_length() {
    let (radius, n) = (3.0, 1.6);
    let surfaces = vec![
        Surface::sphere(radius, 2.0 * radius, glass(n), 2.9),
        Surface::sphere(-radius, 0.0, None, 2.9),
    ];
    let paraxial = Train::new(surfaces, 1.0).at(GREEN_NM).paraxial();
    let focal = n * radius / (2.0 * (n - 1.0));
    close("focal length", paraxial.focal_length_mm, focal, 1e-12);
    close(
        "behind the ball",
        paraxial.back_focal_plane_mm,
        focal - radius,
        1e-12,
    );
}

/// Born and Wolf, section 4.2.3 (from memory): rays toward the point at distance n R from the centre of a sphere of index n leave it, inside,
/// toward the point at R/n, however steep they are. Here the light comes from a paraboloid-free source: a hyperboloid makes it converge first.
#[test]
fn a_sphere_is_without_spherical_aberration_at_its_aplanatic_points() {
    let (n, radius) = (1.5, 6.0);
    // Flat, then a hyperboloid of conic -n^2: parallel light inside goes exactly to its focus.
    let focal = 20.0;
    let front = Surface::sphere(0.0, 5.0, glass(n), 9.0);
    let mut curve = Surface::sphere(-focal * (n - 1.0), 0.0, None, 9.0);
    curve.conic = -n * n;
    // The sphere's vertex lies so that the focus is n R behind its centre.
    let gap = focal - radius - n * radius;
    curve.thickness_mm = gap;
    let sphere = Surface::sphere(radius, 0.0, glass(n), 5.5);
    let lens = Train::new(vec![front, curve, sphere], n);
    for height in [0.5, 3.0, 5.0, 7.0, 8.5] {
        close(
            "toward R/n",
            crossing_mm(&lens, height),
            radius + radius / n,
            1e-11,
        );
    }
}

/// R. K. Luneburg, Mathematical Theory of Optics (from memory): Cartesian ovals for parallel light are an ellipsoid of conic -1/n^2 toward
/// glass and a hyperboloid of conic -n^2 out of it.
#[test]
fn cartesian_conics_bring_parallel_light_to_one_point() {
    for n in [1.49, 1.523, 1.8] {
        let mut ellipsoid = Surface::sphere(9.0, 0.0, glass(n), 6.0);
        ellipsoid.conic = -1.0 / (n * n);
        let inside = Train::new(vec![ellipsoid], n);
        let mut hyperboloid = Surface::sphere(-9.0, 0.0, None, 12.0);
        hyperboloid.conic = -n * n;
        let outside = Train::new(
            vec![Surface::sphere(0.0, 8.0, glass(n), 12.0), hyperboloid],
            1.0,
        );
        for height in [0.1, 2.0, 5.9] {
            close(
                "ellipsoid",
                crossing_mm(&inside, height),
                9.0 * n / (n - 1.0),
                1e-11,
            );
            close(
                "hyperboloid",
                crossing_mm(&outside, height),
                9.0 / (n - 1.0),
                1e-11,
            );
        }
    }
}

#[test]
fn a_train_turned_lets_the_ray_go_back_as_it_came_and_passes_as_much() {
    let surfaces = [
        Surface::sphere(30.0, 4.0, glass(1.62), 9.0),
        Surface::sphere(-25.0, 1.5, glass(1.75), 9.0),
        Surface::sphere(-80.0, 3.0, None, 9.0),
        Surface::sphere(14.0, 6.0, glass(1.52), 8.0),
        Surface::sphere(0.0, 0.0, None, 8.0),
    ];
    let train = Train::new(surfaces.to_vec(), 1.0);
    let twice = {
        let turned = Train::turned(&surfaces, 1.0);
        Train::turned(&turned.surfaces, 1.0)
    };
    let ray = train.at(GREEN_NM).ray(7.0).unwrap();
    assert_eq!(ray, twice.at(GREEN_NM).ray(7.0).unwrap());
    for surface in &ray.surfaces {
        let (n1, n2) = surface.index;
        let there = Passed::bare((n1, n2), surface.incidence_rad, surface.refraction_rad);
        let back = Passed::bare((n2, n1), surface.refraction_rad, surface.incidence_rad);
        close("p", there.p.re, back.p.re, 1e-15);
        close("s", there.s.re, back.s.re, 1e-15);
        // What a surface does not pass it reflects: Fresnel's r_s and r_p.
        let (a, b) = (surface.incidence_rad, surface.refraction_rad);
        let r_s = ((a - b).sin() / (a + b).sin()).powi(2);
        let r_p = ((a - b).tan() / (a + b).tan()).powi(2);
        close("energy of s", (2.0 * there.s.re).exp() + r_s, 1.0, 1e-12);
        close("energy of p", (2.0 * there.p.re).exp() + r_p, 1.0, 1e-12);
    }
}

fn lens(form: LensForm, coating: Coating) -> LightPath {
    let lens = Lens {
        form,
        coating,
        ..Lens::new(0.6, 2, glass(1.52).unwrap())
    };
    LightPath {
        parts: vec![Part::new("condenser", PartKind::Condenser(lens))],
        ..LightPath::default()
    }
}

#[test]
fn equal_bending_comes_back_where_all_bendings_are_equal() {
    let each = 0.6f64.asin() / 4.0;
    for coating in [Coating::None, Coating::Mgf2] {
        let equal = lens(LensForm::Equal { surfaces: 4 }, coating);
        // The sign of a bending does not matter to what passes.
        let told = LensForm::Bending {
            bending_rad: vec![each, -each, each, -each],
        };
        let told = lens(told, coating);
        for s in [0.0, 0.2, 0.45, 0.6] {
            let [a, b] = [&equal, &told].map(|path| {
                let passage = path.passage(0).unwrap();
                passage.at(500.0).passed(s).unwrap().amplitudes(1.0)
            });
            assert!(
                (a.0 - b.0).norm() < 1e-15 && (a.1 - b.1).norm() < 1e-15,
                "{s}: {a:?} {b:?}"
            );
        }
    }
}

/// optics.md's audit: B270 singlets and condensers of two lenses leak 1.1 to 2.6 times what equal bending at as many surfaces does.
#[test]
fn real_condensers_leak_as_much_more_than_equal_bending_as_the_audit_found() {
    let form = Form {
        diameter_mm: 28.0,
        thickness_mm: 11.0,
        focal_length_mm: 18.0,
        glass: polstack::material::catalog::glass("B270").unwrap(),
        shape: Shape::Parabolic,
    };
    let surfaces = form.surfaces().unwrap();
    let mut traced = lens(LensForm::prescription(surfaces), Coating::None);
    traced.settle_prescriptions().unwrap();
    let equal = lens(LensForm::Equal { surfaces: 2 }, Coating::None);
    let differences = |path: &LightPath| -> f64 {
        let passage = path.passage(0).unwrap();
        let at = passage.at(GREEN_NM);
        let rings = polstack::optics::Rays::disc(0.5, 16, 1);
        (rings.iter())
            .map(|(ray, weight)| {
                let (p, s) = at.passed(ray.s).unwrap().amplitudes(1.0);
                weight * (p - s).norm_sqr()
            })
            .sum()
    };
    let ratio = differences(&traced) / differences(&equal);
    assert!((1.1..2.6).contains(&ratio), "{ratio}");
}

#[test]
fn forms_have_the_focal_length_asked_for_or_say_why_not() {
    let form = |focal_length_mm: f64, thickness_mm: f64, shape| Form {
        diameter_mm: 20.0,
        thickness_mm,
        focal_length_mm,
        glass: glass(1.523).unwrap(),
        shape,
    };
    let shapes = [
        Shape::PlanoConvex,
        Shape::Biconvex,
        Shape::Parabolic,
        Shape::Aspheric,
    ];
    for shape in shapes {
        let surfaces = form(25.0, 9.0, shape).surfaces().unwrap();
        let train = Train::new(surfaces, 1.0);
        let paraxial = train.at(GREEN_NM).paraxial();
        close("focal length", paraxial.focal_length_mm, 25.0, 1e-12);
        if shape == Shape::Aspheric {
            let rim = train.surfaces[0].half_diameter_mm;
            close(
                "rim",
                crossing_mm(&train, rim),
                paraxial.back_focal_plane_mm,
                1e-9,
            );
        }
        let thin = form(25.0, 1.0, shape).surfaces();
        assert!(matches!(thin, Err(FormError::TooThin { .. })), "{thin:?}");
    }
    let short = form(8.0, 9.0, Shape::PlanoConvex).surfaces();
    assert!(
        matches!(short, Err(FormError::TooShort { .. })),
        "{short:?}"
    );
}

#[test]
fn what_stops_a_bundle_is_told() {
    let n = 1.9;
    // Parallel light inside meets the curved back beyond the critical angle.
    let back = vec![
        Surface::sphere(0.0, 8.0, glass(n), 8.0),
        Surface::sphere(-9.0, 0.0, None, 8.0),
    ];
    let reach = Train::new(back, 1.0).at(GREEN_NM).reach().unwrap();
    assert_eq!(
        (reach.limit.surface, reach.limit.why),
        (1, Stop::TotalReflection)
    );
    close("critical height", reach.height_mm, 9.0 / n, 1e-9);
    let small = vec![
        Surface::sphere(20.0, 8.0, glass(1.5), 8.0),
        Surface::sphere(0.0, 0.0, None, 4.0),
    ];
    let reach = Train::new(small, 1.0).at(GREEN_NM).reach().unwrap();
    assert_eq!(
        (reach.limit.surface, reach.limit.why),
        (1, Stop::ClearAperture)
    );
    let diverging = vec![
        Surface::sphere(-20.0, 2.0, glass(1.5), 8.0),
        Surface::sphere(0.0, 0.0, None, 8.0),
    ];
    assert!(Train::new(diverging, 1.0).at(GREEN_NM).reach().is_none());
}

fn surface() -> impl Strategy<Value = Surface> {
    (
        -60.0..60.0,
        -6.0..3.0,
        prop::array::uniform4(-1e-3..1e-3),
        0.0..12.0,
        prop::option::of(1.3..2.2),
        0.1..20.0,
        prop::sample::select(vec![Coating::None, Coating::Mgf2, Coating::Ideal]),
    )
        .prop_map(
            |(radius_mm, conic, aspheric, thickness_mm, index, half_diameter_mm, coating)| {
                Surface {
                    radius_mm: if f64::abs(radius_mm) < 2.0 {
                        0.0
                    } else {
                        radius_mm
                    },
                    conic,
                    aspheric: if conic > 0.0 { aspheric } else { [0.0; 4] },
                    thickness_mm,
                    after: index.and_then(glass),
                    half_diameter_mm,
                    coating,
                }
            },
        )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// Whatever surfaces somebody writes: no panic, and a ray that arrives has lost energy and gained none.
    #[test]
    fn random_prescriptions_are_traced_or_stopped(
        surfaces in prop::collection::vec(surface(), 1..9),
        immersion in prop::sample::select(vec![1.0, 1.333, 1.515]),
    ) {
        let count = surfaces.len();
        let train = Train::new(surfaces, immersion);
        let at = train.at(GREEN_NM);
        let _ = at.paraxial();
        if let Some(reach) = at.reach() {
            prop_assert!(reach.na > 0.0 && reach.na <= immersion);
            for part in [0.1, 0.5, 0.9] {
                let na = part * reach.na;
                if let Ok(height) = at.height_of(na, (reach.height_mm, reach.na)) {
                    let ray = at.ray(height).unwrap();
                    prop_assert!((ray.na - na).abs() <= 1e-9 * na);
                    let (p, s) = at.passed_by(0..count, &ray).amplitudes(1.0);
                    prop_assert!(p.norm() <= 1.0 + 1e-12 && s.norm() <= 1.0 + 1e-12, "{p} {s}");
                    for at in &ray.surfaces {
                        prop_assert!(at.incidence_rad.abs() < FRAC_PI_2);
                    }
                }
            }
        }
    }
}

/// The table that a settled prescription is read from agrees with rays traced one by one, coated or bare, between its points too.
#[test]
fn what_is_kept_of_a_prescription_is_what_its_rays_say() {
    for coating in [Coating::None, Coating::Mgf2] {
        let coat = |surface: Surface| Surface { coating, ..surface };
        let surfaces = vec![
            coat(Surface::sphere(20.0, 11.0, glass(1.523), 13.5)),
            coat(Surface::sphere(0.0, 1.0, None, 13.5)),
            coat(Surface::sphere(10.0, 9.0, glass(1.523), 9.0)),
            coat(Surface::sphere(0.0, 0.0, None, 9.0)),
        ];
        let fresh = lens(LensForm::prescription(surfaces), coating);
        let mut settled = fresh.clone();
        settled.settle_prescriptions().unwrap();
        let (fresh, settled) = (fresh.passage(0).unwrap(), settled.passage(0).unwrap());
        let full_na = settled.full_na().unwrap();
        assert!(full_na > 0.8);
        for nm in [362.0, 402.5, 546.1, 777.0] {
            for part in [0.0, 0.013, 0.31, 0.77, 0.981, 1.0] {
                let [a, b] = [&fresh, &settled].map(|p| p.at(nm).passed(part * full_na).unwrap());
                let off = (a.p - b.p).norm().max((a.s - b.s).norm());
                assert!(off < 1e-8, "{nm} nm, {part}: {off:e}");
            }
        }
    }
}

/// A condenser of two traced lenses: the same light as its surfaces in one part, the beam between as the ray goes there, also stopped down.
#[test]
fn two_traced_lenses_are_traced_together() {
    let surfaces = vec![
        Surface {
            conic: -1.0,
            ..Surface::sphere(20.0, 11.0, glass(1.523), 13.5)
        },
        Surface::sphere(0.0, 1.0, None, 13.5),
        Surface::sphere(10.0, 9.0, glass(1.523), 9.0),
        Surface::sphere(0.0, 0.0, None, 9.0),
    ];
    let part = |surfaces: &[Surface], na: f64| {
        let lens = Lens {
            na,
            form: LensForm::prescription(surfaces.to_vec()),
            ..Lens::new(0.6, 0, glass(1.5).unwrap())
        };
        Part::new("lens", PartKind::Condenser(lens))
    };
    let whole = LightPath {
        parts: vec![part(&surfaces, f64::NAN)],
        ..LightPath::default()
    };
    for na in [f64::NAN, 0.5] {
        let mut pair = LightPath {
            parts: vec![part(&surfaces[..2], f64::NAN), part(&surfaces[2..], na)],
            ..LightPath::default()
        };
        pair.settle_prescriptions().unwrap();
        let lens_na = |part: usize| match &pair.parts[part].kind {
            PartKind::Condenser(lens) => lens.na,
            _ => unreachable!(),
        };
        let full = pair.rim_na(1);
        let used = if na.is_nan() { full } else { na };
        close("used", lens_na(1), used, 0.0);
        let first = pair.passage(0).unwrap();
        close("beam", lens_na(0), first.behind(used).unwrap(), 1e-12);
        for s in [0.1, 0.3, 0.5] {
            let one = whole.passage(0).unwrap().at(GREEN_NM).passed(s).unwrap();
            let [a, b] =
                [0, 1].map(|part| pair.passage(part).unwrap().at(GREEN_NM).passed(s).unwrap());
            let off = (a + b).p - one.p;
            assert!(off.norm() < 1e-8, "{s}: {off}");
        }
    }
}

/// A stand's condenser, replaced by one lens of these surfaces.
fn stand_with(surfaces: Vec<Surface>) -> polstack::Scene {
    let mut scene = polstack::scenario::read("scenarios/sheet-below-condenser.toml".as_ref())
        .unwrap()
        .scene;
    for part in &mut scene.path.parts {
        if let PartKind::Condenser(lens) = &mut part.kind {
            *lens = Lens {
                form: LensForm::prescription(surfaces.clone()),
                strain: Vec::new(),
                na: 1.0,
                ..lens.clone()
            };
        }
    }
    scene.path.settle_prescriptions().unwrap();
    scene
}

#[test]
fn the_ray_that_comes_together_first_decides_the_room() {
    // A sphere's outermost ray does, a hyperboloid's innermost; without a slide the room is where that ray crosses the axis.
    let question = LensQuestion {
        slide_mm: 0.0,
        ..LensQuestion::default()
    };
    for (conic, outermost) in [(0.0, true), (-4.0, false)] {
        let front = Surface {
            conic,
            ..Surface::sphere(12.0, 8.0, glass(1.52), 7.0)
        };
        let scene = stand_with(vec![front, Surface::sphere(0.0, 0.0, None, 7.0)]);
        let lens = &lenses(&scene, &question).unwrap()[0];
        let train = &lens.drawing.train;
        let expected = match outermost {
            true => crossing_mm(train, *lens.drawing.heights_mm.last().unwrap()),
            false => crossing_mm(train, lens.room_na * lens.focal_length_mm),
        };
        close("room", lens.room_mm, expected, 1e-6);
        assert!(if outermost {
            lens.room_na == lens.na
        } else {
            lens.room_na < 0.1 * lens.na
        });
        let all_miss_by_less = lens
            .drawing
            .aberration
            .iter()
            .filter(|at| at.0 <= lens.na_within_field);
        assert!(all_miss_by_less.clone().count() > 0);
        assert!(all_miss_by_less.map(|at| at.1.abs()).all(|um| um <= 500.0));
    }
}
