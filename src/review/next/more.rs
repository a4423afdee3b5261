//! The one rule by which the next session asks for a little more, and everything that forbids it. Common practice, no
//! source.

use std::sync::Arc;

use super::ground::Ground;
use super::holds::Hold;
use super::{MOST, Next, Proposal, Wish, copy, nothing};
use crate::plan::edit::Edit;
use crate::plan::{Audience, Brake, Kind, Load, Plan, Target};
use crate::review::suggest::{Advice, RATED_OFF, rated, rated_off, suggestions};
use crate::review::words::{change, plain};
use crate::ride::RideMode;
use crate::rider::{self, Rider, WBalance};
use crate::time::Span;
use crate::units::Watts;

/// Power lies in the lane of a hold for so much of it, or it was not ridden as asked.
const IN_LANE: f64 = 0.75;
/// Of the holds after which a rating is asked for, so much is rated at least; and from which length on one is asked for
/// (rules of the ride).
const RATED: f64 = 0.5;
const ASKED: Span = Span::from_seconds(180);
/// A session rated so high as a whole was enough.
const ENOUGH: f64 = 8.0;
/// The lane of the day may lie under what was written by so much.
const AS_WRITTEN: f64 = 0.99;
/// So much of W′ is left at least, as a share, by the estimate for the copy.
const LEFT: f64 = 0.10;
/// No hold is brought above these efforts: above 9 has no figure, and newcomers are asked for 7 at most.
const MOST_EFFORT: f64 = 9.0;
const MOST_FOR_NEWCOMERS: f64 = 7.0;

/// A little more where everything speaks for it, else why nothing is proposed. `strain` is what was seen that asks for
/// less and that no change would mend.
pub(super) fn proposal(ground: &Ground<'_>, strain: Option<&Advice>) -> Next {
    let strain = strain.map(Advice::words);
    let strain = strain.as_deref();
    let review = ground.review;
    let off = rated_off(review);
    let suggested = suggestions(review);
    if off.is_none_or(|off| off > -RATED_OFF)
        && let Some(advice) = strain.or(suggested.first().map(String::as_str))
    {
        return Err(nothing(&say!(
            "What the ride suggests is nothing that one value of the session's text would say: {advice}",
            advice
        )));
    }
    let Some(off) = off else {
        let short = ground.holds.iter().all(|hold| hold.block.length < ASKED);
        return Err(nothing(if ground.holds.is_empty() {
            word!("Nothing in the sprints asks for a change: ride it again as it is.")
        } else if short {
            word!(
                "No hold lasts the three minutes after which a rating is asked for, so nobody knows whether there was room for \
                 more, and nothing asks for less."
            )
        } else {
            word!(
                "No hold was rated, so nobody knows whether there was room for more, and nothing asks for less. Rate the blocks \
                 on the way, and the next ride can tell."
            )
        }));
    };
    if off > -RATED_OFF {
        return Err(nothing(&say!(
            "Holds were rated as they were planned ({off} of ten), and nothing asks for less: ride it again as it is.",
            off = change(Some(off), 1)
        )));
    }
    // Well below the plan by the mean: what else is there?
    let against = against(ground, strain).map(|why| {
        nothing(&say!(
            "Holds were rated {points} below what was planned, but {why}",
            points = change(Some(off), 1).trim_start_matches('−'),
            why
        ))
    });
    if let Some(against) = against {
        return Err(against);
    }
    let why = rated(review);
    let mut refused = None;
    for wishes in why.iter().flat_map(|why| candidates(ground, why)) {
        match tried(ground, &wishes) {
            Ok(proposal) => return Ok(proposal),
            // Who is at a limit by one way is not asked for more by the other.
            Err(Refused::AtLimit(why)) => return Err(why),
            Err(Refused::ByText(why)) => refused = refused.or(Some(why)),
        }
    }
    Err(refused.unwrap_or_else(|| {
        nothing(word!(
            "Holds were rated well below what was planned, but none has a load that can be a step more within your caps."
        ))
    }))
}

/// What speaks against more; none where nothing does.
fn against(ground: &Ground<'_>, strain: Option<&str>) -> Option<String> {
    let review = ground.review;
    let all = || ground.holds.iter().flat_map(|hold| &hold.ridden);
    let long = ground
        .holds
        .iter()
        .filter(|hold| hold.block.length >= ASKED);
    let asked = long.map(|hold| hold.ridden.len()).sum::<usize>();
    let rated = all().filter(|block| block.rating.is_some()).count();
    if (rated as f64) < RATED * asked as f64 {
        return Some(word!("less than half of them were rated at all.").to_owned());
    }
    let above = all().find(|block| {
        let both = block.rating.zip(block.effort);
        both.is_some_and(|(rating, effort)| rating > effort)
    });
    if let Some(block) = above {
        return Some(say!(
            "{name} was rated above it.",
            name = plain(&block.title())
        ));
    }
    if review.fitted.is_some() {
        return Some(
            word!("the session was fitted to the day and not ridden as it is written.").to_owned(),
        );
    }
    let suggested = suggestions(review);
    // The first of them is what the ratings say.
    if let Some(other) = strain.or(suggested.get(1).map(String::as_str)) {
        return Some(say!("something else speaks against more: {other}", other));
    }
    if review.ride.rating.is_some_and(|rating| rating >= ENOUGH) {
        return Some(say!(
            "the whole session was rated {least} or more.",
            least = ENOUGH
        ));
    }
    let eased = all().find(|block| {
        let both = block.fitted.mean_w.zip(block.written.mean_w);
        both.is_some_and(|(today, written)| today < written * AS_WRITTEN)
    });
    if let Some(block) = eased {
        return Some(say!(
            "{name} was ridden with less than is written.",
            name = plain(&block.title())
        ));
    }
    let mut by_watts = all().filter(|block| block.mode == RideMode::TargetPower);
    let off = by_watts.find(|block| {
        let known = 2 * u64::from(block.fitted.compared_s) >= block.ridden_s;
        !known || block.fitted.share().is_none_or(|share| share < IN_LANE)
    })?;
    Some(say!(
        "power is not known to have lain in the lane of {name} for three quarters of it.",
        name = plain(&off.title())
    ))
}

