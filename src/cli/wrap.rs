//! Sentences broken into lines that fit a terminal; rows of tables, which begin with a blank, are left whole.

/// Sentences are not broken into lines shorter than this.
const NARROWEST: usize = 40;

/// A text for a terminal so many columns wide. What is styled counts as it is seen.
pub(super) fn wrapped(text: &str, width: usize) -> String {
    let width = width.max(NARROWEST);
    let mut out = String::with_capacity(text.len());
    for line in text.split_inclusive('\n') {
        let (words, end) = match line.strip_suffix('\n') {
            Some(words) => (words, "\n"),
            None => (line, ""),
        };
        if words.starts_with(' ') {
            out.push_str(words);
        } else {
            sentence(words, width, &mut out);
        }
        out.push_str(end);
    }
    out
}

fn sentence(words: &str, width: usize, out: &mut String) {
    let mut column = 0;
    for (k, word) in words.split(' ').enumerate() {
        let seen = anstream::adapter::strip_str(word)
            .to_string()
            .chars()
            .count();
        if k > 0 && column + 1 + seen > width {
            out.push('\n');
            column = 0;
        } else if k > 0 {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += seen;
    }
}

#[cfg(test)]
mod tests {
    use super::wrapped;

    #[test]
    fn sentences_are_broken_between_words_and_rows_are_not() {
        let text = "Note: the quick brown fox jumps over the lazy dog and runs away from it\n row  of  a  table  that  is  longer  than  the  terminal  is  wide\n";
        let told = wrapped(text, 44);
        let lines: Vec<&str> = told.lines().collect();
        assert_eq!(
            lines,
            [
                "Note: the quick brown fox jumps over the",
                "lazy dog and runs away from it",
                " row  of  a  table  that  is  longer  than  the  terminal  is  wide"
            ]
        );
        // Every word is still there, in its place.
        assert_eq!(
            told.replace('\n', " ").trim(),
            text.replace('\n', " ").trim()
        );
        assert_eq!(wrapped(text, 500), text);
    }

    #[test]
    fn styles_take_no_room_and_long_words_stay_whole() {
        let styled = "\u{1b}[1mWhere the light comes from\u{1b}[0m: 0.2 % in all";
        assert_eq!(wrapped(styled, 43), styled);
        let long = "x".repeat(60);
        assert_eq!(wrapped(&format!("a {long} b"), 44), format!("a\n{long}\nb"));
    }
}
