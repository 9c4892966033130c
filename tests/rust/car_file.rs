//! Car files: what is wrong with one is told with its line, what is written reads back to the last bit, and the
//! demonstration cars are sound and read as they should.

use std::error::Error;
use std::path::PathBuf;

use proptest::option;
use proptest::prelude::*;
use strutsweep::axle::{Dimensions, Envelope, Limits, Rack};
use strutsweep::file::{self, FileFault};
use strutsweep::space::{Point, Vector};
use strutsweep::spring::{Damper, Spring};
use strutsweep::tie_rod::{Hand, Thread, TieRod};
use strutsweep::{
    Axle, Corner, Fault, FileError, HardPoint, HardPoints, Motion, Place, Reading, Setting, Side, TravelAt, demo,
};

use crate::corners::{as_measured, config, plausible_points, reached, travel};
use crate::printed::{assert_near, assert_printed};

/// A sound car file with every table in it, its lines known.
const WHOLE: &str = r#"schema = 1
name = "Whole"

[lower_arm]
front = [10.0, 360.0, 195.0]
rear = [-290.0, 372.0, 192.0]
ball_joint = [-2.0, 708.0, 182.0]

[strut]
top = [-35.0, 548.0, 840.0]
low = [-14.0, 612.0, 430.0]

[tie_rod]
inner = [-128.0, 330.0, 240.4]
outer = [-128.0, 690.0, 232.0]

[wheel]
centre = [0.0, 752.0, 308.0]
radius = 308.0
camber = -0.5
toe = 0.0

[rack]
stroke = 65.0

[axle]
wheelbase = 2550.0
front_brake_share = 0.6

[limits]
bump = 80.0

[right.strut]
top = [-36.0, -549.0, 838.0]
"#;

/// The line of [`WHOLE`] that holds this text, counted from one.
fn line_of(text: &str) -> usize {
    let found = WHOLE.lines().position(|line| line.contains(text));
    found.expect("the text stands in the file") + 1
}

/// The error of [`WHOLE`] with one text replaced by another, and the text's line.
#[track_caller]
fn wrong(from: &str, to: &str) -> (FileError, usize) {
    assert!(WHOLE.contains(from));
    let text = WHOLE.replacen(from, to, 1);
    (file::from_toml(&text).expect_err("a mistake"), line_of(from))
}

#[track_caller]
fn assert_line(error: &FileError, line: usize) {
    assert_eq!(error.line, Some(line), "{error}");
    assert!(error.to_string().starts_with(&format!("line {line}: ")), "{error}");
}

#[test]
fn whole_file_is_read() {
    let car = file::from_toml(WHOLE).unwrap();
    assert_eq!(car.name, "Whole");
    assert_eq!(car.note, None);
    assert_eq!(car.left.side(), Side::Left);
    assert_eq!(car.right.side(), Side::Right);
    assert_eq!(car.left.points().strut_top, Point::new(-35.0, 548.0, 840.0));
    // What the right overrides, and what it takes from the left, mirrored.
    assert_eq!(car.right.points().strut_top, Point::new(-36.0, -549.0, 838.0));
    assert_eq!(car.right.points().strut_low, Point::new(-14.0, -612.0, 430.0));
    assert_eq!(car.right.points().wheel_radius_mm.to_bits(), 308.0_f64.to_bits());
    assert_eq!(car.rack.stroke_mm, Some(65.0));
    assert_eq!(car.rack.mm_per_turn, None);
    assert_eq!(car.dimensions.wheelbase_mm, Some(2550.0));
    assert_eq!(car.limits.bump_mm, Some(80.0));
    assert_eq!(car.limits.droop_mm, None);
}

#[test]
fn unknown_keys_are_told_with_the_nearest() {
    let cases = [
        (
            "ball_joint =",
            "ball_jiont =",
            "lower_arm",
            "ball_jiont",
            Some("ball_joint"),
        ),
        ("radius =", "Radius =", "wheel", "Radius", Some("radius")),
        ("low =", "lower =", "strut", "lower", Some("low")),
        ("stroke =", "colour =", "rack", "colour", None),
        (
            "front_brake_share",
            "front_brake_shares",
            "axle",
            "front_brake_shares",
            Some("front_brake_share"),
        ),
        ("[limits]", "[limit]", "", "limit", Some("limits")),
        ("[right.strut]", "[right.struts]", "right", "struts", Some("strut")),
        ("top = [-36.0", "tpo = [-36.0", "right.strut", "tpo", Some("top")),
        ("name = ", "nmae = ", "", "nmae", Some("name")),
    ];
    for (from, to, table, key, nearest) in cases {
        let (error, line) = wrong(from, to);
        assert_line(&error, line);
        match &error.fault {
            FileFault::UnknownKey {
                table: told,
                key: told_key,
                nearest: told_nearest,
                known,
            } => {
                assert_eq!((&**told, &**told_key, *told_nearest), (table, key, nearest));
                assert!(!known.is_empty());
            }
            other => panic!("{other:?}"),
        }
        let text = error.to_string();
        assert!(text.contains(nearest.unwrap_or("keys known there")), "{text}");
    }
}

