//! Whole messages, as they are printed.

use super::{BENCH, read_text, refusal};

fn assert_message(got: &str, expected: &str) {
    // Trailing blanks on the gutter's lines would not survive an editor.
    let got: Vec<&str> = got.lines().map(str::trim_end).collect();
    assert_eq!(got.join("\n"), expected.trim(), "\n{}", got.join("\n"));
}

macro_rules! message {
    ($($name:ident: $from:expr => $to:expr, $expected:expr;)*) => {
        $(
            #[test]
            fn $name() {
                assert_message(&refusal($from, $to).to_string(), $expected);
            }
        )*
    };
}

message! {
    a_list_is_no_table: "slide = { glass = 1.515, mount = 1.515 }" => "slide = [1.515, 1.515]", r#"
error: `part.slide` is an array
  --> bench.toml:21:9
   |
21 | slide = [1.515, 1.515]
   |         ^^^^^^^^^^^^^^ allowed: a table in { }
"#;
    a_header_of_one_table_has_single_brackets: "[aperture]" => "[[aperture]]", r#"
error: `aperture` is an array
 --> bench.toml:6:1
  |
6 | [[aperture]]
  | ^^^^^^^^^^^^ allowed: one table: { }, or a header in single brackets
"#;
    a_number_stands_without_quotes: "glass = 1.515, mount" => "glass = \"1.515\", mount", r#"
error: `part.slide.glass` = "1.515" is a number in quotes
  --> bench.toml:21:19
   |
21 | slide = { glass = "1.515", mount = 1.515 }
   |                   ^^^^^^^ allowed: a number, 1 to 4, without quotes
"#;
    a_lamp_is_no_number: "{ blackbody_k = 3200 }" => "5", r#"
error: `light.source` = 5 is a whole number
 --> bench.toml:4:10
  |
4 | source = 5
  |          ^ allowed: a name in quotes or a table: { blackbody_k }, { line_nm, width_nm } or { csv }
"#;
    a_date_is_no_table: "{ glass = 1.515, mount = 1.515 }" => "1979-05-27", r#"
error: `part.slide` = 1979-05-27 is a date
  --> bench.toml:21:9
   |
21 | slide = 1979-05-27
   |         ^^^^^^^^^^ allowed: a table in { }
"#;
    no_number_is_too_large_to_be_told_so: "path_difference_nm = 550" => "path_difference_nm = 1e400", r#"
error: `part.plate.path_difference_nm` = 1e400 is not allowed
  --> bench.toml:34:32
   |
34 | plate = { path_difference_nm = 1e400, azimuth_deg = 45 }
   |                                ^^^^^ allowed: a number that 64 bits can hold
"#;
    an_unknown_key_gets_the_nearest_one: "coating =" => "coatin =", r#"
error: unknown key `coatin` in `part.objective`
  --> bench.toml:29:53
   |
29 | objective = { na = 0.6, surfaces = 8, glass = 1.52, coatin = "mgf2" }
   |                                                     ^^^^^^ did you mean `coating`?
   |
   = help: allowed here: `na`, `immersion`, `surfaces`, `bending_deg`, `prescription`, `glass`, `coating`
"#;
    a_key_that_resembles_none_gets_the_list: "[light]\n" => "[light]\ncolour = 1\n", r#"
error: unknown key `colour` in `light`
 --> bench.toml:4:1
  |
4 | colour = 1
  | ^^^^^^ not a key of this table
  |
  = help: allowed here: `source`, `stokes`
"#;
    a_missing_key_is_named_with_its_table: "na = 0.88, " => "", r#"
error: missing key `na` in `part.condenser`
  --> bench.toml:11:13
   |
11 | condenser = { surfaces = 4, glass = 1.52 }
   |             ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ needs `na`
   |
   = help: what belongs to a kind stands in its table, inside the braces
"#;
    a_missing_table_is_named: "[light]\nsource = { blackbody_k = 3200 }" => "", "
error: missing key `light`
--> bench.toml
 = help: add a [light] table
";
    text_for_a_number: "na = 0.88" => "na = \"wide\"", r#"
error: `part.condenser.na` = "wide" is text
  --> bench.toml:11:20
   |
11 | condenser = { na = "wide", surfaces = 4, glass = 1.52 }
   |                    ^^^^^^ allowed: a number, 0.0001 to 4
"#;
    a_number_out_of_range: "na = 0.88" => "na = 7.2", "
error: `part.condenser.na` = 7.2 is not allowed
  --> bench.toml:11:20
   |
11 | condenser = { na = 7.2, surfaces = 4, glass = 1.52 }
   |                    ^^^ allowed: 0.0001 to 4
";
    a_lens_wider_than_its_medium: "na = 0.88" => "na = 1.2", "
error: `part.condenser.na` = 1.2 is not allowed
  --> bench.toml:11:20
   |
11 | condenser = { na = 1.2, surfaces = 4, glass = 1.52 }
   |                    ^^^ allowed: below the index of its immersion medium, 1
";
    a_word_with_a_slip: "\"mgf2\"" => "\"mfg2\"", r#"
error: `part.objective.coating` = "mfg2" is no word that is known here
  --> bench.toml:29:63
   |
29 | objective = { na = 0.6, surfaces = 8, glass = 1.52, coating = "mfg2" }
   |                                                               ^^^^^^ did you mean "mgf2"?
   |
   = help: known: "none", "mgf2", "ideal"
"#;
    a_lamp_said_by_halves: "{ blackbody_k = 3200 }" => "{ line_nm = 546.1 }", "
error: missing key `width_nm` in `light.source`
 --> bench.toml:4:10
  |
4 | source = { line_nm = 546.1 }
  |          ^^^^^^^^^^^^^^^^^^^ needs `width_nm`
";
    a_name_given_twice: "name = \"plate\"" => "name = \"slide\"", r#"
error: `part.name` = "slide" is the name of an earlier part
  --> bench.toml:33:8
   |
33 | name = "slide"
   |        ^^^^^^^ give each part its own name
"#;
    strain_on_a_plate: "tolerance = { azimuth_deg = 0.5 }" => "strain = []", "
error: `part.strain` stands on a plate
  --> bench.toml:35:10
   |
35 | strain = []
   |          ^^ allowed on a condenser or objective
";
    a_clamp_on_an_unknown_glass: ", stress_optic_brewster = 2.7" => "", "
error: `part.strain.clamp` presses a glass whose stress-optic coefficient is not known
  --> bench.toml:13:22
   |
13 |            { clamp = { contacts = 4, force_n = 5, diameter_mm = 26 } } ]
   |                      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ add `stress_optic_brewster`, or name a glass that has one
