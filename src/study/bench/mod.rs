//! The light that the readings of a bench would show, from the unknown numbers of its stand.

mod light;
mod product;
mod surface;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;

pub(in crate::study) use light::BenchLight;
use surface::{Basis, BasisWork, MANY_LIGHTS, patterns};

use crate::light_path::LightPath;
use crate::math;
use crate::scene::Scene;
use crate::study::StudyError;
use crate::study::reading::BenchSetting;
use crate::study::unknown::{Sampled, Unknowns};
use crate::threads;

/// Terms of a response surface, and points to each.
const MOST_TERMS: usize = 600;
const FEW_TERMS: usize = 120;
/// Terms of polynomials through other numbers than light.
const MOST_TERMS_OF_NUMBERS: usize = 200;
const POINTS_A_TERM: f64 = 1.7;
const FEWEST_POINTS: usize = 60;

/// How well the light of a bench is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::study) enum Care {
    /// As well as any reading can use.
    Full,
    /// With few rays and wavelengths, scaled to the right light in the stand as written, and polynomials of few terms: for an interval beside an
    /// answer.
    Little,
}

/// Settings of one stand, and its unknowns.
#[derive(Debug, Clone)]
pub(in crate::study) struct Bench<'a> {
    pub(in crate::study) unknowns: &'a Unknowns,
    written_rad: f64,
    care: Care,
    pub(in crate::study) lights: Vec<BenchLight>,
}

/// The light of every setting as polynomials.
#[derive(Debug, Clone)]
pub(in crate::study) struct BenchSurface {
    basis: Basis,
    coefficients: Vec<Vec<f64>>,
    /// Of many lights, what each is made of: see [`patterns`]. `None` where the coefficients are the lights' own.
    patterns: Option<Vec<Vec<f64>>>,
    stray: Option<usize>,
}

/// Numbers of a stand other than light, as polynomials.
#[derive(Debug, Clone)]
pub(in crate::study) struct BenchNumbers {
    basis: Basis,
    coefficients: Vec<Vec<f64>>,
}

impl<'a> Bench<'a> {
    pub(in crate::study) fn new(
        scene: &Scene,
        unknowns: &'a Unknowns,
        settings: &[BenchSetting],
        care: Care,
    ) -> Result<Self, (usize, StudyError)> {
        let written_rad = scene
            .path
            .polars()
            .map_or(0.0, |(_, polar)| polar.azimuth_rad);
        let mut random = ChaCha8Rng::seed_from_u64(1);
        let mut stands = vec![scene.path.clone()];
        // Little care is scaled to the stand as written and to no other.
        let others = if care == Care::Full { 2 } else { 0 };
        stands.extend((0..others).map(|_| unknowns.with(&unknowns.draw(&mut random))));
        let photographs = photographs(settings);
        let made = threads::map(0..photographs.len(), |number| {
            let settings = &settings[photographs[number].clone()];
            BenchLight::new(scene, &stands, written_rad, settings, care)
                .map_err(|error| (photographs[number].start, error))
        });
        Ok(Self {
            unknowns,
            written_rad,
            care,
            lights: made.into_iter().collect::<Result<_, _>>()?,
        })
    }

    /// Every light of one setting at a point, relative to the parallel light, by a direct run; not a number where the stand cannot be run.
    pub(in crate::study) fn direct(&self, light: &BenchLight, point: &[f64]) -> Vec<f64> {
        self.direct_of(light, &self.unknowns.with(point))
    }

    /// The light that a meter reads.
    pub(in crate::study) fn meter(&self, light: &BenchLight, point: &[f64]) -> f64 {
        self.direct(light, point)
            .first()
            .copied()
            .unwrap_or(f64::NAN)
    }

    /// A stand in the setting of a light; `None` where it cannot be.
    pub(in crate::study) fn set(&self, light: &BenchLight, stand: &LightPath) -> Option<LightPath> {
        light.setting.of(stand, self.written_rad)
    }

    fn direct_of(&self, light: &BenchLight, stand: &LightPath) -> Vec<f64> {
        (self.set(light, stand))
            .and_then(|path| light.crossed_over_parallel(&path).ok())
            .unwrap_or_else(|| vec![f64::NAN; light.factors.len()])
    }

