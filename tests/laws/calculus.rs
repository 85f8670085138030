//! The algebra of Jones, Mueller and Stokes, over random parts.

use nalgebra::{Matrix2, Matrix4, Rotation3, Vector3};
use polstack::calculus::{Coherency, Complex, Jones, Mueller, PolarDecomposition, Stokes};
use polstack::optics::{coated_surfaces, flat_interface};
use proptest::prelude::*;

use crate::common::close;

/// Any Jones matrix with elements within the unit square, not too near to darkness.
fn any_jones() -> impl Strategy<Value = Jones> {
    prop::array::uniform8(-1.0..1.0f64)
        .prop_map(|[a, b, c, d, e, f, g, h]| {
            Jones(Matrix2::new(
                Complex::new(a, b),
                Complex::new(c, d),
                Complex::new(e, f),
                Complex::new(g, h),
            ))
        })
        .prop_filter("nearly opaque", |jones| jones.transmittance() > 1e-2)
}

/// A passive part as this program builds them: two amplitudes of at most 1, any phases, any azimuth.
fn passive_part() -> impl Strategy<Value = Jones> {
    (0.0..=1.0, 0.0..=1.0, -7.0..7.0, -7.0..7.0, -4.0..4.0).prop_map(
        |(along, across, first, second, azimuth): (f64, f64, f64, f64, f64)| {
            Jones::linear(
                Complex::from_polar(along, first),
                Complex::from_polar(across, second),
                azimuth,
            )
        },
    )
}

fn chain_of(parts: &[Jones]) -> Jones {
    (parts.iter()).fold(Jones::identity(), |whole, &part| part * whole)
}

/// Light of intensity 1 with any degree of polarization.
fn any_light() -> impl Strategy<Value = Stokes> {
    (0.0..=1.0, -1.0..=1.0, 0.0..7.0).prop_map(|(degree, height, turn): (f64, f64, f64)| {
        let level = (1.0 - height * height).sqrt() * degree;
        Stokes([1.0, level * turn.cos(), level * turn.sin(), degree * height])
    })
}

fn linear_light(azimuth: f64) -> [Complex; 2] {
    [azimuth.cos().into(), azimuth.sin().into()]
}

/// What an ideal analyzer at `second` passes of light that vibrates at `first`, after a part.
fn between(first: f64, part: &Jones, second: f64) -> f64 {
    let ([a, b], [c, d]) = (linear_light(first), linear_light(second));
    let after = part.0 * nalgebra::Vector2::new(a, b);
    (c * after[0] + d * after[1]).norm_sqr()
}

