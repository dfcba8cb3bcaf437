//! What the command line says.

use crate::eye::Side;
use crate::state::{SectionAxis, SectionPlane, Session};
use clap::{Parser, ValueEnum};
use runwright::geometry::Point;
use std::path::PathBuf;

/// See a planned run, turn it, change it, and build it piece by piece.
///
/// Example: runwright-bench examples/stack.json
#[derive(Debug, Parser)]
#[command(name = "runwright-bench", version, verbatim_doc_comment)]
pub struct Arguments {
    /// A job, a plan.json, or what was built.
    pub file: Option<PathBuf>,
    /// Write a picture of the window and end, without opening one.
    #[arg(long, value_name = "FILE.png")]
    pub snapshot: Option<PathBuf>,
    /// Size of the window, or of the picture, in pixels.
    #[arg(long, value_name = "WxH", default_value = "1600x1000", value_parser = size)]
    pub size: (u32, u32),
    /// Only the run with its labels, without panels.
    #[arg(long)]
    pub bare: bool,
    /// Where to look from.
    #[arg(long, value_enum)]
    pub view: Option<ViewArgument>,
    /// Without perspective.
    #[arg(long)]
    pub parallel: bool,
    /// Color the run by the room that it has.
    #[arg(long)]
    pub heat: bool,
    /// Cut it open: x, y or z and a part of the way through, such as y=0.5; with a minus
    /// before the letter the other side is left.
    #[arg(long, value_name = "AXIS=PART", value_parser = section, allow_hyphen_values = true)]
    pub section: Option<SectionPlane>,
    /// Show scans and bodies in the way as solid, see through them, or hide them.
    #[arg(long, value_enum)]
    pub scene: Option<SceneArgument>,
    /// Look at this run, from 1.
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    pub run: usize,
    /// Take this way to make it, from 1.
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    pub way: usize,
    /// Choose this piece, from 1.
    #[arg(long, value_name = "NUMBER")]
    pub piece: Option<usize>,
    /// Go to this step of building it, from 1.
    #[arg(long, value_name = "NUMBER")]
    pub step: Option<usize>,
    /// Measure between two places: x,y,z,x,y,z in mm.
    #[arg(long, value_name = "NUMBERS", value_parser = places, allow_hyphen_values = true)]
    pub measure: Option<[Point; 2]>,
    /// Draw so many pictures off screen, at rest and moving, say where their time goes, and
    /// end.
    #[arg(long, value_name = "COUNT")]
    pub frames: Option<u32>,
    /// Keep telling in this file what is shown and where what can be pressed stands: for
    /// tests that drive the window.
    #[arg(long, value_name = "FILE", hide = true)]
    pub tell: Option<PathBuf>,
}

/// Where to look from.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum ViewArgument {
    /// From a corner above.
    Corner,
    /// From where x is positive.
    X,
    /// From where x is negative.
    MinusX,
    /// From where y is positive.
    Y,
    /// From where y is negative.
    MinusY,
    /// From above.
    Top,
    /// From below.
    Below,
}

impl From<ViewArgument> for Side {
    fn from(view: ViewArgument) -> Self {
        match view {
            ViewArgument::Corner => Self::Corner,
            ViewArgument::X => Self::Axis(0, true),
            ViewArgument::MinusX => Self::Axis(0, false),
            ViewArgument::Y => Self::Axis(1, true),
            ViewArgument::MinusY => Self::Axis(1, false),
            ViewArgument::Top => Self::Axis(2, true),
            ViewArgument::Below => Self::Axis(2, false),
        }
    }
}

/// How scans and bodies in the way are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum SceneArgument {
    /// As solid.
    Solid,
    /// Seen through.
    Through,
    /// Not at all.
    Hidden,
}

impl Arguments {
    /// Brings the session to what was asked for; what it has not is left out.
    pub fn apply(&self, session: &mut Session) {
        if let Some(run) = self.run.checked_sub(1) {
            session.look_at(run);
        }
        if let Some(way) = self.way.checked_sub(1) {
            session.take_way(way);
        }
        session.wait();
        let pieces = session
            .shown
            .run(session.run)
            .map_or(0, |run| run.pieces().len());
        session.piece = self
            .piece
            .and_then(|piece| piece.checked_sub(1))
            .filter(|piece| *piece < pieces);
        let steps = session.steps().len();
        session.step = self
            .step
            .and_then(|step| step.checked_sub(1))
            .filter(|step| *step < steps);
        let view = &mut session.view;
        if let Some(side) = self.view {
            view.eye.look_from(side.into());
        }
        view.eye.parallel = self.parallel;
        view.heat = self.heat;
        view.section = self.section;
        if let Some(scene) = self.scene {
            view.see_through = scene != SceneArgument::Solid;
            view.hide_scene = scene == SceneArgument::Hidden;
        }
        for point in self.measure.iter().flatten() {
            view.measure.pick(*point);
        }
    }
}

fn size(text: &str) -> Result<(u32, u32), String> {
    let parts = text
        .split_once('x')
        .and_then(|(w, h)| Some((w.parse().ok()?, h.parse().ok()?)));
    let fits = |side: u32| (64..=8192).contains(&side);
    parts
        .filter(|(w, h)| fits(*w) && fits(*h))
        .ok_or_else(|| "must be like 1600x1000, each 64 to 8192".to_owned())
}

fn section(text: &str) -> Result<SectionPlane, String> {
    let (rest, flipped) = text
        .strip_prefix('-')
        .map_or((text, false), |rest| (rest, true));
    let parts = rest.split_once('=').and_then(|(axis, part)| {
        let axis = ["x", "y", "z"].iter().position(|name| *name == axis)?;
        let part: f64 = part.parse().ok()?;
        (0.0..=1.0).contains(&part).then_some((axis, part))
    });
    let (axis, part) = parts.ok_or("must be like y=0.5: x, y or z and a part from 0 to 1")?;
    Ok(SectionPlane {
        axis: SectionAxis::Axis(axis),
        part,
        flipped: !flipped,
    })
}

fn places(text: &str) -> Result<[Point; 2], String> {
    let numbers: Result<Vec<f64>, _> = text.split(',').map(|part| part.trim().parse()).collect();
    match numbers.as_deref() {
        Ok([a, b, c, d, e, f]) if [a, b, c, d, e, f].iter().all(|n| n.is_finite()) => {
            Ok([Point::new(*a, *b, *c), Point::new(*d, *e, *f)])
        }
        _ => Err("must be six numbers with commas between: x,y,z,x,y,z in mm".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_is_sound_and_bad_values_are_told() {
        use clap::CommandFactory;
        Arguments::command().debug_assert();
        let parse =
            |more: &[&str]| Arguments::try_parse_from([&["bench", "a.json"], more].concat());
        assert!(parse(&["--section", "-y=0.25", "--size", "800x600"]).is_ok());
        for bad in [
            ["--section", "w=1"],
            ["--section", "x=2"],
            ["--size", "0x5"],
            ["--measure", "1,2"],
        ] {
            assert!(parse(&bad).is_err(), "{bad:?}");
        }
    }
}
