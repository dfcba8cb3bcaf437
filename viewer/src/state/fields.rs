//! Which values of a job can be changed, in groups.

use super::field::{Field, Kind};
use runwright::job::{Job, Path};
use runwright::units::{Length, Style};
use serde_json::Value;

/// Fields that belong together.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// What it is about.
    pub title: String,
    /// Where it is in the file.
    pub place: Path,
    /// Its fields, in order.
    pub fields: Vec<Field>,
    /// What can be seen but not changed here, and why.
    pub note: Option<String>,
    /// Numbers that can be seen but not changed here: name and value.
    pub lines: Vec<(String, String)>,
    /// What can be put in or taken out.
    pub actions: Vec<Action>,
    /// Whether it is open before anybody opens it.
    pub is_open: bool,
}

/// Something that is put into the job or taken out of it at once.
#[derive(Clone, Debug, PartialEq)]
pub struct Action {
    /// On its button.
    pub label: String,
    /// The change; see [`Session::change`](super::Session::change).
    pub edits: Vec<(Path, String)>,
    /// Why it cannot be done now.
    pub hindered: Option<&'static str>,
}

impl Section {
    /// With nothing beside its fields.
    pub(super) fn new(title: impl Into<String>, place: Path, fields: Vec<Field>) -> Self {
        Self {
            title: title.into(),
            place,
            fields,
            note: None,
            lines: Vec::new(),
            actions: Vec::new(),
            is_open: true,
        }
    }
}

/// How bends may be made.
const MADE_OF: Kind = Kind::Choice(&["pies", "stock", "either"]);

/// The job's fields. `job` gives the defaults that count where the file says nothing.
pub fn sections(value: &Value, job: Option<&Job>) -> Vec<Section> {
    let unit = unit(value);
    let maker = Maker { unit, job };
    let mut sections = vec![maker.tube()];
    let named = |key: &str| value.get(key).and_then(Value::as_object);
    for (name, port) in named("ports").into_iter().flatten() {
        sections.push(maker.port(name, port));
    }
    let runs = value.get("runs").and_then(Value::as_array);
    for (i, run) in runs.into_iter().flatten().enumerate() {
        sections.push(maker.run(i, run));
    }
    sections.push(maker.scene());
    sections.extend(maker.bodies(value));
    sections.push(maker.shop());
    sections.push(maker.rates(value));
    sections.push(maker.adding(value));
    sections
}

fn unit(value: &Value) -> &'static str {
    let known = value.get("units").and_then(Value::as_str);
    let known = known.and_then(runwright::units::LengthUnit::from_symbol);
    known.map_or("", runwright::units::LengthUnit::symbol)
}

pub(super) struct Maker<'a> {
    pub(super) unit: &'static str,
    pub(super) job: Option<&'a Job>,
}

