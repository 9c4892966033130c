//! Adjustable strut tops: from hardware to pivot in closed form, what the opening leaves free, files, and refusals.

use std::sync::atomic::AtomicBool;

use approx::assert_relative_eq;
use proptest::prelude::*;
use strutsweep::number::Dual;
use strutsweep::outline::{Outline, Shape};
use strutsweep::setting::SETTING_FIELDS;
use strutsweep::settle::{ANGLES, FIELDS, Place, Question};
use strutsweep::space::Vector;
use strutsweep::top_plate::{BoltCircle, Facing, Insert};
use strutsweep::{Corner, Given, HardPoint, Motion, Setting, TopPlate, TravelAt, demo, file};

use crate::corners::config;

/// Positions within a few metres, in double precision: round-off, and room.
const EXACT_MM: f64 = 1e-11;

fn plate(name: &str) -> TopPlate {
    demo::car(name).unwrap().top_plate.unwrap()
}

fn tilted(in_deg: f64, back_deg: f64, yaw_deg: f64) -> TopPlate {
    TopPlate {
        facing: Facing::Tilts { in_deg, back_deg },
        yaw_deg,
        ..plate("gravel_hatch")
    }
}

/// IDENTITY: a face that falls inboard by the angle t holds the line (cos t, 0, -sin t) in inboard, rearward, up; turned
/// in the face by y, a slot inboard runs along (cos y cos t, sin y, -cos y sin t) and one rearward along
/// (-sin y cos t, cos y, sin y sin t).
#[test]
fn tilted_and_turned_plate_moves_the_pivot_by_the_closed_form() {
    let (tilt, yaw) = (8.0_f64, 10.0_f64);
    let plate = tilted(tilt, 0.0, yaw);
    let (sin_t, cos_t) = tilt.to_radians().sin_cos();
    let (sin_y, cos_y) = yaw.to_radians().sin_cos();
    for (p, q, position, offset) in [(0.0, 10.0, 0, 6.0), (7.0, -3.0, 1, -6.0), (-10.0, 14.0, 0, 6.0)] {
        let along = q + offset;
        let expected = [
            along * cos_y * cos_t - p * sin_y * cos_t,
            along * sin_y + p * cos_y,
            -along * cos_y * sin_t + p * sin_y * sin_t,
        ];
        for (found, expected) in plate.mount(p, q, position).into_iter().zip(expected) {
            assert_relative_eq!(found, expected, epsilon = EXACT_MM);
        }
    }
}

/// TRADE rule, from two numbers of its own: 10 deg of yaw turns 10 mm of camber slot into 10 sin 10 = 1.74 mm rearward.
#[test]
fn a_turned_slot_costs_caster() {
    let plate = tilted(8.0, 0.0, 10.0);
    let corner = demo::car("gravel_hatch").unwrap().left;
    let caster = |q: f64| {
        let [mount_in_mm, mount_back_mm, mount_up_mm] = plate.mount(0.0, q, 0);
        let setting = Setting {
            mount_in_mm,
            mount_back_mm,
            mount_up_mm,
            ..Setting::default()
        };
        corner
            .solve(&setting, &Motion::default(), TravelAt::Ground)
            .unwrap()
            .reading(strutsweep::Reading::Caster)
    };
    // Two digits are what the rule states, for a car; half a unit of the last, and the car's share of it.
    assert_relative_eq!(caster(5.0) - caster(-5.0), 0.14, epsilon = 0.015);
}

#[test]
fn flat_face_slides_in_the_plane_exactly() {
    let plate = tilted(0.0, 0.0, 0.0);
    assert_eq!(
        plate.mount(5.0, -6.0, 0).map(|v| v.abs().to_bits()),
        [0.0_f64, 5.0, 0.0].map(f64::to_bits)
    );
    assert_eq!(
        plate.mount(0.0, 6.0, 1).map(|v| v.abs().to_bits()),
        [0.0_f64; 3].map(f64::to_bits)
    );
}

#[test]
fn a_missing_position_is_no_number() {
    assert!(plate("gravel_hatch").mount(0.0, 0.0, 2).iter().all(|v| v.is_nan()));
}

