//! Two corners, one rack, one ground.

use crate::corner::{Corner, Side, WHEEL_RADIUS_MM, check_range, check_triple};
use crate::error::{Fault, GeometryError, Given, MOST_INPUT_DEG};
use crate::space::Point;
use crate::spring::{Damper, Spring};
use crate::tie_rod::TieRod;
use crate::top_plate::TopPlate;

/// No wheel carries more, and nothing heavier moves with one.
const MOST_LOAD_N: f64 = 1e6;
const MOST_MASS_KG: f64 = 1e4;

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
    /// Force of the ground on one wheel of this axle, the car standing at design height.
    pub wheel_load_n: Option<f64>,
    /// Mass of what moves with one wheel.
    pub unsprung_mass_kg: Option<f64>,
}

/// Room for the tyre, as far as it is known: the points of the body that it comes nearest to, as the left corner has them.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Envelope {
    /// Radius of the tyre where it is not loaded.
    pub tyre_radius_mm: Option<f64>,
    /// Width of the tyre.
    pub tyre_width_mm: Option<f64>,
    /// Of the arch ahead of the wheel.
    pub arch_front: Option<Point>,
    /// Of the arch behind the wheel.
    pub arch_rear: Option<Point>,
    /// Of the rail or the arm inboard of the wheel.
    pub rail: Option<Point>,
    /// Of the spring seat or the arch above the wheel.
    pub arch_top: Option<Point>,
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
    /// Reach of the top mount up and down, either way.
    pub mount_up_mm: Option<f64>,
    /// How much longer or shorter the tie rod can be made, either way.
    pub tie_rod_mm: Option<f64>,
    /// How far the knuckle can be turned in its clamp, either way.
    pub clamp_deg: Option<f64>,
    /// How much longer or shorter the lower arm can be made, either way.
    pub arm_mm: Option<f64>,
    /// Greatest angle between the strut and the top bearing's axis.
    pub bearing_angle_deg: Option<f64>,
    /// Least sine of the tie rod's angle to its arm that counts as safe from over-centre.
    pub tie_rod_margin: Option<f64>,
    /// How far a joint of the tie rod can lean from where it stands at design.
    pub tie_rod_end_angle_deg: Option<f64>,
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
    /// Room for the tyre.
    pub envelope: Envelope,
    /// The spring, as the left corner has it.
    pub spring: Spring,
    /// The damper.
    pub damper: Damper,
    /// Threads of the left tie rod.
    pub left_tie_rod: TieRod,
    /// Threads of the right tie rod; the same as the left one's unless given, hands included.
    pub right_tie_rod: TieRod,
    /// The adjustable strut top, as it is on the left; the right one is its mirror image.
    pub top_plate: Option<TopPlate>,
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
            envelope: Envelope::default(),
            spring: Spring::default(),
            damper: Damper::default(),
            left_tie_rod: TieRod::default(),
            right_tie_rod: TieRod::default(),
            top_plate: None,
        })
    }

    /// The same car with other corners: what belongs to the axle as a whole is kept.
    ///
    /// # Errors
    /// As [`Axle::new`], and as [`Axle::check`].
    pub fn with_corners(&self, left: Corner, right: Option<Corner>) -> Result<Self, GeometryError> {
        let Self { left, right, .. } = Self::new(&self.name, left, right)?;
        let axle = Self {
            left,
            right,
            ..self.clone()
        };
        axle.check()?;
        Ok(axle)
    }

    /// The corner of one side.
    pub fn corner(&self, side: Side) -> &Corner {
        match side {
            Side::Left => &self.left,
            Side::Right => &self.right,
        }
    }

    /// The threads of one side's tie rod.
    pub fn tie_rod(&self, side: Side) -> &TieRod {
        match side {
            Side::Left => &self.left_tie_rod,
            Side::Right => &self.right_tie_rod,
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
            ("limits.mount_up", self.limits.mount_up_mm, 0.0),
            ("limits.tie_rod", self.limits.tie_rod_mm, 0.0),
            ("limits.arm", self.limits.arm_mm, 0.0),
        ];
        for (field, value, least) in lengths {
            if let Some(value) = value {
                check_range(field, value, least, MOST_MM, "mm")?;
            }
        }
        if let Some(share) = self.dimensions.front_brake_share {
            check_range("axle.front_brake_share", share, 0.0, 1.0, "of the braking force")?;
        }
        let others = [
            ("axle.wheel_load", self.dimensions.wheel_load_n, MOST_LOAD_N, "N"),
            (
                "axle.unsprung_mass",
                self.dimensions.unsprung_mass_kg,
                MOST_MASS_KG,
                "kg",
            ),
            (
                "limits.tie_rod_end_angle",
                self.limits.tie_rod_end_angle_deg,
                MOST_INPUT_DEG,
                "deg",
            ),
            (
                "envelope.tyre_radius",
                self.envelope.tyre_radius_mm,
                WHEEL_RADIUS_MM[1],
                "mm",
            ),
            (
                "envelope.tyre_width",
                self.envelope.tyre_width_mm,
                WHEEL_RADIUS_MM[1],
                "mm",
            ),
        ];
        for (field, value, most, unit) in others {
            if let Some(value) = value {
                check_range(field, value, LEAST_MM, most, unit)?;
            }
        }
        for (field, at) in [
            ("envelope.arch_front", self.envelope.arch_front),
            ("envelope.arch_rear", self.envelope.arch_rear),
            ("envelope.rail", self.envelope.rail),
            ("envelope.arch_top", self.envelope.arch_top),
        ] {
            if let Some(at) = at {
                check_triple(field, at.into())?;
            }
        }
        if let Some(angle_deg) = self.limits.clamp_deg {
            check_range("limits.clamp", angle_deg, 0.0, MOST_INPUT_DEG, "deg")?;
        }
        if let Some(angle_deg) = self.limits.bearing_angle_deg {
            check_range("limits.bearing_angle", angle_deg, 0.0, MOST_INPUT_DEG, "deg")?;
        }
        if let Some(margin) = self.limits.tie_rod_margin {
            check_range("limits.tie_rod_margin", margin, 0.0, 1.0, "as a sine")?;
        }
        self.spring.check(&self.left)?;
        self.damper.check()?;
        self.left_tie_rod.check("tie_rod")?;
        self.right_tie_rod.check("right.tie_rod")?;
        self.top_plate.as_ref().map_or(Ok(()), TopPlate::check)
    }
}
