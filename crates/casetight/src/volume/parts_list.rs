//! Added up from its parts: spaces, less the solids that stand in them.

use std::borrow::Cow;
use std::f64::consts::{FRAC_PI_4, PI};

use super::error::{VolumeError, check_positive};
use super::method::Method;
use super::tested::TestedVolume;
use crate::measured::{Dual, Input, Measurable, Measured, propagate_slice};
use crate::quantity::{Length, Ratio, Volume};

/// No list of parts has more pieces: their covariance takes the cube of their number.
pub const MOST_PIECES: usize = 200;

/// The shape of a piece.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Shape {
    /// A cylinder or a disc, `pi/4 d^2 l`.
    Cylinder {
        /// Diameter d.
        diameter: Measured<Length>,
        /// Length or thickness l.
        length: Measured<Length>,
    },
    /// A ring, `pi/4 (d_o^2 - d_i^2) l`.
    Annulus {
        /// Outer diameter.
        outer: Measured<Length>,
        /// Inner diameter.
        inner: Measured<Length>,
        /// Length or thickness l.
        length: Measured<Length>,
    },
    /// A frustum of a cone, `pi/12 (d_1^2 + d_1 d_2 + d_2^2) l`; for a whole cone take a cylinder of a third of its length.
    Frustum {
        /// Diameter of one end.
        first: Measured<Length>,
        /// Diameter of the other end.
        second: Measured<Length>,
        /// Length between them, along the axis.
        length: Measured<Length>,
    },
    /// A box, the product of its three edges.
    Block {
        /// Length.
        length: Measured<Length>,
        /// Width.
        width: Measured<Length>,
        /// Height.
        height: Measured<Length>,
    },
    /// A volume known otherwise: a rod's or a crank's by weighing it or sinking it.
    Known {
        /// The volume.
        volume: Measured<Volume>,
    },
}

/// Whether a piece is room for gas or takes it away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Sense {
    /// A space: counts with plus.
    Space,
    /// A solid inside a space (web, rod, pin, bearing): counts with minus.
    Solid,
}

/// One entry of the list.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Its name, by which its part and its contributions are listed.
    pub name: Cow<'static, str>,
    /// Its shape.
    pub shape: Shape,
    /// Space or solid.
    pub sense: Sense,
    /// How many there are, all of the same measured size (two webs: 2). Their errors are one error.
    pub count: u32,
}

/// Pieces and the caliper they were measured with.
#[derive(Debug, Clone, PartialEq)]
pub struct PartsList {
    /// The pieces.
    pub pieces: Vec<Piece>,
    /// Scale of the caliper: true length over shown, about 1. Shared by all lengths, so three times its relative uncertainty
    /// goes into the volume, however many pieces there are.
    pub caliper_scale: Measured<Ratio>,
}

impl Shape {
    /// Each dimension by its name.
    fn dimensions(&self) -> Vec<(&'static str, &Measured<Length>)> {
        match self {
            Self::Cylinder { diameter, length } => {
                vec![("diameter", diameter), ("length", length)]
            }
            Self::Annulus {
                outer,
                inner,
                length,
            } => vec![
                ("outer diameter", outer),
                ("inner diameter", inner),
                ("length", length),
            ],
            Self::Frustum {
                first,
                second,
                length,
            } => vec![
                ("first diameter", first),
                ("second diameter", second),
                ("length", length),
            ],
            Self::Block {
                length,
                width,
                height,
            } => vec![("length", length), ("width", width), ("height", height)],
            Self::Known { .. } => Vec::new(),
        }
    }

    /// The inputs of this shape's volume.
    fn inputs(&self, piece: &str) -> Vec<Input> {
        if let Self::Known { volume } = self {
            return vec![volume.input(format!("{piece}: volume"))];
        }
        self.dimensions()
            .into_iter()
            .map(|(name, length)| length.input(format!("{piece}: {name}")))
            .collect()
    }

