//! Files on disk: scenarios that cannot be read, tables that a scenario names.

use polstack::light_path::PartKind;
use polstack::material::SheetTransmittance;
use polstack::scenario::{Disk, Problem, Scenario, ScenarioError, parse, read};
use polstack::spectrum::Source;

use super::{BENCH, bench};

/// Reads a scenario beside which one table lies.
fn with_table(scenario: &str, table: impl AsRef<[u8]>) -> Result<Scenario, ScenarioError> {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("table.csv"), table).unwrap();
    std::fs::write(folder.path().join("bench.toml"), scenario).unwrap();
    read(&folder.path().join("bench.toml"))
}

fn with_bytes(bytes: impl AsRef<[u8]>) -> Result<Scenario, ScenarioError> {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("bench.toml"), bytes).unwrap();
    read(&folder.path().join("bench.toml"))
}

fn lamp() -> String {
    bench("{ blackbody_k = 3200 }", "{ csv = \"table.csv\" }")
}

fn sheet() -> String {
    bench("{ k1 = 0.8, k2 = 8e-6 }", "{ csv = \"table.csv\" }")
}

fn map() -> String {
    bench(
        "{ radial = { edge_nm = 40 } }",
        "{ map = { csv = \"table.csv\" } }",
    )
}

/// Two columns from 360 nm to 830 nm.
fn flat(header: &str, value: &str) -> String {
    let rows = (0..=10).map(|i| format!("{},{value}\n", 360 + 47 * i));
    format!("{header}\n{}", rows.collect::<String>())
}

#[test]
fn a_scenario_that_cannot_be_read_asks_for_status_3() {
    let folder = tempfile::tempdir().unwrap();
    for (path, words) in [
        (folder.path().join("none.toml"), "none.toml"),
        (folder.path().to_owned(), "it is a folder"),
    ] {
        let error = read(&path).unwrap_err();
        assert!(
            matches!(error.problem(), Problem::Unreadable { .. }),
            "{error}"
        );
        assert_eq!((error.exit_code(), error.line_and_column()), (3, None));
        assert!(error.to_string().contains(words), "{error}");
    }
}

#[test]
fn a_scenario_that_is_no_text_is_told_where() {
    let error = with_bytes(b"title = \"ok\"\nlight = \"\xff\xfe\"\n").unwrap_err();
    assert_eq!((error.problem(), error.exit_code()), (&Problem::NotText, 2));
    assert_eq!(error.line_and_column(), Some((2, 10)));
    let error = with_bytes(vec![b'#'; (1 << 20) + 1]).unwrap_err();
    assert_eq!(error.problem(), &Problem::TooLarge { most: 1 << 20 });
}

#[test]
fn a_scenario_on_disk_is_the_same_as_its_text() {
    let expected = super::read_text(BENCH).unwrap();
    assert_eq!(with_bytes(BENCH).unwrap(), expected);
    assert_eq!(with_bytes(format!("\u{feff}{BENCH}")).unwrap(), expected);
}

#[test]
fn tables_are_read_from_the_scenario_s_folder() {
    let Source::Table { name, power } = with_table(&lamp(), flat("wavelength_nm,power", "2"))
        .unwrap()
        .scene
        .source
    else {
        panic!()
    };
    assert_eq!((name.as_str(), power.at(555.0)), ("table.csv", Ok(2.0)));

    let scenario = with_table(&sheet(), flat("wavelength_nm,k1,k2", "0.75,1e-5")).unwrap();
    let PartKind::Polarizer(polar) = &scenario.scene.path.parts[1].kind else {
        panic!()
    };
    assert!(matches!(
        polar.sheet.transmittance,
        SheetTransmittance::Table { .. }
    ));
    let (k1, k2) = polar.sheet.principal_transmittances(555.0).unwrap();
    assert!((k1 - 0.75).abs() < 1e-15 && (k2 - 1e-5).abs() < 1e-19);

    let text = bench(
        "[[part]]\nname = \"lower",
        "strain_dispersion = { csv = \"table.csv\" }\n[[part]]\nname = \"lower",
    );
    let scenario = with_table(&text, flat("wavelength_nm,factor", "1.1")).unwrap();
    let PartKind::Condenser(lens) = &scenario.scene.path.parts[0].kind else {
        panic!()
    };
    assert_eq!(lens.strain_factor(500.0), Ok(1.1));

    let nodes = "x,y,path_difference_nm,azimuth_deg\n-1,-1,5,90\n1,-1,5,90\n-1,1,5,90\n1,1,5,90\n";
    let scenario = with_table(&map(), nodes).unwrap();
    let PartKind::Condenser(lens) = &scenario.scene.path.parts[0].kind else {
        panic!()
    };
    let strain = lens.strain[0].at(0.2, 0.3).unwrap();
    assert!((strain.path_difference_nm - 5.0).abs() < 1e-12);
    assert!((strain.slow_azimuth_rad.abs() - std::f64::consts::FRAC_PI_2).abs() < 1e-12);
}

