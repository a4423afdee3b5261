//! The window: takes snapshots, shows the room that the ride is in, passes commands on.
//!
//! What is behind [`Ride`] outlives the window. Closing the window and dropping the app both send
//! [`Command::Close`], and so does a panic while drawing, since unwinding drops the app.

mod open;

pub use open::open;

use std::sync::Arc;

use eframe::Frame;
use egui::{Context, Ui};

use crate::awake::Awake;
use crate::engine::{Command, Snapshot};
use crate::ride::Mode;
use crate::rider::Rider;
use crate::time::Instant;
use crate::ui::keys::{self, Act, Hands};
use crate::ui::legibility::Sight;
use crate::ui::rooms::prepare::{Chosen, Data as PrepareData};
use crate::ui::rooms::{finish, prepare, ride};
use crate::ui::theme::{self, Ground};
use crate::ui::widgets::Look;

pub use crate::ui::rooms::prepare::Shelf;

/// The ride as the window sees it: the ends of the channels to the core stand behind it.
///
/// None of these may block. An implementation must itself send [`Command::Close`] when it is dropped, so that a window
/// that never came up, or an app that was lost on the way, lets the brake off as well.
pub trait Ride {
    /// The newest snapshot; the same one again where there is no newer.
    fn snapshot(&mut self) -> Arc<Snapshot>;

    /// The moment on the engine's clock.
    fn now(&self) -> Instant;

    /// Passes a command on. A full channel is the implementation's to handle: a release must get through.
    fn command(&mut self, command: Command);

    /// Whether the core has let everything go and its loop has ended: then the window closes too.
    fn is_over(&self) -> bool {
        false
    }
}

/// Where the window keeps what is changed in it: files of the rider's own. Never asked while a ride is under way.
pub trait Desk {
    /// Saves a rider's file and gives the file's key: `key` names the file that is replaced, none makes a new one.
    ///
    /// # Errors
    /// A sentence: what could not be saved, and what to do.
    fn save_rider(&mut self, key: Option<&str>, rider: &Rider) -> Result<String, String>;

    /// Saves the settings of the window.
    ///
    /// # Errors
    /// A sentence: what could not be saved, and what to do.
    fn save_settings(&mut self, text: &str) -> Result<(), String>;
}

/// Which room is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Room {
    Prepare,
    Ride,
    Finish,
}

/// The application's window.
pub struct App {
    ride: Box<dyn Ride>,
    shelf: Shelf,
    chosen: Chosen,
    ground: Ground,
    sight: Sight,
    hands: Hands,
    snapshot: Arc<Snapshot>,
    room: Room,
    /// Whether the rider went on from the last ride, whose core still says that it is finished.
    left_finish: bool,
    awake: Option<Awake>,
    closed: bool,
}

impl App {
    /// Puts on fonts and colours, tells the core what is chosen at first, and has it listen for devices.
    pub fn new(cc: &eframe::CreationContext, mut ride: Box<dyn Ride>, shelf: Shelf) -> Self {
        let ground = Ground::default();
        theme::install(&cc.egui_ctx, ground);
        let chosen = Chosen::default();
        if let Some(command) = chosen.command(&shelf) {
            ride.command(command);
        }
        ride.command(Command::Scan(true));
        let snapshot = ride.snapshot();
        let room = room_of(snapshot.mode, false);
        Self {
            ride,
            shelf,
            chosen,
            ground,
            sight: Sight::default(),
            hands: Hands::default(),
            snapshot,
            room,
            left_finish: false,
            awake: None,
            closed: false,
        }
    }

    /// Has the display kept awake from the moment that a ride can begin until it is over.
    #[must_use]
    pub fn keeping_awake(mut self, awake: Awake) -> Self {
        self.awake = Some(awake);
        self
    }

    /// Starts with this session of the shelf, rider and mode.
    #[must_use]
    pub fn with_choice(mut self, chosen: Chosen) -> Self {
        self.chosen = chosen;
        if let Some(command) = chosen.command(&self.shelf) {
            self.ride.command(command);
        }
        self
    }

    /// Draws for this screen, size of type and wish for stillness from now on.
    pub const fn set_sight(&mut self, sight: Sight) {
        self.sight = sight;
    }

    /// Starts on this ground.
    #[must_use]
    pub fn on(mut self, ctx: &Context, ground: Ground) -> Self {
        self.ground = ground;
        theme::dress(ctx, ground);
        self
    }

