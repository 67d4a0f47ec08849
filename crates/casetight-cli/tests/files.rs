//! What the program may read and replace, and what of a file's text reaches a terminal, a page or a table.
#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

const SHEET: &str = "format = 1\ntitle = \"files\"\n[volume]\nvalue = \"250 cm3\"\nuncertainty = \"3 cm3\"\n\
    [ambient]\npressure = \"101325 Pa\"\ntemperature = \"20 C\"\n[gauge]\nunit = \"kPa\"\nresolution = \"0.1 kPa\"\n";
const READINGS: &str = "readings = [[0, 48.0], [30, 45.1], [60, 42.3], [90, 40.0]]\n";
const TRACE: &str = "time_s,gauge_kpa\n0,48.0\n30,45.1\n60,42.3\n90,40.0\n";

struct Folder(tempfile::TempDir);

impl Folder {
    /// A folder with a sheet of one run.
    fn new() -> Self {
        let folder = Self(tempfile::tempdir().unwrap());
        folder.write(
            "sheet.toml",
            &format!("{SHEET}[[run]]\nname = \"pressure\"\n{READINGS}"),
        );
        folder
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn write(&self, name: &str, text: &str) {
        fs::write(self.path(name), text).unwrap();
    }

    fn text(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap()
    }

    fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.0.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    fn run(&self, arguments: &[&str]) -> (i32, String, String) {
        let out = Command::new(env!("CARGO_BIN_EXE_casetight"))
            .args(arguments)
            .current_dir(self.0.path())
            .stdin(Stdio::null())
            .output()
            .unwrap();
        (
            out.status.code().unwrap(),
            String::from_utf8(out.stdout).unwrap(),
            String::from_utf8(out.stderr).unwrap(),
        )
    }

    /// A sheet with a run of this trace.
    fn names_trace(&self, sheet: &str, trace: &str) {
        let run = format!("[[run]]\nname = \"logged\"\nfile = \"{trace}\"\n");
        self.write(sheet, &format!("{SHEET}{run}"));
    }
}

const BATCH: [&str; 6] = [
    "batch",
    "many.csv",
    "--sheet",
    "sheet.toml",
    "--out",
    "results.csv",
];

/// The commands that write a file, on a sheet, up to the file's name.
const WRITERS: [&[&str]; 3] = [
    &["report", "sheet.toml", "--out"],
    &["assess", "sheet.toml", "--plot"],
    &["report", "other.toml", "--before", "sheet.toml", "--out"],
];

#[test]
fn no_command_writes_over_what_it_reads() {
    let folder = Folder::new();
    folder.write("other.toml", &folder.text("sheet.toml"));
    let before = folder.text("sheet.toml");
    fs::hard_link(folder.path("sheet.toml"), folder.path("hard.toml")).unwrap();
    fs::create_dir(folder.path("sub")).unwrap();
    let mut names = vec!["sheet.toml", "./sub/../sheet.toml", "hard.toml"];
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("sheet.toml", folder.path("soft.toml")).unwrap();
        names.push("soft.toml");
    }
    let there = folder.names();
    for arguments in WRITERS {
        for name in &names {
            let (code, out, err) = folder.run(&[arguments, &[name]].concat());
            assert_eq!((code, out.as_str()), (2, ""), "{arguments:?} {name}");
            assert!(err.contains("would overwrite"), "{err}");
        }
    }
    assert_eq!(folder.text("sheet.toml"), before);
    assert_eq!(folder.text("hard.toml"), before);
    // A trace that the sheet names is read too.
    folder.write("logged.csv", TRACE);
    folder.names_trace("sheet.toml", "logged.csv");
    for arguments in WRITERS {
        let (code, _, err) = folder.run(&[arguments, &["logged.csv"]].concat());
        assert!(code == 2 && err.contains("would overwrite"), "{err}");
    }
    assert_eq!(folder.text("logged.csv"), TRACE);
    let mut now = there;
    now.push("logged.csv".to_owned());
    now.sort();
    assert_eq!(folder.names(), now);
}

