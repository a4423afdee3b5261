//! The loudspeaker as it comes and goes: opened on a thread of its own, watched, and opened again.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, sync_channel};

use super::Speaker;
use crate::time::{Instant, Span};

/// A server that asks for no sound for so long is gone, or stands still.
const SILENT_AFTER: Span = Span::from_seconds(3);

/// It is looked for again after so long.
const AGAIN_AFTER: Span = Span::from_seconds(5);

/// How the loudspeaker stands.
enum State {
    /// It is not asked for.
    Closed,
    /// A thread is opening it; one answer at most comes back.
    Opening(Receiver<Result<Speaker, String>>, Instant),
    /// It is open, and was last fed at the moment.
    Open(Speaker, u64, Instant),
    /// It could not be opened; why, and when.
    Failed(Instant),
}

/// The loudspeaker.
pub(super) struct Output {
    state: State,
    /// Why nothing is heard, as last found.
    pub(super) trouble: Option<String>,
    /// Whether it was looked for and found or not.
    pub(super) looked: bool,
}

impl Output {
    pub(super) const fn new() -> Self {
        Self {
            state: State::Closed,
            trouble: None,
            looked: false,
        }
    }

    /// Opens or closes it as it is wanted. Waits for nobody.
    pub(super) fn settle(&mut self, now: Instant, wanted: bool) {
        match &mut self.state {
            State::Closed if wanted => self.open(now),
            State::Failed(since) if wanted && now.since(*since) >= AGAIN_AFTER => self.open(now),
            State::Opening(answer, since) => match answer.try_recv() {
                // It is told, and its answer waited for all the same: another thread would only wait beside the first.
                Err(TryRecvError::Empty) if now.since(*since) >= SILENT_AFTER => {
                    self.tell(entry!("the sound server does not answer"));
                }
                Err(TryRecvError::Empty) => {}
                Ok(Ok(speaker)) => {
                    self.looked = true;
                    self.trouble = None;
                    self.state = State::Open(speaker, 0, now);
                }
                Ok(Err(why)) => self.fail(now, &why),
                Err(TryRecvError::Disconnected) => self.fail(now, entry!("it did not answer")),
            },
            State::Open(speaker, fed, since) => {
                let fed_now = speaker.fed();
                if fed_now != *fed {
                    (*fed, *since) = (fed_now, now);
                } else if now.since(*since) >= SILENT_AFTER {
                    self.fail(now, entry!("the sound server went away"));
                    return;
                }
                if !wanted {
                    self.state = State::Closed;
                }
            }
            State::Closed | State::Failed(_) => {}
        }
    }

    fn open(&mut self, now: Instant) {
        let (say, answer) = sync_channel(1);
        let opening = std::thread::Builder::new()
            .name("loudspeaker".to_owned())
            // Where nobody waits for it any more the stream is dropped, and closed with that.
            .spawn(move || drop(say.send(Speaker::open())));
        match opening {
            Ok(_) => self.state = State::Opening(answer, now),
            Err(error) => self.fail(now, &error.to_string()),
        }
    }

    fn fail(&mut self, now: Instant, why: &str) {
        self.state = State::Failed(now);
        self.tell(why);
    }

    fn tell(&mut self, why: &str) {
        self.looked = true;
        self.trouble = Some(say!(
            "There is no sound here ({why}): nothing will be heard, and the screen leads the ride. Start the sound server, or \
             turn sound off in the settings.",
            why = crate::text::translated(why)
        ));
    }

    /// Whether anything can be heard.
    pub(super) const fn is_open(&self) -> bool {
        matches!(self.state, State::Open(..))
    }

    pub(super) fn play(&self, samples: Arc<[i16]>) {
        if let State::Open(speaker, ..) = &self.state {
            speaker.play(samples);
        }
    }

    pub(super) fn stop(&self) {
        if let State::Open(speaker, ..) = &self.state {
            speaker.stop();
        }
    }
}
