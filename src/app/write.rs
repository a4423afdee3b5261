//! The window's side of the Write room: opens and saves sessions, and keeps what is not saved.

use std::sync::Arc;
use std::time::Duration;

use egui::Ui;

use super::App;
use super::open::session_trouble;
use crate::plan::{self, Plan, Severity};
use crate::text::{self, Language};
use crate::time::{Instant, Span};
use crate::ui::rooms::write::{self, AT_ONCE, Data, Question, REST, Start, Wish};
use crate::ui::widgets::Look;
use crate::write::{Editor, Origin, TEMPLATES, draft};

/// What is not saved is kept as a draft when nothing was typed for so long: a program that is killed loses no more.
const DRAFT_AFTER: Span = Span::from_seconds(2);

impl App {
    /// Goes to the Write room: to a text that was left there unsaved, else to a draft, else to the session that is chosen.
    pub(super) fn enter_write(&mut self) {
        self.in_write = true;
        self.write.enter();
        if !self.belongs_here() {
            self.write.editor = None;
        }
        if self.write.editor.is_some() {
            self.notice_changes();
            return;
        }
        match self.sessions.draft() {
            Ok(Some(kept)) => {
                if let Some(draft) = draft::read(&kept) {
                    return self.restore(draft);
                }
            }
            Ok(None) => {}
            Err(sentence) => self.write.say(sentence, true),
        }
        let said = self.write.said.clone();
        self.begin(&Start::Copy);
        if !said.words.is_empty() {
            self.write.said = said;
        }
    }

    /// Whether the text that was left in the room is what the rider wants to see there: unless it is saved and right, and
    /// another session was chosen since.
    fn belongs_here(&self) -> bool {
        let editor = self.write.editor.as_ref();
        editor.is_some_and(|editor| {
            editor.is_unsaved() || editor.plan().is_none() || self.left_beside == self.chosen_key()
        })
    }

    /// The key of the session that is chosen in Prepare.
    fn chosen_key(&self) -> Option<String> {
        let chosen = self.shelf.sessions.get(self.chosen.session);
        chosen.map(|(key, _)| key.clone())
    }

    /// Puts a draft back as it was.
    fn restore(&mut self, draft: draft::Draft) {
        let origin = match &draft.key {
            None => Origin::New,
            Some(key) => {
                let now = self.sessions.load(key).ok().flatten();
                // Where the file says something else by now, it is not known what it says: saving will ask.
                let known = now.filter(|now| draft.is_of(now)).unwrap_or_default();
                Origin::Own {
                    key: key.clone(),
                    known,
                }
            }
        };
        self.write.begin(Editor::restored(origin, &draft.text));
        // It is kept already, as it stands.
        self.drafted = self.write.editor.as_ref().map(Editor::version);
        let words =
            word!("This was written before and not saved. Save it, or begin with something else.");
        self.write.say(words, false);
    }

    /// Escape in the Write room: closes what stands over the text, else leaves. The text stays as it is.
    pub(super) fn step_back_from_writing(&mut self) {
        if self.in_write && !self.write.step_back() {
            self.leave_write();
        }
    }

    /// Leaves the room, or is taken out of it by a ride that begins.
    pub(super) fn leave_write(&mut self) {
        if self.in_write {
            self.in_write = false;
            self.left_beside = self.chosen_key();
            self.keep_draft();
        }
    }

