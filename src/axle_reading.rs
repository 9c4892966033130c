//! What two wheels on one rack and one ground show together: steer, Ackermann, turning circle, roll centre.
//!
//! Everything is made of the two corners' own readings and contact centres, in millimetres and degrees, so that it
//! holds for any setting and motion and for sides that differ. Left comes first in every pair.

use crate::axle::{Axle, Dimensions};
use crate::motion::{Motion, TravelAt};
use crate::pose::{Place, SolveError};
use crate::setting::Setting;
use crate::space::Point;

/// Nearer to straight ahead than this a share of Ackermann and a turning circle say nothing: they divide by it.
pub const LEAST_TURN_DEG: f64 = 1.0;
/// Two lines nearer to parallel than this have no crossing to speak of: it would lie hundreds of metres away, and
/// hundredths of a degree would move it by as much.
pub const LEAST_CROSSING_DEG: f64 = 0.01;

macro_rules! declare_axle_readings {
    ($($name:ident, $variant:ident, $per_wheel:literal, $unit:literal, $long:literal, $positive:literal,
    $doc:literal;)*) => {
        /// One reading of an axle in a pose.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[repr(usize)]
        pub enum AxleReading {
            $(
                #[doc = concat!($doc, " Positive: ", $positive, ".")]
                $variant,
            )*
        }

        impl AxleReading {
            /// Every reading, in the order of the documentation.
            pub const ALL: [Self; AXLE_READING_COUNT] = [$(Self::$variant),*];

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

            /// Whether each wheel has its own.
            pub const fn is_per_wheel(self) -> bool {
                match self { $(Self::$variant => $per_wheel,)* }
            }
        }
    };
}

/// How many readings an axle has beside those of its corners.
pub const AXLE_READING_COUNT: usize = 14;

declare_axle_readings! {
    wheel_steer, WheelSteer, true, "deg", "road-wheel angle",
    "to the left",
    "Steer angle of the wheel: its heading against the car's longitudinal axis, seen from above, static toe included. Toe with its sign turned on the left wheel, toe itself on the right one. ISO 8855:2011 7.1.8.";
    camber_to_body, CamberToBody, true, "deg", "camber to the body",
    "top of the wheel leans outboard",
    "Angle between wheel plane and the body's vertical axis. The reading camber is to the ground: to first order it is camber to the body plus the roll on the wheel to whose side the body leans, which is the outer one in a turn, and minus the roll on the other. Without roll they are one.";
    anti_dive_share, AntiDiveShare, true, "%", "anti-dive",
    "braking lifts the front of the body",
    "Share of the load that braking shifts forward that this corner's links carry in place of its spring: front brake share x tan(anti-dive angle) x wheelbase / height of the centre of gravity. NaN where the car file lacks one of them.";
    mean_steer, MeanSteer, false, "deg", "mean road-wheel angle",
    "to the left",
    "Mean of the two wheels' steer angles.";
    inner_wheel_steer, InnerWheelSteer, false, "deg", "inner road-wheel angle",
    "to the left",
    "Steer angle of the wheel on the inside of the turn, which the mean angle tells.";
    outer_wheel_steer, OuterWheelSteer, false, "deg", "outer road-wheel angle",
    "to the left",
    "Steer angle of the wheel on the outside of the turn.";
    toe_out_on_turns, ToeOutOnTurns, false, "deg", "toe-out on turns",
    "inner wheel turned farther than the outer one",
    "Inner less outer steer angle, both counted into the turn. Workshops quote it with the inner wheel at 20 deg.";
    total_toe, TotalToe, false, "deg", "total toe",
    "toe-in",
    "Sum of the two wheels' toe. ISO 8855:2011 7.1.7.";
    ackermann_by_angle, AckermannByAngle, false, "%", "Ackermann by angle",
    "inner wheel turned farther than the outer one",
    "Toe-out on turns as a share of what the true condition asks at this inner angle: cot(outer) - cot(inner) = kingpin track / wheelbase (ISO 8855:2011 7.1.9); the kingpin track lies between the points where the steering axes meet the ground at design. 100 is true, 0 parallel, below 0 the outer wheel turned farther. NaN within 1 deg of straight ahead, and without a wheelbase.";
    ackermann_by_cotangent, AckermannByCotangent, false, "%", "Ackermann by cotangents",
    "inner wheel turned farther than the outer one",
    "(cot(outer) - cot(inner)) x wheelbase / kingpin track: wheelbase over the distance behind the front axle at which two lines meet, each square to its wheel through the point where its steering axis meets the ground at design. 100 is true, 0 parallel; the two ways agree at 0 and 100 only. NaN within 1 deg of straight ahead, and without a wheelbase.";
    turning_circle, TurningCircle, false, "mm", "turning circle",
    "never negative",
    "Diameter of the circle that the outer wheel's contact centre goes around, without slip: its axle line, through that contact centre, meets the rear axle's, whose wheels are taken as straight. From kerb to kerb but for one width of the tyre, half of it on either side; what overhangs the wheels, from wall to wall, is not in it. NaN within 1 deg of straight ahead, and without a wheelbase.";
    track, Track, false, "mm", "track",
    "never negative",
    "Distance of the two contact centres across the car.";
    axle_roll_centre_height, AxleRollCentreHeight, false, "mm", "roll-centre height of the axle",
    "above the ground",
    "Where the normals to the paths of the two contact centres cross in front view: height above the line through the contact centres. A path is what its wheel's travel makes, rack, roll and settings held. NaN, with a flag, where they run within 0.01 deg of parallel: there is none.";
    axle_roll_centre_shift, AxleRollCentreShift, false, "mm", "roll-centre shift of the axle",
    "to the left of the car's centre line",
    "Where the normals to the paths of the two contact centres cross in front view: its Y in the ground's axes. NaN, with a flag, where there is none.";
}

