//! Lessons as a booklet to print: A4 upright, a lesson on a page with what was computed for it, the answers at the end.

use super::axes::{AxesPanel, AxisScale, IN_BOOKLET};
use super::look::*;
use super::numbers::plain;
use super::print::{Paper, PaperSize};
use super::scale_bar::decade_axis;
use crate::color::Xyz;
use crate::output::CAUTION;
use crate::output::disc::{Exposure, LightScale, Sampler, encoded, ramp};
use crate::output::lesson::{LessonRead, found};
use crate::output::sheet::{VPos, pdf_of_pages};
use crate::study::lesson::{LessonAnswer, LessonLook};

/// Room at the sides, and where a page begins and ends.
const SIDE: f64 = 54.0;
const HEAD: f64 = 62.0;
const FOOT: f64 = 60.0;
/// Types.
const TEXT: Type = Type {
    v: VPos::Top,
    ..BODY.sized(10.5)
};
const HEADING: Type = TEXT.sized(17.0).bold();
const LABEL: Type = TEXT.bold();
const CELL: Type = Type {
    v: VPos::Top,
    ..BODY.sized(9.0)
};
/// On the page of a lesson everything is larger than among the answers.
const STEP: Type = TEXT.sized(11.5);
const FIRST: Type = TEXT.sized(12.5);
const QUESTION: Type = TEXT.sized(14.0).bold();
/// Between lines, over the size of the type, and between paragraphs.
const LEADING: f64 = 1.4;
const PARAGRAPH: f64 = 8.0;
/// Pictures of tries: how many stand side by side at most, how high they are at least and at most, and the gap between them.
const ABREAST: usize = 5;
const SMALLEST: f64 = 70.0;
const LARGEST: f64 = 215.0;
const GAP: f64 = 9.0;
/// Between the lines to write on, and how many there are at least: below fields, and below discs, which need the room.
const RULED: f64 = 25.0;
const LEAST_RULED: (f64, f64) = (5.0, 3.0);
/// The key of false colours: its width and height, and the room for it.
const KEY: Point = (300.0, 10.0);
const KEY_ROOM: f64 = 38.0;
/// Pixels across a disc.
const PIXELS: u32 = 480;

/// Pages that are filled from the top to the bottom.
struct Pages {
    all: Vec<Sheet>,
    y: f64,
    title: String,
}

impl Pages {
    fn new(title: &str) -> Self {
        let mut pages = Self {
            all: Vec::new(),
            y: HEAD,
            title: title.to_owned(),
        };
        pages.turn();
        pages
    }

    /// A new page.
    fn turn(&mut self) {
        let (size, dpi) = (PaperSize::A4, 72);
        let sheet = Sheet::new(&self.title, Paper { size, dpi }.points(false));
        let (width, height) = sheet.size;
        let number = (self.all.len() + 1).to_string();
        let small = SOFT.sized(7.0);
        let room = width - 2.0 * SIDE - 40.0;
        for (k, line) in sheet.wrapped(CAUTION, room, small).iter().enumerate() {
            sheet.fitted(line, (SIDE, height - 38.0 + 9.0 * k as f64), room, small);
        }
        sheet.text(
            &number,
            (width - SIDE, height - 34.0),
            SOFT.sized(9.0).right(),
        );
        self.all.push(sheet);
        self.y = HEAD;
    }

    fn sheet(&self) -> &Sheet {
        // There is a page from the beginning.
        &self.all[self.all.len() - 1]
    }

    fn room(&self) -> f64 {
        self.sheet().size.0 - 2.0 * SIDE
    }

    /// Where the page ends.
    fn bottom(&self) -> f64 {
        self.sheet().size.1 - FOOT
    }

    /// Goes on to a new page where so much has no room on this one.
    fn need(&mut self, height: f64) {
        if self.y > HEAD && self.y + height > self.bottom() {
            self.turn();
        }
    }

