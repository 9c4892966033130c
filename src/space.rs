//! Geometry of space, with no suspension in it: points, vectors, lines and circles over any [`Number`].
//!
//! Points and vectors are different things: a point less a point is a vector, a point plus a vector is a point, and
//! two points cannot be added.

use std::ops::{Add, Mul, Neg, Sub};

use crate::number::{Angular, Dual, Number, Over};

/// A displacement or a direction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vector<N = f64> {
    /// Component along X.
    pub x: N,
    /// Component along Y.
    pub y: N,
    /// Component along Z.
    pub z: N,
}

/// A place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point<N = f64> {
    /// Coordinate along X.
    pub x: N,
    /// Coordinate along Y.
    pub y: N,
    /// Coordinate along Z.
    pub z: N,
}

impl<N: Number> Vector<N> {
    /// The vector with these components.
    #[inline(always)]
    pub const fn new(x: N, y: N, z: N) -> Self {
        Self { x, y, z }
    }

    /// The same vector over another number, as a constant.
    #[inline(always)]
    pub fn constant(of: Vector<f64>) -> Self {
        Self::new(N::constant(of.x), N::constant(of.y), N::constant(of.z))
    }

    /// The same vector over another kind of number.
    #[inline(always)]
    pub fn lifted<M: Over<N>>(self) -> Vector<M> {
        Vector::new(M::of(self.x), M::of(self.y), M::of(self.z))
    }

    /// Scalar product.
    #[inline(always)]
    pub fn dot(self, other: Self) -> N {
        self.x * other.x + self.y * other.y + self.z * other.z
    }

    /// Vector product, right-handed.
    #[inline(always)]
    pub fn cross(self, other: Self) -> Self {
        Self::new(
            self.y * other.z - self.z * other.y,
            self.z * other.x - self.x * other.z,
            self.x * other.y - self.y * other.x,
        )
    }

    /// Square of the length.
    #[inline(always)]
    pub fn length_squared(self) -> N {
        self.dot(self)
    }

    /// Length.
    #[inline(always)]
    pub fn length(self) -> N {
        self.length_squared().sqrt()
    }

    /// The vector of length one in the same direction; NaN for a vector of no length.
    #[inline(always)]
    pub fn unit(self) -> Self {
        self * self.length().recip()
    }

    /// What is left when the part along `axis`, a unit vector, is taken away.
    #[inline(always)]
    pub fn without(self, axis: Self) -> Self {
        self - axis * self.dot(axis)
    }

    /// The mirror image in the plane Y = 0.
    #[inline(always)]
    pub fn mirrored(self) -> Self {
        Self::new(self.x, -self.y, self.z)
    }
}

impl<N: Angular> Vector<N> {
    /// The vector turned about `axis`, a unit vector, by an angle in radians, right-handed (Rodrigues' formula).
    #[inline(always)]
    pub fn turned(self, axis: Self, angle_rad: N) -> Self {
        let (sine, cosine) = angle_rad.sine_and_cosine();
        self * cosine + axis.cross(self) * sine + axis * (axis.dot(self) * (N::constant(1.0) - cosine))
    }
}

impl<N: Number> Vector<N> {
    /// The vector turned about X, right-handed.
    ///
    /// Written so that no turn leaves every digit as it was: see [`Turn`].
    #[inline(always)]
    pub fn rolled(self, by: Turn<N>) -> Self {
        Self::new(
            self.x,
            self.y + (self.y * by.cosine_less_one - self.z * by.sine),
            self.z + (self.y * by.sine + self.z * by.cosine_less_one),
        )
    }
}

/// A turn about X by an angle, kept as its sine and what its cosine is short of one, so that a turn by nothing changes
/// not a bit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn<N = f64> {
    /// Sine of the angle.
    pub sine: N,
    /// Cosine of the angle, less one.
    pub cosine_less_one: N,
}

impl<N: Angular> Turn<N> {
    /// The turn by an angle in radians.
    #[inline(always)]
    pub fn by(angle_rad: N) -> Self {
        // cos a - 1 = -2 sin^2(a/2): no digits are lost at small angles.
        let half = angle_rad * N::constant(0.5);
        let (half_sine, half_cosine) = half.sine_and_cosine();
        let two = N::constant(2.0);
        Self {
            sine: two * half_sine * half_cosine,
            cosine_less_one: -(two * half_sine * half_sine),
        }
    }
}

