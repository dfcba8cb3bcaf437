//! [`Question`]: what `runwright new` asks, in order, and what of an answer it accepts.

use crate::job::{Problem, Starter, StarterPort, read_job};
use crate::units::{LengthUnit, counted, parse_length};
use std::io::{self, BufRead, Write};

/// Decimals of a direction's parts that are written from fractions: past them is rounding.
const DIRECTION_DECIMALS: f64 = 1e9;

/// One thing that a first job needs to know.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Question {
    Units,
    Od,
    Wall,
    Material,
    FromName,
    FromCenter,
    FromOutward,
    ToName,
    ToCenter,
    ToOutward,
    Run,
}

impl Question {
    /// All, as they are asked: the tube, where it goes, and last what that is called.
    pub(super) const ALL: [Self; 11] = [
        Self::Units,
        Self::Od,
        Self::Wall,
        Self::Material,
        Self::FromName,
        Self::FromCenter,
        Self::FromOutward,
        Self::ToName,
        Self::ToCenter,
        Self::ToOutward,
        Self::Run,
    ];

    const fn words(self) -> &'static str {
        match self {
            Self::Units => "units (in, mm, cm, m, ft)",
            Self::Od => "tube outside diameter",
            Self::Wall => "tube wall",
            Self::Material => "material",
            Self::FromName => "name of the port where flow enters",
            Self::FromCenter => "center of its face: x, y, z",
            Self::FromOutward => "direction out of its face into free space: x, y, z",
            Self::ToName => "name of the port where flow leaves",
            Self::ToCenter => "center of the other face: x, y, z",
            Self::ToOutward => "direction out of the other face into free space: x, y, z",
            Self::Run => "name of the run",
        }
    }

    /// What the draft holds, as an answer is written.
    fn answer_in(self, draft: &Starter) -> String {
        match self {
            Self::Units => draft.units.clone(),
            Self::Od => draft.od.clone(),
            Self::Wall => draft.wall.clone(),
            Self::Material => draft.material.clone(),
            Self::FromName => draft.from.name.clone(),
            Self::FromCenter => draft.from.center.join(", "),
            Self::FromOutward => draft.from.outward.join(", "),
            Self::ToName => draft.to.name.clone(),
            Self::ToCenter => draft.to.center.join(", "),
            Self::ToOutward => draft.to.outward.join(", "),
            Self::Run => draft.run.clone(),
        }
    }

    /// Puts an answer into the draft, or says why it cannot be one.
    pub(super) fn put(self, answer: &str, draft: &mut Starter) -> Result<(), String> {
        let answer = answer.trim();
        match self {
            Self::Units => {
                let own = unit_of(answer).map_or(answer, |unit| unit.symbol());
                *draft = Starter {
                    units: own.to_owned(),
                    ..first_draft(unit_of(answer).unwrap_or(LengthUnit::In))
                };
            }
            Self::Od => draft.od = answer.to_owned(),
            Self::Wall => draft.wall = answer.to_owned(),
            Self::Material => draft.material = answer.to_owned(),
            Self::FromName => {
                if draft.to.name == answer {
                    OTHER_PORT.clone_into(&mut draft.to.name);
                }
                draft.from.name = answer.to_owned();
            }
            Self::FromCenter => draft.from.center = three(answer)?,
            Self::FromOutward => draft.from.outward = direction(answer, &draft.units)?,
            Self::ToName if draft.from.name == answer => {
                return Err("is the name of the first port; name another".to_owned());
            }
            Self::ToName => draft.to.name = answer.to_owned(),
            Self::ToCenter => draft.to.center = three(answer)?,
            Self::ToOutward => draft.to.outward = direction(answer, &draft.units)?,
            Self::Run => draft.run = answer.to_owned(),
        }
        Ok(())
    }

    /// Whether a problem of the draft is one of this answer.
    fn is_about(self, problem: &Problem) -> bool {
        let path = problem.path.as_str();
        match self {
            Self::Units => path == "units",
            Self::Od => path == "tube.od",
            Self::Wall => path == "tube.wall",
            Self::Material => path == "tube.material",
            Self::FromName => path.starts_with("ports") || path == "runs[0].from",
            Self::ToName => path.starts_with("ports") || path == "runs[0].to",
            // Where both ports are at one place, it is the run that has no way.
            Self::ToCenter => path.starts_with("ports") || path == "runs[0]",
            Self::FromCenter | Self::FromOutward | Self::ToOutward => path.starts_with("ports"),
            Self::Run => path == "runs[0].name",
        }
    }

    /// The draft with the answer in it, or what `runwright check` would say of it.
    fn accepted(self, answer: &str, draft: &Starter) -> Result<Starter, String> {
        let mut next = draft.clone();
        self.put(answer, &mut next)?;
        let checked = read_job(next.to_json().as_bytes(), "");
        match checked.errors.iter().find(|error| self.is_about(error)) {
            None => Ok(next),
            Some(error) => Err(format!("{}; {}", error.message, error.help)),
        }
    }
}

