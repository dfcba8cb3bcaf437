//! [`Bench`]: session, stage and panels together, whatever they are drawn on.

use crate::eye::{Eye, Pane};
use crate::panel::{self, Desk};
use crate::scene::{Camera, Stage};
use crate::state::Session;
use kiss3d::egui::{Pos2, Rect, vec2};
use kiss3d::window::Window;
use std::time::{Duration, Instant};

/// All that makes a picture.
pub struct Bench {
    /// What is open and chosen.
    pub session: Session,
    /// The shapes.
    pub stage: Stage,
    /// What panels remember.
    pub desk: Desk,
    /// Only the run with its labels.
    pub is_bare: bool,
    /// How it is told that the eye moves.
    pub motion: Motion,
    /// Triangles that the last picture drew.
    pub drawn: usize,
}

/// How it is told that the eye moves: large scans are then drawn coarser.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Motion {
    /// As it is said.
    Said(bool),
    /// By watching it: where it last was, and since when.
    Watched(Eye, Instant),
}

/// How long after it last moved an eye is at rest.
const REST: Duration = Duration::from_millis(180);

impl Motion {
    /// Takes in where the eye is; whether it moves.
    fn take(&mut self, eye: &Eye) -> bool {
        match self {
            Self::Said(moves) => *moves,
            Self::Watched(last, since) => {
                if last != eye {
                    (*last, *since) = (*eye, Instant::now());
                }
                since.elapsed() < REST
            }
        }
    }
}

impl Bench {
    /// A bench that draws on `window`.
    pub fn new(window: &mut Window, session: Session, is_bare: bool) -> Self {
        Self {
            session,
            stage: Stage::new(window),
            desk: Desk::default(),
            is_bare,
            motion: Motion::Said(false),
            drawn: 0,
        }
    }

    /// Whether the next picture differs from the last by itself: shapes are being made, or
    /// the eye has moved and comes to rest.
    pub fn is_settling(&self) -> bool {
        self.stage.is_moving || self.stage.is_waiting()
    }

    /// Lays out the next picture: panels, shapes, lines and from where it is seen.
    pub fn lay_out(&mut self, window: &mut Window) -> Camera {
        let mut pane = Pane {
            x: 0.0,
            y: 0.0,
            width: 1.0,
            height: 1.0,
        };
        // Not what the panels' library says, which knows no size before its first picture.
        let scale = window.scale_factor().max(0.1);
        let size = [
            f64::from(window.width()) / scale,
            f64::from(window.height()) / scale,
        ];
        let all = Rect::from_min_size(Pos2::ZERO, vec2(size[0] as f32, size[1] as f32));
        let Self {
            session,
            stage,
            desk,
            is_bare,
            motion,
            drawn,
        } = self;
        stage.follow(session);
        window.draw_ui(|ctx| {
            pane = if *is_bare {
                panel::draw_bare(ctx, all, session, stage, desk)
            } else {
                panel::draw(ctx, all, session, stage, desk)
            };
        });
        // What was pressed shows at once.
        stage.is_moving = motion.take(&session.view.eye);
        stage.follow(session);
        stage.draw_lines(window, session);
        let camera = stage.camera(session, &pane, size);
        *drawn = stage.cull(&camera);
        camera
    }

    /// Draws the next picture; `false` once the window has closed.
    pub async fn draw(&mut self, window: &mut Window) -> bool {
        let mut camera = self.lay_out(window);
        window.render_3d(self.stage.root(), &mut camera).await
    }
}
