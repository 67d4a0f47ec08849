//! Files that are written whole or not at all.

use std::collections::BTreeSet;
use std::fs::{self, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use crate::folder::folder_of;

/// A chain of more links than this leads nowhere.
const LINKS: usize = 40;

/// A file that grows beside its place and is moved there when it is whole; dropped before, it leaves nothing.
///
/// An older file of its name stays as it was until then, whatever goes wrong, and the new one has its permissions; one of a new
/// name has those of any new file. Through a link the file that it leads to is replaced. Only a regular file is.
///
/// ```
/// use std::io::Write;
///
/// use casetight_files::whole::WholeFile;
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
    target: PathBuf,
    /// Those of the file that it replaces.
    permissions: Option<fs::Permissions>,
    file: io::BufWriter<tempfile::NamedTempFile>,
    // After the file, which is removed before it is forgotten.
    _named: Named,
}

impl WholeFile {
    /// Begins a file that is to be at `path`.
    ///
    /// # Errors
    /// What the system says, of a folder that isn't there or can't be written in, or of a file that can't be written;
    /// [`io::ErrorKind::InvalidInput`] where something other than a regular file has the name;
    /// [`io::ErrorKind::Interrupted`] after [`remove_unfinished`].
    pub fn new(path: &Path) -> io::Result<Self> {
        let target = followed(path)?;
        let permissions = replaced(&target)?;
        let mut builder = tempfile::Builder::new();
        builder.prefix(".casetight-");
        // Never open to more people than the file will be; what a new one may be is the user's setting's to narrow.
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let any = fs::Permissions::from_mode(0o666);
            builder.permissions(permissions.clone().unwrap_or(any));
        }
        let folder = folder_of(&target);
        let (named, file) =
            Named::of(|| builder.tempfile_in(folder)).map_err(|error| match error.kind() {
                kind @ io::ErrorKind::NotFound => {
                    io::Error::new(kind, "its folder is not there; make the folder first")
                }
                _ => error,
            })?;
        Ok(Self {
            target,
            permissions,
            file: io::BufWriter::with_capacity(1 << 16, file),
            _named: named,
        })
    }

    /// Moves it to its place.
    ///
    /// # Errors
    /// What the system says: a full disk. Nothing is left then.
    pub fn finish(self) -> io::Result<()> {
        let file = self
            .file
            .into_inner()
            .map_err(io::IntoInnerError::into_error)?;
        file.as_file().sync_all()?;
        if let Some(permissions) = self.permissions {
            file.as_file().set_permissions(permissions)?;
        }
        let unfinished = Unfinished::open()?;
        file.persist(&self.target).map_err(|error| error.error)?;
        drop(unfinished);
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

/// Where a path leads through links, which need not be there.
fn followed(path: &Path) -> io::Result<PathBuf> {
    let mut at = path.to_owned();
    for _ in 0..LINKS {
        match fs::symlink_metadata(&at) {
            Ok(about) if about.is_symlink() => at = folder_of(&at).join(fs::read_link(&at)?),
            _ => return Ok(at),
        }
    }
    Err(io::Error::new(
        io::ErrorKind::InvalidInput,
        "its links lead in a circle",
    ))
}

/// The permissions of the regular file that is to be replaced, which must be one that may be written; none where there is none.
fn replaced(target: &Path) -> io::Result<Option<fs::Permissions>> {
    let about = match fs::metadata(target) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        about => about?,
    };
    if !about.is_file() {
        return Err(io::Error::new(
            io::ErrorKind::InvalidInput,
            "this is a folder, a pipe or a device, and only a file is replaced",
        ));
    }
    OpenOptions::new().write(true).open(target)?;
    Ok(Some(about.permissions()))
}

/// Removes every file of this process that is not finished, for one that is about to end; no other is begun or finished after it.
pub fn remove_unfinished() {
    let mut unfinished = Unfinished::lock();
    unfinished.closed = true;
    for path in std::mem::take(&mut unfinished.paths) {
        // Whoever is asked to end can't do more about it.
        let _ = fs::remove_file(path);
    }
}

