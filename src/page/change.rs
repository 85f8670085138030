//! What the last move did, in a sentence.

use std::f64::consts::{FRAC_PI_4, PI};

use super::predicted;
use super::stack::{Refused, Stack};
use crate::light_path::{Crossing, LightPath, PartKind};
use crate::optics::Strain;
use crate::output::numbers::digits;
use crate::study::leak::{Cause, Leak};

/// Ratios that differ by less than this, relatively, are the same to a user.
const SAME: f64 = 2e-3;
/// What changed the other way is named from this part of the first change on.
const COUNTS: f64 = 0.25;
/// Azimuths that differ by less than this are the same to a user, radians.
const ALONG_RAD: f64 = 0.01;

pub(super) fn words(before: &Stack, after: &Stack) -> Result<String, Refused> {
    let exactly = |stack: &Stack| Stack {
        exact: true,
        ..stack.clone()
    };
    let (was, was_read) = predicted(&exactly(before), true)?;
    let (is, is_read) = predicted(&exactly(after), true)?;
    let (old, new) = (was.ratios().written, is.ratios().written);
    let told = |ratio: f64| match ratio.is_finite() {
        true => digits(ratio, 3),
        false => "infinite".to_owned(),
    };
    if old == new || (old / new - 1.0).abs() < SAME {
        return Ok(format!("The extinction ratio stays at {}.", told(new)));
    }
    let why = reason(
        (&was.leak, &was_read.scene.path),
        (&is.leak, &is_read.scene.path),
    );
    let why = why.map_or(String::new(), |why| format!(": {why}"));
    Ok(format!(
        "Extinction ratio {} to {}{why}.",
        told(old),
        told(new)
    ))
}

/// A part that came or went; or else the part and cause of which the light has changed most in the way that the whole did, and the one that changed
/// most the other way where that counts beside it.
fn reason(was: (&Leak, &LightPath), is: (&Leak, &LightPath)) -> Option<String> {
    let lacks = |path: &LightPath, name: &str| path.parts.iter().all(|part| part.name != name);
    if let Some(gone) = was.1.parts.iter().find(|part| lacks(is.1, &part.name)) {
        return Some(format!("the {} is out", gone.name));
    }
    if let Some(new) = is.1.parts.iter().find(|part| lacks(was.1, &part.name)) {
        return Some(format!("the {} is in", new.name));
    }
    let light = |leak: &Leak, key: (&str, Cause)| {
        let own = leak
            .shares
            .iter()
            .find(|share| (share.part.as_str(), share.cause) == key);
        own.map_or(0.0, |share| share.share * leak.whole)
    };
    let keys: Vec<(&str, Cause)> = (was.0.shares.iter())
        .chain(&is.0.shares)
        .map(|share| (share.part.as_str(), share.cause))
        .collect();
    let grown = is.0.whole > was.0.whole;
    // The part and cause whose light grew most (`more`), or fell most, and by how much.
    let most = |more: bool| {
        let sign = if more { 1.0 } else { -1.0 };
        (keys.iter())
            .map(|key| (*key, sign * (light(is.0, *key) - light(was.0, *key))))
            .filter(|(_, change)| *change > 0.0)
            .max_by(|a, b| a.1.total_cmp(&b.1))
    };
    let (key, change) = most(grown)?;
    let first = told(key, grown, was.1, is.1);
    let other = most(!grown).filter(|(_, other)| *other > COUNTS * change);
    Some(match other {
        Some((key, _)) => format!("{first}; but {}", told(key, !grown, was.1, is.1)),
        None => first,
    })
}

/// Why there is more, or less, light of a part and cause.
fn told(key: (&str, Cause), more: bool, was: &LightPath, is: &LightPath) -> String {
    let (part, cause) = key;
    let between = |path: &LightPath| {
        let at = path.parts.iter().position(|own| own.name == part)?;
        let lens = matches!(
            path.parts[at].kind,
            PartKind::Condenser(_) | PartKind::Objective(_)
        );
        lens.then(|| path.lower_polar().is_some_and(|polar| polar < at))
    };
    let own = source(part, cause);
    let are = match cause {
        Cause::LensSurfaces => "are",
        _ => "is",
    };
    let turned = match cause {
        Cause::Strain => turned(part, more, was, is),
        Cause::Misalignment => uncrossed(more, was, is),
        _ => None,
    };
    match (between(was), between(is)) {
        (Some(false), Some(true)) => format!("{own} {are} now between the polars"),
        (Some(true), Some(false)) => format!("{own} {are} no longer between the polars"),
        _ => turned.unwrap_or_else(|| format!("{} light comes from {own}", how_much(more))),
    }
}

fn how_much(more: bool) -> &'static str {
    if more { "more" } else { "less" }
}

/// What lets light through, in the words of a sentence.
fn source(part: &str, cause: Cause) -> String {
    match (part, cause) {
        ("stack", cause) => cause.words().to_owned(),
        (_, Cause::Retarders) => "retarders that do not undo each other".to_owned(),
        (part, Cause::LoneRetarder) => format!("the {part}, which no partner undoes"),
        (part, cause) => format!("the {part}'s {}", cause.words()),
    }
}

