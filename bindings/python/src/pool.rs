//! Threads: a pool of this process's own, and work that the keyboard can interrupt.

use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::process;
use std::sync::{Arc, Mutex, PoisonError, mpsc};
use std::thread;
use std::time::Duration;

use pyo3::prelude::*;
use rayon::{ThreadPool, ThreadPoolBuilder};

use crate::errors::{Answer, Failure};

/// The pool, and the process that made it.
///
/// A forked child inherits the pool's memory and none of its threads, so work handed to it would wait forever. It makes its
/// own, and lets the other lie. The lock is taken with the interpreter attached only, as a fork by Python is: no other
/// thread holds it at that moment.
static POOL: Mutex<Option<(u32, Arc<ThreadPool>)>> = Mutex::new(None);

/// The pool of this process.
pub(crate) fn pool(_: Python<'_>) -> Answer<Arc<ThreadPool>> {
    let mut made = POOL.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((process, pool)) = made.as_ref()
        && *process == process::id()
    {
        return Ok(Arc::clone(pool));
    }
    let fresh = ThreadPoolBuilder::new()
        .thread_name(|place| format!("casetight {place}"))
        .build()
        .map_err(|error| Failure::new(format!("no threads to fit with: {error}")))?;
    let fresh = Arc::new(fresh);
    let before = made.replace((process::id(), Arc::clone(&fresh)));
    // Its end would be told to threads that this process never had.
    std::mem::forget(before);
    Ok(fresh)
}

/// How long the keyboard waits to be heard.
const LOOK: Duration = Duration::from_millis(50);

/// Work on a thread of its own, with the interpreter free, while this one looks out for signals.
///
/// Where one raises, as Ctrl-C does, the answer is that error; the thread goes on to its end and what it finds is dropped.
pub(crate) fn interruptible<T: Send + 'static>(
    py: Python<'_>,
    work: impl FnOnce() -> T + Send + 'static,
) -> Answer<T> {
    let (done, mut waiting) = mpsc::sync_channel(1);
    thread::Builder::new()
        .name("casetight".to_owned())
        .spawn(move || done.send(catch_unwind(AssertUnwindSafe(work))))
        .map_err(PyErr::from)?;
    loop {
        let (got, back) = py.detach(move || (waiting.recv_timeout(LOOK), waiting));
        waiting = back;
        match got {
            Ok(Ok(found)) => return Ok(found),
            Ok(Err(panicked)) => resume_unwind(panicked),
            Err(mpsc::RecvTimeoutError::Timeout) => py.check_signals()?,
            Err(mpsc::RecvTimeoutError::Disconnected) => {
                return Err(Failure::new(
                    "the thread that reckoned ended without an answer",
                ));
            }
        }
    }
}
