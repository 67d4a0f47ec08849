//! `casetight`: bench sheets in, words, JSON and plots out.
#![forbid(unsafe_code)]

mod assess;
mod batch;
mod begin;
mod brief;
mod circumstances;
mod compare;
mod files;
mod interrupt;
mod isolate;
mod live;
mod manual;
mod narrowed;
mod plan;
mod report;
mod running;
mod volume;
mod words;

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use casetight::limit::Verdict;
use casetight_bench::compare::SheetsError;
use casetight_bench::printable;
use clap::{Parser, Subcommand};

use brief::Manner;
use files::Files;

/// All runs hold.
const ALL_HOLD: u8 = 0;
/// A run leaks.
const SOME_LEAK: u8 = 1;
/// The input is bad.
const BAD_INPUT: u8 = 2;
/// No run leaks, but not all hold: undecided, stalled, or not judged for want of a limit.
const NOT_DECIDED: u8 = 3;

/// Measures the leak of a two-stroke crankcase from the readings of a pressure or vacuum test.
#[derive(Debug, Parser)]
#[command(
    name = "casetight",
    version,
    after_help = "Exit code: 0 all runs hold, 1 a run leaks, 3 undecided, stalled or no limit stated, 2 bad input.\n\
                  Before any pressure or vacuum: ignition off and plug lead grounded, fuel drained, cold engine, eye \
                  protection, low regulated pressure only; the engine maker's manual comes first."
)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
    /// Let a sheet name traces anywhere, not only below its own folder.
    #[arg(long, global = true)]
    traces_anywhere: bool,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Asks what it needs for a first answer and writes a new sheet; on into the hold, if you like.
    ///
    /// Each question has something usual, and most a "don't know". Without a terminal it writes a sheet to fill in.
    #[command(
        after_help = "Examples: casetight begin\n          casetight begin clearing-saw-7.toml\n          \
                      casetight begin > to-fill-in.toml\n\n\
                      Exit code: of readings or a hold, that of assess or live; else 0; 2 where nothing could be written."
    )]
    Begin {
        /// The sheet to write, which is not there yet; named after the machine where it is left out.
        sheet: Option<PathBuf>,
    },
    /// Fits every run of a bench sheet, judges it against the sheet's limits, says what to do next.
    #[command(
        after_help = "Example: casetight assess docs/demo/mist-blower-14.toml --plot decay.svg"
    )]
    Assess {
        /// Bench sheet (TOML, format 1).
        sheet: PathBuf,
        #[command(flatten)]
        manner: Manner,
        /// Draw readings, fit, residuals and the straightened coordinate to this SVG file.
        #[arg(long, value_name = "FILE")]
        plot: Option<PathBuf>,
    },
    /// Fits and judges many runs from one CSV file, on one sheet's bench and limits.
    #[command(
        after_help = "Example: casetight batch readings.csv --sheet bench.toml --out results.csv\n\n\
                      Exit code: 0 all runs hold, 1 a run leaks, 2 the sheet or the file can't be read, 3 anything else: a \
                      run is undecided, can't be assessed (the column error says why), or no limit is stated."
    )]
    Batch(batch::Batch),
    /// Judges a run while it is held: readings on standard input, and the word when it may stop.
    #[command(
        after_help = "Readings are lines `time_s,gauge` in the run's unit, typed or piped from a logger; each is on the \
                      disk, in a trace beside the sheet, before it is used. However often it is looked at, a verdict is wrong \
                      in at most 5 % of tests.\n\n\
                      Examples:\n  casetight live bench.toml --run pressure --marks \"7, 6.75, 6.5, 6.25, 6\"\n  \
                      logger | casetight live bench.toml --run vacuum --json\n  \
                      casetight live bench.toml --run pressure --resume bench-pressure.csv\n\n\
                      Exit code: 0 holds, 1 leaks, 3 undecided or no limit stated, 2 bad input.\n\
                      Before any pressure or vacuum: ignition off and plug lead grounded, fuel drained, cold engine, eye \
                      protection, low regulated pressure only; the engine maker's manual comes first."
    )]
    Live(live::Live),
    /// Says before the test what it can show: strokes, settling, falls to expect, the least leak that can be told, the hold.
    ///
    /// The pressure, the hold, the pump and the piston come from `[plan]` of the sheet, else from its limits and runs, else
    /// from what is common practice. No readings are needed.
    #[command(
        after_help = "Example: casetight plan docs/demo/mist-blower-14.toml\n\nExit code: 0, or 2 for bad input."
    )]
    Plan {
        /// Bench sheet (TOML, format 1).
        sheet: PathBuf,
        #[command(flatten)]
        manner: Manner,
    },
    /// Estimates what the leak does to the mixture while the engine runs: air drawn in a turn, and how much leaner.
    ///
    /// An estimate, not a measurement: the pressure in the running case is computed from the engine's dimensions and from
    /// `[running]` of the sheet, else from what is typical.
    #[command(
        after_help = "Example: casetight running docs/demo/ice-auger-7.toml --plot turn.svg\n\nExit code: 0, or 2 for bad input."
    )]
    Running {
        /// Bench sheet (TOML, format 1) with the engine's dimensions and at least one run.
        sheet: PathBuf,
        #[command(flatten)]
        manner: Manner,
        /// Draw the pressure in the case over the crank angle to this SVG file.
        #[arg(long, value_name = "FILE")]
        plot: Option<PathBuf>,
    },
    /// Says whether a repair changed the leak, by how much, and whether that could be chance; or, over many sheets, whether
    /// it grows.
    #[command(
        after_help = "Examples: casetight compare docs/demo/mist-blower-9-before.toml docs/demo/mist-blower-9-repaired.toml\n          \
                      casetight compare --trend spring.toml summer.toml autumn.toml\n\
                      Exit code: 0 repaired (it holds now, or without a limit: it fell), 1 still leaks or leaks more, 3 can't be\n\
                      told, 2 bad input. With --trend: 0 no leak is shown to grow, 1 one grows, 3 too few tests tell a size."
    )]
    Compare(compare::Arguments),
    /// Writes one self-contained HTML page for the record: verdict, numbers, drawings, cautions, inputs; printable on one or
    /// two sheets of paper.
    #[command(
        after_help = "Example: casetight report docs/demo/mist-blower-9-repaired.toml --before docs/demo/mist-blower-9-before.toml --out mist-blower-9.html\n         \
                      casetight report docs/demo/mist-blower-14.toml --class --out handout.html\n\
                      Exit code: that of assess; of a handout 0."
    )]
    Report {
        /// Bench sheet (TOML, format 1).
        sheet: PathBuf,
        /// The page to write, whole or not at all.
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
        /// The bench sheet before a repair, to compare with.
        #[arg(long, value_name = "SHEET")]
        before: Option<PathBuf>,
        /// A handout for a class instead: what holes of known size do to the needle in the sheet's volume, beside its first run
        /// with readings.
        #[arg(long, conflicts_with = "before")]
        class: bool,
    },
    /// Shows the volume under test by each way that the sheet has, what they give together, what would narrow it most, and over a turn of
    /// the crank.
    #[command(
        after_help = "Example: casetight volume docs/demo/clearing-saw-5.toml\nThe keys of [volume] are in the book: \
                      docs/src/volume.md."
    )]
    Volume {
        /// Bench sheet (TOML, format 1).
        sheet: PathBuf,
        #[command(flatten)]
        manner: Manner,
    },
    /// Puts a sheet's runs together site by site: which place leaks, by how much, and what to blank or spray next.
    #[command(
        after_help = "Example: casetight isolate docs/demo/clearing-saw-5.toml\n\
                      Exit code: 0 every site that was open holds the sheet's limit, and so do all together; 1 a site is beyond it; \
                      3 undecided, or no limit stated; 2 bad input."
    )]
    Isolate {
        /// Bench sheet (TOML, format 1).
        sheet: PathBuf,
        #[command(flatten)]
        manner: Manner,
    },
    /// Prints completions of this command line for a shell.
    #[command(
        after_help = "Example: casetight completions bash > ~/.local/share/bash-completion/completions/casetight"
    )]
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
    /// Writes the man pages into a folder.
    #[command(hide = true, after_help = "Example: casetight man docs/man")]
    Man {
        /// The folder, which is there.
        folder: PathBuf,
    },
}

