//! What a key or a button does, as far as the window does it.

use egui::Context;

use super::App;
use crate::ui::keys::{self, Act, Effect};
use crate::ui::theme;

impl App {
    /// Does what a key stands for: the ride's part goes to the core, the window's part is done here.
    pub(super) fn act(&mut self, ctx: &Context, act: Act) {
        if act == Act::BrakeOff {
            self.in_settings = false;
            self.in_review = false;
            self.step_back_from_writing();
        }
        let seen = self.seen();
        for command in keys::commands(act, &seen, &mut self.hands) {
            self.ride.command(command);
        }
        self.window_effects(ctx);
    }

    /// Does what an act left for the window itself.
    pub(super) fn window_effects(&mut self, ctx: &Context) {
        for effect in self.hands.take_for_window() {
            match effect {
                Effect::Ground => {
                    self.settings.ground = self.settings.ground.other();
                    theme::dress(ctx, self.settings.ground);
                }
                Effect::Television => self.television.turn(),
                Effect::Sound => {
                    self.settings.kinds.on = !self.settings.kinds.on;
                    self.sound_turned = Some(self.snapshot.at);
                }
                Effect::Settings => {
                    self.in_settings = !self.in_settings;
                    self.in_review = false;
                }
                Effect::Write => {
                    self.in_review = false;
                    self.enter_write();
                }
                Effect::Review => self.toggle_review(ctx),
                Effect::LeftOpen => self.show_left_open(),
                Effect::NextSession => self.write_next(),
                Effect::Leave => self.leave_finish(),
                Effect::TakeFound => self.answer_threshold(true),
                Effect::LeaveFound => self.answer_threshold(false),
                _ => {}
            }
        }
    }
}
