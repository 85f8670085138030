//! Mueller matrices, their polar decomposition and their eigenvalues.

use nalgebra::{Matrix4, Vector4};
use polstack::calculus::{Jones, Mueller, PolarDecomposition};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

#[derive(Deserialize)]
struct Row {
    kind: String,
    a: Option<f64>,
    b: Option<f64>,
    c: Option<f64>,
    d: Option<usize>,
    expected: f64,
}

fn read() -> Triple<Row> {
    Triple::read(include_str!("mueller.csv"), include_str!("mueller.toml"))
}

fn diagonal(a: f64, b: f64, c: f64) -> Mueller {
    Mueller(Matrix4::from_diagonal(&Vector4::new(1.0, a, b, c)))
}

fn retarder(phase_deg: f64, fast_deg: f64) -> Jones {
    Jones::retarder(phase_deg.to_radians(), (fast_deg + 90.0).to_radians())
}

fn diattenuator(q: f64, r: f64, azimuth_deg: f64) -> Jones {
    Jones::linear(q.sqrt().into(), r.sqrt().into(), azimuth_deg.to_radians())
}

/// The constructed product by the program's own factors.
fn product() -> Mueller {
    let pure = Mueller::from_jones(&(retarder(70.0, 35.0) * diattenuator(1.0, 0.5, 20.0)));
    diagonal(0.8, 0.7, 0.6) * pure
}

/// The constructed product as the rows of kind `m` print it.
fn printed(rows: &[Row]) -> Mueller {
    let mut matrix = Matrix4::zeros();
    for row in rows.iter().filter(|row| row.kind == "m") {
        let (Some(a), Some(b)) = (row.a, row.b) else {
            panic!("an element has two indices")
        };
        matrix[(a as usize, b as usize)] = row.expected;
    }
    Mueller(matrix)
}

fn got(row: &Row, printed: &Mueller) -> Option<f64> {
    let found = PolarDecomposition::of(printed)?;
    let index = || Some((row.a? as usize, row.b? as usize));
    let diag = || Some(diagonal(row.a?, row.b?, row.c?));
    Some(match row.kind.as_str() {
        "m00" => product().0[(0, 0)],
        "m" => product().0[index()?] / product().0[(0, 0)],
        "diattenuation" => found.diattenuation,
        "polarizance" => found.polarizance,
        "retardance_deg" => found.retardance_rad.to_degrees(),
        "depolarizer" => found.depolarizer.0[index()?],
        "depolarization" => found.depolarization,
        "index" => printed.depolarization_index(),
        "eigen" => printed.cloude_eigenvalues()[row.a? as usize],
        "entropy" => (printed.cloude_eigenvalues().iter())
            .map(|p| -p * p.ln() / 4f64.ln())
            .sum(),
        "diag_index" => diag()?.depolarization_index(),
        "diag_eigen" => diag()?.cloude_eigenvalues()[row.d?],
        _ => return None,
    })
}

#[test]
fn matrices_decompose_into_what_they_were_made_of() {
    let triple = read();
    let printed = printed(&triple.rows);
    for row in &triple.rows {
        let got = got(row, &printed).expect("a known kind with its numbers");
        let quantity = format!(
            "{} {:?} {:?} {:?} {:?}",
            row.kind, row.a, row.b, row.c, row.d
        );
        close(&quantity, got, row.expected, triple.tolerance(&row.kind));
    }
}

/// As the books print it for a fast axis at theta, S3 > 0 right-handed.
#[test]
fn a_retarder_has_the_mueller_matrix_of_the_books() {
    for (phase_deg, fast_deg) in [
        (90.0, 0.0),
        (90.0, 45.0),
        (90.0, -30.0),
        (70.0, 35.0),
        (200.0, 110.0),
    ] {
        let (sin_d, cos_d) = f64::to_radians(phase_deg).sin_cos();
        let (s, c) = (2.0 * f64::to_radians(fast_deg)).sin_cos();
        let book = Matrix4::new(
            1.0,
            0.0,
            0.0,
            0.0, //
            0.0,
            c * c + s * s * cos_d,
            c * s * (1.0 - cos_d),
            -s * sin_d, //
            0.0,
            c * s * (1.0 - cos_d),
            s * s + c * c * cos_d,
            c * sin_d, //
            0.0,
            s * sin_d,
            -c * sin_d,
            cos_d,
        );
        let got = Mueller::from_jones(&retarder(phase_deg, fast_deg));
        close(
            &format!("{phase_deg} deg at {fast_deg} deg"),
            (got.0 - book).amax(),
            0.0,
            1e-15,
        );
    }
}

/// As the books print it: q along theta, r across.
#[test]
fn a_diattenuator_has_the_mueller_matrix_of_the_books() {
    for (q, r, azimuth_deg) in [
        (1.0, 0.0, 0.0),
        (1.0, 0.5, 20.0),
        (0.7, 2e-5, 135.0),
        (0.3, 0.9, -50.0),
    ] {
        let (s, c) = (2.0 * f64::to_radians(azimuth_deg)).sin_cos();
        let (sum, difference, root) = (q + r, q - r, 2.0 * f64::sqrt(q * r));
        let mixed = (sum - root) * c * s;
        let book = Matrix4::new(
            sum,
            difference * c,
            difference * s,
            0.0, //
            difference * c,
            sum * c * c + root * s * s,
            mixed,
            0.0, //
            difference * s,
            mixed,
            sum * s * s + root * c * c,
            0.0, //
            0.0,
            0.0,
            0.0,
            root,
        ) * 0.5;
        let got = Mueller::from_jones(&diattenuator(q, r, azimuth_deg));
        close(
            &format!("{q}, {r} at {azimuth_deg} deg"),
            (got.0 - book).amax(),
            0.0,
            1e-15,
        );
    }
}
