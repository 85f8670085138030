//! A sheet made over for slides: 16 to 9, its type as large as there is room, a tall one on several slides.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ops::Range;

use super::bare::SlideTheme;
use super::frame::{Frame, around, holds, meet};
use super::parts::{Unit, around_units, cut, follows, noted, units};
use super::{HPos, Item, Keep, Packing, Pen, PlacedPicture, Point, Sheet, Type, VPos, font};

/// Pixels of a slide.
pub(crate) const SLIDE_PIXELS: (u32, u32) = (1920, 1080);
/// Its size in points: 13.33 by 7.5 inches.
pub(crate) const SLIDE: Point = (960.0, 540.0);
/// The least size of type on a slide, and that of the notes at its foot, points (common practice, no source).
pub(crate) const LEAST_TYPE: f64 = 18.0;
pub(crate) const FOOT_TYPE: f64 = 12.0;
/// Sizes of a title on one line and of a longer one.
const TITLE: [f64; 2] = [26.0, 20.0];
/// Between lines, over the size of their type.
const LEADING: f64 = 1.25;
/// Free room around what is drawn.
const EDGE: f64 = 24.0;
/// Titles and subtitles stand above this line of a sheet.
const HEAD: f64 = 70.0;
/// What is drawn higher than this, over the width of the sheet, is cut in two where it can be, ...
const TALL: f64 = 0.62;
/// ... or higher than this where its type would be smaller than that.
const FLAT: f64 = 0.3;
const GOOD_TYPE: f64 = 16.0;
/// The most that type is enlarged, and by how much less it is tried next.
const LARGEST: f64 = 1.6;
const STEP: f64 = 0.05;
/// Between two texts, points.
pub(super) const CLEAR: f64 = 7.0;
/// A sentence of so many characters is a note.
const NOTE: usize = 50;
/// Where type stays too small, what is drawn is made smaller by steps, to make room for it.
const SMALLER: [f64; 5] = [1.0, 0.95, 0.9, 0.85, 0.8];
/// Numbers beside an upright axis grow outward by so many sizes of their type: its title gives way.
const OUTWARD: f64 = 2.0;
/// On slides of running text, between lines over the size of their type, and between paragraphs.
const PAGE_LEADING: f64 = 1.2;
const PARAGRAPH: f64 = 4.0;

impl Sheet {
    pub(super) fn with(&self, size: Point, items: Vec<Item>) -> Self {
        Self {
            title: self.title.clone(),
            size,
            items: items.into(),
            kept: RefCell::default(),
            packing: Packing::Close,
        }
    }

    /// The slides: one, or several where the sheet is tall and can be cut. A sheet of a slide's size was laid out for it, and stays.
    ///
    /// No cut goes through a block of lines. Running text below all that is drawn is on slides of its own, heads and legends of all that is drawn
    /// and notes are on each slide, but for notes of one panel.
    pub(crate) fn slides(&self, theme: SlideTheme) -> Vec<Self> {
        let bare = self.bare(theme);
        if self.size == SLIDE {
            return vec![bare];
        }
        let items = bare.items.into_inner();
        let running = self.running_below(&items);
        let [everywhere, notes] = [Keep::Everywhere, Keep::Note].map(|how| self.kept_so(&how));
        let lines: Vec<Range<usize>> = running.iter().map(|text| text.lines.clone()).collect();
        let kept = [&lines[..], &everywhere, &notes].concat();
        let free =
            (items.iter().enumerate()).filter(|(k, _)| !kept.iter().any(|kept| kept.contains(k)));
        let free: Vec<Item> = free.map(|(_, item)| item.clone()).collect();
        let [repeated, notes] = [everywhere, notes].map(|kept| {
            kept.into_iter()
                .flat_map(|kept| items[kept].to_vec())
                .collect::<Vec<_>>()
        });
        let (head, rest): (Vec<Item>, Vec<Item>) = (free.into_iter())
            .partition(|item| matches!(item, Item::Text(..)) && item.frame()[3] < HEAD);
        let (foot, body): (Vec<Unit>, Vec<Unit>) = (units(rest).into_iter())
            .partition(|unit| unit.iter().all(|item| item.is_foot(self.size)));
        let foot: Vec<Item> = foot.into_iter().flatten().collect();
        let whole = around_units(&body);
        let slide = |(part, notes): (Vec<Unit>, Vec<Item>)| {
            let own = around_units(&part);
            // Heads and legends keep their distance from what is drawn.
            let moved = repeated.iter().map(|item| {
                let above = item.frame()[3] < 0.5 * (whole[1] + whole[3]);
                let by = if above {
                    own[1] - whole[1]
                } else {
                    own[3] - whole[3]
                };
                item.clone().placed(1.0, (0.0, by))
            });
            let part = part.into_iter().flatten().chain(moved).collect();
            self.slide(&head, part, &[notes, foot.clone()].concat())
        };
        let drawn = noted(cut(self.size.0, TALL, body), notes).into_iter();
        let drawn = drawn.flat_map(|(part, notes)| {
            let whole = slide((part.clone(), notes.clone()));
            let size = whole.least_type();
            let cut_again = cut(self.size.0, FLAT, part);
            if size >= GOOD_TYPE || cut_again.len() < 2 {
                return vec![whole];
            }
            let more: Vec<Self> = noted(cut_again, notes).into_iter().map(slide).collect();
            match more.iter().all(|part| part.least_type() > size) {
                true => more,
                false => vec![whole],
            }
        });
        drawn
            .chain(self.pages(&head, (&items, &running), &foot))
            .collect()
    }

