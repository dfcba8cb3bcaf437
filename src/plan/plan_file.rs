//! [`PlanFile`]: a plan as its `plan.json` has it, read back.
//!
//! What is read is what fixes a run: its polyline, which corners are stock bends, tube,
//! ends, sockets and allowances; how well shop and ports are known, the fixed places, what
//! is wanted of seams (`plan_file_shop.rs`); and what its quote comes from
//! (`plan_file_quoting.rs`). All else in the file follows from these. Keys that are not
//! known are left alone: the format may grow.

use super::plan_file_bends::bought_bends;
use super::quoting::Quoting;
use crate::geometry::{Direction, Level, Point, Polyline, Vector, angle_between};
use crate::job::{FileKind, Path, Problem, kind, parse_json};
use crate::run::{Allowance, Centerline, Port, Run};
use crate::shop::{Accuracy, BoughtBend, QuoteRates, Seams, StickStock, marked_trim};
use crate::survey::Pin;
use crate::tube::Tube;
use crate::units::{Angle, Denominator, Length, LengthUnit, Style};
use serde_json::Value;

/// The format's name and version. Fields may be added within a version; none is
/// renamed, removed or given another meaning.
pub const FORMAT: &str = "runwright-plan-1";

/// Largest plan that is read, in bytes: a job's thousand runs.
pub const MAX_PLAN_BYTES: u64 = 32 * 1024 * 1024;

/// Greatest trim that is believed, mm.
const MOST_TRIM: f64 = 1e4;
/// Farthest coordinate and greatest length, mm: what a job may hold too.
const FARTHEST: f64 = 1e6;
/// Most vertices of one run.
const MOST_VERTICES: usize = 1000;
/// Most runs: as many as a job may hold.
const MOST_RUNS: usize = 1000;
/// Greatest length of all runs, in radii of their tubes: as much as a thousand common
/// runs, or 3 km of 63.5 mm tube. So that whoever divides a run by its radius comes to
/// an end.
const MOST_RADII: f64 = 100_000.0;
/// How far an end or a bend's corner may be off its vertex, mm: digits that another
/// program left out.
const OFF: f64 = 1e-6;
/// How far an end's direction may be off its edge.
const OFF_AXIS: Angle = Angle::from_degrees(1e-4);
/// Problems after which no more are looked for.
const MOST_PROBLEMS: usize = 200;

/// Longest text but a warning, in characters: many times what a job may hold.
pub(super) const LONGEST_TEXT: usize = 1000;
/// Characters of a warning that are read.
const LONGEST_WARNING: usize = 2000;

pub(super) const AGAIN: &str = "write the plan again with: runwright plan JOB -o DIR";

/// What to do about a warning of which the file does not say it.
const SEE_SHEET: &str = "see sheet.txt, which stands beside the plan, before you cut";

/// A plan that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanFile {
    /// What the job is called.
    pub job: String,
    /// The job's unit and fractions, which people read.
    pub style: Style,
    /// What the user should know before cutting.
    pub warnings: Vec<Problem>,
    /// How well the shop works.
    pub accuracy: Accuracy,
    /// Fixed places to measure from, by name.
    pub pins: Vec<Pin>,
    /// Which way is up, and what headings count from.
    pub level: Level,
    /// Runs in the file's order, at least one.
    pub runs: Vec<FileRun>,
    /// What a quote counts beside the runs' rates.
    pub quote_rates: QuoteRates,
    /// What the shop cuts its tube from; no sticks in an older file.
    pub stick_stock: StickStock,
    /// What its saw takes.
    pub kerf: Length,
}

/// A run that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct FileRun {
    /// Its name.
    pub name: String,
    /// Pieces and joints.
    pub run: Run,
    /// How far its tube goes into the first and the last port past their faces.
    pub sockets: [Length; 2],
    /// The piece that the plan says to leave for last, from 1, if it says so.
    pub left_for_last: Option<usize>,
    /// How much longer than planned that piece is to be cut, if the file says so.
    pub trim: Option<Length>,
    /// What its quote, mass and growth come from.
    pub quoting: Quoting,
    /// Both ports as the run meets them, and how well they are known.
    pub ports: [Port; 2],
    /// Gap and shrinkage at each joint.
    pub allowance: Allowance,
    /// How its weld seams should lie; none in seamless tube.
    pub seams: Option<Seams>,
    /// What its stock bends are made from, as far as the file says it.
    pub bends: Vec<BoughtBend>,
}

