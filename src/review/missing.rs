//! What a recording lacks, in sentences: what is not known is said, and never told as a figure.

use super::sprints::Sprints;
use super::whole::Whole;
use super::words::{clock, plain};
use super::{Asked, Recording};
use crate::text::translated;

/// What is missing or was wrong, in sentences.
pub fn missing(
    recording: &Recording<'_>,
    asked: &Asked,
    whole: &Whole,
    sprints: &Sprints,
) -> Vec<String> {
    let mut said = Vec::new();
    if whole.ridden_s == 0 {
        said.push(
            word!("No second of the ride was kept, so there is nothing to review.").to_owned(),
        );
        said.extend(problems(recording));
        return said;
    }
    let channels = [
        (
            &whole.power,
            word!("Power"),
            word!("there is no work, no lane and no best means"),
        ),
        (
            &whole.cadence,
            word!("Cadence"),
            word!("nothing is told of cadence, torque and gears"),
        ),
        (
            &whole.heart_rate,
            word!("Heart rate"),
            word!("nothing is told of the heart and of recovery"),
        ),
    ];
    for (channel, what, means) in channels {
        let lacking = whole.ridden_s.saturating_sub(channel.seconds);
        if channel.seconds == 0 {
            said.push(say!("{what} was not measured: {means}.", what, means));
        } else if lacking > 0 {
            let gaps = channel.longest_gap_s.map_or_else(String::new, |longest| {
                let longest = clock(longest as f64);
                match channel.gaps {
                    1 => say!(
                        ", with 1 gap of more than 3 s, the longest {longest}",
                        longest
                    ),
                    count => say!(
                        ", with {count} gaps of more than 3 s, the longest {longest}",
                        count,
                        longest
                    ),
                }
            });
            said.push(say!(
                "{what} is missing for {lacking} of the ride{gaps}.",
                what,
                lacking = clock(lacking as f64),
                gaps
            ));
        }
    }
    match whole.missing_rows {
        0 => {}
        1 => said.push(word!("1 second is missing in the recording itself.").to_owned()),
        count => said.push(say!(
            "{count} seconds are missing in the recording itself.",
            count
        )),
    }
    if whole.rating.is_none() {
        said.push(word!("The whole session was not rated, so there is no load; ratings of blocks do not stand in for it.").to_owned());
    }
    if asked.plan.is_none() {
        said.push(word!("The session's own file cannot be read: blocks go by their kind, without written watts and bands.").to_owned());
    }
    if asked.written == Some(None) {
        said.push(word!("The session as it was written cannot be read, or does not go with the one that was ridden: there are no written watts.").to_owned());
    }
    if asked.rider.is_none() {
        said.push(
            word!("The rider's own file cannot be read: there are no written watts.").to_owned(),
        );
    }
    if sprints.each.iter().any(|sprint| sprint.source == "rows") {
        said.push(word!("The sensors' own reports of a sprint are missing or cannot be placed: its peak and its time are known to a \
             second.").to_owned());
    }
    said.extend(problems(recording));
    said
}

/// What was wrong with the files, as the reader reads it.
fn problems(recording: &Recording<'_>) -> impl Iterator<Item = String> {
    let problems = recording.problems.iter();
    problems.map(|problem| translated(&plain(problem)).into_owned())
}
