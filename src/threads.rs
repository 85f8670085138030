//! Work shared among threads where the feature `parallel` is on, and done one piece after another where it is not. The results and
//! their order are the same either way.

use std::ops::Range;

#[cfg(feature = "parallel")]
use rayon::prelude::*;

/// What `of` makes of each number of a range, in the range's order.
#[cfg(feature = "parallel")]
pub(crate) fn map<T: Send>(range: Range<usize>, of: impl Fn(usize) -> T + Sync + Send) -> Vec<T> {
    range.into_par_iter().map(of).collect()
}

/// What `of` makes of each number of a range, in the range's order.
#[cfg(not(feature = "parallel"))]
pub(crate) fn map<T: Send>(range: Range<usize>, of: impl Fn(usize) -> T + Sync + Send) -> Vec<T> {
    range.map(of).collect()
}

/// What `of` makes of each item, in the items' order; the first error where there is one.
pub(crate) fn try_each<I: Sync, T: Send, E: Send>(
    items: &[I],
    of: impl Fn(&I) -> Result<T, E> + Sync + Send,
) -> Result<Vec<T>, E> {
    map(0..items.len(), |index| of(&items[index]))
        .into_iter()
        .collect()
}

/// Like [`map`], with working memory that `memory` makes once and the pieces of one thread hand on.
#[cfg(feature = "parallel")]
pub(crate) fn map_with<W: Send, T: Send>(
    range: Range<usize>,
    memory: impl Fn() -> W + Sync + Send,
    of: impl Fn(&mut W, usize) -> T + Sync + Send,
) -> Vec<T> {
    range.into_par_iter().map_init(memory, of).collect()
}

/// Like [`map`], with working memory that `memory` makes once and the pieces of one thread hand on.
#[cfg(not(feature = "parallel"))]
pub(crate) fn map_with<W: Send, T: Send>(
    range: Range<usize>,
    memory: impl Fn() -> W + Sync + Send,
    of: impl Fn(&mut W, usize) -> T + Sync + Send,
) -> Vec<T> {
    let mut memory = memory();
    range.map(|index| of(&mut memory, index)).collect()
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
