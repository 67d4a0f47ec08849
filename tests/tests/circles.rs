//! No two files of a crate of the library need each other, on whatever way round.
//!
//! The sources are read as tokens. A name that a module only hands on counts for the file that it comes from, so that a `mod.rs` may
//! name its files and they each other, as long as none needs what the `mod.rs` itself defines and the other way round.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

mod sources;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use proc_macro2::{Group, TokenStream, TokenTree};

use sources::{
    CRATES, end_of_item, is_mark, is_path, is_test_attribute, is_word, modules_of, rust_files,
};

/// A file by the modules that lead to it.
type Module = Vec<String>;

/// What a file names.
#[derive(Debug, Default)]
struct File {
    /// What it brings in or hands on, by the name that it has here.
    brought: Vec<Brought>,
    /// Paths in its code.
    paths: Vec<Vec<String>>,
}

#[derive(Debug)]
struct Brought {
    path: Vec<String>,
    name: String,
    handed_on: bool,
}

#[test]
fn no_file_needs_one_that_needs_it() {
    for (sources, least) in CRATES.into_iter().zip([90, 110]) {
        let folder = Path::new(sources);
        let mut house = House::default();
        for file in rust_files(folder) {
            let text = fs::read_to_string(&file).unwrap();
            house.add(modules_of(file.strip_prefix(folder).unwrap()), &text);
        }
        let read = house.files.len();
        assert!(read > least, "{read} files in {sources}");
        assert_eq!(house.circle(), None, "{sources}");
    }
}

#[derive(Debug, Default)]
struct House {
    files: BTreeMap<Module, File>,
}

impl House {
    fn add(&mut self, module: Module, text: &str) {
        let file = self.files.entry(module).or_default();
        read(text.parse().unwrap(), file);
    }

    /// A way from a file back to itself, in words.
    fn circle(&self) -> Option<String> {
        let needs: BTreeMap<&Module, BTreeSet<Module>> = self
            .files
            .iter()
            .map(|(module, file)| (module, self.needs(module, file)))
            .collect();
        let mut done = BTreeSet::new();
        for module in self.files.keys() {
            if let Some(way) = way_back(module, &needs, &mut Vec::new(), &mut done) {
                let words: Vec<_> = way.iter().map(|module| module.join("::")).collect();
                return Some(words.join(" needs "));
            }
        }
        None
    }

    /// The files that one needs; `lib.rs`, which only hands on, is none.
    fn needs(&self, module: &Module, file: &File) -> BTreeSet<Module> {
        let brought = file.brought.iter().filter(|brought| !brought.handed_on);
        brought
            .map(|brought| &brought.path)
            .chain(&file.paths)
            .filter_map(|path| self.home(module, path, &mut BTreeSet::new()))
            .filter(|home| home != module && !home.is_empty())
            .collect()
    }

    /// The file that a path leads to, through names that are handed on; none for what is not the core's.
    fn home(
        &self,
        from: &Module,
        path: &[String],
        seen: &mut BTreeSet<(Module, String)>,
    ) -> Option<Module> {
        let first = path.first()?;
        let mut rest = path;
        let mut at = match first.as_str() {
            "crate" => Module::new(),
            "self" | "super" => from.clone(),
            _ => {
                let child = [from.clone(), vec![first.clone()]].concat();
                if !self.files.contains_key(&child) {
                    return None;
                }
                from.clone()
            }
        };
        while let [step, behind @ ..] = rest {
            match step.as_str() {
                "super" => drop(at.pop()),
                "crate" | "self" => {}
                _ => break,
            }
            rest = behind;
        }
        for (place, step) in rest.iter().enumerate() {
            let child = [at.clone(), vec![step.clone()]].concat();
            if self.files.contains_key(&child) {
                at = child;
                continue;
            }
            let handed_on = self.files.get(&at).and_then(|file| {
                file.brought
                    .iter()
                    .find(|brought| brought.name == *step)
                    .filter(|_| seen.insert((at.clone(), step.clone())))
            });
            return match handed_on {
                Some(brought) => {
                    let further = [brought.path.clone(), rest[place + 1..].to_vec()].concat();
                    self.home(&at, &further, seen)
                }
                None => Some(at),
            };
        }
        Some(at)
    }
}

fn way_back<'m>(
    module: &'m Module,
    needs: &'m BTreeMap<&Module, BTreeSet<Module>>,
    way: &mut Vec<&'m Module>,
    done: &mut BTreeSet<&'m Module>,
) -> Option<Vec<Module>> {
    if let Some(place) = way.iter().position(|other| *other == module) {
        let round = way[place..].iter().copied().chain([module]);
        return Some(round.cloned().collect());
    }
    if !done.insert(module) {
        return None;
    }
    way.push(module);
    for next in needs.get(module).into_iter().flatten() {
        let found = way_back(next, needs, way, done);
        if found.is_some() {
            return found;
        }
    }
    way.pop();
    None
}

