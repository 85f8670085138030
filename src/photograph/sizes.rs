//! Which of several pictures has another size than the others.

use super::decode::Opened;
use super::{Fetch, PhotographError, PhotographProblem};

type Size = (usize, usize);

/// Of the pictures of a line, which are not all of one size, the one whose size is rarer among all pictures than that of the others; `None` where no size
/// is. Pictures that cannot be read do not count.
///
/// Checked by: `photograph::refusals`.
#[must_use]
pub fn odd_picture(line: &[String], all: &[String], fetch: &Fetch<'_>) -> Option<PhotographError> {
    let mut names: Vec<&String> = line.iter().chain(all).collect();
    names.sort_unstable();
    names.dedup();
    let size = |name: &str| -> Option<Size> {
        let bytes = fetch(name).ok()?;
        let header = Opened::new(&bytes).ok()?.header();
        Some((header.width, header.height))
    };
    let sizes: Vec<(&String, Size)> = (names.into_iter())
        .filter_map(|name| Some((name, size(name)?)))
        .collect();
    let count = |size: Size| sizes.iter().filter(|(_, other)| *other == size).count();
    let usual = sizes
        .iter()
        .map(|(_, size)| *size)
        .max_by_key(|size| count(*size))?;
    let of_line = sizes.iter().filter(|(name, _)| line.contains(name));
    let (name, size) = of_line.min_by_key(|(_, size)| count(*size))?;
    (count(*size) < count(usual)).then(|| {
        let (size, first) = (*size, usual);
        PhotographError::of(name, PhotographProblem::OtherSize { size, first })
    })
}
