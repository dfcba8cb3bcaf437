//! [`Tube`]: the stock's cross-section.

use super::material::{Expansion, Family, Material};
use crate::units::{Length, Temperature};
use std::f64::consts::PI;
use thiserror::Error;

/// Round tube of one outside diameter, wall and material.
#[derive(Clone, Debug, PartialEq)]
pub struct Tube {
    od: Length,
    wall: Length,
    material: String,
    own: OwnProperties,
}

/// What a job says itself of its material: it goes before what is known here.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct OwnProperties {
    /// Density, g/cm³.
    pub density: Option<f64>,
    /// Mean coefficient of thermal expansion, per degree Celsius.
    pub expansion: Option<f64>,
}

/// Why a cross-section cannot exist.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum TubeError {
    /// The diameter is zero, negative or not finite.
    #[error("the outside diameter must be more than zero")]
    Diameter,
    /// The wall is zero, negative or not finite.
    #[error("the wall must be more than zero")]
    Wall,
    /// The wall is as thick as the radius or thicker: no bore is left.
    #[error("the wall must be less than half the outside diameter, or no bore is left")]
    NoBore,
}

impl Tube {
    /// From outside diameter, wall thickness and a material name.
    pub fn new(od: Length, wall: Length, material: &str) -> Result<Self, TubeError> {
        if !(od.is_finite() && od > Length::ZERO) {
            return Err(TubeError::Diameter);
        }
        if !(wall.is_finite() && wall > Length::ZERO) {
            return Err(TubeError::Wall);
        }
        if wall >= od / 2.0 {
            return Err(TubeError::NoBore);
        }
        Ok(Self {
            od,
            wall,
            material: material.to_owned(),
            own: OwnProperties::default(),
        })
    }

    /// The same with what the job says itself of the material.
    pub fn with_own(self, own: OwnProperties) -> Self {
        Self { own, ..self }
    }

    /// What the job says itself of the material.
    pub const fn own(&self) -> OwnProperties {
        self.own
    }

    /// What is known of the material; `None` for a name that is not known.
    pub fn known(&self) -> Option<&'static Material> {
        Material::find(&self.material)
    }

    /// What kind of metal it is, if the name is known.
    pub fn family(&self) -> Option<Family> {
        self.known().map(|material| material.family)
    }

    /// Density in g/cm³: the job's own, else that of a known material.
    pub fn density(&self) -> Option<f64> {
        let known = || self.known().map(|material| material.density);
        self.own.density.or_else(known)
    }

    /// Mass in kg of a length along the center, whatever its cuts: π·(OD − wall)·wall·L·ρ;
    /// `None` where the density is not known. Weld metal is not in it.
    pub fn mass_kg(&self, length: Length) -> Option<f64> {
        // g/cm³ = 1e-6 kg/mm³.
        Some(self.wall_area_mm2() * length.mm() * self.density()? * 1e-6)
    }

    /// How much it grows from `cold` to `hot`: by the job's own coefficient, else by that
    /// of a known material.
    pub fn expansion(&self, cold: Temperature, hot: Temperature) -> Option<Expansion> {
        match self.own.expansion {
            Some(per_c) => Some(Expansion::own(per_c, cold, hot)),
            None => Some(self.known()?.expansion(cold, hot)),
        }
    }

    /// Outside diameter.
    pub const fn od(&self) -> Length {
        self.od
    }

    /// Wall thickness.
    pub const fn wall(&self) -> Length {
        self.wall
    }

    /// Material as the job names it.
    pub fn material(&self) -> &str {
        &self.material
    }

    /// Outside radius, OD/2.
    pub fn radius(&self) -> Length {
        self.od / 2.0
    }

    /// Bore radius, OD/2 − wall.
    pub fn bore_radius(&self) -> Length {
        self.radius() - self.wall
    }

    /// Outside circumference, π·OD.
    pub fn circumference(&self) -> Length {
        self.od * PI
    }

    /// Area of the wall's cross-section in mm²: π·(OD − wall)·wall.
    pub fn wall_area_mm2(&self) -> f64 {
        PI * (self.od - self.wall).mm() * self.wall.mm()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mass_is_wall_volume_times_density() {
        // 76.2 × 1.65 × 120 mm: wall volume 46372.7350 mm³ (computed); 304 at 8.00 g/cm³
        // (ASM sheet, seen).
        let tube = Tube::new(Length::from_mm(76.2), Length::from_mm(1.65), "304").unwrap();
        let mass = tube.mass_kg(Length::from_mm(120.0)).unwrap();
        assert!((mass - 46_372.735_0 * 8e-6).abs() < 1e-9, "{mass}");
        // ASME B36.10M, NPS 2 schedule 40 (60.3 × 3.91): 5.44 kg/m (pipe tables, from
        // memory), which are reckoned at 7.85 g/cm³.
        let pipe = Tube::new(Length::from_mm(60.3), Length::from_mm(3.91), "carbon").unwrap();
        let mass = pipe.mass_kg(Length::from_mm(1000.0)).unwrap();
        assert!((mass - 5.44).abs() < 0.01, "{mass}");
    }

    #[test]
    fn a_job_knows_its_material_best() {
        let tube = Tube::new(Length::from_mm(50.0), Length::from_mm(1.5), "unobtainium").unwrap();
        assert_eq!(tube.density(), None);
        assert_eq!(tube.mass_kg(Length::from_mm(1.0)), None);
        let (cold, hot) = (
            Temperature::from_celsius(20.0),
            Temperature::from_celsius(120.0),
        );
        assert_eq!(tube.expansion(cold, hot), None);
        let own = OwnProperties {
            density: Some(5.0),
            expansion: Some(1e-5),
        };
        let tube = tube.with_own(own);
        assert_eq!(tube.density(), Some(5.0));
        let growth = tube.expansion(cold, hot).unwrap();
        assert!((growth.strain - 1e-3).abs() < 1e-15);
    }

    #[test]
    fn impossible_sections_are_refused() {
        let tube = |od, wall| Tube::new(Length::from_mm(od), Length::from_mm(wall), "304");
        assert_eq!(tube(0.0, 1.0), Err(TubeError::Diameter));
        assert_eq!(tube(f64::NAN, 1.0), Err(TubeError::Diameter));
        assert_eq!(tube(50.0, -1.0), Err(TubeError::Wall));
        assert_eq!(tube(50.0, f64::INFINITY), Err(TubeError::Wall));
        assert_eq!(tube(50.0, 25.0), Err(TubeError::NoBore));
        assert!(tube(50.0, 24.9).is_ok());
    }
}
