//! [`Camera`]: an eye as the drawing library wants it.

use crate::eye::{Eye, Pane};
use kiss3d::camera::Camera3d;
use kiss3d::event::WindowEvent;
use kiss3d::glamx::{Mat3, Mat4, Pose3, Quat, Vec3};
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