#[test]
fn normal_and_tilts_say_the_same() {
    let (tilt_in, tilt_back) = (8.0_f64, 5.0_f64);
    let by_tilts = tilted(tilt_in, tilt_back, 12.0);
    let normal = Vector::new(
        -2.0 * tilt_back.to_radians().tan(),
        -2.0 * tilt_in.to_radians().tan(),
        2.0,
    );
    let by_normal = TopPlate {
        facing: Facing::Normal(normal),
        ..by_tilts.clone()
    };
    for (a, b) in by_tilts
        .mount(3.0, -4.0, 1)
        .into_iter()
        .zip(by_normal.mount(3.0, -4.0, 1))
    {
        assert_relative_eq!(a, b, epsilon = EXACT_MM);
    }
}

proptest! {
    #![proptest_config(config())]

    /// IDENTITY: a shift in a plane rises as the plane does: every shift that the slides make differs from another one by
    /// the rise times what it differs inboard and rearward.
    #[test]
    fn the_pivot_rises_as_the_face_does(
        tilt_in in -40.0..40.0_f64, tilt_back in -40.0..40.0_f64, yaw in -90.0..90.0_f64,
        p in -30.0..30.0_f64, q in -30.0..30.0_f64,
    ) {
        let plate = tilted(tilt_in, tilt_back, yaw);
        let [from_in, from_back, from_up] = plate.mount(0.0, 0.0, 0);
        let [inboard, back, up] = plate.mount(p, q, 0);
        let [per_in, per_back] = plate.rise();
        let rise = per_in * (inboard - from_in) + per_back * (back - from_back);
        prop_assert!((up - from_up - rise).abs() < 1e-10);
        // Tilted inboard alone the face falls with the tangent of the tilt, and a millimetre rearward is level.
        let [level_in, level_back] = tilted(tilt_in, 0.0, yaw).rise();
        prop_assert!((level_in + tilt_in.to_radians().tan()).abs() < 1e-12);
        prop_assert!(level_back.abs() < 1e-12);
    }

    /// IDENTITY: slides keep their lengths, every shift is square to the normal but for the insert's height, and the
    /// slides are found again from the place.
    #[test]
    fn lengths_are_kept_and_slides_found_again(
        tilt_in in -40.0..40.0_f64, tilt_back in -40.0..40.0_f64, yaw in -90.0..90.0_f64,
        plate_direction in 40.0..140.0_f64, insert_direction in -20.0..20.0_f64,
        p in -30.0..30.0_f64, q in -30.0..30.0_f64, position in 0..2_usize,
    ) {
        let mut plate = tilted(tilt_in, tilt_back, yaw);
        plate.plate_slot.direction_deg = plate_direction;
        plate.insert_slot.direction_deg = insert_direction;
        plate.insert.heights_mm = vec![0.0, 2.5];
        prop_assert!(plate.check().is_ok());
        let shift = |p: f64, q: f64| {
            let [inboard, back, up] = plate.mount(p, q, position);
            Vector::new(-back, -inboard, up)
        };
        prop_assert!(((shift(p, q) - shift(0.0, q)).length() - p.abs()).abs() < EXACT_MM);
        prop_assert!(((shift(p, q) - shift(p, 0.0)).length() - q.abs()).abs() < EXACT_MM);
        let height = shift(p, q).dot(plate.frame().normal);
        prop_assert!((height - plate.insert.heights_mm[position]).abs() < EXACT_MM);
        let [x, y, _] = plate.in_plate(p, q, position);
        let [p_again, q_again] = plate.slides_mm([x, y], position);
        prop_assert!((p_again - p).abs() < 1e-9 && (q_again - q).abs() < 1e-9);
    }

    /// The map is affine: dual numbers carry its slopes, which are those of differences.
    #[test]
    fn dual_numbers_carry_the_slopes(tilt in -40.0..40.0_f64, yaw in -80.0..80.0_f64) {
        let plate = tilted(tilt, 0.5 * tilt, yaw);
        let dual = plate.mount(Dual::<f64, 2>::variable(1.0, 0), Dual::<f64, 2>::variable(-2.0, 1), 0);
        let at = |p: f64, q: f64| plate.mount(p, q, 0);
        for (axis, shift) in dual.iter().enumerate() {
            prop_assert!((shift.slope[0] - (at(2.0, -2.0)[axis] - at(1.0, -2.0)[axis])).abs() < EXACT_MM);
            prop_assert!((shift.slope[1] - (at(1.0, -1.0)[axis] - at(1.0, -2.0)[axis])).abs() < EXACT_MM);
        }
    }

    /// SECOND METHOD: the foot on an ellipse by walking all round it in small steps.
    #[test]
    fn distance_from_an_ellipse_is_the_least(
        a in 5.0..60.0_f64, b in 5.0..60.0_f64, x in -80.0..80.0_f64, y in -80.0..80.0_f64,
    ) {
        let outline = ellipse([a, b], 0.0);
        let steps = 20_000;
        let least = (0..steps)
            .map(|i| {
                let (sine, cosine) = (std::f64::consts::TAU * f64::from(i) / f64::from(steps)).sin_cos();
                (x - a * cosine).hypot(y - b * sine)
            })
            .fold(f64::INFINITY, f64::min);
        let inside = (x / a).powi(2) + (y / b).powi(2) < 1.0;
        let expected = if inside { least } else { -least };
        // A step of 0.02 mm beside a foot 1 mm away costs 1e-4 mm; nearer ones half the step at most.
        prop_assert!((outline.gap_mm([x, y]) - expected).abs() < 0.012, "{} {expected}", outline.gap_mm([x, y]));
        prop_assert!(outline.gap_mm([x, y]).abs() <= least + 1e-9);
    }

    /// IDENTITY: an ellipse of equal axes is a circle, and a polygon's gap does not depend on which way round it runs.
    #[test]
    fn outlines_agree_with_each_other(x in -60.0..60.0_f64, y in -60.0..60.0_f64) {
        let circle = Outline { centre_mm: [1.0, 2.0], shape: Shape::Circle { radius_mm: 30.0 } };
        let round = Outline { centre_mm: [1.0, 2.0], ..ellipse([30.0, 30.0], 25.0) };
        prop_assert!((circle.gap_mm([x, y]) - round.gap_mm([x, y])).abs() < 1e-9);
        let mut corners_mm = vec![[-20.0, -30.0], [25.0, -28.0], [30.0, 10.0], [0.0, 35.0], [-5.0, 5.0]];
        let one = polygon(corners_mm.clone()).gap_mm([x, y]);
        corners_mm.reverse();
        prop_assert!((one - polygon(corners_mm).gap_mm([x, y])).abs() < 1e-12);
    }
}

