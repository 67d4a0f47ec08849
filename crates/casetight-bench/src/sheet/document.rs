//! A TOML document whose every value knows its key and its place.

use std::borrow::Cow;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::meant::{near, other_word};
use super::syntax::{Advice, advice};
use super::{LONGEST_NAME, Position, Problem, SheetError};
use crate::printable;
use crate::record::Column;
use casetight::below::bare_number;
use casetight::quantity::{ParseQuantityError, Time, TradeUnits};
use uom::si::time::second;

/// The TOML reader's words for a key or a table that is there already.
const DUPLICATE: &str = "duplicate key";

/// The text of a sheet.
pub(super) struct Source<'s> {
    pub(super) file: &'s str,
    pub(super) text: &'s str,
}

impl<'s> Source<'s> {
    pub(super) fn document(&self) -> Result<Spanned<DeTable<'s>>, SheetError> {
        DeTable::parse(self.text).map_err(|error| self.not_toml(&error))
    }

    /// What is no TOML, in words that tell what was likely meant.
    fn not_toml(&self, error: &toml::de::Error) -> SheetError {
        let span = error.span().unwrap_or_default();
        let said = error.message().trim().replace('\n', "; ");
        let (message, start) = match advice(self.text, span.start) {
            _ if said == DUPLICATE => {
                let key = self.text.get(span.clone()).unwrap_or_default();
                (
                    format!("`{key}` stands here for the second time; keep one of the two"),
                    span.start,
                )
            }
            Some((Advice { why, write }, start)) if write.is_empty() => (why.to_owned(), start),
            Some((Advice { why, write }, start)) => (format!("{why}; write `{write}`"), start),
            None => (said, span.start),
        };
        let position = self.position(&(start..start));
        SheetError::new(self.file, "", Some(position), Problem::Syntax { message })
    }

    fn position(&self, span: &Range<usize>) -> Position {
        let before = self.text.get(..span.start).unwrap_or(self.text);
        let line = before.rsplit('\n').next().unwrap_or_default();
        Position {
            line: 1 + before.matches('\n').count(),
            column: 1 + line.chars().count(),
        }
    }
}

/// A value with its key's path.
pub(super) struct Item<'s> {
    source: &'s Source<'s>,
    path: String,
    value: &'s Spanned<DeValue<'s>>,
}

impl<'s> Item<'s> {
    pub(super) fn error(&self, problem: impl Into<Problem>) -> SheetError {
        let position = self.source.position(&self.value.span());
        SheetError::new(self.source.file, &*self.path, Some(position), problem)
    }

    pub(super) fn of<T, E: Into<Problem>>(&self, result: Result<T, E>) -> Result<T, SheetError> {
        result.map_err(|problem| self.error(problem))
    }

    /// The path of its key.
    pub(super) fn path(&self) -> &str {
        &self.path
    }

    pub(super) fn wrong_type(&self, expected: &str) -> SheetError {
        let found = self.found();
        let expected = expected.to_owned();
        self.error(Problem::Type { expected, found })
    }

