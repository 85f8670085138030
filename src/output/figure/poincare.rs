//! The Poincare sphere, seen from afar.

use std::f64::consts::{FRAC_PI_2, TAU};

use super::look::*;

pub(super) const RADIUS: f64 = 132.0;
/// How far the axes reach, in radii, and their names.
const TIP: f64 = 1.1;
/// States closer than this are one mark.
const TOGETHER: f64 = 7.0;

/// The axes with the names of their ends.
const ENDS: [(usize, f64, &str); 6] = [
    (0, 1.0, "S1, 0°"),
    (0, -1.0, "90°"),
    (1, 1.0, "S2, 45°"),
    (1, -1.0, "135°"),
    (2, 1.0, "S3, right"),
    (2, -1.0, "left"),
];
const NET: Color = Color(0xcd, 0xcd, 0xd4);
/// The net's part behind the sphere.
const FAR_NET: Pen = Pen::dashed(NET, 0.8, &[1.5, 4.0]);
const BEHIND: &[f64] = &[5.0, 4.0];

/// A place in the space of `(S1, S2, S3)/S0`.
pub(super) type SpherePoint = [f64; 3];

/// A way from one state to the next, and whether these are the states in between, or only a line drawn straight.
pub(super) type Way = (Vec<SpherePoint>, bool);

/// A direction to look from, parallel light.
pub(super) struct SphereView {
    centre: Point,
    /// To the right, up, and toward the reader.
    frame: [SpherePoint; 3],
}

impl SphereView {
    /// Seen from a longitude (twice an azimuth) and latitude, degrees.
    pub(super) fn from(centre: Point, longitude_deg: f64, latitude_deg: f64) -> Self {
        let (sin, cos) = longitude_deg.to_radians().sin_cos();
        let (high, flat) = latitude_deg.to_radians().sin_cos();
        Self {
            centre,
            frame: [
                [-sin, cos, 0.0],
                [-high * cos, -high * sin, flat],
                [flat * cos, flat * sin, high],
            ],
        }
    }

    fn along(&self, axis: usize, place: SpherePoint) -> f64 {
        let products = self.frame[axis].iter().zip(place).map(|(a, b)| a * b);
        products.sum()
    }

    /// Where something stands that is so many radii to the right of the centre and up.
    fn off_centre(&self, right: f64, up: f64) -> Point {
        let (x, y) = self.centre;
        (x + RADIUS * right, y - RADIUS * up)
    }

    fn at(&self, place: SpherePoint) -> Point {
        self.off_centre(self.along(0, place), self.along(1, place))
    }

    fn in_front(&self, place: SpherePoint) -> bool {
        self.along(2, place) >= -1e-9
    }

    /// A line, with one pen in the half before the centre and another behind it.
    fn line(&self, sheet: &Sheet, places: &[SpherePoint], front: Pen, back: Pen) {
        let mut rest = places;
        while rest.len() > 1 {
            let near = self.in_front(middle(rest[0], rest[1]));
            let same = (rest.windows(2))
                .take_while(|pair| self.in_front(middle(pair[0], pair[1])) == near)
                .count();
            let piece: Vec<Point> = rest[..=same].iter().map(|place| self.at(*place)).collect();
            sheet.line(&piece, if near { front } else { back });
            rest = &rest[same..];
        }
    }

    /// Net, rim and axes; gives back the room that the axes' ends take.
    fn sphere(&self, sheet: &Sheet) -> Vec<Room> {
        let front = Pen::full(NET, 0.8);
        let circle = |place: &dyn Fn(f64) -> SpherePoint| {
            let places = (0..=120).map(|k| place(TAU * f64::from(k) / 120.0));
            self.line(sheet, &places.collect::<Vec<_>>(), front, FAR_NET);
        };
        let every = |k: i32| (f64::from(k) * 30f64.to_radians()).sin_cos();
        for (z, r) in (-2..=2).map(every) {
            circle(&|t| [r * t.cos(), r * t.sin(), z]);
        }
        for (y, x) in (0..6).map(every) {
            circle(&|t| [x * t.cos(), y * t.cos(), t.sin()]);
        }
        sheet.circle(self.centre, RADIUS, Pen::full(FRAME, 1.4));
        let ends = ENDS.into_iter();
        ends.flat_map(|(axis, sign, name)| self.axis(sheet, axis, sign, name))
            .collect()
    }

