//! The window: takes snapshots, shows the room that the ride is in, passes commands on.
//!
//! What is behind [`Ride`] outlives the window. Closing the window and dropping the app both send
//! [`Command::Close`], and so does a panic while drawing, since unwinding drops the app.

mod acts;
mod built_in;
mod desk;
mod folder;
mod left_open;
mod next;
mod open;
mod prepare;
mod reader;
mod repaint;
mod review;
mod room;
mod session_files;
mod settings;
mod television;
mod threshold;
mod write;

pub use desk::Files;
pub use left_open::{LeftAnswer, LeftAsk, LeftFiles, LeftRides, Opened, take_up};
pub use open::open;
pub use review::{Answer, Ask, RideFiles, RideShelf};
pub use session_files::SessionFiles;

use room::{Room, room_of};

use std::sync::Arc;

use eframe::Frame;
use egui::{Context, Ui};

use crate::awake::Awake;
use crate::engine::{Command, Snapshot};
use crate::ride::Mode;
use crate::rider::Rider;
use crate::sound::Sound;
use crate::text::{self, Language};
use crate::time::{Instant, Span};
use crate::ui::keys::{self, Hands};
use crate::ui::rooms::prepare::{Chosen, State as PrepareState};
use crate::ui::rooms::settings::{Capture, capture};
use crate::ui::rooms::{finish, review as review_room, ride, write as write_room};
use crate::ui::settings::Settings;
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

    /// Reads a rider's file anew.
    ///
    /// # Errors
    /// A sentence: why it cannot be read, and what to do.
    fn read_rider(&mut self, key: &str) -> Result<Rider, String>;

    /// Saves the settings of the window.
    ///
    /// # Errors
    /// A sentence: what could not be saved, and what to do.
    fn save_settings(&mut self, text: &str) -> Result<(), String>;
}

/// That sound is on again stands for so long; that it is off stands as long as it is.
const SOUND_ON_STANDS: Span = Span::from_seconds(4);

/// Shows a folder to the rider; a sentence where it cannot.
type ShowFolder = fn(&str) -> Result<(), String>;

/// The application's window.
pub struct App {
    ride: Box<dyn Ride>,
    shelf: Shelf,
    /// The language in which the shelf has the built-in sessions.
    offered_in: Language,
    chosen: Chosen,
    /// What the Prepare room keeps from one frame to the next.
    prepare: PrepareState,
    desk: Box<dyn Desk>,
    settings: Settings,
    /// The language that the command line asks for, which counts whatever the settings say.
    asked_language: Option<Language>,
    /// What is wrong with the settings' file, or why it could not be saved.
    settings_troubles: Vec<String>,
    /// The settings as they were last saved, or read.
    saved: Settings,
    /// Whether the rider is in the room of settings.
    in_settings: bool,
    /// Whether the rider is in the room in which sessions are written.
    in_write: bool,
    /// What that room keeps, in or out of it: no text is lost by leaving.
    write: write_room::State,
    sessions: Box<dyn SessionFiles>,
    /// The version of the text that was last kept as a draft; none where nothing was.
    drafted: Option<u64>,
    /// Reads long texts over.
    reader: reader::Reader,
    /// Whether the text is to be saved as soon as it is read over.
    save_waits: bool,
    /// The key of the session that was chosen when that room was left.
    left_beside: Option<String>,
    /// Whether the rider is in the room in which rides are looked at.
    in_review: bool,
    /// What that room keeps.
    review: review_room::State,
    rides: Box<dyn RideShelf>,
    /// The ride that was asked for last.
    opening: Option<String>,
    /// The rides that were asked for last, side by side.
    comparing: Option<Vec<String>>,
    left_rides: Box<dyn LeftRides>,
    /// Whether it is to be looked for a ride that was left open.
    look_for_left: bool,
    /// The devices of a ride that was taken up, as far as they are not asked for yet.
    going: Option<left_open::Going>,
    capture: Capture,
    hands: Hands,
    snapshot: Arc<Snapshot>,
    room: Room,
    /// What came of the last button pressed in the room after a ride.
    said: String,
    /// Shows a folder in the system's file manager; tests have none.
    show_folder: Option<ShowFolder>,
    /// Whether the rider went on from the last ride, whose core still says that it is finished.
    left_finish: bool,
    awake: Option<Awake>,
    /// What is heard; tests have none.
    sound: Option<Sound>,
    /// When all sound was last muted or let be heard again.
    sound_turned: Option<Instant>,
    /// The second window, for the others in the room.
    television: television::Television,
    closed: bool,
}

