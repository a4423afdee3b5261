//! The built-in sessions of the shelf, in the language of whoever reads.

use std::sync::Arc;

use super::App;
use super::room::Room;
use crate::plan;
use crate::text;

impl App {
    /// Offers the built-in sessions in the language that is spoken by now, each in its own place, so that what was chosen
    /// stays chosen. A ride goes on, and ends, with the words that it was begun with.
    pub(super) fn offer_in_language(&mut self) {
        let language = text::language();
        if self.offered_in == language || matches!(self.room, Room::Ride | Room::Finish) {
            return;
        }
        self.offered_in = language;
        for (key, offered) in &mut self.shelf.sessions {
            if !plan::is_builtin(key, &offered.source) {
                continue;
            }
            let mut twins = plan::builtin_in(language).iter();
            let twin = twins.find(|(stem, _)| **stem == **key);
            if let Some(plan) = twin.and_then(|(_, text)| plan::read(text).plan) {
                *offered = Arc::new(plan);
            }
        }
        self.tell_what_changed();
    }
}
