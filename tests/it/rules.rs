//! How a ride behaves, rule by rule, on a trainer with knobs. Rides begin at second five, so second 5 + n is ridden
//! second n.

mod bare;
mod group;
mod hand;
mod load;
mod marks;
mod pedals;

use std::sync::Arc;

use stillroad::plan::Plan;
use stillroad::ride::RideMode;

use crate::world::{Fake, Knobs, Ride, rider, session};

/// Ten minutes of 150 W.
fn steady() -> Arc<Plan> {
    session("[[block]]\nkind = \"hold\"\ntime = \"10:00\"\nwatts = 150\n")
}

/// Under way on a well-behaved trainer in target-power mode.
fn riding(plan: &Arc<Plan>) -> (Fake, Ride) {
    riding_on(Knobs::default(), plan)
}

fn riding_on(knobs: Knobs, plan: &Arc<Plan>) -> (Fake, Ride) {
    let fake = Fake::new(knobs);
    let mut ride = Ride::on(&fake, plan, &rider(), RideMode::TargetPower);
    ride.start();
    (fake, ride)
}

/// The watts that the trainer holds.
fn held(fake: &Fake) -> Option<i16> {
    fake.state().holds
}
