//! The way back: from wanted readings to the setting that gives them.
//!
//! A [`Planner`] holds a corner, what is wanted of it, which adjusters are free and how far each may go.
//! [`Planner::plan`] finds the setting. Three kinds of problem are one to it:
//!
//! - as many adjusters as readings: the setting that meets them;
//! - more adjusters: among the settings that meet them, the one that moves least, each adjuster counted by its effort;
//! - more readings, readings that contradict each other, or a limit in the way: the setting that comes nearest, each
//!   reading counted by its accuracy.
//!
//! # The mathematics
//!
//! With x the adjusters' moves by their efforts and R(x) what the readings miss, counted by their accuracies, each step
//! solves the linear problem J x = J x_k - R(x_k) by least squares within the limits, taking the answer of least length
//! ([`crate::least_squares`]): Gauss and Newton's step and the least move in one. J is exact
//! ([`crate::derivative`]). A step goes no farther than a region of trust, a box about x_k; where the sum of squares does
//! not fall as foretold, or the pose is out of reach, the region shrinks and the step is taken again (Nocedal and Wright,
//! Numerical Optimization, 2nd edition, chapters 4 and 10.3).
//!
//! # Which setting, if there are several
//!
//! Readings of a strut are nearly straight functions of its adjusters as far as those reach, and a second setting with
//! the same readings lies beyond a fold, where the way from the one to the other turns back. Steps start from the present
//! setting and never let the miss grow, so what is found is the answer on this side of a fold; whether the sense of the
//! adjusters is still what it was at the start is told ([`Plan::folded`]).

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use crate::corner::Corner;
use crate::derivative::{Parameter, Sloped};
use crate::hard_points::{HardPoints, Side};
use crate::least_squares::{Equations, MOST_UNKNOWNS, Unknowns};
use crate::linkage::Status;
use crate::motion::{MOTION_FIELDS, Motion, TravelAt};
use crate::reading::{Reading, Wanted};
use crate::rig::Rig;
use crate::setting::{SETTING_FIELDS, Setting};
use crate::sweep::threads::pool;

/// Adjusters that one pass of slopes carries.
const BLOCK: usize = 4;
/// Steps after which a plan is given up. Four to six are usual.
const MOST_STEPS: u32 = 100;
/// A reading counts as met when it is this near, in mm or deg.
pub const CLOSED: f64 = 1e-8;
/// The same for a rate, in deg/mm, and for a ratio: of some 0.01 deg/mm as many digits as of some 10 deg.
pub const CLOSED_RATE: f64 = 1e-11;
/// A step smaller than this share of an adjuster's effort is none.
const LEAST_STEP: f64 = 1e-10;
/// How far, in efforts, the first step may go.
const FIRST_TRUST: f64 = 30.0;
const MOST_TRUST: f64 = 1000.0;
/// Below this much of a fall foretold, of the sum of squares by accuracies, a step is for the move's sake alone.
const LEAST_FALL: f64 = 1e-18;

/// A reading that is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Want {
    /// Which.
    pub reading: Reading,
    /// In which motion.
    pub motion: Motion,
    /// How much of it counts as one unit of miss where not everything can be met, in the reading's unit.
    pub accuracy: f64,
}

/// An adjuster that is free.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Adjuster {
    /// Its place among [`SETTING_FIELDS`].
    pub field: usize,
    /// How far it goes.
    pub least: f64,
    /// How far it goes the other way.
    pub most: f64,
    /// How much of it counts as one unit of move where several settings do.
    pub effort: f64,
}

/// The accuracy of a reading unless the user states one: what a good gauge tells.
pub fn usual_accuracy(reading: Reading) -> f64 {
    match reading.unit() {
        "deg" => 0.01,
        "mm" => 0.1,
        "deg/mm" => 1e-4,
        _ => 1e-3,
    }
}

/// The effort of an adjuster unless the user states one: one mm, or a tenth of a degree.
pub fn usual_effort(field: usize) -> f64 {
    if SETTING_FIELDS[field].unit == "deg" { 0.1 } else { 1.0 }
}

