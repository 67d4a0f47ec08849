//! Bench sheets: what is read is written so that it reads as the same sheet.

use std::collections::BTreeMap;

use casetight_bench::sheet::Sheet;

use super::{Fault, ensure, readable};

/// Any bytes as a sheet, with two traces to name.
///
/// # Errors
/// What is wrong with the answer.
pub fn invariant(bytes: &[u8]) -> Result<(), Fault> {
    let traces = BTreeMap::from([
        (
            "trace.csv".to_owned(),
            b"time_s,gauge_kpa,temperature_c\n0,48.0,20.1\n30,45.1,20.2\n60,42.3,20.2\n90,40.0,20.4\n".to_vec(),
        ),
        (
            "foreign.csv".to_owned(),
            b"logger\nt;p\n0;1493,2\n10;1470,0\n20;1451,9\n30;1433,3\n".to_vec(),
        ),
    ]);
    let sheet = match Sheet::from_bytes(bytes, "sheet.toml", &traces) {
        Ok(sheet) => sheet,
        Err(error) => return readable(&error),
    };
    let written = match sheet.to_toml() {
        Ok(written) => written,
        Err(error) => return readable(&error),
    };
    let again = Sheet::parse(&written, "again.toml", &traces)
        .map_err(|error| format!("what was written is refused: {error}\n{written}"))?;
    ensure(again == sheet, || {
        format!("what was written reads as another sheet\n{written}")
    })
}
