//! A corner on the rig: the arm's angle that gives a wanted travel, on the branch that the corner was assembled on.
//!
//! # Which root
//!
//! A spatial strut assembles in many ways (up to 64, counted over the complex numbers), and the equation for t has
//! several roots. The right one is the pose that a real corner would be in: the one connected to the design position
//! by setting and motion applied little by little. [`Rig::reach`] takes a short cut where it is safe: inputs small
//! against the shortest link, and design and pose both beyond doubt, as [`Track::arrive`] says. Anywhere else it
//! follows the path from design in steps, halved wherever the corner nears a dead centre, and where the path ends it
//! says which part ran out.

use crate::hard_points::HardPoints;
use crate::linkage::{Linkage, Status};
use crate::motion::{Motion, TravelAt};
use crate::number::{Dual, Number, Pack};
use crate::setting::Setting;
use crate::space::{Line, Point};
use crate::track::{MARGIN, RISE, Track};

/// Newton stops when the travel it found is this near the wanted one, a hundred times its round-off.
const MOST_MISS_MM: f64 = 1e-10;
/// Newton that takes longer than this is lost. Four steps are usual, more near a dead centre.
const MOST_STEPS: usize = 20;
/// The short cut's limits: share of the shortest link that an input may move, and the largest clamp turn and roll.
const SHORT_CUT_SHARE: f64 = 0.3;
const SHORT_CUT_CLAMP_DEG: f64 = 10.0;
const SHORT_CUT_ROLL_DEG: f64 = 10.0;
/// Steps along the path move nothing farther than this share of the shortest link, and near a dead centre of the fine
/// one. A path that cannot be followed farther by the shortest step has come to its end.
const PATH_STEP_SHARE: f64 = 0.05;
const PATH_STEP_FINE_SHARE: f64 = 0.002;
const PATH_STEP_SHORTEST_SHARE: f64 = 1e-7;
/// Farther from a dead centre than this a step need not be fine.
const PATH_MARGIN: f64 = 0.3;
/// The most that a step may turn the arm, as the tangent of half the angle, and the band of the turn against Newton's
/// first step, outside which the root found belongs to another stretch of the curve.
const PATH_STEP_TANGENT: f64 = 0.1;
const PATH_STEP_BAND: [f64; 2] = [0.5, 2.0];
/// A turn smaller than this needs no such comparison.
const PATH_STEP_SMALL: f64 = 1e-6;
/// Places between two ends of a step at which the corner is looked at.
const BETWEEN: usize = 7;
/// Nearer to a dead centre than this a pose does not count as reached: its last digits would be noise.
const DEAD_CENTRE: f64 = 1e-6;

/// One corner with one setting, ready to be moved.
#[derive(Clone, Debug)]
pub struct Rig {
    points: HardPoints,
    setting: Setting,
    linkage: Linkage,
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
    /// Lengths of lower arm and tie rod as shares of their design lengths.
    arm_length: f64,
    tie_rod_length: f64,
}

impl Margins {
    /// The part at its dead centre, or the nearest to it.
    ///
    /// Near over-centre the steer angle runs away and drags the wheel's rise through zero with it, so that the tie rod
    /// is asked first, then the strut, and the arm when neither is near.
    fn nearest(&self) -> Status {
        const NEAR: f64 = 0.1;
        if self.arm_length < NEAR {
            Status::LowerArm
        } else if self.tie_rod < NEAR || self.tie_rod_length < NEAR {
            Status::TieRod
        } else if self.strut < NEAR {
            Status::Strut
        } else {
            Status::LowerArm
        }
    }

    fn least(&self) -> f64 {
        let angles = self.strut.min(self.tie_rod).min(self.rise);
        angles.min(self.arm_length).min(self.tie_rod_length)
    }

