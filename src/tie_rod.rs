//! The threads by which a tie rod is made longer or shorter.
//!
//! The rod between the two joints turns; each joint that is screwed to it stands still. A screw is a helix, so what
//! counts is which way the rod turns against the joint and the hand of the thread, not which of the two is the nut.

use serde::{Deserialize, Serialize};

use crate::error::GeometryError;
use crate::spring::{MOST_THREAD_MM, THREAD_PITCH_MM, check_figures};

/// The hand of a thread.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hand {
    /// Turned clockwise it goes away from the one who turns it, as most threads do.
    #[default]
    Right,
    /// Turned clockwise it comes towards the one who turns it.
    Left,
}

impl Hand {
    /// The name at the user's face.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Right => "right",
            Self::Left => "left",
        }
    }

    /// The hand of this name.
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::Right, Self::Left].into_iter().find(|hand| hand.name() == name)
    }

    /// +1 for a right-hand thread, -1 for a left-hand one.
    const fn sign(self) -> f64 {
        match self {
            Self::Right => 1.0,
            Self::Left => -1.0,
        }
    }
}

/// The thread at one end of a tie rod; with no pitch there is none there, and that joint turns freely on the rod.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Thread {
    /// Advance a turn.
    pub pitch_mm: Option<f64>,
    /// Its hand; right unless given.
    pub hand: Option<Hand>,
    /// Length of thread that is screwed in at design.
    pub engaged_mm: Option<f64>,
}

/// The adjustment of one tie rod, as far as it is known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TieRod {
    /// The thread at the inner end, toward the rack.
    pub inner: Thread,
    /// The thread at the outer end, toward the wheel.
    pub outer: Thread,
    /// Least length of thread that has to stay screwed in at either end.
    pub least_engaged_mm: Option<f64>,
}

impl Thread {
    /// Advance a turn, positive for a right-hand thread; zero where there is no thread.
    fn lead_mm(&self) -> f64 {
        self.pitch_mm.unwrap_or(0.0) * self.hand.unwrap_or_default().sign()
    }
}

/// Less than this a turn is no adjustment: the threads of the two ends work against each other.
const LEAST_LENGTHENING_MM: f64 = 1e-6;

impl TieRod {
    /// How much longer the tie rod becomes a turn of its middle, clockwise as seen from the outer end, looking inboard
    /// along it; `None` where no thread is known or the two ends undo each other.
    ///
    /// Let a be the way from the inner to the outer end. A turn about a, right-handed, moves the rod by +lead along a
    /// against a joint that stands still, whichever of the two is the nut: away from the inner joint, which makes
    /// the tie rod longer, and into the outer one, which makes it shorter. Seen from the outer end, looking against a,
    /// a right-handed turn about a is anticlockwise. So clockwise it lengthens by the outer lead less the inner one.
    ///
    /// ```
    /// use strutsweep::tie_rod::{Hand, Thread, TieRod};
    /// let end = |hand| Thread { pitch_mm: Some(1.5), hand: Some(hand), ..Thread::default() };
    /// // One right-hand thread, at the outer end.
    /// let one = TieRod { outer: end(Hand::Right), ..TieRod::default() };
    /// assert_eq!(one.lengthening_mm_per_turn(), Some(1.5));
    /// // A threaded sleeve: the two ends help each other.
    /// let sleeve = TieRod { inner: end(Hand::Left), outer: end(Hand::Right), ..TieRod::default() };
    /// assert_eq!(sleeve.lengthening_mm_per_turn(), Some(3.0));
    /// // Threads of one pitch and hand undo each other.
    /// let none = TieRod { inner: end(Hand::Right), outer: end(Hand::Right), ..TieRod::default() };
    /// assert_eq!(none.lengthening_mm_per_turn(), None);
    /// ```
    pub fn lengthening_mm_per_turn(&self) -> Option<f64> {
        let lengthening_mm = self.outer.lead_mm() - self.inner.lead_mm();
        (lengthening_mm.abs() >= LEAST_LENGTHENING_MM).then_some(lengthening_mm)
    }

    /// Turns of the rod's middle that make the tie rod longer by `longer_mm`: positive clockwise as seen from the outer
    /// end, looking inboard along it.
    pub fn turns(&self, longer_mm: f64) -> Option<f64> {
        Some(longer_mm / self.lengthening_mm_per_turn()?)
    }

    /// Length of thread screwed in at the inner and the outer end once the tie rod is longer by `longer_mm`; `None` for
    /// an end without a thread or of unknown engagement.
    ///
    /// Clockwise seen from the outer end a right-hand thread there comes out, and one at the inner end goes in.
    pub fn engaged_mm(&self, longer_mm: f64) -> [Option<f64>; 2] {
        let Some(turns) = self.turns(longer_mm) else {
            return [self.inner.engaged_mm, self.outer.engaged_mm];
        };
        [
            self.inner
                .engaged_mm
                .map(|engaged| engaged + turns * self.inner.lead_mm()),
            self.outer
                .engaged_mm
                .map(|engaged| engaged - turns * self.outer.lead_mm()),
        ]
    }

    /// Check what is known of the adjustment; fields are named within `table`.
    ///
    /// # Errors
    /// [`GeometryError`] names the field, the value and the limit.
    pub(crate) fn check(&self, table: &str) -> Result<(), GeometryError> {
        let [finest, coarsest] = THREAD_PITCH_MM;
        for (end, thread) in [("inner", &self.inner), ("outer", &self.outer)] {
            let pitch = format!("{table}.{end}_thread_pitch");
            let engaged = format!("{table}.{end}_thread_engaged");
            check_figures(&[
                (&pitch, thread.pitch_mm, finest, coarsest, "mm"),
                (&engaged, thread.engaged_mm, 0.0, MOST_THREAD_MM, "mm"),
            ])?;
        }
        let least = format!("{table}.least_thread_engaged");
        check_figures(&[(&least, self.least_engaged_mm, 0.0, MOST_THREAD_MM, "mm")])
    }
}
