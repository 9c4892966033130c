//! What the formulas run on.
//!
//! Every formula of the crate is written once, generic over [`Number`], and runs on plain `f64` or on [`Dual`] numbers,
//! which carry exact derivatives beside each value. A dual number holds any other number inside, so that a number which
//! carries several values at once gets its derivatives without a second copy of a formula.
//!
//! Nothing here branches on a value: an impossible root is NaN, and whoever asked reads the radicand to say why.

use std::fmt::Debug;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A real number as the formulas see it: arithmetic, one root, and the four functions that angles need.
pub trait Number:
    Copy
    + Debug
    + PartialEq
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

    /// Sine and cosine of an angle in radians.
    fn sin_cos(self) -> (Self, Self);

    /// The angle in radians, -pi/2 to pi/2, whose sine this is; NaN outside -1 to 1.
    fn asin(self) -> Self;

    /// The angle of the point (`x`, `self`) in radians, -pi to pi.
    fn atan2(self, x: Self) -> Self;

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
}

impl Number for f64 {
    #[inline(always)]
    fn constant(value: f64) -> Self {
        value
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        self.sqrt()
    }

    #[inline(always)]
    fn sin_cos(self) -> (Self, Self) {
        self.sin_cos()
    }

    #[inline(always)]
    fn asin(self) -> Self {
        self.asin()
    }

    #[inline(always)]
    fn atan2(self, x: Self) -> Self {
        self.atan2(x)
    }

    #[inline(always)]
    fn sign(self) -> Self {
        1.0_f64.copysign(self)
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
    #[inline(always)]
    fn div(self, other: Self) -> Self {
        let quotient = self.value / other.value;
        let mut slope = self.slope;
        for (s, o) in slope.iter_mut().zip(other.slope) {
            *s = (*s - quotient * o) / other.value;
        }
        Self { value: quotient, slope }
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
        self.chain(root, N::constant(0.5) / root)
    }

    #[inline(always)]
    fn sin_cos(self) -> (Self, Self) {
        let (sine, cosine) = self.value.sin_cos();
        (self.chain(sine, cosine), self.chain(cosine, -sine))
    }

    #[inline(always)]
    fn asin(self) -> Self {
        let cosine = (N::constant(1.0) - self.value.squared()).sqrt();
        self.chain(self.value.asin(), N::constant(1.0) / cosine)
    }

    #[inline(always)]
    fn atan2(self, x: Self) -> Self {
        let radius_squared = self.value.squared() + x.value.squared();
        let mut slope = self.slope;
        for (s, o) in slope.iter_mut().zip(x.slope) {
            *s = (x.value * *s - self.value * o) / radius_squared;
        }
        Self {
            value: self.value.atan2(x.value),
            slope,
        }
    }

    #[inline(always)]
    fn sign(self) -> Self {
        Self::fixed(self.value.sign())
    }
}
