//! [`Camera`]: an eye as the drawing library wants it.

use crate::eye::{Eye, Pane};
use kiss3d::camera::Camera3d;
use kiss3d::event::WindowEvent;
use kiss3d::glamx::{Mat3, Mat4, Pose3, Quat, Vec3, Vec4};
use kiss3d::window::Canvas;
use runwright::geometry::Point;

/// Where the picture is drawn from. Events are the panels' business, not its own.
#[derive(Clone, Debug)]
pub struct Camera {
    view: Pose3,
    projection: Mat4,
    eye: Vec3,
    depths: (f64, f64),
}

impl Camera {
    /// The camera of an eye, for a scene about `origin` of a radius, in a window of `size`.
    pub fn new(eye: &Eye, pane: &Pane, size: [f64; 2], origin: &Point, radius: f64) -> Self {
        let depths = eye.depths(radius);
        let matrix = eye.projection(pane, size, depths);
        let column = |i: usize| [0, 1, 2, 3].map(|row| matrix[(row, i)] as f32);
        let projection = Mat4::from_cols_array_2d(&[column(0), column(1), column(2), column(3)]);
        let place = eye.place() - origin;
        let place = Vec3::new(place.x as f32, place.y as f32, place.z as f32);
        let [out, right, up] = eye
            .axes()
            .map(|v| Vec3::new(v.x as f32, v.y as f32, v.z as f32));
        let turn = Quat::from_mat3(&Mat3::from_cols(right, up, out)).inverse();
        Self {
            view: Pose3::from_parts(turn * -place, turn),
            projection,
            eye: place,
            depths,
        }
    }

    /// Whether any of a box, by its least and greatest corner, may be seen: unless all its
    /// corners are beyond one side of what is.
    pub fn may_see(&self, (low, high): ([f32; 3], [f32; 3])) -> bool {
        let clip = self.transformation();
        let corners = [0, 1, 2, 3, 4, 5, 6, 7].map(|i: usize| {
            let pick = |axis: usize| {
                if i >> axis & 1 == 1 {
                    high[axis]
                } else {
                    low[axis]
                }
            };
            clip * Vec4::new(pick(0), pick(1), pick(2), 1.0)
        });
        let sides: [fn(&Vec4) -> f32; 6] = [
            |p| p.w + p.x,
            |p| p.w - p.x,
            |p| p.w + p.y,
            |p| p.w - p.y,
            |p| p.z,
            |p| p.w - p.z,
        ];
        let all_beyond = |side: &fn(&Vec4) -> f32| corners.iter().all(|p| side(p) < 0.0);
        !sides.iter().any(all_beyond)
    }
}

impl Camera3d for Camera {
    fn handle_event(&mut self, _: &Canvas, _: &WindowEvent) {}

    fn eye(&self) -> Vec3 {
        self.eye
    }

    fn view_transform(&self) -> Pose3 {
        self.view
    }

    fn transformation(&self) -> Mat4 {
        self.projection * self.view.to_mat4()
    }

    fn inverse_transformation(&self) -> Mat4 {
        self.transformation().inverse()
    }

    fn clip_planes(&self) -> (f32, f32) {
        (self.depths.0 as f32, self.depths.1 as f32)
    }

    fn update(&mut self, _: &Canvas) {}

    fn view_transform_pair(&self, _: usize) -> (Pose3, Mat4) {
        (self.view, self.projection)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::eye::Side;

    /// What is in view is never left out; what is beside, behind or far before is.
    #[test]
    fn boxes_out_of_view_are_told() {
        let pane = Pane {
            x: 0.0,
            y: 0.0,
            width: 800.0,
            height: 600.0,
        };
        for parallel in [false, true] {
            let mut eye = Eye {
                parallel,
                distance: 1000.0,
                ..Eye::default()
            };
            // From where x is positive: y to the right, z up.
            eye.look_from(Side::Axis(0, true));
            let camera = Camera::new(&eye, &pane, [800.0, 600.0], &Point::origin(), 500.0);
            let near = |x: f32, y: f32, z: f32| {
                camera.may_see((
                    [x - 10.0, y - 10.0, z - 10.0],
                    [x + 10.0, y + 10.0, z + 10.0],
                ))
            };
            assert!(near(0.0, 0.0, 0.0) && near(0.0, 300.0, 250.0));
            assert!(
                camera.may_see(([-400.0; 3], [400.0; 3])),
                "about all that is seen"
            );
            assert!(!near(0.0, 600.0, 0.0) && !near(0.0, -600.0, 0.0));
            assert!(!near(0.0, 0.0, 500.0) && !near(0.0, 0.0, -500.0));
            assert!(!near(1500.0, 0.0, 0.0), "behind");
        }
    }
}
