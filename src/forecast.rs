//! A forecast of a session for one rider: what it would leave of W′, what the heart would come to, and which blocks are
//! beyond the rider, with what would make them possible. Estimates all of it, from estimates.
//!
//! [`reckon`] goes through what the session asks for, second by second; [`ride`] has the practice rider, with this
//! rider's figures, ride it through the whole program in virtual time.

mod ways;

use std::cell::RefCell;
use std::sync::Arc;

use serde::Serialize;

use crate::device::DeviceId;
use crate::device::practice::{self, Practice, PracticeConfig};
use crate::engine::command::Role;
use crate::engine::world::World;
use crate::engine::{Choice, Command, Core};
use crate::plan::{Block, Brake, Kind, Plan};
use crate::record::{Kept, Row};
use crate::ride::RideMode;
use crate::rider::{self, Rider, WBalance};
use crate::text;
use crate::time::Span;
use crate::units::Watts;

/// The least that was left of W′.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Lowest {
    /// What is left, J; negative where the model says that it is used up.
    pub left_j: f64,
    /// The same as a share of W′.
    pub share: f64,
    /// When, seconds of session time.
    pub at_s: u64,
    /// The block, by its index in the plan.
    pub block: usize,
    /// Its name, with its repeat.
    pub name: String,
}

/// Blocks of one name of which some are beyond the rider.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Beyond {
    /// Their name.
    pub name: String,
    /// Which of the plan's blocks, by index.
    pub blocks: Vec<usize>,
    /// How many blocks of this name there are in all.
    pub of: usize,
    /// The least that would be left in them, J: below nothing.
    pub left_j: f64,
    /// When that is, seconds of session time.
    pub at_s: u64,
    /// What would make them possible, each by itself, in English; none where nothing simple would.
    pub ways: Vec<String>,
}

/// What a session asks for, reckoned.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reckoned {
    /// The least that is left of W′; none where nothing has a figure in watts.
    pub lowest: Option<Lowest>,
    /// The work that is asked for, kJ.
    pub work_kj: f64,
    /// Seconds that have no figure in watts (free riding, levels, slopes, free sprints). W′ stands still in them.
    pub without_watts_s: u64,
    /// What is beyond the rider.
    pub beyond: Vec<Beyond>,
}

/// What the practice rider made of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ridden {
    /// The least that was left of W′.
    pub lowest: Option<Lowest>,
    /// The greatest heart rate of the practice heart, and when, seconds of session time.
    pub heart_peak: Option<(f64, u64)>,
    /// The work done, kJ.
    pub work_kj: f64,
    /// Seconds ridden.
    pub seconds: u64,
}

/// What a block asks for at a share of its length, W, under the rider's caps; nothing where that has no figure.
fn asked(block: &Block, share: f64, rider: &Rider) -> Option<f64> {
    if block.brake == Brake::Free {
        return None;
    }
    let load = block.target.at(share)?;
    let cap = match block.kind {
        Kind::Sprint => rider.sprint_cap,
        _ => rider.power_cap,
    };
    if load.is_all_out() {
        // Held all out is held at the cap.
        return Some(cap.0);
    }
    rider::lane(&load, rider).map(|watts| watts.min(cap).0)
}

/// One second of a session as it asks for.
#[derive(Clone, Copy, Debug)]
struct Second {
    block: usize,
    watts: Option<f64>,
}

/// The seconds of a session. Build-ups are left out, which errs on the tired side.
fn seconds(plan: &Plan, rider: &Rider) -> Vec<Second> {
    let mut all = Vec::new();
    for (index, block) in plan.blocks.iter().enumerate() {
        let length = block.length.whole_seconds();
        all.extend((0..length).map(|second| Second {
            block: index,
            watts: asked(block, (second as f64 + 0.5) / length as f64, rider),
        }));
    }
    all
}

/// What is left of W′ after each second, J. Threshold power stands for critical power, as in the ride.
fn balance(seconds: &[Second], rider: &Rider) -> Vec<f64> {
    let mut left = WBalance::full(rider.threshold, rider.w_prime);
    seconds
        .iter()
        .map(|second| {
            if let Some(watts) = second.watts {
                left.ride(Watts(watts), Span::from_seconds(1));
            }
            left.left().0
        })
        .collect()
}

/// Reckons a session for a rider, from what it asks for, with every way that would make possible what is beyond them.
pub fn reckon(plan: &Plan, rider: &Rider) -> Reckoned {
    let mut reckoned = reckon_briefly(plan, rider);
    ways::find(plan, rider, &mut reckoned.beyond);
    reckoned
}

/// The same without the ways that take many passes over the session: for a line that is made anew in every frame.
pub fn reckon_briefly(plan: &Plan, rider: &Rider) -> Reckoned {
    let seconds = seconds(plan, rider);
    let left = balance(&seconds, rider);
    let least = left
        .iter()
        .enumerate()
        .min_by(|(_, a), (_, b)| a.total_cmp(b))
        .filter(|_| seconds.iter().any(|second| second.watts.is_some()));
    let lowest = least.and_then(|(at, &left_j)| {
        lowest(plan, rider, left_j, at as u64 + 1, seconds.get(at)?.block)
    });
    Reckoned {
        lowest,
        work_kj: seconds
            .iter()
            .filter_map(|second| second.watts)
            .sum::<f64>()
            / 1000.0,
        without_watts_s: seconds
            .iter()
            .filter(|second| second.watts.is_none())
            .count() as u64,
        beyond: ways::beyond(plan, rider, &seconds, &left),
    }
}

