//! How a recording ended: closed with its log, or between the two.

use super::{LogEnd, Replay};
use crate::record::{EventLine, InputLine, Table};
use crate::ride::Finish;

impl Replay {
    /// Tells of a log that does not go as far as its recording does, or cannot be followed so far.
    pub(super) fn tell_end(&mut self, end: &LogEnd, was_closed: bool) {
        let file = InputLine::FILE;
        match end {
            LogEnd::Open(_) if was_closed => self.differ(
                file,
                self.number,
                entry!("the last line, although the recording was closed: the log was cut off"),
                entry!("a closing line"),
            ),
            LogEnd::Unusable(why) => {
                self.differ(file, self.number, why, entry!("a log that can be replayed"));
            }
            LogEnd::Failed(number) => {
                self.differ(
                    file,
                    *number,
                    entry!("an input"),
                    entry!("a failure of the program"),
                );
            }
            LogEnd::Open(_) | LogEnd::Closed | LogEnd::Full(_) | LogEnd::Gap(_) => {}
        }
    }

    /// The last event of a recording that was closed with its ride.
    pub(super) fn closing_line(&self) -> String {
        let (ridden_s, plan_s, utc_ms) = self.mark;
        super::text(&EventLine {
            ridden_s,
            plan_s,
            utc_ms,
            what: "recording-closed".into(),
            detail: self.finish.map_or("cut-off", Finish::key).to_owned(),
        })
    }

    /// Whether a table that was kept lacks no more of this one than what one writing of all files adds: the last two
    /// seconds ridden, which its lines begin with.
    pub(super) fn lacks_little(&self, given: &[String], kept: &[u8]) -> bool {
        // The header is none of them.
        let lines = kept.iter().filter(|byte| **byte == b'\n').count();
        let missing = given.get(lines.saturating_sub(1)..).unwrap_or_default();
        let ridden = |line: &String| line.split(',').next()?.parse::<f64>().ok();
        missing
            .iter()
            .all(|line| ridden(line).is_some_and(|at| self.mark.0 - at <= 2.0))
    }
}
