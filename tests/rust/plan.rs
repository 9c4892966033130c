//! Plans: settings planted on random corners come back, limits hold and what is nearest is nearest, what makes no sense
//! is refused.
//!
//! A planted setting is its own outside source: its readings come from forward solves, which other tests hold against
//! second methods. That a miss cannot be made smaller is asked of forward solves too, at settings nearby; no slope of
//! the planner's is used.

use std::sync::atomic::AtomicBool;

use approx::assert_abs_diff_eq;
use proptest::prelude::*;
use strutsweep::plan::{Adjuster, Outcome, Plan, PlanError, Planner, Tie, Want, usual_accuracy, usual_effort};
use strutsweep::setting::SETTING_FIELDS;
use strutsweep::{Corner, Motion, Reading, Setting, TravelAt, demo};

use crate::corners::{any_travel_at, as_measured, config, plausible_corner, reached, travel};

/// A plan is closed to 1e-8 deg; a millimetre is worth 0.02 deg at least of the readings here, together.
const PLANTED: f64 = 1e-6;
/// What counts as met, deg or mm.
const CLOSED: f64 = 1e-8;
/// How far aside, in mm, a nearest setting is compared with its neighbours.
const ASIDE_MM: f64 = 0.05;
/// A setting nearby may miss less than the nearest one by round-off, as a share.
const ROUND_OFF: f64 = 1e-9;

fn field(name: &str) -> usize {
    SETTING_FIELDS
        .iter()
        .position(|field| field.name == name)
        .expect("a field of the setting")
}

fn want(reading: Reading) -> Want {
    Want {
        reading,
        motion: Motion::default(),
        accuracy: usual_accuracy(reading),
    }
}

fn adjuster(name: &str, least: f64, most: f64) -> Adjuster {
    let field = field(name);
    Adjuster {
        field,
        least,
        most,
        effort: usual_effort(field),
    }
}

fn unlimited(name: &str) -> Adjuster {
    adjuster(name, f64::NEG_INFINITY, f64::INFINITY)
}

fn setting_of(moves: &[(&str, f64)]) -> Setting {
    let mut values = as_measured().to_array();
    for (name, value) in moves {
        values[field(name)] = *value;
    }
    Setting::from_array(values)
}

fn readings(corner: &Corner, setting: &Setting, wants: &[Want], travel_at: TravelAt) -> Vec<f64> {
    wants
        .iter()
        .map(|want| reached(corner, setting, &want.motion, travel_at).reading(want.reading))
        .collect()
}

fn planner(corner: &Corner, travel_at: TravelAt, wants: &[Want], free: &[Adjuster]) -> Planner {
    Planner::new(
        corner,
        &as_measured(),
        travel_at,
        wants.to_vec(),
        free.to_vec(),
        Vec::new(),
    )
    .expect("a plan")
}

fn saloon() -> Corner {
    demo::car("hillclimb_saloon").expect("a demonstration car").left
}

