//! Where the light that leaks comes from.
//!
//! Each imperfection is switched on and off in every combination. Its share is its Shapley value: what it adds to
//! the leak, averaged over all the orders in which the imperfections could have been added one by one. Shares therefore add
//! up to the whole, and one that cancels another may be negative.
//!
//! # Examples
//! ```
//! let scene = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene;
//! let leak = polstack::study::predict::predict(&scene)?.leak;
//! let sum: f64 = leak.shares.iter().map(|share| share.share).sum();
//! assert!((sum - 1.0).abs() < 1e-9);
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

use std::f64::consts::FRAC_PI_2;

use serde::{Serialize, Serializer};

use crate::calculus::{Coherency, Stokes};
use crate::light_path::{Chain, LightPath, PartKind, PathError, Setting, run};
use crate::material::SheetTransmittance;
use crate::math;
use crate::optics::{Coating, Polarizer, Rays, Retarder};
use crate::order::sort_by_number;

use super::measures::NOTHING;

/// What makes a part leak.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Cause {
    /// The sheet passes some of the vibration that it should absorb.
    SheetLeak,
    /// Oblique rays see the sheet's axis foreshortened.
    ObliqueRays,
    /// The sheet's protective film retards oblique rays.
    SheetCover,
    /// Flat surfaces pass p better than s.
    FlatSurfaces,
    /// Curved surfaces pass p better than s, and their coating retards one.
    LensSurfaces,
    /// Strain.
    Strain,
    /// The polars are not crossed.
    Misalignment,
    /// Light that reaches the image unpolarized.
    StrayLight,
    /// Circular polars' retarders that do not undo each other, with all else perfect.
    Retarders,
    /// A retarder between linear polars, which has no partner to undo it.
    LoneRetarder,
}

impl Cause {
    /// In plain words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::SheetLeak => "sheet leak",
            Self::ObliqueRays => "oblique rays",
            Self::SheetCover => "sheet cover",
            Self::FlatSurfaces => "flat surfaces",
            Self::LensSurfaces => "lens surfaces",
            Self::Strain => "strain",
            Self::Misalignment => "misalignment",
            Self::StrayLight => "stray light",
            Self::Retarders => "retarders",
            Self::LoneRetarder => "no partner",
        }
    }
}

impl Serialize for Cause {
    /// In plain words.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.words())
    }
}

/// One imperfection's part in the leak. Leaks are luminous, relative to the parallel field.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeakShare {
    /// The part's name.
    pub part: String,
    /// What is wrong with it.
    pub cause: Cause,
    /// The leak with this imperfection alone.
    pub alone: f64,
    /// The leak with all the others.
    pub without: f64,
    /// Shapley value divided by the whole leak.
    pub share: f64,
}

/// The leak of the empty field taken apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Leak {
    /// The whole leak: luminous crossed over parallel, plates and specimens out.
    #[serde(rename = "leak_luminance")]
    pub whole: f64,
    /// The shares, largest first; empty when nothing leaks.
    #[serde(rename = "leak")]
    pub shares: Vec<LeakShare>,
}

/// A switch: one imperfection of one part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Switch {
    part: usize,
    cause: Cause,
}

/// Takes the leak of a path apart.
///
/// `luminous` weighs the wavelengths: lamp times the observer's y-bar.
///
/// Source: L. S. Shapley 1953, A value for n-person games (from memory).
/// Checked by: `tests/laws/leak.rs`, against switching by hand and against sums.
///
/// # Errors
/// [`PathError`] when the path cannot be run.
pub fn leak(
    path: &LightPath,
    rays: &Rays,
    wavelengths_nm: &[f64],
    luminous: &[f64],
) -> Result<Leak, PathError> {
    let switches = switches(path);
    let game = Game {
        path,
        rays,
        wavelengths_nm,
        luminous,
    };
    let values = game.values(&switches)?;
    let all = values.len() - 1;
    let whole = values[all];
    if whole <= NOTHING {
        return Ok(Leak {
            whole: 0.0,
            shares: Vec::new(),
        });
    }
    let mut shares: Vec<LeakShare> = (switches.iter())
        .zip(shapley(&values, switches.len()))
        .enumerate()
        .map(|(bit, (switch, value))| LeakShare {
            part: name(path, *switch),
            cause: switch.cause,
            alone: or_nothing(values[1 << bit] - values[0]),
            without: or_nothing(values[all & !(1 << bit)]),
            share: value / whole,
        })
        .collect();
    if values[0] > NOTHING {
        shares.push(LeakShare {
            part: "retarders".to_owned(),
            cause: Cause::Retarders,
            alone: values[0],
            without: game.without_residue()?,
            share: values[0] / whole,
        });
    }
    sort_by_number(&mut shares, |share| -share.share);
    Ok(Leak { whole, shares })
}

