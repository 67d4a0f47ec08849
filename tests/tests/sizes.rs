//! Code of a size to read: no function and no file is longer than a reader holds in mind.
//!
//! The sources are read as tokens, so comments and strings can't look like the ends of functions.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

mod sources;

use std::fs;
use std::path::Path;

use proc_macro2::{Delimiter, TokenStream, TokenTree};

use sources::{ROOT, all_rust_files, is_mark, is_word};

/// Lines of a function, from its `fn` to its closing brace.
const LONGEST_FUNCTION: usize = 60;

/// Lines of a file.
const LONGEST_FILE: usize = 700;

/// What is read.
const FOLDERS: [&str; 4] = ["crates", "bindings", "tests", "benches"];

#[test]
fn no_function_and_no_file_is_longer_than_a_reader_holds_in_mind() {
    let root = Path::new(ROOT);
    let mut found = Vec::new();
    let mut read = 0;
    for file in FOLDERS
        .map(|folder| all_rust_files(&root.join(folder)))
        .concat()
    {
        let place = file.strip_prefix(root).unwrap();
        read += 1;
        let text = fs::read_to_string(&file).unwrap();
        found.extend(
            too_long(&text)
                .into_iter()
                .map(|words| format!("{}:{words}", place.display())),
        );
    }
    assert!(read > 300, "{read} files");
    assert!(found.is_empty(), "\n{}\n", found.join("\n"));
}

/// What of a file is too long, each behind its line.
fn too_long(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let lines = text.lines().count();
    if lines > LONGEST_FILE {
        found.push(format!(
            "1: the file has {lines} lines, more than {LONGEST_FILE}"
        ));
    }
    let mut functions = Vec::new();
    collect(text.parse().unwrap(), &mut functions);
    functions.retain(|function| function.lines() > LONGEST_FUNCTION);
    found.extend(functions.iter().map(|function| {
        format!(
            "{}: `{}` has {} lines, more than {LONGEST_FUNCTION}",
            function.first,
            function.name,
            function.lines()
        )
    }));
    found
}

struct Function {
    name: String,
    first: usize,
    last: usize,
}

impl Function {
    fn lines(&self) -> usize {
        self.last - self.first + 1
    }
}

/// Every function that has a body, those within others and within macros too.
fn collect(stream: TokenStream, functions: &mut Vec<Function>) {
    let tokens: Vec<_> = stream.into_iter().collect();
    for (at, token) in tokens.iter().enumerate() {
        if is_word(Some(token), "fn")
            && let Some(name) = name_at(&tokens, at + 1)
            && let Some(last) = last_line(&tokens[at..])
        {
            let first = token.span().start().line;
            functions.push(Function { name, first, last });
        }
        if let TokenTree::Group(group) = token {
            collect(group.stream(), functions);
        }
    }
}

/// A function's name, or what stands for it in a macro; none where a type of functions is meant.
fn name_at(tokens: &[TokenTree], at: usize) -> Option<String> {
    let at = at + usize::from(is_mark(tokens.get(at), '$'));
    match tokens.get(at) {
        Some(TokenTree::Ident(name)) => Some(name.to_string()),
        _ => None,
    }
}

/// The line of the brace that closes a function's body; none where it has none.
fn last_line(tokens: &[TokenTree]) -> Option<usize> {
    let end = tokens.iter().find_map(|token| match token {
        TokenTree::Group(group) if group.delimiter() == Delimiter::Brace => Some(Some(group)),
        mark => is_mark(Some(mark), ';').then_some(None),
    });
    end.flatten().map(|body| body.span_close().start().line)
}

// The checker itself, so that it can't rot.

/// A function of so many lines, the first of them the third of its file.
fn of_lines(count: usize) -> String {
    let body = "    a();\n".repeat(count - 2);
    format!("//! Doc.\n\npub(crate) fn long(x: u8) -> u8 {{\n{body}}}\n")
}

#[test]
fn a_line_too_many_is_named_with_its_place() {
    assert_eq!(too_long(&of_lines(60)), Vec::<String>::new());
    assert_eq!(
        too_long(&of_lines(61)),
        ["3: `long` has 61 lines, more than 60"]
    );
}

#[test]
fn a_file_too_long_is_named() {
    let lines = |count: usize| "// A line.\n".repeat(count);
    assert_eq!(too_long(&lines(700)), Vec::<String>::new());
    assert_eq!(
        too_long(&lines(701)),
        ["1: the file has 701 lines, more than 700"]
    );
}

#[test]
fn functions_are_found_wherever_they_stand() {
    let wraps = [
        ("mod tests {\n", "}\n"),
        ("impl<const N: usize> T for X<N> {\n#[inline]\n", "}\n"),
        ("proptest! {\n/// Doc.\n#[test]\n", "}\n"),
        ("fn outer() {\n", "}\n"),
    ];
    for (before, after) in wraps {
        let source = format!("{before}{}{after}", of_lines(61).replace("//! Doc.\n", ""));
        let found = too_long(&source);
        assert!(
            found
                .iter()
                .any(|words| words.contains("`long` has 61 lines")),
            "{before}: {found:?}"
        );
    }
    let by_macro = of_lines(61)
        .replace("//! Doc.\n", "")
        .replace("long", "$name");
    let found = too_long(&format!(
        "macro_rules! m {{ ($name:ident) => {{\n{by_macro}}} }}\n"
    ));
    assert!(found[0].contains("`name` has 61 lines"), "{found:?}");
}

#[test]
fn braces_in_strings_and_comments_are_no_ends() {
    for line in [
        "    a(\"}\", '}', r#\"}\"}\"#); // }\n",
        "    /* } /* } */ { */ a(\"{\");\n",
        "    if b { c(\"\n} \"); }\n",
    ] {
        let short = of_lines(10).replacen("    a();\n", line, 1);
        assert_eq!(too_long(&short), Vec::<String>::new(), "{line}");
        let long = of_lines(61).replacen("    a();\n", line, 1);
        assert_eq!(too_long(&long).len(), 1, "{line}");
    }
}

#[test]
fn what_has_no_body_has_no_length() {
    let blank = "\n".repeat(70);
    for source in [
        format!("trait T {{ fn f(&self); {blank} fn g(&self) {{}} }}"),
        format!("type F = fn(u8) -> u8; {blank} mod m {{}}"),
    ] {
        assert_eq!(too_long(&source), Vec::<String>::new(), "{source}");
    }
}
