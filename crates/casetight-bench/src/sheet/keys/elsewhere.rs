//! Where in a sheet a key is known.

use super::entry::{Content, Value};

/// The tables that know a key, as a sheet heads them, but for those by names of the user's.
pub(in crate::sheet) fn tables_of(key: &str, sheet: &Content) -> Vec<String> {
    let mut found = Vec::new();
    gather(key, sheet, "", &mut found);
    found.dedup();
    found
}

fn gather(key: &str, content: &Content, path: &str, found: &mut Vec<String>) {
    for entry in &content.entries {
        let path = match path {
            "" => entry.key.to_owned(),
            path => format!("{path}.{}", entry.key),
        };
        let (inner, heading) = match &entry.value {
            Value::Table(inner) if !inner.inline => (inner, format!("[{path}]")),
            Value::List(each) => match &**each {
                Value::Table(inner) if !inner.inline => (inner, format!("[[{path}]]")),
                _ => continue,
            },
            _ => continue,
        };
        if inner.entries.iter().any(|entry| entry.key == key) {
            found.push(heading);
        }
        gather(key, inner, &path, found);
    }
}
