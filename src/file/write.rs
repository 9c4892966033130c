//! Cars into car files.

use serde::Serialize;

use super::SCHEMA;
use super::plate::TopPlateTable;
use crate::axle::Axle;
use crate::corner::{Corner, HardPoints, RACK_ACROSS};
use crate::space::{Point, Vector};
use crate::tie_rod::{Hand, TieRod};

type Triple = [f64; 3];

#[derive(Serialize)]
struct AxleFile<'a> {
    schema: u32,
    name: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    note: Option<&'a str>,
    #[serde(flatten)]
    left: CornerTables,
    #[serde(skip_serializing_if = "Option::is_none")]
    rack: Option<RackTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    axle: Option<AxleTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    limits: Option<LimitsTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    envelope: Option<EnvelopeTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    spring: Option<SpringTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    damper: Option<DamperTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    top_plate: Option<TopPlateTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    right: Option<CornerTables>,
}

#[derive(Serialize)]
struct CornerFile<'a> {
    name: &'a str,
    #[serde(flatten)]
    corner: CornerTables,
    #[serde(skip_serializing_if = "Option::is_none")]
    rack: Option<RackTable>,
}

#[derive(PartialEq, Default, Serialize)]
struct CornerTables {
    #[serde(skip_serializing_if = "Option::is_none")]
    lower_arm: Option<ArmTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    strut: Option<StrutTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tie_rod: Option<TieRodTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    wheel: Option<WheelTable>,
}

#[derive(PartialEq, Default, Serialize)]
struct ArmTable {
    #[serde(skip_serializing_if = "Option::is_none")]
    front: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rear: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ball_joint: Option<Triple>,
}

#[derive(PartialEq, Default, Serialize)]
struct StrutTable {
    #[serde(skip_serializing_if = "Option::is_none")]
    top: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    low: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    clamp: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bearing_axis: Option<Triple>,
}

#[derive(PartialEq, Default, Serialize)]
struct TieRodTable {
    #[serde(skip_serializing_if = "Option::is_none")]
    inner: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    outer: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    inner_thread_pitch: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    inner_thread_hand: Option<Hand>,
    #[serde(skip_serializing_if = "Option::is_none")]
    inner_thread_engaged: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    outer_thread_pitch: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    outer_thread_hand: Option<Hand>,
    #[serde(skip_serializing_if = "Option::is_none")]
    outer_thread_engaged: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    least_thread_engaged: Option<f64>,
}

#[derive(PartialEq, Default, Serialize)]
struct WheelTable {
    #[serde(skip_serializing_if = "Option::is_none")]
    centre: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    radius: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    camber: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    toe: Option<f64>,
}

#[derive(PartialEq, Default, Serialize)]
struct RackTable {
    #[serde(skip_serializing_if = "Option::is_none")]
    direction: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    mm_per_turn: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    stroke: Option<f64>,
}

#[derive(PartialEq, Default, Serialize)]
struct AxleTable {
    #[serde(skip_serializing_if = "Option::is_none")]
    wheelbase: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    centre_of_gravity_height: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    front_brake_share: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    wheel_load: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    unsprung_mass: Option<f64>,
}

#[derive(PartialEq, Default, Serialize)]
struct EnvelopeTable {
    #[serde(skip_serializing_if = "Option::is_none")]
    tyre_radius: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tyre_width: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    arch_front: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    arch_rear: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rail: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    arch_top: Option<Triple>,
}

#[derive(PartialEq, Default, Serialize)]
struct LimitsTable {
    #[serde(skip_serializing_if = "Option::is_none")]
    bump: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    droop: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    mount_in: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    mount_back: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    mount_up: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tie_rod: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    clamp: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    arm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bearing_angle: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tie_rod_margin: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tie_rod_end_angle: Option<f64>,
}

