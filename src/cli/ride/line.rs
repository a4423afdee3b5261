//! What a ride on the command line shows: one live line, notices and cues as they come, and the last word.

use std::io::{IsTerminal, Write};

use crate::engine::Snapshot;
use crate::engine::snapshot::RecordState;
use crate::ride::{Mode, RideMode};
use crate::text::translated;
use crate::time::{Instant, Span};

/// What is said when all is over, and whether the session was ridden to its end.
pub(super) fn summary(last: &Snapshot) -> Result<(String, bool), String> {
    let Mode::Finished(how) = last.mode else {
        return Err(word!("The ride did not begin, so nothing was recorded.").to_owned());
    };
    let ending = match how {
        crate::ride::Finish::Completed => word!("Ridden to the end"),
        crate::ride::Finish::ByRider => word!("Ended by the rider"),
        crate::ride::Finish::Closed => word!("Stopped"),
    };
    let name = last.plan.as_ref().map_or("", |plan| plan.name.as_str());
    let work = match last.w_balance {
        Some(_) => say!("{work:.0} kJ of work", work = last.work / 1000.0),
        None => word!("power was not measured").to_owned(),
    };
    let mut text = say!(
        "{ending}: {session}, {ridden} ridden, {work}.",
        ending,
        session = name,
        ridden = last.ridden,
        work
    );
    text.push('\n');
    let kept = match &last.record {
        RecordState::Writing(folder, rows) | RecordState::Closed(folder, rows) => {
            text += &say!("{rows} rows kept in {folder}", rows, folder);
            true
        }
        RecordState::Trouble(why) => {
            // What is said while a ride goes on has its advice for then; here the cause is enough.
            let why = translated(why);
            text += &say!(
                "{why}. Not all of this ride is kept. Make room, allow writing there, or choose another folder with --out.",
                why = why.split(". ").next().unwrap_or_default()
            );
            false
        }
        RecordState::NotYet => {
            text += word!("Nothing was kept.");
            false
        }
    };
    Ok((text, kept && how == crate::ride::Finish::Completed))
}

/// The live line: drawn over itself on a terminal, else a line every ten seconds.
pub(in crate::cli) struct Line {
    terminal: bool,
    next: Instant,
    /// Whether the clock was hidden when a line was last due.
    hidden: bool,
    shown: String,
    notice: String,
    cue: String,
    trouble: String,
}

impl Line {
    pub(in crate::cli) fn new() -> Self {
        Self {
            terminal: std::io::stdout().is_terminal(),
            next: Instant::ZERO,
            hidden: false,
            shown: String::new(),
            notice: String::new(),
            cue: String::new(),
            trouble: String::new(),
        }
    }

    pub(in crate::cli) fn show(&mut self, snapshot: &Snapshot) {
        let mut out = std::io::stdout().lock();
        if let Some(notice) = &snapshot.notice
            && **notice != *self.notice
        {
            self.notice = notice.to_string();
            let clear = if self.terminal { "\r\x1b[K" } else { "" };
            drop(writeln!(out, "{clear}{}", translated(notice)));
        }
        // Trouble with the disk is said once, however short the notice of it stood.
        if let RecordState::Trouble(why) = &snapshot.record
            && *why != self.trouble
            && *why != self.notice
        {
            self.trouble.clone_from(why);
            drop(writeln!(out, "{}", translated(why)));
        }
        if let Some(cue) = &snapshot.cue
            && **cue != *self.cue
        {
            self.cue = cue.to_string();
            let clear = if self.terminal { "\r\x1b[K" } else { "" };
            let (open, close) = (word!("“"), word!("”"));
            drop(writeln!(out, "{clear}{open}{cue}{close}"));
        }
        let text = line(snapshot);
        if self.terminal {
            if text != self.shown {
                drop(write!(out, "\r\x1b[K{text}"));
                drop(out.flush());
            }
        } else if self.due(snapshot) {
            drop(writeln!(out, "{text}"));
        }
        self.shown = text;
    }

