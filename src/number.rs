//! What the formulas run on.
//!
//! Every formula of the crate is written once, generic over [`Number`], and runs on plain `f64`, on [`Dual`] numbers,
//! which carry exact derivatives beside each value, and on the packs of
//! [`crate::lanes`], which carry several poses at once. Dual numbers hold any other number inside, so that
//! packs get their derivatives without a second copy of a formula.
//!
//! Nothing here branches on a value: an impossible root is NaN, and whoever asked reads the radicand to say why. And
//! nothing here is left to the machine: each operation is one correctly rounded IEEE operation or made of such, so that
//! the same bits come out of one pose alone and of many together, on any machine.

use std::fmt::Debug;
use std::ops::{Add, Div, Mul, Neg, Sub};

use crate::angle;

/// A real number as the mechanics see it: arithmetic and one root.
pub trait Number:
    Copy
    + Debug
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + 'static
{
    /// The number that has this value and no dependence on anything.
    fn constant(value: f64) -> Self;

    /// The non-negative square root; NaN for a negative radicand.
    fn sqrt(self) -> Self;

    /// One over the number. Formulas that divide by one thing several times take this once.
    fn recip(self) -> Self;

    /// +1 or -1 by the sign of the value, with no dependence on anything.
    fn sign(self) -> Self;

    /// The square.
    #[inline(always)]
    fn squared(self) -> Self {
        self * self
    }

    /// An angle given in degrees, in radians.
    #[inline(always)]
    fn to_radians(self) -> Self {
        self * Self::constant(std::f64::consts::PI / 180.0)
    }

    /// An angle given in radians, in degrees.
    #[inline(always)]
    fn to_degrees(self) -> Self {
        self * Self::constant(180.0 / std::f64::consts::PI)
    }
}

/// A number that knows angles.
pub trait Angular: Number {
    /// Sine and cosine of an angle in radians.
    fn sine_and_cosine(self) -> (Self, Self);

    /// The angle of the point (`x`, `self`) in radians, -pi to pi.
    fn arc_tangent(self, x: Self) -> Self;

    /// The angle in radians, -pi/2 to pi/2, whose sine this is; NaN outside -1 to 1.
    #[inline(always)]
    fn arc_sine(self) -> Self {
        let one = Self::constant(1.0);
        self.arc_tangent(((one - self) * (one + self)).sqrt())
    }
}

/// A number built over another, which can stand for it as a constant.
pub trait Over<N>: Number {
    /// This value, with no dependence on anything; on a pack of numbers, in every lane.
    fn of(value: N) -> Self;
}

/// A plain number, or several side by side: one operation works on all of them, and none knows its neighbours.
pub trait Pack: Angular + Over<f64> {
    /// How many numbers are packed.
    const LANES: usize;

    /// The first numbers of a slice, which has as many at least.
    fn load(from: &[f64]) -> Self;

    /// Write the numbers to the front of a slice, which has room for as many at least.
    fn store(self, to: &mut [f64]);

    /// Ask for the memory at the front of a slice, where the machine can, since it will be written soon. A hint: changes
    /// nothing.
    #[inline(always)]
    fn fetch_to_write(_to: &[f64]) {}

    /// Copy each slice to the other, which is as long; where the machine can, past its caches, since nobody reads what was
    /// copied for a while.
    ///
    /// # Panics
    /// If two slices are not equally long.
    #[inline(always)]
    fn copy_past_caches<'a>(strips: impl Iterator<Item = (&'a [f64], &'a mut [f64])>) {
        for (from, to) in strips {
            to.copy_from_slice(from);
        }
    }

    /// Where `a < b` the one, elsewhere (and for NaN) the other.
    fn choose_less(a: Self, b: Self, then: Self, otherwise: Self) -> Self;

    /// The absolute value.
    fn magnitude(self) -> Self;

    /// The magnitude of this with the sign of `other`; the sign of zero counts.
    fn with_sign_of(self, other: Self) -> Self;

    /// Lanes in which `self >= least`, the first lane in the lowest bit; false for NaN.
    fn at_least(self, least: Self) -> u32;
}

