//! The Write room: a session's text beside the strip that it draws, what is wrong with it, and what may come next.
//!
//! The text is read over as it is typed, by the reader of `stillroad check`. A text that is long enough for that to be
//! felt is read over when the hands rest. While something is wrong the strip keeps the last session that was right.

mod data;
mod draw;
mod layout;
mod side;
mod text;

pub use data::Data;
pub use draw::room_ui;

use std::sync::Arc;

use crate::plan::Plan;
use crate::review::next::Proposal;
use crate::ride::RideMode;
use crate::rider::Rider;
use crate::time::{Instant, Span};
use crate::ui::rooms::prepare::{SessionCard, card};
use crate::write::{Completion, Editor, about, candidates};

/// A text of up to so many bytes is read over with every letter: that takes a small part of a frame.
pub const AT_ONCE: usize = 24 * 1024;

/// A longer one is read over beside the window, when nothing was typed for so long.
pub const REST: Span = Span::from_millis(300);

/// What a new text can begin with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Start {
    /// A template, by its place in the list.
    Template(usize),
    /// A copy of the session that is chosen in Prepare.
    Copy,
    /// A file of the rider's own, by its key.
    Own(String),
    /// What a ride proposes for the next.
    Next(Arc<Proposal>),
}

/// A question that stands beside the text until it is answered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Question {
    /// Another program changed the file: what it says now, or nothing where it is gone.
    Changed(Option<Arc<str>>),
    /// Another text is wanted, and this one is not saved.
    Unsaved(Start),
}

/// What the rider wants done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Wish {
    /// To save.
    Save,
    /// To save and be back in Prepare with this session chosen.
    Ride,
    /// To be back in Prepare; the text stays as it is.
    Leave,
    /// To see what can be begun with, or to be back at the text.
    List(bool),
    /// To begin with this.
    Start(Start),
    /// To let go of what is not saved, and begin with this.
    LetGo(Start),
    /// To save what is written here over what another program wrote.
    KeepMine,
    /// To take over what another program wrote.
    TakeTheirs,
    /// To save what is written here in a file of its own.
    SaveCopy,
    /// To be asked no more for now.
    Stay,
}

/// What the room has to say of what was done.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Said {
    /// In a sentence or two; empty for nothing.
    pub words: String,
    /// Whether something went wrong.
    pub wrong: bool,
}

/// What was drawn of the newest right session, and what it was drawn from.
#[derive(Clone, Debug)]
struct Drawn {
    plan: Arc<Plan>,
    rider: Option<Rider>,
    mode: RideMode,
    card: Arc<SessionCard>,
}

/// What is known of the cursor's place, and for which version of the text and which cursor that was found.
#[derive(Clone, Debug, Default)]
struct Offered {
    of: Option<(u64, usize)>,
    completion: Arc<Completion>,
    about_key: Option<&'static str>,
}

/// What the room keeps from one frame to the next.
#[derive(Clone, Debug, Default)]
pub struct State {
    /// The text; none before the room was first entered.
    pub editor: Option<Editor>,
    /// What is asked.
    pub question: Option<Question>,
    /// What was said last.
    pub said: Said,
    /// The keys of the rider's own files, while the list is shown.
    pub list: Option<Vec<String>>,
    /// The cursor, in characters.
    pub cursor: usize,
    /// Which of the candidates is picked, while they are walked.
    pub choosing: Option<usize>,
    /// What is to be marked in the text at the next frame, in characters.
    mark: Option<(usize, usize)>,
    /// Whether the text still has to be given the keyboard.
    fresh: bool,
    /// When the text was last changed.
    changed_at: Option<Instant>,
    /// The version of the text that was last seen.
    seen: u64,
    drawn: Option<Drawn>,
    /// What may stand at the cursor, and what the key of its line means.
    offered: Offered,
    /// How many lines of the text are in view.
    page: usize,
    laid: text::Laid,
}

impl State {
    /// Begins with this text.
    pub fn begin(&mut self, editor: Editor) {
        *self = Self {
            editor: Some(editor),
            fresh: true,
            mark: Some((0, 0)),
            ..Self::default()
        };
    }

    /// What was found of the text was told in another language: it is looked over again, and the card is made anew.
    pub fn speak_anew(&mut self) {
        self.said = Said::default();
        self.drawn = None;
        if let Some(editor) = &mut self.editor {
            editor.read_over();
        }
    }

    /// Gives the text the keyboard at the next frame.
    pub fn enter(&mut self) {
        self.fresh = true;
        self.choosing = None;
    }

    /// Says something, or nothing any more.
    pub fn say(&mut self, words: impl Into<String>, wrong: bool) {
        self.said = Said {
            words: words.into(),
            wrong,
        };
    }

