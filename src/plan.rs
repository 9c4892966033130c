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
//! ([`crate::derivative`]). A step goes no farther than a region of trust, a box about x_k; where the sum of squares
//! does not fall as foretold, or the pose is out of reach, the region shrinks and the step is taken again (Nocedal and
//! Wright, Numerical Optimization, 2nd edition, chapters 4 and 10.3).
//!
//! # Which setting, if there are several
//!
//! Readings of a strut are nearly straight functions of its adjusters as far as those reach, and a second setting with
//! the same readings lies beyond a fold, where the way from the one to the other turns back. Steps start from the
//! present setting and never let the miss grow, so what is found is the answer on this side of a fold; whether the
//! sense of the adjusters is still what it was at the start is told ([`Plan::folded`]).

mod answer;
mod question;
mod search;

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use crate::corner::Corner;
use crate::derivative::{Parameter, Sloped};
use crate::hard_points::{HardPoints, Side};
use crate::least_squares::{Equations, Unknowns};
use crate::linkage::Status;
use crate::motion::{Motion, TravelAt};
use crate::reading::Wanted;
use crate::rig::Rig;
use crate::setting::{SETTING_FIELDS, Setting};
use crate::sweep::threads::pool;

pub use answer::{CLOSED, CLOSED_RATE, Outcome, Plan, closed};
pub use question::{Adjuster, PlanError, Tie, Want, most_wanted, usual_accuracy, usual_effort};

use question::{by_itself, check_adjusters, check_ties, check_wants};

/// Adjusters that one pass of slopes carries.
const BLOCK: usize = 4;
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
    ties: Vec<Tie>,
    /// What slopes are taken by: the adjusters' fields, then those tied to them.
    parameters: Vec<Parameter>,
    /// Which parameter moves with which adjuster, and by how much.
    shares: Vec<Share>,
    before: Look,
}

/// A parameter that moves with an adjuster.
#[derive(Clone, Copy, Debug)]
struct Share {
    parameter: usize,
    adjuster: usize,
    per: f64,
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
    /// A planner for this corner, which stands at `start` now; `travel_at` says what zero travel holds, `ties` which
    /// fields go along with the adjusters.
    ///
    /// # Errors
    /// [`PlanError`] for whatever is asked that makes no sense.
    pub fn new(
        corner: &Corner,
        start: &Setting,
        travel_at: TravelAt,
        wants: Vec<Want>,
        adjusters: Vec<Adjuster>,
        ties: Vec<Tie>,
    ) -> Result<Self, PlanError> {
        check_wants(&wants)?;
        check_ties(&ties)?;
        check_adjusters(start, &adjusters, &ties)?;
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
        let (parameters, shares) = parameters_of(&adjusters, &ties);
        let mut planner = Self {
            points: *corner.points(),
            twin: corner.left_twin(),
            side: corner.side(),
            travel_at,
            start: *start,
            parameters,
            shares,
            ties,
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
                    let here = |share: &&Share| share.parameter / BLOCK == block;
                    for share in self.shares.iter().filter(here) {
                        let slope = share.per * reading.slope[share.parameter % BLOCK];
                        let by_effort = slope * self.adjusters[share.adjuster].effort / want.accuracy;
                        slopes.add(place, share.adjuster, by_effort);
                    }
                }
            }
        }
        Ok(Look { readings, slopes })
    }

    /// Where an adjuster stands at the start, by itself.
    fn stood(&self, adjuster: &Adjuster) -> f64 {
        by_itself(&self.start, adjuster.field, &self.ties).clamp(adjuster.least, adjuster.most)
    }

    /// The setting with the free adjusters moved by so many efforts.
    fn setting(&self, moves: &Unknowns) -> Setting {
        let mut setting = self.start.to_array();
        for (adjuster, moved) in self.adjusters.iter().zip(moves) {
            let stood = self.stood(adjuster);
            let value = (stood + moved * adjuster.effort).clamp(adjuster.least, adjuster.most);
            // The part that goes along; nothing is lost to rounding where there is none.
            let along = setting[adjuster.field] - stood;
            setting[adjuster.field] = value + along;
        }
        let start = self.start.to_array();
        for tie in &self.ties {
            setting[tie.field] += tie.per * (setting[tie.follows] - start[tie.follows]);
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
}

/// What slopes are taken by, and which of it moves with which adjuster.
fn parameters_of(adjusters: &[Adjuster], ties: &[Tie]) -> (Vec<Parameter>, Vec<Share>) {
    let mut fields: Vec<usize> = adjusters.iter().map(|adjuster| adjuster.field).collect();
    let mut shares: Vec<Share> = (0..adjusters.len())
        .map(|k| Share {
            parameter: k,
            adjuster: k,
            per: 1.0,
        })
        .collect();
    for tie in ties {
        let Some(adjuster) = adjusters.iter().position(|adjuster| adjuster.field == tie.follows) else {
            // What it follows is not free, and does not move.
            continue;
        };
        let known = fields.iter().position(|&field| field == tie.field);
        let parameter = known.unwrap_or_else(|| {
            fields.push(tie.field);
            fields.len() - 1
        });
        shares.push(Share {
            parameter,
            adjuster,
            per: tie.per,
        });
    }
    (fields.into_iter().map(Parameter::Setting).collect(), shares)
}