impl App {
    /// Puts on fonts and colours, tells the core what is chosen at first, and has it listen for devices.
    pub fn new(
        cc: &eframe::CreationContext,
        mut ride: Box<dyn Ride>,
        shelf: Shelf,
        desk: Box<dyn Desk>,
    ) -> Self {
        let settings = Settings::default();
        theme::install(&cc.egui_ctx, settings.ground);
        let chosen = Chosen::default();
        if let Some(command) = chosen.command(&shelf) {
            ride.command(command);
        }
        ride.command(Command::Scan(true));
        let snapshot = ride.snapshot();
        let room = room_of(snapshot.mode, false, false);
        Self {
            ride,
            shelf,
            offered_in: text::language(),
            chosen,
            prepare: PrepareState::default(),
            desk,
            saved: settings.clone(),
            settings,
            asked_language: None,
            settings_troubles: Vec::new(),
            in_settings: false,
            in_write: false,
            write: write_room::State::default(),
            sessions: Box::new(session_files::Nowhere),
            drafted: None,
            reader: reader::Reader::default(),
            save_waits: false,
            left_beside: None,
            in_review: false,
            review: review_room::State::default(),
            rides: Box::new(review::NoRides::new()),
            opening: None,
            comparing: None,
            left_rides: Box::new(left_open::NoneLeft),
            look_for_left: false,
            going: None,
            capture: Capture::default(),
            hands: Hands::default(),
            snapshot,
            room,
            said: String::new(),
            show_folder: None,
            left_finish: false,
            awake: None,
            sound: None,
            sound_turned: None,
            television: television::Television::default(),
            closed: false,
        }
    }

    /// Has the display kept awake from the moment that a ride can begin until it is over.
    #[must_use]
    pub fn keeping_awake(mut self, awake: Awake) -> Self {
        self.awake = Some(awake);
        self
    }

    /// Has the ride heard.
    #[must_use]
    pub fn heard_by(mut self, sound: Sound) -> Self {
        self.sound = Some(sound);
        self
    }

    /// Has the system's file manager show a ride's folder where the rider asks for it.
    #[must_use]
    pub fn showing_folders(mut self) -> Self {
        self.show_folder = Some(folder::show);
        self
    }

