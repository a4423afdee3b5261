//! Asks for what is heard, second by second: one sound at a time, never late, and nothing while the clock stands.

use std::collections::VecDeque;
use std::sync::Arc;

use super::kinds::{Kind, Kinds};
use super::score::{Due, Sound, Tone, score, urgency};
use crate::plan::Plan;
use crate::ride::Lap;
use crate::text::Language;
use crate::time::{Instant, Span};

/// What could not be asked for within this of its due second is dropped. The loudspeaker adds a tenth of a second, so
/// that nothing is heard over half a second late.
pub const LATEST: Span = Span::from_millis(400);

/// A tick that is later than this would count wrongly, so it is dropped sooner.
const TICK_LATEST: Span = Span::from_millis(120);

/// A session time that falls back by more than this is that of a new ride. Less is the clock of the screen, which ran on
/// for a moment after a pause began.
const NEW_RIDE: Span = Span::from_seconds(2);

/// Silence between two sounds.
const GAP: Span = Span::from_millis(20);

/// A note waits for a silence of so much beside its own length, so that it never takes the place of what is due.
const NOTE_ROOM: Span = Span::from_seconds(2);

/// What is due and waits for the sound before it. A block with more at one moment than this loses the last of it, which
/// would be late anyway.
const MOST_WAITING: usize = 16;

/// So much of what was asked for is kept, so that it is not asked for again when the blocks change right after it. Within
/// [`LATEST`] no more than two sounds have room.
const MOST_RECENT: usize = 8;

/// How the ride stands at a moment.
#[derive(Clone, Copy, Debug)]
pub struct Facts<'a> {
    /// The moment.
    pub now: Instant,
    /// Whether the session's clock runs.
    pub runs: bool,
    /// Session time at `now`.
    pub session: Span,
    /// The session that is ridden.
    pub plan: &'a Arc<Plan>,
    /// Its blocks as they stand today.
    pub laps: &'a [Lap],
    /// Whether a cadence is measured, so that nothing has to beat it.
    pub cadence_known: bool,
}

/// What is asked of the loudspeaker.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Request {
    /// Be heard now.
    Play(Due),
    /// What is heard now ends at once.
    Stop,
}

/// What is being heard.
#[derive(Clone, Copy, Debug)]
struct Heard {
    until: Instant,
    lap: usize,
}

/// The caller.
#[derive(Debug, Default)]
pub struct Caller {
    plan: Option<Arc<Plan>>,
    laps: Vec<Lap>,
    /// The language in which the score is worded.
    language: Language,
    score: Vec<Due>,
    /// Everything due before this moment of the session was taken up, or dropped.
    reached: Option<Span>,
    /// At most [`MOST_WAITING`].
    waiting: VecDeque<Due>,
    heard: Option<Heard>,
    /// What was asked for last, at most [`MOST_RECENT`]: the oldest goes.
    recent: VecDeque<Due>,
    /// The last turn that was ticked, as a moment of the session.
    pulsed: Span,
    /// A note from the numbers that waits for a silence.
    note: Option<(Arc<str>, usize)>,
}

impl Caller {
    /// A caller that has heard of no ride yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Has a note said at the next silence of its block. A newer one takes the place of one that waits.
    pub fn note(&mut self, text: Arc<str>, lap: usize) {
        self.note = Some((text, lap));
    }

    /// The words that are due within `ahead`, so that a voice can be ready for them; the next first.
    pub fn coming(&self, facts: &Facts<'_>, kinds: &Kinds, ahead: Span) -> Vec<Arc<str>> {
        let words = |due: &Due| match &due.sound {
            Sound::Speech(text) if kinds.hears(due.kind) => Some(text.clone()),
            _ => None,
        };
        let noted = self.note.as_ref().map(|(text, _)| text.clone());
        self.score
            .iter()
            .skip_while(|due| due.at + LATEST < facts.session)
            .take_while(|due| due.at <= facts.session + ahead)
            .filter_map(words)
            .chain(noted)
            .collect()
    }

