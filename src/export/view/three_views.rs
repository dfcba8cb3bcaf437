//! The runs in front, top and side view, third-angle, with main sizes.

use super::canvas::{FAINT, INK, Paint};
use super::dimension::Dimension;
use super::ink::ink;
use super::label::{Frame, Label};
use super::numbers::Numbers;
use super::{Area, Gaze, Look, Offset, Painting, Picture, Plate, Scale, Shown, Spot};
use super::{flow::flow, letters, triad};
use crate::geometry::Point;
use crate::run::Run;
use crate::units::Length;

/// Room round each view for arrows, names and numbers, in text heights.
const ZONE: f64 = 5.6;
/// From one dimension line to the next, in text heights.
const LINE: f64 = 2.3;
/// Most runs whose ports' distances are shown; with more only sizes over all.
const MOST_PORTS: usize = 3;
/// Distances below this, mm, are none.
const NO_DISTANCE: f64 = 1e-3;

/// Sizes along one axis: what is measured between, and how it reads.
struct Size {
    ends: [Point; 2],
    text: String,
}

/// One of the views.
struct View {
    title: &'static str,
    gaze: Gaze,
    /// Where its zero is.
    origin: Offset,
}

/// Front view, top view above it, right side beside it: third-angle projection, all to one
/// scale.
///
/// Each size is on one view only: x on the front, y on the top, z on the side; the ports'
/// distance nearer to the run than the size over all.
pub fn three_views(runs: &[Shown<'_>], look: &Look) -> Picture {
    let sizes = if look.sizes {
        sizes(runs, look)
    } else {
        [(); 3].map(|()| Vec::new())
    };
    let lines = sizes.each_ref().map(|sizes| LINE * sizes.len() as f64);
    let fixed = [4.0 * ZONE + lines[1] + lines[2], 4.0 * ZONE + lines[0]];
    let mut plate = Plate::new(look, fixed);
    let Some((low, high)) = bounds(runs) else {
        return plate.finish();
    };
    let text = plate.text;
    let page = *plate.room.page();
    let size = high - low;
    let factor = ((page.width() - fixed[0] * text) / (size.x + size.y))
        .min((page.height() - fixed[1] * text) / (size.y + size.z));
    let zone = ZONE * text;
    // Left of the front view, and top of the top view and of the front view.
    let left = page.low.x + lines[1] * text + zone;
    let top = page.low.y + zone;
    let below = top + size.y * factor + 2.0 * zone;
    let beside = left + size.x * factor + 2.0 * zone;
    let views = [
        View {
            title: "front",
            gaze: Gaze::front(),
            origin: Offset::new(left - low.x * factor, below + high.z * factor),
        },
        View {
            title: "top",
            gaze: Gaze::top(),
            origin: Offset::new(left - low.x * factor, top + high.y * factor),
        },
        View {
            title: "right side",
            gaze: Gaze::side(),
            origin: Offset::new(beside - low.y * factor, below + high.z * factor),
        },
    ];
    let all: Vec<&Run> = runs.iter().map(|shown| shown.run).collect();
    let drawn = views.map(|view| {
        let scale = Scale {
            factor,
            origin: view.origin,
        };
        let painting = Painting::new(&all, view.gaze);
        let corners = [low, high].map(|corner| scale.place(&view.gaze.place(&corner)));
        (view.title, painting, scale, Area::round(&corners))
    });
    // Under the tube, so that their lines are seen beside it only.
    for (axis, (sizes, (_, painting, scale, area))) in sizes.iter().zip(&drawn).enumerate() {
        dimensions(&mut plate, axis, sizes, painting.gaze(), scale, area);
    }
    for (_, painting, scale, _) in &drawn {
        ink(&mut plate, painting, scale);
    }
    for (title, painting, scale, area) in &drawn {
        triad::triad(&mut plate, painting.gaze(), &area.grown(zone));
        if look.ports {
            flow(&mut plate, painting, scale, runs);
        }
        entitle(&mut plate, title, area);
    }
    projection_sign(&mut plate, Spot::new(beside, top));
    for (_, painting, scale, _) in &drawn {
        Numbers {
            painting,
            scale,
            runs,
            hidden: false,
        }
        .put(&mut plate, look);
    }
    plate.finish()
}

/// The box of all runs.
fn bounds(runs: &[Shown<'_>]) -> Option<(Point, Point)> {
    let boxes = runs.iter().map(|shown| shown.run.bounds());
    boxes.reduce(|(low, high), (a, b)| (low.inf(&a), high.sup(&b)))
}

/// Sizes along x, y and z, the outermost last.
fn sizes(runs: &[Shown<'_>], look: &Look) -> [Vec<Size>; 3] {
    let boxes = bounds(runs);
    [0, 1, 2].map(|axis| {
        let mut sizes = Vec::new();
        let mut add = |prefix: String, ends: [Point; 2]| {
            let size = (ends[1][axis] - ends[0][axis]).abs();
            if size > NO_DISTANCE {
                let size = look.style.length(Length::from_mm(size));
                let text = format!("{prefix}{size}");
                sizes.push(Size { ends, text });
            }
        };
        if runs.len() <= MOST_PORTS {
            for shown in runs {
                let ends = shown.run.centerline().ends().map(|(point, _)| point);
                let prefix = if runs.len() > 1 {
                    format!("{}: ", letters::fitted(shown.name, 1.0, NAME))
                } else {
                    String::new()
                };
                add(prefix, ends);
            }
        }
        if let Some((low, high)) = boxes {
            add(String::new(), [low, high]);
        }
        sizes
    })
}

/// Widest name of a run before a size, in text heights.
const NAME: f64 = 10.0;

/// Sizes along an axis on the sheet's outside: x below, y on the left, z on the right.
fn dimensions(
    plate: &mut Plate,
    axis: usize,
    sizes: &[Size],
    gaze: &Gaze,
    scale: &Scale,
    area: &Area,
) {
    for (number, size) in sizes.iter().enumerate() {
        let off = (ZONE + LINE * (number as f64 + 0.75)) * plate.text;
        let (upright, line) = match axis {
            0 => (false, area.high.y + off),
            1 => (true, area.low.x - off + 0.5 * LINE * plate.text),
            _ => (true, area.high.x + off),
        };
        let mut ends = size.ends.map(|end| scale.place(&gaze.place(&end)));
        if number + 1 == sizes.len() {
            // What is measured over all begins at the box's edge on that side.
            for end in &mut ends {
                match axis {
                    0 => end.y = area.high.y,
                    1 => end.x = area.low.x,
                    _ => end.x = area.high.x,
                }
            }
        }
        Dimension {
            ends,
            upright,
            line,
            text: size.text.clone(),
        }
        .draw(plate);
    }
}

/// A view's title near its upper left corner.
fn entitle(plate: &mut Plate, title: &str, area: &Area) {
    let half = plate.half_size(title);
    let corner = area.low + Offset::new(half[0], -3.4 * plate.text);
    let label = Label {
        text: title.to_owned(),
        frame: Frame::None,
        half,
        run: 0,
        anchors: vec![corner],
        hidden: false,
        way: Offset::new(1.0, -1.0),
    };
    if !label.put(plate, corner) {
        label.place(plate);
    }
}

/// The sign of third-angle projection: a cone, and beside its small end what is seen from
/// there. Source: ISO 5456-2 (from memory).
fn projection_sign(plate: &mut Plate, corner: Spot) {
    let [thick, thin] = plate.lines();
    let big = 1.6 * plate.text;
    let small = big / 2.0;
    let round = corner + Offset::new(big, 0.0);
    let cone = round + Offset::new(2.2 * big, 0.0);
    for radius in [big, small] {
        let paint = Paint {
            fill: "none",
            stroke: INK,
            width: thick,
        };
        plate.canvas.disc(round, radius, paint);
    }
    let [left, right] = [-big, big].map(|x| cone + Offset::new(x, 0.0));
    let corners = [
        left + Offset::new(0.0, -small),
        right + Offset::new(0.0, -big),
        right + Offset::new(0.0, big),
        left + Offset::new(0.0, small),
    ];
    let paint = Paint {
        fill: "none",
        stroke: INK,
        width: thick,
    };
    plate.canvas.polyline(&corners, true, paint);
    let line = Paint::line(FAINT, thin);
    let reach = 1.25 * big;
    for center in [round, cone] {
        let across = Offset::new(reach, 0.0);
        plate
            .canvas
            .polyline(&[center - across, center + across], false, line);
    }
    let up = Offset::new(0.0, reach);
    plate
        .canvas
        .polyline(&[round - up, round + up], false, line);
    plate.room.take(&Area {
        low: round - Offset::new(reach, reach),
        high: cone + Offset::new(reach, reach),
    });
}