    /// Keeps the sessions that are written here.
    #[must_use]
    pub fn keeping_sessions(mut self, sessions: Box<dyn SessionFiles>) -> Self {
        self.sessions = sessions;
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

    /// Starts on this ground.
    #[must_use]
    pub fn on(mut self, ctx: &Context, ground: Ground) -> Self {
        self.settings.ground = ground;
        theme::dress(ctx, ground);
        self
    }

    /// Starts with these settings; `troubles` says what was wrong with their file, a sentence each.
    #[must_use]
    pub fn with_settings(
        mut self,
        ctx: &Context,
        settings: Settings,
        troubles: Vec<String>,
    ) -> Self {
        self.saved = settings.clone();
        self.settings = settings;
        self.settings_troubles = troubles;
        self.hands = Hands::with_keys(self.settings.keys.clone());
        theme::dress(ctx, self.settings.ground);
        self
    }

    /// The settings as they stand.
    pub const fn settings(&self) -> &Settings {
        &self.settings
    }

    /// Whether the second window, for a television, is open.
    pub const fn has_television(&self) -> bool {
        self.television.is_open()
    }

    fn close(&mut self) {
        if !self.closed {
            self.closed = true;
            // The brake first: a disk may take its time.
            self.ride.command(Command::Close);
            self.keep_draft_at_the_end();
        }
    }

    /// The ride as the keys see it in this room.
    fn seen(&self) -> Arc<Snapshot> {
        match self.room {
            Room::Review => Arc::new(review::at_rest(&self.snapshot)),
            _ => Arc::clone(&self.snapshot),
        }
    }

    /// On from the end of a ride.
    fn leave_finish(&mut self) {
        self.left_finish = true;
        if let Some(command) = self.chosen.command(&self.shelf) {
            self.ride.command(command);
        }
        self.ride.command(Command::Scan(true));
    }

    fn ride_ui(&mut self, ui: &mut Ui, look: Look, now: Instant) {
        // The keys of the ride work in the television's window too.
        let focused = ui.input(|input| input.focused) || self.television.is_focused(ui.ctx());
        let mut data = ride::Data::moving(
            now,
            &self.snapshot,
            &self.hands,
            focused,
            !look.reduced_motion,
        );
        data.sound = match self.sound_turned {
            _ if !self.settings.kinds.on => word!("sound off"),
            Some(turned) if now.since(turned) < SOUND_ON_STANDS => word!("sound on"),
            _ => "",
        };
        let clicked = ride::room_ui(ui, &data, look, &self.snapshot, &mut self.hands);
        for command in clicked {
            self.ride.command(command);
        }
        let ctx = ui.ctx().clone();
        self.window_effects(&ctx);
    }

    fn finish_ui(&mut self, ui: &mut Ui, look: Look) {
        let data = finish::Data::new(&self.snapshot, &self.hands);
        let outcome = finish::room_ui(ui, &data, look, &mut self.hands, &mut self.said);
        for command in outcome.commands {
            self.ride.command(command);
        }
        if let (Some(folder), Some(show)) = (outcome.open, self.show_folder)
            && let Err(why) = show(&folder)
        {
            self.said = why;
        }
        if let Some(take) = outcome.threshold {
            self.answer_threshold(take);
        }
        if outcome.back {
            self.leave_finish();
        }
        if outcome.review {
            let ctx = ui.ctx().clone();
            self.toggle_review(&ctx);
        }
    }
}

impl eframe::App for App {
    /// Takes the newest snapshot, and the keys before any widget sees them. Runs while the window is hidden too.
    fn logic(&mut self, ctx: &Context, _frame: &mut Frame) {
        self.snapshot = self.ride.snapshot();
        let mode = self.snapshot.mode;
        self.left_finish &= matches!(mode, Mode::Finished(_));
        let ended = matches!(mode, Mode::Finished(_)) && !self.left_finish;
        if mode.under_way() || ended {
            self.in_settings = false;
            self.leave_write();
        }
        self.in_review &= !mode.under_way();
        let room = match room_of(mode, self.left_finish, self.in_settings) {
            Room::Prepare | Room::Finish if self.in_review => Room::Review,
            Room::Prepare if self.in_write => Room::Write,
            room => room,
        };
        if room != self.room {
            self.look_for_left |= matches!(self.room, Room::Ride | Room::Finish);
            self.room = room;
            self.hands = Hands::with_keys(self.settings.keys.clone());
            self.capture = Capture::default();
            self.said.clear();
            // Nothing in the new room shall be pressed by what had the keyboard in the old one.
            ctx.memory_mut(|memory| {
                if let Some(focused) = memory.focused() {
                    memory.surrender_focus(focused);
                }
            });
        }
        let seen = self.seen();
        self.hands.settle(&seen);
        if let Some(command) = capture(ctx, &mut self.capture, &mut self.settings.keys) {
            self.ride.command(command);
        }
        self.hands.keys = self.settings.keys.clone();
        for act in keys::take(ctx, &seen, &self.hands) {
            self.act(ctx, act);
        }
        self.tend_television(ctx);
        self.tend_left_open(ctx);
        self.offer_in_language();
        self.save_settings();
        if ctx.input(|input| input.viewport().close_requested()) {
            self.close();
        }
        if self.ride.is_over() {
            ctx.send_viewport_cmd(egui::ViewportCommand::Close);
        }
        if let Some(awake) = &mut self.awake {
            awake.set(mode.under_way() || mode == Mode::Ready);
            // Taken in whatever room is shown, so that it is not waited for any longer.
            let _told_in_prepare = awake.trouble();
        }
        if let Some(sound) = &mut self.sound {
            sound.set(self.settings.kinds);
        }
        // At rest nothing is drawn again but for what this names: the engine wakes the window when a snapshot differs.
        let asking = self.awake.as_ref().is_some_and(Awake::is_asking)
            || self.sound.as_ref().is_some_and(Sound::is_asking);
        let prepares = self.room == Room::Prepare;
        if let Some(next) = repaint::next(
            self.ride.now(),
            &self.snapshot,
            prepares,
            asking,
            !self.settings.reduced_motion,
        ) {
            ctx.request_repaint_after(next);
        }
    }

    fn ui(&mut self, ui: &mut Ui, _frame: &mut Frame) {
        let now = self.ride.now();
        let window = ui.max_rect().size();
        let scale = if self.room == Room::Ride {
            theme::scale(window)
        } else {
            theme::desk_scale(window) * self.settings.text_scale()
        };
        let look = Look {
            colours: self.settings.ground.colours(),
            scale,
            text: self.settings.text_scale(),
            least: self
                .settings
                .sight()
                .least_points(ui.input(|input| input.viewport().monitor_size)),
            reduced_motion: self.settings.reduced_motion,
        };
        match self.room {
            Room::Prepare => self.prepare_ui(ui, look, now),
            Room::Settings => self.settings_ui(ui, look),
            Room::Write => self.write_ui(ui, look, now),
            Room::Review => self.review_ui(ui, look),
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
