//! Which numbers of a path are unknown, and their priors.

use thiserror::Error;

use super::{Prior, Sampled, Told, Unknown, Unknowns, crossing};
use crate::light_path::{LightPath, Part, PartKind, Tolerance, ToleranceKind};
use crate::material::{PolarizingSheet, catalog};
use crate::math;
use crate::optics::{Lens, LensForm, Polarizer, Strain};
use crate::study::leak::Cause;
use crate::study::measures::GREEN_NM;
use crate::study::quantity::{Quantity, QuantityKind};
use crate::study::reading::BenchSetting;

/// Standard deviation of each component of a lens's uniform strain, nm: common practice, no source.
const UNIFORM_NM: f64 = 5.0;
/// Standard deviation of a radial strain's edge where less is written, nm, of a condenser and of an objective: common practice, no source.
const RADIAL_NM: (f64, f64) = (20.0, 5.0);
/// Factor within which a clamp's force or a map's strain is known.
const SCALED: f64 = 3.0;
/// Factor within which the leak of a catalog sheet is known, which is from memory, and of one whose numbers stand in the file.
const LEAK: (f64, f64) = (5.0, 2.0);
/// Wavelength at which a sheet's leak is told, nm.
const LEAK_NM: f64 = 550.0;
/// Covers that are not told lie between 0 and this, nm; those told are good to so much.
const COVER_NM: (f64, f64) = (80.0, 5.0);
/// Standard deviation of the crossing error, degrees.
const CROSSING_DEG: f64 = 1.0;
/// The stray fraction where none is written, and the factors within which it and a written one are known.
const STRAY: (f64, f64, f64) = (1e-5, 12.0, 3.0);
/// A lens of N surfaces acts like N/4 to N equal ones: N/2 within this factor.
const BENDING: f64 = 2.0;
/// A ray may be bent by this part of what glass can bend it at most.
const BENDS: f64 = 0.98;
/// What is known is not known better than this, nm or radians.
const KNOWN: f64 = 1e-9;

/// A name that is none of the unknowns.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("\"{name}\" is not among the unknowns of this stand{}; a name may end at one of its points, and stands then for all that begin so", self.those())]
pub struct UnknownError {
    /// The name.
    pub name: String,
    /// Those that there are.
    pub names: Vec<String>,
}

impl UnknownError {
    /// The names that begin as the one that was given; all of them where none does.
    fn those(&self) -> String {
        let begun = self
            .names
            .iter()
            .filter(|name| name.starts_with(&self.name));
        let begun: Vec<&str> = begun.map(String::as_str).collect();
        match begun[..] {
            [] => format!(": {}", self.names.join(", ")),
            _ => format!(", but these begin so: {}", begun.join(", ")),
        }
    }
}

/// What a bench asks of a stand, in so far as unknowns depend on it.
#[derive(Debug, Clone, Copy, PartialEq)]
struct BenchUse {
    /// The widest iris that is read at.
    na: f64,
    /// Whether the lower polar is moved, so that steep rays may cross it.
    polar_moves: bool,
}

impl Unknowns {
    /// What a user at the bench does not know of a stand: strain of every lens, leak and cover of every sheet, the crossing, stray light, how
    /// evenly lenses told by a number of surfaces share their bending, and what has a tolerance.
    #[must_use]
    pub fn of_bench(path: &LightPath) -> Self {
        let na = path.na();
        Self::for_bench(
            path,
            BenchUse {
                na,
                polar_moves: false,
            },
        )
    }

