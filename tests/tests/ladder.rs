//! The modules of each of the library's crates stand on a ladder: each uses only those above it in `lib.rs`.
//!
//! The sources are read as tokens, so comments, doc examples and strings can neither break the rule nor hide a breach.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

mod sources;

use std::fs;
use std::path::Path;

use proc_macro2::{Delimiter, TokenStream, TokenTree};

use sources::{
    CRATES, end_of_item, is_mark, is_path, is_test_attribute, is_word, modules_of, rust_files,
};

#[test]
fn each_module_uses_only_those_above_it() {
    for sources in CRATES {
        each_uses_only_those_above(Path::new(sources));
    }
}

fn each_uses_only_those_above(core: &Path) {
    let ladder = ladder(&fs::read_to_string(core.join("lib.rs")).unwrap());
    let mut breaches = Vec::new();
    let mut read = 0;
    for file in rust_files(core) {
        let place = file.strip_prefix(core).unwrap();
        let modules = modules_of(place);
        // `lib.rs` itself may re-export from every rung.
        let Some(module) = modules.first() else {
            continue;
        };
        read += 1;
        let source = fs::read_to_string(&file).unwrap();
        breaches.extend(
            breaches_of(&ladder, module, modules.len(), &source)
                .into_iter()
                .map(|breach| format!("{}:{breach}", place.display())),
        );
    }
    assert!(
        read >= ladder.len(),
        "{read} files for {} modules",
        ladder.len()
    );
    assert!(breaches.is_empty(), "\n{}\n", breaches.join("\n"));
}

/// The core's modules in the order in which `lib.rs` names them.
fn ladder(lib: &str) -> Vec<String> {
    let tokens: Vec<_> = lib.parse::<TokenStream>().unwrap().into_iter().collect();
    let mut names = Vec::new();
    let mut at = 0;
    while at < tokens.len() {
        if is_test_attribute(&tokens[at..]) {
            at = end_of_item(&tokens, at);
            continue;
        }
        if is_word(tokens.get(at), "mod")
            && let Some(TokenTree::Ident(name)) = tokens.get(at + 1)
        {
            names.push(name.to_string());
        }
        at += 1;
    }
    names
}

/// What `source`, a file `depth` modules below the crate's root and part of the top module `module`, uses that it must not.
fn breaches_of(ladder: &[String], module: &str, depth: usize, source: &str) -> Vec<String> {
    let rung = |name: &str| ladder.iter().position(|other| other == name);
    let Some(own) = rung(module) else {
        return vec![format!("1: `lib.rs` does not name the module `{module}`")];
    };
    let mut reaches = Vec::new();
    collect(source.parse().unwrap(), depth, &mut reaches);
    reaches
        .into_iter()
        .filter_map(|Reach { line, name }| match rung(&name) {
            Some(other) if other <= own => None,
            Some(_) => Some(format!(
                "{line}: `{module}` uses `{name}`, which stands below it in `lib.rs`"
            )),
            None => Some(format!(
                "{line}: `{module}` uses `{name}` from the crate's root; name the module that it comes from"
            )),
        })
        .collect()
}

/// A path that starts at the crate's root: the first name on it, and where.
struct Reach {
    line: usize,
    name: String,
}

fn collect(stream: TokenStream, depth: usize, reaches: &mut Vec<Reach>) {
    let tokens: Vec<_> = stream.into_iter().collect();
    let mut at = 0;
    while at < tokens.len() {
        if is_test_attribute(&tokens[at..]) {
            at = end_of_item(&tokens, at);
            continue;
        }
        match &tokens[at] {
            TokenTree::Ident(word) if word == "crate" && is_path(&tokens, at + 1) => {
                push_names(tokens.get(at + 3), reaches);
                at += 3;
            }
            TokenTree::Ident(word) if word == "super" => {
                let mut ups = 0;
                while is_word(tokens.get(at), "super") && is_path(&tokens, at + 1) {
                    ups += 1;
                    at += 3;
                }
                if ups == 0 {
                    at += 1; // `pub(super)`
                } else if ups >= depth {
                    push_names(tokens.get(at), reaches);
                }
            }
            TokenTree::Ident(word) if word == "mod" => {
                // An inline module: `super` reaches one step less far in it.
                match tokens.get(at + 2) {
                    Some(TokenTree::Group(body)) if body.delimiter() == Delimiter::Brace => {
                        collect(body.stream(), depth + 1, reaches);
                        at += 3;
                    }
                    _ => at += 1,
                }
            }
            TokenTree::Group(group) => {
                collect(group.stream(), depth, reaches);
                at += 1;
            }
            _ => at += 1,
        }
    }
}

