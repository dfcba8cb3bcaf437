//! [`Stage`]: the shapes as the drawing library has them.

use super::section::cut;
use super::{Bodies, Camera, Part, Shape};
use crate::eye::Pane;
use crate::palette::{self, Color};
use crate::state::{Phase, SectionPlane, Session};
use kiss3d::color::Color as Drawn;
use kiss3d::glamx::{Pose3, Quat, Vec2, Vec3};
use kiss3d::light::Light;
use kiss3d::post_processing::Tonemap;
use kiss3d::resource::{GpuMesh3d, TextureManager};
use kiss3d::scene::SceneNode3d;
use kiss3d::window::Window;
use runwright::geometry::Point;
use std::cell::RefCell;
use std::rc::Rc;
use std::sync::Arc;

/// What of a body is left where it is seen through.
const SEEN_THROUGH: f32 = 0.28;
/// What of a piece is left that is not there yet.
const NOT_YET: f32 = 0.13;
/// Width of lines along cuts and joints, in points.
const LINE: f32 = 1.6;
/// The heat map's picture is so many colors wide.
const HEAT_COLORS: u32 = 256;
/// Its name among the drawing library's pictures.
const HEAT_PICTURE: &str = "room";

/// A shape on the stage.
struct Actor {
    part: Part,
    node: SceneNode3d,
    /// What it was made of, so that it is made again only when that changes.
    shape: Arc<Shape>,
    section: Option<[f32; 4]>,
    /// Ends of segments along the cut.
    line: Vec<[[f32; 3]; 2]>,
}

/// The shapes as they are drawn.
pub struct Stage {
    root: SceneNode3d,
    lights: [SceneNode3d; 2],
    actors: Vec<Actor>,
    /// All shapes.
    pub bodies: Bodies,
    revision: Option<u64>,
}

impl Stage {
    /// An empty stage for a window.
    pub fn new(window: &mut Window) -> Self {
        window.set_background_color(drawn(palette::BACKDROP, 1.0));
        window.set_tonemap(Tonemap::None);
        window.set_ambient(0.42);
        window.set_shadows_enabled(false);
        let mut root = SceneNode3d::empty();
        let light = |strength: f32| Light::directional(Vec3::NEG_Z).with_intensity(strength).with_casts_shadows(false);
        let lights = [root.add_light(light(1.75)), root.add_light(light(0.5))];
        let ramp = image::RgbaImage::from_fn(HEAT_COLORS, 4, |x, _| {
            let Color(r, g, b) = palette::heat(f64::from(x) / f64::from(HEAT_COLORS - 1));
            image::Rgba([r, g, b, 255])
        });
        TextureManager::get_global_manager(|pictures| {
            pictures.add_image(image::DynamicImage::ImageRgba8(ramp.clone()), HEAT_PICTURE);
        });
        Self { root, lights, actors: Vec::new(), bodies: Bodies::default(), revision: None }
    }

    /// Takes in what the session shows now.
    pub fn follow(&mut self, session: &mut Session) {
        if self.revision != Some(session.revision) {
            self.bodies = Bodies::of(session, &self.bodies);
            self.revision = Some(session.revision);
        }
        let section = session.view.section.map(|section| self.plane(&section));
        self.cast(section);
        for actor in &mut self.actors {
            let (color, alpha) = look(session, actor.part);
            actor.node.set_visible(alpha > 0.0);
            actor.node.set_color(drawn(color, alpha));
        }
    }

    /// The section in the shapes' own coordinates.
    fn plane(&self, section: &SectionPlane) -> [f32; 4] {
        let plane = section.plane(self.extent());
        let n = plane.normal;
        let d = (plane.point - self.bodies.origin).dot(&n);
        [n.x as f32, n.y as f32, n.z as f32, d as f32]
    }

    /// Box that a section goes through: the runs and a little more.
    pub fn extent(&self) -> (Point, Point) {
        let (low, high) = self.bodies.bounds;
        let more = (high - low) * 0.05;
        (low - more, high + more)
    }