    fn clear(&self) -> bool {
        // Asked one by one: a minimum would pass over what is no number.
        self.strut > DEAD_CENTRE
            && self.tie_rod > DEAD_CENTRE
            && self.rise > DEAD_CENTRE
            && self.arm_length > DEAD_CENTRE
            && self.tie_rod_length > DEAD_CENTRE
    }
}

/// A root found, how the corner stands there, and how far Newton's first step went.
#[derive(Clone, Copy, Debug)]
struct Stand {
    t: f64,
    margins: Margins,
    first_step: f64,
}

/// A rig in one motion, on dual numbers.
struct Moved {
    linkage: Linkage<Dual<f64>>,
    inner: Point<Dual<f64>>,
    travel_at: TravelAt,
    travel_mm: f64,
    design_rise: f64,
    arm_length: f64,
    tie_rod_length: f64,
}

impl Moved {
    /// What travel is short of the wanted one, its derivative, and the margins, at one angle of the arm.
    fn look(&self, t: f64) -> (f64, f64, Margins) {
        let knuckle = self.linkage.place(Dual::variable(t, 0), self.inner);
        let travel = self.linkage.travel_of(&knuckle, self.travel_at);
        let margins = Margins {
            strut: knuckle.strut_share_squared().value.sqrt(),
            tie_rod: knuckle.tie_rod_margin().value,
            rise: travel.slope[0] / self.design_rise,
            arm_length: self.arm_length,
            tie_rod_length: self.tie_rod_length,
        };
        (travel.value - self.travel_mm, travel.slope[0], margins)
    }

    /// The root near a guess; nothing if Newton is lost on the way, or ends at a dead centre.
    fn approach(&self, guess: f64, closed_form: Option<f64>) -> Option<Stand> {
        let mut t = closed_form.unwrap_or(guess);
        let mut first_step = t - guess;
        for count in 0..MOST_STEPS {
            let (miss, slope, margins) = self.look(t);
            if miss.abs() <= MOST_MISS_MM {
                return margins.clear().then_some(Stand { t, margins, first_step });
            }
            let step = -miss / slope;
            if !step.is_finite() {
                return None;
            }
            if count == 0 && closed_form.is_none() {
                first_step = step;
            }
            t += step;
        }
        None
    }