    /// Whether a line is due where they are written one under another.
    fn due(&mut self, snapshot: &Snapshot) -> bool {
        let hidden = hides_the_clock(snapshot);
        let was_hidden = std::mem::replace(&mut self.hidden, hidden);
        if hidden && was_hidden {
            // A line every ten seconds would be a clock too: the next one comes when the block is over.
            self.next = snapshot.at;
            return false;
        }
        let due = hidden || snapshot.at >= self.next;
        if due {
            self.next = snapshot.at + Span::from_seconds(10);
        }
        due
    }

    /// The last notice that was shown; empty before the first.
    pub(super) fn notice(&self) -> &str {
        &self.notice
    }

    pub(in crate::cli) fn end(&self) {
        if self.terminal {
            println!();
        }
    }
}

/// Whether the block that is ridden is a test's, in which no clock may be seen. A clock that stands shows again, as in the
/// window.
fn hides_the_clock(snapshot: &Snapshot) -> bool {
    let lap = snapshot.laps.get(snapshot.lap);
    let (Some(plan), Some(lap)) = (snapshot.plan.as_deref(), lap) else {
        return false;
    };
    snapshot.mode.runs() && plan.hides_the_clock(lap.block)
}

/// What is said while the ride waits for the group's clock.
fn waits_for_group(snapshot: &Snapshot) -> Option<String> {
    let group = snapshot.group.as_ref().filter(|group| group.waits)?;
    let clock = group.clock_words()?;
    let left = group.starts_in(snapshot.at)?;
    Some(say!(
        "Starts at {clock}, in {left}. The brake stays off till then.",
        clock,
        left = whole(left)
    ))
}

/// Seconds that are begun count as whole ones.
fn whole(span: Span) -> Span {
    Span::from_seconds(span.0.div_ceil(1_000_000))
}

