//! Reads the committed tables of `tests/data`.

/// A row: its leading text cells, then its numbers.
pub type Row = (Vec<String>, Vec<f64>);

/// The rows of a table; `#` lines and the header are left out, the first `text` columns are kept as text.
pub fn read_table(csv: &str, text: usize) -> Vec<Row> {
    let rows = csv.lines().filter(|it| !it.starts_with('#')).skip(1);
    rows.map(|row| {
        let cells: Vec<&str> = row.split(',').collect();
        let names = cells[..text].iter().map(|it| (*it).to_owned()).collect();
        (
            names,
            cells[text..].iter().map(|it| it.parse().unwrap()).collect(),
        )
    })
    .collect()
}
