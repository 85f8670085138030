//! No text whatever makes the reader panic, hang, or pass a stack that cannot be run.

use polstack::scenario::{Problem, Scenario, ScenarioError, read};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::{Index, select};
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;

use super::{BENCH, read_text};

/// Another valid text, with what the bench lacks.
const TWIN: &str = r#"title = 'Twin'
light = { source = { line_nm = 546.1, width_nm = 20 }, stokes = [1, 0, 0.5, 0] }
aperture.na = 1.1
stray.fraction = 1e-5
spectrum = { from_nm = 400, to_nm = 700, step_nm = 10 }

[[part]]
name = "lower"
polarizer.sheet = "ideal"
polarizer.azimuth_deg = 0

[[part]]
name = "quarter wave"
retarder = { path_difference_nm = 137.5, at_nm = 550, material = "none", azimuth_deg = 45 }
[part.tolerance]
path_difference_nm = 3
distribution = "uniform"

[[part]]
name = "condenser"
condenser = { na = 1.3, immersion = 1.515, surfaces = 8, glass = 1.6, coating = "mgf2" }

[[part]]
name = "slide"
slide = { glass = 1.515, mount = 1.52 }

[[part]]
name = "objective"
strain = [ { clamp = { contacts = 3, force_n = 2, diameter_mm = 9, azimuth_deg = 7, stress_optic_brewster = 3 } } ]
objective = { na = 1.25, immersion = 1.515, surfaces = 12, glass = 1.6, coating = "ideal" }

[[part]]
name = "upper quarter wave"
retarder = { path_difference_nm = 137.5, azimuth_deg = 135 }

[[part]]
name = "analyzer"
analyzer = { sheet = { k1 = 0.9, k2 = 1e-7 }, index = 1.52, azimuth_deg = 90 }
"#;

const STRANGE: [&str; 24] = [
    "nan",
    "-nan",
    "inf",
    "-inf",
    "-1",
    "0",
    "-0.0",
    "1e400",
    "-1e-400",
    "5e-324",
    "1.7976931348623157e308",
    "999999999999999999999999999999999999999999",
    "0x7fffffffffffffff",
    "\"text\"",
    "\"\"",
    "true",
    "[]",
    "{}",
    "[[[]]]",
    "1979-05-27T07:32:00Z",
    "\"\\uD7FF\"",
    "'''\n'''",
    "\u{0}",
    "{ csv = \"x\" }",
];

#[derive(Debug, Clone)]
enum Mutation {
    Flip(Index, u8),
    Delete(Index, usize),
    Insert(Index, String),
    CopyLine(Index, Index),
    SwapLines(Index, Index),
    Number(Index, String),
    Rename(Index, String),
    Repeat(Index, usize),
}

fn mutation() -> impl Strategy<Value = Mutation> {
    let strange = || select(&STRANGE[..]).prop_map(str::to_owned);
    let number = prop_oneof![
        3 => strange(),
        3 => any::<f64>().prop_map(|x| format!("{x:e}")),
        3 => (0.0..4.0).prop_map(|x: f64| x.to_string()),
        1 => any::<i64>().prop_map(|x| x.to_string()),
        1 => (1_usize..3000).prop_map(|n| "9".repeat(n)),
    ];
    let word = prop_oneof![
        select(
            &[
                "na",
                "glass",
                "k1",
                "csv",
                "part",
                "uniform",
                "surfaces",
                "at_nm",
                "polarizer",
                "analyzer"
            ][..]
        )
        .prop_map(str::to_owned),
        ".{0,12}",
    ];
    prop_oneof![
        1 => (any::<Index>(), any::<u8>()).prop_map(|(at, bits)| Mutation::Flip(at, bits)),
        1 => (any::<Index>(), 1_usize..40).prop_map(|(at, count)| Mutation::Delete(at, count)),
        1 => (any::<Index>(), prop_oneof![strange(), ".{0,20}", select(&["{", "}", "[", "]", "\"", "\n", ".", ",", "#", "=", "\r"][..]).prop_map(str::to_owned)])
            .prop_map(|(at, text)| Mutation::Insert(at, text)),
        1 => (any::<Index>(), any::<Index>()).prop_map(|(a, b)| Mutation::CopyLine(a, b)),
        1 => (any::<Index>(), any::<Index>()).prop_map(|(a, b)| Mutation::SwapLines(a, b)),
        3 => (any::<Index>(), number).prop_map(|(at, text)| Mutation::Number(at, text)),
        2 => (any::<Index>(), word).prop_map(|(at, text)| Mutation::Rename(at, text)),
        1 => (any::<Index>(), 1_usize..2000).prop_map(|(at, count)| Mutation::Repeat(at, count)),
    ]
}

