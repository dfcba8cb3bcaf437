//! Runs that are copied from an existing tube: the file's, checked and traced.

use super::file_values::Quantity;
use super::path::Path;
use super::problem::Problem;
use super::run_file::{CopyFile, RunFile};
use super::values::{Reader, Sign};
use crate::geometry::{Point, Polyline, angle_between};
use crate::route::{Rejection, Task};
use crate::run::Port;
use crate::survey::{Caution, Spot, Suspect, Touched, Trace, TraceError, Traced, TubeEnd, trace};
use crate::units::{Angle, Length, Style, counted};

/// Least accuracy that numbers tell from rounding.
const FINEST: Length = Length::from_mm(1e-5);

/// Greatest accuracy, in radii of the tube, that still tells where its axis is.
const COARSEST: f64 = 0.5;

/// A run that is copied.
#[derive(Clone, Debug, PartialEq)]
pub struct JobCopy {
    /// What it is.
    pub traced: Traced,
    /// What was touched, in words.
    pub touched: &'static str,
    /// Standard deviation of a touched point along each axis.
    pub accuracy: Length,
    /// Where it stands in the job.
    pub path: Path,
}

impl JobCopy {
    /// Where a reading stands in the job; an end is one of `ports`.
    pub fn place(&self, spot: Spot, ports: [&str; 2]) -> Path {
        place(&self.path, spot, ports)
    }
}

fn place(path: &Path, spot: Spot, ports: [&str; 2]) -> Path {
    match spot {
        Spot::Joint(i) => path.key("joints").index(i),
        Spot::Outside(piece, i) => path.key("pieces").index(piece).index(i),
        Spot::Center(i) => path.key("centerline").index(i),
        Spot::End(end) => Path::root().key("ports").key(ports[end]),
    }
}

/// What a message needs to know.
struct Words<'a> {
    path: &'a Path,
    /// Key of what was touched.
    key: &'static str,
    style: Style,
    ports: [&'a str; 2],
}

