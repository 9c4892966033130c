//! Closed outlines in a plane: circle, ellipse, polygon; and how far a point lies inside or outside of one.
//!
//! Coordinates are millimetres along two axes square to each other; what they mean is the caller's to say.

use crate::error::{Fault, GeometryError, Given};

/// Fewer corners enclose nothing.
pub const LEAST_CORNERS: usize = 3;
/// Neighbouring corners of a polygon lie at least so far apart.
pub const LEAST_SIDE_MM: f64 = 1e-3;

/// Greatest number of steps of Newton's method for the foot on an ellipse; six are common.
const MOST_STEPS: usize = 64;
/// The widest circle in a polygon is found to this share of the polygon's size.
const WIDEST_SHARE: f64 = 1e-6;

/// What bounds an area.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A circle of this radius.
    Circle {
        /// The radius.
        radius_mm: f64,
    },
    /// An ellipse.
    Ellipse {
        /// Half its size along either axis, before it is turned.
        half_axes_mm: [f64; 2],
        /// Its first axis is turned by this from the first axis of the plane towards the second.
        turned_deg: f64,
    },
    /// A polygon that does not cross itself, its corners in order, either way round.
    Polygon {
        /// The corners, from the centre of the outline.
        corners_mm: Vec<[f64; 2]>,
    },
}

/// A closed outline.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// The centre: what the shape's coordinates are counted from.
    pub centre_mm: [f64; 2],
    /// The shape.
    pub shape: Shape,
}

impl Outline {
    /// Distance of a point from the edge: positive inside, zero on it, negative outside.
    pub fn gap_mm(&self, at: [f64; 2]) -> f64 {
        let [x, y] = [at[0] - self.centre_mm[0], at[1] - self.centre_mm[1]];
        match &self.shape {
            Shape::Circle { radius_mm } => radius_mm - x.hypot(y),
            Shape::Ellipse {
                half_axes_mm,
                turned_deg,
            } => {
                let (sine, cosine) = turned_deg.to_radians().sin_cos();
                ellipse_gap(*half_axes_mm, [cosine * x + sine * y, cosine * y - sine * x])
            }
            Shape::Polygon { corners_mm } => polygon_gap(corners_mm, [x, y]),
        }
    }

    /// Radius of the largest circle that fits inside.
    pub fn widest_mm(&self) -> f64 {
        match &self.shape {
            Shape::Circle { radius_mm } => *radius_mm,
            Shape::Ellipse {
                half_axes_mm: [a, b], ..
            } => a.min(*b),
            Shape::Polygon { corners_mm } => widest_in(corners_mm),
        }
    }

    /// Check that the outline encloses an area; `field` is the table it stands in.
    ///
    /// # Errors
    /// [`GeometryError`] with the field, the value and what is wrong.
    pub fn check(&self, field: &str, most_mm: f64) -> Result<(), GeometryError> {
        let within = |key: &str| format!("{field}.{key}");
        check_pair(&within("centre"), self.centre_mm, -most_mm, most_mm)?;
        match &self.shape {
            Shape::Circle { radius_mm } => check_number(&within("radius"), *radius_mm, LEAST_SIDE_MM, most_mm, "mm"),
            Shape::Ellipse {
                half_axes_mm,
                turned_deg,
            } => {
                check_pair(&within("half_axes"), *half_axes_mm, LEAST_SIDE_MM, most_mm)?;
                check_number(&within("turned"), *turned_deg, -360.0, 360.0, "deg")
            }
            Shape::Polygon { corners_mm } => check_polygon(&within("corners"), corners_mm, most_mm),
        }
    }
}

fn check_number(field: &str, value: f64, least: f64, most: f64, unit: &'static str) -> Result<(), GeometryError> {
    let wrong = |fault| Err(GeometryError::new(field, Given::Number(value), fault));
    if !value.is_finite() {
        return wrong(Fault::NotFinite);
    }
    if value < least {
        return wrong(Fault::TooSmall { least, unit, hint: "" });
    }
    if value > most {
        return wrong(Fault::TooLarge { most, unit, hint: "" });
    }
    Ok(())
}

