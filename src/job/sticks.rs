//! Sticks to buy and leftovers on the shelf, checked.

use super::file_values::{Quantity, Text};
use super::job::JobRun;
use super::path::Path;
use super::problem::Problem;
use super::shop_file::ShopFile;
use super::stick_file::{LeftoverFile, LeftoverOf, StickFile};
use super::values::{Reader, Sign};
use crate::shop::{Leftover, StickStock, StockStick, StockTube};
use crate::tube::Tube;
use crate::units::Length;

/// Most lengths to buy.
const MOST_STICKS: usize = 20;

/// Most leftovers on the shelf.
const MOST_LEFTOVERS: usize = 200;

/// Most sticks of one length.
const MOST_COUNT: u32 = 10_000;

/// Greatest price of a stick.
const MOST_PRICE: f64 = 1e9;

/// Shortest stick and leftover: less is a slip of the unit.
const LEAST_LENGTH: Length = Length::from_mm(1.0);

impl Reader<'_> {
    /// What the shop cuts its tube from.
    pub(super) fn stick_stock(&mut self, file: &ShopFile, path: &Path) -> Option<StickStock> {
        let (sticks_path, shelf_path) = (path.key("sticks"), path.key("shelf"));
        let sticks = file.sticks.as_deref().unwrap_or_default();
        let shelf = file.shelf.as_deref().unwrap_or_default();
        let sticks = self.few(sticks, MOST_STICKS, &sticks_path, "lengths to buy");
        let shelf = self.few(shelf, MOST_LEFTOVERS, &shelf_path, "leftovers");
        let sticks = sticks.and_then(|all| self.each(all, &sticks_path, Self::stick));
        let shelf = shelf.and_then(|all| self.each(all, &shelf_path, Self::leftover));
        let least = self.length_or(
            &file.least_leftover,
            &path.key("least_leftover"),
            Sign::NotNegative,
            StickStock::LEAST_LEFTOVER,
        );
        let (sticks, shelf) = (sticks?, shelf?);
        let priced = sticks.iter().filter(|stick| stick.price.is_some()).count();
        if priced > 0 && priced < sticks.len() {
            return self.fail(
                &sticks_path,
                format!("has a price on {priced} of {} lengths", sticks.len()),
                "give all of them a price, or none: then the least length is bought",
            );
        }
        if sticks.is_empty() && !shelf.is_empty() {
            return self.fail(
                &sticks_path,
                "is missing, but there are leftovers on the shelf",
                "say which lengths you buy, such as \"sticks\": [ { \"length\": \"20 ft\" } ]",
            );
        }
        Some(StickStock {
            sticks,
            shelf,
            least_leftover: least?,
        })
    }

    fn few<'v, T>(
        &mut self,
        all: &'v [T],
        most: usize,
        path: &Path,
        what: &str,
    ) -> Option<&'v [T]> {
        if all.len() <= most {
            return Some(all);
        }
        let message = format!("holds {} {what}", all.len());
        self.fail(path, message, format!("give at most {most}"))
    }

    fn stick(&mut self, file: &StickFile, path: &Path) -> Option<StockStick> {
        let length = self.required(&file.length, &path.key("length"), "\"20 ft\"");
        let length = length.and_then(|length| self.stick_length(length, &path.key("length")));
        let price = match &file.price {
            Some(price) => self
                .number(price, &path.key("price"), 0.0, MOST_PRICE)
                .map(Some),
            None => Some(None),
        };
        let count = match &file.count {
            Some(count) => self
                .count(count, &path.key("count"), 0, MOST_COUNT)
                .map(Some),
            None => Some(None),
        };
        let of = self.stock_tube([&file.od, &file.wall], &file.material, path);
        Some(StockStick {
            length: length?,
            price: price?,
            count: count?,
            of: of?,
        })
    }

    fn leftover(&mut self, file: &LeftoverFile, path: &Path) -> Option<Leftover> {
        match file {
            LeftoverFile::Length(length) => Some(Leftover {
                length: self.stick_length(length, path)?,
                of: StockTube::default(),
            }),
            LeftoverFile::Of(file) => self.leftover_of(file, path),
        }
    }

    fn leftover_of(&mut self, file: &LeftoverOf, path: &Path) -> Option<Leftover> {
        let length = self.required(&file.length, &path.key("length"), "\"31 1/2 in\"");
        let length = length.and_then(|length| self.stick_length(length, &path.key("length")));
        let of = self.stock_tube([&file.od, &file.wall], &file.material, path);
        Some(Leftover {
            length: length?,
            of: of?,
        })
    }

    fn stick_length(&mut self, value: &Quantity, path: &Path) -> Option<Length> {
        let length = self.length(value, path, Sign::Positive)?;
        if length < LEAST_LENGTH {
            return self.fail(path, "is less than 1 mm", "check the unit");
        }
        Some(length)
    }

    fn stock_tube(
        &mut self,
        [od, wall]: [&Option<Quantity>; 2],
        material: &Option<Text>,
        path: &Path,
    ) -> Option<StockTube> {
        let mut size = |value: &Option<Quantity>, key: &str| match value {
            Some(value) => self.length(value, &path.key(key), Sign::Positive).map(Some),
            None => Some(None),
        };
        let (od, wall) = (size(od, "od"), size(wall, "wall"));
        let material = match material {
            Some(text) => self.text(text, &path.key("material")).map(Some),
            None => Some(None),
        };
        Some(StockTube {
            od: od?,
            wall: wall?,
            material: material?,
        })
    }

    /// Warns of sticks and leftovers that no run can be cut from.
    pub(super) fn warn_idle_sticks(&mut self, stock: &StickStock, runs: &[JobRun]) {
        let shop = Path::root().key("shop");
        let fits = |of: &StockTube| runs.iter().any(|run| of.fits(&run.task.tube));
        let sticks = stock.sticks.iter().map(|stick| &stick.of);
        let shelf = stock.shelf.iter().map(|leftover| &leftover.of);
        let sticks = sticks
            .enumerate()
            .map(|(i, of)| (shop.key("sticks").index(i), of));
        let shelf = shelf
            .enumerate()
            .map(|(i, of)| (shop.key("shelf").index(i), of));
        for (path, of) in sticks.chain(shelf) {
            if !fits(of) {
                let message = "is of no run's tube";
                let help = "check its od, wall and material; it is not used";
                self.warnings.push(Problem::at(&path, message, help));
            }
        }
        let without = |tube: &Tube| !stock.sticks.iter().any(|stick| stick.of.fits(tube));
        for (i, run) in runs.iter().enumerate() {
            if !stock.sticks.is_empty() && without(&run.task.tube) {
                let path = Path::root().key("runs").index(i);
                let message = format!("run '{}' has no sticks of its tube", run.name);
                let help = "add a length of it to shop.sticks; it is cut from one stick as long as it takes";
                self.warnings.push(Problem::at(&path, message, help));
            }
        }
    }
}
