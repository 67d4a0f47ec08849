//! Files in, and files out: whole or not at all.

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use casetight::sheet::{Run, Sheet, Space, Traces};
use casetight_report::whole::WholeFile;

use crate::CommandError;

/// What can go wrong with a file.
#[derive(Debug, thiserror::Error)]
pub(crate) enum FileError {
    /// It can't be read.
    #[error("{}: can't be read: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// It can't be written.
    #[error("{}: can't be written: {source}; nothing was left there", path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// It can't be written on.
    #[error("{}: can't be written on: {source}; the readings before stand in it", path.display())]
    Append {
        /// The file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// A run that the sheet doesn't have, and the volume under test depends on it.
    #[error("{}: the sheet doesn't say where the piston stands in this run; say it with --piston, such as --piston bottom", path.display())]
    Piston {
        /// The sheet.
        path: PathBuf,
    },
    /// A name that no run can have.
    #[error("`{name}` can't be the name of a run; leave out the space around it")]
    Name {
        /// What was given.
        name: String,
    },
}

/// Traces beside a bench sheet.
#[derive(Clone, Copy)]
struct Beside<'a>(&'a Path);

impl Traces for Beside<'_> {
    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>> {
        Ok(Box::new(File::open(self.0.join(file))?))
    }
}

/// The folder that a file lies in; empty for the present one.
pub(crate) fn folder_of(path: &Path) -> &Path {
    path.parent().unwrap_or(Path::new(""))
}

/// Reads a bench sheet and the traces that it names, which lie beside it.
pub(crate) fn read_sheet(path: &Path) -> Result<Sheet, CommandError> {
    let bytes = std::fs::read(path).map_err(|source| FileError::Read {
        path: path.to_owned(),
        source,
    })?;
    Ok(Sheet::from_bytes(
        &bytes,
        &path.display().to_string(),
        &Beside(folder_of(path)),
    )?)
}

/// Stands for a trace that is not written yet; nobody looks at its readings.
const AWAITED: &[u8] = b"time_s,gauge_pa\n0,9000\n1,8000\n";

/// Traces beside a bench sheet, of which some may be yet to come, and one may be growing.
struct Awaiting<'a> {
    beside: Beside<'a>,
    growing: Option<&'a Path>,
}

impl Traces for Awaiting<'_> {
    fn awaits(&self, file: &str) -> bool {
        let path = self.beside.0.join(file);
        self.growing == Some(&path) || !path.exists()
    }

    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>> {
        if self.growing == Some(&self.beside.0.join(file)) {
            return Ok(Box::new(AWAITED));
        }
        match self.beside.open(file) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(Box::new(AWAITED)),
            other => other,
        }
    }
}

/// Reads a bench sheet together with a run of this name whose readings are yet to come: the sheet's own, whose trace is
/// not there yet or still grows, or one more with the piston in this position.
pub(crate) fn read_sheet_with(
    path: &Path,
    name: &str,
    piston: Option<&str>,
    growing: Option<&Path>,
) -> Result<(Sheet, Run), CommandError> {
    let mut bytes = std::fs::read(path).map_err(|source| FileError::Read {
        path: path.to_owned(),
        source,
    })?;
    let shown = path.display().to_string();
    let traces = Awaiting {
        beside: Beside(folder_of(path)),
        growing,
    };
    let named = |sheet: Sheet| {
        let run = sheet.runs.iter().find(|run| run.name == name).cloned();
        (sheet, run)
    };
    let sheet = match named(Sheet::from_bytes(&bytes, &shown, &traces)?) {
        (sheet, Some(run)) => return Ok((sheet, run)),
        (sheet, None) => sheet,
    };
    if matches!(sheet.space, Space::Engine { .. }) && piston.is_none() {
        return Err(FileError::Piston {
            path: path.to_owned(),
        }
        .into());
    }
    // As the sheet would say it. Text in JSON is text in TOML.
    let mut more = format!(
        "\n[[run]]\nname = {}\nfile = {}\n",
        serde_json::to_string(name)?,
        serde_json::to_string(&trace_name(path, name))?
    );
    if let Some(piston) = piston {
        more.push_str("piston = ");
        more.push_str(&serde_json::to_string(piston)?);
        more.push('\n');
    }
    bytes.extend_from_slice(more.as_bytes());
    match named(Sheet::from_bytes(&bytes, &shown, &traces)?) {
        (sheet, Some(run)) => Ok((sheet, run)),
        // A run's name is kept without the space around it.
        (_, None) => Err(FileError::Name {
            name: name.to_owned(),
        }
        .into()),
    }
}

/// The usual name of a run's trace, beside the sheet: "blower-14-pressure.csv".
pub(crate) fn trace_name(sheet: &Path, run: &str) -> String {
    let stem = sheet
        .file_stem()
        .map_or_else(String::new, |s| s.to_string_lossy().into_owned());
    let run: String = run
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '-' })
        .collect();
    format!("{stem}-{run}.csv")
}

/// Writes a file whole or not at all: beside its place first, then moved there.
pub(crate) fn write_whole(path: &Path, text: &str) -> Result<(), FileError> {
    let write = || {
        let mut file = WholeFile::new(path)?;
        file.write_all(text.as_bytes())?;
        file.finish()
    };
    write().map_err(|source| not_written(path, source))
}

/// What kept a file from being written.
pub(crate) fn not_written(path: &Path, source: io::Error) -> FileError {
    FileError::Write {
        path: path.to_owned(),
        source,
    }
}
