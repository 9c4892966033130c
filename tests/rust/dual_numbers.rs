//! Dual numbers against central differences, operation by operation, and through the geometry built on them.

use proptest::prelude::*;
use strutsweep::number::{Angular, Dual, Number};
use strutsweep::space::{Circle, Line, Point, Vector};

use crate::corners::config;
use crate::printed::assert_near;

type Slope = Dual<f64, 1>;

/// Half the step of the differences. Five points leave h^4/30 of a fifth derivative and 1e-16/h of round-off: about
/// 1e-11 for functions and derivatives of size one.
const HALF_STEP: f64 = 2e-3;
const TOLERANCE: f64 = 1e-9;

/// The derivative by central differences on five points.
fn difference(of: impl Fn(f64) -> f64, at: f64) -> f64 {
    let h = HALF_STEP;
    (8.0 * (of(at + h) - of(at - h)) - (of(at + 2.0 * h) - of(at - 2.0 * h))) / (12.0 * h)
}

/// Check value and slope of a function of one number, written once for any number.
macro_rules! check {
    ($what:literal, $at:expr, |$x:ident| $formula:expr) => {{
        let plain = |$x: f64| -> f64 { $formula };
        let dual = {
            let $x = Slope::variable($at, 0);
            $formula
        };
        let scale = 1.0 + plain($at).abs();
        assert_near(concat!("value of ", $what), dual.value, plain($at), 1e-14 * scale);
        assert_near(
            concat!("slope of ", $what),
            dual.slope[0],
            difference(plain, $at),
            TOLERANCE * scale,
        );
    }};
}