    /// The next request, if one is due: asked until there is none.
    ///
    /// `length` says how long a sound is; none where it cannot be heard, or not yet.
    pub fn poll(
        &mut self,
        facts: &Facts<'_>,
        kinds: &Kinds,
        length: &mut dyn FnMut(&Sound) -> Option<Span>,
    ) -> Option<Request> {
        if self
            .heard
            .is_some_and(|heard| heard.until + GAP <= facts.now)
        {
            self.heard = None;
        }
        if !facts.runs {
            self.waiting.clear();
            return self.stop(facts.now);
        }
        self.learn(facts);
        let Some(here) = lap_at(facts.laps, facts.session) else {
            self.waiting.clear();
            return self.stop(facts.now);
        };
        // What belongs to a block is not said over the next one, whichever way it ended; nor what was muted meanwhile.
        let outlived = self.heard.is_some_and(|heard| heard.lap != here) || !kinds.on;
        if outlived && let Some(stop) = self.stop(facts.now) {
            return Some(stop);
        }
        self.take_up(facts, here);
        self.waiting.retain(|due| {
            facts.session.less(due.at) <= latest(&due.sound) && kinds.hears(due.kind)
        });
        if let Some(request) = self.beat(facts, length) {
            return Some(request);
        }
        if self.heard.is_some() {
            return None;
        }
        let ready = self
            .waiting
            .iter()
            .position(|due| length(&due.sound).is_some());
        if let Some(due) = ready.and_then(|at| self.waiting.remove(at)) {
            return self.play(facts, due, length);
        }
        self.say_note(facts, kinds, here, length)
            .or_else(|| self.pulse(facts, kinds, here, length))
    }

    fn stop(&mut self, now: Instant) -> Option<Request> {
        let heard = self.heard.take()?;
        (heard.until > now).then_some(Request::Stop)
    }

    /// Reckons the score anew where the session, its blocks or the language changed.
    fn learn(&mut self, facts: &Facts<'_>) {
        let same = self
            .plan
            .as_ref()
            .is_some_and(|plan| Arc::ptr_eq(plan, facts.plan));
        let restarted = self
            .reached
            .is_some_and(|reached| facts.session + NEW_RIDE < reached);
        if !same || restarted {
            self.reached = None;
            self.pulsed = Span::ZERO;
            self.note = None;
            self.waiting.clear();
            self.recent.clear();
        }
        let language = crate::text::language();
        if !same || self.laps != facts.laps || self.language != language {
            self.language = language;
            self.plan = Some(facts.plan.clone());
            self.laps = facts.laps.to_vec();
            self.score = score(facts.plan, facts.laps);
            let score = &self.score;
            // What waits and is no more in the score, a countdown of a block that was stretched for instance, is dropped.
            self.waiting.retain(|due| score.contains(due));
            // A block that was skipped to began a moment ago, before what was reached by the old blocks.
            self.reached = self.reached.map(|reached| reached.less(LATEST));
        }
    }

    /// Takes up what has fallen due since it was last asked, of the block that is ridden.
    fn take_up(&mut self, facts: &Facts<'_>, here: usize) {
        let fresh = |due: &&Due| {
            due.at <= facts.session
                && self.reached.is_none_or(|reached| due.at > reached)
                && facts.session.less(due.at) <= LATEST
                && due.lap == here
                && !self
                    .recent
                    .iter()
                    .chain(&self.waiting)
                    .any(|asked| asked.is_same(due))
        };
        let mut taken: Vec<Due> = self.score.iter().filter(fresh).cloned().collect();
        self.reached = self.reached.max(Some(facts.session));
        self.waiting.retain(|due| due.lap == here);
        self.waiting.extend(taken.drain(..));
        self.waiting
            .make_contiguous()
            .sort_by_key(|due| (urgency(due), due.at));
        self.waiting.truncate(MOST_WAITING);
    }