    pub(super) fn write_ui(&mut self, ui: &mut Ui, look: Look, now: Instant) {
        if ui.input(|input| {
            let focused = |event: &egui::Event| matches!(event, egui::Event::WindowFocused(true));
            input.events.iter().any(focused)
        }) {
            self.notice_changes();
        }
        let rider = self.shelf.riders.get(self.chosen.rider);
        let rider = rider.map(|(_, rider)| &**rider);
        if let Some((version, reading)) = self.reader.take()
            && let Some(editor) = &mut self.write.editor
        {
            editor.take_reading(version, reading);
        }
        self.write.settle(now, rider, self.chosen.mode);
        if self.write.wants_reading(now)
            && let Some(editor) = &self.write.editor
        {
            let window = ui.ctx().clone();
            self.reader
                .begin(editor.version(), editor.file_text(), move || {
                    window.request_repaint();
                });
        }
        let sessions = &self.shelf.sessions;
        let chosen = sessions.get(self.chosen.session);
        let data = Data::new(
            &self.write,
            chosen.map(|(_, plan)| plan.name.as_str()),
            |key| {
                let own = sessions
                    .iter()
                    .find(|(known, plan)| known == key && !is_built_in(known, plan));
                own.map(|(_, plan)| plan.name.clone())
            },
        );
        for wish in write::room_ui(ui, &data, look, &mut self.write) {
            self.grant(wish);
        }
        if self.save_waits && !self.write.waits() {
            self.save_session();
        }
        self.keep_draft_when_resting(now);
        if self.write.waits() || self.draft_is_due() {
            ui.ctx()
                .request_repaint_after(Duration::from_micros(REST.0));
        }
    }

    fn grant(&mut self, wish: Wish) {
        match wish {
            Wish::Save => {
                self.save_session();
            }
            Wish::Ride => self.ride_it(),
            Wish::Leave => self.leave_write(),
            Wish::List(shown) => self.show_list(shown),
            Wish::Start(start) => {
                let unsaved = self.write.editor.as_ref().is_some_and(Editor::is_unsaved);
                if unsaved {
                    self.show_list(false);
                    self.write.question = Some(Question::Unsaved(start));
                } else {
                    self.begin(&start);
                }
            }
            Wish::LetGo(start) => self.begin(&start),
            Wish::KeepMine => {
                if let Some(Question::Changed(Some(now))) = self.write.question.take() {
                    if let Some(editor) = &mut self.write.editor {
                        editor.knows(now);
                    }
                    self.save_session();
                }
                self.write.enter();
            }
            Wish::TakeTheirs => {
                if let Some(Question::Changed(Some(now))) = self.write.question.take()
                    && let Some(editor) = &mut self.write.editor
                {
                    editor.take_over(now);
                    self.write
                        .say(word!("This is the file as it says now."), false);
                }
                self.write.enter();
            }
            Wish::SaveCopy => {
                self.write.question = None;
                if let Some(editor) = &mut self.write.editor {
                    editor.becomes_new();
                }
                self.save_session();
                self.write.enter();
            }
            Wish::Stay => {
                self.write.question = None;
                self.write.enter();
            }
        }
    }

    pub(super) fn show_list(&mut self, shown: bool) {
        self.write.list = None;
        if shown {
            match self.sessions.keys() {
                Ok(keys) => self.write.list = Some(keys),
                Err(sentence) => {
                    self.write.list = Some(Vec::new());
                    self.write.say(sentence, true);
                }
            }
        } else {
            self.write.enter();
        }
    }

    /// Begins with something else; what was not saved is let go.
    pub(super) fn begin(&mut self, start: &Start) {
        let editor = match start {
            Start::Template(index) => TEMPLATES
                .get(*index)
                .map(|template| Ok(Editor::new(template.in_language()))),
            Start::Copy => Some(self.open_chosen()),
            Start::Own(key) => Some(self.open_own(key)),
            // It has no file yet, and is worth one: unsaved from the start.
            Start::Next(next) => Some(Ok(Editor::restored(Origin::New, &next.text))),
        };
        match editor {
            Some(Ok(editor)) => {
                self.write.begin(editor);
                self.forget_draft();
                if let Start::Next(next) = start {
                    self.write.say(next.words(), false);
                }
            }
            Some(Err(sentence)) => self.write.say(sentence, true),
            None => {}
        }
    }

    fn open_own(&mut self, key: &str) -> Result<Editor, String> {
        match self.sessions.load(key)? {
            Some(text) => Ok(Editor::open(key.to_owned(), text)),
            None => Err(say!(
                "The session {key} is no longer there. Choose another.",
                key
            )),
        }
    }