/// The leak, without the rounding of the arithmetic.
fn or_nothing(leak: f64) -> f64 {
    if leak.abs() > NOTHING { leak } else { 0.0 }
}

fn name(path: &LightPath, switch: Switch) -> String {
    match switch.cause {
        Cause::StrayLight => "stack".to_owned(),
        _ => path.parts[switch.part].name.clone(),
    }
}

/// The imperfections that a path has, from the eye back to the lamp: those that act behind the last ray come first.
fn switches(path: &LightPath) -> Vec<Switch> {
    let mut found = Vec::new();
    let polars = [path.lower_polar(), path.analyzer()];
    let lone = path.lone_retarder().map(|(part, _)| part);
    for (part, p) in path.parts.iter().enumerate() {
        let mut add = |imperfect: bool, cause| {
            if imperfect {
                found.push(Switch { part, cause });
            }
        };
        match &p.kind {
            PartKind::Polarizer(polar) | PartKind::Analyzer(polar)
                if polars.contains(&Some(part)) =>
            {
                let real = polar.sheet.transmittance != SheetTransmittance::Ideal;
                let oblique = path.is_oblique(part);
                add(oblique, Cause::ObliqueRays);
                add(oblique && polar.sheet.cover_nm != 0.0, Cause::SheetCover);
                add(oblique && real, Cause::FlatSurfaces);
                add(real, Cause::SheetLeak);
            }
            PartKind::Condenser(lens) | PartKind::Objective(lens) => {
                add(!lens.is_ideal(), Cause::LensSurfaces);
                add(!lens.strain.is_empty(), Cause::Strain);
            }
            PartKind::Slide(_) => add(true, Cause::FlatSurfaces),
            PartKind::Retarder(_) => add(lone == Some(part), Cause::LoneRetarder),
            _ => {}
        }
    }
    let analyzer = path.analyzer().unwrap_or_default();
    let mut add_last = |imperfect: bool, cause| {
        if imperfect {
            found.push(Switch {
                part: analyzer,
                cause,
            });
        }
    };
    // With circular polars the analyzer's azimuth belongs to the retarders' own residue.
    let crossed = |(low, high): (&Polarizer, &Polarizer)| {
        math::cos(high.azimuth_rad - low.azimuth_rad).abs() < 1e-9
    };
    let misaligned = !path.is_circular() && !path.polars().is_some_and(crossed);
    add_last(misaligned, Cause::Misalignment);
    add_last(path.stray_fraction > 0.0, Cause::StrayLight);
    found.reverse();
    found
}

/// Whether a part made good is a part taken out.
fn is_taken_out(path: &LightPath, switch: Switch) -> bool {
    matches!(path.parts[switch.part].kind, PartKind::Slide(_))
        || switch.cause == Cause::LoneRetarder
}

/// The path with one imperfection made good that is not taken out for that.
fn made_good(mut path: LightPath, switch: Switch) -> LightPath {
    match (&mut path.parts[switch.part].kind, switch.cause) {
        (_, Cause::StrayLight) => path.stray_fraction = 0.0,
        (PartKind::Polarizer(polar) | PartKind::Analyzer(polar), cause) => match cause {
            Cause::SheetLeak => polar.sheet.transmittance.absorb_fully(),
            Cause::ObliqueRays => polar.foreshortened = false,
            Cause::SheetCover => polar.sheet.cover_nm = 0.0,
            _ => polar.surfaces = false,
        },
        (PartKind::Condenser(lens) | PartKind::Objective(lens), Cause::LensSurfaces) => {
            lens.coating = Coating::Ideal;
        }
        (PartKind::Condenser(lens) | PartKind::Objective(lens), _) => lens.strain.clear(),
        _ => {}
    }
    path
}

struct Game<'a> {
    path: &'a LightPath,
    rays: &'a Rays,
    wavelengths_nm: &'a [f64],
    luminous: &'a [f64],
}

