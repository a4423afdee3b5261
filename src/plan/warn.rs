//! What can be ridden but should be looked at; and fields that could never be filled.

use super::cue::{Figures, fill};
use super::literal::literal_count;
use super::model::{Audience, Block, CueField, CuePlace, Kind, Load, Plan};
use super::read::Placed;
use crate::time::Span;
use crate::toml_table::{Problems, quoted};

/// Words a second of an unhurried speaker (common practice, no source).
const SPOKEN_WORDS_PER_SECOND: f64 = 2.5;
/// The ten last seconds are counted down, so no cue should still be said then; in a block of this length at least.
const COUNTED_DOWN: Span = Span::from_seconds(10);
const COUNTED_FROM: Span = Span::from_seconds(20);
/// Who rides hard speaks in single phrases, so a leader has the breath for this much at a time (common practice, no source).
const LONGEST_HARD_TALK: Span = Span::from_seconds(6);
/// The least warm-up before hard work (rules of the ride).
pub(super) const LEAST_WARM_UP: Span = Span::from_seconds(480);
/// The least cool-down (rules of the ride).
pub(super) const LEAST_COOL_DOWN: Span = Span::from_seconds(180);
/// From this effort on work is hard.
const HARD_EFFORT: f64 = 8.0;
/// The share of threshold that stands for the same: the foot of the 88 to 94 % at which common practice puts effort 8.
const HARD_SHARE: f64 = 0.88;

/// Looks at a session of which every block could be read.
pub(super) fn check(plan: &Plan, placed: &Placed, problems: &mut Problems) {
    check_cues(plan, placed, problems);
    check_speech(plan, placed, problems);
    check_warm_up(plan, placed, problems);
    check_cool_down(plan, placed, problems);
    if plan.audience == Audience::Newcomers {
        for (block, one) in plan.blocks.iter().zip(placed) {
            if block.is_all_out() || (block.kind == Kind::Sprint) {
                problems.warning(
                    one.at,
                    say!(
                        "The session is for newcomers, and {block} is all-out work or a sprint.",
                        block = quoted(&block.name)
                    ),
                    word!("Ask for an effort up to 7, or write the session for everyone."),
                );
            }
        }
    }
}

fn check_cues(plan: &Plan, placed: &Placed, problems: &mut Problems) {
    for (index, one) in placed.iter().enumerate() {
        let length = one.block.length;
        let last = index + 1 == plan.blocks.len();
        for read in &one.cues {
            match read.cue.place {
                CuePlace::FromStart(after) if after >= length => problems.warning(
                    read.at,
                    say!("The cue is due {after} into a block of {length}, so it is never said.", after, length),
                    word!("Place it earlier, or by `before_end`."),
                ),
                CuePlace::FromEnd(before) if before > length => problems.warning(
                    read.at,
                    say!("The cue is due {before} before the end of a block of {length}, so it is said at the block's start.", before, length),
                    word!("Place it later."),
                ),
                _ => {}
            }
            if let Some((said, field)) = literal_count(&read.cue.text, plan.language) {
                problems.warning(
                    read.say_at,
                    say!(
                        "{count} is counted out; when the session is stretched or cut it will be wrong.",
                        count = quoted(&said)
                    ),
                    say!(
                        "Use the field {field}.",
                        field = field.replace(" or ", &format!(" {} ", word!("or")))
                    ),
                );
            }
            let counts = read.cue.holds(CueField::Repeat) || read.cue.holds(CueField::Repeats);
            if counts && one.block.repeat.is_none() {
                problems.error(
                    read.say_at,
                    word!("The cue counts repeats, and its block is in no set."),
                    say!(
                        "Take {one} and {other} out, or put the block in a set.",
                        one = "{repeat}",
                        other = "{repeats}"
                    ),
                );
            }
            let looks_ahead =
                read.cue.holds(CueField::NextEffort) || read.cue.holds(CueField::NextTime);
            if looks_ahead && last {
                problems.error(
                    read.say_at,
                    word!("The cue tells of the next block, and nothing comes after this one."),
                    say!(
                        "Take {one} and {other} out; {left} is the time to the session's end.",
                        one = "{next.effort}",
                        other = "{next.time}",
                        left = "{total.left}"
                    ),
                );
            }
        }
    }
}