    /// Where the bare items are that are kept in a way: the white of the whole sheet is not among them.
    fn kept_so(&self, how: &Keep) -> Vec<Range<usize>> {
        let kept = self.kept.borrow();
        let so = kept.iter().filter(|kept| kept.how == *how);
        so.map(|kept| kept.items.start - 1..kept.items.end - 1)
            .collect()
    }

    /// Of the bare items, the running text below all else.
    fn running_below(&self, items: &[Item]) -> Vec<Running> {
        let kept = self.kept.borrow();
        let running = kept.iter().filter_map(|kept| match &kept.how {
            Keep::Running(words) if !kept.items.is_empty() => Some(Running {
                words: words.clone(),
                lines: kept.items.start - 1..kept.items.end - 1,
            }),
            _ => None,
        });
        let running: Vec<Running> = running.collect();
        let is_text = |k: usize| running.iter().any(|text| text.lines.contains(&k));
        let drawn = (items.iter().enumerate())
            .filter(|(k, item)| !is_text(*k) && !item.is_at_edge(self.size))
            .fold(0.0, |low, (_, item)| f64::max(low, item.frame()[3]));
        let below = running
            .iter()
            .filter(|text| around(&items[text.lines.clone()])[1] >= drawn);
        below.cloned().collect()
    }

    /// Running text on slides of its own, whole paragraphs on each.
    fn pages(
        &self,
        head: &[Item],
        (items, running): (&[Item], &[Running]),
        foot: &[Item],
    ) -> Vec<Self> {
        let mut pages = Vec::<(Self, f64, f64)>::new();
        let room = SLIDE.0 - 2.0 * EDGE;
        for text in running {
            let Some(Item::Text(_, _, set)) = items.get(text.lines.start) else {
                continue;
            };
            let set = Type {
                size: LEAST_TYPE,
                bold: false,
                h: HPos::Left,
                v: VPos::Top,
                ..*set
            };
            let leading = PAGE_LEADING * LEAST_TYPE;
            let high = leading * self.wrapped(&text.words, room, set).len() as f64;
            if pages.last().is_none_or(|(_, y, bottom)| y + high > *bottom) {
                let (page, top, bottom) = self.headed(head, foot);
                pages.push((page, top + 2.0 * CLEAR, bottom));
            }
            if let Some((page, y, _)) = pages.last_mut() {
                *y = page.paragraph(&text.words, (EDGE, *y), (leading, room), set) + PARAGRAPH;
            }
        }
        pages.into_iter().map(|page| page.0).collect()
    }

    /// The smallest type above the notes.
    fn least_type(&self) -> f64 {
        let items = self.items.borrow();
        let sizes = texts(&items).map(|(_, set)| set.size);
        (sizes.filter(|size| *size > FOOT_TYPE)).fold(LEAST_TYPE, f64::min)
    }