    /// A paragraph after a word at the left that is set apart from it.
    fn paragraph(&mut self, label: &str, words: &str, set: Type) {
        let label_set = set.bold();
        let indent = match label.is_empty() {
            true => 0.0,
            false => self.sheet().width(label, label_set) + 7.0,
        };
        let lines = self.sheet().wrapped(words, self.room() - indent, set);
        for (k, line) in lines.iter().enumerate() {
            let high = LEADING * set.size;
            self.need(high);
            if k == 0 {
                self.sheet().text(label, (SIDE, self.y), label_set);
            }
            let (at, room) = ((SIDE + indent, self.y), self.room() - indent);
            self.sheet().fitted(line, at, room, set);
            self.y += high;
        }
        self.y += PARAGRAPH;
    }

    fn heading(&mut self, words: &str) {
        self.paragraph("", words, HEADING);
    }
}

/// The booklet as a PDF.
///
/// # Errors
/// [`FigureError::Drawing`].
///
/// Checked by: `tests/cli/lessons.rs`.
pub fn booklet(title: &str, lessons: &[LessonRead]) -> Result<Vec<u8>, FigureError> {
    let mut pages = Pages::new(title);
    pages.paragraph("", title, HEADING.sized(24.0));
    pages.y += PARAGRAPH;
    pages.paragraph("", "Each lesson has a question, what to do, and what to see. Try it at the bench, or in the live page: open polstack.html in a browser and choose the lesson under \"Start from\", or follow its link in links.html. The pictures and numbers here were computed by polstack. The answers stand at the end; leave those pages out for a class.", FIRST);
    pages.y += PARAGRAPH;
    for read in lessons {
        pages.need(3.0 * LEADING * FIRST.size);
        pages.paragraph("", &read.title, FIRST.bold());
        pages.y -= PARAGRAPH;
        pages.paragraph("", &read.lesson.question, FIRST);
        pages.y += 0.5 * PARAGRAPH;
    }
    for read in lessons {
        pages.turn();
        page(&mut pages, read);
    }
    pages.turn();
    pages.heading("Answers");
    for read in lessons {
        // Together with its table it stands on one page, where that has room; a row of the table mostly has two lines.
        let lines = pages
            .sheet()
            .wrapped(&read.lesson.answer, pages.room(), TEXT)
            .len()
            + 1;
        let rows = read.tries.len() + 1;
        pages.need(LEADING * TEXT.size * lines as f64 + 3.0 * CELL.size * rows as f64);
        pages.paragraph("", &read.title, LABEL);
        pages.y -= PARAGRAPH;
        pages.paragraph("", &read.lesson.answer, TEXT);
        values(&mut pages, read);
    }
    pdf_of_pages(title, &pages.all).map_err(undrawn("booklet"))
}

/// A lesson but for its answer.
fn page(pages: &mut Pages, read: &LessonRead) {
    pages.heading(&read.title);
    pages.paragraph("", &read.lesson.question, QUESTION);
    for (k, step) in read.lesson.steps.iter().enumerate() {
        pages.paragraph(&format!("{}.", k + 1), step, STEP);
    }
    pages.paragraph("See:", &read.lesson.see, STEP);
    pictures(pages, read);
    pages.paragraph("", "What I saw:", STEP.bold());
    loop {
        let (y, right) = (pages.y + 0.7 * RULED, SIDE + pages.room());
        pages
            .sheet()
            .line(&[(SIDE, y), (right, y)], Pen::full(GRID, 0.8));
        pages.y += RULED;
        if pages.y + 0.7 * RULED > pages.bottom() {
            return;
        }
    }
}

/// How the pictures of a lesson are drawn: all of them alike, so that they may be compared.
enum Drawn {
    /// Fields, exposed up by so many stops.
    Fields(f64),
    /// Back focal planes in true colour, exposed up by so many stops.
    Colors(f64),
    /// Back focal planes in false colours.
    Scale(LightScale),
}