/// How long a text takes to say, by an unhurried speaker.
#[must_use]
pub fn speaking_time(text: &str) -> Span {
    let words = text.split_whitespace().count();
    Span::from_seconds_f64(words as f64 / SPOKEN_WORDS_PER_SECOND)
}

/// Cues that begin while another is still being said, within a block and from one into the next.
fn check_speech(plan: &Plan, placed: &Placed, problems: &mut Problems) {
    let mut start = Span::ZERO;
    let mut busy_until = Span::ZERO;
    let mut busy_with = 0;
    for (index, one) in placed.iter().enumerate() {
        for read in &one.cues {
            let due = read.cue.due(one.block.length);
            if due >= one.block.length {
                continue;
            }
            let figures = Figures::planned(plan, index, due);
            let text = fill(&read.cue.text, &figures, plan.language);
            if start + due < busy_until {
                let (line, _) = problems.position(busy_with);
                problems.warning(
                    read.at,
                    say!("The cue begins while the one of line {line} is still being said.", line),
                    word!("Leave more time between them, or say less: two and a half words take a second."),
                );
            }
            check_breath(plan, index, due, &text, read.at, problems);
            let until = start + due + speaking_time(&text);
            if until > busy_until {
                (busy_until, busy_with) = (until, read.at);
            }
        }
        start += one.block.length;
    }
}

/// A cue that talks into the countdown, or is long where the leader has no breath for it.
fn check_breath(
    plan: &Plan,
    index: usize,
    due: Span,
    text: &str,
    at: usize,
    problems: &mut Problems,
) {
    let Some(block) = plan.blocks.get(index) else {
        return;
    };
    let takes = speaking_time(text);
    let counted = block.length >= COUNTED_FROM && !plan.hides_the_clock(index);
    let countdown = block.length.less(COUNTED_DOWN);
    if counted && due < countdown && due + takes > countdown {
        problems.warning(
            at,
            word!("The cue is still being said when the last ten seconds of the block begin."),
            say!(
                "Place it {seconds:.0} seconds earlier, or say less.",
                seconds = (due + takes).less(countdown).seconds().ceil()
            ),
        );
    }
    if is_hard(block) && takes > LONGEST_HARD_TALK {
        problems.warning(
            at,
            say!(
                "The cue takes {seconds:.0} seconds to say, in a block in which nobody has the breath for it.",
                seconds = takes.seconds().ceil()
            ),
            word!("Say it in fifteen words, or in the recovery before."),
        );
    }
}

/// Whether a block is hard for anybody. Watts as such cannot be judged without knowing the rider.
fn is_hard(block: &Block) -> bool {
    block.kind == Kind::Sprint
        || match block.target.greatest() {
            Some(Load::Effort(effort)) => effort.0 >= HARD_EFFORT,
            Some(Load::Threshold(share)) => share.0 >= HARD_SHARE,
            Some(Load::Power(_) | Load::Level(_) | Load::Slope(_)) | None => false,
        }
}

fn check_warm_up(plan: &Plan, placed: &Placed, problems: &mut Problems) {
    let Some(first) = plan.blocks.iter().position(is_hard) else {
        return;
    };
    let before = plan.blocks.iter().take(first);
    let warm_up: Span = before
        .filter(|block| block.kind == Kind::WarmUp)
        .map(|block| block.length)
        .sum();
    if warm_up < LEAST_WARM_UP {
        problems.warning(
            placed.get(first).map_or(0, |one| one.at),
            say!(
                "There are {warm_up} of warm-up before the first hard block.",
                warm_up
            ),
            say!(
                "Warm up for {least} at least before an effort of 8 or a sprint.",
                least = LEAST_WARM_UP
            ),
        );
    }
}

fn check_cool_down(plan: &Plan, placed: &Placed, problems: &mut Problems) {
    let cool_down: Span = plan
        .blocks
        .iter()
        .rev()
        .take_while(|block| block.kind == Kind::CoolDown)
        .map(|block| block.length)
        .sum();
    if cool_down < LEAST_COOL_DOWN {
        let what = if cool_down == Span::ZERO {
            word!("The session does not end with a cool-down.").to_owned()
        } else {
            say!("The session ends with {cool_down} of cool-down.", cool_down)
        };
        problems.warning(
            placed.last().map_or(0, |one| one.at),
            what,
            say!(
                "End with {least} at least: stopping dead after work can bring faintness.",
                least = LEAST_COOL_DOWN
            ),
        );
    }
}