#[test]
fn comments_blanks_quotes_marks_order_and_synonyms_are_tolerated() {
    let plain = with_table(&lamp(), flat("wavelength_nm,power", "2")).unwrap();
    let swapped: String = (0..=10)
        .map(|i| format!(" 2 ,\"{}\"\r\n\r\n# x\r\n", 360 + 47 * i))
        .collect();
    for table in [
        format!("\u{feff}# a lamp\n\n{}", flat("wavelength_nm,power", "2")),
        flat("wavelength_nm,relative_power", "2").replace('\n', "\r\n"),
        format!("power, wavelength_nm\r\n{swapped}"),
    ] {
        assert_eq!(
            with_table(&lamp(), &table).unwrap().scene.source,
            plain.scene.source,
            "{table}"
        );
    }
}

#[test]
fn a_mistake_in_a_table_is_told_with_its_line_column_value_and_what_is_allowed() {
    let power = "wavelength_nm,power\n";
    for (scenario, table, place, words) in [
        (
            lamp(),
            format!("{power}# note\n\n360,1\n380,x\n"),
            (5, 5),
            vec!["`power` = x is no number", "0 to 1000000000000"],
        ),
        (
            lamp(),
            format!("{power}360,1\n380,\n"),
            (3, 5),
            vec!["`power`", "is empty"],
        ),
        (
            lamp(),
            "wavelength_nm;power\n360;1\n".into(),
            (1, 1),
            vec!["separate columns by commas", "decimals take a point"],
        ),
        (
            lamp(),
            format!("{power}360,1\n380, nan\n"),
            (3, 6),
            vec!["`power` = nan is not allowed"],
        ),
        (
            lamp(),
            format!("{power}360,1\n380,inf\n"),
            (3, 5),
            vec!["`power` = inf is not allowed"],
        ),
        (
            lamp(),
            format!("{power}360,1\n380,-2\n"),
            (3, 5),
            vec!["`power` = -2 is not allowed", "allowed: 0 to"],
        ),
        (
            lamp(),
            format!("{power}360,1\n400,1\n390,1\n"),
            (4, 1),
            vec!["`wavelength_nm` = 390 stands out of order", "more than 400"],
        ),
        (
            lamp(),
            format!("{power}360,1\n360,1\n"),
            (3, 1),
            vec!["`wavelength_nm` = 360 is given twice"],
        ),
        (
            lamp(),
            format!("{power}360,1\n830,1\n"),
            (3, 1),
            vec!["nothing between 360 and 830 nm", "at most 50 nm apart"],
        ),
        (
            lamp(),
            format!("{power}360,1,2\n"),
            (2, 1),
            vec!["holds 3 values", "one for each of 2 columns"],
        ),
        (
            lamp(),
            "wavelength;power\n360;1\n".into(),
            (1, 1),
            vec!["separates columns by something else", "wavelength_nm,power"],
        ),
        (
            lamp(),
            "wavelength_nm,power,power\n".into(),
            (1, 21),
            vec!["given twice"],
        ),
        (
            lamp(),
            "power\n".into(),
            (1, 1),
            vec!["lacks a column", "wavelength_nm,power"],
        ),
        (
            lamp(),
            "360,1\n380,1\n".into(),
            (1, 1),
            vec![
                "360 is no column",
                "the first line must be wavelength_nm,power",
            ],
        ),
        (
            sheet(),
            "wavelength_nm,k1,k2\n360,0.5,0\n380,0.5,0.6\n".into(),
            (3, 9),
            vec!["`k2` = 0.6 is above k1", "0 to 0.5"],
        ),
        (
            sheet(),
            "wavelength_nm,k1,k2\n360,0.5,0\n380,1.5,0.6\n".into(),
            (3, 5),
            vec!["`k1` = 1.5 is not allowed", "allowed: 0 to 1"],
        ),
        (
            sheet(),
            "wavelength_nm,k2,k1\n360,0,0.5\n380,0.6,0.5\n".into(),
            (3, 5),
            vec!["`k2` = 0.6 is above k1"],
        ),
        (
            map(),
            "x,y,path_difference_nm,azimuth_deg\n0,9,5,0\n".into(),
            (2, 3),
            vec!["`y` = 9 is not allowed", "-2 to 2"],
        ),
    ] {
        // Rows up to the one in question must not be what is wrong.
        let error = match with_table(&scenario, &table) {
            Ok(_) => panic!("taken: {table}"),
            Err(error) => error,
        };
        let message = error.to_string();
        assert!(error.file().ends_with("table.csv"), "{table}\n{message}");
        assert_eq!(error.line_and_column(), Some(place), "{table}\n{message}");
        assert_eq!(error.exit_code(), 2);
        for words in words {
            assert!(message.contains(words), "{words}\n{message}");
        }
    }
}