impl Game<'_> {
    /// The leak for every set of switches that are on: bit `k` of the index is switch `k`.
    fn values(&self, switches: &[Switch]) -> Result<Vec<f64>, PathError> {
        let Some(((low, high), analyzer)) = self.path.polars().zip(self.path.analyzer()) else {
            return Ok(vec![0.0]);
        };
        if self.path.is_oblique(analyzer) {
            return (0..1 << switches.len())
                .map(|on| self.value_by_hand(switches, on))
                .collect();
        }
        let behind = switches.iter().take_while(|s| s.part == analyzer).count();
        let has = |on: usize, cause| {
            (switches[..behind].iter().enumerate())
                .any(|(bit, switch)| switch.cause == cause && on >> bit & 1 == 1)
        };
        let beams = self.beams(&switches[behind..], analyzer, high)?;
        let crossed_rad = low.azimuth_rad + FRAC_PI_2 - high.azimuth_rad;
        // The parallel field that light is a fraction of has the lone retarder in, whether or not that is made good.
        let lone = switches.iter().position(is_lone_retarder);
        let reference = |on: usize| on | lone.map_or(0, |bit| 1 << (bit - behind));
        let mut values = Vec::with_capacity(1 << switches.len());
        for (set, (passed, _)) in beams.iter().enumerate() {
            let parallel_rad = if self.path.is_circular() {
                let Stokes([_, s1, s2, _]) = passed.to_stokes();
                0.5 * math::atan2(s2, s1)
            } else {
                low.azimuth_rad - high.azimuth_rad
            };
            for on in 0..1 << behind {
                let leaks = if has(on, Cause::SheetLeak) { 1.0 } else { 0.0 };
                let light = |(passed, absorbed): &(Coherency, Coherency), azimuth_rad: f64| {
                    along(passed, azimuth_rad) + leaks * along(absorbed, azimuth_rad + FRAC_PI_2)
                };
                let here = &beams[set];
                let crossed = if has(on, Cause::Misalignment) || self.path.is_circular() {
                    light(here, 0.0)
                } else {
                    light(here, crossed_rad)
                };
                let stray = if has(on, Cause::StrayLight) {
                    self.path.stray_fraction
                } else {
                    0.0
                };
                values.push(crossed / light(&beams[reference(set)], parallel_rad) + stray);
            }
        }
        Ok(values)
    }

    /// The light in front of the analyzer for every set of the switches before it, in the analyzer's frame: summed over the
    /// wavelengths as the analyzer passes it along its azimuth, and as it leaks it across.
    fn beams(
        &self,
        switches: &[Switch],
        analyzer: usize,
        polar: &Polarizer,
    ) -> Result<Vec<(Coherency, Coherency)>, PathError> {
        let versions: Vec<Vec<Option<LightPath>>> = (0..analyzer)
            .map(|part| {
                let own: Vec<Switch> = (switches.iter().copied())
                    .filter(|switch| switch.part == part)
                    .collect();
                (0..1 << own.len())
                    .map(|on| self.version(&own, on))
                    .collect()
            })
            .collect();
        let parts: Vec<_> = (versions.iter().enumerate())
            .map(|(part, versions)| (part, versions.iter().map(Option::as_ref).collect()))
            .collect();
        let mut sums = vec![<(Coherency, Coherency)>::default(); 1 << switches.len()];
        let at_once = run::at_once(self.rays);
        let chunks = self.wavelengths_nm.chunks(at_once);
        for (wavelengths_nm, luminous) in chunks.zip(self.luminous.chunks(at_once)) {
            let chain = Chain::branching(
                self.path,
                &parts,
                Setting::EMPTY,
                self.rays,
                wavelengths_nm,
                polar.azimuth_rad,
            )?;
            let transmittances: Vec<(f64, f64)> = (wavelengths_nm.iter())
                .map(|&nm| polar.sheet.principal_transmittances(nm))
                .collect::<Result<_, _>>()
                .map_err(|source| PathError::Table {
                    part: analyzer,
                    source,
                })?;
            for ((passed, absorbed), spectrum) in sums.iter_mut().zip(chain.mean_coherency()) {
                for ((beam, w), (k1, k2)) in spectrum.iter().zip(luminous).zip(&transmittances) {
                    *passed = passed.plus(beam.scaled(w * k1));
                    *absorbed = absorbed.plus(beam.scaled(w * k2));
                }
            }
        }
        Ok(sums)
    }

    /// The path with those of one part's switches made good that are off; `None` when the part is then no part.
    fn version(&self, own: &[Switch], on: usize) -> Option<LightPath> {
        let mut path = self.path.clone();
        for (_, &switch) in own.iter().enumerate().filter(|(bit, _)| on >> bit & 1 == 0) {
            if is_taken_out(self.path, switch) {
                return None;
            }
            path = made_good(path, switch);
        }
        Some(path)
    }

    /// The same value from whole runs of its own: for an analyzer under oblique rays.
    fn value_by_hand(&self, switches: &[Switch], on: usize) -> Result<f64, PathError> {
        let path = self.path_by_hand(switches, on);
        let (crossed, parallel) = self.luminances(&path)?;
        // The parallel field has the lone retarder in.
        let reference = match switches.iter().position(is_lone_retarder) {
            Some(bit) if on >> bit & 1 == 0 => {
                self.luminances(&self.path_by_hand(switches, on | 1 << bit))?
                    .1
            }
            _ => parallel,
        };
        Ok(crossed / reference + path.stray_fraction)
    }

    /// The path with those switches made good that are off, plates and specimens out.
    fn path_by_hand(&self, switches: &[Switch], on: usize) -> LightPath {
        let mut path = self.path.clone();
        let mut out = Vec::new();
        for (_, &switch) in switches
            .iter()
            .enumerate()
            .filter(|(bit, _)| on >> bit & 1 == 0)
        {
            match (&path.parts[switch.part].kind, switch.cause) {
                _ if is_taken_out(self.path, switch) => out.push(switch.part),
                (PartKind::Analyzer(_), Cause::Misalignment) => cross(&mut path),
                _ => path = made_good(path, switch),
            }
        }
        // From the eye to the lamp, so that the indices before each one stay true.
        for part in out {
            path.parts.remove(part);
        }
        path.parts
            .retain(|part| !matches!(part.kind, PartKind::Specimen(_) | PartKind::Plate(_)));
        path
    }

    /// Luminances at crossed polars, without stray light, and at parallel ones.
    fn luminances(&self, path: &LightPath) -> Result<(f64, f64), PathError> {
        let path = LightPath {
            stray_fraction: 0.0,
            ..path.clone()
        };
        let fields = run::fields(&path, self.rays, self.wavelengths_nm, self.luminous)?;
        let luminance =
            |field: &[f64]| -> f64 { field.iter().zip(self.luminous).map(|(t, w)| t * w).sum() };
        Ok((luminance(&fields.crossed), luminance(&fields.parallel)))
    }

    /// The leak with circular polars' retarders made good: the last one turns into what undoes the first at every wavelength, those between
    /// them are out, and the polars are crossed.
    fn without_residue(&self) -> Result<f64, PathError> {
        let mut path = self.path_by_hand(&[], 0);
        let between = path.lower_polar().zip(path.analyzer());
        let retarders: Vec<usize> = between.map_or_else(Vec::new, |(low, high)| {
            let is_one = |part: &usize| matches!(path.parts[*part].kind, PartKind::Retarder(_));
            (low..high).filter(is_one).collect()
        });
        if let [first, middle @ .., last] = &retarders[..]
            && let PartKind::Retarder(undone) = &path.parts[*first].kind
        {
            let undoing = Retarder {
                slow_azimuth_rad: undone.slow_azimuth_rad + FRAC_PI_2,
                ..undone.clone()
            };
            path.parts[*last].kind = PartKind::Retarder(undoing);
            for part in middle.iter().rev() {
                path.parts.remove(*part);
            }
            cross(&mut path);
        }
        let (crossed, parallel) = self.luminances(&path)?;
        Ok(or_nothing(crossed / parallel + path.stray_fraction))
    }
}

