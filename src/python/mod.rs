//! The Python module `strutsweep._core`: thin wrappers, one file for each file they wrap, with no mathematics in them.
//!
//! Each wrapper converts what Python gave, checks it, lets go of the interpreter where work is long, calls the crate and
//! converts the answer back.

mod axle;
mod convert;
mod corner;
mod derivative;
mod error;
mod heights;
mod jacobian;
mod plan;
mod pose;
mod settle;
mod statistics;
mod steering;
mod strut_load;
mod sweep;
mod top_plate;
mod vocabulary;

use pyo3::prelude::*;

#[pymodule]
fn _core(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add("__version__", env!("CARGO_PKG_VERSION"))?;
    module.add_class::<corner::PyCorner>()?;
    module.add_class::<axle::PyAxle>()?;
    module.add_class::<pose::PyPose>()?;
    module.add_class::<top_plate::PyTopPlate>()?;
    module.add_function(wrap_pyfunction!(axle::load, module)?)?;
    module.add_function(wrap_pyfunction!(axle::demo, module)?)?;
    module.add_function(wrap_pyfunction!(axle::demos, module)?)?;
    module.add_function(wrap_pyfunction!(steering::axle_columns, module)?)?;
    module.add_function(wrap_pyfunction!(steering::racks_for, module)?)?;
    module.add_function(wrap_pyfunction!(steering::rack_sense, module)?)?;
    module.add_function(wrap_pyfunction!(steering::rack_senses, module)?)?;
    module.add_function(wrap_pyfunction!(steering::true_outer, module)?)?;
    module.add_function(wrap_pyfunction!(strut_load::strut_load, module)?)?;
    module.add_function(wrap_pyfunction!(sweep::sweep_grid, module)?)?;
    module.add_function(wrap_pyfunction!(sweep::rouse, module)?)?;
    module.add_function(wrap_pyfunction!(jacobian::slope_grid, module)?)?;
    module.add_function(wrap_pyfunction!(statistics::sum_up, module)?)?;
    module.add_function(wrap_pyfunction!(plan::plan_grid, module)?)?;
    module.add_function(wrap_pyfunction!(settle::settle_top, module)?)?;
    module.add_function(wrap_pyfunction!(heights::settle, module)?)?;
    module.add_function(wrap_pyfunction!(heights::tie_rod_turns, module)?)?;
    module.add_function(wrap_pyfunction!(vocabulary::vocabulary, module)?)?;
    Ok(())
}
