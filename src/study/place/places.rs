//! The gaps of a stack that a polar can stand in.

use thiserror::Error;

use crate::light_path::{LightPath, Part, PartKind, PathError};

/// Refractive index of the oil that joins a sheet to the slide where the scenario names none.
pub const OIL_INDEX: f64 = 1.515;

/// A place of a polar.
#[derive(Debug, Clone, PartialEq)]
pub enum Place {
    /// Right before the condenser.
    BelowCondenser,
    /// Right behind the first of a condenser's lenses.
    BetweenLenses,
    /// Right behind the condenser, in its immersion medium.
    AboveCondenser,
    /// Right before the slide, in air.
    UnderSlideDry,
    /// Right before the slide, joined to it by a medium of this refractive index.
    UnderSlideImmersed {
        /// The index.
        index: f64,
    },
    /// A place of the analyzer: right behind this part.
    Behind {
        /// Its name.
        part: String,
    },
    /// Where the scenario has it, when that is none of the others.
    AsWritten,
}

impl Place {
    /// In plain words that follow "the lower polar" or "the analyzer".
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::BelowCondenser => "below the condenser".to_owned(),
            Self::BetweenLenses => "between the condenser's lenses".to_owned(),
            Self::AboveCondenser => "above the condenser".to_owned(),
            Self::UnderSlideDry => "under the slide, dry".to_owned(),
            Self::UnderSlideImmersed { .. } => "under the slide, immersed".to_owned(),
            Self::Behind { part } => format!("behind {part}"),
            Self::AsWritten => "where it stands".to_owned(),
        }
    }
}

/// Why a polar cannot stand in a gap.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Refusal {
    /// Dry, where a medium fills the gap.
    #[error("the condenser's immersion medium fills the gap")]
    Immersed,
    /// Joined to the slide, with a retarder between them.
    #[error("a retarder lies between the sheet and the slide")]
    RetarderBetween,
    /// The light path cannot be run.
    #[error(transparent)]
    Path(#[from] PathError),
}

/// A stack with a polar moved to one of its places; specimens are out.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacedPath {
    /// The place.
    pub place: Place,
    /// The stack.
    pub path: LightPath,
    /// Whether this is the stack as it was written.
    pub written: bool,
    /// Index of an earlier place of the same list at which the light is the same.
    pub same_as: Option<usize>,
    /// Why the polar cannot stand here; `None` where it can.
    pub refused: Option<Refusal>,
    /// Parts that are outside the polars when the analyzer stands here, and are taken out.
    pub outside: Vec<String>,
}

/// The stack with its lower polar in every gap below the specimen, from the lamp up. The retarders and plates that stand right behind
/// the polar move with it, so a circular polarizer moves whole; it stays the last polarizer.
///
/// Checked by: `tests/laws/place.rs`.
#[must_use]
pub fn places(path: &LightPath) -> Vec<PlacedPath> {
    let Some(low) = path.lower_polar() else {
        return Vec::new();
    };
    let mut path = path.clone();
    let medium = path.condenser_medium();
    let mut joined = OIL_INDEX;
    if let PartKind::Polarizer(polar) = &mut path.parts[low].kind {
        joined = polar.contact.unwrap_or(joined);
        // A medium that fills the gap anyhow joins nothing.
        polar.contact = polar.contact.filter(|index| *index != medium);
    }
    let end = low + 1 + (path.parts[low + 1..].iter().take_while(is_plate)).count();
    let mut others = path.parts.clone();
    let moving: Vec<Part> = others.drain(low..end).collect();
    let mut found = PlaceList::new(&path);
    for (place, at) in gaps(&others, joined) {
        let contact = match place {
            Place::UnderSlideImmersed { index } => Some(index).filter(|index| *index != medium),
            _ => None,
        };
        let refused = match place {
            Place::UnderSlideDry if medium != 1.0 => Some(Refusal::Immersed),
            _ if contact.is_some() && moving.len() > 1 => Some(Refusal::RetarderBetween),
            _ => None,
        };
        let mut parts = others.clone();
        parts.splice(at..at, moving.clone());
        if let PartKind::Polarizer(polar) = &mut parts[at].kind {
            polar.contact = contact;
        }
        found.add(place, parts, refused, Vec::new());
    }
    found.with_written()
}

