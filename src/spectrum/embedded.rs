//! Reading the CSV tables that are compiled in.

/// The rows of `N` numbers in a CSV text. Lines that are not `N` numbers (comments, the column names) are passed
/// over, so the tests that read a table count its rows.
pub(super) fn rows<const N: usize>(text: &str) -> Vec<[f64; N]> {
    text.lines()
        .filter_map(|line| {
            let mut row = [0.0; N];
            let mut cells = line.split(',');
            for value in &mut row {
                *value = cells.next()?.trim().parse().ok()?;
            }
            cells.next().is_none().then_some(row)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_names_and_rows_of_another_length_are_passed_over() {
        let text = "# made up, 1\nwavelength_nm,power\n400,1\n405, 2.5\n410,1,2\n415\n420,x\n";
        assert_eq!(rows::<2>(text), [[400.0, 1.0], [405.0, 2.5]]);
    }
}
