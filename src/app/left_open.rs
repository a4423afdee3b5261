//! The window's side of a ride that was left open: it is found, read and closed beside the window, and the core is told
//! what the command line tells it.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, sync_channel};
use std::thread;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::App;
use crate::device::DeviceId;
use crate::engine::command::{Command, GroupClock, Role};
use crate::engine::drive::wall_ms;
use crate::engine::snapshot::Link;
use crate::engine::take_up::{self, TakeUp};
use crate::ride::Mode;
use crate::store::left_open::{self, LeftOpen};
use crate::text;
use crate::time::Span;
use crate::ui::rooms::prepare::Page;
use crate::ui::rooms::prepare::left::{Left, LeftPress, LeftWish, Refused};

/// What the window asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LeftAsk {
    /// The newest ride that was left open and that no program writes.
    Find,
    /// One of them, by its folder, to be gone on with.
    GoOn(String),
    /// One of them closed.
    Close(String),
}

/// A ride to be gone on with, and what it was ridden on.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// What the core is told.
    pub take_up: TakeUp,
    /// Its devices.
    pub devices: Vec<(Role, DeviceId)>,
    /// Whether its trainer was a model.
    pub practice: bool,
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub enum LeftAnswer {
    /// The ride, where there is one.
    Found(Option<Box<Left>>),
    /// One of them, or why it cannot be gone on with.
    GoesOn(String, Box<Result<Opened, String>>),
    /// Closed, or why not.
    Closed(String, Result<(), String>),
}

/// Where rides that were left open are found. Neither may block.
pub trait LeftRides {
    /// Asks for something; `done` is called when it is known. What waits and is not begun gives way to it.
    fn ask(&mut self, ask: LeftAsk, done: Arc<dyn Fn() + Send + Sync>);

    /// What is known by now, once.
    fn take(&mut self) -> Option<LeftAnswer>;
}

/// Where nothing is kept: a window without a place for rides.
pub(super) struct NoneLeft;

impl LeftRides for NoneLeft {
    fn ask(&mut self, _ask: LeftAsk, _done: Done) {}

    fn take(&mut self) -> Option<LeftAnswer> {
        None
    }
}

type Done = Arc<dyn Fn() + Send + Sync>;

/// The rides on this computer, read by one thread at a time.
pub struct LeftFiles {
    rides: PathBuf,
    /// Where the answer comes out of what is under way: one only, so the channel is never full.
    runs: Option<(LeftAsk, Receiver<LeftAnswer>)>,
    /// What waits for it.
    waits: Option<(LeftAsk, Done)>,
}

impl LeftFiles {
    /// In this folder.
    pub const fn new(rides: PathBuf) -> Self {
        Self {
            rides,
            runs: None,
            waits: None,
        }
    }

    fn begin(&mut self) {
        if self.runs.is_some() {
            return;
        }
        let Some((ask, done)) = self.waits.take() else {
            return;
        };
        let (sender, receiver) = sync_channel(1);
        let rides = self.rides.clone();
        let (asked, kept) = (ask.clone(), (ask.clone(), Arc::clone(&done)));
        let language = text::language();
        let work = move || {
            let answer = text::within(language, || answer(&rides, ask));
            // Nobody may wait for it any more: then it is let go.
            let _ = sender.send(answer);
            // A window that looks once more finds that the thread has ended, even where it broke.
            drop(sender);
            done();
        };
        let name = "left open".to_owned();
        match thread::Builder::new().name(name).spawn(work) {
            Ok(_) => self.runs = Some((asked, receiver)),
            // Where no thread can be had it is tried again when the window next looks.
            Err(_) => self.waits = Some(kept),
        }
    }
}

impl LeftRides for LeftFiles {
    fn ask(&mut self, ask: LeftAsk, done: Done) {
        self.waits = Some((ask, done));
        self.begin();
    }

    fn take(&mut self) -> Option<LeftAnswer> {
        let Some((ask, receiver)) = &self.runs else {
            self.begin();
            return None;
        };
        let taken = match receiver.try_recv() {
            Ok(answer) => answer,
            Err(TryRecvError::Empty) => return None,
            Err(TryRecvError::Disconnected) => broken(ask),
        };
        self.runs = None;
        self.begin();
        Some(taken)
    }
}

