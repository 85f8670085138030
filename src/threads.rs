//! Work shared among threads where the feature `parallel` is on, and done one piece after another where it is not. The results and
//! their order are the same either way.

use std::ops::Range;
use std::sync::{Mutex, PoisonError};

#[cfg(feature = "parallel")]
use rayon::prelude::*;

/// How many pieces each thread is given on average: enough that one slow piece leaves the others little to wait for.
#[cfg(feature = "parallel")]
const PIECES_A_THREAD: usize = 64;

/// Calls `piece` with each number below `pieces`. It is compiled once for all callers, which keeps the build and the program small.
#[cfg(feature = "parallel")]
fn share(pieces: usize, piece: &(dyn Fn(usize) + Sync)) {
    (0..pieces).into_par_iter().for_each(piece);
}

/// Calls `piece` with each number below `pieces`.
#[cfg(not(feature = "parallel"))]
fn share(pieces: usize, piece: &(dyn Fn(usize) + Sync)) {
    (0..pieces).for_each(piece);
}

/// How many numbers of a range of `count` make one piece.
fn piece_length(count: usize) -> usize {
    #[cfg(feature = "parallel")]
    return count.div_ceil(rayon::current_num_threads() * PIECES_A_THREAD);
    #[cfg(not(feature = "parallel"))]
    return count;
}

/// What `of` makes of each number of a range, in the range's order.
pub(crate) fn map<T: Send>(range: Range<usize>, of: impl Fn(usize) -> T + Sync) -> Vec<T> {
    map_with(range, || (), |(), index| of(index))
}

/// What `of` makes of each item, in the items' order; the first error where there is one.
pub(crate) fn try_each<I: Sync, T: Send, E: Send>(
    items: &[I],
    of: impl Fn(&I) -> Result<T, E> + Sync,
) -> Result<Vec<T>, E> {
    map(0..items.len(), |index| of(&items[index]))
        .into_iter()
        .collect()
}

/// Like [`map`], with working memory that `memory` makes once for each piece of the range.
pub(crate) fn map_with<W, T: Send>(
    range: Range<usize>,
    memory: impl Fn() -> W + Sync,
    of: impl Fn(&mut W, usize) -> T + Sync,
) -> Vec<T> {
    let length = piece_length(range.len()).max(1);
    let pieces: Vec<Mutex<Vec<T>>> = range
        .clone()
        .step_by(length)
        .map(|_| Mutex::default())
        .collect();
    share(pieces.len(), &|piece| {
        let start = range.start + piece * length;
        let mut memory = memory();
        let made = (start..range.end.min(start + length))
            .map(|index| of(&mut memory, index))
            .collect();
        *pieces[piece].lock().unwrap_or_else(PoisonError::into_inner) = made;
    });
    let mut all = Vec::with_capacity(range.len());
    for piece in pieces {
        all.append(&mut piece.into_inner().unwrap_or_else(PoisonError::into_inner));
    }
    all
}

/// Fills rows of a table, each `row` numbers long; a thread is given at least `at_least` rows.
#[cfg(feature = "parallel")]
pub(crate) fn fill_rows(
    table: &mut [f64],
    row: usize,
    at_least: usize,
    fill: impl Fn((usize, &mut [f64])) + Sync + Send,
) {
    (table.par_chunks_exact_mut(row).with_min_len(at_least))
        .enumerate()
        .for_each(fill);
}

/// Fills rows of a table, each `row` numbers long.
#[cfg(not(feature = "parallel"))]
pub(crate) fn fill_rows(
    table: &mut [f64],
    row: usize,
    _at_least: usize,
    fill: impl Fn((usize, &mut [f64])) + Sync + Send,
) {
    table.chunks_exact_mut(row).enumerate().for_each(fill);
}

/// Both results.
#[cfg(feature = "parallel")]
pub(crate) fn join<A: Send, B: Send>(
    one: impl FnOnce() -> A + Send,
    other: impl FnOnce() -> B + Send,
) -> (A, B) {
    rayon::join(one, other)
}

/// Both results.
#[cfg(not(feature = "parallel"))]
pub(crate) fn join<A: Send, B: Send>(
    one: impl FnOnce() -> A + Send,
    other: impl FnOnce() -> B + Send,
) -> (A, B) {
    (one(), other())
}
