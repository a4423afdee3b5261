//! A few values of a session written otherwise in its own text: comments, order and sets stay as a hand wrote them.
//!
//! What is changed has a comment of its own above its line. The new text is read back, and it must say what was meant and
//! nothing else, and pass the checks as well as the old one did.

use super::fit::{blocks_and_repeats, piece_at};
use super::model::{Block, Plan, Target};
use super::read::{read, read_pieces_of};
use super::unroll::{Piece, unroll};
use super::write::{clock, load_key, quote};
use crate::time::Span;
use crate::toml_table::{Problem, Problems, Severity, value_place};

/// Where a block or a set is written: at which place of each list of blocks, the outermost first.
pub type Place = Vec<usize>;

/// A block of a session where it is written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spot {
    /// Its place.
    pub place: Place,
    /// How often the set right around it is ridden; none where it stands in no set.
    pub repeats: Option<u32>,
}

/// One value written otherwise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Edit {
    /// What a block asks for: a load of the same sort as before.
    Target(Target),
    /// How long a block is.
    Length(Span),
    /// How often a set is ridden.
    Repeats(u32),
}

/// An edit with its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Of the block or the set.
    pub place: Place,
    /// What is written otherwise.
    pub edit: Edit,
    /// What is said of it in the text, above its line.
    pub comment: String,
}

/// A session with some values written otherwise.
#[derive(Clone, Debug, PartialEq)]
pub struct Edited {
    /// As it reads now; its text is [`Plan::source`].
    pub plan: Plan,
    /// The line of each change, from 1, in the order in which they were given.
    pub lines: Vec<usize>,
}

/// Why a text was not changed, in a sentence.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct CannotEdit(pub String);

/// How a line begins that tells of a change, and how it goes on. Those of an earlier change are taken out; the `>` keeps
/// them apart from comments of a hand, which stay.
const MARK: &str = "#> Next: ";
const GOES_ON: &str = "#>   ";
/// Comments are broken into lines of about so many characters.
const WIDTH: usize = 100;

/// Where each block of a session is written, in the order in which they are ridden; nothing where its text cannot be
/// read.
pub fn spots(plan: &Plan) -> Vec<Spot> {
    let Some(mut pieces) = read_pieces_of(&plan.source) else {
        return Vec::new();
    };
    let ridden = blocks_and_repeats(&pieces);
    ridden
        .into_iter()
        .map(|(place, ..)| {
            let around = place.split_last().map(|(_, around)| around);
            let set = around.and_then(|around| piece_at(&mut pieces, around));
            let repeats = match set {
                Some(Piece::Set(repeats, _)) => Some(*repeats),
                _ => None,
            };
            Spot { place, repeats }
        })
        .collect()
}

/// Changes a session's text: the name becomes `name`, `head` stands in a comment at its top.
///
/// # Errors
/// A sentence where a place is none of this session's, where the text is written in a way that cannot be followed, and
/// where the changed session would have an error or a warning that the session did not have.
pub fn edit(
    written: &Plan,
    name: &str,
    head: &str,
    changes: &[Change],
) -> Result<Edited, CannotEdit> {
    let expected = expected(written, changes)?;
    let bare = without_marks(&written.source);
    let same = |text: &str| read(text).plan.is_some_and(|plan| says(&plan, written));
    let source = if same(&bare) { &bare } else { &*written.source };
    let meant = Plan {
        name: name.to_owned(),
        blocks: expected,
        ..written.clone()
    };
    let before = read(source).problems;
    // Where a comment cannot stand there, the values alone are written.
    for comments in [true, false] {
        let Some(text) = rewritten(source, &meant, head, changes, comments) else {
            break;
        };
        let reading = read(&text);
        if let Some(new) = unlike(&reading.problems, &before) {
            return Err(CannotEdit(say!(
                "The changed session would not pass its check as it did: {what}",
                what = new.what
            )));
        }
        if let Some(plan) = reading.plan.filter(|plan| says(plan, &meant)) {
            let lines = changes.iter().map(|change| line(&text, change)).collect();
            return Ok(Edited { plan, lines });
        }
    }
    Err(CannotEdit(
        word!("The session's text is written in a way that cannot be followed, so nothing was changed in it. Change it by hand.")
            .to_owned(),
    ))
}