/// What is said where the thread broke off.
fn broken(ask: &LeftAsk) -> LeftAnswer {
    let why = |ride: &str| {
        say!(
            "{ride} could not be read: the program failed over it. What was ridden stays as it is; ride another session.",
            ride
        )
    };
    match ask {
        LeftAsk::Find => LeftAnswer::Found(None),
        LeftAsk::GoOn(ride) => LeftAnswer::GoesOn(ride.clone(), Box::new(Err(why(ride)))),
        LeftAsk::Close(ride) => LeftAnswer::Closed(ride.clone(), Err(why(ride))),
    }
}

fn answer(rides: &Path, ask: LeftAsk) -> LeftAnswer {
    match ask {
        LeftAsk::Find => LeftAnswer::Found(find(rides).map(Box::new)),
        LeftAsk::GoOn(ride) => {
            let opened = open(&rides.join(&ride)).map_err(refused);
            LeftAnswer::GoesOn(ride, Box::new(opened))
        }
        LeftAsk::Close(ride) => {
            let closed = left_open::close(&rides.join(&ride), wall_ms());
            LeftAnswer::Closed(ride, closed.map_err(refused))
        }
    }
}

/// Why something is refused, which the engine tells in English, in the reader's words.
fn refused(why: String) -> String {
    text::translated(&why).into_owned()
}

/// The newest that can be read; where none can, the newest with why.
fn find(rides: &Path) -> Option<Left> {
    let mut unread = None;
    for folder in left_open::find(rides) {
        match left_open::open(&folder) {
            Ok(open) => return Some(told(&open)),
            Err(why) => {
                let ride = folder.file_name()?.to_string_lossy().into_owned();
                unread.get_or_insert(Left {
                    ride,
                    session: String::new(),
                    rider: String::new(),
                    began: String::new(),
                    ridden: Span::ZERO,
                    kept: None,
                    left: Err(refused(why)),
                });
            }
        }
    }
    unread
}

fn told(open: &LeftOpen) -> Left {
    let ride = &open.ride;
    let began = Timestamp::from_millisecond(ride.start.utc_ms).map_or_else(
        |_| String::new(),
        |at| {
            let at = TimeZone::system().to_datetime(at);
            at.strftime(word!("%-d %B %Y, %H:%M")).to_string()
        },
    );
    let last = ride.rows.last();
    Left {
        ride: open.name.clone(),
        session: ride.start.session.clone(),
        rider: ride.start.rider.clone(),
        began,
        ridden: Span::from_seconds(last.map_or(0, |row| row.ridden_s)),
        kept: last.map(|row| {
            let ms = wall_ms().saturating_sub(row.utc_ms).max(0);
            Span::from_millis(ms.unsigned_abs())
        }),
        left: take_up(open).map(|take_up| take_up.left()).map_err(refused),
    }
}

/// What the core is told of it: what is in its files, and where it goes on.
///
/// # Errors
/// A sentence where it cannot be gone on with.
pub fn take_up(open: &LeftOpen) -> Result<TakeUp, String> {
    let ride = &open.ride;
    TakeUp::of(
        &open.name,
        open.part,
        &ride.start,
        &ride.rows,
        &ride.events,
        &ride.notes,
    )
}

fn open(folder: &Path) -> Result<Opened, String> {
    let open = left_open::open(folder)?;
    Ok(Opened {
        take_up: take_up(&open)?,
        devices: take_up::devices(&open.ride.start),
        practice: take_up::on_practice(&open.ride.start),
    })
}

/// The devices of a ride that was taken up. They are asked for once the core says that it has the ride: an armed start may
/// have begun another one meanwhile, and then nothing of what that is ridden on may change.
pub(super) struct Going {
    ride: String,
    /// Whether the core has said so.
    taken: bool,
    devices: Vec<(Role, Option<DeviceId>)>,
}

impl App {
    /// Offers rides that were left open here.
    #[must_use]
    pub fn offering_left_open(mut self, rides: Box<dyn LeftRides>) -> Self {
        self.left_rides = rides;
        self.look_for_left = true;
        self
    }