/// The names that stand behind `crate::`: one, a braced list, or a star.
fn push_names(token: Option<&TokenTree>, reaches: &mut Vec<Reach>) {
    match token {
        Some(TokenTree::Group(list)) => {
            let mut first = true;
            for token in list.stream() {
                if first {
                    push_names(Some(&token), reaches);
                }
                first = is_mark(Some(&token), ',');
            }
        }
        Some(token) => reaches.push(Reach {
            line: token.span().start().line,
            name: token.to_string(),
        }),
        None => {}
    }
}

// The checker itself, so that it can't rot: three rungs, seen from the middle one.

fn from_the_middle(source: &str) -> Vec<String> {
    let rungs = ["low", "middle", "high"].map(String::from);
    breaches_of(&rungs, "middle", 1, source)
}

#[test]
fn the_order_is_that_of_lib_rs() {
    let lib = "//! mod no;\n#![forbid(unsafe_code)]\nmod low;\n\n/// Doc: mod no;\npub mod middle;\n// mod no;\n#[cfg(test)]\nmod no;\npub(crate) mod high { mod no; }\npub use high::Thing;\n";
    assert_eq!(ladder(lib), ["low", "middle", "high"]);
}

#[test]
fn rungs_above_and_its_own_are_free() {
    let source = "use crate::low::{A, B};\nuse crate::{low, middle::C};\nuse super::low::D;\nuse std::fmt;\npub(crate) fn f() -> crate::low::E { self::g() }\npub(in crate::middle) struct S;";
    assert_eq!(from_the_middle(source), Vec::<String>::new());
}

#[test]
fn every_way_down_is_found() {
    for source in [
        "use crate::high::Thing;",
        "use crate::high;",
        "use crate::{low::A, high::{B, C}};",
        "use super::high::Thing;",
        "use super::{low, high as h};",
        "fn f() { let x = crate::high::value(); }",
        "fn f() { println!(\"{}\", crate::high::value()); }",
        "macro_rules! m { () => { $crate::high::value() }; }",
        "mod inner { use super::super::high::Thing; }",
        "impl crate :: high :: T for X {}",
        "#[cfg(test)]\nmod tests { }\nuse crate::high::Thing;",
    ] {
        let found = from_the_middle(source);
        assert_eq!(found.len(), 1, "{source}: {found:?}");
        assert!(found[0].contains("`middle` uses `high`"), "{found:?}");
    }
}

#[test]
fn a_breach_is_found_at_its_line() {
    assert_eq!(
        from_the_middle("//! One.\n\nuse crate::low;\nuse crate::high;\n"),
        ["4: `middle` uses `high`, which stands below it in `lib.rs`"]
    );
}

#[test]
fn the_root_is_no_detour() {
    for source in ["use crate::Thing;", "use crate::*;", "use super::Thing;"] {
        let found = from_the_middle(source);
        assert_eq!(found.len(), 1, "{source}");
        assert!(found[0].contains("from the crate's root"), "{found:?}");
    }
}

#[test]
fn comments_strings_and_test_code_are_free() {
    for source in [
        "// use crate::high;\n/* crate::high /* super::high */ */",
        "//! [`Thing`](crate::high::Thing)\n\n/// ```\n/// use crate::high;\n/// ```\nfn f() {}",
        "const A: &str = \"use crate::high;\"; const B: &str = r#\"crate::high\"#;",
        "#[cfg(test)]\nmod tests {\n    use super::*;\n    use crate::high::Thing;\n}",
        "#[cfg(test)]\n#[allow(unused)]\nuse crate::high::Thing;\nfn f() {}",
        "#[cfg(all(test, feature = \"serde\"))]\nmod tests { use crate::high; }",
        "#![cfg(test)]\nuse crate::high;\nuse crate::high::Thing;",
        "mod inner { use super::own; pub(super) struct S; }",
        "fn high<'a>(x: &'a str) -> char { 'c' }",
    ] {
        assert_eq!(from_the_middle(source), Vec::<String>::new(), "{source}");
    }
}

#[test]
fn a_file_deeper_down_reaches_less_far() {
    let rungs = ["low", "middle", "high"].map(String::from);
    let deep = |source| breaches_of(&rungs, "middle", 2, source);
    assert!(deep("use super::high;").is_empty());
    assert_eq!(deep("use super::super::high;").len(), 1);
}

#[test]
fn a_module_without_a_rung_is_named() {
    let rungs = ["low".to_owned()];
    assert_eq!(
        breaches_of(&rungs, "lost", 1, ""),
        ["1: `lib.rs` does not name the module `lost`"]
    );
}

#[test]
fn files_know_their_modules() {
    for (place, modules) in [
        ("lib.rs", &[][..]),
        ("gas.rs", &["gas"]),
        ("leak/mod.rs", &["leak"]),
        ("leak/orifice.rs", &["leak", "orifice"]),
    ] {
        assert_eq!(modules_of(Path::new(place)), modules);
    }
}
