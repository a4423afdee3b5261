//! The choices: what three buttons cannot have a button for, walked by less and more and taken by yes.

use super::table::{Effect, State};
use crate::engine::Role;
use crate::engine::snapshot::Snapshot;
use crate::plan::Brake;
use crate::ride::{Mode, RideMode};

/// A list of choices with one of them chosen. It never takes the strip's place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Menu {
    state: State,
    /// The choices, in order; never empty.
    items: Vec<Effect>,
    chosen: usize,
}

impl Menu {
    /// The choices of a state, the one most wanted chosen; none for states that have no choices.
    pub(super) fn new(state: State, snapshot: &Snapshot) -> Option<Self> {
        let items = items(state, snapshot);
        (!items.is_empty()).then_some(Self {
            state,
            items,
            chosen: 0,
        })
    }

    /// The state whose choices they are.
    pub const fn state(&self) -> State {
        self.state
    }

    /// The choices in order.
    pub fn items(&self) -> &[Effect] {
        &self.items
    }

    /// The choice that yes takes.
    pub fn chosen(&self) -> Effect {
        self.items
            .get(self.chosen)
            .copied()
            .unwrap_or(Effect::Nothing)
    }

    /// Which choice that is.
    pub const fn place(&self) -> usize {
        self.chosen
    }

    /// On by one, after the last to the first.
    pub(super) fn on(&mut self) {
        self.chosen = (self.chosen + 1) % self.items.len().max(1);
    }

    /// Back by one. False before the first of choices that were opened by hand: that leaves them. Those that stand while
    /// the ride stands go on at the last.
    pub(super) fn back(&mut self) -> bool {
        if self.chosen == 0 && self.state == State::Choosing {
            return false;
        }
        self.chosen = self
            .chosen
            .checked_sub(1)
            .unwrap_or(self.items.len().saturating_sub(1));
        true
    }

    /// The first choice again.
    pub(super) const fn rest(&mut self) {
        self.chosen = 0;
    }

    /// What can be chosen changes with the ride; the chosen one stays chosen while it is there.
    pub(super) fn renew(&mut self, snapshot: &Snapshot) {
        let chosen = self.chosen();
        self.items = items(self.state, snapshot);
        self.chosen = self
            .items
            .iter()
            .position(|&item| item == chosen)
            .unwrap_or(0);
    }
}

fn items(state: State, snapshot: &Snapshot) -> Vec<Effect> {
    let asked = snapshot.question.is_some();
    let lost = matches!(snapshot.mode, Mode::Degraded { .. });
    let changed = !snapshot.changed.is_empty();
    let mut items = Vec::new();
    match state {
        State::Choosing => {
            items.push(Effect::Pause);
            items.extend(rejoin(snapshot));
            if changed {
                items.push(Effect::UseAgain);
            }
            if lost {
                items.push(Effect::AskAgain);
            }
            if asked {
                // Less and more choose the answer meanwhile.
                items.extend([Effect::Pass, Effect::Easier, Effect::Harder]);
            }
            items.extend([
                Effect::Mark,
                Effect::Undo,
                Effect::Ease,
                Effect::Stretch,
                Effect::Cut,
            ]);
            items.extend([Effect::Skip]);
        }
        State::Paused | State::Off => {
            if state == State::Off {
                items.extend([Effect::SetBrake, Effect::Pause]);
            } else {
                items.push(Effect::GoOn);
            }
            items.extend(rejoin(snapshot));
            if changed {
                items.push(Effect::UseAgain);
            }
            items.push(Effect::Skip);
            if asked {
                items.extend([Effect::BeginAnswer, Effect::Pass]);
            }
            items.extend([
                Effect::Mark,
                Effect::Undo,
                Effect::Ease,
                Effect::Stretch,
                Effect::Cut,
            ]);
            items.extend([Effect::Easier, Effect::Harder]);
        }
        _ => return items,
    }
    items.push(Effect::Why);
    if shifts(snapshot) {
        items.push(Effect::NoteGear);
    }
    items.extend(by_meter(snapshot));
    items.extend([
        Effect::SwitchMode,
        Effect::Ground,
        Effect::Sound,
        Effect::Lead,
        Effect::Television,
        Effect::End,
    ]);
    items
}

/// The way back to the group, where the rider is behind it.
fn rejoin(snapshot: &Snapshot) -> Option<Effect> {
    let group = snapshot.group.as_ref()?;
    group.behind.map(|_| Effect::Rejoin)
}

/// Whether the rider shifts for the load now: by effort, and in a block whose brake is free.
pub(super) fn shifts(snapshot: &Snapshot) -> bool {
    let block = snapshot.laps.get(snapshot.lap).and_then(|lap| {
        let plan = snapshot.plan.as_deref()?;
        plan.blocks.get(lap.block)
    });
    snapshot.ride_mode == RideMode::EffortOnly
        || block.is_some_and(|block| block.brake == Brake::Free)
}

/// Whose watts could be held instead, where a separate meter is used and watts are held.
fn by_meter(snapshot: &Snapshot) -> Option<Effect> {
    let used = snapshot
        .devices
        .iter()
        .any(|row| row.used_for.contains(&Role::Meter));
    (used && snapshot.ride_mode == RideMode::TargetPower).then_some(
        if snapshot.meter_led.is_some() {
            Effect::ByTrainer
        } else {
            Effect::ByMeter
        },
    )
}