    /// The session that is chosen in Prepare: the file itself the first time that the room is entered, if it is the
    /// rider's own; else a copy.
    fn open_chosen(&mut self) -> Result<Editor, String> {
        let chosen = self.shelf.sessions.get(self.chosen.session);
        let Some((key, plan)) = chosen.map(|(key, plan)| (key.clone(), Arc::clone(plan))) else {
            return Ok(Editor::new(TEMPLATES[0].in_language()));
        };
        let first = self.write.editor.is_none();
        if first
            && !is_built_in(&key, &plan)
            && let Some(text) = self.sessions.load(&key)?
        {
            return Ok(Editor::open(key, text));
        }
        Ok(Editor::new(&plan.source))
    }

    /// Looks whether another program changed the file. A text without changes of its own takes over what it says; else
    /// the rider is asked.
    fn notice_changes(&mut self) {
        let Some(editor) = &mut self.write.editor else {
            return;
        };
        let Origin::Own { key, known } = editor.origin() else {
            return;
        };
        let Ok(now) = self.sessions.load(key) else {
            // What cannot be read now is asked about when it is saved.
            return;
        };
        if now.as_deref() == Some(&**known) {
            return;
        }
        match now {
            Some(now) if !editor.is_unsaved() => {
                editor.take_over(now);
                let words = word!("Another program changed this file: this is what it says now.");
                self.write.say(words, false);
            }
            now => self.write.question = Some(Question::Changed(now)),
        }
    }

    /// Saves the text; whether it is in its file now.
    fn save_session(&mut self) -> bool {
        let Some(editor) = &mut self.write.editor else {
            return false;
        };
        if editor.is_unread() && editor.text().len() <= AT_ONCE {
            editor.read_over();
        }
        self.save_waits = editor.is_unread();
        if self.save_waits {
            self.write
                .say(word!("It is saved as soon as it is looked over."), false);
            return false;
        }
        let text = editor.file_text();
        let saved = match editor.origin() {
            Origin::New => {
                let name = editor.name().unwrap_or_else(|| "A session".to_owned());
                self.sessions.save_new(&name, &text).map(Some)
            }
            Origin::Own { key, known } => {
                let saved = self.sessions.save_over(key, known, &text);
                saved.map(|saved| saved.then(|| key.clone()))
            }
        };
        match saved {
            Ok(Some(key)) => {
                editor.saved(key.clone());
                let words = match editor.count(Severity::Error) {
                    0 => say!("Saved as {key}.toml.", key),
                    _ => say!(
                        "Saved as {key}.toml. It cannot be ridden yet: mend what is marked.",
                        key
                    ),
                };
                let plan = editor.plan().cloned();
                self.write.question = None;
                self.write.say(words, false);
                self.put_on_shelf(key, plan);
                self.forget_draft();
                true
            }
            Ok(None) => {
                let Origin::Own { key, .. } = editor.origin() else {
                    return false;
                };
                match self.sessions.load(key) {
                    Ok(now) => self.write.question = Some(Question::Changed(now)),
                    Err(sentence) => self.write.say(sentence, true),
                }
                false
            }
            Err(sentence) => {
                self.write.say(sentence, true);
                false
            }
        }
    }

    /// Has Prepare offer the session as it was saved, or no more where it cannot be ridden.
    fn put_on_shelf(&mut self, key: String, plan: Option<Arc<Plan>>) {
        // In whatever language it was told.
        let about = Language::ALL.map(|of| text::within(of, || session_trouble(&key, &[])));
        let troubles = &mut self.shelf.troubles;
        troubles.retain(|trouble| !about.iter().any(|about| trouble.starts_with(about)));
        if plan.is_none()
            && let Some(editor) = &self.write.editor
        {
            troubles.push(session_trouble(&key, editor.problems()));
        }
        let sessions = &mut self.shelf.sessions;
        let place = sessions
            .iter()
            .position(|(known, plan)| *known == key && !is_built_in(known, plan));
        match (place, plan) {
            (Some(place), Some(plan)) => {
                sessions[place].1 = plan;
                if place != self.chosen.session {
                    return;
                }
            }
            (None, Some(plan)) => return sessions.push((key, plan)),
            (Some(place), None) => {
                sessions.remove(place);
                match place.cmp(&self.chosen.session) {
                    std::cmp::Ordering::Less => {
                        self.chosen.session -= 1;
                        return;
                    }
                    std::cmp::Ordering::Equal => self.chosen.session = 0,
                    std::cmp::Ordering::Greater => return,
                }
            }
            (None, None) => return,
        }
        // What the core holds is another session now.
        self.tell_what_changed();
    }

