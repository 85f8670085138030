//! The sheet of details that goes with a chart for the wall: under what it holds, landmarks, and where its lines come from.

use super::super::super::look::*;
use super::super::super::print::{Held, Paper, PaperSize, printed};
use super::super::foot::{circumstances, exposure};
use super::super::{EDGE, LEADING, scale};
use super::TITLE;
use super::lines::number;
use crate::material::catalog::NamedBirefringence;
use crate::output::CAUTION;
use crate::study::chart::Scale;

const TEXT: Type = BODY.sized(9.0);
/// Left edges of the columns of the table, and its right edge.
const COLUMNS: [f64; 6] = [EDGE, 160.0, 215.0, 285.0, 350.0, 559.0];
const HEADS: [&str; 5] = [
    "Line",
    "Drawn at",
    "Known as",
    "Standing",
    "Source, and entry of the catalog",
];

/// The sheet, A4 upright.
pub(super) fn figure(
    title: Option<&str>,
    scale: &Scale,
    named: &[NamedBirefringence],
    dpi: u32,
) -> Result<Figure, FigureError> {
    let size = PaperSize::A4;
    let name = "chart-interference-details";
    let large = format!("{TITLE}: details of the chart for the wall");
    printed(
        name,
        title.unwrap_or(&large),
        Paper { size, dpi },
        Held {
            sideways: false,
            own_size: true,
        },
        |sheet| {
            let mut page = DetailsPage { sheet, y: EDGE };
            page.paragraph(&large, TEXT.sized(14.0).bold());
            if let Some(title) = title {
                page.paragraph(title, SOFT.sized(10.0));
            }
            page.y += 6.0;
            page.heading("Under what it holds");
            page.paragraph(&circumstances(&scale.conditions), TEXT);
            let exposed = exposure(scale.exposure_stops);
            page.paragraph(
                &format!("One exposure for the whole chart: {exposed}."),
                TEXT,
            );
            for note in &scale.conditions.notes {
                page.paragraph(note, TEXT);
            }
            page.heading("Colours");
            for remark in scale::landmark_remarks(scale) {
                page.paragraph(&remark, TEXT);
            }
            page.paragraph("A screen cannot show the most vivid of these colours. In the bands they are darkened, where a channel would be above its most, and their chroma is lowered, both by shares that change slowly along the band, so that no edge shows that is not in the colours. Names, CSV and JSON take each colour for itself and bring it in by the rule of CSS Color 4.", TEXT);
            page.heading("Birefringence in sodium light (589.3 nm)");
            page.table(named);
            page.paragraph(CAUTION, SOFT.sized(8.0));
        },
    )
}

/// The sheet while it is filled from above.
struct DetailsPage<'a> {
    sheet: &'a Sheet,
    y: f64,
}

impl DetailsPage<'_> {
    fn paragraph(&mut self, words: &str, set: Type) {
        let room = self.sheet.size.0 - 2.0 * EDGE;
        self.y = self.words(words, EDGE, room, set) + 3.0;
    }

    /// Words from above; gives back where they end.
    fn words(&self, words: &str, x: f64, room: f64, set: Type) -> f64 {
        let lines = (LEADING * set.size, room);
        self.sheet.paragraph(words, (x, self.y), lines, set)
    }

    fn heading(&mut self, words: &str) {
        self.y += 6.0;
        self.paragraph(words, TEXT.sized(10.5).bold());
    }

    fn table(&mut self, named: &[NamedBirefringence]) {
        self.row(HEADS.map(str::to_owned), TEXT.sized(8.0).bold());
        for thing in named {
            let (low, high) = thing.range;
            let known = match low == high {
                true => number(low),
                false => format!("{} to {}", number(low), number(high)),
            };
            let cells = [
                thing.called.to_owned(),
                number(thing.birefringence),
                known,
                thing.standing.word().to_owned(),
                format!("{} ({})", thing.source, thing.entry),
            ];
            self.row(cells, TEXT.sized(8.0));
        }
        self.y += 4.0;
    }

    fn row(&mut self, cells: [String; 5], set: Type) {
        let mut end = self.y;
        for (cell, edges) in cells.iter().zip(COLUMNS.windows(2)) {
            let room = edges[1] - edges[0] - 8.0;
            end = self.words(cell, edges[0], room, set).max(end);
        }
        self.y = end + 4.0;
        let rule = [(COLUMNS[0], self.y - 1.5), (COLUMNS[5], self.y - 1.5)];
        self.sheet.line(&rule, Pen::full(GRID, 0.5));
    }
}
