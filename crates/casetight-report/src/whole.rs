//! Files that are written whole or not at all.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// A file that grows beside its place and is moved there when it is whole; dropped before, it leaves nothing.
///
/// An older file of its name stays as it was until then, whatever goes wrong.
///
/// ```
/// use std::io::Write;
///
/// use casetight_report::whole::WholeFile;
///
/// let folder = tempfile::tempdir()?;
/// let path = folder.path().join("page.html");
/// let mut file = WholeFile::new(&path)?;
/// file.write_all(b"<!DOCTYPE html>")?;
/// assert!(!path.exists());
/// file.finish()?;
/// assert_eq!(std::fs::read(&path)?, b"<!DOCTYPE html>");
/// # Ok::<(), std::io::Error>(())
/// ```
#[derive(Debug)]
pub struct WholeFile {
    path: PathBuf,
    file: io::BufWriter<tempfile::NamedTempFile>,
}

impl WholeFile {
    /// Begins a file that is to be at `path`.
    ///
    /// # Errors
    /// What the system says, of a folder that isn't there or can't be written in.
    pub fn new(path: &Path) -> io::Result<Self> {
        let folder = path
            .parent()
            .filter(|p| !p.as_os_str().is_empty())
            .unwrap_or(Path::new("."));
        let file = tempfile::NamedTempFile::new_in(folder)?;
        Ok(Self {
            path: path.to_owned(),
            file: io::BufWriter::with_capacity(1 << 16, file),
        })
    }

    /// Moves it to its place.
    ///
    /// # Errors
    /// What the system says: a full disk, a folder of that name. Nothing is left then.
    pub fn finish(self) -> io::Result<()> {
        let file = self
            .file
            .into_inner()
            .map_err(io::IntoInnerError::into_error)?;
        file.as_file().sync_all()?;
        // A temporary file is its owner's alone; a result is for those that the folder is for.
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            file.as_file()
                .set_permissions(std::fs::Permissions::from_mode(0o644))?;
        }
        file.persist(&self.path).map_err(|error| error.error)?;
        Ok(())
    }
}

impl Write for WholeFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail")]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_finished_leaves_nothing_and_the_old_file_stays() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page.html");
        std::fs::write(&path, "old").unwrap();
        let mut file = WholeFile::new(&path).unwrap();
        file.write_all(b"half").unwrap();
        drop(file);
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
        let nowhere = WholeFile::new(&folder.path().join("no/such/page.html"));
        assert_eq!(nowhere.unwrap_err().kind(), io::ErrorKind::NotFound);
    }

    #[test]
    fn a_folder_in_its_place_is_refused_and_nothing_is_left() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("taken");
        std::fs::create_dir(&path).unwrap();
        let file = WholeFile::new(&path).unwrap();
        assert!(file.finish().is_err());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
