//! Names of grid cells: rows A, B … Z, AA … downwards, columns 1, 2, 3 … rightwards.

const ALPHABET: &[u8; 26] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ";

/// The name of the cell at a zero-based row and column: (0, 0) is `A1`, (26, 11) is `AA12`.
#[must_use]
pub fn position(row: usize, column: usize) -> String {
    format!("{}{}", row_name(row), column + 1)
}

/// The letters of a zero-based row.
#[must_use]
pub fn row_name(row: usize) -> String {
    let mut letters = Vec::new();
    let mut left = row + 1;
    while left > 0 {
        left -= 1;
        letters.push(char::from(ALPHABET[left % 26]));
        left /= 26;
    }
    letters.iter().rev().collect()
}

/// The zero-based row and column of a cell's name. Small letters are taken too.
pub(super) fn parse(name: &str) -> Option<(usize, usize)> {
    let split = name.find(|c: char| !c.is_ascii_alphabetic())?;
    let (letters, digits) = name.split_at(split);
    // Longer names lie beyond any grid, and leading zeros would give one cell two names.
    if letters.is_empty() || letters.len() > 4 || digits.len() > 6 || digits.starts_with('0') {
        return None;
    }
    if !digits.bytes().all(|it| it.is_ascii_digit()) {
        return None;
    }
    let row = letters.bytes().fold(0, |all, it| {
        26 * all + usize::from(it.to_ascii_uppercase() - b'A') + 1
    });
    let column: usize = digits.parse().ok()?;
    Some((row - 1, column - 1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn rows_go_on_after_z() {
        let names: Vec<_> = [0, 1, 25, 26, 27, 51, 52, 701, 702].map(row_name).to_vec();
        assert_eq!(names, ["A", "B", "Z", "AA", "AB", "AZ", "BA", "ZZ", "AAA"]);
        assert_eq!(position(3, 5), "D6");
        assert_eq!(parse("aa12"), Some((26, 11)));
        for wrong in [
            "", "A", "1", "A0", "A01", "1A", "A1B", "A-1", "Ä1", "A 1", "A1 ", "ABCDE1",
        ] {
            assert_eq!(parse(wrong), None, "{wrong}");
        }
    }

    proptest! {
        #[test]
        fn a_name_leads_back_to_its_cell(row in 0usize..100_000, column in 0usize..100_000) {
            prop_assert_eq!(parse(&position(row, column)), Some((row, column)));
        }

        #[test]
        fn no_name_upsets_it(name in ".*") {
            if let Some((row, column)) = parse(&name) {
                prop_assert_eq!(position(row, column), name.to_ascii_uppercase());
            }
        }
    }
}