impl Maker<'_> {
    pub(super) fn field(
        &self,
        label: &str,
        place: Path,
        kind: Kind,
        default: impl Into<String>,
    ) -> Field {
        Field {
            label: label.to_owned(),
            place,
            kind,
            default: default.into(),
            unit: "",
        }
    }

    pub(super) fn length(&self, label: &str, place: Path, default: impl Into<String>) -> Field {
        Field {
            unit: self.unit,
            ..self.field(label, place, Kind::Quantity, default)
        }
    }

    pub(super) fn angle(&self, label: &str, place: Path, default: impl Into<String>) -> Field {
        Field {
            unit: "°",
            ..self.field(label, place, Kind::Quantity, default)
        }
    }

    pub(super) fn printed(&self, length: impl Fn(&Job) -> Option<Length>) -> String {
        let style = self
            .job
            .map_or(Style::new(runwright::units::LengthUnit::Mm), |job| {
                job.style
            });
        let length = self.job.and_then(length);
        length.map_or(String::new(), |length| style.length(length))
    }

    fn tube(&self) -> Section {
        let place = Path::root().key("tube");
        let fields = vec![
            self.length("OD", place.key("od"), "needed"),
            self.length("wall", place.key("wall"), "needed"),
            self.field("material", place.key("material"), Kind::Text, "unspecified"),
        ];
        Section::new("Tube", place, fields)
    }

    fn port(&self, name: &str, value: &Value) -> Section {
        let place = Path::root().key("ports").key(name);
        let mut fields = Vec::new();
        let mut note = None;
        if value.get("measured").is_some() {
            let known = self
                .job
                .and_then(|job| Some((job.ports.get(name)?, job.style)));
            let fitted = known.map_or(String::new(), |(port, style)| {
                format!(": center {}", style.point(port.center.into()))
            });
            note = Some(format!(
                "fitted to what was measured of it{fitted}. Below is what each reading is off; change readings in the job file"
            ));
        } else {
            let axes = ["x", "y", "z"];
            let center = place.key("center");
            let three = axes.iter().enumerate();
            fields.extend(three.map(|(i, axis)| {
                self.length(&format!("center {axis}"), center.index(i), "needed")
            }));
            let outward = place.key("outward");
            match value.get("outward") {
                Some(Value::Object(angles)) => {
                    fields.extend(
                        angles
                            .keys()
                            .map(|key| self.angle(key, outward.key(key), "needed")),
                    );
                }
                _ => {
                    let three = axes.iter().enumerate();
                    fields.extend(three.map(|(i, axis)| {
                        self.field(
                            &format!("outward {axis}"),
                            outward.index(i),
                            Kind::Quantity,
                            "needed",
                        )
                    }));
                }
            }
        }
        let port = |job: &Job| job.ports.get(name).map(|port| (port.straight, port.socket));
        let straight = self.printed(|job| Some(port(job)?.0));
        let socket = self.printed(|job| Some(port(job)?.1));
        fields.push(self.length("least straight", place.key("straight"), straight));
        fields.push(self.length("socket", place.key("socket"), socket));
        fields.push(self.angle("may lean", place.key("cone"), "0"));
        Section {
            note,
            lines: self.readings(name),
            ..Section::new(format!("Port '{name}'"), place, fields)
        }
    }

    fn run(&self, index: usize, value: &Value) -> Section {
        let place = Path::root().key("runs").index(index);
        let name = value
            .get("name")
            .and_then(Value::as_str)
            .unwrap_or_default();
        let limits = |job: &Job| job.runs.get(index).map(|run| run.task.limits);
        let clr = self.printed(|job| Some(limits(job)?.clr_min));
        let between = self.printed(|job| Some(limits(job)?.min_between));
        let bends = self
            .job
            .and_then(|job| job.runs.get(index))
            .map_or(String::new(), |run| run.task.most_bends.to_string());
        let mut fields = vec![
            self.field("from port", place.key("from"), Kind::Text, "needed"),
            self.field("to port", place.key("to"), Kind::Text, "needed"),
            Field {
                unit: self.unit,
                ..self.field("CLR", place.key("clr"), Kind::OneOrMore, clr)
            },
            self.length("between bends", place.key("between"), between),
            self.field("made of", place.key("made_of"), MADE_OF, "either"),
            self.field(
                "one saw setting",
                place.key("one_setting"),
                Kind::Flag,
                "where cheaper",
            ),
            self.field("most bends", place.key("max_bends"), Kind::Quantity, bends),
            self.length("most swing", place.key("max_swing"), "no limit"),
            self.length("wished length", place.key("length"), "none"),
            self.length("wrap", place.key("wrap"), "0"),
        ];
        let through = value.get("through").and_then(Value::as_array);
        for (i, pass) in through.into_iter().flatten().enumerate() {
            let here = place.key("through").index(i);
            let name = pass.get("name").and_then(Value::as_str);
            let name = name.map_or_else(|| format!("pass {}", i + 1), str::to_owned);
            let axes = ["x", "y", "z"].iter().enumerate();
            fields.extend(axes.map(|(j, axis)| {
                self.length(
                    &format!("{name} {axis}"),
                    here.key("center").index(j),
                    "needed",
                )
            }));
            fields.push(self.length(&format!("{name} radius"), here.key("radius"), "needed"));
        }
        let note = value
            .get("copy")
            .is_some()
            .then(|| "copied from an existing tube: limits only warn".to_owned());
        Section {
            note,
            ..Section::new(format!("Run '{name}'"), place, fields)
        }
    }

    fn shop(&self) -> Section {
        let place = Path::root().key("shop");
        let task = |job: &Job| {
            job.runs
                .first()
                .map(|run| (run.task.limits, run.task.allowance, run.task.rates))
        };
        let known = self.job.and_then(task);
        let degrees = |angle: Option<runwright::units::Angle>| {
            angle.map_or(String::new(), |angle| {
                format!("{}", (angle.degrees() * 100.0).round() / 100.0)
            })
        };
        let fields = vec![
            self.angle(
                "usual cut",
                place.key("usual_cut"),
                degrees(known.map(|k| k.0.usual_cut)),
            ),
            self.angle(
                "greatest cut",
                place.key("max_cut"),
                degrees(known.map(|k| k.0.max_cut)),
            ),
            self.length(
                "least short side",
                place.key("min_short_side"),
                self.printed(|job| Some(task(job)?.0.min_short_side)),
            ),
            self.length(
                "kerf",
                place.key("kerf"),
                self.printed(|job| Some(task(job)?.2.kerf)),
            ),
            self.length(
                "root gap",
                place.key("gap"),
                self.printed(|job| Some(task(job)?.1.gap)),
            ),
            self.length(
                "shrinkage",
                place.key("shrinkage"),
                self.printed(|job| Some(task(job)?.1.shrinkage)),
            ),
        ];
        Section {
            is_open: false,
            ..Section::new("Shop", place, fields)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use runwright::job::read_job;

    /// Every field of the examples shows what the file has, and typing that again leaves
    /// the job the same.
    #[test]
    fn fields_show_the_file_and_write_it_back() {
        for text in [
            include_str!("../../../examples/bay.json"),
            include_str!("../../../examples/stack.json"),
            include_str!("../../../examples/duct.json"),
            include_str!("../../../examples/jig.json"),
        ] {
            let value: Value = serde_json::from_str(text).unwrap();
            let job = read_job(text.as_bytes(), "job").job.unwrap();
            let mut shown = 0;
            for field in sections(&value, Some(&job)).iter().flat_map(|s| &s.fields) {
                let at = field
                    .place
                    .steps()
                    .iter()
                    .try_fold(&value, |value, step| match step {
                        runwright::job::Step::Key(key) => value.get(key),
                        runwright::job::Step::Index(i) => value.get(i),
                    });
                let Some(typed) = field.show(at).filter(|typed| !typed.is_empty()) else {
                    continue;
                };
                shown += 1;
                let changed = super::super::set(text, &field.place, &field.write(&typed)).unwrap();
                let again = read_job(changed.as_bytes(), "job").job.unwrap();
                assert_eq!(again, job, "{}", field.place);
            }
            assert!(shown > 3);
        }
    }
}
