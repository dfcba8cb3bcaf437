//! [`Caution`]: what may hurt people or break a rule, each with its source: one list for
//! every sheet of paper.

use crate::tube::{Evidence, Family, Source, Tube};

/// One thing to mind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caution {
    /// A stable name for files.
    pub name: &'static str,
    /// What to mind, in a sentence or two that stand alone.
    pub text: &'static str,
    /// Where it is from.
    pub source: Source,
    /// Which metals it is about; empty for all.
    pub about: &'static [Family],
}

const PRACTICE: Source = Source {
    text: "",
    evidence: Evidence::Practice,
};

const ALL: &[Family] = &[];

/// Everything that is cautioned of, in the order that sheets list it.
static CAUTIONS: [Caution; 15] = [
    Caution {
        name: "not-a-pressure-piping-design",
        text: "Geometry only: this is not a pressure-piping design. Pressure piping belongs to its code and a qualified person; thin-wall pie bends do not meet, for example, its least effective radius of a miter bend. Follow your local codes.",
        source: Source::seen("ASME B31.3-2016, 304.2.3"),
        about: ALL,
    },
    Caution {
        name: "try-one-first",
        text: "Measure a printed check bar, cut one piece, and try it before you cut the rest.",
        source: PRACTICE,
        about: ALL,
    },
    Caution {
        name: "saw",
        text: "Clamp the tube, guard the blade, and keep your hands away from it on short pieces.",
        source: PRACTICE,
        about: ALL,
    },
    Caution {
        name: "welding",
        text: "Welding: eye and skin cover, and air to breathe. Draw fume off at the source.",
        source: Source::memory("ANSI Z49.1"),
        about: ALL,
    },
    Caution {
        name: "fire-watch",
        text: "Keep a fire watch while you weld and for half an hour after it, wherever something that burns is within 35 ft (11 m).",
        source: Source::seen("29 CFR 1910.252"),
        about: ALL,
    },
    Caution {
        name: "hexavalent-chromium",
        text: "Welding stainless and nickel alloys gives off hexavalent chromium: the limit is 5 µg in a cubic meter of air over 8 hours, action begins at 2.5. Draw fume off at the source.",
        source: Source::seen("29 CFR 1910.1026"),
        about: &[Family::Stainless, Family::Nickel],
    },
    Caution {
        name: "zinc-fume",
        text: "Galvanized tube gives off zinc fume, which brings on metal fume fever: take the coating off well back from the weld, and draw off what is left.",
        source: Source::memory("ANSI Z49.1"),
        about: &[Family::Galvanized],
    },
    Caution {
        name: "aluminum-coating",
        text: "Aluminized tube: take the coating off inside and outside where it is welded; it fumes, spoils the weld, and bare steel beside it will rust.",
        source: PRACTICE,
        about: &[Family::Aluminized],
    },
    Caution {
        name: "aluminum",
        text: "Aluminum shows no color before it melts and its arc is bright: treat all of it as hot, and wear a darker shade. Arcs on it make ozone.",
        source: Source::memory("ANSI Z49.1"),
        about: &[Family::Aluminum],
    },
    Caution {
        name: "titanium",
        text: "Titanium takes up air while it is hot: shield both sides of the weld until the color is gone, and scrap a weld that is blue, gray or white. Its chips burn: keep them swept up, and put no water on them.",
        source: PRACTICE,
        about: &[Family::Titanium],
    },
    Caution {
        name: "purge-gas",
        text: "Purge and shielding gas displaces the air you breathe, without smell or warning, most of all in pits and closed rooms.",
        source: Source::memory("ANSI Z49.1"),
        about: ALL,
    },
    Caution {
        name: "cleaner",
        text: "No chlorinated cleaner, nor its vapor, anywhere near an arc: it makes phosgene.",
        source: Source::memory("ANSI Z49.1"),
        about: ALL,
    },
    Caution {
        name: "emission-devices",
        text: "Do not remove, disable or bypass emission devices on a road vehicle.",
        source: Source::seen("42 USC 7522(a)(3)"),
        about: ALL,
    },
    Caution {
        name: "outlet",
        text: "Keep exhaust outlets away from cabin and intakes: carbon monoxide has no smell.",
        source: PRACTICE,
        about: ALL,
    },
    Caution {
        name: "growth",
        text: "Growth by heat is told for a run that is equally hot all over; what a held run pushes with is not looked into.",
        source: PRACTICE,
        about: ALL,
    },
];

impl Caution {
    /// Those that a job of `tubes` calls for. A material whose name is not known calls for
    /// all: each says itself which metal it is about.
    pub fn of<'a>(tubes: impl IntoIterator<Item = &'a Tube>) -> Vec<&'static Self> {
        let families: Vec<Option<Family>> = tubes.into_iter().map(Tube::family).collect();
        let is_all = families.is_empty() || families.contains(&None);
        let is_about = |caution: &&Self| {
            let mut known = families.iter().flatten();
            caution.about.is_empty() || is_all || known.any(|f| caution.about.contains(f))
        };
        CAUTIONS.iter().filter(is_about).collect()
    }

    /// The text with its source in parentheses, where it has one.
    pub fn sourced_text(&self) -> String {
        match (self.source.text, self.source.evidence) {
            ("", _) => self.text.to_owned(),
            (source, Evidence::Memory) => format!("{} ({source}, from memory)", self.text),
            (source, _) => format!("{} ({source})", self.text),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Length;

    fn names(materials: &[&str]) -> Vec<&'static str> {
        let tube = |material: &&str| {
            Tube::new(Length::from_mm(50.0), Length::from_mm(1.5), material).expect("a real tube")
        };
        let tubes: Vec<Tube> = materials.iter().map(tube).collect();
        Caution::of(&tubes).iter().map(|c| c.name).collect()
    }

    #[test]
    fn each_metal_has_its_own() {
        let about = |material, name| names(&[material]).contains(&name);
        assert!(about("304", "hexavalent-chromium"));
        assert!(about("Inconel 625", "hexavalent-chromium"));
        assert!(!about("6061", "hexavalent-chromium"));
        assert!(about("galvanized", "zinc-fume"));
        assert!(!about("mild", "zinc-fume"));
        assert!(about("Ti Gr 2", "titanium"));
        assert!(!about("Ti Gr 2", "aluminum"));
    }

    #[test]
    fn a_metal_that_is_not_known_calls_for_all() {
        assert_eq!(names(&["unspecified"]).len(), CAUTIONS.len());
        assert_eq!(names(&["304", "unspecified"]).len(), CAUTIONS.len());
        assert!(names(&["304", "titanium"]).contains(&"titanium"));
    }

    #[test]
    fn no_paper_is_without_the_first() {
        for material in ["304", "mild", "6061", "unspecified"] {
            assert_eq!(names(&[material])[0], "not-a-pressure-piping-design");
        }
    }

    #[test]
    fn every_caution_has_a_source_or_says_that_it_has_none() {
        for caution in &CAUTIONS {
            let is_practice = caution.source.evidence == Evidence::Practice;
            assert_eq!(
                caution.source.text.is_empty(),
                is_practice,
                "{}",
                caution.name
            );
        }
    }
}
