//! From a ride that is looked at to the Write room: the next session that it proposes.

use std::sync::Arc;

use super::App;
use super::room::Room;
use crate::ride::Mode;
use crate::ui::rooms::write::{Question, Start};
use crate::write::{Editor, draft};

impl App {
    /// Opens what the ride that is looked at proposes, as a session that is not saved yet. Where nothing is proposed the
    /// room says why; where another text is not saved the rider is asked first.
    pub(super) fn write_next(&mut self) {
        if self.room != Room::Review {
            return;
        }
        let next = match self.review.opened() {
            Some(opened) => opened.next.clone(),
            None => Err(word!("No ride is open here yet. Choose one that can be read.").to_owned()),
        };
        let ready = next.and_then(|proposal| {
            self.may_write()?;
            Ok(proposal)
        });
        let proposal = match ready {
            Ok(proposal) => proposal,
            Err(why) => return self.review.say(why, false),
        };
        self.in_review = false;
        self.in_settings = false;
        if matches!(self.snapshot.mode, Mode::Finished(_)) && !self.left_finish {
            self.leave_finish();
        }
        let unsaved = self.write.editor.as_ref().is_some_and(Editor::is_unsaved);
        if !unsaved && self.drafted.is_none() {
            // The text that is open gives way in any case, and without one the room brings a draft up that somebody else
            // left on the disk: it is then asked about, and not written over.
            self.write.editor = None;
        }
        self.enter_write();
        self.show_list(false);
        let start = Start::Next(Arc::clone(&proposal));
        if self.write.editor.as_ref().is_some_and(Editor::is_unsaved) {
            self.write.question = Some(Question::Unsaved(start));
        } else {
            self.begin(&start);
        }
    }

    /// Whether nothing would be lost by going from here to the Write room; else what to do first.
    fn may_write(&mut self) -> Result<(), String> {
        let test = self.snapshot.test.as_deref();
        let found = test.is_some_and(|test| test.found.is_ok() && test.taken.is_none());
        let ended = matches!(self.snapshot.mode, Mode::Finished(_)) && !self.left_finish;
        if ended && (found || self.snapshot.question.is_some()) {
            return Err(word!("The ride that has just ended still has a question for you, and what you answer counts here too. Go back, answer it or pass it, and come again.").to_owned());
        }
        // A text that is not saved is asked about in the room; a draft on the disk must be one that can be opened.
        let unsaved = self.write.editor.as_ref().is_some_and(Editor::is_unsaved);
        if !unsaved
            && let Some(kept) = self.sessions.draft()?
            && draft::read(&kept).is_none()
        {
            return Err(word!("A draft lies in the folder of sessions that cannot be read, and it would be written over. Look at it, or move it away, and come again.").to_owned());
        }
        Ok(())
    }
}