    fn close(&mut self) {
        if !self.closed {
            self.closed = true;
            self.ride.command(Command::Close);
        }
    }

    fn act(&mut self, ctx: &Context, act: Act) {
        if act == Act::Ground {
            self.ground = self.ground.other();
            theme::dress(ctx, self.ground);
        }
        for command in keys::commands(act, &self.snapshot, &mut self.hands) {
            self.ride.command(command);
        }
    }

    fn prepare_ui(&mut self, ui: &mut Ui, look: Look, now: Instant) {
        let trouble = self.awake.as_mut().and_then(Awake::trouble);
        let data = PrepareData::new(now, &self.snapshot, &self.shelf, self.chosen, trouble);
        for command in prepare::room_ui(ui, &data, look, &self.shelf, &mut self.chosen) {
            self.ride.command(command);
        }
    }

    fn ride_ui(&mut self, ui: &mut Ui, look: Look, now: Instant) {
        let focused = ui.input(|input| input.focused);
        let data = ride::Data::moving(
            now,
            &self.snapshot,
            &self.hands,
            focused,
            !look.reduced_motion,
        );
        let clicked = ride::room_ui(ui, &data, look, &self.snapshot, &mut self.hands);
        for command in clicked {
            self.ride.command(command);
        }
    }

    fn finish_ui(&mut self, ui: &mut Ui, look: Look) {
        let data = finish::Data::new(&self.snapshot, &self.hands);
        if finish::room_ui(ui, &data, look) {
            self.left_finish = true;
            if let Some(command) = self.chosen.command(&self.shelf) {
                self.ride.command(command);
            }
            self.ride.command(Command::Scan(true));
        }
    }
}

/// The room for a mode.
const fn room_of(mode: Mode, left_finish: bool) -> Room {
    match mode {
        Mode::Idle | Mode::Connecting | Mode::Ready => Room::Prepare,
        Mode::Finished(_) if left_finish => Room::Prepare,
        Mode::Finished(_) => Room::Finish,
        Mode::Riding | Mode::Paused(_) | Mode::Degraded { .. } => Room::Ride,
    }
}

impl eframe::App for App {
    /// Takes the newest snapshot, and the keys before any widget sees them. Runs while the window is hidden too.
    fn logic(&mut self, ctx: &Context, _frame: &mut Frame) {
        self.snapshot = self.ride.snapshot();
        let mode = self.snapshot.mode;
        self.left_finish &= matches!(mode, Mode::Finished(_));
        let room = room_of(mode, self.left_finish);
        if room != self.room {
            self.room = room;
            self.hands = Hands::default();
            // Nothing in the new room shall be pressed by what had the keyboard in the old one.
            ctx.memory_mut(|memory| {
                if let Some(focused) = memory.focused() {
                    memory.surrender_focus(focused);
                }
            });
        }
        self.hands.settle(&self.snapshot);
        for act in keys::take(ctx, &self.snapshot, &self.hands) {
            self.act(ctx, act);
        }
        if ctx.input(|input| input.viewport().close_requested()) {
            self.close();
        }
        if self.ride.is_over() {
            ctx.send_viewport_cmd(egui::ViewportCommand::Close);
        }
        if let Some(awake) = &mut self.awake {
            awake.set(mode.under_way() || mode == Mode::Ready);
        }
        // While the clock runs the strip moves with every picture that the screen can show; at rest, and where nothing may
        // move smoothly, four a second are enough for new snapshots.
        if mode.runs() && !self.sight.reduced_motion {
            ctx.request_repaint();
        } else {
            ctx.request_repaint_after(std::time::Duration::from_millis(250));
        }
    }

    fn ui(&mut self, ui: &mut Ui, _frame: &mut Frame) {
        let now = self.ride.now();
        let window = ui.max_rect().size();
        let scale = if self.room == Room::Ride {
            theme::scale(window)
        } else {
            theme::desk_scale(window)
        };
        let look = Look {
            colours: self.ground.colours(),
            scale,
            text: self.sight.text,
            least: self
                .sight
                .least_points(ui.input(|input| input.viewport().monitor_size)),
            reduced_motion: self.sight.reduced_motion,
        };
        match self.room {
            Room::Prepare => self.prepare_ui(ui, look, now),
            Room::Ride => self.ride_ui(ui, look, now),
            Room::Finish => self.finish_ui(ui, look),
        }
    }

    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        self.close();
    }
}

impl Drop for App {
    fn drop(&mut self) {
        self.close();
    }
}