/// What the last port is called where the first has taken its usual name.
const OTHER_PORT: &str = "outlet";

/// A first job in a unit, every answer as it is taken for granted.
pub(super) fn first_draft(unit: LengthUnit) -> Starter {
    let [od, wall] = match unit {
        LengthUnit::In => ["2.5", "0.065"],
        LengthUnit::Ft => ["2.5 in", "0.065 in"],
        LengthUnit::Mm | LengthUnit::Cm | LengthUnit::M => ["63.5 mm", "1.65 mm"],
    };
    let far = match unit {
        LengthUnit::In => ["8.5", "4", "10"],
        LengthUnit::Ft => ["8.5 in", "4 in", "10 in"],
        LengthUnit::Mm | LengthUnit::Cm | LengthUnit::M => ["215 mm", "100 mm", "255 mm"],
    };
    let port = |name: &str, center: [&str; 3], outward: [&str; 3]| StarterPort {
        name: name.to_owned(),
        center: center.map(str::to_owned),
        outward: outward.map(str::to_owned),
    };
    Starter {
        units: unit.symbol().to_owned(),
        od: od.to_owned(),
        wall: wall.to_owned(),
        material: "304".to_owned(),
        run: "run".to_owned(),
        from: port("outlet", ["0"; 3], ["0", "0", "1"]),
        to: port("exit", far, ["-1", "0", "0"]),
    }
}

/// A unit by its symbol or its name.
fn unit_of(text: &str) -> Option<LengthUnit> {
    match text.to_lowercase().as_str() {
        "inch" | "inches" | "\"" => Some(LengthUnit::In),
        "foot" | "feet" | "'" => Some(LengthUnit::Ft),
        "millimeter" | "millimeters" => Some(LengthUnit::Mm),
        "centimeter" | "centimeters" => Some(LengthUnit::Cm),
        "meter" | "meters" => Some(LengthUnit::M),
        symbol => LengthUnit::from_symbol(symbol),
    }
}

/// Three values apart by commas.
fn three(text: &str) -> Result<[String; 3], String> {
    let parts: Vec<String> = text.split(',').map(|part| part.trim().to_owned()).collect();
    <[String; 3]>::try_from(parts).map_err(|parts| {
        let count = counted(parts.len(), "value");
        format!("{text:?} has {count}, not three apart by commas")
    })
}

/// Three numbers apart by commas: plain ones, or measured with a tape, fractions and all.
fn direction(text: &str, units: &str) -> Result<[String; 3], String> {
    let unit = LengthUnit::from_symbol(units).unwrap_or(LengthUnit::In);
    let mut parts = three(text)?;
    for part in &mut parts {
        if part.parse::<f64>().is_ok() {
            continue;
        }
        let length = parse_length(part, unit).map_err(|error| format!("{part:?} {error}"))?;
        let number = length.mm() / unit.mm();
        *part = ((number * DIRECTION_DECIMALS).round() / DIRECTION_DECIMALS).to_string();
    }
    Ok(parts)
}

