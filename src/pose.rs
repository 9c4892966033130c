//! One pose of a corner: its readings and where its points are.

use crate::corner::{Corner, Side};
use crate::error::{InputError, ReachError};
use crate::gauge::{self, Stance};
use crate::linkage::{Knuckle, Linkage, Status};
use crate::motion::{MOTION_FIELDS, Motion, TravelAt};
use crate::number::{Angular, Dual};
use crate::reading::{READING_COUNT, Reading, Wanted};
use crate::rig::Rig;
use crate::setting::{SETTING_FIELDS, Setting};
use crate::space::Point;

/// A point whose place a pose tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[repr(usize)]
pub enum Place {
    /// Lower ball joint.
    BallJoint,
    /// Strut-top pivot.
    StrutTop,
    /// The second point on the damper-rod axis.
    StrutLow,
    /// Inner tie-rod joint.
    TieInner,
    /// Outer tie-rod joint.
    TieOuter,
    /// Wheel centre.
    WheelCentre,
    /// Contact centre of the wheel on the ground.
    ContactCentre,
    /// Where the steering axis meets the ground plane through the contact centre.
    AxisAtGround,
    /// Instant centre of the wheel in front view, in the plane X of the contact centre; infinite where camber does not
    /// change.
    InstantCentre,
}

/// How many places there are.
pub const PLACE_COUNT: usize = 9;

impl Place {
    /// Every place, in the order of the documentation.
    pub const ALL: [Self; PLACE_COUNT] = [
        Self::BallJoint,
        Self::StrutTop,
        Self::StrutLow,
        Self::TieInner,
        Self::TieOuter,
        Self::WheelCentre,
        Self::ContactCentre,
        Self::AxisAtGround,
        Self::InstantCentre,
    ];

    /// The name at the user's face.
    pub const fn name(self) -> &'static str {
        match self {
            Self::BallJoint => "ball_joint",
            Self::StrutTop => "strut_top",
            Self::StrutLow => "strut_low",
            Self::TieInner => "tie_rod_inner",
            Self::TieOuter => "tie_rod_outer",
            Self::WheelCentre => "wheel_centre",
            Self::ContactCentre => "contact_centre",
            Self::AxisAtGround => "steering_axis_at_ground",
            Self::InstantCentre => "instant_centre",
        }
    }

    /// What it is, in words.
    pub const fn long_name(self) -> &'static str {
        match self {
            Self::BallJoint => "lower ball joint",
            Self::StrutTop => "strut-top pivot",
            Self::StrutLow => "lower point of the damper-rod axis",
            Self::TieInner => "inner tie-rod joint",
            Self::TieOuter => "outer tie-rod joint",
            Self::WheelCentre => "wheel centre",
            Self::ContactCentre => "contact centre",
            Self::AxisAtGround => "steering axis at the ground",
            Self::InstantCentre => "front-view instant centre",
        }
    }

    /// The place of this name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|place| place.name() == name)
    }

    /// Whether it is made of derivatives along the wheel's travel.
    pub const fn is_rate(self) -> bool {
        matches!(self, Self::InstantCentre)
    }
}

/// Readings and places of one pose at the user's face: millimetres and degrees, places in the car's coordinates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// The readings, in the order of [`Reading::ALL`].
    pub readings: [f64; READING_COUNT],
    /// The places, in the order of [`Place::ALL`].
    pub places: [Point; PLACE_COUNT],
}

impl Figures {
    /// What a pose out of reach shows: NaN throughout.
    pub const NONE: Self = Self {
        readings: [f64::NAN; READING_COUNT],
        places: [Point::new(f64::NAN, f64::NAN, f64::NAN); PLACE_COUNT],
    };

    /// Readings and places of a rig's pose, found by [`Rig::reach`], rates and all; the motion is the left twin's.
    pub fn of(rig: &Rig, side: Side, t: f64, motion: &Motion, travel_at: TravelAt) -> Self {
        let mut figures = Self::NONE;
        let linkage = &rig.linkage_in(motion);
        let inner = linkage.inner_at(motion.rack_mm);
        let knuckle = linkage.place(t, inner);
        let readings = &mut figures.readings;
        let instant_centre = look(linkage, t, inner, &knuckle, travel_at, Wanted::ALL, readings);
        figures.places = places(linkage, &knuckle, inner, instant_centre);
        if side == Side::Right {
            figures.places = figures.places.map(Point::mirrored);
        }
        figures
    }
}

