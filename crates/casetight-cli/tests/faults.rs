//! What goes wrong around the program: a full disk, a reader that is gone, an input that can't be read, a kill that nobody can catch.
//! Source of what is right: a verdict is said whole or not at all, and a file is the old one or the new one.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{Read, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

use common::demo;

const PROGRAM: &str = env!("CARGO_BIN_EXE_casetight");
const SHEET: &str = "format = 1\n[volume]\nvalue = \"250 cm3\"\nuncertainty = \"3 cm3\"\n\
    [ambient]\npressure = \"101325 Pa\"\ntemperature = \"20 C\"\n[gauge]\nunit = \"kPa\"\nresolution = \"0.1 kPa\"\n\
    [limit]\nmax_drop = \"1 psi\"\nfrom = \"7 psi\"\nover = \"60 s\"\n";

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// A folder with a sheet and a file of so many runs.
fn batch_of(runs: usize) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("sheet.toml"), SHEET).unwrap();
    let mut text = "run,time_s,gauge_kpa\n".to_owned();
    for run in 0..runs {
        for (time, gauge) in [(0, 48.0), (30, 47.9), (60, 47.8), (90, 47.7)] {
            writeln!(text, "r{run},{time},{gauge}").unwrap();
        }
    }
    fs::write(folder.path().join("many.csv"), text).unwrap();
    folder
}

const BATCH: &str = "batch many.csv --sheet sheet.toml --out results.csv";

/// A command line in a shell that lets no file grow beyond so many blocks of 512 bytes: the next byte is refused, as on a full disk.
fn with_room(blocks: u32, line: &str, folder: &Path, input: &str) -> Output {
    let script = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"{PROGRAM}\" {line}");
    let mut child = Command::new("sh")
        .args(["-c", &script])
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // One that has ended reads no more.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    child.wait_with_output().unwrap()
}

