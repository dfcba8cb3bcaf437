//! [`Eye`]: from where the run is looked at, and what that does to points.

use nalgebra::{Matrix4, Vector4};
use runwright::geometry::{Point, Vector};
use std::f64::consts::{FRAC_PI_2, TAU};

/// Half of the angle of view, up and down, rad: that of a common photo lens, so that
/// round things look round.
const HALF_VIEW: f64 = 0.28;
/// How much room is left about what is fitted, as a part of it.
const MARGIN: f64 = 1.12;
/// Nearest and farthest that one may go, mm.
const RANGE: (f64, f64) = (1.0, 1e6);

/// The part of the window that the run is seen in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pane {
    /// From the window's left to its own.
    pub x: f64,
    /// From the window's top to its own.
    pub y: f64,
    /// From left to right.
    pub width: f64,
    /// From top to bottom.
    pub height: f64,
}

impl Pane {
    /// Its middle.
    pub fn center(&self) -> [f64; 2] {
        [self.x + self.width / 2.0, self.y + self.height / 2.0]
    }
}

/// A direction to look from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// From a corner above.
    Corner,
    /// Along an axis, 0 to 2; `true` from its positive end.
    Axis(usize, bool),
}

impl Side {
    /// All of them with their names, in order of their keys 1 to 7.
    pub const ALL: [(&'static str, Self); 7] = [
        ("corner", Self::Corner),
        ("+x", Self::Axis(0, true)),
        ("-x", Self::Axis(0, false)),
        ("+y", Self::Axis(1, true)),
        ("-y", Self::Axis(1, false)),
        ("top", Self::Axis(2, true)),
        ("below", Self::Axis(2, false)),
    ];
}

/// From where the run is looked at: z points up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Eye {
    /// What is looked at.
    pub target: Point,
    /// Round z, from +x toward +y, rad.
    pub yaw: f64,
    /// Above the ground, rad.
    pub pitch: f64,
    /// From the target, mm.
    pub distance: f64,
    /// Whether lines of sight are parallel.
    pub parallel: bool,
}

impl Default for Eye {
    fn default() -> Self {
        let mut eye = Self {
            target: Point::origin(),
            yaw: 0.0,
            pitch: 0.0,
            distance: 1000.0,
            parallel: false,
        };
        eye.look_from(Side::Corner);
        eye
    }
}

impl Eye {
    /// Turns to a side; the target and the distance stay.
    pub fn look_from(&mut self, side: Side) {
        (self.yaw, self.pitch) = match side {
            Side::Corner => (-1.05, 0.45),
            Side::Axis(0, true) => (0.0, 0.0),
            Side::Axis(0, false) => (TAU / 2.0, 0.0),
            Side::Axis(1, true) => (FRAC_PI_2, 0.0),
            Side::Axis(1, false) => (-FRAC_PI_2, 0.0),
            // Seen from above, x goes to the right and y up.
            Side::Axis(_, true) => (-FRAC_PI_2, FRAC_PI_2),
            Side::Axis(_, false) => (-FRAC_PI_2, -FRAC_PI_2),
        };
    }

    /// From the target to the eye, to the right, and up: unit vectors.
    pub fn axes(&self) -> [Vector; 3] {
        let ((sy, cy), (sp, cp)) = (self.yaw.sin_cos(), self.pitch.sin_cos());
        let out = Vector::new(cp * cy, cp * sy, sp);
        let right = Vector::new(-sy, cy, 0.0);
        [out, right, out.cross(&right)]
    }

    /// Where the eye is.
    pub fn place(&self) -> Point {
        self.target + self.axes()[0] * self.distance
    }

    /// Puts a box, by its least and greatest corner, in the middle of a pane.
    pub fn fit(&mut self, (low, high): (Point, Point), pane: &Pane) {
        let [out, right, up] = self.axes();
        let middle = Point::from((low.coords + high.coords) / 2.0);
        let corners = (0..8).map(|i| {
            let pick = |axis: usize| {
                if i >> axis & 1 == 1 {
                    high[axis]
                } else {
                    low[axis]
                }
            };
            Point::new(pick(0), pick(1), pick(2)) - middle
        });
        let shape = (pane.width / pane.height.max(1.0)).max(1e-3);
        let tangent = HALF_VIEW.tan();
        let needed = corners.map(|corner| {
            let wide = (corner.dot(&right).abs() / shape).max(corner.dot(&up).abs());
            let nearer = if self.parallel { 0.0 } else { corner.dot(&out) };
            wide * MARGIN / tangent + nearer
        });
        self.distance = needed.fold(RANGE.0, f64::max).min(RANGE.1);
        self.target = middle;
    }