    /// The volume from the values of its inputs; `None` for a wrong number of them.
    fn volume(&self, x: &[Dual]) -> Option<Dual> {
        Some(match (self, x) {
            (Self::Cylinder { .. }, &[d, l]) => d * d * l * FRAC_PI_4,
            (Self::Annulus { .. }, &[outer, inner, l]) => {
                (outer - inner) * (outer + inner) * l * FRAC_PI_4
            }
            (Self::Frustum { .. }, &[a, b, l]) => (a * a + a * b + b * b) * l * (PI / 12.0),
            (Self::Block { .. }, &[a, b, c]) => a * b * c,
            (Self::Known { .. }, &[volume]) => volume,
            _ => return None,
        })
    }
}

impl Piece {
    fn check(&self) -> Result<(), VolumeError> {
        let known = match &self.shape {
            Shape::Known { volume } => Some(("volume", volume.value().si())),
            _ => None,
        };
        let sizes = self
            .shape
            .dimensions()
            .into_iter()
            .map(|(name, length)| (name, length.value().si()))
            .chain(known);
        for (dimension, got) in sizes {
            if got <= 0.0 {
                return Err(VolumeError::Dimension {
                    piece: self.name.clone(),
                    dimension,
                    got,
                });
            }
        }
        if let Shape::Annulus { outer, inner, .. } = &self.shape {
            let (inner, outer) = (inner.value().si(), outer.value().si());
            if inner >= outer {
                return Err(VolumeError::Annulus {
                    piece: self.name.clone(),
                    inner,
                    outer,
                });
            }
        }
        Ok(())
    }
}

/// A piece ready to be computed.
struct Term<'a> {
    shape: &'a Shape,
    /// Plus or minus, times the count.
    factor: f64,
    /// Whether its volume is a product of three lengths, and so goes with the cube of the caliper's scale.
    of_lengths: bool,
    /// How many of the inputs are its own.
    inputs: usize,
}

impl PartsList {
    fn terms(&self) -> Result<(Vec<Input>, Vec<Term<'_>>), VolumeError> {
        let mut inputs = vec![self.caliper_scale.input("caliper scale")];
        let mut terms = Vec::with_capacity(self.pieces.len());
        for piece in &self.pieces {
            piece.check()?;
            let own = piece.shape.inputs(&piece.name);
            let sign = match piece.sense {
                Sense::Space => 1.0,
                Sense::Solid => -1.0,
            };
            terms.push(Term {
                shape: &piece.shape,
                factor: sign * f64::from(piece.count),
                of_lengths: !matches!(piece.shape, Shape::Known { .. }),
                inputs: own.len(),
            });
            inputs.extend(own);
        }
        Ok((inputs, terms))
    }
}

