//! The Ride room: what to do now, largest; what comes next; the strip; nothing to scroll, open or click.

mod chart;
mod draw;
mod layout;

pub use draw::room_ui;

use crate::engine::snapshot::{Lap, Question, RecordState, Snapshot};
use crate::plan::{Block, Brake};
use crate::ride::{Mode, PauseCause, RideMode};
use crate::time::{Instant, Span};
use crate::ui::keys::{self, Hands, Hint};
use crate::ui::lane::{Asked, Lanes};
use crate::ui::widgets::figure::Figure;
use crate::ui::widgets::{banner, cadence_band, menu, rating, ruler, strip};
use crate::ui::words;
use crate::units::Watts;

/// The sentence above the strip.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sentence {
    /// The words.
    pub words: String,
    /// Whether it needs attention: it is then drawn with a mark and in another colour.
    pub urgent: bool,
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
    /// Time left in the block.
    pub left: String,
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
    /// The strip.
    pub strip: strip::Data,
    /// "Then recovery, 3:00 at 4."
    pub next: String,
    /// "Stay in this gear."
    pub gear: String,
    /// The whole session.
    pub ruler: ruler::Data,
    /// "26:25 of 53:00".
    pub clock: String,
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
        let mut hands = hands.clone();
        hands.settle(snapshot);
        let hands = &hands;
        let session = session_at(now, snapshot);
        let lanes = Lanes::of(snapshot);
        let lap = lap_now(snapshot, session);
        let place = lap.and_then(|lap| snapshot.laps.get(lap)).copied();
        let block = block_of(snapshot, lap);
        let no_watts = snapshot.ride_mode == RideMode::EffortOnly;
        let rider_makes = no_watts
            || !snapshot.brake_in_hand
            || block.is_some_and(|block| block.brake == Brake::Free);
        let cadence = cadence(snapshot, block);
        let heart = heart(snapshot);
        let (own, smaller) = if rider_makes {
            let cadence = against_band(cadence, block);
            let second = if no_watts {
                heart
            } else {
                watts(snapshot, session)
            };
            (aim(snapshot, lanes.as_ref(), session), [cadence, second])
        } else {
            let band = block
                .and_then(|block| block.cadence)
                .map(|band| cadence_band::Data {
                    band,
                    at: snapshot.cadence.fresh().map(|rpm| rpm.0),
                });
            (
                Own::Cadence(cadence, band),
                [watts(snapshot, session), heart],
            )
        };
        let strip = lanes.as_ref().map_or_else(strip::Data::default, |lanes| {
            chart::strip(snapshot, lanes, session, snapshot.power.fresh().is_some())
        });
        Self {
            block: block.map_or_else(|| words::DASH.to_owned(), words::block_name),
            left: place.map_or_else(
                || words::DASH.to_owned(),
                |lap: Lap| words::left((lap.start + lap.length).less(session)),
            ),
            own,
            smaller,
            sentence: sentence(snapshot),
            rating: snapshot.question.map(|question| rating::Data {
                words: match question {
                    Question::RateBlock(_) => "How hard was that, 0 to 10?",
                    Question::RateSession => "How hard was the whole ride, 0 to 10?",
                },
                chosen: hands.rating,
            }),
            menu: choices(snapshot, hands),
            banner: banner(snapshot, hands, focused),
            strip,
            next: next(snapshot, lanes.as_ref(), lap),
            gear: gear(snapshot, block, rider_makes).to_owned(),
            ruler: ruler::Data::new(&snapshot.laps, session, snapshot.session_length),
            clock: format!("{session} of {}", snapshot.session_length),
            hints: keys::hints(snapshot, hands),
        }
    }
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

fn cadence(snapshot: &Snapshot, block: Option<&Block>) -> Figure {
    let mut figure = Figure::of(
        "Cadence",
        snapshot.cadence,
        |rpm| format!("{:.0}", rpm.0),
        "rpm",
        "",
    );
    if !figure.known
        && let Some(band) = block.and_then(|block| block.cadence)
    {
        figure.unit = format!("rpm, {}", band_words(band));
    }
    figure
}

fn band_words(band: crate::plan::CadenceBand) -> String {
    if band.low == band.high {
        format!("aim for {:.0}", band.low.0)
    } else {
        format!("{:.0} to {:.0}", band.low.0, band.high.0)
    }
}

/// Cadence as one of the smaller figures, with its band in words.
fn against_band(mut figure: Figure, block: Option<&Block>) -> Figure {
    if figure.known
        && let Some(band) = block.and_then(|block| block.cadence)
    {
        figure.note = band_words(band);
    }
    figure
}

fn heart(snapshot: &Snapshot) -> Figure {
    let rider = snapshot.rider.as_deref();
    let unit = match rider.map(|rider| (rider.heart_rate_ceiling, rider.max_heart_rate)) {
        Some((Some(ceiling), _)) => format!("bpm, limit {:.0}", ceiling.0),
        Some((None, Some(most))) => format!("bpm of {:.0}", most.0),
        _ => "bpm".to_owned(),
    };
    Figure::of(
        "Heart rate",
        snapshot.heart_rate,
        |bpm| format!("{:.0}", bpm.0),
        unit,
        "",
    )
}