    /// Takes in what is known of a ride that was left open, and looks for one where that is due: at the start, and when the
    /// rider is back in Prepare. Nothing is looked for while a ride is under way.
    pub(super) fn tend_left_open(&mut self, ctx: &egui::Context) {
        let offer = &mut self.prepare.offer;
        let ended = matches!(self.snapshot.mode, Mode::Finished(_)) && !self.left_finish;
        if self.snapshot.mode.under_way() || ended {
            // What was pressed before a ride is nothing that may come after it.
            offer.waits.take_if(|wish| wish.press == LeftPress::GoOn);
        }
        while let Some(answer) = self.left_rides.take() {
            self.take_left(answer);
        }
        self.tend_going();
        let offer = &self.prepare.offer;
        if self.look_for_left && offer.waits.is_none() && !self.snapshot.mode.under_way() {
            self.look_for_left = false;
            self.ask_left(ctx, LeftAsk::Find);
        }
    }

    fn ask_left(&mut self, ctx: &egui::Context, ask: LeftAsk) {
        let ctx = ctx.clone();
        let done = move || ctx.request_repaint();
        self.left_rides.ask(ask, Arc::new(done));
    }

    /// Shows the page of the ride that was left open, from any room before a ride; nothing where there is none.
    pub(super) fn show_left_open(&mut self) {
        let ended = matches!(self.snapshot.mode, Mode::Finished(_)) && !self.left_finish;
        if ended || !self.prepare.open_left(&self.snapshot) {
            return;
        }
        self.in_settings = false;
        self.in_review = false;
        self.leave_write();
    }

    /// What the rider answered on the page.
    pub(super) fn answer_left(&mut self, ctx: &egui::Context, wish: LeftWish) {
        let ride = wish.ride.clone();
        let ask = match wish.press {
            LeftPress::GoOn => LeftAsk::GoOn(ride),
            LeftPress::Close => LeftAsk::Close(ride),
        };
        let offer = &mut self.prepare.offer;
        offer.refused = None;
        offer.waits = Some(wish);
        offer.rest(self.ride.now());
        self.ask_left(ctx, ask);
    }

    fn take_left(&mut self, answer: LeftAnswer) {
        match answer {
            LeftAnswer::Found(left) => {
                let left = left.map(|left| *left);
                let name = |left: &Option<Left>| left.as_ref().map(|left| left.ride.clone());
                let offer = &mut self.prepare.offer;
                if name(&offer.left) != name(&left) {
                    self.answered();
                }
                let offer = &mut self.prepare.offer;
                offer.left = left;
                offer.read_at = self.ride.now();
            }
            LeftAnswer::GoesOn(ride, opened) => {
                let press = LeftPress::GoOn;
                let wish = LeftWish { ride, press };
                // An answer that nobody waits for any more changes nothing.
                if !self.waited_for(&wish) {
                    return;
                }
                self.answered();
                let opened = opened.and_then(|opened| {
                    self.may_go_on()?;
                    Ok(opened)
                });
                match opened {
                    Ok(opened) => self.go_on_with(wish.ride, opened),
                    Err(why) => {
                        self.refuse_left(wish, why);
                        // It may be closed, or ridden by another program by now.
                        self.look_for_left = true;
                    }
                }
            }
            LeftAnswer::Closed(ride, closed) => {
                let press = LeftPress::Close;
                let wish = LeftWish { ride, press };
                self.waited_for(&wish);
                self.answered();
                self.look_for_left = true;
                match closed {
                    Ok(()) => {
                        let offer = &mut self.prepare.offer;
                        offer.left.take_if(|left| left.ride == wish.ride);
                        // The rider may have gone to another page while the disk took its time.
                        if self.prepare.page == Page::LeftOpen {
                            self.prepare.page = Page::Columns;
                        }
                    }
                    Err(why) => self.refuse_left(wish, why),
                }
            }
        }
    }

    /// Whether this is what is waited for; then it is so no more. Another wish goes on waiting for its own answer.
    fn waited_for(&mut self, wish: &LeftWish) -> bool {
        let waits = &mut self.prepare.offer.waits;
        waits.take_if(|waits| waits == wish).is_some()
    }

