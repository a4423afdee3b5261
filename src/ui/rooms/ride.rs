//! The Ride room: what to do now, largest; what comes next; the strip; nothing to scroll, open or click.

mod chart;
mod draw;
mod figures;
mod keys_row;
mod layout;
pub mod ledger;
mod say;

pub use draw::room_ui;
pub use say::Sentence;

use say::{banner, sentence};

use crate::engine::snapshot::{Lap, Question, Snapshot};
use crate::lead::page;
use crate::plan::{Block, Brake, Kind, ThresholdTest};
use crate::ride::{Reading, RideMode};
use crate::text::{self, translated};
use crate::time::{Instant, Span};
use crate::ui::keys::{self, Hands, Hint};
use crate::ui::lane::{Asked, Lanes};
use crate::ui::rooms::lead;
use crate::ui::widgets::figure::Figure;
use crate::ui::widgets::{banner, cadence_band, menu, pulse, rating, ruler, strip};
use crate::ui::words;

/// The last seconds of a block are counted down.
const COUNTED: Span = Span::from_seconds(10);

/// So long before a sprint the rider makes ready.
const SPRINT_SOON: Span = Span::from_seconds(20);

/// Where in its block the ride stands, as far as it changes what the screen brings forward.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moment {
    /// Nothing is about to change.
    Under,
    /// A sprint comes within twenty seconds; `free` says that the rider makes its watts.
    SprintSoon {
        /// Whether the rider makes the watts.
        free: bool,
    },
    /// A sprint.
    Sprint,
}

/// How far what comes next is brought forward.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rank {
    /// There to be looked up.
    Quiet,
    /// In a recovery it matters more.
    Raised,
    /// In the last seconds it stands in front.
    Front,
}

/// The figure that is the rider's own job now.
#[derive(Clone, Debug, PartialEq)]
pub enum Own {
    /// The brake holds the watts; cadence is left to the rider.
    Cadence(Figure, Option<cadence_band::Data>),
    /// The rider makes the effort: what to aim for, and what that feels like.
    Aim(String, &'static str),
}

/// Everything that the room shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Data {
    /// "Hold 2 of 4".
    pub block: String,
    /// Time left in the block; bare seconds in its last ten and in a sprint.
    pub left: String,
    /// The share of the last seconds that is left, while they are counted down.
    pub counted: Option<f32>,
    /// Whether the ride is in a sprint all out: the seconds then stand largest.
    pub all_out: bool,
    /// Whether nothing may tell the time: neither clock nor strip, nor watts to pace oneself by.
    pub no_clock: bool,
    /// The rider's own job.
    pub own: Own,
    /// The two smaller figures.
    pub smaller: [Figure; 2],
    /// What is said now; empty where nothing is.
    pub sentence: Sentence,
    /// The question that stands in the sentence's place.
    pub rating: Option<rating::Data>,
    /// The choices, which stand in the sentence's place too while they are walked.
    pub menu: Option<menu::Data>,
    /// What stands in the strip's place.
    pub banner: Option<banner::Data>,
    /// Why this load stands, while the rider asks: in the strip's place where nothing more urgent stands there.
    pub why: Option<ledger::Data>,
    /// The page to lead from, while it is asked for: in the strip's place like the words before.
    pub lead: Option<lead::Data>,
    /// The strip.
    pub strip: strip::Data,
    /// A dot that turns at the planned cadence, where no sensor shows the rider's own.
    pub pulse: Option<pulse::Data>,
    /// "Then recovery, 3:00 at 4."
    pub next: String,
    /// The same without its name, for where that has no room.
    pub next_short: String,
    /// How far it is brought forward.
    pub rank: Rank,
    /// "Stay in this gear."
    pub gear: String,
    /// What holds for the whole ride on this trainer, in one short sentence; empty where nothing does.
    pub caution: &'static str,
    /// The whole session.
    pub ruler: ruler::Data,
    /// "26:25 of 53:00".
    pub clock: String,
    /// Whether all is muted, or is heard again, in a word or two; empty where nothing of it has to be said. The window knows
    /// it, not the ride.
    pub sound: &'static str,
    /// The keys.
    pub hints: Vec<Hint>,
}