fn is_lone_retarder(switch: &Switch) -> bool {
    switch.cause == Cause::LoneRetarder
}

/// Crosses the analyzer with the lower polar.
fn cross(path: &mut LightPath) {
    let crossed_rad = path.polars().map(|(low, _)| low.azimuth_rad + FRAC_PI_2);
    for part in &mut path.parts {
        if let (PartKind::Analyzer(polar), Some(azimuth_rad)) = (&mut part.kind, crossed_rad) {
            polar.azimuth_rad = azimuth_rad;
        }
    }
}

/// Light that vibrates along an azimuth; not below nothing, which rounding could make it.
fn along(beam: &Coherency, azimuth_rad: f64) -> f64 {
    let (sin, cos) = math::sincos(azimuth_rad);
    (beam.xx * cos * cos + beam.yy * sin * sin + 2.0 * beam.xy_re * sin * cos).max(0.0)
}

/// Shapley values of `count` players from the worth of every set of them.
fn shapley(values: &[f64], count: usize) -> Vec<f64> {
    // weight[k] = k! (n - k - 1)! / n!, for sets of k other players.
    let mut weight = vec![1.0 / count.max(1) as f64; count];
    for k in 1..count {
        weight[k] = weight[k - 1] * k as f64 / (count - k) as f64;
    }
    (0..count)
        .map(|player| {
            (0..values.len())
                .filter(|set| set >> player & 1 == 0)
                .map(|set| {
                    weight[set.count_ones() as usize] * (values[set | 1 << player] - values[set])
                })
                .sum()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shapley_values_of_a_known_game() {
        // Three players, a left glove (0) and two right ones (1, 2): a pair is worth 1. Values 2/3, 1/6, 1/6.
        let worth: Vec<f64> = (0..8usize)
            .map(|set| f64::from(set & 1 == 1 && set & 6 != 0))
            .collect();
        let values = shapley(&worth, 3);
        for (got, expected) in values.iter().zip([2.0 / 3.0, 1.0 / 6.0, 1.0 / 6.0]) {
            assert!((got - expected).abs() < 1e-15, "{values:?}");
        }
    }
}
