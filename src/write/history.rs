//! What was done to a text, so that it can be taken back and done again.

/// So many steps are kept; then the oldest is forgotten, and going back ends at what it left.
pub const MOST_STEPS: usize = 1000;

/// So many bytes of changed text are kept; then the oldest steps are forgotten.
pub const MOST_KEPT: usize = 4 * 1024 * 1024;

/// One change: at a byte, this text became that one.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Step {
    at: usize,
    removed: String,
    inserted: String,
    /// The cursor before it, in characters.
    before: usize,
    /// The cursor after it.
    after: usize,
}

impl Step {
    fn size(&self) -> usize {
        self.removed.len() + self.inserted.len()
    }
}

/// The changes of one text, in order. Bounded by [`MOST_STEPS`] and [`MOST_KEPT`].
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct History {
    done: Vec<Step>,
    undone: Vec<Step>,
    /// Whether the next change begins a step of its own, whatever it is.
    sealed: bool,
}

impl History {
    /// Takes in that `before` became `after`, with the cursor, in characters, as it stood at both. Letters typed one
    /// after another are one step as far as the word goes. Nothing where the texts are the same.
    pub fn changed(&mut self, before: &str, after: &str, cursors: (usize, usize)) {
        let Some(step) = difference(before, after, cursors) else {
            return;
        };
        self.undone.clear();
        let joined = !self.sealed && self.done.last_mut().is_some_and(|last| join(last, &step));
        self.sealed = false;
        if !joined {
            self.done.push(step);
        }
        let mut kept: usize = self.done.iter().map(Step::size).sum();
        let mut oldest = 0;
        // The newest stays, however large it is: it is bounded by the text itself.
        while (self.done.len() - oldest > MOST_STEPS || kept > MOST_KEPT)
            && oldest + 1 < self.done.len()
        {
            kept -= self.done[oldest].size();
            oldest += 1;
        }
        self.done.drain(..oldest);
    }

    /// The next change is a step of its own.
    pub fn seal(&mut self) {
        self.sealed = true;
    }

    /// Takes the last step back in the text; gives where the cursor stood, in characters. Nothing where there is none.
    pub fn undo(&mut self, text: &mut String) -> Option<usize> {
        let step = self.done.pop()?;
        text.replace_range(step.at..step.at + step.inserted.len(), &step.removed);
        let cursor = step.before;
        self.undone.push(step);
        self.sealed = true;
        Some(cursor)
    }

    /// Does again what was taken back last; gives where the cursor stood, in characters. Nothing where there is none.
    pub fn redo(&mut self, text: &mut String) -> Option<usize> {
        let step = self.undone.pop()?;
        text.replace_range(step.at..step.at + step.removed.len(), &step.inserted);
        let cursor = step.after;
        self.done.push(step);
        self.sealed = true;
        Some(cursor)
    }

    /// Whether there is a step to take back.
    pub fn can_undo(&self) -> bool {
        !self.done.is_empty()
    }

    /// Whether there is a step to do again.
    pub fn can_redo(&self) -> bool {
        !self.undone.is_empty()
    }
}

/// What lies between the common beginning and the common end of two texts.
fn difference(before: &str, after: &str, cursors: (usize, usize)) -> Option<Step> {
    if before == after {
        return None;
    }
    let (old, new) = (before.as_bytes(), after.as_bytes());
    let mut start = old.iter().zip(new).take_while(|(a, b)| a == b).count();
    while !before.is_char_boundary(start) || !after.is_char_boundary(start) {
        start -= 1;
    }
    let tail = old[start..].iter().rev().zip(new[start..].iter().rev());
    let mut end = tail.take_while(|(a, b)| a == b).count();
    while !before.is_char_boundary(old.len() - end) || !after.is_char_boundary(new.len() - end) {
        end -= 1;
    }
    Some(Step {
        at: start,
        removed: before[start..old.len() - end].to_owned(),
        inserted: after[start..new.len() - end].to_owned(),
        before: cursors.0,
        after: cursors.1,
    })
}

/// Joins a change to the step before it, where both are letters typed, or taken away, one after another.
fn join(last: &mut Step, step: &Step) -> bool {
    let one = |text: &str| text.chars().count() == 1 && text != "\n";
    let begins_word = |before: &str, letter: &str| {
        before.ends_with(char::is_whitespace) && !letter.starts_with(char::is_whitespace)
    };
    let typed = last.removed.is_empty()
        && step.removed.is_empty()
        && one(&step.inserted)
        && step.at == last.at + last.inserted.len()
        && !last.inserted.is_empty()
        && !last.inserted.contains('\n')
        && !begins_word(&last.inserted, &step.inserted);
    if typed {
        last.inserted.push_str(&step.inserted);
        last.after = step.after;
        return true;
    }
    let taken = last.inserted.is_empty()
        && step.inserted.is_empty()
        && one(&step.removed)
        && !last.removed.contains('\n')
        && step.at + step.removed.len() == last.at;
    if taken {
        last.removed.insert_str(0, &step.removed);
        last.at = step.at;
        last.after = step.after;
    }
    taken
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Types into a text at its end, letter by letter.
    fn typed(history: &mut History, text: &mut String, letters: &str) {
        for letter in letters.chars() {
            let before = text.clone();
            text.push(letter);
            let cursor = text.chars().count();
            history.changed(&before, text, (cursor - 1, cursor));
        }
    }

    #[test]
    fn a_word_is_one_step_and_a_line_is_another() {
        let (mut history, mut text) = (History::default(), String::new());
        typed(&mut history, &mut text, "time = 5\n");
        for expected in ["time = 5", "time = ", "time ", ""] {
            assert!(history.undo(&mut text).is_some());
            assert_eq!(text, expected);
        }
        assert_eq!(history.undo(&mut text), None);
        while history.redo(&mut text).is_some() {}
        assert_eq!(text, "time = 5\n");
    }

    #[test]
    fn what_is_typed_after_going_back_ends_what_could_be_done_again() {
        let (mut history, mut text) = (History::default(), String::new());
        typed(&mut history, &mut text, "abc");
        history.undo(&mut text);
        assert!(history.can_redo());
        typed(&mut history, &mut text, "x");
        assert!(!history.can_redo());
        assert_eq!(history.redo(&mut text), None);
        assert_eq!(text, "x");
    }

    #[test]
    fn the_cursor_goes_back_to_where_it_was() {
        let mut history = History::default();
        let (before, after) = ("aéb", "aéXYb");
        history.changed(before, after, (2, 4));
        let mut text = after.to_owned();
        assert_eq!(history.undo(&mut text), Some(2));
        assert_eq!(text, before);
        assert_eq!(history.redo(&mut text), Some(4));
        assert_eq!(text, after);
    }

    #[test]
    fn what_is_kept_is_bounded_and_the_newest_stays() {
        let mut history = History::default();
        let mut text = String::new();
        for number in 0..MOST_STEPS + 50 {
            let before = text.clone();
            text = format!("{number}");
            history.changed(&before, &text, (0, 0));
            history.seal();
        }
        let mut steps = 0;
        while history.undo(&mut text).is_some() {
            steps += 1;
        }
        assert_eq!(steps, MOST_STEPS);
        let large = "x".repeat(MOST_KEPT + 1);
        history.changed(&text, &large, (0, 0));
        let mut now = large;
        assert!(history.undo(&mut now).is_some());
    }
}
