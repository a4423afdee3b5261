//! The text that is written, with everything that is known of it.

use std::sync::Arc;

use super::here::key_of;
use super::history::History;
use super::{MOST_BYTES, byte_of, character_of};
use crate::plan::{self, Plan, Problem, Reading, Severity};

/// Where a text comes from and goes back to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Origin {
    /// It has no file yet.
    New,
    /// A file of the rider's own.
    Own {
        /// The file's name without its ending.
        key: String,
        /// What the file said when it was last read or saved here: if it says something else, another program was at it.
        known: Arc<str>,
    },
}

/// A session's text while it is written. At most [`MOST_BYTES`] long as it would be saved: what would make it longer is
/// refused.
#[derive(Clone, Debug)]
pub struct Editor {
    origin: Origin,
    text: String,
    /// The text as the history knows it; differs from the text only while a change is taken in.
    recorded: String,
    /// What would be lost without saving is what differs from this.
    kept: String,
    /// Whether the file ends its lines as Windows does.
    two_signs: bool,
    history: History,
    problems: Vec<Problem>,
    plan: Option<Arc<Plan>>,
    /// The newest plan without an error, whatever was typed since.
    last_right: Option<Arc<Plan>>,
    /// Whether the text was changed since it was last read over.
    unread: bool,
    refused: bool,
    /// What was taken out last, and at which byte, until something else is done: where the selection gives way to
    /// something that is then refused, it comes back. Bounded by the text.
    taken: Option<(usize, String)>,
    version: u64,
}

impl Editor {
    /// A new session, from a template or a copy.
    pub fn new(text: &str) -> Self {
        Self::of(Origin::New, text)
    }

    /// A file of the rider's own, as it says now.
    pub fn open(key: String, text: Arc<str>) -> Self {
        let origin = Origin::Own {
            key,
            known: Arc::clone(&text),
        };
        Self::of(origin, &text)
    }

    fn of(origin: Origin, file: &str) -> Self {
        let (text, two_signs) = plain(file);
        let two_signs = two_signs && fits(&text, true);
        let mut editor = Self {
            origin,
            recorded: text.clone(),
            kept: text.clone(),
            text,
            two_signs,
            history: History::default(),
            problems: Vec::new(),
            plan: None,
            last_right: None,
            unread: true,
            refused: false,
            taken: None,
            version: 0,
        };
        editor.read_over();
        editor
    }

    /// The text, with plain line ends.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The text as it goes into the file, with the line ends that the file had.
    pub fn file_text(&self) -> String {
        if self.two_signs {
            self.text.replace('\n', "\r\n")
        } else {
            self.text.clone()
        }
    }

    /// Where the text comes from.
    pub const fn origin(&self) -> &Origin {
        &self.origin
    }

    /// Counts up with every change of the text, so that what was made from it can be kept until then.
    pub const fn version(&self) -> u64 {
        self.version
    }

    /// Whether something would be lost without saving.
    pub fn is_unsaved(&self) -> bool {
        self.text != self.kept
    }

    /// Whether the text was changed since its problems were last looked for.
    pub const fn is_unread(&self) -> bool {
        self.unread
    }

    /// Whether something was refused since this was last asked, because the text would have become too long.
    pub fn take_refused(&mut self) -> bool {
        std::mem::take(&mut self.refused)
    }

    /// Every problem, as `stillroad check` tells them, of the text as it was last read over.
    pub fn problems(&self) -> &[Problem] {
        &self.problems
    }

    /// How many problems of a severity there are.
    pub fn count(&self, severity: Severity) -> usize {
        let of = |problem: &&Problem| problem.severity == severity;
        self.problems.iter().filter(of).count()
    }

    /// The session, where the text was right when it was last read over.
    pub const fn plan(&self) -> Option<&Arc<Plan>> {
        self.plan.as_ref()
    }

    /// The newest session that was right, for the strip.
    pub const fn last_right(&self) -> Option<&Arc<Plan>> {
        self.last_right.as_ref()
    }

    /// What the session is called, as far as that can be told: it may be wrong elsewhere.
    pub fn name(&self) -> Option<String> {
        if let Some(plan) = &self.plan
            && !self.unread
        {
            return Some(plan.name.clone());
        }
        let mut head = self
            .text
            .lines()
            .take_while(|line| !line.trim_start().starts_with('['));
        let line = head.find(|line| key_of(line) == Some("name"))?;
        let (_, value) = line.split_once('=')?;
        let name = value.trim().trim_matches(['"', '\'']).trim();
        (!name.is_empty()).then(|| name.chars().take(80).collect())
    }