impl<N: Number> Point<N> {
    /// The point turned about the line along X at Y = 0 and this height, right-handed.
    #[inline(always)]
    pub fn rolled(self, height: N, by: Turn<N>) -> Self {
        let up = self.z - height;
        Self::new(
            self.x,
            self.y + (self.y * by.cosine_less_one - up * by.sine),
            self.z + (self.y * by.sine + up * by.cosine_less_one),
        )
    }
}

impl<N: Number> Point<N> {
    /// The point with these coordinates.
    #[inline(always)]
    pub const fn new(x: N, y: N, z: N) -> Self {
        Self { x, y, z }
    }

    /// The same point over another number, as a constant.
    #[inline(always)]
    pub fn constant(of: Point<f64>) -> Self {
        Self::new(N::constant(of.x), N::constant(of.y), N::constant(of.z))
    }

    /// The same point over another kind of number.
    #[inline(always)]
    pub fn lifted<M: Over<N>>(self) -> Point<M> {
        Point::new(M::of(self.x), M::of(self.y), M::of(self.z))
    }

    /// The mirror image in the plane Y = 0.
    #[inline(always)]
    pub fn mirrored(self) -> Self {
        Self::new(self.x, -self.y, self.z)
    }
}

impl<N: Number, const K: usize> Point<Dual<N, K>> {
    /// The point without its derivatives.
    #[inline(always)]
    pub fn value(self) -> Point<N> {
        Point::new(self.x.value, self.y.value, self.z.value)
    }
}

impl<N: Number> Add for Vector<N> {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        Self::new(self.x + other.x, self.y + other.y, self.z + other.z)
    }
}

impl<N: Number> Sub for Vector<N> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        Self::new(self.x - other.x, self.y - other.y, self.z - other.z)
    }
}

impl<N: Number> Mul<N> for Vector<N> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, by: N) -> Self {
        Self::new(self.x * by, self.y * by, self.z * by)
    }
}

impl<N: Number> Neg for Vector<N> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self::new(-self.x, -self.y, -self.z)
    }
}

impl<N: Number> Sub for Point<N> {
    type Output = Vector<N>;
    #[inline(always)]
    fn sub(self, other: Self) -> Vector<N> {
        Vector::new(self.x - other.x, self.y - other.y, self.z - other.z)
    }
}

impl<N: Number> Add<Vector<N>> for Point<N> {
    type Output = Self;
    #[inline(always)]
    fn add(self, by: Vector<N>) -> Self {
        Self::new(self.x + by.x, self.y + by.y, self.z + by.z)
    }
}

impl<N: Number> Sub<Vector<N>> for Point<N> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, by: Vector<N>) -> Self {
        Self::new(self.x - by.x, self.y - by.y, self.z - by.z)
    }
}

impl From<[f64; 3]> for Point<f64> {
    fn from([x, y, z]: [f64; 3]) -> Self {
        Self { x, y, z }
    }
}

impl From<Point<f64>> for [f64; 3] {
    fn from(p: Point<f64>) -> Self {
        [p.x, p.y, p.z]
    }
}

impl From<[f64; 3]> for Vector<f64> {
    fn from([x, y, z]: [f64; 3]) -> Self {
        Self { x, y, z }
    }
}

impl From<Vector<f64>> for [f64; 3] {
    fn from(v: Vector<f64>) -> Self {
        [v.x, v.y, v.z]
    }
}

impl From<nalgebra::Point3<f64>> for Point<f64> {
    fn from(p: nalgebra::Point3<f64>) -> Self {
        Self::new(p.x, p.y, p.z)
    }
}

impl From<Point<f64>> for nalgebra::Point3<f64> {
    fn from(p: Point<f64>) -> Self {
        Self::new(p.x, p.y, p.z)
    }
}

impl From<nalgebra::Vector3<f64>> for Vector<f64> {
    fn from(v: nalgebra::Vector3<f64>) -> Self {
        Self::new(v.x, v.y, v.z)
    }
}