    /// Light of the first setting in the stand as written.
    pub(in crate::study) fn written(&self) -> Option<f64> {
        let light = self.lights.first()?;
        self.direct_of(light, &self.unknowns.path).first().copied()
    }

    /// Light of every setting at a point, by direct runs.
    pub(in crate::study) fn direct_all(&self, point: &[f64]) -> Vec<f64> {
        self.all_of(&self.unknowns.with(point))
    }

    /// Light of every setting in a stand, by direct runs.
    pub(in crate::study) fn all_of(&self, stand: &LightPath) -> Vec<f64> {
        (self.lights.iter())
            .flat_map(|light| self.direct_of(light, stand))
            .collect()
    }

    /// Polynomials through direct runs at points; `counts` says how much each counts. Stray light is added exactly.
    pub(in crate::study) fn surface(&self, points: &[Vec<f64>], counts: &[f64]) -> BenchSurface {
        let stray = (self.unknowns.places())
            .find(|(unknown, _)| unknown.sampled == Sampled::Stray)
            .map(|(_, place)| place.start);
        let light = threads::map(0..points.len(), |k| {
            let mut stand = self.unknowns.with(&points[k]);
            if stray.is_some() {
                stand.stray_fraction = 0.0;
            }
            self.all_of(&stand)
        });
        let good: Vec<usize> = (0..points.len())
            .filter(|&k| light[k].iter().all(|l| l.is_finite()))
            .collect();
        let smooth: Vec<Vec<f64>> = (good.iter())
            .map(|&k| {
                let mut smooth = Vec::new();
                self.smooth(&points[k], &mut smooth);
                smooth
            })
            .collect();
        let counts: Vec<f64> = good.iter().map(|&k| counts[k]).collect();
        let basis = Basis::new(&smooth, &self.weights(), self.most_terms());
        let readings: usize = self.lights.iter().map(|light| light.factors.len()).sum();
        let by_setting: Vec<Vec<f64>> = (0..readings)
            .map(|setting| good.iter().map(|&k| light[k][setting]).collect())
            .collect();
        let coefficients = surface::fit(&basis, &smooth, &counts, &by_setting);
        let (coefficients, patterns) = match readings > MANY_LIGHTS {
            true => {
                let (coefficients, patterns) = patterns(&coefficients, &by_setting);
                (coefficients, Some(patterns))
            }
            false => (coefficients, None),
        };
        BenchSurface {
            coefficients,
            patterns,
            basis,
            stray,
        }
    }

    /// Polynomials through numbers that are known at points and do not depend on stray light: `values[number][point]`, each as exact as `sizes` of the
    /// point says.
    pub(in crate::study) fn numbers(
        &self,
        points: &[&Vec<f64>],
        values: &[Vec<f64>],
        sizes: &[f64],
    ) -> BenchNumbers {
        let smooth: Vec<Vec<f64>> = (points.iter())
            .map(|point| {
                let mut smooth = Vec::new();
                self.smooth(point, &mut smooth);
                smooth
            })
            .collect();
        let most = MOST_TERMS_OF_NUMBERS.min((points.len() as f64 / POINTS_A_TERM) as usize);
        let basis = Basis::new(&smooth, &self.weights(), most);
        let weight = |_: usize, point: usize| 1.0 / sizes[point].max(f64::MIN_POSITIVE);
        let coefficients = surface::fit_weighted(&basis, &smooth, values, &weight);
        BenchNumbers {
            basis,
            coefficients,
        }
    }

    /// These numbers at a point.
    pub(in crate::study) fn numbers_at(
        &self,
        numbers: &BenchNumbers,
        point: &[f64],
        work: &mut SurfaceWork,
    ) -> Vec<f64> {
        self.smooth(point, &mut work.smooth);
        let terms = numbers.basis.at(&work.smooth, &mut work.basis);
        let mut found = Vec::with_capacity(numbers.coefficients.len());
        product::times(&numbers.coefficients, terms, &mut found);
        found
    }

    /// The stray light of a point; `None` where it is known.
    pub(in crate::study) fn stray(&self, point: &[f64]) -> Option<f64> {
        (self.unknowns.places())
            .find(|(unknown, _)| unknown.sampled == Sampled::Stray)
            .map(|(_, place)| math::exp(point[place.start]))
    }

