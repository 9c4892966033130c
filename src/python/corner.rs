//! `Corner`.
//!
//! Documentation of wrapped items is Python's: their examples run there.
#![allow(clippy::doc_link_with_quotes)]

use std::hash::{DefaultHasher, Hash, Hasher};

use numpy::PyArray1;
use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyDict, PyTuple, PyType};

use super::convert::{self, dict_from_table, table_from_dict};
use super::derivative;
use super::error::{from_file, from_geometry, from_input, from_solve, not_one_of};
use super::pose::PyPose;
use crate::corner::{Corner, HardPoint};
use crate::file;
use crate::motion::Motion;
use crate::setting::Setting;

/// One corner of a car: the hard points as measured or drawn at design height. Immutable and checked.
///
/// Axes are ISO 8855's: X forward, Y left, Z up; millimetres, degrees. A corner's side is the sign of its hub's Y.
/// Two corners are equal when all their numbers and names are; corners can be hashed and pickled.
///
/// Made by `strutsweep.load`, `strutsweep.demo`, `Corner.from_dict`, `Corner.replace` and `Corner.mirror`.
///
/// Examples
/// --------
/// >>> import strutsweep as ss
/// >>> corner = ss.demo("gravel_hatch").left
/// >>> corner
/// Corner('Gravel hatch', left)
/// >>> corner.solve(travel=20.0).camber < corner.camber
/// True
#[pyclass(name = "Corner", module = "strutsweep", frozen, eq, hash)]
#[derive(Clone, Debug, PartialEq)]
pub(super) struct PyCorner {
    pub(super) inner: Corner,
}

impl Hash for PyCorner {
    fn hash<H: Hasher>(&self, state: &mut H) {
        // Equal numbers must hash alike, and 0.0 equals -0.0: adding zero makes them one.
        let mut add = |value: f64| (value + 0.0).to_bits().hash(state);
        let points = self.inner.points();
        for point in HardPoint::ALL {
            <[f64; 3]>::from(point.of(points)).into_iter().for_each(&mut add);
        }
        add(points.wheel_radius_mm);
        add(points.camber_deg);
        add(points.toe_deg);
        self.inner.name().hash(state);
    }
}

#[pymethods]
impl PyCorner {
    /// A corner from dictionaries of the form of a car file.
    ///
    /// Parameters
    /// ----------
    /// tables : dict
    ///     ``lower_arm`` (``front``, ``rear``, ``ball_joint``), ``strut`` (``top``, ``low`` and, if wanted, ``clamp``,
    ///     ``bearing_axis``), ``tie_rod`` (``inner``, ``outer``), ``wheel`` (``centre``, ``radius``, ``camber``,
    ///     ``toe``) and, if wanted, ``name`` and ``rack`` (``direction``). Points are three numbers in mm, in the car's
    ///     coordinates, of a left or a right corner; camber and toe in deg.
    ///
    /// Raises
    /// ------
    /// GeometryError
    ///     With ``field``, ``value``, ``reason`` and, where there is one, ``limit`` and ``unit``: numbers that make no
    ///     corner.
    /// FileError
    ///     An unknown, missing or wrong entry.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> corner = ss.demo("gravel_hatch").left
    /// >>> ss.Corner.from_dict(corner.to_dict()) == corner
    /// True
    #[staticmethod]
    fn from_dict(py: Python<'_>, tables: &Bound<'_, PyDict>) -> PyResult<Self> {
        let table = table_from_dict(tables)?;
        file::corner_from_table(&table)
            .map(|inner| Self { inner })
            .map_err(|error| from_file(py, &error))
    }

