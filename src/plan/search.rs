//! The search for a setting: steps within limits and a region of trust.

use super::answer::closed;
use super::{Look, Outcome, Plan, Planner};
use crate::least_squares::{MOST_UNKNOWNS, Unknowns};
use crate::linkage::Status;

/// Steps after which a plan is given up. Four to six are usual.
const MOST_STEPS: u32 = 100;
/// A step smaller than this share of an adjuster's effort is none.
const LEAST_STEP: f64 = 1e-10;
/// How far, in efforts, the first step may go.
const FIRST_TRUST: f64 = 30.0;
const MOST_TRUST: f64 = 1000.0;
/// Below this much of a fall foretold, of the sum of squares by accuracies, a step is for the move's sake alone.
const LEAST_FALL: f64 = 1e-18;

impl Planner {
    pub(super) fn search(&self, values: &[f64]) -> Plan {
        let count = self.adjusters.len();
        let (mut least, mut most) = ([0.0; MOST_UNKNOWNS], [0.0; MOST_UNKNOWNS]);
        for (k, adjuster) in self.adjusters.iter().enumerate() {
            let stood = self.stood(adjuster);
            least[k] = (adjuster.least - stood) / adjuster.effort;
            most[k] = (adjuster.most - stood) / adjuster.effort;
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