";
    a_table_that_is_not_there: "{ blackbody_k = 3200 }" => "{ csv = \"lamp.csv\" }", r#"
error: cannot read lamp.csv: there is no such file or folder
 --> bench.toml:4:18
  |
4 | source = { csv = "lamp.csv" }
  |                  ^^^^^^^^^^ named here
"#;
    a_part_in_an_impossible_place: "name = \"analyzer\"\nanalyzer" => "name = \"upper\"\npolarizer", r#"
error: the polarizer stands after the objective; the sheet above the objective is the analyzer: write `analyzer = { ... }`
  --> bench.toml:38:8
   |
38 | name = "upper"
   |        ^^^^^^^ this part
"#;
    text_that_is_no_toml: "title = \"Bench\"" => "title = \"Bench", r#"
error: this is not TOML: invalid basic string, expected `"`
 --> bench.toml:1:15
  |
1 | title = "Bench
  |               ^
  |
  = help: a text ends with the quote that it begins with
"#;
}

#[test]
fn an_empty_file() {
    let expected = "
error: the file is empty
--> bench.toml
 = help: a scenario has a [light] table and [[part]] tables; see the examples in scenarios/
";
    for text in ["", "\n\n", "# nothing but a comment\n", "\u{feff}"] {
        assert_message(&read_text(text).unwrap_err().to_string(), expected);
    }
}

#[test]
fn a_long_line_is_cut_but_its_column_is_true() {
    let long = "x".repeat(5000);
    let error = refusal(
        "na = 0.6\n",
        &format!("na = 0.6 # {long}\nnb = 1 # {long}\n"),
    );
    assert_eq!(error.line_and_column(), Some((8, 1)));
    let error = refusal(
        "{ blackbody_k = 3200 }",
        &format!("{{ csv = \"{}\", k = 1 }}", "long-".repeat(1000)),
    );
    assert_eq!(error.line_and_column(), Some((4, 5022)));
    for line in error.to_string().lines() {
        assert!(line.chars().count() < 250, "{line}");
    }
}

#[test]
fn colour_adds_nothing_but_escape_sequences() {
    let error = refusal("na = 0.88", "na = 7.2");
    let colored = error.render(true);
    assert!(colored.contains('\u{1b}') && !error.render(false).contains('\u{1b}'));
    let plain = anstream::adapter::strip_str(&colored).to_string();
    assert_eq!(plain, error.to_string());
}

#[test]
fn control_characters_of_the_file_never_reach_the_terminal() {
    let error = refusal("title = \"Bench\"", "\"\\u001b[31mkey\" = 1 # \u{7}");
    assert!(!error.to_string().contains('\u{1b}'), "{error}");
    let error = refusal("\"mgf2\"", "\"\\u001b[31m\"");
    assert!(!error.to_string().contains('\u{1b}'), "{error}");
}