    /// The same for a stand that is also used in the settings of readings, one of which may open the iris wider or move the lower polar to where
    /// rays are steep.
    #[must_use]
    pub fn of_readings<'a>(
        path: &LightPath,
        settings: impl Iterator<Item = &'a BenchSetting> + Clone,
    ) -> Self {
        let irises = settings.clone().filter_map(|setting| setting.na);
        let widest = LightPath {
            iris_na: Some(irises.fold(path.na(), f64::max)),
            ..path.clone()
        };
        let bench = BenchUse {
            na: widest.na(),
            polar_moves: settings.clone().any(|setting| setting.polar_at.is_some()),
        };
        Self::for_bench(path, bench)
    }

    fn for_bench(path: &LightPath, bench: BenchUse) -> Self {
        let mut all = List::new(path);
        for part in 0..path.parts.len() {
            all.strains_of_bench(part);
            all.bending(part, bench.na);
        }
        all.sheets(|path, part| {
            path.is_oblique(part) || bench.polar_moves && path.lower_polar() == Some(part)
        });
        all.tolerances(false);
        all.stray();
        all.finish()
    }

    /// What the file and the catalog leave open when all that is written is taken at its word: leak and cover of the sheets, how evenly lenses
    /// told by a number of surfaces share their bending, and what has a tolerance.
    #[must_use]
    pub fn of_file(path: &LightPath) -> Self {
        Self::for_file(path, false)
    }

    /// The same; the lower polar may be moved into steep rays.
    pub(crate) fn for_file(path: &LightPath, polar_moves: bool) -> Self {
        let na = path.na();
        let mut all = List::new(path);
        for part in 0..path.parts.len() {
            all.bending(part, na);
        }
        all.sheets(|path, part| {
            path.is_oblique(part) || polar_moves && path.lower_polar() == Some(part)
        });
        all.tolerances(true);
        all.finish()
    }

    /// Those of any reading of a stand that have these names.
    ///
    /// # Errors
    /// [`UnknownError`] for a name that is none of them.
    pub fn named(path: &LightPath, names: &[String]) -> Result<Self, UnknownError> {
        let bench = BenchUse {
            na: path.na(),
            polar_moves: true,
        };
        Self::for_bench(path, bench).only(names)
    }

    /// Only these, by any of the names that are told of them, or by the name of a part for all of its numbers.
    ///
    /// # Errors
    /// [`UnknownError`] for a name that is none of them.
    pub fn only(self, names: &[String]) -> Result<Self, UnknownError> {
        self.check(names)?;
        Ok(self.retain(|unknown| named(unknown, names)))
    }

    /// All but these, named in the same ways, which stay as written.
    ///
    /// # Errors
    /// [`UnknownError`] for a name that is none of them.
    pub fn without(self, names: &[String]) -> Result<Self, UnknownError> {
        self.check(names)?;
        Ok(self.retain(|unknown| !named(unknown, names)))
    }

    fn check(&self, names: &[String]) -> Result<(), UnknownError> {
        let is_known = |name: &String| {
            let mut all = self.list.iter();
            all.any(|unknown| named(unknown, std::slice::from_ref(name)))
        };
        match names.iter().find(|name| !is_known(name)) {
            None => Ok(()),
            Some(name) => Err(UnknownError {
                name: name.clone(),
                names: self.names().into_iter().map(str::to_owned).collect(),
            }),
        }
    }

    fn retain(mut self, keep: impl Fn(&Unknown) -> bool) -> Self {
        self.list.retain(keep);
        self
    }
}

fn named(unknown: &Unknown, names: &[String]) -> bool {
    let is_meant = |told: &Told| {
        let is_begun = |name: &String| {
            let rest = told.name.strip_prefix(name.as_str());
            rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
        };
        names.iter().any(is_begun)
    };
    unknown.told.iter().any(is_meant)
}

/// Unknowns as they are found.
struct List {
    path: LightPath,
    list: Vec<Unknown>,
}

impl List {
    fn new(path: &LightPath) -> Self {
        Self {
            path: path.clone(),
            list: Vec::new(),
        }
    }

    fn finish(self) -> Unknowns {
        Unknowns {
            path: self.path,
            list: self.list,
        }
    }

    fn add(&mut self, sampled: Sampled, prior: Prior, told: Told) {
        self.list.push(Unknown {
            sampled,
            priors: vec![prior],
            told: vec![told],
            turn_rad: 0.0,
        });
    }

