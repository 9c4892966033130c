//! Threads for sweeps.

use std::ops::Deref;
use std::sync::{Mutex, OnceLock};

use rayon::{ThreadPool, ThreadPoolBuilder};

use super::SweepError;

/// Pools that nobody uses at the moment.
///
/// Pools of our own, keyed by process: threads do not survive a fork, and a child that used its parent's pool would wait
/// for ever.
static IDLE: Mutex<Vec<Pool>> = Mutex::new(Vec::new());

/// More idle pools than this are let go.
const MOST_IDLE: usize = 8;

struct Pool {
    process: u32,
    threads: usize,
    pool: ThreadPool,
}

/// A pool of threads for one job at a time: a short sweep in one thread of a program does not wait for the threads that
/// help a long one in another. Goes back among the idle ones when dropped.
pub(crate) struct Lease(Option<Pool>);

impl Deref for Lease {
    type Target = ThreadPool;

    fn deref(&self) -> &ThreadPool {
        let Self(Some(Pool { pool, .. })) = self else {
            unreachable!("a lease has its pool until it is dropped")
        };
        pool
    }
}

impl Drop for Lease {
    fn drop(&mut self) {
        let Some(pool) = self.0.take() else { return };
        if pool.process != std::process::id() {
            // Its threads live in the parent; dropping the pool here would signal them in vain.
            std::mem::forget(pool);
        } else if let Ok(mut idle) = IDLE.try_lock()
            && idle.len() < MOST_IDLE
        {
            idle.push(pool);
        }
    }
}

/// A pool of this many threads; of as many as the machine has if zero.
pub(crate) fn pool(threads: usize) -> Result<Lease, SweepError> {
    /// How many the machine has.
    static ALL: OnceLock<usize> = OnceLock::new();
    let process = std::process::id();
    let wanted = if threads == 0 {
        ALL.get().copied().unwrap_or(0)
    } else {
        threads
    };
    // A child forked while another thread held the lock finds it locked for ever: it builds pools for itself.
    if let Ok(mut idle) = IDLE.try_lock() {
        for stale in idle.extract_if(.., |pool| pool.process != process) {
            std::mem::forget(stale);
        }
        // The one used last: its threads may still be awake.
        if let Some(place) = idle.iter().rposition(|pool| pool.threads == wanted) {
            return Ok(Lease(Some(idle.remove(place))));
        }
    }
    let pool = ThreadPoolBuilder::new()
        .num_threads(threads)
        .thread_name(|i| format!("strutsweep-{i}"))
        .build()
        .map_err(|error| SweepError::Threads {
            threads,
            cause: error.to_string(),
        })?;
    let count = pool.current_num_threads();
    if threads == 0 {
        ALL.get_or_init(|| count);
    }
    Ok(Lease(Some(Pool {
        process,
        threads: count,
        pool,
    })))
}