#[test]
fn every_required_field_is_missed() {
    for (line, field) in [
        ("front = ", "lower_arm.front"),
        ("rear = ", "lower_arm.rear"),
        ("ball_joint = ", "lower_arm.ball_joint"),
        ("top = [-35", "strut.top"),
        ("low = ", "strut.low"),
        ("inner = ", "tie_rod.inner"),
        ("outer = ", "tie_rod.outer"),
        ("centre = ", "wheel.centre"),
        ("radius = ", "wheel.radius"),
        ("camber = ", "wheel.camber"),
        ("toe = ", "wheel.toe"),
        ("schema = ", "schema"),
    ] {
        let without: Vec<&str> = WHOLE.lines().filter(|text| !text.starts_with(line)).collect();
        assert_eq!(without.len(), WHOLE.lines().count() - 1);
        let error = file::from_toml(&without.join("\n")).unwrap_err();
        assert!(
            matches!(&error.fault, FileFault::Missing { field: told, .. } if told == field),
            "{error}"
        );
        assert!(error.to_string().contains(field), "{error}");
    }
    let empty = file::from_toml("").unwrap_err();
    assert!(matches!(empty.fault, FileFault::Missing { .. }), "{empty}");
}

#[test]
fn values_of_the_wrong_kind_are_told() {
    let cases = [
        // A number where a point belongs, and the other way round.
        ("[-2.0, 708.0, 182.0]", "708.0", "lower_arm.ball_joint", "a number"),
        ("radius = 308.0", "radius = [308.0, 0.0, 0.0]", "wheel.radius", "a list"),
        ("radius = 308.0", "radius = \"308\"", "wheel.radius", "text"),
        ("radius = 308.0", "radius = true", "wheel.radius", "true or false"),
        ("radius = 308.0", "radius = 2026-01-31", "wheel.radius", "a date"),
        (
            "[-2.0, 708.0, 182.0]",
            "[-2.0, \"708\", 182.0]",
            "lower_arm.ball_joint",
            "something else than numbers",
        ),
        (
            "[-2.0, 708.0, 182.0]",
            "{ x = -2.0, y = 708.0, z = 182.0 }",
            "lower_arm.ball_joint",
            "a table",
        ),
        ("name = \"Whole\"", "name = 5", "name", "a number"),
        ("schema = 1", "schema = \"1\"", "schema", "text"),
    ];
    for (from, to, field, found) in cases {
        let (error, line) = wrong(from, to);
        assert_line(&error, line);
        match &error.fault {
            FileFault::WrongKind {
                field: told,
                found: told_found,
                ..
            } => {
                assert_eq!(told, field);
                assert!(told_found.contains(found), "{told_found}");
            }
            other => panic!("{other:?}"),
        }
    }
    let error = file::from_toml("schema = 1\nstrut = 5\n").unwrap_err();
    assert!(
        matches!(&error.fault, FileFault::WrongKind { field, .. } if field == "strut"),
        "{error}"
    );
    assert_line(&error, 2);
}

#[test]
fn points_of_too_few_or_too_many_numbers_are_told() {
    for (to, count) in [("[]", 0), ("[-2.0, 708.0]", 2), ("[-2.0, 708.0, 182.0, 0.0]", 4)] {
        let (error, line) = wrong("[-2.0, 708.0, 182.0]", to);
        assert_line(&error, line);
        let right = matches!(&error.fault, FileFault::WrongCount { field, found } if field == "lower_arm.ball_joint" && *found == count);
        assert!(right, "{error}");
    }
}

