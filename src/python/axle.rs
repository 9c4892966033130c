//! `Axle`, and cars from files and from the package.
//!
//! Documentation of wrapped items is Python's: their examples run there.
#![allow(clippy::doc_link_with_quotes)]

use std::path::PathBuf;

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple, PyType};

use super::convert::{dict_from_table, quoted, table_from_dict};
use super::corner::{PyCorner, hash_of};
use super::error::{from_file, from_geometry, not_one_of};
use super::top_plate::PyTopPlate;
use crate::axle::Axle;
use crate::corner::Side;
use crate::tie_rod::{Hand, TieRod};
use crate::{demo as cars, file};

/// Two corners, one rack, one ground: what a car file describes. Immutable and checked.
///
/// Made by `strutsweep.load`, `strutsweep.demo`, `Axle.from_toml`, `Axle.from_dict` and `Axle.from_corners`. Axles can
/// be compared, hashed and pickled.
///
/// Examples
/// --------
/// >>> import strutsweep as ss
/// >>> car = ss.demo("gravel_hatch")
/// >>> car
/// Axle('Gravel hatch')
/// >>> car.right == car.left.mirror()
/// True
#[pyclass(name = "Axle", module = "strutsweep", frozen, eq)]
#[derive(Clone, Debug, PartialEq)]
pub(super) struct PyAxle {
    pub(super) inner: Axle,
}

#[pymethods]
impl PyAxle {
    /// A car from the text of a car file.
    ///
    /// Parameters
    /// ----------
    /// text : str
    ///     TOML; millimetres and degrees.
    ///
    /// Raises
    /// ------
    /// FileError
    ///     With ``line``, and ``table``, ``key`` and ``nearest`` for an unknown key.
    /// GeometryError
    ///     With ``line``, ``field``, ``value`` and ``reason``: numbers that make no corner.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> car = ss.demo("gravel_hatch")
    /// >>> ss.Axle.from_toml(car.to_toml()) == car
    /// True
    #[staticmethod]
    fn from_toml(py: Python<'_>, text: &str) -> PyResult<Self> {
        wrap(py, file::from_toml(text))
    }

    /// A car from dictionaries of the form of a car file.
    ///
    /// Parameters
    /// ----------
    /// tables : dict
    ///     What a car file holds: ``schema``, ``name``, ``lower_arm`` and so on; millimetres and degrees.
    ///
    /// Raises
    /// ------
    /// FileError, GeometryError
    ///     As `from_toml`, without lines.
    #[staticmethod]
    fn from_dict(py: Python<'_>, tables: &Bound<'_, PyDict>) -> PyResult<Self> {
        wrap(py, file::from_table(&table_from_dict(tables)?))
    }

    /// A car from a left corner and, unless the right one is its mirror image, a right one.
    ///
    /// Parameters
    /// ----------
    /// left : Corner
    ///     The left corner; the car takes its name.
    /// right : Corner, optional
    ///     The right corner; the left one's mirror image unless given.
    ///
    /// Raises
    /// ------
    /// GeometryError
    ///     A corner stands on the wrong side.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> left = ss.demo("gravel_hatch").left
    /// >>> ss.Axle.from_corners(left).right.side
    /// 'right'
    #[staticmethod]
    #[pyo3(signature = (left, right=None))]
    fn from_corners(py: Python<'_>, left: &PyCorner, right: Option<&PyCorner>) -> PyResult<Self> {
        let name = left.inner.name();
        Axle::new(name, left.inner.clone(), right.map(|right| right.inner.clone()))
            .map(|inner| Self { inner })
            .map_err(|error| from_geometry(py, &error))
    }

    /// The text of a car file, which reads back to the same car.
    fn to_toml(&self) -> String {
        file::to_toml(&self.inner)
    }

