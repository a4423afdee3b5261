//! The page to lead from: the cue to say now, the next one early enough to draw breath, the clock, and how it should feel.

use crate::cue::{Saying, sayings};
use crate::plan::{CueKind, Load, Plan, speaking_time};
use crate::ride::Lap;
use crate::time::Span;

/// A cue stands as *now* for as long as it takes to say and so much more, unless the next one comes first.
const STANDS: Span = Span::from_seconds(4);

/// So long before a cue is due it is time to draw breath (common practice, no source).
pub const BREATH: Span = Span::from_seconds(5);

/// A cue on the page.
#[derive(Clone, Debug, PartialEq)]
pub struct Said {
    /// Who says it, where the session names somebody.
    pub speaker: Option<String>,
    /// What is said.
    pub says: String,
    /// Since when it has been due, or until it is.
    pub away: Span,
}

/// The page.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// What to say now.
    pub now: Option<Said>,
    /// What comes next.
    pub next: Option<Said>,
    /// Whether it is time to draw breath for it.
    pub breath: bool,
    /// The block's name, with its repeat.
    pub block: String,
    /// Time left in the block.
    pub block_left: Span,
    /// Time left in the session.
    pub session_left: Span,
    /// What the group should feel now: the session's own words, else those for the block's effort; empty where neither
    /// is known.
    pub feel: String,
}

/// The page at a moment of the session, for the blocks as they stand today; nothing at or after the end.
pub fn page(plan: &Plan, laps: &[Lap], session: Span) -> Option<Page> {
    let (index, lap) = laps
        .iter()
        .enumerate()
        .find(|(_, lap)| lap.length > Span::ZERO && session >= lap.start && session < lap.end())?;
    let block = plan.blocks.get(lap.block)?;
    let mut cues = sayings(plan, laps);
    cues.sort_by_key(|saying| saying.at);
    let said = |saying: &Saying<'_>| Said {
        speaker: saying.cue.speaker.clone(),
        says: saying.says.clone(),
        away: if saying.at > session {
            saying.at.less(session)
        } else {
            session.less(saying.at)
        },
    };
    let now = cues
        .iter()
        .rfind(|saying| saying.at <= session)
        .filter(|saying| session.less(saying.at) < speaking_time(&saying.says) + STANDS)
        .map(said);
    let next = cues.iter().find(|saying| saying.at > session).map(said);
    let own = cues.iter().rfind(|saying| {
        saying.lap == index && saying.at <= session && saying.cue.kind == CueKind::Feel
    });
    let feel = match own {
        Some(saying) => saying.says.clone(),
        None => {
            let into = session.less(lap.start).seconds() / lap.length.seconds();
            block.target.at(into).map_or("", feels_like).to_owned()
        }
    };
    let end = laps.iter().map(Lap::end).max()?;
    Some(Page {
        breath: next.as_ref().is_some_and(|next| next.away <= BREATH),
        now,
        next,
        block: block.name_with_repeat(),
        block_left: lap.end().less(session),
        session_left: end.less(session),
        feel,
    })
}

/// What an effort feels like (common practice, no source: around eight allows speech in single phrases, ten is all out).
fn feels_like(load: Load) -> &'static str {
    match load {
        Load::Effort(effort) if effort.0 > 9.0 => word!("All there is. No talking."),
        Load::Effort(effort) if effort.0 >= 7.5 => word!("Hard. Single phrases."),
        Load::Effort(effort) if effort.0 >= 6.0 => word!("Firm. Short sentences."),
        Load::Effort(effort) if effort.0 >= 4.0 => word!("Steady. Talk is easy."),
        Load::Effort(_) => word!("Light. The legs only turn."),
        Load::Threshold(_) | Load::Power(_) | Load::Level(_) | Load::Slope(_) => "",
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::plan::read;
    use crate::ride::Timeline;

    fn plan() -> Plan {
        let text = r#"
format = 1
name = "T"
purpose = "p"
author = "a"
[[block]]
kind = "warm-up"
time = "8:00"
effort = [2, 6]
stretch = true
cue = [
  { at = "1:00", kind = "do", speaker = "A", say = "one two three four five" },
  { before_end = "0:30", kind = "feel", say = "Warm. {left} left." },
]
[[block]]
kind = "cool-down"
time = "3:00"
effort = 3
"#;
        read(text).plan.unwrap()
    }

    #[test]
    fn a_cue_stands_while_it_is_said_and_the_next_is_seen_from_afar() {
        let plan = plan();
        let timeline = Timeline::new(&plan);
        let at = |seconds| page(&plan, timeline.laps(), Span::from_seconds(seconds));
        let now = |seconds| at(seconds).unwrap().now.map(|said| said.says);
        // Five words take two seconds to say, and four more they stand.
        assert_eq!(
            [now(59), now(60), now(65), now(66)],
            [
                None,
                Some("one two three four five".to_owned()),
                Some("one two three four five".to_owned()),
                None
            ]
        );
        let next = at(0).unwrap().next.unwrap();
        assert_eq!(
            (next.speaker.as_deref(), next.away),
            (Some("A"), Span::from_seconds(60))
        );
        assert_eq!(
            [at(54), at(55), at(60)].map(|page| page.unwrap().breath),
            [false, true, false]
        );
        assert_eq!(at(660), None);
    }

    #[test]
    fn what_it_should_feel_like_is_the_sessions_own_word_once_it_was_said() {
        let plan = plan();
        let mut timeline = Timeline::new(&plan);
        let feel = |timeline: &Timeline, seconds| {
            page(&plan, timeline.laps(), Span::from_seconds(seconds))
                .unwrap()
                .feel
        };
        // From two to six over eight minutes: four at the half.
        assert_eq!(feel(&timeline, 10), "Light. The legs only turn.");
        assert_eq!(feel(&timeline, 245), "Steady. Talk is easy.");
        assert_eq!(feel(&timeline, 460), "Warm. 30 seconds left.");
        assert_eq!(feel(&timeline, 490), "Light. The legs only turn.");
        // Stretched by half a minute, its word comes half a minute later.
        assert!(timeline.stretch(&plan, Span::from_seconds(10)));
        assert_eq!(feel(&timeline, 460), "Steady. Talk is easy.");
        assert_eq!(feel(&timeline, 485), "Warm. 30 seconds left.");
    }
}
