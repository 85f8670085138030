//! Texts made to fit.

use super::font::width;
use super::{Point, Sheet, Type};

/// A text on one line, without the characters that XML does not allow.
pub(super) fn printable(text: &str) -> String {
    let allowed = |c: char| !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}');
    let spaced: String = text
        .chars()
        .map(|c| if allowed(c) { c } else { ' ' })
        .collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
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

    /// A text in lines at most `room` wide, broken between words; a word that is wider stands alone.
    pub(crate) fn wrapped(&self, text: &str, room: f64, set: Type) -> Vec<String> {
        let mut lines = Vec::<String>::new();
        for word in printable(text).split(' ') {
            match lines.last_mut() {
                Some(line) if width(&format!("{line} {word}"), set) <= room => {
                    line.push(' ');
                    line.push_str(word);
                }
                _ => lines.push(word.to_owned()),
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

    /// Lines about the middle at a point, `leading` apart, each at most `room` wide.
    pub(crate) fn block(
        &self,
        lines: &[String],
        (x, y): Point,
        (leading, room): (f64, f64),
        set: Type,
    ) {
        let first = y - 0.5 * leading * (lines.len() as f64 - 1.0);
        for (k, line) in lines.iter().enumerate() {
            self.fitted(line, (x, first + leading * k as f64), room, set);
        }
    }
}
