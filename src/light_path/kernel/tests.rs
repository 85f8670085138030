//! The kernel gives the same bytes on every vector width, and right sines.

use super::*;
use crate::calculus::Stokes;
use crate::light_path::{LightPath, Part, PartKind, Setting};
use crate::material::{Glass, Index, PolarizingSheet, SheetTransmittance, Uniaxial};
use crate::math;
use crate::optics::{Coating, Lens, LensForm, Polarizer, Rays, Specimen, Strain};

struct SinCos(f64);

impl WithSimd for SinCos {
    type Output = (f64, f64);

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> (f64, f64) {
        let (sin, cos) = sin_cos_but_sign(simd, splat(simd, self.0));
        let mut out = [[0.0; PAD]; 2];
        simd.partial_store_f64s(&mut out[0][..S::F64_LANES], sin.value);
        simd.partial_store_f64s(&mut out[1][..S::F64_LANES], cos.value);
        (out[0][0], out[1][0])
    }
}

#[test]
fn sines_agree_with_the_standard_library_and_on_every_vector_width() {
    let mut worst = 0.0f64;
    for k in 0..200_000 {
        let x = (f64::from(k) - 1e5) * if k % 2 == 0 { 1e-4 } else { 97.3 };
        let (sin, cos) = Arch::new().dispatch(SinCos(x));
        assert_eq!((sin, cos), SinCos(x).with_simd(pulp::Scalar::new()));
        let (exact_sin, exact_cos) = math::sincos(x);
        let sign = if (x * FRAC_1_PI).round().rem_euclid(2.0) == 0.0 {
            1.0
        } else {
            -1.0
        };
        // Near +-pi/2 either multiple of pi is a right one; the sign is then common all the same.
        let off = |sign: f64| {
            (sin - sign * exact_sin)
                .abs()
                .max((cos - sign * exact_cos).abs())
        };
        worst = worst.max(off(sign).min(off(-sign)));
    }
    assert!(worst < 1e-15, "{worst:e}");
}

/// Two sheets, one of them under oblique rays, two strained lenses, gently and strongly, and a crystal: every kind of link.
fn every_link() -> Chain {
    let part = |kind| Part {
        name: String::new(),
        kind,
        tolerance: None,
    };
    let sheet = |azimuth_rad| {
        let sheet = PolarizingSheet {
            name: "given".to_owned(),
            transmittance: SheetTransmittance::Constant { k1: 0.75, k2: 3e-5 },
            index: 1.5,
            cover_nm: 0.0,
            cover_is_told: false,
        };
        Polarizer::new(sheet, azimuth_rad)
    };
    let clamp = |force_n| Strain::Clamp {
        contacts: 3,
        force_n,
        diameter_mm: 22.0,
        first_azimuth_rad: 0.3,
        stress_optic_brewster: 2.75,
    };
    let uniform = Strain::Uniform {
        path_difference_nm: 4.0,
        slow_azimuth_rad: 0.7,
    };
    let lens = |strain| Lens {
        na: 0.8,
        immersion: 1.0,
        form: LensForm::Equal { surfaces: 6 },
        glass: Glass {
            name: "1.52".to_owned(),
            index: Index::Constant(1.52),
            stress_optic_brewster: None,
        },
        coating: Coating::Mgf2,
        strain,
        strain_dispersion: None,
    };
    let crystal = Specimen::Plate {
        crystal: Uniaxial {
            name: "invented".to_owned(),
            ordinary: Index::Constant(1.54),
            extraordinary: Index::Constant(1.55),
            rotation: None,
        },
        thickness_um: 20.0,
        axis_azimuth_rad: 0.5,
    };
    let path = LightPath {
        lamp: Stokes([1.0, 0.2, -0.1, 0.3]),
        iris_na: Some(0.6),
        view_na: None,
        parts: vec![
            part(PartKind::Condenser(lens(vec![clamp(5.0), uniform]))),
            part(PartKind::Polarizer(sheet(0.1))),
            part(PartKind::Specimen(crystal)),
            part(PartKind::Objective(lens(vec![clamp(2e4)]))),
            part(PartKind::Analyzer(sheet(1.6))),
        ],
        stray_fraction: 0.0,
    };
    let setting = Setting {
        plates: true,
        specimens: true,
        analyzer_azimuth_rad: None,
    };
    let nm: Vec<f64> = (0..13).map(|k| 400.0 + 25.0 * f64::from(k)).collect();
    let rays = Rays::disc(0.6, 5, 14);
    // The second version leaves the crystal out.
    let parts: Vec<_> = (0..path.parts.len())
        .map(|part| match part {
            2 => (part, vec![Some(&path), None]),
            _ => (part, vec![Some(&path)]),
        })
        .collect();
    Chain::branching(&path, &parts, setting, &rays, &nm, 0.2).expect("a path that can be run")
}

/// What a whole chain gives with one width of vectors: every number's bits.
fn bits(chain: &Chain, simd: impl Simd) -> Vec<[u64; 4]> {
    let walk = Walk::of(chain);
    let mut all = Vec::new();
    for first in (0..chain.padded).step_by(PAD) {
        let mut out = vec![Coherency::default(); chain.combinations() * PAD];
        simd.vectorize(Mean {
            chain,
            walk: &walk,
            first,
            out: &mut out,
        });
        all.append(&mut out);
    }
    for ring in 0..chain.rings.len() {
        let mut out = vec![[Coherency::default(); 1]; chain.rings[ring].0.len()];
        simd.vectorize(Ring {
            chain,
            weight: &[vec![0.7; chain.padded]],
            ring,
            out: &mut out,
        });
        all.extend(out.into_iter().flatten());
    }
    all.iter()
        .map(|light| [light.xx, light.yy, light.xy_re, light.xy_im].map(f64::to_bits))
        .collect()
}

#[test]
fn a_whole_chain_gives_the_same_bytes_on_every_vector_width() {
    let chain = every_link();
    let scalar = bits(&chain, pulp::Scalar::new());
    assert!(
        scalar
            .iter()
            .flatten()
            .all(|&number| f64::from_bits(number).is_finite())
    );
    #[cfg(target_arch = "x86_64")]
    {
        if let Some(simd) = pulp::x86::V3::try_new() {
            assert!(bits(&chain, simd) == scalar, "four wavelengths at once");
        }
        if let Some(simd) = pulp::x86::V4::try_new() {
            assert!(bits(&chain, simd) == scalar, "eight wavelengths at once");
        }
    }
    #[cfg(target_arch = "aarch64")]
    if let Some(simd) = pulp::aarch64::Neon::try_new() {
        assert!(bits(&chain, simd) == scalar, "two wavelengths at once");
    }
}
