//! The command line's own description, as shell completions and man pages.

use std::path::{Path, PathBuf};

use clap::{Command, CommandFactory};
use clap_complete::Shell;

use crate::files::Files;
use crate::{ALL_HOLD, Answer, Arguments, CommandError, words};

/// The program's name on the command line.
const NAME: &str = "casetight";

/// What the pages are part of.
const MANUAL: &str = "casetight's commands";

/// Completions for a shell.
pub(crate) fn completions(shell: Shell) -> Answer {
    let mut bytes = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), NAME, &mut bytes);
    Answer {
        text: String::from_utf8_lossy(&bytes).into_owned(),
        exit: ALL_HOLD,
    }
}

/// Writes the man pages, one for the program and one for each command, into a folder.
pub(crate) fn man(files: &Files, folder: &Path) -> Result<Answer, CommandError> {
    let mut written = Vec::new();
    for (name, page) in pages()? {
        let path: PathBuf = folder.join(name);
        files.write(&path, &page)?;
        written.push(words::path(&path));
    }
    Ok(Answer {
        text: written.join("\n") + "\n",
        exit: ALL_HOLD,
    })
}

/// Names and texts of the pages.
fn pages() -> Result<Vec<(String, String)>, CommandError> {
    let mut program = Arguments::command();
    program.build();
    let commands = program
        .get_subcommands()
        .filter(|command| !command.is_hide_set() && command.get_name() != "help")
        .cloned();
    [program.clone()]
        .into_iter()
        .chain(commands)
        .map(page)
        .collect()
}

fn page(command: Command) -> Result<(String, String), CommandError> {
    let mut bytes = Vec::new();
    let man = clap_mangen::Man::new(command).source(NAME).manual(MANUAL);
    man.render(&mut bytes).map_err(CommandError::Manual)?;
    Ok((
        man.get_filename(),
        String::from_utf8_lossy(&bytes).into_owned(),
    ))
}