/// The farthest from zero that a wanted reading may be, so that a sheet in the wrong unit is told.
pub fn most_wanted(reading: Reading) -> f64 {
    match reading {
        Reading::Camber => 20.0,
        Reading::CamberGain | Reading::BumpSteer | Reading::CasterGain | Reading::TieRodMargin => 1.0,
        _ if reading.unit() == "deg" => 60.0,
        Reading::SwingArmLength | Reading::SideViewSwingArm | Reading::RollCentreHeight => 1e6,
        Reading::MotionRatio => 10.0,
        _ => 20_000.0,
    }
}

/// What can be wrong with what is asked of a planner.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// No reading is wanted.
    #[error("nothing is wanted: give at least one reading and its value")]
    NothingWanted,
    /// No adjuster is free.
    #[error("nothing is free: give at least one adjuster that may be moved")]
    NothingFree,
    /// The same reading twice in one motion.
    #[error("{reading} is wanted twice at {}", in_words(motion))]
    WantedTwice {
        /// The reading's name.
        reading: &'static str,
        /// The motion.
        motion: Motion,
    },
    /// The same adjuster twice.
    #[error("{0} is free twice")]
    FreeTwice(&'static str),
    /// A limit that leaves nothing, or is no number.
    #[error("the limits of {name} leave nothing: from {least} to {most} {unit}")]
    EmptyLimits {
        /// The adjuster.
        name: &'static str,
        /// Its limits.
        least: f64,
        /// Its limits.
        most: f64,
        /// Their unit.
        unit: &'static str,
    },
    /// The present setting lies beyond its limits.
    #[error("{name} stands at {start} {unit}, outside its limits from {least} to {most} {unit}")]
    StartsOutside {
        /// The adjuster.
        name: &'static str,
        /// Where it stands.
        start: f64,
        /// Its limits.
        least: f64,
        /// Its limits.
        most: f64,
        /// Their unit.
        unit: &'static str,
    },
    /// A value that no wheel has.
    #[error("{reading} = {value} {unit} is wanted, more than {most} {unit} from zero: is this another unit?")]
    WrongUnit {
        /// The reading.
        reading: &'static str,
        /// What is wanted.
        value: f64,
        /// The reading's unit.
        unit: &'static str,
        /// The limit.
        most: f64,
    },
    /// An accuracy or an effort that is not a number above zero.
    #[error("the {what} of {name} is {value}: a finite number above zero is needed")]
    NoScale {
        /// `accuracy` or `effort`.
        what: &'static str,
        /// Of what.
        name: &'static str,
        /// What was given.
        value: f64,
    },
    /// An adjuster that does nothing to what is wanted.
    #[error(
        "{name} moves none of the wanted readings ({readings}): {move_by} {unit} of it change less than a gauge tells"
    )]
    MovesNothing {
        /// The adjuster.
        name: &'static str,
        /// How far it was thought to move.
        move_by: f64,
        /// In which unit.
        unit: &'static str,
        /// Names of the readings.
        readings: String,
    },
    /// The corner cannot stand in a motion where something is wanted, as it is set now.
    #[error("as it is set now the corner cannot stand at {}: {}", in_words(motion), status.reason())]
    StartOutOfReach {
        /// The motion.
        motion: Motion,
        /// What ran out.
        status: Status,
    },
    /// Not as many values as readings.
    #[error("{found} values for {wanted} wanted readings")]
    Count {
        /// How many readings are wanted.
        wanted: usize,
        /// How many values were given.
        found: usize,
    },
    /// Cancelled before its end.
    #[error("cancelled")]
    Cancelled,
    /// The threads could not be started.
    #[error("{0}")]
    Threads(String),
}

fn in_words(motion: &Motion) -> String {
    let fields = MOTION_FIELDS.iter().zip(motion.to_array());
    let parts: Vec<String> = fields
        .map(|(field, value)| format!("{} {value} {}", field.name, field.unit))
        .collect();
    parts.join(", ")
}