    /// The strains of a lens as written, and a uniform and a radial one where none is.
    fn strains_of_bench(&mut self, part: usize) {
        let Some(lens) = lens_mut(&mut self.path, part) else {
            return;
        };
        if lens.is_ideal() && lens.strain.is_empty() {
            return;
        }
        let has = |lens: &Lens, wanted: fn(&Strain) -> bool| lens.strain.iter().any(wanted);
        if !has(lens, |strain| matches!(strain, Strain::Uniform { .. })) {
            lens.strain.push(Strain::Uniform {
                path_difference_nm: 0.0,
                slow_azimuth_rad: 0.0,
            });
        }
        if !has(lens, |strain| matches!(strain, Strain::Radial { .. })) {
            lens.strain.push(Strain::radial(0.0));
        }
        for profile in 0..lens.strain.len() {
            let tolerance = self.path.parts[part].tolerance.filter(|_| profile == 0);
            self.strain(part, profile, tolerance, true);
        }
    }

    /// One strain profile. Where no tolerance is written for it, a user at the bench ([`Unknowns::of_bench`]) does not know it, and the file
    /// ([`Unknowns::of_file`]) is taken to state it exactly.
    fn strain(&mut self, part: usize, profile: usize, tolerance: Option<Tolerance>, bench: bool) {
        let Part { name, kind, .. } = &self.path.parts[part];
        let is_condenser = matches!(kind, PartKind::Condenser(_));
        let (PartKind::Condenser(lens) | PartKind::Objective(lens)) = kind else {
            return;
        };
        let Some(strain) = lens.strain.get(profile) else {
            return;
        };
        let same =
            |other: &&Strain| std::mem::discriminant(*other) == std::mem::discriminant(strain);
        let number = match lens.strain[..profile].iter().filter(same).count() {
            0 => String::new(),
            before => format!("#{}", before + 1),
        };
        let told = |kind: &str, key: &str, unit| Told {
            name: format!("{name}.{kind}{number}.{key}"),
            part: name.clone(),
            cause: Cause::Strain,
            unit,
        };
        let usual = |sd: f64| if bench { sd } else { KNOWN };
        let amount_sd = tolerance.and_then(|t| t.path_difference_nm.map(|nm| sd_of(nm, t.kind)));
        let azimuth_sd = tolerance.and_then(|t| t.azimuth_rad.map(|rad| sd_of(rad, t.kind)));
        match strain {
            Strain::Uniform {
                path_difference_nm: nm,
                slow_azimuth_rad,
            } => {
                let across = azimuth_sd.map(|rad| 2.0 * nm.abs() * rad);
                let normal = |mean, sd: f64| Prior::normal(mean, sd.max(KNOWN));
                let unknown = Unknown {
                    priors: vec![
                        normal(*nm, amount_sd.unwrap_or(usual(UNIFORM_NM))),
                        normal(0.0, across.unwrap_or(usual(UNIFORM_NM))),
                    ],
                    told: vec![
                        told("uniform", "path_difference_nm", "nm"),
                        told("uniform", "azimuth_deg", "deg"),
                    ],
                    turn_rad: 2.0 * slow_azimuth_rad,
                    sampled: Sampled::UniformStrain { part, profile },
                };
                self.list.push(unknown);
            }
            Strain::Radial { edge_nm, .. } => {
                let usual_nm = if is_condenser {
                    RADIAL_NM.0
                } else {
                    RADIAL_NM.1
                };
                let sd = amount_sd.unwrap_or(usual(edge_nm.abs().max(usual_nm)));
                let prior = Prior::normal(*edge_nm, sd);
                let told = told("radial", "edge_nm", "nm");
                self.add(Sampled::RadialStrain { part, profile }, prior, told);
            }
            Strain::Clamp { .. } | Strain::Map(_) => {
                let amount = strain.amount_nm();
                if amount == 0.0 {
                    return;
                }
                let prior = match amount_sd {
                    Some(sd) => Prior::normal(0.0, sd / amount),
                    None if bench => Prior::within_a_factor(1.0, SCALED),
                    None => return,
                };
                let (written, told) = match strain {
                    Strain::Clamp { force_n, .. } => (*force_n, told("clamp", "force_n", "N")),
                    _ => (1.0, told("map", "factor", "")),
                };
                let sampled = Sampled::ScaledStrain {
                    part,
                    profile,
                    written,
                };
                self.add(sampled, prior, told);
            }
        }
    }

