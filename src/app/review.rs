//! The window's side of the Review room: rides are read beside the window, so that no frame waits for a disk.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, sync_channel};
use std::thread;

use egui::Ui;

use super::App;
use crate::engine::snapshot::{RecordState, Snapshot};
use crate::review::over::compare::Comparison;
use crate::review::over::{Listing, Opened};
use crate::ride::Mode;
use crate::rider::{self, EffortMap, Rider};
use crate::store::ride_list;
use crate::text::{self, Language};
use crate::ui::rooms::review::{self, Data, Keep, Wish};
use crate::ui::widgets::Look;

/// What the window asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Ask {
    /// The rides that there are.
    List,
    /// One of them, by its folder.
    Open(String),
    /// Something of one of them kept as a file.
    Keep(String, Keep),
    /// Some of them side by side.
    Compare(Vec<String>),
}

/// What came of it.
#[derive(Debug)]
pub enum Answer {
    /// The rides.
    Listed(Listing),
    /// One of them, or why it cannot be shown.
    Opened(String, Box<Result<Opened, String>>),
    /// Where it was kept, or why it was not.
    Kept(Result<String, String>),
    /// Side by side, or why not.
    Compared(Vec<String>, Result<Comparison, String>),
}

/// Where rides are read from. Neither may block.
pub trait RideShelf {
    /// Asks for something; `done` is called when it is known.
    fn ask(&mut self, ask: Ask, done: Arc<dyn Fn() + Send + Sync>);

    /// What is known by now, once.
    fn take(&mut self) -> Option<Answer>;
}

/// Where nothing is kept: a window without a place for rides.
pub(super) struct NoRides {
    asked: bool,
}

impl NoRides {
    pub(super) const fn new() -> Self {
        Self { asked: false }
    }
}

impl RideShelf for NoRides {
    fn ask(&mut self, ask: Ask, _done: Arc<dyn Fn() + Send + Sync>) {
        self.asked |= ask == Ask::List;
    }

    fn take(&mut self) -> Option<Answer> {
        std::mem::take(&mut self.asked).then(|| Answer::Listed(Listing::default()))
    }
}

type Done = Arc<dyn Fn() + Send + Sync>;

/// The rides on this computer, read by one thread at a time.
pub struct RideFiles {
    rides: PathBuf,
    /// Where the answer comes out of what is under way: one only, so the channel is never full.
    runs: Option<Receiver<Answer>>,
    /// What waits, one of each sort: a newer one takes the place of an older, which nobody waits for any more.
    waits: Vec<(Ask, Done)>,
}

impl RideFiles {
    /// In this folder.
    pub const fn new(rides: PathBuf) -> Self {
        Self {
            rides,
            runs: None,
            waits: Vec::new(),
        }
    }

    fn begin(&mut self) {
        if self.runs.is_some() || self.waits.is_empty() {
            return;
        }
        let (ask, done) = self.waits.remove(0);
        let (sender, receiver) = sync_channel(1);
        let rides = self.rides.clone();
        let kept = (ask.clone(), Arc::clone(&done));
        let language = text::language();
        let work = move || {
            let answer = text::within(language, || answer(&rides, ask));
            // Nobody may wait for it any more: then it is let go.
            let _ = sender.send(answer);
            done();
        };
        match thread::Builder::new().name("rides".to_owned()).spawn(work) {
            Ok(_) => self.runs = Some(receiver),
            // Where no thread can be had it is tried again when the window next looks.
            Err(_) => self.waits.insert(0, kept),
        }
    }
}

fn answer(rides: &std::path::Path, ask: Ask) -> Answer {
    match ask {
        Ask::List => Answer::Listed(ride_list::list(rides)),
        Ask::Open(key) => {
            let opened = ride_list::open(rides, &key);
            Answer::Opened(key, Box::new(opened))
        }
        Ask::Compare(keys) => {
            let compared = ride_list::compared(rides, &keys);
            Answer::Compared(keys, compared)
        }
        Ask::Keep(key, what) => {
            let what = match what {
                Keep::Page => ride_list::Kept::Page,
                Keep::Picture => ride_list::Kept::Picture,
                Keep::Table => ride_list::Kept::Table,
            };
            // A table is for programs, in English whoever reads.
            let language = match what {
                ride_list::Kept::Table => Language::English,
                _ => text::language(),
            };
            let kept = text::within(language, || ride_list::keep(rides, &key, what));
            let refused = |why: String| text::translated(&why).into_owned();
            let kept = kept.map(|path| path.display().to_string());
            Answer::Kept(kept.map_err(refused))
        }
    }
}

impl RideShelf for RideFiles {
    fn ask(&mut self, ask: Ask, done: Done) {
        let sort = std::mem::discriminant(&ask);
        self.waits
            .retain(|(other, _)| std::mem::discriminant(other) != sort);
        self.waits.push((ask, done));
        self.begin();
    }

    fn take(&mut self) -> Option<Answer> {
        let taken = match self.runs.as_ref()?.try_recv() {
            Ok(answer) => Some(answer),
            Err(TryRecvError::Empty) => return None,
            // The thread broke: what it was asked for is not known, and the next is asked.
            Err(TryRecvError::Disconnected) => None,
        };
        self.runs = None;
        self.begin();
        taken
    }
}