/// The geometry error within a file's error.
#[track_caller]
fn geometry(error: &FileError) -> &strutsweep::GeometryError {
    match &error.fault {
        FileFault::Geometry(geometry) => {
            assert!(error.source().is_some(), "the cause must not be lost");
            geometry
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn numbers_that_are_none_are_told() {
    for bad in ["nan", "inf", "-inf", "+nan", "1e999"] {
        for (from, to, field) in [
            (
                "[-2.0, 708.0, 182.0]",
                format!("[-2.0, {bad}, 182.0]"),
                "lower_arm.ball_joint",
            ),
            ("camber = -0.5", format!("camber = {bad}"), "wheel.camber"),
            (
                "top = [-36.0, -549.0",
                format!("top = [{bad}, -549.0"),
                "right.strut.top",
            ),
            ("wheelbase = 2550.0", format!("wheelbase = {bad}"), "axle.wheelbase"),
            ("stroke = 65.0", format!("stroke = {bad}"), "rack.stroke"),
            ("bump = 80.0", format!("bump = {bad}"), "limits.bump"),
        ] {
            let (error, line) = wrong(from, &to);
            // TOML has no number beyond the largest, so that such a one may be refused as text already.
            if bad == "1e999" && matches!(error.fault, FileFault::Syntax(_)) {
                continue;
            }
            assert_line(&error, line);
            assert_eq!(geometry(&error).field, field, "{error}");
            assert_eq!(geometry(&error).fault, Fault::NotFinite, "{error}");
        }
    }
}

#[test]
fn points_on_the_wrong_side_are_told() {
    let (error, line) = wrong(
        "ball_joint = [-2.0, 708.0, 182.0]",
        "ball_joint = [-2.0, -708.0, 182.0]",
    );
    assert_line(&error, line);
    assert_eq!(geometry(&error).field, "lower_arm.ball_joint");
    assert!(matches!(geometry(&error).fault, Fault::WrongSide { .. }));

    let (error, line) = wrong("top = [-36.0, -549.0, 838.0]", "top = [-36.0, 549.0, 838.0]");
    assert_line(&error, line);
    assert_eq!(geometry(&error).field, "right.strut.top");

    // The main tables are the left corner's.
    let right_handed = WHOLE
        .split("[rack]")
        .next()
        .unwrap()
        .replace(", 7", ", -7")
        .replace(", 6", ", -6")
        .replace(", 5", ", -5");
    let error = file::from_toml(&right_handed).unwrap_err();
    assert_eq!(geometry(&error).field, "wheel.centre");
    assert_line(&error, line_of("centre ="));
}

#[test]
fn faults_of_geometry_are_told_with_the_line_of_their_field() {
    let (error, _) = wrong("low = [-14.0, 612.0, 430.0]", "low = [-35.0, 548.0, 839.0]");
    assert_eq!(geometry(&error).field, "strut.top");
    assert_line(&error, line_of("top = [-35.0"));

    let (error, line) = wrong("front_brake_share = 0.6", "front_brake_share = 60");
    assert_line(&error, line);
    assert_eq!(geometry(&error).field, "axle.front_brake_share");

    let (error, line) = wrong("radius = 308.0", "radius = 0.308");
    assert_line(&error, line);

    // A fault of the right corner in a field that it took from the left has no line of its own.
    let (error, _) = wrong("top = [-36.0, -549.0, 838.0]", "low = [-35.0, -548.0, 839.0]");
    assert_eq!(geometry(&error).field, "right.strut.top");
    assert_eq!(error.line, None, "{error}");
}

#[test]
fn lines_are_counted_through_whatever_toml_allows() {
    // Comments, blank lines, windows line ends, points over several lines, dotted keys, tables out of order, letters of
    // several bytes.
    let text = "# \u{2014} caf\u{e9}\r\n\r\nschema = 1\r\nnote = \"\"\"\r\ntwo\r\nlines\"\"\"\r\nwheel.centre = [\r\n  0.0, # x\r\n  752.0,\r\n  308.0,\r\n]\r\nwheel.radius = 3080.0\r\nwheel.camber = 0\r\nwheel.toe = 0\r\n\
        [strut]\r\nlow = [-14, 612, 430]\r\ntop = [-35, 548, 840]\r\n[tie_rod]\r\ninner = [-128, 330, 240.4]\r\nouter = [-128, 690, 232]\r\n\
        [lower_arm]\r\nfront = [10, 360, 195]\r\nrear = [-290, 372, 192]\r\nball_joint = [-2, 708, 182]\r\n";
    let error = file::from_toml(text).unwrap_err();
    assert_eq!(geometry(&error).field, "wheel.radius");
    assert_line(&error, 12);
    let car = file::from_toml(&text.replace("3080.0", "308.0")).unwrap();
    let note: Vec<&str> = car.note.as_deref().unwrap_or_default().lines().collect();
    assert_eq!(note, ["two", "lines"]);
    assert_eq!(car.name, "unnamed car");

    let error = file::from_toml(&text.replace("outer = ", "outre = ")).unwrap_err();
    assert_line(&error, 20);
}

#[test]
fn numbers_of_any_toml_form_are_read() {
    for (form, value) in [
        ("0x134", 308.0),
        ("3_08.0", 308.0),
        ("+308", 308.0),
        ("3.08e2", 308.0),
        ("0b100110100", 308.0),
        ("0o464", 308.0),
    ] {
        let car = file::from_toml(&WHOLE.replacen("radius = 308.0", &format!("radius = {form}"), 1)).unwrap();
        assert_eq!(
            car.left.points().wheel_radius_mm.to_bits(),
            f64::to_bits(value),
            "{form}"
        );
    }
}

#[test]
fn text_that_is_no_toml_is_told_with_its_line() {
    let (error, line) = wrong("radius = 308.0", "radius 308.0");
    assert!(matches!(error.fault, FileFault::Syntax(_)));
    assert_line(&error, line);
    let (error, _) = wrong("toe = 0.0", "toe = 0.0\ncamber = -1.0");
    assert!(
        matches!(error.fault, FileFault::Syntax(_)),
        "a key given twice: {error}"
    );
    assert!(error.line.is_some());
}

#[test]
fn forms_of_file_that_are_not_known_are_told() {
    for schema in ["2", "0", "1.5", "-1"] {
        let (error, line) = wrong("schema = 1", &format!("schema = {schema}"));
        assert_line(&error, line);
        let found: f64 = schema.parse().unwrap();
        assert!(
            matches!(error.fault, FileFault::Schema { found: told } if told.to_bits() == found.to_bits()),
            "{error}"
        );
    }
    // The first mistake that a newer form makes is its number, whatever else it holds.
    let (error, _) = wrong("schema = 1", "schema = 2\nnew_thing = 5");
    assert!(matches!(error.fault, FileFault::Schema { .. }));
}

#[test]
fn of_two_unknown_keys_the_first_is_told() {
    let text = WHOLE.replacen("camber =", "cmber =", 1).replacen("toe =", "to =", 1);
    let error = file::from_toml(&text).unwrap_err();
    assert_line(&error, line_of("camber ="));
}

#[test]
fn right_corner_overrides_number_by_number() {
    let text = format!(
        "{WHOLE}clamp = [-5, -600, 400]\nbearing_axis = [0, 0.2, 1]\n[right.wheel]\ncamber = -1.25\n[right.tie_rod]\nouter = [-127.5, -689.0, 232.5]\n"
    );
    let car = file::from_toml(&text).unwrap();
    let (left, right) = (car.left.points(), car.right.points());
    let usual = *car.left.mirrored().points();
    assert_eq!(right.camber_deg.to_bits(), (-1.25_f64).to_bits());
    assert_eq!(right.toe_deg.to_bits(), left.toe_deg.to_bits());
    assert_eq!(right.tie_inner, usual.tie_inner);
    assert_eq!(right.tie_outer, Point::new(-127.5, -689.0, 232.5));
    assert_eq!(right.strut_clamp.map(<[f64; 3]>::from), Some([-5.0, -600.0, 400.0]));
    assert_eq!(right.bearing_axis, Some(Vector::new(0.0, 0.2, 1.0)));
    assert_eq!((left.strut_clamp, left.bearing_axis), (None, None));
    assert_eq!(file::from_toml(&file::to_toml(&car)).unwrap(), car);

    // A rack is the axle's, not a side's.
    let error = file::from_toml(&format!("{WHOLE}[right.rack]\nstroke = 60.0\n")).unwrap_err();
    assert!(
        matches!(&error.fault, FileFault::UnknownKey { table, key, .. } if table == "right" && key == "rack"),
        "{error}"
    );
}

#[test]
fn left_clamp_and_bearing_are_mirrored_to_the_right() {
    let text = WHOLE.replacen(
        "low = [",
        "clamp = [-5, 600, 400]\nbearing_axis = [0.1, -0.2, 1]\nlow = [",
        1,
    );
    let right = *file::from_toml(&text).unwrap().right.points();
    assert_eq!(right.strut_clamp.map(<[f64; 3]>::from), Some([-5.0, -600.0, 400.0]));
    assert_eq!(right.bearing_axis, Some(Vector::new(0.1, 0.2, 1.0)));
}

#[test]
fn files_are_saved_loaded_and_their_errors_tell_the_path() {
    let folder = std::env::temp_dir().join(format!("strutsweep-test-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join("car.toml");
    let car = file::from_toml(WHOLE).unwrap();
    file::save(&car, &path).unwrap();
    assert_eq!(file::load(&path).unwrap(), car);

    std::fs::write(&path, WHOLE.replacen("toe =", "tow =", 1)).unwrap();
    let error = file::load(&path).unwrap_err();
    assert_eq!(error.path.as_ref(), Some(&path));
    assert!(error.to_string().starts_with(&format!(
        "{}, line {}: unknown key `tow`",
        path.display(),
        line_of("toe =")
    )));

    let nowhere = folder.join("no such folder").join("car.toml");
    for error in [
        file::load(&nowhere).unwrap_err(),
        file::save(&car, &nowhere).unwrap_err(),
    ] {
        assert_eq!(error.path, Some(PathBuf::from(&nowhere)));
        assert!(matches!(error.fault, FileFault::System(_)));
    }
    // Text that is not UTF-8 is no car file, and no panic.
    std::fs::write(&path, [0x73, 0xff, 0xfe]).unwrap();
    assert!(file::load(&path).is_err());
    std::fs::remove_dir_all(&folder).unwrap();
}

#[test]
fn one_corner_is_read_and_written_as_tables() {
    for corner in [
        demo::car("gravel_hatch").unwrap().left,
        demo::car("hillclimb_saloon").unwrap().right,
    ] {
        let table = file::corner_to_table(&corner);
        assert_eq!(file::corner_from_table(&table).unwrap(), corner);
        let mut mistyped = table.clone();
        mistyped.insert("tyre".to_owned(), toml::Value::Integer(1));
        let error = file::corner_from_table(&mistyped).unwrap_err();
        assert!(
            matches!(&error.fault, FileFault::UnknownKey { key, .. } if key == "tyre"),
            "{error}"
        );
        assert_eq!(error.line, None, "tables built in memory have no lines");
    }
}

/// Any number that a file may hold between limits, whole or with all its digits.
fn number(range: std::ops::Range<f64>) -> impl Strategy<Value = f64> {
    prop_oneof![range.clone(), range.prop_map(f64::round)]
}

/// Shifts of hard points; what radius, camber and toe change by; whether clamp and bearing are given.
type OtherSide = (Vec<Option<[f64; 3]>>, [Option<f64>; 3], bool, bool);

/// The right corner's points where they differ from the mirrored left's: up to a few mm, field by field.
fn other_side() -> impl Strategy<Value = OtherSide> {
    let shift = prop::array::uniform3(-4.0..4.0);
    (
        prop::collection::vec(option::weighted(0.3, shift), 8),
        [option::of(0.9..1.1), option::of(-1.0..1.0), option::of(-0.5..0.5)],
        any::<bool>(),
        any::<bool>(),
    )
}

/// The points that a file may override, the clamp apart.
const PLACED: [HardPoint; 8] = [
    HardPoint::ArmFront,
    HardPoint::ArmRear,
    HardPoint::BallJoint,
    HardPoint::StrutTop,
    HardPoint::StrutLow,
    HardPoint::TieInner,
    HardPoint::TieOuter,
    HardPoint::WheelCentre,
];

/// Random cars, left and right alike or not, with any of the optional figures.
fn any_car() -> impl Strategy<Value = Axle> {
    let words = "[ -~\u{e9}\u{df}\n\t]{0,20}";
    let figures = prop::array::uniform9(option::weighted(0.5, 0.0..1.0));
    let direction = option::of(prop::array::uniform3(-0.3..0.3));
    (
        plausible_points(),
        words,
        option::of(words),
        figures,
        direction,
        option::weighted(0.7, other_side()),
        (fittings(), any_tie_rod(), any_tie_rod()),
    )
        .prop_map(|(points, name, note, figures, direction, right, fittings)| {
            let mut points = Side::of(&points).left_twin(&points);
            points.rack_direction =
                direction.map_or(strutsweep::corner::RACK_ACROSS, |[x, y, z]| Vector::new(x, 1.0 + y, z));
            let left = Corner::new(&name, points).unwrap();
            let right = right.map(|(shifts, [radius, camber, toe], clamp, bearing)| {
                let mut points = *left.mirrored().points();
                for (point, shift) in PLACED.into_iter().zip(shifts) {
                    if let Some(shift) = shift {
                        let at = point.of(&points) + Vector::from(shift);
                        point.place(&mut points, at);
                    }
                }
                points.wheel_radius_mm *= radius.unwrap_or(1.0);
                points.camber_deg += camber.unwrap_or(0.0);
                points.toe_deg += toe.unwrap_or(0.0);
                if clamp {
                    let at = points.strut_clamp.unwrap_or(points.strut_low) + Vector::new(3.0, 1.0, -8.0);
                    points.strut_clamp = Some(at);
                }
                if bearing {
                    points.bearing_axis = Some(Vector::new(-0.1, 0.2, 0.9));
                }
                Corner::new(&name, points).unwrap()
            });
            let [a, b, c, d, e, f, g, h, i] = figures;
            let ((limits, spring, damper, seats), tie_rod, other_tie_rod) = fittings;
            let (top, axis) = (left.points().strut_top, left.points().strut_axis().direction);
            let at = |down: f64, least: f64| top + axis * -(least + down * 80.0);
            let times = |of: Option<f64>, most: f64| of.map(|share| (0.001 + share) * most);
            Axle {
                note,
                rack: Rack {
                    mm_per_turn: times(a, 60.0),
                    stroke_mm: times(b, 90.0),
                },
                dimensions: Dimensions {
                    wheelbase_mm: times(c, 3000.0),
                    centre_of_gravity_height_mm: times(d, 700.0),
                    front_brake_share: e,
                    wheel_load_n: times(a, 4000.0),
                    unsprung_mass_kg: times(b, 50.0),
                },
                envelope: Envelope {
                    tyre_radius_mm: times(c, 350.0),
                    tyre_width_mm: times(d, 250.0),
                    arch_front: seats[0].map(|down| at(down, 300.0)),
                    rail: seats[1].map(|down| at(down, 20.0)),
                    arch_rear: None,
                    arch_top: Some(top),
                },
                limits: Limits {
                    bump_mm: times(f, 90.0),
                    droop_mm: times(g, 90.0),
                    mount_in_mm: times(h, 25.0),
                    mount_back_mm: times(i, 25.0),
                    ..limits
                },
                spring: Spring {
                    upper_seat: seats[0].map(|down| at(down, 5.0)),
                    lower_seat: seats[1].map(|down| at(down, 150.0)),
                    ..spring
                },
                damper,
                left_tie_rod: tie_rod,
                right_tie_rod: other_tie_rod.over(&tie_rod),
                ..Axle::new(&name, left, right).unwrap()
            }
        })
}

/// Limits, spring, damper, and how far down the strut the two seats lie.
type Fittings = (Limits, Spring, Damper, [Option<f64>; 2]);

/// Any of the optional figures of limits, spring and damper, and how far down the strut its seats lie, from 0 to 1.
fn fittings() -> impl Strategy<Value = Fittings> {
    (
        prop::array::uniform16(option::weighted(0.5, 0.0..1.0)),
        prop::array::uniform2(option::weighted(0.6, 0.0..1.0)),
    )
        .prop_map(|(figures, seats)| {
            let times = |i: usize, most: f64| figures[i].map(|share: f64| (0.001 + share) * most);
            let limits = Limits {
                mount_up_mm: times(0, 20.0),
                tie_rod_mm: times(1, 20.0),
                clamp_deg: times(2, 3.0),
                arm_mm: times(3, 10.0),
                bearing_angle_deg: times(4, 15.0),
                tie_rod_margin: figures[5],
                tie_rod_end_angle_deg: times(14, 40.0),
                ..Limits::default()
            };
            let spring = Spring {
                rate_n_per_mm: times(6, 90.0),
                free_length_mm: figures[7].map(|share| 400.0 + 100.0 * share),
                collar_thread_pitch_mm: figures[8].map(|share| 0.5 + share),
                collar_up_mm: times(9, 40.0),
                collar_down_mm: times(10, 40.0),
                ..Spring::default()
            };
            let damper = Damper {
                body_thread_pitch_mm: figures[11].map(|share| 0.5 + share),
                body_shorter_mm: times(12, 40.0),
                body_longer_mm: times(13, 40.0),
            };
            (limits, spring, damper, seats)
        })
}

/// Threads of a tie rod with any of the optional figures.
fn any_tie_rod() -> impl Strategy<Value = TieRod> {
    let thread = || {
        (
            option::weighted(0.8, 0.5..2.5),
            option::of(prop_oneof![Just(Hand::Right), Just(Hand::Left)]),
            option::of(5.0..40.0),
        )
            .prop_map(|(pitch_mm, hand, engaged_mm)| match pitch_mm {
                None => Thread::default(),
                pitch_mm => Thread {
                    pitch_mm,
                    hand,
                    engaged_mm,
                },
            })
    };
    (thread(), thread(), option::of(5.0..20.0)).prop_map(|(inner, outer, least_engaged_mm)| TieRod {
        inner,
        outer,
        least_engaged_mm,
    })
}

/// One tie rod's figures over another's, as the right side's stand over the left's in a file.
trait Over {
    fn over(&self, other: &Self) -> Self;
}

impl Over for Thread {
    fn over(&self, other: &Self) -> Self {
        Self {
            pitch_mm: self.pitch_mm.or(other.pitch_mm),
            hand: self.hand.or(other.hand),
            engaged_mm: self.engaged_mm.or(other.engaged_mm),
        }
    }
}

impl Over for TieRod {
    fn over(&self, other: &Self) -> Self {
        Self {
            inner: self.inner.over(&other.inner),
            outer: self.outer.over(&other.outer),
            least_engaged_mm: self.least_engaged_mm.or(other.least_engaged_mm),
        }
    }
}

#[test]
fn threads_of_a_tie_rod_are_read_and_the_right_ones_follow_the_left() {
    let threads = "outer = [-128.0, 690.0, 232.0]\nouter_thread_pitch = 1.5\nouter_thread_engaged = 20.0";
    let text = WHOLE.replacen("outer = [-128.0, 690.0, 232.0]", threads, 1);
    let text = text + "\n[right.tie_rod]\nouter_thread_hand = \"left\"\n";
    let car = file::from_toml(&text).unwrap();
    let left = Thread {
        pitch_mm: Some(1.5),
        hand: None,
        engaged_mm: Some(20.0),
    };
    assert_eq!(car.left_tie_rod.outer, left);
    assert_eq!(car.left_tie_rod.inner, Thread::default());
    let right = Thread {
        hand: Some(Hand::Left),
        ..left
    };
    assert_eq!(car.right_tie_rod.outer, right);
    // Clockwise seen from the wheel: the left rod grows, the right one shrinks.
    assert_eq!(car.left_tie_rod.turns(3.0), Some(2.0));
    assert_eq!(car.right_tie_rod.turns(3.0), Some(-2.0));
    assert_eq!(car.left_tie_rod.engaged_mm(3.0), [None, Some(17.0)]);
    assert_eq!(car.right_tie_rod.engaged_mm(3.0), [None, Some(17.0)]);
}

#[test]
fn threads_and_springs_that_cannot_be_are_refused() {
    let tie_rod = "outer = [-128.0, 690.0, 232.0]";
    let spring = "[limits]\nbump = 80.0";
    let cases = [
        (tie_rod, "outer_thread_hand = \"right\"", "tie_rod.outer_thread_pitch"),
        (
            tie_rod,
            "outer_thread_pitch = 1.5\nouter_thread_hand = \"up\"",
            "\"right\" or \"left\"",
        ),
        (tie_rod, "inner_thread_pitch = 30.0", "tie_rod.inner_thread_pitch = 30"),
        (spring, "[spring]\nrate = 0.0", "spring.rate = 0"),
        (
            spring,
            "[spring]\nupper_seat = [-21.0, 590.0, 568.0]\nlower_seat = [-34.0, 552.0, 815.0]",
            "spring.upper_seat",
        ),
        (
            spring,
            "[spring]\nfree_length = 200.0\nupper_seat = [-34.0, 552.0, 815.0]\nlower_seat = [-21.0, 590.0, 568.0]",
            "spring.free_length = 200",
        ),
        (
            spring,
            "[damper]\nbody_thread_pitch = -1.0",
            "damper.body_thread_pitch = -1",
        ),
    ];
    for (after, added, told) in cases {
        let error = file::from_toml(&WHOLE.replacen(after, &format!("{after}\n{added}"), 1)).unwrap_err();
        assert!(error.to_string().contains(told), "{error}");
    }
    // A corner alone has no threads.
    let mut table = file::corner_to_table(&demo::car("gravel_hatch").unwrap().left);
    let tie_rod = table["tie_rod"].as_table_mut().unwrap();
    tie_rod.insert("outer_thread_pitch".to_owned(), toml::Value::Float(1.5));
    assert!(file::corner_from_table(&table).is_err());
}

/// The side that points stand on: an extension of the tests, as the crate tells it of corners.
trait SideOf {
    fn of(points: &HardPoints) -> Side;
}

impl SideOf for Side {
    fn of(points: &HardPoints) -> Side {
        if points.wheel_centre.y > 0.0 {
            Side::Left
        } else {
            Side::Right
        }
    }
}

/// Every number of a corner, as bits.
fn bits(points: &HardPoints) -> Vec<u64> {
    let placed = PLACED.into_iter().flat_map(|point| <[f64; 3]>::from(point.of(points)));
    let clamp = points.strut_clamp.into_iter().flat_map(<[f64; 3]>::from);
    let directions = points
        .bearing_axis
        .into_iter()
        .chain([points.rack_direction])
        .flat_map(<[f64; 3]>::from);
    let numbers = [points.wheel_radius_mm, points.camber_deg, points.toe_deg];
    placed
        .chain(clamp)
        .chain(directions)
        .chain(numbers)
        .map(f64::to_bits)
        .collect()
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn what_is_written_reads_back_to_the_last_bit(car in any_car()) {
        let text = file::to_toml(&car);
        let again = file::from_toml(&text).map_err(|error| TestCaseError::fail(format!("{error}\n{text}")))?;
        prop_assert_eq!(&again, &car, "{}", text);
        prop_assert_eq!(bits(again.left.points()), bits(car.left.points()));
        prop_assert_eq!(bits(again.right.points()), bits(car.right.points()));
        // The same by tables, and written again the same text.
        prop_assert_eq!(&file::from_table(&file::to_table(&car)).unwrap(), &car);
        prop_assert_eq!(file::to_toml(&again), text);
    }

    #[test]
    fn one_corner_reads_back_to_the_last_bit(points in plausible_points(), name in "[ -~]{0,12}") {
        let corner = Corner::new(&name, points).unwrap();
        let again = file::corner_from_table(&file::corner_to_table(&corner)).unwrap();
        prop_assert_eq!(&again, &corner);
        prop_assert_eq!(bits(again.points()), bits(corner.points()));
    }

    #[test]
    fn text_of_any_kind_is_no_panic(text in "[\\[\\]{}=.,\"'#a-z0-9\n -]{0,80}") {
        prop_assert!(file::from_toml(&text).is_err());
        let spliced = WHOLE.replacen("camber = -0.5", &text, 1);
        let _ = file::from_toml(&spliced);
    }

    #[test]
    fn any_number_of_a_file_is_read_as_it_stands(value in number(-44.0..44.0)) {
        let car = file::from_toml(&WHOLE.replacen("camber = -0.5", &format!("camber = {value:?}"), 1)).unwrap();
        prop_assert_eq!(car.left.points().camber_deg.to_bits(), value.to_bits());
    }
}

#[test]
fn side_that_alone_has_no_clamp_or_bearing_keeps_its_default() {
    // Built in memory, where the right side need not follow the left: the file has to spell the default out.
    let left_points = HardPoints {
        strut_clamp: Some(Point::new(-10.0, 640.0, 330.0)),
        bearing_axis: Some(Vector::new(-0.1, -0.2, 1.0)),
        ..*demo::car("gravel_hatch").unwrap().left.points()
    };
    let left = Corner::new("car", left_points).unwrap();
    let right_points = HardPoints {
        strut_clamp: None,
        bearing_axis: None,
        ..*left.mirrored().points()
    };
    let right = Corner::new("car", right_points).unwrap();
    let car = Axle::new("car", left, Some(right)).unwrap();
    let again = file::from_toml(&file::to_toml(&car)).unwrap();
    assert_eq!(again.left, car.left);
    let setting = Setting {
        clamp_deg: 1.5,
        mount_in_mm: 8.0,
        ..Setting::default()
    };
    let before = reached(&car.right, &setting, &travel(20.0), TravelAt::Ground);
    let after = reached(&again.right, &setting, &travel(20.0), TravelAt::Ground);
    for reading in Reading::ALL {
        assert_near(reading.name(), after.reading(reading), before.reading(reading), 1e-9);
    }
}

#[test]
fn demonstration_cars_are_sound_and_symmetric() {
    assert!(demo::car("no such car").is_none() && demo::text("no such car").is_none());
    for (name, text) in demo::CARS {
        let car = demo::car(name).unwrap();
        assert_eq!(file::from_toml(text).unwrap(), car);
        assert_eq!(file::from_toml(&file::to_toml(&car)).unwrap(), car);
        assert_eq!(car.check(), Ok(()));
        assert_eq!(car.right, car.left.mirrored());
        let note = car.note.as_deref().unwrap_or_default();
        assert!(note.contains("nvented"), "{name} must say that it is invented");
        for corner in [&car.left, &car.right] {
            for bump in [-car.limits.droop_mm.unwrap(), car.limits.bump_mm.unwrap()] {
                for rack_mm in [-car.rack.stroke_mm.unwrap(), 0.0, car.rack.stroke_mm.unwrap()] {
                    let motion = Motion {
                        travel_mm: bump,
                        rack_mm,
                        ..Motion::default()
                    };
                    let pose = reached(corner, &as_measured(), &motion, TravelAt::Ground);
                    assert!(pose.reading(Reading::TieRodMargin) > 0.3, "{name} {motion:?}");
                }
            }
        }
    }
}

/// A reading as it was printed, and the unit of its last digit.
type Printed = (Reading, f64, f64);

/// The figures that the two invented cars came with, worked out before this engine was: SECOND METHOD. At design:
/// caster, kingpin inclination deg, scrub radius, mechanical trail, roll-centre height mm.
const AT_DESIGN: [(&str, [Printed; 5]); 2] = [
    (
        "hillclimb_saloon",
        [
            (Reading::Caster, 5.36, 0.01),
            (Reading::KingpinInclination, 12.50, 0.01),
            (Reading::ScrubRadius, 24.8, 0.1),
            (Reading::MechanicalTrail, 21.7, 0.1),
            (Reading::RollCentreHeight, 48.0, 1.0),
        ],
    ),
    (
        "gravel_hatch",
        [
            (Reading::Caster, 2.87, 0.01),
            (Reading::KingpinInclination, 13.67, 0.01),
            (Reading::ScrubRadius, 2.4, 0.1),
            (Reading::MechanicalTrail, 7.1, 0.1),
            (Reading::RollCentreHeight, 66.0, 1.0),
        ],
    ),
];

/// Rounded to the digit whose unit this is.
#[track_caller]
fn assert_rounds_to(what: &str, value: f64, printed: f64, unit: f64) {
    assert_near(what, value, printed, 0.5 * unit);
}

#[test]
fn demonstration_cars_read_at_design_what_they_came_with() {
    for (name, readings) in AT_DESIGN {
        let car = demo::car(name).unwrap();
        for corner in [&car.left, &car.right] {
            let pose = reached(corner, &as_measured(), &Motion::default(), TravelAt::Ground);
            for (reading, printed, unit) in readings {
                assert_rounds_to(
                    &format!("{} of {name}", reading.name()),
                    pose.reading(reading),
                    printed,
                    unit,
                );
            }
            assert_near("camber", pose.reading(Reading::Camber), -0.5, 1e-9);
            assert_near("toe", pose.reading(Reading::Toe), 0.0, 1e-9);
        }
    }
}

fn inboard() -> Setting {
    Setting {
        mount_in_mm: 10.0,
        ..Setting::default()
    }
}

/// Change of a reading by 10 mm inboard at zero travel.
fn change(car: &str, reading: Reading, travel_at: TravelAt) -> f64 {
    let corner = demo::car(car).unwrap().left;
    let at = |setting| reached(&corner, &setting, &Motion::default(), travel_at).reading(reading);
    at(inboard()) - at(as_measured())
}

#[test]
fn ten_mm_inboard_toes_one_car_out_and_the_other_in() {
    // SECOND METHOD, as above: the same 10 mm inboard is -0.195 deg of toe per wheel on one car, +0.339 on the other.
    let toe = |car| change(car, Reading::Toe, TravelAt::Ground);
    assert_rounds_to("toe of the saloon", toe("hillclimb_saloon"), -0.195, 0.001);
    assert_rounds_to("toe of the hatch", toe("gravel_hatch"), 0.339, 0.001);
}

#[test]
fn what_is_held_matters() {
    // SECOND METHOD, as above: the saloon, 10 mm inboard: -0.79 deg of camber with ride height held; -0.84 deg with
    // spring length held, and the body then sits 3.3 mm lower.
    let camber = |travel_at| change("hillclimb_saloon", Reading::Camber, travel_at);
    assert_rounds_to("camber, ride height held", camber(TravelAt::Ground), -0.79, 0.01);
    assert_rounds_to("camber, spring length held", camber(TravelAt::Strut), -0.84, 0.01);
    let corner = demo::car("hillclimb_saloon").unwrap().left;
    let height = |setting| {
        reached(&corner, &setting, &Motion::default(), TravelAt::Strut)
            .place(Place::ContactCentre)
            .z
    };
    assert_rounds_to("drop of the body", height(inboard()) - height(as_measured()), 3.3, 0.1);
}

#[test]
fn half_track_is_the_contact_centres_not_the_hubs() {
    // SECOND METHOD, as above: a top-mount move takes the two opposite ways, -1.7 mm at the hub against +2.4 mm.
    assert_rounds_to(
        "half track",
        change("hillclimb_saloon", Reading::HalfTrack, TravelAt::Ground),
        2.4,
        0.1,
    );
    let corner = demo::car("hillclimb_saloon").unwrap().left;
    let hub = |setting| {
        reached(&corner, &setting, &Motion::default(), TravelAt::Ground)
            .place(Place::WheelCentre)
            .y
    };
    assert_rounds_to("hub", hub(inboard()) - hub(as_measured()), -1.7, 0.1);
}

#[test]
fn steering_axis_is_not_the_strut_tube() {
    // SECOND METHOD, as above: on the saloon kingpin 12.5 deg against 8.6 deg of tube lean, scrub 25 mm against 85 mm.
    let corner = demo::car("hillclimb_saloon").unwrap().left;
    let pose = reached(&corner, &as_measured(), &Motion::default(), TravelAt::Ground);
    let tube = corner.points().strut_axis();
    let lean = (-tube.direction.y / tube.direction.z).atan().to_degrees();
    assert_printed("tube lean", lean, 8.6, 2);
    assert_printed("kingpin", pose.reading(Reading::KingpinInclination), 12.5, 3);
    let contact = pose.place(Place::ContactCentre);
    let at_ground = tube.point + tube.direction * ((contact.z - tube.point.z) / tube.direction.z);
    assert_rounds_to("scrub radius by the tube", contact.y - at_ground.y, 85.0, 1.0);
    assert_rounds_to("scrub radius", pose.reading(Reading::ScrubRadius), 25.0, 1.0);
}