    /// How many equal surfaces a lens acts like that is told by their number; `na` is the widest iris.
    fn bending(&mut self, part: usize, na: f64) {
        let Some(lens) = lens_mut(&mut self.path, part) else {
            return;
        };
        let LensForm::Equal { surfaces } = lens.form else {
            return;
        };
        if lens.is_ideal() {
            return;
        }
        let most_rad = BENDS * math::acos(1.0 / lens.glass.index.at(GREEN_NM));
        let used = na.min(lens.na);
        let deviation_rad = self.path.deviation_rad(part, used).abs();
        let fewest = deviation_rad / most_rad;
        let name = self.path.parts[part].name.clone();
        let prior = Prior::within_a_factor(0.5 * f64::from(surfaces), BENDING);
        let told = Told {
            name: format!("{name}.bending.n_eff"),
            part: name,
            cause: Cause::LensSurfaces,
            unit: "",
        };
        self.add(
            Sampled::Bending {
                part,
                deviation_rad,
            },
            prior.above(math::log(fewest)),
            told,
        );
    }

    /// Leak and cover of every sheet; `oblique` says at which parts steep rays cross it.
    fn sheets(&mut self, oblique: impl Fn(&LightPath, usize) -> bool) {
        let polars: Vec<(usize, Polarizer)> = (self.path.parts.iter().enumerate())
            .filter_map(|(index, part)| match &part.kind {
                PartKind::Polarizer(polar) | PartKind::Analyzer(polar) => {
                    Some((index, polar.clone()))
                }
                _ => None,
            })
            .collect();
        let alike = |of: fn(&Polarizer, &Polarizer) -> bool, only: &dyn Fn(usize) -> bool| {
            let mut groups: Vec<(Polarizer, Vec<usize>)> = Vec::new();
            for (index, polar) in polars.iter().filter(|(index, _)| only(*index)) {
                match groups.iter_mut().find(|(first, _)| of(first, polar)) {
                    Some((_, parts)) => parts.push(*index),
                    None => groups.push((polar.clone(), vec![*index])),
                }
            }
            groups
        };
        let leaks = alike(
            |a, b| a.sheet.name == b.sheet.name && a.sheet.transmittance == b.sheet.transmittance,
            &|_| true,
        );
        for (polar, parts) in leaks {
            let (_, written) = (polar.sheet.principal_transmittances(LEAK_NM)).unwrap_or_default();
            if written <= 0.0 {
                continue;
            }
            let factor = if is_of_catalog(&polar) {
                LEAK.0
            } else {
                LEAK.1
            };
            let told = self.sheet_told(&polar, &parts, "k2", Cause::SheetLeak, "");
            let prior = Prior::within_a_factor(1.0, factor);
            self.add(Sampled::SheetLeak { parts, written }, prior, told);
        }
        let path = self.path.clone();
        let covers = alike(|a, b| a.sheet == b.sheet, &|index| oblique(&path, index));
        for (polar, parts) in covers {
            let Some(prior) = cover_prior(&polar.sheet) else {
                continue;
            };
            let told = self.sheet_told(&polar, &parts, "cover_nm", Cause::SheetCover, "nm");
            self.add(Sampled::SheetCover { parts }, prior, told);
        }
    }

    /// A sheet of the catalog has its name there, any other that of the first part that is cut from it.
    fn sheet_told(
        &self,
        polar: &Polarizer,
        parts: &[usize],
        key: &str,
        cause: Cause,
        unit: &'static str,
    ) -> Told {
        let part = self.path.parts[parts[0]].name.clone();
        let mut name = match is_of_catalog(polar) {
            true => format!("{}.{key}", polar.sheet.name),
            false => format!("{part}.{key}"),
        };
        if self.list.iter().any(|unknown| unknown.told[0].name == name) {
            name = format!("{part}.{key}");
        }
        Told {
            name,
            part,
            cause,
            unit,
        }
    }

