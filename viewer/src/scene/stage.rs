//! [`Stage`]: the shapes as the drawing library has them.

use super::paint::{How, NAME, Paint, Shared, linear};
use super::section::outline;
use super::{Bodies, Body, Camera, Part, ScanShapes, Shape};
use crate::eye::Pane;
use crate::palette::{self, Color};
use crate::state::{PieceAt, SectionPlane, Session, Shown};
use kiss3d::color::Color as Drawn;
use kiss3d::glamx::{Vec2, Vec3};
use kiss3d::post_processing::Tonemap;
use kiss3d::resource::GpuMesh3d;
use kiss3d::scene::SceneNode3d;
use kiss3d::window::Window;
use runwright::geometry::Point;
use std::cell::{Cell, RefCell};
use std::collections::BTreeSet;
use std::rc::Rc;
use std::sync::Arc;

/// What of a body is left where it is seen through.
const SEEN_THROUGH: f32 = 0.30;
/// What of a piece is left that is not cut, or does not stand yet.
const NOT_YET: f32 = 0.13;
/// Width of lines along cuts and joints, in points.
const LINE: f32 = 1.6;

/// A plane and the segments along which it cuts a shape.
type Outline = ([f32; 4], Vec<[[f32; 3]; 2]>);

/// A shape on the stage.
struct Actor {
    part: Part,
    leaves: Vec<Leaf>,
    /// What it was made of, so that it is made again only when that changes.
    shape: Arc<Shape>,
    /// Whether it stands among what is seen through.
    is_glass: bool,
    /// The plane that it was last cut by, and the line along that cut.
    outline: Option<Outline>,
    /// Whether it has a coarser leaf for while the eye moves.
    has_coarse: bool,
}

/// A part of a shape that is drawn by itself.
struct Leaf {
    node: SceneNode3d,
    /// Whether it stands in for all others while the eye moves.
    is_coarse: bool,
    bounds: Option<([f32; 3], [f32; 3])>,
    /// Whether it is drawn where it is in view.
    is_wanted: bool,
    triangles: usize,
}

/// The shapes as they are drawn.
pub struct Stage {
    root: SceneNode3d,
    /// What hides what is behind it, drawn first…
    solid: SceneNode3d,
    /// …and what is seen through, drawn over that.
    glass: SceneNode3d,
    shared: Rc<Cell<Shared>>,
    actors: Vec<Actor>,
    /// All shapes.
    pub bodies: Bodies,
    scans: ScanShapes,
    revision: Option<u64>,
    /// Whether the eye moves: large scans are drawn coarser.
    pub is_moving: bool,
}

impl Stage {
    /// An empty stage for a window.
    pub fn new(window: &mut Window) -> Self {
        window.set_background_color(drawn(palette::BACKDROP, 1.0));
        window.set_tonemap(Tonemap::None);
        window.set_shadows_enabled(false);
        window.set_transmission_enabled(false);
        let shared = Paint::register();
        let mut root = SceneNode3d::empty();
        let (solid, glass) = (root.add_group(), root.add_group());
        Self {
            root,
            solid,
            glass,
            shared,
            actors: Vec::new(),
            bodies: Bodies::default(),
            scans: ScanShapes::default(),
            revision: None,
            is_moving: false,
        }
    }

