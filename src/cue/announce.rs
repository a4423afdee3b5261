//! What comes next, said where the session's writer says nothing: for whoever rides by ear alone.

use std::fmt::Write as _;

use super::score::Saying;
use crate::plan::words::{cadence, spoken, target};
use crate::plan::{Block, CueKind, Load, Plan, Target, speaking_time};
use crate::ride::Lap;
use crate::time::Span;

/// It is over this long before the block's end: the ten seconds and the ticks are to be heard (own choice, no source).
const BEFORE_THE_END: Span = Span::from_seconds(11);

/// And begins so long after the block did, behind its beat.
const AFTER_THE_BEAT: Span = Span::from_seconds(2);

/// Between two sayings.
const APART: Span = Span::from_seconds(1);

/// Whoever says what to do in the last three quarters of a minute announces by themselves (own choice, no source).
const ANNOUNCED_WITHIN: Span = Span::from_seconds(45);

/// What the voice says by itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Announcement {
    /// When, in session time.
    pub(super) at: Span,
    /// The lap in which it is said.
    pub(super) lap: usize,
    /// The words.
    pub(super) says: String,
}

/// The first block as it begins, and each other near the end of the one before it. Nothing where there is no room for it:
/// in a block that is too short, beside a cue, and where the time that is left may not be told.
pub(super) fn announcements(
    plan: &Plan,
    laps: &[Lap],
    sayings: &[Saying<'_>],
) -> Vec<Announcement> {
    let ridden: Vec<_> = laps
        .iter()
        .enumerate()
        .filter(|(_, lap)| lap.length > Span::ZERO)
        .filter_map(|(index, lap)| Some((index, lap, plan.blocks.get(lap.block)?)))
        .collect();
    let mut all = Vec::new();
    let mut say = |lap: usize, at: Span, says: String| {
        let over = at + speaking_time(&says);
        let crossed = sayings.iter().any(|cue| {
            let cue_over = cue.at + speaking_time(&cue.says);
            cue.lap == lap && cue.at < over + APART && at < cue_over + APART
        });
        if !crossed {
            all.push(Announcement { at, lap, says });
        }
    };
    if let Some(&(index, lap, block)) = ridden.first() {
        let says = words(block, lap.length);
        let at = lap.start + AFTER_THE_BEAT;
        if at + speaking_time(&says) + BEFORE_THE_END <= lap.end() {
            say(index, at, says);
        }
    }
    for pair in ridden.windows(2) {
        let [(index, lap, _), (_, next, block)] = *pair else {
            continue;
        };
        let says = say!("Next: {block}", block = words(block, next.length));
        let whole = speaking_time(&says) + BEFORE_THE_END;
        let told = sayings.iter().any(|cue| {
            cue.lap == index
                && cue.cue.kind == CueKind::Do
                && lap.end() <= cue.at + ANNOUNCED_WITHIN
        });
        let fits = lap.length >= whole + AFTER_THE_BEAT;
        if fits && !told && !plan.hides_the_clock(lap.block) {
            say(index, lap.end().less(whole), says);
        }
    }
    all
}

/// "Causeway, 2 of 4. 8 minutes, effort 7, cadence 85 to 95."
fn words(block: &Block, length: Span) -> String {
    let name = &block.name;
    let name = match block.repeat.filter(|repeat| repeat.of > 1) {
        Some(repeat) => format!(
            "{name}, {} {} {}",
            repeat.number,
            word!("of" # "of so many"),
            repeat.of
        ),
        None => name.to_owned(),
    };
    // Writing to text cannot fail, here and below.
    let mut says = format!("{name}. {}", spoken(length));
    match block.target {
        // Watts are nothing to who rides by effort, and the brake sees to them for the others.
        Target::None | Target::Steady(Load::Power(_)) | Target::Line(Load::Power(_), _) => {}
        asked => {
            let _ = write!(says, ", {}", target(asked));
        }
    }
    if let Some(band) = block.cadence {
        let band = cadence(band);
        let band = band.trim_end_matches(" rpm");
        let _ = write!(says, ", {} {band}", word!("cadence"));
    }
    says.push('.');
    says
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::cue::sayings;
    use crate::plan::read;
    use crate::ride::Timeline;

    /// A warm-up, two rounds of a hold and a recovery, a sprint, a cool-down, with what is added to the first hold.
    fn told(cues: &str) -> Vec<(u64, String)> {
        let text = format!(
            "format = 1\nname = \"T\"\npurpose = \"p\"\n\
             [[block]]\nkind = \"warm-up\"\ntime = \"10:00\"\neffort = [2, 4]\ncadence = 90\n\
             [[block]]\nrepeat = 2\n\
             [[block.block]]\nkind = \"hold\"\nname = \"Causeway\"\ntime = \"8:00\"\neffort = 7\ncadence = [85, 95]\n{cues}\
             [[block.block]]\nkind = \"recovery\"\ntime = \"0:15\"\nwatts = 80\n\
             [[block]]\nkind = \"sprint\"\ntime = \"0:12\"\neffort = 10\n\
             [[block]]\nkind = \"cool-down\"\ntime = \"5:00\"\neffort = 2\n"
        );
        let reading = read(&text);
        let plan = reading
            .plan
            .unwrap_or_else(|| panic!("{:?}", reading.problems));
        let timeline = Timeline::new(&plan);
        let laps = timeline.laps();
        announcements(&plan, laps, &sayings(&plan, laps))
            .into_iter()
            .map(|one| (one.at.whole_seconds(), one.says))
            .collect()
    }

    #[test]
    fn each_block_is_told_before_it_begins_where_there_is_time_for_it() {
        let all = told("");
        let says: Vec<_> = all.iter().map(|(_, says)| says.as_str()).collect();
        // The recoveries of fifteen seconds have no room for what follows them, and the sprint of twelve has none.
        assert_eq!(
            says,
            [
                "Warm-up. 10 minutes, effort 2 to 4, cadence 90.",
                "Next: Causeway, 1 of 2. 8 minutes, effort 7, cadence 85 to 95.",
                "Next: Recovery, 1 of 2. 15 seconds.",
                "Next: Recovery, 2 of 2. 15 seconds.",
            ]
        );
        // At two and a half words a second, and eleven seconds before the end.
        assert_eq!(all[0].0, 2);
        assert!((580..585).contains(&all[1].0), "{all:?}");
    }

    #[test]
    fn the_writers_own_words_come_first() {
        let cue = |place: &str, kind: &str| {
            format!(
                "[[block.block.cue]]\n{place}\nkind = \"{kind}\"\nsay = \"Ease off soon, all of you, and sit up.\"\n"
            )
        };
        let recoveries = |cues: &str| {
            let all = told(cues);
            all.iter()
                .filter(|(_, says)| says.contains("Recovery"))
                .count()
        };
        assert_eq!(recoveries(""), 2);
        // What to do, shortly before the end, tells what comes.
        assert_eq!(recoveries(&cue("before_end = \"0:40\"", "do")), 0);
        assert_eq!(recoveries(&cue("before_end = \"0:40\"", "cheer")), 2);
        // Two voices at once tell nothing.
        assert_eq!(recoveries(&cue("before_end = \"0:18\"", "cheer")), 0);
        assert_eq!(recoveries(&cue("at = \"1:00\"", "do")), 2);
    }

    #[test]
    fn a_block_that_hides_the_clock_does_not_tell_how_long_it_lasts() {
        let builtin = crate::plan::builtin();
        let (_, text) = builtin
            .iter()
            .find(|(key, _)| *key == "three-minutes")
            .unwrap();
        let plan = read(text).plan.unwrap();
        let timeline = Timeline::new(&plan);
        let laps = timeline.laps();
        let hidden: Vec<_> = (0..laps.len())
            .filter(|index| plan.hides_the_clock(laps[*index].block))
            .collect();
        assert!(!hidden.is_empty());
        for one in announcements(&plan, laps, &[]) {
            assert!(!hidden.contains(&one.lap), "{one:?}");
        }
    }
}