/// Reads a plan's bytes, or everything that is wrong with it.
pub fn read_plan(bytes: &[u8]) -> Result<PlanFile, Vec<Problem>> {
    let one = |message: String, help: &str| vec![Problem::of_file(message, help)];
    if bytes.len() as u64 > MAX_PLAN_BYTES {
        let message = format!("has more than {MAX_PLAN_BYTES} bytes: too large for a plan");
        return Err(one(
            message,
            "is this the plan.json that 'runwright plan' wrote?",
        ));
    }
    if bytes.trim_ascii().is_empty() {
        return Err(one("is empty".to_owned(), AGAIN));
    }
    let (value, repeated) = parse_json(bytes).map_err(|problem| vec![problem])?;
    let mut reader = Reader { problems: repeated };
    let root = Node {
        value: &value,
        path: Path::root(),
    };
    match reader.plan(&root) {
        Some(plan) if reader.problems.is_empty() => Ok(plan),
        _ => Err(reader.problems),
    }
}

/// The number of a piece of `run` that the file says to leave for last.
fn left_for_last(node: &Node<'_>, run: &Run) -> Option<usize> {
    let number = node.value.pointer("/stack_up/closure/piece")?.as_u64()?;
    let number = usize::try_from(number).ok()?;
    (1..=run.pieces().len()).contains(&number).then_some(number)
}

/// How much longer than planned the piece for last is to be cut; nothing that no shop would
/// cut.
fn trim(node: &Node<'_>) -> Option<Length> {
    let trim = node.value.pointer("/stack_up/closure/trim_mm")?.as_f64()?;
    (0.0..=MOST_TRIM)
        .contains(&trim)
        .then(|| Length::from_mm(trim))
}

/// How much longer than planned the piece for last is sawn, in a file in `unit`.
fn longer(node: &Node<'_>, run: &Run, unit: LengthUnit) -> Length {
    let trim = left_for_last(node, run).and(trim(node));
    trim.map_or(Length::ZERO, |trim| marked_trim(trim, unit))
}

/// The finest part of an inch; what a job takes where the file says nothing.
fn denominator(root: &Value) -> Denominator {
    let number = root.get("fraction").and_then(Value::as_u64);
    let number = number.and_then(|number| u32::try_from(number).ok());
    number
        .and_then(Denominator::new)
        .unwrap_or(Denominator::DEFAULT)
}

/// The file's warnings, each with what to do about it; an older file does not say that.
fn warnings(root: &Value) -> Vec<Problem> {
    let texts = |key: &str| {
        let list = root.get(key).and_then(Value::as_array);
        let texts = list.into_iter().flatten().take(MOST_PROBLEMS);
        texts.map(|text| one_line(text.as_str().unwrap_or_default()))
    };
    let mut helps = texts("warning_help");
    let helped = texts("warnings").map(|message| (message, helps.next().unwrap_or_default()));
    helped
        .filter(|(message, _)| !message.is_empty())
        .map(|(message, help)| {
            let help = if help.is_empty() { SEE_SHEET } else { &help };
            Problem::of_file(message, help)
        })
        .collect()
}

/// A text as far as a page can show it: no control characters, no end in sight.
fn one_line(text: &str) -> String {
    let letters = text.trim().chars().take(LONGEST_WARNING);
    letters
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

/// A value and where it stands.
pub(super) struct Node<'a> {
    pub(super) value: &'a Value,
    pub(super) path: Path,
}

impl<'a> Node<'a> {
    /// What is under a key that may be absent; none where it is null, too.
    pub(super) fn optional(&self, key: &str) -> Option<Self> {
        let value = self.value.get(key).filter(|value| !value.is_null())?;
        let path = self.path.key(key);
        Some(Self { value, path })
    }
}

/// Takes values and gathers what is wrong.
pub(super) struct Reader {
    problems: Vec<Problem>,
}

