//! The validation page of the book: its tables and figures, computed.
//!
//! A table stands on the page between the lines `<!-- table: NAME -->` and `<!-- end of table -->`; [`Page::filled`] puts
//! it there. [`same_numbers`] tells whether two texts differ by no more than rounding in their last digits.

mod figures;
mod plot;
mod tables;

use std::path::{Path, PathBuf};

use casetight::gas::{Gas, GasState};
use casetight::leak::Orifice;
use casetight::quantity::TradeUnits;
use casetight::vessel::ThermalVessel;

pub use tables::beside_cantera;

/// Where the page stands, from the top of the repository.
const PAGE: &str = "docs/src/validation.md";
const FIGURES: &str = "docs/src/figures";
const END: &str = "<!-- end of table -->";

/// Ambient pressure and temperature, and the volume, of the cases that the page shows, as `golden_times.csv` has them.
const AMBIENT_PA: f64 = 101_325.0;
const AMBIENT_K: f64 = 293.15;
const VOLUME_M3: f64 = 250e-6;
const AREA_M2: f64 = 5e-8;

fn si<Q: TradeUnits>(value: f64) -> Q {
    Q::from_si_value(value).unwrap()
}

fn ambient() -> GasState {
    GasState {
        pressure: si(AMBIENT_PA),
        temperature: si(AMBIENT_K),
    }
}

/// A vessel of those cases from a start gauge pressure [Pa], with a conductance [W/K] that may be infinite.
fn vessel<'a>(leak: &'a Orifice, gas: &Gas, start: f64, conductance: f64) -> ThermalVessel<'a> {
    let (volume, start) = (si(VOLUME_M3), si(start));
    if conductance.is_infinite() {
        ThermalVessel::isothermal(leak, volume, start, ambient(), gas).unwrap()
    } else {
        ThermalVessel::new(leak, volume, start, ambient(), gas, si(conductance)).unwrap()
    }
}

/// The page and its figures, as files.
#[derive(Debug)]
pub struct Page {
    /// The top of the repository.
    root: PathBuf,
}

impl Page {
    /// The page of the repository that this crate stands in.
    #[must_use]
    pub fn here() -> Self {
        Self {
            root: Path::new(env!("CARGO_MANIFEST_DIR")).join(".."),
        }
    }

    /// Path of the page.
    #[must_use]
    pub fn path(&self) -> PathBuf {
        self.root.join(PAGE)
    }

    /// The page's text as it is.
    ///
    /// # Errors
    /// If the file can't be read.
    pub fn text(&self) -> std::io::Result<String> {
        std::fs::read_to_string(self.path())
    }

    /// A page's text with its tables computed anew.
    ///
    /// # Panics
    /// If a table has no place on the page, or a place no table.
    #[must_use]
    pub fn filled(text: &str) -> String {
        let mut filled = text.to_owned();
        let tables = tables::all();
        assert_eq!(
            text.matches("<!-- table: ").count(),
            tables.len(),
            "a place for each table"
        );
        for (name, table) in tables {
            let head = format!("<!-- table: {name} -->\n");
            let Some(start) = filled.find(&head).map(|at| at + head.len()) else {
                panic!("the page has no place for the table {name}");
            };
            let Some(length) = filled.get(start..).and_then(|rest| rest.find(END)) else {
                panic!("the place of the table {name} has no end");
            };
            filled.replace_range(start..start + length, &format!("\n{table}\n"));
        }
        filled
    }

    /// The figures: path and content of each.
    #[must_use]
    pub fn figures(&self) -> Vec<(PathBuf, String)> {
        figures::all()
            .into_iter()
            .map(|(name, chart)| {
                let path = self.root.join(FIGURES).join(format!("{name}.svg"));
                (path, chart.drawn())
            })
            .collect()
    }
}

/// The first place where two texts differ by more than one unit of a number's last digit (a power of ten: by more than a
/// factor of ten); none where they are the same.
#[must_use]
pub fn same_numbers(one: &str, other: &str) -> Option<String> {
    let (one, other) = (words(one), words(other));
    let differ = one.iter().zip(&other).find(|(a, b)| !same_word(a, b));
    match differ {
        Some((a, b)) => Some(format!("{a:?} and {b:?}")),
        None if one.len() == other.len() => None,
        None => Some(format!("{} and {} words", one.len(), other.len())),
    }
}

/// Words, with numbers apart from the letters and signs around them.
fn words(text: &str) -> Vec<&str> {
    let in_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | 'e');
    text.split_whitespace()
        .flat_map(|word| word.split_inclusive(move |c| !in_number(c)))
        .collect()
}

fn same_word(one: &str, other: &str) -> bool {
    let parsed = |word: &str| {
        let number = word.trim_end_matches(|c: char| !c.is_ascii_digit());
        number.parse::<f64>().ok().map(|value| {
            let mantissa = number.split('e').next().unwrap_or("");
            let decimals = mantissa.split_once('.').map_or(0, |(_, d)| d.len());
            (
                value,
                10.0_f64.powf(-(decimals as f64)),
                number.contains('e'),
            )
        })
    };
    one == other
        || match (parsed(one), parsed(other)) {
            (Some((a, _, true)), Some((b, _, true))) if a > 0.0 && b > 0.0 => {
                (a / b).log10().abs() <= 1.000_001
            }
            (Some((a, unit, false)), Some((b, other_unit, false))) => {
                (a - b).abs() <= 1.000_001 * unit.max(other_unit)
            }
            _ => false,
        }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_may_differ_in_their_last_digit() {
        for (one, other) in [
            ("a 1.234 b", "a 1.235 b"),
            ("| 1e-12 |", "| 1e-13 |"),
            ("M10.1,20 L3,4", "M10.2,20 L3,4"),
            ("-0.0", "0.0"),
            ("12", "13"),
        ] {
            assert_eq!(same_numbers(one, other), None, "{one} {other}");
        }
        for (one, other) in [
            ("a 1.234", "a 1.236"),
            ("1e-12", "1e-10"),
            ("M10.1,20", "M10.3,20"),
            ("a b", "a"),
            ("up", "down"),
            ("12", "14"),
        ] {
            assert!(same_numbers(one, other).is_some(), "{one} {other}");
        }
    }
}