proptest! {
    /// Elements of the product are sums of a few dozen products of numbers up to 4: rounding stays below 1e-13.
    #[test]
    fn products_of_jones_matrices_become_products_of_mueller_matrices(
        first in any_jones(), second in any_jones(),
    ) {
        let whole = Mueller::from_jones(&(second * first));
        let parts = Mueller::from_jones(&second) * Mueller::from_jones(&first);
        close("largest difference", (whole.0 - parts.0).amax(), 0.0, 1e-13);
    }

    #[test]
    fn a_mueller_matrix_acts_on_stokes_as_its_jones_matrix_on_amplitudes(
        jones in any_jones(), ex in prop::array::uniform2(-1.0..1.0f64), ey in prop::array::uniform2(-1.0..1.0f64),
    ) {
        let (ex, ey) = (Complex::new(ex[0], ex[1]), Complex::new(ey[0], ey[1]));
        let after = jones.0 * nalgebra::Vector2::new(ex, ey);
        let by_amplitudes = Stokes::from_amplitudes(after[0], after[1]);
        let light = Stokes::from_amplitudes(ex, ey);
        let by_mueller = Mueller::from_jones(&jones).apply(&light);
        let by_coherency = Coherency::from_stokes(&light).through(&jones).to_stokes();
        for k in 0..4 {
            close("Mueller", by_mueller.0[k], by_amplitudes.0[k], 1e-13);
            close("coherency", by_coherency.0[k], by_amplitudes.0[k], 1e-13);
        }
    }

    /// The phase that both amplitudes share is lost on the way; all else comes back. An eigenvector of a 4 x 4 matrix with
    /// eigenvalues (m00, 0, 0, 0) is good to a few 1e-15.
    #[test]
    fn a_pure_mueller_matrix_gives_its_jones_matrix_back(jones in any_jones()) {
        let mueller = Mueller::from_jones(&jones);
        let back = mueller.to_jones().expect("a pure part");
        close("Mueller", (Mueller::from_jones(&back).0 - mueller.0).amax(), 0.0, 1e-13);
        let overlap = (back.0.adjoint() * jones.0).trace().norm();
        close("overlap", overlap / (2.0 * jones.transmittance()), 1.0, 1e-13);
    }

    #[test]
    fn a_mixture_of_different_parts_has_no_jones_matrix(
        phase in 0.1..6.1f64, azimuth in 0.0..3.2f64, share in 0.05..0.95f64,
    ) {
        let retarder = Mueller::from_jones(&Jones::retarder(phase, azimuth));
        let mixed = Mueller::identity().scaled(share) + retarder.scaled(1.0 - share);
        prop_assert!(mixed.to_jones().is_none());
        prop_assert!(mixed.depolarization_index() < 1.0);
    }

    #[test]
    fn retarders_are_unitary_and_keep_all_light(
        phase in -20.0..20.0f64, azimuth in -4.0..4.0f64, light in any_light(),
    ) {
        let retarder = Jones::retarder(phase, azimuth);
        let product = retarder.0.adjoint() * retarder.0;
        close("J^dagger J - 1", (product - Matrix2::identity()).camax(), 0.0, 1e-14);
        let after = Mueller::from_jones(&retarder).apply(&light);
        close("intensity", after.0[0], 1.0, 1e-14);
        let degree = light.degree_of_polarization();
        close("degree of polarization", after.degree_of_polarization(), degree, 1e-14);
    }

    /// The most that any light gets through a part is m00 plus the length of its diattenuation vector.
    #[test]
    fn no_chain_of_passive_parts_passes_more_than_it_gets(
        parts in prop::collection::vec(passive_part(), 1..8), light in any_light(),
    ) {
        let chain = chain_of(&parts);
        let mueller = Mueller::from_jones(&chain);
        let m = mueller.0;
        let most = m[(0, 0)] + m[(0, 1)].hypot(m[(0, 2)]).hypot(m[(0, 3)]);
        prop_assert!(most <= 1.0 + 1e-14, "{}", most);
        prop_assert!(chain.transmittance() <= 1.0 + 1e-14);
        close("m00", m[(0, 0)], chain.transmittance(), 1e-14);
        let out = mueller.apply(&light).0[0];
        prop_assert!((-1e-14..=1.0 + 1e-14).contains(&out), "{}", out);
    }

    /// Reflectances from Fresnel's own formulas; media are lossless, so what is not reflected goes on.
    #[test]
    fn an_interface_loses_only_what_it_reflects(
        n1 in 1.0..2.0f64, n2 in 1.0..2.0f64, part in 0.0..0.999f64,
    ) {
        let s = part * n1.min(n2);
        let cosine = |n: f64| (1.0 - (s / n).powi(2)).sqrt();
        let (c1, c2) = (cosine(n1), cosine(n2));
        let r_s = (n1 * c1 - n2 * c2) / (n1 * c1 + n2 * c2);
        let r_p = (n2 * c1 - n1 * c2) / (n2 * c1 + n1 * c2);
        let (t_p, t_s) = flat_interface(n1, n2, s);
        close("p", t_p * t_p + r_p * r_p, 1.0, 1e-13);
        close("s", t_s * t_s + r_s * r_s, 1.0, 1e-13);
        // The same from the other side.
        let (back_p, back_s) = flat_interface(n2, n1, s);
        close("p back", back_p, t_p, 1e-15);
        close("s back", back_s, t_s, 1e-15);
    }

    #[test]
    fn coated_surfaces_never_amplify(
        layer in 1.2..2.0f64, glass in 1.4..2.0f64, incidence in 0.0..1.5f64, wavelength_nm in 360.0..830.0f64,
        count in 0.5..10.0f64,
    ) {
        let (p, s) = coated_surfaces(layer, 550.0, glass, incidence, wavelength_nm, count);
        prop_assert!(p.norm() <= 1.0 + 1e-14 && s.norm() <= 1.0 + 1e-14, "{} {}", p, s);
    }

    /// Stated without dividing by the intensity, which a pair of nearly crossed parts leaves as little as rounding.
    #[test]
    fn light_is_never_more_than_wholly_polarized(
        chains in prop::collection::vec(prop::collection::vec(passive_part(), 0..6), 1..4), light in any_light(),
    ) {
        let weight = 1.0 / chains.len() as f64;
        let mean = chains.iter().fold(Mueller::identity().scaled(0.0), |sum, parts| {
            sum + Mueller::from_jones(&chain_of(parts)).scaled(weight)
        });
        let [s0, s1, s2, s3] = mean.apply(&light).0;
        prop_assert!(s1.hypot(s2).hypot(s3) <= s0 + 1e-14);
        prop_assert!(mean.is_realisable(1e-13));
        let index = mean.depolarization_index();
        prop_assert!(mean.0[(0, 0)] < 1e-9 || (0.0..=1.0 + 1e-7).contains(&index), "{}", index);
    }

    /// Crossed the other way, with polarizer and analyzer changing their roles, a chain passes the same light.
    #[test]
    fn a_reversed_chain_passes_the_same_between_the_same_polars(
        parts in prop::collection::vec(passive_part(), 1..8), first in 0.0..3.2f64, second in 0.0..3.2f64,
    ) {
        let chain = chain_of(&parts);
        let backwards: Vec<Jones> = parts.iter().rev().map(|part| part.reversed()).collect();
        let reversed = chain_of(&backwards);
        close("transpose", (reversed.0 - chain.reversed().0).camax(), 0.0, 1e-14);
        close("polars", between(second, &reversed, first), between(first, &chain, second), 1e-14);
        close("unpolarized", reversed.transmittance(), chain.transmittance(), 1e-14);
    }

    /// `diag(1, a, b, c)` can be made of Jones matrices exactly when (a, b, c) lies in the tetrahedron whose corners are the
    /// identity and the three half-wave turns.
    #[test]
    fn a_diagonal_matrix_is_realisable_inside_its_tetrahedron(
        a in -1.0..1.0f64, b in -1.0..1.0f64, c in -1.0..1.0f64,
    ) {
        let mut expected = [1.0 + a + b + c, 1.0 + a - b - c, 1.0 - a + b - c, 1.0 - a - b + c].map(|v| 0.25 * v);
        expected.sort_by(|a, b| b.total_cmp(a));
        let mueller = diagonal(a, b, c);
        for (got, expected) in mueller.cloude_eigenvalues().into_iter().zip(expected) {
            close("eigenvalue", got, expected, 1e-14);
        }
        prop_assume!(expected[3].abs() > 1e-12);
        prop_assert_eq!(mueller.is_realisable(1e-13), expected[3] > 0.0);
    }

    /// Factors chosen first, multiplied, and found again. Undoing them costs at most (1 + D)/(1 - D) < 20 for the diattenuator
    /// and, since its square is what is worked with, 1/0.2^2 = 25 for the depolarizer, times a few 1e-15.
    #[test]
    fn the_polar_decomposition_finds_the_factors_of_a_product(
        d in (0.0..0.9f64, 0.0..6.3f64, -1.0..1.0f64), turn in prop::array::uniform3(-1.7..1.7f64),
        left in prop::array::uniform3(0.2..1.0f64), axes in prop::array::uniform3(-3.0..3.0f64),
        polarizance in prop::array::uniform3(-0.1..0.1f64), transmittance in 0.01..0.5f64,
    ) {
        let level = (1.0 - d.2 * d.2).sqrt();
        let direction = Vector3::new(level * d.1.cos(), level * d.1.sin(), d.2);
        let diattenuator = diattenuator(d.0 * direction);
        let angle = Vector3::from(turn).norm();
        prop_assume!(angle < 3.0);
        let rotation = Rotation3::new(Vector3::from(turn));
        let frame = Rotation3::new(Vector3::from(axes));
        let mut depolarizer = embed((frame * nalgebra::Matrix3::from_diagonal(&Vector3::from(left))) * frame.inverse());
        for k in 0..3 {
            depolarizer[(k + 1, 0)] = polarizance[k];
        }
        let retarder = embed(rotation.into_inner());
        let whole = Mueller(depolarizer * retarder * diattenuator * transmittance);
        let found = PolarDecomposition::of(&whole).expect("a regular matrix");
        let product = found.depolarizer * found.retarder * found.diattenuator;
        close("product", (product.0 - whole.0).amax(), 0.0, 1e-12);
        close("depolarizer", (found.depolarizer.0 - depolarizer).amax(), 0.0, 1e-11);
        close("retarder", (found.retarder.0 - retarder).amax(), 0.0, 1e-11);
        close("diattenuator", (found.diattenuator.0 - diattenuator * transmittance).amax(), 0.0, 1e-13);
        close("diattenuation", found.diattenuation, d.0, 1e-13);
        close("retardance", found.retardance_rad, angle, 1e-11);
        close("depolarization", found.depolarization, 1.0 - left.iter().sum::<f64>() / 3.0, 1e-11);
        let off = found.retarder.0 * found.retarder.0.transpose() - Matrix4::identity();
        close("retarder's orthogonality", off.amax(), 0.0, 1e-11);
    }

    /// Of a part without depolarization the decomposition finds none, and its retardance is that of the retarder.
    #[test]
    fn the_polar_decomposition_of_a_pure_part_has_no_depolarizer(
        weak in 0.1..1.0f64, azimuth in 0.0..3.2f64, phase in 0.0..3.1f64, slow in 0.0..3.2f64,
    ) {
        let jones = Jones::retarder(phase, slow) * Jones::linear(1.0.into(), weak.into(), azimuth);
        let found = PolarDecomposition::of(&Mueller::from_jones(&jones)).expect("a regular matrix");
        close("depolarization", found.depolarization, 0.0, 1e-12);
        close("retardance", found.retardance_rad, phase, 1e-11);
        let square = weak * weak;
        close("diattenuation", found.diattenuation, (1.0 - square) / (1.0 + square), 1e-13);
    }

    #[test]
    fn turning_light_and_part_together_turns_what_comes_out(
        part in any_jones(), light in any_light(), angle in -4.0..4.0f64,
    ) {
        let turned = Mueller::from_jones(&part.turned(angle)).apply(&light.turned(angle));
        let expected = Mueller::from_jones(&part).apply(&light).turned(angle);
        for k in 0..4 {
            close("Stokes parameter", turned.0[k], expected.0[k], 1e-13);
        }
    }
}

