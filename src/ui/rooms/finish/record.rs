//! What was kept of a ride, in lines: whole or not, what was measured, pauses, the brake.

use crate::engine::snapshot::{BrakeLeft, Channel, Pauses, RecordState, Snapshot, Summary};
use crate::ride::PauseCause;
use crate::time::Span;

/// One line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// What it is of, in a word.
    pub label: &'static str,
    /// What there is to say.
    pub words: String,
    /// Whether it needs attention.
    pub urgent: bool,
}

fn line(label: &'static str, words: String) -> Line {
    Line {
        label,
        words,
        urgent: false,
    }
}

/// The lines, in the order in which they are shown. Where nothing was ridden only the recording is spoken of.
pub(super) fn lines(snapshot: &Snapshot, summary: &Summary) -> Vec<Line> {
    let mut lines = vec![recording(snapshot, summary)];
    if summary.rows > 0 {
        lines.push(line("measured", measured(summary)));
        lines.push(line("pauses", pauses(&summary.pauses)));
        lines.push(brake(summary));
    }
    if let RecordState::Closed(folder, _) | RecordState::Writing(folder, _) = &snapshot.record
        && !folder.is_empty()
    {
        lines.push(line("folder", folder.clone()));
    }
    lines
}

/// "1 row", "3180 rows".
fn count(number: u64, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

fn recording(snapshot: &Snapshot, summary: &Summary) -> Line {
    let ridden = snapshot.ridden.whole_seconds();
    let rows = |rows: u64| {
        let of = format!(
            "{} for {} ridden",
            count(rows, "row", "rows"),
            count(ridden, "second", "seconds")
        );
        match summary.lost {
            0 => of,
            lost => format!(
                "{of}; {} lost, the disk did not keep up",
                count(lost, "entry was", "entries were")
            ),
        }
    };
    let words = match &snapshot.record {
        RecordState::Closed(_, kept) if *kept >= ridden && summary.lost == 0 => {
            format!("whole and closed: {}", rows(*kept))
        }
        RecordState::Closed(_, kept) => format!("closed, not whole: {}", rows(*kept)),
        RecordState::Writing(_, kept) => format!("being closed: {}", rows(*kept)),
        // The sentence was written for a ride that goes on.
        RecordState::Trouble(words) => {
            words.replace("The ride goes on and is kept", "The ride is kept")
        }
        RecordState::NotYet if summary.rows > 0 => {
            "what was ridden is not on the disk yet".to_owned()
        }
        RecordState::NotYet => "nothing was ridden, so nothing was recorded".to_owned(),
    };
    let trouble = matches!(snapshot.record, RecordState::Trouble(_));
    Line {
        label: "recording",
        words,
        urgent: trouble || summary.lost > 0,
    }
}

/// "power and cadence throughout; heart rate 3000 of 3180 s, 2 gaps, the longest 1:12".
fn measured(summary: &Summary) -> String {
    let rows = summary.rows;
    let all = [
        ("power", &summary.power),
        ("cadence", &summary.cadence),
        ("heart rate", &summary.heart_rate),
    ];
    let named = |is: &dyn Fn(&Channel) -> bool| {
        let names: Vec<_> = all
            .iter()
            .filter(|(_, channel)| is(channel))
            .map(|(name, _)| *name)
            .collect();
        match names.as_slice() {
            [] => None,
            [rest @ .., last] if !rest.is_empty() => {
                Some(format!("{} and {last}", rest.join(", ")))
            }
            [only, ..] => Some((*only).to_owned()),
        }
    };
    let mut parts = Vec::new();
    if let Some(names) = named(&|channel| channel.seconds == rows) {
        parts.push(format!("{names} throughout"));
    }
    let partly = |channel: &Channel| channel.seconds > 0 && channel.seconds < rows;
    for (at, (_, channel)) in all.iter().enumerate() {
        // What came and went together is told together, once.
        let alike = |other: &Channel| partly(other) && gaps(other, rows) == gaps(channel, rows);
        if partly(channel)
            && !all[..at].iter().any(|(_, before)| alike(before))
            && let Some(names) = named(&alike)
        {
            parts.push(format!("{names} {}", gaps(channel, rows)));
        }
    }
    if let Some(names) = named(&|channel| channel.seconds == 0) {
        parts.push(format!(
            "no {}",
            names.replace(" and ", " and no ").replace(", ", ", no ")
        ));
    }
    parts.join("; ")
}

/// "3000 of 3180 s, 2 gaps, the longest 1:12".
fn gaps(channel: &Channel, rows: u64) -> String {
    let longest = Span::from_seconds(channel.longest);
    let gaps = match channel.gaps {
        0 => "no gap over 3 s".to_owned(),
        1 => format!("1 gap of {longest}"),
        gaps => format!("{gaps} gaps, the longest {longest}"),
    };
    format!("{} of {rows} s, {gaps}", channel.seconds)
}

fn pauses(pauses: &[Pauses]) -> String {
    if pauses.is_empty() {
        return "none".to_owned();
    }
    let told = pauses.iter().map(|pauses| {
        let by = match pauses.cause {
            PauseCause::Rider => "by you",
            PauseCause::PedalsStopped => "by still pedals",
            PauseCause::Gap => "by the computer, asleep or held up",
            PauseCause::Trainer => "at the trainer's own button",
        };
        format!("{} {by}, {} in all", pauses.count, pauses.stood)
    });
    told.collect::<Vec<_>>().join("; ")
}

fn brake(summary: &Summary) -> Line {
    let held = match summary.in_hand {
        0 => "not in hand".to_owned(),
        seconds if seconds >= summary.rows => "in hand throughout".to_owned(),
        seconds => format!(
            "in hand for {} of {}",
            Span::from_seconds(seconds),
            Span::from_seconds(summary.rows)
        ),
    };
    let left = match summary.brake_left {
        BrakeLeft::Never => {
            return line("brake", "none was set in this ride".to_owned());
        }
        BrakeLeft::LettingOff => "being let off",
        BrakeLeft::Released => "let off, as the trainer confirmed",
        BrakeLeft::MayHold => "not confirmed as let off",
    };
    Line {
        label: "brake",
        words: format!("{held}; {left}"),
        urgent: summary.brake_left == BrakeLeft::MayHold,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn channel(seconds: u64, gaps: u32, longest: u64) -> Channel {
        Channel {
            seconds,
            gaps,
            longest,
            ..Channel::default()
        }
    }

    #[test]
    fn what_was_measured_is_told_in_words() {
        let told = |power, cadence, heart_rate| {
            measured(&Summary {
                rows: 600,
                power,
                cadence,
                heart_rate,
                ..Summary::default()
            })
        };
        let (all, none) = (channel(600, 0, 0), channel(0, 1, 600));
        assert_eq!(
            told(all, all, all),
            "power, cadence and heart rate throughout"
        );
        assert_eq!(
            told(all, all, none),
            "power and cadence throughout; no heart rate"
        );
        assert_eq!(
            told(none, none, none),
            "no power, no cadence and no heart rate"
        );
        assert_eq!(
            told(channel(578, 1, 22), channel(578, 1, 22), all),
            "heart rate throughout; power and cadence 578 of 600 s, 1 gap of 0:22"
        );
        assert_eq!(
            told(channel(510, 2, 72), channel(598, 0, 0), channel(580, 1, 20)),
            "power 510 of 600 s, 2 gaps, the longest 1:12; cadence 598 of 600 s, no gap over 3 s; \
             heart rate 580 of 600 s, 1 gap of 0:20"
        );
    }

    #[test]
    fn pauses_are_told_with_their_reasons() {
        assert_eq!(pauses(&[]), "none");
        let of = |cause, count, seconds| Pauses {
            cause,
            count,
            stood: Span::from_seconds(seconds),
        };
        assert_eq!(
            pauses(&[
                of(PauseCause::PedalsStopped, 2, 70),
                of(PauseCause::Rider, 1, 300)
            ]),
            "2 by still pedals, 1:10 in all; 1 by you, 5:00 in all"
        );
    }
}
