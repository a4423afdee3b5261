//! What was kept of a ride, in lines: whole or not, what was measured, pauses, the brake.

use crate::engine::snapshot::{BrakeLeft, Channel, Pauses, RecordState, Snapshot, Summary};
use crate::ride::PauseCause;
use crate::text::translated;
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
        lines.push(line(word!("measured"), measured(summary)));
        lines.push(line(word!("pauses"), pauses(&summary.pauses)));
        lines.push(brake(summary));
    }
    if let RecordState::Closed(folder, _) | RecordState::Writing(folder, _) = &snapshot.record
        && !folder.is_empty()
    {
        lines.push(line(word!("folder"), folder.clone()));
    }
    lines
}

fn recording(snapshot: &Snapshot, summary: &Summary) -> Line {
    let ridden = snapshot.ridden.whole_seconds();
    let rows = |rows: u64| {
        let rows = match rows {
            1 => word!("1 row").to_owned(),
            rows => say!("{rows} rows", rows),
        };
        let of = match ridden {
            1 => say!("{rows} for 1 second ridden", rows),
            seconds => say!("{rows} for {seconds} seconds ridden", rows, seconds),
        };
        match summary.lost {
            0 => of,
            1 => say!("{of}; 1 entry was lost, the disk did not keep up", of),
            lost => say!(
                "{of}; {lost} entries were lost, the disk did not keep up",
                of,
                lost
            ),
        }
    };
    let words = match &snapshot.record {
        RecordState::Closed(_, kept) if *kept >= ridden && summary.lost == 0 => {
            say!("whole and closed: {rows}", rows = rows(*kept))
        }
        RecordState::Closed(_, kept) => say!("closed, not whole: {rows}", rows = rows(*kept)),
        RecordState::Writing(_, kept) => say!("being closed: {rows}", rows = rows(*kept)),
        // The sentence was written for a ride that goes on.
        RecordState::Trouble(words) => translated(words).replace(
            word!("The ride goes on and is kept"),
            word!("The ride is kept"),
        ),
        RecordState::NotYet if summary.rows > 0 => {
            word!("what was ridden is not on the disk yet").to_owned()
        }
        RecordState::NotYet => word!("nothing was ridden, so nothing was recorded").to_owned(),
    };
    let trouble = matches!(snapshot.record, RecordState::Trouble(_));
    Line {
        label: word!("recording"),
        words,
        urgent: trouble || summary.lost > 0,
    }
}

/// "power and cadence throughout; heart rate 3000 of 3180 s, 2 gaps, the longest 1:12".
fn measured(summary: &Summary) -> String {
    let rows = summary.rows;
    let all = [
        (word!("power"), word!("no power"), &summary.power),
        (word!("cadence"), word!("no cadence"), &summary.cadence),
        (
            word!("heart rate"),
            word!("no heart rate"),
            &summary.heart_rate,
        ),
    ];
    let named = |is: &dyn Fn(&Channel) -> bool| {
        let names = all.iter().filter(|(.., channel)| is(channel));
        together(&names.map(|(name, ..)| *name).collect::<Vec<_>>())
    };
    let mut parts = Vec::new();
    if let Some(names) = named(&|channel| channel.seconds == rows) {
        parts.push(say!("{names} throughout", names));
    }
    let partly = |channel: &Channel| channel.seconds > 0 && channel.seconds < rows;
    for (at, (.., channel)) in all.iter().enumerate() {
        // What came and went together is told together, once.
        let alike = |other: &Channel| partly(other) && gaps(other, rows) == gaps(channel, rows);
        if partly(channel)
            && !all[..at].iter().any(|(.., before)| alike(before))
            && let Some(names) = named(&alike)
        {
            parts.push(format!("{names} {}", gaps(channel, rows)));
        }
    }
    let nothing = all.iter().filter(|(.., channel)| channel.seconds == 0);
    parts.extend(together(
        &nothing.map(|(_, none, _)| *none).collect::<Vec<_>>(),
    ));
    parts.join("; ")
}

/// "power, cadence and heart rate"; none where there is none.
fn together(names: &[&str]) -> Option<String> {
    match names {
        [] => None,
        [only] => Some((*only).to_owned()),
        [rest @ .., last] => Some(say!("{names} and {last}", names = rest.join(", "), last)),
    }
}

/// "3000 of 3180 s, 2 gaps, the longest 1:12".
fn gaps(channel: &Channel, rows: u64) -> String {
    let longest = Span::from_seconds(channel.longest);
    let gaps = match channel.gaps {
        0 => word!("no gap over 3 s").to_owned(),
        1 => say!("1 gap of {longest}", longest),
        gaps => say!("{gaps} gaps, the longest {longest}", gaps, longest),
    };
    say!(
        "{seconds} of {rows} s, {gaps}",
        seconds = channel.seconds,
        rows,
        gaps
    )
}

fn pauses(pauses: &[Pauses]) -> String {
    if pauses.is_empty() {
        return word!("none" # "pauses").to_owned();
    }
    let told = pauses.iter().map(|pauses| {
        let by = match pauses.cause {
            PauseCause::Rider => word!("by you"),
            PauseCause::PedalsStopped => word!("by still pedals"),
            PauseCause::Gap => word!("by the computer, asleep or held up"),
            PauseCause::Trainer => word!("at the trainer's own button"),
        };
        say!(
            "{count} {by}, {stood} in all",
            count = pauses.count,
            by,
            stood = pauses.stood
        )
    });
    told.collect::<Vec<_>>().join("; ")
}

fn brake(summary: &Summary) -> Line {
    let held = match summary.in_hand {
        0 => word!("not in hand").to_owned(),
        seconds if seconds >= summary.rows => word!("in hand throughout").to_owned(),
        seconds => say!(
            "in hand for {held} of {whole}",
            held = Span::from_seconds(seconds),
            whole = Span::from_seconds(summary.rows)
        ),
    };
    let left = match summary.brake_left {
        BrakeLeft::Never => {
            return line(
                word!("brake"),
                word!("none was set in this ride").to_owned(),
            );
        }
        BrakeLeft::LettingOff => word!("being let off"),
        BrakeLeft::Released => word!("let off, as the trainer confirmed"),
        BrakeLeft::MayHold => word!("not confirmed as let off"),
    };
    Line {
        label: word!("brake"),
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