/// How a plan ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[repr(i8)]
pub enum Outcome {
    /// Everything wanted is met.
    Reached = 0,
    /// A limit of an adjuster stands in the way: the nearest setting within the limits.
    Limited = 1,
    /// No limit stands in the way; the adjusters that are free cannot give it: the nearest setting.
    Nearest = 2,
    /// The linkage ends on the way: the nearest setting before that.
    OutOfReach = 3,
    /// The search did not come to its end.
    Unfinished = 4,
}

impl Outcome {
    /// Every outcome, in the order of its code.
    pub const ALL: [Self; 5] = [
        Self::Reached,
        Self::Limited,
        Self::Nearest,
        Self::OutOfReach,
        Self::Unfinished,
    ];

    /// The code written into results.
    pub const fn code(self) -> i8 {
        self as i8
    }

    /// One word for it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Reached => "reached",
            Self::Limited => "limited",
            Self::Nearest => "nearest",
            Self::OutOfReach => "out_of_reach",
            Self::Unfinished => "unfinished",
        }
    }

    /// What it means, in a sentence without its full stop.
    pub const fn reason(self) -> &'static str {
        match self {
            Self::Reached => "everything wanted is met",
            Self::Limited => "a limit of an adjuster stands in the way; this is the nearest setting within the limits",
            Self::Nearest => "the free adjusters cannot give all that is wanted; this is the nearest setting",
            Self::OutOfReach => "the linkage ends on the way; this is the nearest setting before that",
            Self::Unfinished => "the search did not come to its end; this is as near as it came",
        }
    }
}

/// A setting found.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The whole setting, what is not free as it was.
    pub setting: Setting,
    /// How it ended.
    pub outcome: Outcome,
    /// Per adjuster: -1 where it stands at its least, +1 at its greatest value, 0 between.
    pub at_limit: Vec<i8>,
    /// Per wanted reading: what it reads less what is wanted, in its unit.
    pub residuals: Vec<f64>,
    /// Steps taken.
    pub steps: u32,
    /// Which part of the linkage ran out on the way, if one did.
    pub ran_out: Option<Status>,
    /// With as many adjusters as readings, none of them at a limit: whether the sense in which the adjusters move the
    /// readings is turned round against the start. The setting lies beyond a fold then, and another, nearer one may exist.
    pub folded: bool,
}

/// A corner, what is wanted of it, and what may be moved.
#[derive(Clone, Debug)]
pub struct Planner {
    points: HardPoints,
    twin: HardPoints,
    side: Side,
    travel_at: TravelAt,
    start: Setting,
    wants: Vec<Want>,
    adjusters: Vec<Adjuster>,
    /// The different motions, and which wants belong to each.
    stations: Vec<Station>,
    parameters: Vec<Parameter>,
    before: Look,
}

/// One motion, and the wants in it.
#[derive(Clone, Debug)]
struct Station {
    motion: Motion,
    wants: Vec<usize>,
    wanted: Wanted,
}

/// Wanted readings at one setting, and their slopes by accuracies and efforts.
#[derive(Clone, Debug)]
struct Look {
    readings: Vec<f64>,
    slopes: Equations,
}

impl Planner {
    /// A planner for this corner, which stands at `start` now; `travel_at` says what zero travel holds.
    ///
    /// # Errors
    /// [`PlanError`] for whatever is asked that makes no sense.
    pub fn new(
        corner: &Corner,
        start: &Setting,
        travel_at: TravelAt,
        wants: Vec<Want>,
        adjusters: Vec<Adjuster>,
    ) -> Result<Self, PlanError> {
        check_wants(&wants)?;
        check_adjusters(start, &adjusters)?;
        let mut stations: Vec<Station> = Vec::new();
        for (place, want) in wants.iter().enumerate() {
            let known = stations.iter().position(|station| station.motion == want.motion);
            let at = known.unwrap_or_else(|| {
                stations.push(Station {
                    motion: want.motion,
                    wants: Vec::new(),
                    wanted: Wanted::NONE,
                });
                stations.len() - 1
            });
            stations[at].wants.push(place);
            stations[at].wanted = stations[at].wanted.with(want.reading);
        }
        let mut planner = Self {
            points: *corner.points(),
            twin: corner.left_twin(),
            side: corner.side(),
            travel_at,
            start: *start,
            parameters: adjusters.iter().map(|a| Parameter::Setting(a.field)).collect(),
            wants,
            adjusters,
            stations,
            before: Look {
                readings: Vec::new(),
                slopes: Equations::new(0, 0),
            },
        };
        planner.before = planner
            .look(start)
            .map_err(|(status, motion)| PlanError::StartOutOfReach { motion, status })?;
        planner.check_each_moves_something()?;
        Ok(planner)
    }