#[test]
fn the_turn_of_a_running_engine_is_not_drawn_over_its_sheet() {
    let folder = Folder::new();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/demo");
    for (name, copy) in [
        ("ice-auger-7.toml", "auger.toml"),
        ("ice-auger-7-pressure.csv", "ice-auger-7-pressure.csv"),
        ("ice-auger-7-vacuum.csv", "ice-auger-7-vacuum.csv"),
    ] {
        fs::copy(demo.join(name), folder.path(copy)).unwrap();
    }
    let before = folder.text("auger.toml");
    let (code, _, err) = folder.run(&["running", "auger.toml", "--plot", "auger.toml"]);
    assert!(code == 2 && err.contains("would overwrite"), "{err}");
    assert_eq!(folder.text("auger.toml"), before);
    let (code, _, err) = folder.run(&["running", "auger.toml", "--plot", "turn.svg"]);
    assert_eq!(code, 0, "{err}");
}

#[cfg(unix)]
#[test]
fn only_a_regular_file_is_replaced_and_keeps_its_permissions() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new();
    folder.write("page.html", "old");
    fs::set_permissions(folder.path("page.html"), fs::Permissions::from_mode(0o640)).unwrap();
    std::os::unix::fs::symlink("page.html", folder.path("link.html")).unwrap();
    let (code, _, err) = folder.run(&["report", "sheet.toml", "--out", "link.html"]);
    assert_eq!(code, 3, "{err}");
    let about = fs::symlink_metadata(folder.path("link.html")).unwrap();
    assert!(about.is_symlink());
    let mode = |name: &str| {
        let about = fs::metadata(folder.path(name)).unwrap();
        about.permissions().mode() & 0o777
    };
    assert!(folder.text("page.html").starts_with("<!DOCTYPE html>"));
    assert_eq!(mode("page.html"), 0o640);
    // A new file is as open as the user's own setting has it.
    let program = env!("CARGO_BIN_EXE_casetight");
    for (umask, wanted) in [("077", 0o600), ("022", 0o644), ("002", 0o664)] {
        let _ = fs::remove_file(folder.path("new.svg"));
        let script = format!("umask {umask}; \"{program}\" assess sheet.toml --plot new.svg");
        let out = Command::new("sh")
            .args(["-c", &script])
            .current_dir(folder.0.path())
            .output()
            .unwrap();
        assert_eq!(out.status.code(), Some(3));
        assert_eq!(mode("new.svg"), wanted, "umask {umask}");
    }
    // Neither a pipe, a folder nor a device is replaced.
    fs::create_dir(folder.path("folder")).unwrap();
    let fifo = Command::new("mkfifo").arg(folder.path("pipe")).status();
    assert!(fifo.unwrap().success());
    for (name, wanted) in [
        ("folder", "only a file is replaced"),
        ("pipe", "only a file is replaced"),
        ("/dev/null", "only a file is replaced"),
        ("no/such/page.html", "nothing was left there"),
    ] {
        let (code, _, err) = folder.run(&["report", "sheet.toml", "--out", name]);
        assert!(code == 2 && err.contains(wanted), "{name}: {err}");
    }
    let left = folder.names();
    assert!(!left.iter().any(|name| name.starts_with('.')), "{left:?}");
}

/// What a terminal, a page or a spreadsheet would obey, or a reader take for a line of the answer's own.
fn obeyed(text: &str) -> Option<char> {
    text.chars().find(|c| {
        c.is_control() && *c != '\n'
            || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' | '\u{61c}' | '\u{2028}' | '\u{2029}')
    })
}

const COMMANDS: [&str; 6] = ["assess", "isolate", "volume", "plan", "running", "compare"];

#[test]
fn control_characters_of_a_sheet_are_shown_escaped() {
    let folder = Folder::new();
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/data/regressions");
    fs::copy(data.join("09-terminal-escapes.toml"), folder.path("a.toml")).unwrap();
    fs::copy(
        data.join("09b-line-break-fakes-a-verdict.toml"),
        folder.path("b.toml"),
    )
    .unwrap();
    let bidi = folder.text("b.toml").replace(
        "\\r\\nFAKE: holds, over 99.9 % sure\\nVERDICT: holds",
        "\\u202Esdloh\\u2066 \\u009B31m",
    );
    folder.write("c.toml", &bidi);
    for sheet in ["a.toml", "b.toml", "c.toml"] {
        for command in COMMANDS {
            for json in [&[][..], &["--json"]] {
                let mut arguments = vec![command, sheet];
                if command == "compare" {
                    arguments.push(sheet);
                }
                arguments.extend(json);
                let (_, out, err) = folder.run(&arguments);
                let said = format!("{out}{err}");
                assert_eq!(obeyed(&said), None, "{arguments:?}: {said:?}");
                let faked = |line: &str| line.starts_with("VERDICT") || line.starts_with("FAKE");
                assert!(!said.lines().any(faked), "{said}");
            }
        }
        let (code, out, err) = folder.run(&["report", sheet, "--out", "page.html"]);
        assert!(code != 2 && obeyed(&out).is_none(), "{out}{err}");
        let (_, _, err) = folder.run(&["assess", sheet, "--plot", "decay.svg"]);
        assert_eq!(err, "");
        for written in ["page.html", "decay.svg"] {
            assert_eq!(obeyed(&folder.text(written)), None, "{sheet}: {written}");
        }
    }
    let (_, out, _) = folder.run(&["assess", "b.toml"]);
    assert!(
        out.contains("good run\\r\\nFAKE: holds, over 99.9 % sure\\nVERDICT: holds"),
        "{out}"
    );
    let (_, out, _) = folder.run(&["assess", "a.toml"]);
    assert!(out.contains("\\u001B[2J"), "{out}");
}

