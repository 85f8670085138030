//! The rectangles that items fill.

use super::{Item, PlacedPicture, Point, font};

/// A rectangle: left, top, right, bottom.
pub(super) type Frame = [f64; 4];

pub(super) fn meet(a: Frame, b: Frame) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

pub(super) fn holds(outer: Frame, inner: Frame) -> bool {
    outer[0] <= inner[0] && outer[1] <= inner[1] && outer[2] >= inner[2] && outer[3] >= inner[3]
}

/// The frame around all items.
pub(super) fn around(items: &[Item]) -> Frame {
    match items.is_empty() {
        true => [0.0, 0.0, 1.0, 1.0],
        false => items.iter().map(Item::frame).fold(NOWHERE, both),
    }
}

/// The frame around nothing yet, and that around two.
const NOWHERE: Frame = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];

fn both([left, top, right, bottom]: Frame, other: Frame) -> Frame {
    [
        left.min(other[0]),
        top.min(other[1]),
        right.max(other[2]),
        bottom.max(other[3]),
    ]
}

impl Item {
    /// The rectangle that it fills.
    pub(super) fn frame(&self) -> Frame {
        let of = |points: &[Point]| {
            let points = points.iter().map(|&(x, y)| [x, y, x, y]);
            points.fold(NOWHERE, both)
        };
        let round = |(x, y): Point, r: f64| [x - r, y - r, x + r, y + r];
        match self {
            Self::Line(points, _) | Self::Polygon(points, _) => of(points),
            Self::Circle(centre, radius, _) | Self::Dot(centre, radius, _) => {
                round(*centre, *radius)
            }
            Self::Fill(corner, size, _) | Self::Picture(PlacedPicture { corner, size, .. }) => {
                [corner.0, corner.1, corner.0 + size.0, corner.1 + size.1]
            }
            Self::Text(text, (x, y), set) => {
                let (width, up, under) =
                    (font::width(text, *set), 0.76 * set.size, 0.22 * set.size);
                match set.upward {
                    true => [x - up, y - width, x + under, *y],
                    false => [*x, y - up, x + width, y + under],
                }
            }
        }
    }
}