fn watts(snapshot: &Snapshot, session: Span) -> Figure {
    // The figure is the mean of the same ink as the strip; a single fresh value serves until there is any.
    let mean = chart::mean_power(&snapshot.ink, session);
    let show = |newest: Watts| {
        let watts = mean.unwrap_or(newest);
        format!("{:.0}", watts.0 + 0.0)
    };
    let note = snapshot
        .lane
        .map_or_else(String::new, |lane| format!("lane {:.0}", lane.0));
    Figure::of("Power", snapshot.power, show, "W, 3 s mean", note)
}

fn aim(snapshot: &Snapshot, lanes: Option<&Lanes>, session: Span) -> Own {
    let effort = snapshot.effort.or_else(|| match lanes?.at(session) {
        Asked::Level(effort, _) => Some(effort),
        Asked::AllOut | Asked::Open => None,
    });
    match effort {
        Some(effort) => Own::Aim(words::effort(effort), words::talk(effort)),
        None => Own::Aim(words::DASH.to_owned(), "as you like"),
    }
}

/// What matters most now: a press that waits, lost control, a notice, a cue, why the brake is off.
fn sentence(snapshot: &Snapshot) -> Sentence {
    let urgent = |words: String| Sentence {
        words,
        urgent: true,
    };
    let quiet = |words: String| Sentence {
        words,
        urgent: false,
    };
    if let Some(armed) = snapshot.armed {
        return urgent(keys::armed_words(armed).to_owned());
    }
    if let Mode::Degraded { cause, .. } = snapshot.mode {
        return urgent(cause.to_string());
    }
    // A notice passes; trouble with the disk stands until it is over, and would hide what the brake does.
    if let Some(notice) = &snapshot.notice {
        return urgent(notice.to_string());
    }
    if let RecordState::Trouble(words) = &snapshot.record {
        return urgent(words.clone());
    }
    if let Some(cue) = &snapshot.cue {
        return quiet(cue.to_string());
    }
    if !snapshot.released.is_empty() && keys::paused(snapshot.mode).is_none() {
        return quiet(format!("Brake off: {}.", snapshot.released));
    }
    if !snapshot.brake_in_hand && snapshot.mode.under_way() {
        return quiet("No brake: ride by effort.".to_owned());
    }
    quiet(String::new())
}

/// The choices while they are walked, and those of a ride that stands where nothing more urgent is to be said.
fn choices(snapshot: &Snapshot, hands: &Hands) -> Option<menu::Data> {
    let menu = hands.menu()?;
    let urgent = snapshot.armed.is_none() && sentence(snapshot).urgent;
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

fn banner(snapshot: &Snapshot, hands: &Hands, focused: bool) -> Option<banner::Data> {
    let paused = keys::paused(snapshot.mode);
    let off = keys::off_by_hand(snapshot);
    let mut lines: Vec<String> = Vec::new();
    if let Some(cause) = paused {
        lines.push(
            match cause {
                PauseCause::Rider => "The clock stands and the brake is off.",
                PauseCause::PedalsStopped => "The pedals stood still, so the clock stands and the brake is off.",
                PauseCause::Gap => {
                    "The computer slept or was held up, so the clock stands. Nothing recorded before is lost."
                }
                PauseCause::Trainer => "The trainer's own button was pressed: the clock stands.",
            }
            .to_owned(),
        );
        lines.push(keys::paused_words(hands));
    } else if off {
        lines.push(keys::off_words(hands));
    }
    let title = if !focused {
        "Keys do not reach Stillroad: click this window"
    } else if paused.is_some() {
        "Paused"
    } else if off {
        "Brake off"
    } else {
        return None;
    };
    if !focused {
        lines.insert(
            0,
            "Stopping the pedals lets the brake off without any key.".to_owned(),
        );
    }
    Some(banner::Data {
        title: title.to_owned(),
        lines,
        stop_signs: paused.is_some() || off,
        loud: !focused,
    })
}

fn next(snapshot: &Snapshot, lanes: Option<&Lanes>, lap: Option<usize>) -> String {
    let (Some(lanes), Some(lap)) = (lanes, lap) else {
        return String::new();
    };
    let Some((block, place)) = lanes
        .next(lap)
        .and_then(|next| Some((lanes.block(next)?, lanes.laps.get(next)?)))
    else {
        return "Then the session is over.".to_owned();
    };
    let name = words::inside(&words::block_name(block));
    // The plan's figures are kept from sight while a rating is asked for: they would sway the answer.
    let asking = matches!(snapshot.question, Some(Question::RateBlock(_)));
    match words::target(block.target, snapshot.ride_mode) {
        asked if asked.is_empty() || asking => format!("Then {name}, {}.", place.length),
        asked => format!("Then {name}, {} {asked}.", place.length),
    }
}

fn gear(snapshot: &Snapshot, block: Option<&Block>, rider_makes: bool) -> &'static str {
    match block {
        None => "",
        Some(_) if snapshot.ride_mode == RideMode::EffortOnly => "Shift to find it.",
        Some(block) if block.brake == Brake::Free && snapshot.brake_in_hand => {
            "You make the watts."
        }
        Some(_) if rider_makes => "Shift to find it.",
        Some(_) => "Stay in this gear.",
    }
}
