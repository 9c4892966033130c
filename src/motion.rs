//! What road and driver change.

use serde::{Deserialize, Serialize};

use crate::setting::InputField;

/// Travel of the wheel and displacement of the rack.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Motion<N = f64> {
    /// Bump from the design height, measured as [`TravelAt`] says.
    pub travel_mm: N,
    /// Rack displacement towards the left of the car, whichever corner and whichever side of the axle.
    pub rack_mm: N,
}

/// Names of the fields at the user's face, in their order, each with its unit and what is positive.
pub const MOTION_FIELDS: [InputField; 2] = [
    InputField::new("travel", "mm", "wheel travel from design height", "bump"),
    InputField::new("rack", "mm", "rack displacement", "toward the left of the car"),
];

impl Motion<f64> {
    /// The same motion done by this share: 0 is the design position, 1 is all of it.
    #[must_use]
    pub fn scaled(self, share: f64) -> Self {
        Self {
            travel_mm: self.travel_mm * share,
            rack_mm: self.rack_mm * share,
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