#[derive(PartialEq, Default, Serialize)]
struct SpringTable {
    #[serde(skip_serializing_if = "Option::is_none")]
    rate: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    free_length: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    upper_seat: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    lower_seat: Option<Triple>,
    #[serde(skip_serializing_if = "Option::is_none")]
    collar_thread_pitch: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    collar_up: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    collar_down: Option<f64>,
}

#[derive(PartialEq, Default, Serialize)]
struct DamperTable {
    #[serde(skip_serializing_if = "Option::is_none")]
    body_thread_pitch: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    body_shorter: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    body_longer: Option<f64>,
}

/// A table, unless nothing stands in it.
fn filled<T: PartialEq + Default>(table: T) -> Option<T> {
    (table != T::default()).then_some(table)
}

impl CornerTables {
    /// The same with the threads of its tie rod; with those that differ from `usual`, where that is given.
    fn with_threads(mut self, threads: &TieRod, usual: Option<&TieRod>) -> Self {
        fn differing<T: PartialEq>(
            usual: Option<&TieRod>,
            threads: &TieRod,
            of: fn(&TieRod) -> Option<T>,
        ) -> Option<T> {
            of(threads).filter(|value| usual.is_none_or(|usual| of(usual).as_ref() != Some(value)))
        }
        let table = TieRodTable {
            inner_thread_pitch: differing(usual, threads, |t| t.inner.pitch_mm),
            inner_thread_hand: differing(usual, threads, |t| t.inner.hand),
            inner_thread_engaged: differing(usual, threads, |t| t.inner.engaged_mm),
            outer_thread_pitch: differing(usual, threads, |t| t.outer.pitch_mm),
            outer_thread_hand: differing(usual, threads, |t| t.outer.hand),
            outer_thread_engaged: differing(usual, threads, |t| t.outer.engaged_mm),
            least_thread_engaged: differing(usual, threads, |t| t.least_engaged_mm),
            ..self.tie_rod.unwrap_or_default()
        };
        self.tie_rod = filled(table);
        self
    }

    /// The tables of a corner; of what differs from `usual`, where that is given.
    fn of(points: &HardPoints, usual: Option<&HardPoints>) -> Self {
        let point = |of: fn(&HardPoints) -> Point| {
            (usual.is_none_or(|usual| of(usual) != of(points))).then(|| Triple::from(of(points)))
        };
        let number = |of: fn(&HardPoints) -> f64| {
            #[allow(clippy::float_cmp)]
            usual.is_none_or(|usual| of(usual) != of(points)).then(|| of(points))
        };
        let clamp = points
            .strut_clamp
            .filter(|_| usual.is_none_or(|usual| usual.strut_clamp != points.strut_clamp));
        let bearing_axis = points
            .bearing_axis
            .filter(|_| usual.is_none_or(|usual| usual.bearing_axis != points.bearing_axis));
        Self {
            lower_arm: filled(ArmTable {
                front: point(|p| p.arm_front),
                rear: point(|p| p.arm_rear),
                ball_joint: point(|p| p.ball_joint),
            }),
            strut: filled(StrutTable {
                top: point(|p| p.strut_top),
                low: point(|p| p.strut_low),
                clamp: clamp.map(Triple::from),
                bearing_axis: bearing_axis.map(Triple::from),
            }),
            tie_rod: filled(TieRodTable {
                inner: point(|p| p.tie_inner),
                outer: point(|p| p.tie_outer),
                ..TieRodTable::default()
            }),
            wheel: filled(WheelTable {
                centre: point(|p| p.wheel_centre),
                radius: number(|p| p.wheel_radius_mm),
                camber: number(|p| p.camber_deg),
                toe: number(|p| p.toe_deg),
            }),
        }
    }
}

/// The rack's direction, unless it is the usual one.
fn direction(of: Vector) -> Option<Triple> {
    (of != RACK_ACROSS).then(|| of.into())
}

