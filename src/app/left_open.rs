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
use crate::engine::take_up::{self, TakeUp};
use crate::ride::Mode;
use crate::store::left_open::{self, LeftOpen};
use crate::time::Span;
use crate::ui::rooms::prepare::Page;
use crate::ui::rooms::prepare::left::{Left, LeftPress};

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
        let work = move || {
            // Nobody may wait for it any more: then it is let go.
            let _ = sender.send(answer(&rides, ask));
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
        format!(
            "{ride} could not be read: the program failed over it. What was ridden stays as it is; ride another session."
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
            let opened = open(&rides.join(&ride));
            LeftAnswer::GoesOn(ride, Box::new(opened))
        }
        LeftAsk::Close(ride) => {
            let closed = left_open::close(&rides.join(&ride), wall_ms());
            LeftAnswer::Closed(ride, closed)
        }
    }
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
                    left: Err(why),
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
            at.strftime("%-d %B %Y, %H:%M").to_string()
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
        left: take_up(open).map(|take_up| take_up.left()),
    }
}

fn take_up(open: &LeftOpen) -> Result<TakeUp, String> {
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
    })
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
        while let Some(answer) = self.left_rides.take() {
            self.take_left(answer);
        }
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
    pub(super) fn answer_left(&mut self, ctx: &egui::Context, press: LeftPress) {
        let offer = &mut self.prepare.offer;
        let Some(left) = &offer.left else { return };
        let ride = left.ride.clone();
        offer.refused.clear();
        offer.waits = Some(press);
        let ask = match press {
            LeftPress::GoOn => LeftAsk::GoOn(ride),
            LeftPress::Close => LeftAsk::Close(ride),
        };
        self.ask_left(ctx, ask);
    }

    fn take_left(&mut self, answer: LeftAnswer) {
        let offer = &mut self.prepare.offer;
        match answer {
            LeftAnswer::Found(left) => {
                offer.left = left.map(|left| *left);
                offer.read_at = self.ride.now();
            }
            LeftAnswer::GoesOn(_, opened) => {
                // An answer that nobody waits for any more changes nothing.
                if offer.waits.take() != Some(LeftPress::GoOn) {
                    return;
                }
                match *opened {
                    Ok(opened) if !self.snapshot.mode.under_way() => self.go_on_with(opened),
                    Ok(_) => {}
                    Err(why) => {
                        offer.refused = why;
                        // It may be closed, or ridden by another program by now.
                        self.look_for_left = true;
                    }
                }
            }
            LeftAnswer::Closed(_, closed) => {
                offer.waits = None;
                self.look_for_left = true;
                match closed {
                    Ok(()) => {
                        offer.left = None;
                        // The rider may have gone to another page while the disk took its time.
                        if self.prepare.page == Page::LeftOpen {
                            self.prepare.page = Page::Columns;
                        }
                    }
                    Err(why) => offer.refused = why,
                }
            }
        }
    }

    /// Hands the core the ride, and connects what it was ridden on as a choice in Prepare does. A ride without a brake
    /// does not come to one by itself; sensors that are connected and that it had not are kept.
    fn go_on_with(&mut self, opened: Opened) {
        if self.snapshot.group.is_some() {
            self.ride.command(Command::Clock(GroupClock::Own));
        }
        self.ride.command(opened.take_up.command());
        self.ride.command(Command::Scan(true));
        let had = |role: Role| opened.devices.iter().any(|(of, _)| *of == role);
        if !had(Role::Trainer) {
            self.ride.command(Command::Use(Role::Trainer, None));
        }
        for (role, device) in opened.devices {
            self.ride.command(Command::Use(role, Some(device)));
        }
        self.prepare.page = Page::Columns;
    }
}