    /// Saves, and goes back to Prepare with the session chosen.
    fn ride_it(&mut self) {
        let Some(editor) = &mut self.write.editor else {
            return;
        };
        if editor.is_unread() && editor.text().len() <= AT_ONCE {
            editor.read_over();
        }
        if editor.is_unread() {
            let words = word!("It is still being looked over. Try again in a moment.");
            self.write.say(words, false);
            return;
        }
        if editor.plan().is_none() {
            let words = word!("It cannot be ridden yet: mend what is marked first.");
            self.write.say(words, true);
            return;
        }
        // A copy that was not changed is the session that it was copied from.
        let untouched = *editor.origin() == Origin::New && !editor.is_unsaved();
        let source = editor.plan().map(|plan| Arc::clone(&plan.source));
        let same = |(_, plan): &(String, Arc<Plan>)| Some(&plan.source) == source.as_ref();
        let place = self.shelf.sessions.iter().position(same);
        let place = match place.filter(|_| untouched) {
            Some(place) => Some(place),
            None if self.save_session() => self.place_of_text(),
            None => None,
        };
        if let Some(place) = place {
            self.chosen.session = place;
            if let Some(command) = self.chosen.command(&self.shelf) {
                self.ride.command(command);
            }
            self.leave_write();
        }
    }

    /// Where the text's file stands on the shelf.
    fn place_of_text(&self) -> Option<usize> {
        let Origin::Own { key, .. } = self.write.editor.as_ref()?.origin() else {
            return None;
        };
        let mut sessions = self.shelf.sessions.iter();
        sessions.position(|(known, plan)| known == key && !is_built_in(known, plan))
    }

    /// Whether there is something unsaved that is not kept yet.
    fn draft_is_due(&self) -> bool {
        let editor = self.write.editor.as_ref();
        editor.is_some_and(|editor| editor.is_unsaved() && self.drafted != Some(editor.version()))
    }

    fn keep_draft_when_resting(&mut self, now: Instant) {
        let rested = self
            .write
            .changed_at()
            .is_none_or(|at| now.since(at) >= DRAFT_AFTER);
        if rested {
            self.keep_draft();
        }
    }

    /// Keeps what is not saved, where that is not kept yet. Where it cannot be kept the rider is told.
    pub(super) fn keep_draft(&mut self) {
        let unsaved = self.write.editor.as_ref().is_some_and(Editor::is_unsaved);
        if !unsaved {
            return self.forget_draft();
        }
        if !self.draft_is_due() {
            return;
        }
        let Some(editor) = &self.write.editor else {
            return;
        };
        self.drafted = Some(editor.version());
        let text = draft::written(editor.origin(), &editor.file_text());
        if let Err(sentence) = self.sessions.keep_draft(Some(&text)) {
            self.write.say(sentence, true);
        }
    }

    /// Keeps it once more whatever was kept before: a disk that was full may have room again, and another window may have
    /// taken the draft away.
    pub(super) fn keep_draft_at_the_end(&mut self) {
        if self.write.editor.as_ref().is_some_and(Editor::is_unsaved) {
            self.drafted = None;
        }
        self.keep_draft();
    }

    /// Nothing is unsaved any more. A draft that was not written or read here stays where it is.
    fn forget_draft(&mut self) {
        if self.drafted.take().is_none() {
            return;
        }
        if let Err(sentence) = self.sessions.keep_draft(None) {
            self.write.say(sentence, true);
        }
    }
}

/// Whether a session of the shelf is one of those that come with the program: they are never written over.
fn is_built_in(key: &str, plan: &Plan) -> bool {
    plan::is_builtin(key, &plan.source)
}