impl Drawn {
    fn of(tries: &[(String, LessonAnswer)]) -> Self {
        let least = |stops: &mut dyn Iterator<Item = f64>| {
            let least = stops.fold(f64::INFINITY, f64::min);
            if least.is_finite() { least } else { 0.0 }
        };
        let planes = || {
            (tries.iter()).filter_map(|(_, answer)| match &answer.look {
                LessonLook::Disc { plane, .. } => Some(plane),
                LessonLook::Field(_) => None,
            })
        };
        match tries.first().map(|(_, answer)| &answer.look) {
            Some(LessonLook::Disc { color: true, .. }) => Self::Colors(least(
                &mut planes().map(|plane| Exposure::of(plane.light.iter(), plane.parallel).stops),
            )),
            Some(LessonLook::Disc { .. }) => Self::Scale(LightScale::of(
                planes().flat_map(|plane| plane.light.iter().map(Xyz::luminance)),
            )),
            _ => {
                let looks = tries.iter().flat_map(|(_, answer)| match &answer.look {
                    LessonLook::Field(looks) => {
                        [Some(&looks.without_plate), looks.with_plate.as_ref()]
                    }
                    LessonLook::Disc { .. } => [None, None],
                });
                Self::Fields(least(&mut looks.flatten().map(|look| look.exposure_stops)))
            }
        }
    }

    /// What is said below the pictures.
    fn words(&self) -> String {
        let brighter = |stops: f64| {
            let times = stops.exp2();
            let times = plain(times, if times < 10.0 { 1 } else { 0 });
            format!("{times} times brighter than beside a white parallel field")
        };
        match self {
            Self::Fields(stops) if *stops > 0.0 => format!(
                "All fields are shown {}, so the darker of two is as much darker as it looks.",
                brighter(*stops)
            ),
            Self::Fields(_) => {
                "All fields are shown as bright as they are beside a white parallel field.".to_owned()
            }
            Self::Colors(stops) if *stops > 0.0 => format!(
                "The back focal planes with the plate in, in true colour, all shown {}.",
                brighter(*stops)
            ),
            Self::Colors(_) => "The back focal planes with the plate in, in true colour, as bright as they are beside a white parallel field.".to_owned(),
            Self::Scale(_) => "The back focal planes in false colours, all on this one scale. Its numbers are the light there over the mean light of the parallel field.".to_owned(),
        }
    }
}

/// The tries side by side: what there is to see, as large as the page has room, and the name under it.
fn pictures(pages: &mut Pages, read: &LessonRead) {
    let drawn = Drawn::of(&read.tries);
    let count = read.tries.len().max(1);
    let said = drawn.words();
    let said_lines = pages.sheet().wrapped(&said, pages.room(), CELL).len() as f64;
    let (key, ruled) = match drawn {
        Drawn::Fields(_) => (0.0, LEAST_RULED.0),
        Drawn::Colors(_) => (0.0, LEAST_RULED.1),
        Drawn::Scale(_) => (KEY_ROOM, LEAST_RULED.1),
    };
    // What stands below the pictures: key and words, then the lines to write on.
    let below = key
        + LEADING * CELL.size * said_lines
        + LEADING * STEP.size
        + 2.0 * PARAGRAPH
        + ruled * RULED;
    let free = pages.bottom() - pages.y - below;
    let names = |wide: f64| {
        let lines = (read.tries.iter())
            .map(|(name, _)| pages.sheet().wrapped(name, wide, CELL).len())
            .max();
        lines.unwrap_or(0) as f64 * 1.25 * CELL.size
    };
    // With so many side by side: their width and height, and the height of a row with its names.
    let sized = |abreast: usize| {
        let wide = (pages.room() + GAP) / abreast as f64 - GAP;
        let rows = count.div_ceil(abreast) as f64;
        let around = 6.0 + names(wide) + PARAGRAPH;
        let high = (free / rows - around).clamp(SMALLEST, LARGEST);
        match drawn {
            Drawn::Fields(_) => (wide, high, high + around),
            _ => (wide.min(high), wide.min(high), wide.min(high) + around),
        }
    };
    // Fields are compared side by side; discs are drawn as large as can be.
    let abreast = match drawn {
        Drawn::Fields(_) => count.min(ABREAST),
        _ => {
            let larger = |a: &usize, b: &usize| sized(*a).1.total_cmp(&sized(*b).1);
            (1..=count.min(ABREAST)).rev().max_by(larger).unwrap_or(1)
        }
    };
    let (wide, high, row_high) = sized(abreast);
    let left = SIDE + 0.5 * (pages.room() + GAP - abreast as f64 * (wide + GAP)).max(0.0);
    for row in read.tries.chunks(abreast) {
        pages.need(row_high);
        for (k, (name, answer)) in row.iter().enumerate() {
            let at = (left + k as f64 * (wide + GAP), pages.y);
            picture(pages.sheet(), answer, &drawn, (at, (wide, high)));
            let lines = pages.sheet().wrapped(name, wide, CELL);
            for (line, words) in lines.iter().enumerate() {
                let y = at.1 + high + 6.0 + 1.25 * CELL.size * line as f64;
                pages.sheet().fitted(words, (at.0, y), wide, CELL);
            }
        }
        pages.y += row_high;
    }
    if let Drawn::Scale(scale) = &drawn {
        pages.need(KEY_ROOM);
        self::key(pages.sheet(), scale, pages.y);
        pages.y += KEY_ROOM;
    }
    pages.paragraph("", &said, CELL.inked(SOFT_INK));
}

