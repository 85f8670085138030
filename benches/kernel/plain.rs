//! The same job as a plain program would do it: 2x2 complex matrices, one after the other.
//!
//! Whatever does not depend on both ray and wavelength is worked out beforehand, as the kernel's tables are; the NumPy script
//! starts from the same numbers.

use nalgebra::Matrix2;
use polstack::calculus::{Coherency, Complex};
use polstack::light_path::PartKind;
use rayon::prelude::*;
use serde::Serialize;
use std::f64::consts::PI;

use crate::job::Job;

/// What is worked out beforehand.
#[derive(Serialize)]
pub(crate) struct Tables {
    /// For the lower polar and the analyzer.
    sheets: [PolarizingSheet; 2],
    /// Half of the surfaces of condenser and objective: amplitudes `[p re, p im, s re, s im]` at each ring and wavelength.
    halves: [Vec<Vec<[f64; 4]>>; 2],
    /// For each strain and ray: path difference in nm, cosine and sine of twice the slow azimuth.
    strains: Vec<Vec<[f64; 3]>>,
    /// `pi / wavelength`, 1/nm.
    half_wavenumber: Vec<f64>,
    /// Cosine and sine of twice each spoke's azimuth.
    spokes: Vec<[f64; 2]>,
    /// Of each ring and of each spoke.
    ring_weight: Vec<f64>,
    spoke_weight: Vec<f64>,
}

#[derive(Debug, Serialize)]
struct PolarizingSheet {
    /// Cosine and sine of twice the azimuth.
    axis: [f64; 2],
    /// Amplitudes passed and absorbed at each wavelength.
    amplitudes: Vec<[f64; 2]>,
}

type Matrix = Matrix2<Complex>;

impl Tables {
    pub(crate) fn of(job: &Job) -> Self {
        let (mut sheets, mut halves) = (Vec::new(), Vec::new());
        for part in &job.path.parts {
            match &part.kind {
                PartKind::Polarizer(polar) | PartKind::Analyzer(polar) => {
                    let amplitudes = |&nm: &f64| {
                        let element = polar.collimated(nm).expect("constant sheets");
                        [element.along.re, element.across.re]
                    };
                    sheets.push(PolarizingSheet {
                        axis: twice(polar.azimuth_rad),
                        amplitudes: job.wavelengths_nm.iter().map(amplitudes).collect(),
                    });
                }
                PartKind::Condenser(lens) | PartKind::Objective(lens) => {
                    let amplitudes = |s: f64, nm: f64| {
                        let (p, s) = lens.amplitudes(s.asin(), nm, 0.5).expect("enough surfaces");
                        [p.re, p.im, s.re, s.im]
                    };
                    let ring = |&s: &f64| {
                        let wavelengths = job.wavelengths_nm.iter();
                        wavelengths.map(|&nm| amplitudes(s, nm)).collect()
                    };
                    halves.push(job.rays.ring.iter().map(ring).collect());
                }
                _ => {}
            }
        }
        let strains = (job.strains().iter())
            .map(|rays| {
                let row = |local: &polstack::optics::LocalStrain| {
                    let [c, s] = twice(local.slow_azimuth_rad);
                    [local.path_difference_nm, c, s]
                };
                rays.iter().map(row).collect()
            })
            .collect();
        let two = "two sheets and two lens groups";
        Self {
            sheets: sheets.try_into().expect(two),
            halves: halves.try_into().expect(two),
            strains,
            half_wavenumber: job.wavelengths_nm.iter().map(|nm| PI / nm).collect(),
            spokes: job.rays.spoke_rad.iter().copied().map(twice).collect(),
            ring_weight: job.rays.ring_weight.clone(),
            spoke_weight: job.rays.spoke_weight.clone(),
        }
    }

    /// Mean coherency matrix at each wavelength, on the threads of the current pool.
    pub(crate) fn mean_coherency(&self) -> Vec<Coherency> {
        (0..self.half_wavenumber.len())
            .into_par_iter()
            .map(|w| self.at_wavelength(w))
            .collect()
    }

    fn at_wavelength(&self, w: usize) -> Coherency {
        let [lower, analyzer] = self.sheets.each_ref().map(|sheet| {
            let [passed, absorbed] = sheet.amplitudes[w];
            linear(passed.into(), absorbed.into(), sheet.axis)
        });
        let mut mean = Matrix::zeros();
        for (ring, ring_weight) in self.ring_weight.iter().enumerate() {
            for (spoke, spoke_weight) in self.spoke_weight.iter().enumerate() {
                let [condenser, objective] = self.halves.each_ref().map(|rings| {
                    let [p_re, p_im, s_re, s_im] = rings[ring][w];
                    let (p, s) = (Complex::new(p_re, p_im), Complex::new(s_re, s_im));
                    linear(p, s, self.spokes[spoke])
                });
                let ray = ring * self.spokes.len() + spoke;
                let strain = |k: usize| {
                    let [path_difference_nm, c, s] = self.strains[k][ray];
                    let along = Complex::cis(path_difference_nm * self.half_wavenumber[w]);
                    linear(along, along.conj(), [c, s])
                };
                let jones = analyzer
                    * (objective * strain(3) * strain(2) * objective)
                    * (condenser * strain(1) * strain(0) * condenser)
                    * lower;
                let weight = Complex::from(0.5 * ring_weight * spoke_weight);
                mean += jones * jones.adjoint() * weight;
            }
        }
        Coherency {
            xx: mean.m11.re,
            yy: mean.m22.re,
            xy_re: mean.m12.re,
            xy_im: mean.m12.im,
        }
    }
}

/// `mean + half_difference (C sigma_1 + S sigma_2)`.
fn linear(along: Complex, across: Complex, [c, s]: [f64; 2]) -> Matrix {
    let (mean, half) = ((along + across) * 0.5, (along - across) * 0.5);
    Matrix::new(mean + half * c, half * s, half * s, mean - half * c)
}

fn twice(azimuth_rad: f64) -> [f64; 2] {
    let (sin, cos) = (2.0 * azimuth_rad).sin_cos();
    [cos, sin]
}