/// Session time at `now`: it runs on from the snapshot with the clock.
pub fn session_at(now: Instant, snapshot: &Snapshot) -> Span {
    if snapshot.mode.runs() {
        (snapshot.session + now.since(snapshot.at)).min(snapshot.session_length)
    } else {
        snapshot.session
    }
}

impl Data {
    /// What the room shows at `now`. `hands` holds an answer that was begun; `focused` says whether keys reach the window.
    pub fn new(now: Instant, snapshot: &Snapshot, hands: &Hands, focused: bool) -> Self {
        Self::moving(now, snapshot, hands, focused, true)
    }

    /// The same; where `smoothly` is false the strip moves in steps of a second.
    pub fn moving(
        now: Instant,
        snapshot: &Snapshot,
        hands: &Hands,
        focused: bool,
        smoothly: bool,
    ) -> Self {
        let mut hands = hands.clone();
        hands.settle(snapshot);
        let hands = &hands;
        let session = session_at(now, snapshot);
        let lanes = Lanes::of(snapshot);
        let lap = lap_now(snapshot, session);
        let place = lap.and_then(|lap| snapshot.laps.get(lap)).copied();
        let block = block_of(snapshot, lap);
        let no_clock = hides_the_clock(snapshot, place);
        let no_watts = snapshot.ride_mode == RideMode::EffortOnly;
        let rider_makes = no_watts
            || !snapshot.brake_in_hand
            || block.is_some_and(|block| block.brake == Brake::Free);
        let (own, smaller) = figures_of(
            snapshot,
            block,
            session,
            lanes.as_ref(),
            (rider_makes, no_clock),
        );
        let left = place
            .filter(|_| !no_clock)
            .map(|lap: Lap| (lap.start + lap.length).less(session));
        let moment = moment(snapshot, lanes.as_ref(), lap, left);
        // A block's own half at most: a short sprint is not counted down from its beginning.
        let counted_from = place.map_or(COUNTED, |lap| COUNTED.min(Span(lap.length.0 / 2)));
        let counted = left
            .filter(|&left| left <= counted_from && counted_from > Span::ZERO)
            .map(|left| (left.seconds() / counted_from.seconds()) as f32);
        let seconds = counted.is_some() || moment == Moment::Sprint;
        let sentence = sentence(snapshot, block, moment, rider_makes);
        let urgent = sentence.urgent;
        Self {
            block: block.map_or_else(|| words::DASH.to_owned(), words::block_name),
            left: match left {
                None => words::DASH.to_owned(),
                Some(left) if seconds && left < Span::from_seconds(59) => {
                    left.0.div_ceil(1_000_000).to_string()
                }
                Some(left) => words::left(left),
            },
            counted,
            all_out: moment == Moment::Sprint && block.is_some_and(Block::is_all_out),
            no_clock,
            own,
            smaller,
            sentence,
            rating: snapshot.question.map(|question| rating::Data {
                words: match question {
                    Question::RateBlock(_) => word!("How hard was that, 0 to 10?"),
                    Question::RateSession => word!("How hard was the whole ride, 0 to 10?"),
                },
                chosen: hands.rating,
            }),
            menu: choices(snapshot, hands, urgent),
            banner: banner(snapshot, hands, focused)
                .or_else(|| no_clock.then(|| say::until_told(hands))),
            why: hands.asks_why().then(|| ledger::Data::new(snapshot)),
            lead: lead_of(snapshot, hands, session).filter(|_| !no_clock),
            strip: lanes.as_ref().filter(|_| !no_clock).map_or_else(
                strip::Data::default,
                |lanes| {
                    let step = if smoothly { 1 } else { 1_000_000 };
                    chart::strip(snapshot, lanes, Span(session.0 / step * step))
                },
            ),
            pulse: pulse_of(snapshot, block, session),
            next: if no_clock {
                text::word(say::TOLD).to_owned()
            } else {
                next(snapshot, lanes.as_ref(), lap, true)
            },
            next_short: if no_clock {
                text::word(say::TOLD).to_owned()
            } else {
                next(snapshot, lanes.as_ref(), lap, false)
            },
            rank: match block.map(|block| block.kind) {
                _ if counted.is_some() => Rank::Front,
                Some(Kind::Recovery) => Rank::Raised,
                _ if matches!(moment, Moment::SprintSoon { .. }) => Rank::Raised,
                _ => Rank::Quiet,
            },
            gear: translated(gear(snapshot, block, moment, rider_makes)).into_owned(),
            caution: say::caution(snapshot),
            ruler: if no_clock {
                ruler::Data::default()
            } else {
                ruler::Data::new(&snapshot.laps, session, snapshot.session_length)
            },
            clock: if no_clock {
                String::new()
            } else {
                say::clock(snapshot, session)
            },
            sound: "",
            hints: keys::hints(snapshot, hands),
        }
    }
}