    /// The corner as dictionaries of the form of a car file; `Corner.from_dict` reads them back to the same corner.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> ss.demo("gravel_hatch").left.to_dict()["strut"]["top"]
    /// [-35.0, 548.0, 840.0]
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        dict_from_table(py, &file::corner_to_table(&self.inner))
    }

    /// The same corner with some of its numbers changed.
    ///
    /// Parameters
    /// ----------
    /// arm_front, arm_rear, ball_joint, strut_top, strut_low, strut_clamp, tie_rod_inner, tie_rod_outer, wheel_centre
    ///     Hard points, three numbers each, in mm, in the car's coordinates.
    /// bearing_axis, rack_direction
    ///     Directions, three numbers each; their length does not matter.
    /// wheel_radius, camber, toe : float
    ///     Loaded radius in mm; camber and toe at design in deg.
    /// name : str
    ///     The car's name.
    ///
    /// Raises
    /// ------
    /// GeometryError
    ///     The numbers make no corner.
    /// InputError
    ///     No such field.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> corner = ss.demo("gravel_hatch").left
    /// >>> round(corner.replace(camber=-2.0).solve().camber, 9)
    /// -2.0
    #[pyo3(signature = (**changes))]
    fn replace(&self, py: Python<'_>, changes: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        let mut points = *self.inner.points();
        let mut name = self.inner.name().to_owned();
        for (field, value) in changes.into_iter().flatten() {
            let field: String = field.extract()?;
            let number = || {
                let number = if value.is_instance_of::<PyBool>() {
                    None
                } else {
                    Some(value.extract::<f64>())
                };
                number
                    .unwrap_or_else(|| Err(PyTypeError::new_err("")))
                    .map_err(|_| PyTypeError::new_err(format!("{field} is not a number")))
            };
            match field.as_str() {
                "name" => name = value.extract()?,
                "wheel_radius" => points.wheel_radius_mm = number()?,
                "camber" => points.camber_deg = number()?,
                "toe" => points.toe_deg = number()?,
                "bearing_axis" => points.bearing_axis = Some(convert::vector(&value, &field)?),
                "rack_direction" => points.rack_direction = convert::vector(&value, &field)?,
                other => match HardPoint::from_name(other) {
                    Some(point) => point.place(&mut points, convert::point(&value, &field)?),
                    None => return Err(no_such_field(py, other)),
                },
            }
        }
        Corner::new(&name, points)
            .map(|inner| Self { inner })
            .map_err(|error| from_geometry(py, &error))
    }

    /// The corner of the other side, mirrored in the car's centre plane Y = 0.
    ///
    /// The rack is one rack and keeps its direction. Where it moves square across the car, as it does unless
    /// ``rack.direction`` says otherwise, a mirrored corner reads with ``rack`` as this one does with ``-rack``; with a
    /// rack that lies askew the two sides steer unlike, as they do on the car.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> ss.demo("gravel_hatch").left.mirror().side
    /// 'right'
    fn mirror(&self) -> Self {
        Self {
            inner: self.inner.mirrored(),
        }
    }

    /// The pose of this corner with a setting, in a motion.
    ///
    /// Parameters
    /// ----------
    /// travel : float
    ///     Wheel travel from design height in mm, bump positive, measured as ``travel_at`` says.
    /// rack : float
    ///     Rack displacement in mm toward the left of the car, on either corner.
    /// roll : float
    ///     Roll of the body about the ground's centre line (Y = 0, at the height of the contact centre at design) in deg,
    ///     positive when it leans to the right. Readings are to the ground and places in the ground's axes; with travel
    ///     measured at the ground the wheel stays on it, with ``"hub"`` the wheel centre keeps its height above it, with
    ///     ``"strut"`` corner and body lean as one.
    /// mount_in, mount_back, mount_up : float
    ///     Strut-top pivot moved, in mm: toward the car's centre line, rearward, up.
    /// tie_rod : float
    ///     Tie rod made longer, in mm.
    /// clamp : float
    ///     Knuckle turned against the strut at its clamp, in deg; positive leans the top of the wheel outboard.
    /// arm : float
    ///     Lower arm made longer, in mm.
    /// tie_outer_up, ball_joint_down, hub_spacer : float
    ///     Spacers in mm: outer tie-rod joint up on the knuckle, ball joint down on it, wheel outboard.
    /// travel_at : {"ground", "hub", "strut"}
    ///     Where travel is measured, and so what is held at zero travel while a setting changes: the contact centre
    ///     (ride height held), the wheel centre (hub height held), the strut's compression (spring length held).
    ///
    /// Returns
    /// -------
    /// Pose
    ///
    /// Raises
    /// ------
    /// ReachError
    ///     The pose is out of reach; ``part`` and ``reason`` say what ran out.
    /// InputError
    ///     A number is not finite, or ``travel_at`` is no such word.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> corner = ss.demo("hillclimb_saloon").left
    /// >>> before, after = corner.solve(), corner.solve(mount_in=10.0)
    /// >>> round(after.camber - before.camber, 3), round(after.toe - before.toe, 3)
    /// (-0.791, -0.195)
    #[pyo3(signature = (*, travel=0.0, rack=0.0, roll=0.0, mount_in=0.0, mount_back=0.0, mount_up=0.0, tie_rod=0.0,
                        clamp=0.0, arm=0.0, tie_outer_up=0.0, ball_joint_down=0.0, hub_spacer=0.0, travel_at="ground"))]
    #[allow(clippy::too_many_arguments)]
    fn solve(
        &self,
        py: Python<'_>,
        travel: f64,
        rack: f64,
        roll: f64,
        mount_in: f64,
        mount_back: f64,
        mount_up: f64,
        tie_rod: f64,
        clamp: f64,
        arm: f64,
        tie_outer_up: f64,
        ball_joint_down: f64,
        hub_spacer: f64,
        travel_at: &str,
    ) -> PyResult<PyPose> {
        let travel_at = convert::travel_at(py, travel_at)?;
        let setting = Setting {
            mount_in_mm: mount_in,
            mount_back_mm: mount_back,
            mount_up_mm: mount_up,
            tie_rod_mm: tie_rod,
            clamp_deg: clamp,
            arm_mm: arm,
            tie_outer_up_mm: tie_outer_up,
            ball_joint_down_mm: ball_joint_down,
            hub_spacer_mm: hub_spacer,
        };
        let motion = Motion {
            travel_mm: travel,
            rack_mm: rack,
            roll_deg: roll,
        };
        self.inner
            .solve(&setting, &motion, travel_at)
            .map(|inner| PyPose { inner })
            .map_err(|error| from_solve(py, &error))
    }

    /// Exact slopes of readings and places of one pose, in any settings, motions and measurements.
    ///
    /// Nothing is differenced: the formulas run on dual numbers. A slope in a measurement lets everything follow that is
    /// made from it (tie-rod length, shape of the knuckle, the design position that travel is counted from), as a sweep
    /// over hard points does. The clamp's pivot goes with ``strut.low`` where the corner gives it no place of its own.
    ///
    /// Parameters
    /// ----------
    /// inputs : sequence of str, optional
    ///     What to differentiate by: keywords of settings and motions, and measurements as a car file spells them, such
    ///     as ``"strut.top.y"``, ``"wheel.radius"``, ``"wheel.camber"``, ``"wheel.toe"``. All settings and motions unless
    ///     given.
    /// travel, rack, roll, mount_in, mount_back, mount_up, tie_rod, clamp, arm, tie_outer_up, ball_joint_down, hub_spacer : float
    ///     The pose, as `solve` takes it, in mm and deg.
    /// travel_at : {"ground", "hub", "strut"}
    ///     Where travel is measured, and so what is held while another input changes.
    /// readings : sequence of str, optional
    ///     Only these; all of them, rates included, unless given.
    /// places : sequence of str
    ///     Points whose place is wanted too, with a dimension ``xyz``.
    ///
    /// Returns
    /// -------
    /// xarray.Dataset
    ///     One variable a reading along the dimension ``input``: its slope, per mm or deg of the input as the coordinate
    ///     ``input_units`` says. The reading's own value in this pose is its attribute ``value``. NaN for the bearing
    ///     angle where it is zero, which has no slope there.
    ///
    /// Raises
    /// ------
    /// ReachError
    ///     The pose is out of reach.
    /// InputError
    ///     A number is not finite, or a name is none of those known.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> corner = ss.demo("hillclimb_saloon").left
    /// >>> slopes = corner.derivatives(["mount_in", "strut.top.y"], readings=["camber", "bump_steer"])
    /// >>> round(float(slopes.camber.sel(input="mount_in")), 4), slopes.camber.attrs["units"]
    /// (-0.0794, 'deg per unit of the input')
    #[pyo3(signature = (inputs=None, *, travel=0.0, rack=0.0, roll=0.0, mount_in=0.0, mount_back=0.0, mount_up=0.0, tie_rod=0.0,
                        clamp=0.0, arm=0.0, tie_outer_up=0.0, ball_joint_down=0.0, hub_spacer=0.0, travel_at="ground",
                        readings=None, places=None))]
    #[allow(clippy::too_many_arguments, clippy::needless_pass_by_value)]
    fn derivatives<'py>(
        &self,
        py: Python<'py>,
        inputs: Option<Vec<String>>,
        travel: f64,
        rack: f64,
        roll: f64,
        mount_in: f64,
        mount_back: f64,
        mount_up: f64,
        tie_rod: f64,
        clamp: f64,
        arm: f64,
        tie_outer_up: f64,
        ball_joint_down: f64,
        hub_spacer: f64,
        travel_at: &str,
        readings: Option<Vec<String>>,
        places: Option<Vec<String>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let travel_at = convert::travel_at(py, travel_at)?;
        let setting = Setting::from_array([
            mount_in,
            mount_back,
            mount_up,
            tie_rod,
            clamp,
            arm,
            tie_outer_up,
            ball_joint_down,
            hub_spacer,
        ]);
        let motion = Motion {
            travel_mm: travel,
            rack_mm: rack,
            roll_deg: roll,
        };
        let parameters = derivative::parameters(py, inputs)?;
        let found = self
            .inner
            .derivatives(&setting, &motion, travel_at, &parameters)
            .map_err(|error| from_solve(py, &error))?;
        derivative::labelled(py, self, &found, &parameters, readings, places)
    }

    /// How far the strut axis stands inboard of the wheel's centre plane at the height of the tyre's top.
    ///
    /// Measured along the spin axis, where the strut axis leaves the cylinder of this radius about it, upwards. Less half
    /// the tyre's width it is the room from strut axis to tyre. Strut and wheel are fixed in the knuckle, so that of a
    /// setting only clamp and hub spacer change it, and no motion does.
    ///
    /// Parameters
    /// ----------
    /// radius : float
    ///     Distance from the spin axis in mm: the tyre's radius.
    /// clamp : float
    ///     Knuckle turned against the strut in its clamp, in deg; positive leans the top of the wheel outboard.
    /// hub_spacer : float
    ///     Wheel farther outboard on the knuckle, in mm.
    ///
    /// Returns
    /// -------
    /// float
    ///     In mm, positive where the strut stands inboard. NaN where the strut axis passes outside the cylinder.
    ///
    /// Raises
    /// ------
    /// InputError
    ///     A number is not finite.
    ///
    /// Examples
    /// --------
    /// A clamp that leans the wheel's top in takes room; a top mount takes none:
    ///
    /// >>> import strutsweep as ss
    /// >>> corner = ss.demo("hillclimb_saloon").left
    /// >>> round(corner.strut_to_wheel(300.0), 1), round(corner.strut_to_wheel(300.0, clamp=-1.0), 1)
    /// (169.7, 166.6)
    #[pyo3(signature = (radius, *, clamp=0.0, hub_spacer=0.0))]
    fn strut_to_wheel(&self, py: Python<'_>, radius: f64, clamp: f64, hub_spacer: f64) -> PyResult<f64> {
        let setting = Setting {
            clamp_deg: clamp,
            hub_spacer_mm: hub_spacer,
            ..Setting::default()
        };
        let inboard = self.inner.strut_to_wheel_mm(&setting, radius);
        Ok(inboard.map_err(|error| from_input(py, &error))?.unwrap_or(f64::NAN))
    }

    /// Where a hard point is at design, as an array [x, y, z] in mm, in the car's coordinates.
    ///
    /// Parameters
    /// ----------
    /// name : str
    ///     A key of ``points``.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> ss.demo("gravel_hatch").left.point("ball_joint")
    /// array([ -2., 708., 182.])
    fn point<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyArray1<f64>>> {
        let point = convert::hard_point(py, "name", name)?;
        let at: [f64; 3] = point.of(self.inner.points()).into();
        Ok(PyArray1::from_slice(py, &at))
    }

    /// All hard points at design: a dictionary of arrays [x, y, z] in mm, in the car's coordinates.
    #[getter]
    fn points<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let points = PyDict::new(py);
        for point in HardPoint::ALL {
            let at: [f64; 3] = point.of(self.inner.points()).into();
            points.set_item(point.name(), PyArray1::from_slice(py, &at))?;
        }
        Ok(points)
    }

    /// The car's name.
    #[getter]
    fn name(&self) -> &str {
        self.inner.name()
    }

    /// ``"left"`` or ``"right"``: the sign of the hub's Y.
    #[getter]
    fn side(&self) -> &'static str {
        self.inner.side().name()
    }

    /// Loaded radius of the wheel in mm.
    #[getter]
    fn wheel_radius(&self) -> f64 {
        self.inner.points().wheel_radius_mm
    }

    /// Camber at design in deg; positive leans the top of the wheel outboard.
    #[getter]
    fn camber(&self) -> f64 {
        self.inner.points().camber_deg
    }

    /// Toe of this wheel at design in deg; toe-in positive.
    #[getter]
    fn toe(&self) -> f64 {
        self.inner.points().toe_deg
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        Ok(format!(
            "Corner({}, {})",
            convert::quoted(py, self.inner.name())?,
            self.inner.side()
        ))
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let maker = PyType::new::<Self>(py).getattr("from_dict")?;
        Ok((maker, PyTuple::new(py, [self.to_dict(py)?])?))
    }
}

fn no_such_field(py: Python<'_>, name: &str) -> PyErr {
    let others = [
        "bearing_axis",
        "rack_direction",
        "wheel_radius",
        "camber",
        "toe",
        "name",
    ];
    let fields: Vec<&'static str> = HardPoint::ALL.iter().map(|point| point.name()).chain(others).collect();
    not_one_of(py, "field", name, &fields)
}

/// A hash that is the same in every process of this version, for [`PyCorner`] and what holds one.
pub(super) fn hash_of(value: &impl Hash) -> u64 {
    let mut hasher = DefaultHasher::new();
    value.hash(&mut hasher);
    hasher.finish()
}