fn assert_same(found: &Setting, planted: &Setting) -> Result<(), TestCaseError> {
    for (found, planted) in found.to_array().iter().zip(planted.to_array()) {
        prop_assert!((found - planted).abs() <= PLANTED, "{found} is not {planted}");
    }
    Ok(())
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn a_planted_setting_comes_back(
        corner in plausible_corner(),
        travel_at in any_travel_at(),
        mount_in in -12.0..12.0_f64,
        mount_back in -10.0..10.0_f64,
        tie_rod in -3.0..3.0_f64,
    ) {
        let planted = setting_of(&[("mount_in", mount_in), ("mount_back", mount_back), ("tie_rod", tie_rod)]);
        let wants = [Reading::Camber, Reading::Caster, Reading::Toe].map(want);
        let free = ["mount_in", "mount_back", "tie_rod"].map(unlimited);
        let wanted = readings(&corner, &planted, &wants, travel_at);
        let plan = planner(&corner, travel_at, &wants, &free).plan(&wanted).expect("values of a wheel");
        prop_assert_eq!(plan.outcome, Outcome::Reached);
        assert_same(&plan.setting, &planted)?;
        for (read, wanted) in readings(&corner, &plan.setting, &wants, travel_at).iter().zip(&wanted) {
            prop_assert!((read - wanted).abs() <= CLOSED);
        }
    }

    #[test]
    fn a_field_that_follows_an_adjuster_comes_back_with_it(
        corner in plausible_corner(),
        mount_in in -12.0..12.0_f64,
        mount_back in -10.0..10.0_f64,
        falls_in in -0.2..0.2_f64,
        falls_back in -0.2..0.2_f64,
    ) {
        // A strut top that slides on a tilted face.
        let mount_up = falls_in * mount_in + falls_back * mount_back;
        let planted = setting_of(&[("mount_in", mount_in), ("mount_back", mount_back), ("mount_up", mount_up)]);
        let wants = [Reading::Camber, Reading::Caster].map(want);
        let free = ["mount_in", "mount_back"].map(unlimited);
        let ties = [("mount_in", falls_in), ("mount_back", falls_back)].map(|(follows, per)| Tie {
            field: field("mount_up"),
            follows: field(follows),
            per,
        });
        let wanted = readings(&corner, &planted, &wants, TravelAt::Ground);
        let (wants, free, ties) = (wants.to_vec(), free.to_vec(), ties.to_vec());
        let planner = Planner::new(&corner, &as_measured(), TravelAt::Ground, wants, free, ties);
        let plan = planner.expect("a plan").plan(&wanted).expect("values of a wheel");
        prop_assert_eq!(plan.outcome, Outcome::Reached);
        assert_same(&plan.setting, &planted)?;
    }

    #[test]
    fn limits_hold_and_no_setting_nearby_misses_less(
        corner in plausible_corner(),
        camber in -4.0..2.0_f64,
        caster in 0.0..9.0_f64,
        reach_in in 0.5..25.0_f64,
        reach_back in 0.5..15.0_f64,
    ) {
        let wants = [Reading::Camber, Reading::Caster].map(want);
        let free = [adjuster("mount_in", -reach_in, reach_in), adjuster("mount_back", -reach_back, reach_back)];
        let wanted = [camber, caster];
        let plan = planner(&corner, TravelAt::Ground, &wants, &free).plan(&wanted).expect("values of a wheel");
        let found = plan.setting.to_array();
        for (limits, side) in free.iter().zip(&plan.at_limit) {
            let at = found[limits.field];
            prop_assert!((limits.least..=limits.most).contains(&at));
            match side {
                1 => prop_assert!(at >= limits.most),
                -1 => prop_assert!(at <= limits.least),
                _ => prop_assert!(limits.least < at && at < limits.most),
            }
        }
        let miss = |setting: &Setting| -> f64 {
            let read = readings(&corner, setting, &wants, TravelAt::Ground);
            let each = read.iter().zip(&wanted).zip(&wants);
            each.map(|((read, wanted), want)| ((read - wanted) / want.accuracy).powi(2)).sum()
        };
        let least = miss(&plan.setting);
        if plan.outcome == Outcome::Reached {
            prop_assert!(least.sqrt() * usual_accuracy(Reading::Camber) <= 2.0 * CLOSED);
        } else {
            prop_assert_eq!(plan.outcome, Outcome::Limited);
            prop_assert!(plan.at_limit.iter().any(|&side| side != 0));
        }
        for (limits, aside) in free.iter().flat_map(|limits| [-ASIDE_MM, ASIDE_MM].map(|aside| (limits, aside))) {
            let mut near = found;
            near[limits.field] = (near[limits.field] + aside).clamp(limits.least, limits.most);
            prop_assert!(miss(&Setting::from_array(near)) >= least * (1.0 - ROUND_OFF));
        }
    }
}

#[test]
fn more_adjusters_than_readings_take_the_least_move() {
    // SECOND METHOD: a scan along the line of settings that give the camber, by forward solves.
    let corner = saloon();
    let wants = [want(Reading::Camber)];
    let free = [unlimited("mount_in"), unlimited("arm")];
    let plan = planner(&corner, TravelAt::Ground, &wants, &free)
        .plan(&[-1.5])
        .expect("a camber");
    assert_eq!(plan.outcome, Outcome::Reached);
    let move_of = |setting: &Setting| setting.mount_in_mm.hypot(setting.arm_mm);
    for arm_mm in (0..200).map(|step| 0.1 * f64::from(step)) {
        let (mut low, mut high) = (-20.0, 30.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            let there = setting_of(&[("mount_in", middle), ("arm", arm_mm)]);
            let camber = readings(&corner, &there, &wants, TravelAt::Ground)[0];
            if camber > -1.5 { low = middle } else { high = middle }
        }
        let there = setting_of(&[("mount_in", low), ("arm", arm_mm)]);
        assert!(move_of(&there) >= move_of(&plan.setting) - PLANTED, "arm {arm_mm}");
    }
}

#[test]
fn readings_that_contradict_each_other_share_the_miss() {
    // IDENTITY: included angle is camber and kingpin inclination together; wanted 0.3 deg beside that, each of the
    // three, counted alike, gives way by a tenth.
    let corner = saloon();
    let wants = [Reading::Camber, Reading::KingpinInclination, Reading::IncludedAngle].map(want);
    let free = [unlimited("mount_in"), unlimited("clamp")];
    let planted = setting_of(&[("mount_in", 4.0), ("clamp", 0.5)]);
    let mut wanted = readings(&corner, &planted, &wants, TravelAt::Ground);
    wanted[2] += 0.3;
    let plan = planner(&corner, TravelAt::Ground, &wants, &free)
        .plan(&wanted)
        .expect("angles");
    assert_eq!(plan.outcome, Outcome::Nearest);
    for (residual, share) in plan.residuals.iter().zip([0.1, 0.1, -0.1]) {
        assert!((residual - share).abs() < 1e-6, "{:?}", plan.residuals);
    }
}