/// Whether the session is the test that is ridden all out.
fn is_all_out_test(snapshot: &Snapshot) -> bool {
    let plan = snapshot.plan.as_deref();
    plan.is_some_and(|plan| plan.test == Some(ThresholdTest::ThreeMinutes))
}

/// Whether the block that is ridden is a test's, in which no clock may be seen. A clock that stands ends what the test
/// measures, and shows again.
fn hides_the_clock(snapshot: &Snapshot, place: Option<Lap>) -> bool {
    let (Some(plan), Some(lap)) = (snapshot.plan.as_deref(), place) else {
        return false;
    };
    snapshot.mode.runs() && plan.hides_the_clock(lap.block)
}

/// The rider's own job, and the two smaller figures.
fn figures_of(
    snapshot: &Snapshot,
    block: Option<&Block>,
    session: Span,
    lanes: Option<&Lanes>,
    (rider_makes, no_clock): (bool, bool),
) -> (Own, [Figure; 2]) {
    let cadence = figures::cadence(snapshot, block, session);
    let heart = figures::heart(snapshot);
    if rider_makes {
        let second = if snapshot.ride_mode == RideMode::EffortOnly || no_clock {
            heart
        } else {
            figures::watts(snapshot, session)
        };
        let own = aim(snapshot, lanes, session);
        return (own, [figures::against_band(cadence, block), second]);
    }
    let band = block
        .and_then(|block| block.cadence)
        .map(|band| cadence_band::Data {
            band,
            at: snapshot.cadence.fresh().map(|rpm| rpm.0),
        });
    let own = Own::Cadence(cadence, band);
    (own, [figures::watts(snapshot, session), heart])
}

/// Where in its block the ride stands.
fn moment(
    snapshot: &Snapshot,
    lanes: Option<&Lanes>,
    lap: Option<usize>,
    left: Option<Span>,
) -> Moment {
    let Some((lanes, lap)) = lanes.zip(lap) else {
        return Moment::Under;
    };
    if lanes
        .block(lap)
        .is_some_and(|block| block.kind == Kind::Sprint)
    {
        return Moment::Sprint;
    }
    let next = lanes.next(lap).and_then(|next| lanes.block(next));
    match next {
        Some(block)
            if block.kind == Kind::Sprint && left.is_some_and(|left| left <= SPRINT_SOON) =>
        {
            let free = block.brake == Brake::Free
                || !snapshot.brake_in_hand
                || snapshot.ride_mode == RideMode::EffortOnly;
            Moment::SprintSoon {
                // The gear of a test was found before.
                free: free && !is_all_out_test(snapshot),
            }
        }
        _ => Moment::Under,
    }
}

/// The page to lead from, where it is asked for.
fn lead_of(snapshot: &Snapshot, hands: &Hands, session: Span) -> Option<lead::Data> {
    let plan = snapshot.plan.as_deref().filter(|_| hands.leads())?;
    page(plan, &snapshot.laps, session).map(|page| lead::Data::new(&page))
}

/// The turning dot, where no cadence was ever seen and the session plans one.
fn pulse_of(snapshot: &Snapshot, block: Option<&Block>, session: Span) -> Option<pulse::Data> {
    let band = block?.cadence?;
    (snapshot.cadence == Reading::NeverSeen && snapshot.mode.runs())
        .then(|| pulse::Data::at((band.low.0 + band.high.0) / 2.0, session.seconds()))
}