fn check_pair(field: &str, pair: [f64; 2], least: f64, most: f64) -> Result<(), GeometryError> {
    for value in pair {
        check_number(field, value, least, most, "mm").map_err(|error| GeometryError {
            value: Given::Text(format!("[{}, {}]", pair[0], pair[1])),
            ..error
        })?;
    }
    Ok(())
}

fn check_polygon(field: &str, corners: &[[f64; 2]], most_mm: f64) -> Result<(), GeometryError> {
    let wrong = |fault| {
        Err(GeometryError::new(
            field,
            Given::Text(format!("{} corners", corners.len())),
            fault,
        ))
    };
    if corners.len() < LEAST_CORNERS {
        return wrong(Fault::TooFew {
            what: "corners",
            least: LEAST_CORNERS,
        });
    }
    for corner in corners {
        check_pair(field, *corner, -most_mm, most_mm)?;
    }
    for (i, (from, to)) in sides(corners).enumerate() {
        if (to[0] - from[0]).hypot(to[1] - from[1]) < LEAST_SIDE_MM {
            return wrong(Fault::SameCorner { first: i + 1 });
        }
    }
    match crossing(corners) {
        Some((first, second)) => wrong(Fault::CrossesItself { first, second }),
        None => Ok(()),
    }
}

/// The sides of a polygon, from corner to corner.
fn sides(corners: &[[f64; 2]]) -> impl Iterator<Item = ([f64; 2], [f64; 2])> + '_ {
    corners
        .iter()
        .copied()
        .zip(corners.iter().copied().cycle().skip(1))
        .take(corners.len())
}

/// Twice the area of the triangle of three points; positive if they turn from the first axis towards the second.
fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

