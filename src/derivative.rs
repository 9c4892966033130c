//! Exact slopes of every reading and place, in any settings, motions and measurements of a corner.
//!
//! The linkage, its placing and its gauges are run on dual numbers of several directions; nothing is differenced. A
//! slope in a measurement treats whatever follows from it (rod length, shape of the knuckle, the design position that
//! travel is counted from) as following, just as a sweep over hard points does.
//!
//! The arm's half-angle tangent t has no formula of its own where travel is measured at the wheel: it is the root of
//! z(t, p) = travel(p). By the theorem of implicit functions it moves with a parameter p by
//!
//! dt/dp = -(dz/dp - dtravel/dp) / (dz/dt).
//!
//! Rates are first derivatives along t already; their slopes are second derivatives, which dual numbers inside a dual
//! number carry: the outer one along t, the inner ones along each p with t following.

use crate::corner::Corner;
use crate::hard_points::{HardPoint, HardPoints, Side};
use crate::linkage::Linkage;
use crate::motion::{MOTION_FIELDS, Motion, TravelAt};
use crate::number::{Called, Over};
use crate::pose::{self, Figures, PLACE_COUNT, Pose, SolveError};
use crate::reading::{READING_COUNT, Reading, Wanted};
use crate::rig::Rig;
use crate::setting::{SETTING_FIELDS, Setting};
use crate::space::Point;

/// Directions that one pass carries.
const BLOCK: usize = 4;

/// Nearer to zero than this the angle between strut and bearing axis has a corner, not a slope; its round-off is some
/// 1e-8 deg there, being the root of a number near nothing.
const LEAST_BEARING_ANGLE_DEG: f64 = 1e-6;

/// One of the three coordinates of a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Coordinate {
    /// Forward.
    X,
    /// To the left of the car.
    Y,
    /// Up.
    Z,
}

impl Coordinate {
    /// Every coordinate.
    pub const ALL: [Self; 3] = [Self::X, Self::Y, Self::Z];

    /// The name at the user's face.
    pub const fn name(self) -> &'static str {
        match self {
            Self::X => "x",
            Self::Y => "y",
            Self::Z => "z",
        }
    }
}

/// Something that readings and places can be differentiated by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Parameter {
    /// A field of the setting, by its place in [`SETTING_FIELDS`].
    Setting(usize),
    /// A field of the motion, by its place in [`MOTION_FIELDS`].
    Motion(usize),
    /// A coordinate of a hard point, in the car's own axes on either side.
    ///
    /// The clamp's pivot goes with `strut.low` where the corner gives it no place of its own.
    Point(HardPoint, Coordinate),
    /// Loaded radius of the wheel.
    WheelRadius,
    /// Camber at design.
    WheelCamber,
    /// Toe at design.
    WheelToe,
}

impl Parameter {
    /// Every parameter: settings, motions, then measurements in the order of the car file.
    pub fn all() -> Vec<Self> {
        let settings = (0..SETTING_FIELDS.len()).map(Self::Setting);
        let motions = (0..MOTION_FIELDS.len()).map(Self::Motion);
        let coordinates = HardPoint::ALL
            .into_iter()
            .flat_map(|point| Coordinate::ALL.map(|coordinate| Self::Point(point, coordinate)));
        settings
            .chain(motions)
            .chain(coordinates)
            .chain([Self::WheelRadius, Self::WheelCamber, Self::WheelToe])
            .collect()
    }

    /// The name at the user's face: the keyword of a setting or a motion, otherwise as the car file spells it, such as
    /// `strut.top.y`.
    pub fn name(self) -> String {
        match self {
            Self::Setting(field) => SETTING_FIELDS[field].name.to_owned(),
            Self::Motion(field) => MOTION_FIELDS[field].name.to_owned(),
            Self::Point(point, coordinate) => format!("{}.{}", point.field(), coordinate.name()),
            Self::WheelRadius => "wheel.radius".to_owned(),
            Self::WheelCamber => "wheel.camber".to_owned(),
            Self::WheelToe => "wheel.toe".to_owned(),
        }
    }

    /// Its unit at the user's face.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Setting(field) => SETTING_FIELDS[field].unit,
            Self::Motion(field) => MOTION_FIELDS[field].unit,
            Self::Point(..) | Self::WheelRadius => "mm",
            Self::WheelCamber | Self::WheelToe => "deg",
        }
    }

    /// The parameter of this name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::all().into_iter().find(|parameter| parameter.name() == name)
    }
}

/// A corner with everything that can vary, over any number.
struct Case<N> {
    points: HardPoints<N>,
    setting: Setting<N>,
    motion: Motion<N>,
}

impl<const K: usize> Case<Called<K>> {
    /// The case in which parameter `k` is the variable of direction `k`.
    fn new(points: &HardPoints, setting: &Setting, motion: &Motion, parameters: &[Parameter]) -> Self {
        let lift = Called::<K>::of;
        let mut settings = setting.to_array().map(lift);
        let mut motion = motion.to_array().map(lift);
        let mut points = points.lifted::<Called<K>>();
        let has_clamp = points.strut_clamp.is_some();
        let mut clamp = HardPoint::StrutClamp.of(&points);
        for (direction, parameter) in parameters.iter().enumerate() {
            match *parameter {
                Parameter::Setting(field) => settings[field].0.slope[direction] = 1.0,
                Parameter::Motion(field) => motion[field].0.slope[direction] = 1.0,
                Parameter::WheelRadius => points.wheel_radius_mm.0.slope[direction] = 1.0,
                Parameter::WheelCamber => points.camber_deg.0.slope[direction] = 1.0,
                Parameter::WheelToe => points.toe_deg.0.slope[direction] = 1.0,
                Parameter::Point(point, coordinate) => {
                    let vary = |at: &mut Point<Called<K>>| match coordinate {
                        Coordinate::X => at.x.0.slope[direction] = 1.0,
                        Coordinate::Y => at.y.0.slope[direction] = 1.0,
                        Coordinate::Z => at.z.0.slope[direction] = 1.0,
                    };
                    if point == HardPoint::StrutClamp {
                        vary(&mut clamp);
                        continue;
                    }
                    if point == HardPoint::StrutLow && !has_clamp {
                        vary(&mut clamp);
                    }
                    let mut at = point.of(&points);
                    vary(&mut at);
                    point.place(&mut points, at);
                }
            }
        }
        points.strut_clamp = Some(clamp);
        Self {
            points,
            setting: Setting::from_array(settings),
            motion: Motion::from_array(motion),
        }
    }
}

