//! Work that must come to an end.

use std::collections::HashMap;
use std::io::{self, Write};
use std::sync::{LazyLock, Mutex, PoisonError};
use std::thread::{self, ThreadId};
use std::time::{Duration, Instant};

type Running = HashMap<ThreadId, (Instant, Vec<u8>)>;

static RUNNING: LazyLock<Mutex<Running>> = LazyLock::new(|| {
    thread::spawn(look);
    Mutex::default()
});

/// How often is looked.
const PAUSE: Duration = Duration::from_millis(200);

/// Ends the process where work on an input took too long, and shows the input: a thread
/// cannot be stopped, and a test that hangs tells nothing.
fn look() {
    loop {
        thread::sleep(PAUSE);
        let running = RUNNING.lock().unwrap_or_else(PoisonError::into_inner);
        let late = running.values().find(|(due, _)| Instant::now() > *due);
        if let Some((_, input)) = late {
            // Past what captures the output of tests.
            let shown = String::from_utf8_lossy(input);
            let _ = writeln!(io::stderr(), "took too long:\n{shown}");
            std::process::abort();
        }
    }
}

/// Does `work` on `input`, which may take up to `patience`.
pub fn watched<T>(input: &[u8], patience: Duration, work: impl FnOnce() -> T) -> T {
    /// Taken off the list in any case.
    struct Listed;
    impl Drop for Listed {
        fn drop(&mut self) {
            let mut running = RUNNING.lock().unwrap_or_else(PoisonError::into_inner);
            running.remove(&thread::current().id());
        }
    }
    let due = Instant::now() + patience;
    let mut running = RUNNING.lock().unwrap_or_else(PoisonError::into_inner);
    running.insert(thread::current().id(), (due, input.to_vec()));
    drop(running);
    let _listed = Listed;
    work()
}