    /// The car as dictionaries of the form of a car file.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        dict_from_table(py, &file::to_table(&self.inner))
    }

    /// Write a car file.
    ///
    /// Parameters
    /// ----------
    /// path : str or path
    ///     The file; one that is there already is written over.
    ///
    /// Raises
    /// ------
    /// FileError
    ///     The file cannot be written.
    #[allow(clippy::needless_pass_by_value)]
    fn save(&self, py: Python<'_>, path: PathBuf) -> PyResult<()> {
        file::save(&self.inner, &path).map_err(|error| from_file(py, &error))
    }

    /// The left corner.
    #[getter]
    fn left(&self) -> PyCorner {
        PyCorner {
            inner: self.inner.left.clone(),
        }
    }

    /// The right corner.
    #[getter]
    fn right(&self) -> PyCorner {
        PyCorner {
            inner: self.inner.right.clone(),
        }
    }

    /// The car's name.
    #[getter]
    fn name(&self) -> &str {
        &self.inner.name
    }

    /// What the car file says of its numbers, or None.
    #[getter]
    fn note(&self) -> Option<&str> {
        self.inner.note.as_deref()
    }

    /// The rack: ``mm_per_turn`` and ``stroke`` (mm to either side), None where unknown.
    #[getter]
    fn rack<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let rack = &self.inner.rack;
        known(py, &[("mm_per_turn", rack.mm_per_turn), ("stroke", rack.stroke_mm)])
    }

    /// Dimensions of the car: ``wheelbase`` and ``centre_of_gravity_height`` (mm), ``front_brake_share`` (0 to 1),
    /// ``wheel_load`` (N, the ground on one wheel of this axle at design height) and ``unsprung_mass`` (kg, what moves
    /// with one wheel); None where unknown.
    #[getter]
    fn dimensions<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dimensions = &self.inner.dimensions;
        known(
            py,
            &[
                ("wheelbase", dimensions.wheelbase_mm),
                ("centre_of_gravity_height", dimensions.centre_of_gravity_height_mm),
                ("front_brake_share", dimensions.front_brake_share),
                ("wheel_load", dimensions.wheel_load_n),
                ("unsprung_mass", dimensions.unsprung_mass_kg),
            ],
        )
    }

    /// How far parts may move from design: ``bump`` and ``droop`` (mm), reach of adjusters either way, ``mount_in``,
    /// ``mount_back``, ``mount_up``, ``tie_rod`` and ``arm`` (mm) and ``clamp`` (deg), the greatest ``bearing_angle``
    /// (deg), the least ``tie_rod_margin`` (a sine) and the greatest ``tie_rod_end_angle`` (deg); None where unknown.
    #[getter]
    fn limits<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let limits = &self.inner.limits;
        known(
            py,
            &[
                ("bump", limits.bump_mm),
                ("droop", limits.droop_mm),
                ("mount_in", limits.mount_in_mm),
                ("mount_back", limits.mount_back_mm),
                ("mount_up", limits.mount_up_mm),
                ("tie_rod", limits.tie_rod_mm),
                ("clamp", limits.clamp_deg),
                ("arm", limits.arm_mm),
                ("bearing_angle", limits.bearing_angle_deg),
                ("tie_rod_margin", limits.tie_rod_margin),
                ("tie_rod_end_angle", limits.tie_rod_end_angle_deg),
            ],
        )
    }

    /// Room for the tyre: ``tyre_radius`` and ``tyre_width`` (mm), and points of the body that it comes near, as the left
    /// corner has them at design: ``arch_front``, ``arch_rear``, ``rail`` and ``arch_top``; None where unknown.
    #[getter]
    fn envelope<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let envelope = &self.inner.envelope;
        let dict = known(
            py,
            &[
                ("tyre_radius", envelope.tyre_radius_mm),
                ("tyre_width", envelope.tyre_width_mm),
            ],
        )?;
        for (key, at) in [
            ("arch_front", envelope.arch_front),
            ("arch_rear", envelope.arch_rear),
            ("rail", envelope.rail),
            ("arch_top", envelope.arch_top),
        ] {
            dict.set_item(key, at.map(<[f64; 3]>::from))?;
        }
        Ok(dict)
    }

    /// The spring: ``rate`` (N/mm), ``free_length`` (mm), ``upper_seat`` and ``lower_seat`` (points of the left corner
    /// at design), ``collar_thread_pitch`` (mm a turn), ``collar_up`` and ``collar_down`` (mm left to screw); None where
    /// unknown.
    #[getter]
    fn spring<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let spring = &self.inner.spring;
        let dict = known(
            py,
            &[("rate", spring.rate_n_per_mm), ("free_length", spring.free_length_mm)],
        )?;
        for (key, seat) in [("upper_seat", spring.upper_seat), ("lower_seat", spring.lower_seat)] {
            dict.set_item(key, seat.map(<[f64; 3]>::from))?;
        }
        let rest = [
            ("collar_thread_pitch", spring.collar_thread_pitch_mm),
            ("collar_up", spring.collar_up_mm),
            ("collar_down", spring.collar_down_mm),
        ];
        dict.update(known(py, &rest)?.as_mapping())?;
        Ok(dict)
    }

    /// The damper: ``body_thread_pitch`` (mm a turn, where the strut's body is screwed into its foot), ``body_shorter``
    /// and ``body_longer`` (mm left to screw); None where unknown.
    #[getter]
    fn damper<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let damper = &self.inner.damper;
        known(
            py,
            &[
                ("body_thread_pitch", damper.body_thread_pitch_mm),
                ("body_shorter", damper.body_shorter_mm),
                ("body_longer", damper.body_longer_mm),
            ],
        )
    }

    /// Threads of the tie rods, by side: at the ``inner`` and ``outer`` end ``..._thread_pitch`` (mm a turn),
    /// ``..._thread_hand`` (``"right"`` or ``"left"``) and ``..._thread_engaged`` (mm at design), and
    /// ``least_thread_engaged`` (mm); None where unknown, or where there is no thread.
    #[getter]
    fn tie_rods<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for side in [Side::Left, Side::Right] {
            dict.set_item(side.name(), tie_rod(py, self.inner.tie_rod(side))?)?;
        }
        Ok(dict)
    }

    /// The same car with other corners; rack, dimensions, limits, spring and threads are kept.
    ///
    /// Parameters
    /// ----------
    /// left : Corner
    ///     The left corner. It takes the car's name.
    /// right : Corner, optional
    ///     The right corner; the left one's mirror image unless given.
    ///
    /// Raises
    /// ------
    /// GeometryError
    ///     A corner stands on the wrong side, or the spring no longer fits.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> car = ss.demo("gravel_hatch")
    /// >>> other = car.with_corners(car.left, car.right.replace(camber=-1.0))
    /// >>> other.right.camber, other.limits == car.limits
    /// (-1.0, True)
    #[pyo3(signature = (left, right=None))]
    fn with_corners(&self, py: Python<'_>, left: &PyCorner, right: Option<&PyCorner>) -> PyResult<Self> {
        self.inner
            .with_corners(left.inner.clone(), right.map(|right| right.inner.clone()))
            .map(|inner| Self { inner })
            .map_err(|error| from_geometry(py, &error))
    }

    /// The adjustable strut top, or None: as it is on the left; the right one is its mirror image.
    #[getter]
    fn top_plate(&self) -> Option<PyTopPlate> {
        self.inner.top_plate.clone().map(|inner| PyTopPlate { inner })
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        Ok(format!("Axle({})", quoted(py, &self.inner.name)?))
    }

    fn __hash__(&self) -> u64 {
        let corner = |corner: &crate::Corner| hash_of(&PyCorner { inner: corner.clone() });
        hash_of(&(corner(&self.inner.left), corner(&self.inner.right)))
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let maker = PyType::new::<Self>(py).getattr("from_dict")?;
        Ok((maker, PyTuple::new(py, [self.to_dict(py)?])?))
    }
}

