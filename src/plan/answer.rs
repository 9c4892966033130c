//! What a planner gives: a setting, how the search ended, and what stood in the way.

use crate::linkage::Status;
use crate::reading::Reading;
use crate::setting::Setting;

/// A reading counts as met when it is this near, in mm or deg.
pub const CLOSED: f64 = 1e-8;
/// The same for a rate, in deg/mm, and for a ratio: of some 0.01 deg/mm as many digits as of some 10 deg.
pub const CLOSED_RATE: f64 = 1e-11;

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
    /// readings is turned round against the start. The setting lies beyond a fold then, and another, nearer one may
    /// exist.
    pub folded: bool,
}

/// How near a reading has to come to count as met, in its unit.
pub fn closed(reading: Reading) -> f64 {
    if reading.unit() == "deg/mm" {
        CLOSED_RATE
    } else {
        CLOSED
    }
}