    /// What is wanted.
    pub fn wants(&self) -> &[Want] {
        &self.wants
    }

    /// What is free.
    pub fn adjusters(&self) -> &[Adjuster] {
        &self.adjusters
    }

    /// The wanted readings as they are now.
    pub fn before(&self) -> &[f64] {
        &self.before.readings
    }

    /// Ten units of an adjuster have to move one wanted reading by a fifth of what a gauge tells at least.
    fn check_each_moves_something(&self) -> Result<(), PlanError> {
        const UNITS: f64 = 10.0;
        const LEAST_EFFECT: f64 = 0.2;
        for (k, adjuster) in self.adjusters.iter().enumerate() {
            let move_by = UNITS * usual_effort(adjuster.field);
            let mut effects = self
                .wants
                .iter()
                .zip(self.before.slopes.column(k))
                .map(|(want, slope)| slope * want.accuracy / adjuster.effort * move_by / usual_accuracy(want.reading));
            // Not `< least`: what is no number is not known to do nothing.
            if adjuster.least < adjuster.most && effects.all(|effect| effect.abs() < LEAST_EFFECT) {
                let mut readings: Vec<&str> = self.wants.iter().map(|want| want.reading.name()).collect();
                readings.dedup();
                let field = &SETTING_FIELDS[adjuster.field];
                return Err(PlanError::MovesNothing {
                    name: field.name,
                    move_by,
                    unit: field.unit,
                    readings: readings.join(", "),
                });
            }
        }
        Ok(())
    }

    /// Readings and slopes at a setting, or what ran out and in which motion.
    fn look(&self, setting: &Setting) -> Result<Look, (Status, Motion)> {
        let mut readings = vec![0.0; self.wants.len()];
        let mut slopes = Equations::new(self.wants.len(), self.adjusters.len());
        let rig = Rig::new(&self.twin, setting);
        for station in &self.stations {
            let motion = &station.motion;
            let t = rig
                .reach(&motion.of_left_twin(self.side), self.travel_at)
                .map_err(|status| (status, station.motion))?;
            for (block, parameters) in self.parameters.chunks(BLOCK).enumerate() {
                let sloped = Sloped::<BLOCK>::new(
                    (&self.points, self.side),
                    (&rig, t),
                    (motion, self.travel_at),
                    parameters,
                    station.wanted,
                );
                for &place in &station.wants {
                    let want = &self.wants[place];
                    let reading = sloped.readings[want.reading as usize].0;
                    readings[place] = reading.value;
                    for k in 0..parameters.len() {
                        let unknown = block * BLOCK + k;
                        let slope = reading.slope[k] * self.adjusters[unknown].effort / want.accuracy;
                        slopes.set(place, unknown, slope);
                    }
                }
            }
        }
        Ok(Look { readings, slopes })
    }

    /// The setting with the free adjusters moved by so many efforts.
    fn setting(&self, moves: &Unknowns) -> Setting {
        let mut setting = self.start.to_array();
        for (adjuster, moved) in self.adjusters.iter().zip(moves) {
            let value = setting[adjuster.field] + moved * adjuster.effort;
            setting[adjuster.field] = value.clamp(adjuster.least, adjuster.most);
        }
        Setting::from_array(setting)
    }