    /// The crossing error, and every part with a tolerance that is no lens's; in a file what has no tolerance is known, and lenses' tolerances
    /// count.
    fn tolerances(&mut self, of_file: bool) {
        for part in 0..self.path.parts.len() {
            let Part {
                name,
                kind,
                tolerance,
            } = &self.path.parts[part];
            let (name, tolerance) = (name.clone(), *tolerance);
            match kind {
                PartKind::Condenser(_) | PartKind::Objective(_) => {
                    if of_file && tolerance.is_some() {
                        self.strain(part, 0, tolerance, false);
                    }
                }
                PartKind::Analyzer(polar) => {
                    let written = polar.azimuth_rad;
                    let told_sd = tolerance.and_then(|t| Some((t.azimuth_rad?, t.kind)));
                    let prior = match told_sd {
                        Some((rad, kind)) => prior_of(written, rad, kind),
                        None if of_file => continue,
                        None => Prior::normal(written, CROSSING_DEG.to_radians()),
                    };
                    let told = Told {
                        name: "analyzer.azimuth_deg".to_owned(),
                        part: name,
                        cause: Cause::Misalignment,
                        unit: "deg",
                    };
                    self.add(Sampled::Number(crossing(part)), prior, told);
                }
                _ => {
                    let Some(tolerance) = tolerance else { continue };
                    for (key, unit, wide, kind) in [
                        (
                            "path_difference_nm",
                            "nm",
                            tolerance.path_difference_nm,
                            QuantityKind::PathDifference,
                        ),
                        (
                            "azimuth_deg",
                            "deg",
                            tolerance.azimuth_rad,
                            QuantityKind::Azimuth,
                        ),
                    ] {
                        let quantity = Quantity {
                            part: Some(part),
                            kind,
                        };
                        let Some((written, wide)) = quantity.value(&self.path).zip(wide) else {
                            continue;
                        };
                        let told = Told {
                            name: format!("{name}.{key}"),
                            part: name.clone(),
                            cause: match self.path.parts[part].kind {
                                PartKind::Polarizer(_) => Cause::Misalignment,
                                _ => Cause::Retarders,
                            },
                            unit,
                        };
                        let prior = prior_of(written, wide, tolerance.kind);
                        self.add(Sampled::Number(quantity), prior, told);
                    }
                }
            }
        }
    }

    fn stray(&mut self) {
        let written = self.path.stray_fraction;
        let prior = match written > 0.0 {
            true => Prior::within_a_factor(written, STRAY.2),
            false => Prior::within_a_factor(STRAY.0, STRAY.1),
        };
        let told = Told {
            name: "stray.fraction".to_owned(),
            part: "stack".to_owned(),
            cause: Cause::StrayLight,
            unit: "",
        };
        self.add(Sampled::Stray, prior, told);
    }
}

/// What the cover of a sheet may be, nm; `None` for the ideal sheet, which has none.
#[must_use]
pub fn cover_prior(sheet: &PolarizingSheet) -> Option<Prior> {
    match sheet {
        sheet if sheet.name == "ideal" => None,
        sheet if sheet.cover_is_told => Some(Prior::normal(sheet.cover_nm, COVER_NM.1).above(0.0)),
        _ => Some(Prior::Uniform {
            low: 0.0,
            high: COVER_NM.0,
        }),
    }
}

fn lens_mut(path: &mut LightPath, part: usize) -> Option<&mut Lens> {
    match &mut path.parts[part].kind {
        PartKind::Condenser(lens) | PartKind::Objective(lens) => Some(lens),
        _ => None,
    }
}

fn is_of_catalog(polar: &Polarizer) -> bool {
    catalog::names("sheet").contains(&polar.sheet.name.as_str())
}

/// The standard deviation that a tolerance stands for; of an even one, half its width over the root of 3.
fn sd_of(tolerance: f64, kind: ToleranceKind) -> f64 {
    match kind {
        ToleranceKind::Normal => tolerance.max(KNOWN),
        ToleranceKind::Uniform => (tolerance / 3f64.sqrt()).max(KNOWN),
    }
}

fn prior_of(written: f64, tolerance: f64, kind: ToleranceKind) -> Prior {
    match kind {
        ToleranceKind::Uniform if tolerance > KNOWN => Prior::Uniform {
            low: written - tolerance,
            high: written + tolerance,
        },
        _ => Prior::normal(written, tolerance.max(KNOWN)),
    }
}