impl AxleReading {
    /// The reading of this name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|reading| reading.name() == name)
    }
}

/// What an axle's own readings need of its two wheels in one pose, left first; as the corners read it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wheels {
    /// Camber to the ground, deg.
    pub camber_deg: [f64; 2],
    /// Toe, deg.
    pub toe_deg: [f64; 2],
    /// Height at Y = 0 of the normal to the contact centre's path.
    pub roll_centre_height_mm: [f64; 2],
    /// Side-view slope of the path of a locked wheel, deg.
    pub anti_dive_deg: [f64; 2],
    /// Contact centres in the ground's axes.
    pub contact_centre: [Point; 2],
    /// Roll of the body; positive leans it to the right.
    pub roll_deg: f64,
}

/// What an axle's own readings need of the car, once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Distance of front and rear axle; NaN where unknown.
    pub wheelbase_mm: f64,
    /// Height of the centre of gravity; NaN where unknown.
    pub centre_of_gravity_height_mm: f64,
    /// Share of the braking force at this axle; NaN where unknown.
    pub front_brake_share: f64,
    /// Distance across the car between the points where the two steering axes meet the ground at design.
    pub kingpin_track_mm: f64,
    /// X of the rear axle: a wheelbase behind the mean of the two contact centres at design.
    pub rear_axle_x_mm: f64,
}

impl Frame {
    /// The frame of an axle.
    ///
    /// # Errors
    /// None in practice: a checked corner stands at its design position.
    pub fn of(axle: &Axle) -> Result<Self, SolveError> {
        let design = |corner: &crate::Corner| corner.solve(&Setting::default(), &Motion::default(), TravelAt::Ground);
        let corners = [design(&axle.left)?, design(&axle.right)?];
        let at = |place: Place| corners.each_ref().map(|corner| corner.place(place));
        Ok(Self::at_design(
            &axle.dimensions,
            at(Place::AxisAtGround),
            at(Place::ContactCentre),
        ))
    }

    /// The frame of an axle whose corners, at design, stand so, left first: where the steering axes meet the ground, and
    /// the contact centres. The wheelbase stays that of the car.
    pub fn at_design(dimensions: &Dimensions, axis_at_ground: [Point; 2], contact_centre: [Point; 2]) -> Self {
        let unknown = |of: Option<f64>| of.unwrap_or(f64::NAN);
        let wheelbase_mm = unknown(dimensions.wheelbase_mm);
        Self {
            wheelbase_mm,
            centre_of_gravity_height_mm: unknown(dimensions.centre_of_gravity_height_mm),
            front_brake_share: unknown(dimensions.front_brake_share),
            kingpin_track_mm: axis_at_ground[0].y - axis_at_ground[1].y,
            rear_axle_x_mm: 0.5 * (contact_centre[0].x + contact_centre[1].x) - wheelbase_mm,
        }
    }
}

/// Where two normals cross, or that they do not.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RollCentre {
    /// Height above the line through the contact centres.
    pub height_mm: f64,
    /// Distance to the left of the car's centre line.
    pub shift_mm: f64,
}

/// The roll centre of an axle; nothing where the normals to the two contact paths run parallel.
pub fn roll_centre(wheels: &Wheels) -> Option<RollCentre> {
    // A normal rises from its contact centre towards Y = 0 by the height that its corner reads there.
    let [left, right] = wheels.contact_centre;
    let slope = |at: Point, height: f64| -height / at.y;
    let rises = [
        slope(left, wheels.roll_centre_height_mm[0]),
        slope(right, wheels.roll_centre_height_mm[1]),
    ];
    let between = (rises[0] - rises[1]).atan2(1.0 + rises[0] * rises[1]);
    // Not `< LEAST`: what is no number makes no crossing either.
    if !(between.abs() >= LEAST_CROSSING_DEG.to_radians()) {
        return None;
    }
    let shift_mm = ((right.z - rises[1] * right.y) - (left.z - rises[0] * left.y)) / (rises[0] - rises[1]);
    let height = left.z + rises[0] * (shift_mm - left.y);
    let ground = left.z + (right.z - left.z) * (shift_mm - left.y) / (right.y - left.y);
    Some(RollCentre {
        height_mm: height - ground,
        shift_mm,
    })
}