/// Readings of a pose at the user's face, each at its place in [`Reading::ALL`]: those wanted for certain, others
/// perhaps. Gives the instant centre if a rate is wanted.
#[inline(always)]
pub fn look<N: Angular>(
    linkage: &Linkage<N>,
    t: N,
    inner: Point<N>,
    knuckle: &Knuckle<N>,
    travel_at: TravelAt,
    wanted: Wanted,
    to: &mut [N; READING_COUNT],
) -> Point<N> {
    if wanted.has_rates() {
        // One formula for both, run on dual numbers only where a derivative is asked for.
        let lifted = linkage.lifted::<Dual<N>>();
        let knuckle = lifted.place(Dual::variable(t, 0), inner.lifted());
        gauge::read_with_rates(&Stance::new(&lifted, &knuckle), travel_at, wanted, to)
    } else {
        gauge::read(&Stance::new(linkage, knuckle), wanted, to);
        let none = N::constant(f64::NAN);
        Point::new(none, none, none)
    }
}

/// Where every point of a left corner is, in the order of [`Place::ALL`].
#[inline(always)]
pub fn places<N: Angular>(
    linkage: &Linkage<N>,
    knuckle: &Knuckle<N>,
    inner: Point<N>,
    instant_centre: Point<N>,
) -> [Point<N>; PLACE_COUNT] {
    let stance = Stance::new(linkage, knuckle);
    [
        knuckle.ball_joint,
        linkage.top,
        linkage.strut_low(knuckle),
        inner,
        linkage.outer(knuckle),
        stance.wheel_centre,
        stance.contact_centre,
        stance.axis_at_ground(),
        instant_centre,
    ]
}

/// A corner in one pose.
#[derive(Clone, Debug, PartialEq)]
pub struct Pose {
    /// The adjustments it stands with.
    pub setting: Setting,
    /// The motion it stands in.
    pub motion: Motion,
    /// Where travel is measured.
    pub travel_at: TravelAt,
    /// Readings and places.
    pub figures: Figures,
}

impl Pose {
    /// One reading, in its unit at the user's face.
    pub fn reading(&self, reading: Reading) -> f64 {
        self.figures.readings[reading as usize]
    }

    /// Where one point is, in the car's coordinates.
    pub fn place(&self, place: Place) -> Point {
        self.figures.places[place as usize]
    }
}

/// Why a single pose could not be given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SolveError {
    /// An input is no number to work with.
    #[error(transparent)]
    Input(#[from] InputError),
    /// The pose cannot be reached.
    #[error(transparent)]
    Reach(#[from] ReachError),
}

impl Corner {
    /// The pose of this corner with a setting, in a motion.
    ///
    /// ```
    /// # use strutsweep::{demo, Motion, Reading, Setting, TravelAt};
    /// let corner = demo::car("gravel_hatch").unwrap().left;
    /// let motion = Motion { travel_mm: 20.0, ..Motion::default() };
    /// let pose = corner.solve(&Setting::default(), &motion, TravelAt::Ground)?;
    /// assert!(pose.reading(Reading::Camber) < -0.5); // a strut leans in in bump
    /// # Ok::<(), strutsweep::SolveError>(())
    /// ```
    ///
    /// # Errors
    /// [`InputError`] for a field that is not finite, [`ReachError`] where the pose is out of reach.
    pub fn solve(&self, setting: &Setting, motion: &Motion, travel_at: TravelAt) -> Result<Pose, SolveError> {
        self.solve_on_rig(setting, motion, travel_at).map(|(pose, ..)| pose)
    }

    /// As [`Self::solve`]; beside the pose the rig it was found on, and the tangent of half the arm's angle.
    pub(crate) fn solve_on_rig(
        &self,
        setting: &Setting,
        motion: &Motion,
        travel_at: TravelAt,
    ) -> Result<(Pose, Rig, f64), SolveError> {
        check_inputs(setting, motion)?;
        let rig = Rig::new(&self.left_twin(), setting);
        let twin = motion.of_left_twin(self.side());
        let t = rig
            .reach(&twin, travel_at)
            .map_err(|status: Status| ReachError { status })?;
        let pose = Pose {
            setting: *setting,
            motion: *motion,
            travel_at,
            figures: Figures::of(&rig, self.side(), t, &twin, travel_at),
        };
        Ok((pose, rig, t))
    }
}

fn check_inputs(setting: &Setting, motion: &Motion) -> Result<(), InputError> {
    let fields = SETTING_FIELDS.iter().chain(&MOTION_FIELDS);
    let values = setting.to_array().into_iter().chain(motion.to_array());
    fields.zip(values).try_for_each(|(field, value)| field.check(&[value]))
}