fn ellipse(half_axes_mm: [f64; 2], turned_deg: f64) -> Outline {
    Outline {
        centre_mm: [0.0, 0.0],
        shape: Shape::Ellipse {
            half_axes_mm,
            turned_deg,
        },
    }
}

fn polygon(corners_mm: Vec<[f64; 2]>) -> Outline {
    Outline {
        centre_mm: [0.0, 0.0],
        shape: Shape::Polygon { corners_mm },
    }
}

#[test]
fn gaps_of_simple_outlines_are_exact() {
    let square = polygon(vec![[-10.0, -20.0], [10.0, -20.0], [10.0, 20.0], [-10.0, 20.0]]);
    for (at, gap) in [
        ([0.0, 0.0], 10.0),
        ([4.0, 0.0], 6.0),
        ([10.0, 3.0], 0.0),
        ([13.0, 24.0], -5.0),
        ([0.0, -25.0], -5.0),
    ] {
        assert_relative_eq!(square.gap_mm(at), gap, epsilon = 1e-12);
    }
    // Beside the centre of a long ellipse the nearest edge is not on the short axis; a/b = 5/3, at the focus 4: b^2/a.
    let long = ellipse([5.0, 3.0], 0.0);
    assert_relative_eq!(long.gap_mm([0.0, 0.0]), 3.0, epsilon = 1e-12);
    assert_relative_eq!(long.gap_mm([5.0, 0.0]), 0.0, epsilon = 1e-12);
    assert_relative_eq!(long.gap_mm([7.0, 0.0]), -2.0, epsilon = 1e-12);
    assert_relative_eq!(long.gap_mm([0.0, 4.5]), -1.5, epsilon = 1e-12);
    assert_relative_eq!(ellipse([5.0, 3.0], 90.0).gap_mm([0.0, 7.0]), -2.0, epsilon = 1e-12);
}