impl Reader {
    pub(super) fn fail<T>(
        &mut self,
        path: &Path,
        message: impl Into<String>,
        help: &str,
    ) -> Option<T> {
        if self.problems.len() < MOST_PROBLEMS {
            self.problems.push(Problem::at(path, message, help));
        }
        None
    }

    fn plan(&mut self, root: &Node<'_>) -> Option<PlanFile> {
        if !root.value.is_object() {
            let message = format!("holds {}, not a plan", kind(root.value));
            return self.fail(&root.path, message, AGAIN);
        }
        let other = FileKind::of(root.value).and_then(|kind| kind.in_place_of(FileKind::Plan));
        if let Some(problem) = other {
            self.problems.push(problem);
            return None;
        }
        let format = self.child(root, "format")?;
        if format.value != FORMAT {
            let message = format!("is {}, but must be \"{FORMAT}\"", kind(format.value));
            let help = "give the plan.json that 'runwright plan' wrote, not the job";
            return self.fail(&format.path, message, help);
        }
        let job = self.text(root, "job");
        let unit = self.unit(root);
        // Where it is not known, that has been told.
        let known_unit = unit.unwrap_or(LengthUnit::Mm);
        let style = Style {
            denominator: denominator(root.value),
            ..Style::new(known_unit)
        };
        let ports = self.child(root, "ports");
        let stock = self.stick_stock(root);
        let runs = self.list(root, "runs")?;
        if runs.is_empty() || runs.len() > MOST_RUNS {
            let message = format!("holds {} runs, but must hold 1 to {MOST_RUNS}", runs.len());
            return self.fail(&root.path.key("runs"), message, AGAIN);
        }
        let quote_rates = self.quote_rates(root, style);
        let accuracy = self.accuracy(root);
        let pins = self.pins(root);
        let level = self.level(root);
        let (ports, (stick_stock, kerf)) = (ports?, stock?);
        let runs: Vec<Option<FileRun>> = runs
            .iter()
            .map(|run| self.run(run, &ports, known_unit))
            .collect();
        let runs = runs.into_iter().collect::<Option<Vec<FileRun>>>()?;
        self.check_runs(&runs, &root.path.key("runs"))?;
        unit?;
        Some(PlanFile {
            job: job?,
            style,
            warnings: warnings(root.value),
            accuracy: accuracy?,
            pins: pins?,
            level: level?,
            runs,
            quote_rates: quote_rates?,
            stick_stock,
            kerf,
        })
    }

    /// Names that differ, and a sane length.
    fn check_runs(&mut self, runs: &[FileRun], path: &Path) -> Option<()> {
        let mut names: Vec<&str> = runs.iter().map(|run| run.name.as_str()).collect();
        names.sort_unstable();
        if let Some(pair) = names.windows(2).find(|pair| pair[0] == pair[1]) {
            let message = format!("holds two runs named {:?}", pair[0]);
            return self.fail(path, message, "rename one of them");
        }
        let radii = runs.iter().map(|file| {
            let run = &file.run;
            run.centerline().length() / run.tube().radius()
        });
        if radii.sum::<f64>() > MOST_RADII {
            let message = format!("are longer than {MOST_RADII} times the radius of their tube");
            return self.fail(path, message, "are these the right lengths and tube?");
        }
        Some(())
    }

    fn unit(&mut self, root: &Node<'_>) -> Option<LengthUnit> {
        let symbol = self.text(root, "units")?;
        LengthUnit::from_symbol(&symbol).or_else(|| {
            let message = format!("is {symbol:?}, which is no unit");
            let help = "write one of in, mm, cm, m and ft";
            self.fail(&root.path.key("units"), message, help)
        })
    }