impl Reader<'_> {
    /// The tube that a run is to be copied from; `Some(None)` for a run that is searched
    /// for.
    pub(super) fn copy(&mut self, file: &RunFile, path: &Path) -> Option<Option<CopyOrder>> {
        let Some(copy) = &file.copy else {
            return Some(None);
        };
        let is_alone = self.guides_nothing(file, path);
        let path = path.key("copy");
        let accuracy = self.length_or(
            &copy.accuracy,
            &path.key("accuracy"),
            Sign::Positive,
            self.measuring.point.max(FINEST),
        );
        let within = match &copy.within {
            Some(value) => self
                .length(value, &path.key("within"), Sign::Positive)
                .map(Some),
            None => Some(None),
        };
        if copy.within.is_some() && copy.centerline.is_none() {
            self.error(
                &path.key("within"),
                "goes with points along the centerline",
                "leave it out",
            );
        }
        let touched = self.touched(copy, within.flatten(), &path);
        if touched.as_ref().is_some_and(is_empty) {
            let help = "give the points that were touched, in order of flow";
            return self.fail(&path, "holds no points", help);
        }
        within?;
        is_alone.then_some(Some(CopyOrder {
            touched: touched?,
            accuracy: accuracy?,
            path,
        }))
    }

    /// Keys that only guide a search.
    fn guides_nothing(&mut self, file: &RunFile, path: &Path) -> bool {
        let guides = [
            (file.clr.is_some(), "clr"),
            (file.between.is_some(), "between"),
            (file.made_of.is_some(), "made_of"),
            (file.one_setting.is_some(), "one_setting"),
            (file.max_bends.is_some(), "max_bends"),
            (file.max_swing.is_some(), "max_swing"),
            (file.through.is_some(), "through"),
            (file.length.is_some(), "length"),
        ];
        let given: Vec<&str> = guides
            .iter()
            .filter(|(given, _)| *given)
            .map(|(_, key)| *key)
            .collect();
        for key in &given {
            self.error(
                &path.key(key),
                "guides a search, but a copied run is not searched for",
                "leave it out",
            );
        }
        given.is_empty()
    }

    fn touched(&mut self, file: &CopyFile, within: Option<Length>, path: &Path) -> Option<Touched> {
        let points = |reader: &mut Self, values: &[Vec<Quantity>], path: &Path| {
            reader.each(values, path, |reader, point, path| {
                reader.center(point, path)
            })
        };
        match (&file.joints, &file.pieces, &file.centerline) {
            (Some(joints), None, None) => Some(Touched::Joints(points(self, joints, &path.key("joints"))?)),
            (None, Some(pieces), None) => {
                let read = self.each(pieces, &path.key("pieces"), |reader, piece, path| points(reader, piece, path));
                Some(Touched::Pieces(read?))
            }
            (None, None, Some(values)) => {
                let points: Vec<Point> = points(self, values, &path.key("centerline"))?;
                Some(Touched::Centerline { points, within })
            }
            (None, None, None) => self.fail(
                path,
                "says nothing of the tube",
                "give one of joints (the middle of each), pieces (points on the outside of each) and centerline (points along it)",
            ),
            _ => self.fail(path, "gives more than one of joints, pieces and centerline", "give the one that you measured best"),
        }
    }

    /// Traces the tube and says what is wrong or odd with it.
    pub(super) fn traced(&mut self, order: CopyOrder, task: &Task) -> Option<JobCopy> {
        let radius = task.tube.radius();
        for port in [&task.start, &task.end] {
            if self.picked.contains(&port.name) {
                let message = format!("ends at '{}', which is picked from a scan", port.name);
                let help = "measure that port: points along a tube are no better than its ends";
                return self.fail(&order.path, message, help);
            }
        }
        let words = Words {
            path: &order.path,
            key: key_of(&order.touched),
            style: Style::new(self.unit),
            ports: [&task.start.name, &task.end.name],
        };
        if order.accuracy < FINEST || order.accuracy > radius * COARSEST {
            let message = format!(
                "is {}, which no such points have",
                words.style.decimal(order.accuracy)
            );
            return self.fail(
                &order.path.key("accuracy"),
                message,
                "check the unit; 0.5 mm is usual",
            );
        }
        let end = |port: &Port| TubeEnd {
            center: port.center,
            outward: port.outward,
            scatter: port.scatter,
        };
        let found = trace(&Trace {
            ends: [end(&task.start), end(&task.end)],
            radius,
            touched: order.touched.clone(),
            accuracy: order.accuracy,
        });
        let traced = match found {
            Ok(traced) => traced,
            Err(errors) => {
                self.errors
                    .extend(errors.iter().map(|error| words.error(error)));
                return None;
            }
        };
        let apart = ends_apart(task, &traced.vertices, &order.path, words.style);
        if !apart.is_empty() {
            self.errors.extend(apart);
            return None;
        }
        if let Err(rejection) = task.copied(&traced.vertices) {
            let is_radius = |caution: &&Caution| matches!(caution, Caution::OtherRadius { .. });
            if let Some(caution) = traced.cautions.iter().find(is_radius) {
                self.errors.push(words.caution(caution));
            }
            let why = match rejection {
                Rejection::Unbuildable(Some(error)) => error.to_string(),
                _ => "joints fall on one point".to_owned(),
            };
            let message = format!("cannot be made of the tube: {why}");
            return self.fail(
                &order.path,
                message,
                "check the tube's outside diameter, and measure the joints beside that piece again",
            );
        }
        self.warnings
            .extend(traced.suspects.iter().map(|suspect| words.suspect(suspect)));
        self.warnings
            .extend(traced.cautions.iter().map(|caution| words.caution(caution)));
        Some(JobCopy {
            traced,
            touched: match words.key {
                "joints" => "the middles of its joints",
                "pieces" => "points on the outside of its pieces",
                _ => "points along its centerline",
            },
            accuracy: order.accuracy,
            path: order.path,
        })
    }
}

/// Ends that the tube's points do not meet: farther from where the port was measured
/// than anybody measures.
fn ends_apart(task: &Task, vertices: &[Point], path: &Path, style: Style) -> Vec<Problem> {
    let Some(line) = Polyline::new(vertices.to_vec()) else {
        return Vec::new();
    };
    let ends = [&task.start, &task.end].into_iter().zip(line.ends());
    let apart = ends.filter_map(|(port, (center, outward))| {
        let shift = Length::from_mm((center - port.center).norm());
        let lean = angle_between(&outward, &port.outward);
        let most = port.scatter.ellipsoid()[0].0 * MOST_DEVIATIONS + LEAST_SHIFT;
        let most_lean = port.scatter.lean(&port.outward) * MOST_DEVIATIONS + LEAST_LEAN;
        (shift > most || lean > most_lean).then(|| {
            let message = format!(
                "the tube's points do not meet '{}': they put its face {} away and its axis {} off",
                port.name,
                style.length(shift),
                style.angle(lean),
            );
            let help =
                "check that 'from' and 'to' are its two ends, in order of flow, and both ports";
            Problem::at(path, message, help)
        })
    });
    apart.collect()
}

