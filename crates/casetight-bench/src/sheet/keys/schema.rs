//! The sheet's keys as a JSON Schema, by which an editor completes and checks a sheet as it is written.

use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

use super::entry::{Absent, Content, Entry, Value};

/// A JSON Schema (draft 2020-12) of the sheet; to be written by any serde format of JSON.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
#[serde(rename_all = "camelCase")]
pub struct Schema {
    #[serde(rename = "$schema", skip_serializing_if = "Option::is_none")]
    draft: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    title: Option<&'static str>,
    #[serde(skip_serializing_if = "String::is_empty")]
    description: String,
    #[serde(rename = "type", skip_serializing_if = "Vec::is_empty")]
    kinds: Vec<&'static str>,
    #[serde(rename = "const", skip_serializing_if = "Option::is_none")]
    only: Option<u32>,
    #[serde(rename = "enum", skip_serializing_if = "Vec::is_empty")]
    words: Vec<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    minimum: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    items: Option<Box<Schema>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    min_items: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    max_items: Option<usize>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    any_of: Vec<Schema>,
    #[serde(skip_serializing_if = "Vec::is_empty", serialize_with = "as_map")]
    properties: Vec<(&'static str, Schema)>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    required: Vec<&'static str>,
    #[serde(skip_serializing_if = "Vec::is_empty", serialize_with = "as_map")]
    dependent_required: Vec<(&'static str, Vec<&'static str>)>,
    #[serde(skip_serializing_if = "Option::is_none")]
    additional_properties: Option<Additional>,
}

/// What keys there may be beyond those that are known.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
enum Additional {
    None(bool),
    Of(Box<Schema>),
}

fn as_map<T: Serialize, S: Serializer>(
    pairs: &[(&'static str, T)],
    out: S,
) -> Result<S::Ok, S::Error> {
    let mut map = out.serialize_map(Some(pairs.len()))?;
    for (key, value) in pairs {
        map.serialize_entry(key, value)?;
    }
    map.end()
}

/// The schema of the whole sheet.
pub(in crate::sheet) fn schema(sheet: &Content) -> Schema {
    Schema {
        draft: Some("https://json-schema.org/draft/2020-12/schema"),
        title: Some("casetight bench sheet, format 1"),
        ..table(sheet)
    }
}

fn table(content: &Content) -> Schema {
    let described = |entry: &Entry| {
        let mut schema = of(&entry.value);
        match &entry.absent {
            _ if entry.what.is_empty() => {}
            Absent::Stands(words) => {
                schema.description = format!("{} Where it is not there: {words}.", entry.what);
            }
            _ => schema.description.clone_from(&entry.what),
        }
        (entry.key, schema)
    };
    let entries = &content.entries;
    let needed = entries
        .iter()
        .filter(|entry| entry.absent == Absent::Never && entry.beside.is_empty());
    let beside = entries.iter().filter(|entry| !entry.beside.is_empty());
    Schema {
        description: content.what.clone(),
        kinds: vec!["object"],
        properties: entries.iter().map(described).collect(),
        required: needed.map(|entry| entry.key).collect(),
        dependent_required: beside
            .map(|entry| (entry.key, entry.beside.clone()))
            .collect(),
        additional_properties: Some(Additional::None(false)),
        ..Schema::default()
    }
}

fn of(value: &Value) -> Schema {
    let kinds = |kinds: &[&'static str]| Schema {
        kinds: kinds.to_vec(),
        ..Schema::default()
    };
    match value {
        Value::Quantity { bare: false, .. } | Value::Text | Value::Date => kinds(&["string"]),
        Value::Quantity { bare: true, .. } | Value::Number | Value::Second => {
            kinds(&["number", "string"])
        }
        Value::Reading => of(&Value::Row(Box::new(Value::Second), 2)),
        Value::Whole { least } => Schema {
            minimum: Some(*least),
            ..kinds(&["integer", "string"])
        },
        Value::Column => Schema {
            minimum: Some(1),
            ..kinds(&["integer", "string"])
        },
        Value::Truth => kinds(&["boolean"]),
        Value::Format => Schema {
            only: Some(1),
            ..Schema::default()
        },
        Value::Words(words) => Schema {
            words: words.clone(),
            ..Schema::default()
        },
        Value::List(each) => Schema {
            items: Some(Box::new(of(each))),
            ..kinds(&["array"])
        },
        Value::Row(each, count) => Schema {
            items: Some(Box::new(of(each))),
            min_items: Some(*count),
            max_items: Some(*count),
            ..kinds(&["array"])
        },
        Value::Either(one, other) => Schema {
            any_of: vec![of(one), of(other)],
            ..Schema::default()
        },
        Value::Table(content) => table(content),
        Value::Named(content) => Schema {
            additional_properties: Some(Additional::Of(Box::new(table(content)))),
            ..kinds(&["object"])
        },
    }
}
