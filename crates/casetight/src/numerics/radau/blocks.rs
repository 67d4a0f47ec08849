//! Pairs of numbers, blocks of two by two, and the elimination of three blocks of them.

use super::collocation::{A11, A12, A13, A21, A22, A23, A31, A32, A33};

/// Two numbers that go together: the unknowns, the contents, or rates and derivatives of either.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pair {
    pub(crate) a: f64,
    pub(crate) b: f64,
}

/// A block of two by two: rows and columns as those of a [`Pair`].
#[derive(Debug, Clone, Copy)]
pub(crate) struct Block {
    pub(crate) aa: f64,
    pub(crate) ab: f64,
    pub(crate) ba: f64,
    pub(crate) bb: f64,
}

/// Everything at one point of a step.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Node<P> {
    /// c.
    pub(crate) content: Pair,
    /// dc/dx.
    pub(crate) mass: Block,
    /// g.
    pub(crate) rate: Pair,
    /// dg/dx.
    pub(crate) slope: Block,
    /// The balance's own.
    pub(crate) point: P,
}

/// Three stages of a step, reduced.
#[derive(Debug, Clone, Copy)]
pub(super) struct Eliminated {
    inverse1: Block,
    inverse2: Block,
    inverse3: Block,
    lower21: Block,
    lower31: Block,
    lower32: Block,
    upper12: Block,
    upper13: Block,
    upper23: Block,
}

impl Eliminated {
    /// Block elimination of `mass_i d_i - length sum_j a_ij slope_j d_j = lacking_i`.
    #[inline]
    pub(super) fn of<P>(nodes: &[Node<P>; 3], length: f64) -> Self {
        let [n1, n2, n3] = nodes;
        let off = |node: &Node<P>, a: f64| node.slope.scaled(-length * a);
        let inverse1 = n1.mass.plus(off(n1, A11)).inverse();
        let upper12 = off(n2, A12);
        let upper13 = off(n3, A13);
        let lower21 = off(n1, A21).after(inverse1);
        let lower31 = off(n1, A31).after(inverse1);
        let inverse2 = n2
            .mass
            .plus(off(n2, A22))
            .less(lower21.after(upper12))
            .inverse();
        let upper23 = off(n3, A23).less(lower21.after(upper13));
        let lower32 = off(n2, A32).less(lower31.after(upper12)).after(inverse2);
        let inverse3 = n3
            .mass
            .plus(off(n3, A33))
            .less(lower31.after(upper13))
            .less(lower32.after(upper23))
            .inverse();
        Self {
            inverse1,
            inverse2,
            inverse3,
            lower21,
            lower31,
            lower32,
            upper12,
            upper13,
            upper23,
        }
    }

    #[inline]
    pub(super) fn solve(&self, [r1, r2, r3]: [Pair; 3]) -> [Pair; 3] {
        let r2 = r2.minus(self.lower21.times(r1));
        let r3 = r3
            .minus(self.lower31.times(r1))
            .minus(self.lower32.times(r2));
        let d3 = self.inverse3.times(r3);
        let d2 = self.inverse2.times(r2.minus(self.upper23.times(d3)));
        let d1 = self.inverse1.times(
            r1.minus(self.upper12.times(d2))
                .minus(self.upper13.times(d3)),
        );
        [d1, d2, d3]
    }
}

impl Pair {
    pub(crate) const ZERO: Self = Self { a: 0.0, b: 0.0 };

    #[inline]
    pub(super) fn plus(self, other: Self) -> Self {
        Self {
            a: self.a + other.a,
            b: self.b + other.b,
        }
    }

    #[inline]
    pub(super) fn minus(self, other: Self) -> Self {
        Self {
            a: self.a - other.a,
            b: self.b - other.b,
        }
    }
}

impl Block {
    #[inline]
    pub(super) fn times(self, v: Pair) -> Pair {
        Pair {
            a: self.aa * v.a + self.ab * v.b,
            b: self.ba * v.a + self.bb * v.b,
        }
    }

    /// The product self other: other is applied first.
    #[inline]
    pub(super) fn after(self, other: Self) -> Self {
        Self {
            aa: self.aa * other.aa + self.ab * other.ba,
            ab: self.aa * other.ab + self.ab * other.bb,
            ba: self.ba * other.aa + self.bb * other.ba,
            bb: self.ba * other.ab + self.bb * other.bb,
        }
    }

    #[inline]
    pub(super) fn plus(self, other: Self) -> Self {
        Self {
            aa: self.aa + other.aa,
            ab: self.ab + other.ab,
            ba: self.ba + other.ba,
            bb: self.bb + other.bb,
        }
    }

    #[inline]
    pub(super) fn less(self, other: Self) -> Self {
        self.plus(other.scaled(-1.0))
    }

    #[inline]
    pub(super) fn scaled(self, by: f64) -> Self {
        Self {
            aa: self.aa * by,
            ab: self.ab * by,
            ba: self.ba * by,
            bb: self.bb * by,
        }
    }

    #[inline]
    pub(super) fn inverse(self) -> Self {
        let over = 1.0 / (self.aa * self.bb - self.ab * self.ba);
        Self {
            aa: self.bb * over,
            ab: -self.ab * over,
            ba: -self.ba * over,
            bb: self.aa * over,
        }
    }
}