/// Readings and places of one pose with their slopes in `K` directions.
#[derive(Clone, Copy, Debug)]
pub struct Sloped<const K: usize> {
    /// In the order of [`Reading::ALL`]; those that were wanted for certain, others perhaps.
    pub readings: [Called<K>; READING_COUNT],
    /// In the order of [`Place::ALL`](crate::pose::Place::ALL).
    pub places: [Point<Called<K>>; PLACE_COUNT],
}

impl<const K: usize> Sloped<K> {
    /// The wanted readings, and every place, of a pose with their slopes in up to `K` parameters; slopes of directions
    /// beyond those are zero.
    ///
    /// `points` are those of the car, of a corner on this side, and `t` is the arm's half-angle tangent that
    /// [`Rig::reach`] found for the rig of its left twin.
    pub fn new(
        (points, side): (&HardPoints, Side),
        (rig, t): (&Rig, f64),
        (motion, travel_at): (&Motion, TravelAt),
        parameters: &[Parameter],
        wanted: Wanted,
    ) -> Self {
        let case = Case::<Called<K>>::new(points, rig.setting(), motion, parameters);
        let twin = case.motion.of_left_twin(side);
        let linkage = Linkage::new(&side.left_twin(&case.points), &case.setting).rolled(twin.roll_deg);
        let inner = linkage.inner_at(twin.rack_mm);
        // dz/dp with t held, and dz/dt.
        let held = linkage.travel_of(&linkage.place(Called::of(t), inner), travel_at);
        let per_arm = rig.travel_per_arm(t, &motion.of_left_twin(side), travel_at);
        let mut arm = Called::of(t);
        for (slope, (held, wanted)) in arm
            .0
            .slope
            .iter_mut()
            .zip(held.0.slope.iter().zip(twin.travel_mm.0.slope))
        {
            *slope = (wanted - held) / per_arm;
        }
        let knuckle = linkage.place(arm, inner);
        let mut readings = [Called::of(f64::NAN); READING_COUNT];
        let instant_centre = pose::look(&linkage, arm, inner, &knuckle, travel_at, wanted, &mut readings);
        let mut places = pose::places(&linkage, &knuckle, inner, instant_centre);
        if side == Side::Right {
            places = places.map(Point::mirrored);
        }
        let bearing = &mut readings[Reading::BearingAngle as usize];
        if bearing.0.value < LEAST_BEARING_ANGLE_DEG {
            bearing.0.slope = [f64::NAN; K];
        }
        Self { readings, places }
    }

    /// The slopes in one direction.
    fn slopes(&self, direction: usize) -> Figures {
        Figures {
            readings: self.readings.map(|reading| reading.0.slope[direction]),
            places: self.places.map(|place| {
                Point::new(
                    place.x.0.slope[direction],
                    place.y.0.slope[direction],
                    place.z.0.slope[direction],
                )
            }),
        }
    }
}

/// A pose, and how fast everything in it changes with each parameter.
#[derive(Clone, Debug, PartialEq)]
pub struct Derivatives {
    /// The pose itself.
    pub pose: Pose,
    /// Per parameter the slope of each reading and place, per mm or deg of the parameter.
    pub slopes: Vec<Figures>,
}

impl Corner {
    /// Exact slopes of all readings and places of one pose.
    ///
    /// NaN where a reading has no slope: the bearing angle at zero; infinite or NaN where the reading is.
    ///
    /// ```
    /// use strutsweep::derivative::Parameter;
    /// use strutsweep::{Motion, Reading, Setting, TravelAt, demo};
    /// let corner = demo::car("hillclimb_saloon").unwrap().left;
    /// let mount_in = Parameter::from_name("mount_in").unwrap();
    /// let found = corner.derivatives(&Setting::default(), &Motion::default(), TravelAt::Ground, &[mount_in])?;
    /// let camber_per_mm = found.slopes[0].readings[Reading::Camber as usize];
    /// assert!((camber_per_mm + 0.0794).abs() < 1e-4);
    /// # Ok::<(), strutsweep::SolveError>(())
    /// ```
    ///
    /// # Errors
    /// As [`Corner::solve`].
    pub fn derivatives(
        &self,
        setting: &Setting,
        motion: &Motion,
        travel_at: TravelAt,
        parameters: &[Parameter],
    ) -> Result<Derivatives, SolveError> {
        let (pose, rig, t) = self.solve_on_rig(setting, motion, travel_at)?;
        let mut slopes = Vec::with_capacity(parameters.len());
        for block in parameters.chunks(BLOCK) {
            let sloped = Sloped::<BLOCK>::new(
                (self.points(), self.side()),
                (&rig, t),
                (motion, travel_at),
                block,
                Wanted::ALL,
            );
            slopes.extend((0..block.len()).map(|direction| sloped.slopes(direction)));
        }
        Ok(Derivatives { pose, slopes })
    }
}
