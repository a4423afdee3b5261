//! What is heard of a session, under whatever the rider does: one at a time, on its second, and in no pause.

use std::sync::Arc;

use proptest::prelude::*;
use stillroad::cue::{Caller, Facts, Kind, Kinds, LATEST, Request, Sound, Tone};
use stillroad::plan::{self, CueKind, Plan};
use stillroad::ride::Timeline;
use stillroad::time::{Instant, Span};

/// Each cue tells by its own words where it belongs: block, "at" or "end", seconds. They are crowded on purpose.
const CROWDED: &str = r#"
format = 1
name = "Crowded"
purpose = "Everything at once."
author = "test"

[[block]]
kind = "warm-up"
time = "2:10"
effort = [2, 4]
cadence = 90
stretch = true
cue = [
  { at = "0:00", kind = "do", say = "0 at 0" },
  { at = "0:01", kind = "feel", say = "0 at 1" },
  { at = "0:40", kind = "why", say = "0 at 40 and some more words that take a while to say aloud" },
  { before_end = "0:30", kind = "cheer", say = "0 end 30" },
  { before_end = "0:10", kind = "do", say = "0 end 10" },
  { before_end = "0:03", kind = "do", say = "0 end 3 and some more words that take a while to say aloud" },
]

[[block]]
kind = "hold"
time = "0:40"
effort = 7
cut = true
stretch = true
cue = [
  { at = "0:00", kind = "feel", say = "1 at 0" },
  { before_end = "0:05", kind = "do", say = "1 end 5" },
]

[[block]]
kind = "recovery"
time = "0:08"
effort = 3
cue = [{ at = "0:02", kind = "do", say = "2 at 2" }]

[[block]]
kind = "hold"
time = "1:05"
effort = 7
cut = true
cue = [
  { before_end = "1:00", kind = "why", say = "3 end 60" },
  { before_end = "0:02", kind = "cheer", say = "3 end 2" },
]

[[block]]
kind = "cool-down"
time = "3:00"
effort = 3
cue = [{ before_end = "0:01", kind = "do", say = "4 end 1" }]
"#;

fn crowded() -> Arc<Plan> {
    let reading = plan::read(CROWDED);
    Arc::new(
        reading
            .plan
            .unwrap_or_else(|| panic!("{:?}", reading.problems)),
    )
}

/// A ride as far as the caller sees it: the real timeline, and a clock that runs or stands.
struct World {
    plan: Arc<Plan>,
    timeline: Timeline,
    caller: Caller,
    kinds: Kinds,
    /// How long a sound of speech is; none while there is no voice.
    voice: Option<Span>,
    cadence_known: bool,
    now: Instant,
    session: Span,
    runs: bool,
    heard_until: Option<Instant>,
    played: Vec<(Span, Sound)>,
}

impl World {
    fn new() -> Self {
        let plan = crowded();
        Self {
            timeline: Timeline::new(&plan),
            plan,
            caller: Caller::new(),
            kinds: Kinds::default().with(Kind::Pulse, true),
            voice: Some(Span::from_millis(1_700)),
            cadence_known: false,
            now: Instant(7_000_000),
            session: Span::ZERO,
            runs: true,
            heard_until: None,
            played: Vec::new(),
        }
    }

    fn step(&mut self, span: Span) {
        self.now += span;
        if self.runs {
            self.session += span;
        }
        self.look();
    }

