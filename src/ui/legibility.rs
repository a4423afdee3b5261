//! Legibility by measure: how large type must be drawn to be read from the saddle on the rider's own screen.
//!
//! Points are not millimetres. The screen's diagonal and the rider's distance from it are asked once; with the
//! monitor's size in points they give millimetres per point, and with the typeface's capital height the least size of
//! type for what is read while riding.

use egui::Vec2;

use crate::ui::theme::REFERENCE;

/// The least height of a character, as an angle at the eye (ISO 9241-303: 16 minutes of arc), minutes.
pub const LEAST_ANGLE: f32 = 16.0;

/// The big figures are this much larger than the least: 25 mm where it is 7.
pub const FIGURES: f32 = 25.0 / 7.0;

/// The height of B612's capitals and figures as a share of its size (`sCapHeight` over `unitsPerEm` of the font).
pub const CAPITALS: f32 = 0.75;

/// The rider's screen and where they sit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Screen {
    /// The diagonal of the screen, millimetres; 150 to 3000.
    pub diagonal_mm: f32,
    /// From the eyes to the screen, millimetres; 300 to 5000.
    pub distance_mm: f32,
}

impl Default for Screen {
    /// Where nothing was said: a laptop of 13 inches, a metre and a half away. It is the smallest that is common, so a
    /// larger screen shows everything larger than it need be.
    fn default() -> Self {
        Self {
            diagonal_mm: 330.2,
            distance_mm: 1500.0,
        }
    }
}

impl Screen {
    /// The least height of a capital that is read from the saddle, millimetres: 7.0 at a metre and a half.
    pub fn least_mm(self) -> f32 {
        let half = (LEAST_ANGLE / 60.0 / 2.0).to_radians();
        2.0 * self.distance_mm.clamp(300.0, 5000.0) * half.tan()
    }

    /// Millimetres per point on a monitor of this size in points.
    pub fn mm_per_point(self, monitor: Vec2) -> f32 {
        self.diagonal_mm.clamp(150.0, 3000.0) / monitor.length().max(1.0)
    }

    /// The least size of type that is read from the saddle, points.
    pub fn least_points(self, monitor: Vec2) -> f32 {
        self.least_mm() / self.mm_per_point(monitor) / CAPITALS
    }
}

/// How the rider sees: what the settings say of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sight {
    /// The screen and the distance; none where nothing was said.
    pub screen: Option<Screen>,
    /// How much larger than designed type is drawn, 1 to 2.
    pub text: f32,
    /// Whether nothing may move smoothly.
    pub reduced_motion: bool,
}

impl Default for Sight {
    fn default() -> Self {
        Self {
            screen: None,
            text: 1.0,
            reduced_motion: false,
        }
    }
}

impl Sight {
    /// The least size of type that is read from the saddle, points. `monitor` is the monitor's size in points; where the
    /// system does not tell, the reference window is taken for it.
    pub fn least_points(&self, monitor: Option<Vec2>) -> f32 {
        let monitor = monitor.filter(|size| size.min_elem() > 1.0);
        self.screen
            .unwrap_or_default()
            .least_points(monitor.unwrap_or(REFERENCE))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;

    #[test]
    fn sixteen_minutes_of_arc_are_seven_millimetres_at_a_metre_and_a_half() {
        // 2 · 1500 · tan(8′) = 6.981 mm; at 1 m two thirds of it.
        assert!((Screen::default().least_mm() - 6.981).abs() < 0.002);
        let near = Screen {
            distance_mm: 1000.0,
            ..Screen::default()
        };
        assert!((near.least_mm() - 4.654).abs() < 0.002);
    }

    #[test]
    fn a_small_laptop_needs_type_of_43_points_and_a_desk_monitor_of_25() {
        // 13 inches over 1509.4 points are .21876 mm a point; 6.981 / .21876 / .75 = 42.55.
        let laptop = Screen::default().least_points(Vec2::new(1280.0, 800.0));
        assert!((laptop - 42.55).abs() < 0.05, "{laptop}");
        // 27 inches are 685.8 mm over 2937.2 points of 2560×1440: .23349 mm a point, 39.87; at 1 m 26.58.
        let desk = Screen {
            diagonal_mm: 685.8,
            distance_mm: 1000.0,
        };
        assert!((desk.least_points(Vec2::new(2560.0, 1440.0)) - 26.58).abs() < 0.05);
    }

    #[test]
    fn nothing_known_is_a_small_laptop() {
        let sight = Sight::default();
        assert_eq!(
            sight.least_points(None),
            sight.least_points(Some(REFERENCE))
        );
        assert_eq!(
            sight.least_points(Some(Vec2::ZERO)),
            sight.least_points(None)
        );
    }

    /// A 16-bit word at an offset of one of the font's tables (OpenType 1.9: the table directory, `head`, `OS/2`).
    fn word(font: &[u8], table: &[u8; 4], offset: usize) -> u16 {
        let two = |at: usize| u16::from_be_bytes([font[at], font[at + 1]]);
        let count = usize::from(two(4));
        let record = (0..count)
            .map(|index| 12 + index * 16)
            .find(|&at| &font[at..at + 4] == table)
            .unwrap();
        let start = usize::from(two(record + 8)) << 16 | usize::from(two(record + 10));
        two(start + offset)
    }

    #[test]
    fn the_capital_height_is_the_fonts_own() {
        for font in [
            &include_bytes!("../../assets/fonts/B612-Regular.otf")[..],
            &include_bytes!("../../assets/fonts/B612-Bold.otf")[..],
        ] {
            let units = f32::from(word(font, b"head", 18));
            let capitals = f32::from(word(font, b"OS/2", 88));
            assert!((capitals / units - CAPITALS).abs() < 1e-6);
        }
    }
}