/// What could be a little more, the first choice first: by watts a step of the loads, by effort a repeat. Where a step
/// would pass the cap by watts, a repeat does not stand in for it.
fn candidates(ground: &Ground<'_>, why: &Advice) -> Vec<Vec<Wish>> {
    let mut low: Vec<(f64, &Hold<'_>)> = ground
        .holds
        .iter()
        .filter_map(|hold| Some((hold.rated_off()?, hold)))
        .filter(|(off, _)| *off <= -RATED_OFF)
        .collect();
    low.sort_by(|(one, _), (other, _)| one.total_cmp(other));
    let steps = low
        .iter()
        .filter_map(|(_, hold)| hold.higher(ground, why))
        .filter(|wish| is_asked_of_riders(ground, wish.edit));
    let (loads, capped): (Vec<Wish>, Vec<Wish>) =
        steps.partition(|wish| is_under_cap(ground, wish.edit));
    let loads: Vec<Wish> = loads.into_iter().take(MOST).collect();
    let mut easy = low
        .iter()
        .map(|(_, hold)| hold)
        .filter(|hold| is_asked_of_riders(ground, Edit::Target(hold.block.target)));
    let repeats = easy.find_map(|hold| {
        hold.once_more(
            ground,
            &why.with(word!("Common practice: one repeat more of what was easy.")),
        )
    });
    let repeats: Vec<Wish> = repeats.into_iter().collect();
    let mut all = if ground.by_effort {
        vec![repeats, loads]
    } else if capped.is_empty() {
        vec![loads, repeats]
    } else {
        vec![loads]
    };
    all.retain(|wishes| !wishes.is_empty());
    all
}

/// The loads of a target.
fn loads(edit: Edit) -> impl Iterator<Item = Load> {
    let (from, to) = match edit {
        Edit::Target(Target::Steady(load)) => (Some(load), None),
        Edit::Target(Target::Line(from, to)) => (Some(from), Some(to)),
        _ => (None, None),
    };
    from.into_iter().chain(to)
}

/// Whether a load is within what the session's riders are asked for.
fn is_asked_of_riders(ground: &Ground<'_>, edit: Edit) -> bool {
    let most = match ground.written.audience {
        Audience::Newcomers => MOST_FOR_NEWCOMERS,
        Audience::Everyone => MOST_EFFORT,
    };
    loads(edit).all(|load| {
        let effort = rider::effort_of(&load, ground.rider);
        // Efforts are tenths; the hair is for those in binary.
        effort.is_some_and(|effort| effort.0 <= most + 1e-9)
    })
}

/// Whether a load stays under the rider's cap.
fn is_under_cap(ground: &Ground<'_>, edit: Edit) -> bool {
    loads(edit).all(|load| {
        let watts = rider::lane(&load, ground.rider);
        watts.is_none_or(|watts| watts <= ground.rider.power_cap)
    })
}

/// Why a copy with more in it is not proposed.
enum Refused {
    /// The session's text does not bear it.
    ByText(String),
    /// The rider would come to a limit.
    AtLimit(String),
}

/// The copy with these, where the rider is not forecast to be brought to their limit by it.
fn tried(ground: &Ground<'_>, wishes: &[Wish]) -> Result<Arc<Proposal>, Refused> {
    let proposal = copy(ground, wishes).map_err(Refused::ByText)?;
    let plan = crate::plan::read(&proposal.text).plan;
    let left = plan.map_or(0.0, |plan| least_left(&plan, ground.rider));
    if left < LEFT {
        return Err(Refused::AtLimit(nothing(word!(
            "Holds were rated well below what was planned, but by the estimate a step more would leave next to nothing of W′."
        ))));
    }
    Ok(proposal)
}

/// The least that a session leaves of W′, as a share, from what it asks for. Threshold power stands for critical power;
/// build-ups are left out, which errs on the tired side.
fn least_left(plan: &Plan, rider: &Rider) -> f64 {
    let mut left = WBalance::full(rider.threshold, rider.w_prime);
    let mut least = left.share();
    for block in plan
        .blocks
        .iter()
        .filter(|block| block.brake == Brake::Held)
    {
        let cap = match block.kind {
            Kind::Sprint => rider.sprint_cap,
            _ => rider.power_cap,
        };
        let length = block.length.whole_seconds();
        for second in 0..length {
            let share = (second as f64 + 0.5) / length as f64;
            let watts: Option<Watts> = match block.target.at(share) {
                Some(load) if load.is_all_out() => Some(cap),
                load => load.and_then(|load| rider::lane(&load, rider)),
            };
            if let Some(watts) = watts {
                left.ride(watts.min(cap), Span::from_seconds(1));
                least = least.min(left.share());
            }
        }
    }
    least
}