#[test]
fn control_characters_of_keys_files_and_arguments_are_shown_escaped() {
    let folder = Folder::new();
    let evil = "\u{1b}[2J\u{9b}1m";
    let key = format!(
        "{SHEET}[[run]]\nname = \"a\"\n\"x\\u001b[2J\\u009b1m\\nVERDICT: holds\" = 1\n{READINGS}"
    );
    folder.write("key.toml", &key);
    folder.write(
        "unit.toml",
        &SHEET.replace("\"kPa\"\nres", "\"k\\u001b[2J\\nPa\"\nres"),
    );
    folder.write(
        "logged.csv",
        &format!("time_s,gauge_kpa\n0,48\n30,{evil}\n"),
    );
    folder.names_trace("trace.toml", "logged.csv");
    folder.write("syntax.toml", &format!("format = 1\n{evil} = \n"));
    let gone = format!("{evil}\nVERDICT: holds.toml");
    for arguments in [
        &["assess", "key.toml"][..],
        &["assess", "unit.toml"],
        &["assess", "trace.toml"],
        &["assess", "syntax.toml"],
        &["assess", &gone],
        &["report", "sheet.toml", "--out", &gone],
        &["live", "sheet.toml", "--run", &gone],
        &["live", "sheet.toml", "--marks", &gone],
    ] {
        let (_, out, err) = folder.run(arguments);
        assert_eq!(
            obeyed(&format!("{out}{err}")),
            None,
            "{arguments:?} {out:?}{err:?}"
        );
        assert!(
            !out.contains("\nVERDICT") && !err.contains("\nVERDICT"),
            "{out}{err}"
        );
    }
}

#[test]
fn cells_that_a_spreadsheet_would_reckon_are_guarded() {
    let folder = Folder::new();
    let mut file = "run,time_s,gauge_kpa\n".to_owned();
    let names = ["=HYPERLINK(1)", "+1", "-1", "@a", "plain", "\u{1b}[2Jx"];
    for name in names {
        for (time, gauge) in [(0, 48.0), (30, 45.1), (60, 42.3)] {
            writeln!(file, "\"{name}\",{time},{gauge}").unwrap();
        }
    }
    file.push_str("\"=bad\",0,\"=1+1\"\n");
    folder.write("many.csv", &file);
    let (code, _, err) = folder.run(&BATCH);
    assert_eq!(code, 3, "{err}");
    let results = folder.text("results.csv");
    assert_eq!(obeyed(&results), None);
    let mut read = csv::Reader::from_reader(results.as_bytes());
    let runs: Vec<String> = read
        .records()
        .map(|row| row.unwrap()[0].to_owned())
        .collect();
    assert_eq!(
        runs,
        [
            "'=HYPERLINK(1)",
            "'+1",
            "'-1",
            "'@a",
            "plain",
            "\\u001B[2Jx",
            "'=bad"
        ]
    );
    // Numbers below zero are numbers.
    for row in csv::Reader::from_reader(results.as_bytes()).records() {
        let row = row.unwrap();
        assert!(
            row.iter().all(|cell| !cell.starts_with(['=', '+', '@'])),
            "{row:?}"
        );
    }
}

