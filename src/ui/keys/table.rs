//! The one table: what every act does in every state.

use super::acts::Act;
use super::hands::Hands;
use super::menu::Menu;
use crate::engine::Command;
use crate::engine::snapshot::Snapshot;
use crate::ride::Mode;

/// The states that a key's meaning depends on, in the order of the table's columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// Before a ride, in Prepare or in the settings.
    Before,
    /// Riding, and nothing else matters.
    Riding,
    /// Riding, with the choices shown.
    Choosing,
    /// The clock stands; its choices are shown.
    Paused,
    /// The brake was let off by hand and the clock runs on; its choices are shown.
    Off,
    /// Riding, with a question that waits and no answer begun.
    Asked,
    /// An answer is begun, riding or afterwards.
    Answering,
    /// After the ride.
    After,
}

impl State {
    /// All, in the table's order.
    pub const ALL: [Self; 8] = [
        Self::Before,
        Self::Riding,
        Self::Choosing,
        Self::Paused,
        Self::Off,
        Self::Asked,
        Self::Answering,
        Self::After,
    ];

    /// Its name in the page of keys, in English.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Before => entry!("before a ride"),
            Self::Riding => entry!("riding"),
            Self::Choosing => entry!("choices shown"),
            Self::Paused => entry!("paused"),
            Self::Off => entry!("brake let off"),
            Self::Asked => entry!("question waits"),
            Self::Answering => entry!("answer begun"),
            Self::After => entry!("after a ride"),
        }
    }

    /// The state of a ride, with what the hands have begun. `hands` must have been settled for this snapshot.
    pub fn of(snapshot: &Snapshot, hands: &Hands) -> Self {
        match snapshot.mode {
            Mode::Idle | Mode::Connecting | Mode::Ready => return Self::Before,
            _ if hands.rating.is_some() => return Self::Answering,
            Mode::Finished(_) => return Self::After,
            Mode::Riding | Mode::Paused(_) | Mode::Degraded { .. } => {}
        }
        match hands.menu().map(Menu::state) {
            Some(state) => state,
            None if snapshot.question.is_some() => Self::Asked,
            None => Self::Riding,
        }
    }
}

/// What an act comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effect {
    /// Nothing; the key is left to the widgets where no ride is under way.
    Nothing,
    /// The brake is let off.
    BrakeOff,
    /// The clock stands, or runs on again.
    PauseOrGoOn,
    /// The clock stands.
    Pause,
    /// The clock runs on.
    GoOn,
    /// The brake, let off by hand, is set again.
    SetBrake,
    /// The trainer is asked for its brake again.
    AskAgain,
    /// A device that came back as another one is used again.
    UseAgain,
    /// Two per cent more.
    Harder,
    /// Two per cent less.
    Easier,
    /// Ten per cent off this block.
    Ease,
    /// Half a minute more.
    Stretch,
    /// The next block that may be cut is left out.
    Cut,
    /// On to the next block, at the second press.
    Skip,
    /// The last skip, stretch or cut is taken back.
    Undo,
    /// The other ride mode.
    SwitchMode,
    /// The gear that is ridden is noted, where the rider shifts.
    NoteGear,
    /// This moment is marked.
    Mark,
    /// A separate meter's watts are held.
    ByMeter,
    /// The trainer's own watts are held.
    ByTrainer,
    /// The chain behind the load is shown, or no more.
    Why,
    /// The ride ends, at the second press.
    End,
    /// The choices are shown.
    Open,
    /// On to the next choice.
    Next,
    /// Back to the choice before; before the first of those that were opened lies leaving them.
    Previous,
    /// The choice is taken.
    Take,
    /// A higher answer.
    Higher,
    /// A lower answer.
    Lower,
    /// A digit of the answer.
    Digit,
    /// An answer is begun.
    BeginAnswer,
    /// The answer is given.
    Answer,
    /// The question is passed.
    Pass,
    /// The page to lead from is shown, or no more.
    Lead,
    /// On to where the group is.
    Rejoin,
    /// The window for a television is opened, or closed.
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
    /// The page of a ride that was left open; nothing where there is none.
    LeftOpen,
    /// Where a ride is looked at: a next session is made from it.
    NextSession,
    /// On to the next control.
    NextControl,
    /// Back to the control before.
    PreviousControl,
    /// The control that has the keyboard is pressed.
    Press,
    /// Back to Prepare.
    Leave,
    /// What a threshold test found is taken.
    TakeFound,
    /// What a threshold test found is not taken.
    LeaveFound,
}

