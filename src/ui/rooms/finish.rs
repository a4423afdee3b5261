//! The room after a ride: what it came to, how it felt, and what was kept of it and where.
//!
//! The legs still turn while it is read: it is drawn as large as the Ride room and on the same columns.

mod chart;
mod draw;
mod layout;
mod rate;
mod record;
mod threshold;

pub use draw::room_ui;
pub use record::Line;
pub use threshold::{Proposal, with_finding};

use crate::engine::Command;
use crate::engine::snapshot::{BrakeLeft, Channel, Question, RecordState, Snapshot, Summary};
use crate::ride::{Finish, Mode, RideMode};
use crate::text::translated;
use crate::ui::keys::{self, Hands};
use crate::ui::widgets::figure::Figure;
use crate::ui::words;

/// Said after every ride.
const LEGS: &str = entry!(
    "Keep the legs turning a few minutes more: stopping dead after hard work can bring faintness."
);

/// The sentence that stands largest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sentence {
    /// The words.
    pub words: String,
    /// Whether it needs attention.
    pub urgent: bool,
}

/// The rating of the whole ride.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Rating {
    /// It is asked for; with the answer chosen so far.
    Asked(&'static str, Option<u8>),
    /// What became of it, in words; empty where nothing was asked.
    Told(String),
}

/// Everything that the room shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Data {
    /// How it ended.
    pub title: &'static str,
    /// Time ridden.
    pub time: String,
    /// Of how much, and of what.
    pub of: String,
    /// The session.
    pub session: String,
    /// Work and means, those that were measured.
    pub figures: Vec<Figure>,
    /// What stands in place of figures where nothing was measured.
    pub no_figures: &'static str,
    /// The sentence that matters most.
    pub sentence: Sentence,
    /// The whole session, with the ink of the whole ride.
    pub chart: chart::Data,
    /// The rating.
    pub rating: Rating,
    /// What a threshold test came to; it stands in the rating's place once that is answered.
    pub proposal: Option<Proposal>,
    /// How it is answered.
    pub answer: String,
    /// What was kept, line by line.
    pub record: Vec<Line>,
    /// The ride's folder, where it has one.
    pub folder: Option<String>,
}

/// What the rider did in the room.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outcome {
    /// Back to Prepare.
    pub back: bool,
    /// The ride is to be looked at.
    pub review: bool,
    /// The ride's folder is to be shown.
    pub open: Option<String>,
    /// What a threshold test found is taken, or not.
    pub threshold: Option<bool>,
    /// For the core.
    pub commands: Vec<Command>,
}

impl Data {
    /// What the room shows. What the core could not sum up, since it failed, is left out.
    pub fn new(snapshot: &Snapshot, hands: &Hands) -> Self {
        let nothing = Summary::default();
        let summary = snapshot.summary.as_deref().unwrap_or(&nothing);
        let session = snapshot.plan.as_ref().map_or("", |plan| plan.name.as_str());
        let figures = figures(snapshot, summary);
        let proposal = threshold::proposal(snapshot, hands);
        Self {
            title: match snapshot.mode {
                Mode::Finished(Finish::Completed) => word!("Ridden to the end"),
                Mode::Finished(Finish::ByRider) => word!("Ended by you"),
                _ => word!("Closed"),
            },
            time: snapshot.ridden.to_string(),
            of: say!("ridden of {whole}", whole = snapshot.session_length),
            session: session.to_owned(),
            no_figures: if !figures.is_empty() {
                ""
            } else if snapshot.summary.is_none() {
                word!("What it came to is not known.")
            } else if summary.rows == 0 {
                word!("Nothing was ridden.")
            } else {
                word!("No trainer and no sensor: the clock alone was kept.")
            },
            figures,
            sentence: sentence(snapshot, summary),
            chart: chart::Data::new(snapshot, summary),
            rating: rating(snapshot, summary, hands),
            answer: match &proposal {
                Some(proposal) if proposal.take.is_some() => keys::take_words(hands),
                _ => keys::answer_words(hands),
            },
            proposal,
            record: record::lines(snapshot, summary),
            folder: match &snapshot.record {
                RecordState::Closed(folder, _) | RecordState::Writing(folder, _)
                    if !folder.is_empty() =>
                {
                    Some(folder.clone())
                }
                _ => None,
            },
        }
    }
}

fn figures(snapshot: &Snapshot, summary: &Summary) -> Vec<Figure> {
    let figure = |name, channel: &Channel, unit: &str, note: String| {
        Some(Figure {
            name,
            value: format!("{:.0}", channel.mean?),
            unit: unit.to_owned(),
            note,
            known: true,
        })
    };
    let mean = || word!("mean").to_owned();
    let mut figures = Vec::new();
    if snapshot.ride_mode == RideMode::TargetPower && summary.power.mean.is_some() {
        figures.push(Figure {
            name: word!("Work"),
            value: format!("{:.0}", snapshot.work / 1000.0),
            unit: "kJ".to_owned(),
            note: word!("of work done").to_owned(),
            known: true,
        });
        figures.extend(figure(word!("Mean power"), &summary.power, "W", mean()));
    }
    figures.extend(figure(
        word!("Mean cadence"),
        &summary.cadence,
        "rpm",
        mean(),
    ));
    let heart = &summary.heart_rate;
    let most = heart
        .most
        .map_or_else(mean, |most| say!("mean, {most:.0} at most", most));
    figures.extend(figure(word!("Mean heart rate"), heart, "bpm", most));
    figures
}

/// A brake that may still hold comes first, then what the core has to say, then the legs.
fn sentence(snapshot: &Snapshot, summary: &Summary) -> Sentence {
    let urgent = |words: &str| Sentence {
        words: translated(words).into_owned(),
        urgent: true,
    };
    match (summary.brake_left, &snapshot.notice) {
        (BrakeLeft::MayHold, _) => urgent(word!(
            "The trainer may hold its last load. Shift down and ease off before you stop; switch the trainer off if it stays heavy."
        )),
        (_, Some(notice)) => urgent(notice),
        (_, None) if snapshot.summary.is_some() && summary.rows == 0 => Sentence {
            words: word!("The ride was over before it began.").to_owned(),
            urgent: false,
        },
        (_, None) => Sentence {
            words: crate::text::word(LEGS).to_owned(),
            urgent: false,
        },
    }
}

fn rating(snapshot: &Snapshot, summary: &Summary, hands: &Hands) -> Rating {
    match snapshot.question {
        Some(Question::RateBlock(_)) => {
            Rating::Asked(word!("How hard was the last block, 0 to 10?"), hands.rating)
        }
        Some(Question::RateSession) => {
            Rating::Asked(word!("How hard was the whole ride, 0 to 10?"), hands.rating)
        }
        None => Rating::Told(match summary.session_rating {
            Some(given) => say!(
                "You rated the whole ride {rating} of 10: {words}.",
                // A rating is a plain number: ten is not worded as it is in a plan.
                rating = given.0.round(),
                words = words::inside(rate::words(given.0.round() as u8))
            ),
            None if summary.rows == 0 => String::new(),
            None => word!("The whole ride was not rated.").to_owned(),
        }),
    }
}