/// What the polars' angle says, where it explains what became of the light.
fn uncrossed(more: bool, was: &LightPath, is: &LightPath) -> Option<String> {
    let (old, new) = was.polars_apart_deg().zip(is.polars_apart_deg())?;
    let farther = new < old;
    (old != new && farther == more).then(|| match more {
        true => "the polars are now farther from being crossed".to_owned(),
        false => "the polars are now closer to being crossed".to_owned(),
    })
}

/// How a lens's strain lies now, where nothing but its azimuth has changed.
fn turned(part: &str, more: bool, was: &LightPath, is: &LightPath) -> Option<String> {
    let (old, new) = strain_of(part, was).zip(strain_of(part, is))?;
    let mut rest = was.clone();
    for own in rest.parts.iter_mut().filter(|own| own.name == part) {
        if let PartKind::Condenser(lens) | PartKind::Objective(lens) = &mut own.kind {
            lens.strain = new.to_vec();
        }
    }
    if old == new || old.len() != new.len() || rest != *is {
        return None;
    }
    let mut uniform = Vec::new();
    let mut clamped = false;
    for (old, new) in old.iter().zip(new).filter(|(old, new)| old != new) {
        match azimuths(old, new)? {
            Azimuths::Uniform(from_rad, to_rad) => uniform.push((from_rad, to_rad)),
            Azimuths::Clamp => clamped = true,
        }
    }
    let lies = match uniform[..] {
        [(from_rad, to_rad)] if !clamped => beside_polars((from_rad, to_rad), more, is),
        _ => None,
    };
    Some(match lies {
        Some(lies) => format!("the {part}'s strain now lies {lies}"),
        None => format!(
            "turned like this, the {part}'s strain lets {} light through",
            how_much(more)
        ),
    })
}

fn strain_of<'a>(part: &str, path: &'a LightPath) -> Option<&'a [Strain]> {
    let own = path.parts.iter().find(|own| own.name == part)?;
    match &own.kind {
        PartKind::Condenser(lens) | PartKind::Objective(lens) => Some(&lens.strain),
        _ => None,
    }
}

/// What was turned of a strain.
enum Azimuths {
    /// A uniform strain, from one slow azimuth to another, radians.
    Uniform(f64, f64),
    /// A clamp.
    Clamp,
}

/// What was turned, where all else of a strain is the same.
fn azimuths(old: &Strain, new: &Strain) -> Option<Azimuths> {
    let mut at_old = new.clone();
    match (old, new, &mut at_old) {
        (
            Strain::Uniform {
                slow_azimuth_rad: from_rad,
                ..
            },
            Strain::Uniform {
                slow_azimuth_rad: to_rad,
                ..
            },
            Strain::Uniform {
                slow_azimuth_rad, ..
            },
        ) => {
            *slow_azimuth_rad = *from_rad;
            (at_old == *old).then_some(Azimuths::Uniform(*from_rad, *to_rad))
        }
        (
            Strain::Clamp {
                first_azimuth_rad: from_rad,
                ..
            },
            Strain::Clamp { .. },
            Strain::Clamp {
                first_azimuth_rad, ..
            },
        ) => {
            *first_azimuth_rad = *from_rad;
            (at_old == *old).then_some(Azimuths::Clamp)
        }
        _ => None,
    }
}

/// How a uniform strain lies beside crossed polars, where that explains what became of its light: along either of them it does nothing.
fn beside_polars((from_rad, to_rad): (f64, f64), more: bool, path: &LightPath) -> Option<String> {
    if !matches!(path.crossing(), Crossing::Crossed { .. }) {
        return None;
    }
    let (lower, upper) = path.lower_polar().zip(path.analyzer())?;
    let (low, high) = path.polars()?;
    let polars = [(low, lower), (high, upper)];
    // The nearer polar's part, and how far it is from an azimuth.
    let nearest = |azimuth_rad: f64| {
        (polars.iter())
            .map(|(polar, part)| {
                let off = (azimuth_rad - polar.azimuth_rad).rem_euclid(PI);
                (off.min(PI - off), *part)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))
    };
    let ((old_rad, old_part), (new_rad, new_part)) = nearest(from_rad).zip(nearest(to_rad))?;
    let name = |part: usize| &path.parts[part].name;
    match (more, new_rad < old_rad) {
        (false, true) if new_rad < ALONG_RAD => Some(format!(
            "along the {}'s azimuth, where it does nothing to the light",
            name(new_part)
        )),
        (false, true) => Some(format!(
            "closer to the {}'s azimuth, where it would do nothing to the light",
            name(new_part)
        )),
        (true, false) if FRAC_PI_4 - new_rad < ALONG_RAD => Some(
            "halfway between the polars' azimuths, where it lets most light through".to_owned(),
        ),
        (true, false) => Some(format!(
            "farther from the {}'s azimuth, where it would do nothing to the light",
            name(old_part)
        )),
        _ => None,
    }
}
