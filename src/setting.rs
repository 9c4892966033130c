//! What a spanner changes.

use serde::{Deserialize, Serialize};

use crate::error::{InputError, MOST_INPUT_DEG, MOST_INPUT_MM};
use crate::number::Number;
use crate::space::Vector;

/// The adjustments of one corner; all zero is the corner as it was measured.
///
/// Up, inward and rearward are the car's directions at the design position. Left and right corners take the same
/// numbers for the same work: `mount_in` moves either top towards the car's centre line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Setting<N = f64> {
    /// Strut-top pivot moved towards the car's centre line.
    pub mount_in_mm: N,
    /// Strut-top pivot moved rearward.
    pub mount_back_mm: N,
    /// Strut-top pivot moved up.
    pub mount_up_mm: N,
    /// Tie rod made longer.
    pub tie_rod_mm: N,
    /// Knuckle turned against the strut at the clamp; positive leans the top of the wheel outboard.
    pub clamp_deg: N,
    /// Lower arm made longer: the ball joint's circle about the arm axis grows by this radius.
    pub arm_mm: N,
    /// Outer tie-rod joint raised on the knuckle by a spacer.
    pub tie_outer_up_mm: N,
    /// Ball joint lowered on the knuckle by a spacer.
    pub ball_joint_down_mm: N,
    /// Wheel moved outboard along its spin axis by a spacer.
    pub hub_spacer_mm: N,
}

/// Names of the fields at the user's face, in their order, each with its unit and what is positive.
pub const SETTING_FIELDS: [InputField; 9] = [
    InputField::new(
        "mount_in",
        "mm",
        "strut top moved inboard",
        "toward the car's centre line",
    ),
    InputField::new("mount_back", "mm", "strut top moved back", "rearward"),
    InputField::new("mount_up", "mm", "strut top moved up", "up"),
    InputField::new("tie_rod", "mm", "tie-rod length changed", "longer"),
    InputField::new(
        "clamp",
        "deg",
        "knuckle turned against the strut",
        "top of the wheel outboard",
    ),
    InputField::new("arm", "mm", "lower-arm length changed", "longer"),
    InputField::new(
        "tie_outer_up",
        "mm",
        "spacer at the outer tie-rod joint",
        "joint up on the knuckle",
    ),
    InputField::new(
        "ball_joint_down",
        "mm",
        "spacer at the ball joint",
        "joint down on the knuckle",
    ),
    InputField::new("hub_spacer", "mm", "wheel spacer", "wheel outboard"),
];

/// One number that `solve` and `sweep` take: how the user calls it and what it means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct InputField {
    /// The keyword.
    pub name: &'static str,
    /// The unit at the user's face.
    pub unit: &'static str,
    /// What it is, in words.
    pub long_name: &'static str,
    /// Which way is positive.
    pub positive: &'static str,
}

impl InputField {
    /// The field with these words.
    pub const fn new(name: &'static str, unit: &'static str, long_name: &'static str, positive: &'static str) -> Self {
        Self {
            name,
            unit,
            long_name,
            positive,
        }
    }
}

impl InputField {
    /// Check values of this field.
    ///
    /// # Errors
    /// [`InputError`] for the first that is not finite, or farther from zero than any part of a corner is moved.
    pub fn check(&self, values: &[f64]) -> Result<(), InputError> {
        let most = if self.unit == "deg" {
            MOST_INPUT_DEG
        } else {
            MOST_INPUT_MM
        };
        // Not `> most`: what is no number is not within the limit either.
        match values.iter().position(|value| !(value.abs() <= most)) {
            None => Ok(()),
            Some(index) => Err(InputError {
                field: self.name.to_owned(),
                value: values[index],
                index: (values.len() > 1).then_some(index),
                most,
                unit: self.unit,
            }),
        }
    }
}

impl<N: Number> Setting<N> {
    /// The way the strut-top pivot of a left corner moves in the body.
    #[inline(always)]
    pub fn mount_shift(&self) -> Vector<N> {
        Vector::new(-self.mount_back_mm, -self.mount_in_mm, self.mount_up_mm)
    }
}

impl<N: Copy> Setting<N> {
    /// The setting whose fields stand in the order of [`SETTING_FIELDS`].
    #[inline(always)]
    pub fn from_array(values: [N; 9]) -> Self {
        let [
            mount_in_mm,
            mount_back_mm,
            mount_up_mm,
            tie_rod_mm,
            clamp_deg,
            arm_mm,
            tie_outer_up_mm,
            ball_joint_down_mm,
            hub_spacer_mm,
        ] = values;
        Self {
            mount_in_mm,
            mount_back_mm,
            mount_up_mm,
            tie_rod_mm,
            clamp_deg,
            arm_mm,
            tie_outer_up_mm,
            ball_joint_down_mm,
            hub_spacer_mm,
        }
    }

    /// The fields in the order of [`SETTING_FIELDS`].
    pub fn to_array(self) -> [N; 9] {
        [
            self.mount_in_mm,
            self.mount_back_mm,
            self.mount_up_mm,
            self.tie_rod_mm,
            self.clamp_deg,
            self.arm_mm,
            self.tie_outer_up_mm,
            self.ball_joint_down_mm,
            self.hub_spacer_mm,
        ]
    }
}

impl Setting<f64> {
    /// The same adjustment done by this share: 0 is nothing, 1 is all of it.
    #[must_use]
    pub fn scaled(self, share: f64) -> Self {
        Self::from_array(self.to_array().map(|v| v * share))
    }
}
