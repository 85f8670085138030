//! Lessons as a booklet to print: A4 upright, a lesson on a page with what was computed for it, the answers at the end.

use super::look::*;
use super::print::{Paper, PaperSize};
use crate::output::CAUTION;
use crate::output::disc::{Exposure, LightScale, Sampler, encoded, ramp};
use crate::output::lesson::{LessonRead, found};
use crate::output::sheet::{VPos, pdf_of_pages};
use crate::study::lesson::{LessonAnswer, LessonFinding, LessonLook};

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
    ..BODY.sized(8.5)
};
/// Between lines, over the size of the type, and between paragraphs.
const LEADING: f64 = 1.4;
const PARAGRAPH: f64 = 8.0;
/// Pictures of tries: how many stand side by side at most, how large they are at most, and the gap between them.
const ABREAST: usize = 5;
const LARGEST: f64 = 130.0;
const GAP: f64 = 9.0;
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

    /// Goes on to a new page where so much has no room on this one.
    fn need(&mut self, height: f64) {
        if self.y > HEAD && self.y + height > self.sheet().size.1 - FOOT {
            self.turn();
        }
    }

    /// A paragraph after a word at the left that is set apart from it.
    fn paragraph(&mut self, label: &str, words: &str, set: Type) {
        let indent = match label.is_empty() {
            true => 0.0,
            false => self.sheet().width(label, LABEL) + 7.0,
        };
        let lines = self.sheet().wrapped(words, self.room() - indent, set);
        for (k, line) in lines.iter().enumerate() {
            let high = LEADING * set.size;
            self.need(high);
            if k == 0 {
                self.sheet().text(label, (SIDE, self.y), LABEL);
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
    pages.heading(title);
    pages.paragraph("", "Each lesson has a question, what to do, and what to see. Try it at the bench, or in the live page: open polstack.html in a browser and choose the lesson under \"Start from\", or follow its link in links.html. The pictures and numbers here were computed by polstack. The answers stand at the end; leave those pages out for a class.", TEXT);
    for read in lessons {
        pages.need(3.0 * LEADING * TEXT.size);
        pages.paragraph("", &read.title, LABEL);
        pages.y -= PARAGRAPH;
        pages.paragraph("", &read.lesson.question, TEXT);
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
    pages.paragraph("", &read.lesson.question, TEXT.sized(12.5).bold());
    for (k, step) in read.lesson.steps.iter().enumerate() {
        pages.paragraph(&format!("{}.", k + 1), step, TEXT);
    }
    pages.paragraph("See:", &read.lesson.see, TEXT);
    pictures(pages, read);
    pages.paragraph("", "What I saw:", LABEL);
    for _ in 0..6 {
        pages.need(26.0);
        let (y, right) = (pages.y + 20.0, SIDE + pages.room());
        pages
            .sheet()
            .line(&[(SIDE, y), (right, y)], Pen::full(GRID, 0.8));
        pages.y += 26.0;
    }
}

/// The tries side by side: what there is to see, and the name under it.
fn pictures(pages: &mut Pages, read: &LessonRead) {
    let light = read
        .tries
        .iter()
        .flat_map(|(_, answer)| match &answer.look {
            LessonLook::Disc { plane, .. } => {
                plane.light.iter().map(|xyz| xyz.luminance()).collect()
            }
            LessonLook::Field(_) => Vec::new(),
        });
    let scale = LightScale::of(light);
    let abreast = read.tries.len().clamp(1, ABREAST) as f64;
    let side = ((pages.room() + GAP) / abreast - GAP).min(LARGEST);
    for row in read.tries.chunks(ABREAST) {
        let lines: Vec<Vec<String>> = (row.iter())
            .map(|(name, _)| pages.sheet().wrapped(name, side, CELL))
            .collect();
        let most = lines.iter().map(Vec::len).max().unwrap_or(0) as f64;
        let high = side + 6.0 + most * 1.25 * CELL.size + PARAGRAPH;
        pages.need(high);
        for (k, ((_, answer), lines)) in row.iter().zip(&lines).enumerate() {
            let at = (SIDE + k as f64 * (side + GAP), pages.y);
            picture(pages.sheet(), answer, &scale, (at, side));
            for (line, words) in lines.iter().enumerate() {
                let y = at.1 + side + 6.0 + 1.25 * CELL.size * line as f64;
                pages.sheet().fitted(words, (at.0, y), side, CELL);
            }
        }
        pages.y += high;
    }
    let said = read.tries.first().map(|(_, answer)| match answer.look {
        LessonLook::Field(_) if is_dim(answer) => {
            "The fields are shown as bright as they are beside the parallel field."
        }
        LessonLook::Field(_) => {
            "Dark fields are shown brighter than they are, so that their colour shows."
        }
        LessonLook::Disc { color: false, .. } => {
            "The back focal planes are drawn in false colours, all on one scale: dark violet is dark, pale green is bright."
        }
        LessonLook::Disc { .. } => "The back focal planes with the plate in, in true colour.",
    });
    if let Some(words) = said {
        pages.paragraph("", words, CELL.inked(SOFT_INK));
    }
}

/// Whether its field is shown beside the parallel one's exposure.
fn is_dim(answer: &LessonAnswer) -> bool {
    let reads = |finding: &LessonFinding| {
        matches!(finding, LessonFinding::Light(_) | LessonFinding::Passed(_))
    };
    answer.findings.iter().any(reads)
}

fn picture(sheet: &Sheet, answer: &LessonAnswer, scale: &LightScale, (at, side): (Point, f64)) {
    match &answer.look {
        LessonLook::Disc { plane, color } => {
            let sampler = Sampler::new(&plane.rays.ring, &plane.rays.spoke_rad, plane.na, PIXELS);
            let pixels = if *color {
                let exposure = Exposure::of(plane.light.iter(), plane.parallel);
                sampler.picture(&exposure.linear(&plane.light).0, |_, rgb| encoded(rgb))
            } else {
                let light = plane.light.iter().map(|xyz| [xyz.luminance() as f32]);
                let light: Vec<[f32; 1]> = light.collect();
                sampler.picture(&light, |_, [light]| scale.color(ramp::colors(), light))
            };
            sheet.picture(at, side, PIXELS, pixels);
            let radius = 0.5 * side;
            let centre = (at.0 + radius, at.1 + radius);
            sheet.circle(centre, radius, Pen::full(INK, 0.8));
        }
        LessonLook::Field(looks) => {
            let both = [Some(&looks.without_plate), looks.with_plate.as_ref()];
            let shown: Vec<_> = both.into_iter().flatten().collect();
            let high = side / shown.len() as f64;
            for (k, look) in shown.iter().enumerate() {
                let color: palette::Srgb<u8> = look.srgb.parse().unwrap_or_default();
                let color = match is_dim(answer) {
                    true => super::card::at_no_stops(color, look.exposure_stops).srgb,
                    false => [color.red, color.green, color.blue],
                };
                let top = at.1 + k as f64 * high;
                let corner = (at.0 + side, top + high);
                sheet.fill((at.0, top), corner, Color(color[0], color[1], color[2]));
                if shown.len() == 2 {
                    let linear = color.map(|v| f64::from(v) / 255.0).map(|v| v.powf(2.2));
                    let words = ["plate out", "plate in"][k];
                    let set = CELL.sized(7.0).inked(ink_on(linear));
                    sheet.text(words, (at.0 + 5.0, top + 5.0), set);
                }
            }
            let corner = (at.0 + side, at.1 + side);
            sheet.frame(at, corner, Pen::full(FRAME, 0.8));
        }
    }
}

/// What was found in each try, as a small table.
fn values(pages: &mut Pages, read: &LessonRead) {
    let columns = read.lesson.readings.len() as f64;
    let first = 0.34 * pages.room();
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