    /// Looks for problems in the text as it stands.
    pub fn read_over(&mut self) {
        // As the file would be read, its line ends included.
        let reading = plan::read(&self.file_text());
        self.take_reading(self.version, reading);
    }

    /// Takes in what a version of the text reads as; nothing where the text was changed since.
    pub fn take_reading(&mut self, version: u64, reading: Reading) {
        if version != self.version {
            return;
        }
        self.problems = reading.problems;
        self.plan = reading.plan.map(Arc::new);
        if let Some(plan) = &self.plan {
            self.last_right = Some(Arc::clone(plan));
        }
        self.unread = false;
    }

    /// Puts text in at a character, as typing and pasting do; gives how many characters went in. All or nothing: where
    /// there is no room it is refused. [`Self::settle`] must follow.
    pub fn insert(&mut self, at: usize, piece: &str) -> usize {
        let piece = plain(piece).0;
        let at = byte_of(&self.text, at);
        let taken = self.taken.take();
        if size(&self.text, self.two_signs) + size(&piece, self.two_signs) > MOST_BYTES {
            self.refused = true;
            if let Some((from, back)) = taken
                && from == at
            {
                self.text.insert_str(at, &back);
            }
            return 0;
        }
        self.text.insert_str(at, &piece);
        piece.chars().count()
    }

    /// Takes characters out. [`Self::settle`] must follow.
    pub fn remove(&mut self, from: usize, to: usize) {
        let (from, to) = (byte_of(&self.text, from), byte_of(&self.text, to.max(from)));
        self.taken = Some((from, self.text[from..to].to_owned()));
        self.text.replace_range(from..to, "");
    }

    /// Takes a change in as a step that can be taken back, with the cursor, in characters, as it stood before and after.
    pub fn settle(&mut self, before: usize, after: usize) {
        self.taken = None;
        if self.text == self.recorded {
            return;
        }
        self.history
            .changed(&self.recorded, &self.text, (before, after));
        self.recorded.clone_from(&self.text);
        self.touched();
    }

    /// Puts `piece` in the place of some bytes, as a step of its own; gives the cursor behind it, in characters. The same
    /// bound holds.
    pub fn replace(&mut self, bytes: std::ops::Range<usize>, piece: &str) -> usize {
        let within = bytes.start <= bytes.end && self.text.get(bytes.clone()).is_some();
        let before = character_of(&self.text, bytes.end);
        let size = |text: &str| size(text, self.two_signs);
        if !within || size(&self.text) - size(&self.text[bytes.clone()]) + size(piece) > MOST_BYTES
        {
            self.refused |= within;
            return before;
        }
        self.text.replace_range(bytes.clone(), piece);
        let after = character_of(&self.text, bytes.start + piece.len());
        self.history.seal();
        self.settle(before, after);
        self.history.seal();
        after
    }

    /// Takes the last step back; gives the cursor, in characters.
    pub fn undo(&mut self) -> Option<usize> {
        let cursor = self.history.undo(&mut self.text)?;
        self.recorded.clone_from(&self.text);
        self.touched();
        Some(cursor)
    }

    /// Does again what was taken back; gives the cursor, in characters.
    pub fn redo(&mut self) -> Option<usize> {
        let cursor = self.history.redo(&mut self.text)?;
        self.recorded.clone_from(&self.text);
        self.touched();
        Some(cursor)
    }

    /// Whether there is a step to take back, and one to do again.
    pub fn steps(&self) -> (bool, bool) {
        (self.history.can_undo(), self.history.can_redo())
    }

    /// Takes in that the text was saved in this file.
    pub fn saved(&mut self, key: String) {
        let known = Arc::from(self.file_text());
        self.origin = Origin::Own { key, known };
        self.kept.clone_from(&self.text);
        self.history.seal();
    }

    /// Takes in what the file says by now, without taking it over: what is written here is then saved over that.
    pub fn knows(&mut self, now: Arc<str>) {
        if let Origin::Own { known, .. } = &mut self.origin {
            *known = now;
        }
    }