    /// Closes what stands over or beside the text; whether there was something. So escape goes back step by step.
    pub fn step_back(&mut self) -> bool {
        let text = self.editor.is_some();
        let closed = self.choosing.take().is_some()
            || self.question.take().is_some()
            || (text && self.list.take().is_some());
        self.fresh |= closed;
        closed
    }

    /// Takes in what was typed, before the room is made.
    pub fn settle(&mut self, now: Instant, rider: Option<&Rider>, mode: RideMode) {
        let Some(editor) = &mut self.editor else {
            return;
        };
        if editor.version() != self.seen {
            self.seen = editor.version();
            self.changed_at = Some(now);
        }
        if editor.is_unread() && editor.text().len() <= AT_ONCE {
            editor.read_over();
        }
        if let Some(plan) = editor.last_right() {
            let stands = self.drawn.as_ref().is_some_and(|drawn| {
                Arc::ptr_eq(&drawn.plan, plan)
                    && drawn.rider.as_ref() == rider
                    && drawn.mode == mode
            });
            if !stands {
                self.drawn = Some(Drawn {
                    plan: Arc::clone(plan),
                    rider: rider.cloned(),
                    mode,
                    card: Arc::new(card(plan, Vec::new(), rider, mode)),
                });
            }
        }
        let of = Some((editor.version(), self.cursor));
        if self.offered.of != of {
            let text = editor.text();
            let at = crate::write::byte_of(text, self.cursor);
            self.offered = Offered {
                of,
                completion: Arc::new(candidates(text, at)),
                about_key: about(text, at),
            };
        }
    }

    /// Whether the text is to be read over beside the window: it is too long for a frame, and the hands rest.
    pub fn wants_reading(&self, now: Instant) -> bool {
        let rested = self.changed_at.is_none_or(|at| now.since(at) >= REST);
        rested && self.waits()
    }

    /// Whether the room is to be made again soon although nothing is pressed: the text waits to be read over.
    pub fn waits(&self) -> bool {
        self.editor.as_ref().is_some_and(Editor::is_unread)
    }

    /// Since when the text has not been changed, if it was.
    pub const fn changed_at(&self) -> Option<Instant> {
        self.changed_at
    }

    /// Puts a candidate into the text.
    fn complete(&mut self, index: usize) {
        let offered = Arc::clone(&self.offered.completion);
        let (Some(editor), Some(candidate)) = (&mut self.editor, offered.candidates.get(index))
        else {
            return;
        };
        let start = offered.replace.start;
        editor.replace(offered.replace.clone(), &candidate.insert);
        let at = |byte: usize| crate::write::character_of(editor.text(), start + byte);
        self.mark = Some((at(candidate.select.start), at(candidate.select.end)));
        self.cursor = at(candidate.select.end);
        self.choosing = None;
        self.fresh = true;
    }

    /// Takes the last step back, or does it again.
    fn step(&mut self, back: bool) {
        let Some(editor) = &mut self.editor else {
            return;
        };
        let cursor = if back { editor.undo() } else { editor.redo() };
        match cursor {
            Some(cursor) => {
                self.mark = Some((cursor, cursor));
                self.cursor = cursor;
                self.said = Said::default();
            }
            None if back => self.say(word!("There is nothing more to take back."), false),
            None => self.say(word!("There is nothing to do again."), false),
        }
        self.choosing = None;
    }

    /// Puts the cursor at a line, from 1, and a column in characters, from 1.
    fn go_to(&mut self, line: usize, column: usize) {
        let Some(editor) = &self.editor else { return };
        let before: usize = editor
            .text()
            .split('\n')
            .take(line.saturating_sub(1))
            .map(|line| line.chars().count() + 1)
            .sum();
        let at = before + column.saturating_sub(1);
        self.mark = Some((at, at));
        self.cursor = at;
        self.fresh = true;
    }

    /// The line of the cursor, from 1.
    fn line(&self) -> usize {
        let text = self.editor.as_ref().map_or("", Editor::text);
        let end = crate::write::byte_of(text, self.cursor);
        1 + text[..end].matches('\n').count()
    }

    /// So many lines down, or up, as far as there are any.
    fn page(&mut self, down: bool) {
        let lines = self.page.saturating_sub(2).max(1);
        let last = 1 + self
            .editor
            .as_ref()
            .map_or("", Editor::text)
            .matches('\n')
            .count();
        let line = self.line();
        let to = if down {
            line + lines
        } else {
            line.saturating_sub(lines)
        };
        self.go_to(to.clamp(1, last), 1);
    }

    /// On to the next problem behind the cursor's line, round to the first.
    fn next_problem(&mut self) {
        let line = self.line();
        let Some(editor) = &self.editor else { return };
        let problems = editor.problems();
        let next = problems.iter().find(|problem| problem.line > line);
        if let Some((line, column)) = next
            .or(problems.first())
            .map(|problem| (problem.line, problem.column))
        {
            self.go_to(line, column);
        }
    }
}