    /// The beat is heard whatever is being said.
    fn beat(
        &mut self,
        facts: &Facts<'_>,
        length: &mut dyn FnMut(&Sound) -> Option<Span>,
    ) -> Option<Request> {
        let first = self.waiting.front()?;
        if !matches!(first.sound, Sound::Tone(tone) if tone.is_beat()) {
            return None;
        }
        if let Some(stop) = self.stop(facts.now) {
            return Some(stop);
        }
        let due = self.waiting.pop_front()?;
        self.play(facts, due, length)
    }

    fn play(
        &mut self,
        facts: &Facts<'_>,
        due: Due,
        length: &mut dyn FnMut(&Sound) -> Option<Span>,
    ) -> Option<Request> {
        let length = length(&due.sound)?;
        self.heard = Some(Heard {
            until: facts.now + length,
            lap: due.lap,
        });
        if self.recent.len() == MOST_RECENT {
            self.recent.pop_front();
        }
        self.recent.push_back(due.clone());
        Some(Request::Play(due))
    }

    /// A note is said where nothing else is due for as long as it takes; else it waits, and goes with its block.
    fn say_note(
        &mut self,
        facts: &Facts<'_>,
        kinds: &Kinds,
        here: usize,
        length: &mut dyn FnMut(&Sound) -> Option<Span>,
    ) -> Option<Request> {
        let (text, lap) = self.note.clone()?;
        if lap != here || !kinds.hears(Kind::Notes) {
            self.note = None;
            return None;
        }
        let due = Due {
            at: facts.session,
            lap,
            kind: Kind::Notes,
            sound: Sound::Speech(text),
        };
        let free = length(&due.sound)? + NOTE_ROOM;
        if !self.is_quiet(facts, kinds, free) {
            return None;
        }
        self.note = None;
        self.play(facts, due, length)
    }

    /// Whether nothing that is heard is due within `span`.
    fn is_quiet(&self, facts: &Facts<'_>, kinds: &Kinds, span: Span) -> bool {
        self.waiting.is_empty()
            && !self.score.iter().any(|due| {
                due.at > facts.session && due.at <= facts.session + span && kinds.hears(due.kind)
            })
    }

    /// The tick of the planned cadence, at the top of each turn, where nothing else is heard.
    fn pulse(
        &mut self,
        facts: &Facts<'_>,
        kinds: &Kinds,
        here: usize,
        length: &mut dyn FnMut(&Sound) -> Option<Span>,
    ) -> Option<Request> {
        if facts.cadence_known || !kinds.hears(Kind::Pulse) {
            return None;
        }
        let lap = facts.laps.get(here)?;
        let band = facts.plan.blocks.get(lap.block)?.cadence?;
        let turn = turn_of(f64::midpoint(band.low.0, band.high.0), facts.session)?;
        // One tick a turn, and only near its top: a tick beside the beat is worse than none.
        if turn <= self.pulsed || facts.session.less(turn) > PULSE_WITHIN {
            return None;
        }
        let due = Due {
            at: turn,
            lap: here,
            kind: Kind::Pulse,
            sound: Sound::Tone(Tone::Pulse),
        };
        if !self.is_quiet(facts, kinds, Tone::Pulse.length() + GAP) {
            return None;
        }
        self.pulsed = turn;
        self.play(facts, due, length)
    }
}

/// How late a sound may be asked for.
const fn latest(sound: &Sound) -> Span {
    match sound {
        Sound::Tone(Tone::Tick) => TICK_LATEST,
        _ => LATEST,
    }
}

/// A tick of the cadence is heard within this of the top of its turn, or not.
const PULSE_WITHIN: Span = Span::from_millis(60);

/// The moment of the session at which the turn that is under way began, at so many turns a minute: the dot on the screen
/// stands at the top then.
fn turn_of(rpm: f64, session: Span) -> Option<Span> {
    if rpm.is_nan() || rpm <= 0.0 {
        return None;
    }
    let turns = (session.seconds() * rpm / 60.0).floor();
    Some(Span::from_seconds_f64(turns * 60.0 / rpm))
}

/// The lap of a moment; none at or after the end.
fn lap_at(laps: &[Lap], session: Span) -> Option<usize> {
    laps.iter()
        .position(|lap| lap.length > Span::ZERO && session >= lap.start && session < lap.end())
}
