//! Threads for sweeps.

use std::sync::{Arc, Mutex};

use rayon::{ThreadPool, ThreadPoolBuilder};

use super::SweepError;

/// Thread pools of this process, one a count of threads.
///
/// A pool of our own, keyed by process: threads do not survive a fork, and a child that used its parent's pool would
/// wait for ever.
pub(crate) fn pool(threads: usize) -> Result<Arc<ThreadPool>, SweepError> {
    type Pools = Vec<(u32, usize, Arc<ThreadPool>)>;
    static POOLS: Mutex<Pools> = Mutex::new(Vec::new());
    let build = || {
        ThreadPoolBuilder::new()
            .num_threads(threads)
            .thread_name(|i| format!("strutsweep-{i}"))
            .build()
            .map(Arc::new)
            .map_err(|error| SweepError::Threads {
                threads,
                cause: error.to_string(),
            })
    };
    let process = std::process::id();
    // A child forked while another thread held the lock would find it locked for ever: it builds a pool for itself.
    let Ok(mut pools) = POOLS.try_lock() else {
        return build();
    };
    if let Some((_, _, pool)) = pools.iter().find(|(of, count, _)| *of == process && *count == threads) {
        return Ok(Arc::clone(pool));
    }
    for stale in pools.extract_if(.., |(of, _, _)| *of != process) {
        // Its threads live in the parent; dropping the pool here would signal them in vain.
        std::mem::forget(stale);
    }
    let pool = build()?;
    pools.push((process, threads, Arc::clone(&pool)));
    Ok(pool)
}