/// Deviations of a port beyond which its tube is another.
const MOST_DEVIATIONS: f64 = 8.0;

/// What is as good as none: a fit-up takes it.
const LEAST_SHIFT: Length = Length::from_mm(0.5);

/// The same for a direction.
const LEAST_LEAN: Angle = Angle::from_degrees(0.25);

/// A tube that is to be traced.
pub(super) struct CopyOrder {
    touched: Touched,
    accuracy: Length,
    path: Path,
}

/// Whether nothing was touched.
fn is_empty(touched: &Touched) -> bool {
    match touched {
        Touched::Joints(points) | Touched::Centerline { points, .. } => points.is_empty(),
        Touched::Pieces(pieces) => pieces.iter().all(Vec::is_empty),
    }
}

const fn key_of(touched: &Touched) -> &'static str {
    match touched {
        Touched::Joints(_) => "joints",
        Touched::Pieces(_) => "pieces",
        Touched::Centerline { .. } => "centerline",
    }
}

impl Words<'_> {
    fn list(&self) -> Path {
        self.path.key(self.key)
    }

    /// A piece's points, or all of them where these are not given by pieces.
    fn piece(&self, piece: usize) -> Path {
        match self.key {
            "pieces" => self.list().index(piece),
            _ => self.list(),
        }
    }

    /// A joint's point, or all of them where joints are not given.
    fn joint(&self, joint: usize) -> Path {
        match self.key {
            "joints" => self.list().index(joint),
            _ => self.list(),
        }
    }

    fn error(&self, error: &TraceError) -> Problem {
        let style = self.style;
        let (path, message, help) = match *error {
            TraceError::Odd(ref caution) => return self.caution(caution),
            TraceError::TooMany { given, most } => (
                self.list(),
                format!("holds {given}, but at most {most} are taken"),
                "thin the points out, evenly along the tube".to_owned(),
            ),
            TraceError::TooFew { piece, given, needed } => (
                self.piece(piece),
                format!("{} on piece {}: it takes {needed}", has(given), piece + 1),
                format!("touch {needed} places or more, round the piece and along it; 6 or more tell when one is off"),
            ),
            TraceError::NotFinite(spot) => (
                place(self.path, spot, self.ports),
                "has a coordinate that is no number within reach".to_owned(),
                "check its three numbers".to_owned(),
            ),
            TraceError::Together { joint, apart } => (
                self.joint(joint),
                format!("is only {} from the joint or port before it: no piece is between them", style.decimal(apart)),
                "leave one of them out, or measure them again".to_owned(),
            ),
            TraceError::OnePlace { piece } => (
                self.piece(piece),
                format!("the points on piece {} are all in one place", piece + 1),
                "touch the piece at both ends and all round".to_owned(),
            ),
            TraceError::Back(spot) => (
                place(self.path, spot, self.ports),
                "the centerline turns back on itself here".to_owned(),
                "give the points in order of flow, and check this one's three numbers".to_owned(),
            ),
            TraceError::Ambiguous { piece, apart } => (
                self.piece(piece),
                format!("the points do not tell on which side of them piece {} is: another axis, {} away, fits them as well", piece + 1, style.decimal(apart)),
                "touch it from another side too".to_owned(),
            ),
            TraceError::Free { piece } => (
                self.piece(piece),
                format!("the points leave the axis of piece {} free", piece + 1),
                "touch it at both ends, and from another side too".to_owned(),
            ),
            TraceError::Straight { joint } => (
                self.joint(joint),
                format!("the tube does not turn at joint {}, so nothing says where it is", joint + 1),
                "leave the joint out: give its two pieces as one".to_owned(),
            ),
            TraceError::Sharp { joint, turn } => (
                self.joint(joint),
                format!("the tube would turn {} at joint {}", style.angle(turn), joint + 1),
                "give joints, pieces or points in order of flow, from the run's 'from' to its 'to'".to_owned(),
            ),
            TraceError::OutOfOrder { piece } => (
                self.piece(piece),
                format!("the points on piece {} do not lie between its joints", piece + 1),
                "give the pieces in order of flow, from the run's 'from' to its 'to', none left out".to_owned(),
            ),
            TraceError::Swapped { piece } => (
                self.piece(piece),
                format!("pieces {} and {} make no tube in this order, but one in the other", piece + 1, piece + 2),
                "are they in the wrong order? Swap the two".to_owned(),
            ),
            TraceError::Behind { end } => (
                self.list(),
                format!("the tube would leave '{}' backward", self.ports[end]),
                format!("'outward' of '{}' points from its face along the tube; give all else in order of flow", self.ports[end]),
            ),
            TraceError::NotWithin { joints, off } => (
                self.list(),
                format!("no tube of up to {} comes near enough to all points: one is left {} off", counted(joints, "joint"), style.decimal(off)),
                "allow more with \"within\", give more points along each piece (3 or more), and check their order and both ports".to_owned(),
            ),
            TraceError::Astray => (
                self.list(),
                "holds no tube".to_owned(),
                "check the unit, the order of flow and the ports".to_owned(),
            ),
        };
        Problem::at(&path, message, help)
    }

    fn suspect(&self, suspect: &Suspect) -> Problem {
        let off = self.style.decimal(suspect.off.abs());
        let path = place(self.path, suspect.spot, self.ports);
        if let Some(lean) = suspect.lean {
            return Problem::at(
                &path,
                format!(
                    "what was touched of the tube says otherwise: its axis is {} and {off} off there",
                    self.style.angle(lean)
                ),
                "measure the port again; the copy keeps to the port as it is given",
            );
        }
        let used = if suspect.left_out {
            "the tube is copied without it"
        } else {
            "it is used all the same: nothing else holds that joint"
        };
        let side = match suspect.spot {
            Spot::Outside(..) if suspect.off < Length::ZERO => " (inside the tube)",
            Spot::Outside(..) => " (off the tube)",
            _ => "",
        };
        let help = match suspect.fits {
            Some(piece) => format!(
                "it fits piece {}: was it written in the wrong list? Else measure it again, or leave it out",
                piece + 1
            ),
            None => "measure it again, or leave it out".to_owned(),
        };
        Problem::at(
            &path,
            format!("is {off} off what the others say{side}; {used}"),
            help,
        )
    }

    fn caution(&self, caution: &Caution) -> Problem {
        let style = self.style;
        let degrees = |angle: Angle| style.angle(angle);
        match *caution {
            Caution::Straight { joint, turn, sigma } => Problem::at(
                &self.joint(joint),
                format!(
                    "joint {} turns {}, known to {}, two of three within: it may be none",
                    joint + 1,
                    degrees(turn),
                    degrees(sigma)
                ),
                "measure it more closely, or give its two pieces as one",
            ),
            Caution::OneSide { piece, span } => Problem::at(
                &self.piece(piece),
                format!(
                    "piece {} was touched along one side only, within {} of clock",
                    piece + 1,
                    degrees(span)
                ),
                "touch it from another side too: its axis is known poorly",
            ),
            Caution::Blurred { piece, off } => Problem::at(
                &self.piece(piece),
                format!(
                    "a point of piece {} is off by some {}, and the others cannot tell which; all are used, and every ± beside it is wider for it",
                    piece + 1,
                    style.decimal(off)
                ),
                "touch that piece again, 10 points or more",
            ),
            Caution::OtherRadius { radius } => Problem::at(
                &Path::root().key("tube").key("od"),
                format!(
                    "the points on the outside fit a tube of {} outside diameter better than this one",
                    style.decimal(radius * 2.0)
                ),
                "check it; and that points are on the tube, not at the middle of a probe's ball",
            ),
            Caution::Missing {
                joint,
                apart,
                sigma,
            } => Problem::at(
                &self.list(),
                format!(
                    "the lines of pieces {} and {} pass each other {} apart, known to {}, two of three within",
                    joint + 1,
                    joint + 2,
                    style.decimal(apart),
                    style.decimal(sigma)
                ),
                "is a piece missing between them? Else touch both again",
            ),
            Caution::Scattered { factor } => Problem::at(
                &self.list(),
                format!(
                    "the points scatter {factor:.1} times as much as their accuracy says, or the tube is not made of straight pieces; every ± is that much too small"
                ),
                "give the accuracy that they have, or look for a joint that was overlooked",
            ),
            Caution::Unchecked => Problem::at(
                &self.list(),
                "holds no more than it takes: nothing checks the points",
                "touch more places",
            ),
            Caution::Tight { within, noise } => Problem::at(
                &self.path.key("within"),
                format!(
                    "is {}, but points of that accuracy may be {} off by chance: there may be joints that the tube has not",
                    style.decimal(within),
                    style.decimal(noise)
                ),
                "allow more, or give the accuracy that the points have",
            ),
        }
    }
}

fn has(given: usize) -> String {
    match given {
        0 => "there is no point".to_owned(),
        1 => "there is 1 point".to_owned(),
        given => format!("there are {given} points"),
    }
}
