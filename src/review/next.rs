//! The next session of a ride: a copy of the session as it was written, with a change or two that the ride asks for, or
//! why none is proposed.
//!
//! Small steps by stated rules, each marked as common practice: less where there was strain, longer recoveries where
//! power faded, a little more only where everything speaks for it. Never more load with less recovery, never anything
//! that the checks of a session would not pass. Nothing here is medical; the rider and the coach decide.

mod ground;
mod holds;
mod less;
mod more;

use std::sync::Arc;

use serde::Serialize;

use super::words::plain;
use super::{Asked, Review};
use crate::plan::edit::{self, Edit, Edited, Place};
use crate::plan::{self, Plan, words};
use crate::record::RideStart;

use ground::Ground;

/// So many changes at most.
const MOST: usize = 2;
/// The longest name that a session can have, characters.
const LONGEST_NAME: usize = 80;

/// What stands under every proposal.
pub const CAUTION: &str =
    entry!("Common practice, no source, and nothing medical: you and your coach decide.");

/// One change of the copy.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Change {
    /// The block or set that it is of, by its name.
    pub block: String,
    /// The line of the copy, from 1.
    pub line: usize,
    /// What was written.
    pub was: String,
    /// What is written in the copy.
    pub is: String,
    /// The rule, in a sentence or two.
    pub why: String,
}

impl Change {
    /// In words: "Causeway: effort 7.7 in place of effort 7.5."
    pub fn words(&self) -> String {
        say!(
            "{block}: {is} in place of {was}.",
            block = plain(&self.block),
            is = self.is,
            was = self.was
        )
    }
}

/// A proposed next session.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Proposal {
    /// The name of the copy.
    pub name: String,
    /// Its text, which passes the checks of a session.
    pub text: Arc<str>,
    /// What was changed: one or two.
    pub changes: Vec<Change>,
}

impl Proposal {
    /// What was changed, in a line or two, with the caution.
    pub fn words(&self) -> String {
        let changes: Vec<String> = self.changes.iter().map(Change::words).collect();
        format!("{} {}", changes.join(" "), crate::text::word(CAUTION))
    }
}

/// A proposal, or why there is none, in a sentence.
pub type Next = Result<Arc<Proposal>, String>;

/// One change that a rule wishes for.
#[derive(Clone)]
struct Wish {
    place: Place,
    edit: Edit,
    block: String,
    was: String,
    why: String,
}

impl Wish {
    fn is(&self) -> String {
        edit_words(self.edit)
    }
}

fn edit_words(edit: Edit) -> String {
    match edit {
        Edit::Target(target) => words::target(target),
        Edit::Length(length) => length.to_string(),
        Edit::Repeats(repeats) => say!("{repeats} times", repeats),
    }
}

/// The session as it was written, whatever was ridden of it on the day; none where it cannot be read.
pub fn written(start: &RideStart) -> Option<Plan> {
    let text = match &start.fitted {
        Some(fitted) => &fitted.fitting.written,
        None => &start.session_text,
    };
    plan::read(text).plan
}

/// Proposes the next session of a ride.
///
/// # Errors
/// Why nothing is proposed, in a sentence: the ride tells too little, or nothing in it asks for a change.
pub fn propose(start: &RideStart, review: &Review) -> Next {
    let asked = Asked::of(start);
    let written = written(start);
    let ground = Ground::of(start, review, &asked, written.as_ref())?;
    let strains = less::strains(&ground);
    let mut wishes = less::wishes(&strains);
    if wishes.is_empty() {
        // Strain that no value of the text would mend speaks against more all the same.
        let seen = strains.first().map(|strain| &strain.seen);
        return more::proposal(&ground, seen);
    }
    wishes.truncate(MOST);
    // Where two do not go together in this text, the first may go alone.
    let copied = copy(&ground, &wishes);
    copied.or_else(|why| {
        if wishes.len() > 1 {
            copy(&ground, &wishes[..1])
        } else {
            Err(why)
        }
    })
}

/// The copy with these changes.
fn copy(ground: &Ground<'_>, wishes: &[Wish]) -> Next {
    let Edited { plan, lines } = edited(ground, wishes)?;
    let changes = wishes.iter().zip(lines).map(|(wish, line)| Change {
        block: wish.block.clone(),
        line,
        was: wish.was.clone(),
        is: wish.is(),
        why: wish.why.clone(),
    });
    Ok(Arc::new(Proposal {
        changes: changes.collect(),
        name: plan.name.clone(),
        text: plan.source,
    }))
}

fn edited(ground: &Ground<'_>, wishes: &[Wish]) -> Result<Edited, String> {
    // The name is the session's, and the reasons above its changes are for whoever asks for them.
    let language = ground.written.language;
    let name = crate::text::within(language, || next_name(&ground.written.name));
    // Without the day: the copy is ridden and handed on, and a disguise leaves words in a text as they are.
    let head = say!(
        "from a ride of \"{session}\". {caution}",
        session = plain(&ground.written.name),
        caution = crate::text::word(CAUTION)
    );
    let changes: Vec<edit::Change> = wishes
        .iter()
        .map(|wish| edit::Change {
            place: wish.place.clone(),
            edit: wish.edit,
            comment: say!(
                "{is} in place of {was}. {why}",
                is = wish.is(),
                was = wish.was,
                why = wish.why
            ),
        })
        .collect();
    let edited = edit::edit(ground.written, &name, &head, &changes);
    edited.map_err(|error| nothing(&crate::text::translated(&error.to_string())))
}

/// Why nothing is proposed, and that.
fn nothing(why: &str) -> String {
    say!("{why} Nothing is proposed.", why)
}

/// "Pier" becomes "Pier next", that "Pier next 2", and so on. A copy that was named in English is counted on in English.
fn next_name(name: &str) -> String {
    let ours = word!("next" # "behind the name of a session");
    let counted_on = |word: &str| {
        let end = format!(" {word}");
        let numbered = name
            .rsplit_once(format!("{end} ").as_str())
            .and_then(|(base, number)| {
                let number: u32 = number.parse().ok().filter(|number| *number > 1)?;
                Some((base, number.saturating_add(1)))
            });
        let (base, number) = numbered.or_else(|| Some((name.strip_suffix(end.as_str())?, 2)))?;
        Some((base, format!("{end} {number}")))
    };
    let (base, end) = counted_on(ours)
        .or_else(|| counted_on("next"))
        .unwrap_or_else(|| (name, format!(" {ours}")));
    let room = LONGEST_NAME.saturating_sub(end.chars().count());
    let base: String = base.chars().take(room).collect();
    format!("{}{end}", base.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_copy_has_a_name_of_its_own_that_fits() {
        for (name, next) in [
            ("Pier", "Pier next"),
            ("Pier next", "Pier next 2"),
            ("Pier next 2", "Pier next 3"),
            ("Pier next 1", "Pier next 1 next"),
            ("Pier next year", "Pier next year next"),
        ] {
            assert_eq!(next_name(name), next);
        }
        let long = "ä".repeat(LONGEST_NAME);
        let next = next_name(&long);
        assert_eq!(next.chars().count(), LONGEST_NAME);
        assert!(next.ends_with(" next"));
    }
}
