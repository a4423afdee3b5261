//! What is said: one short sentence that a rider can act on, and below it, smaller, the rest.

use super::Moment;
use crate::engine::snapshot::{RecordState, Snapshot};
use crate::plan::{Block, Kind, Position};
use crate::ride::{Cause, Mode, PauseCause};
use crate::text::{self, translated};
use crate::time::Span;
use crate::toml_table::a_capital;
use crate::ui::keys::{self, Act, Hands};
use crate::ui::widgets::banner;
use crate::ui::words;

/// The sentence above the strip.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sentence {
    /// The words: what happened or what to do, short enough to be read from the saddle.
    pub words: String,
    /// What follows from it: smaller, and left out where there is no room.
    pub more: String,
    /// Whether it needs attention: it is then drawn with a mark and in another colour.
    pub urgent: bool,
}

impl Sentence {
    fn quiet(words: impl Into<String>) -> Self {
        Self {
            words: words.into(),
            ..Self::default()
        }
    }

    fn urgent(words: &str, more: &str) -> Self {
        Self {
            words: words.to_owned(),
            more: more.to_owned(),
            urgent: true,
        }
    }

    /// From a sentence or several: the first is what is read from the saddle.
    fn split(words: &str) -> Self {
        match words.split_once(". ") {
            Some((first, rest)) => Self::urgent(&format!("{first}."), rest),
            None => Self::urgent(words, ""),
        }
    }
}

/// What the rider has to keep in mind on a trainer whose flywheel is fixed to the pedals: the snapshot's own caution, short
/// enough for a place where it stands all the ride.
pub(super) fn caution(snapshot: &Snapshot) -> &'static str {
    match snapshot.flywheel.caution() {
        Some(_) => word!("Never stop the legs suddenly."),
        None => "",
    }
}

/// What matters most now: a press that waits, a notice while it stands, lost control, trouble with the disk, a brake that
/// is off, a sensor that fell silent, a cue, and at last what the block itself asks for.
pub(super) fn sentence(
    snapshot: &Snapshot,
    block: Option<&Block>,
    moment: Moment,
    rider_makes: bool,
) -> Sentence {
    if let Some(armed) = snapshot.armed {
        return Sentence::urgent(text::word(keys::armed_words(armed)), "");
    }
    let degraded = match snapshot.mode {
        Mode::Degraded { cause, .. } => Some(cause),
        _ => None,
    };
    // A notice passes; lost control and trouble with the disk stand until they are over, and come back after it.
    if let Some(notice) = &snapshot.notice
        && degraded.is_none_or(|cause| **notice != *cause.to_string())
    {
        return Sentence::split(&translated(notice));
    }
    if let Some(cause) = degraded {
        return lost(cause);
    }
    if let RecordState::Trouble(words) = &snapshot.record {
        return Sentence::split(&translated(words));
    }
    if let Some(sentence) = off(snapshot) {
        return sentence;
    }
    if let Some(cue) = &snapshot.cue {
        return Sentence::quiet(translated(cue));
    }
    if let Some(sentence) = silent(snapshot, rider_makes) {
        return sentence;
    }
    Sentence::quiet(block.map_or_else(String::new, |block| {
        guide(snapshot, block, moment, rider_makes)
    }))
}

/// Control of the brake is lost: what to do first.
fn lost(cause: Cause) -> Sentence {
    let (words, more) = match cause {
        Cause::LinkLost => (
            word!("Trainer lost. Ease off, shift down."),
            word!("It may hold its last load. Stillroad reconnects; the ride is recorded."),
        ),
        Cause::ControlLost => (
            word!("Brake control lost. Ride by feel."),
            word!("Another program or the trainer took it: close other training programs."),
        ),
        Cause::ControlRefused => (
            word!("Brake refused. Ride by feel."),
            word!("Close other programs that may hold it; switch the trainer off and on."),
        ),
        Cause::Silent => (
            word!("Trainer silent. Ease off, shift down."),
            word!("It may hold its last load. Stillroad reconnects; the ride is recorded."),
        ),
        Cause::ReleaseUnanswered => (
            word!("Brake may still hold. Shift down."),
            word!("The trainer did not confirm that the brake was let off: ease off."),
        ),
        Cause::NoUsableTarget => (
            word!("No brake here. Ride by feel."),
            word!("The trainer takes none of the session's targets. The ride is recorded."),
        ),
    };
    Sentence::urgent(words, more)
}

