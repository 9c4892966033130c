//! Work shared out among threads, the calling one among them.

use std::cell::Cell;
use std::hint;
use std::sync::mpsc::{self, RecvTimeoutError, Sender, TryRecvError};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use rayon::Scope;

use super::{SweepError, pool};

/// What the calling thread looks after now and then: signals, a progress bar.
pub struct Lookout<'a> {
    every: Duration,
    look: &'a dyn Fn(),
    next: Cell<Instant>,
    asked: Cell<u32>,
    looked: Cell<bool>,
}

/// The clock is looked at once in so many times that something could be due: it takes as long as a pose.
const CLOCK: u32 = 16;

/// How long the calling thread waits for the others without falling asleep.
const AWAKE: Duration = Duration::from_micros(50);

impl<'a> Lookout<'a> {
    /// Look about so often.
    pub fn new(every: Duration, look: &'a dyn Fn()) -> Self {
        Self {
            every,
            look,
            next: Cell::new(Instant::now() + every),
            asked: Cell::new(0),
            looked: Cell::new(false),
        }
    }

    /// Look, if it is time.
    pub(super) fn when_due(&self) {
        if Instant::now() >= self.next.get() {
            (self.look)();
            self.next.set(Instant::now() + self.every);
            self.looked.set(true);
        }
    }

    /// As [`Self::when_due`], where asking is cheap and often done.
    pub(super) fn now_and_then(&self) {
        let asked = self.asked.get().wrapping_add(1);
        self.asked.set(asked);
        if asked.is_multiple_of(CLOCK) {
            self.when_due();
        }
    }
}

/// Do work piece by piece, as `next` gives it, on so many threads, this one among them, each with a `room` of its own.
///
/// Other threads begin at once; this one does `first` before it joins them, so that with one thread `first` comes before
/// the work, and no more threads than wanted are ever at work. Once it had to look out it leaves its share of a long job to
/// another thread and does nothing but look out: to look may mean to wait. Ends when everything is done.
pub(super) fn share<T: Send, R>(
    threads: usize,
    next: impl FnMut() -> Option<T> + Send,
    room: impl Fn() -> R + Sync,
    work: impl Fn(&mut R, T, Option<&Lookout<'_>>) + Sync,
    first: impl FnOnce(),
    lookout: Option<&Lookout<'_>>,
) -> Result<(), SweepError> {
    let next = Mutex::new(next);
    let take = || (next.lock().unwrap_or_else(PoisonError::into_inner))();
    let help = || {
        let mut room = room();
        while let Some(piece) = take() {
            work(&mut room, piece, None);
        }
    };
    // Whether something may be left for another thread.
    let join_in = || {
        if let Some(lookout) = lookout {
            lookout.looked.set(false);
        }
        let mut room = room();
        while let Some(piece) = take() {
            work(&mut room, piece, lookout);
            if lookout.is_some_and(|lookout| lookout.looked.get()) {
                return true;
            }
        }
        false
    };
    if threads == 1 {
        first();
        if !join_in() {
            return Ok(());
        }
        return pool(1)?.in_place_scope(|scope| {
            wait_for(scope, lookout, |scope, sender| start(scope, sender, &help));
            Ok(())
        });
    }
    pool(threads)?.in_place_scope(|scope| {
        wait_for(scope, lookout, |scope, sender| {
            for _ in 1..threads {
                start(scope, sender, &help);
            }
            first();
            if join_in() {
                start(scope, sender, &help);
            }
        });
    });
    Ok(())
}

/// Let another thread help. It lets go of its end of the channel when it is done; nothing is ever sent.
fn start<'scope>(scope: &Scope<'scope>, ended: &Sender<()>, help: &'scope (impl Fn() + Sync)) {
    let ended = ended.clone();
    scope.spawn(move |_| {
        help();
        drop(ended);
    });
}

/// Do something that starts threads, and wait for them to end, looking out meanwhile.
fn wait_for<'scope>(
    scope: &Scope<'scope>,
    lookout: Option<&Lookout<'_>>,
    work: impl FnOnce(&Scope<'scope>, &Sender<()>),
) {
    let (sender, ended) = mpsc::channel();
    work(scope, &sender);
    drop(sender);
    // Pieces are small at the end: whoever is still at work is about to end, and to sleep and be woken takes longer.
    let awake_until = Instant::now() + AWAKE;
    while ended.try_recv() == Err(TryRecvError::Empty) && Instant::now() < awake_until {
        hint::spin_loop();
    }
    if let Some(lookout) = lookout {
        while ended.recv_timeout(lookout.every) == Err(RecvTimeoutError::Timeout) {
            (lookout.look)();
        }
    }
}
