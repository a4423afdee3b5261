//! What a ride on the command line shows: one live line, notices and cues as they come, and the last word.

use std::io::{IsTerminal, Write};

use crate::engine::Snapshot;
use crate::engine::snapshot::RecordState;
use crate::ride::{Mode, RideMode};
use crate::time::{Instant, Span};

/// What is said when all is over, and whether the session was ridden to its end.
pub(super) fn summary(last: &Snapshot) -> Result<(String, bool), String> {
    let Mode::Finished(how) = last.mode else {
        return Err("The ride did not begin, so nothing was recorded.".to_owned());
    };
    let ending = match how {
        crate::ride::Finish::Completed => "Ridden to the end",
        crate::ride::Finish::ByRider => "Ended by the rider",
        crate::ride::Finish::Closed => "Stopped",
    };
    let name = last.plan.as_ref().map_or("", |plan| plan.name.as_str());
    let work = match last.w_balance {
        Some(_) => format!("{:.0} kJ of work", last.work / 1000.0),
        None => "power was not measured".to_owned(),
    };
    let mut text = format!("{ending}: {name}, {} ridden, {work}.\n", last.ridden);
    let kept = match &last.record {
        RecordState::Writing(folder, rows) | RecordState::Closed(folder, rows) => {
            text += &format!("{rows} rows kept in {folder}");
            true
        }
        RecordState::Trouble(why) => {
            // What is said while a ride goes on has its advice for then; here the cause is enough.
            text += why.split(". ").next().unwrap_or_default();
            text += ". Not all of this ride is kept. Make room, allow writing there, or choose another folder with --out.";
            false
        }
        RecordState::NotYet => {
            text += "Nothing was kept.";
            false
        }
    };
    Ok((text, kept && how == crate::ride::Finish::Completed))
}

/// The live line: drawn over itself on a terminal, else a line every ten seconds.
pub(in crate::cli) struct Line {
    terminal: bool,
    next: Instant,
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
            drop(writeln!(out, "{clear}{notice}"));
        }
        // Trouble with the disk is said once, however short the notice of it stood.
        if let RecordState::Trouble(why) = &snapshot.record
            && *why != self.trouble
            && *why != self.notice
        {
            self.trouble.clone_from(why);
            drop(writeln!(out, "{why}"));
        }
        if let Some(cue) = &snapshot.cue
            && **cue != *self.cue
        {
            self.cue = cue.to_string();
            let clear = if self.terminal { "\r\x1b[K" } else { "" };
            drop(writeln!(out, "{clear}“{cue}”"));
        }
        let text = line(snapshot);
        if self.terminal {
            if text != self.shown {
                drop(write!(out, "\r\x1b[K{text}"));
                drop(out.flush());
            }
        } else if snapshot.at >= self.next {
            self.next = snapshot.at + Span::from_seconds(10);
            drop(writeln!(out, "{text}"));
        }
        self.shown = text;
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

/// One line that says where the ride stands.
fn line(snapshot: &Snapshot) -> String {
    let fresh = |value: Option<String>| value.unwrap_or_else(|| "–".to_owned());
    // By effort there are no watts, neither of the rider nor of the lane.
    let watts = snapshot.ride_mode == RideMode::TargetPower;
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
        Mode::Idle => "Nothing is chosen yet.".to_owned(),
        Mode::Connecting => format!("Connecting. {}", snapshot.missing.join(" ")),
        Mode::Ready => format!("Ready: turn the pedals to start.  {figures}"),
        Mode::Finished(_) => "Finished.".to_owned(),
        Mode::Riding | Mode::Paused(_) | Mode::Degraded { .. } => {
            let state = match snapshot.mode {
                Mode::Paused(_) => "paused  ",
                Mode::Degraded { .. } => "no brake  ",
                _ => "",
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
                (true, Some(lane), _) => format!("  lane {lane}"),
                (false, _, Some(effort)) if effort.0 <= 9.0 => format!("  aim for {effort} of 10"),
                (_, _, Some(effort)) if effort.0 > 9.0 => "  all out".to_owned(),
                _ => String::new(),
            };
            let brake = snapshot
                .brake
                .map_or_else(String::new, |brake| format!("  brake {brake}"));
            format!(
                "{state}{} of {}  {block}, {left} left  {figures}{aim}{brake}",
                snapshot.session, snapshot.session_length,
            )
        }
    }
}