    fn run(&mut self, node: &Node<'_>, ports: &Node<'_>, unit: LengthUnit) -> Option<FileRun> {
        let name = self.text(node, "name");
        let tube = self.tube(node);
        let allowance = self.allowance(node);
        let polyline = self.polyline(node);
        let ends = self.ends(node, ports);
        let (polyline, tube, [mut start, mut end]) = (polyline?, tube?, ends?);
        for (i, port) in [&mut start, &mut end].into_iter().enumerate() {
            self.meet(port, polyline.ends()[i], &node.path.key("ends").index(i))?;
        }
        let centerline = self.centerline(node, polyline, &tube)?;
        let allowance = allowance?;
        let seams = self.seams(node)?;
        match Run::new(&tube, &start, &end, centerline, allowance) {
            Ok(run) => Some(FileRun {
                quoting: Quoting {
                    longer: longer(node, &run, unit),
                    ..self.quoting(node, &run, allowance)?
                },
                name: name?,
                sockets: [start.socket, end.socket],
                left_for_last: left_for_last(node, &run),
                trim: trim(node),
                ports: [start, end],
                allowance,
                seams,
                bends: bought_bends(node.value, &run),
                run,
            }),
            Err(error) => {
                let message = format!("cannot be made: {error}");
                self.fail(&node.path, message, AGAIN)
            }
        }
    }

    fn tube(&mut self, node: &Node<'_>) -> Option<Tube> {
        let node = self.child(node, "tube")?;
        let (od, wall) = (self.length(&node, "od_mm"), self.length(&node, "wall_mm"));
        let own = self.own_properties(&node);
        let material = self.text(&node, "material")?;
        let own = own?;
        Tube::new(od?, wall?, &material)
            .map(|tube| tube.with_own(own))
            .map_err(|error| self.fail::<()>(&node.path, error.to_string(), AGAIN))
            .ok()
    }

    fn allowance(&mut self, node: &Node<'_>) -> Option<Allowance> {
        let node = self.child(node, "allowance")?;
        let gap = self.length(&node, "gap_mm");
        let shrinkage = self.length(&node, "shrinkage_mm");
        Some(Allowance {
            gap: gap?,
            shrinkage: shrinkage?,
        })
    }

    fn polyline(&mut self, node: &Node<'_>) -> Option<Polyline> {
        let path = node.path.key("vertices_mm");
        let vertices = self.list(node, "vertices_mm")?;
        if !(2..=MOST_VERTICES).contains(&vertices.len()) {
            let message = format!(
                "holds {} points, but must hold 2 to {MOST_VERTICES}",
                vertices.len()
            );
            return self.fail(&path, message, AGAIN);
        }
        let points: Vec<Option<Point>> = vertices.iter().map(|node| self.point(node)).collect();
        let points = points.into_iter().collect::<Option<Vec<Point>>>()?;
        Polyline::new(points)
            .or_else(|| self.fail(&path, "holds the same point twice in a row", AGAIN))
    }

    /// Both ports as the run meets them, with their sockets.
    fn ends(&mut self, node: &Node<'_>, ports: &Node<'_>) -> Option<[Port; 2]> {
        let ends = self.list(node, "ends")?;
        let [start, end] = ends.as_slice() else {
            let message = format!("holds {} ends, but must hold two", ends.len());
            return self.fail(&node.path.key("ends"), message, AGAIN);
        };
        let [start, end] = [self.end(start, ports), self.end(end, ports)];
        Some([start?, end?])
    }

    fn end(&mut self, node: &Node<'_>, ports: &Node<'_>) -> Option<Port> {
        let name = self.text(node, "port");
        let center = self.child(node, "center_mm");
        let center = center.and_then(|node| self.point(&node));
        let outward = self.direction(node, "outward");
        let name = name?;
        let port = self.child(ports, &name)?;
        Some(Port {
            socket: self.length(&port, "socket_mm")?,
            scatter: self.scatter(&port)?,
            ..Port::new(&name, center?, outward?)
        })
    }

    pub(super) fn direction(&mut self, node: &Node<'_>, key: &str) -> Option<Direction> {
        let node = self.child(node, key)?;
        let point = self.point(&node)?;
        Direction::try_new(point.coords, OFF).or_else(|| {
            let message = "is no direction: it has no length";
            self.fail(&node.path, message, AGAIN)
        })
    }

    /// Puts `port` where the polyline ends, if it is there but for rounding.
    fn meet(
        &mut self,
        port: &mut Port,
        (point, outward): (Point, Direction),
        path: &Path,
    ) -> Option<()> {
        let apart = (port.center - point).norm();
        let lean = angle_between(&port.outward, &outward);
        if apart > OFF || lean > OFF_AXIS {
            let message = format!(
                "is not where the run's vertices end: {apart:.6} mm and {:.6}° off",
                lean.degrees()
            );
            return self.fail(path, message, AGAIN);
        }
        (port.center, port.outward) = (point, outward);
        Some(())
    }

