//! The raw log of a recording, line by line, with the logs of the rides before it in the same run of the program.

use crate::record::log::{Follows, LogItem, LogReader, word};
use crate::record::{InputLine, Table};
use crate::store::recording::Recording;

/// So many rides of one run go on from one another at most.
const LONGEST_RUN: usize = 64;

/// One line, and where it stands.
pub(super) struct Found<'a> {
    /// The name of the ride before whose log it is; none for the recording's own.
    pub(super) before: Option<&'a str>,
    /// The line.
    pub(super) item: LogItem,
}

/// Gives each line to `take`, those of the rides before first, until it gives false. What is wrong with how the logs hang
/// together comes back in sentences.
///
/// # Errors
/// A sentence where a log cannot be read at all.
pub(super) fn feed(
    recording: &Recording,
    take: &mut impl FnMut(Found<'_>) -> bool,
) -> Result<Vec<String>, String> {
    let mut wrong = Vec::new();
    walk(recording, None, &[&recording.name()], &mut wrong, take)?;
    Ok(wrong)
}

/// Gives the check of the log's last line. `run` names this ride and those that go on from it.
fn walk(
    recording: &Recording,
    before: Option<&str>,
    run: &[&str],
    wrong: &mut Vec<String>,
    take: &mut impl FnMut(Found<'_>) -> bool,
) -> Result<String, String> {
    let name = recording.name();
    let unreadable = |error: std::io::Error| {
        format!(
            "The raw log of {name} cannot be read ({error}). Check who may read it, and the disk."
        )
    };
    let lines = recording.lines(InputLine::FILE).map_err(unreadable)?;
    let lines = lines.ok_or_else(|| {
        format!(
            "There is no {} in {name}: nothing can be replayed. Name a ride's folder, or a file that `stillroad export` made.",
            InputLine::FILE
        )
    })?;
    let mut reader = LogReader::new(lines);
    let mut first = true;
    while let Some(item) = reader.next_item().map_err(unreadable)? {
        if let LogItem::Line { line, .. } = &item
            && std::mem::take(&mut first)
            && line.input == word::FOLLOWS
            && run.len() <= LONGEST_RUN
            && let Ok(follows) = serde_json::from_str::<Follows>(&line.content)
        {
            let earlier = recording.beside(&follows.ride);
            match earlier {
                _ if run.contains(&&*follows.ride) => wrong.push(format!(
                    "{}, from whose log this one is said to go on, goes on from this one itself",
                    follows.ride
                )),
                Some(earlier) => {
                    let run = [run, &[&*follows.ride]].concat();
                    let check = walk(&earlier, Some(&follows.ride), &run, wrong, take)?;
                    if check != follows.check {
                        wrong.push(format!(
                            "the end of the log of {}, from which this one goes on, with the check {}",
                            follows.ride, check
                        ));
                    }
                }
                None => wrong.push(format!(
                    "{}, from whose log this one goes on, is not beside it",
                    follows.ride
                )),
            }
        }
        if !take(Found { before, item }) {
            break;
        }
    }
    Ok(reader.check().to_owned())
}