/// Asks what no flag says, until the answer will do.
pub(super) struct Asker<'a> {
    /// Where answers come from.
    pub(super) input: &'a mut dyn BufRead,
    /// Where questions go.
    pub(super) output: &'a mut dyn Write,
}

impl Asker<'_> {
    /// A first job of flags and answers. `given` is what a flag says. A flag that will not do
    /// is asked for like one that is not there.
    pub(super) fn starter(
        &mut self,
        given: impl Fn(Question) -> Option<String>,
    ) -> io::Result<Starter> {
        let mut draft = first_draft(LengthUnit::In);
        for question in Question::ALL {
            let said = given(question).map(|flag| question.accepted(&flag, &draft));
            draft = match said {
                Some(Ok(next)) => next,
                Some(Err(problem)) => {
                    writeln!(self.output, "{}: {problem}", question.words())?;
                    self.asked(question, &draft, &given)?
                }
                None => self.asked(question, &draft, &given)?,
            };
        }
        Ok(draft)
    }

    fn asked(
        &mut self,
        question: Question,
        draft: &Starter,
        given: &impl Fn(Question) -> Option<String>,
    ) -> io::Result<Starter> {
        let usual = question.answer_in(draft);
        loop {
            write!(self.output, "{} [{usual}]: ", question.words())?;
            self.output.flush()?;
            let mut answer = String::new();
            if self.input.read_line(&mut answer)? == 0 {
                writeln!(self.output)?;
                return Err(ended(question, given));
            }
            let answer = match answer.trim() {
                "" => usual.as_str(),
                answer => answer,
            };
            match question.accepted(answer, draft) {
                Ok(next) => return Ok(next),
                Err(problem) => writeln!(self.output, "  {problem}")?,
            }
        }
    }
}