/// The brake is off by itself: why, and what brings it back. The core tells why in English.
fn off(snapshot: &Snapshot) -> Option<Sentence> {
    let why = snapshot.released;
    if why.is_empty() || keys::paused(snapshot.mode).is_some() || keys::off_by_hand(snapshot) {
        return None;
    }
    let (words, more) = if why.contains("stalling") {
        (
            word!("Brake off: spin the legs up."),
            word!("The load builds up again once they turn."),
        )
    } else if why.contains("stand still") {
        (
            word!("Brake off. Turn to go on."),
            word!("The clock runs on; the load builds up gently."),
        )
    } else if why.contains("turn") || why.contains("built up") {
        (
            word!("Turn the pedals."),
            word!("Then the load builds up gently."),
        )
    } else {
        return Some(Sentence::split(&say!(
            "Brake off: {why}.",
            why = text::word(why)
        )));
    };
    Some(Sentence::urgent(words, more))
}

/// A figure that the rider steers by fell silent.
fn silent(snapshot: &Snapshot, rider_makes: bool) -> Option<Sentence> {
    use crate::ride::Reading::{Gone, Stale};
    if !rider_makes && matches!(snapshot.cadence, Stale(_) | Gone) {
        return Some(Sentence::quiet(word!("No cadence now. Keep your rhythm.")));
    }
    if matches!(snapshot.power, Gone) {
        return Some(Sentence::quiet(word!("No power now. Keep turning.")));
    }
    None
}

/// What the block itself asks for, where nothing else has to be said.
fn guide(snapshot: &Snapshot, block: &Block, moment: Moment, rider_makes: bool) -> String {
    if let Moment::SprintSoon { free } = moment {
        return if free {
            word!("Sprint next: choose your gear.").to_owned()
        } else {
            word!("Sprint next: stay in this gear.").to_owned()
        };
    }
    let all_out = block.is_all_out();
    let own = match block.kind {
        Kind::Sprint if super::is_all_out_test(snapshot) => {
            return word!("All out. Until told to stop.").to_owned();
        }
        Kind::Sprint if all_out => word!("Go. All out.").to_owned(),
        Kind::Sprint => word!("Go.").to_owned(),
        Kind::Recovery => return word!("Drink. Keep the legs turning.").to_owned(),
        Kind::CoolDown => return word!("Easy now. Keep the legs turning.").to_owned(),
        Kind::Free => return word!("Ride as you like.").to_owned(),
        _ => match block.cadence.zip(Some(snapshot.cadence.fresh())) {
            Some((band, Some(now))) if now.0.round() < band.low.0 => {
                say!("Turn faster: {band}.", band = words::band(band))
            }
            Some((band, Some(now))) if now.0.round() > band.high.0 => {
                say!("Turn slower: {band}.", band = words::band(band))
            }
            Some((band, _)) if !rider_makes => say!("Keep {band} rpm.", band = words::band(band)),
            _ if block.kind == Kind::WarmUp => word!("Warm up, and breathe easily.").to_owned(),
            _ => word!("Hold it steady.").to_owned(),
        },
    };
    match block.position {
        Position::Standing => format!("{} {own}", word!("Stand up.")),
        Position::Low => format!("{} {own}", word!("Hands low.")),
        Position::Seated | Position::OwnChoice => own,
    }
}

/// What comes next, where saying it would tell the time.
pub(super) const TOLD: &str = entry!("You are told when it is over.");