/// The files that grow.
#[derive(Debug)]
struct Unfinished {
    paths: BTreeSet<PathBuf>,
    closed: bool,
}

static UNFINISHED: Mutex<Unfinished> = Mutex::new(Unfinished {
    paths: BTreeSet::new(),
    closed: false,
});

impl Unfinished {
    fn lock() -> MutexGuard<'static, Self> {
        // A set of paths is whole whatever befell a thread that held it.
        UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn open() -> io::Result<MutexGuard<'static, Self>> {
        let unfinished = Self::lock();
        if unfinished.closed {
            return Err(io::ErrorKind::Interrupted.into());
        }
        Ok(unfinished)
    }
}

/// The name of a file that grows, kept as long as it does.
#[derive(Debug)]
struct Named(PathBuf);

impl Named {
    fn of(
        begin: impl FnOnce() -> io::Result<tempfile::NamedTempFile>,
    ) -> io::Result<(Self, tempfile::NamedTempFile)> {
        // Held while it begins, so that none is there unnamed.
        let mut unfinished = Unfinished::open()?;
        let file = begin()?;
        unfinished.paths.insert(file.path().to_owned());
        Ok((Self(file.path().to_owned()), file))
    }
}

impl Drop for Named {
    fn drop(&mut self) {
        Unfinished::lock().paths.remove(&self.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn write(path: &Path, text: &str) -> io::Result<()> {
        let mut file = WholeFile::new(path)?;
        file.write_all(text.as_bytes())?;
        file.finish()
    }

    #[test]
    fn what_is_not_finished_leaves_nothing_and_the_old_file_stays() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page.html");
        fs::write(&path, "old").unwrap();
        let mut file = WholeFile::new(&path).unwrap();
        file.write_all(b"half").unwrap();
        drop(file);
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        let nowhere = WholeFile::new(&folder.path().join("no/such/page.html"));
        assert_eq!(nowhere.unwrap_err().kind(), io::ErrorKind::NotFound);
    }

    #[test]
    fn a_folder_in_its_place_is_refused_and_nothing_is_left() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("taken");
        fs::create_dir(&path).unwrap();
        let kind = WholeFile::new(&path).unwrap_err().kind();
        assert_eq!(kind, io::ErrorKind::InvalidInput);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn only_a_regular_file_is_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let socket = folder.path().join("socket");
        let _bound = std::os::unix::net::UnixListener::bind(&socket).unwrap();
        for path in [&socket, Path::new("/dev/null")] {
            let kind = write(path, "new").unwrap_err().kind();
            assert_eq!(kind, io::ErrorKind::InvalidInput, "{}", path.display());
        }
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn through_a_link_its_file_is_replaced() {
        use std::os::unix::fs::symlink;
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at("kept")).unwrap();
        fs::write(at("kept/page.html"), "old").unwrap();
        symlink("kept/page.html", at("one")).unwrap();
        symlink("one", at("two")).unwrap();
        write(&at("two"), "new").unwrap();
        assert!(fs::symlink_metadata(at("two")).unwrap().is_symlink());
        assert_eq!(fs::read(at("kept/page.html")).unwrap(), b"new");
        // A link to a file that is not there yet.
        symlink("kept/other.html", at("three")).unwrap();
        write(&at("three"), "new").unwrap();
        assert_eq!(fs::read(at("kept/other.html")).unwrap(), b"new");
        symlink("round", at("round")).unwrap();
        assert!(write(&at("round"), "new").is_err());
    }

    #[cfg(unix)]
    #[test]
    fn permissions_stay_and_those_of_a_new_file_are_the_users() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let mode = |name: &str| fs::metadata(at(name)).unwrap().permissions().mode() & 0o777;
        for old in [0o600, 0o640, 0o666, 0o755] {
            fs::write(at("old"), "old").unwrap();
            fs::set_permissions(at("old"), fs::Permissions::from_mode(old)).unwrap();
            write(&at("old"), "new").unwrap();
            assert_eq!(mode("old"), old);
        }
        fs::write(at("usual"), "").unwrap();
        write(&at("new"), "new").unwrap();
        assert_eq!(mode("new"), mode("usual"));
    }
}