/// Outputs: the whole, then each piece; `None` where inputs are missing. The first input is the caliper's scale.
fn model(terms: &[Term<'_>], x: &[Dual]) -> Option<Vec<Dual>> {
    let (&scale, mut rest) = x.split_first()?;
    let mut whole = Dual::from(0.0);
    let mut outputs = vec![whole];
    for term in terms {
        let (own, others) = rest.split_at_checked(term.inputs)?;
        rest = others;
        let scaled = if term.of_lengths {
            scale * scale * scale
        } else {
            Dual::from(1.0)
        };
        let piece = term.shape.volume(own)? * scaled * term.factor;
        whole += piece;
        outputs.push(piece);
    }
    if let Some(first) = outputs.first_mut() {
        *first = whole;
    }
    Some(outputs)
}

impl TestedVolume {
    /// The volume as a sum of spaces less the solids in them.
    ///
    /// `V = sum n_i V_i (spaces) - sum n_j V_j (solids)`, each from its measured dimensions, all lengths times one caliper
    /// scale. What a list leaves out is not in its uncertainty: put in a [`Shape::Known`] of half the doubt, with as much
    /// uncertainty. Source: derived (elementary geometry).
    ///
    /// # Errors
    /// [`VolumeError::NoParts`] for an empty list or a piece counted zero times, [`VolumeError::ManyParts`] for one of more than
    /// [`MOST_PIECES`]; [`VolumeError::Dimension`] and
    /// [`VolumeError::Annulus`] for impossible sizes; [`VolumeError::Input`] for a caliper scale not above zero;
    /// [`VolumeError::NotPositive`] where the solids leave nothing.
    ///
    /// ```
    /// use casetight::measured::{Distribution, Evaluation, Measured};
    /// use casetight::quantity::{Length, Ratio};
    /// use casetight::volume::{PartsList, Piece, Sense, Shape, TestedVolume};
    /// use uom::si::{length::millimeter, ratio::ratio, volume::cubic_centimeter};
    ///
    /// let normal = Evaluation::TypeB(Distribution::Normal);
    /// let mm = |value, u| Measured::new(Length::new::<millimeter>(value), Length::new::<millimeter>(u), normal);
    /// let list = PartsList {
    ///     pieces: vec![
    ///         Piece {
    ///             name: "case".into(),
    ///             shape: Shape::Cylinder { diameter: mm(70.0, 0.1)?, length: mm(50.0, 0.1)? },
    ///             sense: Sense::Space,
    ///             count: 1,
    ///         },
    ///         Piece {
    ///             name: "web".into(),
    ///             shape: Shape::Cylinder { diameter: mm(64.0, 0.1)?, length: mm(12.0, 0.1)? },
    ///             sense: Sense::Solid,
    ///             count: 2,
    ///         },
    ///     ],
    ///     caliper_scale: Measured::exact(Ratio::new::<ratio>(1.0))?,
    /// };
    /// let tested = TestedVolume::from_parts_list(&list)?;
    /// assert!((tested.volume().value().get::<cubic_centimeter>() - 115.21).abs() < 0.01);
    /// assert!((tested.volume().standard_uncertainty().get::<cubic_centimeter>() - 0.97).abs() < 0.01);
    /// assert_eq!(tested.parts()[1].name, "web");
    /// # Ok::<(), casetight::volume::VolumeError>(())
    /// ```
    pub fn from_parts_list(list: &PartsList) -> Result<Self, VolumeError> {
        check_positive("caliper scale", &list.caliper_scale)?;
        if list.pieces.is_empty() || list.pieces.iter().any(|piece| piece.count == 0) {
            return Err(VolumeError::NoParts);
        }
        let got = list.pieces.len();
        if got > MOST_PIECES {
            let most = MOST_PIECES;
            return Err(VolumeError::ManyParts { got, most });
        }
        let (inputs, terms) = list.terms()?;
        let joint = propagate_slice(&inputs, None, |x| model(&terms, x).unwrap_or_default())?;
        let names = list.pieces.iter().map(|piece| piece.name.clone());
        Self::from_outputs(Method::PartsList, &joint, names)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::volume::bench::{agrees_with_monte_carlo, cm3, mm, one};

    /// A case with one piece of each shape.
    fn a_case() -> PartsList {
        let case = Shape::Cylinder {
            diameter: mm(70.0, 0.2),
            length: mm(50.0, 0.3),
        };
        let neck = Shape::Frustum {
            first: mm(40.0, 0.3),
            second: mm(52.0, 0.3),
            length: mm(20.0, 0.3),
        };
        let duct = Shape::Block {
            length: mm(30.0, 0.5),
            width: mm(10.0, 0.2),
            height: mm(12.0, 0.2),
        };
        let bearing = Shape::Annulus {
            outer: mm(35.0, 0.1),
            inner: mm(17.0, 0.1),
            length: mm(10.0, 0.1),
        };
        let rod = Shape::Known {
            volume: cm3(9.0, 0.5),
        };
        let piece = |name: &'static str, shape, sense, count| Piece {
            name: name.into(),
            shape,
            sense,
            count,
        };
        PartsList {
            pieces: vec![
                piece("case", case, Sense::Space, 1),
                piece("neck", neck, Sense::Space, 1),
                piece("duct", duct, Sense::Space, 2),
                piece("bearing", bearing, Sense::Solid, 2),
                piece("rod", rod, Sense::Solid, 1),
            ],
            caliper_scale: one(0.002),
        }
    }

    #[test]
    fn first_order_agrees_with_monte_carlo() {
        let list = a_case();
        let tested = TestedVolume::from_parts_list(&list).unwrap();
        let (inputs, terms) = list.terms().unwrap();
        agrees_with_monte_carlo(&tested, &inputs, |x| model(&terms, x).unwrap()[0]);
    }
}
