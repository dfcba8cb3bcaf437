//! [`Material`]: what is known of the metals that shops make tube of.
//!
//! Density and mean coefficient of thermal expansion, each with where it is from. A name
//! that is not in the table has neither: nothing is guessed.

use crate::units::Temperature;

/// Where published means begin. Data sheets write 0 °C or 20 °C; counting all from here
/// is off by less than 0.3 % of the growth.
pub const ROOM: Temperature = Temperature::from_celsius(20.0);

/// Below this no mean in the table says anything.
const COLDEST_PUBLISHED: Temperature = Temperature::from_celsius(0.0);

/// Part by which mean coefficients of one metal differ from sheet to sheet and heat to
/// heat, either way: common practice, no source.
pub const EXPANSION_SPREAD: f64 = 0.05;

/// How far a source is to be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Evidence {
    /// The source's text or data was read.
    Seen,
    /// From memory: to be checked before anything rests on it.
    Memory,
    /// What shops do; no source.
    Practice,
}

impl Evidence {
    /// A few words, for paper and files.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Seen => "seen",
            Self::Memory => "from memory",
            Self::Practice => "common practice, no source",
        }
    }
}

/// Where a figure or a rule is from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Source {
    /// Sheet, standard or law.
    pub text: &'static str,
    /// How it is known.
    pub evidence: Evidence,
}

impl Source {
    /// A source that was read.
    pub const fn seen(text: &'static str) -> Self {
        Self {
            text,
            evidence: Evidence::Seen,
        }
    }

    /// A source from memory.
    pub const fn memory(text: &'static str) -> Self {
        Self {
            text,
            evidence: Evidence::Memory,
        }
    }
}

/// A mean coefficient of thermal expansion, from [`ROOM`] up to a temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanExpansion {
    /// Up to where.
    pub to: Temperature,
    /// Part of its length that tube grows by for each degree Celsius.
    pub per_c: f64,
    /// Where it is from.
    pub source: Source,
}

/// What kind of metal it is: which cautions it calls for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Family {
    /// Carbon steel.
    Carbon,
    /// Carbon steel coated with aluminum.
    Aluminized,
    /// Carbon steel coated with zinc.
    Galvanized,
    /// Steel with chromium.
    Stainless,
    /// Nickel alloy.
    Nickel,
    /// Titanium.
    Titanium,
    /// Aluminum alloy.
    Aluminum,
}

impl Family {
    /// Whether the back of a weld is usually kept from air by purging the bore (common
    /// practice, no source).
    pub const fn is_purged(self) -> bool {
        matches!(self, Self::Stainless | Self::Nickel | Self::Titanium)
    }
}

/// A metal that tube is made of.
#[derive(Debug, PartialEq)]
pub struct Material {
    /// Names that shops write it by; the first is what lists show.
    pub names: &'static [&'static str],
    /// What kind of metal it is.
    pub family: Family,
    /// Density, g/cm³.
    pub density: f64,
    /// Where the density is from.
    pub density_source: Source,
    /// Mean coefficients of thermal expansion, coldest first, at least one.
    pub expansion: &'static [MeanExpansion],
}

/// How much tube grows between two temperatures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expansion {
    /// Part of its length that it grows by; negative where it shrinks.
    pub strain: f64,
    /// Mean coefficient between the two, per degree Celsius.
    pub per_c: f64,
    /// Whether one of them lies beyond what is published, where the nearest mean is used.
    pub is_beyond: bool,
    /// Where the coefficient for the hotter of the two is from; `None` for the job's own.
    pub source: Option<Source>,
}

impl Expansion {
    /// By the job's own coefficient, the same at all temperatures.
    pub(super) fn own(per_c: f64, cold: Temperature, hot: Temperature) -> Self {
        Self {
            strain: per_c * hot.above(cold),
            per_c,
            is_beyond: false,
            source: None,
        }
    }
}