#[test]
fn several_motions_are_planned_together() {
    let corner = saloon();
    let in_bump = Want {
        motion: travel(30.0),
        ..want(Reading::Toe)
    };
    let wants = [want(Reading::Toe), in_bump];
    let planted = setting_of(&[("tie_rod", 1.2), ("tie_outer_up", -3.0)]);
    let wanted = readings(&corner, &planted, &wants, TravelAt::Ground);
    let free = [unlimited("tie_rod"), unlimited("tie_outer_up")];
    let plan = planner(&corner, TravelAt::Ground, &wants, &free)
        .plan(&wanted)
        .expect("toes");
    assert_eq!(plan.outcome, Outcome::Reached);
    assert_same(&plan.setting, &planted).expect("planted");
}

#[test]
fn many_plans_are_single_plans_on_any_number_of_threads() {
    let wants = [Reading::Camber, Reading::Caster].map(want);
    let free = [adjuster("mount_in", -20.0, 20.0), adjuster("mount_back", -10.0, 10.0)];
    let planner = planner(&saloon(), TravelAt::Ground, &wants, &free);
    let values: Vec<f64> = (0..120)
        .flat_map(|k| [-3.0 + 0.03 * f64::from(k), 4.0 + 0.02 * f64::from(k)])
        .collect();
    let single: Vec<Plan> = values
        .chunks(2)
        .map(|pair| planner.plan(pair).expect("angles"))
        .collect();
    assert!(single.iter().any(|plan| plan.outcome == Outcome::Reached));
    assert!(single.iter().any(|plan| plan.outcome == Outcome::Limited));
    for threads in [1, 2, 3] {
        let many = planner.plan_many(&values, threads, &AtomicBool::new(false));
        assert_eq!(many.as_ref(), Ok(&single));
    }
    let cancelled = planner.plan_many(&values, 1, &AtomicBool::new(true));
    assert_eq!(cancelled, Err(PlanError::Cancelled));
}

#[test]
fn beyond_the_linkage_the_last_setting_stands() {
    let wants = [want(Reading::StrutCompression)];
    let planner = planner(&saloon(), TravelAt::Ground, &wants, &[unlimited("mount_up")]);
    let plan = planner.plan(&[5_000.0]).expect("a length");
    assert_eq!(plan.outcome, Outcome::OutOfReach);
    assert!(plan.ran_out.is_some());
    reached(&saloon(), &plan.setting, &Motion::default(), TravelAt::Ground);
}

/// What a planner of the saloon says to wants, adjusters and ties that make no sense.
fn refused(wants: &[Want], free: &[Adjuster], ties: &[Tie]) -> PlanError {
    let planner = Planner::new(
        &saloon(),
        &as_measured(),
        TravelAt::Ground,
        wants.to_vec(),
        free.to_vec(),
        ties.to_vec(),
    );
    planner.expect_err("no plan")
}

#[test]
fn what_makes_no_sense_is_refused() {
    let camber = want(Reading::Camber);
    let inboard = unlimited("mount_in");
    assert_eq!(refused(&[], &[inboard], &[]), PlanError::NothingWanted);
    assert_eq!(refused(&[camber], &[], &[]), PlanError::NothingFree);
    assert_eq!(
        refused(&[camber], &[inboard, inboard], &[]),
        PlanError::FreeTwice("mount_in")
    );
    assert!(matches!(
        refused(&[camber, camber], &[inboard], &[]),
        PlanError::WantedTwice { reading: "camber", .. }
    ));
    for (least, most) in [(3.0, 2.0), (f64::NAN, 1.0), (-1.0, f64::NAN)] {
        let error = refused(&[camber], &[adjuster("mount_in", least, most)], &[]);
        assert!(matches!(error, PlanError::EmptyLimits { name: "mount_in", .. }));
    }
    assert!(matches!(
        refused(&[camber], &[adjuster("mount_in", 1.0, 2.0)], &[]),
        PlanError::StartsOutside { name: "mount_in", .. }
    ));
    // A wheel spacer does nothing to camber that a gauge would tell.
    assert!(matches!(
        refused(&[camber], &[inboard, unlimited("hub_spacer")], &[]),
        PlanError::MovesNothing { name: "hub_spacer", .. }
    ));
    for scale in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let unsure = Want {
            accuracy: scale,
            ..camber
        };
        assert!(matches!(
            refused(&[unsure], &[inboard], &[]),
            PlanError::NoScale { what: "accuracy", .. }
        ));
        let effortless = Adjuster {
            effort: scale,
            ..inboard
        };
        assert!(matches!(
            refused(&[camber], &[effortless], &[]),
            PlanError::NoScale { what: "effort", .. }
        ));
    }
    let away = Want {
        motion: travel(2_000.0),
        ..camber
    };
    assert!(matches!(
        refused(&[away], &[inboard], &[]),
        PlanError::StartOutOfReach { .. }
    ));
}