    /// An end of an axis with its name, and the room that both take; none where it points at the reader or away.
    fn axis(&self, sheet: &Sheet, axis: usize, sign: f64, name: &str) -> Vec<Room> {
        let mut end = [0.0; 3];
        end[axis] = sign;
        let (right, up) = (self.along(0, end), self.along(1, end));
        let length = right.hypot(up);
        if length < 0.1 {
            return Vec::new();
        }
        let out = |r: f64| self.off_centre(r * right / length, r * up / length);
        let from = if self.in_front(end) { length } else { 1.0 };
        sheet.line(&[out(from), out(TIP)], Pen::full(FRAME, 1.2));
        let upright = right.abs() < 0.2 * length;
        let set = SOFT.sized(13.0);
        let (mut at, width) = (out(TIP + 0.03), sheet.width(name, set));
        if upright {
            at.1 -= 7.0 * up.signum();
        }
        let (h, left) = match (upright, right > 0.0) {
            (true, _) => (HPos::Center, at.0 - 0.5 * width),
            (false, true) => (HPos::Left, at.0),
            (false, false) => (HPos::Right, at.0 - width),
        };
        sheet.text(name, at, set.anchored(h));
        let stub = (0..=6).map(|k| {
            let r = from + (TIP - from) * f64::from(k) / 6.0;
            Room::around(out(r), 5.0, 5.0)
        });
        let name = Room::around((left + 0.5 * width, at.1), width, 18.0);
        stub.chain([name]).collect()
    }
}

fn middle(a: SpherePoint, b: SpherePoint) -> SpherePoint {
    [0, 1, 2].map(|k| 0.5 * (a[k] + b[k]))
}

/// Room that something takes.
#[derive(Clone, Copy)]
struct Room {
    from: Point,
    to: Point,
}

impl Room {
    fn around(centre: Point, width: f64, height: f64) -> Self {
        let (w, h) = (0.5 * width, 0.5 * height);
        Self {
            from: (centre.0 - w, centre.1 - h),
            to: (centre.0 + w, centre.1 + h),
        }
    }

    fn meets(&self, other: &Self) -> bool {
        self.from.0 < other.to.0
            && other.from.0 < self.to.0
            && self.from.1 < other.to.1
            && other.from.1 < self.to.1
    }
}

/// Draws the sphere with ways and numbered states.
pub(super) fn draw(
    sheet: &Sheet,
    view: &SphereView,
    states: &[(usize, SpherePoint)],
    ways: &[Way],
) {
    let mut taken = view.sphere(sheet);
    for (points, known) in ways {
        let width = if *known { 2.4 } else { 1.3 };
        let (front, back) = (Pen::full(INK, width), Pen::dashed(INK, width, BEHIND));
        view.line(sheet, points, front, back);
        let seen = points.iter().map(|place| view.at(*place));
        taken.extend(seen.map(|at| Room::around(at, 3.0, 3.0)));
    }
    let marks = marks(view, states);
    for mark in &marks {
        sheet.dot(mark.at, 4.2, INK);
        if !mark.in_front {
            sheet.dot(mark.at, 2.8, Color::WHITE);
        }
        taken.push(Room::around(mark.at, 10.0, 10.0));
    }
    for mark in &marks {
        let words = numbers(&mark.members, states);
        taken.push(number(sheet, view, mark, &words, &taken));
    }
}

/// States that are seen at one point, by their places in the list.
struct StateMark {
    at: Point,
    in_front: bool,
    members: Vec<usize>,
}

fn marks(view: &SphereView, states: &[(usize, SpherePoint)]) -> Vec<StateMark> {
    let mut marks: Vec<StateMark> = Vec::new();
    for (index, (_, place)) in states.iter().enumerate() {
        let at = view.at(*place);
        let near = |mark: &&mut StateMark| (mark.at.0 - at.0).hypot(mark.at.1 - at.1) < TOGETHER;
        match marks.iter_mut().find(near) {
            Some(mark) => mark.members.push(index),
            None => marks.push(StateMark {
                at,
                in_front: view.in_front(*place),
                members: vec![index],
            }),
        }
    }
    marks
}