    /// The setting that gives these readings, in the order of [`Self::wants`].
    ///
    /// # Errors
    /// [`PlanError::Count`], and [`PlanError::WrongUnit`] for a value that no wheel has.
    pub fn plan(&self, values: &[f64]) -> Result<Plan, PlanError> {
        if values.len() != self.wants.len() {
            return Err(PlanError::Count {
                wanted: self.wants.len(),
                found: values.len(),
            });
        }
        for (want, &value) in self.wants.iter().zip(values) {
            let most = most_wanted(want.reading);
            if !(value.abs() <= most) {
                return Err(PlanError::WrongUnit {
                    reading: want.reading.name(),
                    value,
                    unit: want.reading.unit(),
                    most,
                });
            }
        }
        Ok(self.search(values))
    }

    /// As [`Self::plan`], for many sets of values one after the other in `values`, on this many threads (all of the
    /// machine's if zero). Each is planned from the start by itself: the same bits come out for any number of threads.
    ///
    /// # Errors
    /// As [`Self::plan`]; [`PlanError::Cancelled`] once `cancelled` is set.
    pub fn plan_many(&self, values: &[f64], threads: usize, cancelled: &AtomicBool) -> Result<Vec<Plan>, PlanError> {
        let pool = pool(threads).map_err(|error| PlanError::Threads(error.to_string()))?;
        pool.install(|| {
            values
                .par_chunks(self.wants.len())
                .with_min_len(16)
                .map(|values| {
                    if cancelled.load(Ordering::Relaxed) {
                        return Err(PlanError::Cancelled);
                    }
                    self.plan(values)
                })
                .collect()
        })
    }

    fn search(&self, values: &[f64]) -> Plan {
        let count = self.adjusters.len();
        let (mut least, mut most) = ([0.0; MOST_UNKNOWNS], [0.0; MOST_UNKNOWNS]);
        for (k, adjuster) in self.adjusters.iter().enumerate() {
            let start = self.start.to_array()[adjuster.field];
            least[k] = (adjuster.least - start) / adjuster.effort;
            most[k] = (adjuster.most - start) / adjuster.effort;
        }
        let miss = |look: &Look| -> Vec<f64> {
            let each = self.wants.iter().zip(look.readings.iter().zip(values));
            each.map(|(want, (reading, value))| (reading - value) / want.accuracy)
                .collect()
        };
        let squares = |miss: &[f64]| miss.iter().map(|m| m * m).sum::<f64>();

        let mut at = [0.0; MOST_UNKNOWNS];
        let mut here = self.before.clone();
        let mut trust = FIRST_TRUST;
        let mut ran_out = None;
        let mut ended = false;
        let mut steps = 0;
        while steps < MOST_STEPS && !ended {
            steps += 1;
            let missed = miss(&here);
            let now = squares(&missed);
            let linear = here.slopes.times(&at);
            let right: Vec<f64> = linear.iter().zip(&missed).map(|(linear, miss)| linear - miss).collect();
            // Nearer and nearer about the same place, until the miss falls as foretold.
            loop {
                let (mut low, mut high) = (least, most);
                for k in 0..count {
                    low[k] = low[k].max(at[k] - trust);
                    high[k] = high[k].min(at[k] + trust);
                }
                let next = here.slopes.solve_within(&right, &low, &high, &at);
                let length = (0..count).fold(0.0, |most: f64, k| most.max((next[k] - at[k]).abs()));
                if !(length > LEAST_STEP) {
                    ended = true;
                    break;
                }
                let foretold: Vec<f64> = here
                    .slopes
                    .times(&next)
                    .iter()
                    .zip(&right)
                    .map(|(linear, right)| linear - right)
                    .collect();
                let fall = now - squares(&foretold);
                match self.look(&self.setting(&next)) {
                    Ok(there) => {
                        let then = squares(&miss(&there));
                        let share = (now - then) / fall;
                        let enough = if fall > LEAST_FALL * (1.0 + now) {
                            share > 0.05
                        } else {
                            then <= now + LEAST_FALL * (1.0 + now)
                        };
                        if enough {
                            at = next;
                            here = there;
                            ran_out = ran_out.filter(|_| length >= 0.99 * trust);
                            if share > 0.75 && length >= 0.99 * trust {
                                trust = (3.0 * trust).min(MOST_TRUST);
                            } else if share < 0.25 && fall > LEAST_FALL * (1.0 + now) {
                                trust = 0.5 * length;
                            }
                            break;
                        }
                        if !(fall > LEAST_FALL * (1.0 + now)) {
                            // Round-off is all that is left.
                            ended = true;
                            break;
                        }
                    }
                    Err((status, _)) => ran_out = Some(status),
                }
                trust = 0.3 * trust.min(length);
                if trust < LEAST_STEP {
                    ended = true;
                    break;
                }
            }
        }
        self.conclude(&at, &here, values, (&least, &most), steps, ended, ran_out)
    }