    /// Turns by a drag of so many points across the pane.
    pub fn turn(&mut self, dx: f64, dy: f64) {
        /// Turn for a point of dragging, rad.
        const RATE: f64 = 0.007;
        self.yaw = (self.yaw - dx * RATE) % TAU;
        self.pitch = (self.pitch + dy * RATE).clamp(-FRAC_PI_2, FRAC_PI_2);
    }

    /// Shifts what is seen by a drag of so many points.
    pub fn pan(&mut self, dx: f64, dy: f64, pane: &Pane) {
        let [_, right, up] = self.axes();
        let per_point = 2.0 * self.distance * HALF_VIEW.tan() / pane.height.max(1.0);
        self.target += (up * dy - right * dx) * per_point;
    }

    /// Goes nearer by a factor below 1, keeping what is under `at` where it is.
    pub fn zoom(&mut self, factor: f64, at: [f64; 2], pane: &Pane) {
        let held = self.on_plane(at, &self.target, pane);
        self.distance = (self.distance * factor).clamp(RANGE.0, RANGE.1);
        self.target += held - self.on_plane(at, &self.target, pane);
    }

    /// From a point's parts in the eye's own axes (right, up, toward the eye, from the
    /// target) to parts of the pane's half height, right and up of its middle.
    fn seen(&self, point: &Point) -> (f64, f64, f64) {
        let [out, right, up] = self.axes();
        let from = point - self.target;
        let ahead = self.distance - from.dot(&out);
        let scale = if self.parallel {
            self.distance
        } else {
            ahead.max(1e-9)
        };
        let half = scale * HALF_VIEW.tan();
        (from.dot(&right) / half, from.dot(&up) / half, ahead)
    }

    /// Where in the window a point is seen, and how far ahead of the eye it is; `None`
    /// behind it.
    pub fn project(&self, point: &Point, pane: &Pane) -> Option<([f64; 2], f64)> {
        let (x, y, ahead) = self.seen(point);
        let [cx, cy] = pane.center();
        let half = pane.height / 2.0;
        (ahead > 0.0 || self.parallel).then_some(([cx + x * half, cy - y * half], ahead))
    }

    /// The line of sight through a place in the window: where it begins and its direction.
    pub fn ray(&self, at: [f64; 2], pane: &Pane) -> (Point, Vector) {
        let [out, right, up] = self.axes();
        let [cx, cy] = pane.center();
        let half = pane.height.max(1.0) / 2.0;
        let across = (right * ((at[0] - cx) / half) + up * ((cy - at[1]) / half)) * HALF_VIEW.tan();
        if self.parallel {
            (self.place() + across * self.distance, -out)
        } else {
            (self.place(), (across - out).normalize())
        }
    }

    /// The place on the plane through `through` that faces the eye, seen at `at`.
    pub fn on_plane(&self, at: [f64; 2], through: &Point, pane: &Pane) -> Point {
        let (from, along) = self.ray(at, pane);
        let out = self.axes()[0];
        from + along * ((through - from).dot(&out) / along.dot(&out))
    }

    /// Nearest and farthest that is drawn, for a scene of a radius about the target.
    pub fn depths(&self, radius: f64) -> (f64, f64) {
        let far = self.distance + radius.max(1.0) * 2.0;
        ((self.distance - radius * 2.0).max(far * 1e-3), far)
    }

    /// From eye axes (right, up, toward the eye; the eye at the origin) to clip space of a
    /// window of `size`, depth 0 to 1.
    pub fn projection(&self, pane: &Pane, size: [f64; 2], (near, far): (f64, f64)) -> Matrix4<f64> {
        let [width, height] = [size[0].max(1.0), size[1].max(1.0)];
        let [cx, cy] = pane.center();
        let (shift_x, shift_y) = (2.0 * cx / width - 1.0, 1.0 - 2.0 * cy / height);
        let (sx, sy) = (pane.height / width, pane.height / height);
        let deep = near - far;
        if self.parallel {
            let half = self.distance * HALF_VIEW.tan();
            Matrix4::new(
                sx / half,
                0.0,
                0.0,
                shift_x,
                0.0,
                sy / half,
                0.0,
                shift_y,
                0.0,
                0.0,
                1.0 / deep,
                near / deep,
                0.0,
                0.0,
                0.0,
                1.0,
            )
        } else {
            let tangent = HALF_VIEW.tan();
            Matrix4::new(
                sx / tangent,
                0.0,
                -shift_x,
                0.0,
                0.0,
                sy / tangent,
                -shift_y,
                0.0,
                0.0,
                0.0,
                far / deep,
                near * far / deep,
                0.0,
                0.0,
                -1.0,
                0.0,
            )
        }
    }

