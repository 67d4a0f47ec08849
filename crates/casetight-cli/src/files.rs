//! Files in, and files out: whole or not at all.

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use casetight::sheet::{Sheet, Traces};

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
}

/// Traces beside a bench sheet.
struct Beside<'a>(&'a Path);

impl Traces for Beside<'_> {
    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>> {
        Ok(Box::new(File::open(self.0.join(file))?))
    }
}

/// Reads a bench sheet and the traces that it names, which lie beside it.
pub(crate) fn read_sheet(path: &Path) -> Result<Sheet, CommandError> {
    let bytes = std::fs::read(path).map_err(|source| FileError::Read {
        path: path.to_owned(),
        source,
    })?;
    let folder = path.parent().unwrap_or(Path::new(""));
    Ok(Sheet::from_bytes(
        &bytes,
        &path.display().to_string(),
        &Beside(folder),
    )?)
}

/// Writes a file whole or not at all: beside its place first, then moved there.
pub(crate) fn write_whole(path: &Path, text: &str) -> Result<(), FileError> {
    let folder = path
        .parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let written = || -> io::Result<()> {
        let mut file = tempfile::NamedTempFile::new_in(folder)?;
        file.write_all(text.as_bytes())?;
        file.as_file().sync_all()?;
        // A temporary file is its owner's alone; a result is for those that the folder is for.
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            file.as_file()
                .set_permissions(std::fs::Permissions::from_mode(0o644))?;
        }
        file.persist(path).map_err(|error| error.error)?;
        Ok(())
    };
    written().map_err(|source| FileError::Write {
        path: path.to_owned(),
        source,
    })
}
