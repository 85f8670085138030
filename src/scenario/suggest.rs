//! Words for messages: names and values fit to print, and the nearest of several names.

/// Most names that a message lists.
const MOST_LISTED: usize = 20;
/// A name must be at least this similar (normalized Damerau-Levenshtein) to be suggested; a short word is near to too many names at half.
const SIMILAR: f64 = 0.55;
/// Most characters of a value that a message prints.
const LONGEST: usize = 48;

/// A key or value fit to print on one line: control characters escaped, cut where it is long.
pub(super) fn shown(text: &str) -> String {
    let mut out = String::new();
    for (count, character) in text.chars().enumerate() {
        if count == LONGEST {
            out.push_str("...");
            break;
        }
        if character.is_control() {
            out.extend(character.escape_debug());
        } else {
            out.push(character);
        }
    }
    out
}

/// Names of the catalog in quotes with commas between; of many, how many there are and where they are listed.
pub(super) fn listed(names: &[String], quote: char) -> String {
    match names.len() > MOST_LISTED {
        true => format!("{} names, listed by `polstack catalog`", names.len()),
        false => quoted(names, quote),
    }
}

/// Names in quotes with commas between.
pub(super) fn quoted(names: &[String], quote: char) -> String {
    let quoted: Vec<String> = (names.iter())
        .map(|name| format!("{quote}{name}{quote}"))
        .collect();
    quoted.join(", ")
}

/// The known name that is nearest to a mistyped one, where one is near enough to be meant.
pub(crate) fn nearest<'a>(mistyped: &str, known: &'a [String]) -> Option<&'a str> {
    // Nobody mistypes a name of this length, and the distance takes time and room with its square.
    if mistyped.chars().nth(LONGEST).is_some() {
        return None;
    }
    let plain = |name: &str| name.to_lowercase().replace(['-', '_', ' '], "");
    let mistyped = plain(mistyped);
    let near: Vec<(f64, &String)> = (known.iter())
        .map(|name| {
            let candidate = plain(name);
            let near = strsim::normalized_damerau_levenshtein(&mistyped, &candidate);
            // A word that is only begun, or begins as another does, counts as near: `lens_na` is not, `azimuth` is.
            let begun = mistyped.chars().count() >= 3
                && (candidate.starts_with(&mistyped) || mistyped.starts_with(&candidate));
            (if begun { near.max(0.6) } else { near }, name)
        })
        .filter(|(near, _)| *near >= SIMILAR)
        .collect();
    let (best, name) = near.iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    // Several equally near names are no suggestion; the list of all is shown anyway.
    let alone = near.iter().filter(|(near, _)| near == best).count() == 1;
    alone.then_some(name.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_name_is_found_and_a_far_one_is_not_offered() {
        let known = [
            "azimuth_deg",
            "path_difference_nm",
            "N-BK7",
            "led-b1",
            "led-b2",
        ]
        .map(String::from);
        for (mistyped, meant) in [
            ("azimut_deg", Some("azimuth_deg")),
            ("azimuth", Some("azimuth_deg")),
            ("nbk7", Some("N-BK7")),
            ("colour", None),
            ("led", None),
            ("", None),
        ] {
            assert_eq!(nearest(mistyped, &known), meant, "{mistyped}");
        }
        assert_eq!(nearest(&"azimuth_deg".repeat(100_000), &known), None);
    }

    #[test]
    fn what_is_printed_stays_on_one_short_line() {
        assert_eq!(shown("a\n\u{1b}[31mb"), "a\\n\\u{1b}[31mb");
        assert_eq!(shown(&"x".repeat(1000)).len(), LONGEST + 3);
    }
}