impl Effect {
    /// In a word or three, as on the screen; in English, and looked up there.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Nothing => entry!("nothing"),
            Self::BrakeOff => entry!("brake off"),
            Self::PauseOrGoOn => entry!("pause, go on"),
            Self::Pause => entry!("pause"),
            Self::GoOn => entry!("go on"),
            Self::SetBrake => entry!("set the brake"),
            Self::AskAgain => entry!("ask for the brake again"),
            Self::UseAgain => entry!("it is mine: use it again"),
            Self::Harder => entry!("harder"),
            Self::Easier => entry!("easier"),
            Self::Ease => entry!("ease this block"),
            Self::Stretch => entry!("30 s more"),
            Self::Cut => entry!("leave out a block"),
            Self::Skip => entry!("skip this block"),
            Self::Undo => entry!("take back"),
            Self::SwitchMode => entry!("watts or effort"),
            Self::NoteGear => entry!("note my gear"),
            Self::Mark => entry!("mark this moment"),
            Self::ByMeter => entry!("hold my meter's watts"),
            Self::ByTrainer => entry!("hold the trainer's watts"),
            Self::Why => entry!("why this load"),
            Self::End => entry!("end the ride"),
            Self::Open => entry!("more choices"),
            Self::Next => entry!("next choice"),
            Self::Previous => entry!("choice before"),
            Self::Take => entry!("take the choice"),
            Self::Higher => entry!("higher"),
            Self::Lower => entry!("lower"),
            Self::Digit => entry!("the answer"),
            Self::BeginAnswer => entry!("say how hard it was"),
            Self::Answer => entry!("answer"),
            Self::Pass => entry!("no answer"),
            Self::Lead => entry!("lead the group"),
            Self::Rejoin => entry!("join the group again"),
            Self::Television => entry!("television window"),
            Self::Sound => entry!("sound off or on"),
            Self::Ground => entry!("dark or paper"),
            Self::Settings => entry!("settings"),
            Self::Write => entry!("write a session"),
            Self::Review => entry!("look at rides"),
            Self::LeftOpen => entry!("ride left open"),
            Self::NextSession => entry!("next session from a ride"),
            Self::NextControl => entry!("next control"),
            Self::PreviousControl => entry!("control before"),
            Self::Press => entry!("press the control"),
            Self::Leave => entry!("back to Prepare"),
            Self::TakeFound => entry!("take it"),
            Self::LeaveFound => entry!("not now"),
        }
    }

    /// What the core is told, where it is the core's to do and needs nothing that was begun.
    pub const fn command(self) -> Option<Command> {
        Some(match self {
            Self::BrakeOff => Command::BrakeOff,
            Self::Pause => Command::Pause,
            Self::GoOn | Self::SetBrake | Self::AskAgain => Command::Resume,
            Self::Harder => Command::Trim(1),
            Self::Easier => Command::Trim(-1),
            Self::Ease => Command::EaseBlock,
            Self::Stretch => Command::Stretch,
            Self::Cut => Command::Cut,
            Self::Skip => Command::Skip,
            Self::Undo => Command::Undo,
            Self::SwitchMode => Command::SwitchMode,
            Self::NoteGear => Command::NoteGear,
            Self::Mark => Command::Mark,
            Self::ByMeter => Command::HoldByMeter(true),
            Self::ByTrainer => Command::HoldByMeter(false),
            Self::Rejoin => Command::Rejoin,
            Self::End => Command::End,
            Self::Pass => Command::PassRating,
            _ => return None,
        })
    }

    /// Whether it needs a second press.
    pub const fn twice(self) -> bool {
        matches!(self, Self::Skip | Self::End)
    }
}

