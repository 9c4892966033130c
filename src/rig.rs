//! A corner on the rig: the arm's angle that gives a wanted travel, on the branch that the corner was assembled on.
//!
//! [`Linkage::place`] is closed form once t, the tangent of half the arm's angle, is known. For travel measured at the
//! strut t is closed form too. For travel at the ground or at the hub it is the root of one scalar equation, found by
//! Newton's method with the exact derivative carried by dual numbers.
//!
//! # Which root
//!
//! A spatial strut assembles in many ways (up to 64, counted over the complex numbers), and the equation for t has
//! several roots. The right one is the pose that a real corner would be in: the one connected to the design position
//! by setting and motion applied little by little. [`Rig::reach`] takes a short cut where it is safe: inputs small
//! against the shortest link, a small arm angle, the tie rod well off over-centre, the wheel's rise per arm angle near
//! its design value. Anywhere else it follows the path from design in steps, halved wherever the corner nears a dead
//! centre, and where the path ends it says which part ran out.

use crate::corner::HardPoints;
use crate::linkage::{Knuckle, Linkage, Rate, Status};
use crate::motion::{Motion, TravelAt};
use crate::number::Dual;
use crate::setting::Setting;
use crate::space::{Line, Point};

/// Newton stops when the travel it found is this near the wanted one; the step taken then squares the error again.
const NEAR_ENOUGH_MM: f64 = 1e-6;
/// Newton that takes longer than this is lost. Three steps are usual, four near a dead centre.
const MOST_STEPS: usize = 12;
/// The short cut's limits: share of the shortest link that an input may move, the largest clamp turn, tangent of half
/// the largest arm angle (40 deg), least margins, and the band of the wheel's rise against the design ball joint's.
const SHORT_CUT_SHARE: f64 = 0.3;
const SHORT_CUT_CLAMP_DEG: f64 = 10.0;
const SHORT_CUT_TANGENT: f64 = 0.36;
const SHORT_CUT_MARGIN: f64 = 0.2;
const SHORT_CUT_RISE: [f64; 2] = [0.5, 2.0];
/// The path's first step moves nothing farther than this share of the shortest link; the shortest step before a
/// dead centre is taken as found, as a share of the whole path.
const PATH_STEP_SHARE: f64 = 0.1;
const SHORTEST_PATH_STEP: f64 = 1.0 / 65_536.0;
/// A path step longer than `PATH_STEP_FINE_SHARE` of the shortest link must keep these distances from a dead centre,
/// and no step may turn the arm's tangent by more than `PATH_STEP_TANGENT`.
const PATH_STEP_FINE_SHARE: f64 = 0.002;
const PATH_MARGIN: f64 = 0.2;
const PATH_RISE: f64 = 0.2;
const PATH_STEP_TANGENT: f64 = 0.1;
/// Nearer to a dead centre than this a pose does not count as reached: its last digits would be noise.
const DEAD_CENTRE: f64 = 1e-6;

/// One corner with one setting, ready to be moved.
#[derive(Clone, Debug)]
pub struct Rig {
    points: HardPoints,
    setting: Setting,
    linkage: Linkage,
    lifted: Linkage<Rate>,
    shortest_link_mm: f64,
}

/// How a placed knuckle stands against its dead centres; each figure is zero there.
#[derive(Clone, Copy, Debug)]
struct Margins {
    /// Cosine between strut and steering axis.
    strut: f64,
    /// Sine between tie rod and steering arm.
    tie_rod: f64,
    /// Rise of the travel's measure per rise of the ball joint at design.
    rise: f64,
}

impl Margins {
    fn of(knuckle: &Knuckle<Rate>, rise: f64) -> Self {
        Self {
            strut: knuckle.strut_share_squared.value.sqrt(),
            tie_rod: knuckle.tie_rod_margin().value,
            rise,
        }
    }

    /// The part at its dead centre, or the nearest to it.
    ///
    /// Near over-centre the steer angle runs away and drags the wheel's rise through zero with it, so that the tie rod
    /// is asked first, then the strut, and the arm when neither is near.
    fn nearest(&self) -> Status {
        const NEAR: f64 = 0.1;
        if self.tie_rod < NEAR {
            Status::TieRod
        } else if self.strut < NEAR {
            Status::Strut
        } else {
            Status::LowerArm
        }
    }

