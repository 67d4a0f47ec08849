//! Reader of the published tables in `tests/data`.
//!
//! A table is a CSV file: a block of `#` lines that names source, page or table, units and status, then one line of
//! column names, then rows. Fields have no quotes and no commas; several inputs in one field read `key=value;key=value`.

use std::path::Path;

/// A published table, read whole.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    name: String,
    head: Vec<String>,
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// One row of a [`Table`].
#[derive(Debug, Clone, Copy)]
pub struct Row<'a> {
    table: &'a Table,
    number: usize,
    fields: &'a [String],
}

impl Table {
    /// The table of that file name in `tests/data`.
    ///
    /// # Panics
    /// If there is no such file, or it is not a table.
    #[must_use]
    pub fn open(file_name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("data")
            .join(file_name);
        match std::fs::read_to_string(&path) {
            Ok(text) => Self::parse(file_name, &text),
            Err(error) => panic!("{file_name} is not readable in tests/data: {error}"),
        }
    }

    /// The table in a text; `name` is used in messages.
    ///
    /// # Panics
    /// If there are no column names, or a row has more or fewer fields than there are columns.
    #[must_use]
    pub fn parse(name: &str, text: &str) -> Self {
        let split = |line: &str| -> Vec<String> {
            line.split(',')
                .map(|field| field.trim().to_owned())
                .collect()
        };
        let head = text
            .lines()
            .filter_map(|line| line.strip_prefix('#'))
            .map(|line| line.trim().to_owned())
            .collect();
        let mut lines = text
            .lines()
            .enumerate()
            .filter(|(_, line)| !line.starts_with('#') && !line.trim().is_empty());
        let Some((_, names)) = lines.next() else {
            panic!("{name} has no line of column names");
        };
        let columns = split(names);
        let rows = lines
            .map(|(place, line)| {
                let fields = split(line);
                assert!(
                    fields.len() == columns.len(),
                    "{name}, line {}: {} fields where there are {} columns",
                    place + 1,
                    fields.len(),
                    columns.len()
                );
                fields
            })
            .collect();
        Self {
            name: name.to_owned(),
            head,
            columns,
            rows,
        }
    }

    /// Lines of the comment block at the top, without their `#`.
    #[must_use]
    pub fn head(&self) -> &[String] {
        &self.head
    }

    /// The rows in order.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().enumerate().map(|(number, fields)| Row {
            table: self,
            number: number + 1,
            fields,
        })
    }
}

impl<'a> Row<'a> {
    /// Text in a column.
    ///
    /// # Panics
    /// If there is no such column.
    #[must_use]
    pub fn text(&self, column: &str) -> &'a str {
        let place = self.table.columns.iter().position(|name| name == column);
        match place.and_then(|place| self.fields.get(place)) {
            Some(field) => field,
            None => panic!("{} has no column {column}", self.table.name),
        }
    }

    /// Number in a column.
    ///
    /// # Panics
    /// If there is no such column, or no number in it.
    #[must_use]
    pub fn number(&self, column: &str) -> f64 {
        self.parse(column, self.text(column))
    }

    /// Number in a column, or `None` if the field is empty.
    ///
    /// # Panics
    /// If there is no such column, or something in it that is no number.
    #[must_use]
    pub fn number_if_any(&self, column: &str) -> Option<f64> {
        let text = self.text(column);
        (!text.is_empty()).then(|| self.parse(column, text))
    }

    /// Half a unit of the last decimal printed in a column.
    ///
    /// # Panics
    /// If there is no such column.
    #[must_use]
    pub fn half_unit(&self, column: &str) -> f64 {
        let decimals = self
            .text(column)
            .split_once('.')
            .map_or("", |(_, decimals)| decimals);
        0.5 * decimals.chars().fold(1.0, |unit, _| unit / 10.0)
    }

    /// Number of a key in the column `inputs`, which reads `key=value;key=value`.
    ///
    /// # Panics
    /// If there is no such column or key, or no number under it.
    #[must_use]
    pub fn input(&self, key: &str) -> f64 {
        let found = self
            .text("inputs")
            .split(';')
            .filter_map(|pair| pair.split_once('='))
            .find(|(name, _)| name.trim() == key);
        match found {
            Some((_, value)) => self.parse(key, value.trim()),
            None => panic!("{}, row {}: no input {key}", self.table.name, self.number),
        }
    }

    fn parse(&self, what: &str, text: &str) -> f64 {
        match text.parse() {
            Ok(number) => number,
            Err(error) => panic!(
                "{}, row {}: {what} is {text:?}, not a number: {error}",
                self.table.name, self.number
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALL: &str = "# Source: none\n# Units: m\nname,inputs,value\na,x=1;y = 2e3,0.5\n\nb,,\n";

    #[test]
    fn fields_are_found_by_column_and_key() {
        let table = Table::parse("small", SMALL);
        assert_eq!(table.head(), ["Source: none", "Units: m"]);
        let rows: Vec<Row<'_>> = table.rows().collect();
        assert_eq!(rows.len(), 2);
        assert_eq!(rows[0].text("name"), "a");
        assert_eq!(rows[0].number("value"), 0.5);
        assert_eq!(rows[0].half_unit("value"), 0.05);
        assert_eq!(rows[0].half_unit("name"), 0.5);
        assert_eq!((rows[0].input("x"), rows[0].input("y")), (1.0, 2e3));
        assert_eq!(rows[1].number_if_any("value"), None);
    }

    #[test]
    #[should_panic(expected = "small, line 6: 2 fields where there are 3 columns")]
    fn a_short_row_is_refused() {
        let _ = Table::parse("small", &SMALL.replace("b,,", "b,"));
    }

    #[test]
    #[should_panic(expected = "small, row 2: value is \"\", not a number")]
    fn an_empty_number_is_refused() {
        let table = Table::parse("small", SMALL);
        let _ = table.rows().nth(1).unwrap().number("value");
    }

    /// Every table says where it comes from, in which units and of which status, and gives each row a status.
    #[test]
    fn every_table_names_source_units_and_status() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
        for (file, rows) in [
            ("naca1135_isentropic.csv", 13),
            ("critical_flow_function.csv", 20),
            ("golden_times.csv", 9),
            ("slider_crank.csv", 15),
            ("worked_examples.csv", 26),
            ("vessel_examples.csv", 15),
            ("conformance.csv", 2),
            ("coolprop_gas.csv", 42),
            ("law_times.csv", 49),
        ] {
            assert!(folder.join(file).is_file());
            let table = Table::open(file);
            let head = table.head().join("\n");
            for word in ["Status:", "nit"] {
                assert!(head.contains(word), "{file} has no {word}");
            }
            assert!(head.contains("Source") || head.contains("Table:"), "{file}");
            assert_eq!(table.rows().count(), rows, "{file}");
        }
    }

    /// Self-consistency of the conformance table: its rounded and its exact probabilities agree.
    #[test]
    fn conformance_probabilities_agree_with_their_rounding() {
        for row in Table::open("conformance.csv").rows() {
            let difference = row.number("probability") - row.number("probability_exact");
            assert!(
                difference.abs() <= row.number("absolute_tolerance"),
                "{row:?}"
            );
            assert!(
                row.number_if_any("lower_limit").is_some()
                    != row.number_if_any("upper_limit").is_some()
            );
        }
    }
}
