//! From a wanted steer angle to the rack that gives it: the inverse of a sweep over the rack.
//!
//! The angle grows with the rack as far as the nearest over-centre position, where it would turn back on another
//! branch; there a steer angle is not unique. So the rack is walked out from its centre until the angle is passed, then
//! closed in upon; where the walk ends first, or the pose found stands near over-centre, the angle is refused with
//! [`Status::Steer`].

use rayon::prelude::*;

use crate::corner::{Corner, Side};
use crate::gauge::{self, Stance};
use crate::linkage::Status;
use crate::motion::{Motion, TravelAt};
use crate::reading::{READING_COUNT, Reading, Wanted};
use crate::rig::Rig;
use crate::setting::Setting;
use crate::sweep::{SweepError, pool};

/// A steer angle counts as found when it is met within this.
const FOUND_DEG: f64 = 1e-10;
/// Two racks nearer than this are one.
const FOUND_MM: f64 = 1e-11;
/// First step of the walk, and the least to which it is halved where a pose is out of reach.
const STEP_MM: f64 = 10.0;
const LEAST_STEP_MM: f64 = 1e-3;
/// No rack moves farther.
const MOST_RACK_MM: f64 = 1000.0;
/// Half the distance over which the way that the rack turns the wheels is looked at.
const PROBE_MM: f64 = 0.5;
/// Closing in on a bracket takes some eight rounds; this many mean that it does not close.
const MOST_ROUNDS: usize = 100;
/// The least sine between tie rod and steering arm, of either wheel, at which a steer angle counts as unique: 6 deg
/// from over-centre.
pub const LEAST_MARGIN: f64 = 0.1;

/// Which angle is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SteerBy {
    /// The mean of both wheels' angles.
    Mean,
    /// The angle of the wheel on the inside of the turn.
    Inner,
}

/// One wheel that the rack turns.
struct Wheel {
    rig: Rig,
    side: Side,
    motion: Motion,
}

/// Two wheels on one rack, everything but the rack given.
pub struct Steered {
    wheels: [Wheel; 2],
    travel_at: TravelAt,
}

/// Steer to the left, and the nearer wheel's margin from over-centre.
#[derive(Clone, Copy)]
struct Angle {
    deg: f64,
    margin: f64,
}

/// An axle at one rack.
#[derive(Clone, Copy)]
struct Turned {
    /// By how much the angle asked for is missed.
    miss_deg: f64,
    /// Of both wheels, to the left.
    mean_deg: f64,
    margin: f64,
}

impl Wheel {
    fn steer(&self, rack_mm: f64, travel_at: TravelAt) -> Result<Angle, Status> {
        let motion = Motion { rack_mm, ..self.motion };
        let twin = motion.of_left_twin(self.side);
        let t = self.rig.reach(&twin, travel_at)?;
        let linkage = self.rig.linkage_in(&twin);
        let knuckle = linkage.place(t, linkage.inner_at(rack_mm));
        let mut readings = [0.0; READING_COUNT];
        let wanted = Wanted::NONE.with(Reading::Toe).with(Reading::TieRodMargin);
        gauge::read(&Stance::new(&linkage, &knuckle), wanted, &mut readings);
        Ok(Angle {
            deg: -self.side.outboard() * readings[Reading::Toe as usize],
            margin: readings[Reading::TieRodMargin as usize],
        })
    }
}

impl Steered {
    /// Left and right corner with a setting and a motion each; the motions' rack does not count.
    pub fn new(corners: [&Corner; 2], settings: [Setting; 2], motions: [Motion; 2], travel_at: TravelAt) -> Self {
        let wheel = |i: usize| Wheel {
            rig: Rig::new(&corners[i].left_twin(), &settings[i]),
            side: corners[i].side(),
            motion: motions[i],
        };
        Self {
            wheels: [wheel(0), wheel(1)],
            travel_at,
        }
    }

    fn turned(&self, rack_mm: f64, by: SteerBy, wanted_deg: f64) -> Result<Turned, Status> {
        let left = self.wheels[0].steer(rack_mm, self.travel_at)?;
        let right = self.wheels[1].steer(rack_mm, self.travel_at)?;
        let mean_deg = 0.5 * (left.deg + right.deg);
        let deg = match by {
            SteerBy::Inner if wanted_deg > 0.0 => left.deg,
            SteerBy::Inner if wanted_deg < 0.0 => right.deg,
            _ => mean_deg,
        };
        Ok(Turned {
            miss_deg: deg - wanted_deg,
            mean_deg,
            margin: left.margin.min(right.margin),
        })
    }

