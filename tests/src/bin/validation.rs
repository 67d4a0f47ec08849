//! Writes the tables of the book's validation page and the figures of the theory manual; no file changes where the numbers
//! are the same.
#![allow(clippy::print_stdout, reason = "a study says what it wrote")]

use std::fs;
use std::io;

use casetight_tests::validation::Page;

fn main() -> io::Result<()> {
    let page = Page::here();
    fs::write(page.path(), Page::filled(&page.text()?))?;
    println!("{}", page.path().display());
    for (path, content) in page.figures() {
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder)?;
        }
        fs::write(&path, content)?;
        println!("{}", path.display());
    }
    Ok(())
}