/// IDENTITY: the inscribed circle of a right triangle with sides 3, 4, 5 has radius 1; the widest one in an L touches the
/// two outer sides and the inner corner.
#[test]
fn widest_circle_in_a_polygon_is_found() {
    let triangle = polygon(vec![[0.0, 0.0], [40.0, 0.0], [0.0, 30.0]]);
    assert_relative_eq!(triangle.widest_mm(), 10.0, epsilon = 1e-4);
    // The circle at (r, r) reaches the inner corner (10, 10): sqrt 2 (10 - r) = r.
    let corner = polygon(vec![
        [0.0, 0.0],
        [50.0, 0.0],
        [50.0, 10.0],
        [10.0, 10.0],
        [10.0, 50.0],
        [0.0, 50.0],
    ]);
    let expected = 10.0 * std::f64::consts::SQRT_2 / (1.0 + std::f64::consts::SQRT_2);
    assert_relative_eq!(corner.widest_mm(), expected, epsilon = 1e-4);
}

/// A rod upright on a flat face: every gap is opening less distance less radius.
#[test]
fn gaps_of_nut_insert_and_rod_upright() {
    let plate = tilted(0.0, 0.0, 0.0);
    let frame = plate.frame();
    // 3 rearward, 4 inboard: 5 mm off the middle of an opening of 34.
    let gaps = plate.gaps_mm(&frame, Vector::new(-3.0, -4.0, 0.0), Vector::new(0.0, 0.0, 1.0));
    for (found, radius) in gaps.into_iter().zip([13.0, 17.0, 6.0]) {
        assert_relative_eq!(found, 34.0 - 5.0 - radius, epsilon = 1e-12);
    }
    // Leaning inboard by 3 in 4 as it rises, it passes the face 9 mm farther outboard, 12 mm below the bearing.
    let gaps = plate.gaps_mm(&frame, Vector::new(0.0, -9.0, 0.0), Vector::new(0.0, -0.6, 0.8));
    assert_relative_eq!(gaps[2], 34.0 - 6.0 * 1.25, epsilon = 1e-12);
    // The nut is 14 mm over the bearing: 10.5 mm farther inboard.
    assert_relative_eq!(gaps[0], 34.0 - 19.5 - 13.0, epsilon = 1e-12);
}

#[test]
fn top_plates_survive_their_file() {
    for (name, _) in demo::CARS {
        let mut car = demo::car(name).unwrap();
        let outlines = [
            Shape::Circle { radius_mm: 33.1 },
            Shape::Ellipse {
                half_axes_mm: [40.1, 30.3],
                turned_deg: 7.7,
            },
            Shape::Polygon {
                corners_mm: vec![[-40.0, -30.1], [40.0, -30.0], [0.3, 50.0]],
            },
        ];
        for shape in outlines {
            let plate = car.top_plate.as_mut().unwrap();
            plate.opening = Some(Outline {
                centre_mm: [0.1, -0.3],
                shape,
            });
            plate.insert.heights_mm = vec![0.0, 1.0 / 3.0];
            plate.facing = Facing::Normal(Vector::new(-0.1, -0.2, 1.1));
            assert_eq!(file::from_toml(&file::to_toml(&car)).unwrap(), car);
            assert_eq!(file::from_table(&file::to_table(&car)).unwrap(), car);
            let table = file::top_plate_to_table(car.top_plate.as_ref().unwrap());
            assert_eq!(Some(file::top_plate_from_table(&table).unwrap()), car.top_plate);
        }
    }
}

