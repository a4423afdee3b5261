//! The thread that looks at the ride and has it heard.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::Duration;

use tokio::sync::watch;

use super::output::Output;
use super::recorded::Recorded;
use super::tone::{samples, span};
use super::voice::{NO_VOICE, Voice};
use super::{Troubles, tell};
use crate::cue::{Caller, Coach, Facts, Kind, Kinds, Request, Seen, Sound, Tone};
use crate::engine::Snapshot;
use crate::engine::drive::Clock;
use crate::ride::{Lap, Mode, Reading, RideMode};
use crate::text;
use crate::time::Span;

/// While a ride runs it is looked so often whether something is due; at rest, a tenth of a second is enough.
const LOOK: Duration = Duration::from_millis(10);
const LOOK_AT_REST: Duration = Duration::from_millis(100);

/// Words are made ready so long before they are due.
const AHEAD: Span = Span::from_seconds(6);

/// What the thread holds.
pub(super) struct Listener {
    snapshots: watch::Receiver<Arc<Snapshot>>,
    clock: Clock,
    kinds: Kinds,
    told: Troubles,
    caller: Caller,
    coach: Coach,
    output: Output,
    voice: Option<Voice>,
    recorded: Recorded,
    /// The last note from the numbers, which is in the reader's language; all else is in the session's.
    noted: Option<Arc<str>>,
    tones: Vec<(Tone, Arc<[i16]>)>,
}

impl Listener {
    pub(super) fn new(
        snapshots: watch::Receiver<Arc<Snapshot>>,
        clock: Clock,
        kinds: Kinds,
        sessions: Vec<PathBuf>,
        told: Troubles,
    ) -> Self {
        Self {
            snapshots,
            clock,
            kinds,
            told,
            caller: Caller::new(),
            coach: Coach::new(),
            output: Output::new(),
            voice: None,
            recorded: Recorded::new(sessions),
            noted: None,
            tones: Vec::new(),
        }
    }

    /// Until the orders' other end is gone.
    pub(super) fn run(mut self, orders: &Receiver<Kinds>) {
        crate::text::speak_to_the_reader();
        self.voice = Voice::find();
        self.tones = Tone::ALL.map(|tone| (tone, samples(tone))).to_vec();
        loop {
            let snapshot = self.snapshots.borrow_and_update().clone();
            let wait = if snapshot.mode.under_way() {
                LOOK
            } else {
                LOOK_AT_REST
            };
            match orders.recv_timeout(wait) {
                Ok(kinds) => self.kinds = kinds,
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return,
            }
            self.look();
        }
    }

    fn look(&mut self) {
        let snapshot = self.snapshots.borrow_and_update().clone();
        let now = self.clock.now();
        // Open before a ride as well: one that begins at the press of a button would be without its first beat else.
        let over = matches!(snapshot.mode, Mode::Finished(_)) && self.output.looked;
        let wanted = self.kinds.on && !over;
        self.output.settle(now, wanted);
        if let Some(plan) = &snapshot.plan {
            self.recorded.learn(plan);
        }
        if self.output.looked {
            let no_voice = || {
                self.voice
                    .is_none()
                    .then(|| crate::text::word(NO_VOICE).to_owned())
            };
            let recorded = || self.recorded.trouble.clone();
            let trouble = self.output.trouble.clone();
            tell(&self.told, trouble.or_else(recorded).or_else(no_voice));
        }
        let Some(plan) = &snapshot.plan else {
            return;
        };
        let runs = snapshot.mode.runs();
        // The snapshot is up to a twentieth of a second old; the clock has gone on.
        let since = if runs {
            now.since(snapshot.at)
        } else {
            Span::ZERO
        };
        let facts = Facts {
            now,
            runs,
            session: snapshot.session + since,
            plan,
            laps: &snapshot.laps,
            cadence_known: snapshot.cadence != Reading::NeverSeen,
        };
        if let Some(seen) = seen(&snapshot, &facts)
            && let Some(words) = self.coach.see(&seen)
            && self.kinds.hears(Kind::Notes)
        {
            let words: Arc<str> = Arc::from(words);
            self.noted = Some(Arc::clone(&words));
            self.caller.note(words, seen.lap);
        }
        let noted = self.noted.clone();
        let language = |words: &Arc<str>| match &noted {
            Some(noted) if noted == words => text::language(),
            _ => plan.language,
        };
        if runs {
            for words in self.caller.coming(&facts, &self.kinds, AHEAD) {
                self.recorded.prepare(&words);
                if self.recorded.clip(&words).is_none()
                    && let Some(voice) = &mut self.voice
                {
                    text::within(language(&words), || voice.prepare(&words));
                }
            }
        }
        let (output, tones, voice) = (&self.output, &self.tones, &mut self.voice);
        let recorded = &self.recorded;
        let mut clip = |sound: &Sound| match sound {
            _ if !output.is_open() => None,
            Sound::Tone(wanted) => tones
                .iter()
                .find(|(tone, _)| tone == wanted)
                .map(|(_, clip)| clip.clone()),
            Sound::Speech(words) => recorded.clip(words).or_else(|| {
                let voice = voice.as_mut()?;
                text::within(language(words), || voice.clip(words))
            }),
        };
        let mut length = |sound: &Sound| clip(sound).map(|clip| span(clip.len()));
        let mut requests = Vec::new();
        // A few at one moment at most: a stop, the beat.
        while let Some(request) = self.caller.poll(&facts, &self.kinds, &mut length) {
            requests.push(request);
            if requests.len() >= 8 {
                break;
            }
        }
        for request in requests {
            match request {
                Request::Stop => output.stop(),
                Request::Play(due) => {
                    let (late, kind): (_, Kind) = (facts.session.less(due.at), due.kind);
                    tracing::debug!(target: "sound", at = %due.at, late_ms = late.0 / 1000, ?kind, sound = ?due.sound);
                    if let Some(samples) = clip(&due.sound) {
                        output.play(samples);
                    }
                }
            }
        }
    }
}

/// What the coach sees of the ride.
fn seen(snapshot: &Snapshot, facts: &Facts<'_>) -> Option<Seen> {
    let in_it = |lap: &&Lap| facts.session >= lap.start && facts.session < lap.end();
    let (at, lap) = facts.laps.iter().enumerate().find(|(_, lap)| in_it(lap))?;
    let block = facts.plan.blocks.get(lap.block)?;
    // In effort-only mode the lane is what was ridden before, not what is asked for.
    let asked = snapshot.ride_mode == RideMode::TargetPower;
    let lane = snapshot.lane.filter(|_| asked);
    let split = snapshot.split.filter(|split| split.expected.known);
    Some(Seen {
        now: facts.now,
        lap: at,
        kind: block.kind,
        into: facts.session.less(lap.start),
        left: lap.end().less(facts.session),
        repeat: block.repeat,
        lane,
        legs: split.map(|split| split.legs),
        cadence: snapshot.cadence.fresh(),
        band: block.cadence,
        as_planned: facts.runs && snapshot.released.is_empty(),
    })
}