/// One line that says where the ride stands.
fn line(snapshot: &Snapshot) -> String {
    let fresh = |value: Option<String>| value.unwrap_or_else(|| "–".to_owned());
    // By effort there are no watts, neither of the rider nor of the lane.
    let hidden = hides_the_clock(snapshot);
    // Nor are there in a test without a clock: a rider would pace themselves by them.
    let watts = snapshot.ride_mode == RideMode::TargetPower && !hidden;
    let mut figures = vec![
        fresh(snapshot.cadence.fresh().map(|cadence| cadence.to_string())),
        fresh(snapshot.heart_rate.fresh().map(|rate| rate.to_string())),
    ];
    if watts {
        figures.insert(
            0,
            fresh(snapshot.power.fresh().map(|power| power.to_string())),
        );
    }
    let figures = figures.join("  ");
    match snapshot.mode {
        Mode::Idle => word!("Nothing is chosen yet.").to_owned(),
        Mode::Connecting => {
            let missing: Vec<_> = snapshot.missing.iter().map(|one| translated(one)).collect();
            say!("Connecting. {missing}", missing = missing.join(" "))
        }
        Mode::Ready if waits_for_group(snapshot).is_some() => {
            format!(
                "{}  {figures}",
                waits_for_group(snapshot).unwrap_or_default()
            )
        }
        Mode::Ready => format!("{}  {figures}", word!("Ready: turn the pedals to start.")),
        Mode::Finished(_) => word!("Finished.").to_owned(),
        Mode::Riding | Mode::Paused(_) | Mode::Degraded { .. } => {
            let state = match snapshot.mode {
                Mode::Paused(_) => format!("{}  ", word!("paused")),
                Mode::Degraded { .. } => format!("{}  ", word!("no brake")),
                _ => String::new(),
            };
            let block = snapshot
                .plan
                .as_ref()
                .zip(snapshot.laps.get(snapshot.lap))
                .map_or("", |(plan, lap)| plan.blocks[lap.block].name.as_str());
            let left = snapshot
                .laps
                .get(snapshot.lap)
                .map_or(Span::ZERO, |lap| lap.end().less(snapshot.session));
            let aim = match (watts, snapshot.lane, snapshot.effort) {
                (true, Some(lane), _) => format!("  {}", say!("lane {lane}", lane)),
                (false, _, Some(effort)) if effort.0 <= 9.0 => {
                    format!("  {}", say!("aim for {effort} of 10", effort))
                }
                (_, _, Some(effort)) if effort.0 > 9.0 => format!("  {}", word!("all out")),
                _ => String::new(),
            };
            let brake = snapshot
                .brake
                .map(|brake| translated(&brake.to_string()).into_owned())
                .map_or_else(String::new, |brake| {
                    format!("  {}", say!("brake {brake}", brake))
                });
            if hidden {
                let untimed = say!("{block}, until told to stop", block);
                let all_out = word!("all out");
                return format!("{state}{untimed}  {figures}  {all_out}{brake}");
            }
            let timed = say!(
                "{session} of {length}  {block}, {left} left",
                session = snapshot.session,
                length = snapshot.session_length,
                block,
                left
            );
            format!("{state}{timed}  {figures}{aim}{brake}")
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::engine::Core;
    use crate::ride::{Lap, PauseCause, Reading};
    use crate::units::{BrakeTarget, Rpm, Watts};

    /// In the measured block of the three-minute test, 83 s into it.
    fn in_the_test() -> Snapshot {
        let text = crate::plan::builtin()
            .iter()
            .find(|(key, _)| *key == "three-minutes")
            .unwrap()
            .1;
        let plan = crate::plan::read(text).plan.unwrap();
        let tested = (0..plan.blocks.len()).find(|&block| plan.is_tested(block));
        let tested = tested.unwrap();
        let mut start = Span::ZERO;
        let mut laps = Vec::new();
        for (block, planned) in plan.blocks.iter().enumerate() {
            laps.push(Lap {
                block,
                start,
                length: planned.length,
            });
            start += planned.length;
        }
        let mut snapshot = Core::new(0).snapshot(Instant::ZERO);
        snapshot.mode = Mode::Riding;
        snapshot.ride_mode = RideMode::TargetPower;
        snapshot.lap = tested;
        snapshot.session = laps[tested].start + Span::from_seconds(83);
        snapshot.session_length = start;
        snapshot.laps = Arc::from(laps);
        snapshot.plan = Some(Arc::new(plan));
        snapshot.power = Reading::Fresh(Watts(431.0));
        snapshot.cadence = Reading::Fresh(Rpm(97.0));
        snapshot.lane = Some(Watts(431.0));
        snapshot
    }

    #[test]
    fn a_test_without_a_clock_tells_neither_time_nor_watts() {
        let mut snapshot = in_the_test();
        snapshot.brake = Some(BrakeTarget::Power(Watts(50.0)));
        let text = line(&snapshot);
        let left = snapshot.laps[snapshot.lap]
            .end()
            .less(snapshot.session)
            .to_string();
        let times = [
            snapshot.session.to_string(),
            snapshot.session_length.to_string(),
            left,
        ];
        for time in times.iter().map(String::as_str).chain(["431"]) {
            assert!(!text.contains(time), "{time} in {text}");
        }
        assert!(text.contains("97"), "{text}");
        assert!(text.contains("until told to stop"), "{text}");
        // A clock that stands ends what is measured, and all shows again.
        snapshot.mode = Mode::Paused(PauseCause::Rider);
        let text = line(&snapshot);
        for time in times {
            assert!(text.contains(&time), "{time} not in {text}");
        }
        assert!(text.contains("431"), "{text}");
        // So it does in the block after it.
        snapshot.mode = Mode::Riding;
        snapshot.lap += 1;
        assert!(line(&snapshot).contains(" left  "));
    }

    #[test]
    fn a_log_has_one_line_of_a_test_without_a_clock() {
        let mut snapshot = in_the_test();
        let mut shown = Line::new();
        shown.terminal = false;
        let mut due = Vec::new();
        for second in 0..60_u64 {
            snapshot.at = Instant(second * 1_000_000);
            // Another figure every second.
            snapshot.cadence = Reading::Fresh(Rpm(60.0 + second as f64));
            due.push(shown.due(&snapshot));
        }
        assert_eq!(due.iter().filter(|due| **due).count(), 1);
        assert!(due[0]);
        snapshot.lap += 1;
        snapshot.at = Instant(60_000_000);
        assert!(shown.due(&snapshot));
        snapshot.at = Instant(61_000_000);
        assert!(!shown.due(&snapshot));
    }
}