    /// A slide with its head and its foot, and the heights between which it is free.
    fn headed(&self, head: &[Item], foot: &[Item]) -> (Self, f64, f64) {
        let (slide, room) = (self.with(SLIDE, Vec::new()), SLIDE.0 - 2.0 * EDGE);
        let mut top = 0.5 * EDGE;
        for (bold, sizes) in [(true, TITLE), (false, [LEAST_TYPE; 2])] {
            let words: Vec<(&str, Type)> =
                texts(head).filter(|(_, set)| set.bold == bold).collect();
            let Some((_, set)) = words.first() else {
                continue;
            };
            let text = words.iter().map(|words| words.0).collect::<Vec<_>>();
            let (text, set) = (text.join(" "), set.anchored(HPos::Left));
            let long = font::width(&text, set.sized(sizes[0])) > room;
            let set = set.sized(sizes[usize::from(long)]);
            top = slide.paragraph(&text, (EDGE, top), (LEADING * set.size, room), set);
        }
        let line = LEADING * FOOT_TYPE;
        let as_note = |set: Type| Type {
            v: VPos::Center,
            ..set.sized(FOOT_TYPE).anchored(HPos::Left)
        };
        let notes: Vec<(String, Type)> = texts(foot)
            .map(|(text, set)| (text, as_note(set)))
            .flat_map(|(text, set)| {
                let lines = slide.wrapped(text, room, set);
                lines.into_iter().map(move |line| (line, set))
            })
            .collect();
        let bottom = SLIDE.1 - 0.4 * EDGE - line * notes.len() as f64;
        for (k, (text, set)) in notes.iter().enumerate() {
            slide.text(text, (EDGE, bottom + line * (k as f64 + 0.5)), *set);
        }
        (slide, top, bottom)
    }

    /// What is drawn, as large as a slide holds it, its type enlarged, between the head and the foot.
    fn slide(&self, head: &[Item], body: Vec<Item>, foot: &[Item]) -> Self {
        let (slide, top, bottom) = self.headed(head, foot);
        let room = SLIDE.0 - 2.0 * EDGE;
        let [left, upper, right, lower] = around(&body);
        let (wide, high) = ((right - left).max(1.0), (lower - upper).max(1.0));
        let zone = bottom - top - 2.0 * CLEAR;
        let scale = (room / wide).min(zone / high);
        let limits = [6.0, top + 1.0, SLIDE.0 - 6.0, bottom - 1.0];
        let mut best: Option<(f64, Vec<Item>)> = None;
        for part in SMALLER {
            let scale = part * scale;
            let by = (
                0.5 * (SLIDE.0 - scale * (left + right)),
                0.5 * (top + bottom - scale * (upper + lower)),
            );
            let placed = body.iter().map(|item| item.clone().placed(scale, by));
            let body = enlarged(thinned(placed.collect()), limits);
            let sizes = texts(&body).map(|(_, set)| set.size);
            let least = sizes.fold(LEAST_TYPE, f64::min);
            if best.as_ref().is_none_or(|(best, _)| least > *best) {
                best = Some((least, body));
            }
        }
        {
            // The notes at the foot come last, as on the sheet.
            let mut items = slide.items.borrow_mut();
            let at = items.len() - slide_notes(&items, bottom);
            let body = best.into_iter().flat_map(|best| best.1);
            items.splice(at..at, body);
        }
        slide
    }
}

/// The texts among items, and how they are set.
fn texts(items: &[Item]) -> impl Iterator<Item = (&str, Type)> {
    items.iter().filter_map(|item| match item {
        Item::Text(text, _, set) => Some((&**text, *set)),
        _ => None,
    })
}

/// A running text and where its lines are.
#[derive(Debug, Clone)]
struct Running {
    words: String,
    lines: Range<usize>,
}

/// How many of the last items are notes at the foot of a slide.
fn slide_notes(items: &[Item], bottom: f64) -> usize {
    let notes = items.iter().rev();
    notes.take_while(|item| item.frame()[1] >= bottom).count()
}

/// Without every second number of an axis, or more of them, where they have no room for the least type.
fn thinned(mut items: Vec<Item>) -> Vec<Item> {
    let number = |item: &Item| match item {
        Item::Text(text, (_, y), set) if !set.upward && set.size < LEAST_TYPE => {
            let value: f64 = text.replace('−', "-").parse().ok()?;
            let frame = item.scaled_text(LEAST_TYPE / set.size).frame();
            Some(((100.0 * y).round() as i64, value, frame))
        }
        _ => None,
    };
    loop {
        let mut rows = BTreeMap::<i64, Vec<(usize, f64, Frame)>>::new();
        for (k, item) in items.iter().enumerate() {
            if let Some((y, value, frame)) = number(item) {
                rows.entry(y).or_default().push((k, value, frame));
            }
        }
        let drop = rows.into_values().find_map(|row| {
            // Numbers of an axis rise by even steps.
            let step = row.get(1)?.1 - row[0].1;
            let even = |pair: &[(usize, f64, Frame)]| {
                (pair[1].1 - pair[0].1 - step).abs() < 1e-6 * step.abs()
            };
            let meets = |pair: &[(usize, f64, Frame)]| pair[1].2[0] < pair[0].2[2] + CLEAR;
            let crowded = row.len() > 3 && row.windows(2).all(even) && row.windows(2).any(meets);
            let zero = row.iter().position(|number| number.1 == 0.0).unwrap_or(0);
            let dropped = row.iter().enumerate().filter(|(k, _)| k % 2 != zero % 2);
            crowded.then(|| dropped.map(|(_, number)| number.0).collect::<Vec<_>>())
        });
        let Some(drop) = drop else { return items };
        let mut k = 0..;
        items.retain(|_| k.next().is_none_or(|k| !drop.contains(&k)));
    }
}

