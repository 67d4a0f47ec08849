//! That the declared keys are those that are read and written.

use std::collections::BTreeSet;

use proptest::prelude::*;

use super::entry::{Content, Value};
use super::keyed::content;
use crate::sheet::Sheet;
use crate::sheet::methods::tests::EVERY;
use crate::sheet::tests::{FULL, MORE, parse};

/// Every key by its path, but for those of the user's own naming.
fn paths(content: &Content, path: &str, found: &mut BTreeSet<String>) {
    for entry in &content.entries {
        let path = format!("{path}.{}", entry.key);
        let inner = match &entry.value {
            Value::Table(inner) | Value::Named(inner) => Some(inner),
            Value::List(each) => match &**each {
                Value::Table(inner) => Some(inner),
                _ => None,
            },
            _ => None,
        };
        if let Some(inner) = inner {
            paths(inner, &path, found);
        }
        found.insert(path);
    }
}

/// The keys of a table of TOML by their paths.
fn written(table: &toml::Table, path: &str, found: &mut BTreeSet<String>) {
    for (key, value) in table {
        // A profile is named by the user.
        let path = if path == ".profiles" && value.is_table() {
            path.to_owned()
        } else {
            format!("{path}.{key}")
        };
        match value {
            toml::Value::Table(inner) => written(inner, &path, found),
            toml::Value::Array(list) => {
                for inner in list.iter().filter_map(toml::Value::as_table) {
                    written(inner, &path, found);
                }
            }
            _ => {}
        }
        found.insert(path);
    }
}

/// No key is declared without being read, nor read without being written again. Of what can be said in two ways, one is written.
#[test]
fn every_key_is_read_and_written() {
    let mut declared = BTreeSet::new();
    paths(&content::<Sheet>(), "", &mut declared);
    let (mut read, mut again) = (BTreeSet::new(), BTreeSet::new());
    for text in [FULL, EVERY].into_iter().chain(MORE) {
        let sheet = parse(text).unwrap();
        written(&text.parse().unwrap(), "", &mut read);
        written(&sheet.to_toml().unwrap().parse().unwrap(), "", &mut again);
    }
    let missing: Vec<_> = declared.difference(&read).collect();
    assert!(missing.is_empty(), "in no sheet of the tests: {missing:?}");
    let dial = [".gauge.division", ".gauge.readable"].map(str::to_owned);
    let lost: Vec<_> = declared
        .difference(&again)
        .filter(|key| !dial.contains(key))
        .collect();
    assert!(lost.is_empty(), "read and not written: {lost:?}");
}

proptest! {
    /// Whatever lines are left out: what is still read is written so that it reads equal.
    #[test]
    fn what_is_read_is_written_alike(which in 0_usize..2 + MORE.len(), out in prop::collection::btree_set(0_usize..110, 0..6)) {
        let all: Vec<&str> = [FULL, EVERY].into_iter().chain(MORE).collect();
        let lines = all[which].lines().enumerate();
        let left: Vec<&str> = lines.filter(|(place, _)| !out.contains(place)).map(|(_, line)| line).collect();
        if let Ok(sheet) = parse(&left.join("\n")) {
            let text = sheet.to_toml().unwrap();
            prop_assert_eq!(parse(&text), Ok(sheet), "{}", text);
        }
    }
}
