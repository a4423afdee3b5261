//! The words that the rooms share: blocks, loads and lengths as they are spoken of.

use std::fmt::Display;

use crate::plan::{Block, CadenceBand, Load, Target};
use crate::ride::RideMode;
use crate::text::{self, Language, decimal};
use crate::time::Span;
use crate::units::Effort;

/// What stands where a figure is not known.
pub const DASH: &str = "–";

/// What to check before every ride: short, and the trainer's own manual comes first. Looked up where it is shown.
pub const BEFORE_RIDING: [&str; 4] = [
    entry!("Axle or skewer tight, front wheel steady, bike upright: see the trainer's manual."),
    entry!("Fan on. Water and towel within reach."),
    entry!(
        "Known heart, lung, kidney or metabolic illness, symptoms, fever, pregnancy, or long out of training: ask a doctor first."
    ),
    entry!("Escape lets the brake off at any time."),
];

/// The same before each ride, in a line. Looked up where it is shown.
pub const SAFETY_LINE: &str = entry!("Axle tight, front wheel steady, fan on, water within reach.");

/// When to stop. After general indications for stopping an exercise test (ACSM), in our own short words.
/// Looked up where it is shown.
pub const STOP_SIGNS: &str = entry!(
    "Stop at once for pain or pressure in the chest, unusual breathlessness or wheeze, \
    dizziness, confusion or nausea, cold clammy skin, cramp-like leg pain, a heartbeat that feels wrong, \
    or because you want to. Then get help if it does not pass quickly."
);

/// A block's name with its place in its set: "Hold 2 of 4".
pub fn block_name(block: &Block) -> String {
    block.name_with_repeat()
}

/// A figure of effort: "7", "6.5", or "all out" above 9.
pub fn effort(effort: Effort) -> String {
    if effort.0 > 9.0 {
        word!("all out" # "of a load").to_owned()
    } else {
        let tenths = (effort.0 * 10.0).round() / 10.0 + 0.0;
        if tenths.fract() == 0.0 {
            format!("{tenths:.0}")
        } else {
            decimal(tenths, 1)
        }
    }
}

/// How well one can talk at an effort (common practice: 8 lies just under threshold and allows single phrases).
pub fn talk(effort: Effort) -> &'static str {
    match effort.0 {
        x if x > 9.0 => word!("everything you have"),
        x if x > 8.0 => word!("single words"),
        x if x > 5.5 => word!("single phrases"),
        _ => word!("whole sentences"),
    }
}

/// What a target asks for, to stand after a block's length: "at 4", "from 4 to 7", "all out". In effort-only mode
/// watts are left out.
pub fn target(target: Target, mode: RideMode) -> String {
    match target {
        Target::Steady(load) => match load_words(load, mode) {
            words if load.is_all_out() => words,
            words if words.is_empty() => words,
            words => format!("{} {words}", word!("at" # "before a load")),
        },
        Target::Line(from, to) => {
            let (from, to) = (load_words(from, mode), load_words(to, mode));
            if from.is_empty() || to.is_empty() {
                String::new()
            } else {
                say!("from {from} to {to}", from, to)
            }
        }
        Target::None => word!("as you like").to_owned(),
    }
}

/// One load in words; empty where it has none in this mode.
pub fn load_words(load: Load, mode: RideMode) -> String {
    match load {
        Load::Effort(x) => effort(x),
        Load::Threshold(share) => say!("{share:.0} % of threshold", share = share.0 * 100.0),
        Load::Power(_) if mode == RideMode::EffortOnly => String::new(),
        Load::Power(watts) => watts.to_string(),
        Load::Level(share) => say!("{share:.0} % resistance", share = share.0 * 100.0),
        Load::Slope(grade) => say!("slope {slope}", slope = grade),
    }
}

/// "80 to 90", or "85" where the band is one figure.
pub fn band(band: CadenceBand) -> String {
    if band.low == band.high {
        format!("{:.0}", band.low.0)
    } else {
        let to = word!("to" # "from one figure to another");
        format!("{:.0} {to} {:.0}", band.low.0, band.high.0)
    }
}

/// How far something is, of its whole: "26:25 of 53:00". Not a sentence with its figures: it would be recognised in too
/// many others.
pub fn of_the_whole(now: impl Display, whole: impl Display) -> String {
    format!("{now} {} {whole}", word!("of" # "of so many"))
}

/// A time left, in whole seconds rounded up, so that 0:00 is shown only when nothing is left.
pub fn left(span: Span) -> String {
    Span::from_seconds(span.0.div_ceil(1_000_000)).to_string()
}

/// The length of a block as the ruler shows it: whole minutes bare, else minutes and seconds.
pub fn minutes(span: Span) -> String {
    let seconds = span.whole_seconds();
    if seconds >= 60 && seconds.is_multiple_of(60) {
        (seconds / 60).to_string()
    } else {
        span.to_string()
    }
}

/// The words with a small first letter, to stand inside a sentence. German keeps it as it is: most are nouns.
pub fn inside(words: &str) -> String {
    if text::language() == Language::German {
        return words.to_owned();
    }
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Fraction, Watts};

    #[test]
    fn loads_are_worded_without_watts_where_there_shall_be_none() {
        let both = |t| {
            (
                target(t, RideMode::TargetPower),
                target(t, RideMode::EffortOnly),
            )
        };
        let same = |words: &str| (words.to_owned(), words.to_owned());
        assert_eq!(
            both(Target::Steady(Load::Effort(Effort(4.0)))),
            same("at 4")
        );
        assert_eq!(
            both(Target::Steady(Load::Effort(Effort(10.0)))),
            same("all out")
        );
        assert_eq!(
            both(Target::Line(
                Load::Effort(Effort(3.0)),
                Load::Effort(Effort(6.5))
            )),
            same("from 3 to 6.5")
        );
        assert_eq!(
            both(Target::Steady(Load::Threshold(Fraction(0.9)))),
            same("at 90 % of threshold")
        );
        assert_eq!(
            both(Target::Steady(Load::Power(Watts(150.0)))),
            ("at 150 W".to_owned(), String::new())
        );
        assert_eq!(both(Target::None), same("as you like"));
    }

    #[test]
    fn time_left_is_rounded_up() {
        assert_eq!(left(Span::ZERO), "0:00");
        assert_eq!(left(Span(1)), "0:01");
        assert_eq!(left(Span::from_millis(35_000)), "0:35");
        assert_eq!(left(Span::from_millis(59_001)), "1:00");
    }

    #[test]
    fn the_ruler_counts_in_minutes() {
        assert_eq!(minutes(Span::from_seconds(420)), "7");
        assert_eq!(minutes(Span::from_seconds(90)), "1:30");
        assert_eq!(minutes(Span::from_seconds(15)), "0:15");
    }
}