/// Whether `c`, which lies on the line through `a` and `b`, lies between them.
fn between(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> bool {
    let within = |i: usize| c[i] >= a[i].min(b[i]) && c[i] <= a[i].max(b[i]);
    within(0) && within(1)
}

/// Two sides of a polygon that meet where they should not, counted from one, if there are any.
fn crossing(corners: &[[f64; 2]]) -> Option<(usize, usize)> {
    let all: Vec<_> = sides(corners).collect();
    let count = all.len();
    for i in 0..count {
        for j in i + 1..count {
            let ((a, b), (c, d)) = (all[i], all[j]);
            let meet = if j == i + 1 || (i == 0 && j == count - 1) {
                // Neighbours share a corner; they must not fold back on each other.
                let (shared, p, q) = if j == i + 1 { (b, a, d) } else { (a, b, c) };
                let fold = (p[0] - shared[0]) * (q[0] - shared[0]) + (p[1] - shared[1]) * (q[1] - shared[1]);
                turn(p, shared, q) == 0.0 && fold > 0.0
            } else {
                let (c_of_ab, d_of_ab) = (turn(a, b, c), turn(a, b, d));
                let (a_of_cd, b_of_cd) = (turn(c, d, a), turn(c, d, b));
                (c_of_ab * d_of_ab < 0.0 && a_of_cd * b_of_cd < 0.0)
                    || (c_of_ab == 0.0 && between(a, b, c))
                    || (d_of_ab == 0.0 && between(a, b, d))
                    || (a_of_cd == 0.0 && between(c, d, a))
                    || (b_of_cd == 0.0 && between(c, d, b))
            };
            if meet {
                return Some((i + 1, j + 1));
            }
        }
    }
    None
}

/// Distance of a point from the edge of an ellipse along the axes: positive inside.
///
/// The foot (a^2 x/(t + a^2), b^2 y/(t + b^2)) lies on the ellipse for the largest root t of
/// (a x/(t + a^2))^2 + (b y/(t + b^2))^2 = 1 (D. Eberly, *Distance from a Point to an Ellipse*, MEMORY). Left of the
/// root the sum falls and is convex, so that Newton's method climbs to it from t = b y - b^2 without overshooting.
fn ellipse_gap(half: [f64; 2], at: [f64; 2]) -> f64 {
    // The first quadrant, the longer axis first: the ellipse is alike in all four.
    let swap = half[0] < half[1];
    let [a, b] = if swap { [half[1], half[0]] } else { half };
    let [x, y] = if swap {
        [at[1].abs(), at[0].abs()]
    } else {
        [at[0].abs(), at[1].abs()]
    };
    let inside = (x / a).powi(2) + (y / b).powi(2) < 1.0;
    let foot = if y > 0.0 {
        let mut t = b * y - b * b;
        if x > 0.0 {
            for _ in 0..MOST_STEPS {
                let (u, v) = (a * x / (t + a * a), b * y / (t + b * b));
                let excess = u * u + v * v - 1.0;
                let slope = -2.0 * (u * u / (t + a * a) + v * v / (t + b * b));
                let next = t - excess / slope;
                // Round-off ends the climb.
                if !(next > t) {
                    break;
                }
                t = next;
            }
        }
        [a * a * x / (t + a * a), b * b * y / (t + b * b)]
    } else {
        // On the long axis: near the centre the foot leaves it.
        let share = a * x / (a * a - b * b);
        if share < 1.0 {
            [a * share, b * (1.0 - share * share).sqrt()]
        } else {
            [a, 0.0]
        }
    };
    let distance = (x - foot[0]).hypot(y - foot[1]);
    if inside { distance } else { -distance }
}

/// Distance of a point from the edge of a polygon: positive inside.
fn polygon_gap(corners: &[[f64; 2]], at: [f64; 2]) -> f64 {
    let mut least = f64::INFINITY;
    let mut inside = false;
    for (from, to) in sides(corners) {
        let [side_x, side_y] = [to[0] - from[0], to[1] - from[1]];
        let [x, y] = [at[0] - from[0], at[1] - from[1]];
        let share = ((x * side_x + y * side_y) / (side_x * side_x + side_y * side_y)).clamp(0.0, 1.0);
        least = least.min((x - share * side_x).hypot(y - share * side_y));
        // A ray along the first axis crosses the side.
        if (from[1] > at[1]) != (to[1] > at[1]) && x < side_x * y / side_y {
            inside = !inside;
        }
    }
    if inside { least } else { -least }
}

/// Radius of the largest circle in a polygon: squares that may hold its centre are quartered, the best first kept.
fn widest_in(corners: &[[f64; 2]]) -> f64 {
    let bound = |pick: fn(f64, f64) -> f64, start: f64, axis: usize| {
        corners.iter().map(|corner| corner[axis]).fold(start, pick)
    };
    let low = [bound(f64::min, f64::INFINITY, 0), bound(f64::min, f64::INFINITY, 1)];
    let high = [
        bound(f64::max, f64::NEG_INFINITY, 0),
        bound(f64::max, f64::NEG_INFINITY, 1),
    ];
    let size = (high[0] - low[0]).max(high[1] - low[1]);
    let mut best = 0.0_f64;
    let mut half = 0.5 * size;
    let mut squares = vec![[0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1])]];
    while half > WIDEST_SHARE * size && !squares.is_empty() {
        let gaps: Vec<f64> = squares.iter().map(|at| polygon_gap(corners, *at)).collect();
        best = gaps.iter().copied().fold(best, f64::max);
        half *= 0.5;
        // The gap changes no faster than the point moves, so a square far below the best holds no better one.
        let reach = 2.0 * half * std::f64::consts::SQRT_2;
        squares = squares
            .iter()
            .zip(&gaps)
            .filter(|(_, gap)| **gap + reach > best + WIDEST_SHARE * size)
            .flat_map(|(at, _)| {
                [[-half, -half], [half, -half], [-half, half], [half, half]]
                    .map(|step| [at[0] + step[0], at[1] + step[1]])
            })
            .collect();
    }
    best
}