    /// What is there.
    fn found(&self) -> &'static str {
        match self.value.get_ref() {
            DeValue::String(_) => "text",
            DeValue::Integer(_) | DeValue::Float(_) => "a bare number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date or time",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        }
    }

    /// A value outside its range, which is told in words.
    pub(super) fn outside(&self, range: &'static str) -> SheetError {
        let got = self.as_written().to_owned();
        self.error(Problem::Range {
            got,
            range: range.into(),
        })
    }

    pub(super) fn below_zero(&self) -> SheetError {
        let got = self.as_written().to_owned();
        self.error(Problem::BelowZero { got })
    }

    /// The value as it is written in the text.
    pub(super) fn as_written(&self) -> &'s str {
        self.source.text.get(self.value.span()).unwrap_or_default()
    }

    /// A number or text, as the characters that stand for it.
    pub(super) fn characters(&self, expected: &'static str) -> Result<&'s str, SheetError> {
        match self.value.get_ref() {
            DeValue::String(text) => Ok(text),
            DeValue::Integer(number) if number.radix() == 10 => Ok(number.as_str()),
            DeValue::Float(number) => Ok(number.as_str()),
            _ => Err(self.wrong_type(expected)),
        }
    }

    /// A date as the characters that stand for it, in quotes or as TOML's own; whoever takes it says what it may be.
    pub(super) fn date(&self) -> Result<Cow<'s, str>, SheetError> {
        match self.value.get_ref() {
            DeValue::String(text) => Ok(Cow::Borrowed(text)),
            DeValue::Datetime(date) => Ok(Cow::Owned(date.to_string())),
            _ => Err(self.wrong_type("a date such as 2026-03-02")),
        }
    }

    /// Text that is not blank, without the space around it.
    pub(super) fn text(&self, what: &'static str) -> Result<&'s str, SheetError> {
        match self.value.get_ref().as_str().map(str::trim) {
            None => Err(self.wrong_type(what)),
            Some("") => Err(self.error(Problem::Empty { what })),
            Some(text) => Ok(text),
        }
    }

    /// Text as it may be shown on one line.
    pub(super) fn line(&self, what: &'static str) -> Result<String, SheetError> {
        Ok(printable::line(self.text(what)?).into_owned())
    }

    /// Text as it may be shown on several lines.
    pub(super) fn lines(&self, what: &'static str) -> Result<String, SheetError> {
        Ok(printable::lines(self.text(what)?).into_owned())
    }

    /// A name, as it may be shown.
    pub(super) fn name(&self, what: &'static str) -> Result<String, SheetError> {
        let name = self.line(what)?;
        let letters = name.chars().count();
        if letters > LONGEST_NAME {
            return Err(self.error(Problem::LongName { letters }));
        }
        Ok(name)
    }

    /// A number, bare or as text. NaN and infinities pass: whoever takes the number says what it may be.
    pub(super) fn number(&self) -> Result<f64, SheetError> {
        let expected = "a number";
        let characters = self.characters(expected)?.trim();
        if let Ok(number) = characters.parse() {
            return Ok(number);
        }
        match bare_number(characters) {
            Err(unclear @ ParseQuantityError::Unclear { .. }) => Err(self.error(unclear)),
            number => number.map_err(|_| match self.number_alone() {
                Some(number) => self.wrong_type(&format!("a number alone, {number},")),
                None => self.wrong_type(expected),
            }),
        }
    }

    /// The number of a text that has more behind it; none where it has none.
    fn number_alone(&self) -> Option<&'s str> {
        let text = self.value.get_ref().as_str()?.trim();
        let number = text.trim_end_matches(|letter: char| !letter.is_ascii_digit());
        bare_number(number).is_ok().then_some(number)
    }

    /// A time in seconds: a bare number, or text with a unit or with minutes, `"0:30"`.
    pub(super) fn seconds(&self) -> Result<f64, SheetError> {
        match self.value.get_ref() {
            DeValue::String(text) if bare_number(text).is_err() => {
                Ok(self.of(Time::parse(text))?.get::<second>())
            }
            _ => self.number(),
        }
    }

    /// A number of the unit that the gauge shows, which stands elsewhere.
    pub(super) fn gauge_number(&self) -> Result<f64, SheetError> {
        self.number().map_err(|error| match self.number_alone() {
            Some(number) => {
                let number = number.to_owned();
                self.error(Problem::UnitInReading { number })
            }
            None => error,
        })
    }

    pub(super) fn quantity<Q: TradeUnits>(&self) -> Result<Q, SheetError> {
        let characters = self.characters("text with a number and a unit")?;
        self.of(Q::parse(characters))
    }

    /// A quantity above zero.
    pub(super) fn positive<Q: TradeUnits>(&self) -> Result<Q, SheetError> {
        let quantity = self.quantity::<Q>()?;
        if quantity.si_value() > 0.0 {
            Ok(quantity)
        } else {
            let got = self.as_written().to_owned();
            Err(self.error(Problem::NotPositive { got }))
        }
    }

    /// A quantity not below zero.
    pub(super) fn not_negative<Q: TradeUnits>(&self) -> Result<Q, SheetError> {
        let quantity = self.quantity::<Q>()?;
        if quantity.si_value() < 0.0 {
            return Err(self.below_zero());
        }
        Ok(quantity)
    }

    /// One mark, such as a separator, which may be a blank.
    pub(super) fn mark(&self) -> Result<char, SheetError> {
        const EXPECTED: &str = "one mark as text";
        let text = self.value.get_ref().as_str();
        let mut marks = text.ok_or_else(|| self.wrong_type(EXPECTED))?.chars();
        match (marks.next(), marks.next()) {
            (Some(mark), None) => Ok(mark),
            _ => Err(self.outside("what a mark can be: one character, such as \";\"")),
        }
    }

    /// Text, or a whole number from 1 on.
    pub(super) fn column(&self) -> Result<Column, SheetError> {
        const EXPECTED: &str = "a column's name as text or its number";
        match self.value.get_ref() {
            DeValue::String(_) => Ok(Column::Named(self.text(EXPECTED)?.to_owned())),
            DeValue::Integer(_) => self.count().map(Column::Number),
            _ => Err(self.wrong_type(EXPECTED)),
        }
    }

    /// A whole number from 0 on.
    pub(super) fn count<N: std::str::FromStr>(&self) -> Result<N, SheetError> {
        let text = self.characters("a whole number")?;
        let outside = |_| self.outside("the whole numbers from 0 on");
        text.trim().parse().map_err(outside)
    }

    /// A whole number from 1 on.
    pub(super) fn whole(&self) -> Result<u32, SheetError> {
        let number = self.characters("a whole number")?.trim().parse().ok();
        let outside = || self.outside("the whole numbers from 1 on");
        number.filter(|count| *count > 0).ok_or_else(outside)
    }

    /// `true` or `false`.
    pub(super) fn truth(&self) -> Result<bool, SheetError> {
        match self.value.get_ref() {
            DeValue::Boolean(truth) => Ok(*truth),
            _ => Err(self.wrong_type("true or false")),
        }
    }

    /// One of several words.
    pub(super) fn word<T: Copy>(&self, words: &[(&'static str, T)]) -> Result<T, SheetError> {
        let text = self.text("a word")?;
        let known = words.iter().find(|(word, _)| *word == text);
        known.map(|(_, meant)| *meant).ok_or_else(|| {
            self.error(Problem::UnknownWord {
                found: text.to_owned(),
                known: words.iter().map(|(word, _)| *word).collect(),
            })
        })
    }

    /// The tables in a table, by their names, in the order of the text.
    pub(super) fn named(&self, expected: &str) -> Result<Vec<(String, Item<'s>)>, SheetError> {
        let DeValue::Table(entries) = self.value.get_ref() else {
            return Err(self.wrong_type(expected));
        };
        let table = Table::new(self.source, self.path.clone(), self.value.span(), entries);
        let mut keys: Vec<_> = entries.keys().collect();
        keys.sort_by_key(|key| key.span().start);
        Ok(keys
            .into_iter()
            .filter_map(|key| {
                let name = key.get_ref().as_ref();
                Some((name.to_owned(), table.get(name)?))
            })
            .collect())
    }

    pub(super) fn list(&self, expected: &str) -> Result<Vec<Item<'s>>, SheetError> {
        let DeValue::Array(list) = self.value.get_ref() else {
            return Err(self.wrong_type(expected));
        };
        let items = list.iter().enumerate().map(|(index, value)| Item {
            source: self.source,
            path: format!("{}[{}]", self.path, index + 1),
            value,
        });
        Ok(items.collect())
    }

    pub(super) fn table(
        &self,
        expected: impl Fn() -> String,
        known: &[&'static str],
    ) -> Result<Table<'s>, SheetError> {
        let table = self.any_table(expected)?;
        table.check_keys(known)?;
        Ok(table)
    }

    /// A table of whatever keys.
    pub(super) fn any_table(&self, expected: impl Fn() -> String) -> Result<Table<'s>, SheetError> {
        let DeValue::Table(entries) = self.value.get_ref() else {
            return Err(self.wrong_type(&expected()));
        };
        let span = self.value.span();
        Ok(Table::new(self.source, self.path.clone(), span, entries))
    }
}