fn read(stream: TokenStream, file: &mut File) {
    let tokens: Vec<_> = stream.into_iter().collect();
    let mut at = 0;
    let mut handed_on = false;
    while at < tokens.len() {
        if is_test_attribute(&tokens[at..]) {
            at = end_of_item(&tokens, at);
            continue;
        }
        match &tokens[at] {
            TokenTree::Ident(word) if word == "pub" => {
                handed_on = true;
                at += 1;
                continue;
            }
            // The brackets of `pub(crate)` or `pub(in crate::room)`, which need nothing.
            TokenTree::Group(brackets) if handed_on && is_visibility(brackets) => {
                at += 1;
                continue;
            }
            TokenTree::Ident(word) if word == "use" => {
                let end = tokens[at..]
                    .iter()
                    .position(|token| is_mark(Some(token), ';'))
                    .map_or(tokens.len(), |length| at + length);
                bring(&tokens[at + 1..end], &[], handed_on, &mut file.brought);
                at = end;
            }
            TokenTree::Ident(_) if is_path(&tokens, at + 1) => {
                let mut path = Vec::new();
                while let Some(TokenTree::Ident(step)) = tokens.get(at) {
                    path.push(step.to_string());
                    if !is_path(&tokens, at + 1) {
                        break;
                    }
                    at += 3;
                }
                file.paths.push(path);
            }
            TokenTree::Group(group) => read(group.stream(), file),
            _ => {}
        }
        handed_on = false;
        at += 1;
    }
}

fn is_visibility(brackets: &Group) -> bool {
    let first = brackets.stream().into_iter().next();
    ["crate", "super", "self", "in"]
        .iter()
        .any(|word| is_word(first.as_ref(), word))
}

/// The names of a tree of `use`.
fn bring(tree: &[TokenTree], before: &[String], handed_on: bool, out: &mut Vec<Brought>) {
    let mut path = before.to_vec();
    let mut name = None;
    let mut at = 0;
    while let Some(token) = tree.get(at) {
        match token {
            TokenTree::Ident(word) if word == "as" => {
                name = tree.get(at + 1).map(ToString::to_string);
                break;
            }
            TokenTree::Ident(word) => path.push(word.to_string()),
            TokenTree::Group(list) => {
                let list: Vec<_> = list.stream().into_iter().collect();
                for part in list.split(|token| is_mark(Some(token), ',')) {
                    if !part.is_empty() {
                        bring(part, &path, handed_on, out);
                    }
                }
                return;
            }
            _ => {}
        }
        at += 1;
    }
    if path.len() > 1 && path.last().is_some_and(|last| last == "self") {
        path.pop();
    }
    let name = name.or_else(|| path.last().cloned()).unwrap_or_default();
    out.push(Brought {
        path,
        name,
        handed_on,
    });
}

// The checker itself, so that it can't rot.

fn circle_of(files: &[(&str, &str)]) -> Option<String> {
    let mut house = House::default();
    house.add(Vec::new(), "mod a; mod b;");
    for (module, text) in files {
        house.add(module.split("::").map(String::from).collect(), text);
    }
    house.circle()
}

#[test]
fn a_circle_is_found_on_every_way() {
    for (one, other) in [
        ("use super::b::B;", "use super::a::A;"),
        ("use crate::b::B;", "fn f() { crate::a::A::new() }"),
        ("fn f() { g(super::b::B) }", "use crate::{a::{A, C}};"),
        ("use crate::handed::B;", "use super::a::A as X;"),
    ] {
        let files = [("a", one), ("b", other), ("handed", "pub use crate::b::B;")];
        let found = circle_of(&files);
        assert_eq!(found.as_deref(), Some("a needs b needs a"), "{one} {other}");
    }
}

#[test]
fn a_module_that_hands_on_is_no_circle() {
    let files = [
        (
            "a",
            "mod one; mod two; pub use one::One; use two::Two; fn f(two: Two) {}",
        ),
        (
            "a::one",
            "use super::Two; #[cfg(test)] mod tests { use super::super::f; }",
        ),
        (
            "a::two",
            "use std::fmt; use core::two::Two; pub(in crate::a) struct S { pub(in crate::a) x: u8 }",
        ),
    ];
    assert_eq!(circle_of(&files), None);
    let defines = [files[0], ("a::one", "use super::f;"), files[2]];
    assert_eq!(circle_of(&defines), None, "what is handed on is not needed");
    let needs = [
        ("a", "mod one; use one::One; fn f(one: One) {}"),
        ("a::one", "use super::f;"),
    ];
    assert_eq!(circle_of(&needs).as_deref(), Some("a needs a::one needs a"));
}