/// The outer wheel's angle in deg that the true condition asks at an inner wheel's angle: cot(outer) = cot(inner) +
/// kingpin track / wheelbase. Both counted into the turn; ISO 8855:2011 7.1.9 in words.
pub fn true_outer_deg(inner_deg: f64, kingpin_track_mm: f64, wheelbase_mm: f64) -> f64 {
    let inner = inner_deg.to_radians();
    // acot(cot i + q) = atan2(sin i, cos i + q sin i): no division, so that straight ahead needs no case of its own.
    let (sine, cosine) = inner.sin_cos();
    sine.atan2(cosine + kingpin_track_mm / wheelbase_mm * sine).to_degrees()
}

/// Camber to the body from camber and toe to the ground and the body's roll; `outboard` +1 on the left, -1 on the
/// right.
pub fn camber_to_body_deg(camber_deg: f64, toe_deg: f64, roll_deg: f64, outboard: f64) -> f64 {
    if roll_deg == 0.0 {
        return camber_deg;
    }
    // asin(-s.u) with s = (.., o cos c cos t, -sin c) and the body's vertical u = (0, -sin r, cos r).
    let (sine, cosine) = camber_deg.to_radians().sin_cos();
    let (roll_sine, roll_cosine) = roll_deg.to_radians().sin_cos();
    (sine * roll_cosine + outboard * cosine * toe_deg.to_radians().cos() * roll_sine)
        .asin()
        .to_degrees()
}

/// Anti-dive as a share in per cent: front brake share x tan(angle) x wheelbase / height of the centre of gravity.
pub fn anti_dive_percent(angle_deg: f64, brake_share: f64, wheelbase_mm: f64, height_mm: f64) -> f64 {
    100.0 * brake_share * angle_deg.to_radians().tan() * wheelbase_mm / height_mm
}

impl AxleReading {
    /// The reading in a pose: the two wheels' where each has its own, otherwise the same twice.
    pub fn read(self, wheels: &Wheels, frame: &Frame) -> [f64; 2] {
        const OUTBOARD: [f64; 2] = [1.0, -1.0];
        let each = |of: &dyn Fn(usize) -> f64| [of(0), of(1)];
        let both = |value: f64| [value, value];
        let steer = [-wheels.toe_deg[0], wheels.toe_deg[1]];
        let mean = 0.5 * (steer[0] + steer[1]);
        // Positive mean: a left turn, and the left wheel is the inner one.
        let (inner, outer) = if mean >= 0.0 {
            (steer[0], steer[1])
        } else {
            (steer[1], steer[0])
        };
        let into_turn = if mean >= 0.0 { 1.0 } else { -1.0 };
        let (inner_turn, outer_turn) = (into_turn * inner, into_turn * outer);
        let turns = inner_turn >= LEAST_TURN_DEG && outer_turn >= LEAST_TURN_DEG;
        let in_turn = |value: f64| if turns { value } else { f64::NAN };
        let [left, right] = wheels.contact_centre;
        match self {
            Self::WheelSteer => steer,
            Self::CamberToBody => each(&|side| {
                camber_to_body_deg(
                    wheels.camber_deg[side],
                    wheels.toe_deg[side],
                    wheels.roll_deg,
                    OUTBOARD[side],
                )
            }),
            Self::AntiDiveShare => each(&|side| {
                anti_dive_percent(
                    wheels.anti_dive_deg[side],
                    frame.front_brake_share,
                    frame.wheelbase_mm,
                    frame.centre_of_gravity_height_mm,
                )
            }),
            Self::MeanSteer => both(mean),
            Self::InnerWheelSteer => both(inner),
            Self::OuterWheelSteer => both(outer),
            Self::ToeOutOnTurns => both(inner_turn - outer_turn),
            Self::TotalToe => both(wheels.toe_deg[0] + wheels.toe_deg[1]),
            Self::AckermannByAngle => {
                let asked = inner_turn - true_outer_deg(inner_turn, frame.kingpin_track_mm, frame.wheelbase_mm);
                both(in_turn(100.0 * (inner_turn - outer_turn) / asked))
            }
            Self::AckermannByCotangent => {
                let apart = 1.0 / outer_turn.to_radians().tan() - 1.0 / inner_turn.to_radians().tan();
                both(in_turn(100.0 * apart * frame.wheelbase_mm / frame.kingpin_track_mm))
            }
            Self::TurningCircle => {
                let outside = if mean >= 0.0 { right } else { left };
                let radius = (outside.x - frame.rear_axle_x_mm) / outer_turn.to_radians().sin();
                both(in_turn(2.0 * radius))
            }
            Self::Track => both(left.y - right.y),
            Self::AxleRollCentreHeight => both(roll_centre(wheels).map_or(f64::NAN, |centre| centre.height_mm)),
            Self::AxleRollCentreShift => both(roll_centre(wheels).map_or(f64::NAN, |centre| centre.shift_mm)),
        }
    }
}