    /// A point in clip space, by [`Eye::projection`].
    pub fn clip(&self, point: &Point, projection: &Matrix4<f64>) -> Vector4<f64> {
        let [out, right, up] = self.axes();
        let from = point - self.place();
        projection * Vector4::new(from.dot(&right), from.dot(&up), from.dot(&out), 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PANE: Pane = Pane {
        x: 300.0,
        y: 60.0,
        width: 700.0,
        height: 500.0,
    };

    fn eyes() -> Vec<Eye> {
        let mut eyes = Vec::new();
        for (_, side) in Side::ALL {
            for parallel in [false, true] {
                let mut eye = Eye {
                    parallel,
                    target: Point::new(10.0, -20.0, 30.0),
                    ..Eye::default()
                };
                eye.look_from(side);
                eyes.push(eye);
            }
        }
        eyes
    }

    #[test]
    fn axes_are_square_and_z_is_up() {
        for eye in eyes() {
            let [out, right, up] = eye.axes();
            assert!((right.cross(&up) - out).norm() < 1e-12);
            assert!(up.z >= -1e-12);
        }
    }

    #[test]
    fn from_above_x_goes_right_and_y_up() {
        let mut eye = Eye::default();
        eye.look_from(Side::Axis(2, true));
        let [_, right, up] = eye.axes();
        assert!((right - Vector::x()).norm() < 1e-12 && (up - Vector::y()).norm() < 1e-12);
    }

    #[test]
    fn lines_of_sight_come_back_to_where_they_are_seen() {
        for eye in eyes() {
            for at in [[400.0, 100.0], [650.0, 310.0], [999.0, 540.0]] {
                let (from, along) = eye.ray(at, &PANE);
                let (seen, ahead) = eye.project(&(from + along * 700.0), &PANE).unwrap();
                assert!((seen[0] - at[0]).hypot(seen[1] - at[1]) < 1e-6 && ahead > 0.0);
                let on = eye.on_plane(at, &eye.target, &PANE);
                assert!((on - eye.target).dot(&eye.axes()[0]).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn the_drawn_picture_is_where_points_are_projected() {
        let size = [1200.0, 800.0];
        for eye in eyes() {
            let matrix = eye.projection(&PANE, size, eye.depths(300.0));
            let point = Point::new(60.0, 40.0, -15.0);
            let clip = eye.clip(&point, &matrix);
            let drawn = [
                (clip.x / clip.w + 1.0) / 2.0 * size[0],
                (1.0 - clip.y / clip.w) / 2.0 * size[1],
            ];
            let (seen, _) = eye.project(&point, &PANE).unwrap();
            assert!((drawn[0] - seen[0]).hypot(drawn[1] - seen[1]) < 1e-6);
            assert!((0.0..=1.0).contains(&(clip.z / clip.w)));
        }
    }

    #[test]
    fn what_is_fitted_is_seen_whole() {
        let (low, high) = (
            Point::new(-300.0, 20.0, -50.0),
            Point::new(100.0, 900.0, 75.0),
        );
        for mut eye in eyes() {
            eye.fit((low, high), &PANE);
            for i in 0..8 {
                let pick = |a: usize| if i >> a & 1 == 1 { high[a] } else { low[a] };
                let ([x, y], _) = eye
                    .project(&Point::new(pick(0), pick(1), pick(2)), &PANE)
                    .unwrap();
                assert!((PANE.x..=PANE.x + PANE.width).contains(&x), "{eye:?}");
                assert!((PANE.y..=PANE.y + PANE.height).contains(&y), "{eye:?}");
            }
        }
    }

    #[test]
    fn zooming_keeps_what_is_under_the_pointer() {
        for mut eye in eyes() {
            let at = [450.0, 420.0];
            let point = eye.on_plane(at, &eye.target, &PANE);
            for factor in [0.8, 1.3] {
                eye.zoom(factor, at, &PANE);
                let ([x, y], _) = eye.project(&point, &PANE).unwrap();
                assert!((x - at[0]).hypot(y - at[1]) < 1e-6, "{x} {y}");
            }
        }
    }
}