/// Whether two sessions ask for the same under the same name.
fn says(plan: &Plan, other: &Plan) -> bool {
    plan.blocks == other.blocks
        && plan.name == other.name
        && plan.purpose == other.purpose
        && plan.author == other.author
        && plan.language == other.language
        && plan.audience == other.audience
        && plan.test == other.test
}

/// The first problem that was none before: an error, or one warning more than there were.
fn unlike<'p>(now: &'p [Problem], before: &[Problem]) -> Option<&'p Problem> {
    let known = |problem: &Problem| before.iter().any(|other| other.what == problem.what);
    let error = now.iter().find(|one| one.severity == Severity::Error);
    let more = now.len() > before.len();
    error.or_else(|| now.iter().find(|one| more && !known(one)))
}

/// The blocks as they must read back.
fn expected(written: &Plan, changes: &[Change]) -> Result<Vec<Block>, CannotEdit> {
    let unknown = || {
        CannotEdit(
            word!("The session's own text does not have the block that would be changed, so nothing was changed.")
                .to_owned(),
        )
    };
    let mut pieces = read_pieces_of(&written.source).ok_or_else(unknown)?;
    for change in changes {
        let piece = piece_at(&mut pieces, &change.place).ok_or_else(unknown)?;
        match (piece, change.edit) {
            (Piece::One(read), Edit::Target(target)) => read.block.target = target,
            (Piece::One(read), Edit::Length(length)) => {
                read.block.length = length;
                read.cues.sort_by_key(|read| read.cue.due(length));
            }
            (Piece::Set(repeats, _), Edit::Repeats(now)) => *repeats = now,
            _ => return Err(unknown()),
        }
    }
    let mut problems = Problems::new("");
    match unroll(&pieces, &mut problems) {
        Some(blocks) => Ok(blocks.into_iter().map(|one| one.block).collect()),
        None => {
            let why = problems.finish().into_iter().next();
            Err(CannotEdit(why.map_or_else(
                || word!("The changed session could not be ridden.").to_owned(),
                |problem| problem.what,
            )))
        }
    }
}

/// The key of what is changed, and its new value as it is written.
fn value(edit: Edit) -> (&'static str, String) {
    match edit {
        Edit::Target(Target::Steady(load)) => (load_key(load), load.value().to_string()),
        Edit::Target(Target::Line(from, to)) => (
            load_key(from),
            format!("[{}, {}]", from.value(), to.value()),
        ),
        // No block asks for it by a key; it is found nowhere, and so nothing is changed.
        Edit::Target(Target::None) => ("", String::new()),
        Edit::Length(length) => ("time", clock(length)),
        Edit::Repeats(repeats) => ("repeat", repeats.to_string()),
    }
}

/// The text with its new values; none where one of them is not found.
fn rewritten(
    source: &str,
    meant: &Plan,
    head: &str,
    changes: &[Change],
    comments: bool,
) -> Option<String> {
    let end = if source.contains("\r\n") {
        "\r\n"
    } else {
        "\n"
    };
    let mut put = vec![(0..0, comment(head, "", end))];
    let name = value_place(source, "block", &[], "name")?;
    put.push((name.value, quote(&meant.name)));
    let sums = [("main", meant.main_length()), ("whole", meant.length())];
    for (key, sum) in sums {
        if let Some(place) = value_place(source, "block", &[], key) {
            put.push((place.value, clock(sum)));
        }
    }
    for change in changes {
        let (key, value) = value(change.edit);
        let place = value_place(source, "block", &change.place, key)?;
        put.push((place.value, value));
        if comments {
            let start = source[..place.key].rfind('\n').map_or(0, |at| at + 1);
            let blank = |letter: &char| matches!(letter, ' ' | '\t');
            let indent: String = source[start..].chars().take_while(blank).collect();
            put.push((start..start, comment(&change.comment, &indent, end)));
        }
    }
    // From the back, so that every place stays where it is until it is its turn.
    put.sort_by_key(|(place, _)| std::cmp::Reverse(place.start));
    let mut text = source.to_owned();
    for (place, piece) in put {
        text.replace_range(place, &piece);
    }
    Some(text)
}