fn said(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

#[cfg(target_os = "linux")]
#[test]
fn an_answer_that_does_not_fit_on_the_disk_is_no_verdict() {
    let sound = demo("mist-blower-14.toml");
    let commands: [&[&str]; 5] = [
        &["assess"],
        &["assess", "--json"],
        &["volume"],
        &["plan"],
        &["isolate"],
    ];
    for words in commands {
        let full = File::options().write(true).open("/dev/full").unwrap();
        let (command, more) = words.split_first().unwrap();
        let out = Command::new(PROGRAM)
            .arg(command)
            .arg(&sound)
            .args(more)
            .stdout(full)
            .output()
            .unwrap();
        let err = said(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{words:?}: {err}");
        assert_eq!(err.lines().count(), 1, "{words:?}: {err}");
        assert!(err.contains("No space left"), "{words:?}: {err}");
    }
}

#[test]
fn a_full_disk_leaves_the_old_file_and_nothing_beside_it() {
    let folder = batch_of(200);
    fs::write(folder.path().join("results.csv"), "of an earlier run").unwrap();
    fs::copy(
        demo("mist-blower-14.toml"),
        folder.path().join("engine.toml"),
    )
    .unwrap();
    fs::write(folder.path().join("page.html"), "of an earlier run").unwrap();
    let there = names(folder.path());
    for (line, file) in [
        (BATCH, "results.csv"),
        ("report engine.toml --out page.html", "page.html"),
        ("assess engine.toml --plot page.html", "page.html"),
    ] {
        for blocks in [0, 1, 4] {
            let out = with_room(blocks, line, folder.path(), "");
            let err = said(&out.stderr);
            assert_eq!(out.status.code(), Some(2), "{line}, {blocks}: {err}");
            assert!(
                err.contains(file) && out.stdout.is_empty(),
                "{line}, {blocks}: {err}"
            );
            let kept = fs::read_to_string(folder.path().join(file)).unwrap();
            assert_eq!(kept, "of an earlier run", "{line}, {blocks}");
            assert_eq!(names(folder.path()), there, "{line}, {blocks}");
        }
    }
}

/// What was answered stands in the trace; what could not be kept is not answered.
#[test]
fn a_live_run_on_a_full_disk_says_so_and_keeps_what_it_answered() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("sheet.toml"), SHEET).unwrap();
    let mut input = String::new();
    for second in 0..400 {
        writeln!(input, "{second},48.0").unwrap();
    }
    let line = "live sheet.toml --run held --json";
    let out = with_room(2, line, folder.path(), &input);
    let err = said(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{err}");
    assert!(!err.contains("panicked") && !err.is_empty(), "{err}");
    let traces: Vec<String> = names(folder.path())
        .into_iter()
        .filter(|name| name != "sheet.toml")
        .collect();
    let [trace] = traces.as_slice() else {
        panic!("{traces:?}");
    };
    let kept = fs::read_to_string(folder.path().join(trace)).unwrap();
    let whole = kept
        .lines()
        .filter(|line| line.starts_with(|c: char| c.is_ascii_digit()));
    let answered = said(&out.stdout).matches("\"reading\"").count();
    assert!(
        whole.count() >= answered && kept.len() <= 1024,
        "{answered} in {kept}"
    );
    // There is room again.
    let more = format!("live sheet.toml --resume {trace}");
    let out = with_room(2000, &more, folder.path(), "500,47.9\n501,47.9\n");
    assert_ne!(out.status.code(), Some(2), "{}", said(&out.stderr));
}

#[test]
fn a_reader_that_closed_the_pipe_had_what_it_wanted() {
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let out = Command::new(PROGRAM)
        .arg("assess")
        .arg(demo("mist-blower-14.toml"))
        .stdout(writer)
        .output()
        .unwrap();
    assert_eq!(
        (out.status.code(), said(&out.stderr).as_str()),
        (Some(0), "")
    );
    // Nobody hears the complaint, either; the code says it.
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let status = Command::new(PROGRAM)
        .args(["assess", "no such sheet"])
        .stderr(writer)
        .status();
    assert_eq!(status.unwrap().code(), Some(2));
}

/// A file may be there, be regular and still give nothing: a broken disk, a share that is gone.
#[test]
fn an_input_that_can_not_be_read_is_named_with_the_systems_reason() {
    use std::os::unix::fs::PermissionsExt;
    let folder = batch_of(1);
    let locked = folder.path().join("locked.toml");
    fs::write(&locked, SHEET).unwrap();
    fs::set_permissions(&locked, fs::Permissions::from_mode(0o000)).unwrap();
    let mut unreadable: Vec<PathBuf> = Vec::new();
    // Those who may do anything can read it.
    if File::open(&locked).is_err() {
        unreadable.push(locked);
    }
    // Regular by what the system says, and an error to read.
    let broken = Path::new("/proc/self/mem");
    if broken.is_file() {
        unreadable.push(broken.to_owned());
    }
    for path in unreadable {
        let name = path.to_str().unwrap();
        for line in [
            &["assess", name][..],
            &["report", name, "--out", "page.html"],
            &[
                "batch",
                name,
                "--sheet",
                "sheet.toml",
                "--out",
                "results.csv",
            ],
            &["batch", "many.csv", "--sheet", name, "--out", "results.csv"],
        ] {
            let out = Command::new(PROGRAM)
                .args(line)
                .current_dir(folder.path())
                .output()
                .unwrap();
            let err = said(&out.stderr);
            assert_eq!(out.status.code(), Some(2), "{line:?}: {err}");
            assert!(
                err.contains(name) && out.stdout.is_empty(),
                "{line:?}: {err}"
            );
            assert!(err.contains("os error"), "{line:?}: {err}");
        }
        assert_eq!(
            names(folder.path()),
            ["locked.toml", "many.csv", "sheet.toml"]
        );
    }
}

fn started(line: &str, folder: &Path) -> Child {
    Command::new(PROGRAM)
        .args(line.split(' '))
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// SIGKILL, which no program hears, at moments spread over the whole of a command: before it writes, while it does, as it moves the
/// file to its place, after that.
#[test]
fn a_kill_at_any_moment_leaves_the_old_file_or_the_new_one() {
    const KILLS: u32 = 16;
    let folder = batch_of(40);
    let results = folder.path().join("results.csv");
    let begun = Instant::now();
    assert!(started(BATCH, folder.path()).wait().unwrap().success());
    let takes = begun.elapsed();
    let new = fs::read(&results).unwrap();
    let (mut old_ones, mut new_ones) = (0, 0);
    for kill in 0..KILLS {
        fs::write(&results, "of an earlier run").unwrap();
        let mut child = started(BATCH, folder.path());
        std::thread::sleep(takes.mul_f64(1.2 * f64::from(kill) / f64::from(KILLS)));
        // It may have ended.
        let _ = child.kill();
        child.wait().unwrap();
        match fs::read(&results).unwrap() {
            text if text == new => new_ones += 1,
            text if text == b"of an earlier run" => old_ones += 1,
            text => panic!("neither old nor new: {} bytes", text.len()),
        }
    }
    assert!(old_ones > 0, "{old_ones} old, {new_ones} new");
    // What a killed one left beside it is in nobody's way.
    assert!(started(BATCH, folder.path()).wait().unwrap().success());
    assert_eq!(fs::read(&results).unwrap(), new);
}

/// The same while it is sure to be writing: its unfinished file is there.
#[test]
fn a_kill_while_it_writes_leaves_the_old_file() {
    let folder = batch_of(20_000);
    let results = folder.path().join("results.csv");
    fs::write(&results, "of an earlier run").unwrap();
    let there = names(folder.path()).len();
    let mut child = started(BATCH, folder.path());
    while names(folder.path()).len() == there {
        assert!(
            child.try_wait().unwrap().is_none(),
            "it ended before the kill"
        );
        std::thread::sleep(Duration::from_millis(5));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    let mut kept = String::new();
    File::open(&results)
        .unwrap()
        .read_to_string(&mut kept)
        .unwrap();
    assert_eq!(kept, "of an earlier run");
}