/// A table with its key's path.
pub(super) struct Table<'s> {
    source: &'s Source<'s>,
    path: String,
    span: Range<usize>,
    /// None of a table that is not there.
    entries: Option<&'s DeTable<'s>>,
}

impl<'s> Table<'s> {
    pub(super) fn new(
        source: &'s Source<'s>,
        path: String,
        span: Range<usize>,
        entries: &'s DeTable<'s>,
    ) -> Self {
        Self {
            source,
            path,
            span,
            entries: Some(entries),
        }
    }

    pub(super) fn path_of(&self, key: &str) -> String {
        let bare = |letter: char| letter.is_ascii_alphanumeric() || matches!(letter, '_' | '-');
        let key = if !key.is_empty() && key.chars().all(bare) {
            key.to_owned()
        } else {
            format!("{key:?}")
        };
        if self.path.is_empty() {
            key
        } else {
            format!("{}.{key}", self.path)
        }
    }

    /// Names the first key that is not known.
    pub(super) fn check_keys(&self, known: &[&'static str]) -> Result<(), SheetError> {
        let unknown = self
            .entries
            .into_iter()
            .flat_map(DeTable::keys)
            .filter(|key| !known.contains(&key.get_ref().as_ref()))
            .min_by_key(|key| key.span().start);
        let Some(key) = unknown else {
            return Ok(());
        };
        let position = self.source.position(&key.span());
        let problem = Problem::UnknownKey {
            meant: other_word(key.get_ref(), known),
            nearest: near(key.get_ref(), known),
            elsewhere: Vec::new(),
            known: known.to_vec(),
        };
        let path = self.path_of(key.get_ref());
        Err(SheetError::new(
            self.source.file,
            path,
            Some(position),
            problem,
        ))
    }

    pub(super) fn get(&self, key: &str) -> Option<Item<'s>> {
        self.entries?.get(key).map(|value| Item {
            source: self.source,
            path: self.path_of(key),
            value,
        })
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.entries
            .is_some_and(|entries| entries.contains_key(key))
    }

