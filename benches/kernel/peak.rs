//! What the core can do: multiplications and additions a second, with nothing to wait for.

use std::hint::black_box;
use std::time::Instant;

use pulp::{Arch, Simd, WithSimd};

/// Independent sums: more than latency times pipes of any current core, and few enough for 16 registers.
const SUMS: usize = 12;
const STEPS: usize = 20_000;

/// GFLOP/s of one thread.
#[derive(Clone, Copy)]
pub(crate) struct Peak {
    /// Fused multiply-adds, two operations each.
    pub(crate) fused: f64,
    /// As many separate multiplications as additions, which is what the kernel uses.
    pub(crate) separate: f64,
}

impl Peak {
    /// The better of two measurements.
    pub(crate) fn better(self, other: Self) -> Self {
        Self {
            fused: self.fused.max(other.fused),
            separate: self.separate.max(other.separate),
        }
    }
}

/// Best of `times`.
pub(crate) fn measure(times: usize) -> Peak {
    let arch = Arch::new();
    (0..times)
        .map(|_| Peak {
            fused: arch.dispatch(Fused),
            separate: arch.dispatch(Separate),
        })
        .fold(
            Peak {
                fused: 0.0,
                separate: 0.0,
            },
            Peak::better,
        )
}

struct Fused;

impl WithSimd for Fused {
    type Output = f64;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> f64 {
        let factor = simd.splat_f64s(black_box(0.999_999));
        let term = simd.splat_f64s(black_box(1e-6));
        let mut sums = [simd.splat_f64s(1.0); SUMS];
        let start = Instant::now();
        for _ in 0..STEPS {
            for sum in &mut sums {
                *sum = simd.mul_add_f64s(*sum, factor, term);
            }
        }
        let seconds = start.elapsed().as_secs_f64();
        black_box(sums);
        (2 * SUMS * STEPS * S::F64_LANES) as f64 * 1e-9 / seconds
    }
}

struct Separate;

impl WithSimd for Separate {
    type Output = f64;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> f64 {
        let factor = simd.splat_f64s(black_box(0.999_999));
        let term = simd.splat_f64s(black_box(1e-6));
        let mut products = [simd.splat_f64s(1.0); SUMS / 2];
        let mut sums = [simd.splat_f64s(1.0); SUMS / 2];
        let start = Instant::now();
        for _ in 0..STEPS {
            for (product, sum) in products.iter_mut().zip(&mut sums) {
                *product = simd.mul_f64s(*product, factor);
                *sum = simd.add_f64s(*sum, term);
            }
        }
        let seconds = start.elapsed().as_secs_f64();
        black_box((products, sums));
        (SUMS * STEPS * S::F64_LANES) as f64 * 1e-9 / seconds
    }
}