    /// Whether the corner stands clear of every dead centre all the way between two angles of the arm: if not, Newton
    /// has jumped over a fold, where the path ends.
    fn clear_between(&self, from: f64, to: f64) -> bool {
        (1..=BETWEEN).all(|place| {
            let share = place as f64 / (BETWEEN + 1) as f64;
            self.look(from + share * (to - from)).2.clear()
        })
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
            shortest_link_mm: shortest_link_mm(points),
        }
    }

    /// The linkage that moves.
    pub fn linkage(&self) -> &Linkage {
        &self.linkage
    }

    /// The linkage with its body rolled as the motion says.
    pub fn linkage_in(&self, motion: &Motion) -> Linkage {
        if motion.roll_deg == 0.0 {
            self.linkage
        } else {
            self.linkage.rolled(motion.roll_deg)
        }
    }

    /// The setting that is worked in.
    pub fn setting(&self) -> &Setting {
        &self.setting
    }

    /// How fast travel grows with the tangent of half the arm's angle, at `t`, in mm.
    pub fn travel_per_arm(&self, t: f64, motion: &Motion, travel_at: TravelAt) -> f64 {
        self.moved(motion, travel_at).look(t).1
    }

    /// The tangent of half the arm's angle at which the corner stands in this motion, a left corner's: see
    /// [`Motion::of_left_twin`].
    ///
    /// # Errors
    /// The [`Status`] of the part that ran out.
    pub fn reach(&self, motion: &Motion, travel_at: TravelAt) -> Result<f64, Status> {
        let hub_mm = self.points.wheel_centre.y;
        let small = small_inputs(&self.setting, motion, self.shortest_link_mm, hub_mm) == 1;
        if small && AtDesign::of(&self.points).is_plain(travel_at) {
            let linkage = self.linkage_in(motion);
            let track = Track::new(&linkage, motion.rack_mm, travel_at);
            let arrival = track.arrive(&linkage, motion.travel_mm, track.guess(motion.travel_mm));
            if arrival.safe == 1 {
                return Ok(arrival.t);
            }
        }
        self.follow(motion, travel_at)
    }

    /// This rig in a motion.
    fn moved(&self, motion: &Motion, travel_at: TravelAt) -> Moved {
        let (arm_mm, tie_rod_mm, _) = links_mm(&self.points);
        let linkage = self.linkage_in(motion);
        Moved {
            linkage: linkage.lifted(),
            inner: linkage.inner_at(motion.rack_mm).lifted(),
            travel_at,
            travel_mm: motion.travel_mm,
            design_rise: 2.0 * self.linkage.arm.quarter.z,
            arm_length: 1.0 + self.setting.arm_mm / arm_mm,
            tie_rod_length: 1.0 + self.setting.tie_rod_mm / tie_rod_mm,
        }
    }

    /// The root near a guess.
    fn approach(&self, motion: &Motion, travel_at: TravelAt, guess: f64) -> Option<Stand> {
        let closed_form =
            (travel_at == TravelAt::Strut).then(|| self.linkage_in(motion).arm_for_compression(motion.travel_mm).0);
        self.moved(motion, travel_at).approach(guess, closed_form)
    }

    /// Follow the path from the design position, setting and motion applied together little by little.
    #[cold]
    fn follow(&self, motion: &Motion, travel_at: TravelAt) -> Result<f64, Status> {
        let design = Self::new(&self.points, &Setting::default());
        // How far the farthest part goes along the path, in shortest links.
        let whole = farthest_mm(&self.setting, motion, self.points.wheel_centre.y)
            .max(self.setting.clamp_deg.abs().to_radians() * self.shortest_link_mm)
            / self.shortest_link_mm;
        let mut last = design
            .approach(&Motion::default(), travel_at, 0.0)
            .ok_or(Status::LowerArm)?;
        let longest_step = (PATH_STEP_SHARE / whole).min(1.0);
        let mut done = 0.0;
        let mut step = longest_step;
        while done < 1.0 {
            let next = f64::min(done + step, 1.0);
            let rig = Self::new(&self.points, &self.setting.scaled(next));
            let motion = motion.scaled(next);
            match rig.approach(&motion, travel_at, last.t) {
                Some(stand)
                    if step_is_safe(&last, &stand, step * whole)
                        && rig.moved(&motion, travel_at).clear_between(last.t, stand.t) =>
                {
                    done = next;
                    last = stand;
                    step = (step * 2.0).min(longest_step);
                }
                _ => {
                    step *= 0.5;
                    if step * whole < PATH_STEP_SHORTEST_SHARE {
                        return Err(last.margins.nearest());
                    }
                }
            }
        }
        Ok(last.t)
    }
}

/// Whether a step of the path leads to the next pose of the same stretch: the arm turns little and as Newton's first
/// step foretold, and either both ends are well clear of every dead centre or the step is a fine one.
fn step_is_safe(before: &Stand, after: &Stand, moved_share: f64) -> bool {
    let turned = after.t - before.t;
    let [least, most] = PATH_STEP_BAND;
    let foretold = turned.abs().max(after.first_step.abs()) < PATH_STEP_SMALL
        || (least..=most).contains(&(turned / after.first_step));
    let far = before.margins.least() > PATH_MARGIN && after.margins.least() > PATH_MARGIN;
    turned.abs() < PATH_STEP_TANGENT && foretold && (far || moved_share <= PATH_STEP_FINE_SHARE)
}