/// What false colours mean.
fn key(sheet: &Sheet, scale: &LightScale, top: f64) {
    let colors = ramp::colors();
    // The first number is centred on the end.
    let left = SIDE + 12.0;
    let (right, bottom) = (left + KEY.0, top + KEY.1);
    // Each colour over the rest of the bar, so that no seams show.
    for (k, &[r, g, b]) in colors.iter().enumerate() {
        let x = left + KEY.0 * k as f64 / colors.len() as f64;
        sheet.fill((x, top), (right, bottom), Color(r, g, b));
    }
    let area = [left, right, top, bottom];
    AxesPanel::new(area, decade_axis(scale, &[1]), AxisScale::bare())
        .gridded(false, false)
        .looking(IN_BOOKLET)
        .draw(sheet);
}

fn picture(
    sheet: &Sheet,
    answer: &LessonAnswer,
    drawn: &Drawn,
    (at, (wide, high)): (Point, Point),
) {
    match &answer.look {
        LessonLook::Disc { plane, .. } => {
            let sampler = Sampler::new(&plane.rays.ring, &plane.rays.spoke_rad, plane.na, PIXELS);
            let pixels = match drawn {
                Drawn::Scale(scale) => {
                    let light = plane.light.iter().map(|xyz| [xyz.luminance() as f32]);
                    let light: Vec<[f32; 1]> = light.collect();
                    sampler.picture(&light, |_, [light]| scale.color(ramp::colors(), light))
                }
                Drawn::Colors(stops) | Drawn::Fields(stops) => {
                    let exposure = Exposure::of(plane.light.iter(), plane.parallel).by(*stops);
                    sampler.picture(&exposure.linear(&plane.light).0, |_, rgb| encoded(rgb))
                }
            };
            sheet.picture(at, wide, PIXELS, pixels);
            let radius = 0.5 * wide;
            let centre = (at.0 + radius, at.1 + radius);
            sheet.circle(centre, radius, Pen::full(INK, 0.8));
        }
        LessonLook::Field(looks) => {
            let stops = match drawn {
                Drawn::Fields(stops) => *stops,
                _ => 0.0,
            };
            let both = [Some(&looks.without_plate), looks.with_plate.as_ref()];
            let shown: Vec<_> = both.into_iter().flatten().collect();
            let each = high / shown.len() as f64;
            for (k, look) in shown.iter().enumerate() {
                let color: palette::Srgb<u8> = look.srgb.parse().unwrap_or_default();
                let swatch = super::card::at_no_stops(color, look.exposure_stops - stops);
                let top = at.1 + k as f64 * each;
                let corner = (at.0 + wide, top + each);
                let [r, g, b] = swatch.srgb;
                sheet.fill((at.0, top), corner, Color(r, g, b));
                if shown.len() == 2 {
                    let words = ["plate out", "plate in"][k];
                    let set = CELL.inked(ink_on(swatch.linear));
                    sheet.text(words, (at.0 + 5.0, top + 5.0), set);
                }
            }
            let corner = (at.0 + wide, at.1 + high);
            sheet.frame(at, corner, Pen::full(FRAME, 0.8));
        }
    }
}

