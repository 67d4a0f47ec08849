//! The demo sheets, for all tests of this crate that show one.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use casetight_bench::sheet::{Sheet, Traces};

pub(crate) fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../docs/demo")
        .join(name)
}

struct Beside;

impl Traces for Beside {
    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>> {
        Ok(Box::new(File::open(demo(file))?))
    }
}

pub(crate) fn sheet(name: &str) -> Sheet {
    let bytes = std::fs::read(demo(name)).unwrap();
    Sheet::from_bytes(&bytes, name, &Beside).unwrap()
}
