//! The settings of the window: the screen and where the rider sits, sizes, language, ground, motion, sound,
//! and the keys.
//!
//! A text file like a rider's: read against one table of fields, every problem said, what is wrong left at its default.

mod fields;
mod file;

pub use fields::{DIAGONAL, DISTANCE, FIELDS, SETTINGS, settings_keys, settings_schema};
pub use file::{read, to_toml};

use crate::cue::Kinds;
use crate::text::{self, Language};
use crate::ui::keys::Keymap;
use crate::ui::legibility::{Screen, Sight};
use crate::ui::theme::Ground;

/// How much larger than usual text is drawn, per cent: in these steps.
pub const TEXT_SIZES: [u8; 5] = [100, 125, 150, 175, 200];

/// The settings. The defaults are those of a first start, when no screen was told.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// The diagonal of the screen, millimetres, 150 to 3000; none where it was not told.
    pub diagonal_mm: Option<f32>,
    /// From the eyes to the screen, millimetres, 300 to 5000; none where it was not told.
    pub distance_mm: Option<f32>,
    /// The size of text, per cent of the usual, 100 to 200.
    pub text_size: u8,
    /// The language of the screen; none for the system's.
    pub language: Option<Language>,
    /// What is drawn on.
    pub ground: Ground,
    /// Whether what moves for its own sake stands still.
    pub reduced_motion: bool,
    /// What is heard.
    pub kinds: Kinds,
    /// The keys.
    pub keys: Keymap,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            diagonal_mm: None,
            distance_mm: None,
            text_size: 100,
            language: None,
            ground: Ground::default(),
            reduced_motion: false,
            kinds: Kinds::default(),
            keys: Keymap::default(),
        }
    }
}

impl Settings {
    /// The screen, where both of its figures were told.
    pub fn screen(&self) -> Option<Screen> {
        Some(Screen {
            diagonal_mm: self.diagonal_mm?,
            distance_mm: self.distance_mm?,
        })
    }

    /// How the rider sees, of it all.
    pub fn sight(&self) -> Sight {
        Sight {
            screen: self.screen(),
            text: self.text_scale(),
            reduced_motion: self.reduced_motion,
        }
    }

    /// Has the reader's language be the one that is asked for, else the one of the settings, else the system's.
    pub fn speak(&self, asked: Option<Language>) {
        let chosen = asked.or(self.language);
        text::choose(chosen.unwrap_or_else(Language::of_the_system));
    }

    /// How much larger than usual text is drawn, 1 to 2.
    pub fn text_scale(&self) -> f32 {
        f32::from(self.text_size.clamp(100, 200)) / 100.0
    }
}