impl Number for f64 {
    #[inline(always)]
    fn constant(value: f64) -> Self {
        value
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        f64::sqrt(self)
    }

    #[inline(always)]
    fn recip(self) -> Self {
        1.0 / self
    }

    #[inline(always)]
    fn sign(self) -> Self {
        1.0_f64.copysign(self)
    }
}

impl Angular for f64 {
    #[inline(always)]
    fn sine_and_cosine(self) -> (Self, Self) {
        angle::sine_and_cosine(self)
    }

    #[inline(always)]
    fn arc_tangent(self, x: Self) -> Self {
        angle::arc_tangent(self, x)
    }
}

impl Over<f64> for f64 {
    #[inline(always)]
    fn of(value: f64) -> Self {
        value
    }
}

impl Pack for f64 {
    const LANES: usize = 1;

    #[inline(always)]
    fn load(from: &[f64]) -> Self {
        from[0]
    }

    #[inline(always)]
    fn store(self, to: &mut [f64]) {
        to[0] = self;
    }

    #[inline(always)]
    fn choose_less(a: Self, b: Self, then: Self, otherwise: Self) -> Self {
        if a < b { then } else { otherwise }
    }

    #[inline(always)]
    fn magnitude(self) -> Self {
        self.abs()
    }

    #[inline(always)]
    fn with_sign_of(self, other: Self) -> Self {
        self.copysign(other)
    }

    #[inline(always)]
    fn at_least(self, least: Self) -> u32 {
        u32::from(self >= least)
    }
}

/// A number together with its derivatives in `K` directions, exact to round-off.
///
/// Forward differentiation: each operation applies the chain rule to `slope` beside the operation on `value`.
///
/// ```
/// use strutsweep::number::{Dual, Number};
/// let t = Dual::<f64, 1>::variable(3.0, 0);
/// let y = (t * t + Dual::constant(7.0)).sqrt();
/// assert_eq!(y.value, 4.0);
/// assert_eq!(y.slope[0], 0.75); // t / sqrt(t^2 + 7)
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dual<N, const K: usize = 1> {
    /// The value itself.
    pub value: N,
    /// The derivative of the value in each direction.
    pub slope: [N; K],
}

impl<N: Number, const K: usize> Dual<N, K> {
    /// A value that depends on nothing.
    #[inline(always)]
    pub fn fixed(value: N) -> Self {
        Self {
            value,
            slope: [N::constant(0.0); K],
        }
    }

    /// The independent variable of one direction: derivative one there, zero elsewhere.
    #[inline(always)]
    pub fn variable(value: N, direction: usize) -> Self {
        let mut dual = Self::fixed(value);
        dual.slope[direction] = N::constant(1.0);
        dual
    }

    /// The chain rule for a function of one number: its value, and its derivative there.
    #[inline(always)]
    fn chain(self, value: N, derivative: N) -> Self {
        let mut slope = self.slope;
        for s in &mut slope {
            *s = *s * derivative;
        }
        Self { value, slope }
    }
}

impl<N: Number, const K: usize> Over<N> for Dual<N, K> {
    #[inline(always)]
    fn of(value: N) -> Self {
        Self::fixed(value)
    }
}

impl<N: Number, const K: usize> Add for Dual<N, K> {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        let mut slope = self.slope;
        for (s, o) in slope.iter_mut().zip(other.slope) {
            *s = *s + o;
        }
        Self {
            value: self.value + other.value,
            slope,
        }
    }
}

impl<N: Number, const K: usize> Sub for Dual<N, K> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        let mut slope = self.slope;
        for (s, o) in slope.iter_mut().zip(other.slope) {
            *s = *s - o;
        }
        Self {
            value: self.value - other.value,
            slope,
        }
    }
}