#[test]
fn a_sheet_names_traces_below_its_folder_only() {
    let folder = Folder::new();
    fs::create_dir_all(folder.path("sheets/runs")).unwrap();
    folder.write("secret.csv", TRACE);
    folder.write("sheets/runs/logged.csv", TRACE);
    folder.names_trace("sheets/below.toml", "runs/logged.csv");
    let absolute = folder.path("secret.csv");
    folder.names_trace("sheets/climbs.toml", "../secret.csv");
    folder.names_trace(
        "sheets/absolute.toml",
        &absolute.display().to_string().replace('\\', "/"),
    );
    let (code, _, err) = folder.run(&["assess", "sheets/below.toml"]);
    assert_eq!(code, 3, "{err}");
    let mut outside = vec!["sheets/climbs.toml", "sheets/absolute.toml"];
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("../secret.csv", folder.path("sheets/link.csv")).unwrap();
        folder.names_trace("sheets/links.toml", "link.csv");
        outside.push("sheets/links.toml");
    }
    for sheet in outside {
        for command in COMMANDS.into_iter().filter(|c| *c != "compare") {
            let (code, out, err) = folder.run(&[command, sheet]);
            assert_eq!((code, out.as_str()), (2, ""), "{command} {sheet}");
            assert!(
                err.contains("does not lie below the sheet's folder"),
                "{err}"
            );
        }
        for arguments in [
            ["--traces-anywhere", "assess", sheet],
            ["assess", "--traces-anywhere", sheet],
        ] {
            let (code, _, err) = folder.run(&arguments);
            assert_eq!(code, 3, "{err}");
        }
    }
    // Nor does a live run begin one there.
    folder.names_trace("sheets/climbs.toml", "../new.csv");
    let (code, _, err) = folder.run(&["live", "sheets/climbs.toml", "--run", "logged"]);
    assert!(code == 2 && err.contains("does not lie below"), "{err}");
    assert!(!folder.path("new.csv").exists());
    folder.run(&[
        "live",
        "sheets/climbs.toml",
        "--run",
        "logged",
        "--traces-anywhere",
    ]);
    assert!(folder.path("new.csv").exists());
}

#[test]
fn errors_quote_nothing_of_a_file_that_is_no_trace() {
    let folder = Folder::new();
    folder.write(
        "secret",
        "hunter2:x:1000:1000:pass,phrase 4711:/home\nsecond hunter2 line\n",
    );
    let profile = "[profiles.any]\ntime = 1\npressure = 2\nheader = false\nseparator = \":\"\n";
    folder.names_trace("plain.toml", "secret");
    folder.names_trace("profile.toml", "secret");
    let text = folder
        .text("profile.toml")
        .replace("[[run]]", &format!("{profile}[[run]]"));
    let text = text.replace("file = ", "profile = \"any\"\nfile = ");
    folder.write("profile.toml", &text);
    folder.write(
        "named.toml",
        &text
            .replace("header = false", "header = true")
            .replace("time = 1", "time = \"t\""),
    );
    folder.write("pin", "4711\n");
    folder.names_trace("number.toml", "pin");
    for (sheet, secret) in [
        ("plain.toml", "hunter2"),
        ("profile.toml", "hunter2"),
        ("named.toml", "hunter2"),
        ("plain.toml", "phrase"),
        ("number.toml", "4711"),
    ] {
        let (code, _, err) = folder.run(&["assess", sheet]);
        assert_eq!(code, 2, "{err}");
        assert!(!err.contains(secret), "{err}");
        assert!(err.contains("line 1"), "{err}");
    }
    // What is a trace is quoted, so that it can be corrected.
    folder.write("secret", "time_s,gauge_kpa\n0,48.0\n30,4x.1\n");
    let (_, _, err) = folder.run(&["assess", "plain.toml"]);
    assert!(err.contains("`4x.1`"), "{err}");
    let (_, _, err) = folder.run(&["live", "sheet.toml", "--resume", "pin"]);
    assert!(
        err.contains("something else where") && !err.contains("4711"),
        "{err}"
    );
}

#[cfg(unix)]
#[test]
fn what_never_ends_is_refused() {
    let folder = Folder::new();
    let fifo = Command::new("mkfifo").arg(folder.path("pipe")).status();
    assert!(fifo.unwrap().success());
    folder.names_trace("of-pipe.toml", "pipe");
    folder.names_trace("of-device.toml", "/dev/zero");
    for arguments in [
        &["assess", "pipe"][..],
        &["assess", "/dev/zero"],
        &["assess", "."],
        &["assess", "of-pipe.toml"],
        &["assess", "of-device.toml", "--traces-anywhere"],
        &["live", "of-pipe.toml", "--run", "logged"],
        &["live", "sheet.toml", "--resume", "pipe"],
        &[
            "batch",
            "pipe",
            "--sheet",
            "sheet.toml",
            "--out",
            "results.csv",
        ],
        &[
            "batch",
            "/dev/zero",
            "--sheet",
            "sheet.toml",
            "--out",
            "results.csv",
        ],
    ] {
        let (code, out, err) = folder.run(arguments);
        assert_eq!((code, out.as_str()), (2, ""), "{arguments:?}");
        assert!(err.contains("not a file"), "{arguments:?}: {err}");
    }
    // More than any sheet has, though there is nothing on the disk.
    let large = fs::File::create(folder.path("large.toml")).unwrap();
    large.set_len(65 << 20).unwrap();
    let (code, _, err) = folder.run(&["assess", "large.toml"]);
    assert!(code == 2 && err.contains("larger than 64 MiB"), "{err}");
}

