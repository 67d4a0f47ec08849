//! The folder of a bench sheet, and the traces that the sheet may name.

use std::cell::RefCell;
use std::io::{self, Read};
use std::path::{Component, Path, PathBuf};

use casetight_bench::sheet::Traces;

use crate::regular::{LARGEST_TRACE, open_capped};

/// The traces of a bench sheet: those below its folder, or, where that is allowed, anywhere.
///
/// A sheet may come from anybody. By itself it names relative paths that stay below its own folder, links followed; whoever
/// reads it says whether it may name others.
///
/// ```
/// use casetight_bench::sheet::Traces;
/// use casetight_files::Folder;
///
/// let place = tempfile::tempdir()?;
/// std::fs::write(place.path().join("pressure.csv"), "time_s,gauge_kpa\n0,48\n30,45\n")?;
/// let folder = Folder::of(&place.path().join("sheet.toml"));
/// assert!(folder.open("pressure.csv").is_ok());
/// assert!(folder.open("../pressure.csv").is_err());
/// # Ok::<(), std::io::Error>(())
/// ```
#[derive(Debug)]
pub struct Folder {
    beside: PathBuf,
    anywhere: bool,
    opened: RefCell<Vec<PathBuf>>,
}

impl Folder {
    /// The folder that a sheet lies in.
    #[must_use]
    pub fn of(sheet: &Path) -> Self {
        Self {
            beside: sheet.parent().unwrap_or(Path::new("")).to_owned(),
            anywhere: false,
            opened: RefCell::default(),
        }
    }

    /// Whether the sheet may name traces anywhere.
    #[must_use]
    pub fn with_traces_anywhere(mut self, anywhere: bool) -> Self {
        self.anywhere = anywhere;
        self
    }

    /// The place of a trace, which need not be there yet.
    ///
    /// # Errors
    /// [`io::ErrorKind::PermissionDenied`] for one that the sheet may not name; what the system says of its folder.
    pub fn place(&self, trace: &str) -> io::Result<PathBuf> {
        let path = self.beside.join(trace);
        if self.anywhere {
            return Ok(path);
        }
        // Nothing outside is as much as looked for.
        let below = |part| matches!(part, Component::Normal(_) | Component::CurDir);
        if !Path::new(trace).components().all(below) {
            return Err(outside());
        }
        // Where it is not there, its folder is what a link could lead away.
        let there = match path.canonicalize() {
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                folder_of(&path).canonicalize()?
            }
            there => there?,
        };
        if there.starts_with(folder_of(&self.beside.join("sheet")).canonicalize()?) {
            Ok(path)
        } else {
            Err(outside())
        }
    }

    /// Opens a trace.
    ///
    /// # Errors
    /// As [`Folder::place`] and [`open_capped`] with [`LARGEST_TRACE`].
    pub fn open_trace(&self, trace: &str) -> io::Result<impl Read + use<>> {
        let path = self.place(trace)?;
        let file = open_capped(&path, LARGEST_TRACE)?;
        self.opened.borrow_mut().push(path);
        Ok(file)
    }

    /// The traces that were opened.
    #[must_use]
    pub fn opened(self) -> Vec<PathBuf> {
        self.opened.into_inner()
    }
}

impl Traces for Folder {
    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>> {
        Ok(Box::new(self.open_trace(file)?))
    }
}

/// The folder that a file lies in; "." for a name alone.
#[must_use]
pub fn folder_of(path: &Path) -> &Path {
    path.parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
}

fn outside() -> io::Error {
    io::Error::new(
        io::ErrorKind::PermissionDenied,
        "it does not lie below the sheet's folder; move it there and name it from there, or allow traces anywhere",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_names_traces_below_its_own_folder_only() {
        let place = tempfile::tempdir().unwrap();
        let inner = place.path().join("sheets");
        std::fs::create_dir_all(inner.join("runs")).unwrap();
        for name in ["secret.csv", "sheets/a.csv", "sheets/runs/b.csv"] {
            std::fs::write(place.path().join(name), "time_s,gauge_kpa\n0,1\n").unwrap();
        }
        let folder = Folder::of(&inner.join("sheet.toml"));
        for inside in ["a.csv", "./a.csv", "runs/b.csv"] {
            assert!(folder.open_trace(inside).is_ok(), "{inside}");
        }
        assert!(folder.place("runs/yet-to-come.csv").is_ok());
        let absolute = inner.join("a.csv");
        let mut outside = vec!["../secret.csv", "runs/../../secret.csv", "runs/../a.csv"];
        outside.push(absolute.to_str().unwrap());
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink("../secret.csv", inner.join("link.csv")).unwrap();
            std::os::unix::fs::symlink("..", inner.join("up")).unwrap();
            outside.extend(["link.csv", "up/secret.csv", "up/yet-to-come.csv"]);
        }
        for name in outside {
            let kind = folder.place(name).map_err(|error| error.kind());
            assert_eq!(kind, Err(io::ErrorKind::PermissionDenied), "{name}");
        }
        assert_eq!(folder.opened().len(), 3);
        let anywhere = Folder::of(&inner.join("sheet.toml")).with_traces_anywhere(true);
        for name in ["../secret.csv", absolute.to_str().unwrap()] {
            assert!(anywhere.open_trace(name).is_ok(), "{name}");
        }
    }
}
