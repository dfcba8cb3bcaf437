//! Fields of the bodies in the way and of the shop's rates; what can be put in and taken out;
//! what a measured port's readings leave over.

use super::field::{Field, Kind};
use super::fields::{Action, Maker, Section};
use runwright::geometry::Point;
use runwright::job::Path;
use runwright::units::{LengthUnit, counted};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// Readings of a port that are listed.
const MOST_READINGS: usize = 24;
/// Size of a box that is put in, and how far beside the ports it stands, in diameters of the
/// tube: in view.
const NEW_BOX: f64 = 0.8;

impl Maker<'_> {
    pub(super) fn scene(&self) -> Section {
        let place = Path::root().key("scene");
        let style = self.job.map(|job| job.style);
        let clearance = style.map_or(String::new(), |style| {
            style.length(runwright::job::DEFAULT_CLEARANCE)
        });
        let fields = vec![self.length("clearance", place.key("clearance"), clearance)];
        let scans = self.job.map_or(0, |job| job.scans.len());
        Section {
            note: (scans > 0).then(|| format!("{}: see the job file", counted(scans, "scan"))),
            is_open: false,
            ..Section::new("In the way", place, fields)
        }
    }

    /// Bodies to keep out of, and those to keep within.
    pub(super) fn bodies(&self, value: &Value) -> Vec<Section> {
        let mut sections = Vec::new();
        for (key, what) in [("keep_out", "Keep out of"), ("keep_in", "Keep within")] {
            let place = Path::root().key("scene").key(key);
            let bodies = value.pointer(&format!("/scene/{key}"));
            for (i, body) in bodies
                .and_then(Value::as_array)
                .into_iter()
                .flatten()
                .enumerate()
            {
                sections.push(self.body(body, what, place.index(i)));
            }
        }
        sections
    }

    fn body(&self, body: &Value, what: &str, place: Path) -> Section {
        let name = body.get("name").and_then(Value::as_str).unwrap_or_default();
        let mut fields = vec![self.field("name", place.key("name"), Kind::Text, "needed")];
        let triple = |label: &str, at: &Path| -> Vec<Field> {
            let axes = ["x", "y", "z"].iter().enumerate();
            axes.map(|(i, axis)| self.length(&format!("{label} {axis}"), at.index(i), "needed"))
                .collect()
        };
        if body.get("box").is_some() {
            let at = place.key("box");
            fields.extend(triple("from", &at.key("min")));
            fields.extend(triple("to", &at.key("max")));
        }
        if body.get("cylinder").is_some() {
            let at = place.key("cylinder");
            fields.extend(triple("from", &at.key("from")));
            fields.extend(triple("to", &at.key("to")));
            fields.push(self.length("radius", at.key("radius"), "needed"));
        }
        if body.get("plane").is_some() {
            let at = place.key("plane");
            fields.extend(triple("point", &at.key("point")));
            let normal = triple("out of it", &at.key("normal")).into_iter();
            fields.extend(normal.map(|field| Field { unit: "", ..field }));
        }
        fields.push(self.length("clearance", place.key("clearance"), "as above"));
        let title = format!("{what} '{name}'");
        Section {
            actions: vec![Action {
                label: format!("Take '{name}' out"),
                edits: vec![(place.clone(), String::new())],
                hindered: None,
            }],
            is_open: false,
            ..Section::new(title, place, fields)
        }
    }

    /// What time and material cost: the few that matter most.
    pub(super) fn rates(&self, value: &Value) -> Section {
        let place = Path::root().key("shop").key("rates");
        let rates = self.job.and_then(|job| job.runs.first());
        let rates = rates.map(|run| run.task.rates);
        let markup = self.job.map(|job| job.quote_rates.markup_percent);
        let (tube_label, tube_key) = self.tube_rate(value);
        let known = |number: Option<f64>| number.map_or(String::new(), |number| number.to_string());
        let all = [
            (
                "labor, an hour",
                "labor_per_hour",
                rates.map(|r| r.labor_per_hour),
            ),
            (tube_label, tube_key, rates.map(|r| r.tube_rate.amount)),
            (
                "min: set the saw",
                "setup_minutes",
                rates.map(|r| r.setup_minutes),
            ),
            (
                "min: set the stop",
                "stop_minutes",
                rates.map(|r| r.stop_minutes),
            ),
            ("min: one cut", "cut_minutes", rates.map(|r| r.cut_minutes)),
            (
                "min: fit one joint",
                "fit_up_minutes",
                rates.map(|r| r.fit_up_minutes),
            ),
            ("markup, percent", "markup_percent", markup),
        ];
        let mut fields: Vec<Field> = all
            .into_iter()
            .map(|(label, key, number)| {
                self.field(label, place.key(key), Kind::Quantity, known(number))
            })
            .collect();
        let weld = self.printed(|job| Some(job.runs.first()?.task.rates.weld_per_minute));
        fields.push(self.length("weld, a minute", place.key("weld_per_minute"), weld));
        fields.push(self.field("currency", place.key("currency"), Kind::Text, "none"));
        Section {
            is_open: false,
            note: Some("all other rates are in the job file".to_owned()),
            ..Section::new("Rates", place, fields)
        }
    }

    /// Label and key of what tube costs: as the job has it, else in its units.
    fn tube_rate(&self, value: &Value) -> (&'static str, &'static str) {
        let in_feet = ("tube, a foot", "tube_per_foot");
        let in_meters = ("tube, a meter", "tube_per_meter");
        let has = |key: &str| {
            value
                .pointer("/shop/rates")
                .is_some_and(|r| r.get(key).is_some())
        };
        let unit = LengthUnit::from_symbol(self.unit);
        match (has(in_feet.1), has(in_meters.1)) {
            (true, _) => in_feet,
            (_, true) => in_meters,
            _ if unit.is_some_and(LengthUnit::is_imperial) => in_feet,
            _ => in_meters,
        }
    }

    /// What can be put into the job, and taken out.
    pub(super) fn adding(&self, value: &Value) -> Section {
        let mut actions = vec![
            self.new_body(value),
            self.new_port(value),
            self.new_run(value),
        ];
        actions.extend(self.gone(value));
        Section {
            actions,
            ..Section::new("Put in or take out", Path::root().key(""), Vec::new())
        }
    }

    fn new_body(&self, value: &Value) -> Action {
        let names = |body: &Value| body.get("name").and_then(Value::as_str).map(str::to_owned);
        let bodies = value.pointer("/scene/keep_out").and_then(Value::as_array);
        let count = bodies.map_or(0, Vec::len);
        let taken: BTreeSet<String> = bodies.into_iter().flatten().filter_map(names).collect();
        let (low, high) = self.beside();
        let body = json!({ "name": free("box", &taken), "box": { "min": low, "max": high } });
        let place = Path::root().key("scene").key("keep_out").index(count);
        Action {
            label: "Put in a box".to_owned(),
            edits: vec![(place, body.to_string())],
            hindered: None,
        }
    }

    /// Two corners of a new box, in the job's unit: beside all ports, so that it is in nobody's
    /// way before its numbers are given.
    fn beside(&self) -> ([f64; 3], [f64; 3]) {
        let unit = LengthUnit::from_symbol(self.unit).unwrap_or(LengthUnit::Mm);
        let size = self
            .job
            .and_then(|job| job.runs.first())
            .map_or(50.0, |run| run.task.tube.od().mm() * NEW_BOX);
        let centers = self.job.into_iter().flat_map(|job| job.ports.values());
        let high = centers.fold(Point::origin(), |high, port| high.sup(&port.center));
        let from = [high.x + size, high.y, high.z];
        let one = unit.mm();
        let plain = |mm: f64| (mm / one * 10.0).round() / 10.0;
        (from.map(plain), from.map(|at| plain(at + size)))
    }

    fn new_port(&self, value: &Value) -> Action {
        let ports = value.get("ports").and_then(Value::as_object);
        let taken: BTreeSet<String> = ports
            .into_iter()
            .flat_map(|all| all.keys().cloned())
            .collect();
        let (center, _) = self.beside();
        let port = json!({ "center": center, "outward": [0, 0, 1] });
        let place = Path::root().key("ports").key(&free("port", &taken));
        Action {
            label: "Put in a port".to_owned(),
            edits: vec![(place, port.to_string())],
            hindered: None,
        }
    }

    /// Ports that no run goes to.
    fn idle(&self, value: &Value) -> Vec<String> {
        let ports = value.get("ports").and_then(Value::as_object);
        let runs = value.get("runs").and_then(Value::as_array);
        let ends = |run: &Value| {
            ["from", "to"].map(|key| run.get(key).and_then(Value::as_str).map(str::to_owned))
        };
        let used: BTreeSet<String> = runs
            .into_iter()
            .flatten()
            .flat_map(ends)
            .flatten()
            .collect();
        let names = ports.into_iter().flat_map(|all| all.keys());
        names
            .filter(|name| !used.contains(*name))
            .cloned()
            .collect()
    }

    fn new_run(&self, value: &Value) -> Action {
        let runs = value.get("runs").and_then(Value::as_array);
        let names = |run: &Value| run.get("name").and_then(Value::as_str).map(str::to_owned);
        let taken: BTreeSet<String> = runs.into_iter().flatten().filter_map(names).collect();
        let idle = self.idle(value);
        let (from, to) = (idle.first(), idle.get(1));
        let run = json!({ "name": free("run", &taken), "from": from, "to": to });
        let place = Path::root().key("runs").index(runs.map_or(0, Vec::len));
        Action {
            label: "Put in a run".to_owned(),
            edits: vec![(place, run.to_string())],
            hindered: to
                .is_none()
                .then_some("it takes two ports that no run goes to: put them in first"),
        }
    }

    /// Idle ports, and runs but for the last one.
    fn gone(&self, value: &Value) -> Vec<Action> {
        let out = |label: String, place: Path| Action {
            label,
            edits: vec![(place, String::new())],
            hindered: None,
        };
        let ports = self.idle(value).into_iter();
        let mut all: Vec<Action> = ports
            .map(|name| {
                let place = Path::root().key("ports").key(&name);
                out(format!("Take port '{name}' out"), place)
            })
            .collect();
        let runs = value.get("runs").and_then(Value::as_array);
        let runs = runs.filter(|runs| runs.len() > 1).into_iter().flatten();
        all.extend(runs.enumerate().map(|(i, run)| {
            let name = run.get("name").and_then(Value::as_str).unwrap_or_default();
            out(
                format!("Take run '{name}' out"),
                Path::root().key("runs").index(i),
            )
        }));
        all
    }

    /// A measured port's readings, each less what fits all best.
    pub(super) fn readings(&self, port: &str) -> Vec<(String, String)> {
        let Some(job) = self.job else {
            return Vec::new();
        };
        let own = job.surveys.iter().find(|survey| survey.port == port);
        let Some((survey, found)) = own
            .filter(|survey| !survey.is_stated())
            .and_then(|survey| Some((survey, survey.found.as_ref()?)))
        else {
            return Vec::new();
        };
        let all = survey.readings.list.iter().zip(&found.left);
        let line =
            |(reading, left): (&runwright::survey::Reading, &runwright::survey::LeftOver)| {
                let parts = left.parts.iter().map(|(word, amount)| {
                    let amount = amount.written(job.style);
                    format!("{amount} {word}").trim_end().to_owned()
                });
                (reading.name.clone(), parts.collect::<Vec<_>>().join(", "))
            };
        let mut lines: Vec<(String, String)> = all.take(MOST_READINGS).map(line).collect();
        if let Some(more) = found.left.len().checked_sub(MOST_READINGS)
            && more > 0
        {
            lines.push((
                format!("and {more} more"),
                "runwright check lists all".to_owned(),
            ));
        }
        lines
    }
}

