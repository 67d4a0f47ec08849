//! Recordings of others whose leak is known, assessed from their sheets, as a Markdown table.
//!
//! `clean_room [FOLDER]`: those below another folder than `tests/data/open`, each in a folder with its `truth.toml`.
#![allow(clippy::print_stdout, reason = "a study prints its table")]

use casetight_tests::clean_room::{HEAD, assess, kept, recordings, row};

fn main() {
    let folder = std::env::args_os().nth(1).map_or_else(kept, Into::into);
    println!("{HEAD}");
    for recording in recordings(&folder) {
        println!("{}", row(&recording, &assess(&recording)));
    }
}
