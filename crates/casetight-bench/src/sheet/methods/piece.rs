//! A piece of a list of parts, and its shape.

use crate::sheet::document::{Item, Table};
use crate::sheet::error::{Problem, SheetError};
use crate::sheet::keys::declare::{table, together};
use crate::sheet::keys::entry::Value;
use crate::sheet::keys::form::{Form, Name, ReadForm, Truth, Whole, needed};
use crate::sheet::keys::keyed::{Together, TogetherFrom};
use crate::sheet::keys::rule::{Here, Optional, Usual};
use crate::sheet::keys::stated::quoted;
use crate::sheet::keys::valued::Unstated::LastDigit;
use crate::sheet::keys::valued::Valued;
use casetight::measured::Measured;
use casetight::quantity::{Length, Unit, Volume};
use casetight::volume::{Piece, Sense, Shape};

table! {
    /// A piece, as many as there are; of a measured dimension only those of its shape.
    pub(in crate::sheet) struct PieceKeys {
        /// Its name.
        name: String = Name("a name for the piece"), like "crank web";
        /// Its shape and dimensions.
        shape: Shape = Here;
        /// Whether it is a solid that stands in a space, and counts with minus.
        solid: bool = Usual(Truth, || false);
        /// How many there are, all of the same measured size.
        count: u32 = Usual(Whole, || 1);
    }
}

impl Together for Piece {
    type Keys = PieceKeys;

    fn keys(&self, _: &'static Unit) -> Result<PieceKeys, &'static str> {
        Ok(PieceKeys {
            name: self.name.to_string(),
            shape: self.shape.clone(),
            solid: self.sense == Sense::Solid,
            count: self.count,
        })
    }
}

impl<C> TogetherFrom<C> for Piece {
    fn of(keys: PieceKeys, _: &Table<'_>, _: &C) -> Result<Self, SheetError> {
        let sense = if keys.solid {
            Sense::Solid
        } else {
            Sense::Space
        };
        Ok(Self {
            name: keys.name.into(),
            shape: keys.shape,
            sense,
            count: keys.count,
        })
    }
}

together!(Piece);

table! {
    /// A shape and its dimensions.
    #[derive(Default)]
    pub(in crate::sheet) struct ShapeKeys, before no_others {
        /// A `cylinder` has `diameter` and `length`, an `annulus` `outer`, `inner` and `length`, a `frustum` `first`, `second` and
        /// `length`, a `block` `length`, `width` and `height`, a `known` one its `volume`.
        shape: &'static str = ByName, like "cylinder";
        /// Of a cylinder.
        diameter: Dimension = Optional(Valued(LastDigit)), like "70 mm";
        /// Outer diameter of an annulus.
        outer: Dimension = Optional(Valued(LastDigit)), like "70 mm";
        /// Inner diameter of an annulus.
        inner: Dimension = Optional(Valued(LastDigit)), like "20 mm";
        /// Diameter of one end of a frustum.
        first: Dimension = Optional(Valued(LastDigit)), like "30 mm";
        /// Diameter of its other end.
        second: Dimension = Optional(Valued(LastDigit)), like "20 mm";
        /// Of any but a known one.
        length: Dimension = Optional(Valued(LastDigit)), like "50 mm";
        /// Of a block.
        width: Dimension = Optional(Valued(LastDigit)), like "20 mm";
        /// Of a block.
        height: Dimension = Optional(Valued(LastDigit)), like "10 mm";
        /// Of a piece that was measured otherwise.
        volume: Option<Measured<Volume>> = Optional(Valued(LastDigit)), like "12 cm3";
    }
}

type Dimension = Option<Measured<Length>>;

/// The shapes by their names, with the dimensions that each has.
const SHAPES: &[(&str, &[&str])] = &[
    ("cylinder", &["diameter", "length"]),
    ("annulus", &["outer", "inner", "length"]),
    ("frustum", &["first", "second", "length"]),
    ("block", &["length", "width", "height"]),
    ("known", &["volume"]),
];

/// A shape by its name.
struct ByName;

needed!(ByName => &'static str);

impl Form<&'static str> for ByName {
    fn value(&self) -> Value {
        Value::Words(SHAPES.iter().map(|(name, _)| *name).collect())
    }

    fn write(&self, name: &&'static str) -> String {
        quoted(name)
    }
}

impl<C> ReadForm<&'static str, C> for ByName {
    fn read(&self, item: &Item<'_>, _: &C) -> Result<&'static str, SheetError> {
        let called = item.text("a shape's name")?;
        let range = "the shapes \"cylinder\", \"annulus\", \"frustum\", \"block\" and \"known\"";
        let known = SHAPES.iter().find(|(name, _)| *name == called);
        known
            .map(|(name, _)| *name)
            .ok_or_else(|| item.outside(range))
    }
}

/// A dimension of another shape is a slip that would go unseen.
fn no_others(table: &Table<'_>) -> Result<(), SheetError> {
    let called = table.need("shape", "cylinder")?.text("a shape's name")?;
    let Some((_, own)) = SHAPES.iter().find(|(name, _)| *name == called) else {
        return Ok(());
    };
    let mut others = SHAPES.iter().flat_map(|(_, keys)| keys.iter());
    match others.find(|key| !own.contains(key) && table.has(key)) {
        Some(key) => {
            let (nearest, known) = (None, own.to_vec());
            Err(table.error_at(
                key,
                Problem::UnknownKey {
                    meant: None,
                    nearest,
                    elsewhere: Vec::new(),
                    known,
                },
            ))
        }
        None => Ok(()),
    }
}

impl Together for Shape {
    type Keys = ShapeKeys;