/// Texts as large as they can be within a room, all of one size and weight alike, none over another or over what it was clear of.
fn enlarged(items: Vec<Item>, room: Frame) -> Vec<Item> {
    let obstacles: Vec<Frame> = (items.iter())
        .filter(|item| {
            // Curves are wide of what they need; a straight line is an axis, a mark or a sample in a legend.
            matches!(
                item,
                Item::Fill(..) | Item::Dot(..) | Item::Polygon(..) | Item::Picture(_)
            ) || matches!(item, Item::Line(points, _) if points.len() == 2)
        })
        .map(|item| {
            let [left, top, right, bottom] = item.frame();
            [left - 0.5, top - 0.5, right + 0.5, bottom + 0.5]
        })
        .collect();
    let texts: Vec<&Item> = (items.iter())
        .filter(|item| matches!(item, Item::Text(..)))
        .collect();
    let kind = |item: &Item| match item {
        Item::Text(_, _, set) => ((100.0 * set.size) as i64, set.bold),
        _ => (0, false),
    };
    let mut kinds: Vec<(i64, bool)> = texts.iter().map(|text| kind(text)).collect();
    kinds.sort_unstable();
    kinds.dedup();
    let of: Vec<usize> = (texts.iter())
        .map(|text| kinds.binary_search(&kind(text)).unwrap_or(0))
        .collect();
    let [left, _, right, _] = around(&items);
    let middle = 0.5 * (left + right);
    let centres = block_centres(&texts);
    let plain: Vec<Frame> = texts.iter().map(|text| text.frame()).collect();
    let mut factors: Vec<f64> = (kinds.iter())
        .map(|(size, _)| LARGEST.max(1.1 * LEAST_TYPE / (0.01 * *size as f64)))
        .collect();
    loop {
        let large: Vec<Frame> = (texts.iter().zip(&of).zip(&centres))
            .map(|((text, kind), centre)| text.grown(factors[*kind], (middle, *centre)).frame())
            .collect();
        let mut smaller = vec![false; kinds.len()];
        for (k, frame) in large.iter().enumerate() {
            let spoilt = obstacles.iter().any(|other| {
                let (touched, touches) = (meet(*other, plain[k]), meet(*other, *frame));
                !touched && touches || holds(*other, plain[k]) && !holds(*other, *frame)
            });
            smaller[of[k]] |= spoilt || !holds(room, *frame);
            for other in k + 1..large.len() {
                let clear = [frame[0] - CLEAR, frame[1], frame[2] + CLEAR, frame[3]];
                if meet(clear, large[other]) && !meet(plain[k], plain[other]) {
                    // The one that has grown more gives way.
                    let (a, b) = (of[k], of[other]);
                    smaller[a] |= factors[a] >= factors[b];
                    smaller[b] |= factors[b] >= factors[a];
                }
            }
        }
        let mut changed = false;
        for (factor, smaller) in factors.iter_mut().zip(smaller) {
            if smaller && *factor > 1.0 {
                *factor = (*factor - STEP).max(1.0);
                changed = true;
            }
        }
        if !changed {
            break;
        }
    }
    let mut place = of.iter().zip(&centres);
    (items.iter())
        .map(|item| match item {
            Item::Text(..) => place.next().map_or_else(
                || item.clone(),
                |(kind, centre)| item.grown(factors[*kind], (middle, *centre)),
            ),
            _ => item.clone(),
        })
        .collect()
}

/// The height of the middle of the block of lines that each text is a line of: lines of a block keep their distance over the size of their type.
fn block_centres(texts: &[&Item]) -> Vec<f64> {
    let mut centres: Vec<f64> = Vec::new();
    for run in texts.chunk_by(|a, b| follows(a, b)) {
        let heights = run.iter().map(|item| match item {
            Item::Text(_, (_, y), _) => *y,
            _ => 0.0,
        });
        let middle = heights.sum::<f64>() / run.len() as f64;
        centres.extend(vec![middle; run.len()]);
    }
    centres
}

