//! What a recording lacks, in sentences: what is not known is said, and never told as a figure.

use super::sprints::Sprints;
use super::whole::Whole;
use super::words::{clock, counted, plain};
use super::{Asked, Recording};

/// What is missing or was wrong, in sentences.
pub fn missing(
    recording: &Recording<'_>,
    asked: &Asked,
    whole: &Whole,
    sprints: &Sprints,
) -> Vec<String> {
    let mut said = Vec::new();
    if whole.ridden_s == 0 {
        said.push("No second of the ride was kept, so there is nothing to review.".to_owned());
        said.extend(recording.problems.iter().map(|problem| plain(problem)));
        return said;
    }
    let channels = [
        (
            &whole.power,
            "Power",
            "there is no work, no lane and no best means",
        ),
        (
            &whole.cadence,
            "Cadence",
            "nothing is told of cadence, torque and gears",
        ),
        (
            &whole.heart_rate,
            "Heart rate",
            "nothing is told of the heart and of recovery",
        ),
    ];
    for (channel, what, means) in channels {
        let lacking = whole.ridden_s.saturating_sub(channel.seconds);
        if channel.seconds == 0 {
            said.push(format!("{what} was not measured: {means}."));
        } else if lacking > 0 {
            let gaps = channel.longest_gap_s.map_or_else(String::new, |longest| {
                let gaps = counted(u64::from(channel.gaps), "gap", "gaps");
                format!(
                    ", with {gaps} of more than 3 s, the longest {}",
                    clock(longest as f64)
                )
            });
            said.push(format!(
                "{what} is missing for {} of the ride{gaps}.",
                clock(lacking as f64)
            ));
        }
    }
    if whole.missing_rows > 0 {
        said.push(format!(
            "{} missing in the recording itself.",
            counted(whole.missing_rows, "second is", "seconds are")
        ));
    }
    if whole.rating.is_none() {
        said.push("The whole session was not rated, so there is no load; ratings of blocks do not stand in for it.".to_owned());
    }
    if asked.plan.is_none() {
        said.push("The session's own file cannot be read: blocks go by their kind, without written watts and bands.".to_owned());
    }
    if asked.written == Some(None) {
        said.push("The session as it was written cannot be read, or does not go with the one that was ridden: there are no written watts.".to_owned());
    }
    if asked.rider.is_none() {
        said.push("The rider's own file cannot be read: there are no written watts.".to_owned());
    }
    if sprints.each.iter().any(|sprint| sprint.source == "rows") {
        said.push(
            "The sensors' own reports of a sprint are missing or cannot be placed: its peak and its time are known to a \
             second."
                .to_owned(),
        );
    }
    said.extend(recording.problems.iter().map(|problem| plain(problem)));
    said
}
