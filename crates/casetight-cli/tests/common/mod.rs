//! The program and its demo sheets, for all tests that run it.
#![allow(
    dead_code,
    reason = "each test program uses the part of this that it needs"
)]

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// A demo sheet.
pub(crate) fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../docs/demo")
        .join(name)
}

/// Signals that end a program, by name and number, without those that this test runs ignoring, as under `nohup`: its programs
/// ignore them too.
#[cfg(unix)]
pub(crate) fn ending_signals() -> Vec<(&'static str, i32)> {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    let ignored = mask.map_or(0, |mask| u64::from_str_radix(mask.trim(), 16).unwrap());
    let all = [("INT", 2), ("TERM", 15), ("HUP", 1)].into_iter();
    all.filter(|(_, number)| (ignored >> (number - 1)) & 1 == 0)
        .collect()
}

/// Exit code, standard output, standard error.
pub(crate) fn program<A: AsRef<OsStr>>(
    arguments: impl IntoIterator<Item = A>,
) -> (i32, String, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_casetight"))
        .args(arguments)
        .output()
        .unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (
        out.status.code().unwrap(),
        text(out.stdout),
        text(out.stderr),
    )
}

/// The program at work in a folder, its input and outputs to be written and read on the way.
pub(crate) fn started<A: AsRef<OsStr>>(
    folder: &Path,
    arguments: impl IntoIterator<Item = A>,
) -> Child {
    Command::new(env!("CARGO_BIN_EXE_casetight"))
        .args(arguments)
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Exit code and outputs of a command on a sheet.
pub(crate) fn on_sheet(command: &str, sheet: &Path, more: &[&str]) -> (i32, String, String) {
    let arguments = [OsStr::new(command), sheet.as_os_str()];
    program(arguments.into_iter().chain(more.iter().map(OsStr::new)))
}