fn diagonal(a: f64, b: f64, c: f64) -> Mueller {
    Mueller(Matrix4::from_diagonal(&nalgebra::Vector4::new(
        1.0, a, b, c,
    )))
}

fn embed(block: nalgebra::Matrix3<f64>) -> Matrix4<f64> {
    let mut whole = Matrix4::identity();
    whole.fixed_view_mut::<3, 3>(1, 1).copy_from(&block);
    whole
}

/// A diattenuator of transmittance 1 for unpolarized light: `sqrt(1 - D^2) 1 + (1 - sqrt(1 - D^2)) d d^T` in its block.
fn diattenuator(d: Vector3<f64>) -> Matrix4<f64> {
    let root = (1.0 - d.norm_squared()).sqrt();
    let along = if d.norm() > 0.0 {
        d.normalize()
    } else {
        Vector3::zeros()
    };
    let mut whole =
        embed(nalgebra::Matrix3::identity() * root + along * along.transpose() * (1.0 - root));
    for k in 0..3 {
        whole[(0, k + 1)] = d[k];
        whole[(k + 1, 0)] = d[k];
    }
    whole
}

/// It keeps every degree of polarization at or below 1 and its depolarization index is 1, yet no part can do it: it would turn
/// right-handed light into left-handed and leave linear light alone.
#[test]
fn a_mirror_of_handedness_alone_is_rejected() {
    let mirror = diagonal(1.0, 1.0, -1.0);
    close("index", mirror.depolarization_index(), 1.0, 1e-15);
    assert!(!mirror.is_realisable(1e-9));
    assert!(mirror.to_jones().is_none());
}

#[test]
fn what_is_no_part_has_no_decomposition() {
    let polarizer = Mueller::from_jones(&Jones::linear(1.0.into(), 0.0.into(), 0.3));
    assert_eq!(PolarDecomposition::of(&polarizer), None);
    let opaque = Mueller::identity().scaled(0.0);
    assert_eq!(PolarDecomposition::of(&opaque), None);
    assert!(opaque.to_jones().is_none());
    assert!(!Mueller(Matrix4::from_element(f64::NAN)).is_realisable(1e-9));
}
