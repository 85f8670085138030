//! What was meant by a line that is not TOML.

use super::from_toml::FromToml;
use super::schema::PartTable;

/// What was probably meant by a line that is not TOML. `marked` is the line from the mark on.
pub(super) fn syntax_hint(line: &str, marked: &str, is_first: bool, why: &str) -> &'static str {
    let digit = |c: Option<&char>| c.is_some_and(char::is_ascii_digit);
    let characters: Vec<char> = line.chars().collect();
    let decimal_comma =
        (characters.windows(3)).any(|w| digit(w.first()) && w[1] == ',' && digit(w.last()));
    let header = line.trim();
    let key = line.split('=').next().unwrap_or_default().trim();
    let begins = |number: fn(&char) -> bool| marked.chars().next().is_some_and(|c| number(&c));
    if line.contains(['\u{201c}', '\u{201d}', '\u{201e}']) {
        "text stands in straight quotes: \""
    } else if decimal_comma && !why.contains("duplicate") {
        "decimals take a point: 0.60, not 0,60"
    } else if line.contains("\":")
        || is_first && (header.starts_with('{') || header.starts_with("[{"))
    {
        "a scenario is TOML, not JSON: lines like `na = 0.6` under headers like [aperture]"
    } else if why.contains("missing") && header.starts_with('[') {
        "a bracket or brace of a line above is not closed"
    } else if header.starts_with("[part]") || header.starts_with("[[part]") {
        "every part begins with [[part]], two brackets on each side"
    } else if [";", "//"]
        .iter()
        .any(|c| marked.starts_with(c) || marked.contains(&format!(" {c}")))
    {
        "a comment begins with #"
    } else if why.contains("unexpected") && marked.starts_with(['}', ']']) {
        "this bracket or brace is one too many"
    } else if why.contains("inline table") && marked.starts_with(['{', ']']) {
        "a brace before this place is not closed"
    } else if why.contains("unclosed") {
        "close the brackets and quotes; is the file cut off?"
    } else if why.contains("missing comma") {
        "a comma is missing, or a bracket of the line before is not closed"
    } else if why.contains("duplicate") && PartTable::KEYS.contains(&key) {
        "each part begins with a line [[part]] of its own, and each key stands once in it"
    } else if why.contains("duplicate") {
        "each key stands once in a table"
    } else if why.contains("expected `=`") {
        "a key and its value are joined by `=`; a header stands in brackets, like [aperture]"
    } else if why.contains("mantissa") || why.contains("fraction") {
        "a number has digits on both sides of its point: 0.5, 5.0"
    } else if line.contains('\\') {
        "write paths with /: \"tables/lamp.csv\""
    } else if why.contains("basic string") {
        "a text ends with the quote that it begins with"
    } else if why.contains("string") && begins(char::is_ascii_digit) {
        "a number stands without a unit: the key's name says it; text stands in quotes"
    } else if why.contains("string") || why.contains("quoted") || begins(char::is_ascii_alphabetic)
    {
        "text stands in quotes: source = \"cie-a\""
    } else {
        "a line is `key = value` or a header in brackets; text stands in quotes, decimals take a point"
    }
}
