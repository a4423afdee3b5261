//! The raw log of a recording, line by line, with the logs of the rides before it in the same run of the program.

use std::io::BufRead;

use crate::record::log::{Follows, LogItem, LogReader, MOST_PARTS, part_file, word};
use crate::store::recording::Recording;

/// So many rides of one run go on from one another at most.
const LONGEST_RUN: usize = 64;

/// One line, and where it stands.
pub(super) struct Found<'a> {
    /// The name of the ride before whose log it is; none for the recording's own.
    pub(super) before: Option<&'a str>,
    /// Which part of the recording's own log it is of, or comes before, from 1.
    pub(super) part: u32,
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
    let run = [&*recording.name()];
    walk(recording, None, &run, &mut wrong, take)?;
    Ok(wrong)
}

/// Gives the check of the log's last line. `run` names this ride and those that go on from it.
///
/// Of a ride before only its last part is walked: that was ridden by the run of the program which went on, and begins with
/// all that it hangs on. The parts before it are of other runs.
fn walk(
    recording: &Recording,
    before: Option<(&str, u32)>,
    run: &[&str],
    wrong: &mut Vec<String>,
    take: &mut impl FnMut(Found<'_>) -> bool,
) -> Result<String, String> {
    let mut check = String::new();
    let first = match before {
        Some(_) => last_part(recording),
        None => 1,
    };
    for part in first..=MOST_PARTS {
        let file = part_file(part);
        let lines = recording.lines(&file).map_err(|error| {
            say!(
                "{file} of {recording} cannot be read ({error}). Check who may read it, and the disk.",
                file,
                recording = recording.name(),
                error
            )
        })?;
        match lines {
            Some(lines) => {
                let place = Place {
                    recording,
                    before,
                    part,
                };
                check = walk_part(&place, lines, run, wrong, take)?;
            }
            None if part == first => {
                return Err(say!(
                    "There is no {file} in {recording}: nothing can be replayed. Name a ride's folder, or a file that `stillroad \
                     export` made.",
                    file,
                    recording = recording.name()
                ));
            }
            None => break,
        }
    }
    Ok(check)
}

/// The number of a recording's last part that has a log.
fn last_part(recording: &Recording) -> u32 {
    let there = |part: &u32| matches!(recording.lines(&part_file(*part)), Ok(Some(_)));
    (2..=MOST_PARTS).take_while(there).last().unwrap_or(1)
}

/// The log of one part of a ride.
struct Place<'a> {
    recording: &'a Recording,
    /// The name of a ride before, and the part of the recording that goes on from it.
    before: Option<(&'a str, u32)>,
    part: u32,
}

fn walk_part(
    place: &Place<'_>,
    lines: Box<dyn BufRead>,
    run: &[&str],
    wrong: &mut Vec<String>,
    take: &mut impl FnMut(Found<'_>) -> bool,
) -> Result<String, String> {
    let Place {
        recording,
        before,
        part,
    } = *place;
    let own = before.map_or(part, |(_, own)| own);
    let mut reader = LogReader::new(lines);
    let mut first = true;
    while let Some(item) = reader.next_item().map_err(|error| {
        say!(
            "The raw log of {recording} cannot be read ({error}). Check who may read it, and the disk.",
            recording = recording.name(),
            error
        )
    })? {
        if let LogItem::Line { line, .. } = &item
            && std::mem::take(&mut first)
            && line.input == word::FOLLOWS
            && run.len() <= LONGEST_RUN
            && let Ok(follows) = serde_json::from_str::<Follows>(&line.content)
        {
            let earlier = recording.beside(&follows.ride);
            match earlier {
                _ if run.contains(&&*follows.ride) => wrong.push(say!(
                    "{ride}, from whose log this one is said to go on, goes on from this one itself",
                    ride = follows.ride
                )),
                Some(earlier) => {
                    let run = [run, &[&*follows.ride]].concat();
                    let check = walk(&earlier, Some((&follows.ride, own)), &run, wrong, take)?;
                    if check != follows.check {
                        wrong.push(say!(
                            "the end of the log of {ride}, from which this one goes on, with the check {check}",
                            ride = follows.ride,
                            check
                        ));
                    }
                }
                None => wrong.push(say!(
                    "{ride}, from whose log this one goes on, is not beside it",
                    ride = follows.ride
                )),
            }
        }
        let found = Found {
            before: before.map(|(name, _)| name),
            part: own,
            item,
        };
        if !take(found) {
            break;
        }
    }
    Ok(reader.check().to_owned())
}