    fn clear(&self) -> bool {
        self.strut > DEAD_CENTRE && self.tie_rod > DEAD_CENTRE && self.rise > DEAD_CENTRE
    }
}

impl Rig {
    /// The left corner with these hard points, a setting worked in.
    pub fn new(points: &HardPoints, setting: &Setting) -> Self {
        let linkage = Linkage::new(points, setting);
        Self {
            points: *points,
            setting: *setting,
            linkage,
            lifted: linkage.lifted(),
            shortest_link_mm: shortest_link_mm(points),
        }
    }

    /// The linkage that moves.
    pub fn linkage(&self) -> &Linkage {
        &self.linkage
    }

    /// The linkage over dual numbers.
    pub fn lifted(&self) -> &Linkage<Rate> {
        &self.lifted
    }

    /// Move the top mount to another setting that differs from the present one in the mount's three fields alone.
    pub fn move_mount(&mut self, setting: &Setting) {
        // From the hard point, not from the last place: the same bits whichever settings came before.
        self.linkage.top = self.points.strut_top + setting.mount_shift();
        self.lifted.top = Point::constant(self.linkage.top);
        self.setting = *setting;
    }

    /// The tangent of half the arm's angle at which the corner stands in this motion.
    ///
    /// # Errors
    /// The [`Status`] of the part that ran out.
    pub fn reach(&self, motion: &Motion, travel_at: TravelAt) -> Result<f64, Status> {
        if self.short_cut_allowed(motion) {
            let found = self.approach(motion, travel_at, self.first_guess(motion, travel_at));
            if let Some((t, margins)) = found {
                let [least_rise, most_rise] = SHORT_CUT_RISE;
                if t.abs() <= SHORT_CUT_TANGENT
                    && margins.tie_rod >= SHORT_CUT_MARGIN
                    && margins.strut >= SHORT_CUT_MARGIN
                    && (least_rise..=most_rise).contains(&margins.rise)
                {
                    return Ok(t);
                }
            }
        }
        self.follow(motion, travel_at)
    }

    /// Whether every input is small against the shortest link.
    fn short_cut_allowed(&self, motion: &Motion) -> bool {
        let most = self.shortest_link_mm * SHORT_CUT_SHARE;
        farthest_mm(&self.setting, motion) <= most && self.setting.clamp_deg.abs() <= SHORT_CUT_CLAMP_DEG
    }

    /// The ball joint's rise at design per unit of t, against which the wheel's own is measured.
    fn design_rise(&self) -> f64 {
        2.0 * self.linkage.arm.quarter.z
    }

    /// The arm's tangent if the wheel rose as the ball joint does at design.
    fn first_guess(&self, motion: &Motion, travel_at: TravelAt) -> f64 {
        match travel_at {
            TravelAt::Ground | TravelAt::Hub => motion.travel_mm / self.design_rise(),
            TravelAt::Strut => 0.0,
        }
    }

    /// The root near a guess, and how it stands; nothing if Newton is lost on the way.
    fn approach(&self, motion: &Motion, travel_at: TravelAt, guess: f64) -> Option<(f64, Margins)> {
        let rack = Rate::fixed(motion.rack_mm);
        if travel_at == TravelAt::Strut {
            let (t, _) = self.linkage.arm_for_compression(motion.travel_mm);
            let knuckle = self.lifted.place(Dual::variable(t, 0), rack);
            // The wheel's own rise tells nothing here: travel is the strut's. Its rate falls with the arm's grip on it.
            let rise = self.lifted.strut_compression(&knuckle).slope[0] / self.design_rise();
            let margins = Margins::of(&knuckle, rise);
            return (t.is_finite() && margins.clear()).then_some((t, margins));
        }
        let mut t = guess;
        for _ in 0..MOST_STEPS {
            let knuckle = self.lifted.place(Dual::variable(t, 0), rack);
            let travel = self.lifted.travel_of(&knuckle, travel_at);
            let miss = travel.value - motion.travel_mm;
            let step = miss / travel.slope[0];
            if !step.is_finite() {
                return None;
            }
            t -= step;
            if miss.abs() < NEAR_ENOUGH_MM {
                let margins = Margins::of(&knuckle, travel.slope[0] / self.design_rise());
                return margins.clear().then_some((t, margins));
            }
        }
        None
    }