    /// Relative error of polynomials at some points, root mean square over points and settings.
    pub(in crate::study) fn surface_error(
        &self,
        surface: &BenchSurface,
        points: &[&Vec<f64>],
    ) -> f64 {
        if self.lights.is_empty() || points.is_empty() {
            return 0.0;
        }
        let squares = threads::map(0..points.len(), |k| {
            let mut work = SurfaceWork::default();
            self.by_surface(surface, points[k], &mut work);
            let direct = self.direct_all(points[k]);
            let off = work.light.iter().zip(&direct).map(|(got, direct)| {
                let off = math::log(got / direct);
                // For a stand that cannot be run, or for which the polynomials give no light, the error is taken to be 100 %.
                if off.is_finite() { off * off } else { 1.0 }
            });
            off.sum::<f64>() / direct.len() as f64
        });
        (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
    }

    /// How many points a surface is fitted to.
    pub(in crate::study) fn points(&self) -> usize {
        let weights = self.weights();
        // As if every variable varied.
        let probe: Vec<Vec<f64>> = [0.0, 1.0].map(|x| vec![x; weights.len()]).to_vec();
        let terms = Basis::new(&probe, &weights, self.most_terms()).terms();
        ((terms as f64 * POINTS_A_TERM) as usize).max(FEWEST_POINTS)
    }

    fn most_terms(&self) -> usize {
        match self.care {
            Care::Full => MOST_TERMS,
            Care::Little => FEW_TERMS,
        }
    }

    /// The numbers that the polynomials are of.
    fn smooth(&self, point: &[f64], smooth: &mut Vec<f64>) {
        smooth.clear();
        for (unknown, place) in self.unknowns.places() {
            unknown.smooth(&point[place], smooth);
        }
    }

    /// For how many degrees of the polynomials each variable counts.
    fn weights(&self) -> Vec<usize> {
        (self.unknowns.list.iter())
            .flat_map(|unknown| {
                let weight = match unknown.sampled {
                    // Linear, and hardly in company.
                    Sampled::SheetLeak { .. } => 3,
                    // Beyond every degree: it is added.
                    Sampled::Stray => 100,
                    _ => 1,
                };
                vec![weight; unknown.count()]
            })
            .collect()
    }

    /// Light of every setting at a point, by polynomials.
    pub(in crate::study) fn by_surface(
        &self,
        surface: &BenchSurface,
        point: &[f64],
        work: &mut SurfaceWork,
    ) {
        self.smooth(point, &mut work.smooth);
        let stray = surface.stray.map_or(0.0, |at| math::exp(point[at]));
        let terms = surface.basis.at(&work.smooth, &mut work.basis);
        work.light.clear();
        match &surface.patterns {
            None => product::times(&surface.coefficients, terms, &mut work.light),
            Some(patterns) => {
                work.amounts.clear();
                product::times(&surface.coefficients, terms, &mut work.amounts);
                product::times(patterns, &work.amounts, &mut work.light);
            }
        }
        for light in &mut work.light {
            *light = if *light > 0.0 {
                *light + stray
            } else {
                f64::NAN
            };
        }
    }
}

/// Settings that one photograph shows are run together: where each begins and ends. A meter's reading stands alone.
fn photographs(settings: &[BenchSetting]) -> Vec<std::ops::Range<usize>> {
    let stand = |setting: &BenchSetting| BenchSetting {
        zone: None,
        ..setting.clone()
    };
    let alike = |one: &BenchSetting, other: &BenchSetting| match (one.zone, other.zone) {
        (Some(a), Some(b)) => {
            a.grid == b.grid && a.channel == b.channel && stand(one) == stand(other)
        }
        _ => false,
    };
    let mut start = 0;
    (settings.chunk_by(alike))
        .map(|settings| {
            start += settings.len();
            start - settings.len()..start
        })
        .collect()
}

/// Room to work in, and the light of every setting.
#[derive(Debug, Clone, Default)]
pub(in crate::study) struct SurfaceWork {
    smooth: Vec<f64>,
    basis: BasisWork,
    amounts: Vec<f64>,
    pub(in crate::study) light: Vec<f64>,
}
