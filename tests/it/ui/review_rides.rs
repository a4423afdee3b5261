//! Rides for the Review room, and the shelf that they stand on behind the window.

use std::cell::RefCell;
use std::rc::Rc;
use std::sync::{Arc, OnceLock};

use stillroad::app::{Answer, Ask, RideShelf};
use stillroad::device::practice::PracticeConfig;
use stillroad::engine::Command;
use stillroad::plan;
use stillroad::record::noted::{About, Circumstance, Fan, Who};
use stillroad::record::{EventLine, NoteLine};
use stillroad::review::next::propose;
use stillroad::review::over::compare::compare;
use stillroad::review::over::{Brief, Listing, Opened};
use stillroad::review::{Asked, chart};
use stillroad::ride::RideMode;
use stillroad::units::{Effort, Rpm, Watts};

use super::states;
use crate::review::Rec;
use crate::review::ridden::of_everything;
use crate::world::{EPOCH_MS, Ride, rider};

/// Rides behind the window, answered when the window looks; what was asked for is written down.
#[derive(Clone, Default)]
pub struct Pile {
    /// The rides, with the names of their folders.
    pub rides: Rc<RefCell<Vec<(String, Rec)>>>,
    /// What was asked for.
    pub asked: Rc<RefCell<Vec<Ask>>>,
    waits: Rc<RefCell<Vec<Ask>>>,
    /// Why a ride cannot be opened, where it cannot.
    pub refuses: Rc<RefCell<Option<String>>>,
}

impl RideShelf for Pile {
    fn ask(&mut self, ask: Ask, _done: Arc<dyn Fn() + Send + Sync>) {
        self.asked.borrow_mut().push(ask.clone());
        self.waits.borrow_mut().push(ask);
    }

    fn take(&mut self) -> Option<Answer> {
        let ask = self.waits.borrow_mut().pop()?;
        let rides = self.rides.borrow();
        Some(match ask {
            Ask::List => Answer::Listed(Listing {
                rides: rides
                    .iter()
                    .map(|(key, kept)| Brief::of(key, &kept.recording()))
                    .collect(),
                troubles: Vec::new(),
            }),
            Ask::Open(key) => {
                let opened = match &*self.refuses.borrow() {
                    Some(why) => Err(why.clone()),
                    None => Ok(opened(
                        &key,
                        &rides.iter().find(|(known, _)| *known == key).unwrap().1,
                    )),
                };
                Answer::Opened(key, Box::new(opened))
            }
            Ask::Compare(keys) => {
                let named = |key: &String| rides.iter().find(|(known, _)| known == key).unwrap();
                let reviews: Vec<_> = keys.iter().map(|key| named(key).1.review()).collect();
                let all: Vec<_> = keys
                    .iter()
                    .zip(&reviews)
                    .map(|(key, review)| (key.clone(), named(key).1.recording(), review))
                    .collect();
                Answer::Compared(keys.clone(), Ok(compare(&all)))
            }
            Ask::Keep(key, what) => Answer::Kept(match &*self.refuses.borrow() {
                Some(why) => Err(why.clone()),
                None => Ok(format!("{key}/{what:?}")),
            }),
        })
    }
}

fn opened(key: &str, kept: &Rec) -> Opened {
    let review = kept.review();
    Opened {
        key: key.to_owned(),
        next: propose(&kept.start, &review),
        review,
        chart: chart::chart(&kept.recording(), &Asked::of(&kept.start)),
    }
}

/// A built-in session ridden by the practice rider, days before the others, with ratings and a pause.
fn ridden(session: &str, mode: RideMode, days: i64) -> Rec {
    let builtin = plan::builtin();
    let (_, text) = builtin.iter().find(|(key, _)| *key == session).unwrap();
    let plan = Arc::new(plan::read(text).plan.unwrap());
    let config = PracticeConfig::for_rider(Watts(200.0), stillroad::units::Joules(20_000.0));
    let mut ride = Ride::practice(config, &plan, &rider(), mode);
    ride.start();
    ride.to(905.0);
    ride.command(Command::Pause);
    ride.pass(75.0);
    ride.command(Command::Resume);
    ride.pass(300.0);
    ride.command(Command::Trim(-1));
    ride.to_the_end(20_000.0);
    let mut kept = Rec::of(&ride);
    let back = days * 86_400_000;
    kept.start.utc_ms -= back;
    for row in &mut kept.rows {
        row.utc_ms -= back;
    }
    for (block, rating) in [(None, 7.0), (Some(4), 7.0), (Some(6), 8.0)] {
        kept.notes.push(NoteLine {
            utc_ms: EPOCH_MS,
            block,
            what: "rating".into(),
            rating: Some(Effort(rating)),
            text: String::new(),
        });
    }
    kept
}