#[test]
fn lines_that_are_no_toml_get_a_hint() {
    for (from, to, hint) in [
        ("na = 0.6\n", "na = 0,60\n", "decimals take a point"),
        (
            "{ edge_nm = 40 } }",
            "{ edge_nm = 40 }",
            "a brace before this place is not closed",
        ),
        ("mount = 1.515 }", "mount = 1.515 } }", "one too many"),
        (
            "na = 0.6\n",
            "na = 0.6 // wide\n",
            "a comment begins with #",
        ),
        ("\"Bench\"", "\u{201c}Bench\u{201d}", "straight quotes"),
        ("\"Bench\"", "Bench", "text stands in quotes"),
        (
            "[[part]]\nname = \"slide\"",
            "[part]\nname = \"slide\"",
            "begins with [[part]]",
        ),
        ("na = 0.6\n", "na = 0.6\nna = 0.5\n", "once in a table"),
        ("\"Bench\"", "\"a\\lamp\"", "paths with /"),
        ("title = \"Bench\"", "{ \"title\": \"Bench\",", "not JSON"),
        (
            "mount = 1.515 }",
            "mount = 1.515",
            "a bracket or brace of a line above is not closed",
        ),
        (
            "na = 0.6\n",
            "na = 0.6 mm\n",
            "a number stands without a unit",
        ),
        (
            "na = 0.6\n",
            "na = .6\n",
            "digits on both sides of its point",
        ),
        (
            "na = 0.6\n",
            "na = 6.\n",
            "digits on both sides of its point",
        ),
        ("na = 0.6\n", "na: 0.6\n", "joined by `=`"),
        ("[aperture]", "aperture", "a header stands in brackets"),
        (
            "coating = \"mgf2\"",
            "coating = N2",
            "text stands in quotes",
        ),
        (
            "[[part]]\nname = \"slide\"",
            "name = \"slide\"",
            "each part begins with a line [[part]] of its own",
        ),
        (
            "coating = \"mgf2\" }",
            "coating = \"mgf2\"",
            "a bracket of the line before is not closed",
        ),
    ] {
        let message = refusal(from, to).to_string();
        assert!(
            message.contains("= help: ") && message.contains(hint),
            "{to}\n{message}"
        );
    }
    let cut = BENCH.find(", surfaces").unwrap();
    let message = read_text(&BENCH[..cut]).unwrap_err().to_string();
    assert!(message.contains("is the file cut off?"), "{message}");
    // A line that begins with a brace is no JSON for that.
    let cut = "strain = [\n  { uniform = { azimuth_deg = 45 } ";
    let message = refusal("strain = [ ", cut).to_string();
    assert!(!message.contains("JSON"), "{message}");
}

#[test]
fn a_table_is_named_in_braces() {
    for (from, to) in [
        (
            "sheet = { k1 = 0.8, k2 = 8e-6 }, cover",
            "sheet = \"my.csv\", cover",
        ),
        ("{ blackbody_k = 3200 }", "\"my.csv\""),
        ("surfaces = 8,", "prescription = \"my.csv\","),
        (
            "strain = [ { uniform = { path_difference_nm = 3, azimuth_deg = 45 } } ]",
            "strain = [ { map = \"my.csv\" } ]",
        ),
    ] {
        let message = refusal(from, to).to_string();
        assert!(
            message.contains("a file is named as { csv = \"my.csv\" }"),
            "{to}\n{message}"
        );
    }
}

/// Of several keys in a wrong table the first is the one to point at: here the line above it is missing.
#[test]
fn the_first_of_several_misplaced_keys_is_told() {
    let message = refusal("[[part]]\nname = \"condenser\"", "name = \"condenser\"").to_string();
    assert!(
        message.contains("unknown key `name` in `aperture`")
            && message.contains("stands on a line of its own in [[part]]"),
        "{message}"
    );
}

#[test]
fn a_key_that_stands_in_the_wrong_table_is_sent_to_its_own() {
    for (from, to, table) in [
        (
            "coating = \"mgf2\" }",
            "coating = \"mgf2\", strain = [] }",
            "stands on a line of its own in [[part]]",
        ),
        (
            "slide = { glass",
            "mount = 1.5\nslide = { glass",
            "stands in slide = { ... }",
        ),
        (
            "objective = {",
            "surfaces = 8\nobjective = {",
            "stands in condenser or objective = { ... }",
        ),
        (
            "[light]",
            "[light]\nna = 0.5",
            "stands in [aperture], or in [view], or in condenser or objective = { ... }",
        ),
        (
            "strain = [ { uniform = ",
            "uniform = { path_difference_nm = 3, azimuth_deg = 45 }\nstrain = [ { uniform = ",
            "stands in strain = [ { ... } ]",
        ),
        (
            "{ uniform = { path_difference_nm = 3, azimuth_deg = 45 } }",
            "{ path_difference_nm = 3, azimuth_deg = 45 }",
            "stands in uniform = { ... }",
        ),
        (
            "cover_nm = 0,",
            "k1 = 0.8,",
            "stands in sheet = { k1 = ..., k2 = ... }",
        ),
    ] {
        let message = refusal(from, to).to_string();
        assert!(
            message.contains(table) && message.contains("allowed here: "),
            "{to}\n{message}"
        );
    }
    // Any table may name a file.
    let message = refusal("slide = { glass", "csv = \"5\"\nslide = { glass").to_string();
    assert!(message.contains("not a key of this table"), "{message}");
}