#[test]
fn a_map_with_a_hole_names_the_point_that_is_missing() {
    let table = "x,y,path_difference_nm,azimuth_deg\n-1,-1,5,0\n1,-1,5,0\n1,1,5,0\n";
    let message = with_table(&map(), table).unwrap_err().to_string();
    assert!(message.contains("missing is x = -1, y = 1"), "{message}");
}

#[test]
fn a_utf_16_file_is_told_so_without_printing_it() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bench.toml");
    let bytes = "title = 1".encode_utf16().flat_map(u16::to_le_bytes);
    std::fs::write(
        &file,
        [0xff, 0xfe].into_iter().chain(bytes).collect::<Vec<u8>>(),
    )
    .unwrap();
    let error = polstack::scenario::read(&file).unwrap_err();
    assert_eq!((error.line_and_column(), error.exit_code()), (None, 2));
    assert!(
        error.to_string().contains("save the file as UTF-8"),
        "{error}"
    );
}

#[test]
fn header_names_are_taken_in_any_case() {
    let table = "Wavelength_nm, POWER\n360,1\n380,1\n400,1\n430,1\n480,1\n530,1\n580,1\n630,1\n680,1\n730,1\n780,1\n";
    assert!(with_table(&lamp(), table).is_ok());
}

#[test]
fn a_table_that_ends_early_says_which_spectrum_would_fit() {
    let rows: String = (0..=7).map(|k| format!("{},1\n", 400 + 45 * k)).collect();
    let message = with_table(&lamp(), format!("wavelength_nm,power\n{rows}")).unwrap_err();
    let fits = "[spectrum] from_nm = 400, to_nm = 715";
    assert!(message.to_string().contains(fits), "{message}");
}

#[test]
fn a_csv_without_a_name_is_refused() {
    let error = with_bytes(lamp().replace("table.csv", "")).unwrap_err();
    assert!(error.to_string().contains("names no file"), "{error}");
}

#[test]
fn a_table_without_rows_is_refused_as_a_whole() {
    for (table, words) in [
        ("", "the file is empty"),
        ("# wavelength_nm,power\n\n", "the file holds no table"),
        ("wavelength_nm,power\n400,1\n", "the file holds 1 row\n"),
    ] {
        let error = with_table(&lamp(), table).unwrap_err();
        assert!(error.to_string().contains(words), "{error}");
        assert!(error.file().ends_with("table.csv"), "{error}");
        assert_eq!(error.line_and_column(), None);
    }
}

