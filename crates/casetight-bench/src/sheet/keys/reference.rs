//! The sheet's keys as a page: a heading and a table of rows for each table of the sheet.

use super::entry::{Absent, Content, Value};

/// The page, in Markdown.
pub(in crate::sheet) fn page(sheet: &Content) -> String {
    let mut page =
        String::from("| key | what | value | where it is not there |\n|---|---|---|---|\n");
    rows(&mut page, sheet);
    sections(&mut page, sheet, "");
    page
}

/// The tables of a table, each under its own heading.
fn sections(page: &mut String, content: &Content, path: &str) {
    for entry in &content.entries {
        let path = match path {
            "" => entry.key.to_owned(),
            path => format!("{path}.{}", entry.key),
        };
        let (heading, inner) = match &entry.value {
            Value::Table(inner) if inner.inline => (format!("{} = {{ ... }}", entry.key), inner),
            Value::Table(inner) => (format!("[{path}]"), inner),
            Value::Named(inner) => (format!("[{path}.NAME]"), inner),
            Value::List(each) => match &**each {
                Value::Table(inner) if inner.inline => {
                    (format!("{} = [{{ ... }}, ...]", entry.key), inner)
                }
                Value::Table(inner) => (format!("[[{path}]]"), inner),
                _ => continue,
            },
            _ => continue,
        };
        let heading = format!("\n## `{heading}`\n");
        // What several tables hold is told once.
        if page.contains(&heading) {
            continue;
        }
        page.extend([&heading, "\n", &inner.what, "\n\n"]);
        page.push_str("| key | what | value | where it is not there |\n|---|---|---|---|\n");
        rows(page, inner);
        sections(page, inner, &path);
    }
}

/// The rows of the keys that are no tables.
fn rows(page: &mut String, content: &Content) {
    let mut entries = content.entries.iter().peekable();
    while let Some(entry) = entries.next() {
        let is_table = match &entry.value {
            Value::Table(inner) => !inner.inline,
            Value::Named(_) => true,
            Value::List(each) => matches!(&**each, Value::Table(inner) if !inner.inline),
            _ => false,
        };
        if is_table {
            continue;
        }
        // A value and its uncertainty share a row.
        let uncertainty = entries.next_if(|next| next.is_uncertainty);
        let mut absent = words(&entry.absent);
        let mut keys = format!("`{}`", entry.key);
        if let Some(uncertainty) = uncertainty {
            keys.extend([", `", uncertainty.key, "`"]);
            absent = match (absent.as_str(), words(&uncertainty.absent)) {
                (value, u) if value == u => value.to_owned(),
                ("", u) => format!("uncertainty: {u}"),
                (value, u) => format!("{value}; uncertainty: {u}"),
            };
        }
        let mut what = entry.what.clone();
        if let [partners @ .., last] = entry.beside.as_slice() {
            let partners: Vec<String> = partners.iter().map(|key| format!("`{key}`")).collect();
            let joined = [partners.as_slice(), &[format!("`{last}`")]]
                .concat()
                .join(" and ");
            what = format!("{what} With {joined} only.");
        }
        let row = [keys, what, shown(&entry.value), absent].map(|cell| cell.replace('|', "\\|"));
        page.extend(["| ", &row.join(" | "), " |\n"]);
    }
}

fn words(absent: &Absent) -> String {
    match absent {
        Absent::Never => "needed".to_owned(),
        Absent::Nothing => String::new(),
        Absent::Stands(words) => words.clone(),
    }
}

/// What a value looks like, in words.
fn shown(value: &Value) -> String {
    match value {
        Value::Quantity {
            dimension,
            bare: true,
        } => format!("{dimension}, or a number"),
        Value::Quantity { dimension, .. } => (*dimension).to_owned(),
        Value::Number => "number".to_owned(),
        Value::Second => "seconds or \"m:ss\"".to_owned(),
        Value::Reading => "`[seconds or \"m:ss\", number]`".to_owned(),
        Value::Whole { least } => format!("whole number from {least} on"),
        Value::Truth => "`true` or `false`".to_owned(),
        Value::Format => "`1`".to_owned(),
        Value::Text => "text".to_owned(),
        Value::Words(words) => {
            let words: Vec<String> = words.iter().map(|word| format!("`\"{word}\"`")).collect();
            words.join(", ")
        }
        Value::Column => "text or whole number".to_owned(),
        Value::Date => "date".to_owned(),
        Value::List(each) => format!("list of {}", shown(each)),
        Value::Row(each, count) => format!("`[{}]`", vec![shown(each); *count].join(", ")),
        Value::Either(one, other) => format!("{} or {}", shown(one), shown(other)),
        Value::Table(_) | Value::Named(_) => "table".to_owned(),
    }
}