/// What was found in each try, as a small table.
fn values(pages: &mut Pages, read: &LessonRead) {
    let columns = read.lesson.readings.len() as f64;
    let first = if columns > 2.0 { 0.3 } else { 0.34 } * pages.room();
    let wide = (pages.room() - first) / columns;
    let left = |column: usize| match column {
        0 => SIDE,
        _ => SIDE + first + (column as f64 - 1.0) * wide,
    };
    let mut row = |cells: Vec<String>, set: Type| {
        let broken: Vec<Vec<String>> = (cells.iter().enumerate())
            .map(|(column, words)| {
                let room = if column == 0 { first } else { wide } - 8.0;
                pages.sheet().wrapped(words, room, set)
            })
            .collect();
        let most = broken.iter().map(Vec::len).max().unwrap_or(1) as f64;
        let high = 1.3 * set.size * most + 3.0;
        pages.need(high);
        for (column, lines) in broken.iter().enumerate() {
            for (k, line) in lines.iter().enumerate() {
                let at = (left(column), pages.y + 1.3 * set.size * k as f64);
                pages.sheet().fitted(line, at, wide.max(first), set);
            }
        }
        pages.y += high;
    };
    let heads = read.tries.first().map(|(_, answer)| &answer.findings);
    let heads = heads.into_iter().flatten().map(|f| found(f).0.to_owned());
    let heads = std::iter::once(String::new()).chain(heads);
    row(heads.collect(), CELL.bold());
    for (name, answer) in &read.tries {
        let cells = answer.findings.iter().map(|finding| found(finding).1);
        row(std::iter::once(name.clone()).chain(cells).collect(), CELL);
    }
    pages.y += 2.0 * PARAGRAPH;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{Memory, lesson_scenes};
    use crate::study::lesson::{LessonReading, read_lesson};

    /// Luminance of a screen's colour.
    fn luminance(srgb: [u8; 3]) -> f64 {
        let [r, g, b] = srgb.map(|v| {
            let linear: f64 = palette::Srgb::new(v, 0, 0)
                .into_format::<f64>()
                .into_linear()
                .red;
            linear
        });
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    /// Fields of one lesson have one exposure: a darker one is as much darker on paper as it is, and not the brightest is burnt out.
    #[test]
    fn fields_of_a_lesson_are_exposed_alike() {
        let text = include_str!("../../../scenarios/lessons/4-strained-condenser.toml");
        let scenes = lesson_scenes(text, "lesson", &Memory::default()).unwrap();
        let tries: Vec<(String, LessonAnswer)> = (scenes.into_iter())
            .map(|(name, scenario)| {
                let readings = [LessonReading::ExtinctionRatio];
                (name, read_lesson(&scenario.scene, &readings).unwrap())
            })
            .collect();
        let drawn = Drawn::of(&tries);
        let Drawn::Fields(stops) = drawn else {
            panic!("lesson 4 shows fields");
        };
        assert!(
            drawn.words().contains("137 times brighter"),
            "{}",
            drawn.words()
        );
        let shown: Vec<(f64, f64)> = (tries.iter())
            .map(|(_, answer)| {
                let LessonLook::Field(looks) = &answer.look else {
                    panic!("lesson 4 shows fields");
                };
                let look = &looks.without_plate;
                let swatch = look.srgb.parse().unwrap();
                let swatch = super::super::card::at_no_stops(swatch, look.exposure_stops - stops);
                (
                    luminance(swatch.srgb),
                    look.relative_luminance * stops.exp2(),
                )
            })
            .collect();
        for (paper, light) in &shown {
            assert!((paper / light - 1.0).abs() < 0.2, "{paper} {light}");
        }
        assert!(shown[0].0 > 3.0 * shown[1].0 && shown[1].0 > 1.8 * shown[2].0);
    }
}