impl App {
    /// Reads rides from here.
    #[must_use]
    pub fn reading_rides(mut self, rides: Box<dyn RideShelf>) -> Self {
        self.rides = rides;
        self
    }

    /// Goes to the Review room, or leaves it. After a ride that ride is shown.
    pub(super) fn toggle_review(&mut self, ctx: &egui::Context) {
        self.in_review = !self.in_review;
        if !self.in_review {
            return;
        }
        self.in_settings = false;
        self.leave_write();
        // What was read before may have changed since: a rating, a ride that was still being written.
        self.review.ride = None;
        self.review.trouble = None;
        self.review.say("", false);
        self.review.over = None;
        self.opening = None;
        self.comparing = None;
        let ended = matches!(self.snapshot.mode, Mode::Finished(_)) && !self.left_finish;
        if ended {
            self.review.wanted = folder_of(&self.snapshot);
        }
        self.ask(ctx, Ask::List);
    }

    fn ask(&mut self, ctx: &egui::Context, ask: Ask) {
        let ctx = ctx.clone();
        let done = move || ctx.request_repaint();
        self.rides.ask(ask, Arc::new(done));
    }

    pub(super) fn review_ui(&mut self, ui: &mut Ui, look: Look) {
        while let Some(answer) = self.rides.take() {
            self.take_answer(answer);
        }
        self.open_picked(ui);
        let rider = self.shelf.riders.get(self.chosen.rider);
        let data = Data::new(&self.review, rider.map(|(_, rider)| &**rider));
        let wishes = review::room_ui(ui, &data, look, &mut self.review);
        for wish in wishes {
            match wish {
                Wish::Leave => self.in_review = false,
                Wish::Next => self.write_next(),
                Wish::Adopt(map) => self.adopt(map),
                Wish::Keep(key, what) => {
                    self.review.say(word!("It is being written."), false);
                    let ctx = ui.ctx().clone();
                    self.ask(&ctx, Ask::Keep(key, what));
                }
                Wish::Copy(text) => {
                    ui.ctx().copy_text(text);
                    self.review.say(
                        word!("This view was copied as a table: paste it into a spreadsheet."),
                        false,
                    );
                }
            }
        }
        // What was picked just now is asked for at once.
        self.open_picked(ui);
    }

    /// Writes a learned effort map into the file of the rider that is chosen.
    fn adopt(&mut self, map: EffortMap) {
        let Some((key, kept)) = self.shelf.riders.get_mut(self.chosen.rider) else {
            return;
        };
        let rider = Rider {
            effort_map: map,
            ..(**kept).clone()
        };
        match self.desk.save_rider(key.as_deref(), &rider) {
            Ok(saved) => {
                let source = Arc::from(rider::amended(&rider));
                *key = Some(saved);
                *kept = Arc::new(Rider { source, ..rider });
                self.tell_what_changed();
                let words = word!("The map was adopted: sessions are ridden by it from now on.");
                self.review.say(words, false);
            }
            Err(refusal) => self.review.say(refusal, true),
        }
    }

    fn open_picked(&mut self, ui: &Ui) {
        let wanted = self.review.to_open();
        if wanted.is_some() && wanted != self.opening {
            self.opening.clone_from(&wanted);
            if let Some(key) = wanted {
                self.ask(ui.ctx(), Ask::Open(key));
            }
        }
        let wanted = self.review.to_compare();
        if wanted.is_some() && wanted != self.comparing {
            self.comparing.clone_from(&wanted);
            if let Some(keys) = wanted {
                self.ask(ui.ctx(), Ask::Compare(keys));
            }
        }
    }

    fn take_answer(&mut self, answer: Answer) {
        match answer {
            Answer::Listed(listing) => {
                self.opening = None;
                self.review.take_listing(listing);
            }
            Answer::Opened(key, opened) => match *opened {
                Ok(opened) => self.review.ride = Some(Arc::new(opened)),
                Err(sentence) => self.review.trouble = Some((key, sentence)),
            },
            Answer::Compared(keys, compared) => {
                self.review.over = Some((keys, compared.map(Arc::new)));
            }
            Answer::Kept(Ok(path)) => self.review.say(say!("Saved as {path}.", path), false),
            Answer::Kept(Err(sentence)) => self.review.say(sentence, true),
        }
    }
}

/// The name of the folder of the ride that has just ended.
fn folder_of(snapshot: &Snapshot) -> Option<String> {
    let (RecordState::Closed(folder, _) | RecordState::Writing(folder, _)) = &snapshot.record
    else {
        return None;
    };
    let name = std::path::Path::new(folder).file_name()?;
    Some(name.to_string_lossy().into_owned())
}

/// The ride as the keys see it in the Review room: as before a ride, so that the arrows choose and the digits rate nothing.
pub(super) fn at_rest(snapshot: &Snapshot) -> Snapshot {
    Snapshot {
        mode: Mode::Idle,
        question: None,
        test: None,
        ..snapshot.clone()
    }
}