/// What stands in the strip's place in a test that is ridden without a clock: when to stop at once, and by which key.
pub(super) fn until_told(hands: &Hands) -> banner::Data {
    let off = hands.keys.shown(Act::BrakeOff);
    banner::Data {
        // That it lasts until told to stop is said above and below it.
        title: word!("Give it all").to_owned(),
        lines: vec![
            say!("{key} lets the brake off.", key = a_capital(&off)),
            word!("No clock and no watts in a test: you would pace yourself by them.").to_owned(),
        ],
        stop_signs: true,
        loud: false,
    }
}

/// How far the rider is behind the group, where they are.
fn behind(snapshot: &Snapshot) -> Option<Span> {
    snapshot.group.as_ref()?.behind
}

/// The session's clock, and how it stands to the group's where the ride is behind it.
pub(super) fn clock(snapshot: &Snapshot, session: Span) -> String {
    let length = snapshot.session_length;
    match behind(snapshot) {
        None => words::of_the_whole(session, length),
        Some(behind) => say!(
            "{session} of {length}, {behind} behind the group",
            session,
            length,
            behind
        ),
    }
}

/// What stands in the strip's place: the clock stands, the brake was let off by hand, or no key reaches the window.
pub(super) fn banner(snapshot: &Snapshot, hands: &Hands, focused: bool) -> Option<banner::Data> {
    let paused = keys::paused(snapshot.mode);
    let off = keys::off_by_hand(snapshot);
    if !focused {
        return Some(banner::Data {
            title: word!("No keys: click this window").to_owned(),
            lines: vec![word!("Stop pedalling: brake off.").to_owned()],
            stop_signs: paused.is_some() || off,
            loud: true,
        });
    }
    // Once the choices are walked the key takes the chosen one, and no longer goes on.
    let walked = hands.is_choosing().then(|| {
        let key = hands.keys.shown(Act::Yes);
        say!("{key} takes the choice.", key = a_capital(&key))
    });
    let (title, lines) = match paused {
        Some(cause) => {
            let key = walked.clone().unwrap_or_else(|| keys::go_on_words(hands));
            let pedals = word!("Turn the pedals to go on.").to_owned();
            let (go_on, why) = match cause {
                PauseCause::Rider => (key, word!("The clock stands, the brake is off.")),
                PauseCause::PedalsStopped => (
                    pedals,
                    word!("They stood still: the clock stands, the brake is off."),
                ),
                PauseCause::Gap => (
                    pedals,
                    word!("The computer slept or was held up. Nothing recorded is lost."),
                ),
                PauseCause::Trainer => (
                    key,
                    word!("The trainer's own button was pressed: the clock stands."),
                ),
            };
            let why = match behind(snapshot) {
                Some(behind) => {
                    format!("{why} {}", say!("The group is {behind} ahead.", behind))
                }
                None => why.to_owned(),
            };
            (word!("Paused"), vec![go_on, why])
        }
        None if off => (
            word!("Brake off"),
            vec![
                walked.unwrap_or_else(|| keys::set_again_words(hands)),
                format!(
                    "{} {}",
                    word!("You let it off. The clock runs on."),
                    caution(snapshot)
                )
                .trim_end()
                .to_owned(),
            ],
        ),
        None => return None,
    };
    Some(banner::Data {
        title: title.to_owned(),
        lines,
        stop_signs: true,
        loud: false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_lost_brake_is_said_in_six_words_or_so() {
        for cause in [
            Cause::LinkLost,
            Cause::ControlLost,
            Cause::ControlRefused,
            Cause::Silent,
            Cause::ReleaseUnanswered,
            Cause::NoUsableTarget,
        ] {
            let said = lost(cause);
            assert!(said.words.split(' ').count() <= 7, "{}", said.words);
            assert!(said.urgent && !said.more.is_empty());
        }
    }

    #[test]
    fn the_first_sentence_is_the_large_one() {
        let said = Sentence::split("The load is eased by 4 %. Heart rate is over your ceiling.");
        assert_eq!(said.words, "The load is eased by 4 %.");
        assert_eq!(said.more, "Heart rate is over your ceiling.");
        assert_eq!(Sentence::split("Taken back.").more, "");
    }
}
