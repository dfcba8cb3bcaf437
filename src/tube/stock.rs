//! [`Tube`]: the stock's cross-section.

use crate::units::Length;
use std::f64::consts::PI;
use thiserror::Error;

/// Round tube of one outside diameter, wall and material.
#[derive(Clone, Debug, PartialEq)]
pub struct Tube {
    od: Length,
    wall: Length,
    material: String,
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
        })
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