/// The lap that is ridden: the snapshot's own, unless its end has passed since.
fn lap_now(snapshot: &Snapshot, session: Span) -> Option<usize> {
    let lap = snapshot.laps.get(snapshot.lap)?;
    if session < lap.start + lap.length {
        return Some(snapshot.lap);
    }
    (snapshot.lap + 1..snapshot.laps.len())
        .find(|&next| snapshot.laps[next].length > Span::ZERO)
        .or(Some(snapshot.lap))
}

fn block_of(snapshot: &Snapshot, lap: Option<usize>) -> Option<&Block> {
    let plan = snapshot.plan.as_deref()?;
    plan.blocks.get(snapshot.laps.get(lap?)?.block)
}

fn aim(snapshot: &Snapshot, lanes: Option<&Lanes>, session: Span) -> Own {
    let effort = snapshot.effort.or_else(|| match lanes?.at(session) {
        Asked::Level(effort, _) => Some(effort),
        Asked::AllOut | Asked::Open => None,
    });
    match effort {
        Some(effort) => Own::Aim(words::effort(effort), words::talk(effort)),
        None => Own::Aim(words::DASH.to_owned(), word!("as you like")),
    }
}

/// The choices while they are walked, and those of a ride that stands where nothing more urgent is to be said.
fn choices(snapshot: &Snapshot, hands: &Hands, urgent: bool) -> Option<menu::Data> {
    let menu = hands.menu()?;
    let urgent = snapshot.armed.is_none() && urgent;
    (hands.is_choosing() || !urgent).then(|| menu::Data {
        items: menu
            .items()
            .iter()
            .map(|&choice| keys::choice_words(choice, snapshot))
            .collect(),
        chosen: menu.place(),
        waits: snapshot.armed.is_some() && menu.chosen().twice(),
        leaves: menu.state() == keys::State::Choosing,
    })
}

fn next(snapshot: &Snapshot, lanes: Option<&Lanes>, lap: Option<usize>, named: bool) -> String {
    let (Some(lanes), Some(lap)) = (lanes, lap) else {
        return String::new();
    };
    let Some((block, place)) = lanes
        .next(lap)
        .and_then(|next| Some((lanes.block(next)?, lanes.laps.get(next)?)))
    else {
        return word!("Then the session is over.").to_owned();
    };
    let length = place.length;
    let name = named.then(|| words::inside(&words::block_name(block)));
    // The plan's figures are kept from sight while a rating is asked for: they would sway the answer.
    let asking = matches!(snapshot.question, Some(Question::RateBlock(_)));
    let asked = Some(words::target(block.target, snapshot.ride_mode))
        .filter(|asked| !asked.is_empty() && !asking);
    match (name, asked) {
        (Some(name), Some(asked)) => say!("Then {name}, {length} {asked}.", name, length, asked),
        (Some(name), None) => say!("Then {name}, {length}.", name, length),
        (None, Some(asked)) => say!("Then {length} {asked}.", length, asked),
        (None, None) => say!("Then {length}.", length),
    }
}

/// What the gears have shown, for now or for what comes, before the general word. In English: what they have shown comes
/// from the core.
fn gear<'a>(
    snapshot: &'a Snapshot,
    block: Option<&Block>,
    moment: Moment,
    rider_makes: bool,
) -> &'a str {
    let words = &snapshot.gear;
    if rider_makes && block.is_some() {
        if !words.now.is_empty() {
            return &words.now;
        }
        if !words.next.is_empty() {
            return &words.next;
        }
    }
    match block {
        None => "",
        Some(_) if moment == (Moment::SprintSoon { free: true }) => entry!("A big gear."),
        // The gear was chosen before.
        Some(block) if block.kind == Kind::Sprint => entry!("Stay in this gear."),
        Some(_) if snapshot.ride_mode == RideMode::EffortOnly => {
            entry!("Shift until it feels right.")
        }
        Some(block) if block.brake == Brake::Free && snapshot.brake_in_hand => {
            entry!("You make the watts.")
        }
        Some(_) if rider_makes => entry!("Shift until it feels right."),
        Some(_) => entry!("Stay in this gear."),
    }
}