fn lowest(plan: &Plan, rider: &Rider, left_j: f64, at_s: u64, block: usize) -> Option<Lowest> {
    Some(Lowest {
        left_j,
        share: left_j / rider.w_prime.0.max(1.0),
        at_s,
        block,
        name: plan.blocks.get(block)?.name_with_repeat(),
    })
}

/// The practice devices are heard within this.
const HEARD_WITHIN: Span = Span::from_millis(1_500);
/// A ride in virtual time begins within this, or something is missing.
const BEGIN_WITHIN: Span = Span::from_seconds(120);

/// Has the practice rider, with this rider's threshold and W′, ride the session in virtual time, noiselessly: the same
/// every time. Where the rider's highest and resting heart rates are known, the practice heart has them.
///
/// # Errors
/// A sentence where the ride does not begin.
pub fn ride(plan: &Arc<Plan>, rider: &Arc<Rider>) -> Result<Ridden, String> {
    let config = PracticeConfig::for_rider(rider.threshold, rider.w_prime);
    rides(plan, rider, config.coarse(), true)
}

/// The same with the practice rider's usual steps, and all that a ride looks for and logs: many times slower. For
/// comparison.
///
/// # Errors
/// As [`ride`].
pub fn ride_finely(plan: &Arc<Plan>, rider: &Arc<Rider>) -> Result<Ridden, String> {
    let config = PracticeConfig::for_rider(rider.threshold, rider.w_prime);
    rides(plan, rider, config, false)
}

fn rides(
    plan: &Arc<Plan>,
    rider: &Arc<Rider>,
    config: PracticeConfig,
    only_forecast: bool,
) -> Result<Ridden, String> {
    let mut config = config.noiseless();
    if let Some(most) = rider.max_heart_rate {
        config.heart.most = most.0;
    }
    if let Some(rest) = rider.rest_heart_rate {
        config.heart.rest = rest.0;
    }
    // Six hours at most: the bound of a session.
    let rows: RefCell<Vec<Row>> = RefCell::new(Vec::new());
    {
        let practice = Box::new(Practice::new(config));
        let mut world = World::new(0, vec![practice], |_, kept| {
            if let Kept::Row(row) = kept {
                rows.borrow_mut().push(*row);
            }
        });
        if only_forecast {
            world.as_forecast();
        }
        world.command(Command::Choose(Box::new(Choice {
            plan: Arc::clone(plan),
            rider: Arc::clone(rider),
            mode: RideMode::TargetPower,
        })));
        world.command(Command::Scan(true));
        world.run_until(world.now() + HEARD_WITHIN);
        let roles = [
            (Role::Trainer, practice::TRAINER),
            (Role::Heart, practice::HEART),
        ];
        for (role, device) in roles {
            world.command(Command::Use(role, Some(DeviceId::new(device))));
        }
        world.command(Command::Scan(false));
        let up = |core: &Core| roles.iter().all(|(role, _)| core.is_up(*role));
        world.run_while(world.now() + BEGIN_WITHIN, |core| !up(core));
        world.command(Command::StartWithPedals);
        let began = world.run_while(world.now() + BEGIN_WITHIN, |core| !core.mode().under_way());
        if !began {
            return Err(word!("The forecast's ride did not begin, so nothing can be said of heart rate and work. The ride itself is not touched by this.").to_owned());
        }
        let longest = world.now() + plan.length() * 4;
        world.run_while(longest, |core| core.mode().under_way());
    }
    Ok(told(plan, rider, &rows.into_inner()))
}

fn told(plan: &Plan, rider: &Rider, rows: &[Row]) -> Ridden {
    let least = rows
        .iter()
        .filter_map(|row| Some((row, row.w_balance?.0)))
        .min_by(|(_, a), (_, b)| a.total_cmp(b));
    let peak = rows
        .iter()
        .filter_map(|row| Some((row.heart_rate?.0, row.plan_s as u64)))
        .max_by(|(a, _), (b, _)| a.total_cmp(b));
    Ridden {
        lowest: least.and_then(|(row, left_j)| {
            let block = usize::try_from(row.block).ok()?.checked_sub(1)?;
            lowest(plan, rider, left_j, row.plan_s as u64, block)
        }),
        heart_peak: peak,
        work_kj: rows
            .iter()
            .filter_map(|row| row.power)
            .map(Watts::get)
            .sum::<f64>()
            / 1000.0,
        seconds: rows.len() as u64,
    }
}

impl Reckoned {
    /// The forecast in a sentence or two, for a line on the screen; empty where nothing has a figure in watts.
    pub fn words(&self) -> String {
        let Some(lowest) = &self.lowest else {
            return String::new();
        };
        let at = Span::from_seconds(lowest.at_s);
        let work = self.work_kj;
        let mut text = match self.beyond.as_slice() {
            [] if lowest.share > 0.995 => {
                say!("Forecast, an estimate: W′ stays full, {work:.0} kJ.", work)
            }
            [] => say!(
                "Forecast, an estimate: W′ down to {share:.0} % in {block} at {at}, {work:.0} kJ.",
                share = lowest.share * 100.0,
                block = lowest.name,
                at,
                work
            ),
            [first, ..] => say!(
                "Forecast, an estimate: beyond you is {block}, W′ used up by {at}, {work:.0} kJ.",
                block = first.told(),
                at,
                work
            ),
        };
        if let Some(way) = self.beyond.first().and_then(|first| first.ways.first()) {
            text += &say!(" Possible {way}.", way = text::translated(way));
        }
        text
    }
}

impl Beyond {
    /// Its name, with how many of how many are meant.
    pub fn told(&self) -> String {
        if self.of == 1 {
            self.name.clone()
        } else {
            say!(
                "{name} ({count} of {of})",
                name = self.name,
                count = self.blocks.len(),
                of = self.of
            )
        }
    }
}