/// Lanes in which every input is so small against the shortest link that no other branch of assembly is anywhere near.
/// `hub_mm` is the hub's distance from the car's centre plane.
#[inline(always)]
pub fn small_inputs<N: Pack>(setting: &Setting<N>, motion: &Motion<N>, shortest_link_mm: N, hub_mm: N) -> u32 {
    let within = |value: N, most: N| (-value.magnitude()).at_least(-most);
    let most = small_travel_mm(shortest_link_mm);
    let mut small = within(setting.clamp_deg, N::constant(SHORT_CUT_CLAMP_DEG))
        & within(motion.roll_deg, N::constant(SHORT_CUT_ROLL_DEG));
    for length in lengths_mm(setting, motion, hub_mm) {
        small &= within(length, most);
    }
    small
}

/// The most that travel may be to count as small.
#[inline(always)]
pub fn small_travel_mm<N: Number>(shortest_link_mm: N) -> N {
    shortest_link_mm * N::constant(SHORT_CUT_SHARE)
}

/// Lengths of lower arm, tie rod and steering axis at design.
fn links_mm(points: &HardPoints) -> (f64, f64, f64) {
    let arm_axis = Line::through(points.arm_rear, points.arm_front);
    let arm = points.ball_joint - arm_axis.foot(points.ball_joint);
    let tie_rod = points.tie_outer - points.tie_inner;
    let steering_axis = points.strut_top - points.ball_joint;
    (arm.length(), tie_rod.length(), steering_axis.length())
}

/// The shortest of lower arm, tie rod and steering axis at design: what "a small input" is measured against.
fn shortest_link_mm(points: &HardPoints) -> f64 {
    let (arm, tie_rod, steering_axis) = links_mm(points);
    arm.min(tie_rod).min(steering_axis)
}

/// How a left corner stands at design, every setting and motion at zero: looked at once for all that ask.
#[derive(Clone, Copy, Debug)]
pub struct AtDesign {
    /// The shortest of lower arm, tie rod and steering axis.
    pub shortest_link_mm: f64,
    /// How much the wheel rises per rise of the ball joint, as each way of travel measures it, in the order of
    /// [`TravelAt::ALL`]; NaN where there is no pose at all.
    pub rises: [f64; 3],
    /// Cosine between strut and steering axis.
    strut: f64,
    /// Sine between tie rod and steering arm.
    tie_rod: f64,
}

impl AtDesign {
    /// Of the left corner with these hard points.
    pub fn of(points: &HardPoints) -> Self {
        let linkage = Linkage::new(points, &Setting::default());
        let inner = linkage.inner_at(0.0).lifted();
        let design_rise = 2.0 * linkage.arm.quarter.z;
        let linkage: Linkage<Dual<f64>> = linkage.lifted();
        let knuckle = linkage.place(Dual::variable(0.0, 0), inner);
        Self {
            shortest_link_mm: shortest_link_mm(points),
            rises: TravelAt::ALL.map(|travel_at| linkage.travel_of(&knuckle, travel_at).slope[0] / design_rise),
            strut: knuckle.strut_share_squared().value.sqrt(),
            tie_rod: knuckle.tie_rod_margin().value,
        }
    }

    /// Whether the design position itself is beyond doubt: a corner that starts near a dead centre may cross one on its
    /// way to a pose that looks sound.
    pub fn is_plain(&self, travel_at: TravelAt) -> bool {
        let [least_rise, most_rise] = RISE;
        let rise = self.rises[travel_at as usize];
        self.strut >= MARGIN && self.tie_rod >= MARGIN && (least_rise..=most_rise).contains(&rise)
    }
}

/// The lengths among the inputs; roll counts as the travel that it makes at the hub.
#[inline(always)]
fn lengths_mm<N: Number>(setting: &Setting<N>, motion: &Motion<N>, hub_mm: N) -> [N; 11] {
    [
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
        motion.roll_deg.to_radians() * hub_mm,
    ]
}

/// The largest of them.
fn farthest_mm(setting: &Setting, motion: &Motion, hub_mm: f64) -> f64 {
    let lengths = lengths_mm(setting, motion, hub_mm);
    lengths.iter().fold(0.0, |most: f64, length| most.max(length.abs()))
}