    /// Whether travel grows with the arm's angle all the way between two roots of neighbouring poses: if it does not,
    /// Newton has jumped over a fold, where the path ends.
    fn rises_between(&self, from: f64, to: f64, motion: &Motion, travel_at: TravelAt) -> bool {
        [0.25, 0.5, 0.75].iter().all(|share| {
            let t = Dual::variable(from + share * (to - from), 0);
            let knuckle = self.lifted.place(t, Rate::fixed(motion.rack_mm));
            let rise = self.lifted.travel_of(&knuckle, travel_at).slope[0] / self.design_rise();
            Margins::of(&knuckle, rise).clear()
        })
    }

    /// Follow the path from the design position, setting and motion applied together little by little.
    fn follow(&self, motion: &Motion, travel_at: TravelAt) -> Result<f64, Status> {
        let design = Self::new(&self.points, &Setting::default());
        let whole = farthest_mm(&self.setting, motion)
            .max(self.setting.clamp_deg.abs().to_radians() * design.shortest_link_mm)
            / design.shortest_link_mm;
        let longest_step = (PATH_STEP_SHARE / whole).min(1.0);
        let mut done = 0.0;
        let mut t = 0.0;
        let mut last = design
            .approach(&Motion::default(), travel_at, t)
            .ok_or(Status::LowerArm)?
            .1;
        let mut step = longest_step;
        while done < 1.0 {
            let next = f64::min(done + step, 1.0);
            let rig = Self::new(&self.points, &self.setting.scaled(next));
            match rig.approach(&motion.scaled(next), travel_at, t) {
                Some((found, margins))
                    if path_is_safe(&last, &margins, found - t, step * whole)
                        && rig.rises_between(t, found, &motion.scaled(next), travel_at) =>
                {
                    done = next;
                    t = found;
                    last = margins;
                    step = (step * 2.0).min(longest_step);
                }
                _ => {
                    step *= 0.5;
                    if step < SHORTEST_PATH_STEP {
                        return Err(last.nearest());
                    }
                }
            }
        }
        Ok(t)
    }
}

/// Whether nothing can have happened between two ends of a path step: both well clear of every dead centre, or the
/// step so short that a gap between them is out of the question.
fn path_is_safe(before: &Margins, after: &Margins, turned: f64, moved_share: f64) -> bool {
    let far = |m: &Margins| m.tie_rod > PATH_MARGIN && m.strut > PATH_MARGIN && m.rise > PATH_RISE;
    turned.abs() < PATH_STEP_TANGENT && ((far(before) && far(after)) || moved_share <= PATH_STEP_FINE_SHARE)
}

/// The shortest of lower arm, tie rod and steering axis at design: what "a small input" is measured against.
fn shortest_link_mm(points: &HardPoints) -> f64 {
    let arm_axis = Line::through(points.arm_rear, points.arm_front);
    let arm = points.ball_joint - arm_axis.foot(points.ball_joint);
    let tie_rod = points.tie_outer - points.tie_inner;
    let steering_axis = points.strut_top - points.ball_joint;
    arm.length().min(tie_rod.length()).min(steering_axis.length())
}

/// The largest length among the inputs.
fn farthest_mm(setting: &Setting, motion: &Motion) -> f64 {
    let lengths = [
        setting.mount_in_mm,
        setting.mount_back_mm,
        setting.mount_up_mm,
        setting.tie_rod_mm,
        setting.arm_mm,
        setting.tie_outer_up_mm,
        setting.ball_joint_down_mm,
        setting.hub_spacer_mm,
        motion.travel_mm,
        motion.rack_mm,
    ];
    lengths.iter().fold(0.0, |most: f64, length| most.max(length.abs()))
}