/// Words as a comment of a few lines; nothing for none.
fn comment(words: &str, indent: &str, end: &str) -> String {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= WIDTH => {
                line.push(' ');
                line.push_str(word);
            }
            Some(_) => lines.push(format!("{GOES_ON}{word}")),
            None => lines.push(format!("{MARK}{word}")),
        }
    }
    let lines = lines.into_iter();
    // A control character would end the comment or spoil the file.
    let safe = lines.map(|line| line.replace(char::is_control, " "));
    safe.map(|line| format!("{indent}{line}{end}")).collect()
}

/// The text without what was said in it of an earlier change.
fn without_marks(source: &str) -> String {
    let mut marked = false;
    source
        .split_inclusive('\n')
        .filter(|line| {
            let line = line.trim_start();
            marked = line.starts_with(MARK) || (marked && line.starts_with(GOES_ON));
            !marked
        })
        .collect()
}

/// The line of a change, from 1.
fn line(text: &str, change: &Change) -> usize {
    let (key, _) = value(change.edit);
    let place = value_place(text, "block", &change.place, key);
    let before = place.map_or(0, |place| place.key);
    1 + text[..before].matches('\n').count()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::plan::model::Load;
    use crate::units::Effort;

    const HAND: &str = "# By hand.\nformat = 1\nname = 'Pier' # short\npurpose = \"A test.\"\nmain = \"12:00\" # work\n\n[[block]]\nkind = \"warm-up\"\ntime = \"8:00\"\neffort = 3\n\n[[block]]\nrepeat = 2  # not three\n\n  [[block.block]]\n  effort = 7 # firm\n  kind = \"hold\"\n  time = \"4:00\"\n\n  [[block.block]]\n  kind = \"recovery\"\n  time = \"2:00\"\n  effort = 4\n\n[[block]]\nkind = \"cool-down\"\ntime = \"3:00\"\neffort = 2\n";

    fn plan(text: &str) -> Plan {
        read(text).plan.unwrap()
    }

    fn change(place: &[usize], edit: Edit) -> Change {
        Change {
            place: place.to_vec(),
            edit,
            comment: "why".to_owned(),
        }
    }

    fn steady(effort: f64) -> Edit {
        Edit::Target(Target::Steady(Load::Effort(Effort(effort))))
    }

    #[test]
    fn one_value_changes_and_the_rest_stays_to_the_letter() {
        let written = plan(HAND);
        let changes = [
            change(&[1, 0], steady(7.2)),
            change(&[1, 1], Edit::Length(Span::from_seconds(150))),
        ];
        let edited = edit(&written, "Pier next", "From Pier.", &changes).unwrap();
        let by_hand = HAND
            .replace("# By hand.", "#> Next: From Pier.\n# By hand.")
            .replace("'Pier' # short", "\"Pier next\" # short")
            .replace("\"12:00\" # work", "\"13:00\" # work")
            .replace(
                "  effort = 7 # firm",
                "  #> Next: why\n  effort = 7.2 # firm",
            )
            .replace("  time = \"2:00\"", "  #> Next: why\n  time = \"2:30\"");
        assert_eq!(*edited.plan.source, *by_hand);
        let lines: Vec<&str> = by_hand.lines().collect();
        let told = edited.lines.iter().map(|line| lines[line - 1].trim());
        assert_eq!(
            told.collect::<Vec<_>>(),
            ["effort = 7.2 # firm", "time = \"2:30\""]
        );
    }

    #[test]
    fn a_set_is_ridden_once_more_and_what_was_said_before_goes() {
        let once = edit(
            &plan(HAND),
            "Pier next",
            "From Pier.",
            &[change(&[1], Edit::Repeats(3))],
        );
        let once = once.unwrap();
        assert!(once.plan.source.contains("repeat = 3  # not three"));
        assert_eq!(once.plan.main_length(), Span::from_seconds(18 * 60));
        let back = edit(
            &once.plan,
            "Pier",
            "Back.",
            &[change(&[1], Edit::Repeats(2))],
        );
        let back = back.unwrap();
        assert_eq!(back.plan.source.matches("#> Next:").count(), 2);
        assert!(!back.plan.source.contains("From Pier."));
    }

    #[test]
    fn comments_of_a_hand_stay_however_they_begin() {
        let hand = "# Next: five repeats.\n#   By Anna\n\n";
        let mut written = plan(&HAND.replace("# By hand.\n", hand));
        for effort in [6.8, 6.9] {
            let changes = [change(&[1, 0], steady(effort))];
            let edited = edit(&written, "Pier next", &"word ".repeat(50), &changes);
            written = edited.unwrap().plan;
            assert!(written.source.contains(hand), "{}", written.source);
        }
        // The head is of three lines, and a line stands above the change.
        assert_eq!(written.source.matches("#>").count(), 4);
    }

    #[test]
    fn spots_are_places_in_the_order_of_the_ride() {
        let spots = spots(&plan(HAND));
        let places: Vec<&[usize]> = spots.iter().map(|spot| &*spot.place).collect();
        assert_eq!(places, [&[0][..], &[1, 0], &[1, 1], &[1, 0], &[1, 1], &[2]]);
        assert_eq!(spots[0].repeats, None);
        assert_eq!(spots[3].repeats, Some(2));
    }

    #[test]
    fn blocks_on_one_line_and_windows_line_ends_are_followed() {
        let inline = "format = 1\nname = \"Pier\"\npurpose = \"A test.\"\nblock = [{ kind = \"warm-up\", time = \"8:00\", effort = 3 }, { kind = \"hold\", time = \"4:00\", effort = 7 }, { kind = \"cool-down\", time = \"3:00\", effort = 2 }]\n";
        let edited = edit(&plan(inline), "Pier 2", "", &[change(&[1], steady(6.5))]).unwrap();
        assert!(edited.plan.source.contains("effort = 6.5 }"));
        let windows = HAND.replace('\n', "\r\n");
        let edited = edit(
            &plan(&windows),
            "Pier 2",
            "Head.",
            &[change(&[1, 0], steady(6.5))],
        );
        let text = edited.unwrap().plan.source;
        assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());
    }

    #[test]
    fn what_would_not_pass_is_refused_with_its_reason() {
        let written = plan(HAND);
        let refused = |changes: &[Change]| {
            let found = edit(&written, "Pier 2", "", changes);
            found.unwrap_err().to_string()
        };
        // An effort above 9 is all out, and no hold.
        assert!(refused(&[change(&[1, 0], steady(9.5))]).contains("all out"));
        // 8:00 of warm-up are enough for 8; a cool-down of two minutes is a warning.
        let short = change(&[2], Edit::Length(Span::from_seconds(120)));
        assert!(refused(&[short]).contains("2:00 of cool-down"));
        assert!(refused(&[change(&[1], steady(6.0))]).contains("does not have the block"));
        assert!(refused(&[change(&[7], Edit::Repeats(2))]).contains("does not have the block"));
        // 120 repeats of six minutes are twelve hours; 101 is more than a set may have.
        assert!(refused(&[change(&[1], Edit::Repeats(120))]).contains("is the most"));
        assert!(edit(&written, "Pier 2", "", &[change(&[1, 0], steady(8.0))]).is_ok());
    }
}
