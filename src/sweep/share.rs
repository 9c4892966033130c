//! Work shared out among threads, the calling one among them.

use std::cell::Cell;
use std::hint;
use std::sync::mpsc::{self, RecvTimeoutError, TryRecvError};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use super::{SweepError, pool};

/// What the calling thread looks after while it computes: signals, a progress bar.
pub struct Lookout<'a> {
    every: Duration,
    look: &'a dyn Fn(),
    next: Cell<Instant>,
    asked: Cell<u32>,
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
        }
    }

    /// Look, if it is time.
    pub(super) fn when_due(&self) {
        if Instant::now() >= self.next.get() {
            (self.look)();
            self.next.set(Instant::now() + self.every);
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
/// the work, and no more threads than wanted are ever at work. Ends when everything is done.
pub(super) fn share<T: Send, R>(
    threads: usize,
    next: impl FnMut() -> Option<T> + Send,
    room: impl Fn() -> R + Sync,
    work: impl Fn(&mut R, T, Option<&Lookout<'_>>) + Sync,
    first: impl FnOnce(),
    lookout: Option<&Lookout<'_>>,
) -> Result<(), SweepError> {
    if threads == 1 {
        let mut next = next;
        first();
        let mut room = room();
        while let Some(piece) = next() {
            work(&mut room, piece, lookout);
        }
        return Ok(());
    }
    let pool = pool(threads)?;
    let next = Mutex::new(next);
    let take = || (next.lock().unwrap_or_else(PoisonError::into_inner))();
    pool.in_place_scope(|scope| {
        // Nothing is ever sent: the channel tells when the last thread has let go of its end.
        let (sender, ended) = mpsc::channel::<()>();
        for _ in 1..threads {
            let sender = sender.clone();
            let (take, room, work) = (&take, &room, &work);
            scope.spawn(move |_| {
                let mut room = room();
                while let Some(piece) = take() {
                    work(&mut room, piece, None);
                }
                drop(sender);
            });
        }
        drop(sender);
        first();
        let mut room = room();
        while let Some(piece) = take() {
            work(&mut room, piece, lookout);
        }
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
    });
    Ok(())
}
