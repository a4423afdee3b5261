//! A rehearsal: every cue in its order, when it can be begun by somebody who says one thing at a time.

use crate::plan::{Plan, speaking_time};
use crate::time::Span;

/// A cue that is begun within this of its second is on time: nobody hears the difference (common practice, no source).
const ON_TIME: Span = Span::from_millis(500);

/// One cue of a rehearsal.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// When it is due, in session time.
    pub due: Span,
    /// When it can be begun: later where the speaker still says another.
    pub begins: Span,
    /// When it is over, by the speaking time reckoned from its words.
    pub ends: Span,
    /// The block's name, with its repeat.
    pub block: String,
    /// Time left in the block when it is due.
    pub left: Span,
    /// Who says it, where the session names somebody.
    pub speaker: Option<String>,
    /// What is said.
    pub says: String,
}

impl Line {
    /// By how much it comes late; nothing where it is on time.
    pub fn late(&self) -> Option<Span> {
        let late = self.begins.less(self.due);
        (late > ON_TIME).then_some(late)
    }
}

/// Every cue of the session as it was written, in the order in which they are due. One person speaks at a time, whoever
/// it is: two voices at once are understood by nobody.
pub fn rehearse(plan: &Plan) -> Vec<Line> {
    let mut lines: Vec<Line> = plan
        .timing()
        .into_iter()
        .flat_map(|row| {
            let end = row.start + row.length;
            let name = row.name;
            // A cue that is placed past its block's end is never said.
            let said = row.cues.into_iter().filter(move |cue| cue.at < end);
            said.map(move |cue| Line {
                due: cue.at,
                begins: cue.at,
                ends: cue.at,
                block: name.clone(),
                left: end.less(cue.at),
                speaker: cue.speaker,
                says: cue.says,
            })
        })
        .collect();
    lines.sort_by_key(|line| line.due);
    let mut free = Span::ZERO;
    for line in &mut lines {
        line.begins = line.due.max(free);
        line.ends = line.begins + speaking_time(&line.says);
        free = line.ends;
    }
    lines
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::plan::read;

    #[test]
    fn a_cue_that_is_due_while_another_is_said_comes_late_by_the_rest_of_it() {
        let text = r#"
format = 1
name = "T"
purpose = "p"
author = "a"
[[block]]
kind = "warm-up"
time = "8:00"
effort = 3
cue = [
  { at = "1:00", kind = "do", speaker = "A", say = "one two three four five six seven eight nine ten" },
  { at = "1:01", kind = "do", speaker = "B", say = "one two three four five" },
  { at = "2:00", kind = "do", say = "one" },
]
"#;
        let lines = rehearse(&read(text).plan.unwrap());
        // Ten words take four seconds at two and a half a second: the second begins at 64 s, three late, until 66 s.
        let seconds = |span: Span| span.0 as f64 / 1e6;
        let times: Vec<_> = lines
            .iter()
            .map(|line| (seconds(line.due), seconds(line.begins), seconds(line.ends)))
            .collect();
        assert_eq!(
            times,
            [
                (60.0, 60.0, 64.0),
                (61.0, 64.0, 66.0),
                (120.0, 120.0, 120.4)
            ]
        );
        let late: Vec<_> = lines.iter().map(|line| line.late().map(seconds)).collect();
        assert_eq!(late, [None, Some(3.0), None]);
    }
}
