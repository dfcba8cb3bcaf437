//! What stands round and over the picture: panels, labels, dialogs.

mod ask;
mod build;
mod corners;
mod desk;
mod fields;
mod labels;
mod look;
mod marks;
mod pieces;
mod tools;
mod top;
mod view;
mod ways;

pub use desk::Desk;

use crate::eye::Pane;
use crate::scene::Stage;
use crate::state::Session;
use egui::{Context, Rect, pos2};
use kiss3d::egui;

/// Height of the bar on top.
const TOP: f32 = 62.0;
/// Width of the job's fields.
const LEFT: f32 = 404.0;
/// Width of the pieces' list.
const RIGHT: f32 = 452.0;
/// Height of the strip of ways.
const WAYS: f32 = 212.0;
/// What the tools take of the picture's top.
const TOOLS: f64 = 92.0;
/// Part of the window that the large numbers of building take.
const BUILD: f32 = 0.52;

/// Draws all panels, and takes in what is done with them. Returns where the picture is.
pub fn draw(
    ctx: &Context,
    all: Rect,
    session: &mut Session,
    stage: &Stage,
    desk: &mut Desk,
) -> Pane {
    desk.begin(ctx);
    desk.tools = TOOLS;
    look::apply(ctx);
    let is_building = session.step.is_some();
    let below = |left: f32, right: f32, top: f32, bottom: f32| {
        Rect::from_min_max(
            pos2(left, top),
            pos2(right.max(left + 1.0), bottom.max(top + 1.0)),
        )
    };
    let left = if is_building {
        all.left()
    } else {
        all.left() + LEFT
    };
    let right = if is_building {
        all.right() - all.width() * BUILD
    } else {
        all.right() - RIGHT
    };
    let has_ways = !is_building && session.found_ways().len() > 1;
    let bottom = if has_ways {
        all.bottom() - WAYS
    } else {
        all.bottom()
    };
    let picture = below(left, right, all.top() + TOP, bottom);
    let pane = desk.pane_of(&picture);

    view::draw(ctx, session, stage, desk, picture, &pane);
    if is_building {
        build::draw(
            ctx,
            session,
            desk,
            below(right, all.right(), all.top() + TOP, all.bottom()),
        );
    } else {
        fields::draw(
            ctx,
            session,
            desk,
            below(all.left(), left, all.top() + TOP, all.bottom()),
        );
        pieces::draw(
            ctx,
            session,
            desk,
            below(right, all.right(), all.top() + TOP, all.bottom()),
        );
    }
    // After the fields: what is typed in them is part of what is saved.
    top::draw(
        ctx,
        session,
        desk,
        below(all.left(), all.right(), all.top(), all.top() + TOP),
    );
    if has_ways {
        ways::draw(ctx, session, desk, below(left, right, bottom, all.bottom()));
    }
    tools::draw(ctx, session, stage, desk, picture);
    ask::draw(ctx, session, desk, picture);
    desk.keys(ctx, session);
    pane
}

/// Draws the run's labels over a picture that fills the window. Returns where that is.
pub fn draw_bare(
    ctx: &Context,
    all: Rect,
    session: &mut Session,
    stage: &Stage,
    desk: &mut Desk,
) -> Pane {
    desk.begin(ctx);
    look::apply(ctx);
    let pane = desk.pane_of(&all);
    view::draw(ctx, session, stage, desk, all, &pane);
    pane
}
