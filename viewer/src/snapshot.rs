//! A picture without a window.

use crate::arguments::Arguments;
use crate::bench::{Bench, Motion};
use crate::state::Session;
use image::RgbImage;
use kiss3d::window::{CanvasSetup, NumSamples, Window};
use std::time::Instant;

/// Pictures until panels have found their sizes.
const UNTIL_SETTLED: usize = 4;

/// What `arguments` ask for, drawn off screen.
pub async fn picture(arguments: &Arguments) -> RgbImage {
    let (mut bench, mut window) = off_screen(arguments).await;
    for _ in 0..UNTIL_SETTLED {
        bench.draw(&mut window).await;
    }
    window.snap_image()
}

/// Draws so many pictures off screen, going round the run, at rest and moving; says how
/// long they take and what of it is this program's own thread.
pub async fn time(arguments: &Arguments, count: u32) -> String {
    let (mut bench, mut window) = off_screen(arguments).await;
    let mut lines = Vec::new();
    for (name, moves) in [("at rest", false), ("moving", true)] {
        bench.motion = Motion::Said(moves);
        for _ in 0..UNTIL_SETTLED {
            bench.draw(&mut window).await;
        }
        let mut times = Times::default();
        let mut pixels = Vec::new();
        for _ in 0..count.max(1) {
            bench.session.view.eye.turn(8.0, 0.0);
            times.picture(&mut bench, &mut window, &mut pixels).await;
        }
        lines.push(times.words(name, bench.drawn, count.max(1)));
    }
    lines.join("\n")
}

/// Where a picture's time goes, s; of all pictures together.
#[derive(Clone, Copy, Debug, Default)]
struct Times {
    /// Panels, labels and stage.
    lay_out: f64,
    /// Commands for the graphics driver, panels' triangles among them.
    commands: f64,
    /// Waiting until it is drawn.
    wait: f64,
    /// What this thread really worked in the first two.
    worked: Option<f64>,
}

impl Times {
    async fn picture(&mut self, bench: &mut Bench, window: &mut Window, pixels: &mut Vec<u8>) {
        let (begun, worked) = (Instant::now(), worked());
        let mut camera = bench.lay_out(window);
        let laid_out = begun.elapsed().as_secs_f64();
        window.render_3d(bench.stage.root(), &mut camera).await;
        let commanded = begun.elapsed().as_secs_f64();
        let own = worked.zip(self::worked()).map(|(from, to)| to - from);
        // Waits until it is really drawn.
        window.snap_rect(pixels, 0, 0, 1, 1);
        self.lay_out += laid_out;
        self.commands += commanded - laid_out;
        self.wait += begun.elapsed().as_secs_f64() - commanded;
        self.worked = own.map(|own| own + self.worked.unwrap_or(0.0));
    }

    fn words(&self, name: &str, triangles: usize, count: u32) -> String {
        let each = |seconds: f64| seconds / f64::from(count) * 1e3;
        let whole = each(self.lay_out + self.commands + self.wait);
        let worked = self.worked.map_or(String::new(), |worked| {
            format!(", worked {:.2} ms of it", each(worked))
        });
        format!(
            "{name}: {triangles} triangles, {whole:.1} ms a picture ({:.1} a second): panels and stage {:.2} ms, commands {:.2} ms{worked}; waiting for the driver {:.1} ms",
            1e3 / whole.max(1e-6),
            each(self.lay_out),
            each(self.commands),
            each(self.wait),
        )
    }
}

/// How long this thread has worked, s, where the system tells.
fn worked() -> Option<f64> {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanoseconds: f64 = told.split_whitespace().next()?.parse().ok()?;
    Some(nanoseconds / 1e9)
}

async fn off_screen(arguments: &Arguments) -> (Bench, Window) {
    let mut session = Session::default();
    if let Some(file) = &arguments.file {
        session.open(file);
        session.wait();
    }
    arguments.apply(&mut session);
    let (width, height) = arguments.size;
    let setup = CanvasSetup {
        samples: NumSamples::Four,
        ..CanvasSetup::default()
    };
    let mut window = Window::new_headless_with_setup(width, height, setup).await;
    let mut bench = Bench::new(&mut window, session, arguments.bare);
    bench.stage.wait(&mut bench.session);
    (bench, window)
}
