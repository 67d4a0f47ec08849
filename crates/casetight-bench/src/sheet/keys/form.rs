//! How one value of the sheet is read and written.

use std::str::FromStr;

use super::entry::{Content, Value};
use super::keyed::{FromKeys, Keyed, content, keyed_as};
use super::stated::{in_trade_units, number, quoted};
use super::writer::Writer;
use crate::record::{Column, Site};
use crate::sheet::document::Item;
use crate::sheet::error::{Problem, SheetError};
use casetight::quantity::{TradeUnits, Unit};

/// How a value looks, and how it is written.
pub(in crate::sheet) trait Form<T> {
    fn value(&self) -> Value;

    /// The value as TOML has it.
    fn write(&self, value: &T) -> String;
}

/// How a value is read by someone who knows `C` of the rest of the sheet.
pub(in crate::sheet) trait ReadForm<T, C>: Form<T> {
    fn read(&self, item: &Item<'_>, known: &C) -> Result<T, SheetError>;
}

/// Makes a form the rule of a key that must be there.
macro_rules! needed {
    ($form:ty => $type:ty $(, for [$($generic:tt)+])?) => {
        impl $(<$($generic)+>)? $crate::sheet::keys::keyed::KeyRule<$type> for $form {
            fn entries(&self, key: &$crate::sheet::keys::keyed::Key) -> Vec<$crate::sheet::keys::entry::Entry> {
                let value = $crate::sheet::keys::form::Form::<$type>::value(self);
                vec![key.entry($crate::sheet::keys::entry::Absent::Never, value)]
            }

            fn write(
                &self,
                key: &$crate::sheet::keys::keyed::Key,
                value: &$type,
                out: &mut $crate::sheet::keys::writer::Writer,
            ) {
                out.line(key.name, $crate::sheet::keys::form::Form::write(self, value));
            }
        }

        impl<C, $($($generic)+)?> $crate::sheet::keys::keyed::ReadKey<$type, C> for $form
        where
            $form: $crate::sheet::keys::form::ReadForm<$type, C>,
        {
            fn read(
                &self,
                key: &$crate::sheet::keys::keyed::Key,
                table: &$crate::sheet::document::Table<'_>,
                known: &C,
            ) -> Result<$type, $crate::sheet::error::SheetError> {
                let item = table.need(key.name, key.example)?;
                $crate::sheet::keys::form::ReadForm::read(self, &item, known)
            }
        }
    };
}
pub(in crate::sheet) use needed;

/// A form whose value says everything itself.
macro_rules! forms {
    ($(
        $(#[$doc:meta])*
        $form:ty => $type:ty $(, for [$($generic:tt)+])? {
            value: $value:expr,
            read($self:ident, $item:ident): $read:expr,
            write($to:ident): $write:expr $(,)?
        }
    )+) => {$(
        impl $(<$($generic)+>)? Form<$type> for $form {
            fn value(&$self) -> Value {
                $value
            }

            fn write(&$self, $to: &$type) -> String {
                $write
            }
        }

        impl<C, $($($generic)+)?> ReadForm<$type, C> for $form {
            fn read(&$self, $item: &Item<'_>, _known: &C) -> Result<$type, SheetError> {
                $read
            }
        }

        needed!($form => $type $(, for [$($generic)+])?);
    )+};
}

/// A quantity.
pub(in crate::sheet) struct Any;
/// A quantity above zero.
pub(in crate::sheet) struct Positive;
/// A quantity not below zero.
pub(in crate::sheet) struct NotNegative;
/// A number that may be any.
pub(in crate::sheet) struct Number;
/// A number of a range, which is told in words.
pub(in crate::sheet) struct Within(
    pub(in crate::sheet) fn(f64) -> bool,
    pub(in crate::sheet) &'static str,
);
/// A whole number from 0 on.
pub(in crate::sheet) struct Count;
/// A whole number from 1 on.
pub(in crate::sheet) struct Whole;
/// `true` or `false`.
pub(in crate::sheet) struct Truth;
/// One mark.
pub(in crate::sheet) struct Mark;
/// A column by name or number.
pub(in crate::sheet) struct AColumn;
/// Text of any characters, even none.
pub(in crate::sheet) struct Characters(pub(in crate::sheet) &'static str);
/// A name.
pub(in crate::sheet) struct Name(pub(in crate::sheet) &'static str);
/// Text that is looked up elsewhere, as it is written.
pub(in crate::sheet) struct Text(pub(in crate::sheet) &'static str);
/// Text of one line.
pub(in crate::sheet) struct Line(pub(in crate::sheet) &'static str);
/// Text of several lines.
pub(in crate::sheet) struct Lines(pub(in crate::sheet) &'static str);
/// A date, in quotes or as TOML's own.
pub(in crate::sheet) struct ADate;
/// One of several words.
pub(in crate::sheet) struct Word<T: 'static>(pub(in crate::sheet) &'static [(&'static str, T)]);
/// A list of rows of a time and a number: what the list is, and what a row.
pub(in crate::sheet) struct Rows(
    pub(in crate::sheet) &'static str,
    pub(in crate::sheet) &'static str,
);
/// Two times \[s\], and what they are.
pub(in crate::sheet) struct Pair(pub(in crate::sheet) &'static str);
/// A list of sites, none of them twice.
pub(in crate::sheet) struct Sites;

forms! {
    Any => Q, for [Q: TradeUnits] {
        value: Value::quantity::<Q>(),
        read(self, item): item.quantity(),
        write(quantity): quoted(&in_trade_units(*quantity)),
    }
    Positive => Q, for [Q: TradeUnits] {
        value: Value::quantity::<Q>(),
        read(self, item): item.positive(),
        write(quantity): quoted(&in_trade_units(*quantity)),
    }
    NotNegative => Q, for [Q: TradeUnits] {
        value: Value::quantity::<Q>(),
        read(self, item): item.not_negative(),
        write(quantity): quoted(&in_trade_units(*quantity)),
    }
    Number => f64 {
        value: Value::Number,
        read(self, item): item.number(),
        write(value): number(*value),
    }
    Within => f64 {
        value: Value::Number,
        read(self, item): {
            let Self(allowed, range) = *self;
            let value = item.number()?;
            if allowed(value) { Ok(value) } else { Err(item.outside(range)) }
        },
        write(value): number(*value),
    }
    Count => u64 {
        value: Value::Whole { least: 0 },
        read(self, item): item.count(),
        write(count): count.to_string(),
    }
    Whole => u32 {
        value: Value::Whole { least: 1 },
        read(self, item): item.whole(),
        write(count): count.to_string(),
    }
    Truth => bool {
        value: Value::Truth,
        read(self, item): item.truth(),
        write(truth): truth.to_string(),
    }
    Mark => char {
        value: Value::Text,
        read(self, item): item.mark(),
        write(mark): quoted(&mark.to_string()),
    }
    AColumn => Column {
        value: Value::Column,
        read(self, item): item.column(),
        write(column): match column {
            Column::Number(number) => number.to_string(),
            Column::Named(name) => quoted(name),
        },
    }
    Characters => String {
        value: Value::Text,
        read(self, item): item.characters(self.0).map(str::to_owned),
        write(text): quoted(text),
    }
    Name => String {
        value: Value::Text,
        read(self, item): item.name(self.0),
        write(text): quoted(text),
    }
    Text => String {
        value: Value::Text,
        read(self, item): item.text(self.0).map(str::to_owned),
        write(text): quoted(text),
    }
    Line => String {
        value: Value::Text,
        read(self, item): item.line(self.0),
        write(text): quoted(text),
    }
    Lines => String {
        value: Value::Text,
        read(self, item): item.lines(self.0),
        write(text): quoted(text),
    }
    ADate => crate::record::Date {
        value: Value::Date,
        read(self, item): item.of(item.date()?.parse()),
        write(date): quoted(&date.to_string()),
    }
    Rows => Vec<[f64; 2]> {
        value: Value::List(Box::new(Value::Reading)),
        read(self, item): item.list(self.0)?.iter().map(|row| {
            let [time, gauge] = two(row, self.1)?;
            Ok([time.seconds()?, gauge.gauge_number()?])
        }).collect(),
        write(rows): {
            let rows: Vec<String> = rows.iter().map(|row| format!("  {},\n", pair(*row))).collect();
            format!("[\n{}]", rows.concat())
        },
    }
    Pair => [f64; 2] {
        value: Value::Row(Box::new(Value::Second), 2),
        read(self, item): {
            let [from, to] = two(item, self.0)?;
            Ok([from.seconds()?, to.seconds()?])
        },
        write(ends): pair(*ends),
    }
    Sites => Vec<Site> {
        value: Value::List(Box::new(Value::Text)),
        read(self, item): sites(item),
        write(sites): {
            let names: Vec<String> = sites.iter().map(|site| quoted(&site.to_string())).collect();
            format!("[{}]", names.join(", "))
        },
    }
    Word<T> => T, for [T: Copy + PartialEq] {
        value: Value::Words(self.0.iter().map(|(word, _)| *word).collect()),
        read(self, item): item.word(self.0),
        write(meant): {
            let word = self.0.iter().find(|(_, known)| known == meant);
            quoted(word.map_or("", |(word, _)| *word))
        },
    }
}

fn pair([first, second]: [f64; 2]) -> String {
    format!("[{}, {}]", number(first), number(second))
}

/// The two values of a row.
fn two<'s>(item: &Item<'s>, expected: &'static str) -> Result<[Item<'s>; 2], SheetError> {
    let row = item.list(expected)?;
    let not_two = |row: Vec<_>| {
        let got = row.len();
        item.error(Problem::NotTwo { expected, got })
    };
    row.try_into().map_err(not_two)
}

fn sites(item: &Item<'_>) -> Result<Vec<Site>, SheetError> {
    let mut sites: Vec<Site> = Vec::new();
    for item in item.list("a list of sites `[\"base gasket\", ...]`")? {
        let site: Site = item.of(item.name("a site")?.parse())?;
        if sites.contains(&site) {
            let site = site.to_string();
            let list = own_key(item.path()).to_owned();
            return Err(item.error(Problem::SiteTwice { site, list }));
        }
        sites.push(site);
    }
    Ok(sites)
}

/// Text that is read as a type reads its own: what it is, and how it is written.
pub(in crate::sheet) struct Parsed<T>(
    pub(in crate::sheet) &'static str,
    pub(in crate::sheet) fn(&T) -> String,
);

impl<T> Form<T> for Parsed<T> {
    fn value(&self) -> Value {
        Value::Text
    }

    fn write(&self, value: &T) -> String {
        quoted(&self.1(value))
    }
}

impl<C, T: FromStr<Err: Into<Problem>>> ReadForm<T, C> for Parsed<T> {
    fn read(&self, item: &Item<'_>, _: &C) -> Result<T, SheetError> {
        item.of(item.text(self.0)?.parse())
    }
}

needed!(Parsed<T> => T, for [T]);

/// A table within a line.
pub(in crate::sheet) struct Inline;

needed!(Inline => T, for [T: Keyed]);

impl<T: Keyed> Form<T> for Inline {
    fn value(&self) -> Value {
        let inline = true;
        Value::Table(Content {
            inline,
            ..content::<T>()
        })
    }

    fn write(&self, value: &T) -> String {
        // No line of a table has rows of readings.
        let mut out = Writer::new(&const { Unit::si("") });
        value.write(&mut out);
        out.in_line()
    }
}

impl<C, T: FromKeys<C>> ReadForm<T, C> for Inline {
    fn read(&self, item: &Item<'_>, known: &C) -> Result<T, SheetError> {
        keyed_as(item, known, || {
            let mut names = Vec::new();
            T::names(&mut names);
            names.retain(|name| !name.ends_with("_uncertainty"));
            format!("a table {{ {} }}", names.join(", "))
        })
    }
}

/// A list of values of a form, and what it is.
pub(in crate::sheet) struct Each<F>(pub(in crate::sheet) F, pub(in crate::sheet) &'static str);

needed!(Each<F> => Vec<T>, for [T, F: Form<T>]);

impl<T, F: Form<T>> Form<Vec<T>> for Each<F> {
    fn value(&self) -> Value {
        Value::List(Box::new(self.0.value()))
    }

    fn write(&self, values: &Vec<T>) -> String {
        let each: Vec<String> = values.iter().map(|value| self.0.write(value)).collect();
        format!("[{}]", each.join(", "))
    }
}

impl<C, T, F: ReadForm<T, C>> ReadForm<Vec<T>, C> for Each<F> {
    fn read(&self, item: &Item<'_>, known: &C) -> Result<Vec<T>, SheetError> {
        let list = item.list(self.1)?;
        list.iter().map(|item| self.0.read(item, known)).collect()
    }
}

/// The key of a list by the path of a value in it: `blanked` of `run[2].blanked[1]`.
fn own_key(path: &str) -> &str {
    let list = path.rsplit_once('[').map_or(path, |(list, _)| list);
    list.rsplit_once('.').map_or(list, |(_, key)| key)
}
