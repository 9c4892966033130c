//! Two corners, one rack, one ground.

use crate::corner::{Corner, Side, check_range};
use crate::error::{Fault, GeometryError, Given};

/// The steering rack, as far as it is known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rack {
    /// Rack displacement per turn of the steering wheel.
    pub mm_per_turn: Option<f64>,
    /// Rack displacement to either side from the centre to its stop.
    pub stroke_mm: Option<f64>,
}

/// Dimensions of the car that the axle belongs to, as far as they are known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Dimensions {
    /// Distance of front and rear axle.
    pub wheelbase_mm: Option<f64>,
    /// Height of the car's centre of gravity above the ground.
    pub centre_of_gravity_height_mm: Option<f64>,
    /// Share of the braking force at this axle, 0 to 1.
    pub front_brake_share: Option<f64>,
}

/// How far the parts may move from design, as far as it is known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limits {
    /// Travel to the bump stop.
    pub bump_mm: Option<f64>,
    /// Travel to full droop, as a positive number.
    pub droop_mm: Option<f64>,
    /// Reach of the top mount in and out, either way.
    pub mount_in_mm: Option<f64>,
    /// Reach of the top mount fore and aft, either way.
    pub mount_back_mm: Option<f64>,
}

/// An axle: a left and a right corner that share a rack.
#[derive(Clone, Debug, PartialEq)]
pub struct Axle {
    /// The car's name, for titles and tables.
    pub name: String,
    /// Anything that a reader of the car file should know, such as where the numbers come from.
    pub note: Option<String>,
    /// The left corner.
    pub left: Corner,
    /// The right corner; the left one mirrored unless it was given.
    pub right: Corner,
    /// The steering rack.
    pub rack: Rack,
    /// Dimensions of the car.
    pub dimensions: Dimensions,
    /// How far the parts may move.
    pub limits: Limits,
}

impl Axle {
    /// The axle of a left corner and, unless the two sides are alike, a right one.
    ///
    /// # Errors
    /// [`GeometryError`] if a corner stands on the wrong side, or the two do not share their rack's direction.
    pub fn new(name: &str, left: Corner, right: Option<Corner>) -> Result<Self, GeometryError> {
        let left = left.named(name);
        let right = right.map_or_else(|| left.mirrored(), |right| right.named(name));
        for (corner, side) in [(&left, Side::Left), (&right, Side::Right)] {
            if corner.side() != side {
                return Err(GeometryError::new(
                    "wheel.centre",
                    Given::Triple(corner.points().wheel_centre.into()),
                    Fault::WrongSide {
                        found: corner.side().name(),
                        wanted: side.name(),
                    },
                ));
            }
        }
        if left.points().rack_direction != right.points().rack_direction {
            return Err(GeometryError::new(
                "rack.direction",
                Given::Triple(right.points().rack_direction.into()),
                Fault::TwoRacks,
            ));
        }
        // A car file mirrors what the left corner gives; where the right one follows the default, that is spelled out.
        let right = right.spelled_out_as(&left);
        Ok(Self {
            name: name.to_owned(),
            note: None,
            left,
            right,
            rack: Rack::default(),
            dimensions: Dimensions::default(),
            limits: Limits::default(),
        })
    }

    /// The corner of one side.
    pub fn corner(&self, side: Side) -> &Corner {
        match side {
            Side::Left => &self.left,
            Side::Right => &self.right,
        }
    }

    /// Check the figures that belong to the axle as a whole.
    ///
    /// # Errors
    /// [`GeometryError`] names the field, the value and the limit.
    pub fn check(&self) -> Result<(), GeometryError> {
        const MOST_MM: f64 = 20_000.0;
        // No length of these may vanish, but how short one may be is not ours to say.
        const LEAST_MM: f64 = 1e-3;
        let lengths = [
            ("rack.mm_per_turn", self.rack.mm_per_turn, LEAST_MM),
            ("rack.stroke", self.rack.stroke_mm, LEAST_MM),
            ("axle.wheelbase", self.dimensions.wheelbase_mm, LEAST_MM),
            (
                "axle.centre_of_gravity_height",
                self.dimensions.centre_of_gravity_height_mm,
                LEAST_MM,
            ),
            ("limits.bump", self.limits.bump_mm, 0.0),
            ("limits.droop", self.limits.droop_mm, 0.0),
            ("limits.mount_in", self.limits.mount_in_mm, 0.0),
            ("limits.mount_back", self.limits.mount_back_mm, 0.0),
        ];
        for (field, value, least) in lengths {
            if let Some(value) = value {
                check_range(field, value, least, MOST_MM, "mm")?;
            }
        }
        if let Some(share) = self.dimensions.front_brake_share {
            check_range("axle.front_brake_share", share, 0.0, 1.0, "of the braking force")?;
        }
        Ok(())
    }
}