    /// Asks the caller until it has nothing more, and holds every answer against the rules.
    fn look(&mut self) {
        for asked in 0.. {
            assert!(asked < 20, "the caller comes to no end");
            let facts = Facts {
                now: self.now,
                runs: self.runs,
                session: self.session,
                plan: &self.plan,
                laps: self.timeline.laps(),
                cadence_known: self.cadence_known,
            };
            let voice = self.voice;
            let mut length = |sound: &Sound| match sound {
                Sound::Tone(tone) => Some(tone.length()),
                Sound::Speech(_) => voice,
            };
            match self.caller.poll(&facts, &self.kinds, &mut length) {
                None => break,
                Some(Request::Stop) => {
                    let until = self.heard_until.take();
                    assert!(
                        until.is_some_and(|until| until > self.now),
                        "a stop where nothing is heard"
                    );
                }
                Some(Request::Play(due)) => {
                    assert!(
                        self.heard_until.is_none_or(|until| until <= self.now),
                        "{due:?} over another"
                    );
                    assert!(self.runs, "{due:?} in a pause");
                    assert!(self.kinds.hears(due.kind), "{due:?} is muted");
                    self.on_its_second(due.kind, &due.sound);
                    let length = length(&due.sound).expect("what is played has a length");
                    self.heard_until = Some(self.now + length);
                    self.played.push((self.session, due.sound));
                }
            }
        }
        if !self.runs {
            assert!(
                self.heard_until.is_none_or(|until| until <= self.now),
                "something is heard in a pause"
            );
        }
    }

    /// Where the sound belongs is told by the blocks alone, not by what the caller says of it.
    fn on_its_second(&self, kind: Kind, sound: &Sound) {
        let place = self
            .timeline
            .place(self.session)
            .unwrap_or_else(|| panic!("{sound:?} after the end"));
        let (into, left) = (place.into.seconds(), place.left.seconds());
        let length = self.timeline.laps()[place.lap].length.seconds();
        let late = |seconds: f64, since: f64| (seconds - 1e-6..=seconds + since).contains(&into);
        let most = LATEST.seconds();
        let before_end = |seconds: f64| late((length - seconds).max(0.0), most);
        let good = match sound {
            Sound::Tone(Tone::Go | Tone::Ease) => {
                let works = self.plan.blocks[place.lap].kind.is_work();
                late(0.0, most) && works == (*sound == Sound::Tone(Tone::Go))
            }
            Sound::Tone(Tone::Minute) => before_end(60.0),
            Sound::Tone(Tone::Thirty) => before_end(30.0),
            Sound::Tone(Tone::Ten) => before_end(10.0),
            Sound::Tone(Tone::Tick) => (1..=5).any(|n| late(length - f64::from(n), 0.121)),
            Sound::Tone(Tone::Pulse) => {
                // Ninety turns a minute: one each two thirds of a second of the session.
                let turns = self.session.seconds() * 1.5;
                !self.cadence_known && turns.fract() / 1.5 < 0.061
            }
            // It names the next block that is ridden today, and leaves the last ten seconds alone.
            Sound::Speech(text) if kind == Kind::Next => {
                let next = self.timeline.laps()[place.lap + 1..]
                    .iter()
                    .find(|lap| lap.length > Span::ZERO);
                let named = next.is_some_and(|lap| {
                    let name = &self.plan.blocks[lap.block].name;
                    text.starts_with(&format!("Next: {name}"))
                });
                let first = text.starts_with(&self.plan.blocks[place.lap].name) && late(2.0, most);
                first || named && left > 10.6
            }
            Sound::Speech(text) => {
                let words: Vec<&str> = text.split(' ').collect();
                let block: usize = words[0].parse().expect("the block");
                let seconds: f64 = words[2].parse().expect("the seconds");
                block == place.lap
                    && match words[1] {
                        "at" => late(seconds, most),
                        _ => before_end(seconds),
                    }
            }
        };
        assert!(
            good,
            "{kind:?} {sound:?} at {into} s into block {}, {left} s left",
            place.lap
        );
    }
}

/// What can happen between two looks.
#[derive(Clone, Copy, Debug)]
enum Happens {
    Steps(u16),
    Pause,
    GoOn,
    Stretch,
    Cut,
    Skip,
    Undo,
    Mute(usize, bool),
    All(bool),
    Voice(Option<u16>),
    Cadence(bool),
    Again,
}

fn happens() -> impl Strategy<Value = Happens> {
    prop_oneof![
        // Mostly time passes: so many looks of a fortieth of a second.
        12 => (1u16..600).prop_map(Happens::Steps),
        1 => Just(Happens::Pause),
        2 => Just(Happens::GoOn),
        1 => Just(Happens::Stretch),
        1 => Just(Happens::Cut),
        1 => Just(Happens::Skip),
        1 => Just(Happens::Undo),
        1 => (0..Kind::ALL.len(), any::<bool>()).prop_map(|(kind, on)| Happens::Mute(kind, on)),
        1 => prop::bool::weighted(0.8).prop_map(Happens::All),
        1 => prop::option::weighted(0.8, 200u16..6_000).prop_map(Happens::Voice),
        1 => any::<bool>().prop_map(Happens::Cadence),
        1 => Just(Happens::Again),
    ]
}