/// Stretches of a text that hold one kind of character and begin with a certain one.
fn stretches(
    text: &str,
    starts: fn(char) -> bool,
    goes_on: fn(char) -> bool,
) -> Vec<std::ops::Range<usize>> {
    let mut found = Vec::new();
    let mut rest = 0;
    while let Some(at) = text[rest..].find(starts) {
        let from = rest + at;
        let length = text[from..]
            .find(|c| !goes_on(c))
            .unwrap_or(text.len() - from);
        rest = from + length;
        found.push(from..rest);
    }
    found
}

fn apply(text: String, mutation: &Mutation) -> String {
    if text.is_empty() {
        return text;
    }
    let lossy = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let mut bytes = text.clone().into_bytes();
    let replace = |stretches: Vec<std::ops::Range<usize>>, at: &Index, new: &str| {
        if stretches.is_empty() {
            return text.clone();
        }
        let stretch = at.get(&stretches).clone();
        format!("{}{new}{}", &text[..stretch.start], &text[stretch.end..])
    };
    match mutation {
        Mutation::Flip(at, bits) => {
            bytes[at.index(text.len())] ^= bits;
            lossy(&bytes)
        }
        Mutation::Delete(at, count) => {
            let from = at.index(text.len());
            bytes.drain(from..(from + count).min(text.len()));
            lossy(&bytes)
        }
        Mutation::Insert(at, new) => {
            let at = at.index(text.len());
            bytes.splice(at..at, new.bytes());
            lossy(&bytes)
        }
        Mutation::CopyLine(a, b) => {
            let mut lines: Vec<&str> = text.split('\n').collect();
            let line = *a.get(&lines);
            lines.insert(b.index(lines.len()), line);
            lines.join("\n")
        }
        Mutation::SwapLines(a, b) => {
            let mut lines: Vec<&str> = text.split('\n').collect();
            let (a, b) = (a.index(lines.len()), b.index(lines.len()));
            lines.swap(a, b);
            lines.join("\n")
        }
        Mutation::Number(at, new) => {
            let number = |c: char| c.is_ascii_digit() || matches!(c, '.' | 'e' | '-');
            replace(stretches(&text, |c| c.is_ascii_digit(), number), at, new)
        }
        Mutation::Rename(at, new) => {
            let word = |c: char| c.is_ascii_alphanumeric() || c == '_';
            replace(stretches(&text, |c| c.is_ascii_lowercase(), word), at, new)
        }
        Mutation::Repeat(at, count) => {
            let from = at.index(text.len());
            let Some(character) = text.get(from..).and_then(|rest| rest.chars().next()) else {
                return text;
            };
            let run: String = std::iter::repeat_n(character, *count).collect();
            format!("{}{run}{}", &text[..from], &text[from..])
        }
    }
}

fn assert_sound(result: Result<Scenario, ScenarioError>) {
    match result {
        Ok(scenario) => {
            let wavelengths = scenario.scene.grid.wavelengths_nm();
            assert_eq!(scenario.scene.path.check(wavelengths), Ok(()));
            assert!(scenario.scene.path.lamp.is_physical());
            assert!(scenario.scene.path.na() > 0.0 && scenario.scene.path.na().is_finite());
        }
        Err(error) => {
            let message = error.to_string();
            assert!(message.starts_with("error: "), "{message}");
            assert!(message.contains(error.file()), "{message}");
            assert!(message.len() < 10_000, "{message}");
            assert!(!message.contains('\u{1b}'), "{message}");
            let colored = anstream::adapter::strip_str(&error.render(true)).to_string();
            assert_eq!(colored, message);
            assert_eq!(
                error.exit_code() == 3,
                message.starts_with("error: cannot read")
            );
        }
    }
}

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