fn tie_rod<'py>(py: Python<'py>, tie_rod: &TieRod) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    for (end, thread) in [("inner", &tie_rod.inner), ("outer", &tie_rod.outer)] {
        dict.set_item(format!("{end}_thread_pitch"), thread.pitch_mm)?;
        dict.set_item(format!("{end}_thread_hand"), thread.hand.map(Hand::name))?;
        dict.set_item(format!("{end}_thread_engaged"), thread.engaged_mm)?;
    }
    dict.set_item("least_thread_engaged", tie_rod.least_engaged_mm)?;
    Ok(dict)
}

fn known<'py>(py: Python<'py>, pairs: &[(&str, Option<f64>)]) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    for (key, value) in pairs {
        dict.set_item(key, value)?;
    }
    Ok(dict)
}

fn wrap(py: Python<'_>, axle: Result<Axle, file::FileError>) -> PyResult<PyAxle> {
    axle.map(|inner| PyAxle { inner })
        .map_err(|error| from_file(py, &error))
}

/// Read a car file.
///
/// Parameters
/// ----------
/// path : str or path
///     A TOML file; millimetres and degrees. The main tables describe the left corner, ``[right.*]`` what differs on the
///     right.
///
/// Returns
/// -------
/// Axle
///
/// Raises
/// ------
/// FileError
///     With ``path`` and ``line``, and ``table``, ``key`` and ``nearest`` for an unknown key.
/// GeometryError
///     With ``path``, ``line``, ``field``, ``value`` and ``reason``: numbers that make no corner.
///
/// Examples
/// --------
/// >>> import pathlib, tempfile, strutsweep as ss
/// >>> with tempfile.TemporaryDirectory() as folder:
/// ...     path = pathlib.Path(folder) / "car.toml"
/// ...     ss.demo("gravel_hatch").save(path)
/// ...     car = ss.load(path)
/// >>> car.name
/// 'Gravel hatch'
#[pyfunction]
#[allow(clippy::needless_pass_by_value)]
pub(super) fn load(py: Python<'_>, path: PathBuf) -> PyResult<PyAxle> {
    wrap(py, file::load(&path))
}

/// A demonstration car of the package. All of them are invented: no real car.
///
/// Parameters
/// ----------
/// name : str
///     One of `demos`.
///
/// Raises
/// ------
/// InputError
///     No such car.
///
/// Examples
/// --------
/// >>> import strutsweep as ss
/// >>> ss.demo().name
/// 'Gravel hatch'
#[pyfunction]
#[pyo3(signature = (name="gravel_hatch"))]
pub(super) fn demo(py: Python<'_>, name: &str) -> PyResult<PyAxle> {
    match cars::text(name) {
        Some(text) => wrap(py, file::from_toml(text)),
        None => Err(not_one_of(py, "name", name, &cars::CARS.map(|(name, _)| name))),
    }
}

/// Names of the demonstration cars of the package.
///
/// Examples
/// --------
/// >>> import strutsweep as ss
/// >>> ss.demos()
/// ['gravel_hatch', 'hillclimb_saloon']
#[pyfunction]
pub(super) fn demos() -> Vec<&'static str> {
    cars::CARS.iter().map(|(name, _)| *name).collect()
}
