//! What gauges show: the readings, their units, their signs.
//!
//! Each reading is named once, in the list below. The enum, the getters of a pose at either face, the attributes of
//! arrays and the tables of the documentation are all made from that list; [`crate::gauge`] computes them.

/// Hand the list of readings to a macro: per reading its name, its variant, its unit, its long name, which way is
/// positive, and what it is exactly.
#[macro_export]
#[doc(hidden)]
macro_rules! for_each_reading {
    ($callback:ident) => {
        $callback! {
            camber, Camber, "deg", "camber",
            "top of the wheel leans outboard",
            "Angle between wheel plane and ground normal, true: asin(-s.n), s the spin axis pointing outboard, n the ground normal. -90 to 90 deg, no singular case. ISO 8855:2011 camber angle.";
            toe, Toe, "deg", "toe of this wheel",
            "toe-in: front of the wheel points inboard",
            "Angle of the wheel's heading to the car's longitudinal axis, seen from above: atan2(s.x, outboard s.y). -180 to 180 deg; undefined only for a wheel lying flat. ISO 8855:2011 7.1.6, toe-in positive. A steered wheel's steer angle is in it.";
            caster, Caster, "deg", "caster",
            "top of the steering axis leans rearward",
            "Slope of the steering axis in side view, projected on the XZ plane: atan2(-e.x, e.z), e from ball joint to strut top. -180 to 180 deg; undefined only for an axis along Y. Differs from the true angle at second order.";
            kingpin_inclination, KingpinInclination, "deg", "kingpin inclination",
            "top of the steering axis leans inboard",
            "Slope of the steering axis in front view, projected on the YZ plane: atan2(-outboard e.y, e.z). -180 to 180 deg; undefined only for an axis along X. Steering-axis inclination in SAE J670.";
            included_angle, IncludedAngle, "deg", "included angle",
            "steering axis leans inboard against the wheel plane",
            "Camber plus kingpin inclination. Not constant in bump on a strut.";
            scrub_radius, ScrubRadius, "mm", "scrub radius",
            "steering axis meets the ground inboard of the contact centre",
            "Steering-axis offset at ground: distance along the wheel's axle line, flattened on the ground, from where the steering axis meets the ground to the contact centre. Undefined (NaN or infinite) for a horizontal steering axis.";
            mechanical_trail, MechanicalTrail, "mm", "mechanical trail",
            "steering axis meets the ground ahead of the contact centre",
            "Castor offset at ground: distance along the wheel's heading from the contact centre forward to where the steering axis meets the ground. Undefined for a horizontal steering axis.";
            hub_offset, HubOffset, "mm", "steering-axis offset at the hub",
            "steering axis inboard of the wheel centre",
            "As the scrub radius, taken at the height of the wheel centre.";
            hub_trail, HubTrail, "mm", "castor offset at the hub",
            "steering axis ahead of the wheel centre",
            "As the mechanical trail, taken at the height of the wheel centre.";
            half_track, HalfTrack, "mm", "half track",
            "contact centre outboard of the car's centre line",
            "Distance of the contact centre from the plane Y = 0, outboard. At the contact centre, not at the wheel centre: the two move opposite ways when a top mount slides.";
            wheelbase_shift, WheelbaseShift, "mm", "fore-aft shift of the contact centre",
            "forward of the design position",
            "Change of the contact centre's X from the design position.";
            strut_compression, StrutCompression, "mm", "strut compression",
            "the strut is shorter than at design",
            "Shortening of the strut, measured along its axis up to the top pivot, from its design length. The top mount's own shift is in it.";
            bearing_angle, BearingAngle, "deg", "top-bearing angle",
            "never negative",
            "Angle between the strut axis and the top bearing's axis, which is fixed in the body: strut.bearing_axis, or the strut axis at design. 0 to 180 deg.";
            tie_rod_margin, TieRodMargin, "1", "tie-rod margin",
            "never negative; zero is over-centre",
            "Sine of the angle at the outer joint between steering arm and tie rod, seen along the steering axis. 0 to 1; past 0 no pose exists.";
            camber_gain, CamberGain, "deg/mm", "camber gain",
            "camber grows as the wheel rises",
            "Exact derivative of camber to wheel travel: of the wheel centre where travel is measured at the hub, of the contact centre otherwise.";
            bump_steer, BumpSteer, "deg/mm", "bump steer",
            "the wheel toes in as it rises",
            "Exact derivative of toe to wheel travel: of the wheel centre where travel is measured at the hub, of the contact centre otherwise.";
            caster_gain, CasterGain, "deg/mm", "caster gain",
            "caster grows as the wheel rises",
            "Exact derivative of caster to wheel travel: of the wheel centre where travel is measured at the hub, of the contact centre otherwise.";
            motion_ratio, MotionRatio, "1", "motion ratio",
            "the strut shortens as the wheel rises",
            "Exact derivative of strut compression to wheel travel: of the wheel centre where travel is measured at the hub, of the contact centre otherwise. Spring to wheel; some print the inverse.";
            roll_centre_height, RollCentreHeight, "mm", "roll-centre height",
            "above the ground",
            "Height above the ground, at Y = 0, of the normal to the path of the contact centre in front view: the roll centre of an axle whose other side is this side's mirror image.";
            swing_arm_length, SwingArmLength, "mm", "front-view swing arm",
            "instant centre inboard of the wheel",
            "Length of the front-view virtual swing arm: lateral distance from the instant centre to the contact centre, -1 over the derivative of camber in radians to the contact centre's travel. Infinite where camber does not change.";
            anti_dive_angle, AntiDiveAngle, "deg", "anti-dive angle",
            "braking lifts the front of the body",
            "Side-view slope of the path of the point of a locked wheel that stands at the contact centre: atan(dx/dz), forward in bump positive. -90 to 90 deg. Holds for brakes whose torque the knuckle takes.";
            side_view_swing_arm, SideViewSwingArm, "mm", "side-view swing arm",
            "instant centre behind the wheel",
            "Length of the side-view virtual swing arm of a wheel locked to the knuckle: how far its instant centre lies behind the contact centre, in the plane of constant Y through it; its height above the ground is that length times the tangent of the anti-dive angle. Infinite where the knuckle does not pitch.";
        }
    };
}