/// "1", "1, 2", "1–4, 6": states that follow each other in the list are a range.
fn numbers(members: &[usize], states: &[(usize, SpherePoint)]) -> String {
    let runs = members.chunk_by(|a, b| a + 1 == *b);
    let words = runs.map(|run| {
        let [first, last] = [run[0], run[run.len() - 1]].map(|index| states[index].0);
        match run.len() {
            1 => first.to_string(),
            2 => format!("{first}, {last}"),
            _ => format!("{first}–{last}"),
        }
    });
    words.collect::<Vec<_>>().join(", ")
}

/// Writes a mark's numbers beside it where there is room, away from the sphere's centre if it can be.
fn number(sheet: &Sheet, view: &SphereView, mark: &StateMark, words: &str, taken: &[Room]) -> Room {
    let set = BODY.sized(14.0).bold().centred();
    let width = sheet.width(words, set);
    let (x, y) = (mark.at.0 - view.centre.0, mark.at.1 - view.centre.1);
    let outward = match x.hypot(y) < 1.0 {
        true => -0.25 * FRAC_PI_2,
        false => y.atan2(x),
    };
    let place = |further: f64, turn: f64| {
        let (sin, cos) = (outward + turn * 0.5 * FRAC_PI_2).sin_cos();
        let reach = 9.0 + further + 0.5 * width * cos.abs() + 6.0 * sin.abs();
        (mark.at.0 + reach * cos, mark.at.1 + reach * sin)
    };
    let room = |centre: Point| Room::around(centre, width + 2.0, 18.0);
    let free = |(_, centre): &(f64, Point)| !taken.iter().any(|other| room(*centre).meets(other));
    let turns = [0.0, 1.0, -1.0, 2.0, -2.0, 3.0, -3.0, 4.0];
    let found = [0.0, 8.0, 18.0, 30.0, 44.0]
        .into_iter()
        .find_map(|further| {
            let mut places = turns
                .into_iter()
                .map(|turn| (further, place(further, turn)));
            places.find(free)
        });
    let (further, centre) = found.unwrap_or_else(|| (0.0, place(0.0, 0.0)));
    if further > 10.0 {
        sheet.line(&[mark.at, centre], Pen::full(FRAME, 0.8));
    }
    sheet.text(words, centre, set);
    room(centre)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn from_above_s1_points_right_and_s2_up() {
        let view = SphereView::from((0.0, 0.0), -90.0, 90.0);
        let close = |(x, y): Point, expected: Point| {
            assert!((x - expected.0).hypot(y - expected.1) < 1e-9, "{x} {y}");
        };
        close(view.at([1.0, 0.0, 0.0]), (RADIUS, 0.0));
        close(view.at([0.0, 1.0, 0.0]), (0.0, -RADIUS));
        assert!(view.in_front([0.0, 0.0, 1.0]) && !view.in_front([0.0, 0.0, -1.0]));
    }

    #[test]
    fn s1_and_s2_face_a_reader_between_them_and_right_is_up() {
        let view = SphereView::from((0.0, 0.0), 40.0, 20.0);
        for axis in 0..3 {
            let mut end = [0.0; 3];
            end[axis] = 1.0;
            assert!(view.in_front(end));
            end[axis] = -1.0;
            assert!(!view.in_front(end));
        }
        assert!(view.at([1.0, 0.0, 0.0]).0 < 0.0 && view.at([0.0, 1.0, 0.0]).0 > 0.0);
        assert!(view.at([0.0, 0.0, 1.0]).1 < 0.0);
    }

    #[test]
    fn states_at_one_point_share_a_mark() {
        let states: Vec<_> = [0, 1, 2, 4, 5, 6]
            .map(|n| (n, if n == 5 { [1.0, 0.0, 0.0] } else { [0.0; 3] }))
            .to_vec();
        let marks = marks(&SphereView::from((0.0, 0.0), 40.0, 20.0), &states);
        let words = marks.iter().map(|mark| numbers(&mark.members, &states));
        assert_eq!(words.collect::<Vec<_>>(), ["0–4, 6", "5"]);
    }
}
