//! Stock bends and saw angles: what the shop has, checked.

use super::file_values::Quantity;
use super::path::Path;
use super::shop_file::StockFile;
use super::values::{Reader, Sign};
use crate::tube::{ElbowPattern, StockBend, Tube};
use crate::units::{Angle, Length};

/// Most kinds of stock bend.
const MAX_STOCK: usize = 20;

/// Most saw angles.
const MAX_ANGLES: usize = 12;

/// Difference in outside diameter that a butt weld takes.
const SAME_OD: Length = Length::from_mm(0.5);

/// Greatest saw angle.
const GREATEST_CUT: Angle = Angle::from_degrees(45.0);

/// A stock bend, whose diameter may be left to the run.
#[derive(Clone, Debug)]
pub(super) struct Shelf {
    bend: StockBend,
    any_od: bool,
}

impl Shelf {
    /// The bend for a run of `tube`, if it fits.
    pub fn fitted(&self, tube: &Tube) -> Option<StockBend> {
        let fits = self.any_od || (self.bend.od - tube.od()).abs() <= SAME_OD;
        let bend = StockBend {
            od: tube.od(),
            ..self.bend.clone()
        };
        (fits && bend.check().is_ok()).then_some(bend)
    }

    /// What it is called.
    pub fn name(&self) -> &str {
        &self.bend.name
    }
}

impl Reader<'_> {
    pub(super) fn shelf(&mut self, files: Option<&[StockFile]>, path: &Path) -> Option<Vec<Shelf>> {
        let files = files.unwrap_or_default();
        if files.len() > MAX_STOCK {
            return self.fail(
                path,
                format!("holds {} stock bends", files.len()),
                format!("give at most {MAX_STOCK} that may be used"),
            );
        }
        self.each(files, path, Self::stock_bend)
    }

    fn stock_bend(&mut self, file: &StockFile, path: &Path) -> Option<Shelf> {
        let mut bend = match &file.b16_9 {
            Some(text) => {
                let text = self.text(text, &path.key("b16_9"))?;
                match standard(&text) {
                    Some(bend) => bend,
                    None => {
                        return self.fail(
                            &path.key("b16_9"),
                            format!("{text:?} is no elbow that is known here"),
                            "write size and pattern, such as \"2 LR 90\": NPS 1 1/2 to 4, LR 90, LR 45 or SR 90; else give clr, turn and leg",
                        );
                    }
                }
            }
            None => self.own_bend(file, path)?,
        };
        if let Some(name) = &file.name {
            bend.name = self.text(name, &path.key("name"))?;
        }
        if let Some(leg) = &file.leg {
            bend.leg = self.length(leg, &path.key("leg"), Sign::NotNegative)?;
        }
        if let Some(od) = &file.od {
            bend.od = self.length(od, &path.key("od"), Sign::Positive)?;
        }
        if let Some(price) = &file.price {
            bend.price = self.number(price, &path.key("price"), 0.0, 1e9)?;
        }
        if let Some(count) = &file.count {
            bend.count = Some(self.count(count, &path.key("count"), 0, 10_000)?);
        }
        let any_od = file.b16_9.is_none() && file.od.is_none();
        if let (false, Err(error)) = (any_od, bend.check()) {
            return self.fail(path, error, "measure it again");
        }
        Some(Shelf { bend, any_od })
    }

    /// A bend by its measures; its diameter, if it is not given, is the run's.
    fn own_bend(&mut self, file: &StockFile, path: &Path) -> Option<StockBend> {
        let name = self.required(&file.name, &path.key("name"), "\"90 mandrel bend\"");
        let clr = self.required(&file.clr, &path.key("clr"), "its centerline radius");
        let clr = clr.and_then(|clr| self.length(clr, &path.key("clr"), Sign::Positive));
        let turn = self.required(&file.turn, &path.key("turn"), "90");
        let turn = turn.and_then(|turn| self.angle_within(turn, &path.key("turn"), Angle::HALF));
        Some(StockBend {
            name: name.and_then(|name| self.text(name, &path.key("name")))?,
            od: Length::ZERO,
            clr: clr?,
            turn: turn?,
            leg: Length::ZERO,
            price: 0.0,
            count: None,
        })
    }

    pub(super) fn saw_angles(
        &mut self,
        values: Option<&[Quantity]>,
        path: &Path,
    ) -> Option<Vec<Angle>> {
        let Some(values) = values else {
            return Some(Vec::new());
        };
        if values.is_empty() || values.len() > MAX_ANGLES {
            return self.fail(
                path,
                format!("holds {} angles", values.len()),
                format!("give 1 to {MAX_ANGLES}, or leave it out for any angle"),
            );
        }
        let mut angles = self.each(values, path, |reader, value, path| {
            reader.angle_within(value, path, GREATEST_CUT)
        })?;
        angles.sort_by(|a, b| a.radians().total_cmp(&b.radians()));
        angles.dedup();
        Some(angles)
    }

    /// An angle above 0° and below `most`.
    fn angle_within(&mut self, value: &Quantity, path: &Path, most: Angle) -> Option<Angle> {
        let angle = self.angle_or(&Some(value.clone()), path, Angle::ZERO)?;
        if angle > Angle::ZERO && angle < most {
            return Some(angle);
        }
        self.fail(
            path,
            format!(
                "must be more than 0° and less than {}°",
                most.degrees().round()
            ),
            "write degrees, or text such as \"11.25 deg\"",
        )
    }
}

/// The standard elbow that `text` names: size, pattern and turn.
fn standard(text: &str) -> Option<StockBend> {
    let text = text.trim().trim_start_matches("NPS").trim();
    ElbowPattern::ALL.into_iter().find_map(|pattern| {
        let size = text.strip_suffix(pattern.symbol())?;
        StockBend::b16_9(size.trim(), pattern)
    })
}
