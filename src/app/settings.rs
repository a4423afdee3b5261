//! The window's side of the settings: shows the room, and saves what was changed.

use egui::Ui;

use super::{App, Room};
use crate::text::Language;
use crate::ui::keys::Hands;
use crate::ui::rooms::settings;
use crate::ui::settings::to_toml;
use crate::ui::theme;
use crate::ui::widgets::Look;

impl App {
    /// Saves the settings where they changed. Not while a ride is under way, nor while they are being changed.
    pub(super) fn save_settings(&mut self) {
        if self.saved == self.settings || self.room == Room::Settings || self.room == Room::Ride {
            return;
        }
        self.saved = self.settings.clone();
        self.settings_troubles.clear();
        if let Err(sentence) = self.desk.save_settings(&to_toml(&self.settings)) {
            self.settings_troubles.push(sentence);
        }
    }

    /// Counts for this run, whatever the settings say: a language that the command line asks for.
    #[must_use]
    pub fn speaking(mut self, language: Option<Language>) -> Self {
        self.asked_language = language;
        self
    }

    /// Another language was chosen. What is kept in words is made anew in it.
    fn speak_anew(&mut self) {
        self.settings.speak(self.asked_language);
        self.look_for_left = true;
        self.write.speak_anew();
    }

    pub(super) fn settings_ui(&mut self, ui: &mut Ui, look: Look) {
        let before = self.settings.clone();
        let monitor = ui
            .input(|input| input.viewport().monitor_size)
            // Where the system does not tell, the window is taken for the screen: right where it fills it.
            .filter(|size| size.x > 0.0 && size.y > 0.0)
            .unwrap_or_else(|| ui.ctx().content_rect().size());
        let data = settings::Data::new(
            &self.settings,
            &self.capture,
            monitor,
            &self.settings_troubles,
        );
        let leaves = settings::room_ui(
            ui,
            &data,
            look,
            monitor,
            &mut self.settings,
            &mut self.capture,
        );
        if leaves {
            self.in_settings = false;
        }
        if before != self.settings {
            self.hands = Hands::with_keys(self.settings.keys.clone());
            theme::dress(ui.ctx(), self.settings.ground);
        }
        if before.language != self.settings.language {
            self.speak_anew();
        }
    }
}