    /// The polyline with its stock bends.
    fn centerline(
        &mut self,
        node: &Node<'_>,
        polyline: Polyline,
        tube: &Tube,
    ) -> Option<Centerline> {
        let mut clrs = vec![None; polyline.points().len()];
        for bend in self.list(node, "bends")? {
            let clr = self.length(&bend, "clr_mm");
            let corner = self.child(&bend, "corner_mm")?;
            let (at, clr) = (self.point(&corner)?, clr?);
            let points = polyline.points().iter();
            let Some(vertex) = points.map(|p| (p - at).norm()).position(|off| off <= OFF) else {
                return self.fail(&corner.path, "is none of the run's vertices", AGAIN);
            };
            if clr <= tube.radius() {
                let message = "is not more than the tube's radius";
                return self.fail(&bend.path.key("clr_mm"), message, AGAIN);
            }
            clrs[vertex] = Some(clr);
        }
        let message = "do not fit between the run's vertices";
        Centerline::new(polyline, clrs)
            .or_else(|| self.fail(&node.path.key("bends"), message, AGAIN))
    }

    pub(super) fn child<'a>(&mut self, node: &Node<'a>, key: &str) -> Option<Node<'a>> {
        let path = node.path.key(key);
        let Some(object) = node.value.as_object() else {
            let message = format!("is {}, but must be an object", kind(node.value));
            return self.fail(&node.path, message, AGAIN);
        };
        match object.get(key) {
            Some(value) => Some(Node { value, path }),
            None => self.fail(&path, "is missing", AGAIN),
        }
    }

    pub(super) fn list<'a>(&mut self, node: &Node<'a>, key: &str) -> Option<Vec<Node<'a>>> {
        let node = self.child(node, key)?;
        let Some(values) = node.value.as_array() else {
            let message = format!("is {}, but must be a list", kind(node.value));
            return self.fail(&node.path, message, AGAIN);
        };
        // Whoever asks refuses longer lists; no need to name all their places.
        let values = values.iter().take(MOST_VERTICES + 1).enumerate();
        let nodes = values.map(|(i, value)| Node {
            value,
            path: node.path.index(i),
        });
        Some(nodes.collect())
    }

    pub(super) fn text(&mut self, node: &Node<'_>, key: &str) -> Option<String> {
        let node = self.child(node, key)?;
        match node.value.as_str() {
            Some(text) if text.chars().nth(LONGEST_TEXT).is_some() => {
                let message = format!("is longer than {LONGEST_TEXT} characters");
                self.fail(&node.path, message, AGAIN)
            }
            Some(text) if !text.chars().any(char::is_control) => Some(text.to_owned()),
            Some(_) => self.fail(&node.path, "holds a control character", AGAIN),
            None => {
                let message = format!("is {}, but must be text", kind(node.value));
                self.fail(&node.path, message, AGAIN)
            }
        }
    }

    pub(super) fn length(&mut self, node: &Node<'_>, key: &str) -> Option<Length> {
        let node = self.child(node, key)?;
        self.number(&node).map(Length::from_mm)
    }

    pub(super) fn point(&mut self, node: &Node<'_>) -> Option<Point> {
        let Some([x, y, z]) = node.value.as_array().map(Vec::as_slice) else {
            let message = format!("is {}, but must be [x, y, z]", kind(node.value));
            return self.fail(&node.path, message, AGAIN);
        };
        let [x, y, z] = [(x, 0), (y, 1), (z, 2)].map(|(value, i)| {
            self.number(&Node {
                value,
                path: node.path.index(i),
            })
        });
        Some(Point::from(Vector::new(x?, y?, z?)))
    }

    pub(super) fn number(&mut self, node: &Node<'_>) -> Option<f64> {
        match node.value.as_f64() {
            Some(number) if number.abs() <= FARTHEST => Some(number),
            Some(number) => {
                let message = format!("is {number:e}, more than {FARTHEST} mm");
                self.fail(&node.path, message, AGAIN)
            }
            None => {
                let message = format!("is {}, but must be a number", kind(node.value));
                self.fail(&node.path, message, AGAIN)
            }
        }
    }
}
