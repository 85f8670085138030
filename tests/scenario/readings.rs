//! Readings files, and samples of stands: what is read, what is refused at which place, and that nothing makes them panic.

use polstack::scenario::{Memory, parse, parse_readings};
use polstack::study::place::Place;
use proptest::prelude::*;

use super::BENCH;

fn scene() -> polstack::Scene {
    parse(BENCH, "bench.toml", &Memory::default())
        .unwrap()
        .scene
}

#[test]
fn settings_are_read_from_any_spreadsheet() {
    let commas = "ratio,na,turn:objective,out,in,polar_at,lamp,analyzer_deg,error_percent,note\n\
                  300,0.4,45,condenser,plate,\"under the slide, dry\",546.1/10,85,2,dim\n";
    let semicolons = "ratio;na;turn:objective;out;in;polar_at;lamp;analyzer_deg;error_percent;note\n\
                      300;0,4;45;condenser;plate;under the slide, dry;546,1/10;85;2;dim\n";
    let all =
        [commas, semicolons].map(|text| parse_readings(text, "bench.csv", &scene()).unwrap().taken);
    let [one, other] = [&all[0][0], &all[1][0]];
    assert_eq!(
        (one.ratio, one.error, one.line, one.note.as_str()),
        (300.0, 0.02, 2, "dim")
    );
    assert_eq!(one.setting.na, Some(0.4));
    assert_eq!(one.setting.turned, [(4, 45f64.to_radians())]);
    assert_eq!(
        (&one.setting.out[..], &one.setting.plates[..]),
        (&[0][..], &[5][..])
    );
    assert_eq!(one.setting.polar_at, Some(Place::UnderSlideDry));
    assert_eq!(one.setting.analyzer_rad, Some(85f64.to_radians()));
    // The lamps' words differ by the comma; all else is the same.
    assert_eq!(
        (one.ratio, &one.setting.turned, one.setting.na),
        (other.ratio, &other.setting.turned, other.setting.na)
    );
    let plain = parse_readings(
        "# dark subtracted\nreading\tparallel\n2\t600\n",
        "bench.csv",
        &scene(),
    )
    .unwrap()
    .taken;
    assert_eq!(
        (plain[0].ratio, plain[0].error, plain[0].line),
        (300.0, 0.05, 3)
    );
}

#[test]
fn both_polars_are_turned_by_a_column() {
    let turned = |deg: &str| {
        let text = format!("ratio,polars_turned_deg\n300,{deg}\n");
        parse_readings(&text, "bench.csv", &scene())
    };
    let one = &turned("-45").unwrap().taken[0].setting;
    assert_eq!(one.polars_turned_rad, (-45f64).to_radians());
    assert_eq!(turned("").unwrap().taken[0].setting.polars_turned_rad, 0.0);
    let message = turned("361").unwrap_err().to_string();
    assert!(message.contains("-360 to 360"), "{message}");
}

#[test]
fn lines_without_light_are_left_out_and_told() {
    let readings = |text| parse_readings(text, "bench.csv", &scene()).unwrap();
    let some = readings("reading,parallel,na\n,,0.6\n2,600,0.4\n,,0.2\n");
    assert_eq!((some.taken.len(), &some.unfilled[..]), (1, &[2, 4][..]));
    assert_eq!(
        some.note().unwrap(),
        "lines 2 and 4 of the readings hold no light yet: they are left out"
    );
    assert_eq!(readings("ratio,na\n300,0.6\n").note(), None);
}