/// A constant of whichever number the formula runs on.
fn constant<N: Number>(_like: N, value: f64) -> N {
    N::constant(value)
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn every_operation(x in -3.0..3.0_f64, c in 0.3..2.0_f64) {
        check!("x + c", x, |x| x + constant(x, c));
        check!("c + x", x, |x| constant(x, c) + x);
        check!("x - c", x, |x| x - constant(x, c));
        check!("c - x", x, |x| constant(x, c) - x);
        check!("-x", x, |x| -x);
        check!("c x", x, |x| constant(x, c) * x);
        check!("x x", x, |x| x * (x - constant(x, c)));
        check!("x / c", x, |x| x / constant(x, c));
        check!("c / (x^2 + 1)", x, |x| constant(x, c) / (x * x + constant(x, 1.0)));
        check!("x / (x^2 + 1)", x, |x| x / (x * x + constant(x, 1.0)));
        check!("sqrt(x^2 + c)", x, |x| (x * x + constant(x, c)).sqrt());
        check!("sin x", x, |x| x.sine_and_cosine().0);
        check!("cos x", x, |x| x.sine_and_cosine().1);
        check!("asin(0.9 sin x)", x, |x| (constant(x, 0.9) * x.sine_and_cosine().0).arc_sine());
        check!("x squared", x, |x| x.squared());
        check!("x in radians", x, |x| Number::to_radians(x));
        check!("constant", x, |x| constant(x, c));
    }

    #[test]
    fn atan2_in_every_quadrant(x in -3.0..3.0_f64, radius in 0.5..2.0_f64) {
        // The angle itself, so that the difference never steps over the cut at half a turn.
        check!("atan2 turned", x, |x| {
            let (sine, cosine) = x.sine_and_cosine();
            (sine * constant(x, radius)).arc_tangent(cosine * constant(x, radius))
        });
        // The ordinate alone and the abscissa alone.
        check!("atan2(x, c)", x, |x| x.arc_tangent(constant(x, radius)));
        check!("atan2(c, x)", x, |x| constant(x, radius).arc_tangent(x));
    }

    #[test]
    fn angle_runs_on_past_half_a_turn(x in -20.0..20.0_f64) {
        // IDENTITY: d/dx atan2(sin x, cos x) = 1, at any x.
        let (sine, cosine) = Slope::variable(x, 0).sine_and_cosine();
        assert_near("slope", sine.arc_tangent(cosine).slope[0], 1.0, 1e-14);
    }

    #[test]
    fn directions_stay_apart(x in -2.0..2.0_f64, y in 0.5..2.0_f64) {
        // IDENTITY: f = x^2 y / (x + 3) + sqrt(y).
        let (u, v) = (Dual::<f64, 2>::variable(x, 0), Dual::<f64, 2>::variable(y, 1));
        let f = u.squared() * v / (u + Dual::constant(3.0)) + v.sqrt();
        assert_near("d/dx", f.slope[0], y * (x * x + 6.0 * x) / (x + 3.0).powi(2), 1e-12);
        assert_near("d/dy", f.slope[1], x * x / (x + 3.0) + 0.5 / y.sqrt(), 1e-12);
    }

    #[test]
    fn duals_of_duals_give_second_derivatives(x in -1.0..1.0_f64) {
        // IDENTITY: (sin x)'' = -sin x, (1/(2 + x))'' = 2/(2 + x)^3, asin' = (1 - x^2)^(-1/2) and so on.
        type Second = Dual<Dual<f64>>;
        let t: Second = Dual {
            value: Dual::variable(x, 0),
            slope: [Dual::constant(1.0)],
        };
        let second = |of: Second| of.slope[0].slope[0];
        assert_near("sin''", second(t.sine_and_cosine().0), -x.sin(), 1e-14);
        assert_near("cos''", second(t.sine_and_cosine().1), -x.cos(), 1e-14);
        let reciprocal = Second::constant(1.0) / (Second::constant(2.0) + t);
        assert_near("(1/(2+x))''", second(reciprocal), 2.0 / (2.0 + x).powi(3), 1e-13);
        let half = Second::constant(0.5) * t;
        assert_near("asin(x/2)''", second(half.arc_sine()), 0.125 * x * (1.0 - 0.25 * x * x).powf(-1.5), 1e-14);
        let angle = t.arc_tangent(Second::constant(1.0));
        assert_near("atan''", second(angle), -2.0 * x / (1.0 + x * x).powi(2), 1e-14);
        let root = (t + Second::constant(2.0)).sqrt();
        assert_near("sqrt''", second(root), -0.25 * (x + 2.0).powf(-1.5), 1e-14);
    }

    #[test]
    fn geometry_carries_slopes(t in -0.8..0.8_f64) {
        check!("point on a circle", t, |t| circle(t).at_half_tangent(t).z * constant(t, 1e-2));
        check!("where a circle meets a sphere", t, |t| {
            let centre = Point::new(constant(t, 20.0), constant(t, -150.0), constant(t, 600.0));
            let squared = (constant(t, 640.0) + t * constant(t, 40.0)).squared();
            circle(t).meet_sphere(centre, squared, constant(t, -1.0)).0
        });
        check!("vector turned", t, |t| {
            let axis = Vector::new(constant(t, 0.6), constant(t, 0.0), constant(t, 0.8));
            Vector::new(constant(t, 1.0), constant(t, -2.0), t).turned(axis, t + constant(t, 0.3)).y
        });
        check!("foot on a line", t, |t| {
            let line = Line::through(
                Point::new(t, constant(t, 0.0), constant(t, 1.0)),
                Point::new(constant(t, 2.0), t * t, constant(t, 3.0)),
            );
            line.foot(Point::new(constant(t, 1.0), t, constant(t, -1.0))).y
        });
        check!("cross, unit, without", t, |t| {
            let a = Vector::new(t, constant(t, 1.5), constant(t, -0.5));
            let b = Vector::new(constant(t, 1.0), t * t, constant(t, 2.0)).unit();
            a.cross(b).x + a.without(b).length()
        });
    }

    #[test]
    fn circle_meets_sphere_on_both(along in -600.0..600.0_f64, across in 200.0..900.0_f64, radius in 100.0..900.0_f64) {
        // IDENTITY: what is found lies on the circle and on the sphere, on the crossing that was asked for; and nothing
        // is found exactly where the sphere passes by the nearest or the farthest point of the circle.
        let circle = circle(0.0);
        let centre = Point::new(80.0, along, across);
        let nearest_and_farthest = {
            let flat = (along - circle.centre.y).hypot(across - circle.centre.z);
            let aside = 80.0 - circle.centre.x;
            [aside.hypot(flat - ARM_MM), aside.hypot(flat + ARM_MM)]
        };
        let meets = (nearest_and_farthest[0]..nearest_and_farthest[1]).contains(&radius);
        for sense in [1.0, -1.0] {
            let (t, radicand) = circle.meet_sphere(centre, radius * radius, sense);
            prop_assert_eq!(radicand >= 0.0, meets);
            prop_assert_eq!(t.is_finite(), meets);
            if meets {
                let distance = |t: f64| (circle.at_half_tangent(t) - centre).length();
                assert_near("distance from the sphere's centre", distance(t), radius, 1e-7);
                let step = 1e-6 * (1.0 + t * t);
                prop_assert!((distance(t + step) - distance(t - step)) * sense > -1e-9);
            }
        }
    }
}

const ARM_MM: f64 = 340.0;

/// A lower arm's circle: about an axis along X.
fn circle<N: Number>(_like: N) -> Circle<N> {
    let at = |x, y, z| Point::constant(Point::new(x, y, z));
    Circle::about(
        &Line::through(at(-150.0, 330.0, 190.0), at(150.0, 330.0, 190.0)),
        at(5.0, 330.0 + ARM_MM, 190.0),
        N::constant(0.0),
    )
}

#[test]
fn sign_has_no_slope() {
    for (value, sign) in [(3.0, 1.0), (-0.2, -1.0), (0.0, 1.0), (-0.0, -1.0)] {
        let found = Slope::variable(value, 0).sign();
        assert_near("sign", found.value, sign, 0.0);
        assert_near("its slope", found.slope[0], 0.0, 0.0);
    }
}

#[test]
fn impossible_roots_are_nan_in_value_and_slope() {
    let root = Slope::variable(-1.0, 0).sqrt();
    assert!(root.value.is_nan() && root.slope[0].is_nan());
    let angle = Slope::variable(1.5, 0).arc_sine();
    assert!(angle.value.is_nan() && angle.slope[0].is_nan());
}