macro_rules! declare_readings {
    ($($name:ident, $variant:ident, $unit:literal, $long:literal, $positive:literal, $doc:literal;)*) => {
        /// One reading of a pose.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[repr(usize)]
        pub enum Reading {
            $(
                #[doc = concat!($doc, " Positive: ", $positive, ".")]
                $variant,
            )*
        }

        impl Reading {
            /// Every reading, in the order of the documentation.
            pub const ALL: [Self; READING_COUNT] = [$(Self::$variant),*];

            /// The name at the user's face.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => stringify!($name),)* }
            }

            /// The unit at the user's face.
            pub const fn unit(self) -> &'static str {
                match self { $(Self::$variant => $unit,)* }
            }

            /// The name in words, for titles and axes.
            pub const fn long_name(self) -> &'static str {
                match self { $(Self::$variant => $long,)* }
            }

            /// Which way is positive.
            pub const fn positive(self) -> &'static str {
                match self { $(Self::$variant => $positive,)* }
            }

            /// What it is exactly: definition, range, singular case.
            pub const fn definition(self) -> &'static str {
                match self { $(Self::$variant => $doc,)* }
            }
        }
    };
}

/// How many readings there are.
pub const READING_COUNT: usize = 22;

for_each_reading!(declare_readings);

impl Reading {
    /// The reading of this name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|reading| reading.name() == name)
    }

    /// Whether it is made of derivatives along the wheel's travel.
    pub const fn is_rate(self) -> bool {
        self as usize >= Self::CamberGain as usize
    }
}

/// A set of readings: what is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wanted(u32);

impl Wanted {
    /// Every reading.
    pub const ALL: Self = Self((1 << READING_COUNT) - 1);
    /// None.
    pub const NONE: Self = Self(0);

    /// The set with one more reading.
    #[must_use]
    pub const fn with(self, reading: Reading) -> Self {
        Self(self.0 | 1 << reading as usize)
    }

    /// Whether a reading is asked for.
    #[inline(always)]
    pub const fn has(self, reading: Reading) -> bool {
        self.0 >> reading as usize & 1 == 1
    }

    /// Whether any reading asked for is made of derivatives.
    pub const fn has_rates(self) -> bool {
        self.0 >> Reading::CamberGain as usize != 0
    }
}
