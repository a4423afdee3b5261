//! What a key stands for, before the state of the ride decides what that means.

use egui::Key;

/// What a key stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Act {
    /// Let the brake off; first of all in every state.
    BrakeOff,
    /// The first of the three buttons: less, or back.
    Less,
    /// The second: yes. While riding it opens the choices, of which the first is a pause.
    Yes,
    /// The third: more, or on.
    More,
    /// Pause, or go on, at one press.
    Pause,
    /// Ease this block.
    Ease,
    /// Half a minute more of this block.
    Stretch,
    /// Leave out the next block that may be cut.
    Cut,
    /// On to the next block; twice.
    Skip,
    /// Take back the last skip, stretch or cut.
    Undo,
    /// The other ride mode.
    SwitchMode,
    /// Note the gear that is ridden.
    NoteGear,
    /// Mark this moment, to talk about it afterwards.
    Mark,
    /// Say in words why this load stands, or no more.
    Why,
    /// Pass a question.
    Pass,
    /// End the ride; twice.
    End,
    /// The page to lead from, or no more.
    Lead,
    /// The window for a television, or no more.
    Television,
    /// All sound off, or on again.
    Sound,
    /// The other ground.
    Ground,
    /// The room of settings.
    Settings,
    /// The room in which sessions are written.
    Write,
    /// The room in which rides are looked at.
    Review,
    /// The page of a ride that was left open.
    LeftOpen,
    /// The next session of the ride that is looked at.
    NextSession,
    /// A digit, for an answer. Not assigned: a digit that no act has taken is one.
    Digit(u8),
}

/// An act with the keys it is on where the rider has not chosen others.
#[derive(Clone, Copy, Debug)]
pub struct Binding {
    /// The act.
    pub act: Act,
    /// Its key in the settings file.
    pub setting: &'static str,
    /// Its name on the screen, in English: looked up there.
    pub name: &'static str,
    /// The keys at first; the first of them is the one that is shown.
    pub keys: &'static [Key],
    /// Whether it may not be left without a key: the three buttons and brake off.
    pub needed: bool,
}

const fn on(
    act: Act,
    setting: &'static str,
    name: &'static str,
    keys: &'static [Key],
    needed: bool,
) -> Binding {
    Binding {
        act,
        setting,
        name,
        keys,
        needed,
    }
}

/// Every act that can be put on keys. Page keys and the full stop are what a presenter's remote sends, the media keys
/// what a headset or a small remote does.
pub const BINDINGS: &[Binding] = &[
    on(
        Act::BrakeOff,
        "key_brake_off",
        entry!("brake off"),
        &[Key::Escape],
        true,
    ),
    on(
        Act::Less,
        "key_less",
        entry!("less, back"),
        &[Key::ArrowDown, Key::PageUp, Key::MediaTrackPrevious],
        true,
    ),
    on(
        Act::Yes,
        "key_yes",
        entry!("yes"),
        &[Key::Enter, Key::Period, Key::MediaPlayPause],
        true,
    ),
    on(
        Act::More,
        "key_more",
        entry!("more, on"),
        &[Key::ArrowUp, Key::PageDown, Key::MediaTrackNext],
        true,
    ),
    on(
        Act::Pause,
        "key_pause",
        entry!("pause, go on"),
        &[Key::Space],
        false,
    ),
    on(
        Act::Ease,
        "key_ease",
        entry!("ease this block"),
        &[Key::E],
        false,
    ),
    on(
        Act::Stretch,
        "key_stretch",
        entry!("30 s more"),
        &[Key::Plus, Key::Equals],
        false,
    ),
    on(
        Act::Cut,
        "key_cut",
        entry!("leave out a block"),
        &[Key::C],
        false,
    ),
    on(
        Act::Skip,
        "key_skip",
        entry!("skip, twice"),
        &[Key::ArrowRight],
        false,
    ),
    on(Act::Undo, "key_undo", entry!("take back"), &[Key::U], false),
    on(
        Act::SwitchMode,
        "key_mode",
        entry!("watts or effort"),
        &[Key::M],
        false,
    ),
    on(
        Act::NoteGear,
        "key_gear",
        entry!("note my gear"),
        &[Key::N],
        false,
    ),
    on(
        Act::Mark,
        "key_mark",
        entry!("mark this moment"),
        &[Key::K],
        false,
    ),
    on(
        Act::Why,
        "key_why",
        entry!("why this load"),
        &[Key::W],
        false,
    ),
    on(
        Act::Pass,
        "key_no_answer",
        entry!("no answer"),
        &[Key::Backspace, Key::Delete],
        false,
    ),
    on(Act::End, "key_end", entry!("end, twice"), &[Key::Q], false),
    on(Act::Lead, "key_lead", entry!("lead"), &[Key::L], false),
    on(
        Act::Television,
        "key_television",
        entry!("television window"),
        &[Key::V],
        false,
    ),
    on(
        Act::Sound,
        "key_sound",
        entry!("sound off or on"),
        &[Key::X],
        false,
    ),
    on(
        Act::Ground,
        "key_ground",
        entry!("dark or paper"),
        &[Key::G],
        false,
    ),
    on(
        Act::Settings,
        "key_settings",
        entry!("settings"),
        &[Key::S],
        false,
    ),
    on(
        Act::Write,
        "key_write",
        entry!("write a session"),
        &[Key::T],
        false,
    ),
    on(
        Act::Review,
        "key_review",
        entry!("look at rides"),
        &[Key::R],
        false,
    ),
    on(
        Act::LeftOpen,
        "key_left_open",
        entry!("ride left open"),
        &[Key::O],
        false,
    ),
    on(
        Act::NextSession,
        "key_next_session",
        entry!("next session"),
        &[Key::P],
        false,
    ),
];

/// The row of an act; none for a digit.
pub(super) fn binding(act: Act) -> Option<&'static Binding> {
    BINDINGS.iter().find(|binding| binding.act == act)
}
