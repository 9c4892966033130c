//! What road and driver change.

use serde::{Deserialize, Serialize};

use crate::hard_points::Side;
use crate::number::Number;
use crate::setting::InputField;

/// Travel of the wheel, displacement of the rack and roll of the body.
///
/// # Roll
///
/// The body turns about the ground's centre line: the line along X at Y = 0, at the height of the corner's contact
/// centre at design. Roll is right-handed about X (ISO 8855): positive leans the body to the right, lowering its right
/// side. Everything is told in the ground's axes, which are the car's own at zero roll: the ground normal stays Z,
/// readings are to the ground, and the places of body-side points show the body leaning. Travel stays what [`TravelAt`]
/// says, in those axes: with [`TravelAt::Ground`] zero travel keeps the wheel on the level ground on which it stood at
/// design, so that a wheel on the side to which the body leans is pushed up into it; with [`TravelAt::Hub`] zero travel
/// keeps the wheel centre at its height above that ground; with [`TravelAt::Strut`] the strut keeps its length, so that
/// corner and body lean as one and only the ground that is read against differs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Motion<N = f64> {
    /// Bump from the design height, measured as [`TravelAt`] says.
    pub travel_mm: N,
    /// Rack displacement towards the left of the car, whichever corner and whichever side of the axle.
    pub rack_mm: N,
    /// Roll of the body; positive leans it to the right.
    pub roll_deg: N,
}

/// Names of the fields at the user's face, in their order, each with its unit and what is positive.
pub const MOTION_FIELDS: [InputField; 3] = [
    InputField::new("travel", "mm", "wheel travel from design height", "bump"),
    InputField::new("rack", "mm", "rack displacement", "toward the left of the car"),
    InputField::new(
        "roll",
        "deg",
        "roll of the body about the ground's centre line",
        "body leans to the right",
    ),
];

impl<N: Copy> Motion<N> {
    /// The motion whose fields stand in the order of [`MOTION_FIELDS`].
    #[inline(always)]
    pub fn from_array([travel_mm, rack_mm, roll_deg]: [N; 3]) -> Self {
        Self {
            travel_mm,
            rack_mm,
            roll_deg,
        }
    }

    /// The fields in the order of [`MOTION_FIELDS`].
    pub fn to_array(self) -> [N; 3] {
        [self.travel_mm, self.rack_mm, self.roll_deg]
    }
}

impl<N: Number> Motion<N> {
    /// The motion as the left twin of a corner of this side goes through it. A mirror image of the body rolls the other
    /// way; travel is alike on both sides, and the twin's rack direction is mirrored already.
    #[must_use]
    pub fn of_left_twin(self, side: Side) -> Self {
        Self {
            roll_deg: self.roll_deg * N::constant(side.outboard()),
            ..self
        }
    }
}

impl Motion<f64> {
    /// The same motion done by this share: 0 is the design position, 1 is all of it.
    #[must_use]
    pub fn scaled(self, share: f64) -> Self {
        Self {
            travel_mm: self.travel_mm * share,
            rack_mm: self.rack_mm * share,
            roll_deg: self.roll_deg * share,
        }
    }
}

/// Where travel is measured, and with it what is held when a setting changes at zero travel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TravelAt {
    /// Height of the contact centre against the body: ride height is held.
    #[default]
    Ground,
    /// Height of the wheel centre against the body: hub height is held.
    Hub,
    /// Compression of the strut: spring length is held.
    Strut,
}

impl TravelAt {
    /// Every way, in the order of the documentation.
    pub const ALL: [Self; 3] = [Self::Ground, Self::Hub, Self::Strut];

    /// The name at the user's face.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Ground => "ground",
            Self::Hub => "hub",
            Self::Strut => "strut",
        }
    }

    /// What zero travel holds while a setting changes, in words.
    pub const fn held(self) -> &'static str {
        match self {
            Self::Ground => "ride height",
            Self::Hub => "hub height",
            Self::Strut => "spring length",
        }
    }

    /// The way of this name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|way| way.name() == name)
    }
}
