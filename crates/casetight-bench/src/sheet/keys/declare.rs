//! The macros that declare a table.

/// Makes what is [`Together`](super::keyed::Together) a table's content.
macro_rules! together {
    ($type:ty) => {
        const _: () = {
            use $crate::sheet::document::Table;
            use $crate::sheet::error::SheetError;
            use $crate::sheet::keys::entry::Entry;
            use $crate::sheet::keys::keyed::{FromKeys, Keyed, Together, TogetherFrom};
            use $crate::sheet::keys::writer::Writer;

            type Keys = <$type as Together>::Keys;

            impl Keyed for $type {
                const WHAT: &'static [&'static str] = Keys::WHAT;

                fn names(names: &mut Vec<&'static str>) {
                    Keys::names(names);
                }

                fn entries() -> Vec<Entry> {
                    Keys::entries()
                }

                fn write(&self, out: &mut Writer) {
                    match Together::keys(self, out.unit()) {
                        Ok(keys) => keys.write(out),
                        Err(what) => out.refuse(what),
                    }
                }
            }

            impl<C> FromKeys<C> for $type
            where
                $type: TogetherFrom<C>,
            {
                fn read(table: &Table<'_>, known: &C) -> Result<Self, SheetError> {
                    TogetherFrom::of(Keys::read(table, known)?, table, known)
                }
            }
        };
    };
}
pub(in crate::sheet) use together;

/// Declares a table: its fields, each with its comment and its rule. Behind a rule may stand a value that would be right (`like`), what
/// stands for the key where it is not there (`else`), the key of its uncertainty where that is not its name with `_uncertainty`
/// (`uncertainty`), and keys without which it means nothing, each with a value that would be right (`beside`). Behind the table's name
/// may stand what must be known of the rest of the sheet to read it (`given`), a check of the table before its keys are read (`before`),
/// and one of what they say (`after`).
macro_rules! table {
    (
        $(#[doc = $what:literal])+
        $(#[derive($($derived:ident),+)])?
        $vis:vis struct $name:ident
            $(, given $given:ty $(, for $life:lifetime)?)? $(, before $before:path)? $(, after $after:path)?
        {
            $(
                $(#[doc = $doc:literal])+
                $field_vis:vis $field:ident $(as $key:literal)?: $type:ty = $rule:expr
                    $(, like $like:literal)? $(, else $else:literal)? $(, uncertainty $u:literal)?
                    $(, beside $beside:ident $example:literal)*;
            )+
        }
    ) => {
        $(#[doc = $what])+
        #[derive(Debug, Clone, PartialEq $($(, $derived)+)?)]
        $vis struct $name {
            $(
                $(#[doc = $doc])+
                $field_vis $field: $type,
            )+
        }

        const _: () = {
            use $crate::sheet::document::Table;
            use $crate::sheet::error::SheetError;
            use $crate::sheet::keys::entry::Entry;
            use $crate::sheet::keys::keyed::{FromKeys, Key, Keyed, ReadKey, KeyRule};
            use $crate::sheet::keys::writer::Writer;

            /// The keys by the fields that they fill.
            struct Keys {
                $($field: Key,)+
            }

            const KEYS: Keys = Keys {
                $($field: Key {
                    name: $crate::sheet::keys::declare::table!(@or [$($key)?] stringify!($field)),
                    uncertainty: $crate::sheet::keys::declare::table!(@or [$($u)?] concat!(stringify!($field), "_uncertainty")),
                    what: concat!($($doc),+),
                    example: $crate::sheet::keys::declare::table!(@or [$($like)?] ""),
                    absent: $crate::sheet::keys::declare::table!(@option $($else)?),
                    beside: &[$((stringify!($beside), $example)),*],
                },)+
            };

            impl Keyed for $name {
                const WHAT: &'static [&'static str] = &[$($what),+];

                fn names(names: &mut Vec<&'static str>) {
                    $(KeyRule::<$type>::names(&$rule, &KEYS.$field, names);)+
                }

                fn entries() -> Vec<Entry> {
                    let mut entries = Vec::new();
                    $(entries.extend(KeyRule::<$type>::entries(&$rule, &KEYS.$field));)+
                    entries
                }

                fn write(&self, out: &mut Writer) {
                    $(KeyRule::<$type>::write(&$rule, &KEYS.$field, &self.$field, out);)+
                }
            }

            $crate::sheet::keys::declare::table! {
                @from $name [$($given $(, $life)?)?] [$($before)?] [$($after)?] $($field: $type = $rule;)+
            }
        };
    };
    (@from $name:ident [$given:ty $(, $life:lifetime)?] $($rest:tt)+) => {
        impl $(<$life>)? FromKeys<$given> for $name {
            $crate::sheet::keys::declare::table! { @read [$given] $($rest)+ }
        }
    };
    (@from $name:ident [] $($rest:tt)+) => {
        impl<C> FromKeys<C> for $name {
            $crate::sheet::keys::declare::table! { @read [C] $($rest)+ }
        }
    };
    (@read [$given:ty] [$($before:path)?] [$($after:path)?] $($field:ident: $type:ty = $rule:expr;)+) => {
        fn read(table: &Table<'_>, known: &$given) -> Result<Self, SheetError> {
            $($before(table)?;)?
            $(KEYS.$field.check(table)?;)+
            let read = Self {
                $($field: ReadKey::<$type, $given>::read(&$rule, &KEYS.$field, table, known)?,)+
            };
            $($after(&read, table)?;)?
            Ok(read)
        }
    };
    (@or [$stated:literal] $usual:expr) => { $stated };
    (@or [] $usual:expr) => { $usual };
    (@option $stated:literal) => { Some($stated) };
    (@option) => { None };
}
pub(in crate::sheet) use table;