/// A ride of the rider who is chosen in Prepare, on a machine, with ratings of four loads: each a whole effort above what
/// the default map says.
fn rated(days: i64) -> Rec {
    let mut kept = Rec::new();
    let shares = [0.63, 0.73, 0.82, 0.91];
    let block = "[[block]]\nkind = \"hold\"\ntime = \"8:00\"\neffort = 6\n";
    kept.start.session = "Ladder".to_owned();
    let head = "format = 1\nname = \"Ladder\"\npurpose = \"A test.\"\n";
    kept.start.session_text = format!("{head}{}", block.repeat(4)).into();
    kept.start.rider = states::rider().name;
    kept.start.threshold = states::rider().threshold;
    kept.start.utc_ms -= days * 86_400_000;
    kept.finish = Some("completed".to_owned());
    for second in 1..=1920_u64 {
        let mut row = crate::review::row(second);
        let place = (second - 1) as usize / 480;
        row.block = place as u32 + 1;
        row.power = Some(Watts(states::rider().threshold.0 * shares[place]));
        row.utc_ms -= days * 86_400_000;
        kept.rows.push(row);
    }
    for place in 0..4 {
        kept.notes.push(NoteLine {
            utc_ms: EPOCH_MS,
            block: Some(place + 1),
            what: "rating".into(),
            // The default map has 63, 73, 82 and 91 % at efforts 5 to 8.
            rating: Some(Effort(f64::from(place) + 6.0)),
            text: String::new(),
        });
    }
    kept
}

/// Rides of every sort: held, with a gap and a lost link; with sprints; by effort; without a sensor; broken off.
pub fn rides() -> Vec<(String, Rec)> {
    static RIDES: OnceLock<Vec<(String, Rec)>> = OnceLock::new();
    let make = || {
        let mut held = ridden("steady-repeats", RideMode::TargetPower, 0);
        let middle = held.rows.len() as u64 / 2;
        for row in &mut held.rows {
            if (middle..middle + 40).contains(&row.ridden_s) {
                row.power = None;
            }
            if row.ridden_s > middle + 40 {
                row.cadence = row.cadence.map(|rpm| Rpm(rpm.0 - 3.0));
            }
        }
        held.events.push(EventLine {
            ridden_s: middle as f64,
            plan_s: middle as f64,
            utc_ms: EPOCH_MS,
            what: "link-lost".into(),
            detail: "Hall trainer".into(),
        });
        for (at, number) in [(700.4, "1"), (905.0, "2"), (1_500.5, "3")] {
            held.events.push(EventLine {
                ridden_s: at,
                plan_s: at,
                utc_ms: EPOCH_MS + (at * 1000.0) as i64,
                what: "mark".into(),
                detail: number.to_owned(),
            });
        }
        // As a ride keeps them: in the order in which they happened.
        held.events
            .sort_by(|one, other| one.ridden_s.total_cmp(&other.ridden_s));
        for (who, about, words) in [
            (Who::Rider, About::Mark(1), "Left knee, from here on"),
            (
                Who::Coach,
                About::Mark(1),
                "Saddle forward a little, and tell me on Thursday",
            ),
            (Who::Rider, About::Session, "Windows open, rain on the roof"),
            (Who::Coach, About::Block(4), "Smoother than last week"),
        ] {
            held.notes
                .push(NoteLine::words(EPOCH_MS, who, about, words));
        }
        for told in [
            Circumstance::Fan(Fan::Low),
            Circumstance::Room(21.5),
            Circumstance::Sleep(6.0),
            Circumstance::Soreness(4.0),
            Circumstance::Paused("The door".to_owned()),
        ] {
            held.notes.push(NoteLine::day(EPOCH_MS, &told));
        }
        let mut bare = ridden("first-ride", RideMode::TargetPower, 9);
        for row in &mut bare.rows {
            (row.power, row.cadence, row.heart_rate, row.lane) = (None, None, None, None);
            (row.could, row.w_balance) = (None, None);
        }
        bare.finish = None;
        vec![
            ("held".to_owned(), held),
            ("sprints".to_owned(), of_everything()),
            (
                "effort".to_owned(),
                ridden("steady-repeats", RideMode::EffortOnly, 3),
            ),
            ("bare".to_owned(), bare),
            ("nothing".to_owned(), Rec::new()),
            ("rated-0".to_owned(), rated(20)),
            ("rated-1".to_owned(), rated(27)),
            ("rated-2".to_owned(), rated(34)),
        ]
    };
    // Whoever asks first: the rides are those of the English sessions.
    let english = || stillroad::text::within(stillroad::text::Language::English, make);
    RIDES.get_or_init(english).clone()
}