/// That answers ended at a question, and what is still to be answered.
fn ended(at: Question, given: &impl Fn(Question) -> Option<String>) -> io::Error {
    let rest = Question::ALL.into_iter().skip_while(|one| *one != at);
    let rest = rest.filter(|one| *one == at || given(*one).is_none());
    let missing: Vec<&str> = rest.map(Question::words).collect();
    io::Error::new(
        io::ErrorKind::UnexpectedEof,
        format!(
            "the answers ended and nothing was written; not answered: {}",
            missing.join("; ")
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What was asked, and what came of it, where no flag says anything.
    fn ask(answers: &str) -> (String, io::Result<Starter>) {
        ask_beside(answers, |_| None)
    }

    fn ask_beside(
        answers: &str,
        given: impl Fn(Question) -> Option<String>,
    ) -> (String, io::Result<Starter>) {
        let mut output = Vec::new();
        let mut asker = Asker {
            input: &mut io::Cursor::new(answers.to_owned()),
            output: &mut output,
        };
        let starter = asker.starter(given);
        (String::from_utf8(output).unwrap(), starter)
    }

    /// As many empty answers as there are questions.
    const REST: &str = "\n\n\n\n\n\n\n\n\n\n\n";

    #[test]
    fn the_tube_is_asked_for_before_the_ports_and_the_run_last() {
        let (asked, starter) = ask(REST);
        assert_eq!(starter.unwrap(), first_draft(LengthUnit::In));
        let at = |words: &str| {
            asked
                .find(words)
                .unwrap_or_else(|| panic!("{words}: {asked}"))
        };
        let places = Question::ALL.map(|question| at(question.words()));
        assert!(places.is_sorted(), "{asked}");
        assert!(asked.starts_with("units (in, mm, cm, m, ft) [in]: tube outside diameter [2.5]: "));
    }

    #[test]
    fn units_are_known_by_name_and_bring_their_own_defaults() {
        for (answer, symbol) in [
            ("inch", "in"),
            ("Inches", "in"),
            ("millimeters", "mm"),
            ("mm", "mm"),
            ("feet", "ft"),
        ] {
            let (_, starter) = ask(&format!("{answer}\n{REST}"));
            let starter = starter.unwrap();
            assert_eq!(starter.units, symbol);
            let checked = read_job(starter.to_json().as_bytes(), "");
            assert!(checked.errors.is_empty(), "{answer}: {:?}", checked.errors);
        }
    }

    #[test]
    fn a_bad_answer_is_asked_again_at_once_with_the_reason() {
        // Once: told after the last question, when all answers were lost.
        for (good, bad, reason) in [
            ("", "furlong", "which is no unit"),
            ("\n", "-2", "must be more than 0"),
            ("\n", "2 furlong", "unknown unit 'furlong'"),
            ("\n\n", "16 ga", "is a gauge"),
            ("\n\n", "3", "wall"),
            ("\n\n\n\n", "a\u{7}b", "control character"),
            ("\n\n\n\n\n", "1, 2", "has 2 values, not three"),
            ("\n\n\n\n\n", "1, b, 3", "no number where one is expected"),
            ("\n\n\n\n\n\n", "0, 0, 0", "points nowhere"),
            ("\n\n\n\n\n\n\n", "outlet", "is the name of the first port"),
            ("\n\n\n\n\n\n\n\n", "0, 0, 0", "are at the same place"),
            ("\n\n\n\n\n\n\n\n\n", "up, 0, 0", "no number"),
            ("\n\n\n\n\n\n\n\n\n\n", "\u{1b}", "control character"),
        ] {
            let (asked, starter) = ask(&format!("{good}{bad}\n{REST}"));
            assert_eq!(starter.unwrap(), first_draft(LengthUnit::In), "{bad}");
            let again = Question::ALL[good.len()].words();
            let (_, after) = asked
                .split_once("  ")
                .unwrap_or_else(|| panic!("{bad}: {asked}"));
            let (told, next) = after.split_once('\n').unwrap();
            assert!(told.contains(reason), "{bad}: {told}");
            assert!(next.starts_with(again), "{bad}: {next}");
        }
    }

    #[test]
    fn a_direction_may_be_measured_with_a_tape() {
        // Once: "14 3/16" was no number.
        let (_, starter) = ask(&format!("\n\n\n\n\n\n14 3/16, 8 5/32, 22 1/2\n{REST}"));
        let starter = starter.unwrap();
        assert_eq!(starter.from.outward, ["14.1875", "8.15625", "22.5"]);
        assert!(starter.to_json().contains("14.1875,"), "a number");
    }

    #[test]
    fn the_end_of_answers_says_what_is_missing() {
        let given = |question| (question == Question::Material).then(|| "304".to_owned());
        let (_, starter) = ask_beside("mm\n\n", given);
        let told = starter.unwrap_err().to_string();
        assert!(
            told.contains("not answered: tube wall; name of the port"),
            "{told}"
        );
        assert!(told.ends_with("name of the run"), "{told}");
        assert!(!told.contains("material"), "{told}");
    }

    #[test]
    fn a_flag_is_not_asked_for_unless_it_will_not_do() {
        let given = |question| match question {
            Question::Od => Some("60.3".to_owned()),
            Question::Wall => Some("16 ga".to_owned()),
            _ => None,
        };
        let (asked, starter) = ask_beside(&format!("mm\n2.77\n{REST}"), given);
        let starter = starter.unwrap();
        assert_eq!([starter.od, starter.wall], ["60.3", "2.77"]);
        assert!(!asked.contains("tube outside diameter"));
        assert!(asked.contains("tube wall: \"16 ga\" is a gauge"), "{asked}");
    }

    #[test]
    fn a_first_port_of_the_last_ones_name_leaves_it_another() {
        let (_, starter) = ask(&format!("\n\n\n\nexit\n{REST}"));
        let starter = starter.unwrap();
        assert_eq!([starter.from.name, starter.to.name], ["exit", "outlet"]);
    }
}
