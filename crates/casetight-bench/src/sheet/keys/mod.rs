//! A table of the sheet by one declaration: [`table!`] makes, from one line per key, the fields that hold what is said, the reader, the
//! writer, the keys that are known there, and their rows in the reference and the schema.
//!
//! A key's line is its name, the type of what it says and a rule: how a value is read and written ([`form`]), and what stands where the
//! key is not there ([`rule`]). Its comment is what the reference says of it.

pub(super) mod declare;
pub(super) mod elsewhere;
pub(super) mod entry;
pub(super) mod form;
pub(super) mod keyed;
pub(super) mod reference;
pub(super) mod rule;
pub(super) mod schema;
pub(super) mod stated;
#[cfg(test)]
mod tests;
pub(super) mod valued;
pub(super) mod writer;
