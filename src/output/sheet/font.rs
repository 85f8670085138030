//! The embedded fonts: how wide a text is, which characters they have, and texts made to fit.

use std::sync::OnceLock;

use miniz_oxide::inflate::decompress_to_vec_zlib;
use ttf_parser::{Face, GlyphId};

use super::{Keep, Point, Sheet, Type, VPos};

/// What texts are set in, and what a viewer without it may take.
pub(super) const FAMILY: &str = "DejaVu Sans, Verdana, sans-serif";
/// What stands for a character that the fonts lack.
pub(super) const UNKNOWN: char = '\u{fffd}';

/// One of the embedded fonts.
pub(super) struct Font {
    pub(super) bytes: &'static [u8],
    pub(super) face: Face<'static>,
}

/// The embedded font of a weight. `None` never happens: `build.rs` packs them into the program, and tests read them.
pub(super) fn font(bold: bool) -> Option<&'static Font> {
    static FONTS: OnceLock<[Option<Font>; 2]> = OnceLock::new();
    let fonts = FONTS.get_or_init(|| {
        let all: [&[u8]; 2] = [
            include_bytes!(concat!(env!("OUT_DIR"), "/regular.zlib")),
            include_bytes!(concat!(env!("OUT_DIR"), "/bold.zlib")),
        ];
        all.map(|packed| {
            // Unpacked once, and kept until the program ends.
            let bytes: &'static [u8] = decompress_to_vec_zlib(packed).ok()?.leak();
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

/// A text on one line, without the characters that XML does not allow.
pub(super) fn printable(text: &str) -> String {
    let allowed = |c: char| !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}');
    let spaced: String = text
        .chars()
        .map(|c| if allowed(c) { c } else { ' ' })
        .collect();
    // A space that binds stays one.
    let parts = spaced.split(|c: char| c.is_whitespace() && c != '\u{a0}');
    parts
        .filter(|part| !part.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

fn ends_in_digit(word: &str) -> bool {
    word.ends_with(|c: char| c.is_ascii_digit())
}

impl Sheet {
    /// Width of a text.
    pub(crate) fn width(&self, text: &str, set: Type) -> f64 {
        width(&printable(text), set)
    }

    /// A text that is set smaller, and then cut, until it is at most `room` wide.
    pub(crate) fn fitted(&self, text: &str, at: Point, room: f64, mut set: Type) {
        let smallest = 0.75 * set.size;
        let mut kept = printable(text);
        while width(&kept, set) > room && set.size - 0.5 >= smallest {
            set.size -= 0.5;
        }
        while width(&kept, set) > room {
            let mut chars: Vec<char> = kept.trim_end_matches('…').chars().collect();
            if chars.pop().is_none() {
                break;
            }
            kept = chars.into_iter().collect::<String>().trim_end().to_owned() + "…";
        }
        self.text(&kept, at, set);
    }

    /// A text in lines at most `room` wide, broken between words, but not between a number and its `%`; a word that is wider stands alone.
    pub(crate) fn wrapped(&self, text: &str, room: f64, set: Type) -> Vec<String> {
        let mut lines = Vec::<String>::new();
        let printable = printable(text);
        let mut words = Vec::<String>::new();
        for word in printable.split(' ') {
            match words.last_mut() {
                Some(number) if word.starts_with('%') && ends_in_digit(number) => {
                    number.push(' ');
                    number.push_str(word);
                }
                _ => words.push(word.to_owned()),
            }
        }
        for word in words {
            match lines.last_mut() {
                Some(line) if width(&format!("{line} {word}"), set) <= room => {
                    line.push(' ');
                    line.push_str(&word);
                }
                _ => lines.push(word),
            }
        }
        lines
    }

    /// The same in `most` lines at most: the last one holds the rest and may be too wide.
    pub(crate) fn wrapped_to(&self, text: &str, room: f64, most: usize, set: Type) -> Vec<String> {
        let mut lines = self.wrapped(text, room, set);
        if lines.len() > most {
            let rest = lines.split_off(most.max(1) - 1);
            lines.push(rest.join(" "));
        }
        lines
    }

    /// A paragraph whose first line has its top at a point, its lines `leading` apart and at most `room` wide; gives back where it ends.
    pub(crate) fn paragraph(
        &self,
        words: &str,
        (x, y): Point,
        (leading, room): (f64, f64),
        set: Type,
    ) -> f64 {
        let lines = self.wrapped(words, room, set);
        self.keep(Keep::Running(words.to_owned()), || {
            for (k, line) in lines.iter().enumerate() {
                let (at, v) = ((x, y + leading * k as f64), VPos::Top);
                self.fitted(line, at, room, Type { v, ..set });
            }
        });
        y + leading * lines.len() as f64
    }

    /// Lines about the middle at a point, `leading` apart, each at most `room` wide.
    pub(crate) fn block(
        &self,
        lines: &[impl AsRef<str>],
        (x, y): Point,
        (leading, room): (f64, f64),
        set: Type,
    ) {
        let first = y - 0.5 * leading * (lines.len() as f64 - 1.0);
        for (k, line) in lines.iter().enumerate() {
            self.fitted(line.as_ref(), (x, first + leading * k as f64), room, set);
        }
    }
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
    fn a_number_and_its_percent_stay_on_one_line() {
        let sheet = Sheet::new("", (800.0, 600.0));
        for room in 20..200 {
            let lines = sheet.wrapped("glass (7 %) or (93 %), or 5 % each", f64::from(room), BODY);
            assert!(lines.iter().all(|line| !line.starts_with('%')), "{lines:?}");
            assert_eq!(lines.join(" "), "glass (7 %) or (93 %), or 5 % each");
        }
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