impl Material {
    /// The material that `name` stands for, however it is written: `304`, `SS304`,
    /// `304 stainless`, `Ti Gr 2`, `grade 2 titanium`.
    pub fn find(name: &str) -> Option<&'static Self> {
        let wanted = plain(name);
        let is_named = |known: &&str| !wanted.is_empty() && plain(known) == wanted;
        TABLE
            .iter()
            .find(|material| material.names.iter().any(is_named))
    }

    /// The first name of each known material.
    pub fn known() -> Vec<&'static str> {
        let first = |material: &'static Self| material.names.first().copied();
        TABLE.iter().filter_map(first).collect()
    }

    /// How much it grows from `cold` to `hot`.
    ///
    /// With α(T) the mean coefficient from 20 °C to T, the strain at T is
    /// ε(T) = α(T)·(T − 20 °C), and what is asked for ε(hot) − ε(cold). α is linear between
    /// the published temperatures; below the lowest it is that of the lowest, and above the
    /// highest, where it says so, that of the highest.
    pub fn expansion(&self, cold: Temperature, hot: Temperature) -> Expansion {
        let strain = |t: Temperature| self.mean_to(t).per_c * t.above(ROOM);
        let rise = hot.above(cold);
        let strain = strain(hot) - strain(cold);
        let hottest = if rise < 0.0 { cold } else { hot };
        let last = self.expansion.last().map_or(ROOM, |mean| mean.to);
        let is_published = |t: Temperature| t >= COLDEST_PUBLISHED && t <= last;
        Expansion {
            strain,
            per_c: if rise == 0.0 {
                self.mean_to(hot).per_c
            } else {
                strain / rise
            },
            is_beyond: !(is_published(cold) && is_published(hot)),
            source: Some(self.mean_to(hottest).source),
        }
    }

    /// The mean from 20 °C to `t`, between the published ones.
    fn mean_to(&self, t: Temperature) -> MeanExpansion {
        let none = MeanExpansion {
            to: t,
            per_c: f64::NAN,
            source: Source::memory(""),
        };
        let above = self.expansion.iter().position(|mean| t <= mean.to);
        match above {
            None => self.expansion.last().copied().unwrap_or(none),
            Some(0) => self.expansion.first().copied().unwrap_or(none),
            Some(i) => {
                let (low, high) = (self.expansion[i - 1], self.expansion[i]);
                let part = t.above(low.to) / high.to.above(low.to);
                MeanExpansion {
                    to: t,
                    per_c: low.per_c + (high.per_c - low.per_c) * part,
                    source: high.source,
                }
            }
        }
    }
}

/// Words that do not tell materials apart.
const FILLERS: [&str; 14] = [
    "stainless",
    "steel",
    "ss",
    "sst",
    "aisi",
    "sae",
    "astm",
    "type",
    "tube",
    "tubing",
    "pipe",
    "alloy",
    "aluminum",
    "cp",
];

/// A name's words and numbers, those that tell nothing left out, in order of the alphabet.
fn plain(name: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut last = None;
    for c in name.chars().flat_map(char::to_lowercase) {
        let kind = (c.is_alphabetic(), c.is_numeric());
        if kind == (false, false) {
            last = None;
            continue;
        }
        match (last == Some(kind), words.last_mut()) {
            (true, Some(word)) => word.push(c),
            _ => words.push(c.to_string()),
        }
        last = Some(kind);
    }
    let word = |word: String| match word.as_str() {
        "titanium" => "ti".to_owned(),
        "grade" => "gr".to_owned(),
        "aluminium" | "al" => "aluminum".to_owned(),
        "aluminised" => "aluminized".to_owned(),
        "galvanised" => "galvanized".to_owned(),
        _ => word,
    };
    let mut words: Vec<String> = words.into_iter().map(word).collect();
    words.retain(|word| !FILLERS.contains(&word.as_str()));
    words.sort_unstable();
    words.dedup();
    words
}

const fn mean(to: f64, micro: f64, source: Source) -> MeanExpansion {
    MeanExpansion {
        to: Temperature::from_celsius(to),
        per_c: micro * 1e-6,
        source,
    }
}