fn axle_file(axle: &Axle) -> AxleFile<'_> {
    let left = axle.left.points();
    let mirrored = axle.left.mirrored();
    AxleFile {
        schema: SCHEMA,
        name: &axle.name,
        note: axle.note.as_deref(),
        left: CornerTables::of(left, None).with_threads(&axle.left_tie_rod, None),
        rack: filled(RackTable {
            direction: direction(left.rack_direction),
            mm_per_turn: axle.rack.mm_per_turn,
            stroke: axle.rack.stroke_mm,
        }),
        axle: filled(AxleTable {
            wheelbase: axle.dimensions.wheelbase_mm,
            centre_of_gravity_height: axle.dimensions.centre_of_gravity_height_mm,
            front_brake_share: axle.dimensions.front_brake_share,
            wheel_load: axle.dimensions.wheel_load_n,
            unsprung_mass: axle.dimensions.unsprung_mass_kg,
        }),
        limits: filled(LimitsTable {
            bump: axle.limits.bump_mm,
            droop: axle.limits.droop_mm,
            mount_in: axle.limits.mount_in_mm,
            mount_back: axle.limits.mount_back_mm,
            mount_up: axle.limits.mount_up_mm,
            tie_rod: axle.limits.tie_rod_mm,
            clamp: axle.limits.clamp_deg,
            arm: axle.limits.arm_mm,
            bearing_angle: axle.limits.bearing_angle_deg,
            tie_rod_margin: axle.limits.tie_rod_margin,
            tie_rod_end_angle: axle.limits.tie_rod_end_angle_deg,
        }),
        envelope: filled(EnvelopeTable {
            tyre_radius: axle.envelope.tyre_radius_mm,
            tyre_width: axle.envelope.tyre_width_mm,
            arch_front: axle.envelope.arch_front.map(Triple::from),
            arch_rear: axle.envelope.arch_rear.map(Triple::from),
            rail: axle.envelope.rail.map(Triple::from),
            arch_top: axle.envelope.arch_top.map(Triple::from),
        }),
        spring: filled(SpringTable {
            rate: axle.spring.rate_n_per_mm,
            free_length: axle.spring.free_length_mm,
            upper_seat: axle.spring.upper_seat.map(Triple::from),
            lower_seat: axle.spring.lower_seat.map(Triple::from),
            collar_thread_pitch: axle.spring.collar_thread_pitch_mm,
            collar_up: axle.spring.collar_up_mm,
            collar_down: axle.spring.collar_down_mm,
        }),
        damper: filled(DamperTable {
            body_thread_pitch: axle.damper.body_thread_pitch_mm,
            body_shorter: axle.damper.body_shorter_mm,
            body_longer: axle.damper.body_longer_mm,
        }),
        top_plate: axle.top_plate.as_ref().map(TopPlateTable::from),
        right: filled(
            CornerTables::of(axle.right.points(), Some(mirrored.points()))
                .with_threads(&axle.right_tie_rod, Some(&axle.left_tie_rod)),
        ),
    }
}

/// The text of a car file.
///
/// # Panics
/// Never: every value of a car has a place in TOML.
pub fn to_toml(axle: &Axle) -> String {
    toml::to_string(&axle_file(axle)).expect("every value of a car has a place in TOML")
}

/// The tables of a car file.
///
/// # Panics
/// Never: every value of a car has a place in TOML.
pub fn to_table(axle: &Axle) -> toml::Table {
    toml::Table::try_from(axle_file(axle)).expect("every value of a car has a place in TOML")
}

/// The tables of one corner of either side, as [`corner_from_table`](super::corner_from_table) reads them.
///
/// # Panics
/// Never: every value of a corner has a place in TOML.
pub fn corner_to_table(corner: &Corner) -> toml::Table {
    let file = CornerFile {
        name: corner.name(),
        corner: CornerTables::of(corner.points(), None),
        rack: filled(RackTable {
            direction: direction(corner.points().rack_direction),
            ..RackTable::default()
        }),
    };
    toml::Table::try_from(file).expect("every value of a corner has a place in TOML")
}
