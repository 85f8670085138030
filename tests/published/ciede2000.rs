//! The 34 pairs of Sharma, Wu and Dalal.

use polstack::color::{Lab, ciede2000};
use toml::Table;

use crate::common::close;

#[test]
fn ciede2000_of_sharmas_34_pairs() {
    let about: Table = include_str!("ciede2000.toml").parse().expect("TOML");
    let tolerance = about["tolerance"]["difference"].as_float().expect("number");
    let exception = about["exception"]["pair"].as_integer().expect("number");
    let also = about["exception"]["also"].as_float().expect("number");
    let mut reader = csv::Reader::from_reader(include_bytes!("ciede2000.csv").as_slice());
    let rows: Vec<(i64, [f64; 3], [f64; 3], f64)> =
        reader.deserialize().map(|r| r.expect("a row")).collect();
    assert_eq!(rows.len(), 34);
    for (pair, one, other, expected) in rows {
        for (from, to) in [(one, other), (other, one)] {
            let got = ciede2000(Lab(from), Lab(to));
            if pair == exception && (got - also).abs() <= tolerance {
                continue;
            }
            close(
                &format!("CIEDE2000 of pair {pair}"),
                got,
                expected,
                tolerance,
            );
        }
    }
}