#[test]
fn a_table_that_does_not_cover_the_run_is_told_with_the_gap() {
    for (table, gap) in [
        (
            flat("wavelength_nm,power", "1").replace("360,1\n", ""),
            "holds nothing for 380 to 407 nm",
        ),
        (
            flat("wavelength_nm,power", "1").replace("783,1\n830,1\n", ""),
            "holds nothing for 736 to 780 nm",
        ),
        (
            "wavelength_nm,power\n500,1\n510,1\n".into(),
            "holds nothing for 380 to 500 nm and 510 to 780 nm",
        ),
        (
            "wavelength_nm,power\n900,1\n910,1\n".into(),
            "holds nothing for 380 to 780 nm",
        ),
    ] {
        let error = with_table(&lamp(), &table).unwrap_err();
        let message = error.to_string();
        assert!(
            message.contains(gap) && message.contains("nothing is extrapolated"),
            "{message}"
        );
        assert!(error.file().ends_with("bench.toml"));
        assert_eq!(error.line_and_column(), Some((4, 18)));
    }
}

#[test]
fn a_strain_map_must_be_whole_and_reach_the_rays() {
    let head = "x,y,path_difference_nm,azimuth_deg\n";
    let message = |rows: &str| {
        with_table(&map(), format!("{head}{rows}"))
            .unwrap_err()
            .to_string()
    };
    let three = message("-1,-1,5,0\n1,-1,5,0\n-1,1,5,0\n");
    assert!(three.contains("4 rows, there are 3"), "{three}");
    let twice = message("-1,-1,5,0\n1,-1,5,0\n-1,1,5,0\n-1,1,5,0\n");
    assert!(twice.contains("given twice"), "{twice}");
    // The iris at NA 0.6 uses the inner 0.6818 of a lens of NA 0.88.
    let square = |r: &str| format!("-{r},-{r},5,0\n{r},-{r},5,0\n-{r},{r},5,0\n{r},{r},5,0\n");
    let narrow = message(&square("0.68"));
    assert!(
        narrow.contains("nothing at x = 0.6818") && narrow.contains("this map"),
        "{narrow}"
    );
    assert!(with_table(&map(), format!("{head}{}", square("0.69"))).is_ok());
}

#[test]
fn tables_that_cannot_be_read_are_told_in_the_scenario_s_line() {
    for (name, exit_code) in [("nowhere.csv", 3), (".", 3)] {
        let text = lamp().replace("table.csv", name);
        let error = with_bytes(text).unwrap_err();
        assert!(
            matches!(error.problem(), Problem::Unreadable { .. }),
            "{error}"
        );
        assert_eq!(
            (error.exit_code(), error.line_and_column()),
            (exit_code, Some((4, 18))),
            "{error}"
        );
    }
}

#[test]
fn tables_that_are_no_text_or_too_large_are_refused() {
    let error = with_table(&lamp(), b"wavelength_nm,power\n360,\xff\n").unwrap_err();
    assert_eq!(
        (error.problem(), error.line_and_column()),
        (&Problem::NotText, Some((2, 5)))
    );
    let error = with_table(&lamp(), vec![b'#'; (16 << 20) + 1]).unwrap_err();
    assert_eq!(error.problem(), &Problem::TooLarge { most: 16 << 20 });
    assert!(error.file().ends_with("table.csv"));
}

/// Reading one could wait for ever.
#[cfg(unix)]
#[test]
fn a_socket_is_no_table() {
    let folder = tempfile::tempdir().unwrap();
    let _socket = std::os::unix::net::UnixListener::bind(folder.path().join("table.csv")).unwrap();
    let error = parse(&lamp(), "bench.toml", &Disk::folder(folder.path())).unwrap_err();
    assert!(error.to_string().contains("no regular file"), "{error}");
    assert_eq!(error.exit_code(), 3);
}
