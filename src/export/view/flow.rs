//! Where runs begin and end: an arrow along the flow and the port's name.

use super::arrow::{arrow, sign};
use super::canvas::ACCENT;
use super::label::{Frame, Label};
use super::{Area, Offset, Painting, Plate, Scale, Shown, Spot, letters};
use crate::geometry::Vector;

/// Length of an arrow, and from it to the tube's end, in text heights.
const LENGTH: f64 = 2.6;
const GAP: f64 = 0.5;
/// An arrow that shows less of its length than this is a sign instead.
const SHOWN: f64 = 0.3;
/// Widest name, as a part of the page.
const NAME: f64 = 0.4;

/// An end of a run, marked.
struct Mark {
    tail: Spot,
    tip: Spot,
    outward: Offset,
    name: String,
    run: usize,
}

/// Puts an arrow and a name on each end of each run.
pub fn flow(plate: &mut Plate, painting: &Painting, scale: &Scale, runs: &[Shown<'_>]) {
    let mut marks = Vec::new();
    for (index, shown) in runs.iter().enumerate() {
        for (end, (point, inward)) in shown.run.centerline().ends().into_iter().enumerate() {
            let name = if runs.len() > 1 && end == 0 {
                format!("{}: {}", shown.name, shown.ports[end])
            } else {
                shown.ports[end].to_owned()
            };
            let outward = -inward.into_inner();
            let radius = shown.run.tube().radius().mm();
            let center = scale.place(&painting.gaze().place(&point));
            let (tail, tip) = mark(plate, painting, scale, center, &outward, radius, end == 0);
            marks.push(Mark {
                tail,
                tip,
                outward: painting.gaze().flatten(&outward),
                name,
                run: index,
            });
        }
    }
    for mark in marks {
        name(plate, &mark);
    }
}

/// Draws the arrow into or out of an end; where its tail and its tip are.
fn mark(
    plate: &mut Plate,
    painting: &Painting,
    scale: &Scale,
    center: Spot,
    outward: &Vector,
    radius: f64,
    is_start: bool,
) -> (Spot, Spot) {
    let gaze = painting.gaze();
    let flat = gaze.flatten(outward);
    let shown = flat.norm();
    if shown < SHOWN {
        let comes = (outward.dot(&gaze.toward) > 0.0) != is_start;
        sign(plate, center, comes, ACCENT);
        return (center, center);
    }
    let way = flat / shown;
    // The face's ellipse reaches r·√(1 − shown²) that way.
    let reach = radius * scale.factor * (1.0 - shown * shown).max(0.0).sqrt();
    let near = center + way * (reach + GAP * plate.text);
    let far = near + way * (LENGTH * plate.text);
    let [from, to] = if is_start { [far, near] } else { [near, far] };
    let [thick, _] = plate.lines();
    arrow(plate, from, to, thick * 1.8, ACCENT, 1.3);
    plate.room.take_line(near, far);
    plate
        .room
        .take(&Area::about(nalgebra::center(&near, &far), 0.0, 0.0));
    (near, far)
}

fn name(plate: &mut Plate, mark: &Mark) {
    let most = NAME * plate.room.page().width();
    let text = letters::fitted(&mark.name, plate.text, most);
    let label = Label {
        half: plate.half_size(&text),
        text,
        frame: Frame::None,
        run: mark.run,
        anchors: vec![mark.tip],
        hidden: false,
        way: mark.outward + Offset::new(0.0, -1e-3),
    };
    if mark.tail == mark.tip || !label.put(plate, beyond(plate, mark, &label)) {
        label.place(plate);
    }
}

/// Just beyond the arrow.
fn beyond(plate: &Plate, mark: &Mark, label: &Label) -> Spot {
    let way = mark.outward.normalize();
    let step = 0.5 * plate.text;
    let [across, up] = label.half;
    mark.tip + way * (step + (across / way.x.abs()).min(up / way.y.abs()))
}
