//! Files in, and files out: whole or not at all, and never over what was read.

use std::cell::RefCell;
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use casetight::vessel::Direction;
use casetight_bench::sheet::{Run, Sheet, Side, Traces};
use casetight_files::whole::WholeFile;
use casetight_files::{Folder, open, read_sheet_bytes};

use crate::CommandError;
use crate::live::holds_no_readings;

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
    /// What is written would take the place of what it comes from.
    #[error("{}: the output would overwrite {}, which it comes from; give it another name", path.display(), read.display())]
    Overwrites {
        /// The file.
        path: PathBuf,
        /// The one that was read.
        read: PathBuf,
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
    #[error(
        "`{name}` can't be the name of a run; leave out the space around it, and marks that are no letters"
    )]
    Name {
        /// What was given.
        name: String,
    },
}

/// The files of one command: what it has read, and so does not write over.
#[derive(Debug)]
pub(crate) struct Files {
    traces_anywhere: bool,
    read: RefCell<Vec<PathBuf>>,
}

impl Files {
    /// None read yet; `traces_anywhere` says whether a sheet may name traces outside its folder.
    pub(crate) fn new(traces_anywhere: bool) -> Self {
        Self {
            traces_anywhere,
            read: RefCell::default(),
        }
    }

    /// The folder of a sheet.
    pub(crate) fn folder(&self, sheet: &Path) -> Folder {
        Folder::of(sheet).with_traces_anywhere(self.traces_anywhere)
    }

    /// Reads a bench sheet and the traces that it names.
    pub(crate) fn sheet(&self, path: &Path) -> Result<Sheet, CommandError> {
        let bytes = self.bytes(path)?;
        let folder = self.folder(path);
        let sheet = Sheet::from_bytes(&bytes, &path.display().to_string(), &folder);
        self.read.borrow_mut().extend(folder.opened());
        Ok(sheet?)
    }

    fn bytes(&self, path: &Path) -> Result<Vec<u8>, FileError> {
        self.read.borrow_mut().push(path.to_owned());
        read_sheet_bytes(path).map_err(|source| not_read(path, source))
    }

    /// Opens a file of readings, of any size: whoever reads it keeps a part of it at a time.
    pub(crate) fn open(&self, path: &Path) -> Result<File, FileError> {
        self.read.borrow_mut().push(path.to_owned());
        open(path).map_err(|source| not_read(path, source))
    }

    /// Reads a bench sheet together with a run of this name whose readings are yet to come: the sheet's own, whose trace has none
    /// yet or still grows, or one more with the piston in this position. What is not given of that one is as the sheet's plan has it.
    pub(crate) fn sheet_with(
        &self,
        path: &Path,
        name: &str,
        piston: Option<&str>,
        growing: Option<&Path>,
    ) -> Result<(Sheet, Run), CommandError> {
        let mut bytes = self.bytes(path)?;
        let shown = path.display().to_string();
        let traces = Awaiting {
            folder: self.folder(path),
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
        let planned = sheet.plan.piston.map(|planned| planned.written());
        let piston = piston.or(planned.as_deref());
        if sheet.space.needs_piston() && piston.is_none() {
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
        // A dial of vacuum carries no sign; where the plan is one of vacuum nobody need be asked.
        let may_be_vacuum = Side::of(None, name, sheet.gauge_unit.symbol())
            .turns(1.0)
            .is_err();
        if may_be_vacuum && sheet.plan.direction == Some(Direction::Vacuum) {
            more.push_str("direction = \"vacuum\"\n");
        }
        bytes.extend_from_slice(more.as_bytes());
        match named(Sheet::from_bytes(&bytes, &shown, &traces)?) {
            (sheet, Some(run)) => Ok((sheet, run)),
            // A run's name is kept without the space around it, and as it may be shown.
            (_, None) => Err(FileError::Name {
                name: name.to_owned(),
            }
            .into()),
        }
    }

    /// Begins a file that is written whole or not at all.
    pub(crate) fn begin(&self, path: &Path) -> Result<WholeFile, FileError> {
        let file = WholeFile::new(path).map_err(|source| not_written(path, source))?;
        for read in self.read.borrow().iter() {
            match same_file::is_same_file(read, path) {
                Ok(false) => {}
                Ok(true) => {
                    return Err(FileError::Overwrites {
                        path: path.to_owned(),
                        read: read.clone(),
                    });
                }
                // What is not there yet is nothing that was read.
                Err(error) if error.kind() == io::ErrorKind::NotFound => {}
                Err(source) => return Err(not_written(path, source)),
            }
        }
        Ok(file)
    }

    /// Writes a file whole or not at all.
    pub(crate) fn write(&self, path: &Path, text: &str) -> Result<(), FileError> {
        let mut file = self.begin(path)?;
        file.write_all(text.as_bytes())
            .and_then(|()| file.finish())
            .map_err(|source| not_written(path, source))
    }
}

/// Stands for a trace that is not written yet; nobody looks at its readings.
const AWAITED: &[u8] = b"time_s,gauge_pa\n0,9000\n1,8000\n";

/// Traces of a bench sheet, of which some may be yet to come, and one may be growing.
struct Awaiting<'a> {
    folder: Folder,
    growing: Option<&'a Path>,
}

impl Traces for Awaiting<'_> {
    fn awaits(&self, file: &str) -> bool {
        let Ok(path) = self.folder.place(file) else {
            return false;
        };
        self.growing
            .is_some_and(|growing| is_same_path(growing, &path))
            || !path.exists()
            || holds_no_readings(&path)
    }

    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>> {
        if self.awaits(file) {
            return Ok(Box::new(AWAITED));
        }
        self.folder.open(file)
    }
}

fn is_same_path(one: &Path, other: &Path) -> bool {
    match (one.canonicalize(), other.canonicalize()) {
        (Ok(one), Ok(other)) => one == other,
        _ => one == other,
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

/// What kept a file from being read.
pub(crate) fn not_read(path: &Path, source: io::Error) -> FileError {
    FileError::Read {
        path: path.to_owned(),
        source,
    }
}

/// What kept a file from being written.
pub(crate) fn not_written(path: &Path, source: io::Error) -> FileError {
    FileError::Write {
        path: path.to_owned(),
        source,
    }
}
