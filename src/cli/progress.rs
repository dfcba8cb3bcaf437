//! A progress bar on stderr for work that takes long, and Ctrl-C that ends it with the
//! best so far.

use crate::route::{Control, Effort, Progress};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Work that takes less than this shows no bar.
const PATIENCE: Duration = Duration::from_millis(400);
/// Redraws a second.
const REDRAWS: u8 = 8;
/// Exit code of a program that a second Ctrl-C ends: 128 + SIGINT.
const INTERRUPTED: i32 = 130;

/// Set by the first Ctrl-C.
static STOP: AtomicBool = AtomicBool::new(false);

/// Calls `work` with a control that shows progress and heeds Ctrl-C.
pub(super) fn watched<T>(effort: Effort, seed: u64, work: impl FnOnce(&Control<'_>) -> T) -> T {
    // Without a handler (there is one already), Ctrl-C ends the program as it always does.
    let _ = ctrlc::set_handler(|| {
        if STOP.swap(true, Ordering::Relaxed) {
            std::process::exit(INTERRUPTED);
        }
    });
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr_with_hz(REDRAWS));
    if let Ok(style) = ProgressStyle::with_template(
        "{spinner} {pos} searches {msg}  (Ctrl-C takes the best so far)",
    ) {
        bar.set_style(style);
    }
    let begun = Instant::now();
    let watch = |progress: Progress| {
        if begun.elapsed() >= PATIENCE {
            bar.set_position(u64::from(progress.searches));
            bar.set_message(if progress.best.is_finite() {
                format!(
                    "of at most {}; best so far {:.2}",
                    progress.most, progress.best
                )
            } else {
                "; nothing found yet".to_owned()
            });
        }
    };
    let result = work(&Control {
        effort,
        seed,
        stop: Some(&STOP),
        watch: Some(&watch),
        ..Control::default()
    });
    bar.finish_and_clear();
    result
}