#[test]
fn the_texts_to_be_spoiled_are_good() {
    for text in [BENCH, TWIN] {
        assert_sound(Ok(read_text(text).unwrap()));
    }
}

proptest! {
    #![proptest_config(cases(4000))]

    #[test]
    fn spoiled_scenarios_are_read_or_refused(
        text in select(&[BENCH, TWIN][..]),
        mutations in vec(mutation(), 1..5),
    ) {
        assert_sound(read_text(&mutations.iter().fold(text.to_owned(), apply)));
    }

    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,200}|[a-z.=\\[\\]{}\"'#,\n\r\t 0-9-]{0,300}") {
        assert_sound(read_text(&text));
    }
}

proptest! {
    #![proptest_config(cases(2000))]

    /// Numbers alone leave the text good, so that these reach the checks behind the parser.
    #[test]
    fn spoiled_numbers_are_read_or_refused(
        text in select(&[BENCH, TWIN][..]),
        numbers in vec((any::<Index>(), plausible()), 1..6),
    ) {
        let numbers = numbers.into_iter().map(|(at, text)| Mutation::Number(at, text));
        let text = numbers.fold(text.to_owned(), |text, number| apply(text, &number));
        assert_sound(read_text(&text));
    }
}

/// Numbers that many keys allow.
fn plausible() -> impl Strategy<Value = String> {
    prop_oneof![
        2 => (0.0..1.0).prop_map(|x: f64| x.to_string()),
        2 => (0.0..4.0).prop_map(|x: f64| x.to_string()),
        1 => (0.0..1000.0).prop_map(|x: f64| x.to_string()),
        1 => (0_u32..70).prop_map(|n| n.to_string()),
    ]
}

#[test]
fn spoiled_numbers_reach_the_checks_behind_the_parser() {
    let mut runner = TestRunner::deterministic();
    let (mut taken, mut refused) = (0, 0);
    for _ in 0..1000 {
        let number = (any::<Index>(), plausible()).new_tree(&mut runner).unwrap();
        let (at, number) = number.current();
        match read_text(&apply(TWIN.to_owned(), &Mutation::Number(at, number))) {
            Ok(_) => taken += 1,
            Err(error) if matches!(error.problem(), Problem::Syntax { .. }) => {}
            Err(_) => refused += 1,
        }
    }
    assert!(
        taken > 300 && refused > 300,
        "{taken} taken, {refused} refused"
    );
}

proptest! {
    #![proptest_config(cases(300))]

    #[test]
    fn any_bytes_on_disk_are_read_or_refused(
        scenario in vec(any::<u8>(), 0..300),
        table in prop_oneof![
            vec(any::<u8>(), 0..300),
            "(wavelength_nm,power\n)?([0-9]{1,3},[0-9.e-]{0,5}\r?\n|#.{0,5}\n|\n|\"|,){0,20}".prop_map(String::into_bytes),
        ],
        named in any::<bool>(),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let bench = super::bench("{ blackbody_k = 3200 }", "{ csv = \"t.csv\" }");
        std::fs::write(folder.path().join("t.csv"), &table).unwrap();
        let file = folder.path().join("s.toml");
        std::fs::write(&file, if named { bench.into_bytes() } else { scenario }).unwrap();
        assert_sound(read(&file));
    }
}

#[test]
fn large_and_monotonous_files_are_read_or_refused() {
    let megabyte = (1 << 20) - 1;
    for unit in [
        "a",
        "\n",
        "[a]\n",
        "[[part]]\n",
        "a=1\n",
        "\"",
        "{",
        "[",
        "a.",
        "=",
        ",",
        "#",
        "'''",
        "\\",
        "\u{e9}",
        "a = \"",
        "x\u{0}",
    ] {
        assert_sound(read_text(&unit.repeat(megabyte / unit.len())));
        let tail = unit.repeat((megabyte - BENCH.len()) / unit.len());
        assert_sound(read_text(&format!("{BENCH}{tail}")));
    }
}
