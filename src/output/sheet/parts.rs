//! What is drawn in parts, one for each slide.

use super::frame::{Frame, around};
use super::slide::CLEAR;
use super::{Item, Type, font};
use crate::order::sort_by_number;

/// Each of two parts has at least this part of what is cut.
const LEAST: f64 = 0.25;
/// How much wider a gap must be for each point that it is farther from the middle.
const OFF: f64 = 0.05;
/// From one line of a block to the next it is less than this, over the size of their type.
const BLOCK: f64 = 1.5;

/// What no cut goes through: the lines of a block, or one item.
pub(super) type Unit = Vec<Item>;

pub(super) fn units(items: Vec<Item>) -> Vec<Unit> {
    (items.chunk_by(follows)).map(<[Item]>::to_vec).collect()
}

pub(super) fn around_units(units: &[Unit]) -> Frame {
    around(&units.concat())
}

/// Parts with the notes that stand under something of each.
pub(super) fn noted(parts: Vec<Vec<Unit>>, notes: Vec<Item>) -> Vec<(Vec<Unit>, Vec<Item>)> {
    let tops: Vec<f64> = parts.iter().map(|part| around_units(part)[1]).collect();
    let mut all: Vec<(Vec<Unit>, Vec<Item>)> =
        parts.into_iter().map(|part| (part, Vec::new())).collect();
    for note in notes {
        let at = tops.iter().rposition(|top| *top < note.frame()[1]);
        if let Some((_, own)) = all.get_mut(at.unwrap_or(0)) {
            own.push(note);
        }
    }
    all
}

/// What is too tall for a slide in parts: cut in a gap that nothing reaches into, a wide one near the middle. Panels stand farther apart than an axis
/// and its title.
pub(super) fn cut(width: f64, tall: f64, body: Vec<Unit>) -> Vec<Vec<Unit>> {
    let [_, top, _, bottom] = around_units(&body);
    let mut reaches: Vec<(f64, f64)> = (body.iter())
        .map(|unit| around(unit))
        .map(|frame| (frame[1], frame[3]))
        .collect();
    sort_by_number(&mut reaches, |reach| reach.0);
    let (mut down_to, mut best) = (top, None::<(f64, f64)>);
    for (from, to) in reaches {
        let y = 0.5 * (down_to + from);
        let part = (y - top) / (bottom - top);
        let off = (y - 0.5 * (top + bottom)).abs();
        let worth = from - down_to - OFF * off;
        let fits = from - down_to > CLEAR && (LEAST..=1.0 - LEAST).contains(&part);
        if fits && best.is_none_or(|(_, best)| worth > best) {
            best = Some((y, worth));
        }
        down_to = f64::max(down_to, to);
    }
    let Some((y, _)) = best.filter(|_| bottom - top > tall * width) else {
        return vec![body];
    };
    let (above, below) = (body.into_iter()).partition(|unit| around(unit)[3] <= y);
    [cut(width, tall, above), cut(width, tall, below)].concat()
}

/// Whether a text is the line below another one of the same block.
pub(super) fn follows(a: &Item, b: &Item) -> bool {
    let line = |item: &Item| match item {
        Item::Text(text, (x, y), set) if !set.upward => {
            let width = font::width(text, *set);
            Some(([*x, x + 0.5 * width, x + width], *y, *set))
        }
        _ => None,
    };
    let (Some((across, upper, set)), Some((other, lower, below))) = (line(a), line(b)) else {
        return false;
    };
    let aligned = (across.iter().zip(other)).any(|(a, b)| (a - b).abs() < 0.5);
    let gap = lower - upper;
    aligned && set == Type { h: set.h, ..below } && 0.0 < gap && gap < BLOCK * set.size
}