    /// Keeps the actors that are still right, and makes those that are missing.
    fn cast(&mut self, section: Option<[f32; 4]>) {
        let mut before = std::mem::take(&mut self.actors);
        for body in &self.bodies.list {
            let section = section.filter(|_| !matches!(body.part, Part::Port(_)));
            let place = before.iter().position(|actor| {
                actor.part == body.part && Arc::ptr_eq(&actor.shape, &body.shape) && actor.section == section
            });
            let actor = match place {
                Some(place) => before.swap_remove(place),
                None => make(&mut self.root, body.part, &body.shape, section),
            };
            self.actors.push(actor);
        }
        for mut gone in before {
            gone.node.remove();
        }
    }

    /// Draws lines along cuts and joints, for the next picture.
    pub fn draw_lines(&self, window: &mut Window, session: &Session) {
        let ink = drawn(palette::INK, 1.0);
        for actor in self.actors.iter().filter(|actor| actor.node.is_visible()) {
            for [a, b] in &actor.line {
                window.draw_line(Vec3::from(*a), Vec3::from(*b), ink, LINE * 1.3, false);
            }
        }
        if session.view.section.is_none() {
            self.draw_joints(window, session);
        }
    }

    fn draw_joints(&self, window: &mut Window, session: &Session) {
        for run in 0..session.shown.count() {
            let Some(made) = session.shown.run(run) else { continue };
            let radius = made.tube().radius().mm() * 1.004;
            let pieces = made.pieces().iter().zip(made.joints().windows(2));
            for (i, (placed, joints)) in pieces.enumerate() {
                if look(session, Part::Piece { run, piece: i }).1 < 1.0 && !session.view.heat {
                    continue;
                }
                for (joint, axis) in joints.iter().zip([placed.axis, placed.end_axis()]) {
                    let ellipse = ellipse(joint, &axis, radius, &self.bodies.origin);
                    for pair in ellipse.windows(2) {
                        window.draw_line(pair[0], pair[1], drawn(palette::INK, 1.0), LINE, false);
                    }
                }
            }
        }
    }

    /// The camera, with the lights turned to where it looks.
    pub fn camera(&mut self, session: &Session, pane: &Pane, size: [f64; 2]) -> Camera {
        let eye = &session.view.eye;
        let [out, right, up] = eye.axes();
        for (light, direction) in self.lights.iter_mut().zip([
            -(out * 0.8 + up * 0.75 - right * 0.45),
            -(out * 0.6 - up * 0.35 + right * 0.9),
        ]) {
            let to = Vec3::new(direction.x as f32, direction.y as f32, direction.z as f32).normalize();
            let turn = Quat::from_rotation_arc(Vec3::NEG_Z, to);
            light.set_pose(Pose3::from_parts(Vec3::ZERO, turn.into()));
        }
        let (low, high) = self.reach();
        let radius = (high - low).norm() / 2.0 + (nalgebra::center(&low, &high) - eye.target).norm();
        Camera::new(eye, pane, size, &self.bodies.origin, radius)
    }

    /// Box round all shapes.
    fn reach(&self) -> (Point, Point) {
        let point = |p: [f32; 3]| {
            self.bodies.origin + nalgebra::Vector3::new(f64::from(p[0]), f64::from(p[1]), f64::from(p[2]))
        };
        let boxes = self.bodies.list.iter().filter_map(|body| body.shape.bounds);
        boxes.fold(self.bodies.bounds, |(low, high), (a, b)| (low.inf(&point(a)), high.sup(&point(b))))
    }

    /// The scene's root.
    pub fn root(&mut self) -> &mut SceneNode3d {
        &mut self.root
    }

    /// Triangles on the stage.
    pub fn triangles(&self) -> usize {
        self.bodies.list.iter().map(|body| body.shape.triangles.len()).sum()
    }
}

fn make(root: &mut SceneNode3d, part: Part, whole: &Arc<Shape>, section: Option<[f32; 4]>) -> Actor {
    let (mesh, line) = match section {
        Some(plane) => {
            let cut = cut(whole, plane);
            (gpu_mesh(&cut.shape), cut.line)
        }
        None => (gpu_mesh(whole), Vec::new()),
    };
    let mut node = root.add_mesh(Rc::new(RefCell::new(mesh)), Vec3::ONE);
    node.enable_backface_culling(false);
    node.set_roughness(0.75);
    node.set_metallic(0.0);
    if part == Part::Heat {
        node.set_texture_with_name(HEAT_PICTURE);
    }
    Actor { part, node, shape: Arc::clone(whole), section, line }
}

