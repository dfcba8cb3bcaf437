//! A picture without a window.

use crate::arguments::{Arguments, speed};
use crate::bench::Bench;
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

/// Draws so many pictures off screen, going round the run; says how long they take.
pub async fn time(arguments: &Arguments, count: u32) -> String {
    let (mut bench, mut window) = off_screen(arguments).await;
    for _ in 0..UNTIL_SETTLED {
        bench.draw(&mut window).await;
    }
    let mut pixels = Vec::new();
    let begun = Instant::now();
    for _ in 0..count {
        bench.session.view.eye.turn(8.0, 0.0);
        bench.draw(&mut window).await;
        // Waits until it is really drawn.
        window.snap_rect(&mut pixels, 0, 0, 1, 1);
    }
    speed(&bench.stage, count, begun.elapsed().as_secs_f64())
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
    let bench = Bench::new(&mut window, session, arguments.bare);
    (bench, window)
}
