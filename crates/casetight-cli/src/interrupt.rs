//! What the system asks of a command that is to end: Ctrl-C, a shutdown, a terminal that is closed.
//!
//! A file that grows is removed. A live run is told first, so that it ends with what it knows; asked a second time, it ends at
//! once.

use std::sync::{Mutex, PoisonError};

use casetight_files::whole::remove_unfinished;

/// Who is told first.
type Told = Box<dyn FnOnce() + Send>;

static TOLD: Mutex<Option<Told>> = Mutex::new(None);

/// Tells this one before the command ends by itself.
pub(crate) fn tell_first(told: impl FnOnce() + Send + 'static) {
    *TOLD.lock().unwrap_or_else(PoisonError::into_inner) = Some(Box::new(told));
}

/// Whether someone was told, who ends the command.
fn told() -> bool {
    let told = TOLD.lock().unwrap_or_else(PoisonError::into_inner).take();
    let there = told.is_some();
    if let Some(told) = told {
        told();
    }
    there
}

/// Waits for the system's word from here on. Where that is not possible, a file that grows stays after it; nothing else is lost.
#[cfg(unix)]
pub(crate) fn listen() {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    use signal_hook::iterator::Signals;
    use signal_hook::low_level::emulate_default_handler;

    let ignored = ignored();
    let heard = [SIGHUP, SIGINT, SIGTERM].into_iter();
    let Ok(mut signals) = Signals::new(heard.filter(|signal| ignored >> (signal - 1) & 1 == 0))
    else {
        return;
    };
    std::thread::spawn(move || {
        for signal in signals.forever() {
            if !told() {
                remove_unfinished();
                // It ends by the signal itself, which is what a shell looks for.
                let _ = emulate_default_handler(signal);
            }
        }
    });
}

/// The signals that whoever started this program had it ignore, as `nohup` does, a bit each; where the system does not tell,
/// none.
#[cfg(unix)]
fn ignored() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok())
        .unwrap_or(0)
}

/// Waits for the system's word from here on.
#[cfg(windows)]
pub(crate) fn listen() {
    /// The exit status that Windows gives to a program ended by Ctrl-C, `STATUS_CONTROL_C_EXIT` (from memory).
    const ENDED: i32 = 0xC000_013A_u32.cast_signed();
    let _ = ctrlc::set_handler(|| {
        if !told() {
            remove_unfinished();
            std::process::exit(ENDED);
        }
    });
}
