//! The kinds of what is heard, each of which can be muted by itself.

use crate::plan::CueKind;

/// A kind of what is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// The five last seconds of a block, one tick each.
    Ticks,
    /// A minute, thirty and ten seconds to go, and the beat on which a block begins.
    Tones,
    /// What the session's writer says, by what it is for.
    Cue(CueKind),
    /// What comes next, where the session's writer does not say it.
    Next,
    /// The coach's notes from the numbers.
    Notes,
    /// A tick at each turn of the planned cadence.
    Pulse,
}

impl Kind {
    /// All, in the order in which the settings list them.
    pub const ALL: [Self; 9] = [
        Self::Ticks,
        Self::Tones,
        Self::Cue(CueKind::Do),
        Self::Cue(CueKind::Feel),
        Self::Cue(CueKind::Why),
        Self::Cue(CueKind::Cheer),
        Self::Next,
        Self::Notes,
        Self::Pulse,
    ];

    /// Its key in the file of settings.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Ticks => "sound_ticks",
            Self::Tones => "sound_tones",
            Self::Cue(CueKind::Do) => "say_do",
            Self::Cue(CueKind::Feel) => "say_feel",
            Self::Cue(CueKind::Why) => "say_why",
            Self::Cue(CueKind::Cheer) => "say_cheer",
            Self::Next => "say_next",
            Self::Notes => "coach_notes",
            Self::Pulse => "pulse_tick",
        }
    }

    /// As the settings name it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Ticks => word!("Ticks from five to one"),
            Self::Tones => word!("Tones at a minute, thirty and ten seconds, and on the beat"),
            Self::Cue(CueKind::Do) => word!("Say what to do"),
            Self::Cue(CueKind::Feel) => word!("Say what it feels like"),
            Self::Cue(CueKind::Why) => word!("Say why"),
            Self::Cue(CueKind::Cheer) => word!("Say what is company"),
            Self::Next => word!("Say what comes next, where no cue does"),
            Self::Notes => word!("Say the coach's notes from the numbers"),
            Self::Pulse => word!("Tick at the planned cadence where none is measured"),
        }
    }

    const fn place(self) -> usize {
        match self {
            Self::Ticks => 0,
            Self::Tones => 1,
            Self::Cue(CueKind::Do) => 2,
            Self::Cue(CueKind::Feel) => 3,
            Self::Cue(CueKind::Why) => 4,
            Self::Cue(CueKind::Cheer) => 5,
            Self::Next => 6,
            Self::Notes => 7,
            Self::Pulse => 8,
        }
    }
}

/// Which kinds are heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kinds {
    /// Whether anything is heard at all.
    pub on: bool,
    heard: [bool; 9],
}

impl Default for Kinds {
    /// Everything but the tick of the cadence, which is wanted by few.
    fn default() -> Self {
        Self {
            on: true,
            heard: [true; 9],
        }
        .with(Kind::Pulse, false)
    }
}

impl Kinds {
    /// Nothing at all.
    #[must_use]
    pub const fn silent(mut self) -> Self {
        self.on = false;
        self
    }

    /// The same with this kind heard or not.
    #[must_use]
    pub const fn with(mut self, kind: Kind, heard: bool) -> Self {
        self.heard[kind.place()] = heard;
        self
    }

    /// Whether the kind itself is chosen, muted as a whole or not.
    pub const fn chosen(&self, kind: Kind) -> bool {
        self.heard[kind.place()]
    }

    /// Whether the kind is heard now.
    pub const fn hears(&self, kind: Kind) -> bool {
        self.on && self.chosen(kind)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_kind_is_muted_by_itself_and_all_at_once() {
        for muted in Kind::ALL {
            let mut kinds = Kinds::default();
            for kind in Kind::ALL {
                kinds = kinds.with(kind, true);
            }
            let kinds = kinds.with(muted, false);
            for kind in Kind::ALL {
                assert_eq!(kinds.hears(kind), kind != muted, "{kind:?} {muted:?}");
                assert!(!kinds.silent().hears(kind));
            }
        }
    }
}