    /// +1 where the rack moving to the car's left turns the wheels to the left, as a rack ahead of the axle does, -1
    /// where it turns them to the right.
    ///
    /// # Errors
    /// The [`Status`] of the part that ran out with the rack centred.
    pub fn sense(&self) -> Result<f64, Status> {
        let at = |rack_mm| self.turned(rack_mm, SteerBy::Mean, 0.0).map(|turned| turned.mean_deg);
        Ok((at(PROBE_MM)? - at(-PROBE_MM)?).signum())
    }

    /// The rack that turns the wheels by an angle in deg, to the left positive.
    ///
    /// # Errors
    /// [`Status::Steer`] where no rack gives the angle, or only one so near over-centre that it is not unique, or one at
    /// which the wheel asked to be the inner one is not (static toe-out turns it that far by itself); the [`Status`] of the part that ran out where even the centred rack cannot be reached.
    pub fn rack_for(&self, wanted_deg: f64, by: SteerBy) -> Result<f64, Status> {
        let turned = |rack_mm: f64| self.turned(rack_mm, by, wanted_deg);
        let answer = |rack_mm: f64, found: Turned| {
            let the_other_way = by == SteerBy::Inner && wanted_deg * found.mean_deg < 0.0;
            if found.margin >= LEAST_MARGIN && !the_other_way {
                Ok(rack_mm)
            } else {
                Err(Status::Steer)
            }
        };
        let centred = turned(0.0)?;
        let at_centre = centred.miss_deg;
        if at_centre.abs() <= FOUND_DEG {
            return answer(0.0, centred);
        }
        let way = -at_centre.signum() * self.sense()?;
        let (mut near, mut near_miss) = (0.0, at_centre);
        let mut step = STEP_MM;
        // Out from the centre until the angle is passed.
        let (mut far, passed) = loop {
            let rack_mm: f64 = near + way * step;
            match turned(rack_mm) {
                Ok(there) if there.miss_deg * at_centre <= 0.0 => break (rack_mm, there),
                Ok(there) if there.miss_deg.abs() < near_miss.abs() && rack_mm.abs() <= MOST_RACK_MM => {
                    (near, near_miss) = (rack_mm, there.miss_deg);
                }
                // The angle turns back.
                Ok(_) => return Err(Status::Steer),
                Err(_) => {
                    step *= 0.5;
                    if step < LEAST_STEP_MM {
                        return Err(Status::Steer);
                    }
                }
            }
        };
        let mut far_miss = passed.miss_deg;
        if far_miss.abs() <= FOUND_DEG {
            return answer(far, passed);
        }
        // Closing in: regula falsi, the weight of an end that stays halved each round (Illinois).
        let mut kept = 0.0_f64;
        for _ in 0..MOST_ROUNDS {
            let rack_mm = (near * far_miss - far * near_miss) / (far_miss - near_miss);
            let found = turned(rack_mm)?;
            let there = found.miss_deg;
            if there.abs() <= FOUND_DEG || (far - near).abs() <= FOUND_MM {
                return answer(rack_mm, found);
            }
            if there * far_miss > 0.0 {
                (far, far_miss) = (rack_mm, there);
                if kept > 0.0 {
                    near_miss *= 0.5;
                }
                kept = 1.0;
            } else {
                (near, near_miss) = (rack_mm, there);
                if kept < 0.0 {
                    far_miss *= 0.5;
                }
                kept = -1.0;
            }
        }
        Err(Status::Steer)
    }
}

/// The racks that answer many questions, in their order and in parallel: NaN where there is none, with its status.
///
/// A question is two wheels and the angle that is wanted, deg, to the left positive; or the status of why there are none.
///
/// # Errors
/// [`SweepError::Threads`] if the system gives no threads.
pub fn racks_for(
    count: usize,
    question: impl Fn(usize) -> Result<(Steered, f64), Status> + Sync,
    by: SteerBy,
    threads: usize,
) -> Result<(Vec<f64>, Vec<i8>), SweepError> {
    let rack = |i: usize| {
        let (steered, wanted_deg) = question(i)?;
        steered.rack_for(wanted_deg, by)
    };
    let answer = |i: usize| match rack(i) {
        Ok(rack_mm) => (rack_mm, Status::Reached.code()),
        Err(status) => (f64::NAN, status.code()),
    };
    Ok(pool(threads)?.install(|| (0..count).into_par_iter().map(answer).unzip()))
}
