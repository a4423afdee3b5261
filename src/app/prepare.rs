//! The window's side of Prepare: shows the room, tells the core, and saves riders.

use std::sync::Arc;

use egui::Ui;

use super::App;
use crate::awake::Awake;
use crate::rider::{self, Rider};
use crate::sound::Sound;
use crate::time::Instant;
use crate::ui::keys::Act;
use crate::ui::rooms::prepare::{self, Around, Data, Page};
use crate::ui::widgets::Look;

impl App {
    pub(super) fn prepare_ui(&mut self, ui: &mut Ui, look: Look, now: Instant) {
        let sound = self.sound.as_ref().and_then(Sound::trouble);
        let around = Around {
            display: self.awake.as_mut().and_then(Awake::trouble),
            sound: sound.as_deref(),
            settings_key: self.hands.keys.shown(Act::Settings),
            write_key: self.hands.keys.shown(Act::Write),
            review_key: self.hands.keys.shown(Act::Review),
            left_key: self.hands.keys.shown(Act::LeftOpen),
            television_key: self.hands.keys.shown(Act::Television),
            television_open: self.television.is_open(),
            screen_told: self.settings.screen().is_some(),
            settings_troubles: &self.settings_troubles,
        };
        self.prepare.settle(&self.snapshot);
        let data = Data::new(
            now,
            &self.snapshot,
            &self.shelf,
            self.chosen,
            &self.prepare,
            &around,
        );
        let (chosen, state) = (&mut self.chosen, &mut self.prepare);
        let before = state.page;
        let answer = prepare::room_ui(ui, &data, look, &self.shelf, chosen, state);
        if before == Page::LeftOpen && state.page != before {
            // Leaving it is an answer too.
            state.offer.rest(now);
        }
        for command in answer.commands {
            self.chosen_by_hand(&command);
            self.ride.command(command);
        }
        self.in_settings |= answer.settings;
        if answer.television {
            self.television.turn();
        }
        if answer.write {
            self.enter_write();
        }
        if answer.review {
            let ctx = ui.ctx().clone();
            self.toggle_review(&ctx);
        }
        if let Some(wish) = answer.left {
            let ctx = ui.ctx().clone();
            self.answer_left(&ctx, wish);
        }
        if let Some((place, rider)) = answer.save {
            self.save_rider(place, rider);
        }
        if answer.reread {
            self.reread_rider();
        }
    }

    /// Reads the file of the rider that is edited anew, and puts what was changed on the page over it. Where it cannot
    /// be read the page says why.
    fn reread_rider(&mut self) {
        let Some(form) = &mut self.prepare.form else {
            return;
        };
        let kept = form
            .place
            .and_then(|place| self.shelf.riders.get_mut(place));
        let Some((Some(key), kept)) = kept else {
            return;
        };
        match self.desk.read_rider(key) {
            Ok(read) => {
                *form = form.over(&read);
                *kept = Arc::new(read);
                self.tell_what_changed();
            }
            Err(refusal) => form.refusal = Some(refusal),
        }
    }

    /// Saves a rider and puts them on the shelf as the file now says, chosen; where that fails the page says why.
    fn save_rider(&mut self, place: Option<usize>, rider: Rider) {
        let kept = place.and_then(|place| self.shelf.riders.get(place));
        let key = kept.and_then(|(key, _)| key.as_deref());
        match self.desk.save_rider(key, &rider) {
            Ok(key) => {
                let source = Arc::from(rider::amended(&rider));
                let saved = (Some(key), Arc::new(Rider { source, ..rider }));
                match place.and_then(|place| self.shelf.riders.get_mut(place)) {
                    Some(kept) => *kept = saved,
                    None => {
                        self.chosen.rider = self.shelf.riders.len();
                        self.shelf.riders.push(saved);
                    }
                }
                self.prepare.leave_form();
                self.tell_what_changed();
            }
            Err(refusal) => {
                let has_file = key.is_some();
                if let Some(form) = &mut self.prepare.form {
                    form.refusal = Some(refusal);
                    form.reread = has_file;
                }
            }
        }
    }
}