    /// The plan of a search that ended here.
    #[allow(clippy::too_many_arguments)] // All that the search knows.
    fn conclude(
        &self,
        at: &Unknowns,
        here: &Look,
        values: &[f64],
        (least, most): (&Unknowns, &Unknowns),
        steps: u32,
        ended: bool,
        ran_out: Option<Status>,
    ) -> Plan {
        let residuals: Vec<f64> = here.readings.iter().zip(values).map(|(r, v)| r - v).collect();
        let reached = self
            .wants
            .iter()
            .zip(&residuals)
            .all(|(want, residual)| residual.abs() <= closed(want.reading));
        let at_limit: Vec<i8> = (0..self.adjusters.len())
            .map(|k| {
                if at[k] >= most[k] {
                    1
                } else if at[k] <= least[k] {
                    -1
                } else {
                    0
                }
            })
            .collect();
        let outcome = if reached {
            Outcome::Reached
        } else if ran_out.is_some() {
            Outcome::OutOfReach
        } else if !ended {
            Outcome::Unfinished
        } else if at_limit.iter().any(|&side| side != 0) {
            Outcome::Limited
        } else {
            Outcome::Nearest
        };
        let square = self.wants.len() == self.adjusters.len();
        let folded = square
            && outcome == Outcome::Reached
            && at_limit.iter().all(|&side| side == 0)
            && here.slopes.determinant_sign() != self.before.slopes.determinant_sign();
        Plan {
            setting: self.setting(at),
            outcome,
            at_limit,
            residuals,
            steps,
            ran_out: if reached { None } else { ran_out },
            folded,
        }
    }
}

/// How near a reading has to come to count as met, in its unit.
pub fn closed(reading: Reading) -> f64 {
    if reading.unit() == "deg/mm" {
        CLOSED_RATE
    } else {
        CLOSED
    }
}

fn check_wants(wants: &[Want]) -> Result<(), PlanError> {
    if wants.is_empty() {
        return Err(PlanError::NothingWanted);
    }
    for (place, want) in wants.iter().enumerate() {
        let same = |other: &Want| other.reading == want.reading && other.motion == want.motion;
        if wants[..place].iter().any(same) {
            return Err(PlanError::WantedTwice {
                reading: want.reading.name(),
                motion: want.motion,
            });
        }
        check_scale("accuracy", want.reading.name(), want.accuracy)?;
    }
    Ok(())
}

fn check_adjusters(start: &Setting, adjusters: &[Adjuster]) -> Result<(), PlanError> {
    if adjusters.is_empty() {
        return Err(PlanError::NothingFree);
    }
    for (place, adjuster) in adjusters.iter().enumerate() {
        let field = &SETTING_FIELDS[adjuster.field];
        let (name, unit) = (field.name, field.unit);
        if adjusters[..place].iter().any(|other| other.field == adjuster.field) {
            return Err(PlanError::FreeTwice(name));
        }
        check_scale("effort", name, adjuster.effort)?;
        let (least, most) = (adjuster.least, adjuster.most);
        if !(least <= most) {
            return Err(PlanError::EmptyLimits {
                name,
                least,
                most,
                unit,
            });
        }
        let start = start.to_array()[adjuster.field];
        if !(least <= start && start <= most) {
            return Err(PlanError::StartsOutside {
                name,
                start,
                least,
                most,
                unit,
            });
        }
    }
    Ok(())
}

fn check_scale(what: &'static str, name: &'static str, value: f64) -> Result<(), PlanError> {
    if value.is_finite() && value > 0.0 {
        Ok(())
    } else {
        Err(PlanError::NoScale { what, name, value })
    }
}