impl<N: Number, const K: usize> Mul for Dual<N, K> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        let mut slope = self.slope;
        for (s, o) in slope.iter_mut().zip(other.slope) {
            *s = *s * other.value + self.value * o;
        }
        Self {
            value: self.value * other.value,
            slope,
        }
    }
}

impl<N: Number, const K: usize> Div for Dual<N, K> {
    type Output = Self;
    // Multiplying by the inverse is how it is done: the derivative needs the inverse too.
    #[allow(clippy::suspicious_arithmetic_impl)]
    #[inline(always)]
    fn div(self, other: Self) -> Self {
        self * other.recip()
    }
}

impl<N: Number, const K: usize> Neg for Dual<N, K> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        let mut slope = self.slope;
        for s in &mut slope {
            *s = -*s;
        }
        Self {
            value: -self.value,
            slope,
        }
    }
}

impl<N: Number, const K: usize> Number for Dual<N, K> {
    #[inline(always)]
    fn constant(value: f64) -> Self {
        Self::fixed(N::constant(value))
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        let root = self.value.sqrt();
        self.chain(root, (root + root).recip())
    }

    #[inline(always)]
    fn recip(self) -> Self {
        let inverse = self.value.recip();
        self.chain(inverse, -(inverse * inverse))
    }

    #[inline(always)]
    fn sign(self) -> Self {
        Self::fixed(self.value.sign())
    }
}

impl<N: Angular, const K: usize> Angular for Dual<N, K> {
    #[inline(always)]
    fn sine_and_cosine(self) -> (Self, Self) {
        let (sine, cosine) = self.value.sine_and_cosine();
        (self.chain(sine, cosine), self.chain(cosine, -sine))
    }

    #[inline(always)]
    fn arc_tangent(self, x: Self) -> Self {
        let per_square = (self.value.squared() + x.value.squared()).recip();
        let mut slope = self.slope;
        for (s, o) in slope.iter_mut().zip(x.slope) {
            *s = (x.value * *s - self.value * o) * per_square;
        }
        Self {
            value: self.value.arc_tangent(x.value),
            slope,
        }
    }
}

/// Dual numbers of several directions whose operations are functions that are called, not copied to wherever they are
/// used.
///
/// For slopes of single poses, where a dual number inside a dual number makes each operation a long one: code stays short,
/// and is compiled in seconds instead of minutes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Called<const K: usize>(pub Dual<f64, K>);

macro_rules! call_operation {
    ($($trait:ident, $name:ident;)*) => {
        $(
            impl<const K: usize> $trait for Called<K> {
                type Output = Self;
                #[inline(never)]
                fn $name(self, other: Self) -> Self {
                    Self(self.0.$name(other.0))
                }
            }
        )*
    };
}

call_operation!(Add, add; Sub, sub; Mul, mul; Div, div;);

impl<const K: usize> Neg for Called<K> {
    type Output = Self;
    #[inline(never)]
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl<const K: usize> Number for Called<K> {
    #[inline(always)]
    fn constant(value: f64) -> Self {
        Self(Dual::fixed(value))
    }

    #[inline(never)]
    fn sqrt(self) -> Self {
        Self(self.0.sqrt())
    }

    #[inline(never)]
    fn recip(self) -> Self {
        Self(self.0.recip())
    }

    #[inline(always)]
    fn sign(self) -> Self {
        Self(self.0.sign())
    }
}

impl<const K: usize> Angular for Called<K> {
    #[inline(never)]
    fn sine_and_cosine(self) -> (Self, Self) {
        let (sine, cosine) = self.0.sine_and_cosine();
        (Self(sine), Self(cosine))
    }

    #[inline(never)]
    fn arc_tangent(self, x: Self) -> Self {
        Self(self.0.arc_tangent(x.0))
    }
}

impl<const K: usize> Over<f64> for Called<K> {
    #[inline(always)]
    fn of(value: f64) -> Self {
        Self::constant(value)
    }
}
