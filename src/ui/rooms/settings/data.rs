//! What the room of settings shows, without drawing it.

use egui::Vec2;

use super::Capture;
use crate::text;
use crate::ui::keys::{Act, BINDINGS};
use crate::ui::settings::Settings;

/// The length of the line that is held against a ruler.
pub const MILLIMETRES: f32 = 100.0;

/// A screen to begin with where none was told: the diagonal of a laptop of 14 inches.
pub const USUAL_DIAGONAL_MM: f32 = 356.0;

/// A distance to begin with: an arm and a handlebar.
pub const USUAL_DISTANCE_MM: f32 = 1500.0;

/// Capital letters of critical text are so high on the glass at [`USUAL_DISTANCE_MM`]: 16 minutes of arc
/// (ISO 9241-303), 7 mm at a metre and a half.
const CAPITALS_MM: f32 = 7.0;

/// The capital height of B612 as a share of its size: sCapHeight over unitsPerEm, in its OS/2 and head tables.
pub const CAPITAL_SHARE: f32 = CAPITAL_UNITS / 2000.0;
const CAPITAL_UNITS: f32 = 1500.0;

/// One act and its keys.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyRow {
    /// The act.
    pub act: Act,
    /// Its name.
    pub name: &'static str,
    /// Its keys, as they are written on the screen.
    pub keys: String,
    /// Whether it waits for the key that is to be its own.
    pub waits: bool,
}

/// Everything that the room shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Data {
    /// The line that shall be [`MILLIMETRES`] long, in points.
    pub line: f32,
    /// The size of type at which critical text has its least height on this screen, in points.
    pub critical: f32,
    /// "On this screen the least height is …", a sentence.
    pub sample: String,
    /// The keys of every act.
    pub keys: Vec<KeyRow>,
    /// What is wrong, a sentence each.
    pub troubles: Vec<String>,
    /// Whether the screen was told.
    pub told: bool,
}

impl Data {
    /// What the room shows. `monitor` is the whole screen in points.
    pub fn new(settings: &Settings, capture: &Capture, monitor: Vec2, troubles: &[String]) -> Self {
        let diagonal = settings.diagonal_mm.unwrap_or(USUAL_DIAGONAL_MM);
        let distance = settings.distance_mm.unwrap_or(USUAL_DISTANCE_MM);
        let line = line_of(diagonal, monitor);
        let height = CAPITALS_MM * distance / USUAL_DISTANCE_MM;
        Self {
            line,
            critical: height * line / MILLIMETRES / CAPITAL_SHARE,
            sample: say!(
                "What is read while riding has capitals at least {height:.1} mm high at {distance:.0} cm, as here.",
                height,
                distance = distance / 10.0
            ),
            keys: BINDINGS
                .iter()
                .map(|binding| KeyRow {
                    act: binding.act,
                    name: text::word(binding.name),
                    keys: settings.keys.all_shown(binding.act),
                    waits: capture.waits.is_some_and(|(act, _)| act == binding.act),
                })
                .collect(),
            troubles: capture.refused.iter().chain(troubles).cloned().collect(),
            told: settings.screen().is_some(),
        }
    }
}

/// How long the line is on a screen of this diagonal, in points. `monitor` is the whole screen in points.
pub fn line_of(diagonal_mm: f32, monitor: Vec2) -> f32 {
    MILLIMETRES * monitor.length() / diagonal_mm
}

/// The diagonal of a screen on which a line of so many points is [`MILLIMETRES`] long.
pub fn diagonal_of(line: f32, monitor: Vec2) -> f32 {
    MILLIMETRES * monitor.length() / line.max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::vec2;

    #[test]
    fn the_line_is_reckoned_from_the_diagonal() {
        // 1920 by 1080 dots on a monitor of 24 inches: sqrt(1920² + 1080²) = 2202.9 dots on 609.6 mm, 3.614 to the
        // millimetre.
        let monitor = vec2(1920.0, 1080.0);
        let line = line_of(609.6, monitor);
        assert!((line - 361.4).abs() < 0.1, "{line}");
        assert!((diagonal_of(line, monitor) - 609.6).abs() < 0.01);
    }

    #[test]
    fn critical_text_is_as_high_as_the_standard_asks() {
        // ISO 9241-303: 16 minutes of arc, 1500 mm × tan(16′) = 6.98 mm; twice as far, twice as high.
        let monitor = vec2(1920.0, 1080.0);
        for (distance, height) in [(1500.0, 6.98), (3000.0, 13.96), (750.0, 3.49)] {
            let settings = Settings {
                diagonal_mm: Some(609.6),
                distance_mm: Some(distance),
                ..Settings::default()
            };
            let data = Data::new(&settings, &Capture::default(), monitor, &[]);
            let on_glass = data.critical * CAPITAL_SHARE / (data.line / MILLIMETRES);
            assert!((on_glass / height - 1.0).abs() < 0.01, "{on_glass}");
        }
    }
}