impl World {
    fn happen(&mut self, what: Happens, uneven: u16) {
        match what {
            Happens::Steps(count) => {
                for step in 0..count {
                    // The looks are uneven, and now and then one is late by a third of a second.
                    let late = if (step + uneven).is_multiple_of(97) {
                        330
                    } else {
                        0
                    };
                    self.step(Span::from_millis(
                        10 + u64::from((step * 7 + uneven) % 31) + late,
                    ));
                }
            }
            Happens::Pause => self.runs = false,
            Happens::GoOn => self.runs = true,
            Happens::Stretch => {
                self.timeline.stretch(&self.plan, self.session);
            }
            Happens::Cut => {
                self.timeline.cut(&self.plan, self.session);
            }
            Happens::Skip => self.timeline.skip(self.session),
            Happens::Undo => {
                self.timeline.undo();
            }
            Happens::Mute(kind, on) => self.kinds = self.kinds.with(Kind::ALL[kind], on),
            Happens::All(on) => self.kinds.on = on,
            Happens::Voice(length) => {
                self.voice = length.map(|ms| Span::from_millis(u64::from(ms)));
            }
            Happens::Cadence(known) => self.cadence_known = known,
            // The same session is ridden once more.
            Happens::Again => {
                if self.session > Span::from_seconds(5) {
                    self.session = Span::ZERO;
                    self.timeline = Timeline::new(&self.plan);
                }
            }
        }
        self.look();
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(200) })]

    #[test]
    fn whatever_the_rider_does_one_sound_at_a_time_is_heard_on_its_second(
        events in prop::collection::vec((happens(), 0u16..1_000), 1..60),
    ) {
        let mut world = World::new();
        for (event, uneven) in events {
            world.happen(event, uneven);
        }
    }
}

fn ridden(mut world: World, seconds: u64) -> World {
    world.look();
    for _ in 0..seconds * 100 {
        world.step(Span::from_millis(10));
    }
    world
}

fn tones(world: &World, from: u64, to: u64) -> Vec<(f64, Tone)> {
    let within = |at: &Span| (from..to).contains(&at.whole_seconds());
    world
        .played
        .iter()
        .filter(|(at, _)| within(at))
        .filter_map(|(at, sound)| match sound {
            Sound::Tone(tone) if *tone != Tone::Pulse => {
                Some(((at.seconds() * 10.0).round() / 10.0, *tone))
            }
            _ => None,
        })
        .collect()
}

#[test]
fn an_undisturbed_session_is_heard_whole() {
    let mut world = World::new();
    world.voice = Some(Span::from_millis(600));
    let world = ridden(world, 483 + 10);
    // Written down from the session's text: 130, 40, 8, 65 and 180 seconds.
    assert_eq!(
        tones(&world, 0, 131),
        [
            (0.0, Tone::Ease),
            (70.0, Tone::Minute),
            (100.0, Tone::Thirty),
            (120.0, Tone::Ten),
            (125.0, Tone::Tick),
            (126.0, Tone::Tick),
            (127.0, Tone::Tick),
            (128.0, Tone::Tick),
            (129.0, Tone::Tick),
            (130.0, Tone::Go),
        ]
    );
    let said: Vec<&str> = world
        .played
        .iter()
        .filter_map(|(_, sound)| match sound {
            Sound::Speech(text) => Some(&**text),
            Sound::Tone(_) => None,
        })
        .map(|text| text.split(" and").next().unwrap_or(text))
        .collect();
    assert_eq!(
        said,
        [
            "0 at 0",
            "0 at 1",
            "0 at 40",
            "0 end 30",
            "0 end 10",
            "0 end 3",
            "1 at 0",
            "1 end 5",
            "2 at 2",
            "3 end 60",
            // The blocks before are told of by cues, or are too short.
            "Next: Cool-down. 3 minutes, effort 3.",
            "3 end 2",
            "4 end 1"
        ]
    );
}