const SHEET_304: Source = Source::seen("ASM material data sheet, type 304");
const SHEET_316: Source = Source::memory("ASM material data sheet, type 316");
const SHEET_321: Source = Source::seen("material data sheet, type 321");
const SHEET_409: Source = Source::seen("material data sheet, type 409");
const SHEET_TITANIUM: Source = Source::seen("material data sheet, titanium grade 2");
const SHEET_625: Source = Source::seen("material data sheet, alloy 625");
const MORE_625: Source = Source::memory("material data sheet, alloy 625");
const SHEET_6061: Source = Source::seen("material data sheet, 6061");
const MORE_6061: Source = Source::memory("handbook value, 6061");
const HANDBOOK_CARBON: Source = Source::memory("handbook value, low-carbon steel");
const CODE_CARBON: Source = Source::memory("ASME BPVC II-D, table TE-1, carbon steel");

/// Carbon steel, whatever it is coated with.
static CARBON: [MeanExpansion; 3] = [
    mean(100.0, 11.7, HANDBOOK_CARBON),
    mean(300.0, 13.3, CODE_CARBON),
    mean(500.0, 14.4, CODE_CARBON),
];
const CARBON_DENSITY: f64 = 7.85;

/// What is known. Values with a seen source agree with the sheets to their last digit.
static TABLE: [Material; 10] = [
    Material {
        names: &["304", "304L", "304/304L"],
        family: Family::Stainless,
        density: 8.00,
        density_source: SHEET_304,
        expansion: &[
            mean(100.0, 17.3, SHEET_304),
            mean(315.0, 17.8, SHEET_304),
            mean(650.0, 18.7, SHEET_304),
        ],
    },
    Material {
        names: &["316", "316L", "316/316L"],
        family: Family::Stainless,
        density: 8.00,
        density_source: SHEET_316,
        expansion: &[
            mean(100.0, 15.9, SHEET_316),
            mean(315.0, 16.2, SHEET_316),
            mean(538.0, 17.5, SHEET_316),
        ],
    },
    Material {
        names: &["321"],
        family: Family::Stainless,
        density: 8.0,
        density_source: SHEET_321,
        expansion: &[
            mean(100.0, 16.7, SHEET_321),
            mean(315.0, 17.1, SHEET_321),
            mean(540.0, 18.5, SHEET_321),
            mean(925.0, 20.5, SHEET_321),
        ],
    },
    Material {
        names: &["409", "409L"],
        family: Family::Stainless,
        density: 7.7,
        density_source: SHEET_409,
        expansion: &[mean(100.0, 10.5, SHEET_409), mean(500.0, 12.0, SHEET_409)],
    },
    Material {
        names: &[
            "mild",
            "carbon",
            "low carbon",
            "1008",
            "1010",
            "1018",
            "1020",
            "1026",
            "DOM",
            "ERW",
            "A53",
            "A106",
            "A513",
        ],
        family: Family::Carbon,
        density: CARBON_DENSITY,
        density_source: HANDBOOK_CARBON,
        expansion: &CARBON,
    },
    Material {
        names: &["aluminized", "aluminized mild", "aluminized carbon"],
        family: Family::Aluminized,
        density: CARBON_DENSITY,
        density_source: HANDBOOK_CARBON,
        expansion: &CARBON,
    },
    Material {
        names: &[
            "galvanized",
            "zinc coated",
            "galvanized mild",
            "galvanized carbon",
        ],
        family: Family::Galvanized,
        density: CARBON_DENSITY,
        density_source: HANDBOOK_CARBON,
        expansion: &CARBON,
    },
    Material {
        names: &["Ti Gr 2", "titanium", "titanium 2"],
        family: Family::Titanium,
        density: 4.51,
        density_source: SHEET_TITANIUM,
        expansion: &[
            mean(100.0, 8.6, SHEET_TITANIUM),
            mean(315.0, 9.2, SHEET_TITANIUM),
        ],
    },
    Material {
        names: &["Inconel 625", "625", "Inconel625", "nickel 625", "N06625"],
        family: Family::Nickel,
        density: 8.44,
        density_source: SHEET_625,
        expansion: &[
            mean(93.0, 12.8, SHEET_625),
            mean(204.0, 13.1, MORE_625),
            mean(316.0, 13.3, MORE_625),
            mean(427.0, 13.7, MORE_625),
            mean(538.0, 14.0, MORE_625),
            mean(649.0, 14.8, MORE_625),
            mean(760.0, 15.3, MORE_625),
            mean(871.0, 15.8, MORE_625),
        ],
    },
    Material {
        names: &["6061", "6061-T6", "6061-T4", "6061-O"],
        family: Family::Aluminum,
        density: 2.70,
        density_source: MORE_6061,
        expansion: &[mean(100.0, 23.6, SHEET_6061), mean(300.0, 25.2, MORE_6061)],
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    fn celsius(t: f64) -> Temperature {
        Temperature::from_celsius(t)
    }

    fn known(name: &str) -> &'static Material {
        Material::find(name).unwrap_or_else(|| panic!("{name} is known"))
    }

    #[test]
    fn names_as_shops_write_them() {
        for (written, first) in [
            ("304", "304"),
            ("SS304L", "304"),
            ("304 stainless", "304"),
            ("Type 409 SS", "409"),
            ("mild steel", "mild"),
            ("1020", "mild"),
            ("Aluminised steel", "aluminized"),
            ("titanium", "Ti Gr 2"),
            ("Grade 2 titanium", "Ti Gr 2"),
            ("Ti-Gr2", "Ti Gr 2"),
            ("alloy 625", "Inconel 625"),
            ("INCONEL 625", "Inconel 625"),
            ("6061-T6 aluminum", "6061"),
        ] {
            assert_eq!(known(written).names[0], first, "{written}");
        }
    }

    #[test]
    fn what_is_not_known_is_not_guessed() {
        for name in [
            "",
            "unspecified",
            "stainless",
            "steel",
            "aluminum",
            "unobtainium",
            "30",
            "3041",
            "X 321",
        ] {
            assert_eq!(Material::find(name), None, "{name}");
        }
    }

    #[test]
    fn no_name_stands_for_two() {
        for (i, material) in TABLE.iter().enumerate() {
            for name in material.names {
                let found = TABLE.iter().position(|m| std::ptr::eq(m, known(name)));
                assert_eq!(found, Some(i), "{name}");
            }
        }
    }

    #[test]
    fn growth_of_304_is_that_of_the_sheet() {
        // ASM sheet (seen): 18.7e-6 over 0–650 °C; 500 mm from 20 to 650 °C: 5.8905 mm
        // (computed).
        let growth = known("304").expansion(ROOM, celsius(650.0));
        assert!((growth.strain * 500.0 - 5.8905).abs() < 1e-9, "{growth:?}");
        assert!(!growth.is_beyond);
        // The sheet's other ranges.
        for (to, micro) in [(100.0, 17.3), (315.0, 17.8), (650.0, 18.7)] {
            let growth = known("304").expansion(ROOM, celsius(to));
            assert!((growth.per_c * 1e6 - micro).abs() < 1e-9, "{to}");
        }
    }

    #[test]
    fn growth_adds_up_and_runs_both_ways() {
        for material in &TABLE {
            for (a, b, c) in [(20.0, 210.0, 480.0), (-30.0, 90.0, 1200.0)] {
                let step = |from, to| material.expansion(celsius(from), celsius(to)).strain;
                assert!((step(a, b) + step(b, c) - step(a, c)).abs() < 1e-15);
                assert!((step(a, c) + step(c, a)).abs() < 1e-15);
                assert!(step(a, b) > 0.0 && step(b, c) > 0.0, "{:?}", material.names);
            }
        }
    }

    #[test]
    fn what_lies_beyond_the_sheet_says_so() {
        let growth = known("304").expansion(ROOM, celsius(700.0));
        assert!(growth.is_beyond);
        assert!(
            (growth.per_c * 1e6 - 18.7).abs() < 1e-9,
            "held, not extrapolated"
        );
        assert!(known("304").expansion(celsius(-50.0), ROOM).is_beyond);
        assert!(
            !known("304")
                .expansion(celsius(0.0), celsius(650.0))
                .is_beyond
        );
    }

    #[test]
    fn no_rise_has_its_coefficient_still() {
        let growth = known("321").expansion(celsius(540.0), celsius(540.0));
        assert_eq!(growth.strain, 0.0);
        assert!((growth.per_c * 1e6 - 18.5).abs() < 1e-9);
    }
}