use Effect::{
    Answer, BrakeOff, Cut, Digit, Ease, Easier, End, Ground, Harder, Higher, Lead, Leave, LeftOpen,
    Lower, Mark, Next, NextControl, NextSession, NoteGear, Nothing, Open, Pass, PauseOrGoOn, Press,
    Previous, PreviousControl, Review, Settings, Skip, Sound, Stretch, SwitchMode, Take,
    Television, Undo, Why, Write,
};

/// An act that does one thing all through a ride, and nothing before or after.
const fn riding(act: Act, does: Effect) -> (Act, [Effect; 8]) {
    (act, [Nothing, does, does, does, does, does, does, Nothing])
}

/// The table: a row for each act, a column for each of [`State::ALL`].
///
/// While a skip or an end waits for its second press, every key does what it does otherwise: the second press is the
/// same key, or the same choice taken again.
#[rustfmt::skip]
pub const TABLE: [(Act, [Effect; 8]); 26] = [
    //             before           riding    choices   paused    let off   asked     answering after
    (Act::BrakeOff, [BrakeOff,        BrakeOff, BrakeOff, BrakeOff, BrakeOff, BrakeOff, BrakeOff, BrakeOff]),
    (Act::Less,     [PreviousControl, Easier,   Previous, Previous, Previous, Lower,    Lower,    Lower]),
    (Act::Yes,      [Press,           Open,     Take,     Take,     Take,     Open,     Answer,   Leave]),
    (Act::More,     [NextControl,     Harder,   Next,     Next,     Next,     Higher,   Higher,   Higher]),
    riding(Act::Pause, PauseOrGoOn),
    riding(Act::Ease, Ease),
    riding(Act::Stretch, Stretch),
    riding(Act::Cut, Cut),
    riding(Act::Skip, Skip),
    riding(Act::Undo, Undo),
    riding(Act::SwitchMode, SwitchMode),
    riding(Act::NoteGear, NoteGear),
    riding(Act::Mark, Mark),
    riding(Act::Why, Why),
    riding(Act::Lead, Lead),
    riding(Act::End, End),
    (Act::Pass,     [Nothing,         Nothing,  Pass,     Pass,     Pass,     Pass,     Pass,     Pass]),
    (Act::Sound,    [Sound,           Sound,    Sound,    Sound,    Sound,    Sound,    Sound,    Sound]),
    (Act::Television, [Television,    Television, Television, Television, Television, Television, Television, Television]),
    (Act::Ground,   [Ground,          Ground,   Ground,   Ground,   Ground,   Ground,   Ground,   Ground]),
    (Act::Settings, [Settings,        Nothing,  Nothing,  Nothing,  Nothing,  Nothing,  Nothing,  Nothing]),
    (Act::Write,    [Write,           Nothing,  Nothing,  Nothing,  Nothing,  Nothing,  Nothing,  Nothing]),
    (Act::Review,   [Review,          Nothing,  Nothing,  Nothing,  Nothing,  Nothing,  Nothing,  Review]),
    (Act::LeftOpen, [LeftOpen,        Nothing,  Nothing,  Nothing,  Nothing,  Nothing,  Nothing,  Nothing]),
    (Act::NextSession, [NextSession,  Nothing,  Nothing,  Nothing,  Nothing,  Nothing,  Nothing,  Nothing]),
    (Act::Digit(0), [Nothing,         Nothing,  Digit,    Digit,    Digit,    Digit,    Digit,    Digit]),
];

/// What an act does in a state.
pub fn effect(act: Act, state: State) -> Effect {
    // All digits share the last row.
    let row = match act {
        Act::Digit(_) => Act::Digit(0),
        other => other,
    };
    TABLE
        .iter()
        .find(|(each, _)| *each == row)
        .map_or(Nothing, |(_, effects)| effects[state as usize])
}