#[test]
fn wrong_top_plates_are_refused_with_field_and_line() {
    let text = demo::text("gravel_hatch").unwrap();
    let cases = [
        (
            "reach = [-10.0, 10.0]",
            "reach = [10.0, -10.0]",
            "top_plate.plate_slot.reach",
            "negative length",
        ),
        (
            "reach = [-14.0, 14.0]",
            "reach = [-14.0]",
            "top_plate.insert_slot.reach",
            "two numbers",
        ),
        ("radius = 34.0", "radius = 5.0", "top_plate.opening", "the rod"),
        (
            "radius = 34.0",
            "half_axes = [40.0, 5.9]",
            "top_plate.opening",
            "the rod",
        ),
        (
            "radius = 34.0",
            "corners = [[-30.0, -30.0], [30.0, 30.0], [30.0, -30.0], [-30.0, 30.0]]",
            "top_plate.opening.corners",
            "crosses itself: its sides number 1 and 3 meet",
        ),
        (
            "radius = 34.0",
            "corners = [[-30.0, -30.0], [30.0, 30.0]]",
            "top_plate.opening.corners",
            "at least 3 corners",
        ),
        ("radius = 34.0", "", "top_plate.opening.radius", "missing"),
        (
            "radius = 34.0",
            "radius = 34.0\nhalf_axes = [40.0, 40.0]",
            "top_plate.opening",
            "only one of them",
        ),
        ("tilt_in = 5.0", "normal = [0.0, 0.0, 0.0]", "top_plate.normal", ""),
        (
            "angles = [0.0, 180.0]",
            "angles = []",
            "top_plate.insert.angles",
            "at least 1",
        ),
        (
            "offset = 6.0",
            "offset = -6.0",
            "top_plate.insert.offset",
            "less than 0",
        ),
        (
            "offset = 6.0",
            "heights = [0.0, 0.0, 1.0]",
            "top_plate.insert.heights",
            "top_plate.insert.angles, which has 2",
        ),
        (
            "direction = 0.0",
            "direction = 95.0",
            "top_plate.insert_slot.direction",
            "angle between them is 5.0000 deg",
        ),
        (
            "width = 9.0",
            "width = 7.0",
            "top_plate.plate_slot.width",
            "the diameter of the bolt",
        ),
        ("count = 3", "count = 2.5", "top_plate.studs.count", "less than 1"),
        (
            "tilt_in = 5.0",
            "tilt_in = 50.0",
            "top_plate.tilt_in",
            "more than 45 deg",
        ),
        ("nut = 13.0", "nuts = 13.0", "top_plate.clearing", "did you mean `nut`"),
    ];
    for (from, to, field, message) in cases {
        assert!(text.contains(from), "{from}");
        let error = file::from_toml(&text.replacen(from, to, 1)).unwrap_err();
        let told = error.to_string();
        assert!(told.contains(field), "{told}");
        assert!(told.contains(message), "{told}");
    }
    // A normal alone, of no length; and the line where it stands.
    let text = text.replacen("tilt_in = 5.0", "normal = [0.0, 0.0, 0.0]", 1);
    let line = text.lines().position(|line| line.starts_with("normal")).unwrap() + 1;
    let text = text.replacen("tilt_back", "# tilt_back", 1);
    let error = file::from_toml(&text).unwrap_err();
    assert_eq!(error.line, Some(line));
    assert!(
        error
            .to_string()
            .contains("top_plate.normal = [0, 0, 0] is less than 0.000001 in length"),
        "{error}"
    );
    let error = file::from_toml(&text.replacen("normal = [0.0, 0.0, 0.0]", "normal = [2.0, 0.0, 1.0]", 1)).unwrap_err();
    assert!(error.to_string().contains("does not point up"), "{error}");
}

/// A planted place of the hardware comes back from the angles that the engine reads there, on either side, at a ride
/// height, in a tower out of place, on a car whose ball joint is elsewhere.
#[test]
fn planted_slides_come_back() {
    const PLANTED_MM: f64 = 1e-8;
    let car = demo::car("hillclimb_saloon").unwrap();
    let plate = car.top_plate.as_ref().unwrap();
    for corner in [&car.left, &car.right] {
        for (position, planted_mm, tower_mm) in [
            (0, [4.0, -6.0, 1.25], [0.0; 3]),
            (1, [-9.0, 11.0, -0.5], [0.0; 3]),
            (0, [2.0, 15.0, 0.75], [1.5, -2.0, 0.5]),
        ] {
            for travel_at in TravelAt::ALL {
                let lower = {
                    let mut points = *corner.points();
                    points.ball_joint.z -= 3.0;
                    points
                };
                let built = Corner::new("built", lower).unwrap();
                let [mount_in_mm, mount_back_mm, mount_up_mm] = plate.mount(planted_mm[0], planted_mm[1], position);
                let setting = Setting {
                    mount_in_mm: mount_in_mm + tower_mm[0],
                    mount_back_mm: mount_back_mm + tower_mm[1],
                    mount_up_mm: mount_up_mm + tower_mm[2],
                    tie_rod_mm: planted_mm[2],
                    ..Setting::default()
                };
                let motion = Motion {
                    travel_mm: 12.0,
                    ..Motion::default()
                };
                let pose = built.solve(&setting, &motion, travel_at).unwrap();
                let question = Question {
                    corner,
                    plate,
                    travel_at,
                    unknown: [true; 3],
                    wanted: [true; 3],
                    met_deg: 1e-10,
                };
                let place = Place {
                    position,
                    ride_height_mm: 12.0,
                    tower_mm,
                    start_mm: [0.0; 3],
                    wanted_deg: ANGLES.map(|angle| pose.reading(angle)),
                    points: vec![(HardPoint::BallJoint, lower.ball_joint)],
                };
                let found = question.settle(&place).unwrap();
                for (found, planted) in found.at_mm.into_iter().zip(planted_mm) {
                    assert_relative_eq!(found, planted, epsilon = PLANTED_MM);
                }
            }
        }
    }
}

