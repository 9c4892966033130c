//! From a placed knuckle to its readings, and to the places of its points.
//!
//! Everything is a left corner's, in millimetres and radians; [`Attitude::write`] and [`Rates::write`] are the one
//! place where radians become degrees.
//!
//! Write s for the spin axis, n = Z for the ground normal, e for the steering axis, B its ball joint, W the wheel
//! centre, C the contact centre, G where the steering axis meets the ground plane through C, h for s flattened on the
//! ground and x for the wheel's heading, square to h.

use crate::linkage::{Knuckle, Linkage};
use crate::motion::TravelAt;
use crate::number::{Dual, Number};
use crate::reading::{READING_COUNT, Reading};
use crate::space::{Point, Vector};

/// The readings that need no derivative, in millimetres and radians.
#[derive(Clone, Copy, Debug)]
pub struct Attitude<N = f64> {
    /// Contact centre C.
    pub contact_centre: Point<N>,
    /// Where the steering axis meets the ground plane through C.
    pub axis_at_ground: Point<N>,
    /// [`Reading::Camber`]
    pub camber_rad: N,
    /// [`Reading::Toe`]
    pub toe_rad: N,
    /// [`Reading::Caster`]
    pub caster_rad: N,
    /// [`Reading::KingpinInclination`]
    pub kingpin_inclination_rad: N,
    /// [`Reading::ScrubRadius`]
    pub scrub_radius_mm: N,
    /// [`Reading::MechanicalTrail`]
    pub mechanical_trail_mm: N,
    /// [`Reading::HubOffset`]
    pub hub_offset_mm: N,
    /// [`Reading::HubTrail`]
    pub hub_trail_mm: N,
    /// [`Reading::WheelbaseShift`]
    pub wheelbase_shift_mm: N,
    /// [`Reading::StrutCompression`]
    pub strut_compression_mm: N,
    /// [`Reading::BearingAngle`]
    pub bearing_angle_rad: N,
    /// [`Reading::TieRodMargin`]
    pub tie_rod_margin: N,
}

impl<N: Number> Attitude<N> {
    /// The readings of a placed knuckle.
    #[inline(always)]
    pub fn of(linkage: &Linkage<N>, knuckle: &Knuckle<N>) -> Self {
        let s = knuckle.spin_axis;
        let e = knuckle.axis;
        let contact_centre = linkage.contact_centre(knuckle);
        let axis_at = |height: N| knuckle.ball_joint + e * ((height - knuckle.ball_joint.z) / e.z);
        let axis_at_ground = axis_at(contact_centre.z);
        let axis_at_hub = axis_at(knuckle.wheel_centre.z);
        let zero = N::constant(0.0);
        let outboard = Vector::new(s.x, s.y, zero).unit();
        let heading = Vector::new(outboard.y, -outboard.x, zero);
        let strut_axis = knuckle.strut_axis();
        let bearing_axis = linkage.bearing_axis;
        Self {
            contact_centre,
            axis_at_ground,
            camber_rad: (-s.z).asin(),
            toe_rad: s.x.atan2(s.y),
            caster_rad: (-e.x).atan2(e.z),
            kingpin_inclination_rad: (-e.y).atan2(e.z),
            scrub_radius_mm: (contact_centre - axis_at_ground).dot(outboard),
            mechanical_trail_mm: (axis_at_ground - contact_centre).dot(heading),
            hub_offset_mm: (knuckle.wheel_centre - axis_at_hub).dot(outboard),
            hub_trail_mm: (axis_at_hub - knuckle.wheel_centre).dot(heading),
            wheelbase_shift_mm: contact_centre.x - linkage.design.contact_centre.x,
            strut_compression_mm: linkage.strut_compression(knuckle),
            bearing_angle_rad: strut_axis
                .cross(bearing_axis)
                .length()
                .atan2(strut_axis.dot(bearing_axis)),
            tie_rod_margin: knuckle.tie_rod_margin(),
        }
    }
}

impl Attitude<f64> {
    /// Write the readings at the user's face: millimetres and degrees, in the order of [`Reading::ALL`].
    #[inline(always)]
    pub fn write(&self, to: &mut [f64; READING_COUNT]) {
        let camber = self.camber_rad.to_degrees();
        let kingpin_inclination = self.kingpin_inclination_rad.to_degrees();
        let mut put = |reading: Reading, value: f64| to[reading as usize] = value;
        put(Reading::Camber, camber);
        put(Reading::Toe, self.toe_rad.to_degrees());
        put(Reading::Caster, self.caster_rad.to_degrees());
        put(Reading::KingpinInclination, kingpin_inclination);
        put(Reading::IncludedAngle, camber + kingpin_inclination);
        put(Reading::ScrubRadius, self.scrub_radius_mm);
        put(Reading::MechanicalTrail, self.mechanical_trail_mm);
        put(Reading::HubOffset, self.hub_offset_mm);
        put(Reading::HubTrail, self.hub_trail_mm);
        put(Reading::HalfTrack, self.contact_centre.y);
        put(Reading::WheelbaseShift, self.wheelbase_shift_mm);
        put(Reading::StrutCompression, self.strut_compression_mm);
        put(Reading::BearingAngle, self.bearing_angle_rad.to_degrees());
        put(Reading::TieRodMargin, self.tie_rod_margin);
    }
}