    /// Where its page is shown other buttons stand there now.
    fn answered(&mut self) {
        if self.prepare.page == Page::LeftOpen {
            self.prepare.offer.rest(self.ride.now());
        }
    }

    fn refuse_left(&mut self, wish: LeftWish, why: String) {
        let told = false;
        self.prepare.offer.refused = Some(Refused { wish, why, told });
    }

    /// Whether a ride can be gone on with now; else what to do first.
    fn may_go_on(&self) -> Result<(), String> {
        let guide = self.snapshot.spin_down.guide.as_ref();
        if guide.is_some_and(|guide| !guide.stage.is_over()) {
            return Err(word!("The trainer calibrates itself at this moment, and another ride would break that off. Finish the spin-down or leave it, and then go on.").to_owned());
        }
        Ok(())
    }

    /// Hands the core the ride; what it was ridden on is connected as a choice in Prepare does it. A ride without a brake
    /// does not come to one by itself; sensors that are connected and that it had not are kept.
    fn go_on_with(&mut self, ride: String, opened: Opened) {
        if self.snapshot.group.is_some() {
            self.ride.command(Command::Clock(GroupClock::Own));
        }
        // A recording may be of a model that was used before it told that it is one.
        let model = |id: &DeviceId| {
            let mut rows = self.snapshot.devices.iter();
            rows.any(|row| row.simulated && row.id == *id)
        };
        let mut devices = opened.devices.iter();
        let of_model = devices.any(|(role, id)| *role == Role::Trainer && model(id));
        self.prepare.offer.practice = opened.practice || of_model;
        self.ride.command(opened.take_up.command());
        let had = |role: Role| opened.devices.iter().any(|(of, _)| *of == role);
        let without = (!had(Role::Trainer)).then_some((Role::Trainer, None));
        let devices = opened.devices.into_iter();
        let devices = devices.map(|(role, device)| (role, Some(device)));
        self.going = Some(Going {
            ride,
            taken: false,
            devices: without.into_iter().chain(devices).collect(),
        });
        self.prepare.page = Page::Columns;
    }

    /// Asks for the devices of a ride that was taken up, once the core has it.
    fn tend_going(&mut self) {
        self.prepare.offer.trainer_waits = false;
        let Some(mut going) = self.going.take() else {
            return;
        };
        let snapshot = &self.snapshot;
        let taken = snapshot.taken_up.as_ref();
        if taken.is_none_or(|taken| taken.ride != going.ride) {
            // Either the core has not said so yet, or another ride was chosen or has begun since.
            if !going.taken && !snapshot.mode.under_way() {
                self.going = Some(going);
            }
            return;
        }
        if !going.taken {
            going.taken = true;
            self.ride.command(Command::Scan(true));
        }
        going.devices.retain(|(role, device)| {
            if *role == Role::Trainer && !snapshot.let_go_first.is_empty() {
                // A choice in its role would keep the core from letting that one go for as long as the program runs.
                return true;
            }
            // What is in use already is not set up anew.
            let used = snapshot.devices.iter().any(|row| {
                device.as_ref() == Some(&row.id)
                    && row.used_for.contains(role)
                    && !matches!(row.link, Link::Unusable(_))
            });
            if !used {
                self.ride.command(Command::Use(*role, device.clone()));
            }
            false
        });
        if !going.devices.is_empty() {
            self.prepare.offer.trainer_waits = true;
            self.going = Some(going);
        }
    }

    /// What the rider chose by hand counts, and not what a ride that was taken up was ridden on.
    pub(super) fn chosen_by_hand(&mut self, command: &Command) {
        match (command, &mut self.going) {
            (Command::Choose(_), going) => *going = None,
            (Command::Use(role, _), Some(going)) => going.devices.retain(|(of, _)| of != role),
            _ => {}
        }
    }

    /// Tells the core what is chosen, where a file of it was changed. A ride that waits to go on is not let go of by that:
    /// what is chosen is told when the rider wants to ride something else first.
    pub(super) fn tell_what_changed(&mut self) {
        if self.snapshot.taken_up.is_some() {
            return;
        }
        if let Some(command) = self.chosen.command(&self.shelf) {
            self.ride.command(command);
        }
    }
}
