//! Threads for sweeps.

use std::ops::Deref;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use rayon::{ThreadPool, ThreadPoolBuilder};

use super::SweepError;

/// Pools that nobody uses at the moment.
///
/// Pools of our own, keyed by process: threads do not survive a fork, and a child that used its parent's pool would wait
/// for ever.
static IDLE: Mutex<Vec<Pool>> = Mutex::new(Vec::new());

/// Of more idle pools than this, those not used for longest are let go.
const MOST_IDLE: usize = 8;
/// No machine of these years has more.
const MOST_THREADS: usize = 1 << 16;

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
            return;
        }
        let too_many = match IDLE.try_lock() {
            Ok(mut idle) => {
                idle.push(pool);
                (idle.len() > MOST_IDLE).then(|| idle.remove(0))
            }
            Err(_) => Some(pool),
        };
        drop(too_many);
    }
}

/// How many threads are meant: all of the machine's that this process may use if zero.
pub(crate) fn count(threads: usize) -> usize {
    /// The process that asked, and the answer: asking the system takes as long as a small sweep.
    static ALL: AtomicU64 = AtomicU64::new(0);
    if threads != 0 {
        return threads;
    }
    let process = u64::from(std::process::id());
    let known = ALL.load(Ordering::Relaxed);
    if known >> 32 == process {
        return usize::try_from(known & u64::from(u32::MAX)).unwrap_or(1);
    }
    let all = std::thread::available_parallelism().map_or(1, |all| all.get().min(MOST_THREADS));
    ALL.store(process << 32 | all as u64, Ordering::Relaxed);
    all
}

/// A pool of this many threads; of as many as the machine has if zero.
pub(crate) fn pool(threads: usize) -> Result<Lease, SweepError> {
    let threads = count(threads);
    let process = std::process::id();
    // A child forked while another thread held the lock finds it locked for ever: it builds pools for itself.
    if let Ok(mut idle) = IDLE.try_lock() {
        for stale in idle.extract_if(.., |pool| pool.process != process) {
            std::mem::forget(stale);
        }
        // The one used last: its threads may still be awake.
        if let Some(place) = idle.iter().rposition(|pool| pool.threads == threads) {
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
    Ok(Lease(Some(Pool { process, threads, pool })))
}