/// Exact slopes bring Newton's method to round-off in a few steps: from ten millimetres away it doubles its digits.
#[test]
fn settling_needs_few_steps_and_refuses_what_no_slide_gives() {
    let car = demo::car("gravel_hatch").unwrap();
    let plate = car.top_plate.as_ref().unwrap();
    let question = |met_deg| Question {
        corner: &car.left,
        plate,
        travel_at: TravelAt::Ground,
        unknown: [true, true, false],
        wanted: [true, true, false],
        met_deg,
    };
    let place = |camber_deg, caster_deg| Place {
        position: 0,
        ride_height_mm: 0.0,
        tower_mm: [0.0; 3],
        start_mm: [0.0; 3],
        wanted_deg: [camber_deg, caster_deg, f64::NAN],
        points: Vec::new(),
    };
    let rough = question(1e-3).settle(&place(-1.6, 3.0)).unwrap();
    let fine = question(1e-12).settle(&place(-1.6, 3.0)).unwrap();
    // What is met within a thousandth is one step before what is met within a billionth of that.
    assert_relative_eq!(rough.at_mm[1], fine.at_mm[1], epsilon = 1e-3 / 0.08);
    assert!(question(1e-10).settle(&place(-60.0, 3.0)).is_none());
    assert!(question(1e-10).settle(&place(f64::NAN, 3.0)).is_none());
    let many: Vec<Place> = (0..200).map(|i| place(-0.5 - 0.01 * f64::from(i), 2.9)).collect();
    let never = AtomicBool::new(false);
    let one = question(1e-10).settle_many(&many, 1, &never).unwrap();
    let three = question(1e-10).settle_many(&many, 3, &never).unwrap();
    assert_eq!(one, three);
    assert!(one.iter().all(Option::is_some));
    let fields = FIELDS.map(|field| SETTING_FIELDS[field].name);
    assert_eq!(fields, ["mount_in", "mount_back", "mount_up", "tie_rod"]);
    assert!(
        question(1e-10)
            .settle_many(&many, 1, &AtomicBool::new(true))
            .unwrap()
            .iter()
            .all(Option::is_none)
    );
}

/// IDENTITY: an insert's bolts on a circle are mapped on themselves by whole steps of a turn and by reflections.
#[test]
fn inserts_fit_where_their_bolts_do() {
    let plate = |count, first_deg, angles_deg: &[f64]| TopPlate {
        insert_bolts: Some(BoltCircle {
            count,
            circle_mm: 76.0,
            first_deg,
        }),
        insert: Insert {
            offset_mm: 6.0,
            angles_deg: angles_deg.to_vec(),
            heights_mm: Vec::new(),
        },
        ..plate("gravel_hatch")
    };
    for (count, first_deg, angles_deg) in [
        (1, 0.0, [30.0, -330.0].as_slice()),
        (2, 90.0, &[0.0, 180.0]),
        (2, 90.0, &[30.0, 150.0]),
        (4, 45.0, &[0.0, 90.0, 180.0, -90.0]),
        (7, 0.0, &[0.0, 51.43]),
    ] {
        assert!(
            plate(count, first_deg, angles_deg).check().is_ok(),
            "{count} bolts, {angles_deg:?}"
        );
    }
    for (count, first_deg, angles_deg) in [
        (1, 0.0, [0.0, 180.0]),
        (2, 90.0, [0.0, 90.0]),
        (3, 0.0, [0.0, 180.0]),
        (4, 45.0, [10.0, 55.0]),
    ] {
        let error = plate(count, first_deg, &angles_deg).check().unwrap_err();
        assert_eq!(error.field, "top_plate.insert.angles");
        assert_eq!(error.value, Given::Number(angles_deg[1]));
    }
}