    /// Takes over what the file says by now, as a step that can be taken back.
    pub fn take_over(&mut self, now: Arc<str>) {
        let (text, two_signs) = plain(&now);
        self.kept.clone_from(&text);
        self.two_signs = two_signs && fits(&text, true);
        self.replace(0..self.text.len(), &text);
        self.knows(now);
    }

    /// The text is a copy from now on, for a file of its own.
    pub fn becomes_new(&mut self) {
        self.origin = Origin::New;
        self.kept.clear();
    }

    /// A text that was never saved, as it was when the program ended: it is unsaved still.
    #[must_use]
    pub fn restored(origin: Origin, text: &str) -> Self {
        let mut editor = Self::of(origin, text);
        editor.kept = match &editor.origin {
            Origin::New => String::new(),
            Origin::Own { known, .. } => plain(known).0,
        };
        editor
    }

    fn touched(&mut self) {
        self.unread = true;
        self.version += 1;
    }
}

/// A text with plain line ends and without a mark of byte order, and whether its lines ended with two signs.
fn plain(text: &str) -> (String, bool) {
    let text = text.trim_start_matches('\u{FEFF}');
    let two_signs = text.contains("\r\n");
    (text.replace("\r\n", "\n"), two_signs)
}

/// How long a text is as it would be saved, bytes.
fn size(text: &str, two_signs: bool) -> usize {
    let more = if two_signs {
        text.bytes().filter(|byte| *byte == b'\n').count()
    } else {
        0
    };
    text.len() + more
}

