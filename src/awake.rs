//! Keeps the display and the computer awake while riding: a thin shell round what the system offers.
//!
//! On Linux two buses are asked: the session's screen saver (`org.freedesktop.ScreenSaver.Inhibit`) for the display and
//! the login manager (`org.freedesktop.login1.Manager.Inhibit`) for sleep. Both keep their promise for as long as a
//! connection or a file is held, so a thread of its own holds them until it is told to let go; nothing here blocks the
//! window. On other systems this is not built yet, and [`Awake::trouble`] says so.

use std::sync::mpsc::{Receiver, SyncSender, TryRecvError, sync_channel};

use crate::text;

/// The wish to stay awake, and what became of it.
#[derive(Debug, Default)]
pub struct Awake {
    held: Option<Held>,
    trouble: Option<String>,
}

#[derive(Debug)]
struct Held {
    /// Dropped to let go: the thread waits for that alone.
    _let_go: SyncSender<()>,
    /// One answer at most ever comes, so a depth of one is never full.
    answer: Receiver<Result<(), String>>,
    answered: bool,
}

impl Awake {
    /// Nothing is asked of the system yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Asks the system to stay awake, or no longer. Returns at once; what it said is in [`trouble`](Self::trouble)
    /// a moment later.
    pub fn set(&mut self, awake: bool) {
        if !awake {
            self.held = None;
            self.trouble = None;
            return;
        }
        if self.held.is_some() {
            return;
        }
        let (let_go, told) = sync_channel(1);
        let (say, answer) = sync_channel(1);
        let language = text::language();
        let thread = std::thread::Builder::new()
            .name("awake".to_owned())
            .spawn(move || text::within(language, || hold(&say, &told)));
        match thread {
            Ok(_) => {
                self.held = Some(Held {
                    _let_go: let_go,
                    answer,
                    answered: false,
                });
            }
            Err(error) => self.trouble = Some(refused(&error.to_string())),
        }
    }

    /// Why the display may go dark during the ride, in a sentence; nothing while all is well or no answer has come.
    pub fn trouble(&mut self) -> Option<&str> {
        if let Some(held) = &mut self.held {
            match held.answer.try_recv() {
                Err(TryRecvError::Empty) => {}
                Ok(Ok(())) => held.answered = true,
                Ok(Err(words)) => {
                    held.answered = true;
                    self.trouble = Some(words);
                }
                // The thread ended after it had answered, or died: the answer, if any, was taken before.
                Err(TryRecvError::Disconnected) => held.answered = true,
            }
        }
        self.trouble.as_deref()
    }

    /// Whether the system was asked and has not answered yet, so that [`trouble`](Self::trouble) may still change.
    pub fn is_asking(&self) -> bool {
        self.held.as_ref().is_some_and(|held| !held.answered)
    }
}

fn refused(why: &str) -> String {
    say!(
        "The system does not keep the display awake ({why}): it may go dark during the ride. \
         Switch off the screen saver and sleep before you start.",
        why
    )
}

/// Asks, answers, holds until told to let go.
#[cfg(target_os = "linux")]
fn hold(say: &SyncSender<Result<(), String>>, told: &Receiver<()>) {
    let sleep = linux::against_sleep();
    match linux::display() {
        Ok((bus, cookie)) => {
            // Nobody listens any more when the ride was over at once: then there is nothing to say either.
            let _ = say.send(Ok(()));
            let _ = told.recv();
            linux::give_back(&bus, cookie);
        }
        Err(why) => {
            let _ = say.send(Err(refused(&why)));
            let _ = told.recv();
        }
    }
    drop(sleep);
}

#[cfg(not(target_os = "linux"))]
fn hold(say: &SyncSender<Result<(), String>>, _told: &Receiver<()>) {
    let _ = say.send(Err(refused(word!("not built for this system yet"))));
}

#[cfg(target_os = "linux")]
mod linux {
    use std::time::Duration;

    use dbus::arg::OwnedFd;
    use dbus::blocking::Connection;

    /// How long each bus may take to answer.
    const PATIENCE: Duration = Duration::from_secs(3);

    /// The session bus and the cookie that gives the promise back.
    pub(super) fn display() -> Result<(Connection, u32), String> {
        let bus = Connection::new_session()
            .map_err(|_| word!("there is no session bus to ask").to_owned())?;
        let cookie = {
            let saver = bus.with_proxy(
                "org.freedesktop.ScreenSaver",
                "/org/freedesktop/ScreenSaver",
                PATIENCE,
            );
            let (cookie,): (u32,) = saver
                .method_call(
                    "org.freedesktop.ScreenSaver",
                    "Inhibit",
                    ("Stillroad", word!("A ride is under way")),
                )
                .map_err(|error| words(&error))?;
            cookie
        };
        Ok((bus, cookie))
    }

    pub(super) fn give_back(bus: &Connection, cookie: u32) {
        let saver = bus.with_proxy(
            "org.freedesktop.ScreenSaver",
            "/org/freedesktop/ScreenSaver",
            PATIENCE,
        );
        // A bus that has gone took the promise with it.
        let _: Result<(), dbus::Error> =
            saver.method_call("org.freedesktop.ScreenSaver", "UnInhibit", (cookie,));
    }

    /// A file that keeps the computer from sleeping while it is open; none where there is no login manager, which
    /// then is not what puts the computer to sleep.
    pub(super) fn against_sleep() -> Option<OwnedFd> {
        let bus = Connection::new_system().ok()?;
        let login = bus.with_proxy(
            "org.freedesktop.login1",
            "/org/freedesktop/login1",
            PATIENCE,
        );
        let (file,): (OwnedFd,) = login
            .method_call(
                "org.freedesktop.login1.Manager",
                "Inhibit",
                (
                    "idle:sleep",
                    "Stillroad",
                    word!("A ride is under way"),
                    "block",
                ),
            )
            .ok()?;
        Some(file)
    }

    fn words(error: &dbus::Error) -> String {
        error
            .message()
            .unwrap_or(word!("the message bus gave no reason"))
            .trim_end_matches('.')
            .to_owned()
    }
}
