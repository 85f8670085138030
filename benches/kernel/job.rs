//! The job that is timed: eight parts, 81 wavelengths, 1,536 rays.

use polstack::calculus::Stokes;
use polstack::light_path::{Chain, LightPath, Part, PartKind, Setting};
use polstack::material::{Glass, Index, PolarizingSheet, SheetTransmittance};
use polstack::optics::{Coating, Lens, LensForm, LocalStrain, Polarizer, Ray, Rays, Strain};

/// A stack with its rays and wavelengths.
pub(crate) struct Job {
    pub(crate) path: LightPath,
    pub(crate) rays: Rays,
    pub(crate) wavelengths_nm: Vec<f64>,
}

/// Everything in, the polars as they are.
pub(crate) const SETTING: Setting = Setting {
    plates: true,
    specimens: true,
    analyzer_azimuth_rad: None,
};

impl Job {
    /// Two sheets, two lens groups with surfaces, and in each group two clamps whose strain varies over the aperture;
    /// all the clamps' forces times `tightness`.
    pub(crate) fn new(tightness: f64) -> Self {
        let clamp = |contacts, force_n, first_azimuth_rad| {
            clamp(contacts, tightness * force_n, first_azimuth_rad)
        };
        let path = LightPath {
            lamp: Stokes::UNPOLARIZED,
            iris_na: Some(0.6),
            view_na: None,
            parts: vec![
                part("lower polar", PartKind::Polarizer(sheet(0.72, 3e-5, 0.0))),
                part(
                    "condenser",
                    PartKind::Condenser(lens(
                        0.88,
                        4,
                        Coating::None,
                        [clamp(4, 5.0, 0.5), clamp(3, 8.0, 1.1)],
                    )),
                ),
                part(
                    "objective",
                    PartKind::Objective(lens(
                        0.65,
                        8,
                        Coating::Mgf2,
                        [clamp(2, 2.0, 0.2), clamp(3, 4.0, 0.8)],
                    )),
                ),
                part("analyzer", PartKind::Analyzer(sheet(0.75, 2e-5, 91.0))),
            ],
            stray_fraction: 0.0,
        };
        let wavelengths_nm: Vec<f64> = (0..81).map(|k| 380.0 + 5.0 * f64::from(k)).collect();
        path.check(&wavelengths_nm).expect("a path that can be run");
        Self {
            rays: Rays::disc(path.na(), 24, 64),
            path,
            wavelengths_nm,
        }
    }

    /// Ray-wavelength pairs: each is one chain.
    pub(crate) fn chains(&self) -> usize {
        self.rays.count() * self.wavelengths_nm.len()
    }

    /// How many of the four strains' rays stay below a quarter of the shortest wavelength, as a fraction: the kernel's
    /// short way.
    pub(crate) fn gentle(&self) -> f64 {
        let limit_nm = 0.25 * self.wavelengths_nm[0];
        let all = self.strains();
        let gentle = all
            .iter()
            .flatten()
            .filter(|local| local.path_difference_nm.abs() <= limit_nm);
        gentle.count() as f64 / (all.len() * self.rays.count()) as f64
    }

    /// The strains in the order of the light, at each ray.
    pub(crate) fn strains(&self) -> Vec<Vec<LocalStrain>> {
        let mut all = Vec::new();
        for part in &self.path.parts {
            let (lens, side) = match &part.kind {
                // Rays cross the condenser opposite to where they cross the objective's pupil.
                PartKind::Condenser(lens) => (lens, -1.0),
                PartKind::Objective(lens) => (lens, 1.0),
                _ => continue,
            };
            for strain in &lens.strain {
                let at = |ray: Ray| {
                    let r = side * ray.s / lens.na;
                    let (sin, cos) = ray.azimuth_rad.sin_cos();
                    strain.at(r * cos, r * sin).expect("a clamp is everywhere")
                };
                all.push(self.rays.iter().map(|(ray, _)| at(ray)).collect());
            }
        }
        all
    }

    /// The tables that the kernel runs on.
    pub(crate) fn chain(&self) -> Chain {
        let whole = 0..self.path.parts.len();
        Chain::new(
            &self.path,
            whole,
            SETTING,
            &self.rays,
            &self.wavelengths_nm,
            0.0,
        )
        .expect("a path that can be run")
    }
}

fn part(name: &str, kind: PartKind) -> Part {
    Part {
        name: name.to_owned(),
        kind,
        tolerance: None,
    }
}

fn sheet(k1: f64, k2: f64, azimuth_deg: f64) -> Polarizer {
    let sheet = PolarizingSheet {
        name: "given".to_owned(),
        transmittance: SheetTransmittance::Constant { k1, k2 },
        index: 1.5,
        cover_nm: 0.0,
        cover_is_told: true,
    };
    Polarizer::new(sheet, azimuth_deg.to_radians())
}

fn lens(na: f64, surfaces: u32, coating: Coating, strain: [Strain; 2]) -> Lens {
    Lens {
        na,
        immersion: 1.0,
        form: LensForm::Equal { surfaces },
        glass: Glass {
            name: "invented".to_owned(),
            index: Index::Constant(1.52),
            stress_optic_brewster: None,
        },
        coating,
        strain: strain.into(),
        strain_dispersion: None,
    }
}

fn clamp(contacts: u32, force_n: f64, first_azimuth_rad: f64) -> Strain {
    Strain::Clamp {
        contacts,
        force_n,
        diameter_mm: 24.0,
        first_azimuth_rad,
        stress_optic_brewster: 2.75,
    }
}