/// Whether it may be saved so. A file that mixes line ends can grow by saving it with two signs at each; it then gets one.
fn fits(text: &str, two_signs: bool) -> bool {
    size(text, two_signs) <= MOST_BYTES
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const RIGHT: &str = "format = 1\nname = \"A\"\npurpose = \"B.\"\n[[block]]\nkind = \"warm-up\"\ntime = \"10:00\"\neffort = 3\n[[block]]\nkind = \"cool-down\"\ntime = \"4:00\"\neffort = 2\n";

    #[test]
    fn the_strip_keeps_the_last_session_that_was_right() {
        let mut editor = Editor::new(RIGHT);
        assert_eq!(editor.problems(), []);
        let at = editor.text().find("10:00").unwrap_or_default();
        editor.replace(at..at + 5, "ten");
        editor.read_over();
        assert!(editor.plan().is_none() && editor.last_right().is_some());
        assert_eq!(editor.problems()[0].line, 6);
        editor.undo();
        editor.read_over();
        assert!(editor.plan().is_some());
        assert!(!editor.is_unsaved());
    }

    #[test]
    fn a_name_is_told_although_the_session_is_not_right() {
        for (text, name) in [
            (RIGHT, Some("A")),
            ("name = \"Over the weir\"\nx", Some("Over the weir")),
            ("name = \"", None),
            ("[[block]]\nname = \"Not this\"", None),
            ("", None),
        ] {
            assert_eq!(Editor::new(text).name().as_deref(), name, "{text:?}");
        }
    }

    /// Pieces of sessions, and of nonsense.
    const PIECES: [&str; 16] = [
        "[[block]]\n",
        "[[block.cue]]\n",
        "kind = \"hold\"\n",
        "time = \"1:00\"",
        "\n",
        "\r\n",
        "\r",
        "effort = 12\n",
        "format = 1\n",
        "name = \"é\"\n",
        "\"",
        "efort = 3\n",
        "\u{0}",
        "\u{FEFF}",
        "[",
        "repeat = 3\n",
    ];

    proptest! {
        /// What is told here is what `stillroad check` tells of the file that would be saved.
        #[test]
        fn the_problems_of_any_text_are_those_of_its_file(
            pieces in proptest::collection::vec(0..PIECES.len(), 0..30)
        ) {
            let text: String = pieces.iter().map(|&piece| PIECES[piece]).collect();
            let editor = Editor::new(&text);
            let reading = plan::read_bytes(editor.file_text().as_bytes());
            prop_assert_eq!(editor.problems(), &reading.problems[..]);
            prop_assert_eq!(editor.plan().map(|plan| (**plan).clone()), reading.plan);
        }

        /// Whatever was typed, pasted and taken out, going back to the start gives the start, and on again the end.
        #[test]
        fn going_back_to_the_start_gives_the_start(
            steps in proptest::collection::vec((0..PIECES.len(), 0..60usize, 0..20usize, any::<bool>()), 0..40)
        ) {
            let mut editor = Editor::new(RIGHT);
            for (piece, at, length, puts) in steps {
                let at = at.min(editor.text().chars().count());
                if puts {
                    editor.insert(at, PIECES[piece]);
                } else {
                    editor.remove(at, at + length);
                }
                editor.settle(at, at);
            }
            let end = editor.text().to_owned();
            while editor.undo().is_some() {}
            prop_assert_eq!(editor.text(), RIGHT);
            prop_assert!(!editor.is_unsaved());
            while editor.redo().is_some() {}
            prop_assert_eq!(editor.text(), end);
        }
    }

    #[test]
    fn more_than_a_file_may_hold_is_refused_whole() {
        let mut editor = Editor::new(RIGHT);
        let large = "x".repeat(5 * 1024 * 1024);
        assert_eq!(editor.insert(0, &large), 0);
        editor.settle(0, 0);
        assert!(editor.take_refused() && !editor.take_refused());
        assert_eq!(editor.text(), RIGHT);
        editor.replace(0..6, &large);
        assert!(editor.take_refused());
        assert_eq!(editor.text(), RIGHT);
        assert!(!editor.is_unsaved());
    }

    #[test]
    fn the_bound_counts_what_is_saved_and_a_refusal_gives_the_selection_back() {
        // By hand: with two signs at each end a line of one letter is three bytes, so 87,381 lines are 262,143 of the
        // 262,144 bytes.
        let lines = MOST_BYTES / 3;
        let file: Arc<str> = Arc::from("x\r\n".repeat(lines));
        let mut editor = Editor::open("a".to_owned(), file);
        assert_eq!(editor.file_text().len(), 262_143);
        assert_eq!(editor.insert(0, "\n"), 0, "a line end is two bytes here");
        assert!(editor.take_refused());
        assert_eq!(editor.insert(0, "y"), 1);
        editor.settle(0, 1);
        assert_eq!(editor.file_text().len(), MOST_BYTES);
        let before = editor.text().to_owned();
        // The selection is taken out first and then there is no room: both stay as they were.
        editor.remove(2, 6);
        assert_eq!(editor.insert(2, "1234567\n"), 0);
        editor.settle(6, 2);
        assert!(editor.take_refused());
        assert_eq!(editor.text(), before);
        assert!(editor.replace(0..1, "yy") > 0 && editor.take_refused());
        // What fits in its place goes in: xx and two line ends were six bytes.
        editor.remove(2, 6);
        assert_eq!(editor.insert(2, "123456"), 6);
        editor.settle(6, 8);
        assert!(!editor.take_refused());
        assert_eq!(editor.file_text().len(), MOST_BYTES);
        // A file that mixes line ends must not grow over the bound by being saved.
        let mixed: Arc<str> = Arc::from(format!("a\r\n{}", "\n".repeat(MOST_BYTES - 3)));
        let mixed = Editor::open("b".to_owned(), mixed);
        assert_eq!(mixed.file_text().len(), MOST_BYTES - 1);
    }

    #[test]
    fn a_file_keeps_its_line_ends() {
        let file: Arc<str> = Arc::from(RIGHT.replace('\n', "\r\n"));
        let mut editor = Editor::open("a".to_owned(), Arc::clone(&file));
        assert_eq!(editor.text(), RIGHT);
        assert_eq!(*editor.file_text(), *file);
        editor.insert(0, "# x\r\n");
        editor.settle(0, 4);
        assert_eq!(editor.file_text(), format!("# x\r\n{file}"));
    }

    #[test]
    fn what_is_saved_is_no_longer_unsaved_until_it_changes() {
        let mut editor = Editor::new(RIGHT);
        editor.replace(0..0, "# y\n");
        assert!(editor.is_unsaved());
        editor.saved("a".to_owned());
        assert!(!editor.is_unsaved());
        editor.undo();
        assert!(
            editor.is_unsaved(),
            "the file has the remark, the text has not"
        );
        let now: Arc<str> = Arc::from("# z\n");
        editor.take_over(Arc::clone(&now));
        assert_eq!(editor.text(), "# z\n");
        assert!(!editor.is_unsaved());
        editor.undo();
        assert_eq!(editor.text(), RIGHT, "what was here before can be had back");
    }
}
