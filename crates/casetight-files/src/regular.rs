//! Files that end: neither a pipe, which may never answer, nor a device, which may never stop.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// No bench sheet is larger \[bytes\].
pub const LARGEST_SHEET: u64 = 64 << 20;

/// No trace is larger \[bytes\]: ten million rows of a logger that fills hundreds of letters with each.
pub const LARGEST_TRACE: u64 = 4 << 30;

/// Opens a regular file, without waiting for anybody to write it.
///
/// # Errors
/// What the system says; [`io::ErrorKind::InvalidInput`] for what is no regular file.
pub fn open(path: &Path) -> io::Result<File> {
    // Asked before it is opened: opening a pipe waits for its writer.
    regular(&std::fs::metadata(path).map_err(not_there)?)?;
    let file = File::open(path)?;
    regular(&file.metadata()?)?;
    Ok(file)
}

/// What is not there is told in words of our own, which are the same on every system.
fn not_there(error: io::Error) -> io::Error {
    match error.kind() {
        kind @ io::ErrorKind::NotFound => io::Error::new(
            kind,
            "there is no file of this name here; is it spelled so, and in this folder?",
        ),
        _ => error,
    }
}

fn regular(about: &std::fs::Metadata) -> io::Result<()> {
    let what = if about.is_file() {
        return Ok(());
    } else if about.is_dir() {
        "a folder"
    } else {
        "a pipe or a device"
    };
    Err(io::Error::new(
        io::ErrorKind::InvalidInput,
        format!("this is {what}, not a file; what a pipe gives, write into a file first"),
    ))
}

/// Opens a regular file of which no more than `most` bytes are read.
///
/// # Errors
/// As [`open`], and [`io::ErrorKind::FileTooLarge`].
pub fn open_capped(path: &Path, most: u64) -> io::Result<Capped<File>> {
    let file = open(path)?;
    if file.metadata()?.len() > most {
        return Err(too_large(most));
    }
    Ok(Capped {
        source: file,
        left: most,
        most,
    })
}

/// The bytes of a bench sheet.
///
/// # Errors
/// As [`open_capped`] with [`LARGEST_SHEET`].
pub fn read_sheet_bytes(path: &Path) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open_capped(path, LARGEST_SHEET)?.read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// A source of so many bytes at most; one that has more is an error, not an end.
///
/// A file that says that it is small may grow, and some that the system makes up as they are read say nothing of their size.
#[derive(Debug)]
pub struct Capped<R> {
    source: R,
    left: u64,
    most: u64,
}

impl<R: Read> Read for Capped<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let got = self.source.read(into)?;
        self.left = self
            .left
            .checked_sub(got as u64)
            .ok_or_else(|| too_large(self.most))?;
        Ok(got)
    }
}

fn too_large(most: u64) -> io::Error {
    io::Error::new(
        io::ErrorKind::FileTooLarge,
        format!("it is larger than {} MiB", most >> 20),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_never_ends_is_refused_without_waiting() {
        let folder = tempfile::tempdir().unwrap();
        let kind = |path: &Path| open(path).unwrap_err().kind();
        assert_eq!(kind(folder.path()), io::ErrorKind::InvalidInput);
        assert_eq!(kind(&folder.path().join("none")), io::ErrorKind::NotFound);
        #[cfg(unix)]
        {
            assert_eq!(kind(Path::new("/dev/zero")), io::ErrorKind::InvalidInput);
            let socket = folder.path().join("socket");
            let _bound = std::os::unix::net::UnixListener::bind(&socket).unwrap();
            assert_eq!(kind(&socket), io::ErrorKind::InvalidInput);
        }
    }

    #[test]
    fn more_than_the_cap_is_an_error_whatever_the_size_said() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("sheet.toml");
        std::fs::write(&path, "0123456789").unwrap();
        let mut all = String::new();
        open_capped(&path, 10)
            .unwrap()
            .read_to_string(&mut all)
            .unwrap();
        assert_eq!(all, "0123456789");
        assert_eq!(
            open_capped(&path, 9).unwrap_err().kind(),
            io::ErrorKind::FileTooLarge
        );
        let mut grown = Capped {
            source: &b"0123456789"[..],
            left: 9,
            most: 9,
        };
        let error = grown.read_to_end(&mut Vec::new()).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::FileTooLarge);
    }
}
