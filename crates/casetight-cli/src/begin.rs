//! `casetight begin`: the questions of a new sheet, on a terminal.

use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};

use casetight::caution;
use casetight::quantity::ParseQuantityError;
use casetight_bench::begin::{Ask, Interview, Reply, TEMPLATE, Takes, Then};
use dialoguer::theme::SimpleTheme;
use dialoguer::{Input, Select};

use crate::brief::Manner;
use crate::files::{self, Files};
use crate::live::{self, Live};
use crate::words::{HEADING, WARNING, path as shown, wrapped};
use crate::{ALL_HOLD, Answer, CommandError, assess, interrupt};

/// What ends the questions before there is a sheet.
#[derive(Debug, thiserror::Error)]
pub(crate) enum BeginError {
    #[error("{}: is there already; give the new sheet another name", path.display())]
    IsThere { path: PathBuf },
    #[error("the terminal can't be asked, and nothing was written: {0}")]
    Terminal(#[from] dialoguer::Error),
    #[error(transparent)]
    Hold(#[from] ParseQuantityError),
}

/// How it is said that something is not known.
const UNKNOWN: &str = "?";
/// The same, to choose.
const UNKNOWN_CHOICE: &str = "don't know";

pub(crate) fn run(files: &Files, sheet: Option<&Path>) -> Result<Answer, CommandError> {
    if let Some(path) = sheet
        && path.exists()
    {
        let path = path.to_owned();
        return Err(BeginError::IsThere { path }.into());
    }
    if io::stdin().is_terminal() && io::stderr().is_terminal() {
        return interview(files, sheet);
    }
    let text = match sheet {
        None => TEMPLATE.to_owned(),
        Some(path) => {
            files.write(path, TEMPLATE)?;
            let file = shown(path);
            format!("{file} is a sheet to fill in; then: casetight assess {file}\n")
        }
    };
    Ok(Answer {
        text,
        exit: ALL_HOLD,
    })
}

fn interview(files: &Files, sheet: Option<&Path>) -> Result<Answer, CommandError> {
    // Whoever stops here gets the cursor back, which a list hides.
    interrupt::tell_first(|| {
        let _ = dialoguer::console::Term::stderr().show_cursor();
    });
    let mut interview = Interview::new();
    anstream::eprintln!(
        "{HEADING}A new sheet{HEADING:#}: Enter takes what stands in brackets, {UNKNOWN} says that you don't know; Ctrl-C leaves."
    );
    while let Some(ask) = interview.ask() {
        let reply = put(&ask).map_err(BeginError::Terminal)?;
        if let Err(refused) = interview.reply(reply.as_reply()) {
            anstream::eprint!(
                "{WARNING}{}{WARNING:#}",
                wrapped("  ", &format!("{refused}."))
            );
        }
    }
    let path = match sheet {
        Some(path) => path.to_owned(),
        None => free(&interview.file_stem())?,
    };
    finish(files, &interview, path)
}

/// Writes the sheet and goes on with it.
fn finish(files: &Files, interview: &Interview, path: PathBuf) -> Result<Answer, CommandError> {
    let file = shown(&path);
    let run = interview.run();
    let text = match interview.then() {
        Then::Hold => interview.sheet_with_trace(&files::trace_name(&path, run)),
        _ => interview.sheet(),
    };
    files.write(&path, &text)?;
    anstream::eprintln!("\nThe sheet is kept in {file}.\n");
    match interview.then() {
        Then::Assess => assess::run(files, &path, Manner::BRIEF, None),
        Then::Hold => {
            anstream::eprintln!(
                "Pump up, let the needle settle, and then type what the gauge shows, again and again.\n"
            );
            let live = Live::by_clock(path, run.to_owned()).map_err(BeginError::Hold)?;
            live::run(files, &live)
        }
        _ => {
            let text = format!(
                "{WARNING}Before pumping{WARNING:#}\n{}\nWhen you pump: casetight live {file} --run {run} --clock\n\
                 What to expect: casetight plan {file}\n",
                caution::BEFORE_PUMPING
                    .iter()
                    .map(|caution| wrapped("  ", caution))
                    .collect::<String>()
            );
            Ok(Answer {
                text,
                exit: ALL_HOLD,
            })
        }
    }
}

/// A reply of one's own.
enum Typed {
    Chosen(usize),
    Text(String),
    Unknown,
    Enough,
}

impl Typed {
    fn as_reply(&self) -> Reply<'_> {
        match self {
            Self::Chosen(at) => Reply::Chosen(*at),
            Self::Text(text) => Reply::Text(text),
            Self::Unknown => Reply::Unknown,
            Self::Enough => Reply::Enough,
        }
    }
}

/// Puts a question.
fn put(ask: &Ask) -> Result<Typed, dialoguer::Error> {
    if !ask.help.is_empty() {
        anstream::eprint!("{}", wrapped("  ", ask.help));
    }
    match &ask.takes {
        Takes::OneOf { words, usual } => {
            let unknown = ask.unknown.map(|then| format!("{UNKNOWN_CHOICE}: {then}"));
            let items: Vec<&str> = words.iter().copied().chain(unknown.as_deref()).collect();
            let at = Select::with_theme(&SimpleTheme)
                .with_prompt(&ask.question)
                .items(&items)
                .default(*usual)
                .interact()?;
            Ok(if at < words.len() {
                Typed::Chosen(at)
            } else {
                Typed::Unknown
            })
        }
        Takes::Words { usual } => written(ask, Some(usual), None),
        Takes::Quantity { unit, usual } => written(ask, *usual, Some(unit)),
        Takes::Reading { .. } => Ok(match written(ask, None, None)? {
            Typed::Text(text) if text.trim().is_empty() => Typed::Enough,
            typed => typed,
        }),
    }
}

/// What is typed on a line.
fn written(ask: &Ask, usual: Option<&str>, unit: Option<&str>) -> Result<Typed, dialoguer::Error> {
    let unit = match (usual, unit) {
        (None, Some(unit)) => format!(" ({unit})"),
        _ => String::new(),
    };
    let unknown = ask
        .unknown
        .map_or(String::new(), |then| format!(" ({UNKNOWN}: {then})"));
    let prompt = format!("{}{unit}{unknown}", ask.question);
    let input = Input::<String>::with_theme(&SimpleTheme)
        .with_prompt(prompt)
        .allow_empty(true);
    let input = match usual {
        Some(usual) => input.default(usual.to_owned()),
        None => input,
    };
    let text = input.interact_text()?;
    Ok(match (text.trim(), ask.unknown) {
        (UNKNOWN, Some(_)) => Typed::Unknown,
        _ => Typed::Text(text),
    })
}

/// Sheets of one machine that get a name by themselves.
const MOST_SHEETS: u32 = 1000;

/// A name that is not taken: "saw-7.toml", "saw-7-2.toml".
fn free(stem: &str) -> Result<PathBuf, BeginError> {
    let first = PathBuf::from(format!("{stem}.toml"));
    let others = (2..=MOST_SHEETS).map(|n| PathBuf::from(format!("{stem}-{n}.toml")));
    std::iter::once(first.clone())
        .chain(others)
        .find(|path| !path.exists())
        .ok_or(BeginError::IsThere { path: first })
}