    /// Takes in what the session shows now.
    pub fn follow(&mut self, session: &mut Session) {
        let has_scans = self.scans.poll();
        if has_scans || self.revision != Some(session.revision) {
            self.bodies = Bodies::of(session, &self.bodies, &mut self.scans);
            self.revision = Some(session.revision);
            self.cast();
        }
        let plane = session.view.section.map(|section| self.plane(&section));
        self.shared.set(Shared {
            plane,
            is_parallel: session.view.eye.parallel,
        });
        let done = session.done();
        for actor in &mut self.actors {
            let (color, alpha) = look(session, &done, actor.part);
            let is_glass = alpha < 1.0;
            let moves = actor.is_glass != is_glass;
            actor.is_glass = is_glass;
            let group = if is_glass {
                &mut self.glass
            } else {
                &mut self.solid
            };
            let coarse = self.is_moving && actor.has_coarse;
            for leaf in &mut actor.leaves {
                leaf.is_wanted = alpha > 0.0 && leaf.is_coarse == coarse;
                leaf.node.set_color(drawn(color, alpha));
                if moves {
                    leaf.node.detach();
                    group.add_child(leaf.node.clone());
                }
            }
            let is_cut = !matches!(actor.part, Part::Port(_)) && alpha > 0.0;
            match plane.filter(|_| is_cut) {
                Some(plane)
                    if actor
                        .outline
                        .as_ref()
                        .is_none_or(|(known, _)| *known != plane) =>
                {
                    actor.outline = Some((plane, outline(&actor.shape, plane)));
                }
                Some(_) => {}
                None => actor.outline = None,
            }
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
    fn cast(&mut self) {
        let mut before = std::mem::take(&mut self.actors);
        for body in &self.bodies.list {
            let place = before.iter().position(|actor| {
                actor.part == body.part && Arc::ptr_eq(&actor.shape, &body.shape)
            });
            let actor = match place {
                Some(place) => before.swap_remove(place),
                None => make(&mut self.solid, body),
            };
            self.actors.push(actor);
        }
        for mut leaf in before.into_iter().flat_map(|gone| gone.leaves) {
            leaf.node.detach();
        }
    }

    /// Whether shapes are being made that will show.
    pub fn is_waiting(&self) -> bool {
        self.scans.is_waiting()
    }

    /// Waits for all shapes.
    pub fn wait(&mut self, session: &mut Session) {
        self.follow(session);
        if self.scans.is_waiting() {
            self.scans.wait();
            self.revision = None;
            self.follow(session);
        }
    }

    /// Leaves out what `camera` does not see. Returns how many triangles are left.
    pub fn cull(&mut self, camera: &Camera) -> usize {
        let mut count = 0;
        for leaf in self.actors.iter_mut().flat_map(|actor| &mut actor.leaves) {
            let is_seen = leaf.is_wanted && leaf.bounds.is_none_or(|bounds| camera.may_see(bounds));
            leaf.node.set_visible(is_seen);
            count += if is_seen { leaf.triangles } else { 0 };
        }
        count
    }

    /// Draws lines along cuts and joints, for the next picture.
    pub fn draw_lines(&self, window: &mut Window, session: &Session) {
        let ink = drawn(palette::INK, 1.0);
        let lines = self
            .actors
            .iter()
            .filter_map(|actor| actor.outline.as_ref());
        for [a, b] in lines.flat_map(|(_, line)| line) {
            window.draw_line(Vec3::from(*a), Vec3::from(*b), ink, LINE * 1.3, false);
        }
        if session.view.section.is_none() {
            self.draw_joints(window, session);
        }
    }

    fn draw_joints(&self, window: &mut Window, session: &Session) {
        let done = session.done();
        for run in 0..session.shown.count() {
            let Some(made) = session.shown.run(run) else {
                continue;
            };
            let radius = made.tube().radius().mm() * 1.004;
            let pieces = made.pieces().iter().zip(made.joints().windows(2));
            for (i, (placed, joints)) in pieces.enumerate() {
                if look(session, &done, Part::Piece { run, piece: i }).1 < 1.0 && !session.view.heat
                {
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

    /// The camera of the session's eye.
    pub fn camera(&self, session: &Session, pane: &Pane, size: [f64; 2]) -> Camera {
        let eye = &session.view.eye;
        let (low, high) = self.reach();
        let radius =
            (high - low).norm() / 2.0 + (nalgebra::center(&low, &high) - eye.target).norm();
        Camera::new(eye, pane, size, &self.bodies.origin, radius)
    }

    /// Box round all shapes.
    fn reach(&self) -> (Point, Point) {
        let point = |p: [f32; 3]| {
            self.bodies.origin
                + nalgebra::Vector3::new(f64::from(p[0]), f64::from(p[1]), f64::from(p[2]))
        };
        let boxes = self.bodies.list.iter().filter_map(|body| body.shape.bounds);
        boxes.fold(self.bodies.bounds, |(low, high), (a, b)| {
            (low.inf(&point(a)), high.sup(&point(b)))
        })
    }

    /// The scene's root.
    pub fn root(&mut self) -> &mut SceneNode3d {
        &mut self.root
    }

    /// Triangles on the stage.
    pub fn triangles(&self) -> usize {
        self.bodies
            .list
            .iter()
            .map(|body| body.shape.triangles.len())
            .sum()
    }
}

fn make(group: &mut SceneNode3d, body: &Body) -> Actor {
    let (part, levels) = (body.part, body.levels.as_deref());
    let blocks = levels.map_or(&[][..], |levels| &levels.blocks);
    let coarse = levels.and_then(|levels| levels.coarse.as_ref());
    let mut leaves: Vec<Leaf> = if blocks.is_empty() {
        vec![leaf(group, part, &body.shape, false)]
    } else {
        let all = blocks.iter();
        all.map(|block| leaf(group, part, block, false)).collect()
    };
    leaves.extend(coarse.map(|coarse| leaf(group, part, coarse, true)));
    Actor {
        part,
        leaves,
        shape: Arc::clone(&body.shape),
        is_glass: false,
        outline: None,
        has_coarse: coarse.is_some(),
    }
}

fn leaf(group: &mut SceneNode3d, part: Part, shape: &Shape, is_coarse: bool) -> Leaf {
    let mut node = group.add_mesh(Rc::new(RefCell::new(gpu_mesh(shape))), Vec3::ONE);
    node.set_material_with_name(NAME);
    let how = How {
        is_heat: part == Part::Heat,
        is_cut: !matches!(part, Part::Port(_)),
        is_closed: matches!(
            part,
            Part::Piece { .. } | Part::Loose { .. } | Part::InTheWay(_)
        ),
    };
    if let Some(object) = node.data_mut().object_mut() {
        object.set_user_data(Box::new(how));
    }
    Leaf {
        node,
        is_coarse,
        bounds: shape.bounds,
        is_wanted: true,
        triangles: shape.triangles.len(),
    }
}

fn gpu_mesh(shape: &Shape) -> GpuMesh3d {
    let points = shape.points.iter().map(|p| Vec3::from(*p)).collect();
    let normals = shape.normals.iter().map(|n| Vec3::from(*n)).collect();
    let heat = (!shape.heat.is_empty()).then(|| {
        shape
            .heat
            .iter()
            .map(|part| Vec2::new(*part, 0.0))
            .collect()
    });
    GpuMesh3d::new(points, shape.triangles.clone(), Some(normals), heat, false)
}

/// A body's color, and how much of it is seen: 0 not at all, 1 all.
fn look(session: &Session, done: &BTreeSet<PieceAt>, part: Part) -> (Color, f32) {
    let view = &session.view;
    let heat = view.heat && session.nearness.is_some() && session.step.is_none();
    match part {
        Part::Piece { run, .. } if heat && run == session.run => (palette::INK, 0.0),
        Part::Piece { run, piece } => look_of_piece(session, done, run, piece),
        Part::Loose { run, index } => {
            let loose = session.shown.loose(run).get(index);
            let is_new = loose.is_some_and(|loose| loose.is_new);
            (
                if is_new {
                    palette::CHOSEN
                } else {
                    palette::TUBE[0]
                },
                1.0,
            )
        }
        Part::Port(_) => (palette::PORT, 1.0),
        Part::Heat => (Color(255, 255, 255), if heat { 1.0 } else { 0.0 }),
        Part::InTheWay(_) | Part::Scan(_) | Part::Room(_) if view.hide_scene => {
            (palette::SCAN, 0.0)
        }
        Part::InTheWay(_) => (
            palette::KEEP_OUT,
            if view.see_through { SEEN_THROUGH } else { 1.0 },
        ),
        Part::Room(_) if session.step.is_some() => (palette::KEEP_OUT, 0.0),
        Part::Room(_) => (palette::KEEP_OUT, SEEN_THROUGH / 4.0),
        Part::Scan(_) => (
            palette::SCAN,
            if view.see_through { SEEN_THROUGH } else { 1.0 },
        ),
    }
}

fn look_of_piece(
    session: &Session,
    done: &BTreeSet<PieceAt>,
    run: usize,
    piece: usize,
) -> (Color, f32) {
    let plain = palette::TUBE[piece % palette::TUBE.len()];
    let closes = matches!(session.shown, Shown::Kept(_)) && session.shown.closes(run, piece);
    let Some(step) = session.step_at_hand() else {
        if run != session.run {
            return (plain, SEEN_THROUGH);
        }
        let chosen = session.piece == Some(piece) || (session.piece.is_none() && closes);
        return (if chosen { palette::CHOSEN } else { plain }, 1.0);
    };
    // Where only a gap is closed, all else stands already.
    let is_there =
        done.contains(&(run, piece)) || (session.shown.own_steps(run).is_some() && !closes);
    match is_there {
        _ if step.subject == Some((run, piece)) => (palette::CHOSEN, 1.0),
        true => (plain, 1.0),
        false => (plain, NOT_YET),
    }
}

fn ellipse(
    joint: &runwright::run::Joint,
    axis: &runwright::geometry::Direction,
    radius: f64,
    origin: &Point,
) -> Vec<Vec3> {
    let u = runwright::geometry::perpendicular(axis).into_inner();
    let v = axis.cross(&u);
    let normal = joint.plane.normal;
    (0..=48)
        .map(|i| {
            let (sin, cos) = (f64::from(i) / 48.0 * std::f64::consts::TAU).sin_cos();
            let side = (u * cos + v * sin) * radius;
            let along = axis.into_inner() * (normal.dot(&side) / normal.dot(axis));
            let p = joint.plane.point + side - along - origin;
            Vec3::new(p.x as f32, p.y as f32, p.z as f32)
        })
        .collect()
}

fn drawn(color: Color, alpha: f32) -> Drawn {
    let [r, g, b] = linear(color);
    Drawn::new(r, g, b, alpha)
}
