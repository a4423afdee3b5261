//! The second window, for a television. It draws by itself from what it was last given, and gives back the keys that were
//! pressed in it: the ride's keys work in whichever window has the keyboard, brake off first of all.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::Duration;

use egui::{Context, Event, Key, Ui, ViewportBuilder, ViewportClass, ViewportId};

use super::App;
use crate::time::Instant;
use crate::ui::keys::{self, Act};
use crate::ui::rooms::television::{Data, room_ui};
use crate::ui::theme;
use crate::ui::widgets::Look;

/// What the window has to say and is not asked for yet. A hand presses a few keys between two frames; more than this
/// many wait only where the main window's thread hangs, and then the newest are dropped: the pedals let the brake off.
const MOST_TOLD: usize = 64;

/// So often it is drawn: what moves on it is seen from across the room.
const FRAME: Duration = Duration::from_millis(33);

/// What the window tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Told {
    /// A key was pressed in it; whether control or alt was held.
    Key(Key, bool),
    /// It was closed.
    Closed,
}

/// The second window.
pub(super) struct Television {
    open: bool,
    tell: SyncSender<Told>,
    told: Receiver<Told>,
}

impl Default for Television {
    fn default() -> Self {
        let (tell, told) = sync_channel(MOST_TOLD);
        Self {
            open: false,
            tell,
            told,
        }
    }
}

fn id() -> ViewportId {
    ViewportId::from_hash_of("television")
}

impl Television {
    /// Whether it is open.
    pub(super) const fn is_open(&self) -> bool {
        self.open
    }

    /// Opens it, or closes it.
    pub(super) const fn turn(&mut self) {
        self.open = !self.open;
    }

    /// Whether the keyboard is with it.
    pub(super) fn is_focused(&self, ctx: &Context) -> bool {
        self.open
            && ctx.input(|input| {
                let window = input.raw.viewports.get(&id());
                window.and_then(|window| window.focused) == Some(true)
            })
    }

    /// What was pressed in it since the last look, brake off first.
    fn acts(&mut self, keys: &keys::Keymap) -> Vec<Act> {
        let mut acts = Vec::new();
        while let Ok(told) = self.told.try_recv() {
            match told {
                Told::Closed => self.open = false,
                Told::Key(key, held) => {
                    let act = keys.act(key);
                    acts.extend(act.filter(|&act| !held || act == Act::BrakeOff));
                }
            }
        }
        // A stable sort: only brake off moves.
        acts.sort_by_key(|&act| act != Act::BrakeOff);
        acts
    }

    /// Gives it what it shows.
    fn show(&self, ctx: &Context, data: Data, look: Look) {
        if !self.open || ctx.embed_viewports() {
            return;
        }
        let builder = ViewportBuilder::default()
            .with_title(word!("Stillroad, for the group"))
            .with_app_id("stillroad")
            .with_inner_size([1280.0, 720.0]);
        let data = Arc::new(data);
        let tell = self.tell.clone();
        ctx.show_viewport_deferred(id(), builder, move |ui, _: ViewportClass| {
            draw(ui, &data, look, &tell);
        });
        ctx.request_repaint_after_for(FRAME, id());
    }
}

fn draw(ui: &mut Ui, data: &Data, look: Look, tell: &SyncSender<Told>) {
    let mut told: Vec<Told> = ui.input_mut(|input| {
        let mut told = Vec::new();
        input.events.retain(|event| match event {
            Event::Key {
                key,
                pressed: true,
                repeat,
                modifiers,
                ..
            } => {
                let held = modifiers.ctrl || modifiers.alt || modifiers.command;
                if !repeat {
                    told.push(Told::Key(*key, held));
                }
                false
            }
            _ => true,
        });
        told
    });
    if ui.input(|input| input.viewport().close_requested()) {
        told.push(Told::Closed);
    }
    if !told.is_empty() {
        for one in told {
            if tell.try_send(one).is_err() {
                // Nobody takes them: the window is about to go.
                break;
            }
        }
        ui.ctx().request_repaint_of(ViewportId::ROOT);
    }
    let scale = theme::scale(ui.max_rect().size());
    room_ui(ui, data, Look { scale, ..look });
}

impl App {
    /// Does what was pressed in the window for the television, and gives it what it shows now.
    pub(super) fn tend_television(&mut self, ctx: &Context) {
        let under_way = self.snapshot.mode.under_way();
        for act in self.television.acts(&self.settings.keys) {
            // Before and after a ride the buttons of the main window are not pressed from over there.
            let meant = under_way
                || matches!(
                    act,
                    Act::BrakeOff | Act::Television | Act::Sound | Act::Ground
                );
            if meant {
                self.act(ctx, act);
            }
        }
        if !self.television.is_open() {
            return;
        }
        let now: Instant = self.ride.now();
        let smoothly = !self.settings.reduced_motion;
        let look = Look {
            colours: self.settings.ground.colours(),
            scale: 1.0,
            // Sizes are its own: it is read from across a room, whatever the leader's screen is.
            text: 1.0,
            least: 0.0,
            reduced_motion: self.settings.reduced_motion,
        };
        let data = Data::new(now, &self.snapshot, smoothly);
        self.television.show(ctx, data, look);
    }
}