fn gpu_mesh(shape: &Shape) -> GpuMesh3d {
    let points = shape.points.iter().map(|p| Vec3::from(*p)).collect();
    let normals = shape.normals.iter().map(|n| Vec3::from(*n)).collect();
    let pictured = (!shape.heat.is_empty()).then(|| {
        // Half a color from either end, so that the picture does not wrap round.
        let inside = |part: f32| 0.5 / HEAT_COLORS as f32 + part * (1.0 - 1.0 / HEAT_COLORS as f32);
        shape.heat.iter().map(|part| Vec2::new(inside(*part), 0.5)).collect()
    });
    GpuMesh3d::new(points, shape.triangles.clone(), Some(normals), pictured, false)
}

/// A body's color, and how much of it is seen: 0 not at all, 1 all.
fn look(session: &Session, part: Part) -> (Color, f32) {
    let view = &session.view;
    let heat = view.heat && session.nearness.is_some() && session.step.is_none();
    match part {
        Part::Piece { run, .. } if heat && run == session.run => (palette::INK, 0.0),
        Part::Piece { run, piece } => look_of_piece(session, run, piece),
        Part::Port(_) => (palette::PORT, 1.0),
        Part::Heat => (Color(255, 255, 255), if heat { 1.0 } else { 0.0 }),
        Part::InTheWay(_) | Part::Scan(_) | Part::Room(_) if view.hide_scene => (palette::SCAN, 0.0),
        Part::InTheWay(_) => (palette::KEEP_OUT, if view.see_through { SEEN_THROUGH } else { 1.0 }),
        Part::Room(_) => (palette::KEEP_OUT, if session.step.is_some() { 0.0 } else { SEEN_THROUGH / 4.0 }),
        Part::Scan(_) => (palette::SCAN, if view.see_through { SEEN_THROUGH } else { 1.0 }),
    }
}

fn look_of_piece(session: &Session, run: usize, piece: usize) -> (Color, f32) {
    let plain = palette::TUBE[piece % palette::TUBE.len()];
    if run != session.run {
        return (plain, SEEN_THROUGH);
    }
    let Some(at) = session.step else {
        let chosen = session.piece == Some(piece);
        return (if chosen { palette::CHOSEN } else { plain }, 1.0);
    };
    let count = session.shown.run(run).map_or(1, |run| run.pieces().len().max(1));
    let (phase, now) = (if at < count { Phase::Cut } else { Phase::Tack }, at % count);
    match (phase, piece) {
        (_, piece) if piece == now => (palette::CHOSEN, 1.0),
        (Phase::Cut, _) => (plain, NOT_YET * 2.0),
        (Phase::Tack, piece) if piece < now => (plain, 1.0),
        (Phase::Tack, _) => (plain, NOT_YET),
    }
}

fn ellipse(joint: &runwright::run::Joint, axis: &runwright::geometry::Direction, radius: f64, origin: &Point) -> Vec<Vec3> {
    let u = runwright::geometry::perpendicular(axis).into_inner();
    let v = axis.cross(&u);
    let normal = joint.plane.normal;
    (0..=48).map(|i| {
        let (sin, cos) = (f64::from(i) / 48.0 * std::f64::consts::TAU).sin_cos();
        let side = (u * cos + v * sin) * radius;
        let along = axis.into_inner() * (normal.dot(&side) / normal.dot(axis));
        let p = joint.plane.point + side - along - origin;
        Vec3::new(p.x as f32, p.y as f32, p.z as f32)
    }).collect()
}

/// As the drawing library wants it: linear, since it gives the screen its gamma itself.
fn drawn(Color(r, g, b): Color, alpha: f32) -> Drawn {
    let part = |c: u8| (f32::from(c) / 255.0).powf(2.2);
    Drawn::new(part(r), part(g), part(b), alpha)
}