/// What a command hands back: what to print, and how to exit.
struct Answer {
    text: String,
    exit: u8,
}

/// The options by which a refusal to compare is answered.
fn options_for(refused: &SheetsError) -> &'static str {
    match refused {
        SheetsError::NoPairs => " (--run-before, --run-after)",
        _ => "",
    }
}

/// What can go wrong in a command.
#[derive(Debug, thiserror::Error)]
enum CommandError {
    #[error(transparent)]
    File(#[from] files::FileError),
    #[error(transparent)]
    Sheet(#[from] casetight_bench::sheet::SheetError),
    #[error("{file}: {source}")]
    Session {
        file: String,
        source: casetight_bench::session::SessionError,
    },
    #[error("{file}: {source}")]
    Locate {
        file: String,
        source: casetight_bench::locate::LocateError,
    },
    #[error("{file}: {source}")]
    OfSheet {
        file: String,
        source: casetight_bench::sheet::SheetError,
    },
    #[error("{file}: {source}")]
    Mixture {
        file: String,
        source: casetight_bench::mixture::MixtureError,
    },
    #[error(transparent)]
    Report(#[from] casetight_report::ReportError),
    #[error("{file}: {source}")]
    Handout {
        file: String,
        source: casetight_report::HandoutError,
    },
    #[error(transparent)]
    Leak(#[from] casetight::leak::LeakError),
    #[error(transparent)]
    Circumstances(#[from] circumstances::CircumstancesError),
    #[error(transparent)]
    Begin(#[from] begin::BeginError),
    #[error(transparent)]
    Batch(#[from] batch::BatchFileError),
    #[error(transparent)]
    Live(#[from] live::LiveError),
    #[error("{refused}{options}", refused = .0, options = options_for(.0))]
    Sheets(#[from] SheetsError),
    #[error(
        "compare takes two sheets, before and after, not {got}; with --trend it takes three or more"
    )]
    TwoSheets { got: usize },
    #[error(transparent)]
    Volume(#[from] casetight::volume::VolumeError),
    #[error("the result can't be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
    #[error("the man pages can't be made: {0}")]
    Manual(std::io::Error),
}

/// The exit code of a verdict.
fn exit_of(verdict: Option<Verdict>) -> u8 {
    match verdict {
        Some(Verdict::Holds) => ALL_HOLD,
        Some(Verdict::Leaks) => SOME_LEAK,
        _ => NOT_DECIDED,
    }
}

/// A document as the text of `--json`.
fn in_json(document: &impl serde::Serialize) -> Result<String, CommandError> {
    let mut text = serde_json::to_string_pretty(document)?;
    text.push('\n');
    Ok(text)
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    interrupt::listen();
    let files = &Files::new(arguments.traces_anywhere);
    let answer = match &arguments.command {
        Command::Begin { sheet } => begin::run(files, sheet.as_deref()),
        Command::Assess {
            sheet,
            manner,
            plot,
        } => assess::run(files, sheet, *manner, plot.as_deref()),
        Command::Batch(batch) => batch::run(files, batch),
        Command::Live(live) => live::run(files, live),
        Command::Completions { shell } => Ok(manual::completions(*shell)),
        Command::Man { folder } => manual::man(files, folder),
        Command::Plan { sheet, manner } => plan::run(files, sheet, *manner),
        Command::Running {
            sheet,
            manner,
            plot,
        } => running::run(files, sheet, *manner, plot.as_deref()),
        Command::Compare(arguments) => compare::run(files, arguments),
        Command::Report {
            sheet,
            out,
            class: true,
            ..
        } => report::class(files, sheet, out),
        Command::Report {
            sheet, out, before, ..
        } => report::run(files, sheet, out, before.as_deref()),
        Command::Volume { sheet, manner } => volume::run(files, sheet, *manner),
        Command::Isolate { sheet, manner } => isolate::run(files, sheet, *manner),
    };
    // A script for a shell is no text to read.
    let is_script = matches!(arguments.command, Command::Completions { .. });
    match answer {
        Ok(answer) if is_script => exit_after(&answer.text, answer.exit),
        Ok(answer) => exit_after(&words::styled(&answer.text), answer.exit),
        Err(error) => complain(&error),
    }
}

fn exit_after(text: &str, exit: u8) -> ExitCode {
    match anstream::stdout().write_all(text.as_bytes()) {
        // A reader that closed the pipe has what it wanted.
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => complain(&error),
        _ => ExitCode::from(exit),
    }
}

fn complain(error: &dyn std::error::Error) -> ExitCode {
    let style = words::WARNING;
    // Nothing is left to do where standard error is closed too.
    let error = error.to_string();
    let _ = writeln!(
        anstream::stderr(),
        "{style}casetight:{style:#} {}",
        printable::line(&error)
    );
    ExitCode::from(BAD_INPUT)
}