/// A strut top that slides along its face and is shimmed too: the limit is that of the shims, whatever the face does, from
/// wherever the top stands.
#[test]
fn limit_of_a_field_that_follows_is_of_what_it_goes_by_itself() {
    let corner = saloon();
    let (up, inboard) = (field("mount_up"), field("mount_in"));
    let ties = vec![Tie {
        field: up,
        follows: inboard,
        per: -0.25,
    }];
    let shims = Adjuster {
        least: -2.0,
        most: 3.0,
        ..unlimited("mount_up")
    };
    let wants = [want(Reading::Camber), want(Reading::StrutCompression)];
    for start in [[0.0, 0.0], [8.0, 1.0]] {
        let [slid, shimmed] = start;
        let stands = Setting {
            mount_in_mm: slid,
            mount_up_mm: shimmed - 0.25 * slid,
            ..Setting::default()
        };
        let planner = Planner::new(
            &corner,
            &stands,
            TravelAt::Ground,
            wants.to_vec(),
            vec![unlimited("mount_in"), shims],
            ties.clone(),
        )
        .unwrap();
        let read = |slide: f64, shim: f64| {
            let setting = Setting {
                mount_in_mm: slide,
                mount_up_mm: shim - 0.25 * slide,
                ..Setting::default()
            };
            let pose = corner.solve(&setting, &travel(0.0), TravelAt::Ground).unwrap();
            [pose.reading(Reading::Camber), pose.reading(Reading::StrutCompression)]
        };
        // Within the limit though the top itself stands lower than it, and at its height beyond it.
        let within = planner.plan(&read(12.0, -1.5)).unwrap();
        assert_eq!(within.outcome, Outcome::Reached);
        assert_abs_diff_eq!(within.setting.mount_in_mm, 12.0, epsilon = 1e-7);
        assert_abs_diff_eq!(within.setting.mount_up_mm, -4.5, epsilon = 1e-7);
        let beyond = planner.plan(&read(12.0, 5.0)).unwrap();
        assert_eq!((beyond.outcome, &beyond.at_limit[..]), (Outcome::Limited, &[0, 1][..]));
        let shim = beyond.setting.mount_up_mm + 0.25 * beyond.setting.mount_in_mm;
        assert_abs_diff_eq!(shim, 3.0, epsilon = 1e-12);
        // A top that stands at the limit of its shims, but for round-off, may start from there.
        let on = Planner::new(
            &corner,
            &beyond.setting,
            TravelAt::Ground,
            wants.to_vec(),
            vec![unlimited("mount_in"), shims],
            ties.clone(),
        );
        assert!(on.is_ok(), "{on:?}");
        let nudged = Setting {
            mount_up_mm: beyond.setting.mount_up_mm + 1e-12,
            ..beyond.setting
        };
        let on = Planner::new(
            &corner,
            &nudged,
            TravelAt::Ground,
            wants.to_vec(),
            vec![unlimited("mount_in"), shims],
            ties.clone(),
        );
        let again = on.unwrap().plan(&read(12.0, 5.0)).unwrap();
        assert_abs_diff_eq!(again.setting.mount_up_mm, beyond.setting.mount_up_mm, epsilon = 1e-6);
    }
}

#[test]
fn fields_that_cannot_follow_are_refused() {
    let (up, inboard, back) = (field("mount_up"), field("mount_in"), field("mount_back"));
    let tie = |field, follows, per| Tie { field, follows, per };
    let camber = [want(Reading::Camber)];
    for ties in [
        vec![tie(up, up, 0.1)],
        vec![tie(up, inboard, 0.1), tie(back, up, 0.1)],
        vec![tie(up, inboard, f64::NAN)],
    ] {
        let error = refused(&camber, &[unlimited("mount_in")], &ties);
        assert!(matches!(error, PlanError::NoTie { .. }), "{error}");
    }
}

#[test]
fn values_that_no_wheel_has_are_another_unit() {
    let wants = [want(Reading::Camber)];
    let planner = planner(&saloon(), TravelAt::Ground, &wants, &[unlimited("mount_in")]);
    for value in [90.0, -42.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(
            planner.plan(&[value]),
            Err(PlanError::WrongUnit { reading: "camber", .. })
        ));
    }
    assert_eq!(
        planner.plan(&[-1.0, 2.0]),
        Err(PlanError::Count { wanted: 1, found: 2 })
    );
}