/// The first name with a number that is not taken.
fn free(stem: &str, taken: &BTreeSet<String>) -> String {
    let mut names = (1..).map(|number| format!("{stem} {number}"));
    let free = names.find(|name| !taken.contains(name));
    free.unwrap_or_else(|| stem.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::{Session, sections};
    use std::fs;

    fn open(text: &str) -> (tempfile::TempDir, Session) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.json");
        fs::write(&path, text).unwrap();
        let mut session = Session::default();
        session.open(&path);
        session.wait();
        (folder, session)
    }

    fn all(session: &Session) -> Vec<Section> {
        let value = session.document.as_ref().unwrap().value();
        sections(&value, session.job.as_ref())
    }

    fn press(session: &mut Session, label: &str) {
        let sections = all(session).into_iter().flat_map(|section| section.actions);
        let action = { sections }.find(|action| action.label == label).unwrap();
        assert_eq!(action.hindered, None, "{label}");
        assert!(session.change(&action.edits, label));
        session.wait();
    }

    #[test]
    fn a_box_is_put_in_moved_and_taken_out_again() {
        let text = include_str!("../../../examples/stack.json");
        let (_folder, mut session) = open(text);
        press(&mut session, "Put in a box");
        assert!(session.problems.is_empty(), "{:?}", session.problems);
        assert_eq!(session.task().unwrap().obstacles.len(), 1);
        let section = all(&session)
            .into_iter()
            .find(|section| section.title == "Keep out of 'box 1'")
            .unwrap();
        let field = &section.fields[1];
        assert_eq!(field.label, "from x");
        session.commit(field, "9 3/8 in");
        session.wait();
        assert!(session.problems.is_empty(), "{:?}", session.problems);
        // Inside out: told at its own numbers.
        session.commit(field, "90 in");
        assert!(session.problems_at(&section.place).next().is_some());
        session.undo();
        session.wait();
        press(&mut session, "Take 'box 1' out");
        assert!(session.task().unwrap().obstacles.is_empty());
        for _ in 0..3 {
            session.undo();
        }
        assert_eq!(session.document.as_ref().unwrap().text(), text);
    }

    #[test]
    fn ports_and_a_run_are_put_in_and_taken_out() {
        let text = include_str!("../../../examples/stack.json");
        let (_folder, mut session) = open(text);
        let of = |session: &Session, label: &str| {
            let sections = all(session).into_iter().flat_map(|section| section.actions);
            { sections }.find(|action| action.label == label)
        };
        assert!(of(&session, "Put in a run").unwrap().hindered.is_some());
        press(&mut session, "Put in a port");
        press(&mut session, "Put in a port");
        let place = |port: &str| Path::root().key("ports").key(port);
        let center = place("port 2").key("center").index(2);
        assert!(session.change(&[(center, "30".to_owned())], "move it"));
        let facing = place("port 2").key("outward").index(2);
        assert!(session.change(&[(facing, "-1".to_owned())], "turn it"));
        session.wait();
        press(&mut session, "Put in a run");
        assert!(session.problems.is_empty(), "{:?}", session.problems);
        assert_eq!(session.shown.count(), 2);
        assert_eq!(session.shown.name(1), "run 1");
        press(&mut session, "Take run 'run 1' out");
        press(&mut session, "Take port 'port 2' out");
        press(&mut session, "Take port 'port 1' out");
        assert_eq!(session.shown.count(), 1);
        assert!(
            of(&session, "Take run 'stack' out").is_none(),
            "one run must stay"
        );
    }

    #[test]
    fn rates_are_changed_and_a_measured_port_shows_what_its_readings_leave() {
        let (_folder, mut session) = open(include_str!("../../../examples/jig.json"));
        let measured = all(&session);
        let lines: usize = measured.iter().map(|section| section.lines.len()).sum();
        let readings = &session.job.as_ref().unwrap().surveys;
        let own = readings.iter().filter(|survey| !survey.is_stated());
        let own: usize = own.map(|survey| survey.readings.list.len()).sum();
        assert!(
            lines >= own.min(MOST_READINGS) && lines > 3,
            "{lines} of {own}"
        );
        let rates = measured
            .iter()
            .find(|section| section.title == "Rates")
            .unwrap();
        session.commit(&rates.fields[0], "120");
        session.wait();
        assert!(session.problems.is_empty(), "{:?}", session.problems);
        let run = &session.job.as_ref().unwrap().runs[0];
        assert!((run.task.rates.labor_per_hour - 120.0).abs() < 1e-12);
        // A job in inches has its tube by the foot.
        assert_eq!(rates.fields[1].label, "tube, a foot");
        session.commit(&rates.fields[1], "9");
        session.wait();
        let run = &session.job.as_ref().unwrap().runs[0];
        let nine = runwright::units::Rate::new(9.0, runwright::units::Per::Foot);
        assert_eq!(run.task.rates.tube_rate, nine);
    }
}