    /// A key that must be there, such as with this value.
    pub(super) fn need(&self, key: &str, example: &str) -> Result<Item<'s>, SheetError> {
        self.get(key).ok_or_else(|| self.missing(key, example))
    }

    pub(super) fn missing(&self, key: &str, example: &str) -> SheetError {
        let example = line(key, example);
        self.error_at(key, Problem::Missing { example })
    }

    /// The table of this key; an empty one where it is not there.
    pub(super) fn below(&self, key: &str) -> Result<Self, SheetError> {
        match self.get(key) {
            Some(item) => item.any_table(|| headed(&item.path)),
            None => Ok(Self {
                source: self.source,
                path: self.path_of(key),
                span: self.span.clone(),
                entries: None,
            }),
        }
    }

    /// A result that is the value of a key.
    pub(super) fn of<T, E: Into<Problem>>(
        &self,
        key: &str,
        result: Result<T, E>,
    ) -> Result<T, SheetError> {
        result.map_err(|problem| self.error_at(key, problem))
    }

    /// An error of the table as a whole.
    pub(super) fn error(&self, problem: impl Into<Problem>) -> SheetError {
        let position = self.source.position(&self.span);
        SheetError::new(self.source.file, &*self.path, Some(position), problem)
    }

    /// An error of a key, which may be missing.
    pub(super) fn error_at(&self, key: &str, problem: impl Into<Problem>) -> SheetError {
        if let Some(item) = self.get(key) {
            return item.error(problem);
        }
        let position = self.source.position(&self.span);
        SheetError::new(self.source.file, self.path_of(key), Some(position), problem)
    }

    /// Which of the keys is there, and no other of them beside it.
    pub(super) fn one_of(
        &self,
        keys: &'static [&'static str],
        advice: &'static str,
    ) -> Result<&'static str, SheetError> {
        let mut there = keys.iter().copied().filter(|key| self.has(key));
        match (there.next(), there.next()) {
            (Some(key), None) => Ok(key),
            (Some(other), Some(key)) => {
                Err(self.error_at(key, Problem::Excludes { other, advice }))
            }
            (None, _) => Err(self.error(Problem::NeedsOneOf { keys, advice })),
        }
    }

    /// Refuses a key that means nothing without a partner, such as with this value.
    pub(super) fn needs_partner(
        &self,
        key: &str,
        partner: &'static str,
        example: &str,
    ) -> Result<(), SheetError> {
        if self.has(key) && !self.has(partner) {
            let example = line(partner, example);
            let problem = Problem::NeedsPartner { partner, example };
            return Err(self.error_at(key, problem));
        }
        Ok(())
    }
}

/// What a table is called where something else stands in its place.
pub(super) fn headed(path: &str) -> String {
    format!("a table, headed `[{path}]` on a line of its own,")
}

/// A line of a sheet: numbers, truths and lists stand bare, all else in quotes.
pub(super) fn line(key: &str, value: &str) -> String {
    let bare = value.parse::<f64>().is_ok() || value == "true" || value.starts_with(['[', '{']);
    if bare {
        format!("{key} = {value}")
    } else {
        format!("{key} = \"{value}\"")
    }
}