impl<N: Number> Attitude<Dual<N>> {
    /// The readings without their slopes.
    #[inline(always)]
    pub fn value(&self) -> Attitude<N> {
        Attitude {
            contact_centre: self.contact_centre.value(),
            axis_at_ground: self.axis_at_ground.value(),
            camber_rad: self.camber_rad.value,
            toe_rad: self.toe_rad.value,
            caster_rad: self.caster_rad.value,
            kingpin_inclination_rad: self.kingpin_inclination_rad.value,
            scrub_radius_mm: self.scrub_radius_mm.value,
            mechanical_trail_mm: self.mechanical_trail_mm.value,
            hub_offset_mm: self.hub_offset_mm.value,
            hub_trail_mm: self.hub_trail_mm.value,
            wheelbase_shift_mm: self.wheelbase_shift_mm.value,
            strut_compression_mm: self.strut_compression_mm.value,
            bearing_angle_rad: self.bearing_angle_rad.value,
            tie_rod_margin: self.tie_rod_margin.value,
        }
    }
}

/// The readings made of derivatives along the wheel's travel, in millimetres and radians.
#[derive(Clone, Copy, Debug)]
pub struct Rates<N = f64> {
    /// [`Reading::CamberGain`]
    pub camber_gain_rad_per_mm: N,
    /// [`Reading::BumpSteer`]
    pub bump_steer_rad_per_mm: N,
    /// [`Reading::CasterGain`]
    pub caster_gain_rad_per_mm: N,
    /// [`Reading::MotionRatio`]
    pub motion_ratio: N,
    /// [`Reading::RollCentreHeight`]
    pub roll_centre_height_mm: N,
    /// [`Reading::SwingArmLength`]
    pub swing_arm_length_mm: N,
    /// [`Reading::AntiDiveAngle`]
    pub anti_dive_angle_rad: N,
    /// Instant centre of the wheel in front view, in the plane X of the contact centre.
    pub instant_centre: Point<N>,
}

impl<N: Number> Rates<N> {
    /// The rates of a knuckle placed on dual numbers, whose one direction is any motion of the arm.
    #[inline(always)]
    pub fn of(knuckle: &Knuckle<Dual<N>>, attitude: &Attitude<Dual<N>>, travel_at: TravelAt) -> Self {
        let rate = |of: Dual<N>| of.slope[0];
        let contact = attitude.contact_centre;
        let wheel_rise = match travel_at {
            TravelAt::Hub => rate(knuckle.wheel_centre.z),
            // The strut's own travel would make its motion ratio one and every gain a gain per spring travel.
            TravelAt::Ground | TravelAt::Strut => rate(contact.z),
        };
        let one = N::constant(1.0);
        let per_travel = one / wheel_rise;
        let contact_rise = rate(contact.z);
        let sideways = rate(contact.y) / contact_rise;
        let roll_centre_height_mm = contact.y.value * sideways;
        // Planar motion about an instant centre IC turns the wheel by -d(camber) and lifts C by L = C.y - IC.y per
        // radian; the normal to the path of C passes through it.
        let swing_arm_length_mm = -(contact_rise / rate(attitude.camber_rad));
        let locked = velocity_of_locked_point(knuckle, contact);
        Self {
            camber_gain_rad_per_mm: rate(attitude.camber_rad) * per_travel,
            bump_steer_rad_per_mm: rate(attitude.toe_rad) * per_travel,
            caster_gain_rad_per_mm: rate(attitude.caster_rad) * per_travel,
            motion_ratio: rate(attitude.strut_compression_mm) * per_travel,
            roll_centre_height_mm,
            swing_arm_length_mm,
            anti_dive_angle_rad: (locked.x / locked.z).atan2(one),
            instant_centre: Point::new(
                contact.x.value,
                contact.y.value - swing_arm_length_mm,
                contact.z.value + swing_arm_length_mm * sideways,
            ),
        }
    }
}

impl Rates<f64> {
    /// Write the rates at the user's face: millimetres and degrees, in the order of [`Reading::ALL`].
    #[inline(always)]
    pub fn write(&self, to: &mut [f64; READING_COUNT]) {
        let mut put = |reading: Reading, value: f64| to[reading as usize] = value;
        put(Reading::CamberGain, self.camber_gain_rad_per_mm.to_degrees());
        put(Reading::BumpSteer, self.bump_steer_rad_per_mm.to_degrees());
        put(Reading::CasterGain, self.caster_gain_rad_per_mm.to_degrees());
        put(Reading::MotionRatio, self.motion_ratio);
        put(Reading::RollCentreHeight, self.roll_centre_height_mm);
        put(Reading::SwingArmLength, self.swing_arm_length_mm);
        put(Reading::AntiDiveAngle, self.anti_dive_angle_rad.to_degrees());
    }
}

/// Velocity, per unit of the arm's motion, of the knuckle's own point that stands at `at`.
#[inline(always)]
fn velocity_of_locked_point<N: Number>(knuckle: &Knuckle<Dual<N>>, at: Point<Dual<N>>) -> Vector<N> {
    let in_knuckle = knuckle.bring(at - knuckle.ball_joint);
    let locked = Vector::new(
        Dual::fixed(in_knuckle.x.value),
        Dual::fixed(in_knuckle.y.value),
        Dual::fixed(in_knuckle.z.value),
    );
    let moving = knuckle.ball_joint + knuckle.carry(locked);
    Vector::new(moving.x.slope[0], moving.y.slope[0], moving.z.slope[0])
}

/// The lower point of the strut, fixed in its body, and the outer tie-rod joint: the two points that no reading needs.
#[inline(always)]
pub fn strut_low_and_tie_outer<N: Number>(linkage: &Linkage<N>, knuckle: &Knuckle<N>) -> (Point<N>, Point<N>) {
    let length = knuckle.strut_along - linkage.knuckle.low;
    (
        linkage.top - knuckle.strut_axis() * length,
        knuckle.ball_joint + knuckle.carry(linkage.knuckle.outer),
    )
}