impl From<Vector<f64>> for nalgebra::Vector3<f64> {
    fn from(v: Vector<f64>) -> Self {
        Self::new(v.x, v.y, v.z)
    }
}

/// A straight line: a point of it and its direction, a unit vector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line<N = f64> {
    /// A point on the line.
    pub point: Point<N>,
    /// The direction, of length one.
    pub direction: Vector<N>,
}

impl<N: Number> Line<N> {
    /// The line from one point towards another; its direction is NaN if they coincide.
    #[inline(always)]
    pub fn through(from: Point<N>, to: Point<N>) -> Self {
        Self {
            point: from,
            direction: (to - from).unit(),
        }
    }

    /// The point of the line nearest to `point`.
    #[inline(always)]
    pub fn foot(&self, point: Point<N>) -> Point<N> {
        self.point + self.direction * (point - self.point).dot(self.direction)
    }
}

/// A circle in space, with a start from which angles on it are measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circle<N = f64> {
    /// The centre.
    pub centre: Point<N>,
    /// From the centre to the point at angle zero: its length is the radius.
    pub start: Vector<N>,
    /// From the centre to the point at a quarter turn; as long as `start` and square to it.
    pub quarter: Vector<N>,
}

impl<N: Number> Circle<N> {
    /// The same circle over another kind of number.
    #[inline(always)]
    pub fn lifted<M: Over<N>>(&self) -> Circle<M> {
        Circle {
            centre: self.centre.lifted(),
            start: self.start.lifted(),
            quarter: self.quarter.lifted(),
        }
    }

    /// The circle that `start` describes as it turns about `axis`, right-handed, with another radius if wanted:
    /// `longer` is added to the distance of `start` from the axis.
    #[inline(always)]
    pub fn about(axis: &Line<N>, start: Point<N>, longer: N) -> Self {
        let centre = axis.foot(start);
        let arm = start - centre;
        let arm = arm * (N::constant(1.0) + longer * arm.length().recip());
        Self {
            centre,
            start: arm,
            quarter: axis.direction.cross(arm),
        }
    }

    /// The point at the angle whose half has the tangent `t`: rational in `t`, one division, no trigonometry.
    ///
    /// cos = (1 - t^2)/(1 + t^2), sin = 2 t/(1 + t^2). Half a turn is the one point out of reach.
    #[inline(always)]
    pub fn at_half_tangent(&self, t: N) -> Point<N> {
        let one = N::constant(1.0);
        let t_squared = t * t;
        let share = (one + t_squared).recip();
        self.centre + self.start * ((one - t_squared) * share) + self.quarter * ((t + t) * share)
    }

    /// Where the circle meets a sphere, and how far it is from missing it.
    ///
    /// |centre + r (cos a, sin a) - c|^2 = R^2 reads A cos a + B sin a = K, so with w = sqrt(A^2 + B^2 - K^2)
    /// cos a = (A K - sense B w)/(A^2 + B^2) and sin a = (B K + sense A w)/(A^2 + B^2). There A sin a - B cos a, half
    /// the rate at which the squared distance from the sphere's centre grows with the angle, is sense w: so `sense` +1
    /// is the crossing at which that distance grows, -1 the one at which it falls.
    ///
    /// Gives the tangent of half the angle, and the radicand as a share of A^2 + B^2: negative when circle and sphere
    /// do not meet, and the tangent is NaN then.
    #[inline(always)]
    pub fn meet_sphere(&self, sphere_centre: Point<N>, sphere_radius_squared: N, sense: N) -> (N, N) {
        let to_centre = sphere_centre - self.centre;
        let a = to_centre.dot(self.start);
        let b = to_centre.dot(self.quarter);
        let k = (to_centre.length_squared() + self.start.length_squared() - sphere_radius_squared) * N::constant(0.5);
        let scale = a * a + b * b;
        let radicand = scale - k * k;
        let w = sense * radicand.sqrt();
        // tan(a/2) = sin a/(1 + cos a), both times A^2 + B^2.
        let tangent = (b * k + a * w) * (scale + a * k - b * w).recip();
        (tangent, radicand * scale.recip())
    }
}