    fn keys(&self, _: &'static Unit) -> Result<ShapeKeys, &'static str> {
        let mut keys = ShapeKeys::default();
        match self.clone() {
            Self::Cylinder { diameter, length } => {
                keys.shape = "cylinder";
                (keys.diameter, keys.length) = (Some(diameter), Some(length));
            }
            Self::Annulus {
                outer,
                inner,
                length,
            } => {
                keys.shape = "annulus";
                (keys.outer, keys.inner, keys.length) = (Some(outer), Some(inner), Some(length));
            }
            Self::Frustum {
                first,
                second,
                length,
            } => {
                keys.shape = "frustum";
                (keys.first, keys.second, keys.length) = (Some(first), Some(second), Some(length));
            }
            Self::Block {
                length,
                width,
                height,
            } => {
                keys.shape = "block";
                (keys.length, keys.width, keys.height) = (Some(length), Some(width), Some(height));
            }
            Self::Known { volume } => {
                keys.shape = "known";
                keys.volume = Some(volume);
            }
            _ => return Err("a piece of a shape that has no name"),
        }
        Ok(keys)
    }
}

impl<C> TogetherFrom<C> for Shape {
    fn of(keys: ShapeKeys, table: &Table<'_>, _: &C) -> Result<Self, SheetError> {
        let need = |key, dimension: Dimension| dimension.ok_or_else(|| table.missing(key, "50 mm"));
        let length = |dimension| need("length", dimension);
        Ok(match keys.shape {
            "cylinder" => Self::Cylinder {
                diameter: need("diameter", keys.diameter)?,
                length: length(keys.length)?,
            },
            "annulus" => Self::Annulus {
                outer: need("outer", keys.outer)?,
                inner: need("inner", keys.inner)?,
                length: length(keys.length)?,
            },
            "frustum" => Self::Frustum {
                first: need("first", keys.first)?,
                second: need("second", keys.second)?,
                length: length(keys.length)?,
            },
            "block" => Self::Block {
                length: length(keys.length)?,
                width: need("width", keys.width)?,
                height: need("height", keys.height)?,
            },
            _ => Self::Known {
                volume: keys
                    .volume
                    .ok_or_else(|| table.missing("volume", "12 cm3"))?,
            },
        })
    }
}

together!(Shape);