#[test]
fn a_stretched_block_is_counted_down_to_its_new_end() {
    let mut world = ridden(World::new(), 102);
    world.happen(Happens::Stretch, 0);
    let world = ridden(world, 60);
    // Half a minute more: 160 seconds. The thirty seconds that were told at 100 are told again at 130.
    assert_eq!(
        tones(&world, 102, 156),
        [
            (130.0, Tone::Thirty),
            (150.0, Tone::Ten),
            (155.0, Tone::Tick)
        ]
    );
}

#[test]
fn a_skipped_block_is_silent_at_once_and_the_next_begins_on_the_beat() {
    let mut world = World::new();
    world.voice = Some(Span::from_seconds(9));
    let mut world = ridden(world, 42);
    assert!(
        matches!(world.played.last(), Some((_, Sound::Speech(text))) if text.starts_with("0 at 40"))
    );
    world.happen(Happens::Skip, 0);
    let (at, sound) = world.played.last().expect("the beat").clone();
    assert_eq!((at.whole_seconds(), sound), (42, Sound::Tone(Tone::Go)));
}

#[test]
fn nothing_is_said_without_a_voice_and_every_tone_sounds_all_the_same() {
    let mut world = World::new();
    world.voice = None;
    let world = ridden(world, 131);
    assert_eq!(tones(&world, 0, 131).len(), 10);
    assert!(
        world
            .played
            .iter()
            .all(|(_, sound)| matches!(sound, Sound::Tone(_)))
    );
}

#[test]
fn ninety_turns_a_minute_are_ticked_where_no_cadence_is_measured() {
    let mut world = World::new();
    world.kinds = Kinds::default()
        .with(Kind::Pulse, true)
        .with(Kind::Cue(CueKind::Why), false);
    let world = ridden(world, 60);
    let pulses = |world: &World| {
        let pulse = |(at, sound): &&(Span, Sound)| {
            *sound == Sound::Tone(Tone::Pulse) && (10..60).contains(&at.whole_seconds())
        };
        world.played.iter().filter(pulse).count()
    };
    // From the tenth second to the sixtieth nothing else is due: 50 s of 90 turns a minute are 75.
    assert_eq!(pulses(&world), 75);
    let mut measured = World::new();
    measured.cadence_known = true;
    assert_eq!(pulses(&ridden(measured, 60)), 0);
}

#[test]
fn a_note_waits_for_a_silence_and_goes_with_its_block() {
    let noted = |at: u64, lap: usize, then: u64| {
        let mut world = ridden(World::new(), at);
        world.caller.note(Arc::from("0 note 0"), lap);
        let from = world.played.len();
        // Its words name no second, so the world's own check is left out.
        let mut said = Vec::new();
        for _ in 0..then * 100 {
            world.now += Span::from_millis(10);
            world.session += Span::from_millis(10);
            let facts = Facts {
                now: world.now,
                runs: true,
                session: world.session,
                plan: &world.plan,
                laps: world.timeline.laps(),
                cadence_known: true,
            };
            let mut length = |sound: &Sound| match sound {
                Sound::Tone(tone) => Some(tone.length()),
                Sound::Speech(_) => Some(Span::from_seconds(3)),
            };
            while let Some(request) = world.caller.poll(&facts, &world.kinds, &mut length) {
                if let Request::Play(due) = request
                    && due.kind == Kind::Notes
                {
                    said.push(world.session.whole_seconds());
                }
            }
        }
        assert!(world.played.len() >= from);
        said
    };
    // At 50 s all is quiet until 70; at 67 the minute tone is due within three seconds and two, so it waits until 70.
    assert_eq!(noted(50, 0, 10), [50]);
    assert_eq!(noted(67, 0, 10), [70]);
    // The last ten seconds of a block have no silence long enough, and then the block is over.
    assert_eq!(noted(122, 0, 20), [] as [u64; 0]);
    assert_eq!(noted(50, 1, 10), [] as [u64; 0]);
}