#[test]
fn mistakes_are_told_at_their_cell() {
    let long = format!("ratio\n{}", "300\n".repeat(100_000));
    for (text, words, place) in [
        ("", "is empty", None),
        ("ratio,na\n", "holds no reading", None),
        ("ratio,na\n,0.4\n", "holds no light", None),
        (
            "reading,parallel\n600,2\n",
            "are reading and parallel swapped?",
            Some((2, 1)),
        ),
        ("reading,parallel\n600,\n", "half a reading", Some((2, 1))),
        ("na\n0.4\n", "lacks a column", Some((1, 1))),
        (
            "ratio,nna\n300,0.4\n",
            "is no column of readings",
            Some((1, 7)),
        ),
        (
            "crossed,parallel\n2,600\n",
            "call it `reading`",
            Some((1, 1)),
        ),
        ("ratio,Iris\n300,0.4\n", "call it `na`", Some((1, 7))),
        (
            "photos,photo_parallel\na.png,b.png\n",
            "\"exposure_s\"",
            Some((1, 1)),
        ),
        (
            "ratio,ratio\n300,300\n",
            "is a column that is given twice",
            Some((1, 7)),
        ),
        (
            "ratio,photo\n300,a.png\n",
            "add the column photo_parallel",
            Some((1, 1)),
        ),
        (
            "photo,exposure_s,error_percent\na.png,1,5\n",
            "add the column photo_parallel",
            Some((1, 1)),
        ),
        (
            "ratio,photo_parallel\n300,a.png\n",
            "add the column photo:",
            Some((1, 1)),
        ),
        (
            "photo,photo_parallel,error_percent\na.png,,5\n",
            "fill in photo_parallel too",
            Some((2, 1)),
        ),
        (
            "photo,photo_parallel\n,b.png\n",
            "fill in photo too",
            Some((2, 1)),
        ),
        (
            "ratio,note\n300,\"dim\n400,far\n500,near\n",
            "has a cell that goes on in the next line",
            Some((2, 1)),
        ),
        (
            "photo,photo_parallel\na.png+,b.png\n",
            "name a picture on both sides of each +",
            Some((2, 1)),
        ),
        (
            "ratio,turn:slide\n300,45\n",
            "is no lens that could be turned",
            Some((1, 7)),
        ),
        (
            "ratio,na\n300,0.4\n-3,0.4\n",
            "is not allowed",
            Some((3, 1)),
        ),
        ("ratio,na\n0,0.4\n", "is not allowed", Some((2, 1))),
        ("ratio,na\nNaN,0.4\n", "is not allowed", Some((2, 1))),
        ("ratio,na\n300,wide\n", "is no number", Some((2, 5))),
        ("ratio,na\n300,0,4\n", "holds 3 values", Some((2, 1))),
        (
            "reading,parallel,ratio\n2,600,300\n",
            "gives its light twice",
            Some((2, 1)),
        ),
        (
            "ratio,out\n300,mirror\n",
            "is no part that can be taken out",
            Some((2, 5)),
        ),
        ("ratio,in\n300,analyzer\n", "is no plate", Some((2, 5))),
        (
            "ratio,polar_at\n300,on the shelf\n",
            "is no place of the lower polar",
            Some((2, 5)),
        ),
        ("ratio,lamp\n300,candle\n", "is no lamp", Some((2, 5))),
        (
            "ratio,lamp\n300,546.1/0.1\n",
            "is not allowed",
            Some((2, 5)),
        ),
        (
            long.as_str(),
            "is one reading more than 1000",
            Some((1002, 1)),
        ),
    ] {
        let error = parse_readings(text, "bench.csv", &scene()).unwrap_err();
        let message = error.to_string();
        let shown: String = text.chars().take(60).collect();
        assert!(message.contains(words), "{shown:?}: {message}");
        assert_eq!(error.line_and_column(), place, "{shown:?}: {message}");
    }
}

#[test]
fn two_parts_of_one_name_are_told() {
    let twice = BENCH.replace("name = \"objective\"", "name = \"condenser\"");
    if let Ok(scenario) = parse(&twice, "bench.toml", &Memory::default()) {
        let error = parse_readings(
            "ratio,turn:condenser\n300,45\n",
            "bench.csv",
            &scenario.scene,
        );
        assert!(
            error
                .unwrap_err()
                .to_string()
                .contains("is the name of two parts")
        );
    }
}

#[test]
fn a_sample_is_read_and_its_mistakes_are_told() {
    let text = format!("{BENCH}\n[doubt]\nsample = \"stands.csv\"\n");
    let with = |sample: &str| parse(&text, "bench.toml", &Memory::from([("stands.csv", sample)]));
    let rows = |row: &str| {
        format!(
            "stray.fraction,condenser.radial.edge_nm\n{}",
            format!("{row}\n").repeat(20)
        )
    };
    let stands = with(&rows("1e-5,12")).unwrap().stands.unwrap();
    assert_eq!(stands.points.len(), 20);
    // In the order of the unknowns, whatever that of the columns.
    assert_eq!(stands.unknowns.told_values(&stands.points[0])[0], 12.0);
    for (sample, words) in [
        (
            rows("1e-5,12").replace("edge_nm", "edge"),
            "is no unknown number of this stand",
        ),
        (rows("1e-5,wide"), "is no number"),
        (rows("1e-5"), "holds 1 values"),
        (rows("-1,12"), "is no stand that can be"),
        ("stray.fraction\n1e-5\n".to_owned(), "holds 1 stands"),
        (
            "objective.uniform.azimuth_deg\n4\n".to_owned(),
            "lacks a column",
        ),
        (
            rows("1e-5,12").replace("condenser.radial.edge_nm", "stray.fraction"),
            "gives a column twice",
        ),
    ] {
        let message = with(&sample).unwrap_err().to_string();
        assert!(message.contains(words), "{sample}: {message}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Any text at all, and tables that are nearly right.
    #[test]
    fn spoiled_readings_never_panic(
        any in ".{0,200}",
        cells in prop::collection::vec("(|[0-9.,;e+-]{1,6}|NaN|inf|condenser|plate|above the condenser|é\"?)", 0..24),
    ) {
        let scene = scene();
        let rows: Vec<String> = cells.chunks(6).map(|row| row.join(",")).collect();
        let table = format!("ratio,na,turn:objective,out,polar_at,lamp\n{}\n", rows.join("\n"));
        for text in [&any, &table, &table.replace(',', ";")] {
            if let Err(error) = parse_readings(text, "bench.csv", &scene) {
                prop_assert_eq!(error.exit_code(), 2);
                prop_assert!(error.to_string().contains("bench.csv"));
            }
        }
    }
}
