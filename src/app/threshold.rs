//! The window's side of a threshold test: what it found is saved for the rider who takes it.

use std::sync::Arc;

use super::App;
use crate::engine::Command;
use crate::rider::{self, Rider};
use crate::ui::rooms::finish;

impl App {
    /// The rider has answered. Where the file cannot be saved nothing is taken, the reason is shown, and the question
    /// stands.
    pub(super) fn answer_threshold(&mut self, take: bool) {
        if !take {
            self.ride.command(Command::TakeThreshold(false));
            return;
        }
        let Some((key, kept)) = self.shelf.riders.get_mut(self.chosen.rider) else {
            return;
        };
        let told = self.snapshot.test.as_ref();
        let Some(rider) = told.and_then(|told| finish::with_finding(kept, told)) else {
            return;
        };
        match self.desk.save_rider(key.as_deref(), &rider) {
            Ok(saved) => {
                let source = Arc::from(rider::amended(&rider));
                *key = Some(saved);
                *kept = Arc::new(Rider { source, ..rider });
                self.ride.command(Command::TakeThreshold(true));
            }
            Err(refusal) => self.said = refusal,
        }
    }
}
