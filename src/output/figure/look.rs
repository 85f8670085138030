//! How all figures look: their width, their colours, their heads and their foot.

use crate::output::CAUTION_IN_A_LINE;
use crate::output::sheet::{DPI, Raster, VPos, missing_characters, parse};

// What nearly every figure needs, at hand with one line.
pub(super) use super::{Figure, FigureError};
pub(super) use crate::output::sheet::{Color, HPos, Pen, Point, Sheet, Type};

/// Width of every sheet that is not printed on paper of its own.
pub(super) const WIDTH: f64 = 800.0;
/// Room at the left and right of titles and captions, and for them.
pub(super) const MARGIN: f64 = 28.0;
pub(super) const ROOM: f64 = WIDTH - 2.0 * MARGIN;
/// Room for the caution under every figure.
const FOOT: f64 = 30.0;

/// Colour of text.
pub(crate) const INK: Color = Color(0x1e, 0x1e, 0x24);
/// Colour of text that may be overlooked.
pub(crate) const SOFT_INK: Color = Color(0x55, 0x55, 0x5e);
/// Colour of axes and frames.
pub(crate) const FRAME: Color = Color(0x6e, 0x6e, 0x78);
/// Colour of a grid.
pub(crate) const GRID: Color = Color(0xdc, 0xdc, 0xe2);

/// Ordinary text, anchored at its left.
pub(crate) const BODY: Type = Type {
    size: 15.0,
    bold: false,
    color: INK,
    h: HPos::Left,
    v: VPos::Center,
    upward: false,
};
/// Text that may be overlooked.
pub(super) const SOFT: Type = BODY.inked(SOFT_INK);

/// Black or white, whichever stands out more from a colour in linear sRGB: a contrast of 4.5 at least.
///
/// Source: relative luminance and contrast ratio of W3C, Web Content Accessibility Guidelines 2.1 (from memory).
pub(super) fn ink_on(linear: [f64; 3]) -> Color {
    let [red, green, blue] = linear;
    let luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue;
    if (luminance + 0.05) / 0.05 >= 1.05 / (luminance + 0.05) {
        Color(0, 0, 0)
    } else {
        Color(255, 255, 255)
    }
}

/// Why a figure cannot be drawn, as its error.
pub(super) fn undrawn<E: ToString>(figure: &'static str) -> impl Fn(E) -> FigureError {
    move |reason| FigureError::Drawing {
        figure,
        reason: reason.to_string(),
    }
}

/// Draws a figure of a given height under its title and subtitle; the caution is added below.
pub(super) fn draw(
    figure: &'static str,
    (title, subtitle): (&str, &str),
    height: f64,
    paint: impl FnOnce(&Sheet),
) -> Result<Figure, FigureError> {
    let sheet = Sheet::new(title, (WIDTH, height + FOOT));
    head(&sheet, title, subtitle);
    paint(&sheet);
    let at = (MARGIN, height + 0.4 * FOOT);
    sheet.fitted(CAUTION_IN_A_LINE, at, ROOM, SOFT.sized(11.0));
    let shown = (sheet.size.0.to_string(), sheet.size.1.to_string());
    let pixels = ((2.0 * sheet.size.0) as u32, (2.0 * sheet.size.1) as u32);
    finished(figure, &sheet, shown, (pixels, DPI), None)
}

/// A sheet as its files: shown in some width and height, as pixels with so many to the inch, and as a PDF of a size where one is wanted.
pub(super) fn finished(
    figure: &'static str,
    sheet: &Sheet,
    shown: (String, String),
    (pixels, dpi): ((u32, u32), u32),
    pdf_size: Option<Point>,
) -> Result<Figure, FigureError> {
    let wrong = undrawn::<String>(figure);
    let svg = sheet.svg((&shown.0, &shown.1));
    let raster = parse(&svg).and_then(|tree| Raster::<3>::of(&tree, pixels));
    let png = raster.and_then(|raster| raster.png(dpi)).map_err(&wrong)?;
    let pdf = pdf_size
        .map(|size| sheet.pdf(size))
        .transpose()
        .map_err(wrong)?;
    Ok(Figure {
        name: figure,
        missing: missing_characters(&svg),
        png,
        pdf,
        svg,
        sheet: sheet.clone(),
    })
}

/// Title and subtitle at the head of a sheet; a title that is too long takes two lines.
fn head(sheet: &Sheet, title: &str, subtitle: &str) {
    let heading = BODY.sized(20.0).bold();
    if sheet.width(title, heading) <= ROOM {
        sheet.text(title, (MARGIN, 30.0), heading);
    } else {
        let small = heading.sized(15.0);
        let lines = sheet.wrapped_to(title, ROOM, 2, small);
        for (line, y) in lines.iter().zip([18.0, 36.0]) {
            sheet.fitted(line, (MARGIN, y), ROOM, small);
        }
    }
    sheet.fitted(subtitle, (MARGIN, 56.0), ROOM, SOFT);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::figure::tests::texts;

    #[test]
    fn a_title_too_long_takes_two_lines_and_a_strange_one_survives() {
        let long = "aperture ".repeat(40);
        let two = "Pond-life microscope with a sheet above the condenser and a strained objective from the second shelf";
        let odd = "a < b & \"c\" \u{1}\u{ffff}\n d' 顕微鏡";
        let figure = |title: &str| draw("test", (title, odd), 90.0, |_| {}).unwrap();
        let cut = texts(&figure(&long));
        assert!(cut[1].ends_with('…') && cut[1].chars().count() < 120);
        let whole = texts(&figure(two));
        assert_eq!(format!("{} {}", whole[0], whole[1]), two);
        let figure = figure(odd);
        assert_eq!(texts(&figure)[1], "a < b & \"c\" d' 顕微鏡");
        assert_eq!(figure.missing, ['微', '鏡', '顕']);
        // The picture shows U+FFFD in place of boxes.
        let replaced = figure.svg.replace(['顕', '微', '鏡'], "\u{fffd}");
        let seen = Raster::<3>::of(&parse(&replaced).unwrap(), (1600, 240)).unwrap();
        assert_eq!(figure.png, seen.png(DPI).unwrap());
    }
}
