//! The embedded fonts: how wide a text is, and which characters they have.

use std::sync::OnceLock;

use ttf_parser::{Face, GlyphId};

use super::Type;

/// What texts are set in, and what a viewer without it may take.
pub(super) const FAMILY: &str = "DejaVu Sans, Verdana, sans-serif";
/// What stands for a character that the fonts lack.
pub(super) const UNKNOWN: char = '\u{fffd}';

/// One of the embedded fonts.
pub(super) struct Font {
    pub(super) bytes: &'static [u8],
    pub(super) face: Face<'static>,
}

/// The embedded font of a weight. `None` never happens: the bytes are part of the program, and tests read them.
pub(super) fn font(bold: bool) -> Option<&'static Font> {
    static FONTS: OnceLock<[Option<Font>; 2]> = OnceLock::new();
    let fonts = FONTS.get_or_init(|| {
        let all: [&'static [u8]; 2] = [
            include_bytes!("font/regular.ttf"),
            include_bytes!("font/bold.ttf"),
        ];
        all.map(|bytes| {
            let face = Face::parse(bytes, 0).ok()?;
            Some(Font { bytes, face })
        })
    });
    fonts[usize::from(bold)].as_ref()
}

impl Font {
    /// The glyph of a character, or of [`UNKNOWN`].
    pub(super) fn glyph(&self, c: char) -> GlyphId {
        let glyph = |c| self.face.glyph_index(c);
        glyph(c).or_else(|| glyph(UNKNOWN)).unwrap_or(GlyphId(0))
    }

    /// Width of a glyph over the size of the text.
    pub(super) fn advance(&self, glyph: GlyphId) -> f64 {
        let units = f64::from(self.face.units_per_em());
        f64::from(self.face.glyph_hor_advance(glyph).unwrap_or(0)) / units
    }
}

/// Width of a text in points.
pub(super) fn width(text: &str, set: Type) -> f64 {
    let Some(font) = font(set.bold) else {
        return 0.0;
    };
    let advances = text.chars().map(|c| font.advance(font.glyph(c)));
    set.size * advances.sum::<f64>()
}

/// The characters of a text that the fonts lack, each once.
pub(crate) fn missing_characters(text: &str) -> Vec<char> {
    let has = |c| font(false).is_some_and(|font| font.face.glyph_index(c).is_some());
    let mut missing: Vec<char> = (text.chars())
        .filter(|c| !c.is_ascii() && !has(*c))
        .collect();
    missing.sort_unstable();
    missing.dedup();
    missing
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::figure::look::BODY;

    #[test]
    fn widths_are_those_of_the_font() {
        // The advance of "m" in DejaVu Sans is 1995 of 2048 units.
        let ten = width("mmmmmmmmmm", BODY.sized(20.0));
        assert!((ten - 200.0 * 1995.0 / 2048.0).abs() < 1e-9, "{ten}");
        let bold = BODY.bold();
        assert!(width("Leak", bold) > width("Leak", BODY));
    }

    #[test]
    fn both_fonts_have_what_figures_write() {
        for bold in [false, true] {
            let font = font(bold).unwrap();
            for c in "aZ09 äßéŁ°µ⁻¹₂≤≥±×·–—…“”→↺ΔαΩжД√∞■●□½�".chars()
            {
                assert!(font.face.glyph_index(c).is_some(), "{c} {bold}");
            }
        }
        assert_eq!(missing_characters("a 顕微鏡\n鏡 b"), ['微', '鏡', '顕']);
    }
}