#[test]
fn names_beyond_any_are_refused() {
    let folder = Folder::new();
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/data/regressions");
    fs::copy(
        data.join("04-panic-isolate-site-name-65536.toml"),
        folder.path("site.toml"),
    )
    .unwrap();
    for command in ["isolate", "assess"] {
        let (code, _, err) = folder.run(&[command, "site.toml"]);
        assert_eq!(code, 2);
        assert!(err.contains("letters; write one of up to 200"), "{err}");
    }
    let long = "n".repeat(201);
    let sheet = folder.text("sheet.toml");
    for (from, to) in [
        ("name = \"pressure\"", format!("name = \"{long}\"")),
        ("title = \"files\"", format!("title = \"{long}\"")),
    ] {
        folder.write("long.toml", &sheet.replace(from, &to));
        let (code, _, err) = folder.run(&["assess", "long.toml"]);
        assert!(code == 2 && err.contains("a name of 201 letters"), "{err}");
    }
    let longest = "n".repeat(200);
    folder.write(
        "long.toml",
        &sheet.replace("\"pressure\"", &format!("\"{longest}\"")),
    );
    assert_eq!(folder.run(&["assess", "long.toml"]).0, 3);
}

#[test]
fn more_runs_or_parts_than_anyone_has_are_refused() {
    let folder = Folder::new();
    let mut many = SHEET.to_owned();
    for run in 0..200_000 {
        write!(
            many,
            "[[run]]\nname = \"r{run}\"\nreadings = [[0, 48], [9, 47]]\n"
        )
        .unwrap();
    }
    folder.write("runs.toml", &many);
    let (code, _, err) = folder.run(&["assess", "runs.toml"]);
    assert!(
        code == 2
            && err.contains("200000 runs; a sheet is the session of one engine, of up to 10000"),
        "{err}"
    );
    let mut parts = folder
        .text("sheet.toml")
        .replace("value = \"250 cm3\"\nuncertainty = \"3 cm3\"\n", "");
    for part in 0..201 {
        write!(parts, "[[volume.parts.piece]]\nname = \"p{part}\"\nshape = \"cylinder\"\ndiameter = \"10.0 mm\"\nlength = \"10.0 mm\"\n").unwrap();
    }
    folder.write("parts.toml", &parts);
    let (code, _, err) = folder.run(&["volume", "parts.toml"]);
    assert!(
        code == 2 && err.contains("201 pieces; a list has up to 200"),
        "{err}"
    );
}

#[cfg(unix)]
#[test]
fn a_signal_leaves_no_half_file() {
    use std::os::unix::process::ExitStatusExt;
    let folder = Folder::new();
    // So long a file of readings that the signal comes while it is read.
    let mut file = "run,time_s,gauge_kpa\n".to_owned();
    for run in 0..20_000 {
        for (time, gauge) in [(0, 48.0), (30, 45.1), (60, 42.3), (90, 40.0)] {
            writeln!(file, "r{run},{time},{gauge}").unwrap();
        }
    }
    folder.write("many.csv", &file);
    let there = folder.names();
    for (name, number) in common::ending_signals() {
        let mut child = Command::new(env!("CARGO_BIN_EXE_casetight"))
            .args(BATCH)
            .current_dir(folder.0.path())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        while folder.names() == there {
            assert!(
                child.try_wait().unwrap().is_none(),
                "it ended before the signal"
            );
            std::thread::sleep(std::time::Duration::from_millis(5));
        }
        let kill = Command::new("kill")
            .args([&format!("-{name}"), &child.id().to_string()])
            .status();
        assert!(kill.unwrap().success());
        let status = child.wait().unwrap();
        assert_eq!(status.signal(), Some(number), "{status}");
        assert_eq!(folder.names(), there, "{name}");
    }
}