/// The stack with its analyzer in every gap above the objective, from there up; without an objective, above the last part that is neither
/// plate nor retarder. Retarders right in front of the analyzer move with it; what then stands above it is taken out.
///
/// Checked by: `tests/laws/place.rs`.
#[must_use]
pub fn analyzer_places(path: &LightPath) -> Vec<PlacedPath> {
    let Some(analyzer) = path.analyzer() else {
        return Vec::new();
    };
    let (others, moving) = path.parts.split_at(analyzer);
    let with_it = (others.iter().rev())
        .take_while(|part| matches!(part.kind, PartKind::Retarder(_)))
        .count();
    let solid = others.iter().rposition(|part| !is_plate(&part));
    // What stands right behind the lower polar belongs to it.
    let (first, last) = if solid == path.lower_polar() {
        (analyzer, analyzer)
    } else {
        (solid.map_or(0, |solid| solid + 1), analyzer - with_it)
    };
    let mut found = PlaceList::new(path);
    for at in first..=last {
        let parts: Vec<Part> = [&others[..at], &others[last..], moving].concat();
        let outside = others[at..last].iter().map(|part| part.name.clone());
        let part = at.checked_sub(1).map(|before| others[before].name.clone());
        let place = part.map_or(Place::AsWritten, |part| Place::Behind { part });
        found.add(place, parts, None, outside.collect());
    }
    found.with_written()
}

fn is_plate(part: &&Part) -> bool {
    matches!(part.kind, PartKind::Retarder(_) | PartKind::Plate(_))
}

/// The gaps for a lower polar in a stack without it, each with the index of the part that it stands before.
fn gaps(parts: &[Part], contact: f64) -> Vec<(Place, usize)> {
    let all = |kind: fn(&PartKind) -> bool| -> Vec<usize> {
        (parts.iter().enumerate())
            .filter(|(_, part)| kind(&part.kind))
            .map(|(index, _)| index)
            .collect()
    };
    let lenses = all(|kind| matches!(kind, PartKind::Condenser(_)));
    let specimen = all(|kind| matches!(kind, PartKind::Specimen(_)));
    let slide = all(|kind| matches!(kind, PartKind::Slide(_)));
    let mut gaps = Vec::new();
    if let (Some(&first), Some(&last)) = (lenses.first(), lenses.last()) {
        gaps.push((Place::BelowCondenser, first));
        if first < last {
            gaps.push((Place::BetweenLenses, first + 1));
        }
        gaps.push((Place::AboveCondenser, last + 1));
    }
    let below_specimen = |at: &&usize| specimen.first().is_none_or(|specimen| *at < specimen);
    if let Some(&slide) = slide.first().filter(below_specimen) {
        gaps.push((Place::UnderSlideDry, slide));
        gaps.push((Place::UnderSlideImmersed { index: contact }, slide));
    }
    let before = all(|kind| matches!(kind, PartKind::Polarizer(_)));
    gaps.retain(|(_, at)| before.last().is_none_or(|polar| at > polar));
    gaps
}

/// A list of places while it is made.
struct PlaceList<'a> {
    path: &'a LightPath,
    empty: LightPath,
    places: Vec<PlacedPath>,
}

impl<'a> PlaceList<'a> {
    fn new(path: &'a LightPath) -> Self {
        Self {
            path,
            empty: path.without_specimens(),
            places: Vec::new(),
        }
    }

    fn add(
        &mut self,
        place: Place,
        parts: Vec<Part>,
        refused: Option<Refusal>,
        outside: Vec<String>,
    ) {
        let path = LightPath {
            parts,
            ..self.path.clone()
        }
        .without_specimens();
        let same = |placed: &PlacedPath| placed.refused.is_none() && placed.path == path;
        let same_as = (refused.is_none())
            .then(|| self.places.iter().position(same))
            .flatten();
        self.places.push(PlacedPath {
            place,
            written: refused.is_none() && same_as.is_none() && path == self.empty,
            same_as,
            refused,
            outside,
            path,
        });
    }

    /// The list, with the stack as it was written at its end when it is none of the others.
    fn with_written(mut self) -> Vec<PlacedPath> {
        if !self.places.iter().any(|placed| placed.written) {
            let parts = self.path.parts.clone();
            self.add(Place::AsWritten, parts, None, Vec::new());
        }
        self.places
    }
}