impl Item {
    /// Whether it is a text at the lower edge of a sheet, or a note in a whole sentence.
    fn is_foot(&self, size: Point) -> bool {
        let is_note = |text: &str| text.ends_with('.') && text.len() > NOTE;
        self.is_at_edge(size) || matches!(self, Self::Text(text, ..) if is_note(text))
    }

    /// Whether it is a text at the lower edge of a sheet, which is on each slide.
    fn is_at_edge(&self, size: Point) -> bool {
        matches!(self, Self::Text(..)) && self.frame()[1] > size.1 - 32.0
    }

    /// A text set larger about the middle of its block of lines; an upright one moves away from the middle of the slide.
    fn grown(&self, factor: f64, (middle, block): Point) -> Self {
        let large = self.scaled_text(factor);
        match large {
            Self::Text(text, (x, y), set) if !set.upward => {
                let Self::Text(_, (_, plain), _) = self else {
                    return Self::Text(text, (x, y), set);
                };
                Self::Text(text, (x, y + (factor - 1.0) * (plain - block)), set)
            }
            Self::Text(text, (x, y), set) if set.upward => {
                let by = OUTWARD * (1.0 - 1.0 / factor) * set.size;
                let x = if x < middle { x - by } else { x + by };
                Self::Text(text, (x, y), set)
            }
            other => other,
        }
    }

    /// The same larger or smaller by a factor, and then elsewhere.
    fn placed(self, scale: f64, (x, y): Point) -> Self {
        let to = |point: Point| (scale * point.0 + x, scale * point.1 + y);
        let all = |points: Vec<Point>| points.into_iter().map(to).collect();
        let large = |(width, height): Point| (scale * width, scale * height);
        let drawn = |pen: Pen| Pen {
            width: scale * pen.width,
            ..pen
        };
        match self {
            Self::Line(points, pen) => Self::Line(all(points), drawn(pen)),
            Self::Polygon(points, color) => Self::Polygon(all(points), color),
            Self::Circle(centre, radius, pen) => {
                Self::Circle(to(centre), scale * radius, drawn(pen))
            }
            Self::Dot(centre, radius, color) => Self::Dot(to(centre), scale * radius, color),
            Self::Fill(corner, size, color) => Self::Fill(to(corner), large(size), color),
            Self::Text(text, foot, set) => Self::Text(text, to(foot), set.sized(scale * set.size)),
            Self::Picture(picture) => Self::Picture(PlacedPicture {
                corner: to(picture.corner),
                size: large(picture.size),
                ..picture
            }),
        }
    }

    /// A text set larger about its point; anything else as it is.
    fn scaled_text(&self, factor: f64) -> Self {
        match self {
            Self::Text(text, (x, y), set) => {
                let (across, down) = set.to_foot(text);
                let grown = factor - 1.0;
                let foot = (x + grown * across, y + grown * down);
                Self::Text(text.clone(), foot, set.sized(factor * set.size))
            }
            other => other.clone(),
        }
    }
}

/// Checks slides of a figure: no text is cut, covered by what is drawn later or over another, and none is smaller than `least`, or than
/// [`FOOT_TYPE`] at the foot.
#[cfg(test)]
pub(crate) fn slides_can_be_read(figure: &str, slides: &[Sheet], least: f64) {
    for slide in slides {
        assert_eq!(slide.size, SLIDE, "{figure}");
        let items = slide.items.borrow();
        assert!(texts(&items).count() > 8, "{figure}");
        for (k, item) in items.iter().enumerate() {
            let Item::Text(text, _, set) = item else {
                continue;
            };
            let frame = item.frame();
            let inside = holds([4.0, 4.0, SLIDE.0 - 4.0, SLIDE.1 - 4.0], frame);
            assert!(inside, "{figure}: `{text}` at {frame:?}");
            let foot = if frame[1] > 0.78 * SLIDE.1 {
                FOOT_TYPE
            } else {
                least
            };
            let at_foot = text.len() > NOTE || set.color == SOFT_INK;
            let least = if at_foot { foot } else { least };
            assert!(
                set.size >= least - 1e-6,
                "{figure}: `{text}` of {}",
                set.size
            );
            for over in &items[k + 1..] {
                let hides = matches!(over, Item::Text(..) | Item::Fill(..) | Item::Picture(_));
                assert!(
                    !(hides && meet(frame, over.frame())),
                    "{figure}: `{text}` under {over:?}"
                );
            }
        }
    }
}

#[cfg(test)]
use crate::output::figure::look::SOFT_INK;

#[cfg(test)]
mod tests;
