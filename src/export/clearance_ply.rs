//! `clearance.ply`: an outside colored by the room that it has. Binary, little endian,
//! millimeters; each vertex also has its room as a number, `room_mm`.
//!
//! Colors run from dark orange through pale to dark blue: by lightness alone they read as
//! dark, light, dark, and orange and blue look different whichever cones an eye lacks.
//! At zero room the color jumps, so that what is too near has an edge on a bright screen.

use super::OutFile;
use crate::clear::Rooms;

const FILE: &str = "clearance.ply";

/// Red, green and blue.
type Color = [u8; 3];

/// A room, mm, and its color.
type Stop = (f64, Color);

/// Too near: from 10 mm short to none, orange.
const TOO_NEAR: [Stop; 2] = [(-10.0, [110, 38, 0]), (0.0, [240, 128, 30])];
/// Room: pale where there is just enough, light blue from 25 mm, dark blue from 100 mm.
const ENOUGH: [Stop; 3] = [
    (0.0, [250, 240, 215]),
    (25.0, [128, 176, 218]),
    (100.0, [10, 44, 104]),
];
/// Not asked about: gray.
const EXEMPT: Color = [140, 140, 140];

/// The color of a place.
fn color(room: f64, asked: bool) -> Color {
    if !asked {
        EXEMPT
    } else if room < 0.0 {
        between(&TOO_NEAR, room)
    } else {
        between(&ENOUGH, room)
    }
}

/// The color of `room` among `stops`, which rise.
fn between(stops: &[Stop], room: f64) -> Color {
    let above = stops.partition_point(|(stop, _)| *stop <= room);
    let (Some(low), Some(high)) = (above.checked_sub(1), stops.get(above)) else {
        // Beyond the first or the last.
        let end = if above == 0 {
            stops.first()
        } else {
            stops.last()
        };
        return end.map_or(EXEMPT, |(_, color)| *color);
    };
    let (low, high) = (stops[low], *high);
    let part = (room - low.0) / (high.0 - low.0);
    std::array::from_fn(|i| {
        let (from, to) = (f64::from(low.1[i]), f64::from(high.1[i]));
        (from + (to - from) * part).round() as u8
    })
}

/// The file.
pub fn clearance_ply(rooms: &Rooms) -> OutFile {
    let mut bytes = header(rooms).into_bytes();
    let places = rooms.rooms.iter().zip(&rooms.asked);
    for (point, (&room, &asked)) in rooms.points.iter().zip(places) {
        for x in point.iter() {
            bytes.extend((*x as f32).to_le_bytes());
        }
        bytes.extend(color(room, asked));
        bytes.extend((room as f32).to_le_bytes());
    }
    for corners in &rooms.triangles {
        bytes.push(3);
        for corner in corners {
            bytes.extend(corner.to_le_bytes());
        }
    }
    OutFile::new(FILE, bytes)
}

fn header(rooms: &Rooms) -> String {
    let stop =
        |what: &str, (room, [r, g, b]): &Stop| format!("comment   {what} {room} mm: {r} {g} {b}\n");
    let near = TOO_NEAR.iter().map(|s| stop("too near, room", s));
    let enough = ENOUGH.iter().map(|s| stop("clear, room", s));
    let stops: String = near.chain(enough).collect();
    let [r, g, b] = EXEMPT;
    format!(
        "ply\nformat binary_little_endian 1.0\n\
         comment millimeters; room_mm is what is left beyond the clearance\n\
         comment color by room (red green blue):\n{stops}\
         comment   not checked, by a port: {r} {g} {b}\n\
         element vertex {}\n\
         property float x\nproperty float y\nproperty float z\n\
         property uchar red\nproperty uchar green\nproperty uchar blue\n\
         property float room_mm\n\
         element face {}\n\
         property list uchar uint vertex_indices\nend_header\n",
        rooms.points.len(),
        rooms.triangles.len(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;
    use crate::scan::{Wanted, read_mesh};
    use crate::units::Length;

    #[test]
    fn colors_meet_their_stops_and_jump_at_zero() {
        for (room, wanted) in TOO_NEAR.iter().take(1).chain(&ENOUGH) {
            assert_eq!(color(*room, true), *wanted);
        }
        assert_eq!(color(-1e9, true), TOO_NEAR[0].1);
        assert_eq!(color(f64::INFINITY, true), ENOUGH[2].1);
        assert_eq!(color(-1e-9, true), TOO_NEAR[1].1);
        assert_eq!(color(50.0, false), EXEMPT);
    }

    #[test]
    fn the_file_is_read_back() {
        let rooms = Rooms {
            points: [
                [0.0, 0.0, 0.0],
                [9.0, 0.0, 0.0],
                [0.0, 9.0, 0.0],
                [9.0, 9.0, 1.0],
            ]
            .map(Point::from)
            .to_vec(),
            triangles: vec![[0, 1, 2], [1, 3, 2]],
            rooms: vec![-3.0, 0.0, 12.0, 200.0],
            asked: vec![true, true, false, true],
        };
        let file = clearance_ply(&rooms);
        let wanted = Wanted::all(Length::from_mm(1.0));
        let mesh = read_mesh(FILE, file.bytes.as_slice(), &wanted)
            .unwrap()
            .mesh;
        assert_eq!(mesh.triangles, rooms.triangles);
        assert_eq!(mesh.points, rooms.points);
    }
}
